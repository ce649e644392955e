/* A group of which more comes than can be read must not drown the others: it gets a queue of its own. The socket that hears all
 * is made deaf to it by a membership that includes one source only, which is nobody (a membership with a source list goes before
 * IP_MULTICAST_ALL); the membership that holds the group on the wire stays as it is. */
#include "sacn_receiver_internal.h"

#include <arpa/inet.h>
#include <errno.h>
#include <unistd.h>

#define WINDOW_NS 100000000          /* span of time that is looked at */
#define FLOOD_RATE 2000              /* packets a second: more than 45 sources at the full rate of E1.11, 44 a second */
#define FLOOD_SHARE 4                /* and at least a fourth of all that comes */

static int deafen(const struct sacn_receiver *receiver, const union sacn_address *group, int option)
{
    const struct sockaddr_in nobody = { .sin_family = AF_INET, .sin_addr = { htonl(0xc0000201) } };      /* 192.0.2.1, RFC 5737 */
    const struct sockaddr_in6 nobody6 = { .sin6_family = AF_INET6, .sin6_addr = { .s6_addr = { 0x20, 0x01, 0x0d, 0xb8, [15] = 1 } } };
    struct group_source_req request;
    int error = 0;
    memset(&request, 0, sizeof request);
    memcpy(&request.gsr_group, group, sizeof *group);
    if (receiver->ipv6)
        memcpy(&request.gsr_source, &nobody6, sizeof nobody6);       /* 2001:db8::1, RFC 3849 */
    else
        memcpy(&request.gsr_source, &nobody, sizeof nobody);
    for (uint32_t i = 0; i < receiver->interface_count && !error; i++) {
        request.gsr_interface = receiver->interfaces[i];
        error = setsockopt(receiver->main.fd, receiver->ipv6 ? IPPROTO_IPV6 : IPPROTO_IP, option, &request, sizeof request);
    }
    return error;
}

/* A socket that hears one group and nothing else, all but bound. @return a descriptor or -1 */
static int make_socket(struct sacn_receiver *receiver, const union sacn_address *group)
{
    const int on = 1, off = 0;
    int fd = sacn__receiver_socket(receiver, group->any.sa_family), error;
    if (fd < 0)
        return -1;
    sacn__receiver_buffer(fd, receiver->asked);
    error = setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) || setsockopt(fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on);
    /* Before Linux 4.20 IPV6_MULTICAST_ALL is unknown; bound to the group's address the socket hears no other group anyway. */
    if (receiver->ipv6)
        setsockopt(fd, IPPROTO_IPV6, IPV6_MULTICAST_ALL, &off, sizeof off);
    else
        error = error || setsockopt(fd, IPPROTO_IP, IP_MULTICAST_ALL, &off, sizeof off);
    for (uint32_t i = 0; i < receiver->interface_count && !error; i++)
        error = sacn__receiver_member(receiver, fd, group, receiver->interfaces[i]);
    if (!error && sacn__receiver_watch(receiver, fd) == 0)
        return fd;
    close(fd);
    return -1;
}

/* Unbound the new socket hears nothing yet, so no datagram comes twice. */
static bool set_apart(struct sacn_receiver *receiver, uint16_t universe, int64_t now_ns)
{
    union sacn_address group;
    sacn_group_address(universe, receiver->ipv6, receiver->port, &group);
    int fd = make_socket(receiver, &group);
    if (fd < 0)
        return false;
    if (deafen(receiver, &group, MCAST_JOIN_SOURCE_GROUP) == 0 &&
        bind(fd, &group.any, receiver->ipv6 ? sizeof group.v6 : sizeof group.v4) == 0) {
        receiver->floods[receiver->flood_count++] =
            (struct sacn__flood){ .queue = { .fd = fd }, .universe = universe, .since_ns = now_ns };
        return true;
    }
    deafen(receiver, &group, MCAST_LEAVE_SOURCE_GROUP);
    close(fd);
    return false;
}

static bool is_apart(const struct sacn_receiver *receiver, size_t universe)
{
    for (uint32_t i = 0; i < receiver->flood_count; i++)
        if (receiver->floods[i].universe == universe)
            return true;
    return false;
}

/* The group of which most came to the common queue; 0: none, or unicast, which is no group. */
static uint16_t find_flood(const struct sacn_receiver *receiver, int64_t span_ns)
{
    size_t most = 0;
    uint64_t all = 0;
    for (size_t i = 0; i <= UINT16_MAX; i++) {
        if (is_apart(receiver, i))
            continue;
        all += receiver->taken[i];
        if (receiver->taken[i] > receiver->taken[most])
            most = i;
    }
    uint64_t taken = receiver->taken[most];
    bool floods = taken * FLOOD_SHARE >= all && taken * 1000000000 >= (uint64_t)span_ns * FLOOD_RATE;
    return floods ? (uint16_t)most : 0;
}

void sacn__receiver_watch_floods(struct sacn_receiver *receiver, int64_t now_ns)
{
    int64_t span_ns = now_ns - receiver->window_ns;
    if (span_ns < WINDOW_NS)
        return;
    uint64_t before = receiver->main.dropped;
    sacn__queue_note_drops(&receiver->main);
    for (uint32_t i = 0; i < receiver->flood_count; i++)
        sacn__queue_note_drops(&receiver->floods[i].queue);
    if (receiver->main.dropped > before && receiver->window_ns != 0 && receiver->flood_count < FLOOD_LIMIT) {
        uint16_t universe = find_flood(receiver, span_ns);
        if (universe != 0)
            set_apart(receiver, universe, now_ns);
    }
    memset(receiver->taken, 0, sizeof receiver->taken);
    receiver->window_ns = now_ns;
}
