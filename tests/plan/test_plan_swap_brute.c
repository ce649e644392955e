/* The swap planner against a search of everything: equal cost and equal list, on some 18,000 small random shows. */
#include "swap_brute.h"

/* What the cases of one test had in them: a test without the hard ones would prove little. */
struct seen { uint32_t cases, lit, partly_dark, disturbing, parking, no_touch, cut_short; };

static void note_seen(const struct plan *plan, struct seen *seen)
{
    uint32_t parks = 0;
    for (uint32_t i = 0; i < plan->touched_count; i++)
        for (uint32_t d = 0; d < plan->darkened_count; d++)
            parks += plan->touched[i] == plan->darkened[d];
    seen->lit++;
    seen->partly_dark += plan->dark > 0;
    seen->disturbing += plan->disturbed > 0;
    seen->parking += parks > 0;
    seen->no_touch += plan->touches == 0 && plan->settings > 0;
}

/* < 0 if the first cost is less */
static int compare_costs(const uint32_t *a, const uint32_t *b, bool touches_first)
{
    static const int orders[][4] = { { 0, 1, 2, 3 }, { 0, 2, 1, 3 } };
    for (int k = 0; k < 4; k++) {
        int part = orders[touches_first][k];
        if (a[part] != b[part])
            return a[part] < b[part] ? -1 : 1;
    }
    return 0;
}

/* A search that is cut short somewhere: its plan costs no less than the least, and what it says that no plan can beat, no plan
 * does. */
static void compare_short(uint64_t number, uint64_t limit, const struct show *show, const struct plan_swap_options *options,
                          const struct brute *b, struct seen *seen)
{
    struct plan_swap_options shorter = *options;
    struct plan *plan;
    shorter.step_limit = limit;
    assert_int_equal(plan_swap(show, &shorter, &plan, NULL), 0);
    uint32_t cost[] = { plan->dark, plan->disturbed, plan->touches, plan->settings };
    uint32_t bound[] = { plan->dark_at_least, plan->disturbed_at_least, plan->touches_at_least, plan->settings_at_least };
    uint32_t least[] = { b->best.dark, b->best.disturbed, b->best.touches, b->best.settings };
    seen->cut_short += !plan->proved;
    int over = compare_costs(cost, least, options->touches_first);
    bool dearer = options->first_count || over >= 0;         /* of universes that come first the parts do not tell */
    if (compare_costs(bound, least, options->touches_first) > 0 || !dearer || (plan->proved && over))
        fail_msg("show %llu, %llu steps: %u %u %u %u, at least %u %u %u %u, least %u %u %u %u", (unsigned long long)number,
                 (unsigned long long)shorter.step_limit, cost[0], cost[1], cost[2], cost[3], bound[0], bound[1], bound[2], bound[3],
                 least[0], least[1], least[2], least[3]);
    plan_free(plan);
}

static void compare_case(uint64_t number, const struct show *show, const struct plan_swap_options *options, struct seen *seen)
{
    static struct brute b;
    struct plan *plan;
    struct rig_why why;
    prepare_swap(&b, show, options);
    set_up(&b, 0);
    assert_true(b.found);
    assert_int_equal(plan_swap(show, options, &plan, &why), 0);
    uint32_t lost = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        lost += b.before[f].state == LANDING_RIGHT && b.gone[b.before[f].transmitter];
    if (plan->refused) {
        if (b.best.dark != lost)
            fail_msg("show %llu: refused (%s), but only %u of %u must stay dark", (unsigned long long)number, plan->refused,
                     b.best.dark, lost);
        plan_free(plan);
        return;
    }
    compare_short(number, 1 + number * 7919 % 3000, show, options, &b, seen);
    compare_short(number, 4000, show, options, &b, seen);    /* so few that the search by prices must often finish it */
    note_seen(plan, seen);
    if (!plan->proved || plan->dark != b.best.dark || plan->disturbed != b.best.disturbed || plan->touches != b.best.touches ||
        plan->settings != b.best.settings)
        fail_msg("show %llu: dark %u disturbed %u touches %u settings %u%s, least %u %u %u %u", (unsigned long long)number,
                 plan->dark, plan->disturbed, plan->touches, plan->settings, plan->proved ? "" : " (not proved)", b.best.dark,
                 b.best.disturbed, b.best.touches, b.best.settings);
    struct show *after;
    if (plan_apply(plan, show, &after, &why))
        fail_msg("show %llu: %s", (unsigned long long)number, why.text);
    for (uint32_t m = 0; m < b.moved_count; m++)
        if (place_in(&b, after, b.moved[m]) != b.best.list[m])
            fail_msg("show %llu: universe %lld is at %llx, the least list has it at %llx", (unsigned long long)number,
                     (long long)b.moved[m], (unsigned long long)place_in(&b, after, b.moved[m]), (unsigned long long)b.best.list[m]);
    show_free(after);
    plan_free(plan);
}

/* A universe that two transmitters carry is the patch's trouble, not a swap's: the definitions do not say what it means. */
static bool is_carried_twice(const struct show *show)
{
    for (int64_t universe = 1; universe < MOST; universe++) {
        uint32_t entries, carried = 0;
        const struct carrier *carriers = show_carriers(show, universe, &entries);
        for (uint32_t i = 0; i < entries; i++) {
            const struct transmitter *transmitter = &show->transmitters[carriers[i].transmitter];
            carried += !transmitter->spare && transmitter->lanes[carriers[i].entry].lane <= transmitter_lane_count(transmitter);
        }
        if (carried > 1)
            return true;
    }
    return false;
}

enum asks { PLAIN, TOUCHES_FIRST, NEVER, FIRST };

static void run_asking(enum asks asks, uint64_t from, uint32_t count, const struct recipe *recipe, uint32_t out_most, uint32_t hard)
{
    struct plan_never never[4];
    int64_t comes_first[2];
    struct seen seen = { 0 };
    const char *first = getenv("SWAP_CASE");
    if (first) {
        from = strtoull(first, NULL, 0);
        count = 1;
    }
    for (uint64_t number = from; number < from + count; number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = small_show(&dice, recipe);
        uint32_t out[2] = { 0, 1 }, in[MOST], in_count = 0;
        struct plan_swap_options options = { .out = out, .out_count = 1, .in = in };
        options.out_count = out_most > 1 && show->transmitter_count > 2 && chance(&dice, 40) ? 2 : 1;
        options.keep_working = chance(&dice, 30);
        if (chance(&dice, 20))
            for (uint32_t t = options.out_count; t < show->transmitter_count; t++)
                if (chance(&dice, 60))
                    in[in_count++] = t;
        options.in_count = in_count;
        options.touches_first = asks == TOUCHES_FIRST;
        options.keep_working &= asks != TOUCHES_FIRST;
        options.never = never;
        options.never_count = asks == NEVER ? 1 + below(&dice, 4) : 0;
        for (uint32_t n = 0; n < options.never_count; n++)
            never[n] = (struct plan_never){ 1 + below(&dice, recipe->universes), below(&dice, show->transmitter_count) };
        options.first = comes_first;
        options.first_count = asks == FIRST ? 1 + below(&dice, 2) : 0;
        for (uint32_t n = 0; n < options.first_count; n++)
            comes_first[n] = 1 + below(&dice, recipe->universes);
        if (!is_carried_twice(show)) {
            seen.cases++;
            compare_case(number, show, &options, &seen);
        }
        show_free(show);
    }
    printf("%u shows: %u lit again, %u of them partly dark, %u disturbing, %u parking, %u without a touch, %u cut short\n", seen.cases,
           seen.lit, seen.partly_dark, seen.disturbing, seen.parking, seen.no_touch, seen.cut_short);
    if (!first)
        assert_true(seen.lit * 2 > seen.cases && seen.partly_dark > 20 && seen.no_touch > 50 && seen.disturbing >= hard &&
                    seen.parking >= hard && seen.cut_short >= hard);
}

static void run(uint64_t from, uint32_t count, const struct recipe *recipe, uint32_t out_most, uint32_t hard)
{
    run_asking(PLAIN, from, count, recipe, out_most, hard);
}

static void one_site_two_receivers(void **state)
{
    (void)state;
    run(1, 3000, &(struct recipe){ 3, 2, 3, 5, 12, false, 0, false }, 1, 0);
}

static void along_a_line(void **state)
{
    (void)state;
    run(10001, 4000, &(struct recipe){ 3, 2, 3, 6, 15, true, 0, false }, 1, 0);
}

static void two_lost_at_once(void **state)
{
    (void)state;
    run(20001, 2000, &(struct recipe){ 4, 1, 3, 6, 15, true, 0, false }, 2, 0);
}

static void three_receivers(void **state)
{
    (void)state;
    run(30001,1500, &(struct recipe){ 4, 1, 3, 6, 10, true, 0, false }, 1, 0);
}

/* More universes than lanes: what stays dark, who is parked, who makes room. */
static void few_lanes_left(void **state)
{
    (void)state;
    run(40001, 2500, &(struct recipe){ 3, 1, 5, 8, 10, true, 0, true }, 1, 10);
}

static void few_lanes_left_on_one_site(void **state)
{
    (void)state;
    run(50001, 1500, &(struct recipe){ 3, 1, 5, 8, 10, false, 0, true }, 1, 5);
}

/* One code on several transmitters: clashes that are there already, fixtures that land twice, and what happens when one leaves. */
static void one_code_on_many(void **state)
{
    (void)state;
    run(90001, 2500, &(struct recipe){ 4, 1, 4, 8, 30, true, 65, false }, 1, 0);
}

/* Among them shows where a second transmitter on a lost code keeps a failing fixture from landing in another universe. */
static void two_lost_and_three_receivers(void **state)
{
    (void)state;
    run(120001, 700, &(struct recipe){ 4, 1, 3, 6, 10, true, 0, false }, 2, 0);
}

/* Touches before disturbed fixtures: more plans disturb. */
static void touches_count_first(void **state)
{
    (void)state;
    run_asking(TOUCHES_FIRST, 110001, 1500, &(struct recipe){ 3, 2, 3, 6, 15, true, 0, false }, 1, 0);
    run_asking(TOUCHES_FIRST, 112001, 1000, &(struct recipe){ 3, 1, 5, 8, 10, true, 0, true }, 1, 5);
}

static void some_universes_are_kept_off(void **state)
{
    (void)state;
    run_asking(NEVER, 120001, 1500, &(struct recipe){ 4, 1, 3, 6, 10, true, 0, false }, 2, 0);
    run_asking(NEVER, 122001, 1000, &(struct recipe){ 3, 1, 5, 8, 10, true, 0, true }, 1, 3);
}

static void some_universes_come_first(void **state)
{
    (void)state;
    run_asking(FIRST, 125001, 1000, &(struct recipe){ 3, 1, 5, 8, 10, true, 0, true }, 1, 5);
    run_asking(FIRST, 126001, 800, &(struct recipe){ 4, 1, 4, 8, 10, true, 0, true }, 2, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_site_two_receivers),
        cmocka_unit_test(along_a_line),
        cmocka_unit_test(two_lost_at_once),
        cmocka_unit_test(three_receivers),
        cmocka_unit_test(few_lanes_left),
        cmocka_unit_test(few_lanes_left_on_one_site),
        cmocka_unit_test(one_code_on_many),
        cmocka_unit_test(two_lost_and_three_receivers),
        cmocka_unit_test(touches_count_first),
        cmocka_unit_test(some_universes_are_kept_off),
        cmocka_unit_test(some_universes_come_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
