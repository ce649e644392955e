/* An answer as steps that people carry out: lost transmitters off first, then the others in the order of
 * swap_order.c, then fixtures. The plan's numbers are counted from the steps. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "swap_write.h"

#define NAMED 256                    /* octets of an object's name in a sentence */

struct plan_step *swap__add_step(const struct writer *w, enum subject_kind kind, uint32_t index, const char *field,
                                 struct plan_value from, struct plan_value to)
{
    struct plan_step *step = plan__step(w->plan, kind, index, field);
    if (!step)
        return NULL;
    if (from.text)                   /* the show may go before the plan does */
        from.text = plan__text(w->plan, "%s", from.text);
    if (to.text)
        to.text = plan__text(w->plan, "%s", to.text);
    step->from = from;
    step->to = to;
    return (from.kind == PLAN_TEXT && !from.text) || (to.kind == PLAN_TEXT && !to.text) ? NULL : step;
}

static const char *name(const struct writer *w, enum subject_kind kind, uint32_t index, char text[NAMED])
{
    show_describe(w->swap->show, kind, index, text, NAMED);
    return text;
}

/* ---- lost transmitters ---- */

static const char *lanes_text(const struct writer *w, const struct transmitter *transmitter)
{
    char *text = plan__alloc(w->plan, (size_t)transmitter->lane_count * 44 + 1);
    size_t used = 0;
    for (uint32_t e = 0; text && e < transmitter->lane_count; e++)
        used += (size_t)snprintf(text + used, 44, "%s%" PRId64 ":%" PRId64, e ? " " : "", transmitter->lanes[e].lane,
                                 transmitter->lanes[e].universe);
    return text;
}

static int write_gone(const struct writer *w, uint32_t t)
{
    const struct transmitter *transmitter = &w->swap->show->transmitters[t];
    const char *why = "it is lost; keep it switched off until it is cleared";
    if (transmitter->code) {
        struct plan_step *step = swap__add_step(w, SUBJECT_TRANSMITTER, t, "code", plan__value(transmitter->code), plan__null());
        if (!step)
            return RIG_ENOMEM;
        step->clear = true;
        step->why = why;
    }
    if (transmitter->lane_count) {
        const char *lanes = lanes_text(w, transmitter);
        struct plan_step *step = lanes ? swap__add_step(w, SUBJECT_TRANSMITTER, t, "lanes", plan__value(lanes), plan__null()) : NULL;
        if (!step)
            return RIG_ENOMEM;
        step->clear = true;
        step->why = why;
    }
    return 0;
}

struct named { const char *id; uint32_t index; };

static int compare_named(const void *a, const void *b)
{
    const struct named *x = a, *y = b;
    int order = strcmp(x->id ? x->id : "", y->id ? y->id : "");
    return order ? order : (x->index > y->index) - (x->index < y->index);
}

static int write_all_gone(const struct writer *w)
{
    const struct show *show = w->swap->show;
    struct named *gone = plan__alloc(w->plan, (show->transmitter_count + (size_t)1) * sizeof *gone);
    uint32_t count = 0;
    int err = gone ? 0 : RIG_ENOMEM;
    for (uint32_t t = 0; gone && t < show->transmitter_count; t++)
        if (w->swap->problem->gone[t])
            gone[count++] = (struct named){ show->transmitters[t].id, t };
    if (count)
        qsort(gone, count, sizeof *gone, compare_named);
    for (uint32_t g = 0; g < count && !err; g++)
        err = write_gone(w, gone[g].index);
    return err;
}

/* ---- transmitters that stay ---- */

/* What it keeps out already, and every quiet band that this leaves open. */
static int write_keep_out(const struct writer *w, uint32_t t, uint32_t *settings)
{
    const struct show *show = w->swap->show;
    struct plan_value from, to;
    struct plan_step *step = plan__keep_out(w->plan, show, &show->transmitters[t], &from, &to)
                             ? swap__add_step(w, SUBJECT_TRANSMITTER, t, "keep_out", from, to) : NULL;
    if (!step)
        return RIG_ENOMEM;
    step->why = "it comes on the air: every quiet band is kept";
    ++*settings;
    return 0;
}

static uint32_t came_from(const struct writer *w, int64_t universe)
{
    uint32_t entries;
    const struct carrier *carriers = show_carriers(w->swap->show, universe, &entries);
    for (uint32_t i = 0; i < entries; i++)
        if (w->swap->problem->gone[carriers[i].transmitter])
            return carriers[i].transmitter;
    return SHOW_UNKNOWN;
}

/* A universe that is carried already changes its lane so that a lost one finds room. */
static const char *moved_why(const struct writer *w, uint32_t r, int64_t universe)
{
    const struct show *show = w->swap->show;
    char named[NAMED];
    uint32_t entries;
    const struct carrier *carriers = show_carriers(show, universe, &entries);
    for (uint32_t i = 0; i < entries; i++) {
        uint32_t t = carriers[i].transmitter;
        if (t == w->swap->receivers[r].transmitter)
            return plan__text(w->plan, "moved here from lane %" PRId64, show->transmitters[t].lanes[carriers[i].entry].lane);
        if (!show->transmitters[t].spare)
            return plan__text(w->plan, "moved here from %s, which makes room", name(w, SUBJECT_TRANSMITTER, t, named));
    }
    return "carried here";
}

static const char *lane_why(const struct writer *w, uint32_t r, int64_t from, int64_t to)
{
    const struct show *show = w->swap->show;
    char named[NAMED];
    uint32_t universe = show_find_universe(show, from), home = came_from(w, to);
    if (to == SHOW_NONE && universe == SHOW_UNKNOWN)
        return plan__text(w->plan, "universe %" PRId64 " must not stay on this lane", from);
    if (to == SHOW_NONE)
        return plan__text(w->plan, "%s must not stay on this lane", name(w, SUBJECT_UNIVERSE, universe, named));
    if (home != SHOW_UNKNOWN)
        return plan__text(w->plan, "taken over from %s", name(w, SUBJECT_TRANSMITTER, home, named));
    return w->swap->problem->before ? "for the fixtures that come here" : moved_why(w, r, to);
}

static int write_lane(const struct writer *w, uint32_t r, uint32_t l, uint32_t *settings)
{
    const struct swap_receiver *receiver = &w->swap->receivers[r];
    const struct swap_lane *lane = &receiver->lanes[l];
    int64_t to = swap__content(w->swap, w->item_of, receiver->first + l);
    int64_t top = transmitter_lane_count(&w->swap->show->transmitters[receiver->transmitter]);
    if (to == lane->universe || (to == SHOW_NONE && lane->number > top && lane->number > swap__option_of(w, r)->top))
        return 0;
    const char *field = plan__text(w->plan, "lane %" PRId64, lane->number), *why = lane_why(w, r, lane->universe, to);
    struct plan_step *step = field ? swap__add_step(w, SUBJECT_TRANSMITTER, receiver->transmitter, field, plan__number(lane->universe),
                                         plan__number(to)) : NULL;
    if (!step || !why)
        return RIG_ENOMEM;
    step->why = why;
    ++*settings;
    return 0;
}

static const char *code_why(const struct writer *w, uint32_t r, const char *code)
{
    const struct show *show = w->swap->show;
    char named[NAMED];
    uint32_t count, from = SHOW_UNKNOWN;
    const uint32_t *same = show_code_transmitters(show, code, &count);
    if (swap__option_of(w, r)->code == w->swap->receivers[r].fresh)
        return "a join code that nobody else has";
    for (uint32_t i = 0; i < count; i++)                     /* several may have it: one that is lost is meant */
        if (same[i] != w->swap->receivers[r].transmitter && (from == SHOW_UNKNOWN || w->swap->problem->gone[same[i]]))
            from = same[i];
    if (from != SHOW_UNKNOWN)
        return plan__text(w->plan, "takes the join code of %s, so that its receivers join by themselves",
                          name(w, SUBJECT_TRANSMITTER, from, named));
    return "receivers keyed to this join code join by themselves";
}

/* True if an answer may change the receiver. A spare that gets no lane stays as it is. */
static bool is_set(const struct writer *w, uint32_t r)
{
    const struct swap_receiver *receiver = &w->swap->receivers[r];
    if (!receiver->may_change)
        return false;
    if (!w->swap->show->transmitters[receiver->transmitter].spare)
        return true;
    for (uint32_t l = 0; swap__option_of(w, r)->used && l < receiver->lane_count; l++)
        if (w->item_of[receiver->first + l] < w->swap->item_count)
            return true;
    return false;
}

static int write_head(const struct writer *w, uint32_t r, uint32_t off_first, uint32_t *settings)
{
    uint32_t t = w->swap->receivers[r].transmitter;
    const struct transmitter *transmitter = &w->swap->show->transmitters[t];
    const struct swap_option *option = swap__option_of(w, r);
    const char *code = swap__final_code(w, r);
    if (code && code != transmitter->code) {
        const char *why = code_why(w, r, code);
        if (why && off_first != SHOW_UNKNOWN)
            why = plan__text(w->plan, "%s; switch %s off first, it has this code until it is set", why,
                             w->swap->show->transmitters[w->swap->receivers[off_first].transmitter].id);
        struct plan_step *step = swap__add_step(w, SUBJECT_TRANSMITTER, t, "code", plan__value(transmitter->code), plan__value(code));
        if (!step || !why)
            return RIG_ENOMEM;
        step->why = why;
        ++*settings;
    }
    if (option->air != transmitter->air) {
        struct plan_step *step = swap__add_step(w, SUBJECT_TRANSMITTER, t, "air", plan__value(air_name(transmitter->air)),
                                     plan__value(air_name(option->air)));
        if (!step)
            return RIG_ENOMEM;
        step->why = plan__text(w->plan, "%" PRId64 " lanes in %s", option->top, air_name(option->air));
        if (!step->why)
            return RIG_ENOMEM;
        ++*settings;
    }
    return option->keep_out ? write_keep_out(w, t, settings) : 0;
}

/* It comes on the air: say so with its last step. A spare none of whose lanes changes needs a step of its own, no setting. */
static int write_switch_on(const struct writer *w, uint32_t t, uint32_t first)
{
    struct plan *plan = w->plan;
    bool spare = w->swap->show->transmitters[t].spare, gets_lane = false;
    for (uint32_t s = first; s < plan->step_count; s++)
        gets_lane |= !strncmp(plan->steps[s].field, "lane ", 5) && plan->steps[s].to.kind == PLAN_NUMBER;
    if (spare && !gets_lane) {
        struct plan_step *step = swap__add_step(w, SUBJECT_TRANSMITTER, t, "spare", plan__value("true"), plan__null());
        if (!step)
            return RIG_ENOMEM;
        step->why = "its lanes are set already: switch it on";
        return 0;
    }
    if (first == plan->step_count)
        return 0;
    struct plan_step *last = &plan->steps[plan->step_count - 1];
    last->why = plan__text(plan, "%s; then switch it on, it %s", last->why, spare ? "is no spare any more" : "was off the air before");
    return last->why ? 0 : RIG_ENOMEM;
}

static int write_receiver(const struct writer *w, const struct swap_order *order, uint32_t *settings)
{
    uint32_t r = order->receiver;
    const struct swap_receiver *receiver = &w->swap->receivers[r];
    uint32_t first = w->plan->step_count;
    if (!is_set(w, r))
        return 0;
    int err = write_head(w, r, order->off_first, settings);
    for (uint32_t l = 0; l < receiver->lane_count && !err; l++)
        err = write_lane(w, r, l, settings);
    return err || receiver->on || !swap__option_of(w, r)->used ? err : write_switch_on(w, receiver->transmitter, first);
}

static int write_receivers(const struct writer *w)
{
    uint32_t count = w->swap->receiver_count;
    struct swap_order *order = plan__alloc(w->plan, (count + (size_t)1) * sizeof *order);
    bool *set = plan__alloc(w->plan, (count + (size_t)1) * sizeof *set);
    if (!order || !set)
        return RIG_ENOMEM;
    for (uint32_t r = 0; r < count; r++)
        set[r] = is_set(w, r);
    int err = swap__order(w->swap, w->answer->choice, set, order);
    for (uint32_t i = 0; i < count && !err; i++)
        err = write_receiver(w, &order[i], &w->plan->settings);
    return err;
}

/* ---- all of it ---- */

static uint32_t *list(const struct writer *w, bool (*holds)(const struct swap_fate *), uint32_t *count)
{
    uint32_t total = w->swap->lost_count + w->swap->working_count;
    uint32_t *indexes = plan__alloc(w->plan, (total + (size_t)1) * sizeof *indexes);
    *count = 0;
    for (uint32_t n = 0; indexes && n < total; n++)
        if (holds(&w->fates[n]))
            indexes[(*count)++] = swap__entry(w->swap, n)->index;
    return indexes ? plan__fixtures(w->plan, w->swap->show, indexes, *count) : NULL;
}

static bool is_dark(const struct swap_fate *fate) { return fate->dark; }
static bool is_touched(const struct swap_fate *fate) { return fate->touched; }
static bool is_disturbed(const struct swap_fate *fate) { return fate->disturbed; }

static int make_fates(struct writer *w)
{
    const struct swap *swap = w->swap;
    struct plan *plan = w->plan;
    uint32_t total = swap->lost_count + swap->working_count;
    w->item_of = plan__alloc(plan, (swap->column_count + (size_t)1) * sizeof *w->item_of);
    w->fates = plan__alloc(plan, (total + (size_t)1) * sizeof *w->fates);
    w->entry_of = plan__alloc(plan, (swap->show->fixture_count + (size_t)1) * sizeof *w->entry_of);
    if (!w->item_of || !w->fates || !w->entry_of)
        return RIG_ENOMEM;
    for (uint32_t c = 0; c < swap->column_count; c++)
        w->item_of[c] = swap->item_count;
    for (uint32_t i = 0; i < swap->item_count; i++)
        if (w->answer->column[i] < swap->column_count)
            w->item_of[w->answer->column[i]] = i;
    for (uint32_t n = 0; n < total; n++) {
        w->fates[n] = swap__fate(swap, w->answer->choice, w->answer->column, w->item_of, swap__entry(swap, n));
        w->entry_of[swap__entry(swap, n)->index] = n;
    }
    plan->darkened = list(w, is_dark, &plan->darkened_count);
    plan->touched = list(w, is_touched, &plan->touched_count);
    plan->disturbed_fixtures = list(w, is_disturbed, &plan->disturbed_count);
    plan->dark = plan->darkened_count;
    plan->touches = plan->touched_count;
    plan->disturbed = plan->disturbed_count;
    return plan->darkened && plan->touched && plan->disturbed_fixtures ? 0 : RIG_ENOMEM;
}

/* Fresh codes, in the order of the receivers that need one; the last one is for fixtures that are parked. */
static int make_codes(struct writer *w)
{
    uint32_t count = w->swap->receiver_count;
    const char **taken = plan__alloc(w->plan, (count + (size_t)1) * sizeof *taken);
    uint32_t used = 0;
    w->fresh = plan__alloc(w->plan, (count + (size_t)1) * sizeof *w->fresh);
    if (!taken || !w->fresh)
        return RIG_ENOMEM;
    for (uint32_t r = 0; r <= count; r++) {
        char code[9];
        if (r < count && (!is_set(w, r) || swap__option_of(w, r)->code != w->swap->receivers[r].fresh))
            continue;
        plan_fresh_code(w->swap->show, taken, used, code);
        w->fresh[r] = plan__text(w->plan, "%s", code);
        if (!w->fresh[r])
            return RIG_ENOMEM;
        taken[used++] = w->fresh[r];
    }
    return 0;
}

int swap__write(const struct swap *swap, const struct swap_answer *answer, struct plan *plan)
{
    struct writer w = { .swap = swap, .answer = answer, .plan = plan };
    int err = make_fates(&w);
    if (!err)
        err = make_codes(&w);
    if (!err)
        err = write_all_gone(&w);
    if (!err)
        err = write_receivers(&w);
    if (!err && swap->problem->before)
        err = swap__write_places(&w);
    return err ? err : swap__write_fixtures(&w);
}
