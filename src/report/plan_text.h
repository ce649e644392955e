/* Shared by the writers of a plan as text. */
#ifndef RIGCALL_REPORT_PLAN_TEXT_H
#define RIGCALL_REPORT_PLAN_TEXT_H

#include "report_internal.h"
#include "rigcall/plan_report.h"

struct plan_text {
    const struct plan *plan;
    const struct show *show;
    const struct plan_report *report;
    FILE *out;
    unsigned number;                 /* of the last instruction */
    unsigned number_of_fixtures;     /* instructions on fixtures */
};

/* One fixture and its steps, in the plan's order. */
struct stop {
    const struct fixture *fixture;
    const struct plan_step *steps; uint32_t step_count;
    uint32_t place;                  /* of its first step in the plan */
    const char *site; uint32_t site_index;
    struct position pos;
    bool keyed, leaves;              /* leaves: it moves, and stands at its old site here */
};

void plan_text__name(struct plan_text *text, enum subject_kind kind, uint32_t index);
/** "universe 7 Rail A" by its id: those that the plan adds have no name yet. */
void plan_text__universe(struct plan_text *text, int64_t id);
/** "site quay (North quay)" */
void plan_text__site(struct plan_text *text, const char *id);
/** " at 3 0 2 m", or nothing */
void plan_text__pos(struct plan_text *text, const struct position *pos);
/** "lane 3 universe 7 Rail A (now empty)" */
void plan_text__change(struct plan_text *text, const struct plan_step *step);
/** The fixtures, by site and then along it. @return 0 or RIG_ENOMEM */
int plan_text__fixtures(struct plan_text *text);
/** Put the stops of one site into the order in which a person passes them; more than 4,000 of them by one axis only. */
void plan_text__walk(struct stop *stops, uint32_t count);
/** What stays dark or does not fit, leaves the air, is disturbed. */
void plan_text__lists(struct plan_text *text);
void plan_text__totals(struct plan_text *text);
/** What was written, how to undo it, or why it was not. */
void plan_text__written(struct plan_text *text);
void plan_text__refusal(struct plan_text *text);

#endif
