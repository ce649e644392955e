/* A copy of a show. Arrays are copied whole, then every pointer in them is replaced by one into the copy's own memory. */
#include <string.h>

#include "rigcall/model.h"

/* The show that is made, and whether memory has run out: then the rest is skipped. */
struct copy { struct show *to; bool failed; };

static const char *text(struct copy *copy, const char *from)
{
    const char *to = from && !copy->failed ? show_text(copy->to, from, strlen(from)) : NULL;
    copy->failed |= from && !to;
    return to;
}

static void *array(struct copy *copy, const void *from, uint32_t count, size_t size)
{
    void *to = from && count && !copy->failed ? show_alloc(copy->to, count * size) : NULL;
    copy->failed |= from && count && !to;
    if (to)
        memcpy(to, from, count * size);
    return to;
}

#define ARRAY(copy, list, count) ((list) = array(copy, list, count, sizeof *(list)))

static void extras(struct copy *copy, struct extras *list)
{
    ARRAY(copy, list->items, list->count);
    for (uint32_t i = 0; i < list->count && !copy->failed; i++) {
        list->items[i].key = text(copy, list->items[i].key);
        list->items[i].value = text(copy, list->items[i].value);
    }
}

static void band(struct copy *copy, struct band *band)
{
    band->who = text(copy, band->who);
    band->note = text(copy, band->note);
    extras(copy, &band->extras);
}

static void site(struct copy *copy, struct site *site)
{
    site->id = text(copy, site->id);
    site->name = text(copy, site->name);
    site->note = text(copy, site->note);
    extras(copy, &site->extras);
}

static void mode(struct copy *copy, struct mode *mode)
{
    mode->id = text(copy, mode->id);
    mode->name = text(copy, mode->name);
    mode->note = text(copy, mode->note);
    ARRAY(copy, mode->head, mode->head_count);
    ARRAY(copy, mode->slots, mode->slot_count);
    ARRAY(copy, mode->tail, mode->tail_count);
    extras(copy, &mode->extras);
}

static void type(struct copy *copy, struct type *type)
{
    type->id = text(copy, type->id);
    type->name = text(copy, type->name);
    type->note = text(copy, type->note);
    for (unsigned i = 0; i < sizeof type->firmware_floor / sizeof *type->firmware_floor; i++)
        type->firmware_floor[i] = text(copy, type->firmware_floor[i]);
    ARRAY(copy, type->modes, type->mode_count);
    for (uint32_t i = 0; i < type->mode_count && !copy->failed; i++)
        mode(copy, &type->modes[i]);
    extras(copy, &type->extras);
}

static void transmitter(struct copy *copy, struct transmitter *transmitter)
{
    const char **const texts[] = { &transmitter->id, &transmitter->name, &transmitter->site, &transmitter->code,
                                   &transmitter->firmware, &transmitter->host, &transmitter->note };
    for (unsigned i = 0; i < sizeof texts / sizeof *texts; i++)
        *texts[i] = text(copy, *texts[i]);
    ARRAY(copy, transmitter->lanes, transmitter->lane_count);
    ARRAY(copy, transmitter->keep_out, transmitter->keep_out_count);
    for (uint32_t i = 0; i < transmitter->keep_out_count && !copy->failed; i++)
        band(copy, &transmitter->keep_out[i]);
    extras(copy, &transmitter->extras);
}

static void universe(struct copy *copy, struct universe *universe)
{
    universe->label = text(copy, universe->label);
    universe->note = text(copy, universe->note);
    extras(copy, &universe->extras);
}

static void fixture(struct copy *copy, struct fixture *fixture)
{
    const char **const texts[] = { &fixture->name, &fixture->type, &fixture->mode, &fixture->site, &fixture->code,
                                   &fixture->firmware, &fixture->note };
    for (unsigned i = 0; i < sizeof texts / sizeof *texts; i++)
        *texts[i] = text(copy, *texts[i]);
    ARRAY(copy, fixture->tags, fixture->tag_count);
    for (uint32_t i = 0; i < fixture->tag_count && !copy->failed; i++)
        fixture->tags[i] = text(copy, fixture->tags[i]);
    extras(copy, &fixture->extras);
}

/* Append one object of a kind to the copy, as the original is, then take over what it points to. */
#define COPY_ALL(copy, from, plural, count, add, inside) \
    for (uint32_t i = 0; i < (from)->count && !(copy)->failed; i++) { \
        void *to = add((copy)->to); \
        (copy)->failed = !to; \
        if (to) { \
            memcpy(to, &(from)->plural[i], sizeof *(from)->plural); \
            inside(copy, &(copy)->to->plural[i]); \
        } \
    }

/* Parameters keep their numbers, because slots name them by these. */
static void params(struct copy *copy, const struct show *from)
{
    for (uint32_t i = 0; i < from->param_count && !copy->failed; i++)
        copy->failed = show_param(copy->to, from->params[i], strlen(from->params[i])) != i;
}

static void head(struct copy *copy, const struct show *from)
{
    struct show *to = copy->to;
    to->name = text(copy, from->name);
    to->date = text(copy, from->date);
    to->region = text(copy, from->region);
    to->note = text(copy, from->note);
    to->has_call = from->has_call;
    to->call_hours = from->call_hours;
    to->call_level = from->call_level;
    to->extras = from->extras;
    extras(copy, &to->extras);
}

struct show *show_copy(const struct show *show)
{
    struct copy copy = { .to = show_new() };
    if (!copy.to)
        return NULL;
    head(&copy, show);
    params(&copy, show);
    COPY_ALL(&copy, show, sites, site_count, show_add_site, site)
    COPY_ALL(&copy, show, quiet, quiet_count, show_add_quiet, band)
    COPY_ALL(&copy, show, types, type_count, show_add_type, type)
    COPY_ALL(&copy, show, transmitters, transmitter_count, show_add_transmitter, transmitter)
    COPY_ALL(&copy, show, universes, universe_count, show_add_universe, universe)
    COPY_ALL(&copy, show, fixtures, fixture_count, show_add_fixture, fixture)
    if (copy.failed || show_index(copy.to)) {
        show_free(copy.to);
        return NULL;
    }
    return copy.to;
}
