/* What follows from an object alone: footprints, lanes, defaults, and how people name it. */
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "rigcall/model.h"

const struct type *fixture_type(const struct show *show, const struct fixture *fixture)
{
    return fixture->type_index == SHOW_UNKNOWN ? NULL : &show->types[fixture->type_index];
}

const struct mode *fixture_mode(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    return !type || fixture->mode_index == SHOW_UNKNOWN ? NULL : &type->modes[fixture->mode_index];
}

int64_t mode_footprint(const struct mode *mode)
{
    int64_t cells, sum;
    if (__builtin_mul_overflow(mode->cells, (int64_t)mode->slot_count, &cells) ||
        __builtin_add_overflow(cells, (int64_t)mode->head_count + mode->tail_count, &sum))
        return INT64_MAX;
    return sum;
}

int64_t fixture_footprint(const struct show *show, const struct fixture *fixture)
{
    const struct mode *mode = fixture_mode(show, fixture);
    return mode ? mode_footprint(mode) : SHOW_NONE;
}

int64_t fixture_last(const struct show *show, const struct fixture *fixture)
{
    int64_t footprint = fixture_footprint(show, fixture), last;
    if (footprint == SHOW_NONE || fixture->address == SHOW_NONE)
        return SHOW_NONE;
    return __builtin_add_overflow(fixture->address, footprint - 1, &last) ? INT64_MAX : last;
}

int64_t universe_wire(const struct universe *universe)
{
    return universe->wire == SHOW_NONE ? universe->id : universe->wire;
}

int64_t universe_priority(const struct universe *universe)
{
    return universe->priority == SHOW_NONE ? 100 : universe->priority;
}

int64_t transmitter_lane_count(const struct transmitter *transmitter)
{
    return transmitter->radios > 0 ? transmitter->radios * (int64_t)transmitter->air : 0;
}

bool position_given(const struct position *position)
{
    return !isnan(position->x_m);
}

const char *air_name(enum air air)
{
    return air == AIR_SINGLE ? "single" : air == AIR_DUAL ? "dual" : NULL;
}

static bool same(const char *name, const char *text, size_t length)
{
    return strlen(name) == length && memcmp(name, text, length) == 0;
}

enum air air_from_name(const char *name, size_t length)
{
    return same("single", name, length) ? AIR_SINGLE : same("dual", name, length) ? AIR_DUAL : AIR_NONE;
}

static const char *const hazard_names[] = { NULL, "motion", "laser", "flame", "fog", "other" };

const char *hazard_name(enum hazard hazard)
{
    return hazard_names[hazard];
}

enum hazard hazard_from_name(const char *name, size_t length)
{
    for (unsigned h = HAZARD_MOTION; h <= HAZARD_OTHER; h++)
        if (same(hazard_names[h], name, length))
            return (enum hazard)h;
    return HAZARD_NONE;
}

const char *subject_kind_name(enum subject_kind kind)
{
    static const char *const names[] = { "fixture", "show", "site", "transmitter", "type", "universe" };
    return names[kind];
}

static size_t put(char *buffer, size_t size, const char *kind, const char *id, const char *name)
{
    int length = snprintf(buffer, size, "%s%s%s%s%s", kind, id ? " " : "", id ? id : "", name ? " " : "", name ? name : "");
    if (length < 0 || size == 0)
        return 0;
    size_t cut = (size_t)length < size ? (size_t)length : utf8_cut(buffer, size - 1, size - 1);
    buffer[cut] = '\0';
    return cut;
}

size_t show_describe(const struct show *show, enum subject_kind kind, uint32_t index, char *buffer, size_t size)
{
    const char *word = subject_kind_name(kind);
    char number[24];
    switch (kind) {
    case SUBJECT_SHOW:
        return put(buffer, size, word, NULL, show->name);
    case SUBJECT_SITE:
        return put(buffer, size, word, show->sites[index].id, show->sites[index].name);
    case SUBJECT_TYPE:
        return put(buffer, size, word, show->types[index].id, show->types[index].name);
    case SUBJECT_TRANSMITTER:
        return put(buffer, size, word, show->transmitters[index].id, show->transmitters[index].name);
    case SUBJECT_UNIVERSE:
        snprintf(number, sizeof number, "%" PRId64, show->universes[index].id);
        return put(buffer, size, word, number, show->universes[index].label);
    case SUBJECT_FIXTURE:
        snprintf(number, sizeof number, "%" PRId64, show->fixtures[index].id);
        return put(buffer, size, word, number, show->fixtures[index].name);
    }
    return put(buffer, size, "?", NULL, NULL);
}
