/* Random rigs: what must hold of every plan, and that nothing is called dark that fits. */
#include "plan/patch_random.h"

static struct plan *patch(const struct show *show, const struct plan_patch_options *options)
{
    struct plan *plan;
    struct rig_why why;
    if (plan_patch(show, options, &plan, &why))
        fail_msg("%s", why.text);
    return plan;
}

static void same(const struct plan *a, const struct plan *b)
{
    assert_int_equal(a->step_count, b->step_count);
    assert_int_equal(a->dark, b->dark);
    for (uint32_t i = 0; i < a->step_count; i++) {
        assert_string_equal(a->steps[i].why, b->steps[i].why);
        assert_string_equal(a->steps[i].field, b->steps[i].field);
        assert_true(same_text(a->steps[i].to.text, b->steps[i].to.text) && a->steps[i].to.number == b->steps[i].to.number);
    }
}

static void every_plan_holds(void **state)
{
    (void)state;
    uint32_t fits = 0, dark = 0;
    for (uint32_t run = 1; run <= 1500; run++) {
        struct dice dice = { run * UINT64_C(0x9e3779b97f4a7c15) };
        struct show *show = random_show(&dice, (struct random_size){ 1 + roll(&dice, 8), 1 + roll(&dice, 60), 1 + roll(&dice, 3), false });
        struct plan_patch_options options = { .site = SHOW_UNKNOWN, .all = run % 3 == 0, .by_id = run % 5 == 0,
                                              .fill = run % 4 == 1, .tight = run % 7 < 3 };
        struct plan *plan = patch(show, &options), *again = patch(show, &options);
        check_plan(plan, show, &options);
        same(plan, again);
        fits += plan->dark == 0;
        dark += plan->dark > 0;
        plan_free(plan);
        plan_free(again);
        show_free(show);
    }
    assert_true(fits > 100 && dark > 100);                   /* the cases are of both kinds */
}

/* A search of one step says that it stopped where it did not know, and its bounds hold for the plan of a whole search. */
static void a_short_search_gives_bounds_that_hold(void **state)
{
    (void)state;
    uint32_t unknown = 0, wrong_dark = 0, codes = 0;
    for (uint32_t run = 1; run <= 1500; run++) {
        struct dice dice = { run * UINT64_C(0xd1b54a32d192ed03) };
        struct show *show = random_show(&dice, (struct random_size){ 1 + roll(&dice, 12), 1 + roll(&dice, 30), 1 + roll(&dice, 2), run % 2 });
        struct plan_patch_options options = { .site = SHOW_UNKNOWN }, hasty = { .site = SHOW_UNKNOWN, .step_limit = 1 };
        struct plan *whole = patch(show, &options), *early = patch(show, &hasty);
        check_plan(early, show, &hasty);
        if (early->dark) {
            assert_true(early->dark_at_least <= early->dark && early->dark_at_least <= whole->dark);
            assert_true(!early->proved || whole->dark);
            unknown += !early->proved;
            wrong_dark += !whole->dark;
        } else if (!whole->dark) {
            assert_true(early->codes_at_least <= early->codes);
            assert_true(early->proved == (early->codes_at_least == early->codes));
            codes += early->codes_at_least < early->codes;
        }
        plan_free(whole);
        plan_free(early);
        show_free(show);
    }
    printf("%u of one step do not know, %u of them would fit; %u may have too many codes\n", unknown, wrong_dark, codes);
    assert_true(unknown > 10 && wrong_dark > 0);
}

/* ---- brute force: every way to cut the order into stretches, every transmitter and air mode for each ---- */

struct brute { const struct show *show; uint32_t order[16], count; int64_t used[8]; enum air air[8]; };

static bool serves(const struct brute *b, uint32_t tx, enum air air, uint32_t fixture)
{
    const struct fixture *f = &b->show->fixtures[fixture];
    const struct transmitter *t = &b->show->transmitters[tx];
    const struct type *type = fixture_type(b->show, f);
    if (!(type->airs & AIR_BIT(air)) || !radio_in_reach(b->show, t, f))
        return false;
    return !(air == AIR_DUAL && type->firmware_floor[AIR_DUAL] && f->firmware && !strcmp(f->firmware, "3.0"));
}

static bool can(struct brute *b, uint32_t at)
{
    if (at == b->count)
        return true;
    for (uint32_t tx = 0; tx < b->show->transmitter_count; tx++) {
        const struct transmitter *t = &b->show->transmitters[tx];
        for (enum air air = AIR_SINGLE; air <= AIR_DUAL; air++) {
            if (!(t->airs & AIR_BIT(air)) || (b->air[tx] && b->air[tx] != air) || b->used[tx] >= t->radios * air)
                continue;
            enum air before = b->air[tx];
            int64_t slots = 0;
            b->air[tx] = air;
            b->used[tx]++;
            for (uint32_t end = at; end < b->count && serves(b, tx, air, b->order[end]); end++) {
                slots += fixture_footprint(b->show, &b->show->fixtures[b->order[end]]);
                if (slots > SHOW_SLOTS)
                    break;
                if (can(b, end + 1))
                    return true;
            }
            b->air[tx] = before;
            b->used[tx]--;
        }
    }
    return false;
}

/* One site, no lanes yet, wireless fixtures only, by id: what remains is the packing itself. */
static void bare(struct show *show)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (show->fixtures[i].universe == SHOW_NONE && strcmp(show->fixtures[i].type, "t5")) {
            show->fixtures[kept] = show->fixtures[i];
            show->fixtures[kept].wired = false;
            show->fixtures[kept++].same_as = SHOW_NONE;
        }
    show->fixture_count = kept;
    for (uint32_t i = 0; i < show->transmitter_count; i++) {
        show->transmitters[i].lane_count = 0;
        show->transmitters[i].code = NULL;
        show->transmitters[i].spare = false;
    }
    show->quiet_count = 0;
    assert_int_equal(show_index(show), 0);
}

static void nothing_is_dark_that_fits(void **state)
{
    (void)state;
    uint32_t fits = 0, dark = 0;
    for (uint32_t run = 1; run <= 3000; run++) {
        struct dice dice = { run * UINT64_C(0xd1342543de82ef95) };
        struct show *show = random_show(&dice, (struct random_size){ 4, 12, 1, true });
        bare(show);
        struct brute brute = { .show = show };
        for (int64_t id = 1; id < 1000; id++)
            if (show_find_fixture(show, id) != SHOW_UNKNOWN)
                brute.order[brute.count++] = show_find_fixture(show, id);
        struct plan_patch_options options = { .site = SHOW_UNKNOWN, .by_id = true };
        struct plan *plan = patch(show, &options);
        check_plan(plan, show, &options);
        bool possible = can(&brute, 0);
        if ((plan->dark == 0) != possible)
            fail_msg("run %u: %u dark, possible: %d", run, plan->dark, possible);
        fits += possible;
        dark += !possible;
        plan_free(plan);
        show_free(show);
    }
    assert_true(fits > 200 && dark > 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_plan_holds),
        cmocka_unit_test(a_short_search_gives_bounds_that_hold),
        cmocka_unit_test(nothing_is_dark_that_fits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
