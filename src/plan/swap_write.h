/* Shared by the writers of an answer: transmitters (swap_write.c) and fixtures (swap_write_fixtures.c). */
#ifndef RIGCALL_PLAN_SWAP_WRITE_H
#define RIGCALL_PLAN_SWAP_WRITE_H

#include "swap_internal.h"

struct writer {
    const struct swap *swap;
    const struct swap_answer *answer;
    struct plan *plan;
    uint32_t *item_of;               /* of each column */
    const char **fresh;              /* of each receiver; the last is for parked fixtures */
    struct swap_fate *fates;         /* lost fixtures, then working ones */
    uint32_t *entry_of;              /* of each fixture of the show: its fate, or SHOW_UNKNOWN */
};

/* A fate's fixture: lost ones, then working ones. */
static inline const struct swap_fixture *swap__entry(const struct swap *swap, uint32_t n)
{
    return n < swap->lost_count ? &swap->lost[n] : &swap->working[n - swap->lost_count];
}
static inline const struct swap_option *swap__option_of(const struct writer *w, uint32_t receiver)
{
    return &w->swap->receivers[receiver].options[w->answer->choice[receiver]];
}
static inline const char *swap__final_code(const struct writer *w, uint32_t receiver)
{
    const struct swap_option *option = swap__option_of(w, receiver);
    return option->code == w->swap->receivers[receiver].fresh ? w->fresh[receiver] : option->code;
}
/** Append a step; texts are copied, as the show may go before the plan does. @return NULL when memory is short */
struct plan_step *swap__add_step(const struct writer *w, enum subject_kind kind, uint32_t index, const char *field,
                                 struct plan_value from, struct plan_value to);
/** A move: where fixtures stand afterwards, by id. @return 0 or RIG_ENOMEM */
int swap__write_places(const struct writer *w);
/** What is keyed into fixtures, by id; those that are only parked come last. @return 0 or RIG_ENOMEM */
int swap__write_fixtures(const struct writer *w);

#endif
