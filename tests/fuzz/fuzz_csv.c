/* Fuzzes the CSV import. The first octet chooses fixtures or transmitters. What is imported must export, and that must import
 * without a change; what is refused must be told. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "showfile/csv_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char base[] =
    "return { rigcall = 1, name = 'n', transmitters = { { id = 'T1', site = 's', radios = 4, airs = { 'dual' }, air = 'dual', pos = { 1, 2, 3 },"
    " lanes = { { lane = 1, universe = 1 } }, keep_out = { { from = 2402, to = 2423, who = 'w' } } } }, fixtures = {"
    " { id = 1, type = 't', mode = 'm', site = 's', pos = { 0, 0, 0 }, tags = { 'a', 'b c' }, note = 'x\\ny' }, { id = 2, type = 't', mode = 'm', site = 's' } } }";

static void fail_if(bool wrong)
{
    if (wrong)
        abort();
}

static int import(const struct show *show, enum csv_kind kind, const char *text, size_t length, struct show **out, struct csv_report *report)
{
    struct rig_why why = { 0 };
    char *copy = malloc(length + 1);
    fail_if(!copy);
    memcpy(copy, text, length);
    int err = showfile__csv_import(show, kind, "fuzz", copy, length, out, report, &why);
    fail_if(err && (err != why.code || report->error_count == 0 || strcmp(why.text, report->errors[0].text) != 0));
    fail_if(err && utf8_check(why.text, strlen(why.text)) != strlen(why.text));
    free(copy);
    return err;
}

/* What the import gave is a show like any other. */
static void check_show(const struct show *show, enum csv_kind kind)
{
    struct show *again;
    struct csv_report report;
    char *text, *csv;
    size_t length, csv_length;
    fail_if(showfile_format(show, &text, &length, NULL) != 0);
    fail_if(showfile_parse("fuzz", text, length, &again, NULL) != 0);
    show_free(again);
    fail_if(csv_export(show, kind, &csv, &csv_length, NULL) != 0);
    fail_if(import(show, kind, csv, csv_length, &again, &report) != 0);
    for (size_t i = 0; i < report.change_count; i++)
        fail_if(report.changes[i].kind != CSV_SAME);
    csv_report_free(&report);
    show_free(again);
    free(csv);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct show *show;        /* imports do not change it */
    struct show *out;
    struct csv_report report;
    if (size == 0)
        return 0;
    enum csv_kind kind = data[0] & 1 ? CSV_TRANSMITTERS : CSV_FIXTURES;
    if (!show)
        fail_if(showfile_parse("base", base, sizeof base - 1, &show, NULL) != 0);
    if (import(show, kind, (const char *)data + 1, size - 1, &out, &report) == 0)
        check_show(out, kind);
    show_free(out);
    csv_report_free(&report);
    return 0;
}
