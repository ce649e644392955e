/* Reads the values of keys: one function per kind of value. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "read_internal.h"

#define EXPECTED 128

int showfile__read_number(struct reader *reader, const char *expected, double *number, const char **start)
{
    struct lexer *lexer = &reader->lexer;
    *start = lexer->token.start;
    bool minus = showfile__is_symbol(reader, '-');
    int err = minus ? showfile__next(lexer) : 0;
    if (err)
        return err;
    if (lexer->token.kind != TOKEN_NUMBER)
        return showfile__unexpected(reader, expected);
    *number = minus ? 0 - lexer->token.number : lexer->token.number;
    return 0;
}

/* The number at the token does not fit: say it as it is written. */
static int wrong_number(struct reader *reader, const char *start, const char *expected)
{
    const struct token *token = &reader->lexer.token;
    char found[200];
    showfile__found(&reader->lexer, found);
    return showfile__read_fail(reader, start, "found %s%s, expected %s", start == token->start ? "" : "-", found, expected);
}

static int read_number(struct reader *reader, const struct key *key, double *number)
{
    char expected[EXPECTED];
    const char *start;
    struct lexer *lexer = &reader->lexer;
    bool plain = lexer->token.kind == TOKEN_NUMBER;
    if (!plain)
        showfile__expected(key, false, expected, sizeof expected);
    int err = showfile__read_number(reader, expected, number, &start);
    if (err)
        return err;
    if (!showfile__number_fits(key, *number)) {
        showfile__expected(key, true, expected, sizeof expected);
        return wrong_number(reader, start, expected);
    }
    return showfile__next(lexer);
}

static int read_integer(struct reader *reader, const struct key *key, int64_t *integer)
{
    double number;
    int err = read_number(reader, key, &number);
    if (!err)
        *integer = (int64_t)number;
    return err;
}

int showfile__check_text(struct reader *reader, enum value_kind kind)
{
    const struct token *token = &reader->lexer.token;
    long control = showfile__control(kind, token->text, token->length);
    if (control >= 0)
        return showfile__read_fail(reader, token->start, "found control character U+%04lX, expected a text without",
                                   (unsigned long)control);
    return 0;
}

int showfile__read_text(struct reader *reader, enum value_kind kind, const char **text)
{
    const struct token *token = &reader->lexer.token;
    int err = showfile__check_text(reader, kind);
    if (err)
        return err;
    *text = show_text(reader->show, token->text, token->length);
    return *text ? 0 : showfile__read_nomem(reader);
}

static int unexpected_value(struct reader *reader, const struct key *key)
{
    char expected[EXPECTED];
    showfile__expected(key, false, expected, sizeof expected);
    return showfile__unexpected(reader, expected);
}

static int read_text(struct reader *reader, const struct key *key, const char **text)
{
    const struct token *token = &reader->lexer.token;
    if (token->kind != TOKEN_TEXT || (key->kind == VALUE_ID && !showfile__is_id(token->text, token->length)))
        return unexpected_value(reader, key);
    int err = showfile__read_text(reader, key->kind, text);
    return err ? err : showfile__next(&reader->lexer);
}

static int read_flag(struct reader *reader, const struct key *key, bool *flag)
{
    const struct token *token = &reader->lexer.token;
    bool yes = token->kind == TOKEN_NAME && token->length == 4 && memcmp(token->text, "true", 4) == 0;
    bool no = token->kind == TOKEN_NAME && token->length == 5 && memcmp(token->text, "false", 5) == 0;
    if (!yes && !no)
        return unexpected_value(reader, key);
    *flag = yes;
    return showfile__next(&reader->lexer);
}

static int read_word(struct reader *reader, const struct key *key, unsigned *value)
{
    const struct token *token = &reader->lexer.token;
    *value = token->kind == TOKEN_TEXT ? showfile__word_value(key->kind, token->text, token->length) : 0;
    return *value ? showfile__next(&reader->lexer) : unexpected_value(reader, key);
}

/* Open the list of a key. */
static int open_list(struct reader *reader, const struct key *key)
{
    char expected[EXPECTED];
    if (!showfile__is_symbol(reader, '{'))
        showfile__expected(key, false, expected, sizeof expected);
    return showfile__open(reader, expected);
}

static int read_position(struct reader *reader, const struct key *key, struct position *position)
{
    double *axes[] = { &position->x_m, &position->y_m, &position->z_m };
    const struct key axis = { "pos", VALUE_NUMBER, 0, 0, 0, NUMBER_LEAST, NUMBER_MOST, NULL };
    int err = open_list(reader, key);
    for (int i = 0; !err && i < 3; i++) {
        if (i && showfile__is_symbol(reader, '}'))
            return unexpected_value(reader, key);
        err = read_number(reader, &axis, axes[i]);
        if (!err)
            err = showfile__separator(reader);
    }
    if (!err && !showfile__is_symbol(reader, '}'))
        err = unexpected_value(reader, key);
    return err ? err : showfile__close(reader);
}

static int read_airs(struct reader *reader, const struct key *key, unsigned *airs)
{
    const struct key one = { key->name, VALUE_AIR, 0, 0, 0, 0, 0, NULL };
    int err = open_list(reader, key);
    *airs = 0;
    while (!err && !showfile__is_symbol(reader, '}')) {
        unsigned air;
        err = read_word(reader, &one, &air);
        if (!err) {
            *airs |= AIR_BIT(air);
            err = showfile__separator(reader);
        }
    }
    return err ? err : showfile__close(reader);
}

/* Before the entry at the token is read: is there room for it? `base` is where the list began on the stack. */
static int count_entry(struct reader *reader, size_t base, size_t size, uint32_t limit)
{
    if ((reader->stack.used - base) / size >= limit)
        return showfile__read_fail(reader, reader->lexer.token.start,
                                   "found more than %u entries, expected at most that many", limit);
    return showfile__count_item(reader);
}

static int read_words(struct reader *reader, const struct key *key, void *into)
{
    size_t base = reader->stack.used;
    int err = open_list(reader, key);
    while (!err && !showfile__is_symbol(reader, '}')) {
        const char *word;
        err = count_entry(reader, base, sizeof word, SHOWFILE_LIST);
        if (!err && reader->lexer.token.kind != TOKEN_TEXT)
            err = showfile__unexpected(reader, "a text");
        if (!err)
            err = showfile__read_text(reader, VALUE_TEXT, &word);
        if (!err)
            err = showfile__next(&reader->lexer);
        if (!err)
            err = showfile__push(reader, &word, sizeof word);
        if (!err)
            err = showfile__separator(reader);
    }
    if (!err)
        err = showfile__pop(reader, base, sizeof(char *), showfile__at(into, key->offset), showfile__at(into, key->count));
    return err ? err : showfile__close(reader);
}

/* ---- slots ---- */

#define SLOT_EXPECTED "a parameter name of 1 to 32 of a-z 0-9 _ -, perhaps with +fine"

static int read_param(struct reader *reader, struct slot *slot)
{
    const struct token *token = &reader->lexer.token;
    size_t length = token->kind == TOKEN_TEXT ? token->length : 0;
    slot->fine = length > 5 && memcmp(token->text + length - 5, "+fine", 5) == 0;
    if (slot->fine)
        length -= 5;
    bool good = length >= 1 && length <= 32;
    for (size_t i = 0; good && i < length; i++) {
        char c = token->text[i];
        good = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
    }
    if (!good)
        return showfile__unexpected(reader, SLOT_EXPECTED);
    uint32_t param = show_param(reader->show, token->text, length);
    if (param == SHOW_UNKNOWN && reader->show->param_count >= UINT16_MAX - 1)
        return showfile__read_fail(reader, token->start,
                                   "found more than %u parameter names in one show, expected at most that many",
                                   reader->show->param_count);
    if (param == SHOW_UNKNOWN)
        return showfile__read_nomem(reader);
    slot->param = (uint16_t)param;
    return showfile__next(&reader->lexer);
}

static int read_slot_default(struct reader *reader, struct slot *slot)
{
    const struct key level = { "default", VALUE_NUMBER, 0, 0, 0, 0, 100, NULL };
    const struct token *token = &reader->lexer.token;
    if (token->kind != TOKEN_NAME || token->length != 7 || memcmp(token->text, "default", 7) != 0)
        return showfile__unexpected(reader, "default = per cent, or \"}\"");
    if (slot->fine)
        return showfile__read_fail(reader, token->start, "found a default for a fine slot, expected it on the coarse one");
    int err = showfile__next(&reader->lexer);
    if (!err)
        err = showfile__take(reader, '=', "\"=\" after the key");
    if (!err)
        err = read_number(reader, &level, &slot->default_percent);
    return err ? err : showfile__separator(reader);
}

/* "red", or { "strobe", default = 0 } */
static int read_slot(struct reader *reader, struct slot *slot)
{
    *slot = (struct slot){ 0, false, NAN };
    if (!showfile__is_symbol(reader, '{'))
        return read_param(reader, slot);
    int err = showfile__open(reader, "a table");
    if (!err)
        err = read_param(reader, slot);
    if (!err)
        err = showfile__separator(reader);
    if (!err && !showfile__is_symbol(reader, '}'))
        err = read_slot_default(reader, slot);
    if (!err && !showfile__is_symbol(reader, '}'))
        err = showfile__unexpected(reader, "\"}\"");
    return err ? err : showfile__close(reader);
}

static int read_slots(struct reader *reader, const struct key *key, void *into)
{
    size_t base = reader->stack.used;
    int err = open_list(reader, key);
    while (!err && !showfile__is_symbol(reader, '}')) {
        struct slot slot;
        err = count_entry(reader, base, sizeof slot, SHOWFILE_LIST);
        if (!err)
            err = read_slot(reader, &slot);
        if (!err)
            err = showfile__push(reader, &slot, sizeof slot);
        if (!err)
            err = showfile__separator(reader);
    }
    if (!err)
        err = showfile__pop(reader, base, sizeof(struct slot), showfile__at(into, key->offset),
                            showfile__at(into, key->count));
    return err ? err : showfile__close(reader);
}

/* ---- lists of objects ---- */

/* One object that lives inside another. */
union part { struct mode mode; struct lane lane; struct band band; };

static int read_part(struct reader *reader, const struct object *object)
{
    union part part;
    memset(&part, 0, sizeof part);
    showfile__clear(object, &part);
    int err = showfile__read_object(reader, object, &part);
    return err ? err : showfile__push(reader, &part, object->size);
}

static int read_entry(struct reader *reader, const struct object *object)
{
    char expected[EXPECTED];
    if (reader->objects++ >= SHOWFILE_OBJECTS)
        return showfile__read_fail(reader, reader->lexer.token.start,
                                   "found more than %u objects in one show, expected at most that many", SHOWFILE_OBJECTS);
    if (!showfile__is_symbol(reader, '{')) {
        snprintf(expected, sizeof expected, "the table of a %s", object->name);
        return showfile__unexpected(reader, expected);
    }
    reader->frame->key = NULL;       /* the entry's own name says enough */
    if (!object->add)
        return read_part(reader, object);
    void *into = object->add(reader->show);
    if (!into)
        return showfile__read_nomem(reader);
    showfile__clear(object, into);
    return showfile__read_object(reader, object, into);
}

static int read_objects(struct reader *reader, const struct key *key, void *into)
{
    size_t base = reader->stack.used;
    const char *name = reader->frame->key;
    int err = open_list(reader, key);
    while (!err && !showfile__is_symbol(reader, '}')) {
        if (!key->of->add && (reader->stack.used - base) / key->of->size >= key->of->limit)
            return showfile__read_fail(reader, reader->lexer.token.start,
                                       "found more than %u entries, expected at most that many", key->of->limit);
        err = read_entry(reader, key->of);
        reader->frame->key = name;
        if (!err)
            err = showfile__separator(reader);
    }
    if (!err && !key->of->add)
        err = showfile__pop(reader, base, key->of->size, showfile__at(into, key->offset), showfile__at(into, key->count));
    return err ? err : showfile__close(reader);
}

static int read_object(struct reader *reader, const struct key *key, void *into)
{
    reader->frame->key = NULL;
    if (!showfile__is_symbol(reader, '{')) {
        reader->frame->key = key->name;
        return unexpected_value(reader, key);
    }
    if (key->count)
        *(bool *)showfile__at(into, key->count) = true;
    return showfile__read_object(reader, key->of, into);
}

int showfile__read_value(struct reader *reader, const struct key *key, void *into)
{
    void *at = showfile__at(into, key->offset);
    double number;
    switch (key->kind) {
    case VALUE_FORMAT:   return read_number(reader, key, &number);
    case VALUE_ID: case VALUE_TEXT: case VALUE_LINES:
        return read_text(reader, key, at);
    case VALUE_INTEGER:  return read_integer(reader, key, at);
    case VALUE_NUMBER:   return read_number(reader, key, at);
    case VALUE_FLAG:     return read_flag(reader, key, at);
    case VALUE_POSITION: return read_position(reader, key, at);
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT:
        return read_word(reader, key, at);
    case VALUE_AIRS:     return read_airs(reader, key, at);
    case VALUE_WORDS:    return read_words(reader, key, into);
    case VALUE_SLOTS:    return read_slots(reader, key, into);
    case VALUE_OBJECT:   return read_object(reader, key, into);
    case VALUE_OBJECTS:  return read_objects(reader, key, into);
    }
    return 0;
}
