/* Virtual time: frames strictly before the time the player waits for are made, then it goes on, so that what it commands at a
 * time is in the first frame at or after it. */
#include <arpa/inet.h>

#include "run.h"

#define COLLECT_MS 50

/* As if it had been sent from this host's loopback address. */
static void find_path(const struct run *run, const struct sacn_datagram *datagram, struct sacn_path *path)
{
    const struct sacn_target *target = &run->play->target;
    const uint16_t port = target->port ? target->port : SACN_PORT;
    if (run->to.any.sa_family != AF_UNSPEC)
        path->to = run->to;
    else if (datagram->address)
        path->to = *datagram->address;
    else
        sacn_group_address(datagram->universe, target->ipv6, port, &path->to);
    if (path->to.any.sa_family == AF_INET)
        path->from.v4 = (struct sockaddr_in){ .sin_family = AF_INET, .sin_port = htons(SACN_PORT),
                                              .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    else
        path->from.v6 = (struct sockaddr_in6){ .sin6_family = AF_INET6, .sin6_port = htons(SACN_PORT),
                                               .sin6_addr = IN6ADDR_LOOPBACK_INIT };
    path->ttl = sacn_target_ttl(target, &path->to);
    path->dscp = target->dscp;
}

static void capture_one(struct run *run, uint64_t frame, const struct sacn_datagram *datagram)
{
    struct sacn_path path;
    struct rig_why why;
    if (run->capture_failed)
        return;
    find_path(run, datagram, &path);
    int err = sacn_capture_write(run->play->capture, (int64_t)(engine_frame_time(run->engine, frame) + 0.5), &path, datagram->bytes,
                                 datagram->length, &why);
    if (err) {
        run->capture_failed = true;
        run_fail_why(run, err, &why);
    }
}

static void capture_all(struct run *run, uint64_t frame, const struct announce_due *due)
{
    for (uint32_t i = 0; i < due->count; i++)
        capture_one(run, frame, &due->datagrams[i]);
}

static void capture(struct run *run, uint64_t frame)
{
    for (uint32_t i = 0; i < run->output.due_count; i++) {
        struct sacn_datagram datagram = output_datagram(&run->output, run->output.due[i]);
        capture_one(run, frame, &datagram);
    }
    capture_all(run, frame, &run->announce.sync);
    capture_all(run, frame, &run->announce.discovery);
}

static void frame(struct run *run, enum output_kind kind)
{
    uint64_t number = run_frame(run, kind);
    run->report->packets += run->output.due_count;
    run->report->sync_packets += run->announce.sync.count;
    run->report->discovery_packets += run->announce.discovery.count;
    if (run->play->capture)
        capture(run, number);
}

static void frames_before(struct run *run, uint64_t end)
{
    while (run->engine->frame < end && !run->result)
        frame(run, OUTPUT_CHANGES);
}

/* One wish. @return false when the run is over */
static bool grant(struct run *run, int64_t *now_ns)
{
    struct engine_player *player = run->play->player;
    double now_s = (double)*now_ns / 1e9;
    switch (run->wish.kind) {
    case WISH_MORE:
    case WISH_AGAIN:
        return true;
    case WISH_WAIT:
        if (!run_wait(run, *now_ns, now_ns))
            return false;
        frames_before(run, engine_frame_at(run->engine, *now_ns));
        if (!run->result)
            player->resume(player->context, *now_ns, CREW_SKIP, NULL);
        return !run->result;
    case WISH_ASK:
        run_asked(run, now_s);
        run_answered(run, now_s, CREW_SKIP, "");
        run->wish.until_ns = *now_ns;
        if (run_wait(run, *now_ns, now_ns))
            player->resume(player->context, *now_ns, CREW_SKIP, NULL);
        return !run->result;
    case WISH_DONE:
        frames_before(run, engine_frame_at(run->engine, *now_ns) + 1);
        return false;
    case WISH_BROKEN:
        run_fail_why(run, RIG_ESCRIPT, &run->wish.why);
        return false;
    }
    return false;
}

int engine_play_dry(const struct engine_play *play, struct engine_report *report, struct rig_why *why)
{
    struct run run;
    struct engine_player *player = play->player;
    int64_t now_ns = 0;
    if (run_init(&run, play, report, play->capture != NULL))
        return run_fini(&run, why);
    player->resume(player->context, 0, CREW_SKIP, NULL);
    do {
        player->collect(player->context, play->engine, COLLECT_MS, &run.wish);
        run_notices(&run, (double)now_ns / 1e9);
    } while (grant(&run, &now_ns));
    if (run.wish.kind != WISH_DONE && run.wish.kind != WISH_BROKEN && player->stop)
        player->stop(player->context);
    double end_ns = engine_frame_time(run.engine, run.engine->frame);
    run_begin_end(&run, run.wish.kind == WISH_DONE && !run.result ? (double)now_ns / 1e9 : end_ns / 1e9);
    frame(&run, OUTPUT_ALL);
    for (int i = 0; i < RUN_TERMINATED; i++)
        frame(&run, OUTPUT_TERMINATED);
    return run_fini(&run, why);
}
