#include "program.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <poll.h>
#include <pty.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>

struct sink { int fd; char *bytes; size_t length; };

/* Append what there is. @return 0 at the end */
static ssize_t drink(struct sink *sink)
{
    char part[4096];
    ssize_t got;
    do
        got = read(sink->fd, part, sizeof part);
    while (got < 0 && errno == EINTR);
    if (got <= 0)
        return 0;
    sink->bytes = realloc(sink->bytes, sink->length + (size_t)got + 1);
    assert_non_null(sink->bytes);
    memcpy(sink->bytes + sink->length, part, (size_t)got);
    sink->length += (size_t)got;
    sink->bytes[sink->length] = '\0';
    return got;
}

static int status_of(pid_t pid)
{
    int status;
    while (waitpid(pid, &status, 0) < 0)
        assert_int_equal(errno, EINTR);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

struct program_result program_run(const char *const *arguments)
{
    int out[2], err[2];
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    assert_int_equal(pipe2(err, O_CLOEXEC), 0);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        int nothing = open("/dev/null", O_RDONLY);
        setsid();
        dup2(nothing, STDIN_FILENO);
        dup2(out[1], STDOUT_FILENO);
        dup2(err[1], STDERR_FILENO);
        execvp(arguments[0], (char *const *)arguments);
        _exit(127);
    }
    close(out[1]);
    close(err[1]);
    struct sink sinks[2] = { { out[0], calloc(1, 1), 0 }, { err[0], calloc(1, 1), 0 } };
    struct pollfd polls[2] = { { out[0], POLLIN, 0 }, { err[0], POLLIN, 0 } };
    while (polls[0].fd >= 0 || polls[1].fd >= 0) {
        poll(polls, 2, -1);
        for (int i = 0; i < 2; i++)
            if (polls[i].fd >= 0 && polls[i].revents && !drink(&sinks[i]))
                polls[i].fd = -1;
    }
    close(out[0]);
    close(err[0]);
    return (struct program_result){ status_of(pid), sinks[0].bytes, sinks[1].bytes, sinks[0].length };
}

void program_result_fini(struct program_result *result)
{
    free(result->out);
    free(result->err);
}

struct program_terminal program_start_terminal(const char *const *arguments)
{
    struct program_terminal terminal = { .seen = calloc(1, 1) };
    struct winsize size = { .ws_row = 24, .ws_col = 200 };
    terminal.pid = forkpty(&terminal.fd, NULL, NULL, &size);
    assert_true(terminal.pid >= 0);
    if (terminal.pid == 0) {
        execvp(arguments[0], (char *const *)arguments);
        _exit(127);
    }
    return terminal;
}

static ssize_t drink_terminal(struct program_terminal *terminal)
{
    struct sink sink = { terminal->fd, terminal->seen, terminal->length };
    ssize_t got = drink(&sink);
    terminal->seen = sink.bytes;
    terminal->length = sink.length;
    return got;
}

void program_expect(struct program_terminal *terminal, const char *text)
{
    while (!strstr(terminal->seen, text))
        if (!drink_terminal(terminal))
            fail_msg("the program ended without \"%s\"; it said:\n%s", text, terminal->seen);
    /* The next question is looked for behind this one. */
    char *rest = strstr(terminal->seen, text) + strlen(text);
    terminal->length -= (size_t)(rest - terminal->seen);
    memmove(terminal->seen, rest, terminal->length + 1);
}

void program_type(struct program_terminal *terminal, const char *text)
{
    assert_int_equal(write(terminal->fd, text, strlen(text)), (ssize_t)strlen(text));
}

int program_end(struct program_terminal *terminal)
{
    while (drink_terminal(terminal))
        ;
    close(terminal->fd);
    return status_of(terminal->pid);
}

char *program_folder_new(void)
{
    char path[] = "/tmp/rigcall-test-XXXXXX";
    assert_non_null(mkdtemp(path));
    return strdup(path);
}

static int remove_one(const char *path, const struct stat *status, int type, struct FTW *walk)
{
    (void)status;
    (void)type;
    (void)walk;
    return remove(path);
}

void program_folder_remove(char *path)
{
    assert_int_equal(nftw(path, remove_one, 16, FTW_DEPTH | FTW_PHYS), 0);
    free(path);
}

char *program_file(const char *folder, const char *name, const char *text)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
    return path;
}

char *program_read(const char *path)
{
    struct sink sink = { open(path, O_RDONLY | O_CLOEXEC), calloc(1, 1), 0 };
    if (sink.fd < 0) {
        free(sink.bytes);
        return NULL;
    }
    while (drink(&sink))
        ;
    close(sink.fd);
    return sink.bytes;
}
