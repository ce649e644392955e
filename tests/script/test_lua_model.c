/* What scripts read of the show: every field, method and function, and the misuse of each. Values are those of
 * lua_show.h or follow from them by hand: 3, 4, 5 is a right-angled triangle; a footprint is head + cells x slots +
 * tail. */
#include "lua_fake.h"
#include "lua_show.h"

static struct show *show;

/* In every body below. */
#define NAMES "local get = rig.get local f, g = get('fixture', 101), get('fixture', 102) " \
    "local head, ghost = get('fixture', 201), get('fixture', 401) " \
    "local t1, t2, t9, u, s, y = get('transmitter', 'T1'), get('transmitter', 'T2'), get('transmitter', 'T9'), " \
    "get('universe', 1), get('site', 'quay'), get('type', 'batten') "

#define LIST "local function list(t) local s = {} for i, v in ipairs(t) do s[i] = tostring(v) end " \
    "return table.concat(s, ' ') end " \
    "local function all(it) local s = {} for v in it do s[#s + 1] = tostring(v.id) end return table.concat(s, ' ') end "

/* ---- objects ---- */

static void objects_print_as_people_write_them(void **state)
{
    (void)state;
    assert_prints(show, NAMES "print(f) print(f:cell(3)) print(t1) print(u, get('universe', 2)) print(s) print(y) "
                              "print(rig.show()) print(('%s|%20s'):format(f, t1))",
                  "fixture 101 Rail 1\nfixture 101 Rail 1, cell 3\ntransmitter T1 Mast\nuniverse 1 Rail universe 2\n"
                  "site quay North quay\n"
                  "type batten Batten, 3 cells\nshow Harbour\nfixture 101 Rail 1| transmitter T1 Mast\n");
}

static void objects_are_equal_and_serve_as_keys(void **state)
{
    (void)state;
    assert_prints(show, NAMES "print(f == get('fixture', 101), f == g, f == f:cell(1), f:cell(1) == f:cell(1), f:cell(1) "
                              "== f:cell(2), f:cell(2).fixture == f, f == 101) "
                        "local seen = { [f] = 1, [f:cell(1)] = 2, [g] = 3, [t1] = 4, [u] = 5 } "
                        "print(seen[get('fixture', 101)], seen[f:cell(1)], seen[g], seen[t1], seen[u], seen[t2]) "
                        "print(type(f))",
                  "true false false true false true false\n1 2 3 4 5 nil\nuserdata\n");
}

static void objects_are_read_only_and_closed(void **state)
{
    (void)state;
    assert_breaks(show, NAMES "f.name = 'x'", "test.lua:1: fixture 101 Rail 1: the show is read-only for scripts");
    assert_breaks(show, NAMES "f.x_case = 'x'", "test.lua:1: fixture 101 Rail 1: the show is read-only for scripts");
    assert_breaks(show, NAMES "return f.adress", "test.lua:1: fixture 101 Rail 1 has no field 'adress'; nearest: "
                                                 "'address'");
    assert_breaks(show, NAMES "return f.reach", "test.lua:1: fixture 101 Rail 1 has no field 'reach'");
    assert_breaks(show, NAMES "return t1.footprint", "test.lua:1: transmitter T1 Mast has no field 'footprint'");
    assert_breaks(show, NAMES "return f[1]", "test.lua:1: fixture 101 Rail 1 has no field '1'");
    assert_breaks(show, NAMES "return f[nil]", "test.lua:1: fixture 101 Rail 1 has no field 'nil'");
    assert_breaks(show, NAMES "return f:cell(1).name", "test.lua:1: fixture 101 Rail 1, cell 1 has no field 'name'");
    assert_breaks(show, NAMES "f.footprint()", "test.lua:1: bad argument #1 to 'footprint' (fixture expected, got "
                                               "nothing)");
    assert_breaks(show, NAMES "f.footprint(t1)", "test.lua:1: bad argument #1 to 'footprint' (fixture expected, got "
                                                 "transmitter T1 Mast)");
    assert_breaks(show, NAMES "return f < g", "test.lua:1: attempt to compare two userdata values");
    assert_breaks(show, NAMES "return #f", "test.lua:1: attempt to get length of a userdata value (local 'f')");
    assert_breaks(show, NAMES "for k in pairs(f) do end", "test.lua:1: bad argument #1 to 'pairs' (table expected, got "
                                                          "light userdata)");
}

/* ---- fields ---- */

static void fields_of_fixtures(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST "print(f.kind, f.id, f.name, f.type, f.mode, f.site, f.universe, f.address, f.code, "
                                   "f.air, f.lane, f.firmware) "
                        "print(f.wired, f.same_as, list(f.tags), f.pos.x, f.pos.y, f.pos.z, f.note, f.hazard) "
                        "print(head.wired, head.site, head.code, head.air, head.lane, head.firmware, head.pos, "
                        "#head.tags, head.note, head.hazard, ghost.same_as, ghost.hazard) "
                        "local un = get('fixture', 301) print(un.universe, un.address)",
                  "fixture 101 Rail 1 batten cells quay 1 1 40718263 dual 1 3.0\n"
                  "false nil rail front 3 4 0.5 dented nil\n"
                  "true nil nil nil nil nil nil 0 nil motion 101 nil\nnil nil\n");
}

static void fields_of_the_others(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST
        "print(t1.kind, t1.id, t1.name, t1.site, t1.reach, t1.eirp_dbm, t1.radios, list(t1.airs), t1.air, t1.code, "
        "t1.firmware, t1.host, t1.input, t1.spare, t1.pos.x, t1.note) "
        "print(t9.site, t9.reach, t9.eirp_dbm, t9.firmware, t9.host, t9.input, t9.spare, t9.pos, t9.note) "
        "print(u.kind, u.id, u.label, u.priority, u.wire, u.note) local u2 = get('universe', 2) "
        "print(u2.label, u2.priority, u2.wire) "
        "print(s.kind, s.id, s.name, s.note) print(y.kind, y.id, y.name, list(y.airs), y.watts, y.battery_wh, "
        "y.sensitivity_dbm, y.hazard, y.note, list(y.modes)) "
        "local m = get('type', 'mover') print(#m.airs, m.watts, m.battery_wh, m.sensitivity_dbm, m.hazard) "
        "local w = rig.show() print(w.kind, w.name, w.date, w.region, w.call_hours, w.call_level, w.note) "
        "local c = f:cell(2) print(c.kind, c.number, c.fixture.id)",
        "transmitter T1 Mast quay 50 20 1 single dual dual 40718263 3.1 10.0.0.1 unicast false 0 on the roof\n"
        "nil nil nil nil nil multicast true nil nil\nuniverse 1 Rail 120 11 nil\nnil 100 2\nsite quay North quay nil\n"
        "type batten Batten, 3 cells single dual 40 320.5 -85 nil hire cells\n0 nil nil nil motion\n"
        "show Harbour 2027-03-06 GB 10 62.5 nil\ncell 2 101\n");
}

static void x_keys_come_as_values(void **state)
{
    (void)state;
    assert_prints(show, NAMES "print(f.x_case, f.x_weight + 0.5, f.x_list[2], f.x_list[3].k, f.x_odd, f.x_none, "
                              "g.x_case, t1.x_a)",
                  "A \"7\" 13.0 2 true not lua at all nil nil nil\n");
}

/* ---- methods ---- */

static void footprints_params_and_cells(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST "print(f:footprint(), f:last(), head:footprint(), head:last(), ghost:footprint(), "
                                   "ghost:last(), get('fixture', 301):last()) "
                        "print(list(f:params()), '|', list(head:params()), '|', list(f:cell(1):params()), '|', "
                        "#ghost:params()) "
                        "print(list(f:slots())) print(list(head:slots()), #ghost:slots()) "
                        "print(f:has('red'), f:has('strobe'), f:has('pan'), f:cell(1):has('red'), "
                        "f:cell(1):has('strobe'), head:has('pan'), ghost:has('red')) "
                        "print(f:cells(), head:cells(), ghost:cells(), f:mode_known(), ghost:mode_known(), f:type_of() "
                        "== y, ghost:type_of())",
                  "13 13 5 104 nil nil nil\nintensity red green blue strobe | pan tilt intensity | intensity red green "
                  "blue | 0\n"
                  "intensity red green blue intensity red green blue intensity red green blue strobe\n"
                  "pan pan+fine tilt tilt+fine intensity 0\n"
                  "true true false true false true false\n3 0 0 true false true nil\n");
    assert_breaks(show, NAMES "f:cell(0)", "test.lua:1: bad argument #1 to 'cell' (cell 0 of fixture 101 Rail 1, which "
                                           "has 3 cells)");
    assert_breaks(show, NAMES "f:cell(4)", "test.lua:1: bad argument #1 to 'cell' (cell 4 of fixture 101 Rail 1, which "
                                           "has 3 cells)");
    assert_breaks(show, NAMES "f:cell(1.5)", "test.lua:1: bad argument #1 to 'cell' (number has no integer "
                                             "representation)");
    assert_breaks(show, NAMES "f:has()", "test.lua:1: bad argument #1 to 'has' (string expected, got no value)");
}

static void lanes_carriers_and_keep_out(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST
        "for _, l in ipairs(t1:lanes()) do print(l.lane, l.universe) end "
        "print(t1:lane_count(), #t9:lanes(), t1:keep_out()[1].from, t1:keep_out()[1].to, #t2:keep_out()) "
        "for _, c in ipairs(u:carriers()) do print(c.transmitter, c.lane) end print(#u:carriers()) "
        "for _, v in ipairs(u:fixtures()) do print(v.id) end "
        "print(y:firmware_floor('dual'), y:firmware_floor('single'), y:used(), get('type', 'unused'):used(), get('type', "
        "'mover'):used())",
        "1 1\n2 2\n2 0 2402 2423 0\ntransmitter T1 Mast 1\n1\n101\n102\n401\n3.1 nil true false true\n");
    assert_breaks(show, NAMES "y:firmware_floor('duall')", "test.lua:1: bad argument #1 to 'firmware_floor' (air mode is "
                                                           "\"single\" or \"dual\")");
}

/* T1 and T2 share a code and reach 50 m each, 60 m apart; a receiver on lane 2 of T1 gets universe 2. */
static void landing_and_transmitter(void **state)
{
    (void)state;
    assert_prints(show, NAMES "print(f:landing()) print(g:landing()) print(head:landing()) "
                              "print(f:transmitter() == t1, head:transmitter())",
                  "right transmitter T1 Mast 1 nil\nother transmitter T1 Mast 2 nil\nnone nil nil nil\ntrue nil\n");
}

/* ---- radio ---- */

/* Free-space loss over 5 m at 2442 MHz, ITU-R P.525: 20 log10(4 pi 5 2442e6 / 299792458) = 54.18 dB; 20 - 54.18 + 85 =
 * 50.82 dB. The limit of GB is that of wireless-regdb (regdb-2g4.tsv); keep_out 2402..2423 takes 22 of 79 channels. */
static void radio_functions(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST
        "print(rig.distance(g, t1), rig.distance(t1, t2), rig.distance(f:cell(1), g), rig.distance(head, t1)) "
        "print(rig.in_reach(t1, f), rig.in_reach(t2, f), rig.in_reach(t1, head)) "
        "print(('%.2f'):format(rig.margin_db(t1, g)), rig.margin_db(t9, g), rig.margin_db(t1, head)) "
        "print(rig.hops(t1), rig.hops(t2), rig.region_limit_dbm()) "
        "print(rig.clash(t1, t2)) print(rig.clash(t1, t9)) print(t1:keeps(2402, 2423)) print(t1:keeps(2402, 2430)) "
        "print(t1:keeps(2500, 2600)) "
        "local c = rig.with_code('40718263') print(#c, c[1].id, c[2].id, #rig.with_code('x'))",
        "5.0 60.0 0.5 nil\ntrue false false\n50.82 nil nil\n57 79 20\nwarn 60.0\nnil nil\ntrue\nfalse 2424\ntrue\n"
        "2 T1 T2 0\n");
    assert_breaks(show, NAMES "rig.distance(f, u)", "test.lua:1: bad argument #2 to 'distance' (fixture or cell or "
                                                    "transmitter expected, got universe 1 Rail)");
    assert_breaks(show, NAMES "rig.in_reach(f, t1)", "test.lua:1: bad argument #1 to 'in_reach' (transmitter expected, "
                                                     "got fixture 101 Rail 1)");
    assert_breaks(show, NAMES "rig.hops()", "test.lua:1: bad argument #1 to 'hops' (transmitter expected, got nothing)");
    assert_breaks(show, NAMES "rig.clash(t1, 'T2')", "test.lua:1: bad argument #2 to 'clash' (transmitter expected, got "
                                                     "string)");
    assert_breaks(show, NAMES "t1:keeps(2, 1)", "test.lua:1: bad argument #2 to 'keeps' (the band ends below its start)");
    assert_breaks(show, NAMES "t1:keeps(0/0, 1)", "test.lua:1: bad argument #1 to 'keeps' (frequency nan is outside "
                                                  "-2147483648..2147483647)");
    assert_breaks(show, NAMES "rig.with_code(40718263)", "test.lua:1: bad argument #1 to 'with_code' (text expected, got "
                                                         "number)");
}

/* ---- finding objects ---- */

static void iterators_and_their_order(void **state)
{
    (void)state;
    assert_prints(show, LIST "print(all(rig.fixtures{}), '|', all(rig.fixtures())) print(all(rig.transmitters{})) "
                             "print(all(rig.universes())) print(all(rig.sites())) print(all(rig.types())) "
                        "for q in rig.quiet() do print(q.from, q.to, q.who, q.note) end",
                  "101 102 401 201 301 | 101 102 401 201 301\nT1 T2 T9\n1 2\nquay\nbatten mover unused\n"
                  "2402 2423 camera nil\n");
}

static void filters_of_fixtures(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST "local function try(t) print(all(rig.fixtures(t))) end "
        "try{ id = 101 } try{ id = { 401, 102 } } try{ id = '100-201' } try{ id = { '400-500', 101 } } try{ id = f } "
        "try{ name = 'Rail 2' } try{ type = 'batten' } try{ type = y } "
        "try{ mode = { 'm', 'x' } } try{ site = 'quay' } try{ site = s } try{ tag = 'front' } try{ tag = "
        "{ 'x', 'rail' } } try{ universe = 1 } try{ universe = { 1, 2 } } try{ universe = '2-9' } "
        "try{ universe = u, type = 'batten', id = 102 } try{ transmitter = 'T1' } try{ transmitter = { t1, t2 } } "
        "try{ transmitter = 'T2' } try{ where = function(x) return x.lane == 2 end } "
        "try{ site = {} } try{ universe = 77 } try{ site = 'quay', where = function(x) return x.id > 101 end } "
        "try{ id = 101.0 }",
        "101\n102 401\n101 102 201\n101 401\n101\n102\n101 102 301\n101 102 301\n201\n101 102\n101 102\n101\n101\n"
        "101 102 401\n101 102 401 201\n201\n102\n101 102\n101 102\n\n102\n"
        "\n\n102\n101\n");
}

static void filters_of_transmitters_and_universes(void **state)
{
    (void)state;
    assert_prints(show, NAMES LIST "local function try(t) print(all(rig.transmitters(t))) end try{ id = 'T2' } "
                                   "try{ site = 'quay' } try{ spare = true } try{ spare = false } "
                                   "try{ code = '40718263' } "
        "try{ code = { '40718263', '11112222' }, spare = true } try{ air = 'dual' } try{ air = 'single' } "
        "try{ where = function(t) return t.id ~= 'T1' end } try{ code = '40718263', id = 'T2' } "
        "print(all(rig.universes{ id = 2 })) print(all(rig.universes{ id = '1-2' })) "
        "print(all(rig.universes{ where = function(v) return v.label end }))",
        "T2\nT1 T2\nT9\nT1 T2\nT1 T2\nT9\nT1 T2 T9\n\nT2 T9\nT2\n2\n1 2\n1\n");
}

static void wrong_filters_are_errors(void **state)
{
    (void)state;
    assert_breaks(show, "rig.fixtures{ sit = 'quay' }", "test.lua:1: rig.fixtures has no filter 'sit'; nearest: 'site'");
    assert_breaks(show, "rig.fixtures{ 'quay' }", "test.lua:1: rig.fixtures has no filter '1'");
    assert_breaks(show, "rig.fixtures('quay')", "test.lua:1: bad argument #1 to 'fixtures' (table expected, got string)");
    assert_breaks(show, "rig.fixtures{ site = 5 }", "test.lua:1: filter 'site' is 5; expected text, or an array of them");
    assert_breaks(show, "rig.fixtures{ site = { 'quay', {} } }", "test.lua:1: filter 'site' is table; expected text, or "
        "an array of them");
    assert_breaks(show, "rig.fixtures{ universe = 'x' }", "test.lua:1: filter 'universe' is x; expected a number or a "
                                                          "range \"a-b\", or an array of them");
    assert_breaks(show, "rig.fixtures{ id = 1.5 }", "test.lua:1: filter 'id' is number; expected a number or a range "
                                                    "\"a-b\", or an array of them");
    assert_breaks(show, "rig.fixtures{ id = '9-1' }", "test.lua:1: filter 'id' is 9-1; expected a number or a range "
                                                      "\"a-b\", or an array of them");
    assert_breaks(show, "rig.fixtures{ where = 5 }", "test.lua:1: filter 'where' is number; expected a function");
    assert_breaks(show, "rig.transmitters{ spare = 'yes' }", "test.lua:1: filter 'spare' is yes; expected true or false, "
        "or an array of them");
    assert_breaks(show, "rig.transmitters{ tag = 'x' }", "test.lua:1: rig.transmitters has no filter 'tag'");
    assert_breaks(show, "rig.universes{ label = 'x' }", "test.lua:1: rig.universes has no filter 'label'");
    assert_breaks(show, "local t = {} for i = 1, 5000 do t[i] = 'x' end rig.fixtures{ site = t }", "test.lua:1: "
        "rig.fixtures: more than 4096 values in a filter");
    assert_breaks(show, "for f in rig.fixtures{ where = function(f) return f.nmae end } do end", "test.lua:1: fixture "
        "101 Rail 1 has no field 'nmae'; nearest: 'name'");
}

static void get_gives_the_first_or_nil(void **state)
{
    (void)state;
    assert_prints(show, "print(rig.get('fixture', 5), rig.get('transmitter', 'X'), rig.get('universe', 3), "
                        "rig.get('site', 'x'), rig.get('type', 'x'), rig.get('fixture', 101.0))",
                  "nil nil nil nil nil fixture 101 Rail 1\n");
    assert_breaks(show, "rig.get('fixtur', 1)", "test.lua:1: bad argument #1 to 'get' (no kind 'fixtur'; nearest: "
                                                "'fixture')");
    assert_breaks(show, "rig.get('cell', 1)", "test.lua:1: bad argument #1 to 'get' (no kind 'cell')");
    assert_breaks(show, "rig.get('fixture', '101')", "test.lua:1: bad argument #2 to 'get' (number expected, got string)");
    assert_breaks(show, "rig.get('transmitter', 1)", "test.lua:1: bad argument #2 to 'get' (text expected, got number)");
    assert_breaks(show, "rig.get()", "test.lua:1: bad argument #1 to 'get' (string expected, got no value)");
}

static void text_length_counts_characters(void **state)
{
    (void)state;
    assert_prints(show, "print(rig.text_length(''), rig.text_length('abc'), rig.text_length('caf\\u{e9} \\u{1F4A1}'))",
        "0 3 6\n");
    assert_breaks(show, "rig.text_length('\\xff')", "test.lua:1: bad argument #1 to 'text_length' (text is not UTF-8)");
    assert_breaks(show, "rig.text_length(5)", "test.lua:1: bad argument #1 to 'text_length' (text expected, got number)");
}

/* Objects of many cells must not fall into one chain of a table: 50,000 keys are quick or this test takes minutes. */
static void cells_spread_in_tables(void **state)
{
    (void)state;
    struct show *big = lua_show();
    big->types[0].modes->cells = 1000000000;
    fake_reset();
    fake.host.memory_limit = 64u << 20;
    fake_rule(big, NAMES "local n, t = 0, {} for i = 1, 50000 do t[f:cell(i)] = i end "
                         "for i = 1, 50000 do n = n + t[f:cell(i)] end print(n, f:cells(), #f:slots()) "
                         "print(pcall(f.cell, f, 16777216))");
    assert_log("1250025000 1000000000 512\nfalse bad argument #2 to '?' (cell 16777216 of fixture 101 Rail 1, which has "
               "1000000000 cells)\n");
    show_free(big);
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
        cmocka_unit_test(objects_print_as_people_write_them),
        cmocka_unit_test(objects_are_equal_and_serve_as_keys),
        cmocka_unit_test(objects_are_read_only_and_closed),
        cmocka_unit_test(fields_of_fixtures),
        cmocka_unit_test(fields_of_the_others),
        cmocka_unit_test(x_keys_come_as_values),
        cmocka_unit_test(footprints_params_and_cells),
        cmocka_unit_test(lanes_carriers_and_keep_out),
        cmocka_unit_test(landing_and_transmitter),
        cmocka_unit_test(radio_functions),
        cmocka_unit_test(iterators_and_their_order),
        cmocka_unit_test(filters_of_fixtures),
        cmocka_unit_test(filters_of_transmitters_and_universes),
        cmocka_unit_test(wrong_filters_are_errors),
        cmocka_unit_test(get_gives_the_first_or_nil),
        cmocka_unit_test(text_length_counts_characters),
        cmocka_unit_test(cells_spread_in_tables),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
