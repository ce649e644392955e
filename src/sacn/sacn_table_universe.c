/* Who is on a universe, in the order of reading; and which universes there are. */
#include <stdlib.h>
#include <string.h>

#include "sacn_table.h"

static uint64_t key_of(const uint8_t cid[16])
{
    uint64_t key;
    memcpy(&key, cid, sizeof key);
    return key;
}

struct sacn__source *sacn__find(const struct sacn__universe *universe, const uint8_t cid[16])
{
    uint64_t key = key_of(cid);
    for (uint32_t i = 0; i < universe->count; i++)
        if (universe->keys[i] == key && memcmp(universe->sources[i]->cid, cid, 16) == 0)
            return (struct sacn__source *)universe->sources[i];
    return NULL;
}

/* ---- the order of reading: by priority, highest first, then CID ---- */

void sacn__source_insert(struct sacn__universe *universe, struct sacn__source *source)
{
    const struct sacn_heard_source *heard = &source->heard;
    uint32_t at = universe->count++;
    for (; at > 0; at--) {
        const struct sacn_heard_source *above = universe->sources[at - 1];
        if (above->priority > heard->priority ||
            (above->priority == heard->priority && memcmp(above->cid, heard->cid, 16) < 0))
            break;
        universe->sources[at] = above;
        universe->keys[at] = universe->keys[at - 1];
    }
    universe->sources[at] = heard;
    universe->keys[at] = key_of(heard->cid);
}

void sacn__source_remove(struct sacn__source *source)
{
    struct sacn__universe *universe = source->universe;
    uint32_t at = 0;
    while (universe->sources[at] != &source->heard)
        at++;
    universe->count--;
    memmove(universe->sources + at, universe->sources + at + 1, (universe->count - at) * sizeof *universe->sources);
    memmove(universe->keys + at, universe->keys + at + 1, (universe->count - at) * sizeof *universe->keys);
}

void sacn__resort(struct sacn__source *source)
{
    sacn__source_remove(source);
    sacn__source_insert(source->universe, source);
}

/* ---- universes ---- */

/* A newcomer is put in before the one that gives way to it is taken out, hence one more. */
size_t sacn__universe_size(const struct sacn_table_limits *limits)
{
    return sizeof(struct sacn__universe) + (limits->sources_a_universe + 1) * (sizeof(void *) + sizeof(uint64_t));
}

struct sacn__universe *sacn__universe_alloc(const struct sacn_table_limits *limits, uint16_t number)
{
    struct sacn__universe *universe = calloc(1, sacn__universe_size(limits));
    if (!universe)
        return NULL;
    universe->number = number;
    universe->keys = (uint64_t *)(universe->sources + limits->sources_a_universe + 1);
    return universe;
}

/* Where a number is, or would be, in the ascending list. */
static uint32_t place_of(const struct sacn_table *table, uint16_t number)
{
    uint32_t low = 0, high = table->universe_count;
    while (low < high) {
        uint32_t middle = (low + high) / 2;
        if (table->universes[middle] < number)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void idle_append(struct sacn_table *table, struct sacn__universe *universe)
{
    universe->idle_before = table->idle_last;
    universe->idle_after = NULL;
    *(table->idle_last ? &table->idle_last->idle_after : &table->idle_first) = universe;
    table->idle_last = universe;
}

static void idle_remove(struct sacn_table *table, struct sacn__universe *universe)
{
    *(universe->idle_before ? &universe->idle_before->idle_after : &table->idle_first) = universe->idle_after;
    *(universe->idle_after ? &universe->idle_after->idle_before : &table->idle_last) = universe->idle_before;
}

void sacn__universe_insert(struct sacn_table *table, struct sacn__universe *universe)
{
    uint32_t at = place_of(table, universe->number);
    memmove(table->universes + at + 1, table->universes + at, (table->universe_count - at) * sizeof *table->universes);
    table->universes[at] = universe->number;
    table->universe_count++;
    table->universe_of[universe->number] = universe;
    idle_append(table, universe);
}

void sacn__universe_delete(struct sacn_table *table, struct sacn__universe *universe)
{
    uint32_t at = place_of(table, universe->number);
    table->universe_count--;
    memmove(table->universes + at, table->universes + at + 1, (table->universe_count - at) * sizeof *table->universes);
    table->universe_of[universe->number] = NULL;
    idle_remove(table, universe);
    free(universe);
}

void sacn__universe_clear(struct sacn_table *table, struct sacn__universe *universe)
{
    for (uint32_t left = universe->count; left > 0; left--)
        sacn__source_delete(table, (struct sacn__source *)universe->sources[left - 1]);
}

void sacn__living(struct sacn_table *table, struct sacn__source *source, bool lives)
{
    struct sacn__universe *universe = source->universe;
    if (lives) {
        table->host_sources[source->host]++;
        if (universe->live++ > 0)
            return;
        idle_remove(table, universe);
        universe->owner = source->host;
        table->host_universes[universe->owner]++;
        return;
    }
    table->host_sources[source->host]--;
    if (--universe->live > 0)
        return;
    table->host_universes[universe->owner]--;
    idle_append(table, universe);
}
