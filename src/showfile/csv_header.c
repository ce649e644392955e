/* What a CSV import says is wrong, and its header of column names. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csv_internal.h"
#include "rigcall/nearest.h"

/* ---- messages ---- */

int showfile__csv_nomem(struct csv_import *import)
{
    return rig_fail(import->why, RIG_ENOMEM, "%s: out of memory", import->name);
}

int showfile__csv_bad(struct csv_import *import, unsigned long line, unsigned long column, const char *format, ...)
{
    struct csv_report *report = import->report;
    struct rig_why why;
    char sentence[600], name[320];
    if (report->error_count == CSV_ERRORS) {
        report->errors_left_out++;
        return RIG_EINPUT;
    }
    va_list args;
    va_start(args, format);
    vsnprintf(sentence, sizeof sentence, format, args);
    va_end(args);
    rig_fail_at(&why, RIG_EINPUT, line, column, "%s:%lu:%lu: %s", showfile__short_name(import->name, name), line, column,
                sentence);
    if (report->error_count == 0 && import->why)
        *import->why = why;
    struct csv_error *errors = reallocarray(report->errors, report->error_count + 1, sizeof *errors);
    if (errors)
        report->errors = errors;
    char *text = errors ? strdup(why.text) : NULL;
    if (!text)
        return showfile__csv_nomem(import);
    report->errors[report->error_count++] = (struct csv_error){ line, column, text };
    return RIG_EINPUT;
}

int showfile__csv_bad_cell(struct csv_import *import, size_t i, const char *id, const char *expected)
{
    const struct csv_field *field = &import->csv.fields[i];
    char found[200], name[64];
    return showfile__csv_bad(import, field->line, field->column, "%s %.32s: %s: found %s, expected %s", import->object->name,
                             id, showfile__csv_name(&import->columns[i], name),
                             field->length ? showfile__show_text(field->text, field->length, found) : "nothing", expected);
}

/* ---- the header ---- */

static bool is_named(const char *name, const struct csv_field *field)
{
    return strlen(name) == field->length && memcmp(name, field->text, field->length) == 0;
}

static int unknown_column(struct csv_import *import, const struct csv_field *field)
{
    struct csv_column all[CSV_COLUMNS];
    size_t count = showfile__csv_columns(import->object, all), best = 0, least = SIZE_MAX;
    char name[64], typed[40], found[200];
    snprintf(typed, sizeof typed, "%.*s", (int)(field->length < 39 ? field->length : 39), field->text);
    for (size_t i = 0; i < count; i++) {
        size_t away = name_distance(typed, showfile__csv_name(&all[i], name));
        best = away < least ? i : best;
        least = away < least ? away : least;
    }
    showfile__show_text(field->text, field->length, found);
    if (strncmp(typed, "x_", 2) == 0)
        return showfile__csv_bad(import, field->line, field->column,
                                 "found column %s, expected no x_ columns: they are kept in the show file only", found);
    return showfile__csv_bad(import, field->line, field->column,
                             "found unknown column %s, expected one of a %s (nearest: \"%s\")", found, import->object->name,
                             showfile__csv_name(&all[best], name));
}

static int header_column(struct csv_import *import, const struct csv_field *field)
{
    struct csv_column all[CSV_COLUMNS];
    size_t count = showfile__csv_columns(import->object, all), i = 0;
    char name[64];
    while (i < count && !is_named(showfile__csv_name(&all[i], name), field))
        i++;
    if (i == count)
        return unknown_column(import, field);
    for (size_t c = 0; c < import->column_count; c++)
        if (import->columns[c].key == all[i].key && import->columns[c].axis == all[i].axis)
            return showfile__csv_bad(import, field->line, field->column,
                                     "found column \"%s\" again, expected each column once", name);
    if (all[i].key == &import->object->keys[0])
        import->id_column = import->column_count;
    import->columns[import->column_count++] = all[i];
    return 0;
}

int showfile__csv_header(struct csv_import *import)
{
    struct csv_reader *csv = &import->csv;
    int err = 0;
    import->id_column = CSV_COLUMNS;
    if (!showfile__csv_record(csv))
        return showfile__csv_bad(import, 1, 1, "found an empty file, expected a header of column names");
    if (csv->wrong)
        return showfile__csv_bad(import, csv->wrong_line, csv->wrong_column, "%s", csv->wrong);
    if (csv->count > CSV_COLUMNS)
        return showfile__csv_bad(import, 1, 1, "found %zu columns, expected at most %d", csv->count, CSV_COLUMNS);
    for (size_t i = 0; i < csv->count && err != RIG_ENOMEM; i++) {
        int one = header_column(import, &csv->fields[i]);
        err = one ? one : err;
    }
    if (!err && import->id_column == CSV_COLUMNS)
        err = showfile__csv_bad(import, 1, 1, "found no column \"id\", expected it in every import");
    return err;
}
