/* What the reader refuses, with the exact message: where, what was found, what was expected. Places are counted by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/showfile.h"

#define SHOW "return { rigcall = 1, name = 'n', "
#define TX "transmitters = { { id = 'T1', site = 's', radios = 1, airs = {}, air = 'dual', "
#define MODE "types = { { id = 't', modes = { { id = 'm', "

struct bad { const char *text, *message; };

static void expect_message(const char *text, size_t length, const char *message)
{
    struct show *show;
    struct rig_why why = { 0 };
    char place[64];
    int err = showfile_parse("a.show.lua", text, length, &show, &why);
    if (err != RIG_EINPUT || strcmp(why.text, message) != 0)
        print_error("text:     %.100s\nexpected: %s\nfound:    %s\n", text, message, err ? why.text : "no error");
    assert_int_equal(err, RIG_EINPUT);
    assert_null(show);
    assert_string_equal(why.text, message);
    snprintf(place, sizeof place, "a.show.lua:%lu:%lu: ", why.line, why.column);
    assert_memory_equal(why.text, place, strlen(place));
}

static void expect_all(const struct bad *cases, size_t count)
{
    for (size_t i = 0; i < count; i++)
        expect_message(cases[i].text, strlen(cases[i].text), cases[i].message);
}
#define EXPECT_ALL(cases) expect_all(cases, sizeof(cases) / sizeof *(cases))

static void what_is_no_table_of_data_is_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "", "a.show.lua:1:1: found the end of the file, expected \"return\" and a table" },
        { "-- nothing\n\n", "a.show.lua:3:1: found the end of the file, expected \"return\" and a table" },
        { "local x = 1", "a.show.lua:1:1: found the name local, expected \"return\" and a table" },
        { "return", "a.show.lua:1:7: found the end of the file, expected a table" },
        { "return 5", "a.show.lua:1:8: found 5, expected a table" },
        { "return ({})", "a.show.lua:1:8: found \"(\", expected a table" },
        { "#!/usr/bin/lua\nreturn {}", "a.show.lua:1:1: found \"#\", expected \"return\" and a table" },
        { "\x7f" "ELF", "a.show.lua:1:1: found octet 0x7f, expected the text of a show file" },
        { "\xff\xfer", "a.show.lua:1:1: found octet 0xff, expected the text of a show file" },
        { SHOW "} x", "a.show.lua:1:37: found the name x, expected the end of the file" },
        { SHOW "};;", "a.show.lua:1:37: found \";\", expected the end of the file" },
        { SHOW "date = os.date() }", "a.show.lua:1:42: date: found the name os, expected a text" },
        { SHOW "date = 'a' .. 'b' }", "a.show.lua:1:46: found \".\", expected \",\" or \"}\"" },
        { SHOW "date = nil }", "a.show.lua:1:42: date: found the name nil, expected a text" },
        { SHOW "date = function() end }", "a.show.lua:1:42: date: found the name function, expected a text" },
        { SHOW "date = true }", "a.show.lua:1:42: date: found true, expected a text" },
        { SHOW "date = ('a') }", "a.show.lua:1:42: date: found \"(\", expected a text" },
        { SHOW "'date' }", "a.show.lua:1:35: found \"date\", expected a key or \"}\"" },
        { SHOW "[1] = 2 }", "a.show.lua:1:36: found 1, expected a key as text" },
        { SHOW "['date'}", "a.show.lua:1:42: date: found \"}\", expected \"]\" after the key" },
        { SHOW "date 'x' }", "a.show.lua:1:40: date: found \"x\", expected \"=\" after the key" },
        { SHOW "date = 'x' name = 'y' }", "a.show.lua:1:46: found the name name, expected \",\" or \"}\"" },
        { SHOW ", }", "a.show.lua:1:35: found \",\", expected a key or \"}\"" },
        { SHOW, "a.show.lua:1:35: found the end of the file, expected a key or \"}\"" },
        { SHOW "\n  date = ", "a.show.lua:2:10: date: found the end of the file, expected a text" },
    };
    EXPECT_ALL(cases);
}

static void wrong_tokens_are_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { SHOW "date = 'x\n' }", "a.show.lua:1:42: found a text without an end on its line, expected a closing '" },
        { SHOW "date = \"x", "a.show.lua:1:42: found a text without an end on its line, expected a closing \"" },
        { SHOW "date = [[x]=]", "a.show.lua:1:42: found a long text without an end, expected its closing bracket" },
        { SHOW "date = [=x", "a.show.lua:1:42: found \"[=\", expected a long bracket or a key" },
        { SHOW "--[==[ x ]=]", "a.show.lua:1:35: found a long comment without an end, expected its closing bracket" },
        { SHOW "date = '\\q' }", "a.show.lua:1:43: found the escape \"\\q\", expected one of \\a \\b \\f \\n \\r \\t \\v \\\\ \\\" \\' \\z \\xXX \\ddd \\u{...}" },
        { SHOW "date = '\\x4' }", "a.show.lua:1:43: found the escape \"\\x4\", expected \\xXX with two hexadecimal digits" },
        { SHOW "date = '\\256' }", "a.show.lua:1:43: found the escape \"\\256\", expected \\ddd up to 255" },
        { SHOW "date = '\\u{110000}' }",
          "a.show.lua:1:43: found the escape \"\\u{110000}\", expected \\u{...} with a character up to 10FFFF that is no surrogate" },
        { SHOW "date = '\\u{d800}' }",
          "a.show.lua:1:43: found the escape \"\\u{d800}\", expected \\u{...} with a character up to 10FFFF that is no surrogate" },
        { SHOW "date = '\\u41' }", "a.show.lua:1:43: found the escape \"\\u41\", expected \\u{...} with a character up to 10FFFF that is no surrogate" },
        { SHOW "call = { hours = 1x } }", "a.show.lua:1:52: found \"1x\", expected a number" },
        { SHOW "call = { hours = 1.2.3 } }", "a.show.lua:1:52: found \"1.2.3\", expected a number" },
        { SHOW "call = { hours = 0x } }", "a.show.lua:1:52: found \"0x\", expected a number" },
        { SHOW "call = { hours = 1e } }", "a.show.lua:1:52: found \"1e\", expected a number" },
        { SHOW "call = { hours = - } }", "a.show.lua:1:54: call: hours: found \"}\", expected a number from 0 to 2147483647" },
        { SHOW "date = 'a\xff' }", "a.show.lua:1:44: octet 0xff in a text, expected UTF-8" },
        { SHOW "date = 'a\xc3' }", "a.show.lua:1:44: octet 0xc3 in a text, expected UTF-8" },
        { SHOW "date = '\\xff' }", "a.show.lua:1:42: octet 0xff in a text, expected UTF-8" },
        { SHOW "date = [[\xed\xa0\x80]] }", "a.show.lua:1:42: octet 0xed in a text, expected UTF-8" },
        { SHOW "-- \xfe\n}", "a.show.lua:1:38: octet 0xfe in a comment, expected UTF-8" },
    };
    EXPECT_ALL(cases);
    char nul[] = SHOW "date = 'a?' }";
    *strchr(nul, '?') = '\0';
    expect_message(nul, sizeof nul - 1, "a.show.lua:1:42: date: found control character U+0000, expected a text without");
}

static void lines_end_in_every_usual_way(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "return {\r\n\r\n x = 1 }", "a.show.lua:3:2: found unknown key \"x\", expected a known one (nearest: \"name\")" },
        { "return {\r\r x = 1 }", "a.show.lua:3:2: found unknown key \"x\", expected a known one (nearest: \"name\")" },
        { "return {\n\n x = 1 }", "a.show.lua:3:2: found unknown key \"x\", expected a known one (nearest: \"name\")" },
        { "return {\n\r\n\r x = 1 }", "a.show.lua:3:2: found unknown key \"x\", expected a known one (nearest: \"name\")" },
        { "return { --[[\n\n]] note = [[\n\n]], x = 1 }", "a.show.lua:5:5: found unknown key \"x\", expected a known one (nearest: \"name\")" },
    };
    EXPECT_ALL(cases);
}

static void control_characters_are_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "return { name = 'a\\n' }", "a.show.lua:1:17: name: found control character U+000A, expected a text without" },
        { "return { name = 'a\tb' }", "a.show.lua:1:17: name: found control character U+0009, expected a text without" },
        { "return { note = 'a\\27[2J' }", "a.show.lua:1:17: note: found control character U+001B, expected a text without" },
        { "return { note = 'a\\r' }", "a.show.lua:1:17: note: found control character U+000D, expected a text without" },
        { "return { note = '\\0' }", "a.show.lua:1:17: note: found control character U+0000, expected a text without" },
        { "return { name = '\x7f' }", "a.show.lua:1:17: name: found control character U+007F, expected a text without" },
        { "return { name = '\xc2\x9b' }", "a.show.lua:1:17: name: found control character U+009B, expected a text without" },
        { "return { x_a = '\\u{85}' }", "a.show.lua:1:16: x_a: found control character U+0085, expected a text without" },
        { "return { x_a = { ['a\\n'] = 1 } }", "a.show.lua:1:19: x_a: found \"a\\x0a\", expected a key without control characters" },
    };
    EXPECT_ALL(cases);
}

static void wrong_keys_are_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "return { nmae = 'x' }", "a.show.lua:1:10: found unknown key \"nmae\", expected a known one (nearest: \"name\")" },
        { "return { ['universe'] = {} }", "a.show.lua:1:10: found unknown key \"universe\", expected a known one (nearest: \"universes\")" },
        { "return { fixtures = { { id = 101, adress = 1 } } }",
          "a.show.lua:1:35: fixture 101: found unknown key \"adress\", expected a known one (nearest: \"address\")" },
        { "return { fixtures = { { id = 101, end = 1 } } }",
          "a.show.lua:1:35: fixture 101: found unknown key \"end\", expected a known one (nearest: \"id\")" },
        { "return { name = 'a', name = 'b' }", "a.show.lua:1:22: found key \"name\" again, expected each key once" },
        { "return { x_a = 1, x_b = 2, x_a = 3 }", "a.show.lua:1:28: found key \"x_a\" again, expected each key once" },
        { "return { x_a = { b = 1, { b = 1 }, ['b'] = 2 } }", "a.show.lua:1:36: x_a: found key \"b\" again, expected each key once" },
        { "return { x_ = 1 }", "a.show.lua:1:10: found unknown key \"x_\", expected a known one (nearest: \"name\")" },
        { "return { ['x_a b'] = 1 }", "a.show.lua:1:10: found unknown key \"x_a b\", expected a known one (nearest: \"name\")" },
        { "return { call = { x_a = 1 } }", "a.show.lua:1:19: call: found key \"x_a\", expected x_ keys only in objects that keep them" },
        { "return { ['name\\0'] = 1 }", "a.show.lua:1:10: found unknown key \"name\\x00\", expected a known one (nearest: \"name\")" },
        { "return { [''] = 1 }", "a.show.lua:1:10: found unknown key \"\", expected a known one (nearest: \"name\")" },
        { "return { x_a = print }", "a.show.lua:1:16: x_a: found the name print, expected a text, a number, true, false or a table" },
        { "return { x_a = { print } }", "a.show.lua:1:24: x_a: found \"}\", expected \"=\" after the key, or a text in quotes" },
        { "return { x_a = { nil } }", "a.show.lua:1:18: x_a: found the name nil, expected a text, a number, true, false or a table" },
        { "return { x_a = { [1] = 2 } }", "a.show.lua:1:19: x_a: found 1, expected a key as text" },
        { "return { x_a = 2147483648 }", "a.show.lua:1:16: x_a: found 2147483648, expected a number from -2147483648 to 2147483647" },
        { "return { x_a = -1e999 }", "a.show.lua:1:16: x_a: found -1e999, expected a number from -2147483648 to 2147483647" },
    };
    EXPECT_ALL(cases);
}

static void missing_keys_are_named(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "return {}", "a.show.lua:1:8: found no key \"rigcall\", expected it in every show" },
        { "return { rigcall = 1 }", "a.show.lua:1:8: found no key \"name\", expected it in every show" },
        { SHOW "sites = { {} } }", "a.show.lua:1:45: site: found no key \"id\", expected it in every site" },
        { SHOW "quiet = { { from = 2402 } } }", "a.show.lua:1:45: quiet: found no key \"to\", expected it in every quiet" },
        { SHOW "types = { { id = 't' } } }", "a.show.lua:1:45: type t: found no key \"modes\", expected it in every type" },
        { SHOW MODE "} } } } }", "a.show.lua:1:67: type t: mode m: found no key \"slots\", expected it in every mode" },
        { SHOW "transmitters = { { id = 'T' } } }", "a.show.lua:1:52: transmitter T: found no key \"site\", expected it in every transmitter" },
        { SHOW TX "lanes = { { lane = 1 } } } } }", "a.show.lua:1:124: transmitter T1: lane 1: found no key \"universe\", expected it in every lane" },
        { SHOW "universes = { { label = 'l' } } }", "a.show.lua:1:49: universe: found no key \"id\", expected it in every universe" },
        { SHOW "fixtures = { { id = 7, type = 't', mode = 'm' } } }",
          "a.show.lua:1:48: fixture 7: found no key \"site\", expected it in every fixture" },
    };
    EXPECT_ALL(cases);
}

static void wrong_numbers_are_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { "return { rigcall = 2 }", "a.show.lua:1:20: rigcall: found 2, expected 1, the only format there is" },
        { "return { rigcall = '1' }", "a.show.lua:1:20: rigcall: found \"1\", expected 1, the only format there is" },
        { SHOW "fixtures = { { id = 0 } } }", "a.show.lua:1:55: fixture: id: found 0, expected an integer from 1 to 2147483647" },
        { SHOW "fixtures = { { id = '1' } } }", "a.show.lua:1:55: fixture: id: found \"1\", expected an integer from 1 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = 1.5 } } }",
          "a.show.lua:1:68: fixture 1: address: found 1.5, expected an integer from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = 2147483648 } } }",
          "a.show.lua:1:68: fixture 1: address: found 2147483648, expected an integer from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = -2147483649 } } }",
          "a.show.lua:1:68: fixture 1: address: found -2147483649, expected an integer from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = 0xffffffffffffffffff } } }",
          "a.show.lua:1:68: fixture 1: address: found 0xffffffffffffffffff, expected an integer from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = 1e999 } } }",
          "a.show.lua:1:68: fixture 1: address: found 1e999, expected an integer from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, address = {} } } }", "a.show.lua:1:68: fixture 1: address: found a table, expected an integer" },
        { SHOW "fixtures = { { id = 1, pos = { 1e999, 0, 0 } } } }",
          "a.show.lua:1:66: fixture 1: pos: found 1e999, expected a number from -2147483648 to 2147483647" },
        { SHOW "fixtures = { { id = 1, pos = { nan, 0, 0 } } } }", "a.show.lua:1:66: fixture 1: pos: found the name nan, expected a number" },
        { SHOW "fixtures = { { id = 1, pos = { 0/0, 0, 0 } } } }", "a.show.lua:1:67: fixture 1: pos: found \"/\", expected \",\" or \"}\"" },
        { SHOW "fixtures = { { id = 1, pos = { 1, 2 } } } }", "a.show.lua:1:71: fixture 1: pos: found \"}\", expected { x, y, z } in metres" },
        { SHOW "fixtures = { { id = 1, pos = { 1, 2, 3, 4 } } } }", "a.show.lua:1:75: fixture 1: pos: found 4, expected { x, y, z } in metres" },
        { SHOW "fixtures = { { id = 1, pos = 3 } } }", "a.show.lua:1:64: fixture 1: pos: found 3, expected { x, y, z } in metres" },
        { SHOW "call = { level = 101 } }", "a.show.lua:1:52: call: level: found 101, expected a number from 0 to 100" },
        { SHOW "call = 5 }", "a.show.lua:1:42: call: found 5, expected a table" },
        { SHOW "universes = { { id = 1, priority = 201 } } }",
          "a.show.lua:1:70: universe 1: priority: found 201, expected an integer from 0 to 200" },
        { SHOW MODE "cells = -1, slots = {} } } } } }",
          "a.show.lua:1:87: type t: mode m: cells: found -1, expected an integer from 0 to 2147483647" },
        { SHOW TX "radios = 2 } } }", "a.show.lua:1:114: transmitter T1: found key \"radios\" again, expected each key once" },
        { SHOW TX "keep_out = { { from = 2480, to = 2402.5 } } } } }",
          "a.show.lua:1:127: transmitter T1: keep_out: found from 2480 above to 2402.5, expected from at most to" },
        { SHOW "quiet = { { from = 2, to = 1 } } }", "a.show.lua:1:45: quiet: found from 2 above to 1, expected from at most to" },
    };
    EXPECT_ALL(cases);
}

static void wrong_words_and_lists_are_refused(void **state)
{
    (void)state;
    static const struct bad cases[] = {
        { SHOW "sites = { { id = '' } } }", "a.show.lua:1:52: site: id: found \"\", expected an id of 1 to 32 of A-Z a-z 0-9 _ . -" },
        { SHOW "sites = { { id = 'a b' } } }", "a.show.lua:1:52: site: id: found \"a b\", expected an id of 1 to 32 of A-Z a-z 0-9 _ . -" },
        { SHOW "sites = { { id = 'aaaaaaaaaabbbbbbbbbbccccccccccddd' } } }",
          "a.show.lua:1:52: site: id: found \"aaaaaaaaaabbbbbbbbbbccccccccccddd\", expected an id of 1 to 32 of A-Z a-z 0-9 _ . -" },
        { SHOW "sites = { { id = 5 } } }", "a.show.lua:1:52: site: id: found 5, expected an id of 1 to 32 of A-Z a-z 0-9 _ . -" },
        { SHOW "sites = { 'quay' } }", "a.show.lua:1:45: sites: found \"quay\", expected the table of a site" },
        { SHOW "sites = { id = 'quay' } }", "a.show.lua:1:45: sites: found the name id, expected the table of a site" },
        { SHOW "sites = 'quay' }", "a.show.lua:1:43: sites: found \"quay\", expected a list of tables" },
        { SHOW "fixtures = { { id = 1, air = 'triple' } } }", "a.show.lua:1:64: fixture 1: air: found \"triple\", expected \"single\" or \"dual\"" },
        { SHOW "fixtures = { { id = 1, air = 2 } } }", "a.show.lua:1:64: fixture 1: air: found 2, expected \"single\" or \"dual\"" },
        { SHOW "fixtures = { { id = 1, wired = 1 } } }", "a.show.lua:1:66: fixture 1: wired: found 1, expected true or false" },
        { SHOW "fixtures = { { id = 1, tags = 'rail' } } }", "a.show.lua:1:65: fixture 1: tags: found \"rail\", expected a list of texts" },
        { SHOW "fixtures = { { id = 1, tags = { 5 } } } }", "a.show.lua:1:67: fixture 1: tags: found 5, expected a text" },
        { SHOW "fixtures = { { id = 1, code = 40718263 } } }", "a.show.lua:1:65: fixture 1: code: found 40718263, expected a text" },
        { SHOW "types = { { id = 't', airs = { 'Dual' } } } }", "a.show.lua:1:66: type t: airs: found \"Dual\", expected \"single\" or \"dual\"" },
        { SHOW "types = { { id = 't', hazard = 'fire' } } }",
          "a.show.lua:1:66: type t: hazard: found \"fire\", expected \"motion\", \"laser\", \"flame\", \"fog\" or \"other\"" },
        { SHOW "types = { { id = 't', firmware_floor = { dual = 3.1 } } } }",
          "a.show.lua:1:83: type t: firmware_floor: dual: found 3.1, expected a text" },
        { SHOW MODE "slots = { 'Red' } } } } } }",
          "a.show.lua:1:89: type t: mode m: slots: found \"Red\", expected a parameter name of 1 to 32 of a-z 0-9 _ -, perhaps with +fine" },
        { SHOW MODE "slots = { '+fine' } } } } } }",
          "a.show.lua:1:89: type t: mode m: slots: found \"+fine\", expected a parameter name of 1 to 32 of a-z 0-9 _ -, perhaps with +fine" },
        { SHOW MODE "slots = { { 'red', level = 5 } } } } } } }",
          "a.show.lua:1:98: type t: mode m: slots: found the name level, expected default = per cent, or \"}\"" },
        { SHOW MODE "slots = { { 'red', default = 100.5 } } } } } } }",
          "a.show.lua:1:108: type t: mode m: slots: found 100.5, expected a number from 0 to 100" },
        { SHOW MODE "slots = { { 'pan+fine', default = 1 } } } } } } }",
          "a.show.lua:1:103: type t: mode m: slots: found a default for a fine slot, expected it on the coarse one" },
        { SHOW TX "input = 'dmx' } } }", "a.show.lua:1:122: transmitter T1: input: found \"dmx\", expected \"multicast\" or \"unicast\"" },
    };
    EXPECT_ALL(cases);
}

/* Text repeated `times` times between a head and a tail. malloc'd. */
static char *repeat(const char *head, const char *text, size_t times, const char *tail, size_t *length)
{
    size_t octets = strlen(text);
    char *all = malloc(strlen(head) + octets * times + strlen(tail) + 1), *to = all;
    assert_non_null(all);
    to = stpcpy(to, head);
    for (size_t i = 0; i < times; i++, to += octets)
        memcpy(to, text, octets);
    *length = (size_t)(stpcpy(to, tail) - all);
    return all;
}

static void expect_repeated(const char *head, const char *text, size_t times, const char *tail, const char *message)
{
    size_t length;
    char *all = repeat(head, text, times, tail, &length);
    expect_message(all, length, message);
    free(all);
}

static void limits_are_named(void **state)
{
    (void)state;
    expect_repeated(SHOW "x_a = ", "{", 1000000, "",
                    "a.show.lua:1:72: x_a: found tables nested more than 32 deep, expected at most that many");
    expect_repeated(SHOW "note = '", "a", 65537, "' }", "a.show.lua:1:42: found a text of more than 65536 octets, expected at most that many");
    expect_repeated(SHOW "note = [[", "a", 65537, "]] }", "a.show.lua:1:42: found a text of more than 65536 octets, expected at most that many");
    expect_repeated(SHOW "note = '", "\\65", 65537, "' }", "a.show.lua:1:42: found a text of more than 65536 octets, expected at most that many");
    expect_repeated(SHOW "x_a = {", "1,", 40000, "} }",
                    "a.show.lua:1:43732: x_a: found a value of more than 65536 octets, expected at most that many");
    expect_repeated(SHOW MODE "slots = {", "'a',", 65537, "} } } } }",
                    "a.show.lua:1:262232: type t: mode m: slots: found more than 65536 entries, expected at most that many");
    expect_repeated(SHOW "types = { { id = 't', modes = {", "{id='m',slots={}},", 257, "} } } }",
                    "a.show.lua:1:4674: type t: modes: found more than 256 entries, expected at most that many");
    expect_repeated(SHOW "universes = {", "{id=1},", 300001, "} }",
                    "a.show.lua:1:2100048: universes: found more than 300000 objects in one show, expected at most that many");
    expect_repeated(SHOW "call = { hours = ", "0", 201, " } }",
                    "a.show.lua:1:52: found \"0000000000000000000000000000000000000000…\", expected a number");
}

static void a_long_path_leaves_room_for_the_sentence(void **state)
{
    (void)state;
    char path[2000];
    struct show *show;
    struct rig_why why;
    memset(path, 'p', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    assert_int_equal(showfile_parse(path, "", 0, &show, &why), RIG_EINPUT);
    assert_non_null(strstr(why.text, "ppp:1:1: found the end of the file, expected \"return\" and a table"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_table_of_data_is_refused),
        cmocka_unit_test(wrong_tokens_are_refused),
        cmocka_unit_test(lines_end_in_every_usual_way),
        cmocka_unit_test(control_characters_are_refused),
        cmocka_unit_test(wrong_keys_are_refused),
        cmocka_unit_test(missing_keys_are_named),
        cmocka_unit_test(wrong_numbers_are_refused),
        cmocka_unit_test(wrong_words_and_lists_are_refused),
        cmocka_unit_test(limits_are_named),
        cmocka_unit_test(a_long_path_leaves_room_for_the_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
