/* Looking before output starts: who else sends on our universes?
 * One socket a group and interface, bound to the group's own address. A socket bound to the port alone would take unicast
 * datagrams away from another program on this host while we look; this one can only ever receive its group. It also keeps clear of the
 * kernel's limit on groups a socket (net.ipv4.igmp_max_memberships, 20 by default). */
#include "rigcall/sacn.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "sacn_internal.h"

#define RIVAL_LIMIT 64
#define POLL_MS 50
#define READY_LIMIT 64
#define RECEIVE_BATCH 16
#define RECEIVE_SIZE (LARGEST_PACKET + 1)    /* so that what is longer shows */
#define RECEIVE_BUFFER (1 << 18)
#define SPARE_DESCRIPTORS 32         /* what the program may open besides, when the limit on them is raised */

#define WAYS (2 * SACN_INTERFACES)   /* an interface in both families */

struct look {
    struct sacn__way ways[WAYS];
    size_t way_count;
    uint16_t port;
    const uint8_t *own_cid;
    int epoll, *sockets;
    size_t socket_count;
    struct rlimit limit; bool limit_raised;
    uint32_t *index_of;              /* by universe, SACN_LAST_UNIVERSE + 1 entries: index + 1, or 0 */
    uint16_t *priorities;            /* by index: the lowest one that makes a rival */
    struct sacn_rival *found;        /* by index; universe 0: none */
    size_t count;
    struct mmsghdr messages[RECEIVE_BATCH];
    struct iovec parts[RECEIVE_BATCH];
    union sacn_address from[RECEIVE_BATCH];
    uint8_t bytes[RECEIVE_BATCH][RECEIVE_SIZE];
};

static int64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

static void look_fini(struct look *look)
{
    for (size_t i = 0; i < look->socket_count; i++)
        close(look->sockets[i]);
    if (look->epoll >= 0)
        close(look->epoll);
    if (look->limit_raised)
        setrlimit(RLIMIT_NOFILE, &look->limit);
    free(look->sockets);
    free(look->index_of);
    free(look->priorities);
    free(look->found);
    free(look);
}

static struct look *look_new(const uint16_t *universes, const uint8_t *priorities, size_t count, const uint8_t *own_cid)
{
    struct look *look = calloc(1, sizeof *look);
    if (!look)
        return NULL;
    look->epoll = -1;
    look->own_cid = own_cid;
    look->sockets = calloc(count * WAYS + 1, sizeof *look->sockets);
    look->index_of = calloc(SACN_LAST_UNIVERSE + 1, sizeof *look->index_of);
    look->priorities = calloc(count + 1, sizeof *look->priorities);
    look->found = calloc(count + 1, sizeof *look->found);
    if (!look->sockets || !look->index_of || !look->priorities || !look->found) {
        look_fini(look);
        return NULL;
    }
    for (size_t i = 0; i < count; i++) {
        if (!sacn__is_universe(universes[i]) || look->index_of[universes[i]] != 0)
            continue;
        look->priorities[look->count] = priorities[i];
        look->index_of[universes[i]] = (uint32_t)++look->count;
    }
    for (size_t i = 0; i < RECEIVE_BATCH; i++) {
        look->parts[i] = (struct iovec){ .iov_base = look->bytes[i], .iov_len = RECEIVE_SIZE };
        look->messages[i].msg_hdr.msg_iov = &look->parts[i];
        look->messages[i].msg_hdr.msg_iovlen = 1;
        look->messages[i].msg_hdr.msg_name = &look->from[i];
    }
    return look;
}

/* ---- where to listen ---- */

static int add_way(struct look *look, const char *interface, const union sacn_address *to, struct rig_why *why)
{
    struct sacn__way *way = &look->ways[look->way_count];
    int error = sacn__find_way(interface, to, way, why);
    if (!error)
        look->way_count++;
    return error;
}

/* The interfaces that are named, else the one that the route to the host or the groups takes. */
static int find_ways(struct look *look, const struct sacn_target *target, struct rig_why *why)
{
    union sacn_address to, group;
    int error = 0;
    memset(&to, 0, sizeof to);
    if (target->to)
        error = sacn__find_host(target, &to, why);
    bool ipv6 = target->to ? to.any.sa_family == AF_INET6 : target->ipv6;
    look->port = target->to ? SACN_PORT : sacn__port(target);      /* the target's own port is not ours to take */
    sacn_group_address(SACN_FIRST_UNIVERSE, ipv6, look->port, &group);
    for (uint32_t i = 0; i < target->interface_count && !error; i++)
        error = add_way(look, target->interfaces[i], &group, why);
    if (target->interface_count == 0 && !error)
        error = add_way(look, NULL, target->to ? &to : &group, why);
    if (error || !ipv6)
        return error;
    sacn_group_address(SACN_FIRST_UNIVERSE, false, look->port, &group);
    for (size_t i = 0, count = look->way_count; i < count; i++)
        add_way(look, look->ways[i].interface, &group, NULL);      /* where there is IPv4 */
    return 0;
}

/* A socket a universe may be more than a process is given by default (1024); what is raised here is put back at the end. */
static void make_room(struct look *look)
{
    const rlim_t needed = look->count * look->way_count + SPARE_DESCRIPTORS;
    struct rlimit wanted;
    if (getrlimit(RLIMIT_NOFILE, &look->limit) != 0 || look->limit.rlim_cur >= needed)
        return;
    wanted = look->limit;
    wanted.rlim_cur = needed < wanted.rlim_max ? needed : wanted.rlim_max;
    look->limit_raised = setrlimit(RLIMIT_NOFILE, &wanted) == 0;
}

static int share_port(int fd, int family)
{
    const int on = 1, off = 0;
    if (setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0)
        return -1;
    if (family == AF_INET)
        return setsockopt(fd, IPPROTO_IP, IP_MULTICAST_ALL, &off, sizeof off);
    return setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &on, sizeof on);
}

static int join_group(int fd, const struct sacn__way *way, const union sacn_address *group)
{
    if (group->any.sa_family == AF_INET) {
        const struct ip_mreqn membership = { .imr_multiaddr = group->v4.sin_addr, .imr_ifindex = (int)way->index };
        return setsockopt(fd, IPPROTO_IP, IP_ADD_MEMBERSHIP, &membership, sizeof membership);
    }
    const struct ipv6_mreq membership = { .ipv6mr_multiaddr = group->v6.sin6_addr, .ipv6mr_interface = way->index };
    return setsockopt(fd, IPPROTO_IPV6, IPV6_JOIN_GROUP, &membership, sizeof membership);
}

static int join(struct look *look, const struct sacn__way *way, uint16_t universe, struct rig_why *why)
{
    const int family = way->source.any.sa_family, buffer = RECEIVE_BUFFER;
    const char *step = "socket";
    union sacn_address group;
    sacn_group_address(universe, family == AF_INET6, look->port, &group);
    int fd = socket(family, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        goto failed;
    look->sockets[look->socket_count++] = fd;
    setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer);
    step = "sharing the port";
    if (share_port(fd, family) != 0)
        goto failed;
    step = "binding it (does another program hold the port for itself?)";
    if (bind(fd, &group.any, sacn__address_size(&group)) != 0)
        goto failed;
    step = "joining its group";
    if (join_group(fd, way, &group) != 0)
        goto failed;
    step = "watching it";
    if (epoll_ctl(look->epoll, EPOLL_CTL_ADD, fd, &(struct epoll_event){ .events = EPOLLIN, .data.fd = fd }) == 0)
        return 0;
failed:
    return rig_fail(why, RIG_ENET, "cannot listen for universe %u on interface %s, port %u: %s: %s", universe,
                    way->interface, look->port, step, strerror(errno));
}

static int join_all(struct look *look, const uint16_t *universes, size_t count, struct rig_why *why)
{
    bool joined;
    look->epoll = epoll_create1(EPOLL_CLOEXEC);
    if (look->epoll < 0)
        return rig_fail(why, RIG_ENET, "epoll: %s", strerror(errno));
    make_room(look);
    for (size_t i = 0, next = 1; i < count; i++, next += joined) {
        joined = look->index_of[universes[i]] == next;       /* not at its repetitions */
        for (size_t w = 0; w < look->way_count && joined; w++) {
            int error = join(look, &look->ways[w], universes[i], why);
            if (error)
                return error;
        }
    }
    return 0;
}

/* ---- listening ---- */

static void judge(struct look *look, const uint8_t *bytes, size_t length, const union sacn_address *from)
{
    struct sacn_packet packet;
    if (sacn_parse(bytes, length, &packet) != SACN_ACCEPT || packet.kind != SACN_DATA || packet.preview || packet.terminated)
        return;
    uint32_t index = look->index_of[packet.universe];        /* from the packet, not from the group: 9.1.1 */
    if (index == 0 || packet.priority < look->priorities[index - 1] || memcmp(packet.cid, look->own_cid, 16) == 0)
        return;
    struct sacn_rival *rival = &look->found[index - 1];
    if (rival->universe != 0 && rival->priority >= packet.priority)
        return;
    rival->universe = packet.universe;
    rival->priority = packet.priority;
    memcpy(rival->cid, packet.cid, sizeof rival->cid);
    memcpy(rival->name, packet.name, sizeof rival->name);
    sacn_address_text(from, rival->address);
}

/* One batch a socket and turn: a flood on one group holds up neither the others nor the end of the look. */
static void receive(struct look *look, int fd)
{
    for (size_t i = 0; i < RECEIVE_BATCH; i++)
        look->messages[i].msg_hdr.msg_namelen = sizeof look->from[i];
    int got = recvmmsg(fd, look->messages, RECEIVE_BATCH, MSG_DONTWAIT, NULL);
    for (int i = 0; i < got; i++)
        judge(look, look->bytes[i], look->messages[i].msg_len, &look->from[i]);
}

static int watch(struct look *look, double seconds, bool (*stop)(void *context), void *context, struct rig_why *why)
{
    struct epoll_event ready[READY_LIMIT];
    int64_t end = now_ns() + (int64_t)(seconds * 1e9), left;
    while ((left = end - now_ns()) > 0) {
        int64_t left_ms = left / 1000000 + 1;
        if (stop && stop(context))
            return rig_fail(why, RIG_EFAILED, "stopped while listening for other sources");
        int count = epoll_wait(look->epoll, ready, READY_LIMIT, (int)(left_ms < POLL_MS ? left_ms : POLL_MS));
        if (count < 0 && errno != EINTR)
            return rig_fail(why, RIG_ENET, "epoll: %s", strerror(errno));
        for (int i = 0; i < count; i++)
            receive(look, ready[i].data.fd);
    }
    return 0;
}

static int by_universe(const void *a, const void *b)
{
    const struct sacn_rival *left = a, *right = b;
    return (left->universe > right->universe) - (left->universe < right->universe);
}

static int give_rivals(struct look *look, struct sacn_rival **rivals, size_t *rival_count, struct rig_why *why)
{
    size_t count = 0;
    for (size_t i = 0; i < look->count; i++)
        if (look->found[i].universe != 0)
            look->found[count++] = look->found[i];
    if (count == 0)
        return 0;
    qsort(look->found, count, sizeof *look->found, by_universe);
    count = count < RIVAL_LIMIT ? count : RIVAL_LIMIT;
    *rivals = malloc(count * sizeof **rivals);
    if (!*rivals)
        return rig_fail(why, RIG_ENOMEM, "no memory for %zu rivals", count);
    memcpy(*rivals, look->found, count * sizeof **rivals);
    *rival_count = count;
    return 0;
}

int sacn_look(const struct sacn_target *target, const uint16_t *universes, const uint8_t *priorities, size_t count,
              const uint8_t own_cid[16], double seconds, bool (*stop)(void *context), void *context,
              struct sacn_rival **rivals, size_t *rival_count, struct rig_why *why)
{
    struct look *look = look_new(universes, priorities, count, own_cid);
    int error;
    assert(target->interface_count <= SACN_INTERFACES);
    *rivals = NULL;
    *rival_count = 0;
    if (!look)
        return rig_fail(why, RIG_ENOMEM, "no memory to listen for %zu universes", count);
    error = find_ways(look, target, why);
    if (!error)
        error = join_all(look, universes, count, why);
    if (!error)
        error = watch(look, seconds, stop, context, why);
    if (!error)
        error = give_rivals(look, rivals, rival_count, why);
    look_fini(look);
    return error;
}
