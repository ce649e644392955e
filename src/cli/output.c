#include "output.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "rigcall/showfile.h"

int output_open(struct output *output, const char *path, struct rig_why *why)
{
    *output = (struct output){ .path = path && strcmp(path, "-") ? path : NULL };
    output->stream = open_memstream(&output->bytes, &output->length);
    return output->stream ? 0 : rig_fail(why, RIG_ENOMEM, "out of memory");
}

bool output_is_terminal(const struct output *output)
{
    return !output->path && isatty(STDOUT_FILENO) == 1;
}

static int write_stdout(const struct output *output, struct rig_why *why)
{
    errno = 0;
    bool bad = fwrite(output->bytes, 1, output->length, stdout) != output->length || fflush(stdout);
    int error = errno;
    clearerr(stdout);                 /* said here, so that main() does not say it again */
    return bad && error != EPIPE ? rig_fail(why, RIG_EIO, "cannot write to standard output: %s", strerror(error)) : 0;
}

/* A device or pipe cannot be renamed over, it would be lost. */
static int write_through(const struct output *output, struct rig_why *why)
{
    FILE *file = fopen(output->path, "w");
    if (!file)
        return rig_fail(why, RIG_EIO, "%s: %s", output->path, strerror(errno));
    bool bad = fwrite(output->bytes, 1, output->length, file) != output->length;
    int error = errno;
    if (fclose(file) && !bad) {
        bad = true;
        error = errno;
    }
    return bad && error != EPIPE ? rig_fail(why, RIG_EIO, "%s: %s", output->path, strerror(error)) : 0;
}

static int write_file(const struct output *output, struct rig_why *why)
{
    struct stat status;
    if (stat(output->path, &status))
        return showfile_replace(output->path, output->bytes, output->length, false, why);
    if (S_ISDIR(status.st_mode))
        return rig_fail(why, RIG_EIO, "%s: is a folder, expected a file", output->path);
    if (!S_ISREG(status.st_mode))
        return write_through(output, why);
    char *real = realpath(output->path, NULL);
    if (!real)
        return rig_fail(why, RIG_EIO, "%s: %s", output->path, strerror(errno));
    int err = showfile_replace(real, output->bytes, output->length, false, why);
    free(real);
    return err;
}

int output_close(struct output *output, struct rig_why *why)
{
    int err = fclose(output->stream) ? rig_fail(why, RIG_ENOMEM, "out of memory") : 0;
    output->stream = NULL;
    if (!err)
        err = output->path ? write_file(output, why) : write_stdout(output, why);
    output_drop(output);
    return err;
}

void output_drop(struct output *output)
{
    if (output->stream)
        fclose(output->stream);
    free(output->bytes);
    *output = (struct output){ 0 };
}
