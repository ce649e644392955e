/* What every plan of a swap promises, looked up in the show before and the show after it: the lists and sums of the plan are true,
 * no fixture lands in another universe, nothing that works goes dark, no code clashes that did not, quiet bands are kept, every
 * universe is on one lane, and the steps are in a safe order. */
#ifndef TESTS_PLAN_SWAP_PROMISES_H
#define TESTS_PLAN_SWAP_PROMISES_H

#include "swap_show.h"

static inline int64_t on_lane(const struct transmitter *transmitter, int64_t lane)
{
    for (uint32_t e = 0; e < transmitter->lane_count; e++)
        if (transmitter->lanes[e].lane == lane)
            return transmitter->lanes[e].universe;
    return SHOW_NONE;
}

static inline bool is_listed(const uint32_t *list, uint32_t count, uint32_t fixture)
{
    for (uint32_t i = 0; i < count; i++)
        if (list[i] == fixture)
            return true;
    return false;
}

/* Settings counted from the two shows alone. */
static inline uint32_t count_settings(const struct show *before, const struct show *after, const bool *gone)
{
    uint32_t settings = 0;
    for (uint32_t t = 0; t < before->transmitter_count; t++) {
        const struct transmitter *x = &before->transmitters[t], *y = &after->transmitters[t];
        if (gone[t])
            continue;
        settings += (x->code ? !y->code || strcmp(x->code, y->code) : y->code != NULL);
        settings += x->air != y->air;
        settings += x->keep_out_count != y->keep_out_count;
        for (int64_t lane = 1; lane <= 32; lane++)
            settings += on_lane(x, lane) != on_lane(y, lane);
    }
    return settings;
}

static inline uint32_t carried(const struct show *show, int64_t universe, const bool *gone)
{
    uint32_t count = 0;
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        for (int64_t lane = 1; !(gone && gone[t]) && !show->transmitters[t].spare && lane <= transmitter_lane_count(&show->transmitters[t]); lane++)
            count += on_lane(&show->transmitters[t], lane) == universe;
    return count;
}

static inline void check_fixtures(const struct show *before, const struct show *loss, const struct show *after, const struct plan *plan,
                                  const bool *gone)
{
    uint32_t dark = 0, disturbed = 0, touches = 0;
    for (uint32_t f = 0; f < before->fixture_count; f++) {
        const struct fixture *x = &before->fixtures[f], *y = &after->fixtures[f];
        struct landing old = radio_landing(before, x), now = radio_landing(after, y), lost = radio_landing(loss, &loss->fixtures[f]);
        bool keyed = (x->code ? strcmp(x->code, y->code) != 0 : y->code != NULL) || x->air != y->air || x->lane != y->lane;
        assert_int_equal(x->universe, y->universe);
        assert_int_equal(x->address, y->address);
        assert_int_equal(keyed, is_listed(plan->touched, plan->touched_count, f));
        touches += keyed;
        if (now.state == LANDING_OTHER_UNIVERSE)
            assert_true(old.state == LANDING_OTHER_UNIVERSE || lost.state == LANDING_OTHER_UNIVERSE);
        if (old.state != LANDING_RIGHT) {
            assert_false(keyed);
            continue;
        }
        bool is_dark = now.state != LANDING_RIGHT;
        assert_int_equal(is_dark, is_listed(plan->darkened, plan->darkened_count, f));
        dark += is_dark;
        if (gone[old.transmitter])
            continue;
        assert_false(is_dark);
        bool moved = keyed || now.transmitter != old.transmitter;
        assert_int_equal(moved, is_listed(plan->disturbed_fixtures, plan->disturbed_count, f));
        disturbed += moved;
    }
    assert_int_equal(plan->dark, dark);
    assert_int_equal(plan->disturbed, disturbed);
    assert_int_equal(plan->touches, touches);
}

static inline void check_transmitters(const struct show *before, const struct show *after, const struct plan *plan, const bool *gone)
{
    assert_int_equal(plan->settings, count_settings(before, after, gone));
    for (uint32_t u = 0; u < before->universe_count; u++) {
        int64_t universe = before->universes[u].id;
        uint32_t had = carried(before, universe, gone), has = carried(after, universe, NULL);
        assert_true(has <= (had > 1 ? had : 1) && (had == 0 || has >= 1));
    }
    for (uint32_t t = 0; t < after->transmitter_count; t++) {
        const struct transmitter *x = &before->transmitters[t], *y = &after->transmitters[t];
        bool first_lane = x->lane_count == 0 && y->lane_count > 0;
        for (uint32_t q = 0; first_lane && q < after->quiet_count; q++)
            assert_true(radio_quiet_kept(y, &after->quiet[q], NULL));
        assert_true(!first_lane || radio_hops(y) >= RADIO_FLOOR);
        for (uint32_t e = 0; e < y->lane_count; e++)
            assert_true(y->lanes[e].lane <= transmitter_lane_count(y) || on_lane(x, y->lanes[e].lane) == y->lanes[e].universe);
        for (uint32_t o = t + 1; o < after->transmitter_count; o++) {
            const struct transmitter *z = &after->transmitters[o];
            if (!y->code || !z->code || y->spare || z->spare || radio_clash(y, z, NULL) != RADIO_CLASH_FAIL)
                continue;
            assert_false(x->spare || before->transmitters[o].spare);
            assert_int_equal(radio_clash(x, &before->transmitters[o], NULL), RADIO_CLASH_FAIL);
        }
    }
    for (uint32_t s = 1; s < plan->step_count; s++)          /* fixtures come after transmitters, what is lost before all */
        assert_true(plan->steps[s].subject.kind == SUBJECT_FIXTURE || plan->steps[s - 1].subject.kind == SUBJECT_TRANSMITTER);
    for (uint32_t s = 1; s < plan->step_count; s++)
        assert_true(!plan->steps[s].clear || plan->steps[s - 1].clear);
}

static inline bool clash_on_air(const struct show *show, uint32_t a, uint32_t b)
{
    const struct transmitter *x = &show->transmitters[a], *y = &show->transmitters[b];
    return x->code && y->code && !x->spare && !y->spare && radio_clash(x, y, NULL) == RADIO_CLASH_FAIL;
}

/* A step so far says that one of two transmitters is to be switched off first. */
static inline bool is_told_off(const struct plan *plan, uint32_t steps, const struct show *show, uint32_t a, uint32_t b)
{
    char one[64], other[64];
    snprintf(one, sizeof one, "switch %s off first", show->transmitters[a].id);
    snprintf(other, sizeof other, "switch %s off first", show->transmitters[b].id);
    for (uint32_t s = 0; s < steps; s++)
        if (strstr(plan->steps[s].why, one) || strstr(plan->steps[s].why, other))
            return true;
    return false;
}

/* Carried out one transmitter after the other, no join code is on the air twice in between, unless a step says what to switch off. */
static inline void check_order(const struct show *before, const struct plan *plan)
{
    struct plan part = *plan;
    for (uint32_t s = 1; s <= plan->step_count && plan->steps[s - 1].subject.kind == SUBJECT_TRANSMITTER; s++) {
        struct show *now;
        if (s < plan->step_count && plan->steps[s].subject.kind == SUBJECT_TRANSMITTER &&
            plan->steps[s].subject.index == plan->steps[s - 1].subject.index)
            continue;
        part.step_count = s;
        assert_int_equal(plan_apply(&part, before, &now, NULL), 0);
        for (uint32_t a = 0; a < now->transmitter_count; a++)
            for (uint32_t b = a + 1; b < now->transmitter_count; b++)
                assert_true(!clash_on_air(now, a, b) || clash_on_air(before, a, b) || is_told_off(plan, s, now, a, b));
        show_free(now);
    }
}

static inline void check_plan(const struct show *show, const struct plan_swap_options *options, const struct plan *plan)
{
    bool gone[32] = { false };
    struct show *after, *loss = show_copy(show);
    assert_non_null(loss);
    for (uint32_t i = 0; i < options->out_count; i++) {
        gone[options->out[i]] = true;
        loss->transmitters[options->out[i]].code = NULL;
    }
    assert_int_equal(show_index(loss), 0);
    assert_int_equal(plan_apply(plan, show, &after, NULL), 0);
    check_fixtures(show, loss, after, plan, gone);
    check_transmitters(show, after, plan, gone);
    check_order(show, plan);
    assert_true(plan->dark_at_least <= plan->dark);
    show_free(after);
    show_free(loss);
}

#endif
