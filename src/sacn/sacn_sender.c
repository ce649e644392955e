/* The sender: one non-blocking UDP socket, datagrams out in batches of one system call each. */
#include "rigcall/sacn.h"

#include <arpa/inet.h>
#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sacn_internal.h"

#define SEND_BUFFER (1 << 20)        /* octets: some 700 full packets, so that a burst does not meet a full buffer */

struct sacn_sender {
    int fd;
    struct sacn__way way;
    struct in_addr unicast_source;   /* what datagrams to way.to come from */
    uint16_t from_port;              /* network order */
    uint64_t lost;
    struct mmsghdr messages[SACN_BATCH];
    struct iovec parts[SACN_BATCH];
    struct sockaddr_in addresses[SACN_BATCH];
};

static int fail_errno(struct rig_why *why, const char *what)
{
    return rig_fail(why, RIG_ENET, "%s: %s", what, strerror(errno));
}

static int set_up(struct sacn_sender *sender, struct rig_why *why)
{
    const struct ip_mreqn out = { .imr_address = sender->way.source, .imr_ifindex = (int)sender->way.interface_index };
    const int ttl = SACN__MULTICAST_TTL, unicast_ttl = SACN__UNICAST_TTL, on = 1, buffer = SEND_BUFFER;
    struct sockaddr_in any = { .sin_family = AF_INET };
    socklen_t size = sizeof any;
    int fd = sender->fd;
    if (setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out) != 0)
        return fail_errno(why, sender->way.interface);
    /* Loopback on: a visualiser or a second check on this very host hears what goes out. */
    if (setsockopt(fd, IPPROTO_IP, IP_MULTICAST_TTL, &ttl, sizeof ttl) != 0 ||
        setsockopt(fd, IPPROTO_IP, IP_TTL, &unicast_ttl, sizeof unicast_ttl) != 0 ||
        setsockopt(fd, IPPROTO_IP, IP_MULTICAST_LOOP, &on, sizeof on) != 0)
        return fail_errno(why, "socket options");
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &buffer, sizeof buffer);     /* as much of it as the kernel allows */
    if (bind(fd, (struct sockaddr *)&any, sizeof any) != 0 || getsockname(fd, (struct sockaddr *)&any, &size) != 0)
        return fail_errno(why, "cannot bind a UDP socket");
    sender->from_port = any.sin_port;
    return 0;
}

/* With an interface named, unicast still follows the route, so its source may be another interface's. */
static int find_unicast_source(struct sacn_sender *sender, const struct sacn_target *target, struct rig_why *why)
{
    const struct sacn_target routed = { .to = target->to, .port = target->port };
    struct sacn__way way;
    if (!target->to)
        return 0;
    int error = sacn__find_way(&routed, &way, why);
    sender->unicast_source = way.source;
    return error;
}

int sacn_sender_open(const struct sacn_target *target, struct sacn_sender **out, struct rig_why *why)
{
    struct sacn_sender *sender = calloc(1, sizeof *sender);
    int error;
    *out = NULL;
    if (!sender)
        return rig_fail(why, RIG_ENOMEM, "no memory for a sender");
    sender->fd = -1;
    error = sacn__find_way(target, &sender->way, why);
    if (!error)
        error = find_unicast_source(sender, target, why);
    if (error)
        goto out;
    sender->fd = socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    error = sender->fd < 0 ? fail_errno(why, "socket") : set_up(sender, why);
    if (error)
        goto out;
    for (size_t i = 0; i < SACN_BATCH; i++) {
        sender->messages[i].msg_hdr.msg_iov = &sender->parts[i];
        sender->messages[i].msg_hdr.msg_iovlen = 1;
        sender->messages[i].msg_hdr.msg_name = &sender->addresses[i];
        sender->messages[i].msg_hdr.msg_namelen = sizeof sender->addresses[i];
        sender->addresses[i].sin_family = AF_INET;
        sender->addresses[i].sin_port = htons(sender->way.port);
    }
    *out = sender;
    sender = NULL;
out:
    sacn_sender_close(sender);
    return error;
}

void sacn_sender_close(struct sacn_sender *sender)
{
    if (!sender)
        return;
    if (sender->fd >= 0)
        close(sender->fd);
    free(sender);
}

static struct in_addr address_of(const struct sacn_sender *sender, const struct sacn_datagram *datagram)
{
    if (datagram->address.s_addr != INADDR_ANY)
        return datagram->address;
    return sender->way.to.s_addr != INADDR_ANY ? sender->way.to : sacn_group(datagram->universe);
}

static bool network_gone(int error)
{
    return error == ENETDOWN || error == ENETUNREACH || error == ENODEV || error == ENXIO || error == EADDRNOTAVAIL;
}

int sacn_sender_send(struct sacn_sender *sender, const struct sacn_datagram *datagrams, size_t count, struct rig_why *why)
{
    size_t at = 0, sent = 0;
    int trouble = 0;
    assert(count <= SACN_BATCH);
    for (size_t i = 0; i < count; i++) {
        sender->parts[i].iov_base = (void *)(uintptr_t)datagrams[i].bytes;     /* sendmmsg() only reads it */
        sender->parts[i].iov_len = datagrams[i].length;
        sender->addresses[i].sin_addr = address_of(sender, &datagrams[i]);
    }
    while (at < count) {
        int taken = sendmmsg(sender->fd, sender->messages + at, (unsigned)(count - at), MSG_DONTWAIT);
        if (taken > 0) {
            at += (size_t)taken;
            sent += (size_t)taken;
        } else if (errno != EINTR) {
            trouble = errno;
            sender->lost++;           /* the first of the rest is the one that was refused */
            at++;
        }
    }
    if (sent == 0 && network_gone(trouble))
        return rig_fail(why, RIG_ENET, "cannot send on %s: %s", sender->way.interface, strerror(trouble));
    return (int)sent;
}

void sacn_sender_addresses(const struct sacn_sender *sender, uint16_t universe, struct sockaddr_in *from,
                           struct sockaddr_in *to)
{
    const struct sacn_datagram any = { .universe = universe };
    bool unicast = sender->way.to.s_addr != INADDR_ANY;
    *from = (struct sockaddr_in){ .sin_family = AF_INET, .sin_port = sender->from_port,
                                  .sin_addr = unicast ? sender->unicast_source : sender->way.source };
    *to = (struct sockaddr_in){ .sin_family = AF_INET, .sin_port = htons(sender->way.port),
                                .sin_addr = address_of(sender, &any) };
}

uint64_t sacn_sender_lost(const struct sacn_sender *sender)
{
    return sender->lost;
}
