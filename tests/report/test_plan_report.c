/* Plans as text and JSON, from plans made by hand. The expected words are those of issue and design ("a lane is "field":"lane 3",
 * "from":null,"to":7"), written here before the program printed them. */
#include <jansson.h>
#include <stdio.h>

#include "plan/plan_internal.h"
#include "plan/plan_show.h"
#include "rigcall/plan_report.h"

static const char rig[] =
    "return { rigcall = 1, name = \"Two masts\",\n"
    " sites = { { id = \"quay\", name = \"North quay\" }, { id = \"barge\" } },\n"
    " types = { { id = \"wash\", airs = { \"single\", \"dual\" }, modes = { { id = \"m\", head = {}, cells = 1, slots = { \"red\" }, tail = {} } } } },\n"
    " transmitters = {\n"
    "   { id = \"T1\", name = \"Mast\", site = \"quay\", pos = { 12, 0, 6.5 }, radios = 2, airs = { \"dual\" }, air = \"dual\", code = \"40718263\",\n"
    "     lanes = { { lane = 1, universe = 7 } } },\n"
    "   { id = \"T9\", site = \"barge\", radios = 2, airs = { \"dual\" }, air = \"dual\", spare = true } },\n"
    " universes = { { id = 7, label = \"Rail\" } },\n"
    " fixtures = {\n"
    "   { id = 1, name = \"Far\", type = \"wash\", mode = \"m\", site = \"quay\", pos = { 0, 9, 2 }, universe = 7, address = 1, code = \"40718263\", air = \"dual\", lane = 1 },\n"
    "   { id = 2, type = \"wash\", mode = \"m\", site = \"quay\", pos = { 0, 3, 2 }, universe = 7, address = 2, code = \"40718263\", air = \"dual\", lane = 1 },\n"
    "   { id = 3, type = \"wash\", mode = \"m\", site = \"barge\", universe = 7, address = 3, code = \"40718263\", air = \"dual\", lane = 1 } } }\n";

struct fix { struct show *show; struct plan *plan; struct plan_report report; };

static int setup(void **state)
{
    struct fix *fix = calloc(1, sizeof *fix);
    fix->show = show_from(rig);
    fix->plan = plan__new(PLAN_SWAP);
    fix->report = (struct plan_report){ .title = "Swap of transmitter T1 Mast", .path = "two.show.lua", .keep_option = "--keep-working" };
    *state = fix;
    return fix->plan ? 0 : -1;
}

static int teardown(void **state)
{
    struct fix *fix = *state;
    show_free(fix->show);
    plan_free(fix->plan);
    free(fix);
    return 0;
}

static struct plan_step *step(struct fix *fix, enum subject_kind kind, uint32_t index, const char *field, struct plan_value from,
                              struct plan_value to, const char *why)
{
    struct plan_step *made = plan__step(fix->plan, kind, index, field);
    assert_non_null(made);
    made->from = from;
    made->to = to;
    made->why = why;
    return made;
}

/* T1 is lost, T9 gets universe 7 on lane 3; fixtures 1 and 2 are touched, 3 stays dark. */
static void swap(struct fix *fix)
{
    static const uint32_t touched[] = { 0, 1 }, dark[] = { 2 };
    static const char *whys[] = { "no transmitter that remains reaches it" };
    const char *off = "it is lost", *on = "it has a free lane", *moved = "universe 7 goes to lane 3 of T9";
    step(fix, SUBJECT_TRANSMITTER, 0, "code", plan__value("40718263"), plan__null(), off)->clear = true;
    step(fix, SUBJECT_TRANSMITTER, 0, "lanes", plan__value("1:7"), plan__null(), off)->clear = true;
    step(fix, SUBJECT_TRANSMITTER, 1, "keep_out", plan__null(), plan__value("2402-2410"), "quiet bands");
    step(fix, SUBJECT_TRANSMITTER, 1, "lane 3", plan__null(), plan__number(7), on);
    for (uint32_t i = 0; i < 2; i++) {
        step(fix, SUBJECT_FIXTURE, i, "code", plan__value("40718263"), plan__value("55512340"), moved);
        step(fix, SUBJECT_FIXTURE, i, "lane", plan__number(1), plan__number(3), moved);
    }
    struct plan *plan = fix->plan;
    plan->lost = 3;
    plan->touches = 2;
    plan->settings = 2;
    plan->dark = 1;
    plan->touched = plan__fixtures(plan, fix->show, touched, 2);
    plan->touched_count = 2;
    plan->darkened = plan__fixtures(plan, fix->show, dark, 1);
    plan->darkened_count = 1;
    plan->dark_whys = whys;
}

static char *text_of(struct fix *fix)
{
    char *text = NULL;
    size_t length;
    FILE *out = open_memstream(&text, &length);
    assert_int_equal(plan_write_text(fix->plan, fix->show, &fix->report, out, NULL), 0);
    fclose(out);
    return text;
}

static json_t *json_of(struct fix *fix)
{
    char *text = NULL;
    size_t length;
    FILE *out = open_memstream(&text, &length);
    assert_int_equal(plan_write_json(fix->plan, fix->show, &fix->report, out, NULL), 0);
    fclose(out);
    json_t *json = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(json);
    free(text);
    return json;
}

static void check_json(struct fix *fix, const char *expected)
{
    json_t *got = json_of(fix), *want = json_loads(expected, 0, NULL);
    assert_non_null(want);
    if (!json_equal(got, want))
        print_error("%s\n", json_dumps(got, JSON_INDENT(1)));
    assert_true(json_equal(got, want));
    json_decref(got);
    json_decref(want);
}

static void text_reads_like_instructions(void **state)
{
    struct fix *fix = *state;
    swap(fix);
    char *text = text_of(fix);
    assert_string_equal(text,
        "Swap of transmitter T1 Mast\n"
        "\n"
        "Transmitters, in this order\n"
        "  1. transmitter T1 Mast, site quay (North quay) at 12 0 6.5 m\n"
        "       clear join code (40718263): it is lost\n"
        "       clear lanes (1:7)\n"
        "  2. transmitter T9, site barge\n"
        "       keep out 2402-2410 MHz: quiet bands\n"
        "       lane 3 universe 7 Rail: it has a free lane\n"
        "\n"
        "Fixtures at site quay (North quay), 2 to touch\n"
        "   universe 7 goes to lane 3 of T9:\n"
        "  3. fixture 2 at 0 3 2 m: join code 55512340 (now 40718263), lane 3 (now 1)\n"
        "  4. fixture 1 Far at 0 9 2 m: join code 55512340 (now 40718263), lane 3 (now 1)\n"
        "\n"
        "Stays dark: 1 fixture\n"
        "     fixture 3: no transmitter that remains reaches it\n"
        "\n"
        "In all: 1 stays dark, 0 disturbed, 2 fixtures to touch, 2 settings on transmitters.\n"
        "Nothing is written, --write does that.\n");
    free(text);
}

static void json_is_as_the_design_says(void **state)
{
    struct fix *fix = *state;
    swap(fix);
    check_json(fix,
        "{\"touches\":2,\"settings\":2,\"dark\":1,\"disturbed\":0,\"steps\":["
        "{\"do\":\"clear\",\"kind\":\"transmitter\",\"id\":\"T1\",\"field\":\"code\",\"from\":\"40718263\",\"to\":null,\"why\":\"it is lost\"},"
        "{\"do\":\"clear\",\"kind\":\"transmitter\",\"id\":\"T1\",\"field\":\"lanes\",\"from\":\"1:7\",\"to\":null,\"why\":\"it is lost\"},"
        "{\"do\":\"set\",\"kind\":\"transmitter\",\"id\":\"T9\",\"field\":\"keep_out\",\"from\":null,\"to\":\"2402-2410\",\"why\":\"quiet bands\"},"
        "{\"do\":\"set\",\"kind\":\"transmitter\",\"id\":\"T9\",\"field\":\"lane 3\",\"from\":null,\"to\":7,\"why\":\"it has a free lane\"},"
        "{\"do\":\"set\",\"kind\":\"fixture\",\"id\":1,\"field\":\"code\",\"from\":\"40718263\",\"to\":\"55512340\",\"why\":\"universe 7 goes to lane 3 of T9\"},"
        "{\"do\":\"set\",\"kind\":\"fixture\",\"id\":1,\"field\":\"lane\",\"from\":1,\"to\":3,\"why\":\"universe 7 goes to lane 3 of T9\"},"
        "{\"do\":\"set\",\"kind\":\"fixture\",\"id\":2,\"field\":\"code\",\"from\":\"40718263\",\"to\":\"55512340\",\"why\":\"universe 7 goes to lane 3 of T9\"},"
        "{\"do\":\"set\",\"kind\":\"fixture\",\"id\":2,\"field\":\"lane\",\"from\":1,\"to\":3,\"why\":\"universe 7 goes to lane 3 of T9\"}],"
        "\"fixtures_touched\":[1,2],\"fixtures_dark\":[3],\"fixtures_disturbed\":[],\"universes_dark\":[],\"fixtures_failing\":[],"
        "\"why_dark\":[{\"id\":3,\"why\":\"no transmitter that remains reaches it\"}]}");
}

static void a_bound_an_alternative_and_a_written_file_are_told(void **state)
{
    struct fix *fix = *state;
    static const uint32_t disturbed[] = { 1 };
    struct plan *plan = fix->plan;
    plan->undisturbing = plan__new(PLAN_SWAP);
    plan->undisturbing->dark = 2;
    plan->disturbed = plan->touches = 1;
    plan->disturbed_fixtures = plan__fixtures(plan, fix->show, disturbed, 1);
    plan->disturbed_count = 1;
    plan->proved = false;
    plan->touches_at_least = 1;
    fix->report.write = fix->report.written = true;
    check_json(fix, "{\"touches\":1,\"settings\":0,\"dark\":0,\"disturbed\":1,\"steps\":[],\"fixtures_touched\":[],\"fixtures_dark\":[],"
                    "\"fixtures_disturbed\":[2],\"universes_dark\":[],\"fixtures_failing\":[],\"proved\":false,\"at_least\":{\"dark\":0,\"disturbed\":0,\"touches\":1,\"settings\":0},"
                    "\"undisturbing\":{\"dark\":2,\"disturbed\":0,\"touches\":0,\"settings\":0},\"written\":true}");
    char *text = text_of(fix);
    assert_non_null(strstr(text, "Works now and afterwards, and drops out in between (disturbed): 1 fixture\n     fixture 2 at 0 3 2 m\n"));
    assert_non_null(strstr(text, "The search stopped early. No plan can be better than this: 0 stay dark, 0 disturbed, 1 fixture to touch, "
                                 "0 settings on transmitters.\n"));
    assert_non_null(strstr(text, "The best plan that disturbs no working fixture: 2 stay dark, 0 disturbed, 0 fixtures to touch, "
                                 "0 settings on transmitters (--keep-working).\n"));
    assert_non_null(strstr(text, "two.show.lua is written, the file before is two.show.lua~\nLook it over with: rigcall check two.show.lua\n"
                                 "To undo, before anything else is written: mv two.show.lua~ two.show.lua\n"));
    free(text);
}

static void a_refusal_says_why_and_which_rule_names_it(void **state)
{
    struct fix *fix = *state;
    swap(fix);
    plan__refuse(fix->plan, "code-clash", "T1 and T9 would share code %s", "40718263");
    fix->plan->touches = fix->plan->settings = fix->plan->dark = 0;
    fix->plan->touched_count = fix->plan->darkened_count = 0;
    check_json(fix, "{\"touches\":0,\"settings\":0,\"dark\":0,\"disturbed\":0,\"steps\":[],\"fixtures_touched\":[],\"fixtures_dark\":[],"
                    "\"fixtures_disturbed\":[],\"universes_dark\":[],\"fixtures_failing\":[],\"refused\":\"T1 and T9 would share code 40718263\",\"rule\":\"code-clash\"}");
    char *text = text_of(fix);
    assert_string_equal(text, "Swap of transmitter T1 Mast\n\nRefused: T1 and T9 would share code 40718263 (rule code-clash names it)\n"
                              "Nothing is changed.\n");
    free(text);
}

static void a_patch_tells_its_universes(void **state)
{
    struct fix *fix = *state;
    fix->plan->kind = PLAN_PATCH;
    struct plan_step *made = step(fix, SUBJECT_UNIVERSE, 1, "label", plan__null(), plan__value("Barge 1"), "new");
    made->id = 8;
    step(fix, SUBJECT_FIXTURE, 2, "universe", plan__null(), plan__number(8), "first patch");
    fix->plan->has_bins = true;
    fix->plan->universes = fix->plan->universes_at_least = 1;
    json_t *json = json_of(fix);
    assert_int_equal(json_integer_value(json_object_get(json, "universes")), 1);
    assert_int_equal(json_integer_value(json_object_get(json, "universes_at_least")), 1);
    assert_true(json_is_true(json_object_get(json, "proved")));
    json_t *first = json_array_get(json_object_get(json, "steps"), 0);
    assert_int_equal(json_integer_value(json_object_get(first, "id")), 8);
    assert_string_equal(json_string_value(json_object_get(first, "kind")), "universe");
    json_decref(json);
    char *text = text_of(fix);
    assert_non_null(strstr(text, "Universes\n     new universe 8: label Barge 1\n"));
    assert_non_null(strstr(text, "Fixtures at site barge, 1 to touch\n   first patch:\n  1. fixture 3: universe 8\n"));
    assert_non_null(strstr(text, "no plan does with fewer."));
    free(text);
}

/* What a search that stopped early leaves open is said with its bound. */
static void a_patch_that_stopped_early_says_what_is_open(void **state)
{
    static const uint32_t dark[] = { 0, 1 };
    struct fix *fix = *state;
    struct plan *plan = fix->plan;
    plan->kind = PLAN_PATCH;
    plan->proved = false;
    plan->darkened = plan__fixtures(plan, fix->show, dark, 2);
    plan->dark = plan->darkened_count = 2;
    const char *const ends[] = {
        "\nIn all: 2 fixtures do not fit, so nothing is patched.\nThe search for lanes stopped early: a patch in which all fit may exist. Patch one "
        "site at a time (--site), or try --tight.\n",
        "\nIn all: 2 fixtures do not fit, so nothing is patched.\nThe search for lanes stopped early: no patch can do with fewer than 1 that does not "
        "fit, but one with fewer may exist.\n" };
    for (uint32_t least = 0; least < 2; least++) {
        plan->dark_at_least = least;
        char *text = text_of(fix);
        assert_non_null(strstr(text, ends[least]));
        free(text);
    }
    json_t *json = json_of(fix);
    assert_true(json_is_false(json_object_get(json, "proved")));
    assert_int_equal(json_integer_value(json_object_get(json_object_get(json, "at_least"), "dark")), 1);
    json_decref(json);
    plan->dark = plan->darkened_count = plan->dark_at_least = 0;
    plan->codes = 5;
    plan->codes_at_least = 4;
    char *text = text_of(fix);
    assert_non_null(strstr(text, "\n5 new join codes. The search stopped early: fewer may do for these transmitters, but not fewer than 4.\n"));
    free(text);
    json = json_of(fix);
    assert_int_equal(json_integer_value(json_object_get(json, "codes")), 5);
    assert_int_equal(json_integer_value(json_object_get(json, "codes_at_least")), 4);
    assert_null(json_object_get(json, "at_least"));
    json_decref(json);
}

static void a_move_takes_along_what_needs_no_touch(void **state)
{
    struct fix *fix = *state;
    fix->plan->kind = PLAN_MOVE;
    step(fix, SUBJECT_FIXTURE, 0, "site", plan__value("quay"), plan__value("barge"), "it moves");
    step(fix, SUBJECT_FIXTURE, 0, "pos", plan__value("0 9 2"), plan__null(), "its new place is not given");
    step(fix, SUBJECT_FIXTURE, 1, "site", plan__value("quay"), plan__value("barge"), "it moves");
    step(fix, SUBJECT_FIXTURE, 1, "lane", plan__number(1), plan__number(2), "universe 7 is on lane 2 of T9");
    char *text = text_of(fix);
    assert_non_null(strstr(text, "Fixtures from site quay (North quay), 1 to touch, before they go or once they are there\n   universe 7 is on lane 2 of T9:\n"
                                 "  1. fixture 2 at 0 3 2 m: lane 2 (now 1)\n"));
    assert_non_null(strstr(text, "Join by themselves, nothing to key in: 1 fixture\n     1\n"));
    free(text);
}

/* What no plan can beat is said of the planner's own plan; another that a policy chose stands beside that one's cost. */
static void a_choice_is_told_beside_the_first(void **state)
{
    struct fix *fix = *state;
    struct plan first = { .kind = PLAN_SWAP, .dark = 1, .touches = 2, .settings = 3 };
    fix->plan->proved = false;
    fix->plan->dark = 4;
    fix->report.policy = "mine";
    fix->report.policy_says = "the choir first";
    fix->report.policy_choice = 2;
    fix->report.policy_plans = 5;
    fix->report.policy_best = &first;
    step(fix, SUBJECT_FIXTURE, 0, "code", plan__null(), plan__value("12344321"), "a test");
    char *text = text_of(fix);
    assert_non_null(strstr(text, "Policy mine chose plan 2 of 5: the choir first\n"));
    assert_non_null(strstr(text, "The first of them: 1 stays dark, 0 disturbed, 2 fixtures to touch, 3 settings on transmitters.\n"));
    assert_null(strstr(text, "stopped early"));
    free(text);
    json_t *json = json_of(fix), *policy = json_object_get(json, "policy");
    assert_int_equal(json_integer_value(json_object_get(policy, "choice")), 2);
    assert_int_equal(json_integer_value(json_object_get(policy, "plans")), 5);
    assert_int_equal(json_integer_value(json_object_get(json_object_get(policy, "first"), "touches")), 2);
    assert_string_equal(json_string_value(json_object_get(policy, "why")), "the choir first");
    assert_null(json_object_get(json, "at_least"));
    assert_null(json_object_get(json, "proved"));
    json_decref(json);
    fix->report.policy_choice = 1;
    text = text_of(fix);
    assert_non_null(strstr(text, "stopped early"));
    assert_null(strstr(text, "The first of them"));
    free(text);
}

/* Two rows 10 m apart, four fixtures 2 m from each other in each, ids in zigzag: one row is walked up, the other down. Fixture 9 has no
 * position and comes last. */
static void rows_are_walked_one_after_the_other(void **state)
{
    static const int walk[] = { 1, 3, 5, 7, 8, 6, 4, 2, 9 };
    struct fix *fix = *state;
    struct show *show = show_copy(fix->show);
    show_free(fix->show);
    fix->show = show;
    show->fixture_count = 0;
    for (int n = 1; n <= 9; n++) {
        struct fixture *fixture = show_add_fixture(show);
        fixture->id = n;
        fixture->site = show->sites[0].id;
        if (n < 9)
            fixture->pos = (struct position){ (n - 1) / 2 * 2, n % 2 ? 0 : 10, 3 };
    }
    assert_int_equal(show_index(show), 0);
    for (uint32_t i = 0; i < 9; i++)
        step(fix, SUBJECT_FIXTURE, i, "lane", plan__number(1), plan__number(2), "it is on lane 2");
    char *text = text_of(fix), *at = text;
    for (int i = 0; i < 9; i++) {
        char line[40];
        snprintf(line, sizeof line, "%3d. fixture %d", i + 1, walk[i]);
        at = strstr(at, line);
        assert_non_null(at);
    }
    free(text);
}

/* Where its new place is given it is met there: at the new site, and with the new position. */
static void who_moves_is_met_at_the_new_place(void **state)
{
    struct fix *fix = *state;
    fix->plan->kind = PLAN_MOVE;
    step(fix, SUBJECT_FIXTURE, 1, "site", plan__value("quay"), plan__value("barge"), "it moves");
    step(fix, SUBJECT_FIXTURE, 1, "pos", plan__value("0 3 2"), plan__value("7 1.5 0"), "where it stands now");
    step(fix, SUBJECT_FIXTURE, 0, "site", plan__value("quay"), plan__value("barge"), "it moves");
    step(fix, SUBJECT_FIXTURE, 1, "lane", plan__number(1), plan__number(2), "universe 7 is on lane 2 of T9");
    char *text = text_of(fix);
    assert_non_null(strstr(text, "Fixtures at site barge, 1 to touch\n   universe 7 is on lane 2 of T9:\n  1. fixture 2 at 7 1.5 0 m: lane 2 (now 1)\n"));
    assert_non_null(strstr(text, "Join by themselves, nothing to key in: 1 fixture\n     1\n"));    /* fixture 2, whose steps stand apart, not */
    free(text);
}

static void names_of_others_do_not_steer_the_terminal(void **state)
{
    struct fix *fix = *state;
    fix->report.policy = "p\033[2J";
    fix->report.policy_says = "line\nend";
    fix->report.policy_choice = 2;
    fix->report.policy_plans = 5;
    step(fix, SUBJECT_FIXTURE, 0, "code", plan__null(), plan__value("1\0332"), "be\033cause");
    char *text = text_of(fix);
    assert_null(strchr(text, '\033'));
    assert_non_null(strstr(text, "Policy p?[2J chose plan 2 of 5: line?end\n"));
    free(text);
}

#define REPORTED(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        REPORTED(text_reads_like_instructions),
        REPORTED(json_is_as_the_design_says),
        REPORTED(a_bound_an_alternative_and_a_written_file_are_told),
        REPORTED(a_refusal_says_why_and_which_rule_names_it),
        REPORTED(a_patch_tells_its_universes),
        REPORTED(a_patch_that_stopped_early_says_what_is_open),
        REPORTED(a_move_takes_along_what_needs_no_touch),
        REPORTED(a_choice_is_told_beside_the_first),
        REPORTED(rows_are_walked_one_after_the_other),
        REPORTED(who_moves_is_met_at_the_new_place),
        REPORTED(names_of_others_do_not_steer_the_terminal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
