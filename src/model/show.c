/* The show's memory: blocks that live as long as the show, interned texts, and arrays that grow. */
#include "rigcall/model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/auxv.h>

#include "model_internal.h"

#define BLOCK_SIZE (64u << 10)
#define OBJECT_LIMIT (1u << 31)

struct block { struct block *next; size_t used, size; max_align_t bytes[]; };

/* One interned text; the octets follow it. */
struct text { uint32_t hash, length; char bytes[]; };

struct show_memory {
    struct block *blocks;
    struct text **texts;             /* open addressing; mask + 1 cells */
    uint32_t text_mask, text_count;
    uint32_t site_room, quiet_room, type_room, transmitter_room, universe_room, fixture_room, param_room;
    uint32_t *param_cells;           /* by hash of the name: index + 1, 0 when empty */
    uint32_t param_mask;
    uint64_t hash_key[2];
};

/* Multiply to 128 bits and fold: every bit of both numbers reaches every bit of the result. */
static uint64_t fold(uint64_t a, uint64_t b)
{
    unsigned __int128 product = (unsigned __int128)a * b;
    return (uint64_t)product ^ (uint64_t)(product >> 64);
}

uint32_t show__hash_text(const struct show *show, const char *text, size_t length)
{
    const uint64_t *key = show->memory->hash_key;
    uint64_t hash = key[0] ^ length;
    for (; length > 0; text += 8, length -= length < 8 ? length : 8) {
        uint64_t octets = 0;
        memcpy(&octets, text, length < 8 ? length : 8);
        hash = fold(hash ^ octets, key[1]) + key[0];
    }
    hash = fold(hash, key[1]);
    return (uint32_t)(hash ^ (hash >> 32));
}

uint32_t show__hash_number(const struct show *show, int64_t number)
{
    const uint64_t *key = show->memory->hash_key;
    uint64_t hash = fold((uint64_t)number ^ key[0], key[1]);
    return (uint32_t)(hash ^ (hash >> 32));
}

/* The kernel gives every program 16 random octets to begin with; no file and no call is needed. */
static void make_hash_key(uint64_t key[2])
{
    const void *octets = (const void *)getauxval(AT_RANDOM);
    key[0] = 0x9e3779b97f4a7c15u;
    key[1] = 0xc2b2ae3d27d4eb4fu;
    if (octets)
        memcpy(key, octets, 16);
    key[1] |= 1;                     /* a factor that is not 0 */
}

struct show *show_new(void)
{
    struct show *show = calloc(1, sizeof *show);
    if (!show)
        return NULL;
    show->memory = calloc(1, sizeof *show->memory);
    if (!show->memory) {
        free(show);
        return NULL;
    }
    make_hash_key(show->memory->hash_key);
    show->call_hours = show->call_level = NAN;
    return show;
}

void show_free(struct show *show)
{
    if (!show)
        return;
    show__index_free(show->index);
    for (struct block *block = show->memory->blocks, *next; block; block = next) {
        next = block->next;
        free(block);
    }
    free(show->memory->texts);
    free(show->memory->param_cells);
    free(show->memory);
    free(show->sites);
    free(show->quiet);
    free(show->types);
    free(show->transmitters);
    free(show->universes);
    free(show->fixtures);
    free(show->params);
    free(show);
}

static void *block_alloc(struct show_memory *memory, size_t size, size_t align)
{
    struct block *block = memory->blocks;
    size_t at = block ? (block->used + align - 1) & ~(align - 1) : 0;
    if (!block || at > block->size || block->size - at < size) {
        size_t room = size > BLOCK_SIZE / 4 ? size : BLOCK_SIZE;
        if (room > SIZE_MAX - sizeof *block)
            return NULL;
        block = calloc(1, sizeof *block + room);
        if (!block)
            return NULL;
        block->size = room;
        if (room != BLOCK_SIZE && memory->blocks) {      /* a block of its own goes behind the one that still has room */
            block->next = memory->blocks->next;
            memory->blocks->next = block;
        } else {
            block->next = memory->blocks;
            memory->blocks = block;
        }
        at = 0;
    }
    block->used = at + size;
    return (char *)block->bytes + at;
}

void *show_alloc(struct show *show, size_t size)
{
    return block_alloc(show->memory, size ? size : 1, _Alignof(max_align_t));
}

static bool texts_grow(struct show_memory *memory)
{
    uint32_t mask = memory->texts ? memory->text_mask * 2 + 1 : 1023;
    struct text **cells = calloc((size_t)mask + 1, sizeof(*cells));
    if (!cells)
        return false;
    for (uint32_t i = 0; memory->texts && i <= memory->text_mask; i++) {
        struct text *text = memory->texts[i];
        if (!text)
            continue;
        uint32_t at = text->hash & mask;
        while (cells[at])
            at = (at + 1) & mask;
        cells[at] = text;
    }
    free(memory->texts);
    memory->texts = cells;
    memory->text_mask = mask;
    return true;
}

const char *show_text(struct show *show, const char *bytes, size_t length)
{
    struct show_memory *memory = show->memory;
    uint32_t hash = show__hash_text(show, bytes, length);
    if (length > UINT32_MAX - 64)
        return NULL;
    if ((!memory->texts || memory->text_count >= memory->text_mask / 2) && !texts_grow(memory))
        return NULL;
    uint32_t at = hash & memory->text_mask;
    for (struct text *text; (text = memory->texts[at]); at = (at + 1) & memory->text_mask)
        if (text->hash == hash && text->length == length && memcmp(text->bytes, bytes, length) == 0)
            return text->bytes;
    struct text *text = block_alloc(memory, sizeof *text + length + 1, _Alignof(struct text));
    if (!text)
        return NULL;
    text->hash = hash;
    text->length = (uint32_t)length;
    memcpy(text->bytes, bytes, length);
    text->bytes[length] = '\0';
    memory->texts[at] = text;
    memory->text_count++;
    return text->bytes;
}

/* Make room for one more of `count` items of `size` octets and zero it. */
static void *append(void **items, uint32_t *count, uint32_t *room, size_t size)
{
    if (*count == *room) {
        if (*room >= OBJECT_LIMIT)
            return NULL;
        uint32_t wanted = *room ? *room * 2 : 16;
        void *moved = reallocarray(*items, wanted, size);
        if (!moved)
            return NULL;
        *items = moved;
        *room = wanted;
    }
    void *item = (char *)*items + (size_t)*count * size;
    memset(item, 0, size);
    (*count)++;
    return item;
}

#define APPEND(show, plural, singular) \
    append((void **)&(show)->plural, &(show)->singular##_count, &(show)->memory->singular##_room, sizeof *(show)->plural)

struct site *show_add_site(struct show *show)
{
    return APPEND(show, sites, site);
}

struct band *show_add_quiet(struct show *show)
{
    struct band *band = APPEND(show, quiet, quiet);
    if (band)
        band->from_mhz = band->to_mhz = NAN;
    return band;
}

struct type *show_add_type(struct show *show)
{
    struct type *type = APPEND(show, types, type);
    if (type)
        type->watts = type->battery_wh = type->sensitivity_dbm = NAN;
    return type;
}

struct transmitter *show_add_transmitter(struct show *show)
{
    struct transmitter *transmitter = APPEND(show, transmitters, transmitter);
    if (transmitter) {
        transmitter->pos.x_m = transmitter->reach_m = transmitter->eirp_dbm = NAN;
        transmitter->site_index = SHOW_UNKNOWN;
    }
    return transmitter;
}

struct universe *show_add_universe(struct show *show)
{
    struct universe *universe = APPEND(show, universes, universe);
    if (universe)
        universe->priority = universe->wire = SHOW_NONE;
    return universe;
}

struct fixture *show_add_fixture(struct show *show)
{
    struct fixture *fixture = APPEND(show, fixtures, fixture);
    if (fixture) {
        fixture->universe = fixture->address = fixture->lane = fixture->same_as = SHOW_NONE;
        fixture->pos.x_m = NAN;
        fixture->type_index = fixture->mode_index = fixture->site_index = SHOW_UNKNOWN;
    }
    return fixture;
}

static bool params_grow(struct show *show)
{
    struct show_memory *memory = show->memory;
    uint32_t mask = memory->param_cells ? memory->param_mask * 2 + 1 : 127;
    uint32_t *cells = calloc((size_t)mask + 1, sizeof *cells);
    if (!cells)
        return false;
    for (uint32_t i = 0; i < show->param_count; i++) {
        uint32_t at = show__hash_text(show, show->params[i], strlen(show->params[i])) & mask;
        while (cells[at])
            at = (at + 1) & mask;
        cells[at] = i + 1;
    }
    free(memory->param_cells);
    memory->param_cells = cells;
    memory->param_mask = mask;
    return true;
}

uint32_t show_param(struct show *show, const char *name, size_t length)
{
    struct show_memory *memory = show->memory;
    const char *text = show_text(show, name, length);
    if (!text || ((!memory->param_cells || show->param_count >= memory->param_mask / 2) && !params_grow(show)))
        return SHOW_UNKNOWN;
    uint32_t at = show__hash_text(show, text, length) & memory->param_mask;
    for (uint32_t cell; (cell = memory->param_cells[at]); at = (at + 1) & memory->param_mask)
        if (show->params[cell - 1] == text)
            return cell - 1;
    if (show->param_count >= UINT16_MAX)
        return SHOW_UNKNOWN;
    const char **entry = APPEND(show, params, param);
    if (!entry)
        return SHOW_UNKNOWN;
    *entry = text;
    memory->param_cells[at] = show->param_count;
    return show->param_count - 1;
}
