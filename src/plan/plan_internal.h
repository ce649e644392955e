/* Shared inside the planning room: the memory of a plan, its texts, its steps and its lists. Every function that gives NULL or
 * false means that memory is short; the plan stays whole and is freed by its owner as usual. */
#ifndef RIGCALL_PLAN_INTERNAL_H
#define RIGCALL_PLAN_INTERNAL_H

#include "rigcall/plan.h"

/** An empty plan: nothing changed, proved. Free with plan_free(). */
struct plan *plan__new(enum plan_kind kind);
/** Zeroed memory that lives as long as the plan, aligned for any type. */
void *plan__alloc(struct plan *plan, size_t size);
/** A text that lives as long as the plan. */
const char *plan__text(struct plan *plan, const char *format, ...) __attribute__((format(printf, 2, 3)));
/** Append a zeroed "set" step; the pointer dies at the next call. */
struct plan_step *plan__step(struct plan *plan, enum subject_kind kind, uint32_t index, const char *field);
struct plan_value plan__null(void);
struct plan_value plan__number(int64_t number);              /* SHOW_NONE gives null */
struct plan_value plan__value(const char *text);             /* text is kept, not copied; NULL gives null */
/** A copy of `count` fixture indexes, sorted by the fixtures' ids. */
uint32_t *plan__fixtures(struct plan *plan, const struct show *show, const uint32_t *indexes, uint32_t count);
/** Drop all that would be changed and say why nothing can be done; what stays dark is kept. @param rule  the rule that names the trouble, or NULL */
bool plan__refuse(struct plan *plan, const char *rule, const char *format, ...) __attribute__((format(printf, 3, 4)));

/** True if a firmware version is below a floor: number by number, missing parts 0 ("3.10" is above "3.9", "3" equals "3.0"). */
bool plan__is_below(const char *version, const char *floor);
/** Set of AIR_BIT() that a fixture can be keyed to: its present one, and those of its type whose firmware floor it meets; no
 * firmware given meets any. */
unsigned plan__airs(const struct show *show, const struct fixture *fixture);

/* What keeping every quiet band means for a transmitter. Asked: it has no lane yet or is off the air, so it must. Missing: its
 * keep_out leaves one open. Hops: hop channels that stay when it keeps them (all that its keep_out leaves, when not asked). */
struct plan__quiet { bool asked, missing; int hops; };
struct plan__quiet plan__quiet(const struct show *show, const struct transmitter *transmitter);
/** keep_out before and with every quiet band that it leaves open. @return false when memory is short */
bool plan__keep_out(struct plan *plan, const struct show *show, const struct transmitter *transmitter, struct plan_value *from,
                    struct plan_value *to);

/** Fill plan->failing, of a plan for this show that is not refused. @return 0 or RIG_ENOMEM */
int plan__name_failing(const struct show *show, struct plan *plan);
/** True for eight decimal digits: what the rule code-form asks for. */
bool plan__is_code(const char *code);
/** The first `count` codes that plan_fresh_code() would give one after the other. @param codes  count x 9 octets, filled */
void plan__fresh_codes(const struct show *show, uint32_t count, char (*codes)[9]);

#endif
