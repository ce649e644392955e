/* The indexes: names resolved, objects by id, fixtures in patch order, by universe and by code, carriers by universe. */
#include <stdlib.h>
#include <string.h>

#include "model_internal.h"

static bool table_make(struct show__table *table, uint32_t count)
{
    uint64_t cells = 16;
    while (cells < (uint64_t)count * 2)
        cells *= 2;
    table->cells = malloc(cells * sizeof *table->cells);
    if (!table->cells)
        return false;
    memset(table->cells, 0xff, cells * sizeof *table->cells);
    table->mask = (uint32_t)(cells - 1);
    return true;
}

static const char *text_id(const struct show *show, enum subject_kind kind, uint32_t index)
{
    switch (kind) {
    case SUBJECT_SITE: return show->sites[index].id;
    case SUBJECT_TYPE: return show->types[index].id;
    default:           return show->transmitters[index].id;
    }
}

static int64_t number_id(const struct show *show, enum subject_kind kind, uint32_t index)
{
    return kind == SUBJECT_FIXTURE ? show->fixtures[index].id : show->universes[index].id;
}

static const struct show__table *text_table(const struct show *show, enum subject_kind kind)
{
    switch (kind) {
    case SUBJECT_SITE: return &show->index->sites;
    case SUBJECT_TYPE: return &show->index->types;
    default:           return &show->index->transmitters;
    }
}

static uint32_t find_text(const struct show *show, const struct show__table *table, enum subject_kind kind, const char *id)
{
    uint32_t at = show__hash_text(show, id, strlen(id)) & table->mask;
    for (uint32_t index; (index = table->cells[at]) != SHOW_UNKNOWN; at = (at + 1) & table->mask)
        if (strcmp(text_id(show, kind, index), id) == 0)
            return index;
    return SHOW_UNKNOWN;
}

static uint32_t find_number(const struct show *show, const struct show__table *table, enum subject_kind kind, int64_t id)
{
    uint32_t at = show__hash_number(show, id) & table->mask;
    for (uint32_t index; (index = table->cells[at]) != SHOW_UNKNOWN; at = (at + 1) & table->mask)
        if (number_id(show, kind, index) == id)
            return index;
    return SHOW_UNKNOWN;
}

/* The first object with an id keeps its cell; later ones with the same id are not entered. */
static bool index_texts(const struct show *show, struct show__table *table, enum subject_kind kind, uint32_t count)
{
    if (!table_make(table, count))
        return false;
    for (uint32_t i = 0; i < count; i++) {
        const char *id = text_id(show, kind, i);
        if (!id || find_text(show, table, kind, id) != SHOW_UNKNOWN)
            continue;
        uint32_t at = show__hash_text(show, id, strlen(id)) & table->mask;
        while (table->cells[at] != SHOW_UNKNOWN)
            at = (at + 1) & table->mask;
        table->cells[at] = i;
    }
    return true;
}

static bool index_numbers(const struct show *show, struct show__table *table, enum subject_kind kind, uint32_t count)
{
    if (!table_make(table, count))
        return false;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t at = show__hash_number(show, number_id(show, kind, i)) & table->mask;
        uint32_t index;
        while ((index = table->cells[at]) != SHOW_UNKNOWN && number_id(show, kind, index) != number_id(show, kind, i))
            at = (at + 1) & table->mask;
        if (index == SHOW_UNKNOWN)
            table->cells[at] = i;
    }
    return true;
}

uint32_t show_find_site(const struct show *show, const char *id)
{
    return id ? find_text(show, text_table(show, SUBJECT_SITE), SUBJECT_SITE, id) : SHOW_UNKNOWN;
}

uint32_t show_find_type(const struct show *show, const char *id)
{
    return id ? find_text(show, text_table(show, SUBJECT_TYPE), SUBJECT_TYPE, id) : SHOW_UNKNOWN;
}

uint32_t show_find_transmitter(const struct show *show, const char *id)
{
    return id ? find_text(show, text_table(show, SUBJECT_TRANSMITTER), SUBJECT_TRANSMITTER, id) : SHOW_UNKNOWN;
}

uint32_t show_find_universe(const struct show *show, int64_t id)
{
    return find_number(show, &show->index->universes, SUBJECT_UNIVERSE, id);
}

uint32_t show_find_fixture(const struct show *show, int64_t id)
{
    return find_number(show, &show->index->fixtures, SUBJECT_FIXTURE, id);
}

/* A whole decimal number that fits 32 bits signed, or SHOW_NONE. */
static int64_t number_of(const char *text)
{
    char *end;
    if (!(*text == '-' || (*text >= '0' && *text <= '9')) || strlen(text) > 11)
        return SHOW_NONE;
    long long number = strtoll(text, &end, 10);
    return *end || end == text ? SHOW_NONE : number;
}

uint32_t show_find(const struct show *show, enum subject_kind kind, const char *id)
{
    int64_t number;
    switch (kind) {
    case SUBJECT_SHOW:        return 0;
    case SUBJECT_SITE:        return show_find_site(show, id);
    case SUBJECT_TYPE:        return show_find_type(show, id);
    case SUBJECT_TRANSMITTER: return show_find_transmitter(show, id);
    case SUBJECT_FIXTURE:
        return (number = number_of(id)) == SHOW_NONE ? SHOW_UNKNOWN : show_find_fixture(show, number);
    case SUBJECT_UNIVERSE:
        return (number = number_of(id)) == SHOW_NONE ? SHOW_UNKNOWN : show_find_universe(show, number);
    }
    return SHOW_UNKNOWN;
}

/* What a fixture is sorted by: unpatched ones last, missing addresses before address 1. */
struct patch_key { int64_t universe, address, id; uint32_t place; };

static int compare_numbers(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

static int compare_patch(const void *a, const void *b)
{
    const struct patch_key *x = a, *y = b;
    bool x_off = x->universe == SHOW_NONE, y_off = y->universe == SHOW_NONE;
    int order = x_off - y_off;
    if (!order)
        order = compare_numbers(x->universe, y->universe);
    if (!order && !x_off)
        order = compare_numbers(x->address, y->address);
    if (!order)
        order = compare_numbers(x->id, y->id);
    return order ? order : compare_numbers(x->place, y->place);
}

static bool index_patch(const struct show *show, struct show_index *index)
{
    uint32_t count = show->fixture_count;
    struct patch_key *keys = malloc((count + 1u) * sizeof *keys);
    index->patch_order = malloc((count + 1u) * sizeof *index->patch_order);
    index->universe_first = malloc((count + 1u) * sizeof *index->universe_first);
    index->universe_ids = malloc((count + 1u) * sizeof *index->universe_ids);
    if (!keys || !index->patch_order || !index->universe_first || !index->universe_ids) {
        free(keys);
        return false;
    }
    for (uint32_t i = 0; i < count; i++) {
        const struct fixture *fixture = &show->fixtures[i];
        keys[i] = (struct patch_key){ fixture->universe, fixture->address, fixture->id, i };
    }
    qsort(keys, count, sizeof *keys, compare_patch);
    for (uint32_t i = 0; i < count; i++) {
        index->patch_order[i] = keys[i].place;
        if (i && keys[i].universe == keys[i - 1].universe)
            continue;
        index->universe_first[index->universe_groups] = i;
        index->universe_ids[index->universe_groups++] = keys[i].universe;
    }
    index->universe_first[index->universe_groups] = count;
    free(keys);
    return true;
}

const uint32_t *show_patch_order(const struct show *show)
{
    return show->index->patch_order;
}

const uint32_t *show_universe_fixtures(const struct show *show, int64_t id, uint32_t *count)
{
    const struct show_index *index = show->index;
    uint32_t low = 0, high = index->universe_groups;
    *count = 0;
    /* Unpatched fixtures form the last group and have the smallest number: they are not part of the search. */
    if (high && index->universe_ids[high - 1] == SHOW_NONE)
        high--;
    uint32_t end = high;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (index->universe_ids[middle] < id)
            low = middle + 1;
        else
            high = middle;
    }
    if (low == end || index->universe_ids[low] != id)
        return index->patch_order;
    *count = index->universe_first[low + 1] - index->universe_first[low];
    return index->patch_order + index->universe_first[low];
}

static uint32_t group_cell(const struct show *show, const struct show__groups *groups, const char *key)
{
    uint32_t at = show__hash_text(show, key, strlen(key)) & groups->by_key.mask;
    while (groups->by_key.cells[at] != SHOW_UNKNOWN && strcmp(groups->keys[groups->by_key.cells[at]], key) != 0)
        at = (at + 1) & groups->by_key.mask;
    return at;
}

/* Group `count` items by the text that key(show, i) gives; NULL texts are left out. Items keep their order. */
static bool group_make(const struct show *show, struct show__groups *groups, uint32_t count,
                       const char *(*key)(const struct show *, uint32_t))
{
    uint32_t *group_of = malloc((count + 1u) * sizeof *group_of);
    groups->keys = malloc((count + 1u) * sizeof *groups->keys);
    groups->starts = calloc(count + 2u, sizeof *groups->starts);
    groups->items = malloc((count + 1u) * sizeof *groups->items);
    if (!group_of || !groups->keys || !groups->starts || !groups->items || !table_make(&groups->by_key, count)) {
        free(group_of);
        return false;
    }
    for (uint32_t i = 0; i < count; i++) {
        const char *text = key(show, i);
        group_of[i] = SHOW_UNKNOWN;
        if (!text)
            continue;
        uint32_t at = group_cell(show, groups, text);
        if (groups->by_key.cells[at] == SHOW_UNKNOWN) {
            groups->keys[groups->group_count] = text;
            groups->by_key.cells[at] = groups->group_count++;
        }
        group_of[i] = groups->by_key.cells[at];
        groups->starts[group_of[i] + 1]++;
    }
    for (uint32_t g = 0; g < groups->group_count; g++)
        groups->starts[g + 1] += groups->starts[g];
    for (uint32_t i = 0; i < count; i++)
        if (group_of[i] != SHOW_UNKNOWN)
            groups->items[groups->starts[group_of[i]]++] = i;
    for (uint32_t g = groups->group_count; g > 0; g--)       /* filling moved every start to its group's end */
        groups->starts[g] = groups->starts[g - 1];
    groups->starts[0] = 0;
    free(group_of);
    return true;
}

static const uint32_t *group_get(const struct show *show, const struct show__groups *groups, const char *key, uint32_t *count)
{
    *count = 0;
    if (!key)
        return groups->items;
    uint32_t group = groups->by_key.cells[group_cell(show, groups, key)];
    if (group == SHOW_UNKNOWN)
        return groups->items;
    *count = groups->starts[group + 1] - groups->starts[group];
    return groups->items + groups->starts[group];
}

static const char *fixture_code(const struct show *show, uint32_t i)
{
    return show->fixtures[i].code;
}

static const char *transmitter_code(const struct show *show, uint32_t i)
{
    return show->transmitters[i].code;
}

const uint32_t *show_code_fixtures(const struct show *show, const char *code, uint32_t *count)
{
    return group_get(show, &show->index->code_fixtures, code, count);
}

const uint32_t *show_code_transmitters(const struct show *show, const char *code, uint32_t *count)
{
    return group_get(show, &show->index->code_transmitters, code, count);
}

static int compare_carriers(const void *a, const void *b)
{
    const struct carrier *x = a, *y = b;
    int order = compare_numbers(x->universe, y->universe);
    if (!order)
        order = compare_numbers(x->transmitter, y->transmitter);
    return order ? order : compare_numbers(x->entry, y->entry);
}

static bool index_carriers(const struct show *show, struct show_index *index)
{
    size_t count = 0;
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        count += show->transmitters[t].lane_count;
    if (count > UINT32_MAX)
        return false;
    index->carriers = malloc((count + 1) * sizeof *index->carriers);
    if (!index->carriers)
        return false;
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        for (uint32_t e = 0; e < show->transmitters[t].lane_count; e++)
            index->carriers[index->carrier_count++] = (struct carrier){ show->transmitters[t].lanes[e].universe, t, e };
    qsort(index->carriers, index->carrier_count, sizeof *index->carriers, compare_carriers);
    return true;
}

const struct carrier *show_carriers(const struct show *show, int64_t id, uint32_t *count)
{
    const struct show_index *index = show->index;
    uint32_t low = 0, high = index->carrier_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (index->carriers[middle].universe < id)
            low = middle + 1;
        else
            high = middle;
    }
    uint32_t end = low;
    while (end < index->carrier_count && index->carriers[end].universe == id)
        end++;
    *count = end - low;
    return index->carriers + low;
}

static uint32_t find_mode(const struct type *type, const char *id)
{
    for (uint32_t m = 0; id && m < type->mode_count; m++)
        if (strcmp(type->modes[m].id, id) == 0)
            return m;
    return SHOW_UNKNOWN;
}

static void resolve(struct show *show)
{
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        show->transmitters[i].site_index = show_find_site(show, show->transmitters[i].site);
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        struct fixture *fixture = &show->fixtures[i];
        fixture->site_index = show_find_site(show, fixture->site);
        fixture->type_index = show_find_type(show, fixture->type);
        fixture->mode_index = fixture->type_index == SHOW_UNKNOWN ? SHOW_UNKNOWN
                              : find_mode(&show->types[fixture->type_index], fixture->mode);
    }
}

int show_index(struct show *show)
{
    struct show_index *index = calloc(1, sizeof *index);
    if (!index)
        return RIG_ENOMEM;
    show__index_free(show->index);
    show->index = index;
    if (!index_texts(show, &index->sites, SUBJECT_SITE, show->site_count) ||
        !index_texts(show, &index->types, SUBJECT_TYPE, show->type_count) ||
        !index_texts(show, &index->transmitters, SUBJECT_TRANSMITTER, show->transmitter_count) ||
        !index_numbers(show, &index->universes, SUBJECT_UNIVERSE, show->universe_count) ||
        !index_numbers(show, &index->fixtures, SUBJECT_FIXTURE, show->fixture_count) ||
        !index_patch(show, index) || !index_carriers(show, index) ||
        !group_make(show, &index->code_fixtures, show->fixture_count, fixture_code) ||
        !group_make(show, &index->code_transmitters, show->transmitter_count, transmitter_code)) {
        show__index_free(index);
        show->index = NULL;
        return RIG_ENOMEM;
    }
    resolve(show);
    return 0;
}

static void groups_free(struct show__groups *groups)
{
    free(groups->keys);
    free(groups->starts);
    free(groups->items);
    free(groups->by_key.cells);
}

void show__index_free(struct show_index *index)
{
    if (!index)
        return;
    free(index->sites.cells);
    free(index->types.cells);
    free(index->transmitters.cells);
    free(index->universes.cells);
    free(index->fixtures.cells);
    free(index->patch_order);
    free(index->universe_first);
    free(index->universe_ids);
    free(index->carriers);
    groups_free(&index->code_fixtures);
    groups_free(&index->code_transmitters);
    free(index);
}
