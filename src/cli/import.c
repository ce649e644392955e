#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "output.h"
#include "save.h"

static const struct option import_options[] = {
    { .name = "of", .kind = OPTION_CHOICE, .value = "KIND", .choices = "fixtures transmitters",
      .help = "fixtures or transmitters" },
    { .name = "write", .kind = OPTION_FLAG, .help = "change the show file; without it the changes are only listed" },
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json", .help = "text (default) or json" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE",
      .help = "write the list to FILE instead of standard output" },
};

struct import {
    const char *path, *csv;
    enum csv_kind kind;
    struct show *before, *after;
    struct csv_report report;
    size_t counts[CSV_ADDED + 1];
    bool written;
};

static enum subject_kind subject_of(const struct import *import)
{
    return import->kind == CSV_FIXTURES ? SUBJECT_FIXTURE : SUBJECT_TRANSMITTER;
}

static void count_changes(struct import *import)
{
    for (size_t i = 0; i < import->report.change_count; i++)
        import->counts[import->report.changes[i].kind]++;
}

static void write_text(const struct import *import, FILE *out)
{
    char name[512];
    for (size_t i = 0; i < import->report.change_count; i++) {
        const struct csv_change *change = &import->report.changes[i];
        if (change->kind == CSV_SAME)
            continue;
        show_describe(import->after, subject_of(import), change->index, name, sizeof name);
        fprintf(out, "%s: %s\n", name, change->kind == CSV_ADDED ? "new" : change->fields);
    }
    fprintf(out, "%s: %zu changed, %zu new, %zu the same; ", import->csv, import->counts[CSV_CHANGED], import->counts[CSV_ADDED],
            import->counts[CSV_SAME]);
    if (import->written)
        fprintf(out, "%s is written, the file before is %s~\n", import->path, import->path);
    else if (import->counts[CSV_CHANGED] + import->counts[CSV_ADDED])
        fputs("nothing is written, --write does that\n", out);
    else
        fputs("nothing to write\n", out);
}

static json_t *change_json(const struct import *import, const struct csv_change *change)
{
    static const char *const kinds[] = { "same", "changed", "new" };
    json_t *id = import->kind == CSV_FIXTURES ? json_integer(import->after->fixtures[change->index].id)
                                              : json_string(import->after->transmitters[change->index].id);
    return json_pack("{s:s, s:o, s:s}", "change", kinds[change->kind], "id", id, "fields", change->fields);
}

static int write_json(const struct import *import, FILE *out, struct rig_why *why)
{
    json_t *changes = json_array();
    int bad = 0;
    for (size_t i = 0; i < import->report.change_count; i++)
        if (import->report.changes[i].kind != CSV_SAME)
            bad |= json_array_append_new(changes, change_json(import, &import->report.changes[i]));
    const char *of = import->kind == CSV_FIXTURES ? "fixtures" : "transmitters";
    json_int_t changed = (json_int_t)import->counts[CSV_CHANGED], new = (json_int_t)import->counts[CSV_ADDED];
    json_t *root = json_pack("{s:s, s:{s:I, s:I, s:I}, s:b, s:o}", "of", of, "counts", "changed", changed, "new", new, "same",
                             (json_int_t)import->counts[CSV_SAME], "written", import->written, "changes", changes);
    if (bad || !root) {
        json_decref(root);
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    }
    if (!json_dumpf(root, out, JSON_INDENT(2)))
        fputc('\n', out);
    json_decref(root);
    return 0;
}

/* Every bad row on stderr, which says more than the first one in why. */
static int say_bad_rows(const struct import *import, const struct rig_why *why)
{
    for (size_t i = 0; i < import->report.error_count; i++)
        fprintf(stderr, "%s\n", import->report.errors[i].text);
    if (import->report.errors_left_out)
        say("and %zu more bad rows", import->report.errors_left_out);
    if (!import->report.error_count)
        return say_failure(why);
    say("%s: %zu bad row%s, nothing is changed", import->csv, import->report.error_count + import->report.errors_left_out,
        import->report.error_count + import->report.errors_left_out == 1 ? "" : "s");
    return rig_exit_status(why->code);
}

static int import_rows(struct import *import, const struct options *options, struct rig_why *why)
{
    int err = showfile_load(import->path, &import->before, why);
    if (!err)
        err = showfile_require_sound(import->before, import->path, why);
    if (err)
        return err;
    err = csv_import(import->before, import->kind, import->csv, &import->after, &import->report, why);
    if (!err)
        err = showfile_require_sound(import->after, import->csv, why);
    if (err)
        return err;
    count_changes(import);
    if (options_has(options, "write") && import->counts[CSV_CHANGED] + import->counts[CSV_ADDED]) {
        err = save_show(import->after, import->path, why);
        import->written = !err;
    }
    return err;
}

static int write_report(const struct import *import, const struct options *options, struct rig_why *why)
{
    struct output output;
    int err = output_open(&output, options_text(options, "output", NULL), why);
    if (!err && !strcmp(options_text(options, "format", "text"), "json"))
        err = write_json(import, output.stream, why);
    else if (!err)
        write_text(import, output.stream);
    if (!err)
        err = output_close(&output, why);
    output_drop(&output);
    return err;
}

static int run_import(const struct options *options)
{
    struct rig_why why;
    const char *of = options_text(options, "of", NULL);
    if (strcmp(options->words[1], "csv"))
        return say_usage("import: \"%s\" is no known form, expected csv", options->words[1]);
    if (!of)
        return say_usage("import needs --of fixtures or --of transmitters");
    struct import import = { .path = options->words[0], .csv = options->words[2],
                             .kind = !strcmp(of, "fixtures") ? CSV_FIXTURES : CSV_TRANSMITTERS };
    int status, err = import_rows(&import, options, &why);
    if (err)
        status = say_bad_rows(&import, &why);
    else
        status = write_report(&import, options, &why) ? say_failure(&why) : 0;
    csv_report_free(&import.report);
    show_free(import.before);
    show_free(import.after);
    return status;
}

const struct command command_import = {
    .name = "import",
    .about = "Takes fixtures or transmitters from CSV.",
    .words = "SHOW csv FILE",
    .words_least = 3, .words_most = 3,
    .options = import_options, .option_count = sizeof import_options / sizeof import_options[0],
    .details = "A row with a known id changes that object, another id adds one; an empty field removes a value. Nothing changes\n"
               "unless every row is good. Without --write it says what would change. The file before is kept as SHOW~.",
    .example = "  rigcall import harbour.show.lua csv fixtures.csv --of fixtures\n"
               "  rigcall import harbour.show.lua csv fixtures.csv --of fixtures --write",
    .run = run_import,
};
