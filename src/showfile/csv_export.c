/* Writes fixtures or transmitters as CSV: CR LF, UTF-8, the columns that have a value somewhere. */
#include <stdlib.h>

#include "csv_internal.h"

static bool used(const struct csv_column *column, const char *items, size_t size, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        if (showfile__csv_given(column, items + i * size))
            return true;
    return (column->key->flags & KEY_REQUIRED) != 0;
}

/* Append a cell from `scratch`, quoted where RFC 4180 asks for it, and where programs would strip spaces. */
static void add_cell(struct buffer *out, const struct buffer *scratch)
{
    const char *text = scratch->bytes;
    size_t length = scratch->length, from = 0;
    bool quotes = length && (text[0] == ' ' || text[length - 1] == ' ');
    for (size_t i = 0; i < length && !quotes; i++)
        quotes = text[i] == '"' || text[i] == ',' || text[i] == '\n' || text[i] == '\r';
    if (!quotes) {
        showfile__add(out, text, length);
        return;
    }
    showfile__add_text(out, "\"");
    for (size_t i = 0; i < length; i++)
        if (text[i] == '"') {
            showfile__add(out, text + from, i - from + 1);
            from = i;
        }
    showfile__add(out, text + from, length - from);
    showfile__add_text(out, "\"");
}

static void add_row(struct buffer *out, struct buffer *scratch, const struct csv_column *columns, size_t count,
                    const void *item)
{
    char name[64];
    for (size_t i = 0; i < count; i++) {
        if (i)
            showfile__add_text(out, ",");
        scratch->length = 0;
        if (item)
            showfile__csv_cell(scratch, &columns[i], item);
        else
            showfile__add_text(scratch, showfile__csv_name(&columns[i], name));
        if (scratch->length)
            add_cell(out, scratch);
    }
    showfile__add_text(out, "\r\n");
}

int csv_export(const struct show *show, enum csv_kind kind, char **out, size_t *length, struct rig_why *why)
{
    bool fixtures = kind == CSV_FIXTURES;
    const struct object *object = fixtures ? &showfile__fixture : &showfile__transmitter;
    const char *items = fixtures ? (const char *)show->fixtures : (const char *)show->transmitters;
    uint32_t count = fixtures ? show->fixture_count : show->transmitter_count;
    struct csv_column columns[CSV_COLUMNS];
    struct buffer text = { 0 }, scratch = { 0 };
    size_t all = showfile__csv_columns(object, columns), kept = 0;
    for (size_t i = 0; i < all; i++)
        if (used(&columns[i], items, object->size, count))
            columns[kept++] = columns[i];
    add_row(&text, &scratch, columns, kept, NULL);
    for (uint32_t i = 0; i < count; i++)
        add_row(&text, &scratch, columns, kept, items + i * object->size);
    text.failed |= scratch.failed;
    free(scratch.bytes);
    return showfile__buffer_take(&text, out, length, why);
}
