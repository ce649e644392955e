/* What a plan names beside the fixtures that stay dark, worked out by hand. All transmitters here have one radio in single, so one
 * lane each; the lamps are one type of one slot. */
#include "plan_show.h"

#define HEAD \
    "return { rigcall = 1, name = \"Named\", sites = { { id = \"quay\" }, { id = \"barge\" } },\n" \
    " types = { { id = \"lamp\", airs = { \"single\" }, modes = { { id = \"m\", head = {}, cells = 1, slots = { \"red\" }, tail = {} } } } },\n"
#define TX(id, site, code, rest) "{ id = \"" id "\", site = \"" site "\", radios = 1, airs = { \"single\" }, air = \"single\", code = \"" code "\", " rest " }"
#define LAMP(id, site, universe, address, code, rest) \
    "{ id = " id ", type = \"lamp\", mode = \"m\", site = \"" site "\", universe = " universe ", address = " address ", code = \"" code \
    "\", air = \"single\", lane = 1" rest " }"
#define LANE(universe) "lanes = { { lane = 1, universe = " universe " } }"

struct named { struct show *show, *after; struct plan *plan; };

static struct named lose(const char *text, uint32_t out)
{
    struct named named = { show_from(text), NULL, NULL };
    struct rig_why why;
    if (plan_swap(named.show, &(struct plan_swap_options){ .out = &out, .out_count = 1 }, &named.plan, &why))
        fail_msg("%s", why.text);
    assert_null(named.plan->refused);
    assert_int_equal(plan_apply(named.plan, named.show, &named.after, &why), 0);
    return named;
}

static void named_fini(struct named *named)
{
    show_free(named->after);
    show_free(named->show);
    plan_free(named->plan);
}

/* T1 carries universe 1, and all its lamps are keyed to a lane beside it: nothing is lost, and universe 1 leaves the air. */
static void a_universe_without_lost_fixtures_leaves_the_air(void **state)
{
    (void)state;
    struct named named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", LANE("1")) ",\n" TX("T9", "quay", "51829374", "spare = true, lanes = {}")
                              " }, universes = { { id = 1 }, { id = 2 } },\n fixtures = { " LAMP("1", "quay", "2", "1", "40718263", "") " } }", 0);
    assert_int_equal(named.plan->lost, 0);
    assert_int_equal(named.plan->dark, 0);
    assert_int_equal(named.plan->settings, 0);
    assert_int_equal(named.plan->universes_dark_count, 1);
    assert_int_equal(named.plan->universes_dark[0], 1);
    assert_int_equal(named.plan->failing_count, 0);          /* lamp 1 landed in universe 1, and now nowhere: it had its finding */
    assert_null(named.after->transmitters[0].code);
    assert_int_equal(named.after->transmitters[0].lane_count, 0);
    named_fini(&named);
}

/* What another transmitter carries too, or a spare takes over, does not leave the air. */
static void a_universe_that_is_carried_on_is_not_named(void **state)
{
    (void)state;
    struct named named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", LANE("1")) ",\n" TX("T2", "barge", "51829374", LANE("1"))
                              " }, universes = { { id = 1 } },\n fixtures = { " LAMP("1", "quay", "1", "1", "40718263", "") " } }", 0);
    assert_int_equal(named.plan->dark, 1);                   /* T2 is at the barge */
    assert_int_equal(named.plan->universes_dark_count, 0);
    named_fini(&named);
    named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", LANE("1")) ",\n" TX("T9", "quay", "51829374", "spare = true, lanes = {}")
                 " }, universes = { { id = 1 } },\n fixtures = { " LAMP("1", "quay", "1", "1", "40718263", "") " } }", 0);
    assert_int_equal(named.plan->dark, 0);
    assert_int_equal(named.plan->universes_dark_count, 0);
    named_fini(&named);
}

/* Lamp 1 is keyed to T1 and stands beyond its reach: the rule in-reach warns of it, and landing says nothing. Without T1 it lands
 * nowhere, which is a finding: the plan names it, and neither counts nor touches it. */
static void a_fixture_beyond_reach_loses_its_transmitter(void **state)
{
    (void)state;
    struct named named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", "pos = { 0, 0, 0 }, reach = 10, " LANE("1")) ",\n"
                              TX("T9", "quay", "51829374", "pos = { 0, 0, 0 }, reach = 10, spare = true, lanes = {}")
                              " }, universes = { { id = 1 } },\n fixtures = { " LAMP("1", "quay", "1", "1", "40718263", ", pos = { 11, 0, 0 }") ",\n"
                              LAMP("2", "quay", "1", "2", "40718263", ", pos = { 9, 0, 0 }") " } }", 0);
    assert_int_equal(named.plan->lost, 1);
    assert_int_equal(named.plan->dark, 0);
    assert_int_equal(named.plan->touches, 0);                /* T9 takes the code over, so that lamp 1 is beyond T9's reach now */
    assert_int_equal(named.plan->failing_count, 0);
    named_fini(&named);
    named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", "pos = { 0, 0, 0 }, reach = 10, " LANE("1"))
                 " }, universes = { { id = 1 } },\n fixtures = { " LAMP("1", "quay", "1", "1", "40718263", ", pos = { 11, 0, 0 }") " } }", 0);
    assert_int_equal(named.plan->dark, 0);
    assert_int_equal(named.plan->failing_count, 1);
    assert_int_equal(named.plan->failing[0], 0);
    assert_int_equal(radio_landing(named.after, &named.after->fixtures[0]).state, LANDING_NOWHERE);
    named_fini(&named);
}

/* Universe 7 is on T1 and not listed: its stand-in must not get T1's finding of reference-known. */
static void a_universe_that_a_lane_gets_is_listed(void **state)
{
    (void)state;
    struct named named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", LANE("7")) ",\n" TX("T9", "quay", "51829374", "spare = true, lanes = {}")
                              " }, universes = {},\n fixtures = { " LAMP("1", "quay", "7", "1", "40718263", "") " } }", 0);
    assert_int_equal(named.after->transmitters[1].lane_count, 1);
    assert_int_equal(named.after->universe_count, 1);
    assert_int_equal(named.after->universes[0].id, 7);
    assert_int_equal(show_find_universe(named.after, 7), 0);
    named_fini(&named);
}

/* A join code that is not eight digits stands on T2 already: nobody else takes it over, and nothing is keyed to it. */
static void a_malformed_code_is_not_handed_on(void **state)
{
    (void)state;
    struct named named = lose(HEAD " transmitters = { " TX("T1", "quay", "40718263", LANE("1")) ",\n" TX("T2", "quay", "5182937", "lanes = {}")
                              " }, universes = { { id = 1 } },\n fixtures = { " LAMP("1", "quay", "1", "1", "40718263", "") " } }", 0);
    assert_int_equal(named.plan->touches, 0);
    assert_string_equal(named.after->transmitters[1].code, "40718263");
    named_fini(&named);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_universe_without_lost_fixtures_leaves_the_air),
        cmocka_unit_test(a_universe_that_is_carried_on_is_not_named),
        cmocka_unit_test(a_fixture_beyond_reach_loses_its_transmitter),
        cmocka_unit_test(a_universe_that_a_lane_gets_is_listed),
        cmocka_unit_test(a_malformed_code_is_not_handed_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
