#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "script_internal.h"

/* The folder of a path, malloc'd. */
static char *folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    if (!slash)
        return strdup(".");
    return strndup(path, slash == path ? 1 : (size_t)(slash - path));
}

/* @return the files of a folder, read at the first use; NULL when memory is short */
static struct script_folder *folder(struct script_libs *libs, const char *path)
{
    for (size_t i = 0; i < libs->folder_count; i++)
        if (!strcmp(libs->folders[i].path, path))
            return &libs->folders[i];
    struct script_folder *grown = realloc(libs->folders, (libs->folder_count + 1) * sizeof *grown);
    if (!grown)
        return NULL;
    libs->folders = grown;
    struct script_folder *new = &grown[libs->folder_count];
    memset(new, 0, sizeof *new);
    if (!(new->path = strdup(path)))
        return NULL;
    libs->folder_count++;
    script__list_folder_libs(&new->files, path, SCRIPT_LIBS);
    return new;
}

static bool offered(const struct script_libs *libs, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (!strcmp(libs->offered[i].name, name))
            return true;
    return false;
}

static size_t offer_folder(struct script_libs *libs, size_t count, const struct script *script, const char *path)
{
    const struct script_folder *from = folder(libs, path);
    for (size_t i = 0; from && i < from->files.count && count < SCRIPT_LIBS; i++) {
        const struct script *file = &from->files.items[i];
        struct host_lib *lib = &libs->offered[count];
        if (strlen(file->stem) >= sizeof lib->name || (script->shipped && !file->shipped)
            || offered(libs, count, file->stem))
            continue;
        *lib = (struct host_lib){ .bytes = file->bytes, .length = file->length, .path = file->path };
        strcpy(lib->name, file->stem);
        count++;
    }
    return count;
}

size_t script__libs_offer(struct script_libs *libs, const struct script *script)
{
    char home[4096], shared[4096 + 8];
    size_t count = 0;
    char *own = folder_of(script->path);
    if (own)
        count = offer_folder(libs, count, script, own);
    free(own);
    if (script_home(home, sizeof home, NULL))
        return count;
    snprintf(shared, sizeof shared, "%s/lib", home);
    return offer_folder(libs, count, script, shared);
}

void script__libs_fini(struct script_libs *libs)
{
    for (size_t i = 0; i < libs->folder_count; i++) {
        free(libs->folders[i].path);
        script_list_free(&libs->folders[i].files);
    }
    free(libs->folders);
    libs->folders = NULL;
    libs->folder_count = 0;
}
