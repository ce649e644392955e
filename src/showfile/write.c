/* Writes a show as canonical text: one object per line, keys in the order of the table of keys, absent values left out. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "showfile_internal.h"

struct writer { struct buffer out; const struct show *show; };

static void add_object(struct writer *writer, const struct object *object, const void *from);

static void add(struct writer *writer, const char *text)
{
    showfile__add_text(&writer->out, text);
}

static void add_text(struct writer *writer, const char *text)
{
    showfile__add_quoted(&writer->out, text, strlen(text));
}

static void add_airs(struct writer *writer, unsigned airs)
{
    const char *before = "{ ";
    for (unsigned air = AIR_SINGLE; air <= AIR_DUAL; air++) {
        if (!(airs & AIR_BIT(air)))
            continue;
        add(writer, before);
        add_text(writer, air_name((enum air)air));
        before = ", ";
    }
    add(writer, *before == ',' ? " }" : "{}");
}

static void add_position(struct writer *writer, const struct position *position)
{
    const double axes[] = { position->x_m, position->y_m, position->z_m };
    for (int i = 0; i < 3; i++) {
        add(writer, i ? ", " : "{ ");
        showfile__add_number(&writer->out, axes[i]);
    }
    add(writer, " }");
}

static void add_words(struct writer *writer, const char *const *words, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        add(writer, i ? ", " : "{ ");
        add_text(writer, words[i]);
    }
    add(writer, count ? " }" : "{}");
}

static void add_slots(struct writer *writer, const struct slot *slots, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        const struct slot *slot = &slots[i];
        bool table = !isnan(slot->default_percent);
        add(writer, i ? ", " : "{ ");
        add(writer, table ? "{ \"" : "\"");
        add(writer, writer->show->params[slot->param]);
        add(writer, slot->fine ? "+fine\"" : "\"");
        if (table) {
            add(writer, ", default = ");
            showfile__add_number(&writer->out, slot->default_percent);
            add(writer, " }");
        }
    }
    add(writer, count ? " }" : "{}");
}

/* Objects of the show stand on lines of their own, and so do the modes of a type; lanes and bands stay on the line. */
static void add_objects(struct writer *writer, const struct object *object, const char *items, uint32_t count)
{
    bool modes = object == &showfile__mode, lines = modes || object->add;
    for (uint32_t i = 0; i < count; i++) {
        if (lines)
            add(writer, i ? modes ? ",\n        " : ",\n    " : modes ? "{\n        " : "{\n    ");
        else
            add(writer, i ? ", " : "{ ");
        add_object(writer, object, items + (size_t)i * object->size);
    }
    add(writer, !count ? "{}" : !lines ? " }" : modes ? ",\n      }" : ",\n  }");
}

static void add_value(struct writer *writer, const struct key *key, const void *from)
{
    const void *at = showfile__at(from, key->offset);
    const void *list = key->kind >= VALUE_WORDS && key->kind != VALUE_OBJECT ? *(void *const *)at : NULL;
    uint32_t count = list ? *(const uint32_t *)showfile__at(from, key->count) : 0;
    switch (key->kind) {
    case VALUE_FORMAT:   add(writer, "1"); break;
    case VALUE_ID: case VALUE_TEXT: case VALUE_LINES:
        add_text(writer, *(const char *const *)at);
        break;
    case VALUE_INTEGER:  showfile__add_number(&writer->out, (double)*(const int64_t *)at); break;
    case VALUE_NUMBER:   showfile__add_number(&writer->out, *(const double *)at); break;
    case VALUE_FLAG:     add(writer, *(const bool *)at ? "true" : "false"); break;
    case VALUE_POSITION: add_position(writer, at); break;
    case VALUE_AIR: case VALUE_HAZARD: case VALUE_INPUT:
        add_text(writer, showfile__word(key->kind, *(const unsigned *)at));
        break;
    case VALUE_AIRS:     add_airs(writer, *(const unsigned *)at); break;
    case VALUE_WORDS:    add_words(writer, list, count); break;
    case VALUE_SLOTS:    add_slots(writer, list, count); break;
    case VALUE_OBJECT:   add_object(writer, key->of, from); break;
    case VALUE_OBJECTS:  add_objects(writer, key->of, list, count); break;
    }
}

/* What comes before a key: the show's lists and x_ keys and the modes of a type begin a line. */
static const char *before(const struct object *object, const struct key *key, bool first)
{
    bool show = object == &showfile__show;
    if (first)
        return show ? "\n  " : " ";
    if (show && (!key || key->kind == VALUE_OBJECTS))
        return ",\n  ";
    return key && key->of == &showfile__mode ? ",\n      " : ", ";
}

static void add_object(struct writer *writer, const struct object *object, const void *from)
{
    bool first = true;
    add(writer, "{");
    for (unsigned i = 0; i < object->count; i++) {
        const struct key *key = &object->keys[i];
        if (!showfile__given(key, from))
            continue;
        add(writer, before(object, key, first));
        add(writer, key->name);
        add(writer, " = ");
        add_value(writer, key, from);
        first = false;
    }
    const struct extras *extras = object->extras ? showfile__at(from, object->extras) : NULL;
    for (uint32_t i = 0; extras && i < extras->count; i++) {
        add(writer, before(object, NULL, first));
        add(writer, extras->items[i].key);
        add(writer, " = ");
        add(writer, extras->items[i].value);
        first = false;
    }
    add(writer, first ? "}" : object == &showfile__show ? ",\n}" : " }");
}

int showfile_format(const struct show *show, char **out, size_t *length, struct rig_why *why)
{
    struct writer writer = { { 0 }, show };
    add(&writer, "return ");
    add_object(&writer, &showfile__show, show);
    add(&writer, "\n");
    if (!writer.out.failed && writer.out.length > SHOWFILE_BYTES) {
        free(writer.out.bytes);      /* escapes can make a text longer than it was read */
        *out = NULL;
        *length = 0;
        return rig_fail(why, RIG_EINPUT, "found a show of %zu octets, expected at most %u, which is what can be read",
                        writer.out.length, SHOWFILE_BYTES);
    }
    return showfile__buffer_take(&writer.out, out, length, why);
}

int showfile_save(const struct show *show, const char *path, struct rig_why *why)
{
    char *text;
    size_t length;
    int err = showfile_format(show, &text, &length, why);
    if (err)
        return err;
    err = showfile_replace(path, text, length, true, why);
    free(text);
    return err;
}
