/* Findings as JUnit XML: one test case a rule. `fail` findings are its failures; warnings and notes do not fail a build and
 * stand in system-out; a script that broke is a test case with an error. Valid against the schema of the Jenkins xUnit plug-in
 * (junit-10.xsd). Without times, so that two runs are equal octet for octet. */
#include <inttypes.h>
#include <string.h>

#include "report_internal.h"

/* Characters that XML 1.0 (section 2.2) does not allow become U+FFFD. text is UTF-8. */
static void put_xml(FILE *out, const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        bool noncharacter = length - i >= 3 && c == 0xef && (unsigned char)text[i + 1] == 0xbf
                            && (unsigned char)text[i + 2] >= 0xbe;
        if (c == '&')
            fputs("&amp;", out);
        else if (c == '<')
            fputs("&lt;", out);
        else if (c == '>')
            fputs("&gt;", out);
        else if (c == '"')
            fputs("&quot;", out);
        else if (c == '\t' || c == '\n' || c == '\r')
            fprintf(out, "&#%d;", c);
        else if (c < 0x20 || noncharacter)
            fputs("\xef\xbf\xbd", out);
        else
            fputc(c, out);
        i += noncharacter ? 2 : 0;
    }
}

/* The same for text that may hold octets that are not UTF-8 (a path); they become '?'. */
static void put_clean(FILE *out, const char *text)
{
    size_t left = strlen(text);
    while (left) {
        size_t good = utf8_check(text, left);
        put_xml(out, text, good);
        if (good < left) {
            fputc('?', out);
            good++;
        }
        text += good;
        left -= good;
    }
}

static void put_line(const struct show *show, const struct finding *finding, FILE *out)
{
    char name[REPORT_NAME];
    if (!report__is_more(finding)) {
        show_describe(show, finding->subject.kind, finding->subject.index, name, sizeof name);
        put_clean(out, name);
        fputs(": ", out);
    }
    put_clean(out, finding->text);
    bool any = false;
    for (uint32_t i = 0; i < finding->other_count; i++) {
        if (report__names(show, finding, finding->others[i]))
            continue;
        show_describe(show, finding->others[i].kind, finding->others[i].index, name, sizeof name);
        fputs(any ? ", " : " [", out);
        put_clean(out, name);
        any = true;
    }
    if (any)
        fputc(']', out);
}

/* The findings of one rule, which lie together once sorted. */
static void put_rule(const struct show *show, const struct report_rule *rule, const struct finding *items, size_t count, FILE *out)
{
    fputs("    <testcase classname=\"rigcall\" name=\"", out);
    put_clean(out, rule->name);
    fputs("\">\n", out);
    for (size_t i = 0; i < count; i++) {
        if (items[i].severity != SEVERITY_FAIL)
            continue;
        fputs("      <failure type=\"fail\" message=\"", out);
        put_line(show, &items[i], out);
        fputs("\"/>\n", out);
    }
    fputs("      <system-out>", out);
    put_clean(out, rule->about);
    fputc('\n', out);
    for (size_t i = 0; i < count; i++)
        if (items[i].severity != SEVERITY_FAIL) {
            fprintf(out, "%s ", severity_name(items[i].severity));
            put_line(show, &items[i], out);
            fputc('\n', out);
        }
    fputs("</system-out>\n    </testcase>\n", out);
}

static void put_failure(const struct script_failure *failure, FILE *out)
{
    fputs("    <testcase classname=\"rigcall\" name=\"", out);
    put_clean(out, failure->name);
    fputs("\">\n      <error type=\"script\" message=\"", out);
    put_clean(out, failure->path);
    fputs(": ", out);
    put_clean(out, failure->text);
    fputs("\"/>\n    </testcase>\n", out);
}

/* How many items from `from` on belong to a rule; *fails counts the severe ones. */
static size_t stretch(const struct findings *findings, size_t from, const char *rule, size_t *fails)
{
    size_t n = 0;
    *fails = 0;
    while (from + n < findings->count && !strcmp(findings->items[from + n].rule, rule))
        *fails += findings->items[from + n++].severity == SEVERITY_FAIL;
    return n;
}

static size_t failed_rules(const struct findings *findings)
{
    size_t failed = 0, fails;
    for (size_t i = 0, at = 0; i < findings->rule_count; i++) {
        at += stretch(findings, at, findings->rules[i].name, &fails);
        failed += fails > 0;
    }
    return failed;
}

int report__write_junit(const struct findings *findings, const struct show *show, const char *show_path, FILE *out,
                        struct rig_why *why)
{
    (void)why;                        /* findings_write() looks at the stream */
    char counts[120];
    snprintf(counts, sizeof counts, "tests=\"%zu\" failures=\"%zu\" errors=\"%zu\"", findings->rule_count + findings->failure_count,
             failed_rules(findings), findings->failure_count);
    fprintf(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"rigcall check\" %s>\n  <testsuite name=\"", counts);
    put_clean(out, show_path);
    fprintf(out, "\" %s>\n", counts);
    size_t at = 0, fails;
    for (size_t i = 0; i < findings->rule_count; i++) {
        size_t count = stretch(findings, at, findings->rules[i].name, &fails);
        put_rule(show, &findings->rules[i], findings->items + at, count, out);
        at += count;
    }
    for (size_t i = 0; i < findings->failure_count; i++)
        put_failure(&findings->failures[i], out);
    fputs("  </testsuite>\n</testsuites>\n", out);
    return 0;
}
