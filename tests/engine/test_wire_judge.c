/* What is said of a wire whose packets and times are written by hand. Expected: the words of rigcall/listen.h; limits from ANSI
 * E1.31-2018 6.2.3 (priority), 6.6.1 (rate), 6.6.2 (keep-alive), 6.7.1 (loss), and ANSI E1.11 timing (92 + 12 + 44 us a slot). */
#include "rig.h"
#include "rigcall/listen.h"

struct wire { struct sacn_table *table; int64_t now_ns; struct show *show; uint16_t only[2]; size_t only_count; struct wire_faults faults; };
struct desk { struct sacn_source source; union sacn_address from; uint8_t priority, sequence; };

static int setup(void **state)
{
    struct wire *wire = calloc(1, sizeof *wire);
    struct rig_why why;
    assert_int_equal(sacn_table_new(NULL, &wire->table, &why), 0);
    wire->now_ns = SECOND;
    *state = wire;
    return 0;
}

static int teardown(void **state)
{
    struct wire *wire = *state;
    wire_faults_free(&wire->faults);
    sacn_table_free(wire->table);
    show_free(wire->show);
    free(wire);
    return 0;
}

static struct desk desk_of(const char *name, const char *address, uint8_t priority)
{
    struct desk desk = { .priority = priority };
    uint8_t cid[16] = { 0 };
    assert_true(sacn_address_parse(address, SACN_PORT, &desk.from));
    memcpy(cid, &desk.from.v4.sin_addr, 4);
    sacn_source_init(&desk.source, cid, name);
    return desk;
}

static void send_one(struct wire *wire, struct desk *desk, uint16_t universe, bool terminated)
{
    uint8_t packet[SACN_DATA_SIZE];
    sacn_data_init(packet, &desk->source, universe, desk->priority);
    sacn_data_set_sequence(packet, desk->sequence++);
    sacn_data_set_terminated(packet, terminated);
    assert_int_equal(sacn_table_take(wire->table, wire->now_ns, packet, sizeof packet, &desk->from), SACN_ACCEPT);
}

/* Both desks (the second may be NULL) send every `step` for a time. */
static void send_for(struct wire *wire, struct desk *first, struct desk *second, uint16_t universe, double seconds, double step)
{
    for (int i = 0; i < (int)(seconds / step + 0.5); i++) {
        wire->now_ns += (int64_t)(step * 1e9);
        send_one(wire, first, universe, false);
        if (second)
            send_one(wire, second, universe, false);
    }
}

static void judge_after(struct wire *wire, double seconds)
{
    struct rig_why why;
    struct wire_show *expected;
    wire_faults_free(&wire->faults);
    sacn_table_advance(wire->table, wire->now_ns);
    assert_int_equal(wire_show_new(wire->show, wire->only_count ? wire->only : NULL, wire->only_count, &expected, &why), 0);
    assert_int_equal(wire_judge(wire->table, expected, wire->now_ns, seconds, &wire->faults, &why), 0);
    free(expected);
}

static void judge(struct wire *wire)
{
    judge_after(wire, (double)(wire->now_ns - SECOND) / 1e9);
}

static void assert_fault(const struct wire *wire, size_t at, enum wire_fault_kind kind, enum severity severity, const char *text)
{
    assert_true(at < wire->faults.count);
    const struct wire_fault *fault = &wire->faults.items[at];
    assert_string_equal(fault->text, text);
    assert_int_equal(fault->kind, kind);
    assert_int_equal(fault->severity, severity);
}

/* A show with one fixture on universe 7 and none on universe 8. */
static void make_show(struct wire *wire, int64_t wire_number)
{
    struct rig rig;
    rig_init(&rig);
    rig_universe(&rig, 7, wire_number, SHOW_NONE);
    rig_universe(&rig, 8, SHOW_NONE, SHOW_NONE);
    rig_fixture(&rig, 1, "lamp", NULL, 7, 1);
    assert_int_equal(show_index(rig.show), 0);
    wire->show = rig.show;
}

static void a_clean_wire_has_no_fault(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    make_show(wire, 7);
    send_for(wire, &desk, NULL, 7, 4, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 0);
}

static void a_universe_with_fixtures_that_nobody_sends_is_silent_after_two_and_a_half_seconds(void **state)
{
    struct wire *wire = *state;
    make_show(wire, 307);
    wire->now_ns += SECOND * 24 / 10;
    judge(wire);
    assert_int_equal(wire->faults.count, 0);
    wire->now_ns += SECOND / 5;
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_int_equal(wire->faults.of[SEVERITY_FAIL], 1);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL, "universe 7 (wire number 307): nobody sends it");
}

static void two_of_the_highest_priority_are_rivals_and_a_lower_one_is_not(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100), backup = desk_of("Backup", "10.0.0.2", 90);
    send_for(wire, &desk, &backup, 5, 3, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 0);
    backup.priority = 100;
    send_for(wire, &desk, &backup, 5, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_RIVAL, SEVERITY_FAIL,
                 "universe 5: 2 sources send it at priority 100: \"Desk\" at 10.0.0.1, \"Backup\" at 10.0.0.2");
}

static void what_the_show_does_not_know_is_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100), other = desk_of("Other", "10.0.0.3", 100);
    make_show(wire, 7);
    for (int i = 0; i < 120; i++) {
        wire->now_ns += SECOND / 40;
        send_one(wire, &desk, 7, false);
        send_one(wire, &other, 9, false);
    }
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_UNKNOWN, SEVERITY_WARN,
                 "universe 9: source \"Other\" at 10.0.0.3 sends it, but the show does not "
                 "know it");
}

static void a_source_that_stops_is_lost_and_one_that_says_so_is_not(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 3, 0.025);
    wire->now_ns += 3 * SECOND;
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_LOST, SEVERITY_WARN, "universe 5: source \"Desk\" at 10.0.0.1 stopped 3.0 s ago without saying so");

    struct desk tidy = desk_of("Tidy", "10.0.0.2", 100);
    send_for(wire, &tidy, NULL, 6, 1, 0.025);
    send_one(wire, &tidy, 6, true);
    wire->now_ns += 3 * SECOND;
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
}

static void a_rate_above_what_dmx512_carries_is_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 3, 1.0 / 44);
    judge(wire);
    assert_int_equal(wire->faults.count, 0);
    send_for(wire, &desk, NULL, 5, 3, 0.01);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_RATE, SEVERITY_WARN,
                 "universe 5: source \"Desk\" at 10.0.0.1 sends 100.0 packets a second, 512 slots allow 44.1");
}

static void a_gap_longer_than_the_keep_alive_is_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 4, 1);
    judge(wire);
    assert_int_equal(wire->faults.count, 0);
    send_for(wire, &desk, NULL, 5, 1.8, 1.8);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_GAP, SEVERITY_WARN, "universe 5: source \"Desk\" at 10.0.0.1 once sent nothing for 1.8 s, unchanged "
                 "levels are to be repeated within 1 s");
}

static void missing_numbers_are_counted(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    desk.sequence += 4;
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    desk.sequence--;                             /* the same number once more */
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    /* 120 sent, of which one is thrown away: 119 taken and 4 missing. */
    assert_fault(wire, 0, WIRE_MISSING, SEVERITY_WARN, "universe 5: source \"Desk\" at 10.0.0.1: of 123 packets 4 are missing, 0 late, 1 twice");
}

static void names_that_do_not_tell_sources_apart_are_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100), same = desk_of("Desk", "10.0.0.2", 90), none = desk_of("", "10.0.0.3", 90);
    send_for(wire, &desk, &same, 5, 1, 0.025);
    send_for(wire, &none, NULL, 6, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 2);
    assert_fault(wire, 0, WIRE_NAME, SEVERITY_WARN, "universe 5: sources at 10.0.0.1 and 10.0.0.2 both call themselves \"Desk\"");
    assert_fault(wire, 1, WIRE_NAME, SEVERITY_WARN, "universe 6: the source at 10.0.0.3 gives no name");
}

/* A unicast packet reaches one host: who listens elsewhere cannot say that nobody sends it. */
static void what_goes_by_unicast_is_noted(void **state)
{
    struct wire *wire = *state;
    make_show(wire, 7);
    struct transmitter *transmitter = show_add_transmitter(wire->show);
    transmitter->id = "T1";
    transmitter->host = "10.0.0.20";
    transmitter->input = INPUT_UNICAST;
    transmitter->lanes = show_alloc(wire->show, sizeof *transmitter->lanes);
    transmitter->lanes[0] = (struct lane){ .lane = 1, .universe = 7 };
    transmitter->lane_count = 1;
    assert_int_equal(show_index(wire->show), 0);
    judge_after(wire, 3);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_NOTE,
                 "universe 7: it is not heard; transmitter T1 takes it by unicast at 10.0.0.20, which no other host hears");
    transmitter->spare = true;
    judge_after(wire, 3);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL, "universe 7: nobody sends it");
}

/* A source that gives no level: what a person would ask about it. */
static void preview_data_and_an_end_in_order_are_told_apart_from_silence(void **state)
{
    struct wire *wire = *state;
    uint8_t packet[SACN_DATA_SIZE];
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    make_show(wire, 7);
    send_for(wire, &desk, NULL, 7, 2.5, 0.025);
    send_one(wire, &desk, 7, true);
    wire->now_ns += SECOND;
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL, "universe 7: nobody sends it any more; source \"Desk\" at 10.0.0.1 ended it 1.0 s ago");

    struct desk other = desk_of("Planner", "10.0.0.2", 100);
    sacn_data_init(packet, &other.source, 7, 100);
    packet[112] = 0x80;                          /* Preview_Data, Table 4-1 and 6.2.6 */
    sacn_table_take(wire->table, wire->now_ns, packet, sizeof packet, &other.from);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL,
                 "universe 7: nobody sends it; source \"Planner\" at 10.0.0.2 sends preview data only, which is not put out");

    struct desk third = desk_of("Gauge", "10.0.0.0", 101);
    sacn_data_init(packet, &third.source, 7, 101);
    packet[125] = 0xdd;                          /* a START code that carries no levels, Table 4-1 */
    sacn_table_take(wire->table, wire->now_ns, packet, sizeof packet, &third.from);
    judge(wire);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL,
                 "universe 7: nobody sends it; source \"Gauge\" at 10.0.0.0 sends no levels (START code 0)");
}

static void a_source_that_came_back_and_one_that_began_anew_are_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    wire->now_ns += 4 * SECOND;
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_LOST, SEVERITY_WARN, "universe 5: source \"Desk\" at 10.0.0.1 sent nothing for 2.5 s or more once, and came back");
    desk.sequence -= 60;                         /* 20 or more back: accepted as new, 6.7.2 */
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 2);
    assert_fault(wire, 1, WIRE_MISSING, SEVERITY_WARN, "universe 5: source \"Desk\" at 10.0.0.1 began its sequence numbers anew once");
}

static void one_cid_at_two_addresses_is_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 1, 0.025);
    for (int i = 0; i < 4; i++) {
        sacn_address_parse(i % 2 ? "10.0.0.1" : "10.0.0.9", SACN_PORT, &desk.from);
        send_for(wire, &desk, NULL, 5, 0.025, 0.025);
    }
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_NAME, SEVERITY_WARN,
                 "universe 5: source \"Desk\", at 10.0.0.1 now, changed its address 4 times: two machines with one CID look like that");
}

/* 6.2.3: the higher priority wins. The show gives 100, the default. */
static void another_priority_than_the_shows_is_noted(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 120);
    make_show(wire, 7);
    send_for(wire, &desk, NULL, 7, 3, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_PRIORITY, SEVERITY_NOTE,
                 "universe 7: it is sent at priority 120, above the 100 of the show: a live run would not be seen");
    desk.priority = 1;
    send_for(wire, &desk, NULL, 7, 1, 0.025);
    judge(wire);
    assert_fault(wire, 0, WIRE_PRIORITY, SEVERITY_NOTE,
                 "universe 7: it is sent at priority 1, below the 100 of the show: a live run would take it over");
}

/* Of what was not listened to nobody can say that it is silent. */
static void only_what_was_listened_to_is_judged(void **state)
{
    struct wire *wire = *state;
    make_show(wire, 7);
    wire->only[0] = 8;
    wire->only_count = 1;
    judge_after(wire, 3);
    assert_int_equal(wire->faults.count, 0);
    wire->only[0] = 7;
    judge_after(wire, 3);
    assert_int_equal(wire->faults.count, 1);
}

static void a_wire_number_that_e1_31_does_not_have_is_a_fail_at_once(void **state)
{
    struct wire *wire = *state;
    make_show(wire, 64000);
    judge_after(wire, 0.1);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL, "universe 7 (wire number 64000): nobody can send it: wire numbers are 1 to 63999");
    assert_true(wire->faults.items[0].universe == 64000);
}

/* Every universe of E1.31 with a fixture, and more: 10,000 are kept, all are counted. */
static void more_faults_than_are_kept_are_counted(void **state)
{
    struct wire *wire = *state;
    struct rig rig;
    rig_init(&rig);
    for (int i = 1; i <= 63999; i++) {
        rig_universe(&rig, i, SHOW_NONE, SHOW_NONE);
        struct fixture *fixture = show_add_fixture(rig.show);
        fixture->id = fixture->universe = i;
        fixture->address = 1;
    }
    assert_int_equal(show_index(rig.show), 0);
    wire->show = rig.show;
    judge_after(wire, 3);
    assert_int_equal(wire->faults.count, WIRE_FAULTS);
    assert_int_equal(wire->faults.of[SEVERITY_FAIL], 63999);
    assert_int_equal(wire->faults.of[SEVERITY_WARN], 0);
}

/* A text may be cut, but never inside a character, and holds no control characters: else it is no JSON and no line. */
static void a_label_of_any_length_gives_a_text_of_whole_characters(void **state)
{
    struct wire *wire = *state;
    char label[1001] = "", wanted[600] = "universe 7 ?[2J?";
    strcpy(label, "\033[2J\n");
    for (int i = 5; i + 3 < 1000; i += 3)
        memcpy(label + i, "\xe2\x82\xac", 4);    /* U+20AC, three octets */
    make_show(wire, 7);
    wire->show->universes[0].label = show_text(wire->show, label, strlen(label));
    /* 160 octets are kept of the name: 16 before the signs, and 48 whole signs. */
    for (int i = 0; i < 48; i++)
        strcat(wanted, "\xe2\x82\xac");
    strcat(wanted, ": nobody sends it");
    judge_after(wire, 3);
    assert_fault(wire, 0, WIRE_SILENT, SEVERITY_FAIL, wanted);
}

/* Table 4-3; 8: what a source says it sends. */
static void what_is_only_announced_and_strange_is_noted(void **state)
{
    struct wire *wire = *state;
    uint8_t packet[SACN_DISCOVERY_SIZE];
    const uint16_t universes[] = { 7, 9, 20, 21, 22 };
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    make_show(wire, 7);
    send_for(wire, &desk, NULL, 7, 3, 0.025);
    size_t size = sacn_discovery_page(packet, &desk.source, universes, 5, 0);
    assert_int_equal(sacn_table_take(wire->table, wire->now_ns, packet, size, &desk.from), SACN_ACCEPT);
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_ANNOUNCED, SEVERITY_NOTE,
                 "source \"Desk\" at 10.0.0.1 announces 4 universes that the show does not know and nobody sends: 9, 20-22");
    assert_true(wire->faults.items[0].universe == SHOW_NONE);
}

static void ranges_are_cut_after_a_whole_part(void **state)
{
    (void)state;
    char text[WIRE_RANGES_TEXT];
    static bool set[64000];
    memset(set, 0, sizeof set);
    wire_ranges(set, 64000, text);
    assert_string_equal(text, "");
    set[1] = set[3] = set[4] = set[63999] = true;
    wire_ranges(set, 64000, text);
    assert_string_equal(text, "1, 3-4, 63999");
    for (int i = 10000; i < 64000; i += 2)
        set[i] = true;
    wire_ranges(set, 64000, text);
    assert_true(strlen(text) < WIRE_RANGES_TEXT);
    assert_true(strlen(text) > WIRE_RANGES_TEXT - 16);
    assert_memory_equal(text, "1, 3-4, 10000, 10002, ", 22);
    assert_string_equal(text + strlen(text) - 5, ", ...");
}

static void the_refresh_limit_is_that_of_e1_11(void **state)
{
    (void)state;
    /* dmx512 timing: 22,676 us at 512 slots, 11,412 at 256, 1,204 at 24 and fewer. */
    assert_true(fabs(wire_rate_most(512) - 44.099) < 0.001);
    assert_true(fabs(wire_rate_most(256) - 87.627) < 0.001);
    assert_true(fabs(wire_rate_most(24) - 830.565) < 0.001);
    assert_true(fabs(wire_rate_most(0) - 830.565) < 0.001);
}

#define WIRE_TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WIRE_TEST(a_clean_wire_has_no_fault),
        WIRE_TEST(a_universe_with_fixtures_that_nobody_sends_is_silent_after_two_and_a_half_seconds),
        WIRE_TEST(two_of_the_highest_priority_are_rivals_and_a_lower_one_is_not),
        WIRE_TEST(what_the_show_does_not_know_is_said),
        WIRE_TEST(a_source_that_stops_is_lost_and_one_that_says_so_is_not),
        WIRE_TEST(a_rate_above_what_dmx512_carries_is_said),
        WIRE_TEST(a_gap_longer_than_the_keep_alive_is_said),
        WIRE_TEST(missing_numbers_are_counted),
        WIRE_TEST(names_that_do_not_tell_sources_apart_are_said),
        WIRE_TEST(what_goes_by_unicast_is_noted),
        WIRE_TEST(preview_data_and_an_end_in_order_are_told_apart_from_silence),
        WIRE_TEST(a_source_that_came_back_and_one_that_began_anew_are_said),
        WIRE_TEST(one_cid_at_two_addresses_is_said),
        WIRE_TEST(another_priority_than_the_shows_is_noted),
        WIRE_TEST(only_what_was_listened_to_is_judged),
        WIRE_TEST(a_wire_number_that_e1_31_does_not_have_is_a_fail_at_once),
        WIRE_TEST(more_faults_than_are_kept_are_counted),
        WIRE_TEST(a_label_of_any_length_gives_a_text_of_whole_characters),
        WIRE_TEST(what_is_only_announced_and_strange_is_noted),
        cmocka_unit_test(ranges_are_cut_after_a_whole_part),
        cmocka_unit_test(the_refresh_limit_is_that_of_e1_11),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
