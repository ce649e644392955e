/* Memberships of the receiver: on which interfaces, and on how many sockets. The kernel counts memberships a socket
 * (net.ipv4.igmp_max_memberships, 20 by default; net.core.optmem_max), so they overflow to further sockets. These are bound to no
 * port: nothing is ever delivered to them, and they cost a datagram nothing. */
#include "sacn_receiver_internal.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <unistd.h>

static bool is_up(const char *name, int fd)
{
    struct ifreq request;
    memset(&request, 0, sizeof request);
    strcpy(request.ifr_name, name);
    return ioctl(fd, SIOCGIFFLAGS, &request) == 0 && (request.ifr_flags & IFF_UP);
}

/* A listener needs no address on an interface. */
static int add_interface(struct sacn_receiver *receiver, unsigned index, struct rig_why *why)
{
    char *name = receiver->names[receiver->interface_count];
    for (uint32_t i = 0; i < receiver->interface_count; i++)
        if (receiver->interfaces[i] == index)
            return 0;
    if (!if_indextoname(index, name))
        return rig_fail(why, RIG_ENET, "interface %u is gone", index);
    if (!is_up(name, receiver->main.fd))
        return rig_fail(why, RIG_ENET, "interface %s is down", name);
    receiver->interfaces[receiver->interface_count++] = index;
    return 0;
}

int sacn__receiver_interfaces(struct sacn_receiver *receiver, const struct sacn_receiver_options *options, struct rig_why *why)
{
    union sacn_address group;
    struct sacn__way way;
    int error = 0;
    sacn_group_address(SACN_FIRST_UNIVERSE, receiver->ipv6, receiver->port, &group);
    const struct in6_addr first = receiver->ipv6 ? group.v6.sin6_addr : sacn__mapped(group.v4.sin_addr);
    memcpy(receiver->prefix, &first, sizeof receiver->prefix);
    if (options->interface_count > SACN_INTERFACES)
        return rig_fail(why, RIG_ENET, "%u interfaces, at most %d can be listened on", options->interface_count, SACN_INTERFACES);
    for (uint32_t i = 0; i < options->interface_count && !error; i++) {
        unsigned index = if_nametoindex(options->interfaces[i]);
        error = index != 0 ? add_interface(receiver, index, why) :
                             rig_fail(why, RIG_ENET, "there is no interface '%s'", options->interfaces[i]);
    }
    if (options->interface_count > 0 || error)
        return error;
    error = sacn__find_way(NULL, &group, &way, why);
    return error ? error : add_interface(receiver, way.index, why);
}

int sacn__receiver_socket(struct sacn_receiver *receiver, int family)
{
    int fd = socket(family, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd >= 0 || errno != EMFILE || receiver->limit_raised || getrlimit(RLIMIT_NOFILE, &receiver->limit) != 0)
        return fd;
    struct rlimit raised = receiver->limit;
    raised.rlim_cur = raised.rlim_max;
    receiver->limit_raised = raised.rlim_max > receiver->limit.rlim_cur && setrlimit(RLIMIT_NOFILE, &raised) == 0;
    errno = EMFILE;
    return receiver->limit_raised ? socket(family, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0) : -1;
}

int sacn__receiver_member(const struct sacn_receiver *receiver, int fd, const union sacn_address *group, unsigned interface)
{
    struct group_req request;
    memset(&request, 0, sizeof request);
    request.gr_interface = interface;
    memcpy(&request.gr_group, group, sizeof *group);
    int level = receiver->ipv6 ? IPPROTO_IPV6 : IPPROTO_IP;
    return setsockopt(fd, level, MCAST_JOIN_GROUP, &request, sizeof request) == 0 ? 0 : errno;
}

static int add_holder(struct sacn_receiver *receiver)
{
    if (receiver->holder_count == receiver->holder_room) {
        size_t room = receiver->holder_room ? 2 * receiver->holder_room : 16;
        int *holders = realloc(receiver->holders, room * sizeof *holders);
        if (!holders)
            return ENOMEM;
        receiver->holders = holders;
        receiver->holder_room = room;
    }
    int fd = sacn__receiver_socket(receiver, receiver->ipv6 ? AF_INET6 : AF_INET);
    if (fd < 0)
        return errno;
    receiver->holders[receiver->holder_count++] = fd;
    return 0;
}

/* What bounds the memberships of a socket: for IPv4 a number, and for both families octets, less than 64 a membership. */
struct bound { const char *setting; size_t needed; };

static struct bound bound_of(const struct sacn_receiver *receiver)
{
    const struct bound number = { "net.ipv4.igmp_max_memberships", receiver->wanted };
    const struct bound octets = { "net.core.optmem_max", 64 * receiver->wanted + 4096 };
    unsigned memberships = 0;
    FILE *file = receiver->ipv6 ? NULL : fopen("/proc/sys/net/ipv4/igmp_max_memberships", "re");
    if (file && fscanf(file, "%u", &memberships) != 1)
        memberships = 0;
    if (file)
        fclose(file);
    return receiver->ipv6 || memberships >= receiver->wanted ? octets : number;
}

static int no_socket(const struct sacn_receiver *receiver, int error, struct rig_why *why)
{
    struct rlimit limit = { 0, 0 };
    struct bound bound = bound_of(receiver);
    if (error == ENOMEM)
        return rig_fail(why, RIG_ENOMEM, "no memory to listen for %zu groups", receiver->wanted);
    if (error != EMFILE)
        return rig_fail(why, RIG_ENET, "joined %u of %zu groups; no socket for more: %s", receiver->groups, receiver->wanted,
                        strerror(error));
    getrlimit(RLIMIT_NOFILE, &limit);
    return rig_fail(why, RIG_ENET, "joined %u of %zu groups on %zu sockets; this process may have no more than %llu descriptors: "
                    "raise that (ulimit -n), or let a socket join more groups: sysctl -w %s=%zu", receiver->groups, receiver->wanted,
                    receiver->holder_count, (unsigned long long)limit.rlim_cur, bound.setting, bound.needed);
}

static int no_membership(const struct sacn_receiver *receiver, uint16_t universe, const char *interface, int error,
                         struct rig_why *why)
{
    struct bound bound = bound_of(receiver);
    if (error == ENOBUFS || error == ENOMEM)
        return rig_fail(why, RIG_ENET, "joined %u of %zu groups; the kernel lets a socket join no group: sysctl -w %s=%zu",
                        receiver->groups, receiver->wanted, bound.setting, bound.needed);
    return rig_fail(why, RIG_ENET, "cannot join the group of universe %u on interface %s: %s", universe, interface, strerror(error));
}

/* The kernel says ENOBUFS at igmp_max_memberships, and ENOBUFS (IPv4) or ENOMEM (IPv6) at optmem_max. */
static int join_on(struct sacn_receiver *receiver, uint16_t universe, const union sacn_address *group, uint32_t at,
                   struct rig_why *why)
{
    bool fresh = receiver->holder_count == 0;
    for (;;) {
        int error = fresh ? add_holder(receiver) : 0;
        if (error)
            return no_socket(receiver, error, why);
        error = sacn__receiver_member(receiver, receiver->holders[receiver->holder_count - 1], group, receiver->interfaces[at]);
        receiver->groups += error == 0;
        if (error == 0 || error == EADDRINUSE)       /* in use: joined before a failure on another interface */
            return 0;
        if (fresh || (error != ENOBUFS && error != ENOMEM))
            return no_membership(receiver, universe, receiver->names[at], error, why);
        fresh = true;
    }
}

int sacn__receiver_add(struct sacn_receiver *receiver, uint16_t universe, struct rig_why *why)
{
    union sacn_address group;
    if (sacn__receiver_has(receiver, universe))
        return 0;
    sacn_group_address(universe, receiver->ipv6, receiver->port, &group);
    for (uint32_t i = 0; i < receiver->interface_count; i++) {
        int error = join_on(receiver, universe, &group, i, why);
        if (error)
            return error;
    }
    receiver->joined[universe / 8] |= (uint8_t)(1u << universe % 8);
    return 0;
}
