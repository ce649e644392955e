/* Shared by the CSV parts: records, columns, and cells as text. */
#ifndef RIGCALL_SHOWFILE_CSV_INTERNAL_H
#define RIGCALL_SHOWFILE_CSV_INTERNAL_H

#include "showfile_internal.h"

#define CSV_BYTES (32u << 20)        /* longest CSV file that is read */
#define CSV_COLUMNS 64               /* most fields of a record */
#define CSV_ERRORS 1000              /* bad rows that are told; the rest is counted */

struct csv_field { const char *text; size_t length; unsigned long line, column; };

/* Splits text into records of fields, RFC 4180; a line may also end with LF alone. Quoted fields are decoded in place. */
struct csv_reader {
    char *at, *end, *line_start;
    unsigned long line;              /* of `at`, from 1 */
    struct csv_field fields[CSV_COLUMNS];
    size_t count;                    /* of the record, may be more than are kept */
    const char *wrong;               /* what is wrong with the record, or NULL */
    unsigned long wrong_line, wrong_column;
};
/** Read the next record. After a wrong one reading goes on with the next line. @return false at the end */
bool showfile__csv_record(struct csv_reader *reader);

/* One column: a key, or one axis of a position. */
struct csv_column { const struct key *key; int axis; };
/** All columns of an object in their order. @return how many, at most CSV_COLUMNS */
size_t showfile__csv_columns(const struct object *object, struct csv_column columns[CSV_COLUMNS]);
/** Name of a column: the key, for positions with _x, _y or _z. @return out */
const char *showfile__csv_name(const struct csv_column *column, char out[64]);
/** True if the object has a value for the column. */
bool showfile__csv_given(const struct csv_column *column, const void *from);
/** Append the value as CSV text, not quoted; nothing when it is not given. */
void showfile__csv_cell(struct buffer *out, const struct csv_column *column, const void *from);
/** Set a value from its CSV text, which is not empty.
 * @param expected  filled when the text is wrong
 * @return 0, RIG_EINPUT, RIG_ENOMEM */
int showfile__csv_set(struct show *show, const struct csv_column *column, void *into, const char *text, size_t length, char expected[128]);
/** Remove a value. */
void showfile__csv_unset(const struct csv_column *column, void *into);

/* One import under way. */
struct csv_import {
    const char *name;                /* of the file */
    const struct show *before;
    struct show *show;               /* the copy that changes */
    enum csv_kind kind;
    const struct object *object;
    struct csv_reader csv;
    struct csv_column columns[CSV_COLUMNS];
    size_t column_count;
    size_t id_column;
    bool *repeated;                  /* by index: the show has this id more than once */
    struct seen seen;                /* ids of rows, as text */
    struct csv_report *report;
    size_t change_room;
    struct buffer old_text, new_text, fields;
    struct rig_why *why;
};

/** Add one bad place to the report; the first one is also the why. @return RIG_EINPUT, or RIG_ENOMEM */
int showfile__csv_bad(struct csv_import *import, unsigned long line, unsigned long column, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
/** A bad cell in column i: "fixture 101: address: found "x", expected an integer". */
int showfile__csv_bad_cell(struct csv_import *import, size_t i, const char *id, const char *expected);
int showfile__csv_nomem(struct csv_import *import);
/** Read the header into import->columns. Every wrong column is told. @return 0, RIG_EINPUT, RIG_ENOMEM */
int showfile__csv_header(struct csv_import *import);

/** Import from memory, which is changed while it is read; `name` stands for the path. See csv_import(). */
int showfile__csv_import(const struct show *show, enum csv_kind kind, const char *name, char *text, size_t length, struct show **out,
                         struct csv_report *report, struct rig_why *why);

#endif
