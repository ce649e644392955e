/* Reads fixtures or transmitters from CSV into a copy of a show. Every row is judged; the copy is given out only when all
 * are good. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csv_internal.h"

/* ---- objects ---- */

static uint32_t object_count(const struct csv_import *import, const struct show *show)
{
    return import->kind == CSV_FIXTURES ? show->fixture_count : show->transmitter_count;
}

static void *object_at(const struct csv_import *import, uint32_t index)
{
    return import->kind == CSV_FIXTURES ? (void *)&import->show->fixtures[index] : (void *)&import->show->transmitters[index];
}

/* The object with the id that `item` has, in the show before the import. */
static uint32_t find(const struct csv_import *import, const void *item)
{
    if (import->kind == CSV_FIXTURES)
        return show_find_fixture(import->before, ((const struct fixture *)item)->id);
    return show_find_transmitter(import->before, ((const struct transmitter *)item)->id);
}

static int find_repeated(struct csv_import *import)
{
    uint32_t count = object_count(import, import->show);
    import->repeated = calloc(count + 1u, sizeof *import->repeated);
    if (!import->repeated)
        return showfile__csv_nomem(import);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t first = find(import, object_at(import, i));
        if (first != i && first != SHOW_UNKNOWN)
            import->repeated[first] = true;
    }
    return 0;
}

static struct csv_change *add_change(struct csv_import *import)
{
    struct csv_report *report = import->report;
    if (report->change_count == import->change_room) {
        size_t room = import->change_room ? import->change_room * 2 : 64;
        struct csv_change *changes = reallocarray(report->changes, room, sizeof *changes);
        if (!changes)
            return NULL;
        report->changes = changes;
        import->change_room = room;
    }
    report->changes[report->change_count] = (struct csv_change){ CSV_SAME, 0, "" };
    return &report->changes[report->change_count++];
}

/* ---- rows ---- */

static void add_shown(struct buffer *out, const struct key *key, const struct buffer *text)
{
    char shown[200];
    bool quote = key->kind == VALUE_TEXT || key->kind == VALUE_LINES || key->kind >= VALUE_AIRS;
    if (!text->length)
        showfile__add_text(out, "nothing");
    else if (quote)
        showfile__add_text(out, showfile__show_text(text->bytes, text->length, shown));
    else
        showfile__add(out, text->bytes, text->length);
}

static bool same(const struct buffer *a, const char *bytes, size_t length)
{
    return a->length == length && (length == 0 || memcmp(a->bytes, bytes, length) == 0);
}

/* Take one cell into the object. What a cell says already stays as it is, also where CSV cannot say all of it. */
static int take_cell(struct csv_import *import, size_t i, void *into, const char *id, bool added)
{
    const struct csv_column *column = &import->columns[i];
    const struct csv_field *field = &import->csv.fields[i];
    char expected[128], name[64];
    int err = 0;
    import->old_text.length = import->new_text.length = 0;
    if (!added)
        showfile__csv_cell(&import->old_text, column, into);
    if (same(&import->old_text, field->text, field->length) && !(added && (column->key->flags & KEY_REQUIRED)))
        return 0;
    if (field->length) {
        err = showfile__csv_set(import->show, column, into, field->text, field->length, expected);
    } else if (column->key->flags & KEY_REQUIRED) {
        snprintf(expected, sizeof expected, "it in every %s", import->object->name);
        err = RIG_EINPUT;
    } else {
        showfile__csv_unset(column, into);
    }
    if (err)
        return err == RIG_ENOMEM ? showfile__csv_nomem(import) : showfile__csv_bad_cell(import, i, id, expected);
    if (added)
        return 0;
    showfile__csv_cell(&import->new_text, column, into);
    if (import->old_text.failed || import->new_text.failed)
        return showfile__csv_nomem(import);
    if (same(&import->old_text, import->new_text.bytes, import->new_text.length))
        return 0;
    showfile__add_text(&import->fields, import->fields.length ? ", " : "");
    showfile__add_text(&import->fields, showfile__csv_name(column, name));
    showfile__add_text(&import->fields, " ");
    add_shown(&import->fields, column->key, &import->old_text);
    showfile__add_text(&import->fields, " -> ");
    add_shown(&import->fields, column->key, &import->new_text);
    return import->fields.failed ? showfile__csv_nomem(import) : 0;
}

/* After all cells: a position is whole or not there, and a new object has what every one needs. */
static int check_object(struct csv_import *import, const void *item, const char *id, bool added)
{
    const struct csv_field *first = &import->csv.fields[0];
    const struct key *keys = import->object->keys;
    for (unsigned k = 0; k < import->object->count; k++) {
        const void *at = showfile__at(item, keys[k].offset);
        bool there = false;
        for (size_t c = 0; c < import->column_count; c++)
            there |= import->columns[c].key == &keys[k];
        if (added && (keys[k].flags & KEY_REQUIRED) && !there)
            return showfile__csv_bad(import, first->line, first->column,
                                     "%s %.32s: found no column \"%s\", expected it for a new %s", import->object->name, id,
                                     keys[k].name, import->object->name);
        if (keys[k].kind != VALUE_POSITION)
            continue;
        const struct position *position = at;
        int given = !isnan(position->x_m) + !isnan(position->y_m) + !isnan(position->z_m);
        if (given != 0 && given != 3)
            return showfile__csv_bad(
                import, first->line, first->column,
                "%s %.32s: found only a part of a position, expected %s_x, %s_y and %s_z or none of them",
                import->object->name, id, keys[k].name, keys[k].name, keys[k].name);
    }
    return 0;
}

/* Read the id of a row into an object of its own, so that the show is not touched before it is known. */
static int read_id(struct csv_import *import, void *item, char id[200])
{
    const struct csv_column *column = &import->columns[import->id_column];
    const struct csv_field *field = &import->csv.fields[import->id_column];
    char expected[128];
    showfile__show_text(field->text, field->length, id);
    int err = showfile__csv_set(import->show, column, item, field->text, field->length, expected);
    if (err == RIG_EINPUT)
        return showfile__csv_bad(import, field->line, field->column, "id: found %s, expected %s",
                                 field->length ? id : "nothing", expected);
    import->new_text.length = 0;
    showfile__csv_cell(&import->new_text, column, item);
    const char *text =
        err || import->new_text.failed ? NULL : show_text(import->show, import->new_text.bytes, import->new_text.length);
    int again = text ? showfile__see(&import->seen, 0, text) : RIG_ENOMEM;
    if (again < 0)
        return showfile__csv_nomem(import);
    snprintf(id, 200, "%s", text);
    if (again)
        return showfile__csv_bad(import, field->line, field->column, "%s %s: found a second row for it, expected one",
                                 import->object->name, id);
    return 0;
}

static int find_or_add(struct csv_import *import, const void *item, const char *id, uint32_t *index, bool *added)
{
    const struct csv_field *field = &import->csv.fields[import->id_column];
    *index = find(import, item);
    *added = *index == SHOW_UNKNOWN;
    if (!*added && import->repeated[*index])
        return showfile__csv_bad(import, field->line, field->column,
                                 "%s %s: found its id more than once in the show, expected it once", import->object->name,
                                 id);
    if (!*added)
        return 0;
    *index = object_count(import, import->show);
    if (*index >= SHOWFILE_OBJECTS)
        return showfile__csv_bad(import, field->line, field->column,
                                 "found more than %u objects, expected at most that many", SHOWFILE_OBJECTS);
    void *fresh = import->object->add(import->show);
    if (!fresh)
        return showfile__csv_nomem(import);
    showfile__clear(import->object, fresh);
    return 0;
}

static int take_row(struct csv_import *import)
{
    union { struct fixture fixture; struct transmitter transmitter; } only_id;
    char id[200];
    uint32_t index;
    bool added;
    memset(&only_id, 0, sizeof only_id);
    int err = read_id(import, &only_id, id);
    if (!err)
        err = find_or_add(import, &only_id, id, &index, &added);
    import->fields.length = 0;
    for (size_t i = 0; !err && i < import->column_count; i++)
        err = take_cell(import, i, object_at(import, index), id, added);
    if (!err)
        err = check_object(import, object_at(import, index), id, added);
    if (err)
        return err;
    struct csv_change *change = add_change(import);
    if (!change)
        return showfile__csv_nomem(import);
    *change = (struct csv_change){ added ? CSV_ADDED : CSV_SAME, index, "" };
    if (added || !import->fields.length)
        return 0;
    char *fields = strndup(import->fields.bytes, import->fields.length);
    if (!fields)
        return showfile__csv_nomem(import);
    *change = (struct csv_change){ CSV_CHANGED, index, fields };     /* now the report owns the text */
    return 0;
}

/* Rows without any value hold nothing: spreadsheets leave such behind. */
static bool is_blank(const struct csv_reader *csv)
{
    for (size_t i = 0; i < csv->count && i < CSV_COLUMNS; i++)
        if (csv->fields[i].length)
            return false;
    return csv->count <= CSV_COLUMNS;
}

static int check_record(struct csv_import *import)
{
    const struct csv_reader *csv = &import->csv;
    if (csv->wrong)
        return showfile__csv_bad(import, csv->wrong_line, csv->wrong_column, "%s", csv->wrong);
    if (csv->count != import->column_count)
        return showfile__csv_bad(import, csv->fields[0].line, csv->fields[0].column,
                                 "found %zu fields, expected %zu as in the header", csv->count, import->column_count);
    for (size_t i = 0; i < csv->count; i++) {
        const struct csv_field *field = &csv->fields[i];
        size_t good = utf8_check(field->text, field->length);
        if (field->length > SHOWFILE_TEXT)
            return showfile__csv_bad(import, field->line, field->column, "found a field of %zu octets, expected at most %u",
                                     field->length, SHOWFILE_TEXT);
        if (good != field->length)
            return showfile__csv_bad(import, field->line, field->column, "octet 0x%02x in a field, expected UTF-8",
                                     (unsigned char)field->text[good]);
    }
    return 0;
}

/* A copy by way of its text: nothing can be forgotten that the file format knows. */
static int copy_show(struct csv_import *import)
{
    char *text;
    size_t length;
    int err = showfile_format(import->before, &text, &length, import->why);
    if (err)
        return err;
    err = showfile_parse("show", text, length, &import->show, import->why);
    free(text);
    return err;
}

static int import_rows(struct csv_import *import)
{
    int err = showfile__csv_header(import);
    if (!err)
        err = copy_show(import);
    if (!err)
        err = find_repeated(import);
    if (err)
        return err;
    for (uint32_t rows = 0; showfile__csv_record(&import->csv);) {
        if (!import->csv.wrong && is_blank(&import->csv))
            continue;
        if (rows++ == SHOWFILE_OBJECTS)
            return showfile__csv_bad(import, import->csv.fields[0].line, 1,
                                     "found more than %u rows, expected at most that many", SHOWFILE_OBJECTS);
        int one = check_record(import);
        if (!one)
            one = take_row(import);
        if (one == RIG_ENOMEM)
            return one;
        err = one ? one : err;
    }
    if (!err && show_index(import->show) != 0)
        err = showfile__csv_nomem(import);
    return err;
}

int showfile__csv_import(const struct show *show, enum csv_kind kind, const char *name, char *text, size_t length,
                         struct show **out, struct csv_report *report, struct rig_why *why)
{
    struct csv_import *import = calloc(1, sizeof *import);
    *out = NULL;
    *report = (struct csv_report){ 0 };
    if (!import)
        return rig_fail(why, RIG_ENOMEM, "%s: out of memory", name);
    if (length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        text += 3;                   /* columns count from behind the mark */
        length -= 3;
    }
    import->name = name;
    import->before = show;
    import->kind = kind;
    import->object = kind == CSV_FIXTURES ? &showfile__fixture : &showfile__transmitter;
    import->csv.at = import->csv.line_start = text;
    import->csv.end = text + length;
    import->csv.line = 1;
    import->report = report;
    import->why = why;
    int err = import_rows(import);
    if (err)
        show_free(import->show);
    else
        *out = import->show;
    free(import->repeated);
    free(import->seen.cells);
    free(import->old_text.bytes);
    free(import->new_text.bytes);
    free(import->fields.bytes);
    free(import);
    return err;
}

int csv_import(const struct show *show, enum csv_kind kind, const char *path, struct show **out, struct csv_report *report,
               struct rig_why *why)
{
    char *text;
    size_t length;
    *out = NULL;
    *report = (struct csv_report){ 0 };
    int err = showfile_read(path, CSV_BYTES, &text, &length, why);
    if (err)
        return err;
    err = showfile__csv_import(show, kind, path, text, length, out, report, why);
    free(text);
    return err;
}

void csv_report_free(struct csv_report *report)
{
    for (size_t i = 0; i < report->change_count; i++)
        if (report->changes[i].kind == CSV_CHANGED)
            free((char *)report->changes[i].fields);
    for (size_t i = 0; i < report->error_count; i++)
        free(report->errors[i].text);
    free(report->changes);
    free(report->errors);
    *report = (struct csv_report){ 0 };
}
