/* Swap policies as their script sees them, and what the shipped ones choose among plans made by hand. */
#include "lua_fake.h"
#include "lua_show.h"
#include "rigcall/showfile.h"

static struct show *show;
static struct plan plans[3];
static const struct plan *const list[3] = { &plans[0], &plans[1], &plans[2] };

/* dark, disturbed, touches, settings of each; what is touched and so on does not matter here. */
static void give_plans(uint32_t count, const uint32_t costs[][4])
{
    fake_reset();
    for (uint32_t i = 0; i < count; i++)
        plans[i] = (struct plan){ .kind = PLAN_SWAP, .proved = true, .dark = costs[i][0], .disturbed = costs[i][1],
                                  .touches = costs[i][2], .settings = costs[i][3] };
    fake.host.plans = list;
    fake.host.plan_count = count;
}

static const uint32_t three[][4] = { { 0, 1, 5, 2 }, { 0, 2, 3, 2 }, { 1, 0, 0, 4 } };

#define assert_decides(body, expected) do { give_plans(3, three); fake_swap(show, body); assert_log(expected); } while (0)
#define assert_swap_breaks(body, expected) do { give_plans(3, three); fake_swap(show, body); assert_error(expected); } while (0)

static void it_sees_the_plans_and_chooses(void **state)
{
    (void)state;
    assert_decides("print(#plans, plans[1].disturbed, plans[2].touches, plans[3].dark, plans[3].kind) return choose(2, 'fewer touches')",
                   "3 1 3 1 swap\nverdict 2 fewer touches\n");
    assert_decides("return choose(3)", "verdict 3 \n");
    assert_decides("choose(3) return 7", "verdict 3 \n");
    assert_decides("print(refuse('not today'))", "true\nverdict 0 not today\n");
    assert_decides("return #plans > 9 and choose(9) or refuse('few')", "verdict 0 few\n");
    assert_decides("coroutine.wrap(function() choose(2, 'from a coroutine') end)()", "verdict 2 from a coroutine\n");
}

static void it_asks(void **state)
{
    (void)state;
    give_plans(3, three);
    fake.answers[0] = "no too far";
    fake.answers[1] = "yes";
    fake_swap(show, "local a, note = ask('Plan 1?') print(a, note) if ask('Plan 2?') == 'yes' then choose(2) end");
    assert_log("ask -1 Plan 1?\nno too far\nask -1 Plan 2?\nverdict 2 \n");
}

static void misuse_is_named(void **state)
{
    (void)state;
    assert_swap_breaks("return choose(4)", "test.lua:1: bad argument #1 to 'choose' (there is no plan 4, only 1 to 3)");
    assert_swap_breaks("return choose(0)", "test.lua:1: bad argument #1 to 'choose' (there is no plan 0, only 1 to 3)");
    assert_swap_breaks("return choose('x')", "test.lua:1: bad argument #1 to 'choose' (number expected, got string)");
    assert_swap_breaks("return refuse()", "test.lua:1: bad argument #1 to 'refuse' (text expected, got no value)");
    assert_swap_breaks("return refuse(nil)", "test.lua:1: bad argument #1 to 'refuse' (text expected, got nil)");
    assert_swap_breaks("return choose(2^53)", "test.lua:1: bad argument #1 to 'choose' (there is no plan 9007199254740992, only 1 to 3)");
    assert_swap_breaks("return choose(1.5)", "test.lua:1: bad argument #1 to 'choose' (number has no integer representation)");
    assert_swap_breaks("return 1", "test.lua: run ended without choose(n) or refuse(why)");
    assert_swap_breaks("choose(1) choose(3)", "test.lua:1: choose() after choose(1): a policy decides once, and last");
    assert_swap_breaks("pcall(choose, 1) return refuse('no')", "test.lua:1: refuse() after choose(1): a policy decides once, and last");
    assert_swap_breaks("refuse('no') choose(1)", "test.lua:1: choose() after refuse(): a policy decides once, and last");
    assert_swap_breaks("choose(1) ask('Really?')", "test.lua:1: ask() after choose(1): a policy decides once, and last");
    assert_swap_breaks("choose(1) error('but')", "test.lua:1: but");
    assert_swap_breaks("for _ = 1, 101 do pcall(ask, 'Well?') end ask('Well?')", "test.lua:1: ask() more than 100 times");
    assert_swap_breaks("crew.ask(nil, 'Well?')", "test.lua:1: crew.ask() belongs to sequences; a swap policy has ask(question)");
    assert_swap_breaks("return finding(rig.show(), 'x')", "test.lua:1: finding() belongs to rules; this script is a swap");
    give_plans(1, three);
    fake_swap(show, "choose(2)");
    assert_error("test.lua:1: bad argument #1 to 'choose' (there is no plan 2, only plan 1)");
    fake_reset();
    fake_rule(show, "choose(1)");
    assert_error("test.lua:1: choose() belongs to swap policies; this script is a rule");
    fake_reset();
    fake_run(show, "ask('x')");
    assert_error("test.lua:1: ask() works only inside run, not while the file loads");
}

static void run_shipped(const char *name)
{
    char path[512], *text;
    size_t length;
    snprintf(path, sizeof path, RIGCALL_SOURCE_DIR "/scripts/swaps/%s.lua", name);
    assert_int_equal(showfile_read(path, 1u << 16, &text, &length, NULL), 0);
    fake_run_bytes(show, path, text, length);
    free(text);
}

static void least_touches_counts_touches_among_the_least_dark(void **state)
{
    (void)state;
    give_plans(3, three);
    run_shipped("least-touches");
    assert_log("verdict 2 3 to touch, 2 of the working ones disturbed\n");
    give_plans(2, (const uint32_t[][4]){ { 0, 0, 4, 1 }, { 0, 1, 4, 0 } });          /* as many: the better ranked one */
    run_shipped("least-touches");
    assert_log("verdict 1 4 to touch, 0 of the working ones disturbed\n");
}

static void never_disturb_pays_with_darkness_or_refuses(void **state)
{
    (void)state;
    give_plans(3, three);
    run_shipped("never-disturb");
    assert_log("verdict 3 nothing that works is disturbed, and 1 more stay dark than need to\n");
    give_plans(2, three);
    run_shipped("never-disturb");
    assert_log("verdict 0 every plan disturbs a fixture that works\n");
    give_plans(1, (const uint32_t[][4]){ { 2, 0, 0, 1 } });
    run_shipped("never-disturb");
    assert_log("verdict 1 nothing that works is disturbed\n");
}

#define ASK(n, of, words) "ask -1 Plan " #n " of " #of ", no transmitter to set: " words ". Take it?\n"

static void ask_first_goes_on_at_a_no_and_stops_at_a_skip(void **state)
{
    (void)state;
    give_plans(3, three);
    fake.answers[0] = "no";
    fake.answers[1] = "yes go";
    run_shipped("ask-first");
    assert_log(ASK(1, 3, "0 stay dark, 1 disturbed, 5 to touch, 2 settings")
               ASK(2, 3, "0 stay dark, 2 disturbed, 3 to touch, 2 settings") "verdict 2 go\n");
    give_plans(3, three);
    run_shipped("ask-first");
    assert_log(ASK(1, 3, "0 stay dark, 1 disturbed, 5 to touch, 2 settings") "verdict 0 nobody took a plan\n");
    give_plans(3, three);
    fake.answers[0] = "no";
    fake.sets[0] = (struct script_set){ "offers", "1" };
    run_shipped("ask-first");
    assert_log(ASK(1, 3, "0 stay dark, 1 disturbed, 5 to touch, 2 settings") "verdict 0 the crew took none of the plans\n");
}

static int setup(void **state)
{
    (void)state;
    show = lua_show();
    return show ? 0 : -1;
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
        cmocka_unit_test(it_sees_the_plans_and_chooses),
        cmocka_unit_test(it_asks),
        cmocka_unit_test(misuse_is_named),
        cmocka_unit_test(least_touches_counts_touches_among_the_least_dark),
        cmocka_unit_test(never_disturb_pays_with_darkness_or_refuses),
        cmocka_unit_test(ask_first_goes_on_at_a_no_and_stops_at_a_skip),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
