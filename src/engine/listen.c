/* The loop of listening: datagrams into the table as they come, time into it ten times a second. */
#include "rigcall/listen.h"

#include <net/if.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
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
    uint32_t followed, unfollowed;   /* groups joined because of what was heard; those that are too many */
    char not_heard[320];             /* the first group that could not be followed, and why */
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
    if (universe < SACN_FIRST_UNIVERSE || universe > SACN_LAST_UNIVERSE || is_joined(listener, universe))
        return;
    note_joined(listener, universe);
    if (listener->followed >= LISTEN_FOLLOWED) {
        listener->unfollowed++;
        return;
    }
    listener->followed++;
    if (sacn_receiver_join(listener->receiver, universe, &why) && !*listener->not_heard)
        snprintf(listener->not_heard, sizeof listener->not_heard, "universe %u is announced but cannot be heard: %.250s",
                 universe, why.text);
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

/* ---- what a person should know ---- */

static void __attribute__((format(printf, 2, 3))) warn(struct listener *listener, const char *format, ...)
{
    char *text = listener->state.warning;
    size_t size = sizeof listener->state.warning, used = strlen(text);
    va_list args;
    if (used > 0 && used + 2 < size) {
        memcpy(text + used, "; ", 3);
        used += 2;
    }
    va_start(args, format);
    vsnprintf(text + used, size - used, format, args);
    va_end(args);
}

/* Whoever hears nothing should know that the cable is out. */
static void warn_of_interfaces(struct listener *listener)
{
    const struct sacn_receiver_options *options = &listener->options->receiver;
    int fd = options->interface_count ? socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0) : -1;
    for (uint32_t i = 0; i < options->interface_count && fd >= 0; i++) {
        struct ifreq request = { .ifr_flags = 0 };
        snprintf(request.ifr_name, sizeof request.ifr_name, "%s", options->interfaces[i]);
        if (ioctl(fd, SIOCGIFFLAGS, &request) != 0)
            warn(listener, "interface %s is gone", options->interfaces[i]);
        else if (!(request.ifr_flags & IFF_UP))
            warn(listener, "interface %s is down", options->interfaces[i]);
        else if (!(request.ifr_flags & IFF_RUNNING))
            warn(listener, "interface %s has no link (is the cable in?)", options->interfaces[i]);
    }
    if (fd >= 0)
        close(fd);
}

static void look_at_warnings(struct listener *listener)
{
    sacn_receiver_warning(listener->receiver, listener->state.warning, sizeof listener->state.warning);
    warn_of_interfaces(listener);
    if (*listener->not_heard)
        warn(listener, "%s", listener->not_heard);
    if (listener->unfollowed)
        warn(listener, "%u more universes are announced than the %u that are followed", listener->unfollowed, LISTEN_FOLLOWED);
    listener->state.warning[utf8_cut(listener->state.warning, strlen(listener->state.warning),
                                     sizeof listener->state.warning - 1)] = '\0';
}

/* ---- the loop ---- */

static void read_all(struct listener *listener)
{
    int taken = sacn_receiver_read(listener->receiver, READ_AT_ONCE, take, listener, &listener->why);
    if (taken >= 0 || listener->result)
        return;
    listener->result = taken;
    stop(listener);
}

/* What waits was there before now: a process that was held up would else call every source lost. */
static void look_up(struct listener *listener)
{
    struct listening *state = &listener->state;
    read_all(listener);
    state->now_ns = (int64_t)uv_hrtime();
    state->seconds = (double)(state->now_ns - listener->start_ns) / 1e9;
    sacn_table_advance(state->table, state->now_ns);
    sacn_receiver_state(listener->receiver, &state->receiver);
}

static void finish(struct listener *listener)
{
    look_at_warnings(listener);
    stop(listener);
}

static void tell(struct listener *listener)
{
    const struct listen_options *options = listener->options;
    int64_t every_ns = (int64_t)(options->every_s * 1e9), late_ns = listener->state.now_ns - listener->next_heard_ns;
    if (!options->heard || every_ns <= 0 || late_ns < 0)
        return;
    listener->next_heard_ns += (late_ns / every_ns + 1) * every_ns;
    look_at_warnings(listener);
    if (!options->heard(options->context, &listener->state))
        stop(listener);
}

static void on_tick(uv_timer_t *handle)
{
    struct listener *listener = handle->data;
    const struct listen_options *options = listener->options;
    look_up(listener);
    if (listener->result)
        return;
    if (options->follow && listener->state.now_ns - listener->followed_ns >= FOLLOW_NS)
        follow(listener, listener->state.now_ns);
    if (options->seconds > 0 && listener->state.seconds >= options->seconds)
        finish(listener);
    else
        tell(listener);
}

static void on_readable(uv_poll_t *handle, int status, int events)
{
    struct listener *listener = handle->data;
    (void)events;
    if (status == 0) {
        read_all(listener);
        return;
    }
    listener->result = rig_fail(&listener->why, RIG_ENET, "cannot wait for packets: %s", uv_strerror(status));
    stop(listener);
}

static void on_signal(uv_signal_t *handle, int number)
{
    struct listener *listener = handle->data;
    (void)number;
    listener->state.interrupted = true;
    look_up(listener);
    if (!listener->result)
        finish(listener);
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
