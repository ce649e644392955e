/* Show files and CSV in and out. Reads untrusted bytes with readers of its own and executes nothing; writes canonical text,
 * atomically. Knows the format (design: the show file), not what is right or wrong about a rig. */
#ifndef RIGCALL_SHOWFILE_H
#define RIGCALL_SHOWFILE_H

#include <stdio.h>

#include "rigcall/model.h"

#define SHOWFILE_BYTES (64u << 20)   /* longest file that is read or written */
#define SHOWFILE_DEPTH 32            /* deepest nesting of tables */
#define SHOWFILE_OBJECTS 300000u     /* most sites, fixtures, lanes and so on in one file */
#define SHOWFILE_ITEMS 1000000u      /* most tables, list entries and x_ keys in one file */

/** Read a show file and index it. At most about 220 MiB for any file, in time linear in its length. Lines and columns count from
 * 1, columns in octets; a text has at most 65536 octets, a list inside an object 65536 entries, a type 256 modes.
 * @param out  the show, caller frees with show_free(); NULL on failure
 * @return 0, RIG_EINPUT (why has line, column and "path:line:column: what, expected what"), RIG_EIO, RIG_ENOMEM */
int showfile_load(const char *path, struct show **out, struct rig_why *why);
/** The same from memory; `name` stands for the path in messages. text need not be NUL-terminated. */
int showfile_parse(const char *name, const char *text, size_t length, struct show **out, struct rig_why *why);

/** Refuse repeated ids and unknown types or modes: for commands that change or drive the rig. @return 0 or RIG_EINPUT */
int showfile_require_sound(const struct show *show, const char *path, struct rig_why *why);

/** Canonical text. @param out malloc'd, NUL-terminated, caller frees. @return 0, RIG_EINPUT (longer than SHOWFILE_BYTES), RIG_ENOMEM */
int showfile_format(const struct show *show, char **out, size_t *length, struct rig_why *why);
/** Write canonical text to `path` atomically: a new file beside it, fsync, rename, directory fsync; an existing file is kept
 * as path~. On failure the old file stands. */
int showfile_save(const struct show *show, const char *path, struct rig_why *why);
/** Load the show that showfile_save() kept when it last replaced `path`. None kept is no failure: 0 with *out NULL.
 * @param out  caller frees. @return as showfile_load(); the messages name the kept file */
int showfile_load_kept(const char *path, struct show **out, struct rig_why *why);
/** Write bytes to `path` the same way. @param keep  keep an existing file as path~ */
int showfile_replace(const char *path, const char *bytes, size_t length, bool keep, struct rig_why *why);
/** Read a whole file of at most `limit` octets. @param out malloc'd, one NUL beyond length, caller frees */
int showfile_read(const char *path, size_t limit, char **out, size_t *length, struct rig_why *why);
/** True if the file text has comments (which saving would lose). */
bool showfile_has_comments(const char *text, size_t length);

enum csv_kind { CSV_FIXTURES, CSV_TRANSMITTERS };

/* What an import does or would do. Rows are CSV records after the header, in file order. */
struct csv_change {
    enum csv_change_kind { CSV_SAME, CSV_CHANGED, CSV_ADDED } kind;
    uint32_t index;                  /* of the object in the changed show */
    const char *fields;              /* "universe 1 -> 2, address 10 -> 20" for CSV_CHANGED, else "" */
};
struct csv_report {
    struct csv_change *changes;
    size_t change_count;
    struct csv_error { unsigned long line, column; char *text; } *errors;     /* every bad row, at most 1000 */
    size_t error_count, errors_left_out;
};
/** Import rows (RFC 4180, header of column names, UTF-8, optional BOM) into a copy of the show: rows with a known id change
 * that object's given columns (an empty field removes the value), others are added. A file has at most 32 MiB.
 * What a cell says already stays as it is, also where CSV cannot say all of it (who a band is for).
 * @param out     the changed and indexed show, caller frees; NULL unless every row is good
 * @param report  filled in either case, free with csv_report_free()
 * @return 0, RIG_EINPUT with the first bad row in why, RIG_EIO, RIG_ENOMEM */
int csv_import(const struct show *show, enum csv_kind kind, const char *path, struct show **out, struct csv_report *report, struct rig_why *why);
void csv_report_free(struct csv_report *report);
/** Export all fixtures or transmitters in file order with every column that has a value. @param out malloc'd */
int csv_export(const struct show *show, enum csv_kind kind, char **out, size_t *length, struct rig_why *why);

#endif
