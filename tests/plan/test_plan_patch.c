/* The first patch of small rigs, worked out by hand. */
#include <inttypes.h>
#include <stdio.h>

#include "plan/plan_show.h"

struct fix { struct show *show, *after; struct plan *plan; struct rig_why why; };

static int setup(void **state)
{
    return (*state = calloc(1, sizeof(struct fix))) ? 0 : -1;
}

static int teardown(void **state)
{
    struct fix *fix = *state;
    show_free(fix->show);
    show_free(fix->after);
    plan_free(fix->plan);
    free(fix);
    return 0;
}

/* Types: bar and solo 128 slots, solo in single only; par 100, wired; long 600. */
#define HEAD "return { rigcall = 1, name = \"Test\", sites = { { id = \"quay\", name = \"North quay\" }, { id = \"barge\" } }, types = {\n" \
    "{ id = \"bar\", airs = { \"single\", \"dual\" }, firmware_floor = { dual = \"3.1\" }, modes = { { id = \"m\", head = {}, cells = 32, " \
    "slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } },\n" \
    "{ id = \"solo\", airs = { \"single\" }, modes = { { id = \"m\", head = {}, cells = 32, " \
    "slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } },\n" \
    "{ id = \"par\", airs = {}, modes = { { id = \"m\", head = {}, cells = 25, slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } },\n" \
    "{ id = \"long\", airs = { \"dual\" }, modes = { { id = \"m\", head = {}, cells = 200, slots = { \"red\", \"green\", \"blue\" }, tail = {} } } },\n" \
    "},\n"

static void load(struct fix *fix, const char *rest)
{
    size_t size = strlen(HEAD) + strlen(rest) + 1;
    char *text = malloc(size);
    assert_non_null(text);
    snprintf(text, size, "%s%s", HEAD, rest);
    fix->show = show_from(text);
    free(text);
}

static void patch_with(struct fix *fix, struct plan_patch_options options)
{
    if (plan_patch(fix->show, &options, &fix->plan, &fix->why))
        fail_msg("%s", fix->why.text);
    assert_null(fix->plan->refused);
    if (plan_apply(fix->plan, fix->show, &fix->after, &fix->why))
        fail_msg("%s", fix->why.text);
}

static void patch(struct fix *fix)
{
    patch_with(fix, (struct plan_patch_options){ .site = SHOW_UNKNOWN });
}

static const struct fixture *after(const struct fix *fix, int64_t id)
{
    uint32_t at = show_find_fixture(fix->after, id);
    assert_true(at != SHOW_UNKNOWN);
    return &fix->after->fixtures[at];
}

static void lands(const struct fix *fix, int64_t id, int64_t universe, int64_t address, const char *transmitter, int64_t lane)
{
    const struct fixture *f = after(fix, id);
    struct landing landing = radio_landing(fix->after, f);
    if (f->universe != universe || f->address != address)
        fail_msg("fixture %" PRId64 " is at %" PRId64 "/%" PRId64 ", not %" PRId64 "/%" PRId64, id, f->universe, f->address, universe, address);
    assert_int_equal(landing.state, LANDING_RIGHT);
    assert_string_equal(fix->after->transmitters[landing.transmitter].id, transmitter);
    assert_int_equal(f->lane, lane);
}

static const struct plan_step *step_of(const struct fix *fix, enum subject_kind kind, const char *id, const char *field)
{
    for (uint32_t i = 0; i < fix->plan->step_count; i++) {
        const struct plan_step *step = &fix->plan->steps[i];
        if (step->subject.kind == kind && !strcmp(step->field, field) && step->subject.index == show_find(fix->show, kind, id))
            return step;
    }
    return NULL;
}

#define TX(id, more) "{ id = \"" id "\", site = \"quay\", radios = 4, airs = { \"single\", \"dual\" }, air = \"dual\", " more " },\n"
#define BAR(id, x) "{ id = " #id ", type = \"bar\", mode = \"m\", site = \"quay\", pos = { " #x ", 0, 2 } },\n"

/* Common practice, no source: fixtures of 128 slots go four to a universe, at 1, 129, 257 and 385; the fifth opens the next.
 * The order is that of the rail, not of the ids. */
static void the_fifth_of_128_slots_opens_the_next_universe(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "pos = { 0, 0, 6 }, reach = 100") "}, universes = {}, fixtures = {\n"
         BAR(101, 9) BAR(102, 3) BAR(103, 6) BAR(104, 12) BAR(105, 0) BAR(106, 15) "} }");
    patch(fix);
    lands(fix, 105, 1, 1, "T1", 1);
    lands(fix, 102, 1, 129, "T1", 1);
    lands(fix, 103, 1, 257, "T1", 1);
    lands(fix, 101, 1, 385, "T1", 1);
    lands(fix, 104, 2, 1, "T1", 2);
    lands(fix, 106, 2, 129, "T1", 2);
    assert_int_equal(fix->plan->dark, 0);
    assert_int_equal(fix->plan->touches, 6);
    assert_int_equal(fix->plan->settings, 3);                /* code, lane 1, lane 2 */
    assert_int_equal(fix->after->universe_count, 2);
    assert_string_equal(fix->after->universes[0].label, "North quay 1");
    assert_string_equal(fix->after->universes[1].label, "North quay 2");
    assert_non_null(step_of(fix, SUBJECT_TRANSMITTER, "T1", "lane 2"));
}

static void by_id_goes_by_id(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "code = \"40718263\"") "}, universes = {}, fixtures = {\n" BAR(7, 3) BAR(3, 9) BAR(5, 6) "} }");
    patch_with(fix, (struct plan_patch_options){ .site = SHOW_UNKNOWN, .by_id = true });
    lands(fix, 3, 1, 1, "T1", 1);
    lands(fix, 5, 1, 129, "T1", 1);
    lands(fix, 7, 1, 257, "T1", 1);
    assert_string_equal(after(fix, 7)->code, "40718263");    /* what it has stays */
}

/* ---- what does not fit ---- */

static void dark(const struct fix *fix, uint32_t count, const int64_t *ids, const char *why)
{
    assert_int_equal(fix->plan->dark, count);
    assert_int_equal(fix->plan->darkened_count, count);
    assert_int_equal(fix->plan->step_count + fix->plan->touches + fix->plan->settings, 0);
    for (uint32_t i = 0; i < count; i++) {
        assert_int_equal(fix->show->fixtures[fix->plan->darkened[i]].id, ids[i]);
        assert_string_equal(fix->plan->dark_whys[i], why);
    }
}

static void out_of_reach_is_named(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "name = \"Mast\", pos = { 0, 0, 2 }, reach = 100") "}, universes = {}, fixtures = {\n"
         BAR(1, 50) BAR(2, 100) BAR(3, 130) "} }");
    patch(fix);
    dark(fix, 1, (const int64_t[]){ 3 }, "no transmitter is in reach of it: transmitter T1 Mast is 130.0 m away, its reach is 100 m");
}

/* One radio in single is one lane: four fit, two are left. */
static void without_a_lane_is_named(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = { { id = \"T1\", site = \"quay\", radios = 1, airs = { \"single\" }, air = \"single\" } },\n"
         "universes = {}, fixtures = {\n" BAR(1, 1) BAR(2, 2) BAR(3, 3) BAR(4, 4) BAR(5, 5) BAR(6, 6) "} }");
    patch(fix);
    dark(fix, 2, (const int64_t[]){ 5, 6 }, "no lane is left on a transmitter in reach of it (T1)");
}

static void longer_than_a_universe_is_named(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = { { id = 1, type = \"long\", mode = \"m\", site = \"quay\" } } }");
    patch(fix);
    dark(fix, 1, (const int64_t[]){ 1 }, "it takes more than the 512 slots of a universe");
}

static void firmware_below_every_floor_is_named(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = { { id = \"T1\", site = \"quay\", radios = 1, airs = { \"dual\" }, air = \"dual\" } },\n"
         "universes = {}, fixtures = { { id = 1, type = \"bar\", mode = \"m\", site = \"quay\", firmware = \"3.0.9\" } } }");
    patch(fix);
    dark(fix, 1, (const int64_t[]){ 1 }, "no transmitter in reach of it can take an air mode that it has");
}

static void a_spare_is_never_used(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "spare = true") "}, universes = {}, fixtures = {\n" BAR(1, 1) "} }");
    patch(fix);
    dark(fix, 1, (const int64_t[]){ 1 }, "no transmitter is in reach of it (spares do not count)");
}

/* 2402..2466 out leaves 14 of the 79 channels (2467..2480); 15 must stay. 2402..2465 leaves 15. */
static void quiet_bands_are_kept_out_down_to_the_floor(void **state)
{
    struct fix *fix = *state;
    load(fix, "quiet = { { from = 2402, to = 2466 } }, transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = {\n" BAR(1, 1) "} }");
    patch(fix);
    dark(fix, 1, (const int64_t[]){ 1 }, "transmitter T1 would keep 14 hop channels, 15 are needed");
    show_free(fix->show);
    show_free(fix->after);
    plan_free(fix->plan);
    load(fix, "quiet = { { from = 2402, to = 2465 } }, transmitters = {\n" TX("T1", "keep_out = { { from = 2402, to = 2410 } }")
         "}, universes = {}, fixtures = {\n" BAR(1, 1) "} }");
    patch(fix);
    lands(fix, 1, 1, 1, "T1", 1);
    const struct plan_step *step = step_of(fix, SUBJECT_TRANSMITTER, "T1", "keep_out");
    assert_non_null(step);
    assert_string_equal(step->from.text, "2402-2410");
    assert_string_equal(step->to.text, "2402-2410 2402-2465");
    assert_int_equal(radio_hops(&fix->after->transmitters[0]), 15);
    assert_int_equal(fix->plan->settings, 3);                /* code, keep_out, lane 1 */
}

/* ---- air modes, wired fixtures, shared addresses ---- */

static void an_empty_transmitter_takes_the_air_mode_its_fixtures_have(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = { { id = 1, type = \"solo\", mode = \"m\", site = \"quay\" },\n"
         "{ id = 2, type = \"bar\", mode = \"m\", site = \"quay\", firmware = \"3.0\" } } }");
    patch(fix);
    lands(fix, 1, 1, 1, "T1", 1);
    lands(fix, 2, 1, 129, "T1", 1);
    assert_int_equal(fix->after->transmitters[0].air, AIR_SINGLE);
    assert_int_equal(after(fix, 2)->air, AIR_SINGLE);
}

static void what_has_no_air_mode_is_wired(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {}, universes = {}, fixtures = { { id = 1, type = \"par\", mode = \"m\", site = \"quay\" },\n"
         "{ id = 2, type = \"bar\", mode = \"m\", site = \"quay\", wired = true, code = \"40718263\" } } }");
    patch(fix);
    assert_int_equal(fix->plan->dark, 0);
    assert_int_equal(after(fix, 1)->universe, 1);
    assert_int_equal(after(fix, 1)->address, 1);
    assert_int_equal(after(fix, 2)->address, 101);
    assert_null(after(fix, 2)->code);
    assert_non_null(strstr(step_of(fix, SUBJECT_FIXTURE, "1", "address")->why, "wired"));
}

static void what_shares_an_address_on_purpose_goes_along(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = { { id = 1, type = \"bar\", mode = \"m\", site = \"quay\" },\n"
         "{ id = 2, type = \"bar\", mode = \"m\", site = \"quay\" }, { id = 3, type = \"bar\", mode = \"m\", site = \"quay\", same_as = 1 } } }");
    patch(fix);
    lands(fix, 1, 1, 1, "T1", 1);
    lands(fix, 3, 1, 1, "T1", 1);
    lands(fix, 2, 1, 129, "T1", 1);
    show_free(fix->show);                                    /* the same again, with the first of them patched already */
    plan_free(fix->plan);
    fix->show = fix->after;
    fix->after = NULL;
    fix->show->fixtures[2].universe = fix->show->fixtures[2].address = fix->show->fixtures[2].lane = SHOW_NONE;
    fix->show->fixtures[2].code = NULL;
    assert_int_equal(show_index(fix->show), 0);
    patch(fix);
    lands(fix, 3, 1, 1, "T1", 1);
    assert_int_equal(fix->plan->touches, 1);
    assert_int_equal(fix->plan->settings, 0);
}

/* ---- what is there already ---- */

#define OLD "transmitters = { { id = \"T1\", site = \"quay\", radios = 2, airs = { \"dual\" }, air = \"dual\", code = \"40718263\",\n" \
    "lanes = { { lane = 2, universe = 5 }, { lane = 1, universe = 3 } } } },\n" \
    "universes = { { id = 3, label = \"Quay rail\" }, { id = 5, label = \"North quay 1\" }, { id = 9, wire = 2, label = \"Desk\" } }, fixtures = {\n" \
    "{ id = 50, type = \"bar\", mode = \"m\", site = \"quay\", universe = 3, address = 1, code = \"40718263\", air = \"dual\", lane = 1 },\n" \
    BAR(1, 1) BAR(2, 2) BAR(3, 3) BAR(4, 4) BAR(5, 5)

/* Universe 5 is on a lane and empty: it is taken first. Universe 3 is in use and not filled. 1 is the lowest number that
 * nothing has; its label would be that of universe 5, so it gets another. */
static void lanes_that_carry_nothing_come_first(void **state)
{
    struct fix *fix = *state;
    load(fix, OLD "} }");
    patch(fix);
    lands(fix, 50, 3, 1, "T1", 1);
    lands(fix, 1, 5, 1, "T1", 2);
    lands(fix, 4, 5, 385, "T1", 2);
    lands(fix, 5, 1, 1, "T1", 3);
    assert_int_equal(fix->plan->settings, 1);
    assert_int_equal(fix->plan->touches, 5);
    assert_string_equal(fix->after->universes[3].label, "North quay 1-2");
}

static void fill_uses_what_is_free(void **state)
{
    struct fix *fix = *state;
    load(fix, OLD "} }");
    patch_with(fix, (struct plan_patch_options){ .site = SHOW_UNKNOWN, .fill = true });
    lands(fix, 1, 3, 129, "T1", 1);
    lands(fix, 3, 3, 385, "T1", 1);
    lands(fix, 4, 5, 1, "T1", 2);
    lands(fix, 5, 5, 129, "T1", 2);
    assert_int_equal(fix->plan->settings, 0);
}

/* Everything moves: 50 has no place, so it comes last. The lanes stay and are used again, lowest universe first. */
static void all_starts_again_and_keeps_the_lanes(void **state)
{
    struct fix *fix = *state;
    load(fix, OLD "} }");
    patch_with(fix, (struct plan_patch_options){ .site = SHOW_UNKNOWN, .all = true });
    lands(fix, 1, 3, 1, "T1", 1);
    lands(fix, 4, 3, 385, "T1", 1);
    lands(fix, 5, 5, 1, "T1", 2);
    lands(fix, 50, 5, 129, "T1", 2);
    assert_int_equal(fix->plan->settings, 0);
    assert_int_equal(fix->plan->touches, 6);
}

/* 8 x 128 slots are two full universes. */
static void tight_says_what_it_proved(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = {\n" BAR(1, 1) BAR(2, 2) BAR(3, 3) BAR(4, 4) BAR(5, 5) BAR(6, 6)
         BAR(7, 7) BAR(8, 8) "} }");
    patch_with(fix, (struct plan_patch_options){ .site = SHOW_UNKNOWN, .tight = true });
    assert_true(fix->plan->has_bins && fix->plan->proved);
    assert_int_equal(fix->plan->universes, 2);
    assert_int_equal(fix->plan->universes_at_least, 2);
}

/* ---- order and reach ---- */

/* A rail along y, hung a little askew: growing y is the order, whatever x does. */
static void the_rail_gives_the_order(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = {\n"
         "{ id = 1, type = \"bar\", mode = \"m\", site = \"quay\", pos = { 0, 30, 0 } },\n"
         "{ id = 2, type = \"bar\", mode = \"m\", site = \"quay\", pos = { 3, 0, 0 } },\n"
         "{ id = 3, type = \"bar\", mode = \"m\", site = \"quay\", pos = { 1, 20, 0 } },\n"
         "{ id = 4, type = \"bar\", mode = \"m\", site = \"quay\", pos = { 2, 10, 0 } } } }");
    patch(fix);
    lands(fix, 2, 1, 1, "T1", 1);
    lands(fix, 4, 1, 129, "T1", 1);
    lands(fix, 3, 1, 257, "T1", 1);
    lands(fix, 1, 1, 385, "T1", 1);
}

/* Two masts 200 m apart with 60 m of reach: the stretch ends where the first no longer reaches. They cannot hear one receiver,
 * so one code does for both (60 + 60 < 200); a third, 100 m from each, needs another. */
static void stretches_end_where_reach_ends_and_codes_are_shared(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "pos = { 0, 0, 2 }, reach = 60") TX("T2", "pos = { 200, 0, 2 }, reach = 60")
         TX("T3", "pos = { 100, 0, 2 }, reach = 41") "}, universes = {}, fixtures = {\n" BAR(1, 0) BAR(2, 10) BAR(3, 100) BAR(4, 190) BAR(5, 200) "} }");
    patch(fix);
    lands(fix, 1, 1, 1, "T1", 1);
    lands(fix, 2, 1, 129, "T1", 1);
    lands(fix, 3, 2, 1, "T3", 1);
    lands(fix, 4, 3, 1, "T2", 1);
    lands(fix, 5, 3, 129, "T2", 1);
    const struct transmitter *t = fix->after->transmitters;
    assert_string_equal(t[0].code, t[1].code);
    assert_string_not_equal(t[0].code, t[2].code);
    assert_true(fix->plan->proved);
}

/* ---- refusals ---- */

static void contradictions_are_refused(void **state)
{
    struct fix *fix = *state;
    struct plan_patch_options options = { .site = SHOW_UNKNOWN };
    load(fix, "transmitters = {}, universes = {}, fixtures = { { id = 1, type = \"tube\", mode = \"m\", site = \"quay\" } } }");
    assert_int_equal(plan_patch(fix->show, &options, &fix->plan, &fix->why), 0);
    assert_string_equal(fix->plan->refused, "fixture 1 has a type or mode that the show does not define");
    assert_string_equal(fix->plan->refused_rule, "type-known");
    plan_free(fix->plan);
    show_free(fix->show);
    load(fix, "transmitters = {}, universes = {}, fixtures = {\n" BAR(1, 1) BAR(1, 2) "} }");
    assert_int_equal(plan_patch(fix->show, &options, &fix->plan, &fix->why), 0);
    assert_string_equal(fix->plan->refused_rule, "ids-unique");
    plan_free(fix->plan);
    fix->plan = NULL;
    options.site = 7;
    assert_int_equal(plan_patch(fix->show, &options, &fix->plan, &fix->why), RIG_EUSAGE);
    assert_null(fix->plan);
}

static void one_site_only(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {\n" TX("T1", "") "}, universes = {}, fixtures = {\n" BAR(1, 1) "{ id = 2, type = \"bar\", mode = \"m\", site = \"barge\" } } }");
    patch_with(fix, (struct plan_patch_options){ .site = 0 });
    lands(fix, 1, 1, 1, "T1", 1);
    assert_true(after(fix, 2)->universe == SHOW_NONE);
}

static void nothing_to_do_is_no_plan(void **state)
{
    struct fix *fix = *state;
    load(fix, "transmitters = {}, universes = {}, fixtures = {} }");
    patch(fix);
    assert_int_equal(fix->plan->step_count + fix->plan->dark + fix->plan->touches, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_fifth_of_128_slots_opens_the_next_universe),
        TEST(by_id_goes_by_id),
        TEST(out_of_reach_is_named),
        TEST(without_a_lane_is_named),
        TEST(longer_than_a_universe_is_named),
        TEST(firmware_below_every_floor_is_named),
        TEST(a_spare_is_never_used),
        TEST(quiet_bands_are_kept_out_down_to_the_floor),
        TEST(an_empty_transmitter_takes_the_air_mode_its_fixtures_have),
        TEST(what_has_no_air_mode_is_wired),
        TEST(what_shares_an_address_on_purpose_goes_along),
        TEST(lanes_that_carry_nothing_come_first),
        TEST(fill_uses_what_is_free),
        TEST(all_starts_again_and_keeps_the_lanes),
        TEST(tight_says_what_it_proved),
        TEST(the_rail_gives_the_order),
        TEST(stretches_end_where_reach_ends_and_codes_are_shared),
        TEST(contradictions_are_refused),
        TEST(one_site_only),
        TEST(nothing_to_do_is_no_plan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
