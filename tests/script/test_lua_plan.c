/* Plans as scripts see them. The rig is that of the tests of the commands (tests/cli/plan_test.h), solved by hand there: T9 takes
 * over T1's code (1 setting) and two lanes (2 settings), 0 touches. */
#include "cli/plan_test.h"

#include "lua_fake.h"
#include "rigcall/showfile.h"

/* One fixture works at the barge, one hangs there unpatched. */
#define BARGE \
    "    { id = 199, type = \"tile\", mode = \"m\", site = \"barge\", pos = { 503, 0, 2 }, universe = 3, address = 1,\n" \
    "      code = \"51829304\", air = \"dual\", lane = 1 },\n" \
    "    { id = 200, type = \"tile\", mode = \"m\", site = \"barge\", pos = { 505, 0, 2 } },\n"

static struct show *show;

static struct show *load(const char *text)
{
    struct rig_why why;
    struct show *made;
    if (showfile_parse("test", text, strlen(text), &made, &why))
        fail_msg("%s", why.text);
    return made;
}

static void a_swap_comes_as_a_plain_table(void **state)
{
    (void)state;
    assert_prints(show, "local p = rig.plan_swap{ out = 'T1' } "
                        "print(p.kind, p.touches, p.settings, p.dark, p.disturbed, p.proved, p.refused, p.rule, #p.steps, p.undisturbing, p.at_least) "
                        "for _, s in ipairs(p.steps) do print(s.action, s.kind, s.id, tostring(s.subject), s.field, s.from, s.to, #s.why > 0) end "
                        "print(#p.fixtures_touched, #p.fixtures_dark, #p.fixtures_disturbed, #p.why_dark)",
                  "swap 0 3 0 0 true nil nil 5 nil nil\n"
                  "clear transmitter T1 transmitter T1 Quay mast code 40718263 nil true\n"
                  "clear transmitter T1 transmitter T1 Quay mast lanes 1:1 2:2 nil true\n"
                  "set transmitter T9 transmitter T9 Spare code nil 40718263 true\n"
                  "set transmitter T9 transmitter T9 Spare lane 1 nil 1 true\n"
                  "set transmitter T9 transmitter T9 Spare lane 2 nil 2 true\n"
                  "0 0 0 0\n");
}

static void out_and_into_take_objects_ids_and_arrays(void **state)
{
    (void)state;
    assert_prints(show, "local t1 = rig.get('transmitter', 'T1') "
                        "print(rig.plan_swap{ out = t1 }.settings, rig.plan_swap{ out = { t1, 'T1' }, into = { 'T9' } }.settings, "
                        "rig.plan_swap{ out = 'T1', into = 'T9', keep_working = true }.settings) "
                        "local p = rig.plan_swap{ out = 'T1', into = 'T3' } print(p.refused, p.dark, p.lost, #p.steps, "
                        "table.concat(p.universes_dark, ' '), #p.fixtures_failing)",
                  "3 3 3\nnil 3 3 2 1 2 0\n");
}

static void a_plan_is_the_scripts_own(void **state)
{
    (void)state;
    assert_prints(show, "local p = rig.plan_swap{ out = 'T1' } p.settings = 99 p.steps[1] = nil "
                        "print(rig.plan_swap{ out = 'T1' }.settings, rig.get('transmitter', 'T1').code)", "3 40718263\n");
}

/* The loose tile hangs at the barge: T3 has lanes 2 to 4 free; one new universe, the lowest unused number, 4. */
static void a_patch_names_new_universes_by_number(void **state)
{
    (void)state;
    assert_prints(show, "local p = rig.plan_patch() print(p.kind, p.touches, p.dark, tostring(p.fixtures_touched[1])) "
                        "for _, s in ipairs(p.steps) do if s.kind == 'universe' then print(s.id, s.subject, s.field, s.to ~= nil) end "
                        "if s.field == 'universe' or s.field == 'address' then print(s.id, s.field, s.from, s.to) end end "
                        "print(rig.plan_patch{ site = 'quay' }.touches, rig.plan_patch{ site = rig.get('site', 'quay'), order = 'id' }.touches)",
                  "patch 1 0 fixture 200\n4 nil label true\n200 universe nil 4\n200 address nil 1\n0 0\n");
}

/* Three quay fixtures go to the barge: T3, two radios dual, has lanes 2, 3 and 4 free for universes 1 and 2. Fixture 199 works on
 * its code, which therefore stays, so each of the three must be touched. */
static void a_move_takes_positions(void **state)
{
    (void)state;
    assert_prints(show, "local p = rig.plan_move{ from = 'quay', to = 'barge', positions = { [101] = { 505, 0, 2 }, "
                        "[rig.get('fixture', 102)] = { x = 506, y = 0, z = 2 } } } "
                        "print(p.kind, p.touches, p.dark, p.settings) "
                        "for _, s in ipairs(p.steps) do if s.field == 'pos' then print(s.id, s.from, s.to) end end",
                  "move 3 0 2\n101 3 0 2 505 0 2\n102 6 0 2 506 0 2\n103 9 0 2 nil\n");
}

static void spare_for_asks_the_planner(void **state)
{
    (void)state;
    assert_prints(show, "print(tostring(rig.spare_for(rig.get('transmitter', 'T1')))) print(rig.spare_for(rig.get('transmitter', 'T3')))",
                  "transmitter T9 Spare\nnil\n");
}

static void misuse_is_named(void **state)
{
    (void)state;
    assert_breaks(show, "rig.plan_swap()", "test.lua:1: bad argument #1 to 'plan_swap' (table expected, got no value)");
    assert_breaks(show, "rig.plan_swap{}", "test.lua:1: bad argument #1 to 'plan_swap' (out is missing: the transmitter that is lost)");
    assert_breaks(show, "rig.plan_swap{ out = {} }", "test.lua:1: bad argument #1 to 'plan_swap' (out is missing: the transmitter that is lost)");
    assert_breaks(show, "rig.plan_swap{ out = 'T2' }", "test.lua:1: bad argument #1 to 'plan_swap' (out: no transmitter 'T2')");
    assert_breaks(show, "rig.plan_swap{ out = 1 }",
                  "test.lua:1: bad argument #1 to 'plan_swap' (out is a number; expected a transmitter or its id)");
    assert_breaks(show, "rig.plan_swap{ out = 'T1', inot = 'T9' }", "test.lua:1: bad argument #1 to 'plan_swap' (no option 'inot'; nearest: 'into')");
    assert_breaks(show, "rig.plan_swap{ out = 'T1', into = 'T1' }", "test.lua:1: bad argument #1 to 'plan_swap' (transmitter T1 is lost: it cannot take over)");
    assert_breaks(show, "rig.plan_swap{ out = 'T1', keep_working = 1 }",
                  "test.lua:1: bad argument #1 to 'plan_swap' (keep_working is a number; expected true or false)");
    assert_breaks(show, "rig.plan_patch{ order = 'size' }", "test.lua:1: bad argument #1 to 'plan_patch' (order is neither \"hang\" nor \"id\")");
    assert_breaks(show, "rig.plan_patch{ site = 'quax' }", "test.lua:1: bad argument #1 to 'plan_patch' (site: no site 'quax')");
    assert_breaks(show, "rig.plan_move{ from = 'quay' }", "test.lua:1: bad argument #1 to 'plan_move' (from and to are needed: two sites)");
    assert_breaks(show, "rig.plan_move{ from = 'quay', to = 'quay' }", "test.lua:1: bad argument #1 to 'plan_move' (from and to are one site)");
    assert_breaks(show, "rig.plan_move{ from = 'quay', to = 'barge', positions = { [7] = { 1, 2, 3 } } }",
                  "test.lua:1: bad argument #1 to 'plan_move' (positions: no fixture '7')");
    assert_breaks(show, "rig.plan_move{ from = 'quay', to = 'barge', positions = { [101] = { 1, 2, 0/0 } } }",
                  "test.lua:1: bad argument #1 to 'plan_move' (positions: a place is { x, y, z }, in metres)");
    assert_breaks(show, "rig.plan_move{ from = 'quay', to = 'barge', positions = { [200] = { 1, 2, 3 } } }",
                  "test.lua:1: bad argument #1 to 'plan_move' (a position is given for a fixture that does not move)");
    assert_breaks(show, "rig.spare_for(rig.get('site', 'quay'))",
                  "test.lua:1: bad argument #1 to 'spare_for' (transmitter expected, got site quay North quay)");
}

/* Whatever is short, and wherever: the script ends by the limit and nothing leaks (lua_close() runs under AddressSanitizer). */
static void memory_may_run_out_anywhere(void **state)
{
    (void)state;
    for (size_t limit = 40000; limit < 300000; limit += 997) {
        fake_reset();
        fake.host.memory_limit = limit;
        fake_rule(show, "for _ = 1, 20 do rig.plan_swap{ out = 'T1' } rig.plan_move{ from = 'quay', to = 'barge' } end");
        if (fake.failed)
            assert_string_equal(fake.error, "limit of memory");
    }
}

/* The lists of a policy's plans are made when they are asked for; nobody sees that. */
static void a_policy_sees_the_same_tables(void **state)
{
    (void)state;
    struct plan *plan;
    uint32_t lost = show_find_transmitter(show, "T1");
    assert_int_equal(plan_swap(show, &(struct plan_swap_options){ .out = &lost, .out_count = 1 }, &plan, NULL), 0);
    const struct plan *const plans[] = { plan, plan };
    fake_reset();
    fake.host.plans = plans;
    fake.host.plan_count = 2;
    fake_swap(show, "local function same(a, b) if type(a) ~= 'table' then return a == b end "
                    "for k, v in pairs(a) do if not same(v, b[k]) then print('differs', k) return false end end "
                    "for k in pairs(b) do if a[k] == nil then print('more', k) return false end end return true end "
                    "local own = rig.plan_swap{ out = 'T1' } "
                    "print(#plans[1].steps, plans[1].refused, getmetatable(plans[1]), pcall(setmetatable, plans[1], {})) "
                    "print(tostring(plans[1].transmitters[1]), #plans[1].transmitters, tostring(plans[1].out[1]), #plans[1].out, plans[1].steps == plans[1].steps) "
                    "print(same(plans[1], own), same(own, plans[2]), same(plans[2], plans[1])) "
                    "plans[1].settings, plans[1].steps[1] = 99, nil print(plans[2].settings, #plans[2].steps) choose(1)");
    assert_log("5 nil false false cannot change a protected metatable\ntransmitter T9 Spare 1 transmitter T1 Quay mast 1 true\ntrue true true\n3 5\nverdict 1 \n");
    fake_reset();
    fake.host.plans = plans;
    fake.host.plan_count = 2;
    fake_swap(show, "for _, step in ipairs(plans[1].step) do print(step) end");
    assert_error("test.lua:1: a plan has no 'step'; nearest: 'steps'");
    fake_reset();
    fake.host.plans = plans;
    fake.host.plan_count = 2;
    fake_swap(show, "for k in pairs(plans[2]) do if not plans[1][k] then print(k) end end print(plans[1].rule, plans[1][1])");
    assert_error("test.lua:1: a plan has no '1'");
    for (size_t limit = 40000; limit < 200000; limit += 997) {
        fake_reset();
        fake.host.plans = plans;
        fake.host.plan_count = 2;
        fake.host.memory_limit = limit;
        fake_swap(show, "for _, plan in ipairs(plans) do local n = #plan.steps for k in pairs(plan) do n = n + #k end end choose(1)");
        if (fake.failed)
            assert_string_equal(fake.error, "limit of memory");
    }
    plan_free(plan);
}

static int setup(void **state)
{
    (void)state;
    show = load(RIG(SPARE, THREE BARGE));
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    show_free(show);
    fake_free();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_swap_comes_as_a_plain_table),
        cmocka_unit_test(out_and_into_take_objects_ids_and_arrays),
        cmocka_unit_test(a_plan_is_the_scripts_own),
        cmocka_unit_test(a_patch_names_new_universes_by_number),
        cmocka_unit_test(a_move_takes_positions),
        cmocka_unit_test(spare_for_asks_the_planner),
        cmocka_unit_test(misuse_is_named),
        cmocka_unit_test(memory_may_run_out_anywhere),
        cmocka_unit_test(a_policy_sees_the_same_tables),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
