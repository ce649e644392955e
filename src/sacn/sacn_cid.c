/* Component identifiers (CID): version 5 UUIDs (RFC 4122, 4.3), so that one host and show always have the same one. */
#include "rigcall/sacn.h"

#include <errno.h>
#include <fcntl.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <uuid/uuid.h>

#include "sacn_internal.h"

#define MACHINE_ID "/etc/machine-id"
#define MACHINE_ID_DIGITS 32
#define UUID_DIGITS 36

/* Two name spaces of our own, made once at random: live components and dry runs never share an identifier. */
static const uuid_t live_space = {
    0x6d, 0x1b, 0x0f, 0x52, 0x9c, 0x3e, 0x4a, 0x77, 0x8d, 0x20, 0x5e, 0xc4, 0x1a, 0x93, 0xb8, 0x6f
};
static const uuid_t dry_space = {
    0xb2, 0x47, 0xe9, 0x0c, 0x35, 0xd8, 0x4f, 0x61, 0xa7, 0x5c, 0x08, 0x9e, 0xd3, 0x64, 0x2f, 0x1b
};

/* The first line of a small file, at most size - 1 octets. @return its length, or -1 with errno */
static ssize_t read_line(const char *path, char *line, size_t size)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return -1;
    ssize_t got = read(fd, line, size - 1);
    int error = errno;
    close(fd);
    if (got < 0) {
        errno = error;
        return -1;
    }
    line[got] = '\0';
    line[strcspn(line, "\n")] = '\0';
    return (ssize_t)strlen(line);
}

/* machine-id(5): 32 lower-case hexadecimal digits, never all zero; empty or "uninitialized" on a fresh image. */
static bool read_machine_id(const char *path, char text[37])
{
    char line[64];
    if (read_line(path, line, sizeof line) != MACHINE_ID_DIGITS)
        return false;
    if (strspn(line, "0123456789abcdef") != MACHINE_ID_DIGITS || strspn(line, "0") == MACHINE_ID_DIGITS)
        return false;
    memcpy(text, line, MACHINE_ID_DIGITS + 1);
    return true;
}

/* mkdir -p, new folders 0700. */
static int make_folders(const char *folder)
{
    char path[4096];
    size_t length = strlen(folder);
    if (length >= sizeof path) {
        errno = ENAMETOOLONG;
        return -1;
    }
    memcpy(path, folder, length + 1);
    for (char *c = path + 1;; c++) {
        char here = *c;
        if (here != '/' && here != '\0')
            continue;
        *c = '\0';
        if (mkdir(path, 0700) != 0 && errno != EEXIST)
            return -1;
        if (here == '\0')
            return 0;
        *c = '/';
    }
}

/* Put a whole new file at path, unless another process was first: link() never replaces. @return 0, or -1 with errno */
static int place_new(const char *path, const char *text, size_t length)
{
    char beside[4096];
    int size = snprintf(beside, sizeof beside, "%s.XXXXXX", path);
    if (size < 0 || (size_t)size >= sizeof beside) {
        errno = ENAMETOOLONG;
        return -1;
    }
    int fd = mkostemp(beside, O_CLOEXEC);
    if (fd < 0)
        return -1;
    bool written = write(fd, text, length) == (ssize_t)length && fsync(fd) == 0;
    int error = errno;
    close(fd);
    if (written && link(beside, path) != 0 && errno != EEXIST) {
        written = false;
        error = errno;
    }
    unlink(beside);
    errno = error;
    return written ? 0 : -1;
}

/* @return 1 when a good id was read, 0 when there is no file, or a negative code */
static int read_kept_id(const char *path, char text[37], struct rig_why *why)
{
    char line[64];
    uuid_t id;
    ssize_t length = read_line(path, line, sizeof line);
    if (length < 0)
        return errno == ENOENT ? 0 : rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    if (length != UUID_DIGITS || uuid_parse(line, id) != 0)
        return rig_fail(why, RIG_EIO, "%s: '%.40s' found, a UUID expected; remove the file to have a new one made", path,
                        line);
    uuid_unparse_lower(id, text);
    return 1;
}

int sacn__host_id(const char *machine_id_path, const char *state_folder, char text[37], struct rig_why *why)
{
    char path[4096], line[38];
    uuid_t id;
    if (read_machine_id(machine_id_path, text))
        return 0;
    int size = snprintf(path, sizeof path, "%s/host-id", state_folder);
    if (size < 0 || (size_t)size >= sizeof path)
        return rig_fail(why, RIG_EIO, "%.100s...: %s", state_folder, strerror(ENAMETOOLONG));
    int kept = read_kept_id(path, text, why);
    if (kept != 0)
        return kept < 0 ? kept : 0;
    uuid_generate_random(id);
    uuid_unparse_lower(id, line);
    line[UUID_DIGITS] = '\n';
    if (make_folders(state_folder) != 0 || place_new(path, line, UUID_DIGITS + 1) != 0)
        return rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    kept = read_kept_id(path, text, why);         /* another process may have placed its own in the meantime */
    return kept == 1 ? 0 : kept < 0 ? kept : rig_fail(why, RIG_EIO, "%s: vanished while it was made", path);
}

/* XDG Base Directory Specification 0.8: $XDG_STATE_HOME if absolute, else ~/.local/state. @return false without a home */
static bool state_folder(char *folder, size_t size)
{
    const char *state = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    int length;
    if (state && state[0] == '/') {
        length = snprintf(folder, size, "%s/rigcall", state);
    } else {
        struct passwd *user = home && home[0] == '/' ? NULL : getpwuid(getuid());
        home = user ? user->pw_dir : home;
        if (!home || home[0] != '/')
            return false;
        length = snprintf(folder, size, "%s/.local/state/rigcall", home);
    }
    return length > 0 && (size_t)length < size;
}

int sacn_cid_live(const char *show_name, uint8_t cid[16], struct rig_why *why)
{
    char folder[4096] = "", host[37];
    uuid_t host_space;
    if (!read_machine_id(MACHINE_ID, host)) {
        if (!state_folder(folder, sizeof folder))
            return rig_fail(why, RIG_EIO, "this host has no " MACHINE_ID " and no home folder to keep an id in; "
                                          "set XDG_STATE_HOME");
        int error = sacn__host_id(MACHINE_ID, folder, host, why);
        if (error)
            return error;
    }
    uuid_generate_sha1(host_space, live_space, host, strlen(host));
    uuid_generate_sha1(cid, host_space, show_name, strlen(show_name));
    return 0;
}

void sacn_cid_dry(const char *show_name, uint8_t cid[16])
{
    uuid_generate_sha1(cid, dry_space, show_name, strlen(show_name));
}

void sacn_cid_text(const uint8_t cid[16], char text[SACN_CID_TEXT])
{
    uuid_unparse_lower(cid, text);
}
