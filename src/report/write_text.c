/* Findings for people: one line each, then what broke, then the counts. */
#include <inttypes.h>
#include <string.h>

#include "report_internal.h"

#define OTHERS_SHOWN 6               /* in a line; the JSON has them all */

static const char *const colours[] = { "\033[1;31m", "\033[33m", "\033[36m" };

static void put_name(const struct show *show, struct subject subject, FILE *out)
{
    char name[REPORT_NAME];
    show_describe(show, subject.kind, subject.index, name, sizeof name);
    report__put(out, name);
}

/* Those that the text does not name already. */
static void put_others(const struct show *show, const struct finding *finding, FILE *out)
{
    uint32_t unnamed = 0;
    for (uint32_t i = 0; i < finding->other_count; i++) {
        if (report__names(show, finding, finding->others[i]))
            continue;
        if (unnamed < OTHERS_SHOWN) {
            fputs(unnamed ? ", " : " [", out);
            put_name(show, finding->others[i], out);
        }
        unnamed++;
    }
    if (unnamed > OTHERS_SHOWN)
        fprintf(out, " and %" PRIu32 " more", unnamed - OTHERS_SHOWN);
    if (unnamed)
        fputc(']', out);
}

static void put_finding(const struct show *show, const struct finding *finding, int width, bool colour, FILE *out)
{
    if (colour)
        fputs(colours[finding->severity], out);
    fputs(severity_name(finding->severity), out);
    if (colour)
        fputs("\033[0m", out);
    fputs("  ", out);
    report__put(out, finding->rule);
    fprintf(out, "%*s", width - (int)strlen(finding->rule) + 2, "");
    if (!report__is_more(finding)) {
        put_name(show, finding->subject, out);
        fputs(": ", out);
    }
    report__put(out, finding->text);
    put_others(show, finding, out);
    fputc('\n', out);
}

static void put_failure(const struct script_failure *failure, bool colour, FILE *out)
{
    fputs(colour ? "\033[1;31mbroken\033[0m  " : "broken  ", out);
    report__put(out, failure->name);
    fputs("  ", out);
    report__put(out, failure->path);
    fputs(": ", out);
    report__put(out, failure->text);
    fputc('\n', out);
}

static const char *plural(uint64_t n)
{
    return n == 1 ? "" : "s";
}

int report__write_text(const struct findings *findings, const struct show *show, const char *show_path, bool colour, FILE *out,
                       struct rig_why *why)
{
    (void)why;                        /* findings_write() looks at the stream */
    int width = 0;
    for (size_t i = 0; i < findings->count; i++)
        if ((int)strlen(findings->items[i].rule) > width)
            width = (int)strlen(findings->items[i].rule);
    for (size_t i = 0; i < findings->count; i++)
        put_finding(show, &findings->items[i], width, colour, out);
    for (size_t i = 0; i < findings->failure_count; i++)
        put_failure(&findings->failures[i], colour, out);
    report__put(out, show_path);
    fprintf(out, ": %zu rule%s, %" PRIu64 " fail, %" PRIu64 " warn, %" PRIu64 " note", findings->rule_count,
            plural(findings->rule_count), findings->counts[SEVERITY_FAIL], findings->counts[SEVERITY_WARN],
            findings->counts[SEVERITY_NOTE]);
    if (findings->failure_count)
        fprintf(out, "; %zu script%s broken", findings->failure_count, plural(findings->failure_count));
    fputc('\n', out);
    return 0;
}
