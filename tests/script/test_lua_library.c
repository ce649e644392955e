/* The libraries that are ours must answer as Lua's: the same programs run in the sandbox and in Debian's Lua 5.4 with
 * its own libraries, and print the same. Then what differs on purpose: bounds, and what has no addresses. */
#include <lualib.h>

#include "lua_fake.h"

static struct show *show;

/* ---- plain Lua, the independent side ---- */

static char *plain_log;
static size_t plain_used;

static int plain_print(lua_State *L)
{
    size_t length;
    for (int i = 1; i <= lua_gettop(L); i++) {
        const char *text = luaL_tolstring(L, i, &length);
        plain_used += (size_t)snprintf(plain_log + plain_used, FAKE_LOG - plain_used, i > 1 ? " %s" : "%s", text);
        lua_pop(L, 1);
    }
    plain_used += (size_t)snprintf(plain_log + plain_used, FAKE_LOG - plain_used, "\n");
    return 0;
}

static void assert_same_as_plain_lua(const char *body)
{
    lua_State *L = luaL_newstate();
    plain_log = malloc(FAKE_LOG);
    plain_log[0] = '\0';
    plain_used = 0;
    luaL_openlibs(L);
    lua_register(L, "print", plain_print);
    if (luaL_dostring(L, body) != LUA_OK)
        fail_msg("plain Lua: %s", lua_tostring(L, -1));
    lua_close(L);
    fake_reset();
    fake.host.memory_limit = 32u << 20;
    fake_rule(show, body);
    if (fake.failed)
        fail_msg("sandbox: %s", fake.error);
    assert_true(plain_used > 0 && plain_used < FAKE_LOG - 4096);
    for (char *a = plain_log, *b = fake.log; *a || *b;) {    /* the first line that differs */
        size_t n = strcspn(a, "\n"), m = strcspn(b, "\n");
        if (n != m || memcmp(a, b, n) != 0)
            fail_msg("plain Lua: %.*s\nsandbox:   %.*s", (int)n, a, (int)m, b);
        a += n + (a[n] != '\0');
        b += m + (b[m] != '\0');
    }
    free(plain_log);
}

/* show(...) prints results with their types, texts as hexadecimal octets. */
#define SHOW \
    "local function hex(v) if type(v) ~= 'string' then " \
    "return math.type(v) and math.type(v) .. ':' .. tostring(v) or tostring(v) end " \
    "local t = {} for i = 1, #v do t[i] = ('%02x'):format(v:byte(i)) end return '<' .. table.concat(t) .. '>' end " \
    "local function show(...) local t = {} for i = 1, select('#', ...) do t[i] = hex((select(i, ...))) end " \
    "print(table.concat(t, ',')) end "

/* ---- patterns ---- */

static void patterns_answer_as_lua(void **state)
{
    (void)state;
    assert_same_as_plain_lua(SHOW
        "local cases = { { '', '' }, { 'alo', '' }, { 'alo', 'o' }, { 'alo', 'lo', 2 }, { 'alo', 'a', 2 }, "
        "{ 'alo', 'x' }, { 'a.b', '.', 2, true },"
        "{ 'alo', '', 10 }, { 'alo', '', 4 }, { 'alo', 'o', -1 }, { 'alo', 'a', -10 }, { 'a\\0b', 'a\\0b' }, "
        "{ 'a\\0b\\0c', '\\0', 3 }, { 'a\\0\\0b', '%z+' },"
        "{ 'aaab', '.*b' }, { 'aaa', '.*a' }, { 'aaa', '.-a' }, { 'aaab', 'a-b' }, { 'aaa', '^.-$' }, "
        "{ 'aabaa', 'b*' }, { 'aaab', 'a?b' },"
        "{ '0123', '%d+' }, { 'alo xyzK', '(%w+)K' }, { '254 K', '(%d*)K' }, { 'alo ', '(%w*)$' }, "
        "{ 'alo wo', '(%w+)$' }, { 'key = val', '(%w+)%s*=%s*(%w+)' },"
        "{ 'x()y', '()(%()()%)' }, { '[[]] [][] [[[[', '%b[]' }, { '(a(b)c', '%b()' }, "
        "{ 'THE (quick) fox', '%f[%a]%a+%f[%A]' }, { 'aba', '%f[b]' }, { 'abc', '%f[\\0]' },"
        "{ 'hello hello', '(%w+) %1' }, { 'a-b', '[a-]' }, { ']', '[]]' }, { '^', '[%^]' }, { 'a', '[^%w]' }, "
        "{ 'b', '[a-c]' }, { '-', '[a%-c]' }, { 'x]y', '[^]]+' },"
        "{ 'a$b', '$b' }, { 'a$', 'a$$' }, { 'ab', 'a^b' }, { 'a^b', 'a^b' }, { '^a', '^^a' }, { '%', '%%' }, "
        "{ '\\255\\254', '[\\128-\\255]+' }, { 'A1 _', '%u%d%s%p' },"
        "{ '\\1', '%c' }, { 'fF', '%x%x' }, { ' x', '%S' }, { 'ab', '%g+' }, { 'ab', '%L' }, "
        "{ 'abcabc', '(a)(b)(c)%3' }, { 'aXb', '%X' }, { '', '^$' }, { 'x', '()' } }"
        "local bad = { '[a', '[', '[^', '[a-', '%', 'a%', '(a', 'a)', '(()', '%1', '(a)%2', '(a%1)', '%b', '%bx', '%f', "
        "'%fa', '[%', '[%a', '()' .. ('(a)'):rep(33), '%0', '[]', '[^]' }"
        "for _, c in ipairs(cases) do show(string.find(c[1], c[2], c[3], c[4])) show(string.match(c[1], c[2], c[3]))"
        "  for a, b, d in string.gmatch(c[1], c[2]) do show(a, b, d) end show(string.gsub(c[1], c[2], '<%0>')) end "
        "for _, p in ipairs(bad) do for _, f in ipairs{ string.find, string.match, string.gsub } do "
        "show(pcall(f, 'a(b)%[', p, 1)) show(pcall(f, 'aaa', p, '')) end end");
}

static void replacements_answer_as_lua(void **state)
{
    (void)state;
    assert_same_as_plain_lua(SHOW
        "show(string.gsub('hello world', 'o', '0', 1)) show(string.gsub('abc', '', '-')) "
        "show(string.gsub('abc', '%w', '%0%0')) show(string.gsub('abc', '(a)(b)', '%2%1%%'))"
        "show(string.gsub('a b c', '%w', { a = 'A', b = false, c = 3 })) "
        "show(string.gsub('a b', '%w', function(x) if x == 'a' then return x .. x end end))"
        "show(string.gsub('abc', '()', '%1')) show(string.gsub('abc', '^a', 'x')) show(string.gsub('aaa', '^a', 'x')) "
        "show(string.gsub('aaa', 'a', 'x', 0)) show(string.gsub('aaa', 'a', 'x', -5))"
        "show(string.gsub('abc', 'b', 5)) show(string.gsub('', '', 'x')) show(string.gsub('a,b,,c', ',*', '.')) "
        "show(string.gsub('$name', '%$(%w+)', { name = 'v' }))"
        "show(string.gsub('x', 'x', setmetatable({}, { __index = function(_, k) return k .. k end })))"
        "for _, r in ipairs{ '%2', '%', '%a', '%9' } do show(pcall(string.gsub, 'abc', '(b)', r)) end "
        "show(pcall(string.gsub, 'abc', 'b', { b = {} }))"
        "show(pcall(string.gsub, 'abc', 'b', true)) show(pcall(string.gsub, 'abc', 'b')) show(pcall(string.find, 'a')) "
        "show(pcall(string.match, {}, 'a')) show(pcall(string.gmatch, 'a'))"
        "for k, v in string.gmatch('a=1, b=2', '(%w+)=(%w+)') do show(k, v) end "
        "for w in string.gmatch('one two', '%a+') do show(w) end for p in string.gmatch('abc', '()') do show(p) end "
        "for w in string.gmatch('abcd', '%w', 3) do show(w) end for w in string.gmatch('abcd', '%w', -1) do show(w) end "
        "for w in string.gmatch('ab', 'b*') do show(w) end "
        "for w in string.gmatch('^a^a', '^a') do show(w) end for w in string.gmatch('abc', '', 9) do show(w) end");
}

/* Random patterns over a small alphabet, 15000 of them, each a search, a match and a replacement. The generator is the
 * same on both sides. */
static void random_patterns_answer_as_lua(void **state)
{
    (void)state;
    assert_same_as_plain_lua(SHOW
        "local state = 2463534242 local function random(n) state = (state * 1103515245 + 12345) & 0x7fffffff return "
        "(state >> 8) % n + 1 end "
        "local items = { 'a', 'b', '1', '.', '%a', '%d', '%W', '[ab]', '[^a]', '[a-c1]', '(', ')', '()', '*', '+', '-', "
        "'?', '$', '^', '%1', '%2', '%b()', '%f[ab]', '[%a(]', '%', '[', ']', ' ', '%(' }"
        "local letters = { 'a', 'b', 'c', '1', '(', ')', ' ' } "
        "local function make(list, n) local t = {} for i = 1, n do t[i] = list[random(#list)] end return "
        "table.concat(t) end "
        "for i = 1, 15000 do local s, p = make(letters, random(9) - 1), make(items, random(6)) "
        "local a = { pcall(string.find, s, p, random(4) - 1) } local b = { pcall(string.gsub, s, p, '[%0]', 5) } "
        "a[#a + 1] = 'x' b[#b + 1] = p for k = 1, #a do a[k] = tostring(a[k]) end "
        "for k = 1, #b do b[k] = tostring(b[k]) end "
        "local line = table.concat(a, ',') .. ';' .. table.concat(b, ',') print(#line > 90 and #line or line) end");
}

/* The patterns that keep Lua's own matcher busy for seconds, or for ever, stop with a message. */
static void costly_patterns_stop(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "string.find(('a'):rep(30000), ('a?'):rep(24) .. ('a'):rep(24) .. 'b')",
        "string.match(('a'):rep(3000), '.-.-.-.-b')",
        "string.find(('x'):rep(100000), ('x*'):rep(12) .. 'y')",
        "string.gsub(('a'):rep(100000), '(.-)%1%1b', '')",
        "string.find(('a'):rep(20000), '[' .. ('b'):rep(2000) .. ']')",
        "string.find(('('):rep(200000), '%b()')",
        "string.find(('a'):rep(200000), ('a'):rep(100000) .. '%%')",
        "for w in string.gmatch(('a'):rep(100000), 'a*a*a*b') do end",
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        fake_reset();
        fake_rule(show, bodies[i]);
        if (strcmp(fake.error, "test.lua:1: pattern too costly: more than 10000000 steps") != 0)
            fail_msg("%s: %s", bodies[i], fake.error);
    }
}

/* A plain search in which Lua's own would compare 10^12 octets is linear here. */
static void plain_searches_are_linear(void **state)
{
    (void)state;
    fake_reset();
    fake_rule(show, "print(string.find(('a'):rep(2000000), ('a'):rep(1000000) .. 'b', 1, true))");
    assert_log("nil\n");
}

static void a_limit_ends_a_match(void **state)
{
    (void)state;
    fake_reset();
    fake.checks = 50;
    fake_rule(show, "pcall(string.find, ('a'):rep(30000), ('a?'):rep(24) .. ('a'):rep(24) .. 'b')");
    assert_error("limit of time");
}

/* ---- the rest of string, and table ---- */

static void the_string_library_answers_as_lua(void **state)
{
    (void)state;
    assert_same_as_plain_lua(SHOW
        "for _, a in ipairs{ { 'ab', 3 }, { 'ab', 0 }, { 'ab', -5 }, { '', 5 }, { 'ab', 3, ',' }, { '', 4, '-' }, "
        "{ 'x', 1, 'sep' }, { 'ab', 7 }, { 'a', 33, '..' } } do show(string.rep(a[1], a[2], a[3])) end "
        "show(string.format('%5.2f|%-6s|%+d|%x|%q|%s|%%|%c|%g|%i|%a', 3.14159, 'ab', 5, 255, 'a\\n"
        "\"b', true, 65, 1e20, 3, 1.0)) show(string.format('%s %s', nil, 1.5))"
        "show(string.format('%10.3s|', 'abcdef')) show(pcall(string.format, '%d', 1.5)) "
        "show(pcall(string.format, '%d', 'x')) show(pcall(string.format, '%y', 1)) show(pcall(string.format, '%d'))"
        "show(string.format('%s', setmetatable({}, { __tostring = function() return 'T!' end }))) "
        "show(pcall(string.format, '%s', setmetatable({}, { __tostring = function() return 5 end })))"
        "show(string.byte('abc', 1, -1)) show(string.char(104, 105)) show(string.len('a\\0b'), string.lower('ABC'), "
        "string.upper('abc'), string.reverse('abc'), string.sub('hello', -3, -2))"
        "show(string.pack('<i4z', 7, 'x')) show(string.unpack('<i4z', string.pack('<i4z', 7, 'x'))) "
        "show(string.packsize('i4')) show(('x'):rep(3), #'abc', ('%d'):format(3)) show('10' + 5, '3' * '4')"
        "show(utf8.char(233, 8364), utf8.len('h\\u{e9}'), utf8.codepoint('\\u{20ac}', 1), utf8.offset('a\\u{e9}b', 3), "
        "utf8.charpattern) for p, c in utf8.codes('a\\u{e9}') do show(p, c) end show(utf8.len('\\xff'))");
}

static void the_table_library_answers_as_lua(void **state)
{
    (void)state;
    assert_same_as_plain_lua(SHOW
        "local function t(...) return { ... } end "
        "local a = t(1, 2, 3) table.insert(a, 4) table.insert(a, 1, 0) show(table.unpack(a)) show(table.remove(a), "
        "table.remove(a, 1), table.remove(a, 2)) show(table.unpack(a))"
        "show(table.remove({})) show(table.remove({}, 0)) show(table.remove({ 1 }, 2)) show((pcall(table.remove, "
        "{ 1 }, 5))) show(pcall(table.insert, { 1 }, 5, 0)) show(pcall(table.insert, {}, 1, 2, 3)) "
        "show(pcall(table.insert, {}))"
        "show(table.concat({ 1, 2.5, 'x' }, ', ')) show(table.concat({ 'a', 'b', 'c' }, '-', 2, 3)) "
        "show(table.concat({}, 'x')) show(table.concat({ 'a' }, 'x', 2)) show((pcall(table.concat, { 1, {}, 3 })))"
        "show(table.unpack({ 1, 2, 3 }, 2)) show(table.unpack({ 1, 2 }, -1, 1)) show(pcall(table.unpack, {}, 1, 1e7)) "
        "show(table.pack(1, nil, 3).n) show(select('#', table.unpack({}, 1, 3)))"
        "show(table.unpack(table.move({ 1, 2, 3, 4, 5 }, 2, 4, 1))) show(table.unpack(table.move({ 1, 2, 3, 4, 5 }, 1, "
        "3, 3))) show(table.unpack(table.move({ 1, 2 }, 1, 2, 2, { 9 }))) "
        "show((pcall(table.move, {}, 1, math.maxinteger, 2)))"
        "local s = t(5, 2, 8, 1, 9, 3, 3, 7) table.sort(s) show(table.unpack(s)) "
        "table.sort(s, function(x, y) return x > y end) show(table.unpack(s))"
        "local w = { 'pear', 'fig', 'apple' } table.sort(w) show(table.unpack(w)) show(pcall(table.sort, { 1, 'x' })) "
        "show(pcall(table.sort, { 1, 2 }, 5)) table.sort({}) table.sort({ 1 })"
        "local n, seed = {}, 7 for i = 1, 500 do seed = seed * 16807 % 2147483647 n[i] = seed end table.sort(n) "
        "local ok = true for i = 2, 500 do ok = ok and n[i - 1] <= n[i] end show(ok, n[1], n[500])");
}

static void sort_is_stable_and_ends_whatever_the_order_says(void **state)
{
    (void)state;
    assert_prints(show, "local t = {} for i = 1, 10 do t[i] = { key = i % 3, place = i } end "
                        "table.sort(t, function(a, b) return a.key < b.key end) "
                        "for _, v in ipairs(t) do print(v.key, v.place) end",
                  "0 3\n0 6\n0 9\n1 1\n1 4\n1 7\n1 10\n2 2\n2 5\n2 8\n");
    assert_prints(show, "local t = {} for i = 1, 100 do t[i] = i end table.sort(t, function() return true end) "
                        "table.sort(t, function() return false end) "
                        "local sum = 0 for _, v in ipairs(t) do sum = sum + v end print(#t, sum)",
                  "100 5050\n");
    assert_prints(show, "local t = { 3, 1, 2 } table.sort(t, function(a, b) t[1] = nil return a < b end) "
                        "print(t[1], t[2], t[3])", "1 2 3\n");
}

/* Lengths are raw: a table cannot claim entries that it has not. */
static void lengths_cannot_be_forged(void **state)
{
    (void)state;
    assert_prints(show, "local t = setmetatable({ 1 }, { __len = function() return 1 << 62 end, __index = function() "
                        "return 1 end }) "
                        "print(table.concat(t), select('#', table.unpack(t)), #t) table.insert(t, 2) print(rawlen(t)) "
                        "table.remove(t) table.sort(t) print(rawlen(t))",
                  "1 1 4611686018427387904\n2\n1\n");
    assert_breaks(show, "table.move({}, 1, 1e8, 1)", "test.lua:1: bad argument #3 to 'move' (too many elements to move)");
    assert_prints(show, "print(#string.rep('', 1 << 62), #string.rep('', 1 << 62, ''))",
        "0 0\n");        /* Lua's own counts to 2^62 */
    assert_breaks(show, "string.rep('ab', 1 << 60)", "test.lua:1: resulting string too large");
}

static void functions_of_lua_get_no_huge_texts(void **state)
{
    (void)state;
    assert_breaks(show, "os.date(('%c'):rep(1000))", "test.lua:1: bad argument #1 to 'date' (format is too long: over "
                                                     "256 octets)");
    static const char *const calls[] = { "s:upper()", "s:lower()", "s:reverse()", "utf8.len(s)", "string.format(s)",
        "s:byte()" };
    for (size_t i = 0; i < sizeof calls / sizeof *calls; i++) {
        char body[200];
        snprintf(body, sizeof body, "local s = ('x'):rep((16 << 20) + 1) print((select(2, "
                                    "pcall(function() return %s end))))", calls[i]);
        fake_reset();
        fake.host.memory_limit = 64u << 20;
        fake_rule(show, body);
        assert_true(fake.done);
        assert_non_null(strstr(fake.log, "text is longer than 16 MiB"));
    }
}

/* ---- the same show, the same answer ---- */

static void nothing_prints_an_address(void **state)
{
    (void)state;
    assert_prints(show, "print({}, print, coroutine.create(print)) print(tostring({}), ('%s %10s'):format({}, print)) "
                        "print(setmetatable({}, { __name = 'Lamp' }))",
                  "table function thread\ntable table   function\nLamp\n");
    assert_breaks(show, "string.format('%p', {})", "test.lua:1: invalid conversion '%p' to 'format': addresses are not "
                                                   "shown to scripts");
}

static void random_numbers_repeat(void **state)
{
    (void)state;
    char first[256];
    fake_reset();
    fake_rule(show, "print(math.random(1000000), math.random()) math.randomseed() "
                    "print(math.random(1000000)) math.randomseed(42) print(math.random(9))");
    assert_true(fake.done);
    snprintf(first, sizeof first, "%s", fake.log);
    fake_reset();
    fake_rule(show, "print(math.random(1000000), math.random()) math.randomseed() "
                    "print(math.random(1000000)) math.randomseed(42) print(math.random(9))");
    assert_log(first);
    assert_true(strncmp(first, strchr(first, '\n') + 1, strcspn(first, " ")) == 0);         /* randomseed() begins again */
}

static void pairs_and_next_have_one_order(void **state)
{
    (void)state;
    assert_prints(show, "local t = { 'one', 'two', zeta = 1, alpha = 2, [10] = 3, [-1] = 4, [1.5] = 5, [true] = 6, [0] = "
                        "7, be = 8, bee = 9 } "
                        "local s = {} for k, v in pairs(t) do s[#s + 1] = tostring(k) .. '=' .. tostring(v) end "
                        "print(table.concat(s, ' ')) "
                        "local n = {} for k, v in next, t do n[#n + 1] = tostring(k) .. '=' .. tostring(v) end "
                        "print(table.concat(n, ' ') == table.concat(s, ' '))",
                  "1=one 2=two 10=3 -1=4 0=7 1.5=5 alpha=2 be=8 bee=9 zeta=1 true=6\ntrue\n");
    assert_prints(show, "local k1, k2 = {}, {} local t = { [k1] = 1, x = 2, [k2] = 3, [print] = 4 } local n, sum = 0, 0 "
                        "for _, v in pairs(t) do n, sum = n + 1, sum + v end "
                        "for _, v in next, t do n, sum = n + 1, sum + v end print(n, sum)",
                  "8 20\n");
    assert_prints(show, "local t = {} for i = 1, 2000 do t['k' .. i] = i end local last, n = '', 0 "
                        "for k in pairs(t) do assert(last < k) last = k n = n + 1 t[k] = nil end print(n, next(t))",
                  "2000 nil\n");
    assert_prints(show, "print(next({})) print(next({ 5 })) print(next({ 5 }, 1)) for k, v in pairs(setmetatable({}, "
                        "{ __pairs = function(t) return function(_, k) if not k then return 1, 2 end end, t, nil end })) "
                        "do print(k, v) end",
                  "nil\n1 5\nnil\n1 2\n");
    assert_breaks(show, "pairs(5)", "test.lua:1: bad argument #1 to 'pairs' (table expected, got number)");
}

static int open_show(void **state)
{
    (void)state;
    show = show_new();
    return show && show_index(show) == 0 ? 0 : -1;
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
        cmocka_unit_test(patterns_answer_as_lua),
        cmocka_unit_test(replacements_answer_as_lua),
        cmocka_unit_test(random_patterns_answer_as_lua),
        cmocka_unit_test(costly_patterns_stop),
        cmocka_unit_test(plain_searches_are_linear),
        cmocka_unit_test(a_limit_ends_a_match),
        cmocka_unit_test(the_string_library_answers_as_lua),
        cmocka_unit_test(the_table_library_answers_as_lua),
        cmocka_unit_test(sort_is_stable_and_ends_whatever_the_order_says),
        cmocka_unit_test(lengths_cannot_be_forged),
        cmocka_unit_test(functions_of_lua_get_no_huge_texts),
        cmocka_unit_test(nothing_prints_an_address),
        cmocka_unit_test(random_numbers_repeat),
        cmocka_unit_test(pairs_and_next_have_one_order),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
