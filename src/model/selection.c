/* Selections of fixtures: 'key=value[,value]; key=…'. */
#include <stdlib.h>
#include <string.h>

#include "rigcall/model.h"

#define TEXT_LIMIT 65536
#define VALUE_LIMIT 4096

enum key { KEY_ID, KEY_NAME, KEY_TYPE, KEY_MODE, KEY_SITE, KEY_TAG, KEY_UNIVERSE, KEY_TRANSMITTER, KEY_COUNT };
static const char *const key_names[KEY_COUNT] = { "id", "name", "type", "mode", "site", "tag", "universe", "transmitter" };

struct value { char *text; int64_t from, to; };
struct clause { bool given; struct value *values; size_t count; };
struct selection { struct clause clauses[KEY_COUNT]; const char **transmitters; };

struct cursor { const char *text, *at; struct rig_why *why; };

static void skip_spaces(struct cursor *cursor)
{
    while (*cursor->at == ' ' || *cursor->at == '\t')
        cursor->at++;
}

static int parse_key(struct cursor *cursor, enum key *key)
{
    size_t length = strcspn(cursor->at, "=;,\" \t");
    for (unsigned k = 0; k < KEY_COUNT; k++)
        if (strlen(key_names[k]) == length && memcmp(key_names[k], cursor->at, length) == 0) {
            *key = (enum key)k;
            cursor->at += length;
            skip_spaces(cursor);
            if (*cursor->at == '=') {
                cursor->at++;
                return 0;
            }
            return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": key \"%s\" is not followed by =", cursor->text, key_names[k]);
        }
    return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": unknown key \"%.*s\"; keys are id, name, type, mode, site, tag, universe, transmitter",
                    cursor->text, (int)(length > 40 ? 40 : length), cursor->at);
}

/* The next value, quotes removed. *out is malloc'd. */
static int parse_value(struct cursor *cursor, char **out)
{
    const char *start;
    size_t length;
    skip_spaces(cursor);
    if (*cursor->at == '"') {
        start = cursor->at + 1;
        length = strcspn(start, "\"");
        if (!start[length])
            return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": a quote is not closed", cursor->text);
        cursor->at = start + length + 1;
        skip_spaces(cursor);
    } else {
        start = cursor->at;
        length = strcspn(start, ",;");
        cursor->at = start + length;
        while (length > 0 && (start[length - 1] == ' ' || start[length - 1] == '\t'))
            length--;
        /* site=quay,tag=rail: a comma where ; was meant would select all of the quay. */
        if (memchr(start, '=', length))
            return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": value \"%.*s\" has a =; keys are separated by ;, a value with = is quoted",
                            cursor->text, (int)(length > 40 ? 40 : length), start);
    }
    if (length == 0)
        return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": a value is empty", cursor->text);
    *out = strndup(start, length);
    return *out ? 0 : rig_fail(cursor->why, RIG_ENOMEM, "out of memory");
}

static bool whole_number(const char **at, int64_t *number)
{
    char *end;
    if (**at < '0' || **at > '9')
        return false;
    long long value = strtoll(*at, &end, 10);
    if (end - *at > 10 || value > INT32_MAX)
        return false;
    *number = value;
    *at = end;
    return true;
}

static int parse_range(struct cursor *cursor, const char *key, struct value *value)
{
    const char *at = value->text;
    if (whole_number(&at, &value->from)) {
        value->to = value->from;
        if (*at == '-') {
            at++;
            if (!whole_number(&at, &value->to))
                at = "?";
        }
        if (!*at && value->from <= value->to)
            return 0;
    }
    return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": %s \"%.40s\" is not a number or a range a-b", cursor->text, key, value->text);
}

static int parse_clause(struct cursor *cursor, struct selection *selection)
{
    enum key key = KEY_COUNT;
    int err = parse_key(cursor, &key);
    if (err)
        return err;
    struct clause *clause = &selection->clauses[key];
    if (clause->given)
        return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": key \"%s\" is given twice; separate its values by commas", cursor->text, key_names[key]);
    clause->given = true;
    for (;;) {
        if (clause->count == VALUE_LIMIT)
            return rig_fail(cursor->why, RIG_EUSAGE, "selection: more than %d values of key \"%s\"", VALUE_LIMIT, key_names[key]);
        struct value *moved = reallocarray(clause->values, clause->count + 1, sizeof *moved);
        if (!moved)
            return rig_fail(cursor->why, RIG_ENOMEM, "out of memory");
        clause->values = moved;
        struct value *value = &moved[clause->count];
        *value = (struct value){ NULL, 0, 0 };
        if ((err = parse_value(cursor, &value->text)))
            return err;
        clause->count++;
        if ((key == KEY_ID || key == KEY_UNIVERSE) && (err = parse_range(cursor, key_names[key], value)))
            return err;
        if (*cursor->at != ',')
            break;
        cursor->at++;
    }
    if (*cursor->at && *cursor->at != ';')
        return rig_fail(cursor->why, RIG_EUSAGE, "selection \"%s\": \"%.20s\" after a value; expected , or ;", cursor->text, cursor->at);
    return 0;
}

static int list_transmitters(struct selection *selection)
{
    const struct clause *clause = &selection->clauses[KEY_TRANSMITTER];
    selection->transmitters = calloc(clause->count + 1, sizeof *selection->transmitters);
    if (!selection->transmitters)
        return RIG_ENOMEM;
    for (size_t i = 0; i < clause->count; i++)
        selection->transmitters[i] = clause->values[i].text;
    return 0;
}

int selection_parse(const char *text, struct selection **out, struct rig_why *why)
{
    struct cursor cursor = { text, text, why };
    int err = 0;
    *out = NULL;
    if (strlen(text) > TEXT_LIMIT)
        return rig_fail(why, RIG_EUSAGE, "selection: longer than %d octets", TEXT_LIMIT);
    if (utf8_check(text, strlen(text)) != strlen(text))
        return rig_fail(why, RIG_EUSAGE, "selection: not UTF-8");
    struct selection *selection = calloc(1, sizeof *selection);
    if (!selection)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    for (skip_spaces(&cursor); *cursor.at && !err; skip_spaces(&cursor)) {
        err = parse_clause(&cursor, selection);
        if (!err && *cursor.at == ';')
            cursor.at++;
    }
    if (!err && (err = list_transmitters(selection)))
        rig_fail(why, err, "out of memory");
    if (err) {
        selection_free(selection);
        return err;
    }
    *out = selection;
    return 0;
}

void selection_free(struct selection *selection)
{
    if (!selection)
        return;
    for (unsigned k = 0; k < KEY_COUNT; k++) {
        for (size_t i = 0; i < selection->clauses[k].count; i++)
            free(selection->clauses[k].values[i].text);
        free(selection->clauses[k].values);
    }
    free(selection->transmitters);
    free(selection);
}

static bool any_text(const struct clause *clause, const char *text)
{
    for (size_t i = 0; text && i < clause->count; i++)
        if (strcmp(clause->values[i].text, text) == 0)
            return true;
    return false;
}

static bool any_tag(const struct clause *clause, const struct fixture *fixture)
{
    for (uint32_t t = 0; t < fixture->tag_count; t++)
        if (any_text(clause, fixture->tags[t]))
            return true;
    return false;
}

static bool any_number(const struct clause *clause, int64_t number)
{
    for (size_t i = 0; number != SHOW_NONE && i < clause->count; i++)
        if (number >= clause->values[i].from && number <= clause->values[i].to)
            return true;
    return false;
}

static bool meets(const struct clause *clause, enum key key, const struct fixture *fixture)
{
    switch (key) {
    case KEY_ID:       return any_number(clause, fixture->id);
    case KEY_NAME:     return any_text(clause, fixture->name);
    case KEY_TYPE:     return any_text(clause, fixture->type);
    case KEY_MODE:     return any_text(clause, fixture->mode);
    case KEY_SITE:     return any_text(clause, fixture->site);
    case KEY_TAG:      return any_tag(clause, fixture);
    case KEY_UNIVERSE: return any_number(clause, fixture->universe);
    default:           return true;
    }
}

bool selection_matches(const struct selection *selection, const struct fixture *fixture)
{
    for (unsigned k = 0; k < KEY_COUNT; k++)
        if (selection->clauses[k].given && !meets(&selection->clauses[k], (enum key)k, fixture))
            return false;
    return true;
}

const char *const *selection_transmitters(const struct selection *selection, size_t *count)
{
    *count = selection->clauses[KEY_TRANSMITTER].count;
    return selection->transmitters;
}
