/* Plans: the exact smallest set of changes that patches a rig, moves a lost transmitter's universes, or moves fixtures to another
 * site. Pure: a show in, a plan out; nothing is changed until plan_apply() makes a changed copy.
 *
 * Costs. A touch is one visit to one fixture, whatever is changed there. A setting is one changed field of a transmitter that
 * stays: code, air, keep_out, and each lane number whose universe changes. Dark fixtures are those that do not land rightly
 * afterwards. A working fixture is disturbed if its code, air, lane or landing changes. */
#ifndef RIGCALL_PLAN_H
#define RIGCALL_PLAN_H

#include "rigcall/radio.h"

enum plan_kind { PLAN_PATCH, PLAN_SWAP, PLAN_MOVE };

/* One value of a field. Texts live as long as the plan. */
struct plan_value {
    enum plan_value_kind { PLAN_NULL, PLAN_TEXT, PLAN_NUMBER } kind;
    const char *text;                /* codes, air modes, modes, sites, labels; "2402-2423 2450-2460" of keep_out and "1:7 2:8" of
                                      * lanes (their CSV spelling); "3 0 2.5" of pos: x, y, z in metres */
    int64_t number;                  /* universes, addresses, lanes */
};

/* One change, in an order that is safe to carry out: transmitters before fixtures, lost transmitters cleared first of all. */
struct plan_step {
    bool clear;                      /* "do":"clear": a lost transmitter goes off the air (fields "code" and "lanes"); else "set" */
    struct subject_ref { enum subject_kind kind; uint32_t index; } subject;      /* transmitter, fixture or universe of the show;
                                      * universes that the plan adds have `id` and the indexes show.universe_count, + 1 and so on,
                                      * in the order of their first steps */
    int64_t id;                      /* of a universe that the plan adds, else SHOW_NONE */
    const char *field;               /* "code", "air", "keep_out", "lane 3", "lanes", "spare", "universe", "address",
                                      * "mode", "site", "pos", "label" */
    struct plan_value from, to;      /* "spare" goes from "true" to null where a spare comes on the air with lanes that are set
                                      * already; it is no setting */
    const char *why;                 /* one sentence, for a person on a ladder */
};

struct plan {
    enum plan_kind kind;
    struct plan_step *steps; uint32_t step_count;
    uint32_t touches, settings, dark, disturbed;
    uint32_t *touched; uint32_t touched_count;               /* indexes of fixtures, by id */
    uint32_t *darkened; uint32_t darkened_count;
    const char **dark_whys;          /* as long as darkened: one sentence why each stays dark; it and its entries may be NULL */
    const char **dark_rules;         /* as long as darkened: the rule that judges that cause; it and its entries may be NULL */
    uint32_t lost;                   /* swap: fixtures to be lit again; move: those that moved and worked. dark == lost: none is lit */
    int64_t *universes_dark; uint32_t universes_dark_count;  /* ids, rising: carried by a lane before, and by none afterwards */
    uint32_t *failing; uint32_t failing_count;               /* indexes, by id, of fixtures that did not land rightly before, without
                                      * a finding of the rule landing, and get one: neither touched nor dark */
    uint32_t *disturbed_fixtures; uint32_t disturbed_count;
    bool proved;                     /* the cost is proved least; otherwise: */
    uint32_t dark_at_least, disturbed_at_least, touches_at_least, settings_at_least;     /* what no plan can beat, in that order */
    bool has_bins;                   /* patch --tight: */
    uint32_t universes, universes_at_least;                  /* newly patched universes, and the lower bound */
    uint32_t codes, codes_at_least;  /* patch: new join codes, and the bound for these transmitters */
    const char *refused;             /* NULL, or why nothing can be done: then there are no steps */
    const char *refused_rule;        /* the rule that names the trouble, or NULL */
    struct plan *undisturbing;       /* swap: the best plan that disturbs nothing, when this one disturbs; else NULL */
    struct plan_memory *memory;      /* opaque: owns every text and array here */
};
void plan_free(struct plan *plan);

/* A lost universe that is not to be put on a transmitter. */
struct plan_never { int64_t universe; uint32_t transmitter; };

struct plan_swap_options {
    const uint32_t *out; uint32_t out_count;                 /* lost transmitters: one problem */
    const uint32_t *in; uint32_t in_count;                   /* the only ones that may change; none: all that remain */
    bool keep_working;                                       /* never disturb */
    bool touches_first;                                      /* touches count before disturbed fixtures, and fixtures may be disturbed
                                                              * to save touches; without effect with keep_working */
    const int64_t *first; uint32_t first_count;              /* universes whose dark fixtures count before all others */
    const struct plan_never *never; uint32_t never_count;    /* without effect on universes that a transmitter which stays carries */
    uint64_t step_limit;                                     /* of the search; 0: the default */
};
/** Best plan for the loss of `out`. Lexicographic cost: dark, disturbed, touches, settings, then the smallest list of
 * (transmitter id, lane) over the moved universes in ascending order, unassigned last.
 * A swap that can light nothing is a plan like any other: look at dark and lost. Refused is only what the show contradicts itself
 * about: where no fixture is lost, a lost transmitter with lanes but no code, with a lane that does not exist or is given two
 * universes; a lost transmitter's code that is not eight digits; a spare that reaches no fixture of the show, where nothing else
 * reaches one that is lost.
 * Exact (plan->proved) in all of 6,000 measured shows of up to 8 transmitters that may change and 8 lost universes, whatever their
 * reach, air modes and codes, in 2,996 of 3,000 with 16 lost universes, and in fewer of the larger ones; where all reach all and lanes
 * are enough mostly also with 64 transmitters and 512 universes (tests/bench/README.md, bench_swap_size and bench_swap). Where the step limit
 * ends the search first, the plan is the best found and the ..._at_least fields say what no plan can beat.
 * @return 0 (also for a plan that leaves fixtures dark, or is refused: look at plan->refused), RIG_EUSAGE, RIG_ENOMEM */
int plan_swap(const struct show *show, const struct plan_swap_options *options, struct plan **out, struct rig_why *why);

#define PLAN_CHOICES 24u             /* plans to choose among, at most */
/** Several plans for one loss, for somebody to choose among: each as plan_swap() gives it for these options or narrower ones, so
 * that each keeps every promise of a plan; each lights something, no two do the same. They are, as far as they differ:
 * - that of plan_swap() for these options, which is the only one when it is refused or lights nothing;
 * - the best that disturbs nothing, and the one with the fewest touches at the least dark, whatever it disturbs;
 * - for each universe and each tag of a fixture that the first plan leaves dark, the best that saves most of it;
 * - the best with the transmitters of one site alone, for each site;
 * - the best that leaves one of the transmitters alone that a plan of these sets up, and, where a plan costs anybody a walk or
 *   leaves fixtures dark, the best that puts one of its universes elsewhere or nowhere: so plan by plan, cheapest first, until
 *   PLAN_CHOICES are found or PLAN_TRIES plans are computed.
 * Of each but the first, `proved` and what cannot be beaten speak of the narrower options.
 * By rising cost; of equal ones the earlier of this list. So the first is that of plan_swap(), unless its search stopped early
 * (`proved` is false) and another turned out better.
 * @param plans  PLAN_CHOICES of them, the first *count are filled; free each with plan_free(). @return as plan_swap() */
int plan_swap_choices(const struct show *show, const struct plan_swap_options *options, struct plan *plans[PLAN_CHOICES],
                      uint32_t *count, struct rig_why *why);
#define PLAN_TRIES 64u               /* plans that are computed for it, at most */

struct plan_patch_options {
    bool all, tight, fill, by_id;    /* by_id: order by id, not hang order */
    uint32_t site;                   /* only fixtures of this site; SHOW_UNKNOWN: all */
    uint64_t step_limit;
};
/** First patch of what is not patched. If the rig does not fit, plan->dark > 0 names what does not, and there are no steps. */
int plan_patch(const struct show *show, const struct plan_patch_options *options, struct plan **out, struct rig_why *why);

struct plan_position { uint32_t fixture; struct position pos; };
struct plan_move_options {
    uint32_t from, to;                                       /* sites */
    const struct plan_position *positions; uint32_t position_count;      /* --pos; others lose their pos */
    uint64_t step_limit;
};
/** What happens when the fixtures of one site go to another, and the least-cost way to make it ready.
 * Every fixture of `from` gets the site `to`; only the transmitters of `to` may change, in the cost order of a swap. Those of
 * `from` stay on the air as they are, so that the rest of the rig at the old site keeps working: a universe of the moved fixtures
 * may be carried by one lane at the new site while a lane at the old site still carries it. Both send the same slots, and each
 * fixture hears one of them: no transmitter takes a code that another in its reach has, and no plan lands a fixture twice. A
 * universe that a transmitter of `to` carries already stays on that one lane of the new site.
 * Refused (plan->refused) if `from` has no fixture, if two transmitters with a join code of the moved fixtures are within reach of
 * each other or a moved fixture hears one of each site, or if fixtures worked before and
 * none of the moved ones would work at the new site.
 * @return as plan_swap() */
int plan_move(const struct show *show, const struct plan_move_options *options, struct plan **out, struct rig_why *why);

/** A changed and indexed copy of the show: the steps, and what follows from them (a transmitter that gets a code or a lane, and
 * then has both, is no spare any more; a universe that a lane or a fixture gets is listed in the show).
 * @param out  caller frees with show_free(). @return 0, RIG_EUSAGE (a plan that is refused, or a step that does not fit this
 * show), RIG_ENOMEM */
int plan_apply(const struct plan *plan, const struct show *show, struct show **out, struct rig_why *why);

/* ---- shared arithmetic, also used by rules ---- */

/** True for a code of eight digits that anybody tries first: one digit eight times, or a run up or down (which does not wrap). */
bool plan_code_guessable(const char *code);
/** A join code that neither a transmitter nor a fixture of the show has, not guessable, and not in `taken`: the first such of a
 * sequence that the show's name and date fix, so that two shows side by side begin at different codes.
 * @param code  9 octets, filled */
void plan_fresh_code(const struct show *show, const char *const *taken, uint32_t taken_count, char code[9]);
/** True if a spare can take the place of `lost` with 0 touches. @param spare filled when there is one (may be NULL) */
bool plan_spare_ready(const struct show *show, uint32_t lost, uint32_t *spare);

#endif
