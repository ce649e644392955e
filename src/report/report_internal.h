/* Shared inside src/report: the collection as the writers see it. */
#ifndef RIGCALL_REPORT_INTERNAL_H
#define RIGCALL_REPORT_INTERNAL_H

#include "rigcall/report.h"

#define REPORT_NAME 512              /* octets of an object's name in a report */

struct report_rule { char *name, *about; };

struct findings {
    struct finding *items; size_t count, room;
    struct report_rule *rules; size_t rule_count, rule_room;
    struct script_failure *failures; size_t failure_count, failure_room;
    uint64_t counts[SEVERITY_NOTE + 1];
};

/* True for a line "and N more": it stands for findings that were left out. */
bool report__is_more(const struct finding *finding);
/* Order of two subjects: kind, then id (numbers by value, names by octets). */
int report__compare_subjects(const struct show *show, struct subject a, struct subject b);
/* The id of an object as text, or NULL when it is a number, which is then in *number. */
const char *report__id(const struct show *show, struct subject subject, int64_t *number);
/* True when the text of a finding names an object as people say it, so that a line need not say it again. */
bool report__names(const struct show *show, const struct finding *finding, struct subject subject);
/* Write text with every control character, C1 ones too, as '?': names and texts come from other people's files. */
void report__put(FILE *out, const char *text);
/* The text with every octet that is not UTF-8 as '?'. malloc'd, NULL when memory is short. */
char *report__clean(const char *text);

int report__write_text(const struct findings *findings, const struct show *show, const char *show_path, bool colour, FILE *out,
                       struct rig_why *why);
int report__write_json(const struct findings *findings, const struct show *show, const char *show_path, FILE *out,
                       struct rig_why *why);
int report__write_junit(const struct findings *findings, const struct show *show, const char *show_path, FILE *out,
                       struct rig_why *why);

#endif
