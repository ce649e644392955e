/* Swaps worked out by hand, refusals, and properties that hold for every plan. */
#include "swap_hand.h"
#include "swap_promises.h"

/* ---- shows by hand ---- */

static const struct plan_step *find_step(const struct plan *plan, uint32_t transmitter, const char *field)
{
    for (uint32_t s = 0; s < plan->step_count; s++)
        if (plan->steps[s].subject.kind == SUBJECT_TRANSMITTER && plan->steps[s].subject.index == transmitter &&
            !strcmp(plan->steps[s].field, field))
            return &plan->steps[s];
    return NULL;
}

/* Common practice, no source: a spare that is given code and lanes of what it replaces costs no touch.
 * Settings: the code and eight lanes. */
static void a_spare_takes_code_and_lanes(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 4, AIR_DUAL, 1, 8);
    add_transmitter(show, "T9", NULL, 4, AIR_DUAL, 0, 0)->spare = true;
    for (int64_t u = 1; u <= 8; u++)
        add_fixtures(show, 0, u, u, u * 10, 5);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 0, 0, 0, 9);
    assert_int_equal(plan->step_count, 11);                  /* two clear the lost one */
    assert_true(plan->steps[0].clear && !strcmp(plan->steps[0].field, "code") && plan->steps[0].to.kind == PLAN_NULL);
    assert_true(plan->steps[1].clear && !strcmp(plan->steps[1].field, "lanes"));
    assert_string_equal(plan->steps[1].from.text, "1:1 2:2 3:3 4:4 5:5 6:6 7:7 8:8");
    assert_string_equal(find_step(plan, 1, "code")->to.text, "40718263");
    assert_int_equal(find_step(plan, 1, "lane 3")->to.number, 3);
    assert_int_equal(find_step(plan, 1, "lane 3")->from.kind, PLAN_NULL);
    plan_free(plan);
    show_free(show);
}

/* Set up ahead of time: nothing to set, nobody to visit, one step that says to switch it on. */
static void a_spare_that_is_set_up_only_comes_on(void **state)
{
    (void)state;
    struct show *show = new_show(), *after;
    add_transmitter(show, "T1", "40718263", 2, AIR_DUAL, 1, 4);
    add_transmitter(show, "T9", "40718263", 2, AIR_DUAL, 1, 4)->spare = true;
    add_fixtures(show, 0, 2, 2, 10, 3);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 0, 0, 0, 0);
    assert_int_equal(plan->step_count, 3);
    assert_non_null(find_step(plan, 1, "spare"));
    assert_int_equal(plan_apply(plan, show, &after, NULL), 0);
    assert_false(after->transmitters[1].spare);
    assert_int_equal(radio_landing(after, &after->fixtures[0]).state, LANDING_RIGHT);
    show_free(after);
    plan_free(plan);
    show_free(show);
}

/* Eight universes, universe u with u fixtures, and four lanes. Dark: 1 + 2 + 3 + 4 = 10. With the lost code the ten would land in
 * universes 5..8 and had to be parked (26 + 10 touches); with a fresh code only the 5 + 6 + 7 + 8 = 26 are keyed anew.
 * Settings: the code and four lanes. */
static void a_smaller_spare_lights_the_most_and_parks_nobody(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 4, AIR_DUAL, 1, 8);
    add_transmitter(show, "T9", NULL, 2, AIR_DUAL, 0, 0)->spare = true;
    for (int64_t u = 1; u <= 8; u++)
        add_fixtures(show, 0, u, u, u * 10, (uint32_t)u);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 10, 0, 26, 5);
    assert_int_equal(find_step(plan, 1, "lane 1")->to.number, 5);      /* ties: universe 5 to the first lane, and so on */
    assert_int_equal(find_step(plan, 1, "lane 4")->to.number, 8);
    assert_string_not_equal(find_step(plan, 1, "code")->to.text, "40718263");
    assert_string_equal(plan->dark_whys[0], "no lane that could serve it is left for universe 1");
    plan_free(plan);
    show_free(show);
}

/* Universes 1 and 2 lost, keyed to lanes 1 and 2, 2 and 3 fixtures; one lane in single, the air mode of both. The lost code with
 * universe 2 on lane 1 would be 3 touches and 2 parked; with universe 1, dark 3. A fresh code: dark 2, touches 3, settings 2. */
static void one_lane_for_two_universes(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 2, AIR_SINGLE, 1, 2);
    add_transmitter(show, "T9", NULL, 1, AIR_SINGLE, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 2);
    add_fixtures(show, 0, 2, 2, 20, 3);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 2, 0, 3, 2);
    plan_free(plan);
    show_free(show);
}

/* The spare may not take a fresh code where its own is there, but then own and fresh cost 0 and 1: three fixtures of the one lost
 * universe on a live transmitter with a free lane (1 setting, 3 touches) or on a spare that takes the code (2 settings, 0). */
static void touches_come_before_settings(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 2, AIR_DUAL, 1, 1);
    add_transmitter(show, "T2", "51829374", 2, AIR_DUAL, 2, 3);
    add_transmitter(show, "T9", "62930485", 2, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 3);
    add_fixtures(show, 1, 1, 2, 20, 3);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 0, 0, 0, 2);
    plan_free(plan);
    const uint32_t first = 0, second = 1;
    plan = swap_of(show, &(struct plan_swap_options){ .out = &first, .out_count = 1, .in = &second, .in_count = 1 });
    assert_cost(plan, 0, 0, 3, 1);
    assert_int_equal(find_step(plan, 1, "lane 4")->to.number, 1);
    plan_free(plan);
    show_free(show);
}

/* The first lane of a transmitter brings the quiet bands into its keep_out: one setting more. */
static void the_first_lane_keeps_quiet_bands(void **state)
{
    (void)state;
    struct show *show = new_show(), *after;
    struct band *band = show_add_quiet(show);
    band->from_mhz = 2402;
    band->to_mhz = 2423;
    add_transmitter(show, "T1", "40718263", 1, AIR_DUAL, 1, 1);
    add_transmitter(show, "T9", NULL, 1, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 3);
    struct plan *plan = lose_first(show);
    assert_cost(plan, 0, 0, 0, 3);
    assert_string_equal(find_step(plan, 1, "keep_out")->to.text, "2402-2423");
    assert_int_equal(plan_apply(plan, show, &after, NULL), 0);
    assert_true(radio_quiet_kept(&after->transmitters[1], &after->quiet[0], NULL));
    show_free(after);
    plan_free(plan);
    band->to_mhz = 2466;             /* leaves 14 of 79 channels, and 15 must stay */
    plan = lose_first(show);
    assert_cost(plan, 3, 0, 0, 0);
    assert_string_equal(plan->dark_whys[0], "the transmitters in reach would keep fewer than 15 hop channels beside the quiet bands");
    assert_string_equal(plan->dark_rules[0], "hop-count");
    assert_int_equal(plan->universes_dark_count, 1);
    plan_free(plan);
    band->to_mhz = 2465;             /* leaves 15 */
    plan = lose_first(show);
    assert_cost(plan, 0, 0, 0, 3);
    plan_free(plan);
    show_free(show);
}

/* The spare is dual only. Firmware 2.9 is below the floor of 3.1 for dual: that fixture stays dark; 3.10 is above it. */
static void firmware_below_the_floor_stays_dark(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 2, AIR_SINGLE, 1, 1);
    add_transmitter(show, "T9", "62930485", 2, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 3);
    show->fixtures[0].firmware = text_of(show, "2.9");
    show->fixtures[1].firmware = text_of(show, "3.10");
    struct plan *plan = lose_first(show);
    assert_cost(plan, 1, 0, 2, 1);
    assert_int_equal(plan->darkened[0], 0);
    assert_string_equal(plan->dark_whys[0], "its firmware is too old for the air modes of the transmitters in reach");
    assert_string_equal(plan->dark_rules[0], "firmware-floor");
    assert_int_equal(plan->universes_dark_count, 0);         /* the others of its universe are on a lane again */
    plan_free(plan);
    show_free(show);
}

/* T1 at 0 m is lost, T2 at 50 m reaches its fixtures, the spare at 100 m reaches only those of T2. Each has one lane. T9 takes
 * T2's code and universe, T2 takes T1's: code and lane on both, nobody is visited, the four fixtures of T2 change over. */
static void a_live_transmitter_makes_room(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", "40718263", 1, AIR_SINGLE, 1, 1);
    add_transmitter(show, "T2", "51829374", 1, AIR_SINGLE, 2, 1);
    add_transmitter(show, "T9", NULL, 1, AIR_SINGLE, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 3);
    add_fixtures(show, 1, 1, 2, 20, 4);
    place(show, 0, 0, 60);
    place(show, 1, 50, 60);
    place(show, 2, 100, 60);
    for (uint32_t f = 0; f < show->fixture_count; f++)
        show->fixtures[f].pos = (struct position){ f < 3 ? 0 : 70, 0, 0 };
    struct plan *plan = lose_first(show);
    assert_cost(plan, 0, 4, 0, 4);
    assert_non_null(plan->undisturbing);
    assert_int_equal(plan->undisturbing->dark, 3);
    assert_int_equal(plan->disturbed_count, 4);
    plan_free(plan);
    const uint32_t first = 0;
    plan = swap_of(show, &(struct plan_swap_options){ .out = &first, .out_count = 1, .keep_working = true });
    assert_cost(plan, 3, 0, 0, 0);
    assert_string_equal(plan->dark_rules[2], "universe-carried");
    plan_free(plan);
    show_free(show);
}

static void is_ready_only_if_nobody_walks(void **state)
{
    (void)state;
    struct show *show = new_show();
    uint32_t spare = 99;
    add_transmitter(show, "T1", "40718263", 2, AIR_DUAL, 1, 3);
    add_transmitter(show, "T8", NULL, 1, AIR_DUAL, 0, 0)->spare = true;
    add_transmitter(show, "T9", NULL, 2, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 3, 3, 10, 3);
    assert_int_equal(show_index(show), 0);
    assert_true(plan_spare_ready(show, 0, &spare));
    assert_int_equal(spare, 2);      /* T8 has lanes 1 and 2 only, and lane 3 is in use */
    show->transmitters[2].radios = 1;
    assert_int_equal(show_index(show), 0);
    assert_false(plan_spare_ready(show, 0, NULL));
    show_free(show);
}

/* ---- refusals ---- */

static void assert_refused(struct show *show, const char *text, const char *rule)
{
    struct plan *plan = lose_first(show);
    assert_non_null(plan->refused);
    assert_string_equal(plan->refused, text);
    assert_string_equal(plan->refused_rule, rule);
    assert_int_equal(plan->step_count, 0);
    plan_free(plan);
    show_free(show);
}

static void refuses_with_a_reason_and_a_rule(void **state)
{
    (void)state;
    struct show *show = new_show();
    add_transmitter(show, "T1", NULL, 1, AIR_DUAL, 1, 1);
    assert_refused(show, "transmitter T1 has lanes but no join code, so no fixture lands on it: give it the code of its fixtures first", "landing");
    show = new_show();
    add_transmitter(show, "T1", "40718263", 1, AIR_DUAL, 1, 3);
    assert_refused(show, "transmitter T1 has no lane 3, and no fixture lands on it: put its lanes right first", "lane-exists");
    show = new_show();
    add_transmitter(show, "T1", "40718263", 1, AIR_DUAL, 1, 1);
    give_lane(show, &show->transmitters[0], 1, 7);
    add_fixtures(show, 0, 1, 1, 10, 1);
    assert_refused(show, "lane 1 of transmitter T1 is given universes 1 and 7, and no fixture lands on it: take one off first", "lane-shared");
    show = new_show();
    add_transmitter(show, "T1", "4071826", 1, AIR_DUAL, 1, 1);
    add_transmitter(show, "T9", NULL, 1, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 1);
    assert_refused(show, "transmitter T1 has join code \"4071826\", expected eight digits: put it right first", "code-form");
    show = new_show();
    add_transmitter(show, "T1", "40718263", 1, AIR_DUAL, 1, 1);
    add_transmitter(show, "T9", NULL, 1, AIR_DUAL, 0, 0)->spare = true;
    add_fixtures(show, 0, 1, 1, 10, 1);
    show->transmitters[1].site = text_of(show, "barge");
    assert_refused(show, "spare T9 reaches no fixture of the show, and no other transmitter that may change reaches a lost one: "
                   "put site, position or reach of T9 right first", "in-reach");
}

static void wrong_options_are_usage_errors(void **state)
{
    (void)state;
    struct show *show = new_show();
    struct plan *plan;
    struct rig_why why;
    const uint32_t first = 0, none = 7;
    add_transmitter(show, "T1", "40718263", 1, AIR_DUAL, 1, 1);
    assert_int_equal(show_index(show), 0);
    assert_int_equal(plan_swap(show, &(struct plan_swap_options){ .out_count = 0 }, &plan, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "no transmitter is named as lost");
    assert_int_equal(plan_swap(show, &(struct plan_swap_options){ .out = &none, .out_count = 1 }, &plan, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "lost transmitter 7 of 1 does not exist");
    struct plan_swap_options same = { .out = &first, .out_count = 1, .in = &first, .in_count = 1 };
    assert_int_equal(plan_swap(show, &same, &plan, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "transmitter T1 is lost: it cannot take over");
    assert_null(plan);
    show_free(show);
}

/* ---- properties ---- */

static void check_many(uint64_t from, uint32_t count, const struct recipe *recipe, uint64_t step_limit)
{
    uint32_t planned = 0, proved = 0;
    for (uint64_t number = from; number < from + count; number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = small_show(&dice, recipe);
        const uint32_t out[2] = { 0, 1 };
        struct plan_swap_options options = { .out = out, .out_count = 1 + chance(&dice, 30), .keep_working = chance(&dice, 30),
                                             .step_limit = step_limit };
        struct plan *plan;
        assert_int_equal(plan_swap(show, &options, &plan, NULL), 0);
        if (!plan->refused) {
            planned++;
            proved += plan->proved;
            check_plan(show, &options, plan);
            if (plan->undisturbing && !plan->undisturbing->refused)
                check_plan(show, &options, plan->undisturbing);
        }
        plan_free(plan);
        show_free(show);
    }
    printf("%u shows, %u planned, %u proved least\n", count, planned, proved);
    assert_true(planned > count / 3);
}

static void every_plan_keeps_its_promises(void **state)
{
    (void)state;
    check_many(80001, 1500, &(struct recipe){ 6, 3, 8, 30, 10, true, 0, false }, 0);
    check_many(82001, 500, &(struct recipe){ 8, 2, 10, 40, 5, false, 0, false }, 0);
    check_many(83001, 500, &(struct recipe){ 6, 2, 10, 30, 20, true, 0, true }, 0);
}

/* A search that is cut short gives a worse plan, never a wrong one, and says what it could not rule out. */
static void a_short_search_keeps_its_promises_too(void **state)
{
    (void)state;
    check_many(84001, 500, &(struct recipe){ 8, 3, 10, 40, 10, true, 0, true }, 1);
}

static void equal_shows_get_equal_plans(void **state)
{
    (void)state;
    for (uint64_t number = 1; number <= 100; number++) {
        struct plan *plans[2];
        struct show *shows[2];
        const uint32_t out = 0;
        for (int i = 0; i < 2; i++) {
            struct dice dice = { number * 77 };
            shows[i] = small_show(&dice, &(struct recipe){ 6, 3, 8, 30, 10, true, 0, false });
            assert_int_equal(plan_swap(shows[i], &(struct plan_swap_options){ .out = &out, .out_count = 1 }, &plans[i], NULL), 0);
        }
        assert_int_equal(plans[0]->step_count, plans[1]->step_count);
        for (uint32_t s = 0; s < plans[0]->step_count; s++) {
            const struct plan_step *x = &plans[0]->steps[s], *y = &plans[1]->steps[s];
            assert_string_equal(x->field, y->field);
            assert_int_equal(x->subject.index, y->subject.index);
            assert_int_equal(x->to.number, y->to.number);
            assert_true(x->to.text ? !strcmp(x->to.text, y->to.text) : !y->to.text);
            assert_string_equal(x->why, y->why);
        }
        for (int i = 0; i < 2; i++) {
            plan_free(plans[i]);
            show_free(shows[i]);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spare_takes_code_and_lanes),
        cmocka_unit_test(a_spare_that_is_set_up_only_comes_on),
        cmocka_unit_test(a_smaller_spare_lights_the_most_and_parks_nobody),
        cmocka_unit_test(one_lane_for_two_universes),
        cmocka_unit_test(touches_come_before_settings),
        cmocka_unit_test(the_first_lane_keeps_quiet_bands),
        cmocka_unit_test(firmware_below_the_floor_stays_dark),
        cmocka_unit_test(a_live_transmitter_makes_room),
        cmocka_unit_test(is_ready_only_if_nobody_walks),
        cmocka_unit_test(refuses_with_a_reason_and_a_rule),
        cmocka_unit_test(wrong_options_are_usage_errors),
        cmocka_unit_test(every_plan_keeps_its_promises),
        cmocka_unit_test(a_short_search_keeps_its_promises_too),
        cmocka_unit_test(equal_shows_get_equal_plans),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
