/* What scripts must not have, and what limits must go through. The limit here is a number of VM instructions
 * (lua_fake.h), so that it comes at the same place every time; that it also comes by CPU time is tested where hosts are
 * forked. */
#include "lua_fake.h"
#include "lua_show.h"

static struct show *show;

/* ---- names ---- */

static void only_these_names_exist(void **state)
{
    (void)state;
    assert_prints(show,
        "local names = {} for k in pairs(_ENV) do names[#names + 1] = k end print(table.concat(names, ' ')) "
        "for _, lib in ipairs{ 'coroutine', 'crew', 'math', 'os', 'out', 'rig', 'string', 'table', 'utf8' } do "
        "  local t = {} for k in pairs(_ENV[lib]) do t[#t + 1] = k end print(lib .. ': ' .. table.concat(t, ' ')) end",
        "_VERSION ask assert choose coroutine crew error fail finding getmetatable ipairs math next note now os out pairs pcall "
        "print rawequal rawget rawlen "
        "rawset refuse rig select setmetatable settle start string table tonumber tostring type use utf8 wait warn xpcall\n"
        "coroutine: close create isyieldable resume running status wrap yield\n"
        "crew: ask say\n"
        "math: abs acos asin atan ceil cos deg exp floor fmod huge log max maxinteger min mininteger modf pi rad random "
        "randomseed sin sqrt tan "
        "tointeger type ult\n"
        "os: clock date\n"
        "out: clear fade set slot\n"
        "rig: before clash distance each each_before fixtures get has_before hops in_reach margin_db plan_move plan_patch plan_swap "
        "quiet region_limit_dbm show sites spare_for text_length "
        "transmitters types universes wire with_code\n"
        "string: byte char find format gmatch gsub len lower match pack packsize rep reverse sub unpack upper\n"
        "table: concat insert move pack remove sort unpack\n"
        "utf8: char charpattern codepoint codes len offset\n");
}

static void absent_names_say_why(void **state)
{
    (void)state;
    static const char *const names[] = {
        "load", "loadstring", "loadfile", "dofile", "require", "package", "io", "debug", "collectgarbage", "_G", "unpack"
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char body[100], expected[100];
        snprintf(body, sizeof body, "return %s", names[i]);
        snprintf(expected, sizeof expected, "test.lua:1: '%s' does not exist in scripts: ", names[i]);
        fake_reset();
        fake_rule(show, body);
        if (strncmp(fake.error, expected, strlen(expected)) != 0)
            fail_msg("%s: %s", names[i], fake.error);
    }
    assert_breaks(show, "return rawget(_ENV, 'load') or os.time", "test.lua:1: os has no 'time'");
    assert_breaks(show, "return os.getenv", "test.lua:1: os has no 'getenv'");
    assert_prints(show, "print(string.dump, rawget(os, 'exit'), rawget(os, 'remove'), math.pow)", "nil nil nil nil\n");
}

static void what_exists_works(void **state)
{
    (void)state;
    assert_prints(show,
        "print(type(os.clock()), os.date('!%Y', 0), _VERSION, select('#', 1, nil), tonumber('0x10'), tonumber('z', 36), "
        "rawlen({ 1 }), rawequal(1, 1)) "
        "print(pcall(error, { 1 })) print(select(2, pcall(error, 'x', 0))) print(pcall(assert, false, 'no')) "
        "print(assert(1, 2)) print(type(nil), rawget({ 5 }, 1), rawset({}, 1, 2)[1])",
        "number 1970 Lua 5.4 2 16 35 1 true\nfalse table\nx\nfalse no\n1 2\nnil 5 2\n");
}

static void print_is_bounded(void **state)
{
    (void)state;
    assert_prints(show, "print() print('a\\tb\\nc', nil, 1.5, true)", "\na b c nil 1.5 true\n");
    fake_reset();
    fake_rule(show, "print(('x'):rep(10000), ('y'):rep(10000))");
    assert_int_equal(strlen(fake.log), 401);
}

/* ---- metatables ---- */

static void metatables_are_copies_without_the_dangerous_keys(void **state)
{
    (void)state;
    assert_prints(show,
        "local mt = { __gc = print, __mode = 'k', __concat = print, __index = { a = 1 }, __name = 'N', other = 5 } "
        "local t = setmetatable({}, mt) "
        "local got = getmetatable(t) print(got.__gc, got.__mode, got.__concat, got.__index.a, got.__name, got.other, got "
        "== mt, getmetatable(t) == got) "
        "mt.__index = nil got.__index = nil got.__mode = 'kv' print(t.a, getmetatable(t).__mode) "
        "print(pcall(function() return t .. 'x' end)) "
        "print(setmetatable(t, nil) == t, getmetatable(t)) ",
        "nil nil nil 1 N 5 false false\n1 nil\nfalse test.lua:1: attempt to concatenate a N value (upvalue 't')\n"
        "true nil\n");
}

static void protected_metatables_stay(void **state)
{
    (void)state;
    assert_prints(show, "local t = setmetatable({}, { __metatable = 'mine' }) print(getmetatable(t), "
                        "pcall(setmetatable, t, {})) "
                        "print(getmetatable(''), getmetatable(rig), getmetatable(_ENV), getmetatable(rig.show())) "
                        "print(pcall(setmetatable, _ENV, {})) "
                        "print(pcall(setmetatable, rig, nil)) print(pcall(setmetatable, 'x', {})) "
                        "print(pcall(setmetatable, {}, 5)) print(pcall(setmetatable, rig.show(), {}))",
                  "mine false cannot change a protected metatable\nfalse false false false\n"
                  "false cannot change a protected metatable\n"
                  "false cannot change a protected metatable\nfalse bad argument #1 to 'setmetatable' (table expected, "
                  "got string)\n"
                  "false bad argument #2 to 'setmetatable' (nil or table expected, got number)\n"
                  "false bad argument #1 to 'setmetatable' (table expected, got light userdata)\n");
}

static void no_finalizer_ever_runs(void **state)
{
    (void)state;
    assert_prints(show, "for i = 1, 10000 do setmetatable({}, { __gc = function() print('finalizer') end }) end "
                        "local mt = { __gc = true } "
                        "local t = setmetatable({}, mt) mt.__gc = function() print('late') end t = nil "
                        "for i = 1, 10000 do local x = { i } end print('end')",
                  "end\n");
}

/* ---- limits: nothing a script can do goes on after one ---- */

/* Every body loops for ever unless the limit stops it, and says "survived" if it lives on. */
static const char *const endless[] = {
    "while true do end",
    "repeat until false",
    "::again:: goto again",
    "for i = 1, math.huge do end",
    "local function f() return f() end f()",
    "while true do pcall(function() while true do end end) print('survived') end",
    "while true do pcall(error) end",
    "pcall(pcall, function() while true do end end) print('survived')",
    "xpcall(function() while true do end end, function(m) print('survived') while true do end end) print('survived')",
    "xpcall(function() error('x') end, function(m) while true do end end) print('survived')",
    "xpcall(error, function(m) error(m) end) while true do end",
    "coroutine.wrap(function() while true do end end)() print('survived')",
    "coroutine.resume(coroutine.create(function() while true do end end)) print('survived')",
    ("local co = coroutine.create(function() pcall(function() while true do end end) print('survived') end) "
     "coroutine.resume(co) coroutine.resume(co) print('survived')"),
    ("while true do local co = coroutine.create(function() while true do coroutine.yield() end end) for i = 1, 100 do "
     "coroutine.resume(co) end end"),
    "local x <close> = setmetatable({}, { __close = function() while true do end end }) error('out')",
    "local x <close> = setmetatable({}, { __close = function() print('survived') end }) while true do end",
    ("local co = coroutine.create(function() local x <close> = setmetatable({}, { __close = function() "
     "while true do end end }) coroutine.yield() end) coroutine.resume(co) coroutine.close(co) print('survived')"),
    ("local co = coroutine.create(function() local x <close> = setmetatable({}, { __close = function() "
     "while true do end end }) while true do end end) coroutine.resume(co) coroutine.close(co) print('survived')"),
    ("coroutine.wrap(function() local x <close> = setmetatable({}, { __close = function() "
     "while true do end end }) error('x') end)() print('survived')"),
    ("pcall(function() local x <close> = setmetatable({}, { __close = function() while true do end end }) "
     "while true do end end) print('survived')"),
    "for _ in function() return true end do end",
    "for _ in pairs(setmetatable({}, { __pairs = function() return function() return 1 end end })) do end",
    ("local t = setmetatable({}, { __index = function(t, k) return t[k + 1] end }) "
     "print(pcall(function() return t[1] end)) while true do end"),
    ("local t = setmetatable({}, { __eq = function() while true do end end }) return t == setmetatable({}, "
     "getmetatable(t))"),
    "local t = setmetatable({}, { __lt = function() while true do end end }) table.sort({ t, t }) print('survived')",
    "table.sort({ 1, 2, 3 }, function() while true do end end) print('survived')",
    "string.gsub('x', 'x', function() while true do end end) print('survived')",
    "string.gsub('x', 'x', setmetatable({}, { __index = function() while true do end end })) print('survived')",
    "print(setmetatable({}, { __tostring = function() while true do end end })) print('survived')",
    "string.format('%s', setmetatable({}, { __tostring = function() while true do end end })) print('survived')",
    "error(setmetatable({}, { __tostring = function() while true do end end }))",
    "for f in rig.fixtures{ where = function() while true do end end } do end print('survived')",
    ("for f in rig.transmitters{ where = function() pcall(function() while true do end end) "
     "print('survived') end } do end"),
    "local function deep() coroutine.wrap(deep)() end while true do pcall(deep) end",
    ("local n = 0 local function close() n = n + 1 local co = coroutine.create(function() "
     "local x <close> = setmetatable({}, { __close = close }) coroutine.yield() end) coroutine.resume(co) "
     "coroutine.close(co) end while true do pcall(close) end"),
};

static void a_limit_goes_through_everything(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof endless / sizeof *endless; i++) {
        for (unsigned long instructions = 1009; instructions < 30000; instructions *= 5) {
            fake_reset();
            fake.instructions = instructions;
            fake_rule(show, endless[i]);
            if (!fake.failed || strcmp(fake.error, "limit of time") != 0 || strstr(fake.log, "survived"))
                fail_msg("%s: %s %s", endless[i], fake.error, fake.log);
        }
    }
}

/* Loops inside one C call look at the limit themselves: no hook fires there. */
static void loops_in_c_look_at_the_limit(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "local t = {} for i = 1, 20000 do t[i] = i end pcall(table.insert, t, 1, 0) print('survived')",
        "local t = {} for i = 1, 20000 do t[i] = i end pcall(table.remove, t, 1) print('survived')",
        "local t = {} for i = 1, 20000 do t[i] = 'x' end pcall(table.concat, t) print('survived')",
        "pcall(table.move, {}, 1, 9999999, 2) print('survived')",
        "local t = {} for i = 1, 20000 do t[i] = -i end pcall(table.sort, t) print('survived')",
        "local t = {} for i = 1, 20000 do t['k' .. i] = i end pcall(pairs, t) print('survived')",
        "local t = {} for i = 1, 20000 do t['k' .. i] = i end pcall(next, t) print('survived')",
        "local t = {} for i = 1, 20000 do t['k' .. i] = i end pcall(setmetatable, {}, t) print('survived')",
        "pcall(string.find, ('a'):rep(3000), '.-.-.-b') print('survived')",
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        fake_reset();
        fake.checks = 4;             /* begins at the first: pcall itself looks once, run once before */
        fake_rule(show, bodies[i]);
        if (!fake.failed || strcmp(fake.error, "limit of time") != 0 || strstr(fake.log, "survived"))
            fail_msg("%s: %s %s", bodies[i], fake.error, fake.log);
    }
}

static void memory_is_a_limit_that_no_script_catches(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "local t = {} while true do t[#t + 1] = {} end",
        "local s = 'x' while true do s = s .. s end",
        "print(pcall(string.rep, 'x', 7000000)) print(pcall(string.rep, 'x', 7000000)) print('survived')",
        "pcall(function() local t = {} while true do t[#t + 1] = {} end end) print('survived')",
        ("xpcall(function() local t = {} while true do t[#t + 1] = {} end end, function() print('survived') end) "
         "print('survived')"),
        ("coroutine.resume(coroutine.create(function() local t = {} while true do t[#t + 1] = {} end end)) "
         "print('survived')"),
        ("pcall(coroutine.wrap(function() local t = {} while true do t[#t + 1] = ('x'):rep(1000) .. #t end end)) "
         "print('survived')"),
        "local t = {} while true do t[#t + 1] = coroutine.create(print) end",
        "local t = {} for i = 1, 1e9 do t[i] = function() return t end end",
        ("table.concat(setmetatable({}, {}), 'x') local s = ('x'):rep(1000) local t = {} for i = 1, 1e7 do t[i] = s end "
         "print(#table.concat(t)) print('survived')"),
        "pcall(string.gsub, ('x'):rep(100000), '', ('y'):rep(1000)) print('survived')",
        ("local co = coroutine.create(function() local x <close> = setmetatable({}, { __close = function() local t = {} "
         "while true do t[#t + 1] = {} end end }) coroutine.yield() end) "
         "coroutine.resume(co) pcall(coroutine.close, co) print('survived')"),
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        fake_reset();
        fake_rule(show, bodies[i]);
        if (!fake.failed || strcmp(fake.error, "limit of memory") != 0 || strstr(fake.log, "survived"))
            fail_msg("%s: %s %s", bodies[i], fake.error, fake.log);
    }
}

/* With every limit of memory up to what is needed, a script ends with that limit or well, never otherwise: no leak, no
 * crash. */
static void any_allocation_may_fail(void **state)
{
    (void)state;
    static const char text[] =
        "local lights = use('lights')\n"
        "return { kind = 'rule', name = 'a', about = 'b', params = { x = { 'number', default = 1 }, y = "
        "{ 'choice', choices = { 'a', 'b' }, default = 'a' } }, run = function(p)\n"
        "for f in rig.fixtures{ site = 'quay', where = function(g) return g.id end } do finding(f, tostring(f) .. p.x, "
        "{ f }) end\n"
        "for k in pairs({ b = 1, a = 2, c = 3 }) do print(k) end table.sort({ 3, 2, 1 }) "
        "print(('a b'):gsub('%w', '%0%0')) pcall(error, 'x')\n"
        "coroutine.wrap(function() coroutine.yield(1) end)() setmetatable({}, { __index = print }) "
        "print(lights.one()) end }";
    static const char lib[] = "return { kind = 'lib', name = 'lights', exports = { one = function() return 1 end } }";
    bool done = false;
    for (size_t limit = 1000; !done; limit += 97) {
        fake_reset();
        fake.libs[0] = (struct host_lib){ .name = "lights", .bytes = lib, .length = sizeof lib - 1, .path = NULL };
        fake.host.memory_limit = limit;
        fake_run(show, text);
        done = fake.done;
        if (!done)
            assert_error("limit of memory");
        assert_true(limit < 200000);
    }
}

static void too_deep_is_an_ordinary_error(void **state)
{
    (void)state;
    fake_reset();
    fake.host.memory_limit = 256u << 20;                     /* so that Lua's own limits of depth come first */
    fake_rule(show, "local function f() return 1 + f() end print((pcall(f))) "
                    "local function g() return (('x'):gsub('x', g)) end print((pcall(g))) "
                    "local function c() coroutine.wrap(c)() end print((pcall(c))) local t = setmetatable({}, {}) "
                    "print('on')");
    assert_log("false\nfalse\nfalse\non\n");
    assert_prints(show, "local function close() local co = coroutine.create(function() "
                        "local x <close> = setmetatable({}, { __close = close }) coroutine.yield() end) "
                        "coroutine.resume(co) assert(coroutine.close(co)) end local ok, m = pcall(close) "
                        "print(ok, m:match('more than 10 coroutine.close within each other'))",
                  "false more than 10 coroutine.close within each other\n");
}

/* ---- coroutines behave as Lua's ---- */

static void coroutines_work(void **state)
{
    (void)state;
    assert_prints(show,
        "local co = coroutine.create(function(a, b) print(a, b, coroutine.isyieldable(), select(2, "
        "coroutine.running())) local c = coroutine.yield(a + b) print(c) return 'end', 9 end) "
        "print(coroutine.status(co), coroutine.resume(co, 1, 2)) print(coroutine.status(co), coroutine.resume(co, 'x')) "
        "print(coroutine.status(co), coroutine.resume(co)) "
        "local gen = coroutine.wrap(function() for i = 1, 2 do coroutine.yield(i) end end) print(gen(), gen(), gen()) "
        "print(pcall(gen)) "
        "print(coroutine.resume(coroutine.create(function() error({}) end))) "
        "print(pcall(coroutine.wrap(function() error('w', 0) end))) "
        "local closed = coroutine.create(function() local x <close> = setmetatable({}, { __close = function(_, e) "
        "print('closed', e) end }) coroutine.yield() end) "
        "coroutine.resume(closed) print(coroutine.close(closed), coroutine.status(closed)) "
        "local bad = coroutine.create(function() local x <close> = setmetatable({}, "
        "{ __close = function() error('c', 0) end }) coroutine.yield() end) coroutine.resume(bad) "
        "print(coroutine.close(bad)) "
        "print(pcall(coroutine.close, coroutine.running())) print(pcall(coroutine.resume, 5)) "
        "print(coroutine.resume(coroutine.create(function() return pcall(coroutine.yield, 7) end)))",
        "1 2 true false\nsuspended true 3\nx\nsuspended true end 9\ndead false cannot resume a coroutine that is dead\n"
        "1 2\n"
        "false cannot resume a coroutine that is dead\nfalse table\nfalse w\nclosed nil\ntrue dead\nfalse c\n"
        "false bad argument #1 to 'coroutine.close' (coroutine expected, got nil)\n"
        "false bad argument #1 to 'coroutine.resume' (coroutine expected, got number)\n"
        "true 7\n");
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
        cmocka_unit_test(only_these_names_exist),
        cmocka_unit_test(absent_names_say_why),
        cmocka_unit_test(what_exists_works),
        cmocka_unit_test(print_is_bounded),
        cmocka_unit_test(metatables_are_copies_without_the_dangerous_keys),
        cmocka_unit_test(protected_metatables_stay),
        cmocka_unit_test(no_finalizer_ever_runs),
        cmocka_unit_test(a_limit_goes_through_everything),
        cmocka_unit_test(loops_in_c_look_at_the_limit),
        cmocka_unit_test(memory_is_a_limit_that_no_script_catches),
        cmocka_unit_test(any_allocation_may_fail),
        cmocka_unit_test(too_deep_is_an_ordinary_error),
        cmocka_unit_test(coroutines_work),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
