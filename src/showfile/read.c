/* Reads a show file: tables of keys, guided by the table of keys. Nothing is executed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "read_internal.h"

/* ---- messages ---- */

static size_t add_place(const struct frame *frame, char *buffer, size_t size)
{
    size_t used = frame->up ? add_place(frame->up, buffer, size) : 0;
    if (used >= size || frame->object == &showfile__show)
        return used;
    const struct key *first = &frame->object->keys[0];
    const void *id = showfile__at(frame->into, first->offset);
    int more = snprintf(buffer + used, size - used, "%s", frame->object->name);
    if ((frame->seen & 1) && first->kind == VALUE_ID && *(const char *const *)id)
        more += snprintf(buffer + used + more, size - used - (size_t)more, " %s", *(const char *const *)id);
    else if ((frame->seen & 1) && first->kind == VALUE_INTEGER && *(const int64_t *)id != SHOW_NONE)
        more += snprintf(buffer + used + more, size - used - (size_t)more, " %lld", (long long)*(const int64_t *)id);
    more += snprintf(buffer + used + more, size - used - (size_t)more, ": ");
    return used + (size_t)more;
}

int showfile__read_fail(struct reader *reader, const char *at, const char *format, ...)
{
    char place[400] = "";            /* at most three frames of an id of 32 octets each */
    size_t used = reader->frame ? add_place(reader->frame, place, sizeof place) : 0;
    if (reader->frame && reader->frame->key)
        snprintf(place + used, sizeof place - used, "%.40s: ", reader->frame->key);
    va_list args;
    va_start(args, format);
    int err = showfile__vfail(&reader->lexer, at, place, format, args);
    va_end(args);
    return err;
}

int showfile__unexpected(struct reader *reader, const char *expected)
{
    char found[200];
    return showfile__read_fail(reader, reader->lexer.token.start, "found %s, expected %s",
                               showfile__found(&reader->lexer, found), expected);
}

int showfile__read_nomem(struct reader *reader)
{
    return rig_fail(reader->lexer.why, RIG_ENOMEM, "%s: out of memory", reader->lexer.name);
}

int showfile__count_item(struct reader *reader)
{
    if (reader->items++ < SHOWFILE_ITEMS)
        return 0;
    return showfile__read_fail(reader, reader->lexer.token.start,
                               "found more than %u tables and list entries, expected at most that many", SHOWFILE_ITEMS);
}

/* ---- tables ---- */

int showfile__take(struct reader *reader, char symbol, const char *expected)
{
    if (!showfile__is_symbol(reader, symbol))
        return showfile__unexpected(reader, expected);
    return showfile__next(&reader->lexer);
}

int showfile__open(struct reader *reader, const char *expected)
{
    const char *start = reader->lexer.token.start;
    int err = showfile__count_item(reader);
    if (!err)
        err = showfile__take(reader, '{', expected);
    if (!err && ++reader->depth > SHOWFILE_DEPTH)
        err = showfile__read_fail(reader, start, "found tables nested more than %d deep, expected at most that many",
                                  SHOWFILE_DEPTH);
    return err;
}

int showfile__separator(struct reader *reader)
{
    if (showfile__is_symbol(reader, ',') || showfile__is_symbol(reader, ';'))
        return showfile__next(&reader->lexer);
    return showfile__is_symbol(reader, '}') ? 0 : showfile__unexpected(reader, "\",\" or \"}\"");
}

int showfile__close(struct reader *reader)
{
    reader->depth--;
    return showfile__next(&reader->lexer);
}

int showfile__push(struct reader *reader, const void *entry, size_t size)
{
    if (reader->stack.room - reader->stack.used < size) {
        size_t room = reader->stack.room ? reader->stack.room * 2 : 4096;
        char *bytes = realloc(reader->stack.bytes, room);
        if (!bytes)
            return showfile__read_nomem(reader);
        reader->stack.bytes = bytes;
        reader->stack.room = room;
    }
    memcpy(reader->stack.bytes + reader->stack.used, entry, size);
    reader->stack.used += size;
    return 0;
}

int showfile__pop(struct reader *reader, size_t base, size_t size, void *list, uint32_t *count)
{
    size_t octets = reader->stack.used - base;
    void *kept = NULL;
    if (octets) {
        kept = show_alloc(reader->show, octets);
        if (!kept)
            return showfile__read_nomem(reader);
        memcpy(kept, reader->stack.bytes + base, octets);
    }
    reader->stack.used = base;
    memcpy(list, &kept, sizeof kept);                    /* list points to a pointer of some type */
    *count = (uint32_t)(octets / size);
    return 0;
}

/* ---- objects ---- */

static int repeated(struct reader *reader, const char *at, const char *name)
{
    reader->frame->key = NULL;
    return showfile__read_fail(reader, at, "found key \"%.64s\" again, expected each key once", name);
}

static bool is_extra(const struct token *key)
{
    return key->length > 2 && memcmp(key->text, "x_", 2) == 0 && showfile__is_name(key->text, key->length);
}

static int unknown(struct reader *reader, const char *start, const struct token *key)
{
    char found[200];
    const struct object *object = reader->frame->object;
    showfile__show_text(key->text, key->length, found);
    if (is_extra(key))
        return showfile__read_fail(reader, start, "found key %s, expected x_ keys only in objects that keep them", found);
    return showfile__read_fail(reader, start, "found unknown key %s, expected a known one (nearest: \"%s\")", found,
                               showfile__nearest(object, key->text, key->length));
}

static int read_extra_key(struct reader *reader, const char *start, uint32_t table)
{
    struct extra extra;
    int err = showfile__count_item(reader);
    if (!err)
        err = showfile__read_text(reader, VALUE_TEXT, &extra.key);
    if (err)
        return err;
    int again = showfile__see(&reader->seen, table, extra.key);
    if (again)
        return again > 0 ? repeated(reader, start, extra.key) : showfile__read_nomem(reader);
    reader->frame->key = extra.key;
    return showfile__push(reader, &extra, sizeof extra);
}

/* A key: `name` or `["name"]`. What it says is looked up before the next token is read, which may reuse the text's memory.
 * @param index  of the key, or object->count when an x_ key was pushed */
static int read_key(struct reader *reader, const struct object *object, unsigned *index, uint32_t table)
{
    struct lexer *lexer = &reader->lexer;
    const char *start = lexer->token.start;
    bool bracket = showfile__is_symbol(reader, '[');
    int err = bracket ? showfile__next(lexer) : 0;
    if (err)
        return err;
    if (lexer->token.kind != (bracket ? TOKEN_TEXT : TOKEN_NAME))
        return showfile__unexpected(reader, bracket ? "a key as text" : "a key or \"}\"");
    *index = showfile__key(object, lexer->token.text, lexer->token.length, *index);
    if (*index < object->count) {
        const char *name = object->keys[*index].name;
        if (reader->frame->seen & 1u << *index)
            return repeated(reader, start, name);
        reader->frame->key = name;
    } else if (!object->extras || !is_extra(&lexer->token)) {
        return unknown(reader, start, &lexer->token);
    } else if ((err = read_extra_key(reader, start, table)) != 0) {
        return err;
    }
    err = showfile__next(lexer);
    if (!err && bracket)
        err = showfile__take(reader, ']', "\"]\" after the key");
    return err ? err : showfile__take(reader, '=', "\"=\" after the key");
}

/* The value of the x_ key on top of the stack. */
static int read_extra_value(struct reader *reader)
{
    const char *text;
    size_t top = reader->stack.used - sizeof(struct extra);
    int err = showfile__read_extra(reader, &text);
    if (!err)
        ((struct extra *)(void *)(reader->stack.bytes + top))->value = text;
    return err;
}

static int missing(struct reader *reader, const struct object *object, const char *start)
{
    for (unsigned i = 0; i < object->count; i++)
        if ((object->keys[i].flags & KEY_REQUIRED) && !(reader->frame->seen & 1u << i))
            return showfile__read_fail(reader, start, "found no key \"%s\", expected it in every %s", object->keys[i].name,
                                       object->name);
    return 0;
}

/* What concerns more than one key of an object. */
static int complete(struct reader *reader, const struct object *object, void *into, const char *start)
{
    int err = missing(reader, object, start);
    if (err)
        return err;
    if (object == &showfile__quiet || object == &showfile__keep_out) {
        const struct band *band = into;
        char from[40], to[40];
        number_format(band->from_mhz, from);
        number_format(band->to_mhz, to);
        if (band->from_mhz > band->to_mhz)
            return showfile__read_fail(reader, start, "found from %s above to %s, expected from at most to", from, to);
    } else if (object == &showfile__mode) {
        struct mode *mode = into;
        if (mode->cells == SHOW_NONE)
            mode->cells = mode->slot_count ? 1 : 0;
    }
    return 0;
}

static int read_keys(struct reader *reader, const struct object *object, void *into)
{
    struct frame *frame = reader->frame;
    unsigned index = 0;
    uint32_t table = ++reader->tables;
    int err = showfile__open(reader, "a table");
    while (!err && !showfile__is_symbol(reader, '}')) {
        err = read_key(reader, object, &index, table);
        if (err)
            break;
        if (index < object->count) {
            err = showfile__read_value(reader, &object->keys[index], into);
            frame->seen |= 1u << index++;
        } else {
            err = read_extra_value(reader);
        }
        frame->key = NULL;
        if (!err)
            err = showfile__separator(reader);
    }
    return err;
}

int showfile__read_object(struct reader *reader, const struct object *object, void *into)
{
    struct frame frame = { reader->frame, object, into, NULL, 0 };
    const char *start = reader->lexer.token.start;
    size_t base = reader->stack.used;
    reader->frame = &frame;
    int err = read_keys(reader, object, into);
    if (!err && object->extras) {
        struct extras *extras = showfile__at(into, object->extras);
        err = showfile__pop(reader, base, sizeof(struct extra), &extras->items, &extras->count);
    }
    if (!err)
        err = complete(reader, object, into, start);
    reader->frame = (struct frame *)frame.up;
    return err ? err : showfile__close(reader);
}

/* ---- the file ---- */

static int read_file(struct reader *reader)
{
    struct lexer *lexer = &reader->lexer;
    showfile__skip_mark(lexer);
    int err = showfile__next(lexer);
    if (err)
        return err;
    if (lexer->token.kind != TOKEN_NAME || lexer->token.length != 6 || memcmp(lexer->token.text, "return", 6) != 0)
        return showfile__unexpected(reader, "\"return\" and a table");
    err = showfile__next(lexer);
    if (!err && !showfile__is_symbol(reader, '{'))
        return showfile__unexpected(reader, "a table");
    if (!err)
        err = showfile__read_object(reader, &showfile__show, reader->show);
    if (!err && showfile__is_symbol(reader, ';'))
        err = showfile__next(lexer);
    if (!err && lexer->token.kind != TOKEN_END)
        err = showfile__unexpected(reader, "the end of the file");
    return err;
}

int showfile_parse(const char *name, const char *text, size_t length, struct show **out, struct rig_why *why)
{
    struct reader reader = { .lexer = { .name = name, .text = text, .at = text, .end = text + length, .why = why } };
    int err;
    *out = NULL;
    if (length > SHOWFILE_BYTES)
        return rig_fail(why, RIG_EINPUT, "%s: found %zu octets, expected at most %u", name, length, SHOWFILE_BYTES);
    reader.show = show_new();
    err = reader.show ? read_file(&reader) : showfile__read_nomem(&reader);
    free(reader.lexer.scratch);
    free(reader.stack.bytes);
    free(reader.text.bytes);
    free(reader.seen.cells);
    if (!err && show_index(reader.show) != 0)
        err = showfile__read_nomem(&reader);
    if (err) {
        show_free(reader.show);
        return err;
    }
    *out = reader.show;
    return 0;
}
