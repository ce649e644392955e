/* Shared inside the model room: the show's memory and its indexes. */
#ifndef RIGCALL_MODEL_INTERNAL_H
#define RIGCALL_MODEL_INTERNAL_H

#include "rigcall/model.h"

/* A hash table of array indexes, open addressing, never more than half full. The owner compares keys. */
struct show__table { uint32_t *cells; uint32_t mask; };

/* Entries grouped by a text key: the stretch of `items` from starts[g] to starts[g + 1] belongs to group g. */
struct show__groups {
    const char **keys; uint32_t *starts; uint32_t *items; uint32_t group_count;
    struct show__table by_key;
};

struct show_index {
    struct show__table sites, types, transmitters, universes, fixtures;
    uint32_t *patch_order;
    uint32_t *universe_first;        /* by distinct universe in patch order: first place; one more entry ends the last */
    int64_t *universe_ids;
    uint32_t universe_groups;
    struct show__groups code_fixtures, code_transmitters;
    struct carrier *carriers;        /* by universe, transmitter, entry */
    uint32_t carrier_count;
};

/* Keyed hashes, another key in every process: who writes a show cannot choose ids or texts that fall into one cell. */
uint32_t show__hash_text(const struct show *show, const char *text, size_t length);
uint32_t show__hash_number(const struct show *show, int64_t number);
void show__index_free(struct show_index *index);

#endif
