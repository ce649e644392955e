#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "script_internal.h"

#define FILES_MOST 1000              /* scripts of one folder */

const char *script_kind_name(enum script_kind kind)
{
    static const char *const names[] = { "rule", "sequence", "swap", "sheet", "lib" };
    return (unsigned)kind < sizeof names / sizeof *names ? names[kind] : "?";
}

static void script_fini(struct script *script)
{
    free(script->path);
    free(script->stem);
    free(script->bytes);
    free(script->trouble);
}

void script_list_free(struct script_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        script_fini(&list->items[i]);
    free(list->items);
    *list = (struct script_list){ 0 };
}

/* Read a regular file of at most SCRIPT_BYTES. Opening must not wait: the path may be a pipe. */
static int read_script(const char *path, char **bytes, size_t *length, struct rig_why *why)
{
    int err = 0;
    struct stat info;
    size_t got = 0;
    ssize_t part = 0;
    char *buffer = NULL;
    int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &info))
        err = rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    else if (!S_ISREG(info.st_mode))
        err = rig_fail(why, RIG_EIO, "%s: not a file, expected a script", path);
    else if (!(buffer = malloc(SCRIPT_BYTES + 1)))
        err = rig_fail(why, RIG_ENOMEM, "%s: no memory", path);
    while (!err && got <= SCRIPT_BYTES && (part = read(fd, buffer + got, SCRIPT_BYTES + 1 - got)) > 0)
        got += (size_t)part;
    if (!err && part < 0)
        err = rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    if (!err && got > SCRIPT_BYTES)
        err = rig_fail(why, RIG_EINPUT, "%s: %lld octets, a script has at most %u", path, (long long)info.st_size, SCRIPT_BYTES);
    if (fd >= 0)
        close(fd);
    if (err) {
        free(buffer);
        return err;
    }
    char *fitted = realloc(buffer, got + 1);
    *bytes = fitted ? fitted : buffer;
    *length = got;
    return 0;
}

static bool is_lua(const char *name)
{
    size_t length = strlen(name);
    return name[0] != '.' && length > 4 && !strcmp(name + length - 4, ".lua");
}

/* @param with_trouble  take a file that cannot be read into the list, too */
static int add_file(struct script_list *list, const char *path, bool with_trouble, struct rig_why *why)
{
    struct rig_why trouble;
    struct script script = { 0 };
    struct script *grown = realloc(list->items, (list->count + 1) * sizeof *grown);
    if (!grown)
        return rig_fail(why, RIG_ENOMEM, "%s: no memory", path);
    list->items = grown;
    int err = read_script(path, &script.bytes, &script.length, &trouble);
    if (err && (!with_trouble || err == RIG_ENOMEM))
        return rig_fail(why, err, "%s", trouble.text);
    const char *name = strrchr(path, '/');
    name = name ? name + 1 : path;
    script.path = strdup(path);
    script.stem = strndup(name, strlen(name) - (is_lua(name) ? 4 : 0));
    script.shipped = !err && script__is_shipped(script.bytes, script.length);
    script.trouble = err ? strdup(trouble.text) : NULL;
    if (!script.path || !script.stem || (err && !script.trouble)) {
        script_fini(&script);
        return rig_fail(why, RIG_ENOMEM, "%s: no memory", path);
    }
    list->items[list->count++] = script;
    return 0;
}

static int lua_entry(const struct dirent *entry)
{
    return is_lua(entry->d_name) && entry->d_type != DT_DIR;
}

static int by_octets(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

/* @param forgiving  leave out what cannot be read, and what is beyond the limit */
static int add_folder(struct script_list *list, const char *path, size_t limit, bool forgiving, struct rig_why *why)
{
    struct dirent **entries = NULL;
    int err = 0, found = scandir(path, &entries, lua_entry, by_octets);
    if (found < 0)
        return rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    if (!forgiving && (size_t)found > limit)
        err = rig_fail(why, RIG_EINPUT, "%s: %d scripts, a folder has at most %zu", path, found, limit);
    for (size_t i = 0; i < (size_t)found; i++) {
        char *file = NULL;
        if (!err && i < limit && asprintf(&file, "%s/%s", path, entries[i]->d_name) < 0) {
            file = NULL;
            err = rig_fail(why, RIG_ENOMEM, "%s: no memory", path);
        }
        if (file)
            err = add_file(list, file, !forgiving, why);
        if (forgiving && err != RIG_ENOMEM)
            err = 0;
        free(file);
        free(entries[i]);
    }
    free(entries);
    return err;
}

void script__list_folder_libs(struct script_list *list, const char *path, size_t limit)
{
    add_folder(list, path, limit, true, NULL);
}

int script_list_add(struct script_list *list, const char *path, bool must_exist, struct rig_why *why)
{
    struct stat info;
    if (stat(path, &info)) {
        if (errno == ENOENT && !must_exist)
            return 0;
        return rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    }
    if (S_ISDIR(info.st_mode))
        return add_folder(list, path, FILES_MOST, false, why);
    return add_file(list, path, false, why);
}

static bool is_folder(const char *path)
{
    struct stat info;
    return stat(path, &info) == 0 && S_ISDIR(info.st_mode);
}

/* PREFIX/share/rigcall/scripts for a program PREFIX/bin/rigcall. */
static bool installed_home(char *buffer, size_t size)
{
    char program[4096];
    ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
    if (length <= 0)
        return false;
    program[length] = '\0';
    for (int up = 0; up < 2; up++) {
        char *slash = strrchr(program, '/');
        if (!slash)
            return false;
        *slash = '\0';
    }
    return (size_t)snprintf(buffer, size, "%s/share/rigcall/scripts", program) < size && is_folder(buffer);
}

int script_home(char *buffer, size_t size, struct rig_why *why)
{
    const char *given = getenv("RIGCALL_SCRIPTS");
    if (given && *given) {
        if ((size_t)snprintf(buffer, size, "%s", given) < size && is_folder(buffer))
            return 0;
        return rig_fail(why, RIG_EIO, "RIGCALL_SCRIPTS: %s is not a folder", given);
    }
    if (installed_home(buffer, size))
        return 0;
    if ((size_t)snprintf(buffer, size, "%s", RIGCALL_SCRIPTS_SOURCE) < size && is_folder(buffer))
        return 0;
    return rig_fail(why, RIG_EIO, "no shipped scripts found: neither ../share/rigcall/scripts beside the program nor %s; "
                    "RIGCALL_SCRIPTS may name their folder", RIGCALL_SCRIPTS_SOURCE);
}
