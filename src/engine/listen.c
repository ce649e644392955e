/* The loop of listening: datagrams into the table as they come, time into it ten times a second. */
#include "rigcall/listen.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <uv.h>

#define TICK_MS 100
#define READ_AT_ONCE 4096            /* datagrams, before the clock is looked at again */
#define FOLLOW_NS 1000000000         /* how often new announcements are looked for */
#define SIGNALS 3

struct listener {
    const struct listen_options *options;
    uv_loop_t loop;
    uv_poll_t readable; bool readable_open;
    uv_timer_t tick; bool tick_open;
    uv_signal_t signals[SIGNALS]; int signal_count;
    struct sacn_receiver *receiver;
    struct listening state;
    int64_t start_ns, next_heard_ns, followed_ns;
    uint32_t followed;
    uint64_t *joined;                /* a bit a universe */
    int result; struct rig_why why;
};

static void stop(struct listener *listener)
{
    if (listener->readable_open)
        uv_close((uv_handle_t *)&listener->readable, NULL);
    if (listener->tick_open)
        uv_close((uv_handle_t *)&listener->tick, NULL);
    for (int i = 0; i < listener->signal_count; i++)
        uv_close((uv_handle_t *)&listener->signals[i], NULL);
    listener->readable_open = listener->tick_open = false;
    listener->signal_count = 0;
}

static void take(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    struct listener *listener = context;
    sacn_table_take(listener->state.table, now_ns, datagram, length, from);
}

static bool is_joined(const struct listener *listener, uint16_t universe)
{
    return listener->joined[universe / 64] >> universe % 64 & 1;
}

static void note_joined(struct listener *listener, uint16_t universe)
{
    listener->joined[universe / 64] |= UINT64_C(1) << universe % 64;
}

/* What cannot be joined is said once and does not end the listening. */
static void follow_one(struct listener *listener, uint16_t universe)
{
    struct rig_why why;
    if (universe < SACN_FIRST_UNIVERSE || universe > SACN_LAST_UNIVERSE || is_joined(listener, universe) ||
        listener->followed >= LISTEN_FOLLOWED)
        return;
    note_joined(listener, universe);
    listener->followed++;
    if (sacn_receiver_join(listener->receiver, universe, &why) && !*listener->state.warning)
        snprintf(listener->state.warning, sizeof listener->state.warning, "universe %u is announced but cannot be heard: %.400s", universe, why.text);
}

static void follow(struct listener *listener, int64_t now_ns)
{
    struct sacn_table *table = listener->state.table;
    const struct sacn_announcer *announcers;
    const uint16_t *universes;
    size_t count = sacn_table_announcers(table, &announcers);
    for (size_t i = 0; i < count; i++)
        for (uint32_t u = SACN_FIRST_UNIVERSE; announcers[i].last_ns >= listener->followed_ns && u <= SACN_LAST_UNIVERSE; u++)
            if (sacn_table_announces(table, i, (uint16_t)u))
                follow_one(listener, (uint16_t)u);
    count = sacn_table_universes(table, &universes);
    for (size_t i = 0; i < count; i++) {
        struct sacn_heard heard;
        if (!sacn_table_universe(table, universes[i], &heard))
            continue;
        for (uint32_t s = 0; s < heard.source_count; s++)
            follow_one(listener, heard.sources[s]->sync_address);
    }
    listener->followed_ns = now_ns;
}

static void look_up(struct listener *listener)
{
    struct listening *state = &listener->state;
    state->now_ns = (int64_t)uv_hrtime();
    state->seconds = (double)(state->now_ns - listener->start_ns) / 1e9;
    sacn_table_advance(state->table, state->now_ns);
    sacn_receiver_state(listener->receiver, &state->receiver);
}

static void on_tick(uv_timer_t *handle)
{
    struct listener *listener = handle->data;
    const struct listen_options *options = listener->options;
    struct listening *state = &listener->state;
    look_up(listener);
    if (options->follow && state->now_ns - listener->followed_ns >= FOLLOW_NS)
        follow(listener, state->now_ns);
    if (options->seconds > 0 && state->seconds >= options->seconds) {
        stop(listener);
        return;
    }
    if (!options->heard || options->every_s <= 0 || state->now_ns < listener->next_heard_ns)
        return;
    listener->next_heard_ns += (int64_t)(options->every_s * 1e9);
    options->heard(options->context, state);
}

static void on_readable(uv_poll_t *handle, int status, int events)
{
    struct listener *listener = handle->data;
    (void)status;
    (void)events;
    int taken = sacn_receiver_read(listener->receiver, READ_AT_ONCE, take, listener, &listener->why);
    if (taken < 0) {
        listener->result = taken;
        stop(listener);
    }
}

static void on_signal(uv_signal_t *handle, int number)
{
    struct listener *listener = handle->data;
    (void)number;
    listener->state.interrupted = true;
    look_up(listener);
    stop(listener);
}

static int open_handles(struct listener *listener)
{
    static const int numbers[SIGNALS] = { SIGINT, SIGTERM, SIGHUP };
    int err = uv_poll_init(&listener->loop, &listener->readable, sacn_receiver_fd(listener->receiver));
    listener->readable_open = !err;
    listener->readable.data = listener->tick.data = listener;
    if (!err)
        err = uv_poll_start(&listener->readable, UV_READABLE, on_readable);
    if (!err) {
        err = uv_timer_init(&listener->loop, &listener->tick);
        listener->tick_open = !err;
    }
    if (!err)
        err = uv_timer_start(&listener->tick, on_tick, TICK_MS, TICK_MS);
    for (int i = 0; i < SIGNALS && !err; i++) {
        err = uv_signal_init(&listener->loop, &listener->signals[i]);
        if (err)
            break;
        listener->signal_count++;
        listener->signals[i].data = listener;
        err = uv_signal_start(&listener->signals[i], on_signal, numbers[i]);
    }
    return err;
}

static void begin(struct listener *listener)
{
    const struct listen_options *options = listener->options;
    for (size_t i = 0; i < options->universe_count; i++)
        note_joined(listener, options->universes[i]);
    sacn_receiver_warning(listener->receiver, listener->state.warning, sizeof listener->state.warning);
    listener->start_ns = (int64_t)uv_hrtime();
    listener->next_heard_ns = listener->start_ns + (int64_t)(options->every_s * 1e9);
    look_up(listener);
}

static int listen_on(struct listener *listener, struct rig_why *why)
{
    int err = uv_loop_init(&listener->loop);
    if (err)
        return rig_fail(why, RIG_EIO, "event loop: %s", uv_strerror(err));
    err = open_handles(listener);
    if (err)
        stop(listener);
    else
        begin(listener);
    uv_run(&listener->loop, UV_RUN_DEFAULT);
    uv_loop_close(&listener->loop);
    if (err)
        return rig_fail(why, RIG_EIO, "event loop: %s", uv_strerror(err));
    if (listener->result && why)
        *why = listener->why;
    return listener->result;
}

int listen_run(const struct listen_options *options, struct listening *end, struct rig_why *why)
{
    struct listener *listener = calloc(1, sizeof *listener);
    int err = RIG_ENOMEM;
    *end = (struct listening){ 0 };
    if (!listener || !(listener->joined = calloc(UINT16_MAX / 64 + 1, sizeof *listener->joined))) {
        rig_fail(why, RIG_ENOMEM, "out of memory to listen");
        goto out;
    }
    listener->options = options;
    err = sacn_table_new(NULL, &listener->state.table, why);
    if (!err)
        err = sacn_receiver_open(&options->receiver, options->universes, options->universe_count, &listener->receiver, why);
    if (!err)
        err = listen_on(listener, why);
    if (err)
        goto out;
    *end = listener->state;                      /* moved to the caller */
    listener->state.table = NULL;
out:
    if (listener) {
        sacn_receiver_close(listener->receiver);
        sacn_table_free(listener->state.table);
        free(listener->joined);
    }
    free(listener);
    return err;
}
