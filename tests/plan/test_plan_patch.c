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

/* Types: bar 128 slots, spot 100, tube 8; both air modes unless the name says otherwise; "par" has none. */
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

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_fifth_of_128_slots_opens_the_next_universe),
        TEST(by_id_goes_by_id),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
