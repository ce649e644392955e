/* The network: look for other sources, then frames by absolute deadlines until the script is done or something ends the run;
 * then, in order, the defaults and three terminated packets a universe. */
#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "live.h"

#define LOOK_S 2.6                   /* E1.31's loss time-out is 2.5 s */
#define TICK_MS 25                   /* limits are to be looked at every 50 ms */
#define RIVALS_TOLD 8
#define SUBTICKS_AFTER 2             /* synchronisation and universe discovery */
#define AT_ONCE 0                    /* a deadline */
#define LEAD_NS_A_UNIVERSE 3000      /* twice what making a frame takes in which every cell changes: see bench_pace */

int64_t live_now(const struct live *live)
{
    return live->stage < LIVE_RUNNING ? 0 : (int64_t)(uv_hrtime() - live->start_ns);
}

static void tell(struct live *live, const char *text)
{
    const struct engine_crew *crew = live->run.play->crew;
    if (crew && crew->told)
        crew->told(crew->context, text);
    trace_event(&live->run.trace, (double)live_now(live) / 1e9, "told", json_pack("{s:o}", "text", trace_text(text)));
}

/* ---- frames ---- */

static void begin_end(struct live *live)
{
    int64_t now_ns = live_now(live);
    live->stage = LIVE_ENDING;
    live_script_stop(live);
    run_begin_end(&live->run, (double)now_ns / 1e9);
}

/* Whether the script's last levels have had their frame. */
static bool script_shown(const struct live *live)
{
    return live->script == SCRIPT_OVER && live->last_made;
}

static enum output_kind output_kind(const struct live *live)
{
    if (live->stage != LIVE_ENDING)
        return OUTPUT_CHANGES;
    return live->ending_frames == 0 ? OUTPUT_ALL : OUTPUT_TERMINATED;
}

/* Sub-ticks of a frame: those of data, in which a universe has its own by its place, due or not, so that it leaves at the same time
 * in every frame; then one for synchronisation and one for universe discovery. */
static uint32_t data_subticks(const struct live *live)
{
    uint32_t count = live->run.output.count;
    return count ? (count + SACN_BATCH - 1) / SACN_BATCH : 1;
}

/* The first sub-tick from one on that has something to send. */
static uint32_t next_subtick(const struct live *live, uint32_t from)
{
    const struct run *run = &live->run;
    uint32_t sync = data_subticks(live);
    if (live->due_at < run->output.due_count)
        return run->output.due[live->due_at] / SACN_BATCH;
    if (from <= sync && run->announce.sync.count)
        return sync;
    if (from <= sync + 1 && run->announce.discovery.count)
        return sync + 1;
    return live->pacer.subticks;
}

static void make_frame(struct live *live)
{
    struct run *run = &live->run;
    engine__skip_to(run->engine, live->pacer.next);
    if (live->stage == LIVE_RUNNING && (run->result || script_shown(live)))
        begin_end(live);
    bool last = live->script == SCRIPT_OVER && engine_frame_at(run->engine, live->script_ns) <= run->engine->frame;
    run_frame(run, output_kind(live));
    live->last_made = last;
    live->ending_frames += live->stage == LIVE_ENDING;
    live->due_at = 0;
    pacer_made(&live->pacer, next_subtick(live, 0));
}

/* What left, as often as it left. */
static void capture(struct live *live, const struct sacn_datagram *datagrams, uint32_t count)
{
    struct run *run = &live->run;
    struct sacn_path paths[SACN_INTERFACES];
    struct rig_why why;
    int64_t now_ns = live_now(live);
    for (uint32_t i = 0; i < count; i++) {
        size_t path_count = sacn_sender_paths(live->sender, i, paths);
        for (size_t p = 0; p < path_count && !run->capture_failed; p++) {
            int err = sacn_capture_write(run->play->capture, now_ns, &paths[p], datagrams[i].bytes, datagrams[i].length, &why);
            if (err) {
                run->capture_failed = true;
                run_fail_why(run, err, &why);
            }
        }
    }
}

static void send_batch(struct live *live, const struct sacn_datagram *datagrams, uint32_t count, uint64_t *counted)
{
    struct run *run = &live->run;
    struct rig_why why;
    int sent = sacn_sender_send(live->sender, datagrams, count, &why);
    if (sent < 0)
        run_fail_why(run, sent, &why);
    else
        *counted += (uint64_t)sent;
    if (run->play->capture && !run->capture_failed)
        capture(live, datagrams, count);
}

static void send_data(struct live *live)
{
    struct sacn_datagram datagrams[SACN_BATCH];
    uint32_t count = 0;
    while (live->due_at < live->run.output.due_count && next_subtick(live, 0) == live->pacer.at)
        datagrams[count++] = output_datagram(&live->run.output, live->run.output.due[live->due_at++]);
    send_batch(live, datagrams, count, &live->run.report->packets);
}

static void send_due_of(struct live *live, const struct announce_due *due, uint64_t *counted)
{
    for (uint32_t at = 0; at < due->count; at += SACN_BATCH)
        send_batch(live, due->datagrams + at, due->count - at < SACN_BATCH ? due->count - at : SACN_BATCH, counted);
}

static void send_subtick(struct live *live)
{
    struct run *run = &live->run;
    int64_t now_ns = live_now(live);
    uint32_t at = live->pacer.at, sync = data_subticks(live);
    if (at < sync)
        send_data(live);
    else if (at == sync)
        send_due_of(live, &run->announce.sync, &run->report->sync_packets);
    else
        send_due_of(live, &run->announce.discovery, &run->report->discovery_packets);
    pacer_sent(&live->pacer, now_ns, next_subtick(live, at + 1));
}

static void close_all(struct live *live)
{
    live->stage = LIVE_OVER;
    deadline_close(&live->deadline);
    live_fd_close(&live->player_fd, false);
    live_fd_close(&live->crew_fd, true);
    if (live->tick_open)
        uv_close((uv_handle_t *)&live->tick, NULL);
    for (int i = 0; i < live->signal_count; i++)
        uv_close((uv_handle_t *)&live->signals[i], NULL);
    live->tick_open = false;
    live->signal_count = 0;
}

static void start_clock(struct live *live)
{
    live->stage = LIVE_RUNNING;
    live->start_ns = uv_hrtime();
}

/* At most one frame a turn of the loop: when the machine is too slow for the rate, signals and the script still have theirs.
 * @return false when the run is over; else *until_ns is when there is more to do */
static bool send_due(struct live *live, int64_t *until_ns)
{
    enum pacer_kind kind;
    bool made = false;
    while ((kind = pacer_next(&live->pacer, live_now(live), until_ns)) != PACER_WAIT) {
        if (kind == PACER_FRAME && made) {
            *until_ns = 0;
            break;
        }
        if (kind == PACER_SUBTICK)
            send_subtick(live);
        else
            make_frame(live);
        made |= kind == PACER_FRAME;
        if (live->ending_frames == 1 + RUN_TERMINATED && live->pacer.at == live->pacer.subticks)
            return false;
    }
    return true;
}

static void ask_for_realtime(struct live *live)
{
    struct rig_why why;
    if (!live->run.play->realtime)
        return;
    int err = realtime_begin(&live->realtime, &why);
    live->run.report->realtime = err ? REALTIME_REFUSED : REALTIME_HAD;
    if (!err)
        return;
    char text[RIG_WHY_TEXT + 64];
    snprintf(text, sizeof text, "%s; the run goes on without it", why.text);
    tell(live, text);
}

static void look_after_realtime(struct live *live)
{
    if (live->run.report->realtime != REALTIME_HAD || !realtime_lost(&live->realtime))
        return;
    live->run.report->realtime = REALTIME_LOST;
    tell(live, "real-time scheduling was given up: the run held a processor for half a second without a pause");
}

void live_work(struct live *live)
{
    int64_t until_ns;
    if (live->stage == LIVE_OVER)
        return;
    look_after_realtime(live);
    if (live->stage == LIVE_PRELUDE) {
        live_script_work(live);
        if (live->more_to_read)
            deadline_set(&live->deadline, AT_ONCE);
        if (live->script == SCRIPT_BUSY && !live->run.result)
            return;
        ask_for_realtime(live);      /* not before: what a script commands at 0 s may take a processor long */
        start_clock(live);
    }
    if (!send_due(live, &until_ns)) {
        close_all(live);
        return;
    }
    live_script_work(live);
    int64_t wake_ns = live->more_to_read ? 0 : live_script_wake(live);
    deadline_set(&live->deadline, live->start_ns + (uint64_t)(wake_ns < until_ns ? wake_ns : until_ns));
}

static void on_deadline(void *context)
{
    live_work(context);
}

static void on_tick(uv_timer_t *handle)
{
    live_work(handle->data);
}

static void on_signal(uv_signal_t *handle, int number)
{
    struct live *live = handle->data;
    live->run.report->interrupted = true;
    const char *name = number == SIGINT ? "SIGINT" : number == SIGTERM ? "SIGTERM" : "SIGHUP";
    run_fail(&live->run, RIG_EFAILED, "stopped by %s", name);
    if (live->stage > LIVE_LOOKING && live->stage < LIVE_ENDING)
        live_script_stop(live);
}

/* ---- before output ---- */

static bool look_stopped(void *context)
{
    struct live *live = context;
    uv_run(&live->loop, UV_RUN_NOWAIT);          /* signals */
    return live->run.result != 0;
}

static void describe_rival(const struct live *live, const struct sacn_rival *rival, char *text, size_t size)
{
    for (uint32_t u = 0; u < live->run.output.count; u++) {
        const struct engine_universe *universe = &live->run.output.universes[u];
        if (universe->wire != rival->universe)
            continue;
        char wire[32] = "";
        if (universe->id != universe->wire)
            snprintf(wire, sizeof wire, " (wire number %u)", universe->wire);
        snprintf(text, size, "universe %lld%s: source \"%s\" at %s sends with priority %u, this run with %u",
                 (long long)universe->id, wire, rival->name, rival->address, rival->priority, universe->priority);
    }
}

static void judge_rivals(struct live *live, const struct sacn_rival *rivals, size_t count)
{
    char text[256] = "", more[48] = "";
    for (size_t i = 0; i < count && i < RIVALS_TOLD && live->run.play->beside; i++) {
        describe_rival(live, &rivals[i], text, sizeof text);
        tell(live, text);
    }
    if (live->run.play->beside || count == 0)
        return;
    describe_rival(live, &rivals[0], text, sizeof text);
    if (count > 1)
        snprintf(more, sizeof more, " (and %zu more sources)", count - 1);
    run_fail(&live->run, RIG_ENET, "%s%s; nothing was sent", text, more);
}

static void look(struct live *live)
{
    struct output *output = &live->run.output;
    uint16_t *universes = calloc((size_t)output->count + 1, sizeof *universes);
    uint8_t *priorities = calloc((size_t)output->count + 1, sizeof *priorities);
    struct sacn_rival *rivals = NULL;
    size_t count = 0;
    struct rig_why why;
    if (!universes || !priorities) {
        run_fail(&live->run, RIG_ENOMEM, "out of memory for a look");
        goto out;
    }
    for (uint32_t u = 0; u < output->count; u++) {
        universes[u] = output->universes[u].wire;
        priorities[u] = output->universes[u].priority;
    }
    int err = output->count ? sacn_look(&live->run.play->target, universes, priorities, output->count,
                                        live->run.play->source.cid, LOOK_S, look_stopped, live, &rivals, &count, &why)
                            : 0;
    if (err)
        run_fail_why(&live->run, err, &why);     /* when a signal stopped it, that is what is told */
    else
        judge_rivals(live, rivals, count);
out:
    free(rivals);
    free(priorities);
    free(universes);
}

/* ---- the loop ---- */

static int check(struct live *live, int err)
{
    if (err)
        run_fail(&live->run, RIG_EIO, "event loop: %s", uv_strerror(err));
    return err;
}

static int open_signals(struct live *live)
{
    static const int numbers[LIVE_SIGNALS] = { SIGINT, SIGTERM, SIGHUP };
    int err = 0;
    for (int i = 0; i < LIVE_SIGNALS && !err; i++) {
        err = uv_signal_init(&live->loop, &live->signals[i]);
        if (err)
            break;
        live->signal_count++;
        live->signals[i].data = live;
        err = uv_signal_start(&live->signals[i], on_signal, numbers[i]);
    }
    return check(live, err);
}

static int open_timers(struct live *live)
{
    int err = uv_timer_init(&live->loop, &live->tick);
    live->tick_open = !err;
    live->tick.data = live;
    if (!err)
        err = uv_timer_start(&live->tick, on_tick, TICK_MS, TICK_MS);
    if (!err)
        err = deadline_init(&live->deadline, &live->loop, on_deadline, live);
    return check(live, err);
}

static void play(struct live *live)
{
    struct rig_why why;
    int err;
    if (open_signals(live))
        return;
    look(live);
    if (live->run.result)
        return;
    if ((err = sacn_sender_open(&live->run.play->target, &live->sender, &why))) {
        run_fail_why(&live->run, err, &why);
        return;
    }
    if (open_timers(live))
        return;
    pacer_init(&live->pacer, live->run.engine->rate_hz, data_subticks(live), SUBTICKS_AFTER,
               (int64_t)live->run.output.count * LEAD_NS_A_UNIVERSE);
    live->stage = LIVE_PRELUDE;
    live_script_start(live);
    live_work(live);
    uv_run(&live->loop, UV_RUN_DEFAULT);
}

int engine_play_live(const struct engine_play *to_play, struct engine_report *report, struct rig_why *why)
{
    struct live *live = calloc(1, sizeof *live);
    if (!live)
        return rig_fail(why, RIG_ENOMEM, "out of memory for a live run");
    if (run_init(&live->run, to_play, report, true) || check(live, uv_loop_init(&live->loop)))
        goto out;
    play(live);
    if (live->stage < LIVE_OVER) {               /* it never came to output */
        live_script_stop(live);
        close_all(live);
    }
    realtime_end(&live->realtime);
    uv_run(&live->loop, UV_RUN_DEFAULT);         /* closing callbacks */
    check(live, uv_loop_close(&live->loop));
    report->late = live->pacer.late;
    report->late_subticks = live->pacer.late_subticks;
    report->lost = live->sender ? sacn_sender_lost(live->sender) : 0;
    sacn_sender_close(live->sender);
out:;
    int result = run_fini(&live->run, why);
    free(live);
    return result;
}
