/* Findings collected, sorted and written as text, JSON or JUnit XML. Knows the show only to name its objects. */
#ifndef RIGCALL_REPORT_H
#define RIGCALL_REPORT_H

#include <stdio.h>

#include "rigcall/model.h"

enum severity { SEVERITY_FAIL, SEVERITY_WARN, SEVERITY_NOTE };
const char *severity_name(enum severity severity);           /* "fail", "warn", "note" */

struct subject { enum subject_kind kind; uint32_t index; };
struct finding {
    const char *rule;                /* kept: copied by findings_add() */
    enum severity severity;
    struct subject subject;
    const struct subject *others; uint32_t other_count;
    const char *text;
};
/* A script that did not end well. */
struct script_failure { char *name, *path, *text; };

struct findings;
struct findings *findings_new(void);
void findings_free(struct findings *findings);
/** Record that a rule ran (also if it finds nothing). Copies. @return 0 or RIG_ENOMEM */
int findings_add_rule(struct findings *findings, const char *rule, const char *about);
/** Copies everything. The caller has checked the subjects against the show. @return 0 or RIG_ENOMEM */
int findings_add(struct findings *findings, const struct finding *finding);
/** More findings of a rule were left out: gives one line "and N more". */
int findings_add_more(struct findings *findings, const char *rule, enum severity severity, uint64_t more);
int findings_add_failure(struct findings *findings, const char *name, const char *path, const char *text);

/** Sort by rule, kind, id (numbers by value, names by octets), then others, then text. Call before reading or writing. */
void findings_sort(struct findings *findings, const struct show *show);
const struct finding *findings_items(const struct findings *findings, size_t *count);
uint64_t findings_count(const struct findings *findings, enum severity severity);
const struct script_failure *findings_failures(const struct findings *findings, size_t *count);

enum report_format { REPORT_TEXT, REPORT_JSON, REPORT_JUNIT };
/** @param colour  text only: ANSI colours. @return 0 or RIG_EIO */
int findings_write(const struct findings *findings, const struct show *show, const char *show_path, enum report_format format,
                   bool colour, FILE *out, struct rig_why *why);

#endif
