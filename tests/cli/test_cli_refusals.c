/* Contradictory shows: what patch, swap and move say of them, word by word, with what status, and that nothing is written. Each row
 * is one small show with one thing wrong. The rule that is named is the one that judges the cause; where the file as it is has that
 * finding already, `check` is asked, too. */
#include "plan_test.h"

#define SHOW_OF(transmitters, universes, fixtures) \
    "return { rigcall = 1, name = \"Wrong\", sites = { { id = \"quay\" }, { id = \"barge\" }, { id = \"empty\" } },\n" \
    "  types = { { id = \"tile\", airs = { \"single\", \"dual\" }, firmware_floor = { single = \"2.0\", dual = \"2.0\" },\n" \
    "      modes = { { id = \"m\", head = {}, cells = 32, slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } },\n" \
    "    { id = \"wall\", airs = { \"dual\" }, modes = { { id = \"m\", head = {}, cells = 513, slots = { \"red\" }, tail = {} } } },\n" \
    "    { id = \"old\", airs = { \"single\" }, modes = { { id = \"m\", head = {}, cells = 1, slots = { \"red\" }, tail = {} } } } },\n" \
    "  transmitters = { " transmitters " },\n  universes = { " universes " },\n  fixtures = { " fixtures " } }\n"
#define TX(id, site, rest) "{ id = \"" id "\", site = \"" site "\", radios = 1, airs = { \"dual\" }, air = \"dual\", " rest " },\n"
#define T1(rest) TX("T1", "quay", "code = \"40718263\", " rest)
#define LANE1 "lanes = { { lane = 1, universe = 1 } }"
#define NEW_SPARE TX("T9", "quay", "spare = true, lanes = {}")
#define ON_LANE(id, lane) \
    "{ id = " id ", type = \"tile\", mode = \"m\", site = \"quay\", universe = 1, address = " id ", code = \"40718263\", air = \"dual\", lane = " lane " },\n"
#define LOOSE(type) "{ id = 1, type = \"" type "\", mode = \"m\", site = \"quay\" },\n"
#define U1 "{ id = 1, label = \"One\" }"
#define KEEP(from, to) "keep_out = { { from = " from ", to = " to " } }"

#define SWAP "swap", "--out", "T1"
#define MOVE "move", "--from", "quay", "--to", "barge"
#define PATCH "patch", "--order", "id"

/* err: on standard error, after "rigcall: PATH: "; out: a line of the text. rule: what JSON says, for a patch of the first dark one. */
static const struct row { const char *what, *show, *command[6]; int status; const char *err, *out, *rule; } rows[] = {
    /* ---- files that no command plans with ---- */
    { "two transmitters share an id", SHOW_OF(T1(LANE1) T1("lanes = {}"), U1, ON_LANE("1", "1")), { SWAP }, 3,
      "transmitter T1 shares its id with another transmitter, expected each id once (rule ids-unique)\n", NULL, NULL },
    { "two fixtures share an id", SHOW_OF(T1(LANE1), U1, ON_LANE("1", "1") ON_LANE("1", "1")), { PATCH }, 3,
      "fixture 1 shares its id with another fixture, expected each id once (rule ids-unique)\n", NULL, NULL },
    { "a fixture of unknown type", SHOW_OF(T1(LANE1), U1, LOOSE("lamp")), { PATCH }, 3,
      "fixture 1: found type \"lamp\", expected a type of the show (rule type-known)\n", NULL, NULL },
    { "a fixture of unknown type is lost", SHOW_OF(T1(LANE1), U1, LOOSE("lamp")), { SWAP }, 3,
      "fixture 1: found type \"lamp\", expected a type of the show (rule type-known)\n", NULL, NULL },
    { "a fixture of unknown type moves", SHOW_OF(T1(LANE1), U1, LOOSE("lamp")), { MOVE }, 3,
      "fixture 1: found type \"lamp\", expected a type of the show (rule type-known)\n", NULL, NULL },

    /* ---- swap ---- */
    { "lanes and no code", SHOW_OF(TX("T1", "quay", LANE1), U1, ON_LANE("1", "1")), { SWAP }, 1, NULL,
      "Refused: transmitter T1 has lanes but no join code, so no fixture lands on it: give it the code of its fixtures first "
      "(rule landing names it)\n", "landing" },
    { "a lane above the radios", SHOW_OF(T1("lanes = { { lane = 3, universe = 1 } }"), U1, ON_LANE("1", "3")), { SWAP }, 1, NULL,
      "Refused: transmitter T1 has no lane 3, and no fixture lands on it: put its lanes right first (rule lane-exists names it)\n",
      "lane-exists" },
    { "lane 0", SHOW_OF(T1("lanes = { { lane = 0, universe = 1 } }"), U1, ON_LANE("1", "0")), { SWAP }, 1, NULL,
      "Refused: transmitter T1 has no lane 0, and no fixture lands on it: put its lanes right first (rule lane-exists names it)\n",
      "lane-exists" },
    { "a lane with two universes", SHOW_OF(T1("lanes = { { lane = 1, universe = 1 }, { lane = 1, universe = 2 } }"), U1 ", { id = 2 }", ON_LANE("1", "1")),
      { SWAP }, 1, NULL, "Refused: lane 1 of transmitter T1 is given universes 1 and 2, and no fixture lands on it: take one off first "
      "(rule lane-shared names it)\n", "lane-shared" },
    { "a code of seven digits", SHOW_OF(TX("T1", "quay", "code = \"4071826\", " LANE1) NEW_SPARE, U1, ON_LANE("1", "1")), { SWAP }, 1, NULL,
      "Refused: transmitter T1 has join code \"4071826\", expected eight digits: put it right first (rule code-form names it)\n", "code-form" },
    { "a spare out of reach of everything", SHOW_OF(T1(LANE1) TX("T9", "barge", "spare = true, lanes = {}"), U1, ON_LANE("1", "1")),
      { SWAP }, 1, NULL, "Refused: spare T9 reaches no fixture of the show, and no other transmitter that may change reaches a lost one: "
      "put site, position or reach of T9 right first (rule in-reach names it)\n", "in-reach" },

    /* ---- swap: no contradiction, but nothing can be lit ---- */
    { "nothing else is there", SHOW_OF(T1(LANE1), U1, ON_LANE("1", "1")), { SWAP }, 1, NULL,
      "     fixture 1: no transmitter that may change reaches it (rule in-reach)\n", "in-reach" },
    { "only another air mode", SHOW_OF("{ id = \"T1\", site = \"quay\", radios = 1, airs = { \"single\" }, air = \"single\", code = \"40718263\", " LANE1 " },\n"
                                       NEW_SPARE, U1, "{ id = 1, type = \"old\", mode = \"m\", site = \"quay\", universe = 1, address = 1, "
                                       "code = \"40718263\", air = \"single\", lane = 1 }"), { SWAP }, 1, NULL,
      "     fixture 1: no transmitter in reach has an air mode that it takes (rule air-supported)\n", "air-supported" },
    { "the spare cannot keep the band", SHOW_OF(T1(LANE1) TX("T9", "quay", "spare = true, lanes = {}, " KEEP("2402", "2470")), U1, ON_LANE("1", "1")),
      { SWAP }, 1, NULL, "     fixture 1: the transmitters in reach would keep fewer than 15 hop channels beside the quiet bands "
      "(rule hop-count)\n", "hop-count" },
    { "no lane is left", SHOW_OF(T1(LANE1) TX("T2", "quay", "code = \"51829304\", lanes = { { lane = 1, universe = 2 }, { lane = 2, universe = 3 } }"),
                                 U1 ", { id = 2 }, { id = 3 }", ON_LANE("1", "1")), { SWAP }, 1, NULL,
      "     fixture 1: no lane that could serve it is left for universe 1 (rule universe-carried)\n", "universe-carried" },

    /* ---- move ---- */
    { "nothing stands there", SHOW_OF(T1(LANE1), U1, ON_LANE("1", "1")), { "move", "--from", "empty", "--to", "quay" }, 1, NULL,
      "Refused: no fixture stands at site empty\n", NULL },
    { "two with one code come together", SHOW_OF(T1("pos = { 0, 0, 0 }, reach = 50, " LANE1) TX("T4", "barge", "pos = { 30, 0, 0 }, reach = 50, "
                                                 "code = \"40718263\", lanes = {}"), U1, ON_LANE("1", "1")), { MOVE }, 1, NULL,
      "Refused: transmitters T1 and T4 have one join code, 40718263, that fixture 1 is keyed to, and are within reach of each other: give one "
      "of them another code first (rule code-clash names it)\n", "code-clash" },
    { "nothing at the other site", SHOW_OF(T1(LANE1), U1, ON_LANE("1", "1")), { MOVE }, 1, NULL,
      "Refused: no fixture can be lit at site barge (rule in-reach names it)\n", "in-reach" },
    { "no lane is left there", SHOW_OF(T1(LANE1) TX("T2", "barge", "code = \"51829304\", lanes = { { lane = 1, universe = 2 }, { lane = 2, universe = 3 } }"),
                                       U1 ", { id = 2 }, { id = 3 }", ON_LANE("1", "1")), { MOVE }, 1, NULL,
      "Refused: no fixture can be lit at site barge (rule landing names it)\n", "landing" },

    /* ---- patch ---- */
    { "more than a universe", SHOW_OF(T1("lanes = {}"), "", LOOSE("wall")), { PATCH }, 1, NULL,
      "     fixture 1: it takes more than the 512 slots of a universe (rule address-fits)\n", "address-fits" },
    { "firmware below every floor", SHOW_OF(T1("lanes = {}"), "", "{ id = 1, type = \"tile\", mode = \"m\", site = \"quay\", firmware = \"1.9\" }"),
      { PATCH }, 1, NULL, "     fixture 1: its firmware is below what its type needs for every air mode (rule firmware-floor)\n", "firmware-floor" },
    { "no transmitter at the site", SHOW_OF(TX("T3", "barge", "lanes = {}"), "", LOOSE("tile")), { PATCH }, 1, NULL,
      "     fixture 1: no transmitter is in reach of it (spares do not count) (rule in-reach)\n", "in-reach" },
    { "too far", SHOW_OF(TX("T1", "quay", "pos = { 40, 0, 0 }, reach = 30, lanes = {}"), "",
                         "{ id = 1, type = \"tile\", mode = \"m\", site = \"quay\", pos = { 0, 0, 0 } }"), { PATCH }, 1, NULL,
      "     fixture 1 at 0 0 0 m: no transmitter is in reach of it: transmitter T1 is 40.0 m away, its reach is 30 m (rule in-reach)\n", "in-reach" },
    { "another air mode", SHOW_OF(T1("lanes = {}"), "", LOOSE("old")), { PATCH }, 1, NULL,
      "     fixture 1: no transmitter in reach of it can take an air mode that it has (rule air-supported)\n", "air-supported" },
    { "a code that is none", SHOW_OF(TX("T1", "quay", "code = \"4071826x\", lanes = {}"), "", LOOSE("tile")), { PATCH }, 1, NULL,
      "     fixture 1: transmitter T1 has a join code that is not eight digits (rule code-form)\n", "code-form" },
    { "too few hop channels", SHOW_OF(T1("lanes = {}, " KEEP("2402", "2466")), "", LOOSE("tile")), { PATCH }, 1, NULL,
      "     fixture 1: transmitter T1 would keep 14 hop channels, 15 are needed (rule hop-count)\n", "hop-count" },
    { "one code on two", SHOW_OF(T1("lanes = {}") TX("T2", "quay", "code = \"40718263\", lanes = {}"), "", LOOSE("tile")), { PATCH }, 1, NULL,
      "     fixture 1: two transmitters in reach of it have one join code: it would land on both (rule landing)\n", "landing" },
    { "no lane is left to patch on", SHOW_OF(T1("lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 1 } }"), U1, LOOSE("tile")), { PATCH }, 1, NULL,
      "     fixture 1: no lane is left on a transmitter in reach of it (T1) (rule lane-exists)\n", "lane-exists" },
};
#define ROWS (sizeof rows / sizeof *rows)

static struct program_result run(const struct row *row, const char *path, const char *a, const char *b, const char *c)
{
    const char *words[16] = { RIGCALL_PROGRAM, row->command[0], path };
    size_t count = 3;
    for (size_t i = 1; i < 6 && row->command[i]; i++)
        words[count++] = row->command[i];
    words[count++] = a;
    words[count++] = b;
    words[count] = c;
    return program_run(words);
}

static void check_text(const struct row *row, const char *path)
{
    struct program_result text = run(row, path, "--write", NULL, NULL);
    char *err = row->err ? text_of("rigcall: %s: %s", path, row->err) : strdup("");
    if (text.status != row->status || strcmp(text.err, err) || (row->out && !strstr(text.out, row->out)) || (row->err && *text.out))
        fail_msg("%s: status %d\nout: %s\nerr: %s", row->what, text.status, text.out, text.err);
    free(err);
    program_result_fini(&text);
}

static void check_json(const struct row *row, const char *path)
{
    json_t *plan = json_from(run(row, path, "--write", "--format", "json"), row->status), *refused = json_object_get(plan, "refused");
    json_t *first = json_array_get(json_object_get(plan, "why_dark"), 0);
    const char *rule = json_string_value(json_object_get(refused ? plan : first, "rule"));
    if (!rule != !row->rule || (rule && strcmp(rule, row->rule)))
        fail_msg("%s: rule %s", row->what, rule ? rule : "missing");
    assert_int_equal(number_in(plan, "touches"), 0);
    assert_int_equal(number_in(plan, "settings"), 0);
    assert_true(!refused || json_array_size(json_object_get(plan, "steps")) == 0);
    assert_true(json_is_false(json_object_get(plan, "written")));
    json_decref(plan);
}

static void each_is_told_by_its_rule_and_nothing_is_written(void **state)
{
    const struct place *place = *state;
    for (size_t i = 0; i < ROWS; i++) {
        char *path = program_file(place->folder, "wrong.show.lua", rows[i].show), *kept = text_of("%s~", path);
        check_text(&rows[i], path);
        if (rows[i].status == 1)
            check_json(&rows[i], path);
        assert_file(path, rows[i].show);
        assert_int_not_equal(access(kept, F_OK), 0);
        free(kept);
        free(path);
    }
}

/* The rules that can see the trouble in the file as it is do see it. */
static void check_names_the_same_rule(void **state)
{
    static const char *const seen[] = { "lanes and no code", "a lane above the radios", "lane 0", "a lane with two universes",
                                        "a code of seven digits", "two with one code come together", "a code that is none" };
    const struct place *place = *state;
    for (size_t s = 0; s < sizeof seen / sizeof *seen; s++)
        for (size_t i = 0; i < ROWS; i++) {
            if (strcmp(rows[i].what, seen[s]))
                continue;
            char *path = program_file(place->folder, "wrong.show.lua", rows[i].show);
            json_t *found = json_from(RUN("check", path, "--only", rows[i].rule, "--format", "json"), 1);
            assert_true(number_in(json_object_get(found, "counts"), "fail") > 0);
            json_decref(found);
            free(path);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(each_is_told_by_its_rule_and_nothing_is_written),
        PLACE_TEST(check_names_the_same_rule),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
