/* The one table of keys: what every object of a show file may say, in the order in which it is written. The reader, the
 * writer, the CSV columns and the messages all go by it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "rigcall/nearest.h"
#include "showfile_internal.h"

#define ANY NUMBER_LEAST, NUMBER_MOST
#define FROM(least) (least), NUMBER_MOST
#define AT(object, member) offsetof(struct object, member)
#define LIST(object, member, singular) offsetof(struct object, member), offsetof(struct object, singular##_count)
#define TABLE(name) name, sizeof name / sizeof *name

/* A call through a pointer of another function type is undefined (C11 6.3.2.3), hence these. */
static void *add_site(struct show *show) { return show_add_site(show); }
static void *add_quiet(struct show *show) { return show_add_quiet(show); }
static void *add_type(struct show *show) { return show_add_type(show); }
static void *add_transmitter(struct show *show) { return show_add_transmitter(show); }
static void *add_universe(struct show *show) { return show_add_universe(show); }
static void *add_fixture(struct show *show) { return show_add_fixture(show); }

static const struct key call_keys[] = {
    { "hours", VALUE_NUMBER, 0, AT(show, call_hours), 0, FROM(0), NULL },
    { "level", VALUE_NUMBER, 0, AT(show, call_level), 0, 0, 100, NULL },
};
static const struct object call = { "call", TABLE(call_keys), 0, 0, NULL, 0 };

static const struct key site_keys[] = {
    { "id",   VALUE_ID,    KEY_REQUIRED, AT(site, id), 0, ANY, NULL },
    { "name", VALUE_TEXT,  0, AT(site, name), 0, ANY, NULL },
    { "note", VALUE_LINES, 0, AT(site, note), 0, ANY, NULL },
};
static const struct object site = { "site", TABLE(site_keys),
    sizeof(struct site), AT(site, extras), add_site, SHOWFILE_OBJECTS };

static const struct key band_keys[] = {
    { "from", VALUE_NUMBER, KEY_REQUIRED, AT(band, from_mhz), 0, ANY, NULL },
    { "to",   VALUE_NUMBER, KEY_REQUIRED, AT(band, to_mhz), 0, ANY, NULL },
    { "who",  VALUE_TEXT,   0, AT(band, who), 0, ANY, NULL },
    { "note", VALUE_LINES,  0, AT(band, note), 0, ANY, NULL },
};
const struct object showfile__quiet = { "quiet", TABLE(band_keys),
    sizeof(struct band), AT(band, extras), add_quiet, SHOWFILE_OBJECTS };
const struct object showfile__keep_out = { "keep_out", TABLE(band_keys),
    sizeof(struct band), AT(band, extras), NULL, SHOWFILE_LIST };

static const struct key mode_keys[] = {
    { "id",    VALUE_ID,      KEY_REQUIRED, AT(mode, id), 0, ANY, NULL },
    { "name",  VALUE_TEXT,    0, AT(mode, name), 0, ANY, NULL },
    { "head",  VALUE_SLOTS,   KEY_ALWAYS, LIST(mode, head, head), ANY, NULL },
    { "cells", VALUE_INTEGER, KEY_ALWAYS, AT(mode, cells), 0, FROM(0), NULL },
    { "slots", VALUE_SLOTS,   KEY_REQUIRED | KEY_ALWAYS, LIST(mode, slots, slot), ANY, NULL },
    { "tail",  VALUE_SLOTS,   KEY_ALWAYS, LIST(mode, tail, tail), ANY, NULL },
    { "note",  VALUE_LINES,   0, AT(mode, note), 0, ANY, NULL },
};
const struct object showfile__mode = { "mode", TABLE(mode_keys),
    sizeof(struct mode), AT(mode, extras), NULL, SHOWFILE_MODES };

static const struct key floor_keys[] = {
    { "single", VALUE_TEXT, 0, offsetof(struct type, firmware_floor) + AIR_SINGLE * sizeof(char *), 0, ANY, NULL },
    { "dual",   VALUE_TEXT, 0, offsetof(struct type, firmware_floor) + AIR_DUAL * sizeof(char *), 0, ANY, NULL },
};
static const struct object firmware_floor = { "firmware_floor", TABLE(floor_keys), 0, 0, NULL, 0 };

static const struct key type_keys[] = {
    { "id",              VALUE_ID,      KEY_REQUIRED, AT(type, id), 0, ANY, NULL },
    { "name",            VALUE_TEXT,    0, AT(type, name), 0, ANY, NULL },
    { "airs",            VALUE_AIRS,    0, AT(type, airs), 0, ANY, NULL },
    { "firmware_floor",  VALUE_OBJECT,  0, 0, 0, ANY, &firmware_floor },
    { "watts",           VALUE_NUMBER,  0, AT(type, watts), 0, FROM(0), NULL },
    { "battery_wh",      VALUE_NUMBER,  0, AT(type, battery_wh), 0, FROM(0), NULL },
    { "sensitivity_dbm", VALUE_NUMBER,  0, AT(type, sensitivity_dbm), 0, ANY, NULL },
    { "hazard",          VALUE_HAZARD,  0, AT(type, hazard), 0, ANY, NULL },
    { "note",            VALUE_LINES,   0, AT(type, note), 0, ANY, NULL },
    { "modes",           VALUE_OBJECTS, KEY_REQUIRED | KEY_ALWAYS, LIST(type, modes, mode), ANY, &showfile__mode },
};
const struct object showfile__type = { "type", TABLE(type_keys),
    sizeof(struct type), AT(type, extras), add_type, SHOWFILE_OBJECTS };

static const struct key lane_keys[] = {
    { "lane",     VALUE_INTEGER, KEY_REQUIRED, AT(lane, lane), 0, ANY, NULL },
    { "universe", VALUE_INTEGER, KEY_REQUIRED, AT(lane, universe), 0, ANY, NULL },
};
static const struct object lane = { "lane", TABLE(lane_keys), sizeof(struct lane), 0, NULL, SHOWFILE_LIST };

static const struct key transmitter_keys[] = {
    { "id",       VALUE_ID,       KEY_REQUIRED, AT(transmitter, id), 0, ANY, NULL },
    { "name",     VALUE_TEXT,     0, AT(transmitter, name), 0, ANY, NULL },
    { "site",     VALUE_TEXT,     KEY_REQUIRED, AT(transmitter, site), 0, ANY, NULL },
    { "pos",      VALUE_POSITION, 0, AT(transmitter, pos), 0, ANY, NULL },
    { "reach",    VALUE_NUMBER,   0, AT(transmitter, reach_m), 0, FROM(0), NULL },
    { "eirp_dbm", VALUE_NUMBER,   0, AT(transmitter, eirp_dbm), 0, ANY, NULL },
    { "radios",   VALUE_INTEGER,  KEY_REQUIRED, AT(transmitter, radios), 0, ANY, NULL },
    { "airs",     VALUE_AIRS,     KEY_REQUIRED | KEY_ALWAYS, AT(transmitter, airs), 0, ANY, NULL },
    { "air",      VALUE_AIR,      KEY_REQUIRED, AT(transmitter, air), 0, ANY, NULL },
    { "code",     VALUE_TEXT,     0, AT(transmitter, code), 0, ANY, NULL },
    { "firmware", VALUE_TEXT,     0, AT(transmitter, firmware), 0, ANY, NULL },
    { "input",    VALUE_INPUT,    0, AT(transmitter, input), 0, ANY, NULL },
    { "host",     VALUE_TEXT,     0, AT(transmitter, host), 0, ANY, NULL },
    { "spare",    VALUE_FLAG,     0, AT(transmitter, spare), 0, ANY, NULL },
    { "lanes",    VALUE_OBJECTS,  KEY_ALWAYS, LIST(transmitter, lanes, lane), ANY, &lane },
    { "keep_out", VALUE_OBJECTS,  0, LIST(transmitter, keep_out, keep_out), ANY, &showfile__keep_out },
    { "note",     VALUE_LINES,    0, AT(transmitter, note), 0, ANY, NULL },
};
const struct object showfile__transmitter = { "transmitter", TABLE(transmitter_keys), sizeof(struct transmitter),
                                              AT(transmitter, extras), add_transmitter, SHOWFILE_OBJECTS };

static const struct key universe_keys[] = {
    { "id",       VALUE_INTEGER, KEY_REQUIRED, AT(universe, id), 0, ANY, NULL },
    { "label",    VALUE_TEXT,    0, AT(universe, label), 0, ANY, NULL },
    { "priority", VALUE_INTEGER, 0, AT(universe, priority), 0, 0, 200, NULL },       /* ANSI E1.31-2018 6.2.3 */
    { "wire",     VALUE_INTEGER, 0, AT(universe, wire), 0, ANY, NULL },
    { "note",     VALUE_LINES,   0, AT(universe, note), 0, ANY, NULL },
};
static const struct object universe = { "universe", TABLE(universe_keys),
    sizeof(struct universe), AT(universe, extras), add_universe, SHOWFILE_OBJECTS };

static const struct key fixture_keys[] = {
    { "id",       VALUE_INTEGER,  KEY_REQUIRED, AT(fixture, id), 0, FROM(1), NULL },
    { "name",     VALUE_TEXT,     0, AT(fixture, name), 0, ANY, NULL },
    { "type",     VALUE_TEXT,     KEY_REQUIRED, AT(fixture, type), 0, ANY, NULL },
    { "mode",     VALUE_TEXT,     KEY_REQUIRED, AT(fixture, mode), 0, ANY, NULL },
    { "site",     VALUE_TEXT,     KEY_REQUIRED, AT(fixture, site), 0, ANY, NULL },
    { "pos",      VALUE_POSITION, 0, AT(fixture, pos), 0, ANY, NULL },
    { "tags",     VALUE_WORDS,    0, LIST(fixture, tags, tag), ANY, NULL },
    { "universe", VALUE_INTEGER,  0, AT(fixture, universe), 0, ANY, NULL },
    { "address",  VALUE_INTEGER,  0, AT(fixture, address), 0, ANY, NULL },
    { "code",     VALUE_TEXT,     0, AT(fixture, code), 0, ANY, NULL },
    { "air",      VALUE_AIR,      0, AT(fixture, air), 0, ANY, NULL },
    { "lane",     VALUE_INTEGER,  0, AT(fixture, lane), 0, ANY, NULL },
    { "firmware", VALUE_TEXT,     0, AT(fixture, firmware), 0, ANY, NULL },
    { "same_as",  VALUE_INTEGER,  0, AT(fixture, same_as), 0, ANY, NULL },
    { "wired",    VALUE_FLAG,     0, AT(fixture, wired), 0, ANY, NULL },
    { "note",     VALUE_LINES,    0, AT(fixture, note), 0, ANY, NULL },
};
const struct object showfile__fixture = { "fixture", TABLE(fixture_keys),
    sizeof(struct fixture), AT(fixture, extras), add_fixture, SHOWFILE_OBJECTS };

static const struct key show_keys[] = {
    { "rigcall",      VALUE_FORMAT,  KEY_REQUIRED, 0, 0, 1, 1, NULL },
    { "name",         VALUE_TEXT,    KEY_REQUIRED, AT(show, name), 0, ANY, NULL },
    { "date",         VALUE_TEXT,    0, AT(show, date), 0, ANY, NULL },
    { "region",       VALUE_TEXT,    0, AT(show, region), 0, ANY, NULL },
    { "call",         VALUE_OBJECT,  0, 0, AT(show, has_call), ANY, &call },
    { "note",         VALUE_LINES,   0, AT(show, note), 0, ANY, NULL },
    { "sites",        VALUE_OBJECTS, 0, LIST(show, sites, site), ANY, &site },
    { "quiet",        VALUE_OBJECTS, 0, LIST(show, quiet, quiet), ANY, &showfile__quiet },
    { "types",        VALUE_OBJECTS, 0, LIST(show, types, type), ANY, &showfile__type },
    { "transmitters", VALUE_OBJECTS, 0, LIST(show, transmitters, transmitter), ANY, &showfile__transmitter },
    { "universes",    VALUE_OBJECTS, 0, LIST(show, universes, universe), ANY, &universe },
    { "fixtures",     VALUE_OBJECTS, 0, LIST(show, fixtures, fixture), ANY, &showfile__fixture },
};
const struct object showfile__show = { "show", TABLE(show_keys), sizeof(struct show), AT(show, extras), NULL, 1 };

unsigned showfile__key(const struct object *object, const char *name, size_t length, unsigned guess)
{
    for (unsigned tried = 0, i = guess; tried < object->count; tried++, i++) {
        if (i >= object->count)
            i = 0;
        const char *known = object->keys[i].name;
        /* name may hold NUL, so its length must be equal before it is compared */
        if (length && known[0] == name[0] && strlen(known) == length && memcmp(known, name, length) == 0)
            return i;
    }
    return object->count;
}

const char *showfile__nearest(const struct object *object, const char *name, size_t length)
{
    char typed[40];                  /* known keys are far shorter */
    const char *nearest = object->keys[0].name;
    size_t best = SIZE_MAX;
    snprintf(typed, sizeof typed, "%.*s", (int)(length < 39 ? length : 39), name);
    for (unsigned i = 0; i < object->count; i++) {
        size_t away = name_distance(typed, object->keys[i].name);
        if (away < best) {
            best = away;
            nearest = object->keys[i].name;
        }
    }
    return nearest;
}

void showfile__clear(const struct object *object, void *into)
{
    for (unsigned i = 0; i < object->count; i++) {
        const struct key *key = &object->keys[i];
        void *at = showfile__at(into, key->offset);
        if (key->kind == VALUE_INTEGER)
            *(int64_t *)at = SHOW_NONE;
        else if (key->kind == VALUE_NUMBER)
            *(double *)at = NAN;
        else if (key->kind == VALUE_POSITION)
            *(struct position *)at = (struct position){ NAN, NAN, NAN };
    }
}

static bool object_given(const struct key *key, const void *from)
{
    if (key->count)
        return *(bool *)showfile__at(from, key->count);
    for (unsigned i = 0; i < key->of->count; i++)
        if (showfile__given(&key->of->keys[i], from))
            return true;
    return false;
}

bool showfile__given(const struct key *key, const void *from)
{
    const void *at = showfile__at(from, key->offset);
    if (key->flags & KEY_ALWAYS)
        return true;
    switch (key->kind) {
    case VALUE_FORMAT:
        return true;
    case VALUE_ID: case VALUE_TEXT: case VALUE_LINES:
        return *(const char *const *)at != NULL;
    case VALUE_INTEGER:
        return *(const int64_t *)at != SHOW_NONE;
    case VALUE_NUMBER:
        return !isnan(*(const double *)at);
    case VALUE_POSITION:
        return position_given(at);
    case VALUE_FLAG:
        return *(const bool *)at;
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT: case VALUE_AIRS:
        return *(const unsigned *)at != 0;
    case VALUE_WORDS: case VALUE_SLOTS: case VALUE_OBJECTS:
        return *(const uint32_t *)showfile__at(from, key->count) != 0;
    case VALUE_OBJECT:
        return object_given(key, from);
    }
    return false;
}
