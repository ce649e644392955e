/* Cells: values as CSV text and back. Lists are separated by spaces: tags "a b", lanes "1:1 2:2", keep_out "2402-2423". */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csv_internal.h"

size_t showfile__csv_columns(const struct object *object, struct csv_column columns[CSV_COLUMNS])
{
    size_t count = 0;
    for (unsigned i = 0; i < object->count; i++)
        for (int axis = 0; axis < (object->keys[i].kind == VALUE_POSITION ? 3 : 1); axis++)
            columns[count++] = (struct csv_column){ &object->keys[i], axis };
    return count;
}

const char *showfile__csv_name(const struct csv_column *column, char out[64])
{
    if (column->key->kind == VALUE_POSITION)
        snprintf(out, 64, "%s_%c", column->key->name, "xyz"[column->axis]);
    else
        snprintf(out, 64, "%s", column->key->name);
    return out;
}

static double *axis_of(const struct csv_column *column, const void *object)
{
    struct position *position = showfile__at(object, column->key->offset);
    return column->axis == 0 ? &position->x_m : column->axis == 1 ? &position->y_m : &position->z_m;
}

bool showfile__csv_given(const struct csv_column *column, const void *from)
{
    const struct key *key = column->key;
    if (key->kind == VALUE_AIRS)
        return *(const unsigned *)showfile__at(from, key->offset) != 0;
    if (key->kind == VALUE_OBJECTS)
        return *(const uint32_t *)showfile__at(from, key->count) != 0;
    return showfile__given(key, from);
}

/* ---- to text ---- */

/* A word with a space, a quote or nothing in it goes into quotes, with quotes doubled. */
static void add_word(struct buffer *out, const char *word)
{
    if (*word && !strpbrk(word, " \"")) {
        showfile__add_text(out, word);
        return;
    }
    showfile__add_text(out, "\"");
    for (; *word; word++)
        showfile__add(out, *word == '"' ? "\"\"" : word, *word == '"' ? 2 : 1);
    showfile__add_text(out, "\"");
}

static void add_list(struct buffer *out, const struct key *key, const void *from)
{
    const void *list = *(void *const *)showfile__at(from, key->offset);
    uint32_t count = *(const uint32_t *)showfile__at(from, key->count);
    for (uint32_t i = 0; i < count; i++) {
        if (i)
            showfile__add_text(out, " ");
        if (key->kind == VALUE_WORDS) {
            add_word(out, ((const char *const *)list)[i]);
        } else if (key->of == &showfile__keep_out) {
            const struct band *band = (const struct band *)list + i;
            showfile__add_number(out, band->from_mhz);
            showfile__add_text(out, "-");
            showfile__add_number(out, band->to_mhz);
        } else {
            const struct lane *lane = (const struct lane *)list + i;
            showfile__add_number(out, (double)lane->lane);
            showfile__add_text(out, ":");
            showfile__add_number(out, (double)lane->universe);
        }
    }
}

void showfile__csv_cell(struct buffer *out, const struct csv_column *column, const void *from)
{
    const struct key *key = column->key;
    const void *at = showfile__at(from, key->offset);
    unsigned airs;
    if (!showfile__csv_given(column, from))
        return;
    switch (key->kind) {
    case VALUE_ID: case VALUE_TEXT: case VALUE_LINES:
        showfile__add_text(out, *(const char *const *)at);
        break;
    case VALUE_INTEGER:  showfile__add_number(out, (double)*(const int64_t *)at); break;
    case VALUE_NUMBER:   showfile__add_number(out, *(const double *)at); break;
    case VALUE_FLAG:     showfile__add_text(out, "true"); break;
    case VALUE_POSITION: showfile__add_number(out, *axis_of(column, from)); break;
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT:
        showfile__add_text(out, showfile__word(key->kind, *(const unsigned *)at));
        break;
    case VALUE_AIRS:
        airs = *(const unsigned *)at;
        showfile__add_text(out, airs & AIR_BIT(AIR_SINGLE) ? airs & AIR_BIT(AIR_DUAL) ? "single dual" : "single" : "dual");
        break;
    default:
        add_list(out, key, from);
        break;
    }
}

/* ---- from text ---- */

/* What is left of a cell. */
struct scan { const char *at, *end; };

static bool scan_char(struct scan *scan, char c)
{
    if (scan->at >= scan->end || *scan->at != c)
        return false;
    scan->at++;
    return true;
}

static void scan_spaces(struct scan *scan)
{
    while (scan_char(scan, ' ')) {
    }
}

/* A decimal number, with a minus perhaps, that the key may have. */
static bool scan_number(struct scan *scan, const struct key *key, double *number)
{
    bool minus = scan_char(scan, '-');
    const char *from = scan->at;
    for (; scan->at < scan->end; scan->at++) {
        char c = *scan->at;
        bool exponent = (c == 'e' || c == 'E') && scan->end - scan->at > 1 && (scan->at[1] == '-' || scan->at[1] == '+');
        if (!(c >= '0' && c <= '9') && c != '.' && c != 'e' && c != 'E')
            break;
        scan->at += exponent;
    }
    if (!showfile__number_parse(from, (size_t)(scan->at - from), number))
        return false;
    if (minus)
        *number = 0 - *number;
    return showfile__number_fits(key, *number);
}

static bool set_number(const struct csv_column *column, void *into, struct scan scan)
{
    const struct key *key = column->key;
    double number;
    void *at = showfile__at(into, key->offset);
    if (!scan_number(&scan, key, &number) || scan.at != scan.end)
        return false;
    if (key->kind == VALUE_INTEGER)
        *(int64_t *)at = (int64_t)number;
    else
        *(key->kind == VALUE_POSITION ? axis_of(column, into) : (double *)at) = number;
    return true;
}

static bool same_word(const struct scan *scan, const char *word)
{
    size_t length = (size_t)(scan->end - scan->at);
    return strlen(word) == length && strncasecmp(word, scan->at, length) == 0;       /* spreadsheets write TRUE */
}

static bool set_flag(bool *flag, const struct scan *scan)
{
    *flag = same_word(scan, "true");
    return *flag || same_word(scan, "false");
}

static bool set_airs(unsigned *airs, struct scan scan)
{
    *airs = 0;
    while (scan.at < scan.end) {
        const char *from = scan.at;
        while (scan.at < scan.end && *scan.at != ' ')
            scan.at++;
        enum air air = air_from_name(from, (size_t)(scan.at - from));
        if (air == AIR_NONE)
            return false;
        *airs |= AIR_BIT(air);
        scan_spaces(&scan);
    }
    return *airs != 0;
}

static int set_text(struct show *show, const struct key *key, const char **to, const struct scan *scan)
{
    size_t length = (size_t)(scan->end - scan->at);
    if (length > SHOWFILE_TEXT || showfile__control(key->kind, scan->at, length) >= 0 ||
        (key->kind == VALUE_ID && !showfile__is_id(scan->at, length)))
        return RIG_EINPUT;
    const char *text = show_text(show, scan->at, length);
    if (text)
        *to = text;
    return text ? 0 : RIG_ENOMEM;
}

static bool scan_band(struct scan *scan, struct band *band)
{
    static const struct key any = { "", VALUE_NUMBER, 0, 0, 0, NUMBER_LEAST, NUMBER_MOST, NULL };
    return scan_number(scan, &any, &band->from_mhz) && scan_char(scan, '-') && scan_number(scan, &any, &band->to_mhz) &&
           band->from_mhz <= band->to_mhz;
}

static bool scan_lane(struct scan *scan, struct lane *lane)
{
    static const struct key any = { "", VALUE_INTEGER, 0, 0, 0, NUMBER_LEAST, NUMBER_MOST, NULL };
    double number, universe;
    if (!scan_number(scan, &any, &number) || !scan_char(scan, ':') || !scan_number(scan, &any, &universe))
        return false;
    *lane = (struct lane){ (int64_t)number, (int64_t)universe };
    return true;
}

/* A word, or "words in ""quotes""" */
static int scan_word(struct show *show, struct scan *scan, const char **word)
{
    char *bytes = malloc((size_t)(scan->end - scan->at) + 1);
    size_t length = 0;
    bool quoted = scan_char(scan, '"'), closed = !quoted;
    if (!bytes)
        return RIG_ENOMEM;
    while (scan->at < scan->end && (quoted || *scan->at != ' ')) {
        char c = *scan->at++;
        if (c == '"' && (!quoted || !scan_char(scan, '"'))) {
            closed = quoted;         /* a quote inside a plain word closes nothing and is wrong */
            quoted = false;
            break;
        }
        bytes[length++] = c;
    }
    int err = closed && showfile__control(VALUE_TEXT, bytes, length) < 0 ? 0 : RIG_EINPUT;
    if (!err && !(*word = show_text(show, bytes, length)))
        err = RIG_ENOMEM;
    free(bytes);
    return err;
}

static size_t entry_size(const struct key *key)
{
    return key->kind == VALUE_WORDS ? sizeof(char *) : key->of->size;
}

/* Read all entries of a list; `entries` NULL only counts and checks them. */
static int scan_list(struct show *show, const struct key *key, struct scan scan, char *entries, uint32_t *count)
{
    union { const char *word; struct band band; struct lane lane; } entry;
    for (*count = 0; scan.at < scan.end; (*count)++) {
        memset(&entry, 0, sizeof entry);
        int err = 0;
        if (key->kind == VALUE_WORDS)
            err = scan_word(show, &scan, &entry.word);
        else if (!(key->of == &showfile__keep_out ? scan_band(&scan, &entry.band) : scan_lane(&scan, &entry.lane)))
            err = RIG_EINPUT;
        if (!err && scan.at < scan.end && *scan.at != ' ')
            err = RIG_EINPUT;
        if (err)
            return err;
        if (entries)
            memcpy(entries + *count * entry_size(key), &entry, entry_size(key));
        scan_spaces(&scan);
    }
    return 0;
}

static int set_list(struct show *show, const struct key *key, void *into, struct scan scan)
{
    uint32_t count;
    int err = scan_list(show, key, scan, NULL, &count);
    if (err)
        return err;
    void *entries = show_alloc(show, count * entry_size(key));
    if (!entries)
        return RIG_ENOMEM;
    err = scan_list(show, key, scan, entries, &count);
    if (err)
        return err;
    memcpy(showfile__at(into, key->offset), &entries, sizeof entries);
    *(uint32_t *)showfile__at(into, key->count) = count;
    return 0;
}

static void expect(const struct csv_column *column, char expected[128])
{
    const struct key *key = column->key;
    static const struct key axis = { "", VALUE_NUMBER, 0, 0, 0, NUMBER_LEAST, NUMBER_MOST, NULL };
    if (key->kind == VALUE_POSITION)
        showfile__expected(&axis, true, expected, 128);
    else if (key->kind == VALUE_WORDS || key->kind == VALUE_AIRS || key->kind == VALUE_OBJECTS)
        snprintf(expected, 128, "%s",
                 key->kind == VALUE_WORDS         ? "words separated by spaces"
                 : key->kind == VALUE_AIRS        ? "\"single\", \"dual\" or both"
                 : key->of == &showfile__keep_out ? "bands such as \"2402-2423 2450-2460\""
                                                  : "lanes and universes such as \"1:1 2:2\"");
    else if (key->kind == VALUE_TEXT || key->kind == VALUE_LINES)
        snprintf(expected, 128, "a text without control characters");
    else
        showfile__expected(key, true, expected, 128);
}

int showfile__csv_set(struct show *show, const struct csv_column *column, void *into, const char *text, size_t length,
                      char expected[128])
{
    const struct key *key = column->key;
    struct scan scan = { text, text + length };
    void *at = showfile__at(into, key->offset);
    bool text_kind = key->kind == VALUE_TEXT || key->kind == VALUE_LINES;
    bool good = false;
    int err = 0;
    while (!text_kind && scan.at < scan.end && scan.end[-1] == ' ')
        scan.end--;
    if (!text_kind)
        scan_spaces(&scan);
    switch (key->kind) {
    case VALUE_ID: case VALUE_TEXT: case VALUE_LINES:
        err = set_text(show, key, at, &scan);
        good = !err;
        break;
    case VALUE_INTEGER: case VALUE_NUMBER: case VALUE_POSITION:
        good = set_number(column, into, scan);
        break;
    case VALUE_FLAG:
        good = set_flag(at, &scan);
        break;
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT:
        *(unsigned *)at = showfile__word_value(key->kind, scan.at, (size_t)(scan.end - scan.at));
        good = *(unsigned *)at != 0;
        break;
    case VALUE_AIRS:
        good = set_airs(at, scan);
        break;
    default:
        err = set_list(show, key, into, scan);
        good = !err;
        break;
    }
    if (good || err == RIG_ENOMEM)
        return err;
    expect(column, expected);
    return RIG_EINPUT;
}

void showfile__csv_unset(const struct csv_column *column, void *into)
{
    const struct key *key = column->key;
    void *at = showfile__at(into, key->offset);
    switch (key->kind) {
    case VALUE_INTEGER:  *(int64_t *)at = SHOW_NONE; break;
    case VALUE_NUMBER:   *(double *)at = NAN; break;
    case VALUE_POSITION: *axis_of(column, into) = NAN; break;
    case VALUE_FLAG:     *(bool *)at = false; break;
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT: case VALUE_AIRS:
        *(unsigned *)at = 0;
        break;
    case VALUE_WORDS: case VALUE_SLOTS: case VALUE_OBJECTS:
        *(uint32_t *)showfile__at(into, key->count) = 0;
        break;
    default:
        *(const char **)at = NULL;
        break;
    }
}
