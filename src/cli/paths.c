#include "paths.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static int fits(int written, size_t size, const char *path, struct rig_why *why)
{
    if (written < 0 || (size_t)written >= size)
        return rig_fail(why, RIG_EUSAGE, "path too long: %.200s", path);
    return 0;
}

int path_join(const char *folder, const char *name, char *buffer, size_t size, struct rig_why *why)
{
    return fits(snprintf(buffer, size, "%s/%s", folder, name), size, folder, why);
}

int path_beside(const char *path, const char *name, char *buffer, size_t size, struct rig_why *why)
{
    const char *slash = strrchr(path, '/');
    int folder = slash ? (int)(slash - path) + 1 : 0;
    return fits(snprintf(buffer, size, "%.*s%s", folder, path, name), size, path, why);
}

/* mkdir -p. */
static int make_folders(char *path)
{
    for (char *c = path + 1; *c; c++)
        if (*c == '/') {
            *c = '\0';
            int failed = mkdir(path, 0700) && errno != EEXIST;
            *c = '/';
            if (failed)
                return -1;
        }
    return mkdir(path, 0700) && errno != EEXIST ? -1 : 0;
}

int path_state(char *buffer, size_t size, struct rig_why *why)
{
    const char *state = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    int written;
    if (state && *state == '/')       /* the specification says to ignore a relative path */
        written = snprintf(buffer, size, "%s/rigcall", state);
    else if (home && *home == '/')
        written = snprintf(buffer, size, "%s/.local/state/rigcall", home);
    else
        return rig_fail(why, RIG_EIO, "no state folder: neither XDG_STATE_HOME nor HOME is set to a full path");
    int err = fits(written, size, state ? state : home, why);
    if (!err && make_folders(buffer))
        err = rig_fail(why, RIG_EIO, "state folder %s: %s", buffer, strerror(errno));
    return err;
}
