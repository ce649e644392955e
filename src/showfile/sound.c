/* Is a show sound enough to change or drive a rig? */
#include <stdlib.h>
#include <string.h>

#include "showfile_internal.h"

static int twice(struct rig_why *why, const char *path, const struct show *show, enum subject_kind kind, uint32_t index)
{
    char name[128];
    show_describe(show, kind, index, name, sizeof name);
    return rig_fail(why, RIG_EINPUT, "%s: %s shares its id with another %s, expected each id once (rule ids-unique)", path, name,
                    subject_kind_name(kind));
}

/* Look-ups find the first of equal ids, so an object that is not found by its own id repeats one. */
static int check_ids(const struct show *show, const char *path, struct rig_why *why)
{
    for (uint32_t i = 0; i < show->site_count; i++)
        if (show_find_site(show, show->sites[i].id) != i)
            return twice(why, path, show, SUBJECT_SITE, i);
    for (uint32_t i = 0; i < show->type_count; i++)
        if (show_find_type(show, show->types[i].id) != i)
            return twice(why, path, show, SUBJECT_TYPE, i);
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        if (show_find_transmitter(show, show->transmitters[i].id) != i)
            return twice(why, path, show, SUBJECT_TRANSMITTER, i);
    for (uint32_t i = 0; i < show->universe_count; i++)
        if (show_find_universe(show, show->universes[i].id) != i)
            return twice(why, path, show, SUBJECT_UNIVERSE, i);
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (show_find_fixture(show, show->fixtures[i].id) != i)
            return twice(why, path, show, SUBJECT_FIXTURE, i);
    return 0;
}

/* A type has at most SHOWFILE_MODES modes, and equal texts are one pointer. */
static int check_modes(const struct show *show, const char *path, struct rig_why *why)
{
    for (uint32_t t = 0; t < show->type_count; t++) {
        const struct type *type = &show->types[t];
        for (uint32_t a = 0; a < type->mode_count; a++)
            for (uint32_t b = a + 1; b < type->mode_count; b++)
                if (type->modes[a].id == type->modes[b].id)
                    return rig_fail(why, RIG_EINPUT, "%s: type %s has two modes %s, expected each id once (rule ids-unique)", path, type->id,
                                    type->modes[a].id);
    }
    return 0;
}

static int check_types(const struct show *show, const char *path, struct rig_why *why)
{
    char found[200];
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const struct fixture *fixture = &show->fixtures[i];
        bool no_type = !fixture_type(show, fixture);
        if (!no_type && fixture_mode(show, fixture))
            continue;
        const char *name = no_type ? fixture->type : fixture->mode;
        showfile__show_text(name, strlen(name), found);
        if (no_type)
            return rig_fail(why, RIG_EINPUT, "%s: fixture %lld: found type %s, expected a type of the show (rule type-known)", path,
                            (long long)fixture->id, found);
        return rig_fail(why, RIG_EINPUT, "%s: fixture %lld: found mode %s, expected a mode of type %s (rule type-known)", path,
                        (long long)fixture->id, found, fixture_type(show, fixture)->id);
    }
    return 0;
}

int showfile_require_sound(const struct show *show, const char *path, struct rig_why *why)
{
    int err = check_ids(show, path, why);
    if (!err)
        err = check_modes(show, path, why);
    return err ? err : check_types(show, path, why);
}
