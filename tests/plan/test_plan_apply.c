/* Plans carried out on a copy, and fresh join codes. The plans are made by hand: what the solvers find is not the point here. */
#include "plan/plan_internal.h"
#include "plan_show.h"

static const char rig[] =
    "return { rigcall = 1, name = \"Two masts\",\n"
    " sites = { { id = \"quay\" }, { id = \"barge\" } },\n"
    " types = { { id = \"wash\", airs = { \"single\", \"dual\" }, modes = {\n"
    "   { id = \"m\", head = {}, cells = 1, slots = { \"red\" }, tail = {} }, { id = \"n\", head = {}, cells = 2, slots = { \"red\" }, tail = {} } } } },\n"
    " transmitters = {\n"
    "   { id = \"T1\", site = \"quay\", radios = 2, airs = { \"dual\" }, air = \"dual\", code = \"40718263\",\n"
    "     lanes = { { lane = 1, universe = 1 }, { lane = 4, universe = 2 } },\n"
    "     keep_out = { { from = 2402, to = 2410, who = \"camera\" } } },\n"
    "   { id = \"T9\", site = \"quay\", radios = 2, airs = { \"single\", \"dual\" }, air = \"single\", spare = true } },\n"
    " universes = { { id = 1 }, { id = 2 } },\n"
    " fixtures = { { id = 101, type = \"wash\", mode = \"m\", site = \"quay\", pos = { 3, 0, 2 }, universe = 1, address = 1,\n"
    "                code = \"40718263\", air = \"dual\", lane = 1 },\n"
    "              { id = 102, type = \"wash\", mode = \"m\", site = \"quay\", universe = 2, address = 1, code = \"40718263\", air = \"dual\", lane = 4 } } }\n";

struct fix { struct show *show, *after; struct plan *plan; struct rig_why why; };

static int setup(void **state)
{
    struct fix *fix = calloc(1, sizeof *fix);
    fix->show = show_from(rig);
    fix->plan = plan__new(PLAN_SWAP);
    *state = fix;
    return fix->plan ? 0 : -1;
}

static int teardown(void **state)
{
    struct fix *fix = *state;
    show_free(fix->after);
    show_free(fix->show);
    plan_free(fix->plan);
    free(fix);
    return 0;
}

static void step(struct fix *fix, enum subject_kind kind, uint32_t index, const char *field, struct plan_value to)
{
    struct plan_step *made = plan__step(fix->plan, kind, index, field);
    assert_non_null(made);
    made->to = to;
}

static void apply(struct fix *fix)
{
    if (plan_apply(fix->plan, fix->show, &fix->after, &fix->why))
        fail_msg("%s", fix->why.text);
}

static void nothing_changes_what_no_step_names(void **state)
{
    struct fix *fix = *state;
    char *before, *after;
    size_t length;
    apply(fix);
    assert_int_equal(showfile_format(fix->show, &before, &length, NULL), 0);
    assert_int_equal(showfile_format(fix->after, &after, &length, NULL), 0);
    assert_string_equal(before, after);
    free(before);
    free(after);
}

static void every_field_of_a_transmitter(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_TRANSMITTER, 0, "code", plan__null());
    step(fix, SUBJECT_TRANSMITTER, 0, "lanes", plan__null());
    step(fix, SUBJECT_TRANSMITTER, 1, "air", plan__value("dual"));
    step(fix, SUBJECT_TRANSMITTER, 1, "code", plan__value("40718263"));
    step(fix, SUBJECT_TRANSMITTER, 1, "keep_out", plan__value("2402-2410.5 2450-2460"));
    step(fix, SUBJECT_TRANSMITTER, 1, "lane 4", plan__number(2));
    step(fix, SUBJECT_TRANSMITTER, 1, "lane 1", plan__number(1));
    apply(fix);
    const struct transmitter *lost = &fix->after->transmitters[0], *spare = &fix->after->transmitters[1];
    assert_null(lost->code);
    assert_int_equal(lost->lane_count, 0);
    assert_int_equal(spare->air, AIR_DUAL);
    assert_string_equal(spare->code, "40718263");
    assert_false(spare->spare);                              /* it has received lanes */
    assert_int_equal(spare->lane_count, 2);
    assert_int_equal(spare->lanes[0].lane, 1);
    assert_int_equal(spare->lanes[1].universe, 2);
    assert_int_equal(spare->keep_out_count, 2);
    assert_true(spare->keep_out[0].to_mhz == 2410.5 && spare->keep_out[1].from_mhz == 2450);
    assert_int_equal(radio_landing(fix->after, &fix->after->fixtures[1]).transmitter, 1);
    assert_true(fix->show->transmitters[1].spare);           /* the show itself stands */
    assert_string_equal(fix->show->transmitters[0].code, "40718263");
}

static void a_spare_without_lanes_stays_spare(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_TRANSMITTER, 1, "code", plan__value("77215904"));
    apply(fix);
    assert_true(fix->after->transmitters[1].spare);
}

static void a_spare_whose_lanes_are_set_needs_only_its_code(void **state)
{
    struct fix *fix = *state;
    fix->show->transmitters[1].lanes = fix->show->transmitters[0].lanes;
    fix->show->transmitters[1].lane_count = 1;
    step(fix, SUBJECT_TRANSMITTER, 1, "code", plan__value("77215904"));
    apply(fix);
    assert_false(fix->after->transmitters[1].spare);
}

static void a_spare_that_is_set_up_is_only_switched_on(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_TRANSMITTER, 1, "spare", plan__null());
    apply(fix);
    assert_false(fix->after->transmitters[1].spare);
}

static void lanes_are_replaced_emptied_and_put_in_order(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_TRANSMITTER, 0, "lane 1", plan__number(2));
    step(fix, SUBJECT_TRANSMITTER, 0, "lane 4", plan__null());
    step(fix, SUBJECT_TRANSMITTER, 0, "lane 3", plan__number(1));
    apply(fix);
    const struct transmitter *t = &fix->after->transmitters[0];
    assert_int_equal(t->lane_count, 2);
    assert_int_equal(t->lanes[0].lane, 1);
    assert_int_equal(t->lanes[0].universe, 2);
    assert_int_equal(t->lanes[1].lane, 3);
    assert_int_equal(t->lanes[1].universe, 1);
}

static void a_band_that_stays_keeps_its_words(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_TRANSMITTER, 0, "keep_out", plan__value("2402-2410 2470-2480"));
    apply(fix);
    assert_string_equal(fix->after->transmitters[0].keep_out[0].who, "camera");
    assert_null(fix->after->transmitters[0].keep_out[1].who);
}

static void every_field_of_a_fixture(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_FIXTURE, 0, "universe", plan__number(2));
    step(fix, SUBJECT_FIXTURE, 0, "address", plan__number(17));
    step(fix, SUBJECT_FIXTURE, 0, "mode", plan__value("n"));
    step(fix, SUBJECT_FIXTURE, 0, "code", plan__value("11223344"));
    step(fix, SUBJECT_FIXTURE, 0, "air", plan__value("single"));
    step(fix, SUBJECT_FIXTURE, 0, "lane", plan__number(2));
    step(fix, SUBJECT_FIXTURE, 0, "site", plan__value("barge"));
    step(fix, SUBJECT_FIXTURE, 0, "pos", plan__value("-3.5 0 1e1"));
    step(fix, SUBJECT_FIXTURE, 1, "pos", plan__null());
    step(fix, SUBJECT_FIXTURE, 1, "lane", plan__null());
    apply(fix);
    const struct fixture *f = &fix->after->fixtures[0];
    assert_int_equal(f->universe, 2);
    assert_int_equal(f->address, 17);
    assert_int_equal(fixture_footprint(fix->after, f), 2);
    assert_string_equal(f->code, "11223344");
    assert_int_equal(f->air, AIR_SINGLE);
    assert_int_equal(f->lane, 2);
    assert_int_equal(f->site_index, 1);
    assert_true(f->pos.x_m == -3.5 && f->pos.y_m == 0 && f->pos.z_m == 10);
    assert_false(position_given(&fix->after->fixtures[1].pos));
    assert_true(fix->after->fixtures[1].lane == SHOW_NONE);
}

static void a_new_universe_is_added_once(void **state)
{
    struct fix *fix = *state;
    step(fix, SUBJECT_UNIVERSE, 2, "label", plan__value("Quay 3"));
    fix->plan->steps[0].id = 3;
    step(fix, SUBJECT_UNIVERSE, 3, "label", plan__value("Quay 4"));
    fix->plan->steps[1].id = 4;
    step(fix, SUBJECT_UNIVERSE, 2, "label", plan__value("Quay three"));
    fix->plan->steps[2].id = 3;
    step(fix, SUBJECT_UNIVERSE, 0, "label", plan__value("Old"));
    apply(fix);
    assert_int_equal(fix->after->universe_count, 4);
    assert_string_equal(fix->after->universes[0].label, "Old");
    assert_int_equal(fix->after->universes[2].id, 3);
    assert_string_equal(fix->after->universes[2].label, "Quay three");
    assert_int_equal(show_find_universe(fix->after, 4), 3);
}

/* They have the indexes after those of the show, one by one, and keep their ids. */
static void new_universes_out_of_order_do_not_fit(void **state)
{
    static const struct { uint32_t index; int64_t id; } wrong[] = { { 4, 9 }, { 2, 9 }, { 3, SHOW_NONE } };
    struct fix *fix = *state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        fix->plan->step_count = 0;
        step(fix, SUBJECT_UNIVERSE, 2, "label", plan__value("Three"));
        fix->plan->steps[0].id = 3;
        step(fix, SUBJECT_UNIVERSE, wrong[i].index, "label", plan__value("Other"));
        fix->plan->steps[1].id = wrong[i].id;
        assert_int_equal(plan_apply(fix->plan, fix->show, &fix->after, &fix->why), RIG_EUSAGE);
        assert_null(fix->after);
    }
}

/* 60,000 of them: each is found by its index. (With a search for each this took 10 s of a sanitizer build.) */
static void many_new_universes_are_added(void **state)
{
    struct fix *fix = *state;
    for (uint32_t i = 0; i < 60000; i++) {
        step(fix, SUBJECT_UNIVERSE, 2 + i, "label", plan__value("Many"));
        fix->plan->steps[i].id = 3 + (int64_t)i;
    }
    apply(fix);
    assert_int_equal(fix->after->universe_count, 60002);
    assert_int_equal(fix->after->universes[60001].id, 60002);
}

static void steps_that_do_not_fit_change_nothing(void **state)
{
    struct fix *fix = *state;
    static const struct { enum subject_kind kind; uint32_t index; const char *field; struct plan_value to; } bad[] = {
        { SUBJECT_TRANSMITTER, 2, "code", { PLAN_TEXT, "1", 0 } }, { SUBJECT_FIXTURE, 2, "lane", { PLAN_NUMBER, NULL, 1 } },
        { SUBJECT_FIXTURE, 0, "name", { PLAN_TEXT, "x", 0 } }, { SUBJECT_TRANSMITTER, 0, "spare", { PLAN_TEXT, "x", 0 } },
        { SUBJECT_TRANSMITTER, 0, "lane 1x", { PLAN_NUMBER, NULL, 1 } }, { SUBJECT_TRANSMITTER, 0, "air", { PLAN_TEXT, "triple", 0 } },
        { SUBJECT_TRANSMITTER, 0, "keep_out", { PLAN_TEXT, "2402", 0 } }, { SUBJECT_TRANSMITTER, 0, "keep_out", { PLAN_TEXT, "9-1", 0 } },
        { SUBJECT_TRANSMITTER, 0, "keep_out", { PLAN_TEXT, "nan-1", 0 } }, { SUBJECT_FIXTURE, 0, "pos", { PLAN_TEXT, "1 2", 0 } },
        { SUBJECT_FIXTURE, 0, "pos", { PLAN_TEXT, "1 2 inf", 0 } }, { SUBJECT_FIXTURE, 0, "universe", { PLAN_TEXT, "1", 0 } },
        { SUBJECT_FIXTURE, 0, "code", { PLAN_NUMBER, NULL, 1 } }, { SUBJECT_UNIVERSE, 9, "label", { PLAN_TEXT, "no id", 0 } },
        { SUBJECT_UNIVERSE, 0, "wire", { PLAN_NUMBER, NULL, 1 } }, { SUBJECT_SITE, 0, "name", { PLAN_TEXT, "x", 0 } },
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        fix->plan->step_count = 0;
        step(fix, bad[i].kind, bad[i].index, bad[i].field, bad[i].to);
        if (plan_apply(fix->plan, fix->show, &fix->after, &fix->why) != RIG_EUSAGE)
            fail_msg("step %zu (%s) was taken", i, bad[i].field);
        assert_null(fix->after);
        assert_non_null(strstr(fix->why.text, bad[i].field));
    }
    assert_true(plan__refuse(fix->plan, "landing", "nothing reaches %s", "quay"));
    assert_int_equal(plan_apply(fix->plan, fix->show, &fix->after, &fix->why), RIG_EUSAGE);
    assert_string_equal(fix->why.text, "the plan is refused: nothing reaches quay");
}

/* The rule code-guessable and design section 6: one digit eight times, or a run up or down, which does not wrap. */
static void guessable_codes(void **state)
{
    (void)state;
    static const char *const yes[] = { "00000000", "77777777", "01234567", "12345678", "23456789", "98765432", "87654321", "76543210" };
    static const char *const no[] = { "89012345", "10987654", "12345679", "11111112", "1234567", "123456789", "1234567a", "" };
    for (size_t i = 0; i < sizeof yes / sizeof *yes; i++)
        assert_true(plan_code_guessable(yes[i]));
    for (size_t i = 0; i < sizeof no / sizeof *no; i++)
        assert_false(plan_code_guessable(no[i]));
}

#define FRESH 300

static void fresh_codes_are_new_and_the_same_every_time(void **state)
{
    struct fix *fix = *state;
    static char codes[FRESH][9];
    static const char *taken[FRESH];
    for (uint32_t i = 0; i < FRESH; i++) {
        char again[9];
        plan_fresh_code(fix->show, taken, i, codes[i]);
        plan_fresh_code(fix->show, taken, i, again);
        assert_string_equal(codes[i], again);
        assert_int_equal(strlen(codes[i]), 8);
        assert_int_equal(strspn(codes[i], "0123456789"), 8);
        assert_false(plan_code_guessable(codes[i]));
        for (uint32_t k = 0; k < i; k++)
            assert_string_not_equal(codes[i], codes[k]);
        taken[i] = codes[i];
    }
}

static void fresh_codes_leave_out_what_fixtures_and_spares_have(void **state)
{
    struct fix *fix = *state;
    char first[9], second[9], third[9];
    plan_fresh_code(fix->show, NULL, 0, first);
    step(fix, SUBJECT_FIXTURE, 0, "code", plan__value(first));
    apply(fix);
    plan_fresh_code(fix->after, NULL, 0, second);
    assert_string_not_equal(first, second);
    step(fix, SUBJECT_TRANSMITTER, 1, "code", plan__value(second));       /* a spare */
    show_free(fix->after);
    apply(fix);
    plan_fresh_code(fix->after, NULL, 0, third);
    assert_string_not_equal(third, first);
    assert_string_not_equal(third, second);
}

static void another_show_begins_elsewhere(void **state)
{
    struct fix *fix = *state;
    char here[9], there[9], later[9];
    plan_fresh_code(fix->show, NULL, 0, here);
    fix->show->name = show_text(fix->show, "Next stage", 10);
    plan_fresh_code(fix->show, NULL, 0, there);
    fix->show->date = show_text(fix->show, "2027-03-06", 10);
    plan_fresh_code(fix->show, NULL, 0, later);
    assert_string_not_equal(here, there);
    assert_string_not_equal(there, later);
}

#define APPLIED(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        APPLIED(nothing_changes_what_no_step_names),
        APPLIED(every_field_of_a_transmitter),
        APPLIED(a_spare_without_lanes_stays_spare),
        APPLIED(a_spare_whose_lanes_are_set_needs_only_its_code),
        APPLIED(a_spare_that_is_set_up_is_only_switched_on),
        APPLIED(lanes_are_replaced_emptied_and_put_in_order),
        APPLIED(a_band_that_stays_keeps_its_words),
        APPLIED(every_field_of_a_fixture),
        APPLIED(a_new_universe_is_added_once),
        APPLIED(new_universes_out_of_order_do_not_fit),
        APPLIED(many_new_universes_are_added),
        APPLIED(steps_that_do_not_fit_change_nothing),
        cmocka_unit_test(guessable_codes),
        APPLIED(fresh_codes_are_new_and_the_same_every_time),
        APPLIED(fresh_codes_leave_out_what_fixtures_and_spares_have),
        APPLIED(another_show_begins_elsewhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
