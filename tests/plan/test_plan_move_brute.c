/* The move planner against a search of everything, on small random shows with two sites. */
#include <math.h>

#include "swap_brute.h"

/* The show with the fixtures of "quay" at "barge", the problem that is left there. @return how many were lost by the move */
static uint32_t prepare_move(struct brute *b, const struct show *show, struct show *after, const struct plan_move_options *options)
{
    bool moved[64];
    uint32_t lost = 0;
    memset(b, 0, sizeof *b);
    b->show = after;
    b->move = true;
    for (uint32_t f = 0; f < after->fixture_count; f++) {
        moved[f] = !strcmp(after->fixtures[f].site, "quay");
        if (!moved[f])
            continue;
        after->fixtures[f].site = text_of(after, "barge");
        after->fixtures[f].pos = (struct position){ NAN, 0, 0 };
        for (uint32_t p = 0; p < options->position_count; p++)
            if (options->positions[p].fixture == f)
                after->fixtures[f].pos = options->positions[p].pos;
    }
    assert_int_equal(show_index(after), 0);
    for (uint32_t t = 0; t < after->transmitter_count; t++) {
        const struct transmitter *transmitter = &after->transmitters[t];
        b->in[t] = !strcmp(transmitter->site, "barge");
        b->was_on[t] = transmitter->code && !transmitter->spare;
        b->old_top[t] = transmitter_lane_count(transmitter);
        for (uint32_t e = 0; b->in[t] && e < transmitter->lane_count; e++)
            note(b->universes, &b->universe_count, transmitter->lanes[e].universe);
    }
    for (uint32_t f = 0; f < after->fixture_count; f++) {
        struct landing now = radio_landing(after, &after->fixtures[f]);
        b->before[f] = radio_landing(show, &show->fixtures[f]);
        b->excused[f] = b->before[f].state == LANDING_OTHER_UNIVERSE || now.state == LANDING_OTHER_UNIVERSE;
        if (b->before[f].state != LANDING_RIGHT || !moved[f])
            continue;
        if (now.state == LANDING_RIGHT && !b->in[now.transmitter]) {
            b->before[f] = now;      /* an old transmitter still serves it */
            continue;
        }
        b->lost[f] = true;
        lost++;
        note(b->universes, &b->universe_count, after->fixtures[f].universe);
        note(b->moved, &b->moved_count, after->fixtures[f].universe);
    }
    return lost;
}

/* Two lanes of the new site carry one universe: the definitions do not say what that means. */
static bool is_carried_twice(const struct show *show)
{
    for (int64_t universe = 1; universe < MOST; universe++) {
        uint32_t entries, carried = 0;
        const struct carrier *carriers = show_carriers(show, universe, &entries);
        for (uint32_t i = 0; i < entries; i++) {
            const struct transmitter *transmitter = &show->transmitters[carriers[i].transmitter];
            carried += !transmitter->spare && !strcmp(transmitter->site, "barge") &&
                       transmitter->lanes[carriers[i].entry].lane <= transmitter_lane_count(transmitter);
        }
        if (carried > 1)
            return true;
    }
    return false;
}

struct seen { uint32_t cases, refused, clashing, joined, touching, partly_dark; };

static void compare_case(uint64_t number, const struct show *show, const struct plan_move_options *options, struct seen *seen)
{
    static struct brute b;
    struct show *after = show_copy(show), *written;
    struct plan *plan;
    struct rig_why why;
    assert_non_null(after);
    uint32_t lost = prepare_move(&b, show, after, options);
    assert_int_equal(plan_move(show, options, &plan, &why), 0);
    seen->cases++;
    if (plan->refused) {
        seen->refused++;
        seen->clashing += plan->refused_rule && !strcmp(plan->refused_rule, "code-clash");
        if (plan->refused_rule && !strcmp(plan->refused_rule, "in-reach")) {
            set_up(&b, 0);
            assert_int_equal(b.best.dark, lost);
        }
        goto out;
    }
    set_up(&b, 0);
    assert_true(b.found);
    seen->joined += lost > 0 && plan->touches == 0 && plan->dark < lost;
    seen->touching += plan->touches > 0;
    seen->partly_dark += plan->dark > 0;
    if (!plan->proved || plan->dark != b.best.dark || plan->disturbed != b.best.disturbed || plan->touches != b.best.touches ||
        plan->settings != b.best.settings)
        fail_msg("show %llu: dark %u disturbed %u touches %u settings %u%s, least %u %u %u %u", (unsigned long long)number,
                 plan->dark, plan->disturbed, plan->touches, plan->settings, plan->proved ? "" : " (not proved)", b.best.dark,
                 b.best.disturbed, b.best.touches, b.best.settings);
    assert_int_equal(plan_apply(plan, show, &written, &why), 0);
    for (uint32_t m = 0; m < b.moved_count; m++)
        if (place_in(&b, written, b.moved[m]) != b.best.list[m])
            fail_msg("show %llu: universe %lld is not where the least list has it", (unsigned long long)number, (long long)b.moved[m]);
    for (uint32_t f = 0; f < show->fixture_count; f++)
        assert_string_equal(written->fixtures[f].site, after->fixtures[f].site);
    show_free(written);
out:
    plan_free(plan);
    show_free(after);
}

static void run(uint64_t from, uint32_t count, const struct recipe *recipe)
{
    struct seen seen = { 0 };
    const char *first = getenv("SWAP_CASE");
    if (first) {
        from = strtoull(first, NULL, 0);
        count = 1;
    }
    for (uint64_t number = from; number < from + count; number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = small_show(&dice, recipe);
        struct plan_position positions[16];
        struct plan_move_options options = { .from = 0, .to = 1, .positions = positions };
        for (uint32_t t = 1; t < show->transmitter_count; t++)
            if (chance(&dice, 60))
                show->transmitters[t].site = show->sites[1].id;
        assert_int_equal(show_index(show), 0);
        for (uint32_t f = 0; f < show->fixture_count; f++)
            if (!strcmp(show->fixtures[f].site, "quay") && recipe->far && chance(&dice, 60))
                positions[options.position_count++] = (struct plan_position){ f, { below(&dice, 100), 0, 0 } };
        if (!is_carried_twice(show))
            compare_case(number, show, &options, &seen);
        show_free(show);
    }
    printf("%u shows: %u refused, %u of them for a clash; %u join by themselves, %u with touches, %u partly dark\n", seen.cases,
           seen.refused, seen.clashing, seen.joined, seen.touching, seen.partly_dark);
    if (!first)
        assert_true(seen.touching > 100 && seen.joined > 100);
}

static void without_positions(void **state)
{
    (void)state;
    run(60001, 3000, &(struct recipe){ 3, 2, 3, 6, 12, false, 0, false });
}

static void with_some_positions(void **state)
{
    (void)state;
    run(70001, 3000, &(struct recipe){ 4, 1, 3, 6, 12, true, 0, false });
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(without_positions), cmocka_unit_test(with_some_positions) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
