/* A receiver opened, asked and closed. */
#include "rigcall/sacn_receive.h"

#include <errno.h>
#include <linux/sock_diag.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <unistd.h>

#include "sacn_receiver_internal.h"

/* A socket of both families hears IPv4 too, and the kernel prefers a plain IPv4 socket of another program on the port for
 * unicast: listening takes nothing away from it. The same among IPv6 ones: of those with SO_REUSEPORT the kernel asks last. */
static int open_socket(struct sacn_receiver *receiver)
{
    const int on = 1, off = 0;
    int fd = sacn__receiver_socket(receiver, AF_INET6);
    if (fd >= 0) {
        if (setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &off, sizeof off) == 0 &&
            setsockopt(fd, SOL_SOCKET, SO_REUSEPORT, &on, sizeof on) == 0 &&
            setsockopt(fd, IPPROTO_IP, IP_MULTICAST_ALL, &on, sizeof on) == 0 &&     /* off in an IPv6 socket, on in others */
            setsockopt(fd, IPPROTO_IPV6, IPV6_RECVPKTINFO, &on, sizeof on) == 0)
            return fd;
        close(fd);
    }
    if (receiver->ipv6)
        return -1;
    fd = sacn__receiver_socket(receiver, AF_INET);
    if (fd >= 0 && setsockopt(fd, IPPROTO_IP, IP_PKTINFO, &on, sizeof on) == 0)
        return fd;
    if (fd >= 0)
        close(fd);
    return -1;
}

uint32_t sacn__receiver_buffer(int fd, uint32_t asked)
{
    int wanted = (int)asked, granted = 0;
    socklen_t size = sizeof granted;
    if (setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &wanted, sizeof wanted) != 0)
        setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &wanted, sizeof wanted);
    getsockopt(fd, SOL_SOCKET, SO_RCVBUF, &granted, &size);
    return (uint32_t)granted / 2;     /* the kernel doubles what it is asked for, and tells the double */
}

static int bind_socket(const struct sacn_receiver *receiver)
{
    union sacn_address any;
    int family;
    socklen_t size = sizeof family;
    memset(&any, 0, sizeof any);
    if (getsockopt(receiver->main.fd, SOL_SOCKET, SO_DOMAIN, &family, &size) != 0)
        return -1;
    any.any.sa_family = (sa_family_t)family;
    if (family == AF_INET6)
        any.v6.sin6_port = htons(receiver->port);
    else
        any.v4.sin_port = htons(receiver->port);
    return bind(receiver->main.fd, &any.any, family == AF_INET6 ? sizeof any.v6 : sizeof any.v4);
}

static int listen_on_port(struct sacn_receiver *receiver, struct rig_why *why)
{
    const int on = 1;
    const char *step = "socket";
    receiver->main.fd = open_socket(receiver);
    if (receiver->main.fd < 0)
        goto failed;
    receiver->granted = sacn__receiver_buffer(receiver->main.fd, receiver->asked);
    step = "sharing the port";
    if (setsockopt(receiver->main.fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0)
        goto failed;
    step = "times of arrival";
    if (setsockopt(receiver->main.fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on) != 0)
        goto failed;
    step = "binding it (does another program hold the port for itself?)";
    if (bind_socket(receiver) != 0)
        goto failed;
    step = "watching it";
    receiver->epoll = epoll_create1(EPOLL_CLOEXEC);
    if (receiver->epoll >= 0 && sacn__receiver_gather_init(receiver) == 0 &&
        sacn__receiver_watch(receiver, receiver->main.fd) == 0)
        return 0;
failed:
    return rig_fail(why, RIG_ENET, "cannot listen on port %u: %s: %s", receiver->port, step, strerror(errno));
}

static size_t count_distinct(const uint16_t *universes, size_t count)
{
    uint8_t seen[(UINT16_MAX + 1) / 8] = { 0 };
    size_t distinct = 0;
    for (size_t i = 0; i < count; i++) {
        uint8_t bit = (uint8_t)(1u << universes[i] % 8);
        distinct += sacn__is_universe(universes[i]) && !(seen[universes[i] / 8] & bit);
        seen[universes[i] / 8] |= bit;
    }
    return distinct;
}

static int join_all(struct sacn_receiver *receiver, const uint16_t *universes, size_t count, struct rig_why *why)
{
    int error = 0;
    receiver->wanted = (count_distinct(universes, count) + 1) * receiver->interface_count;
    for (size_t i = 0; i < count && !error; i++)
        if (sacn__is_universe(universes[i]))
            error = sacn__receiver_add(receiver, universes[i], why);
    return error ? error : sacn__receiver_add(receiver, SACN_DISCOVERY_UNIVERSE, why);
}

int sacn_receiver_open(const struct sacn_receiver_options *options, const uint16_t *universes, size_t count,
                       struct sacn_receiver **out, struct rig_why *why)
{
    struct sacn_receiver *receiver = calloc(1, sizeof *receiver);
    int error;
    *out = NULL;
    if (!receiver)
        return rig_fail(why, RIG_ENOMEM, "no memory for a receiver");
    receiver->epoll = receiver->timer = receiver->main.fd = -1;
    sacn__batch_init(&receiver->batch);
    receiver->ipv6 = options->ipv6;
    receiver->port = options->port ? options->port : SACN_PORT;
    receiver->asked = options->buffer ? options->buffer : DEFAULT_BUFFER;
    if (receiver->asked > INT32_MAX / 2)
        receiver->asked = INT32_MAX / 2;
    error = listen_on_port(receiver, why);
    if (!error)
        error = sacn__receiver_interfaces(receiver, options, why);
    if (!error)
        error = join_all(receiver, universes, count, why);
    if (!error) {
        *out = receiver;
        receiver = NULL;
    }
    sacn_receiver_close(receiver);
    return error;
}

int sacn_receiver_join(struct sacn_receiver *receiver, uint16_t universe, struct rig_why *why)
{
    if (!sacn__is_universe(universe))
        return rig_fail(why, RIG_ENET, "universe %u has no group, 1..%d have", universe, SACN_LAST_UNIVERSE);
    if (!sacn__receiver_has(receiver, universe) && receiver->groups >= receiver->wanted)
        receiver->wanted = receiver->groups + receiver->interface_count;
    return sacn__receiver_add(receiver, universe, why);
}

int sacn_receiver_fd(const struct sacn_receiver *receiver)
{
    return receiver->epoll;
}

/* SO_RXQ_OVFL would tell the count with each datagram, as it was when that one came: what is dropped last is not told. */
static uint32_t drops_of(int fd)
{
    uint32_t memory[SK_MEMINFO_VARS] = { 0 };
    socklen_t size = sizeof memory;
    getsockopt(fd, SOL_SOCKET, SO_MEMINFO, memory, &size);
    return memory[SK_MEMINFO_DROPS];
}

uint64_t sacn__queue_dropped(const struct sacn__queue *queue)
{
    return queue->dropped + (uint32_t)(drops_of(queue->fd) - queue->drops_seen);
}

void sacn__queue_note_drops(struct sacn__queue *queue)
{
    uint64_t dropped = sacn__queue_dropped(queue);
    queue->drops_seen += (uint32_t)(dropped - queue->dropped);
    queue->dropped = dropped;
}

void sacn_receiver_state(const struct sacn_receiver *receiver, struct sacn_receiver_state *state)
{
    *state = (struct sacn_receiver_state){ .sockets = (uint32_t)receiver->holder_count + 1 + receiver->flood_count,
                                           .groups = receiver->groups, .buffer = receiver->granted,
                                           .dropped = sacn__queue_dropped(&receiver->main), .floods = receiver->flood_count };
    for (uint32_t i = 0; i < receiver->flood_count; i++) {
        state->flooded[i] = receiver->floods[i].universe;
        state->dropped += sacn__queue_dropped(&receiver->floods[i].queue);
    }
}

void sacn_receiver_close(struct sacn_receiver *receiver)
{
    if (!receiver)
        return;
    for (size_t i = 0; i < receiver->holder_count; i++)
        close(receiver->holders[i]);
    for (uint32_t i = 0; i < receiver->flood_count; i++)
        close(receiver->floods[i].queue.fd);
    if (receiver->main.fd >= 0)
        close(receiver->main.fd);
    if (receiver->timer >= 0)
        close(receiver->timer);
    if (receiver->epoll >= 0)
        close(receiver->epoll);
    if (receiver->limit_raised)
        setrlimit(RLIMIT_NOFILE, &receiver->limit);
    free(receiver->holders);
    free(receiver);
}
