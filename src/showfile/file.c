/* Whole files in and out. A file is replaced so that its name always holds either the old or the new content. */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "showfile_internal.h"

static int io_fail(struct rig_why *why, const char *path, const char *doing)
{
    char name[320];
    return rig_fail(why, RIG_EIO, "%s: %s: %s", showfile__short_name(path, name), doing, strerror(errno));
}

/* Read until the end or `room` octets. @return octets, or -1 */
static ssize_t read_all(int fd, char *bytes, size_t room)
{
    size_t have = 0;
    while (have < room) {
        ssize_t got = read(fd, bytes + have, room - have);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        have += (size_t)got;
    }
    return (ssize_t)have;
}

static int too_long(struct rig_why *why, const char *path, size_t limit)
{
    return rig_fail(why, RIG_EINPUT, "%s: found more than %zu octets, expected at most that many", path, limit);
}

static int read_open(int fd, const char *path, size_t limit, char **out, size_t *length, struct rig_why *why)
{
    struct stat about;
    if (fstat(fd, &about) != 0)
        return io_fail(why, path, "cannot look at it");
    if (!S_ISREG(about.st_mode))
        return rig_fail(why, RIG_EIO, "%s: found %s, expected a file", path,
                        S_ISDIR(about.st_mode) ? "a folder" : "no regular file");
    if (about.st_size < 0 || (uintmax_t)about.st_size > limit)
        return too_long(why, path, limit);
    /* Files of /proc say 0; one octet more than allowed shows a file that grew meanwhile. */
    size_t room = about.st_size ? (size_t)about.st_size + 1 : limit < 65536 ? limit + 1 : 65537;
    char *bytes = malloc(room + 1);
    if (!bytes)
        return rig_fail(why, RIG_ENOMEM, "%s: out of memory", path);
    ssize_t have = read_all(fd, bytes, room);
    if (have < 0) {
        free(bytes);
        return io_fail(why, path, "cannot read");
    }
    if ((size_t)have == room) {
        free(bytes);
        return room > limit ? too_long(why, path, limit) : rig_fail(why, RIG_EIO, "%s: changed while it was read", path);
    }
    bytes[have] = '\0';
    *out = bytes;
    *length = (size_t)have;
    return 0;
}

int showfile_read(const char *path, size_t limit, char **out, size_t *length, struct rig_why *why)
{
    *out = NULL;
    *length = 0;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);          /* a pipe without a writer must not hang us */
    if (fd < 0)
        return io_fail(why, path, "cannot open");
    int err = read_open(fd, path, limit, out, length, why);
    close(fd);
    return err;
}

int showfile_load(const char *path, struct show **out, struct rig_why *why)
{
    char *text;
    size_t length;
    *out = NULL;
    int err = showfile_read(path, SHOWFILE_BYTES, &text, &length, why);
    if (err)
        return err;
    err = showfile_parse(path, text, length, out, why);
    free(text);
    return err;
}

bool showfile_has_comments(const char *text, size_t length)
{
    struct lexer lexer = { .name = "", .text = text, .at = text, .end = text + length };
    bool found = false;
    showfile__skip_mark(&lexer);
    /* Any token may be wrong here: what was before it still counts. */
    while (!found) {
        const char *from = lexer.at;
        int err = showfile__next(&lexer);
        const char *c = from;
        while (c < lexer.end && (*c == ' ' || (*c >= '\t' && *c <= '\r')))
            c++;
        found = lexer.end - c > 1 && c[0] == '-' && c[1] == '-';
        if (err || lexer.token.kind == TOKEN_END)
            break;
    }
    free(lexer.scratch);
    return found;
}

/* ---- writing ---- */

static int write_all(int fd, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t put = write(fd, bytes, length);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return -1;
        bytes += put;
        length -= (size_t)put;
    }
    return 0;
}

/* Mode bits for the new file: those of the old one, else what the process gives new files. */
static mode_t wanted_mode(const struct stat *old)
{
    if (old)
        return old->st_mode & 0777;
    mode_t mask = umask(0);
    umask(mask);
    return 0666 & ~mask;
}

/* A path of `size` octets beside `path`: in its folder, of another name. */
static int beside(char *out, size_t size, const char *path, const char *name)
{
    const char *slash = strrchr(path, '/');
    int folder = slash ? (int)(slash - path) + 1 : 0;
    int length = snprintf(out, size, "%.*s%s", folder, path, name);
    if (length >= 0 && (size_t)length < size)
        return 0;
    errno = ENAMETOOLONG;
    return -1;
}

/* Create a file beside `path` with the bytes, safely on disk. `temporary` gets its path, "" when nothing was left. */
static int write_beside(const char *path, const struct stat *old, const char *bytes, size_t length, char temporary[PATH_MAX])
{
    int fd = beside(temporary, PATH_MAX, path, ".rigcall-XXXXXX") == 0 ? mkostemp(temporary, O_CLOEXEC) : -1;
    if (fd < 0) {
        temporary[0] = '\0';
        return -1;
    }
    bool good = write_all(fd, bytes, length) == 0;
    /* Owner and group can be kept only by some; the mode must be. */
    if (good && old && fchown(fd, old->st_uid, old->st_gid) != 0)
        errno = 0;
    good = good && fchmod(fd, wanted_mode(old)) == 0 && fsync(fd) == 0;
    int saved = errno;
    if (close(fd) != 0 && good) {
        saved = errno;
        good = false;
    }
    errno = saved;
    return good ? 0 : -1;
}

/* Give the old file a second name, path~, so that its first one can be replaced. */
static int keep_old(const char *path)
{
    char kept[PATH_MAX], link_path[PATH_MAX];
    if (snprintf(kept, sizeof kept, "%s~", path) >= (int)sizeof kept) {
        errno = ENAMETOOLONG;
        return -1;
    }
    /* link() does not replace, rename() does: a link of a name of its own, then renamed. mkostemp finds the free name. */
    int fd = beside(link_path, sizeof link_path, path, ".rigcall-XXXXXX") == 0 ? mkostemp(link_path, O_CLOEXEC) : -1;
    if (fd < 0)
        return -1;
    close(fd);
    bool good = unlink(link_path) == 0 && link(path, link_path) == 0;
    if (good && rename(link_path, kept) == 0) {
        unlink(link_path);           /* rename() leaves it when both already were the same file */
        return 0;
    }
    int saved = errno;
    unlink(link_path);
    errno = saved;
    return -1;
}

static int sync_folder(const char *path)
{
    char folder[PATH_MAX];
    if (beside(folder, sizeof folder, path, ".") != 0)
        return -1;
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return -1;
    int err = fsync(fd) == 0 || errno == EINVAL ? 0 : -1;            /* some file systems sync folders by themselves */
    int saved = errno;
    close(fd);
    errno = saved;
    return err;
}

static int replace(const char *path, const char *bytes, size_t length, bool keep, struct rig_why *why)
{
    struct stat old;
    bool exists = stat(path, &old) == 0;
    char temporary[PATH_MAX];
    if (!exists && errno != ENOENT)
        return io_fail(why, path, "cannot look at it");
    if (exists && !S_ISREG(old.st_mode))
        return rig_fail(why, RIG_EIO, "%s: found %s, expected a file", path,
                        S_ISDIR(old.st_mode) ? "a folder" : "no regular file");
    const char *doing = "cannot write a new file beside it";
    int err = write_beside(path, exists ? &old : NULL, bytes, length, temporary);
    if (!err && exists && keep) {
        doing = "cannot keep the old file as ~";
        err = keep_old(path);
    }
    if (!err) {
        doing = "cannot replace it";
        err = rename(temporary, path);
    }
    if (err) {
        io_fail(why, path, doing);
        if (temporary[0])
            unlink(temporary);
        return RIG_EIO;
    }
    return sync_folder(path) == 0 ? 0 : io_fail(why, path, "written, but the folder could not be synced to disk");
}

/* What is replaced when `path` is: a link stays a link, what it points to is replaced. NULL with errno when a link is broken. */
static const char *follow(const char *path, char target[PATH_MAX])
{
    struct stat about;
    return lstat(path, &about) == 0 && S_ISLNK(about.st_mode) ? realpath(path, target) : path;
}

int showfile_load_kept(const char *path, struct show **out, struct rig_why *why)
{
    char target[PATH_MAX], kept[PATH_MAX];
    struct stat about;
    const char *real = follow(path, target);
    *out = NULL;
    /* What is too long to be a path was never kept. */
    if (!real || snprintf(kept, sizeof kept, "%s~", real) >= (int)sizeof kept
        || (lstat(kept, &about) != 0 && (errno == ENOENT || errno == ENAMETOOLONG)))
        return 0;
    return showfile_load(kept, out, why);
}

int showfile_replace(const char *path, const char *bytes, size_t length, bool keep, struct rig_why *why)
{
    char target[PATH_MAX];
    const char *real = follow(path, target);
    return real ? replace(real, bytes, length, keep, why) : io_fail(why, path, "cannot follow the link");
}
