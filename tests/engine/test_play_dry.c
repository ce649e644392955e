/* Dry runs: what is in which frame, what goes on the wire and when, and how a run ends. Times by hand: frame k at k / 40 s. */
#include <arpa/inet.h>
#include <jansson.h>
#include <unistd.h>

#include "rig.h"

struct packet {
    int64_t time_ns;
    uint16_t universe;
    uint8_t sequence;
    bool terminated;
    uint8_t levels[512];
    uint32_t from, to;
    uint16_t to_port;
};

struct dry {
    struct rig rig;
    struct steps steps;
    struct engine_player player;
    struct engine_crew crew;
    struct engine_report report;
    struct engine_play play;
    char *trace; size_t trace_size;
    uint8_t *pcap; size_t pcap_size;
    struct packet packets[1000]; int packet_count;
    char told[400];
    int err;
};

static void told(void *context, const char *text)
{
    struct dry *dry = context;
    snprintf(dry->told, sizeof dry->told, "%s", text);
}

static int setup(void **state)
{
    struct dry *dry = calloc(1, sizeof *dry);
    rig_init(&dry->rig);
    *state = dry;
    return 0;
}

static int teardown(void **state)
{
    struct dry *dry = *state;
    engine_report_fini(&dry->report);
    rig_fini(&dry->rig);
    free(dry->trace);
    free(dry->pcap);
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

/* The data packets of a capture; the others are those of test_announce. pcap-savefile(5) with nanoseconds and raw IPv4; RFC 791,
 * RFC 768; ANSI E1.31-2018 Table 4-1 for the offsets. */
static void read_pcap(struct dry *dry, const char *path)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    fseek(file, 0, SEEK_END);
    dry->pcap_size = (size_t)ftell(file);
    rewind(file);
    dry->pcap = malloc(dry->pcap_size + 1);
    assert_int_equal(fread(dry->pcap, 1, dry->pcap_size, file), dry->pcap_size);
    fclose(file);
    dry->packet_count = 0;
    for (size_t at = 24; at < dry->pcap_size;) {
        const uint8_t *record = dry->pcap + at, *ip = record + 16, *data = ip + 28;
        at += 16 + little(record + 8);
        if (data[21] == 8)           /* VECTOR_ROOT_E131_EXTENDED */
            continue;
        struct packet *packet = &dry->packets[dry->packet_count++];
        assert_true(dry->packet_count < 1000);
        assert_int_equal(little(record + 8), 28 + 638);
        packet->time_ns = (int64_t)little(record) * SECOND + little(record + 4);
        memcpy(&packet->from, ip + 12, 4);
        memcpy(&packet->to, ip + 16, 4);
        assert_int_equal(big(ip + 20), 5568);
        packet->to_port = (uint16_t)big(ip + 22);
        packet->sequence = data[111];
        packet->terminated = data[112] & 0x40;
        packet->universe = (uint16_t)big(data + 113);
        memcpy(packet->levels, data + 126, 512);
    }
}

static void run(struct dry *dry, const struct step *steps)
{
    char path[] = "/tmp/rigcall-dry-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    if (!dry->rig.engine)
        rig_start(&dry->rig, 40);
    dry->steps = (struct steps){ .rig = &dry->rig, .steps = steps };
    dry->player = steps_player(&dry->steps);
    dry->crew = (struct engine_crew){ .context = dry, .fd = -1, .told = told };
    dry->play.engine = dry->rig.engine;
    dry->play.player = &dry->player;
    dry->play.crew = &dry->crew;
    sacn_source_init(&dry->play.source, (const uint8_t[16]){ 1, 2, 3 }, "rigcall test");
    assert_int_equal(sacn_capture_open(path, &dry->play.capture, &dry->rig.why), 0);
    dry->play.trace = open_memstream(&dry->trace, &dry->trace_size);
    dry->err = engine_play_dry(&dry->play, &dry->report, &dry->rig.why);
    fclose(dry->play.trace);
    assert_int_equal(sacn_capture_close(dry->play.capture, NULL), 0);
    read_pcap(dry, path);
    unlink(path);
}

static uint32_t dimmer(struct dry *dry, int64_t universe)
{
    const char *type = rig_type(&dry->rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    return rig_fixture(&dry->rig, universe, type, NULL, universe, 1);
}

static void expect_frames(const struct dry *dry, const int *frames, int count)
{
    assert_int_equal(dry->packet_count, count);
    for (int i = 0; i < count; i++) {
        assert_int_equal(dry->packets[i].time_ns, frames[i] * 25 * MS);
        assert_int_equal(dry->packets[i].sequence, i);       /* each packet counts on by one, terminated ones too */
    }
}

static void a_change_goes_out_at_once_and_three_times_more(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 7);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.25 },
                                  { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 2.5 },
                                  { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->err, 0);
    /* frame 0 and three; the change in frame 10 and three; every 36 frames = 0.9 s; the last levels at 2.5 s are not due;
     * defaults in frame 101; three terminated ones */
    const int frames[] = { 0, 1, 2, 3, 10, 11, 12, 13, 49, 85, 101, 102, 103, 104 };
    expect_frames(dry, frames, 14);
    for (int i = 0; i < 14; i++) {
        assert_int_equal(dry->packets[i].levels[0], i >= 4 && i < 10 ? 255 : 0);
        assert_int_equal(dry->packets[i].terminated, i >= 11);
        assert_int_equal(dry->packets[i].universe, 7);
        assert_int_equal(dry->packets[i].from, htonl(0x7f000001));
        assert_int_equal(dry->packets[i].to, htonl(0xefff0007));     /* 239.255.0.7 */
        assert_int_equal(dry->packets[i].to_port, 5568);
    }
    assert_int_equal(dry->report.packets, 14);
    assert_int_equal(dry->report.frames, 105);
    assert_true(dry->report.seconds == 2.5);
    assert_int_equal(dry->steps.resumes, 3);
    assert_int_equal(dry->steps.resumed_at[1], 250 * MS);
    assert_false(dry->steps.stopped);
}

static void what_is_commanded_at_the_very_end_still_goes_out(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.1 },
                                  { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { .kind = STEP_DONE } };
    run(dry, steps);
    const int frames[] = { 0, 1, 2, 3, 4, 5, 6, 7, 8 };
    expect_frames(dry, frames, 9);
    assert_int_equal(dry->packets[4].levels[0], 255);
    assert_int_equal(dry->packets[5].levels[0], 0);
    assert_false(dry->packets[5].terminated);
    for (int i = 6; i < 9; i++)
        assert_true(dry->packets[i].terminated);
}

static void a_script_that_is_done_at_once_has_one_frame_of_its_levels(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 }, { .kind = STEP_DONE } };
    run(dry, steps);
    const int frames[] = { 0, 1, 2, 3, 4 };
    expect_frames(dry, frames, 5);
    assert_int_equal(dry->packets[0].levels[0], 255);
    assert_int_equal(dry->packets[1].levels[0], 0);
}

static void a_script_that_breaks_goes_straight_to_the_defaults(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 0.05 },
                                  { STEP_BREAK, .text = "quay.lua:3: no such thing" } };
    run(dry, steps);
    assert_int_equal(dry->err, RIG_ESCRIPT);
    assert_string_equal(dry->rig.why.text, "quay.lua:3: no such thing");
    const int frames[] = { 0, 1, 2, 3, 4, 5 };       /* two frames with the level, defaults, three terminated */
    expect_frames(dry, frames, 6);
    for (int i = 0; i < 6; i++) {
        assert_int_equal(dry->packets[i].levels[0], i < 2 ? 255 : 0);
        assert_int_equal(dry->packets[i].terminated, i >= 3);
    }
}

static void the_guard_ends_a_run_with_the_levels_before(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    struct step steps[40];
    int n = 0;
    for (int i = 0; i < 10; i++) {                   /* 5 Hz: on in frame 0, off in 4, … the eighth change in frame 28 */
        steps[n++] = (struct step){ STEP_SET, .fixture = lamp, .text = "intensity", .percent = i % 2 ? 0 : 100 };
        steps[n++] = (struct step){ STEP_WAIT, .seconds = (i + 1) * 0.1 };
    }
    steps[n] = (struct step){ .kind = STEP_DONE };
    run(dry, steps);
    assert_int_equal(dry->err, RIG_EGUARD);
    assert_string_equal(dry->rig.why.text,
                        "flash guard: fixture 1 Lamp 1: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
    assert_true(dry->steps.stopped);
    const struct packet *last = &dry->packets[dry->packet_count - 1];
    assert_int_equal(last->time_ns, 32 * 25 * MS);
    for (int i = 0; i < dry->packet_count; i++) {
        int frame = (int)(dry->packets[i].time_ns / (25 * MS));
        assert_int_equal(dry->packets[i].levels[0], frame <= 28 && frame / 4 % 2 == 0 ? 255 : frame == 28 ? 255 : 0);
        assert_int_equal(dry->packets[i].terminated, frame >= 30);
    }
    assert_non_null(
        strstr(dry->trace, "\"event\":\"guard\",\"kind\":\"general\",\"of\":\"fixture\",\"fixture\":1,\"cell\":null"));
}

static void a_question_is_skipped_at_once(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.5 }, { STEP_ASK, .fixture = lamp, .text = "Red on every cell?" },
                                  { STEP_SAY, .text = "next \"one\"" }, { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->err, 0);
    assert_int_equal(dry->report.skip, 1);
    assert_int_equal(dry->report.verdict_count, 1);
    assert_int_equal(dry->report.verdicts[0].fixture, lamp);
    assert_string_equal(dry->report.verdicts[0].question, "Red on every cell?");
    assert_true(dry->report.verdicts[0].at_s == 0.5);
    assert_int_equal(dry->steps.resumed_at[2], 500 * MS);
    assert_int_equal(dry->steps.answers[2], CREW_SKIP);
    assert_non_null(strstr(dry->trace, "{\"t\":0.5,\"event\":\"ask\",\"fixture\":1,\"question\":\"Red on every cell?\"}\n"
                                       "{\"t\":0.5,\"event\":\"answer\",\"fixture\":1,\"answer\":\"skip\",\"note\":\"\"}\n"
                                       "{\"t\":0.5,\"event\":\"say\",\"text\":\"next \\\"one\\\"\"}\n"));
}

static void the_trace_is_one_object_a_line(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 3);
    rig_universe(&dry->rig, 3, 300, 90);
    const struct step steps[] = { { STEP_FADE, .fixture = lamp, .text = "intensity", .percent = 100, .duration_s = 0.05 },
                                  { STEP_WAIT, .seconds = 0.075 }, { .kind = STEP_DONE } };
    run(dry, steps);
    assert_string_equal(dry->trace,
        "{\"t\":0.0,\"event\":\"start\",\"rate\":40.0,\"universes\":[{\"universe\":3,\"wire\":300,\"priority\":90}]}\n"
        "{\"t\":0,\"frame\":0,\"universe\":3,\"wire\":300,\"slots\":[]}\n"
        "{\"t\":0.025,\"frame\":1,\"universe\":3,\"wire\":300,\"slots\":[[1,128]]}\n"
        "{\"t\":0.05,\"frame\":2,\"universe\":3,\"wire\":300,\"slots\":[[1,255]]}\n"
        "{\"t\":0.075,\"event\":\"end\",\"result\":\"done\",\"text\":\"\"}\n"
        "{\"t\":0.1,\"frame\":4,\"universe\":3,\"wire\":300,\"slots\":[[1,0]]}\n");
    for (char *line = strtok(dry->trace, "\n"); line; line = strtok(NULL, "\n")) {
        json_t *json = json_loads(line, 0, NULL);
        assert_non_null(json);
        json_decref(json);
    }
}

static void two_runs_are_equal_byte_for_byte(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_FADE, .fixture = lamp, .text = "intensity", .percent = 100, .duration_s = 0.777 },
                                  { STEP_WAIT, .seconds = 1.1 }, { .kind = STEP_DONE } };
    run(dry, steps);
    uint8_t *pcap = dry->pcap;
    char *trace = dry->trace;
    size_t size = dry->pcap_size;
    engine_report_fini(&dry->report);
    engine_free(dry->rig.engine);
    dry->rig.engine = NULL;
    dry->pcap = NULL;
    dry->trace = NULL;
    run(dry, steps);
    assert_int_equal(dry->pcap_size, size);
    assert_memory_equal(dry->pcap, pcap, size);
    assert_string_equal(dry->trace, trace);
    free(pcap);
    free(trace);
}

static void a_run_that_does_not_move_on_is_ended(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    struct step *steps = calloc(100003, sizeof *steps);
    steps[0] = (struct step){ STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 };
    for (int i = 1; i < 100002; i++)
        steps[i] = (struct step){ STEP_WAIT, .seconds = 0 };
    steps[100002] = (struct step){ .kind = STEP_DONE };
    run(dry, steps);
    assert_int_equal(dry->err, RIG_ESCRIPT);
    assert_string_equal(dry->rig.why.text, "went on 100000 times within one frame, at 0.000 s");
    assert_true(dry->steps.stopped);
    assert_int_equal(dry->packets[0].levels[0], 0);
    free(steps);
}

static void a_run_is_a_day_long_at_most(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 86400.001 }, { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->err, RIG_ESCRIPT);
    assert_string_equal(dry->rig.why.text, "waits until 86400.001 s: a run is at most 86400 s long");
}

static void a_target_takes_every_universe(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    const struct step steps[] = { { .kind = STEP_DONE } };
    dry->play.target = (struct sacn_target){ .to = "127.0.0.9", .port = 6000 };
    run(dry, steps);
    assert_int_equal(dry->packets[0].to, htonl(0x7f000009));
    assert_int_equal(dry->packets[0].to_port, 6000);
}

static void a_unicast_transmitter_gets_its_universes(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    struct transmitter *transmitter = show_add_transmitter(dry->rig.show);
    struct lane lane = { 1, 1 };
    transmitter->id = "T1";
    transmitter->input = INPUT_UNICAST;
    transmitter->host = "10.20.0.11";
    transmitter->lanes = &lane;
    transmitter->lane_count = 1;
    const struct step steps[] = { { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->packets[0].to, htonl(0x0a14000b));
}

static void a_host_that_is_no_address_is_bad_input(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    struct transmitter *transmitter = show_add_transmitter(dry->rig.show);
    struct lane lane = { 1, 1 };
    transmitter->id = "T1";
    transmitter->input = INPUT_UNICAST;
    transmitter->host = "tower";
    transmitter->lanes = &lane;
    transmitter->lane_count = 1;
    const struct step steps[] = { { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->err, RIG_EINPUT);
    assert_string_equal(dry->rig.why.text, "universe 1: host \"tower\" of its transmitter, expected an IPv4 or IPv6 address");
}

static void a_capture_that_cannot_be_written_ends_the_run(void **state)
{
    struct dry *dry = *state;
    uint32_t lamp = dimmer(dry, 1);
    const struct step steps[] = { { STEP_FADE, .fixture = lamp, .text = "intensity", .percent = 100, .duration_s = 60 },
                                  { STEP_WAIT, .seconds = 3600 }, { .kind = STEP_DONE } };
    rig_start(&dry->rig, 40);
    dry->steps = (struct steps){ .rig = &dry->rig, .steps = steps };
    dry->player = steps_player(&dry->steps);
    dry->play = (struct engine_play){ .engine = dry->rig.engine, .player = &dry->player };
    assert_int_equal(sacn_capture_open("/dev/full", &dry->play.capture, &dry->rig.why), 0);
    assert_int_equal(engine_play_dry(&dry->play, &dry->report, &dry->rig.why), RIG_EIO);
    assert_true(dry->steps.stopped);
    assert_true(dry->report.seconds < 60);
    sacn_capture_close(dry->play.capture, NULL);
}

static void a_trace_that_cannot_be_written_is_told(void **state)
{
    struct dry *dry = *state;
    dimmer(dry, 1);
    const struct step steps[] = { { .kind = STEP_DONE } };
    rig_start(&dry->rig, 40);
    dry->steps = (struct steps){ .rig = &dry->rig, .steps = steps };
    dry->player = steps_player(&dry->steps);
    dry->play = (struct engine_play){ .engine = dry->rig.engine, .player = &dry->player, .trace = fopen("/dev/full", "w") };
    assert_int_equal(engine_play_dry(&dry->play, &dry->report, &dry->rig.why), RIG_EIO);
    assert_non_null(strstr(dry->rig.why.text, "cannot write the trace: "));
    fclose(dry->play.trace);
}

static void an_unarmed_hazard_is_told_once(void **state)
{
    struct dry *dry = *state;
    const char *type = rig_type(&dry->rig, "flame", HAZARD_FLAME, "intensity", 0, "", "");
    uint32_t flame = rig_fixture(&dry->rig, 9, type, NULL, 1, 1);
    const struct step steps[] = { { STEP_SET, .fixture = flame, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 0.1 },
                                  { STEP_SET, .fixture = flame, .text = "intensity", .percent = 50 },
                                  { .kind = STEP_DONE } };
    run(dry, steps);
    assert_int_equal(dry->err, 0);
    assert_string_equal(dry->told,
                        "fixture 9 Lamp 9 is not driven: a fixture with a hazard stays at its defaults until it is armed");
    char *first = strstr(dry->trace, "\"told\"");
    assert_non_null(first);
    assert_null(strstr(first + 1, "\"told\""));
    for (int i = 0; i < dry->packet_count; i++)
        assert_int_equal(dry->packets[i].levels[0], 0);
}

static void a_locked_slot_that_is_cleared_or_asked_for_what_it_holds_is_not_told(void **state)
{
    struct dry *dry = *state;
    const char *type = rig_type(&dry->rig, "blinder", HAZARD_NONE, "intensity strobe", 0, "", "");
    uint32_t blinder = rig_fixture(&dry->rig, 9, type, NULL, 1, 1);
    const struct step quiet[] = { { STEP_SET, .fixture = blinder, .text = "intensity", .percent = 100 },
                                  { STEP_SET, .fixture = blinder, .text = "strobe", .percent = 0 },
                                  { STEP_WAIT, .seconds = 0.5 },
                                  { STEP_CLEAR, .fixture = blinder },
                                  { .kind = STEP_DONE } };
    run(dry, quiet);
    assert_int_equal(dry->err, 0);
    assert_string_equal(dry->told, "");
    assert_null(strstr(dry->trace, "\"told\""));
}

static void a_strobe_that_is_raised_is_told(void **state)
{
    struct dry *dry = *state;
    const char *type = rig_type(&dry->rig, "blinder", HAZARD_NONE, "intensity strobe", 0, "", "");
    uint32_t blinder = rig_fixture(&dry->rig, 9, type, NULL, 1, 1);
    const struct step steps[] = { { STEP_SET, .fixture = blinder, .text = "strobe", .percent = 1 }, { .kind = STEP_DONE } };
    run(dry, steps);
    assert_string_equal(dry->told, "fixture 9 Lamp 9: strobe and shutter slots are held at 0");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_change_goes_out_at_once_and_three_times_more),
        TEST(what_is_commanded_at_the_very_end_still_goes_out),
        TEST(a_script_that_is_done_at_once_has_one_frame_of_its_levels),
        TEST(a_script_that_breaks_goes_straight_to_the_defaults),
        TEST(the_guard_ends_a_run_with_the_levels_before),
        TEST(a_question_is_skipped_at_once),
        TEST(the_trace_is_one_object_a_line),
        TEST(two_runs_are_equal_byte_for_byte),
        TEST(a_run_that_does_not_move_on_is_ended),
        TEST(a_run_is_a_day_long_at_most),
        TEST(a_target_takes_every_universe),
        TEST(a_unicast_transmitter_gets_its_universes),
        TEST(a_host_that_is_no_address_is_bad_input),
        TEST(a_capture_that_cannot_be_written_ends_the_run),
        TEST(a_trace_that_cannot_be_written_is_told),
        TEST(an_unarmed_hazard_is_told_once),
        TEST(a_locked_slot_that_is_cleared_or_asked_for_what_it_holds_is_not_told),
        TEST(a_strobe_that_is_raised_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
