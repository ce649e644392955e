/* The steps for fixtures: where a move puts them, and what is keyed into them. */
#include <inttypes.h>
#include <string.h>

#include "swap_write.h"

static const char *fixture_why(const struct writer *w, uint32_t n)
{
    const struct swap *swap = w->swap;
    const struct swap_fixture *fixture = swap__entry(swap, n);
    const struct swap_fate *fate = &w->fates[n];
    int64_t universe = swap->items[fixture->item].universe;
    if (fate->dark && fate->column == SHOW_UNKNOWN)
        return plan__text(w->plan, "it stays dark: its old settings would land it in another universe than %" PRId64, universe);
    if (fate->dark)
        return plan__text(w->plan, "it stays dark: its old settings would land it in universe %" PRId64,
                          swap__content(swap, w->item_of, fate->column));
    const struct swap_receiver *receiver = &swap->receivers[swap->column_receiver[fate->column]];
    return plan__text(w->plan, "universe %" PRId64 " is on %s, lane %" PRId64, universe, swap->show->transmitters[receiver->transmitter].id,
                      receiver->lanes[swap->column_lane[fate->column]].number);
}

static int write_key(const struct writer *w, uint32_t index, const char *field, struct plan_value from, struct plan_value to,
                     const char *why)
{
    struct plan_step *step = swap__add_step(w, SUBJECT_FIXTURE, index, field, from, to);
    if (!step)
        return RIG_ENOMEM;
    step->why = why;
    return 0;
}

static int write_fixture(const struct writer *w, uint32_t n)
{
    const struct swap *swap = w->swap;
    const struct swap_fixture *fixture = swap__entry(swap, n);
    const struct swap_fate *fate = &w->fates[n];
    const char *why = fixture_why(w, n), *code = w->fresh[swap->receiver_count];
    enum air air = fixture->air;
    int64_t lane = fixture->lane;
    int err = why ? 0 : RIG_ENOMEM;
    if (!fate->dark) {
        uint32_t r = swap->column_receiver[fate->column];
        code = swap__final_code(w, r);
        air = swap__option_of(w, r)->air;
        lane = swap->receivers[r].lanes[swap->column_lane[fate->column]].number;
    }
    if (!err && code != fixture->code)
        err = write_key(w, fixture->index, "code", plan__value(fixture->code), plan__value(code), why);
    if (!err && air != fixture->air)
        err = write_key(w, fixture->index, "air", plan__value(air_name(fixture->air)), plan__value(air_name(air)), why);
    if (!err && lane != fixture->lane)
        err = write_key(w, fixture->index, "lane", plan__number(fixture->lane), plan__number(lane), why);
    return err;
}

static const char *position_text(const struct writer *w, const struct position *pos)
{
    double parts[] = { pos->x_m, pos->y_m, pos->z_m };
    char *text = plan__alloc(w->plan, 3 * (NUMBER_TEXT + 1));
    size_t used = 0;
    for (int i = 0; text && i < 3; i++) {
        if (i)
            text[used++] = ' ';
        used += number_format(parts[i], text + used);
    }
    return text;
}

static bool same_place(const struct position *a, const struct position *b)
{
    if (!position_given(a) || !position_given(b))
        return position_given(a) == position_given(b);
    return a->x_m == b->x_m && a->y_m == b->y_m && a->z_m == b->z_m;
}

/* A move: the fixture stands at another site. */
static int write_place(const struct writer *w, uint32_t index)
{
    const struct fixture *before = &w->swap->problem->before->fixtures[index], *after = &w->swap->show->fixtures[index];
    int err = 0;
    if (before->site != after->site && strcmp(before->site ? before->site : "", after->site ? after->site : "") != 0)
        err = write_key(w, index, "site", plan__value(before->site), plan__value(after->site), "it stands at the other site");
    if (err || same_place(&before->pos, &after->pos))
        return err;
    bool had = position_given(&before->pos), has = position_given(&after->pos);
    const char *from = had ? position_text(w, &before->pos) : NULL, *to = has ? position_text(w, &after->pos) : NULL;
    if ((had && !from) || (has && !to))
        return RIG_ENOMEM;
    return write_key(w, index, "pos", plan__value(from), plan__value(to),
                     has ? "where it stands now" : "where it stands is not known yet");
}

int swap__write_places(const struct writer *w)
{
    const struct show *show = w->swap->show;
    uint32_t *all = plan__alloc(w->plan, (show->fixture_count + (size_t)1) * sizeof *all);
    int err = 0;
    for (uint32_t f = 0; all && f < show->fixture_count; f++)
        all[f] = f;
    uint32_t *sorted = all ? plan__fixtures(w->plan, show, all, show->fixture_count) : NULL;
    for (uint32_t f = 0; sorted && f < show->fixture_count && !err; f++)
        err = write_place(w, sorted[f]);
    return sorted ? err : RIG_ENOMEM;
}

int swap__write_fixtures(const struct writer *w)
{
    struct plan *plan = w->plan;
    int err = 0;
    for (int parked = 0; parked <= 1; parked++)
        for (uint32_t i = 0; i < plan->touched_count && !err; i++) {
            uint32_t n = w->entry_of[plan->touched[i]];
            if (w->fates[n].dark == (bool)parked)
                err = write_fixture(w, n);
        }
    return err;
}
