/* One live run of a show at a time on one host and for one user: two would fight over every level. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "paths.h"
#include "run.h"

int lock_show(const char *show_name, int *out, struct rig_why *why)
{
    char folder[4096], path[4096], name[64];
    uint8_t hash[16];
    int err = path_state(folder, sizeof folder, why);
    sacn_cid_dry(show_name, hash);    /* a UUIDv5 of the name: a show's name is no safe file name */
    int at = snprintf(name, sizeof name, "live-");
    for (size_t i = 0; i < sizeof hash; i++)
        at += snprintf(name + at, sizeof name - (size_t)at, "%02x", hash[i]);
    snprintf(name + at, sizeof name - (size_t)at, ".lock");
    if (!err)
        err = path_join(folder, name, path, sizeof path, why);
    if (err)
        return err;
    int file = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (file < 0)
        return rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    if (flock(file, LOCK_EX | LOCK_NB)) {
        err = errno == EWOULDBLOCK ? rig_fail(why, RIG_ENET, "a live run of \"%s\" is going on already (lock %s)", show_name, path)
                                   : rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
        close(file);
        return err;
    }
    *out = file;                      /* the file stays: removing it would let two runs lock two files of one name */
    return 0;
}
