/* Where fixtures land, whose they are, and selecting them by transmitter. Expected values are worked out by hand. */
#include "radio/radio_show.h"

#define CODE "40718263"
#define OTHER "51820394"

/* T1 at 0 m and T2 at 1000 m, codes of their own, reach 100 m, eight lanes; lane 1 carries universe 1 (T1) or 11 (T2), lane 2
 * carries 2, lane 3 nothing, lane 4 two universes, lane 5 one universe twice. T3 is a spare with T1's code at T1's place. */
static struct show *two_masts(void)
{
    struct show *show = show_new();
    static const struct { const char *id, *code; double x_m; int64_t first; } masts[] = {
        { "T1", CODE, 0, 1 }, { "T2", OTHER, 1000, 11 }, { "T3", CODE, 0, 1 },
    };
    for (int m = 0; m < 3; m++) {
        struct transmitter *mast = add_transmitter(show, masts[m].id, masts[m].code, masts[m].x_m);
        give_lane(show, mast, 1, masts[m].first);
        give_lane(show, mast, 2, masts[m].first + 1);
        give_lane(show, mast, 4, 4);
        give_lane(show, mast, 4, 5);
        give_lane(show, mast, 5, 6);
        give_lane(show, mast, 5, 6);
        give_lane(show, mast, 9, 9);
        mast->spare = m == 2;
    }
    return show;
}

static struct landing land(struct show *show, const struct fixture *fixture)
{
    assert_int_equal(show_index(show), 0);
    return radio_landing(show, fixture);
}

static void check(struct landing landing, enum landing_state state, uint32_t transmitter, int64_t universe)
{
    assert_int_equal(landing.state, state);
    assert_int_equal(landing.transmitter, transmitter);
    assert_true(landing.universe == universe);
}

static void every_state_of_one_fixture(void **state)
{
    (void)state;
    struct show *show = two_masts();
    struct fixture *fixture = add_fixture(show, 1, 1, CODE, 1, 10);
    check(land(show, fixture), LANDING_RIGHT, 0, 1);
    assert_int_equal(radio_transmitter_of(show, fixture), 0);
    fixture->universe = 2;
    check(land(show, fixture), LANDING_OTHER_UNIVERSE, 0, 1);
    fixture->lane = 2;
    check(land(show, fixture), LANDING_RIGHT, 0, 2);
    fixture->lane = 3;
    check(land(show, fixture), LANDING_EMPTY, 0, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), 0);
    fixture->lane = 4;
    check(land(show, fixture), LANDING_SHARED, 0, SHOW_NONE);
    fixture->lane = 5;
    check(land(show, fixture), LANDING_SHARED, 0, SHOW_NONE);
    fixture->lane = 9;                           /* given a universe, but eight lanes is all there are */
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);
    fixture->lane = 0;
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);
    fixture->lane = 1;
    fixture->air = AIR_SINGLE;
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    fixture->air = AIR_DUAL;
    fixture->code = text(show, "99990000");
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);
    fixture->code = text(show, OTHER);
    check(land(show, fixture), LANDING_BEYOND, 1, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), 1);
    fixture->lane = 3;                           /* beyond comes first: what the lane carries does not matter there */
    check(land(show, fixture), LANDING_BEYOND, 1, SHOW_NONE);
    show_free(show);
}

static void what_is_not_keyed_in_is_not_asked(void **state)
{
    (void)state;
    struct show *show = two_masts();
    struct fixture *fixture = add_fixture(show, 1, SHOW_NONE, CODE, 1, 10), whole;
    check(land(show, fixture), LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), 0);       /* unpatched, but its settings join T1 */
    fixture->universe = 1;
    whole = *fixture;
    fixture->code = NULL;
    check(land(show, fixture), LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    *fixture = whole;
    fixture->air = AIR_NONE;
    check(land(show, fixture), LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_NONE);
    *fixture = whole;
    fixture->lane = SHOW_NONE;
    check(land(show, fixture), LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    *fixture = whole;
    fixture->wired = true;
    check(land(show, fixture), LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    show_free(show);
}

static void two_in_reach_are_too_many_and_two_beyond_are_nowhere(void **state)
{
    (void)state;
    struct show *show = two_masts();
    show->transmitters[1].code = text(show, CODE);
    show->transmitters[1].pos = at(150, 0, 0);
    struct fixture *fixture = add_fixture(show, 1, 1, CODE, 1, 75);
    struct landing landing = land(show, fixture);
    check(landing, LANDING_TWICE, 0, SHOW_NONE);
    assert_int_equal(landing.second, 1);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    fixture->pos = at(50, 0, 0);                 /* 50 m and exactly 100 m: still both */
    assert_int_equal(land(show, fixture).state, LANDING_TWICE);
    fixture->pos = at(49.99, 0, 0);              /* 49.99 m and 100.01 m: only the first serves it */
    check(land(show, fixture), LANDING_RIGHT, 0, 1);
    assert_int_equal(radio_transmitter_of(show, fixture), 0);
    fixture->pos = at(600, 0, 0);                /* both match, neither reaches: no one transmitter is its own */
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);
    assert_int_equal(radio_transmitter_of(show, fixture), SHOW_UNKNOWN);
    show_free(show);
}

static void a_transmitter_without_code_lands_nothing(void **state)
{
    (void)state;
    struct show *show = two_masts();
    struct fixture *fixture = add_fixture(show, 1, 1, CODE, 1, 10);
    show->transmitters[0].code = NULL;
    check(land(show, fixture), LANDING_NOWHERE, SHOW_UNKNOWN, SHOW_NONE);      /* T3 has the code, but is a spare */
    show->transmitters[2].spare = false;
    check(land(show, fixture), LANDING_RIGHT, 2, 1);
    show_free(show);
}

/* Common practice, no source: four radios in dual carry eight universes, in single four. */
static void four_radios_in_dual_carry_eight_universes(void **state)
{
    (void)state;
    static const struct { int64_t radios; enum air air; int lands; } rows[] = {
        { 4, AIR_DUAL, 8 }, { 4, AIR_SINGLE, 4 }, { 1, AIR_DUAL, 2 }, { 1, AIR_SINGLE, 1 }, { 0, AIR_DUAL, 0 }, { -3, AIR_DUAL, 0 },
    };
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        struct show *show = show_new();
        struct transmitter *mast = add_transmitter(show, "T1", CODE, 0);
        mast->radios = rows[r].radios;
        mast->air = rows[r].air;
        for (int lane = 1; lane <= 10; lane++) {
            give_lane(show, mast, lane, lane);
            add_fixture(show, lane, lane, CODE, lane, 10)->air = rows[r].air;
        }
        assert_int_equal(show_index(show), 0);
        int lands = 0;
        for (uint32_t i = 0; i < show->fixture_count; i++)
            lands += radio_landing(show, &show->fixtures[i]).state == LANDING_RIGHT;
        assert_int_equal(lands, rows[r].lands);
        show_free(show);
    }
}

static void select_by(struct show *show, const char *where, const char *expected)
{
    struct selection *selection = NULL;
    struct rig_why why;
    uint32_t *chosen, count;
    char ids[128] = "";
    assert_int_equal(show_index(show), 0);
    if (where)
        assert_int_equal(selection_parse(where, &selection, &why), 0);
    assert_int_equal(radio_select(show, selection, &chosen, &count), 0);
    for (uint32_t i = 0; i < count; i++)
        snprintf(ids + strlen(ids), sizeof ids - strlen(ids), "%s%d", i ? " " : "", (int)show->fixtures[chosen[i]].id);
    free(chosen);
    selection_free(selection);
    assert_string_equal(ids, expected);
}

static void fixtures_are_selected_by_transmitter(void **state)
{
    (void)state;
    struct show *show = two_masts();
    add_fixture(show, 5, 11, OTHER, 1, 1000);    /* on T2 */
    add_fixture(show, 4, 2, CODE, 2, 20);        /* on T1 */
    add_fixture(show, 3, 1, CODE, 1, 10);        /* on T1 */
    add_fixture(show, 2, 1, CODE, 1, 500);       /* keyed for T1, out of its reach: still one to look for there */
    add_fixture(show, 1, SHOW_NONE, NULL, SHOW_NONE, 0);
    add_fixture(show, 6, 1, "99990000", 1, 0);   /* nowhere */
    select_by(show, NULL, "2 3 6 4 5 1");        /* patch order: universe, address, id; the unpatched one last */
    select_by(show, "transmitter=T1", "2 3 4");
    select_by(show, "transmitter=T2,T1", "2 3 4 5");
    select_by(show, "transmitter=T1; universe=2", "4");
    select_by(show, "transmitter=T3", "");       /* a spare serves nobody */
    select_by(show, "universe=1", "2 3 6");
    show->transmitters[2].spare = false;         /* now 3 and 4 are on T1 and T3 at once, 2 is beyond both */
    select_by(show, "transmitter=T1", "3 4");
    select_by(show, "transmitter=T3", "3 4");
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_state_of_one_fixture),
        cmocka_unit_test(what_is_not_keyed_in_is_not_asked),
        cmocka_unit_test(two_in_reach_are_too_many_and_two_beyond_are_nowhere),
        cmocka_unit_test(a_transmitter_without_code_lands_nothing),
        cmocka_unit_test(four_radios_in_dual_carry_eight_universes),
        cmocka_unit_test(fixtures_are_selected_by_transmitter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
