/* rig.wire over packets written by hand: what a rule reads of them, and what it may not ask. */
#include "lua_fake.h"
#include "rigcall/listen.h"
#include "rigcall/showfile.h"

#define SECOND INT64_C(1000000000)

static struct show *show;
static struct listening wire;

static void hear(const char *name, const char *address, uint8_t priority, uint16_t universe, uint8_t level, int packets)
{
    uint8_t packet[SACN_DATA_SIZE], cid[16] = { 0 };
    struct sacn_source source;
    union sacn_address from;
    assert_true(sacn_address_parse(address, SACN_PORT, &from));
    memcpy(cid, &from.v4.sin_addr, 4);
    sacn_source_init(&source, cid, name);
    sacn_data_init(packet, &source, universe, priority);
    packet[SACN_SLOT_OFFSET] = level;            /* slot 1 */
    for (int i = 0; i < packets; i++) {
        wire.now_ns += SECOND / 40;
        sacn_data_set_sequence(packet, (uint8_t)i);
        assert_int_equal(sacn_table_take(wire.table, wire.now_ns, packet, sizeof packet, &from), SACN_ACCEPT);
    }
}

/* Universe 1 of the example has wire number 1. */
static int open_wire(void **state)
{
    (void)state;
    assert_int_equal(sacn_table_new(NULL, &wire.table, NULL), 0);
    wire.now_ns = SECOND;
    wire.seconds = 3;
    hear("Desk", "10.0.0.1", 100, 1, 51, 40);
    hear("Backup", "10.0.0.2", 90, 1, 255, 40);
    hear("Stray", "10.0.0.3", 120, 700, 128, 10);
    sacn_table_advance(wire.table, wire.now_ns);
    return showfile_load(RIGCALL_SOURCE_DIR "/examples/courtyard/courtyard.show.lua", &show, NULL);
}

static int close_wire(void **state)
{
    (void)state;
    show_free(show);
    sacn_table_free(wire.table);
    fake_free();
    return 0;
}

static void run(const char *text, const struct listening *heard)
{
    fake_reset();
    fake.host.wire = heard;
    fake_rule(show, text);
}

static void assert_says(const char *text, const char *log)
{
    run(text, &wire);
    if (!fake.done)
        fail_msg("%s", fake.error);
    assert_string_equal(fake.log, log);
}

static void assert_refuses(const char *text, const char *error)
{
    run(text, &wire);
    assert_false(fake.done);
    if (!strstr(fake.error, error))
        fail_msg("expected \"%s\", got \"%s\"", error, fake.error);
}

static void without_listening_it_is_false(void **state)
{
    (void)state;
    run("print(rig.wire)", NULL);
    assert_true(fake.done);
    assert_string_equal(fake.log, "false\n");
}

static void sources_come_with_their_winner_first(void **state)
{
    (void)state;
    assert_says("local w = rig.wire.universe(rig.get('universe', 1)) print(w.wire, w.priority, w.winners, w.sync, #w.sources, #w.announced) "
                "for _, s in ipairs(w.sources) do print(s.name, s.address, s.priority, s.state, s.wins, s.packets, s.missing, s.slots) end",
                "1 100 1 free 2 0\nDesk 10.0.0.1 100 live true 40 0 512\nBackup 10.0.0.2 90 live false 40 0 512\n");
}

static void a_cid_is_written_as_rfc_4122_does(void **state)
{
    (void)state;
    assert_says("print(rig.wire.universe(700).sources[1].cid)", "0a000003-0000-0000-0000-000000000000\n");
}

static void a_universe_that_nobody_sends_has_no_sources(void **state)
{
    (void)state;
    assert_says("local w = rig.wire.universe(9) print(w.wire, w.priority, w.winners, #w.sources, rig.wire.level(9, 1))", "9 nil 0 0 nil\n");
}

/* 51 of 255 is 20 %, and the lower priority counts for nothing (ANSI E1.31-2018 6.2.3). */
static void a_level_is_that_of_the_winner(void **state)
{
    (void)state;
    assert_says("print(rig.wire.level(1, 1), rig.wire.level(1, 2))", "20.0 0.0\n");
}

static void all_that_was_heard_can_be_walked(void **state)
{
    (void)state;
    assert_says("for w in rig.wire.universes() do print(w.wire, #w.sources) end print(rig.wire.seconds, rig.wire.dropped)",
                "1 2\n700 1\n3.0 0\n");
}

static void what_is_no_universe_is_refused(void **state)
{
    (void)state;
    assert_refuses("rig.wire.universe(0)", "wire numbers are 1 to 63999");
    assert_refuses("rig.wire.universe(64000)", "wire numbers are 1 to 63999");
    assert_refuses("rig.wire.universe(2^53)", "wire numbers are 1 to 63999");
    assert_refuses("rig.wire.universe('1')", "a universe or a wire number expected");
    assert_refuses("rig.wire.universe(rig.get('transmitter', 'T1'))", "a universe or a wire number expected");
    assert_refuses("rig.wire.universe(1.5)", "number has no integer representation");
    assert_refuses("rig.wire.level(1, 0)", "slots are 1 to 512");
    assert_refuses("rig.wire.level(1, 513)", "slots are 1 to 512");
    assert_refuses("print(rig.wire.sources)", "rig.wire has no 'sources'");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_listening_it_is_false),
        cmocka_unit_test(sources_come_with_their_winner_first),
        cmocka_unit_test(a_cid_is_written_as_rfc_4122_does),
        cmocka_unit_test(a_universe_that_nobody_sends_has_no_sources),
        cmocka_unit_test(a_level_is_that_of_the_winner),
        cmocka_unit_test(all_that_was_heard_can_be_walked),
        cmocka_unit_test(what_is_no_universe_is_refused),
    };
    return cmocka_run_group_tests(tests, open_wire, close_wire);
}
