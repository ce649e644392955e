/* Patches on random shows, sound ones and spoiled ones: a check afterwards says nothing that is new. */
#include "after_plan.h"
#include "plan/patch_random.h"

static void spoil_transmitter(struct dice *dice, struct show *show)
{
    struct transmitter *t = &show->transmitters[roll(dice, show->transmitter_count)];
    struct lane *lanes = show_alloc(show, (t->lane_count + (size_t)1) * sizeof *lanes);
    for (uint32_t e = 0; e < t->lane_count; e++)
        lanes[e] = t->lanes[e];
    switch (roll(dice, 9)) {
    case 0: t->code = put_text(show, chance(dice, 50) ? "4071826" : "4071826x"); break;
    case 1: lanes[t->lane_count] = (struct lane){ transmitter_lane_count(t) + 1, 1 + roll(dice, 9) }; break;
    case 2: lanes[t->lane_count] = (struct lane){ 1 + roll(dice, 2), 1 + roll(dice, 9) }; break;
    case 3: lanes[t->lane_count] = (struct lane){ (int64_t)roll(dice, 6) - 1, 190 + roll(dice, 2) }; break;
    case 4: t->site = put_text(show, "nowhere"); break;
    case 5: t->air = t->air == AIR_DUAL ? AIR_SINGLE : AIR_DUAL; break;
    case 6: t->radios = 0; break;
    case 7: t->code = NULL; break;
    case 8: t->airs = 0; break;
    }
    if (lanes[t->lane_count].universe) {
        t->lanes = lanes;
        t->lane_count++;
    }
}

static void spoil_fixture(struct dice *dice, struct show *show)
{
    struct fixture *f = &show->fixtures[roll(dice, show->fixture_count)];
    switch (roll(dice, 9)) {
    case 0: f->site = put_text(show, "nowhere"); break;
    case 1: f->type = put_text(show, "lamp"); break;
    case 2: f->universe = 190 + roll(dice, 2); f->address = 1; break;
    case 3: f->air = f->air == AIR_DUAL ? AIR_SINGLE : AIR_DUAL; break;
    case 4: f->lane = (int64_t)roll(dice, 4) * 5 - 1; break;
    case 5: f->code = put_text(show, "40718263"); break;     /* not patched, and keyed already */
    case 6: f->address = 500; break;
    case 7: f->same_as = 5000; break;
    case 8: f->wired = !f->wired; break;
    }
}

static void spoil_universe(struct dice *dice, struct show *show)
{
    struct universe *u = &show->universes[roll(dice, show->universe_count)];
    switch (roll(dice, 3)) {
    case 0: u->id = 196; break;                              /* what named it names nothing */
    case 1: u->wire = roll(dice, 12); break;
    case 2: u->wire = 64000; break;
    }
}

static void patch_many(uint64_t from, uint32_t count, bool spoiled)
{
    struct after_seen seen = { 0 };
    uint32_t unfit = 0, touching = 0;
    for (uint64_t number = first_show(from); number < first_show(from) + shows(count); number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = random_show(&dice, (struct random_size){ 8, number % 2 ? 6 : 20, 2, number % 3 == 0 });
        show->name = put_text(show, "random");
        for (uint32_t n = spoiled ? 1 + roll(&dice, 4) : 0; n > 0; n--)
            (chance(&dice, 50) ? spoil_transmitter : chance(&dice, 70) || !show->universe_count ? spoil_fixture : spoil_universe)(&dice, show);
        assert_int_equal(show_index(show), 0);
        struct plan_patch_options options = { .all = chance(&dice, 30), .tight = chance(&dice, 30), .fill = chance(&dice, 30),
                                              .by_id = chance(&dice, 30), .site = chance(&dice, 20) ? 0 : SHOW_UNKNOWN };
        struct plan *plan;
        struct rig_why why;
        if (plan_patch(show, &options, &plan, &why))
            fail_msg("%s", why.text);
        check_after(plan, show, number, &seen);
        unfit += plan->dark > 0;
        touching += plan->touches > 0;
        assert_true(!plan->dark || plan->step_count == 0);
        for (uint32_t d = 0; d < plan->darkened_count; d++)
            assert_true(plan->dark_whys[d] && plan->dark_rules[d]);
        plan_free(plan);
        show_free(show);
    }
    print_seen(&seen);
    printf("%" PRIu32 " patch something, %" PRIu32 " do not fit\n", touching, unfit);
    assert_true(touching * 4 > count && unfit > 0);
}

static void after_a_patch(void **state)
{
    (void)state;
    patch_many(1, 150, false);
}

static void after_a_patch_of_a_spoiled_show(void **state)
{
    (void)state;
    patch_many(10001, 300, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(after_a_patch),
        cmocka_unit_test(after_a_patch_of_a_spoiled_show),
    };
    int status = cmocka_run_group_tests(tests, NULL, NULL);
    free_rules();
    return status;
}
