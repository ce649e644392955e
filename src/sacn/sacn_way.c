/* Which interface and which source address datagrams take. */
#include "rigcall/sacn.h"

#include <arpa/inet.h>
#include <errno.h>
#include <ifaddrs.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sacn_internal.h"

/* connect() of a UDP socket asks the routing table and sends nothing. */
int sacn__find_source(const union sacn_address *to, unsigned interface_index, union sacn_address *source)
{
    const int family = to->any.sa_family, index = (int)interface_index;
    const struct ip_mreqn out = { .imr_ifindex = index };
    socklen_t size = sizeof *source;
    int error = 0, fd = socket(family, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    memset(source, 0, sizeof *source);
    if (fd < 0)
        return errno;
    if (index != 0 && (family == AF_INET ? setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out)
                                         : setsockopt(fd, IPPROTO_IPV6, IPV6_MULTICAST_IF, &index, sizeof index)) != 0)
        error = errno;
    else if (connect(fd, &to->any, sacn__address_size(to)) != 0 || getsockname(fd, &source->any, &size) != 0)
        error = errno;
    close(fd);
    if (family == AF_INET)
        source->v4.sin_port = 0;
    else
        source->v6.sin6_port = 0;
    return error;
}

static bool has_address(const struct ifaddrs *item, const union sacn_address *address)
{
    union sacn_address own;
    if (!item->ifa_addr || item->ifa_addr->sa_family != address->any.sa_family)
        return false;
    memcpy(&own, item->ifa_addr, sacn__address_size(address));
    if (address->any.sa_family == AF_INET)
        return own.v4.sin_addr.s_addr == address->v4.sin_addr.s_addr;
    return memcmp(&own.v6.sin6_addr, &address->v6.sin6_addr, sizeof own.v6.sin6_addr) == 0 &&
           (address->v6.sin6_scope_id == 0 || own.v6.sin6_scope_id == address->v6.sin6_scope_id);
}

static int take_interface(const struct ifaddrs *item, struct sacn__way *way)
{
    /* An address label ("eth0:1") is not the name of a device. */
    unsigned index = if_nametoindex(item->ifa_name);
    if (index == 0 || !if_indextoname(index, way->interface))
        return -1;
    way->index = index;
    return 0;
}

/* The first address of an interface; for IPv6, where it may have several of several scopes, the one that the kernel would choose.
 * That there is no route (loopback has none for groups of IPv6) is no trouble for who only listens. */
static void take_source(const struct ifaddrs *item, const union sacn_address *to, struct sacn__way *way)
{
    union sacn_address chosen;
    memcpy(&way->source, item->ifa_addr, sacn__address_size(to));
    if (to->any.sa_family == AF_INET6 && sacn__find_source(to, way->index, &chosen) == 0)
        way->source = chosen;
}

static int find_named(const char *name, const union sacn_address *to, const struct ifaddrs *all, struct sacn__way *way,
                      struct rig_why *why)
{
    const struct ifaddrs *found = NULL;
    bool down = false;
    for (const struct ifaddrs *item = all; item; item = item->ifa_next) {
        if (strcmp(item->ifa_name, name) != 0)
            continue;
        down = !(item->ifa_flags & IFF_UP);
        if (!found && item->ifa_addr && item->ifa_addr->sa_family == to->any.sa_family)
            found = item;
    }
    if (!found && if_nametoindex(name) == 0)
        return rig_fail(why, RIG_ENET, "there is no interface '%s'", name);
    if (down)
        return rig_fail(why, RIG_ENET, "interface %s is down", name);
    if (!found || take_interface(found, way) != 0)
        return rig_fail(why, RIG_ENET, "interface %s has no %s address", name, to->any.sa_family == AF_INET ? "IPv4" : "IPv6");
    take_source(found, to, way);
    return 0;
}

static int find_routed(const union sacn_address *to, const struct ifaddrs *all, struct sacn__way *way, struct rig_why *why)
{
    char text[SACN_ADDRESS_TEXT];
    int error = sacn__find_source(to, 0, &way->source);
    sacn_address_text(to, text);
    if (error)
        return rig_fail(why, RIG_ENET, "no route to %s (%s); name an interface that has one", text, strerror(error));
    for (const struct ifaddrs *item = all; item; item = item->ifa_next)
        if (has_address(item, &way->source) && take_interface(item, way) == 0)
            return item->ifa_flags & IFF_UP ? 0 : rig_fail(why, RIG_ENET, "interface %s is down", way->interface);
    sacn_address_text(&way->source, text);
    return rig_fail(why, RIG_ENET, "no interface has the address %s", text);
}

int sacn__find_way(const char *interface, const union sacn_address *to, struct sacn__way *way, struct rig_why *why)
{
    struct ifaddrs *all;
    memset(way, 0, sizeof *way);
    if (getifaddrs(&all) != 0)
        return rig_fail(why, RIG_ENET, "cannot list the network interfaces: %s", strerror(errno));
    int error = interface ? find_named(interface, to, all, way, why) : find_routed(to, all, way, why);
    freeifaddrs(all);
    return error;
}

int sacn__find_host(const struct sacn_target *target, union sacn_address *host, struct rig_why *why)
{
    bool address = sacn_address_parse(target->to, sacn__port(target), host);
    if (address && sacn_address_is_host(host))
        return 0;
    if (address && host->any.sa_family == AF_INET6 && IN6_IS_ADDR_LINKLOCAL(&host->v6.sin6_addr))
        return rig_fail(why, RIG_ENET, "'%s' needs its zone, as in fe80::1%%eth0", target->to);
    return rig_fail(why, RIG_ENET, "'%s' is not the IPv4 or IPv6 address of a host", target->to);
}

uint8_t sacn_target_ttl(const struct sacn_target *target, const union sacn_address *to)
{
    if (target->ttl != 0)
        return target->ttl;
    return sacn__is_group(to) ? SACN_MULTICAST_TTL : SACN_UNICAST_TTL;
}
