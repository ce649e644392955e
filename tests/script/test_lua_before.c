/* The show before, as scripts read it: objects of their own that can be read and nothing else. Both shows are those of lua_show.h, the
 * one before with the changes that stand in open_shows(). */
#include "lua_fake.h"
#include "lua_show.h"

static struct show *now, *before;

static void rule(const char *body)
{
    fake_reset();
    fake.host.before = before;
    fake_rule(now, body);
}

static void prints(const char *body, const char *expected)
{
    rule(body);
    assert_log(expected);
}

static void breaks(const char *body, const char *expected)
{
    rule(body);
    assert_error(expected);
}

static void the_first_of_an_id_or_nil(void **state)
{
    (void)state;
    prints("print(rig.has_before()) print(rig.before('fixture', 101), rig.before('transmitter', 'T1'), rig.before('universe', 1), "
           "rig.before('site', 'quay'), rig.before('type', 'batten'), rig.before('show')) "
           "print(rig.before('fixture', 999), rig.before('transmitter', 'T0'), rig.before('fixture', 777))",
           "true\nfixture 101 Rail one transmitter T1 Mast universe 1 Rail site quay North quay type batten Batten, 3 cells show Matinee\n"
           "nil nil fixture 777 Gone\n");
}

static void all_of_a_kind_in_the_order_of_the_file(void **state)
{
    (void)state;
    prints("for _, kind in ipairs{ 'fixture', 'transmitter', 'universe', 'site', 'type', 'show' } do local s = {} "
           "for o in rig.each_before(kind) do s[#s + 1] = kind == 'show' and o.name or o.id end print(kind, table.concat(s, ' ')) end "
           "local s = {} for f in rig.each('fixture') do s[#s + 1] = f.id end print(table.concat(s, ' ')) "
           "for t in rig.each('transmitter') do finding(t, 'is an object of today') break end",
           "fixture 102 101 201 301 401 777\ntransmitter T1 T2 T9\nuniverse 1 2\nsite quay\ntype batten mover unused\nshow Matinee\n"
           "102 101 201 301 401\nfail transmitter T1 Mast: is an object of today\n");
}

static void every_field_and_the_reading_methods(void **state)
{
    (void)state;
    prints("local f = rig.before('fixture', 101) print(f.kind, f.id, f.name, f.type, f.mode, f.site, f.universe, f.address, f.code, f.air, "
           "f.lane, f.firmware, f.wired, f.same_as, f.tags[2], f.pos.z, f.note, f.hazard, f.x_case, f:footprint(), f:last()) "
           "local t = rig.before('transmitter', 'T1') print(t.reach, t.radios, t.input, t:lane_count(), t:lanes()[2].universe, "
           "t:keep_out()[1].to, t:keep_out()[1].who, next(t:keep_out()[1].extras)) "
           "local y = rig.before('type', 'batten') print(y.airs[1], y:firmware_floor('dual'), y.modes[1], y:mode('cells').footprint, "
           "y:mode('cells').slots[4].name, y:mode('cells').tail[1].default, y:mode('none')) "
           "local u = rig.before('universe', 1) print(u.label, u.priority, u.wire) print(rig.before('show'):quiet()[1].who) "
           "print(rig.before('fixture', 201).hazard)",
           "fixture 101 Rail one batten cells quay 1 30 40718263 dual 1 3.0 false nil front 0.5 dented nil A \"7\" 13 42\n"
           "50 1 unicast 2 2 2423 nil nil\nsingle 3.1 cells 13 blue nil nil\nRail 120 11\ncamera\nmotion\n");
}

static void the_two_shows_do_not_mix(void **state)
{
    (void)state;
    prints("local f, was = rig.get('fixture', 101), rig.before('fixture', 101) print(f == was, was == rig.before('fixture', 101)) "
           "local seen = { [f] = 'now', [was] = 'then' } print(seen[f], seen[was]) print(f.address, was.address, f.name, was.name) "
           "print(rig.distance(f, was), rig.distance(was, rig.get('transmitter', 'T1')))",
           "false true\nnow then\n1 30 Rail 1 Rail one\n0.0 5.0249378105604\n");   /* 3, 4 and 0.5 m: the root of 25.25 */
}

static void x_keys_with_their_text(void **state)
{
    (void)state;
    prints("local e = rig.before('fixture', 101):extras() for k, v in pairs(e) do print(k, v) end print(next(rig.get('fixture', 102):extras()))",
           "x_case \"A \\\"7\\\"\"\nx_list { 1, 2, { k = true } }\nx_odd not lua at all\nx_weight 12.5\nnil\n");
}

static void they_are_subjects_of_nothing(void **state)
{
    (void)state;
    const char *const was = "local was = rig.before('fixture', 777) ";
    char body[300], wanted[300];
    static const struct { const char *body, *error; } cases[] = {
        { "finding(was, 'x')", "#1 to 'finding' (object of the show expected, got fixture 777 Gone of the show before)" },
        { "finding(rig.show(), 'x', was)", "#3 to 'finding' (object of the show expected, got fixture 777 Gone of the show before)" },
        { "finding(rig.show(), 'x', { was })", "#3 to 'finding' (entry 1 is a userdata, not an object of the show)" },
        { "was:landing()", NULL }, { "was:transmitter()", NULL }, { "was:cell(1)", NULL }, { "was:slots()", NULL },
        { "was:params()", NULL }, { "was:type_of()", NULL }, { "rig.in_reach(rig.get('transmitter', 'T1'), was)", NULL },
        { "rig.plan_swap{ out = rig.before('transmitter', 'T1') }", NULL }, { "rig.hops(rig.before('transmitter', 'T1'))", NULL },
        { "rig.before('universe', 1):fixtures()", NULL }, { "rig.before('universe', 1):carriers()", NULL },
        { "rig.before('type', 'batten'):used()", NULL }, { "rig.before('transmitter', 'T1'):keeps(2402, 2403)", NULL },
        { "for f in rig.fixtures{ site = rig.before('site', 'quay') } do end", NULL },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        snprintf(body, sizeof body, "%s%s", was, cases[i].body);
        rule(body);
        assert_true(fake.failed);
        assert_string_equal(fake.log, "");
        if (cases[i].error) {
            snprintf(wanted, sizeof wanted, "test.lua:1: bad argument %s", cases[i].error);
            assert_string_equal(fake.error, wanted);
        }
    }
    breaks("rig.before('fixture', 101).name = 'x'", "test.lua:1: fixture 101 Rail one: the show is read-only for scripts");
    breaks("return rig.before('fixture', 101).adress", "test.lua:1: fixture 101 Rail one has no field 'adress'; nearest: 'address'");
}

static void misuse_is_named(void **state)
{
    (void)state;
    for (int with = 0; with < 2; with++) {           /* without a show before, too: so that a script breaks on every machine */
        struct show *kept = before;
        before = with ? kept : NULL;
        breaks("rig.before('fixure', 1)", "test.lua:1: bad argument #1 to 'before' (no kind 'fixure'; nearest: 'fixture')");
        breaks("rig.before('cell', 1)", "test.lua:1: bad argument #1 to 'before' (no kind 'cell')");
        breaks("rig.each_before('fixtures')", "test.lua:1: bad argument #1 to 'each_before' (no kind 'fixtures'; nearest: 'fixture')");
        breaks("rig.before('fixture', '1')", "test.lua:1: bad argument #2 to 'before' (number expected, got string)");
        breaks("rig.before('site')", "test.lua:1: bad argument #2 to 'before' (text expected, got no value)");
        before = kept;
    }
}

static void nothing_kept(void **state)
{
    static const char body[] = "print(rig.has_before()) print(rig.before('fixture', 101), rig.before('show')) "
                               "for _, k in ipairs{ 'fixture', 'show' } do for o in rig.each_before(k) do print(o) end end";
    (void)state;
    assert_prints(now, body, "false\nnil nil\n");
    fake_reset();
    fake.host.before_trouble = "a~:2:3: found \x01\xff";
    fake_rule(now, body);
    assert_log("false a~:2:3: found ??\nnil nil\n");
}

static int open_shows(void **state)
{
    (void)state;
    now = lua_show();
    before = lua_show();
    before->name = tx(before, "Matinee");
    before->fixtures[1].name = tx(before, "Rail one");
    before->fixtures[1].address = 30;
    struct fixture *gone = show_add_fixture(before);         /* the show of today has nothing at its place in the array */
    gone->id = 777;
    gone->name = tx(before, "Gone");
    gone->type = tx(before, "batten");
    gone->mode = tx(before, "cells");
    return show_index(before);
}

static int close_shows(void **state)
{
    (void)state;
    show_free(now);
    show_free(before);
    fake_free();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_of_an_id_or_nil),
        cmocka_unit_test(all_of_a_kind_in_the_order_of_the_file),
        cmocka_unit_test(every_field_and_the_reading_methods),
        cmocka_unit_test(the_two_shows_do_not_mix),
        cmocka_unit_test(x_keys_with_their_text),
        cmocka_unit_test(they_are_subjects_of_nothing),
        cmocka_unit_test(misuse_is_named),
        cmocka_unit_test(nothing_kept),
    };
    return cmocka_run_group_tests(tests, open_shows, close_shows);
}
