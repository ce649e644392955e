/* Live runs against a network of the test's own: the look, the sender and its addresses are replaced here, so that every datagram is
 * seen and nothing leaves the process. The clock is real, so nothing is asserted about how many frames fit into it. */
#include <arpa/inet.h>
#include <sched.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>
#include <uv.h>

#include "rig.h"

#define SEEN_MOST 40000
#define OTHERS_MOST 400

struct seen { uint16_t universe; uint8_t sequence, level; bool terminated; union sacn_address address; };

/* Synchronisation and universe discovery packets. */
struct other { uint16_t universe; uint16_t length; uint8_t bytes[SACN_DISCOVERY_SIZE]; int after; union sacn_address address; };

static struct network {
    struct seen *seen; int count;
    struct other others[OTHERS_MOST]; int other_count;
    size_t largest_batch;
    int looks, opened, closed, refuse_from, sends;
    uint16_t looked_at[8];
    struct sacn_rival rivals[3]; size_t rival_count;
    int look_signal, send_signal;
    int64_t send_takes_ns;
    double look_s;
} network;

int sacn_look(const struct sacn_target *target, const uint16_t *universes, const uint8_t *priorities, size_t count,
              const uint8_t own_cid[16], double seconds, bool (*stop)(void *context), void *context,
              struct sacn_rival **rivals, size_t *rival_count, struct rig_why *why)
{
    (void)target;
    (void)priorities;
    (void)own_cid;
    network.looks++;
    network.look_s = seconds;
    for (size_t i = 0; i < count && i < 8; i++)
        network.looked_at[i] = universes[i];
    if (network.look_signal) {
        raise(network.look_signal);
        while (!stop(context))
            ;
        return rig_fail(why, RIG_EFAILED, "stopped");
    }
    *rivals = malloc(sizeof network.rivals);
    memcpy(*rivals, network.rivals, sizeof network.rivals);
    *rival_count = network.rival_count;
    return 0;
}

int sacn_sender_open(const struct sacn_target *target, struct sacn_sender **out, struct rig_why *why)
{
    (void)target;
    (void)why;
    network.opened++;
    *out = (struct sacn_sender *)&network;
    return 0;
}

void sacn_sender_close(struct sacn_sender *sender)
{
    network.closed += sender != NULL;
}

static void see_other(const struct sacn_datagram *datagram)
{
    if (network.other_count == OTHERS_MOST)
        return;
    struct other *other = &network.others[network.other_count++];
    *other = (struct other){ .universe = datagram->universe, .length = datagram->length, .after = network.count };
    memcpy(other->bytes, datagram->bytes, datagram->length);
    if (datagram->address)
        other->address = *datagram->address;
}

int sacn_sender_send(struct sacn_sender *sender, const struct sacn_datagram *datagrams, size_t count, struct rig_why *why)
{
    static const union sacn_address nowhere;
    (void)sender;
    if (network.refuse_from && network.count >= network.refuse_from)
        return rig_fail(why, RIG_ENET, "the cable is out");
    uint64_t end_ns = uv_hrtime() + (uint64_t)network.send_takes_ns;
    while (network.send_takes_ns && uv_hrtime() < end_ns)
        ;
    if (network.send_signal && ++network.sends == 10)
        raise(network.send_signal);
    if (count > network.largest_batch)
        network.largest_batch = count;
    for (size_t i = 0; i < count && network.count < SEEN_MOST; i++) {
        if (datagrams[i].bytes[21] == 8) {           /* VECTOR_ROOT_E131_EXTENDED, ANSI E1.31-2018 Appendix A */
            see_other(&datagrams[i]);
            continue;
        }
        network.seen[network.count++] = (struct seen){ datagrams[i].universe, datagrams[i].bytes[111],
                                                       datagrams[i].bytes[126], datagrams[i].bytes[112] & 0x40,
                                                       datagrams[i].address ? *datagrams[i].address : nowhere };
    }
    return (int)count;
}

size_t sacn_sender_paths(struct sacn_sender *sender, size_t index, struct sacn_path paths[SACN_INTERFACES])
{
    (void)sender;
    (void)index;
    (void)paths;
    return 0;
}

uint64_t sacn_sender_lost(const struct sacn_sender *sender)
{
    (void)sender;
    return 0;
}

struct live_test {
    struct rig rig;
    struct steps steps;
    struct engine_player player;
    struct engine_crew crew;
    struct engine_report report;
    struct engine_play play;
    char told[8][300]; int told_count;
    char asked[300];
    int pipe[2];
    int collects, hang_signal;
    bool waited;
    int err;
};

static void told(void *context, const char *text)
{
    struct live_test *test = context;
    if (test->told_count < 8)
        snprintf(test->told[test->told_count++], sizeof test->told[0], "%s", text);
}

static int setup(void **state)
{
    struct live_test *test = calloc(1, sizeof *test);
    rig_init(&test->rig);
    network = (struct network){ .seen = calloc(SEEN_MOST, sizeof *network.seen) };
    test->pipe[0] = test->pipe[1] = -1;
    *state = test;
    return 0;
}

static int teardown(void **state)
{
    struct live_test *test = *state;
    assert_int_equal(network.opened, network.closed);
    engine_report_fini(&test->report);
    rig_fini(&test->rig);
    free(network.seen);
    if (test->pipe[0] >= 0)
        close(test->pipe[0]);
    if (test->pipe[1] >= 0)
        close(test->pipe[1]);
    free(test);
    return 0;
}

static uint32_t dimmer(struct live_test *test, int64_t universe)
{
    const char *type = rig_type(&test->rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    return rig_fixture(&test->rig, universe, type, NULL, universe, 1);
}

static void run(struct live_test *test, const struct step *steps)
{
    rig_start(&test->rig, 44);
    test->steps = (struct steps){ .rig = &test->rig, .steps = steps };
    if (!test->player.collect)
        test->player = steps_player(&test->steps);
    test->crew.context = test;
    test->crew.told = told;
    if (!test->crew.ask)
        test->crew.fd = -1;
    test->play.engine = test->rig.engine;
    test->play.player = &test->player;
    test->play.crew = &test->crew;
    test->err = engine_play_live(&test->play, &test->report, &test->rig.why);
}

/* Every run, however it ends: sequence numbers without a gap; at last a packet of defaults and three terminated ones. */
static void expect_ending(uint16_t universe)
{
    int count = 0, terminated = 0, defaults = 0;
    for (int i = 0; i < network.count; i++) {
        const struct seen *seen = &network.seen[i];
        if (seen->universe != universe)
            continue;
        assert_int_equal(seen->sequence, (uint8_t)count);
        count++;
        if (seen->terminated)
            terminated++;
        else
            assert_int_equal(terminated, 0);
        defaults = seen->level == 0 ? defaults + 1 : 0;
    }
    assert_int_equal(terminated, 3);
    assert_true(defaults >= 4);
}

static bool was_seen(uint16_t universe, uint8_t level)
{
    for (int i = 0; i < network.count; i++)
        if (network.seen[i].universe == universe && network.seen[i].level == level)
            return true;
    return false;
}

static void a_run_looks_first_then_sends_and_puts_back(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 7);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 0.1 },
                                  { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 50 },
                                  { .kind = STEP_DONE } };
    run(test, steps);
    assert_int_equal(test->err, 0);
    assert_int_equal(network.looks, 1);
    assert_true(network.look_s >= 2.5);              /* network data loss time-out, ANSI E1.31-2018 6.7.1 */
    assert_int_equal(network.looked_at[0], 7);
    assert_int_equal(network.seen[0].level, 255);    /* the clock starts when the script has done what it does at 0 s */
    assert_true(was_seen(7, 128));                   /* its last levels have a frame */
    assert_int_equal(network.seen[0].address.any.sa_family, AF_UNSPEC);
    assert_int_equal(test->steps.resumed_at[1], 100 * MS);   /* the script's time is exact, whatever the clock does */
    expect_ending(7);
    assert_int_equal(test->report.packets, network.count);
    assert_int_equal(test->report.yes + test->report.no + test->report.skip, 0);
}

static void a_rival_stops_the_run_before_it_begins(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 7);
    rig_universe(&test->rig, 7, 70, 90);
    const struct step steps[] = { { .kind = STEP_DONE } };
    network.rivals[0] = (struct sacn_rival){ .universe = 70, .priority = 100, .name = "House", .address = "10.0.0.5" };
    network.rival_count = 1;
    run(test, steps);
    assert_int_equal(test->err, RIG_ENET);
    assert_string_equal(test->rig.why.text,
                        "universe 7 (wire number 70): source \"House\" at 10.0.0.5 sends with priority 100, "
                        "this run with 90; nothing was sent");
    assert_int_equal(network.opened, 0);
    assert_int_equal(network.count, 0);
    assert_int_equal(test->steps.resumes, 0);
    assert_true(test->steps.stopped);
}

static void beside_tells_of_the_rival_and_goes_on(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 7);
    const struct step steps[] = { { .kind = STEP_DONE } };
    network.rivals[0] = (struct sacn_rival){ .universe = 7, .priority = 120, .name = "House", .address = "10.0.0.5" };
    network.rival_count = 1;
    test->play.beside = true;
    run(test, steps);
    assert_int_equal(test->err, 0);
    assert_string_equal(test->told[0], "universe 7: source \"House\" at 10.0.0.5 sends with priority 120, this run with 100");
    expect_ending(7);
}

static void a_script_that_breaks_is_put_back(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 0.1 },
                                  { STEP_BREAK, .text = "broke" } };
    run(test, steps);
    assert_int_equal(test->err, RIG_ESCRIPT);
    assert_string_equal(test->rig.why.text, "broke");
    assert_true(was_seen(1, 255));
    expect_ending(1);
}

static void hang_resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    (void)context;
    (void)now_ns;
    (void)answer;
    (void)note;
}

/* A player that never answers; its limits are looked at all the same. */
static void hang_collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct live_test *test = context;
    (void)engine;
    test->waited |= timeout_ms != 0;
    wish->kind = WISH_MORE;
    if (++test->collects == 3)
        raise(test->hang_signal);
}

static void hang_stop(void *context)
{
    ((struct live_test *)context)->steps.stopped = true;
}

static void signals_end_a_run_even_if_the_player_hangs(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, test->pipe), 0);
    test->hang_signal = SIGTERM;
    test->player = (struct engine_player){ test, test->pipe[0], hang_resume, hang_collect, hang_stop };
    run(test, NULL);
    assert_int_equal(test->err, RIG_EFAILED);
    assert_string_equal(test->rig.why.text, "stopped by SIGTERM");
    assert_true(test->report.interrupted);
    assert_true(test->steps.stopped);
    assert_false(test->waited);
    expect_ending(1);
}

static struct live_test *interrupted_test;

static void interrupt_and_wait(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    if (interrupted_test->steps.resumes == 2)
        raise(interrupted_test->hang_signal);
    steps_collect(context, engine, timeout_ms, wish);
}

static void signals_end_a_run_that_has_raised_levels(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 },
                                  { STEP_WAIT, .seconds = 0.05 },
                                  { STEP_WAIT, .seconds = 3600 },
                                  { .kind = STEP_DONE } };
    test->hang_signal = SIGINT;
    interrupted_test = test;
    test->player = steps_player(&test->steps);
    test->player.collect = interrupt_and_wait;
    run(test, steps);
    assert_int_equal(test->err, RIG_EFAILED);
    assert_string_equal(test->rig.why.text, "stopped by SIGINT");
    assert_true(was_seen(1, 255));
    assert_true(test->steps.stopped);
    expect_ending(1);
}

static void a_signal_during_the_look_ends_it_without_output(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    const struct step steps[] = { { .kind = STEP_DONE } };
    network.look_signal = SIGHUP;
    run(test, steps);
    assert_int_equal(test->err, RIG_EFAILED);
    assert_string_equal(test->rig.why.text, "stopped by SIGHUP");
    assert_int_equal(network.count, 0);
    assert_true(test->steps.stopped);
}

static void the_guard_ends_a_live_run(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    struct step steps[201];
    int n = 0;
    for (int i = 0; i < 100; i++) {                  /* 10 Hz, long enough for a machine that leaves frames out */
        steps[n++] = (struct step){ STEP_SET, .fixture = lamp, .text = "intensity", .percent = i % 2 ? 0 : 100 };
        steps[n++] = (struct step){ STEP_WAIT, .seconds = (i + 1) * 0.05 };
    }
    steps[n] = (struct step){ .kind = STEP_DONE };
    run(test, steps);
    assert_int_equal(test->err, RIG_EGUARD);
    assert_true(test->steps.stopped);
    expect_ending(1);
    int changes = 0;
    for (int i = 1; i < network.count; i++)
        changes += network.seen[i].level != network.seen[i - 1].level;
    assert_true(changes <= 7);                       /* seven transitions at most, the way back to the defaults with them */
}

static void without_a_terminal_the_standing_answer_is_given(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    const struct step steps[] = { { STEP_ASK, .fixture = lamp, .text = "Lit?" }, { .kind = STEP_DONE } };
    test->crew.standing = CREW_YES;
    run(test, steps);
    assert_int_equal(test->err, 0);
    assert_int_equal(test->report.yes, 1);
    assert_int_equal(test->steps.answers[1], CREW_YES);
    assert_int_equal(test->report.verdicts[0].fixture, lamp);
}

static void ask(void *context, const char *subject, const char *question)
{
    struct live_test *test = context;
    snprintf(test->asked, sizeof test->asked, "%s: %s", subject, question);
    test->waited |= write(test->pipe[1], "n", 1) != 1;
}

static bool read_answer(void *context, enum crew_answer *answer, char *note, size_t note_size)
{
    struct live_test *test = context;
    char c;
    if (read(test->pipe[0], &c, 1) != 1)
        return false;
    *answer = c == 'n' ? CREW_NO : CREW_YES;
    snprintf(note, note_size, "cell 4 is dark");
    return true;
}

static void the_crew_answers_at_the_terminal(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.05 }, { STEP_ASK, .fixture = lamp, .text = "Lit?" },
                                  { STEP_ASK, .fixture = SHOW_UNKNOWN, .text = "All well?" }, { .kind = STEP_DONE } };
    assert_int_equal(pipe(test->pipe), 0);
    test->crew = (struct engine_crew){ .fd = test->pipe[0], .ask = ask, .read = read_answer };
    run(test, steps);
    assert_int_equal(test->err, 0);
    assert_int_equal(test->report.no, 2);
    assert_string_equal(test->report.verdicts[0].note, "cell 4 is dark");
    assert_string_equal(test->asked, ": All well?");
    assert_true(test->steps.resumed_at[2] >= 50 * MS);       /* at the time of the answer, never before the question */
    assert_true(test->steps.resumed_at[3] >= test->steps.resumed_at[2]);
    expect_ending(1);
}

static void network_trouble_ends_a_run(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 3600 }, { .kind = STEP_DONE } };
    network.refuse_from = 3;
    run(test, steps);
    assert_int_equal(test->err, RIG_ENET);
    assert_string_equal(test->rig.why.text, "the cable is out");
    assert_true(test->steps.stopped);
}

static void large_frames_go_out_in_batches(void **state)
{
    struct live_test *test = *state;
    const char *type = rig_type(&test->rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    uint32_t *grant = calloc(200, sizeof *grant);
    for (uint32_t i = 0; i < 200; i++) {
        test->rig.grant_count = 0;
        grant[i] = rig_fixture(&test->rig, i + 1, type, NULL, i + 1, 1);
    }
    assert_int_equal(show_index(test->rig.show), 0);
    struct engine_options options = { .rate_hz = 40, .fixtures = grant, .fixture_count = 200 };
    assert_int_equal(engine_new(test->rig.show, &options, &test->rig.engine, &test->rig.why), 0);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.03 }, { .kind = STEP_DONE } };
    test->steps = (struct steps){ .rig = &test->rig, .steps = steps };
    test->player = steps_player(&test->steps);
    test->play = (struct engine_play){ .engine = test->rig.engine, .player = &test->player };
    assert_int_equal(engine_play_live(&test->play, &test->report, &test->rig.why), 0);
    assert_int_equal(network.largest_batch, SACN_BATCH);
    for (uint16_t u = 1; u <= 200; u++)
        expect_ending(u);
    free(grant);
}

/* Each frame takes 30 ms to send and there should be one every 22.7: frames are left out and the loop never rests, but it turns. */
static void a_machine_too_slow_for_the_rate_still_hears_signals(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    const char *type = rig_type(&test->rig, "pan", HAZARD_NONE, "pan", 0, "", "");
    uint32_t turning = rig_fixture(&test->rig, 2, type, NULL, 1, 2);
    const struct step steps[] = { { STEP_FADE, .fixture = turning, .text = "pan", .percent = 100, .duration_s = 1 },
                                  { STEP_WAIT, .seconds = 3600 }, { .kind = STEP_DONE } };
    network.send_takes_ns = 30 * MS;
    network.send_signal = SIGTERM;
    run(test, steps);
    assert_int_equal(test->err, RIG_EFAILED);
    assert_string_equal(test->rig.why.text, "stopped by SIGTERM");
    assert_true(network.sends < 20);
    assert_true(test->report.late > 0);
    expect_ending(1);
}

/* A player that has read what it has not yet given to the engine: its descriptor stays silent. */
static void collect_again(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct live_test *test = interrupted_test;
    if (++test->collects % 4 == 0)
        steps_collect(context, engine, timeout_ms, wish);
    else
        *wish = (struct engine_wish){ .kind = WISH_AGAIN, .fixture = SHOW_UNKNOWN };
}

static void a_player_with_more_to_read_is_asked_again(void **state)
{
    struct live_test *test = *state;
    uint32_t lamp = dimmer(test, 1);
    const struct step steps[] = { { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 100 }, { STEP_WAIT, .seconds = 0.1 },
                                  { STEP_SET, .fixture = lamp, .text = "intensity", .percent = 50 }, { STEP_WAIT, .seconds = 0.2 },
                                  { .kind = STEP_DONE } };
    interrupted_test = test;
    test->player = steps_player(&test->steps);
    test->player.collect = collect_again;
    run(test, steps);
    assert_int_equal(test->err, 0);
    assert_int_equal(test->collects, 12);
    assert_true(was_seen(1, 255) && was_seen(1, 128));
    expect_ending(1);
}

static void unicast_hosts_get_their_universes_unless_a_target_is_given(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    struct transmitter *transmitter = show_add_transmitter(test->rig.show);
    struct lane lane = { 1, 1 };
    transmitter->id = "T1";
    transmitter->input = INPUT_UNICAST;
    transmitter->host = "10.20.0.11";
    transmitter->lanes = &lane;
    transmitter->lane_count = 1;
    const struct step steps[] = { { .kind = STEP_DONE } };
    run(test, steps);
    assert_int_equal(network.seen[0].address.v4.sin_addr.s_addr, htonl(0x0a14000b));
    int count = network.count;
    engine_report_fini(&test->report);
    engine_free(test->rig.engine);
    test->play.target.to = "127.0.0.1";
    run(test, steps);
    assert_int_equal(network.seen[count].address.any.sa_family, AF_UNSPEC);
}

/* Octet 43: 1 is synchronisation, 2 universe discovery (ANSI E1.31-2018 Appendix A). All three universes are due in the first four
 * frames and in the last four; what follows the data of a frame comes before the next one's. */
static void synchronisation_and_discovery_follow_the_data_of_a_frame(void **state)
{
    struct live_test *test = *state;
    const char *type = rig_type(&test->rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    for (int u = 1; u <= 3; u++)
        rig_fixture(&test->rig, u, type, NULL, u, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.2 }, { .kind = STEP_DONE } };
    test->play.sync_address = 9;
    run(test, steps);
    assert_int_equal(test->err, 0);
    int syncs = 0, lists = 0, after[100];
    for (int i = 0; i < network.other_count; i++) {
        const struct other *other = &network.others[i];
        if (other->bytes[43] == 1) {
            assert_true(syncs < 100);
            assert_int_equal(other->universe, 9);
            assert_int_equal(other->bytes[44], syncs);       /* sequence */
            assert_int_equal(other->bytes[46], 9);
            after[syncs++] = other->after;
        } else {
            assert_int_equal(other->universe, 64214);
            assert_int_equal(other->length, lists ? 120 : 128);      /* universes 1, 2, 3 and 9; at the end none */
            assert_int_equal(other->after, lists ? network.count : 3);
            lists++;
        }
    }
    assert_int_equal(lists, 2);
    assert_true(syncs >= 8);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(after[i], 3 * (i + 1));
        assert_int_equal(after[syncs - 1 - i], network.count - 3 * i);
    }
    assert_int_equal(test->report.packets, network.count);
    assert_int_equal(test->report.sync_packets, syncs);
    assert_int_equal(test->report.discovery_packets, 2);
}

/* Whether it is allowed is this machine's business: had or refused, it is said, the run is the same, and nothing of it stays. */
static void real_time_scheduling_is_for_the_run_only(void **state)
{
    struct live_test *test = *state;
    dimmer(test, 1);
    const struct step steps[] = { { STEP_WAIT, .seconds = 0.1 }, { .kind = STEP_DONE } };
    test->play.realtime = true;
    run(test, steps);
    assert_int_equal(test->err, 0);
    expect_ending(1);
    assert_int_equal(sched_getscheduler(0) & ~SCHED_RESET_ON_FORK, SCHED_OTHER);
    if (test->report.realtime == REALTIME_HAD) {
        assert_int_equal(test->told_count, 0);
    } else {
        assert_int_equal(test->report.realtime, REALTIME_REFUSED);
        assert_non_null(strstr(test->told[0], "real-time scheduling is refused"));
        assert_non_null(strstr(test->told[0], "; the run goes on without it"));
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_run_looks_first_then_sends_and_puts_back), TEST(a_rival_stops_the_run_before_it_begins),
        TEST(beside_tells_of_the_rival_and_goes_on), TEST(a_script_that_breaks_is_put_back),
        TEST(signals_end_a_run_even_if_the_player_hangs), TEST(signals_end_a_run_that_has_raised_levels),
        TEST(a_signal_during_the_look_ends_it_without_output), TEST(the_guard_ends_a_live_run),
        TEST(without_a_terminal_the_standing_answer_is_given), TEST(the_crew_answers_at_the_terminal),
        TEST(network_trouble_ends_a_run), TEST(large_frames_go_out_in_batches),
        TEST(a_machine_too_slow_for_the_rate_still_hears_signals), TEST(a_player_with_more_to_read_is_asked_again),
        TEST(real_time_scheduling_is_for_the_run_only), TEST(synchronisation_and_discovery_follow_the_data_of_a_frame),
        TEST(unicast_hosts_get_their_universes_unless_a_target_is_given),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
