/* What is said of a wire whose packets and times are written by hand. Expected: the words of rigcall/listen.h; limits from ANSI
 * E1.31-2018 6.2.3 (priority), 6.6.1 (rate), 6.6.2 (keep-alive), 6.7.1 (loss), and ANSI E1.11 timing (92 + 12 + 44 us a slot). */
#include "rig.h"
#include "rigcall/listen.h"

struct wire { struct sacn_table *table; int64_t now_ns; struct show *show; struct wire_faults faults; };
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

static void judge(struct wire *wire)
{
    struct rig_why why;
    wire_faults_free(&wire->faults);
    sacn_table_advance(wire->table, wire->now_ns);
    assert_int_equal(wire_judge(wire->table, wire->show, wire->now_ns, (double)(wire->now_ns - SECOND) / 1e9, &wire->faults, &why), 0);
}

static void assert_fault(const struct wire *wire, size_t at, enum wire_fault_kind kind, bool fail, const char *text)
{
    assert_true(at < wire->faults.count);
    const struct wire_fault *fault = &wire->faults.items[at];
    assert_string_equal(fault->text, text);
    assert_int_equal(fault->kind, kind);
    assert_int_equal(fault->fail, fail);
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
    assert_int_equal(wire->faults.fails, 1);
    assert_fault(wire, 0, WIRE_SILENT, true, "universe 7 (wire number 307): nobody sends it");
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
    assert_fault(wire, 0, WIRE_RIVAL, true,
                 "universe 5: two sources send it at priority 100: source \"Desk\" at 10.0.0.1 and source \"Backup\" at 10.0.0.2");
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
    assert_fault(wire, 0, WIRE_UNKNOWN, false, "universe 9: it is sent, but the show does not know it");
}

static void a_source_that_stops_is_lost_and_one_that_says_so_is_not(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100);
    send_for(wire, &desk, NULL, 5, 3, 0.025);
    wire->now_ns += 3 * SECOND;
    judge(wire);
    assert_int_equal(wire->faults.count, 1);
    assert_fault(wire, 0, WIRE_LOST, false, "universe 5: source \"Desk\" at 10.0.0.1 stopped 3.0 s ago without saying so");

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
    assert_fault(wire, 0, WIRE_RATE, false,
                 "universe 5: source \"Desk\" at 10.0.0.1 sends 100.0 packets a second; 512 slots allow 44.1 (ANSI E1.31 6.6.1)");
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
    assert_fault(wire, 0, WIRE_GAP, false, "universe 5: source \"Desk\" at 10.0.0.1 once sent nothing for 1.8 s; unchanged levels are "
                                           "to be repeated within 1 s");
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
    assert_fault(wire, 0, WIRE_MISSING, false, "universe 5: source \"Desk\" at 10.0.0.1: of 123 packets 4 missing, 0 late, 1 twice");
}

static void names_that_do_not_tell_sources_apart_are_said(void **state)
{
    struct wire *wire = *state;
    struct desk desk = desk_of("Desk", "10.0.0.1", 100), same = desk_of("Desk", "10.0.0.2", 90), none = desk_of("", "10.0.0.3", 90);
    send_for(wire, &desk, &same, 5, 1, 0.025);
    send_for(wire, &none, NULL, 6, 1, 0.025);
    judge(wire);
    assert_int_equal(wire->faults.count, 2);
    assert_fault(wire, 0, WIRE_NAME, false, "universe 5: source \"Desk\" at 10.0.0.2 has the name of another source");
    assert_fault(wire, 1, WIRE_NAME, false, "universe 6: source \"\" at 10.0.0.3 gives no name");
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
        cmocka_unit_test(the_refresh_limit_is_that_of_e1_11),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
