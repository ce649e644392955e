/* Splits CSV into records and fields, RFC 4180. */
#include <string.h>

#include "csv_internal.h"

static void wrong(struct csv_reader *reader, const char *at, const char *what)
{
    if (reader->wrong)
        return;
    reader->wrong = what;
    reader->wrong_line = reader->line;
    reader->wrong_column = (unsigned long)(at - reader->line_start) + 1;
}

static void next_line(struct csv_reader *reader, char *start)
{
    reader->line++;
    reader->line_start = start;
}

/* After the opening quote. Decodes in place: "" to ", CR LF to LF. @return the end of the decoded text */
static char *quoted(struct csv_reader *reader)
{
    char *to = reader->at, *opening = reader->at - 1;
    unsigned long line = reader->line;
    char *line_start = reader->line_start;
    while (reader->at < reader->end) {
        char c = *reader->at++;
        bool more = reader->at < reader->end;
        if (c == '"' && (!more || *reader->at != '"'))
            return to;
        if (c == '"')
            reader->at++;
        if (c == '\r' && more && *reader->at == '\n')
            continue;
        if (c == '\n')
            next_line(reader, reader->at);
        *to++ = c;
    }
    if (!reader->wrong) {
        reader->wrong = "found a quoted field without an end, expected a closing \"";
        reader->wrong_line = line;
        reader->wrong_column = (unsigned long)(opening - line_start) + 1;
    }
    return to;
}

static char *plain(struct csv_reader *reader)
{
    for (; reader->at < reader->end; reader->at++) {
        char c = *reader->at;
        if (c == ',' || c == '\n' || (c == '\r' && reader->at + 1 < reader->end && reader->at[1] == '\n'))
            break;
        if (c == '"')
            wrong(reader, reader->at, "found a quote inside a field, expected a field with quotes to be quoted as a whole");
        else if (c == '\r' && reader->at + 1 < reader->end)
            wrong(reader, reader->at, "found CR without LF, expected CR LF or LF at the end of a row");
    }
    /* A file may end with a lone CR where its last line end was cut. */
    return reader->at > reader->line_start && reader->at == reader->end && reader->at[-1] == '\r' ? reader->at - 1
                                                                                                  : reader->at;
}

static void skip_to_separator(struct csv_reader *reader)
{
    char *at = reader->at;
    if (at < reader->end && *at != ',' && *at != '\n' && !(*at == '\r' && at + 1 < reader->end && at[1] == '\n')) {
        wrong(reader, at, "found text after a closing quote, expected a comma or the end of the row");
        plain(reader);
    }
}

static void field(struct csv_reader *reader)
{
    struct csv_field one = { NULL, 0, reader->line, (unsigned long)(reader->at - reader->line_start) + 1 };
    char *start = reader->at, *end;
    if (start < reader->end && *start == '"') {
        one.text = ++reader->at;
        end = quoted(reader);
        skip_to_separator(reader);
    } else {
        one.text = start;
        end = plain(reader);
    }
    one.length = (size_t)(end - one.text);
    if (reader->count < CSV_COLUMNS)
        reader->fields[reader->count] = one;
    reader->count++;
}

bool showfile__csv_record(struct csv_reader *reader)
{
    reader->count = 0;
    reader->wrong = NULL;
    if (reader->at >= reader->end)
        return false;
    for (;;) {
        field(reader);
        if (reader->at >= reader->end || *reader->at != ',')
            break;
        reader->at++;
    }
    if (reader->at < reader->end && *reader->at == '\r')
        reader->at++;
    if (reader->at < reader->end)
        next_line(reader, ++reader->at);
    return true;
}
