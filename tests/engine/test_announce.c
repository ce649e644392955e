/* What a run sends beside data: synchronisation and universe discovery, in dry runs, whose captures hold what the wire would. Times by
 * hand: frame k at k / 40 s. Octets from ANSI E1.31-2018 Tables 4-1 to 4-3. */
#include <arpa/inet.h>
#include <unistd.h>

#include "rig.h"

#define RECORDS 20000
enum { DATA, SYNC, DISCOVERY };

struct record { int64_t time_ns; uint32_t to; uint16_t port; int kind; const uint8_t *octets; size_t length; };

struct dry {
    struct rig rig;
    struct steps steps;
    struct engine_report report;
    struct engine_play play;
    uint8_t *pcap; size_t pcap_size;
    struct record *records; int count;
    struct lane lanes[8]; int lane_count;
};

static const uint8_t cid[16] = { 0x8f, 0x5c, 0x1e, 0x0a, 0x3b, 0x7d, 0x4c, 0x2e, 0x9a, 0x41, 0x6d, 0x0f, 0x2b, 0x7e, 0x5c, 0x13 };

static int setup(void **state)
{
    struct dry *dry = calloc(1, sizeof *dry);
    dry->records = calloc(RECORDS, sizeof *dry->records);
    rig_init(&dry->rig);
    *state = dry;
    return 0;
}

static int teardown(void **state)
{
    struct dry *dry = *state;
    engine_report_fini(&dry->report);
    rig_fini(&dry->rig);
    free(dry->pcap);
    free(dry->records);
    free(dry);
    return 0;
}

static uint32_t little(const uint8_t *at)
{
    return (uint32_t)at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

static unsigned big(const uint8_t *at)
{
    return (unsigned)at[0] << 8 | at[1];
}

/* Appendix A: VECTOR_ROOT_E131_EXTENDED is 8; under it VECTOR_E131_EXTENDED_SYNCHRONIZATION is 1 and _DISCOVERY 2. */
static int kind_of(const uint8_t *octets)
{
    return octets[21] != 8 ? DATA : octets[43] == 1 ? SYNC : DISCOVERY;
}

static void read_pcap(struct dry *dry, FILE *file)
{
    fseek(file, 0, SEEK_END);
    dry->pcap_size = (size_t)ftell(file);
    rewind(file);
    free(dry->pcap);
    dry->pcap = malloc(dry->pcap_size);
    assert_int_equal(fread(dry->pcap, 1, dry->pcap_size, file), dry->pcap_size);
    dry->count = 0;
    for (size_t at = 24; at < dry->pcap_size;) {
        const uint8_t *record = dry->pcap + at, *ip = record + 16, *octets = ip + 28;
        assert_true(dry->count < RECORDS);
        assert_int_equal(ip[0], 0x45);
        dry->records[dry->count] = (struct record){ .time_ns = (int64_t)little(record) * SECOND + little(record + 4),
                                                    .port = (uint16_t)big(ip + 22), .kind = kind_of(octets), .octets = octets,
                                                    .length = big(ip + 24) - 8 };
        memcpy(&dry->records[dry->count++].to, ip + 16, 4);
        at += 16 + little(record + 8);
    }
}

static void play(struct dry *dry, double rate_hz, double seconds)
{
    const struct step steps[] = { { STEP_WAIT, .seconds = seconds }, { .kind = STEP_DONE } };
    char path[] = "/tmp/rigcall-announce-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    engine_report_fini(&dry->report);
    engine_free(dry->rig.engine);
    dry->rig.engine = NULL;
    rig_start(&dry->rig, rate_hz);
    dry->steps = (struct steps){ .rig = &dry->rig, .steps = steps };
    struct engine_player player = steps_player(&dry->steps);
    dry->play.engine = dry->rig.engine;
    dry->play.player = &player;
    sacn_source_init(&dry->play.source, cid, "rigcall reference");
    assert_int_equal(sacn_capture_open(path, &dry->play.capture, &dry->rig.why), 0);
    assert_int_equal(engine_play_dry(&dry->play, &dry->report, &dry->rig.why), 0);
    assert_int_equal(sacn_capture_close(dry->play.capture, NULL), 0);
    FILE *file = fdopen(fd, "rb");
    read_pcap(dry, file);
    fclose(file);
    unlink(path);
}

static void dimmer(struct dry *dry, int64_t universe)
{
    static const char *type;
    if (dry->rig.show->type_count == 0)
        type = rig_type(&dry->rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    rig_fixture(&dry->rig, universe, type, NULL, universe, 1);
}

/* A transmitter that takes the universe by unicast. */
static void unicast(struct dry *dry, const char *id, const char *host, int64_t universe)
{
    struct transmitter *transmitter = show_add_transmitter(dry->rig.show);
    struct lane *lane = &dry->lanes[dry->lane_count++];
    *lane = (struct lane){ 1, universe };
    transmitter->id = id;
    transmitter->input = INPUT_UNICAST;
    transmitter->host = host;
    transmitter->lanes = lane;
    transmitter->lane_count = 1;
}

static int count_of(const struct dry *dry, int kind)
{
    int count = 0;
    for (int i = 0; i < dry->count; i++)
        count += dry->records[i].kind == kind;
    return count;
}

static const struct record *nth(const struct dry *dry, int kind, int n)
{
    for (int i = 0; i < dry->count; i++)
        if (dry->records[i].kind == kind && n-- == 0)
            return &dry->records[i];
    fail_msg("there is none of that kind");
    return NULL;
}

static uint32_t group(uint16_t universe)
{
    return htonl(0xefff0000u | universe);            /* 239.255.H.L, 9.3.1 */
}

/* ---- synchronisation ---- */

/* Table 4-2, whole. */
static void expect_sync(const struct record *record, uint16_t address, uint8_t sequence)
{
    static const uint8_t head[] = { 0x00, 0x10, 0x00, 0x00, 'A', 'S', 'C', '-', 'E', '1', '.', '1', '7', 0, 0, 0, 0x70, 33, 0, 0, 0, 8 };
    const uint8_t rest[] = { 0x70, 11, 0, 0, 0, 1, sequence, (uint8_t)(address >> 8), (uint8_t)address, 0, 0 };
    assert_int_equal(record->length, 49);
    assert_memory_equal(record->octets, head, sizeof head);
    assert_memory_equal(record->octets + 22, cid, 16);
    assert_memory_equal(record->octets + 38, rest, sizeof rest);
}

/* Each frame that has data has exactly one to each of `to`, after all its data; each is the same and counts on by one. */
static void expect_synced(const struct dry *dry, uint16_t address, const uint32_t *to, int to_count)
{
    uint8_t sequence = 0;
    for (int i = 0; i < dry->count;) {
        int64_t time_ns = dry->records[i].time_ns;
        int data = 0;
        for (; i < dry->count && dry->records[i].time_ns == time_ns && dry->records[i].kind == DATA; i++)
            data++;
        for (int t = 0; data > 0 && t < to_count; t++, i++) {
            assert_true(i < dry->count && dry->records[i].time_ns == time_ns);
            expect_sync(&dry->records[i], address, sequence);
            assert_int_equal(dry->records[i].to, to[t]);
            assert_int_equal(dry->records[i].port, 5568);
        }
        sequence += data > 0;
        assert_true(data > 0 || dry->records[i].kind == DISCOVERY);
        while (i < dry->count && dry->records[i].kind == DISCOVERY && dry->records[i].time_ns == time_ns)
            i++;
    }
}

static void every_frame_with_data_ends_with_one_synchronisation_packet(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 7);
    dimmer(dry, 300);
    dry->play.sync_address = 0x0102;
    play(dry, 40, 300);                              /* 335 frames with data: sequence numbers wrap */
    expect_synced(dry, 0x0102, (uint32_t[]){ group(0x0102) }, 1);
    assert_true(count_of(dry, SYNC) > 256);
    assert_int_equal(dry->report.sync_packets, count_of(dry, SYNC));
    assert_int_equal(dry->report.packets, count_of(dry, DATA));
    for (int i = 0; i < dry->count; i++) {
        const uint8_t *octets = dry->records[i].octets;
        if (dry->records[i].kind != DATA)
            continue;
        bool terminated = octets[112] == 0x40;
        assert_int_equal(big(octets + 109), terminated ? 0 : 0x0102);        /* the end is acted on at once */
        assert_true(terminated || octets[112] == 0);
        assert_int_equal(terminated, dry->records[i].time_ns > 12001 * 25 * MS);
    }
}

static void forcing_it_is_an_option_of_data(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 7);
    dry->play.sync_address = 63999;
    dry->play.force_sync = true;
    play(dry, 40, 1);
    expect_synced(dry, 63999, (uint32_t[]){ group(63999) }, 1);
    for (int i = 0; i < dry->count; i++)
        if (dry->records[i].kind == DATA)
            assert_int_equal(dry->records[i].octets[112] & ~0x40, 0x20);     /* 6.2.6: bit 5 */
}

/* 11.1.2: synchronisation is lost after 2.5 s. Data that does not change is repeated every 0.8 to 1 s, each time with one. */
static void a_quiet_run_never_loses_it(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    dry->play.sync_address = 9;
    for (double rate = 1; rate <= 44; rate += 0.7) {
        play(dry, rate, 20);
        for (int i = 1; i < count_of(dry, SYNC); i++)
            assert_true(nth(dry, SYNC, i)->time_ns - nth(dry, SYNC, i - 1)->time_ns <= SECOND);
    }
}

static void a_run_that_is_not_synchronised_has_none(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    play(dry, 40, 2);
    assert_int_equal(count_of(dry, SYNC), 0);
    assert_int_equal(dry->report.sync_packets, 0);
    for (int i = 0; i < dry->count; i++)
        if (dry->records[i].kind == DATA)
            assert_int_equal(big(dry->records[i].octets + 109), 0);
}

static void one_address_for_all_gets_everything(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    dimmer(dry, 2);
    unicast(dry, "T1", "10.20.0.11", 1);
    dry->play.sync_address = 5;
    dry->play.target.to = "192.0.2.9";
    play(dry, 40, 1);
    expect_synced(dry, 5, (uint32_t[]){ htonl(0xc0000209) }, 1);
    for (int i = 0; i < dry->count; i++)
        assert_int_equal(dry->records[i].to, htonl(0xc0000209));
    assert_int_equal(count_of(dry, DISCOVERY), 2);
}

static void every_unicast_host_gets_it_once(void **state)
{
    struct dry *dry = *state;
    for (int u = 1; u <= 4; u++)
        dimmer(dry, u);
    unicast(dry, "T1", "10.20.0.12", 1);
    unicast(dry, "T2", "10.20.0.11", 2);
    unicast(dry, "T3", "10.20.0.12", 3);
    dry->play.sync_address = 5;
    play(dry, 40, 1);
    expect_synced(dry, 5, (uint32_t[]){ group(5), htonl(0x0a14000b), htonl(0x0a14000c) }, 3);
    unicast(dry, "T4", "10.20.0.13", 4);             /* now nobody takes multicast */
    play(dry, 40, 1);
    expect_synced(dry, 5, (uint32_t[]){ htonl(0x0a14000b), htonl(0x0a14000c), htonl(0x0a14000d) }, 3);
}

static void two_synchronised_runs_are_equal_byte_for_byte(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    dry->play.sync_address = 5;
    play(dry, 40, 11);
    uint8_t *before = dry->pcap;
    size_t size = dry->pcap_size;
    dry->pcap = NULL;
    play(dry, 40, 11);
    assert_int_equal(dry->pcap_size, size);
    assert_memory_equal(dry->pcap, before, size);
    free(before);
}

/* ---- universe discovery ---- */

/* Table 4-3, whole. */
static void expect_list(const struct record *record, const uint16_t *universes, size_t count, uint8_t page, uint8_t last_page)
{
    uint8_t octets[1144] = { 0x00, 0x10, 0x00, 0x00, 'A', 'S', 'C', '-', 'E', '1', '.', '1', '7' };
    size_t length = 120 + 2 * count;
    static const size_t flags_and_length[] = { 16, 38, 112 };
    for (int i = 0; i < 3; i++) {
        size_t pdu = length - flags_and_length[i];
        octets[flags_and_length[i]] = (uint8_t)(0x70 | pdu >> 8);
        octets[flags_and_length[i] + 1] = (uint8_t)pdu;
    }
    octets[21] = 8;
    memcpy(octets + 22, cid, 16);
    octets[43] = 2;
    memcpy(octets + 44, "rigcall reference", 17);
    octets[117] = 1;
    octets[118] = page;
    octets[119] = last_page;
    for (size_t i = 0; i < count; i++) {
        octets[120 + 2 * i] = (uint8_t)(universes[i] >> 8);
        octets[121 + 2 * i] = (uint8_t)universes[i];
    }
    assert_int_equal(record->length, length);
    assert_memory_equal(record->octets, octets, length);
}

static void universes_are_announced_at_the_start_and_every_10_s(void **state)
{
    struct dry *dry = *state;
    const uint16_t universes[] = { 7, 300 };
    dimmer(dry, 300);
    dimmer(dry, 7);
    play(dry, 40, 25);
    assert_int_equal(count_of(dry, DISCOVERY), 4);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(nth(dry, DISCOVERY, i)->time_ns, i * 10 * SECOND);
        assert_int_equal(nth(dry, DISCOVERY, i)->to, htonl(0xeffffad6));     /* 239.255.250.214 */
        assert_int_equal(nth(dry, DISCOVERY, i)->port, 5568);
        expect_list(nth(dry, DISCOVERY, i), universes, 2, 0, 0);
    }
    /* Frame 1000 is that of 25 s, 1001 has the defaults, 1004 the third terminated packet. Nothing comes after it. 12.1 */
    assert_int_equal(nth(dry, DISCOVERY, 3)->time_ns, 1004 * 25 * MS);
    expect_list(nth(dry, DISCOVERY, 3), NULL, 0, 0, 0);
    assert_int_equal(dry->records[dry->count - 1].kind, DISCOVERY);
    assert_int_equal(dry->report.discovery_packets, 4);
    assert_int_equal(dry->report.packets, count_of(dry, DATA));
}

static void the_synchronisation_address_is_among_them(void **state)
{
    struct dry *dry = *state;
    static const struct { uint16_t sync, list[3]; size_t count; } cases[] = {
        { 1, { 1, 7, 300 }, 3 }, { 42, { 7, 42, 300 }, 3 }, { 63999, { 7, 300, 63999 }, 3 }, { 7, { 7, 300 }, 2 }, { 300, { 7, 300 }, 2 },
    };
    dimmer(dry, 7);
    dimmer(dry, 300);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        dry->play.sync_address = cases[i].sync;
        play(dry, 40, 0);
        expect_list(nth(dry, DISCOVERY, 0), cases[i].list, cases[i].count, 0, 0);
    }
}

/* Where ten seconds are no whole number of frames, in the first frame after. 4.55 Hz: frame 46 at 10.110 s, frame 91 at 20 s. */
static void they_go_out_with_a_frame(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    play(dry, 4.55, 21);
    assert_int_equal(nth(dry, DISCOVERY, 1)->time_ns, 10109890110);
    assert_int_equal(nth(dry, DISCOVERY, 2)->time_ns, 20 * SECOND);
    assert_int_equal(count_of(dry, DISCOVERY), 4);
}

static void a_short_run_comes_and_goes(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    play(dry, 40, 0);
    assert_int_equal(count_of(dry, DISCOVERY), 2);
    expect_list(nth(dry, DISCOVERY, 0), (uint16_t[]){ 1 }, 1, 0, 0);
    expect_list(nth(dry, DISCOVERY, 1), NULL, 0, 0, 0);
}

/* 8.4: a page has 512 universes at most; the pages of 513 are numbered 0 and 1. */
static void long_lists_have_pages(void **state)
{
    struct dry *dry = *state;
    uint32_t grant[513];
    uint16_t universes[513];
    for (int i = 0; i < 513; i++) {
        dry->rig.grant_count = 0;
        dimmer(dry, 100 + i);
        grant[i] = (uint32_t)i;
        universes[i] = (uint16_t)(100 + i);
    }
    assert_int_equal(show_index(dry->rig.show), 0);
    struct engine_options options = { .rate_hz = 40, .fixtures = grant, .fixture_count = 513 };
    assert_int_equal(engine_new(dry->rig.show, &options, &dry->rig.engine, &dry->rig.why), 0);
    const struct step steps[] = { { .kind = STEP_DONE } };
    dry->steps = (struct steps){ .rig = &dry->rig, .steps = steps };
    struct engine_player player = steps_player(&dry->steps);
    dry->play = (struct engine_play){ .engine = dry->rig.engine, .player = &player };
    sacn_source_init(&dry->play.source, cid, "rigcall reference");
    FILE *file = tmpfile();
    char path[64];
    snprintf(path, sizeof path, "/proc/self/fd/%d", fileno(file));
    assert_int_equal(sacn_capture_open(path, &dry->play.capture, &dry->rig.why), 0);
    assert_int_equal(engine_play_dry(&dry->play, &dry->report, &dry->rig.why), 0);
    assert_int_equal(sacn_capture_close(dry->play.capture, NULL), 0);
    read_pcap(dry, file);
    fclose(file);
    assert_int_equal(count_of(dry, DISCOVERY), 3);
    expect_list(nth(dry, DISCOVERY, 0), universes, 512, 0, 1);
    expect_list(nth(dry, DISCOVERY, 1), universes + 512, 1, 1, 1);
    expect_list(nth(dry, DISCOVERY, 2), NULL, 0, 0, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(every_frame_with_data_ends_with_one_synchronisation_packet),
        TEST(forcing_it_is_an_option_of_data),
        TEST(a_quiet_run_never_loses_it),
        TEST(a_run_that_is_not_synchronised_has_none),
        TEST(one_address_for_all_gets_everything),
        TEST(every_unicast_host_gets_it_once),
        TEST(two_synchronised_runs_are_equal_byte_for_byte),
        TEST(universes_are_announced_at_the_start_and_every_10_s),
        TEST(the_synchronisation_address_is_among_them),
        TEST(they_go_out_with_a_frame),
        TEST(a_short_run_comes_and_goes),
        TEST(long_lists_have_pages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
