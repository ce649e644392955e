#include "find.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "paths.h"
#include "rigcall/nearest.h"

const struct find_kind find_sequence = { SCRIPT_SEQUENCE, "sequence", "sequences", "sequences" };
const struct find_kind find_policy = { SCRIPT_SWAP, "swap policy", "swap policies", "swaps" };

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

static int find_folders(const struct find_kind *kind, const char *show_path, struct folders *folders, struct rig_why *why)
{
    char home[4096];
    int err = script_home(home, sizeof home, why);
    if (!err)
        err = path_join(home, kind->folder, folders->shipped, sizeof folders->shipped, why);
    return err ? err : path_beside(show_path, kind->folder, folders->beside, sizeof folders->beside, why);
}

int find_known(const struct find_kind *kind, const char *show_path, struct script_list *list, struct rig_why *why)
{
    struct folders folders;
    int err = find_folders(kind, show_path, &folders, why);
    if (!err)
        err = script_list_add(list, folders.shipped, false, why);
    return err ? err : script_list_add(list, folders.beside, false, why);
}

static int unknown(const struct find_kind *kind, const char *name, const char *show_path, const struct folders *folders,
                   struct rig_why *why)
{
    struct script_list known = { 0 };
    int err = find_known(kind, show_path, &known, why);
    if (!err) {
        const char *nearest = nearest_name(name, stem_at, &known);
        err = nearest ? rig_fail(why, RIG_EUSAGE, "no %s \"%s\", nearest is \"%s\"", kind->word, name, nearest)
                      : rig_fail(why, RIG_EUSAGE, "no %s \"%s\" in %s or %s; a path also does", kind->word, name, folders->shipped,
                                 folders->beside);
    }
    script_list_free(&known);
    return err;
}

static int find_file(const struct find_kind *kind, const char *path, struct script_list *list, struct rig_why *why)
{
    struct stat status;
    if (!stat(path, &status) && S_ISDIR(status.st_mode))
        return rig_fail(why, RIG_EUSAGE, "%s is a folder, expected the file of a %s", path, kind->word);
    return script_list_add(list, path, true, why);
}

int find_script(const struct find_kind *kind, const char *name, const char *show_path, struct script_list *list, struct rig_why *why)
{
    struct folders folders;
    char first[4096], second[4096], file[512];
    if (is_path(name))
        return find_file(kind, name, list, why);
    if (snprintf(file, sizeof file, "%s.lua", name) >= (int)sizeof file)
        return rig_fail(why, RIG_EUSAGE, "no %s \"%.80s...\"", kind->word, name);
    int err = find_folders(kind, show_path, &folders, why);
    if (!err)
        err = path_join(folders.shipped, file, first, sizeof first, why);
    if (!err)
        err = path_join(folders.beside, file, second, sizeof second, why);
    if (err)
        return err;
    bool has_first = !access(first, F_OK), has_second = !access(second, F_OK);
    if (has_first && has_second)
        return rig_fail(why, RIG_EUSAGE, "two %s are called \"%s\": %s and %s; give the path", kind->plural, name, first, second);
    if (!has_first && !has_second)
        return unknown(kind, name, show_path, &folders, why);
    return script_list_add(list, has_first ? first : second, true, why);
}

int find_sets(const struct options *options, const char *command, struct script_set **out, size_t *count, struct rig_why *why)
{
    size_t at = 0;
    const char *text;
    *count = 0;
    *out = calloc(options->given_count + 1, sizeof **out);
    if (!*out)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    while ((text = options_next(options, "set", &at))) {
        const char *equals = strchr(text, '=');
        if (!equals || equals == text)
            return rig_fail(why, RIG_EUSAGE, "%s: --set \"%s\", expected P=V", command, text);
        char *name = strndup(text, (size_t)(equals - text));
        if (!name)
            return rig_fail(why, RIG_ENOMEM, "out of memory");
        (*out)[(*count)++] = (struct script_set){ name, equals + 1 };
    }
    return 0;
}

void find_sets_free(struct script_set *sets, size_t count)
{
    for (size_t i = 0; i < count; i++)
        free((void *)sets[i].name);
    free(sets);
}
