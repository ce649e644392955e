/* Sequences: commands, time, tracks, the crew. Expected logs are worked out by hand from design section 7. */
#include <math.h>

#include "lua_fake.h"
#include "lua_show.h"

static struct show *show;

#define assert_plays(body, expected) \
    do { \
        fake_reset(); \
        fake_sequence(show, body); \
        assert_log(expected); \
    } while (0)
#define assert_stops(body, expected) \
    do { \
        fake_reset(); \
        fake_sequence(show, body); \
        assert_error(expected); \
    } while (0)

/* In every body below. */
#define F "local f, head = rig.get('fixture', 101), rig.get('fixture', 201) "

/* ---- commands ---- */

static void commands_carry_time_fixture_cell_and_parameter(void **state)
{
    (void)state;
    assert_plays(F "out.set(f, { red = 100, intensity = 50.5 }) out.set(f:cell(3), { blue = 0 }) wait(1.5)"
                 "out.fade(f, { green = 10 }, 2) out.clear(f) out.clear(f:cell(1)) out.slot(1, 13, 7) "
                 "out.slot(rig.get('universe', 2), 104, 8)",
                 "set @0.000000000 101 intensity 50.5\nset @0.000000000 101 red 100\nset @0.000000000 101/3 blue 0\n"
                 "wait 1.500000000\n"
                 "fade @1.500000000 101 green 10 in 2\nclear @1.500000000 101\nclear @1.500000000 101/1\n"
                 "slot @1.500000000 1/13 7\nslot @1.500000000 2/104 8\n");
}

static void head_and_tail_belong_to_the_fixture_not_to_a_cell(void **state)
{
    (void)state;
    assert_plays(F "out.set(f, { strobe = 0 }) out.set(head, { pan = 100, intensity = 1 })",
                 "set @0.000000000 101 strobe 0\nset @0.000000000 201 intensity 1\nset @0.000000000 201 pan 100\n");
    assert_stops(F "out.set(f:cell(1), { strobe = 0 })",
                 "test.lua:1: fixture 101 Rail 1, cell 1 has no parameter 'strobe' in mode cells");
}

static void wrong_commands_are_script_errors(void **state)
{
    (void)state;
    assert_stops(F "out.set(f, { rde = 1 })", "test.lua:1: fixture 101 Rail 1 has no parameter 'rde' in mode cells; "
                                              "nearest: 'red'");
    assert_stops(F "out.set(f, { zzz = 1, pan = 1 })", "test.lua:1: fixture 101 Rail 1 has no parameter 'pan' in mode "
                                                       "cells");
    assert_stops(F "out.set(head, { ['pan+fine'] = 1 })", "test.lua:1: fixture 201 Head has no parameter 'pan+fine' in "
                                                          "mode m");
    assert_stops(F "out.set(f, { red = 100.1 })", "test.lua:1: level of 'red' is 100.1; expected 0 to 100 (per cent)");
    assert_stops(F "out.set(f, { red = -1 })", "test.lua:1: level of 'red' is -1; expected 0 to 100 (per cent)");
    assert_stops(F "out.set(f, { red = 0/0 })", "test.lua:1: level of 'red' is nan; expected 0 to 100 (per cent)");
    assert_stops(F "out.set(f, { red = '50' })", "test.lua:1: level of 'red' is 50; expected 0 to 100 (per cent)");
    assert_stops(F "out.set(f, { red = true })", "test.lua:1: level of 'red' is boolean; expected 0 to 100 (per cent)");
    assert_stops(F "out.set(f, { 50 })", "test.lua:1: bad argument #2 to 'set' (expected { parameter = level, ... })");
    assert_stops(F "out.set(f, 50)", "test.lua:1: bad argument #2 to 'set' (table expected, got number)");
    assert_stops("out.set(nil, {})", "test.lua:1: bad argument #1 to 'set' (fixture or cell expected, got nil)");
    assert_stops("out.set(rig.get('transmitter', 'T1'), {})",
                 "test.lua:1: bad argument #1 to 'set' (fixture or cell expected, got transmitter T1 Mast)");
    assert_stops("out.set(rig.get('fixture', 401), {})", "test.lua:1: bad argument #1 to 'set' (the mode of fixture 401 "
                                                         "Ghost is unknown)");
    assert_stops(F "out.fade(f, { red = 1 })", "test.lua:1: bad argument #3 to 'fade' (number expected, got no value)");
    assert_stops(F "out.fade(f, { red = 1 }, -1)", "test.lua:1: bad argument #3 to 'fade' (seconds -1 is outside "
                                                   "0..86400)");
    assert_stops(F "out.fade(f, { red = 1 }, 0/0)", "test.lua:1: bad argument #3 to 'fade' (seconds nan is outside "
                                                    "0..86400)");
    assert_stops("out.slot(1, 0, 1)", "test.lua:1: bad argument #2 to 'slot' (slot is outside 1..512)");
    assert_stops("out.slot(1, 513, 1)", "test.lua:1: bad argument #2 to 'slot' (slot is outside 1..512)");
    assert_stops("out.slot(1, 1, 101)", "test.lua:1: level of 'slot' is 101; expected 0 to 100 (per cent)");
    assert_stops("out.slot(1, 27, 1)", "test.lua:1: slot 27 of universe 1 belongs to no fixture of this run");
    assert_stops("out.slot(99, 1, 1)", "test.lua:1: slot 1 of universe 99 belongs to no fixture of this run");
    assert_stops("out.sett()", "test.lua:1: out has no 'sett'; nearest: 'set'");
}

static void a_fixture_that_is_not_patched_gets_nothing(void **state)
{
    (void)state;
    assert_plays("local f = rig.get('fixture', 301) out.set(f, { red = 1 }) out.fade(f, { red = 1 }, 1) out.clear(f)",
        "");
}

static void a_sequence_sees_and_drives_only_its_grant(void **state)
{
    (void)state;
    static const uint32_t grant[] = { 2, 0 };                /* fixtures 201 and 102, in this order */
    fake_reset();
    fake.host.fixtures = grant;
    fake.host.fixture_count = 2;
    fake_sequence(show, "for f in rig.fixtures{} do print(f) end for f in rig.fixtures{ universe = 1 } do "
                        "print(f.id) end "
                        "print(#rig.get('universe', 1):fixtures()) out.slot(1, 14, 1) print(pcall(out.slot, 1, 1, 1)) "
                        "out.set(rig.get('fixture', 101), { red = 1 })");
    assert_error("test.lua:1: bad argument #1 to 'set' (fixture 101 Rail 1 is not among the fixtures of this run)");
    assert_string_equal(fake.log, "fixture 201 Head\nfixture 102 Rail 2\n102\n1\nslot @0.000000000 1/14 1\n"
                                  "false slot 1 of universe 1 belongs to no fixture of this run\n");
}

/* ---- time ---- */

static void waits_count_from_the_last_deadline(void **state)
{
    (void)state;
    assert_plays("print(now()) wait(0.25) print(now()) wait(0) wait(0.5) print(now())",
                 "0.0\nwait 0.250000000\n0.25\nwait 0.250000000\nwait 0.750000000\n0.75\n");
}

/* 1000 waits of 1/44 s: 22.727272... s. Rounding every wait to whole nanoseconds would give 22.727273000. */
static void a_thousand_waits_do_not_drift(void **state)
{
    (void)state;
    fake_reset();
    fake_sequence(show, "for i = 1, 1000 do wait(1/44) end print(string.format('%.9f', now()))");
    assert_true(fake.done);
    assert_non_null(strstr(fake.log, "wait 22.727272727\n22.727272727\n"));
    assert_non_null(strstr(fake.log, "wait 0.022727273\nwait 0.045454545\nwait 0.068181818\n"));
}

static void settle_waits_for_the_last_fade_of_the_script(void **state)
{
    (void)state;
    assert_plays(F "settle() out.fade(f, { red = 1 }, 2) out.fade(f, { blue = 1 }, 1.5) settle() print(now()) settle() "
                   "print(now())",
                 "fade @0.000000000 101 red 1 in 2\nfade @0.000000000 101 blue 1 in 1.5\nwait 2.000000000\n2.0\n2.0\n");
    assert_plays(F "start(function() wait(1) out.fade(f, { red = 2 }, 3) end) out.fade(f, { red = 1 }, 2) settle() "
                   "print(now())",
                 "fade @0.000000000 101 red 1 in 2\nwait 1.000000000\nfade @1.000000000 101 red 2 in 3\n"
                 "wait 2.000000000\nwait 4.000000000\n4.0\n");
}

static void waits_have_limits(void **state)
{
    (void)state;
    assert_stops("wait(-1)", "test.lua:1: bad argument #1 to 'wait' (seconds -1 is outside 0..86400)");
    assert_stops("wait(0/0)", "test.lua:1: bad argument #1 to 'wait' (seconds nan is outside 0..86400)");
    assert_stops("wait(86401)", "test.lua:1: bad argument #1 to 'wait' (seconds 86401 is outside 0..86400)");
    assert_stops("wait()", "test.lua:1: bad argument #1 to 'wait' (number expected, got no value)");
    assert_stops("wait(86400) wait(1)", "test.lua:1: a run lasts at most 86400 s");
}

/* ---- tracks ---- */

static void tracks_run_in_order_of_time_and_then_of_start(void **state)
{
    (void)state;
    assert_plays("for i = 1, 3 do start(function() for k = 1, 2 do print(i, k, now()) wait(0.5) end end) end "
                 "print('main') wait(0.25) print('end')",
                 "main\n1 1 0.0\n2 1 0.0\n3 1 0.0\nwait 0.250000000\nend\nwait 0.500000000\n1 2 0.5\n2 2 0.5\n3 2 0.5\n"
                 "wait 1.000000000\n");
}

/* 0.1 + 0.2 and 0.3 are two doubles but one nanosecond: the tie goes by start. */
static void ties_are_judged_in_nanoseconds(void **state)
{
    (void)state;
    assert_plays("start(function() wait(0.1) wait(0.2) print('first') end) start(function() wait(0.3) "
                 "print('second') end)",
                 "wait 0.100000000\nwait 0.300000000\nfirst\nsecond\n");
}

static void wait_0_sends_and_lets_the_others_run(void **state)
{
    (void)state;
    assert_plays("start(function() for i = 1, 2 do print('b', i) wait(0) end end) for i = 1, 3 do "
                 "print('a', i) wait(0) end",
                 "a 1\nb 1\nwait 0.000000000\na 2\nb 2\nwait 0.000000000\na 3\nwait 0.000000000\n");
}

static void tracks_start_tracks_at_their_own_time(void **state)
{
    (void)state;
    assert_plays("start(function() wait(1) start(function() print('inner', now()) wait(1) print('inner', now()) end) "
                 "print('outer', now()) end)",
                 "wait 1.000000000\nouter 1.0\ninner 1.0\nwait 2.000000000\ninner 2.0\n");
    assert_plays("local co = coroutine.wrap(function() start(function() "
                 "print('from inside', now()) end) end) wait(2) co()",
                 "wait 2.000000000\nfrom inside 2.0\n");
}

static void a_sequence_ends_with_its_last_track(void **state)
{
    (void)state;
    assert_plays("start(function() wait(3) print('late') end)", "wait 3.000000000\nlate\n");
}

static void at_most_a_thousand_tracks_live(void **state)
{
    (void)state;
    fake_reset();
    fake_sequence(show, "for i = 1, 999 do start(function() wait(1) end) end print(pcall(start, print)) wait(2) "
                        "for i = 1, 999 do start(function() end) end print('again') wait(0) "
                        "for i = 1, 3000 do start(function() end) if i % 500 == 0 then wait(0) end end print('on')");
    assert_log("false more than 1000 tracks at a time\nwait 1.000000000\nwait 2.000000000\nagain\nwait 2.000000000\n"
               "wait 2.000000000\nwait 2.000000000\nwait 2.000000000\nwait 2.000000000\nwait 2.000000000\n"
               "wait 2.000000000\non\n");
}

static void an_error_in_any_track_ends_the_run(void **state)
{
    (void)state;
    assert_stops("start(function() wait(1)\nerror('gone') end) wait(5) print('never')", "test.lua:2: gone");
    assert_string_equal(fake.log, "wait 1.000000000\n");
    assert_stops("start(function() error({}) end) wait(5)", "error with a table instead of a text (from test.lua:1)");
}

static void wait_works_only_in_tracks(void **state)
{
    (void)state;
    static const char inside[] = "test.lua:1: wait() works only in the sequence itself or a start()ed track, not inside "
                                 "coroutine.create or wrap";
    assert_stops("coroutine.wrap(function() wait(1) end)()", inside);
    assert_stops("local co = coroutine.create(function() wait(1) end) error(select(2, coroutine.resume(co)), 0)", inside);
    assert_stops("table.sort({ 2, 1 }, function(a, b) wait(1) return a < b end)",
                 "test.lua:1: wait() does not work inside a function that sort, gsub, a filter or a metamethod calls");
    assert_stops("for f in rig.fixtures{ where = function() settle() end } do end",
                 "test.lua:1: settle() does not work inside a function that sort, gsub, a filter or a metamethod calls");
    assert_plays("print(pcall(function() wait(1) print(now()) error('x', 0) end)) print(select('#', xpcall(wait, "
                 "print, 1)), now())",
                 "wait 1.000000000\n1.0\nfalse x\nwait 2.000000000\n1 2.0\n");
}

static void tracks_are_not_resumed_by_hand(void **state)
{
    (void)state;
    assert_plays("print(coroutine.running()) print(coroutine.isyieldable()) print(pcall(coroutine.yield, 1))",
                 "nil true\nfalse\nfalse coroutine.yield works only inside a coroutine that the script made\n");
}

/* ---- the crew ---- */

static void ask_gives_answer_and_note(void **state)
{
    (void)state;
    fake_reset();
    fake.answers[0] = "yes";
    fake.answers[1] = "no dark end cell";
    fake_sequence(show, F "print(crew.ask(f, 'Red?')) print(crew.ask(f:cell(2), 'Lit?')) "
                          "print(crew.ask(nil, 'All?')) crew.say('Next\\n: f')");
    assert_log("ask 101 Red?\nyes \nask 101 cell 2: Lit?\nno dark end cell\nask -1 All?\nskip \nsay Next : f\n");
}

static void an_answer_sets_the_deadline(void **state)
{
    (void)state;
    fake_reset();
    fake.answer_takes_s = 2.5;
    fake_sequence(show, "crew.ask(nil, 'a?') print(now()) wait(1) print(now())");
    assert_log("ask -1 a?\n2.5\nwait 3.500000000\n3.5\n");
}

/* The tracks of a sequence keep their distance in time: a track due 1 s after the question goes on 1 s after the answer. */
static void other_tracks_stand_still_during_a_question(void **state)
{
    (void)state;
    fake_reset();
    fake.answer_takes_s = 10;
    fake_sequence(show, "start(function() for i = 1, 2 do wait(1) print('beat', now()) end end) wait(0) crew.ask(nil, "
                        "'a?') print('answer', now())");
    assert_log("wait 0.000000000\nask -1 a?\nanswer 10.0\nwait 11.000000000\nbeat 11.0\nwait 12.000000000\nbeat 12.0\n");
}

static void wrong_questions_are_script_errors(void **state)
{
    (void)state;
    assert_stops("crew.ask('f', 'x')", "test.lua:1: bad argument #1 to 'ask' (fixture or cell expected, got string)");
    assert_stops(F "crew.ask(f)", "test.lua:1: bad argument #2 to 'ask' (text expected, got no value)");
    assert_stops(F "crew.ask(f, '')", "test.lua:1: bad argument #2 to 'ask' (text is empty)");
    assert_stops("crew.say()", "test.lua:1: bad argument #1 to 'say' (text expected, got no value)");
    assert_stops("coroutine.wrap(function() crew.ask(nil, 'x') end)()", "test.lua:1: crew.ask() works only in the "
        "sequence itself or a "
                 "start()ed track, not inside coroutine.create or wrap");
}

/* ---- limits ---- */

static void a_limit_ends_any_track(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "while true do end", "start(function() wait(1) while true do end end)",
        "start(function() pcall(function() while true do end end) print('survived') end)",
        "while true do pcall(coroutine.wrap(function() while true do end end)) end",
        "while true do wait(0) for i = 1, 100 do end end",
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        fake_reset();
        fake.instructions = 20000;
        fake_sequence(show, bodies[i]);
        assert_error("limit of time");
        assert_null(strstr(fake.log, "survived"));
    }
}

static int open_show(void **state)
{
    (void)state;
    show = lua_show();
    return show ? 0 : -1;
}

static int close_show(void **state)
{
    (void)state;
    show_free(show);
    fake_free();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commands_carry_time_fixture_cell_and_parameter),
        cmocka_unit_test(head_and_tail_belong_to_the_fixture_not_to_a_cell),
        cmocka_unit_test(wrong_commands_are_script_errors),
        cmocka_unit_test(a_fixture_that_is_not_patched_gets_nothing),
        cmocka_unit_test(a_sequence_sees_and_drives_only_its_grant),
        cmocka_unit_test(waits_count_from_the_last_deadline),
        cmocka_unit_test(a_thousand_waits_do_not_drift),
        cmocka_unit_test(settle_waits_for_the_last_fade_of_the_script),
        cmocka_unit_test(waits_have_limits),
        cmocka_unit_test(tracks_run_in_order_of_time_and_then_of_start),
        cmocka_unit_test(ties_are_judged_in_nanoseconds),
        cmocka_unit_test(wait_0_sends_and_lets_the_others_run),
        cmocka_unit_test(tracks_start_tracks_at_their_own_time),
        cmocka_unit_test(a_sequence_ends_with_its_last_track),
        cmocka_unit_test(at_most_a_thousand_tracks_live),
        cmocka_unit_test(an_error_in_any_track_ends_the_run),
        cmocka_unit_test(wait_works_only_in_tracks),
        cmocka_unit_test(tracks_are_not_resumed_by_hand),
        cmocka_unit_test(ask_gives_answer_and_note),
        cmocka_unit_test(an_answer_sets_the_deadline),
        cmocka_unit_test(other_tracks_stand_still_during_a_question),
        cmocka_unit_test(wrong_questions_are_script_errors),
        cmocka_unit_test(a_limit_ends_any_track),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
