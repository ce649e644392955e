/* Canonical text and files: written by hand from the format's description, and properties over made-up shows. */
#include <fcntl.h>
#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#include "showfile/showfile_internal.h"
#include "support/program.h"

static struct show *parse(const char *text)
{
    struct show *show;
    struct rig_why why = { 0 };
    int err = showfile_parse("a.show.lua", text, strlen(text), &show, &why);
    if (err)
        print_error("%s\n", why.text);
    assert_int_equal(err, 0);
    return show;
}

static char *format(const struct show *show)
{
    char *text;
    size_t length;
    assert_int_equal(showfile_format(show, &text, &length, NULL), 0);
    assert_int_equal(strlen(text), length);
    return text;
}

static void expect_canonical(const char *text, const char *canonical)
{
    struct show *show = parse(text);
    char *found = format(show);
    assert_string_equal(found, canonical);
    free(found);
    show_free(show);
}

static void keys_are_written_in_order_and_only_when_given(void **state)
{
    (void)state;
    static const char canonical[] =
        "return {\n"
        "  rigcall = 1, name = \"n\", date = \"d\", region = \"GB\", call = { hours = 1.5 }, note = \"a\\n\\tb\",\n"
        "  sites = {\n"
        "    { id = \"s\", name = \"\", note = \"\\\"q\\\\\", x_a = 1 },\n"
        "  },\n"
        "  quiet = {\n"
        "    { from = -1.5, to = 2480, who = \"w\", note = \"n\" },\n"
        "  },\n"
        "  types = {\n"
        "    { id = \"t\", airs = { \"single\" }, firmware_floor = { single = \"1\", dual = \"2\" }, watts = 0, battery_wh = 0.1, sensitivity_dbm = -85, hazard = \"fog\", note = \"n\",\n"
        "      modes = {\n"
        "        { id = \"m\", head = {}, cells = 1, slots = { \"pan\", \"pan+fine\", { \"strobe\", default = 12.5 } }, tail = {} },\n"
        "        { id = \"n\", name = \"N\", head = { \"red\" }, cells = 0, slots = {}, tail = { \"blue\" }, note = \"n\" },\n"
        "      }, x_b = { a = true } },\n"
        "    { id = \"u\",\n      modes = {} },\n"
        "  },\n"
        "  transmitters = {\n"
        "    { id = \"T\", name = \"N\", site = \"s\", pos = { 1, 2, 3 }, reach = 100, eirp_dbm = 20, radios = 4, airs = {}, air = \"single\", code = \"\", firmware = \"f\", input = \"unicast\", "
        "host = \"h\", spare = true, lanes = {}, keep_out = { { from = 1, to = 2, x_c = false } }, note = \"n\", x_d = \"\" },\n"
        "  },\n"
        "  universes = {\n"
        "    { id = -1, label = \"l\", priority = 0, wire = 5, note = \"n\" },\n"
        "  },\n"
        "  fixtures = {\n"
        "    { id = 1, name = \"\xc3\xa4\", type = \"t\", mode = \"m\", site = \"s\", pos = { 0, 0, 0 }, tags = { \"a b\" }, universe = 1, address = 0, code = \"c\", air = \"dual\", lane = -3, "
        "firmware = \"f\", same_as = 2, wired = true, note = \"n\" },\n"
        "    { id = 2, type = \"t\", mode = \"m\", site = \"s\" },\n"
        "  },\n"
        "  x_e = 1.0,\n"
        "  x_f = {},\n"
        "}\n";
    expect_canonical(canonical, canonical);
}

static void spellings_become_one(void **state)
{
    (void)state;
    expect_canonical("return{name='a',rigcall=1.0;sites={};call={level=0x32,},x_a={[ [[x]] ]='\\65\\u{42}'};}",
                     "return {\n  rigcall = 1, name = \"a\", call = { level = 50 },\n  x_a = { x = \"AB\" },\n}\n");
    expect_canonical("return { rigcall = 1, name = '', fixtures = { { wired = false, id = 1, tags = {}, site = 's', mode = 'm', type = 't', pos = { -0.0, 1e1, .5 } } } }",
                     "return {\n  rigcall = 1, name = \"\",\n  fixtures = {\n    { id = 1, type = \"t\", mode = \"m\", site = \"s\", pos = { 0, 10, 0.5 } },\n  },\n}\n");
}

/* ---- numbers ---- */

/* Shortest decimals by hand; those of many digits are the classic cases of correct rounding (2^-1, 0.1 + 0.2, 1/3). */
static void numbers_are_short_and_read_back(void **state)
{
    (void)state;
    static const struct { double number; const char *text; } cases[] = {
        { 0, "0" }, { -0.0, "0" }, { 1, "1" }, { -1, "-1" }, { 2147483647, "2147483647" }, { -2147483648.0, "-2147483648" }, { 0.5, "0.5" },
        { 0.1, "0.1" }, { -2.25, "-2.25" }, { 2402.5, "2402.5" }, { 1.0625, "1.0625" }, { 1.03125, "1.03125" }, { 0.0001, "0.0001" },
        { 0.00001, "1e-5" }, { 1.5e-7, "1.5e-7" }, { 1.0 / 3.0, "0.3333333333333333" }, { 0.1 + 0.2, "0.30000000000000004" },
        { 5e-324, "5e-324" }, { 2.2250738585072014e-308, "2.2250738585072014e-308" }, { 100000.05, "100000.05" }, { 10.01, "10.01" },
        { 10.001, "10.001" }, { 3.0001, "3.0001" }, { 123456789.125, "123456789.125" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[40];
        double back;
        size_t length = number_format(cases[i].number, text);
        assert_string_equal(text, cases[i].text);
        assert_int_equal(length, strlen(text));
        bool minus = text[0] == '-';
        assert_true(showfile__number_parse(text + minus, length - minus, &back));
        assert_true((minus ? -back : back) == cases[i].number);
    }
}

static uint64_t random_at = 88172645463325252u;      /* xorshift64, the same numbers every time */
static uint64_t next_random(void)
{
    random_at ^= random_at << 13;
    random_at ^= random_at >> 7;
    random_at ^= random_at << 17;
    return random_at;
}
static uint32_t up_to(uint32_t most)
{
    return (uint32_t)(next_random() >> 32) % (most + 1);
}

static double any_number(void)
{
    double number = (double)up_to(2000000) - 1000000;
    switch (up_to(4)) {
    case 0:  return floor(number / 1000);
    case 1:  return number / 100;
    case 2:  return number / 3;
    case 3:  return number * 1e-9;
    default: return number / 1048576;
    }
}

/* strtod() and printf() of the C library as the second opinion; no shorter %g may read back the same. */
static void any_number_reads_back(void **state)
{
    (void)state;
    for (int i = 0; i < 50000; i++) {
        double number = any_number(), back;
        char text[40], shorter[400];
        size_t length = number_format(number, text), digits = 0;
        assert_true(strtod(text, NULL) == number);
        bool minus = text[0] == '-';
        assert_true(showfile__number_parse(text + minus, length - minus, &back));
        assert_true((minus ? -back : back) == number);
        const char *c = text;
        for (; *c && *c != 'e'; c++)
            digits += *c >= '0' && *c <= '9' && (digits || *c != '0');
        for (; digits && strchr(text, '.') == NULL && c > text && c[-1] == '0'; c--)
            digits--;
        if (digits > 1) {
            snprintf(shorter, sizeof shorter, "%.*g", (int)digits - 1, number);
            assert_true(strtod(shorter, NULL) != number);
        }
    }
}

/* A locale of our own: localedef belongs to the C library's package, locales with a comma need not be installed. */
static void a_decimal_comma_changes_nothing(void **state)
{
    (void)state;
    char *folder = program_folder_new(), target[300], text[16];
    char *source = program_file(folder, "source", "LC_NUMERIC\ndecimal_point \",\"\nthousands_sep \"\"\ngrouping -1\nEND LC_NUMERIC\n");
    snprintf(target, sizeof target, "%s/comma", folder);
    struct program_result made = program_run((const char *const[]){ "/usr/bin/localedef", "--no-archive", "-c", "-i", source, target, NULL });
    program_result_fini(&made);      /* warns of the categories that are not there: what counts is whether it can be set */
    assert_int_equal(setenv("LOCPATH", folder, 1), 0);
    assert_non_null(setlocale(LC_NUMERIC, "comma"));
    snprintf(text, sizeof text, "%.1f", 1.5);
    assert_string_equal(text, "1,5");
    expect_canonical("return { rigcall = 1, name = '', call = { hours = 1.5, level = 0.3333333333333333 }, x_a = 1.5e-7 }",
                     "return {\n  rigcall = 1, name = \"\", call = { hours = 1.5, level = 0.3333333333333333 },\n  x_a = 1.5e-7,\n}\n");
    setlocale(LC_NUMERIC, "C");
    unsetenv("LOCPATH");
    free(source);
    program_folder_remove(folder);
}

/* ---- made-up shows ---- */

static const char *any_text(struct show *show)
{
    static const char *const parts[] = { "a", "\"", "\\", "\xc3\xa9", "\xe2\x82\xac", "]]", "--", "'", " ", "9", "\xf0\x9f\x8e\xad", "{", "}", "=" };
    char text[64] = "";
    for (uint32_t i = up_to(8); i > 0; i--)
        strcat(text, parts[up_to(sizeof parts / sizeof *parts - 1)]);
    return show_text(show, text, strlen(text));
}

static const char *any_id(struct show *show)
{
    char id[16];
    snprintf(id, sizeof id, "%c.%u_-", "aZ0"[up_to(2)], up_to(20));
    return show_text(show, id, strlen(id));
}

/* Fill what the table of keys says, each optional key half of the time. Lists of slots, words and objects come below. */
static void fill(struct show *show, const struct object *object, void *into)
{
    for (unsigned i = 0; i < object->count; i++) {
        const struct key *key = &object->keys[i];
        void *at = showfile__at(into, key->offset);
        if (!(key->flags & KEY_REQUIRED) && up_to(1))
            continue;
        double number = fmin(fmax(any_number(), key->least), key->most);
        switch (key->kind) {
        case VALUE_ID:                      *(const char **)at = any_id(show); break;
        case VALUE_TEXT: case VALUE_LINES:  *(const char **)at = any_text(show); break;
        case VALUE_INTEGER:                 *(int64_t *)at = (int64_t)number; break;
        case VALUE_NUMBER:                  *(double *)at = number; break;
        case VALUE_FLAG:                    *(bool *)at = true; break;
        case VALUE_POSITION:                *(struct position *)at = (struct position){ number, any_number(), any_number() }; break;
        case VALUE_AIR: case VALUE_INPUT:   *(unsigned *)at = 1 + up_to(1); break;
        case VALUE_HAZARD:                  *(unsigned *)at = 1 + up_to(4); break;
        case VALUE_AIRS:                    *(unsigned *)at = up_to(3) << 1; break;
        case VALUE_OBJECT:
            if (key->count)
                *(bool *)showfile__at(into, key->count) = true;
            fill(show, key->of, into);
            break;
        default:
            break;
        }
    }
    if (object->extras && up_to(3) == 0) {
        struct extras *extras = showfile__at(into, object->extras);
        extras->items = show_alloc(show, sizeof *extras->items);
        extras->count = 1;
        extras->items[0] = (struct extra){ show_text(show, "x_any", 5), show_text(show, "{ 1.0, -5, a = \"\\n\", [\"b c\"] = {} }", 35) };
    }
}

static struct slot *any_slots(struct show *show, uint32_t *count)
{
    static const char *const names[] = { "red", "green", "pan", "own-thing_1" };
    *count = up_to(4);
    struct slot *slots = show_alloc(show, (*count + 1) * sizeof *slots);
    for (uint32_t i = 0; i < *count; i++) {
        const char *name = names[up_to(3)];
        bool fine = up_to(3) == 0;
        slots[i] = (struct slot){ (uint16_t)show_param(show, name, strlen(name)), fine, fine || up_to(1) ? NAN : up_to(400) / 4.0 };
    }
    return slots;
}

static void ordered(struct band *band)
{
    if (band->from_mhz > band->to_mhz)
        band->to_mhz = band->from_mhz;
}

static void fill_type(struct show *show)
{
    struct type *type = show_add_type(show);
    showfile__clear(&showfile__type, type);
    fill(show, &showfile__type, type);
    type->mode_count = up_to(3);
    type->modes = show_alloc(show, (type->mode_count + 1) * sizeof *type->modes);
    for (uint32_t i = 0; i < type->mode_count; i++) {
        struct mode *mode = &type->modes[i];
        fill(show, &showfile__mode, mode);
        mode->head = any_slots(show, &mode->head_count);
        mode->slots = any_slots(show, &mode->slot_count);
        mode->tail = any_slots(show, &mode->tail_count);
    }
}

static void fill_transmitter(struct show *show)
{
    struct transmitter *transmitter = show_add_transmitter(show);
    showfile__clear(&showfile__transmitter, transmitter);
    fill(show, &showfile__transmitter, transmitter);
    transmitter->lane_count = up_to(4);
    transmitter->lanes = show_alloc(show, (transmitter->lane_count + 1) * sizeof *transmitter->lanes);
    for (uint32_t i = 0; i < transmitter->lane_count; i++)
        transmitter->lanes[i] = (struct lane){ up_to(9), (int64_t)up_to(70000) - 5 };
    transmitter->keep_out_count = up_to(2);
    transmitter->keep_out = show_alloc(show, (transmitter->keep_out_count + 1) * sizeof *transmitter->keep_out);
    for (uint32_t i = 0; i < transmitter->keep_out_count; i++) {
        fill(show, &showfile__keep_out, &transmitter->keep_out[i]);
        ordered(&transmitter->keep_out[i]);
    }
}

static void fill_fixture(struct show *show)
{
    struct fixture *fixture = show_add_fixture(show);
    showfile__clear(&showfile__fixture, fixture);
    fill(show, &showfile__fixture, fixture);
    fixture->tag_count = up_to(2);
    fixture->tags = show_alloc(show, (fixture->tag_count + 1) * sizeof *fixture->tags);
    for (uint32_t i = 0; i < fixture->tag_count; i++)
        fixture->tags[i] = any_text(show);
}

static struct show *any_show(void)
{
    struct show *show = show_new();
    fill(show, &showfile__show, show);
    for (uint32_t i = up_to(3); i > 0; i--) {
        struct band *quiet = show_add_quiet(show);
        fill(show, &showfile__quiet, quiet);
        ordered(quiet);
    }
    for (uint32_t i = up_to(3); i > 0; i--)
        fill_type(show);
    for (uint32_t i = up_to(3); i > 0; i--)
        fill_transmitter(show);
    for (uint32_t i = up_to(5); i > 0; i--)
        fill_fixture(show);
    return show;
}

/* What is written reads back to the same text. */
static void any_show_reads_back(void **state)
{
    (void)state;
    for (int i = 0; i < 2000; i++) {
        struct show *show = any_show();
        char *first = format(show);
        show_free(show);
        show = parse(first);
        char *second = format(show);
        assert_string_equal(first, second);
        free(second);
        free(first);
        show_free(show);
    }
}

static void a_show_that_could_not_be_read_back_is_not_written(void **state)
{
    (void)state;
    struct show *show = parse("return { rigcall = 1, name = '' }");
    struct rig_why why;
    char *text, *value = malloc(65537);
    size_t length;
    memset(value, '1', 65536);
    value[65536] = '\0';
    show->extras.count = 1024;
    show->extras.items = show_alloc(show, show->extras.count * sizeof *show->extras.items);
    for (uint32_t i = 0; i < show->extras.count; i++)
        show->extras.items[i] = (struct extra){ "x_a", value };
    assert_int_equal(showfile_format(show, &text, &length, &why), RIG_EINPUT);
    assert_null(text);
    /* The first two lines without their end 33, 1024 times ",\n  x_a = " and the value 65546, and ",\n}\n" 4. */
    assert_string_equal(why.text, "found a show of 67119141 octets, expected at most 67108864, which is what can be read");
    free(value);
    show_free(show);
}

/* ---- files ---- */

struct place { char *folder, path[200], kept[200]; struct rig_why why; };

static int set_up(void **state)
{
    struct place *place = calloc(1, sizeof *place);
    place->folder = program_folder_new();
    snprintf(place->path, sizeof place->path, "%s/a.show.lua", place->folder);
    snprintf(place->kept, sizeof place->kept, "%s/a.show.lua~", place->folder);
    *state = place;
    return 0;
}

static int tear_down(void **state)
{
    struct place *place = *state;
    program_folder_remove(place->folder);
    free(place);
    return 0;
}

static void expect_file(const char *path, const char *text)
{
    char *found = program_read(path);
    assert_non_null(found);
    assert_string_equal(found, text);
    free(found);
}

static mode_t mode_of(const char *path)
{
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    return about.st_mode & 07777;
}

static void saving_keeps_the_file_before(void **state)
{
    struct place *place = *state;
    struct show *show = parse("return { rigcall = 1, name = 'one' }");
    mode_t mask = umask(027);
    assert_int_equal(showfile_save(show, place->path, &place->why), 0);
    umask(mask);
    expect_file(place->path, "return {\n  rigcall = 1, name = \"one\",\n}\n");
    assert_int_equal(mode_of(place->path), 0640);
    assert_int_not_equal(access(place->kept, F_OK), 0);
    assert_int_equal(chmod(place->path, 0604), 0);
    show->name = show_text(show, "two", 3);
    assert_int_equal(showfile_save(show, place->path, &place->why), 0);
    show->name = show_text(show, "three", 5);
    assert_int_equal(showfile_save(show, place->path, &place->why), 0);
    expect_file(place->path, "return {\n  rigcall = 1, name = \"three\",\n}\n");
    expect_file(place->kept, "return {\n  rigcall = 1, name = \"two\",\n}\n");
    assert_int_equal(mode_of(place->path), 0604);
    show_free(show);
}

static void a_link_stays_a_link(void **state)
{
    struct place *place = *state;
    char link[250];
    struct stat about;
    snprintf(link, sizeof link, "%s/link", place->folder);
    free(program_file(place->folder, "a.show.lua", "old"));
    assert_int_equal(symlink("a.show.lua", link), 0);
    assert_int_equal(showfile_replace(link, "new", 3, true, &place->why), 0);
    assert_int_equal(lstat(link, &about), 0);
    assert_true(S_ISLNK(about.st_mode));
    expect_file(place->path, "new");
    expect_file(place->kept, "old");
}

static void where_it_cannot_be_written_nothing_changes(void **state)
{
    struct place *place = *state;
    char expected[500], missing[250];
    free(program_file(place->folder, "a.show.lua", "old"));
    assert_int_equal(mkdir(place->kept, 0700), 0);
    assert_int_equal(showfile_replace(place->path, "new", 3, true, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: cannot keep the old file as ~: Is a directory", place->path);
    assert_string_equal(place->why.text, expected);
    expect_file(place->path, "old");
    assert_int_equal(rmdir(place->kept), 0);
    assert_int_equal(showfile_replace(place->folder, "new", 3, true, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: found a folder, expected a file", place->folder);
    assert_string_equal(place->why.text, expected);
    snprintf(missing, sizeof missing, "%s/no/a.show.lua", place->folder);
    assert_int_equal(showfile_replace(missing, "new", 3, true, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: cannot write a new file beside it: No such file or directory", missing);
    assert_string_equal(place->why.text, expected);
    assert_int_equal(showfile_replace("/dev/null", "new", 3, true, &place->why), RIG_EIO);
    assert_string_equal(place->why.text, "/dev/null: found no regular file, expected a file");
}

static void what_is_no_file_is_not_read(void **state)
{
    struct place *place = *state;
    struct show *show;
    char expected[500];
    assert_int_equal(showfile_load(place->folder, &show, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: found a folder, expected a file", place->folder);
    assert_string_equal(place->why.text, expected);
    assert_int_equal(mkfifo(place->path, 0600), 0);
    assert_int_equal(showfile_load(place->path, &show, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: found no regular file, expected a file", place->path);
    assert_string_equal(place->why.text, expected);
    assert_int_equal(unlink(place->path), 0);
    assert_int_equal(showfile_load(place->path, &show, &place->why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: cannot open: No such file or directory", place->path);
    assert_string_equal(place->why.text, expected);
}

static void a_file_that_is_too_long_is_refused_by_its_size(void **state)
{
    struct place *place = *state;
    struct show *show;
    char expected[500], *text;
    size_t length;
    free(program_file(place->folder, "a.show.lua", "123456"));
    assert_int_equal(showfile_read(place->path, 6, &text, &length, &place->why), 0);
    free(text);
    assert_int_equal(showfile_read(place->path, 5, &text, &length, &place->why), RIG_EINPUT);
    assert_int_equal(truncate(place->path, 100 << 20), 0);
    assert_int_equal(showfile_load(place->path, &show, &place->why), RIG_EINPUT);
    snprintf(expected, sizeof expected, "%s: found more than 67108864 octets, expected at most that many", place->path);
    assert_string_equal(place->why.text, expected);
}

/* ---- the rest ---- */

static void comments_are_found(void **state)
{
    (void)state;
    static const struct { const char *text; bool comments; } cases[] = {
        { "return { }", false }, { "return { -- a\n}", true }, { "--[[ a ]] return {}", true }, { "return { a = '--' }", false },
        { "return { a = [[\n--\n]] } ", false }, { "return {} -- a", true }, { "return { a = '\\'--' }", false }, { "return { a = 1 - - 1 }", false },
        { "\xef\xbb\xbf-- a\nreturn {}", true }, { "", false }, { "'", false }, { "--", true },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(showfile_has_comments(cases[i].text, strlen(cases[i].text)), cases[i].comments);
}

static void expect_unsound(const char *text, const char *message)
{
    struct show *show = parse(text);
    struct rig_why why = { 0 };
    int err = showfile_require_sound(show, "a.show.lua", &why);
    assert_int_equal(err, message ? RIG_EINPUT : 0);
    if (message)
        assert_string_equal(why.text, message);
    show_free(show);
}

static void only_a_sound_show_may_drive_a_rig(void **state)
{
    (void)state;
#define TYPE "types = { { id = 't', modes = { { id = 'm', slots = {} } } } }, "
    expect_unsound("return { rigcall = 1, name = 'n', " TYPE "fixtures = { { id = 1, type = 't', mode = 'm', site = 's', address = 600 } } }", NULL);
    expect_unsound("return { rigcall = 1, name = 'n', fixtures = { { id = 1, type = 't\\u{202e}', mode = 'm', site = 's' } } }",
                   "a.show.lua: fixture 1: found type \"t\xe2\x80\xae\", expected a type of the show (rule type-known)");
    expect_unsound("return { rigcall = 1, name = 'n', " TYPE "fixtures = { { id = 1, type = 't', mode = 'x', site = 's' } } }",
                   "a.show.lua: fixture 1: found mode \"x\", expected a mode of type t (rule type-known)");
    expect_unsound("return { rigcall = 1, name = 'n', " TYPE "fixtures = { { id = 1, type = 't', mode = 'm', site = 's' }, { id = 1, type = 't', mode = 'm', site = 's' } } }",
                   "a.show.lua: fixture 1 shares its id with another fixture, expected each id once (rule ids-unique)");
    expect_unsound("return { rigcall = 1, name = 'n', sites = { { id = 's' }, { id = 's', name = 'S' } } }",
                   "a.show.lua: site s S shares its id with another site, expected each id once (rule ids-unique)");
    expect_unsound("return { rigcall = 1, name = 'n', universes = { { id = 5 }, { id = 5 } } }",
                   "a.show.lua: universe 5 shares its id with another universe, expected each id once (rule ids-unique)");
    expect_unsound("return { rigcall = 1, name = 'n', types = { { id = 't', modes = { { id = 'm', slots = {} }, { id = 'm', slots = {} } } } } }",
                   "a.show.lua: type t has two modes m, expected each id once (rule ids-unique)");
    expect_unsound("return { rigcall = 1, name = 'n', types = { { id = 't', modes = {} }, { id = 't', modes = {} } } }",
                   "a.show.lua: type t shares its id with another type, expected each id once (rule ids-unique)");
    expect_unsound("return { rigcall = 1, name = 'n', transmitters = { { id = 'T', site = 's', radios = 1, airs = {}, air = 'dual' },"
                   " { id = 'T', site = 's', radios = 1, airs = {}, air = 'dual' } } }",
                   "a.show.lua: transmitter T shares its id with another transmitter, expected each id once (rule ids-unique)");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_are_written_in_order_and_only_when_given),
        cmocka_unit_test(spellings_become_one),
        cmocka_unit_test(numbers_are_short_and_read_back),
        cmocka_unit_test(any_number_reads_back),
        cmocka_unit_test(a_decimal_comma_changes_nothing),
        cmocka_unit_test(any_show_reads_back),
        cmocka_unit_test(a_show_that_could_not_be_read_back_is_not_written),
        cmocka_unit_test_setup_teardown(saving_keeps_the_file_before, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_link_stays_a_link, set_up, tear_down),
        cmocka_unit_test_setup_teardown(where_it_cannot_be_written_nothing_changes, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_no_file_is_not_read, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_file_that_is_too_long_is_refused_by_its_size, set_up, tear_down),
        cmocka_unit_test(comments_are_found),
        cmocka_unit_test(only_a_sound_show_may_drive_a_rig),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
