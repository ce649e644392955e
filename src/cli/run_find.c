/* Which file a sequence's name means. */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "rigcall/nearest.h"
#include "paths.h"
#include "run.h"

static bool is_path(const char *name)
{
    size_t length = strlen(name);
    return strchr(name, '/') || (length > 4 && !strcmp(name + length - 4, ".lua"));
}

static const char *stem_at(const void *context, size_t i)
{
    const struct script_list *list = context;
    return i < list->count ? list->items[i].stem : NULL;
}

/* The folders that names are looked up in. */
struct folders { char shipped[4096], beside[4096]; };

static int find_folders(const char *show_path, struct folders *folders, struct rig_why *why)
{
    char home[4096];
    int err = script_home(home, sizeof home, why);
    if (!err)
        err = path_join(home, "sequences", folders->shipped, sizeof folders->shipped, why);
    return err ? err : path_beside(show_path, "sequences", folders->beside, sizeof folders->beside, why);
}

int sequences_known(const char *show_path, struct script_list *list, struct rig_why *why)
{
    struct folders folders;
    int err = find_folders(show_path, &folders, why);
    if (!err)
        err = script_list_add(list, folders.shipped, false, why);
    return err ? err : script_list_add(list, folders.beside, false, why);
}

static int unknown(const char *name, const char *show_path, const struct folders *folders, struct rig_why *why)
{
    struct script_list known = { 0 };
    int err = sequences_known(show_path, &known, why);
    if (!err) {
        const char *nearest = nearest_name(name, stem_at, &known);
        err = nearest ? rig_fail(why, RIG_EUSAGE, "no sequence \"%s\", nearest is \"%s\"", name, nearest)
                      : rig_fail(why, RIG_EUSAGE, "no sequence \"%s\" in %s or %s; a path also does", name, folders->shipped, folders->beside);
    }
    script_list_free(&known);
    return err;
}

int sequence_find(const char *name, const char *show_path, struct script_list *list, struct rig_why *why)
{
    struct folders folders;
    char first[4096], second[4096], file[512];
    if (is_path(name))
        return script_list_add(list, name, true, why);
    if (snprintf(file, sizeof file, "%s.lua", name) >= (int)sizeof file)
        return rig_fail(why, RIG_EUSAGE, "no sequence \"%.80s...\"", name);
    int err = find_folders(show_path, &folders, why);
    if (!err)
        err = path_join(folders.shipped, file, first, sizeof first, why);
    if (!err)
        err = path_join(folders.beside, file, second, sizeof second, why);
    if (err)
        return err;
    bool has_first = !access(first, F_OK), has_second = !access(second, F_OK);
    if (has_first && has_second)
        return rig_fail(why, RIG_EUSAGE, "two sequences are called \"%s\": %s and %s; give the path", name, first, second);
    if (!has_first && !has_second)
        return unknown(name, show_path, &folders, why);
    return script_list_add(list, has_first ? first : second, true, why);
}
