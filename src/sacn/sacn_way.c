/* Which interface and which source address a target's datagrams take. */
#include "rigcall/sacn.h"

#include <arpa/inet.h>
#include <errno.h>
#include <ifaddrs.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sacn_internal.h"

/* The address the kernel would send from: connect() of a UDP socket asks the routing table and sends nothing. */
static int route_source(struct in_addr to, struct in_addr *source, struct rig_why *why)
{
    struct sockaddr_in address = { .sin_family = AF_INET, .sin_port = htons(SACN_PORT), .sin_addr = to };
    socklen_t size = sizeof address;
    char text[INET_ADDRSTRLEN];
    inet_ntop(AF_INET, &to, text, sizeof text);
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return rig_fail(why, RIG_ENET, "socket: %s", strerror(errno));
    bool found = connect(fd, (struct sockaddr *)&address, sizeof address) == 0 &&
                 getsockname(fd, (struct sockaddr *)&address, &size) == 0;
    int error = errno;
    close(fd);
    if (!found)
        return rig_fail(why, RIG_ENET, "no route to %s (%s); name an interface that has one", text, strerror(error));
    *source = address.sin_addr;
    return 0;
}

static struct in_addr interface_address(const struct ifaddrs *item)
{
    struct sockaddr_in address;
    memcpy(&address, item->ifa_addr, sizeof address);
    return address.sin_addr;
}

/* By name, or by address when name is NULL: the first IPv4 address of it that fits. */
static int find_interface(const char *name, struct in_addr source, struct sacn__way *way, struct rig_why *why)
{
    struct ifaddrs *all, *item;
    char text[INET_ADDRSTRLEN];
    if (getifaddrs(&all) != 0)
        return rig_fail(why, RIG_ENET, "cannot list the network interfaces: %s", strerror(errno));
    for (item = all; item; item = item->ifa_next) {
        if (!item->ifa_addr || item->ifa_addr->sa_family != AF_INET)
            continue;
        if (name ? strcmp(item->ifa_name, name) == 0 : interface_address(item).s_addr == source.s_addr)
            break;
    }
    /* An address label ("eth0:1") is not the name of a device. */
    unsigned index = item ? if_nametoindex(item->ifa_name) : 0;
    if (index != 0 && if_indextoname(index, way->interface)) {
        way->interface_index = index;
        way->source = interface_address(item);
    }
    bool up = item && (item->ifa_flags & IFF_UP);
    freeifaddrs(all);
    if (way->interface_index != 0)
        return up ? 0 : rig_fail(why, RIG_ENET, "interface %s is down", way->interface);
    if (!name)
        return rig_fail(why, RIG_ENET, "no interface has the address %s", inet_ntop(AF_INET, &source, text, sizeof text));
    if (if_nametoindex(name) == 0)
        return rig_fail(why, RIG_ENET, "there is no interface '%s'", name);
    return rig_fail(why, RIG_ENET, "interface %s has no IPv4 address", name);
}

int sacn__find_way(const struct sacn_target *target, struct sacn__way *way, struct rig_why *why)
{
    memset(way, 0, sizeof *way);
    way->port = target->port ? target->port : SACN_PORT;
    if (target->to && (inet_pton(AF_INET, target->to, &way->to) != 1 || way->to.s_addr == INADDR_ANY))
        return rig_fail(why, RIG_ENET, "'%s' is not an IPv4 address to send to", target->to);
    if (target->interface)
        return find_interface(target->interface, way->source, way, why);
    struct in_addr source;
    int error = route_source(target->to ? way->to : sacn_group(SACN_FIRST_UNIVERSE), &source, why);
    return error ? error : find_interface(NULL, source, way, why);
}
