/* The sockets of a sender: their options. */
#include "sacn_outlet.h"

#include <errno.h>
#include <netinet/udp.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define SEND_BUFFER (1 << 20)         /* octets: some 700 full packets, so that a burst does not meet a full buffer */

static int fail_errno(struct rig_why *why, const char *what)
{
    return rig_fail(why, RIG_ENET, "%s: %s", what, strerror(errno));
}

static bool set(int fd, int level, int name, int value)
{
    return setsockopt(fd, level, name, &value, sizeof value) == 0;
}

/* The DS field is the upper six bits of the octet (RFC 2474 3); the lower two, for congestion, stay 0. */
static bool set_hops_and_dscp(int fd, int family, const struct sacn_target *target)
{
    const int group_ttl = target->ttl ? target->ttl : SACN_MULTICAST_TTL, host_ttl = target->ttl ? target->ttl : SACN_UNICAST_TTL;
    const int octet = target->dscp << 2;
    if (family == AF_INET)
        return set(fd, IPPROTO_IP, IP_MULTICAST_TTL, group_ttl) && set(fd, IPPROTO_IP, IP_TTL, host_ttl) &&
               set(fd, IPPROTO_IP, IP_TOS, octet);
    return set(fd, IPPROTO_IPV6, IPV6_MULTICAST_HOPS, group_ttl) && set(fd, IPPROTO_IPV6, IPV6_UNICAST_HOPS, host_ttl) &&
           set(fd, IPPROTO_IPV6, IPV6_TCLASS, octet);
}

static int open_socket(struct sacn__outlet *outlet, int family, const struct sacn_target *target, struct rig_why *why)
{
    union sacn_address any = { .any = { .sa_family = (sa_family_t)family } };
    socklen_t size = sizeof any;
    *outlet = (struct sacn__outlet){ .fd = socket(family, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0) };
    if (outlet->fd < 0)
        return fail_errno(why, "socket");
    if ((family == AF_INET6 && !set(outlet->fd, IPPROTO_IPV6, IPV6_V6ONLY, 1)) || !set_hops_and_dscp(outlet->fd, family, target))
        return fail_errno(why, "socket options");
    set(outlet->fd, SOL_SOCKET, SO_SNDBUF, SEND_BUFFER);       /* as much of it as the kernel allows */
    if (bind(outlet->fd, &any.any, sacn__address_size(&any)) != 0 || getsockname(outlet->fd, &any.any, &size) != 0)
        return fail_errno(why, "cannot bind a UDP socket");
    outlet->from_port = family == AF_INET ? any.v4.sin_port : any.v6.sin6_port;
    return 0;
}

static bool choose_interface(const struct sacn__outlet *outlet)
{
    const struct ip_mreqn out = { .imr_address = outlet->way.source.v4.sin_addr, .imr_ifindex = (int)outlet->way.index };
    if (outlet->way.source.any.sa_family == AF_INET)
        return setsockopt(outlet->fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out) == 0;
    return set(outlet->fd, IPPROTO_IPV6, IPV6_MULTICAST_IF, (int)outlet->way.index);
}

int sacn__outlet_open_groups(struct sacn__outlet *outlet, const struct sacn__way *way, const struct sacn_target *target,
                             struct rig_why *why)
{
    int family = way->source.any.sa_family, error = open_socket(outlet, family, target, why);
    outlet->way = *way;
    if (!error && !choose_interface(outlet))
        error = fail_errno(why, way->interface);
    /* Loopback on: a visualiser or a second check on this very host hears what goes out. */
    if (!error && !(family == AF_INET ? set(outlet->fd, IPPROTO_IP, IP_MULTICAST_LOOP, 1)
                                      : set(outlet->fd, IPPROTO_IPV6, IPV6_MULTICAST_LOOP, 1)))
        error = fail_errno(why, "socket options");
    if (error)
        sacn__outlet_close(outlet);
    return error;
}

int sacn__outlet_open_host(struct sacn__outlet *outlet, const union sacn_address *host, const struct sacn_target *target,
                           struct rig_why *why)
{
    int error = open_socket(outlet, host->any.sa_family, target, why);
    outlet->host = *host;
    if (error)
        sacn__outlet_close(outlet);
    else                              /* A kernel without it says so here; with a size of 0 nothing changes. */
        outlet->offload = set(outlet->fd, IPPROTO_UDP, UDP_SEGMENT, 0);
    return error;
}

void sacn__outlet_close(struct sacn__outlet *outlet)
{
    if (outlet->fd >= 0)
        close(outlet->fd);
    outlet->fd = -1;
}
