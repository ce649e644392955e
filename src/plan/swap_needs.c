/* What a show may need more than the least cost: a universe lit, or what has a tag, or another site left alone. */
#include "choices_internal.h"

#define SAVED 16                     /* universes that are saved each for its own sake, at most, */
#define TAGS 8                       /* and tags */
#define SITES 8                      /* whose transmitters alone are tried, at most */

static bool leaves_dark(const struct choices *choices, int64_t universe)
{
    const struct plan *plan = choices->found[0].plan;
    for (uint32_t d = 0; d < plan->darkened_count; d++)
        if (choices->show->fixtures[plan->darkened[d]].universe == universe)
            return true;
    return false;
}

/* Each universe of which the first plan leaves fixtures dark. */
static int try_universes(struct choices *choices)
{
    uint32_t tried = 0;
    int err = 0;
    for (uint32_t u = 0; u < choices->lost_count && tried < SAVED && !err; u++) {
        struct way way = choices->ways[0];
        if (!leaves_dark(choices, choices->lost[u]))
            continue;
        way.first = &choices->lost[u];
        way.first_count = 1;
        tried++;
        err = choices__try(choices, &way);
    }
    return err;
}

static bool has_tagged(const struct show *show, int64_t universe, const char *tag)
{
    uint32_t count;
    const uint32_t *fixtures = show_universe_fixtures(show, universe, &count);
    for (uint32_t i = 0; i < count; i++)
        for (uint32_t t = 0; t < show->fixtures[fixtures[i]].tag_count; t++)
            if (show->fixtures[fixtures[i]].tags[t] == tag)          /* interned */
                return true;
    return false;
}

/* The universes with fixtures of a tag. */
static int try_tag(struct choices *choices, const char *tag)
{
    struct way way = choices->ways[0];
    int64_t *first = plan__alloc(choices->notes, (choices->lost_count + (size_t)1) * sizeof *first);
    if (!first)
        return choices__no_memory(choices);
    way.first_count = 0;
    for (uint32_t u = 0; u < choices->lost_count; u++)
        if (has_tagged(choices->show, choices->lost[u], tag))
            first[way.first_count++] = choices->lost[u];
    way.first = first;
    return choices__try(choices, &way);
}

/* Each tag of a fixture that the first plan leaves dark. */
static int try_tags(struct choices *choices)
{
    const struct plan *plan = choices->found[0].plan;
    const char *tried[TAGS];
    uint32_t count = 0;
    int err = 0;
    for (uint32_t d = 0; d < plan->darkened_count && !err; d++) {
        const struct fixture *fixture = &choices->show->fixtures[plan->darkened[d]];
        for (uint32_t t = 0; t < fixture->tag_count && count < TAGS && !err; t++) {
            bool again = false;
            for (uint32_t i = 0; i < count; i++)
                again |= tried[i] == fixture->tags[t];
            if (again)
                continue;
            tried[count++] = fixture->tags[t];
            err = try_tag(choices, fixture->tags[t]);
        }
    }
    return err;
}

static int try_site(struct choices *choices, uint32_t site)
{
    const struct way *all = &choices->ways[0];
    struct way way = *all;
    uint32_t *in = plan__alloc(choices->notes, (all->in_count + (size_t)1) * sizeof *in);
    if (!in)
        return choices__no_memory(choices);
    way.in_count = 0;
    for (uint32_t i = 0; i < all->in_count; i++)
        if (choices->show->transmitters[all->in[i]].site_index == site)
            in[way.in_count++] = all->in[i];
    way.in = in;
    return choices__try(choices, &way);
}

static int try_sites(struct choices *choices)
{
    int err = 0;
    for (uint32_t s = 0; s < choices->show->site_count && s < SITES && !err; s++)
        err = try_site(choices, s);
    return err;
}

int choices__try_needs(struct choices *choices)
{
    int err = try_universes(choices);
    if (!err)
        err = try_tags(choices);
    return err ? err : try_sites(choices);
}
