/* The sender: a batch is sorted by the sockets that it leaves through, then goes out with one system call a socket. */
#include "rigcall/sacn.h"

#include <assert.h>
#include <errno.h>
#include <netinet/udp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "sacn_outlet.h"

/* Places: where the datagrams of a batch go through. */
#define HOSTS 256                     /* sockets for one unicast address each; a power of two */
#define SHARED_V4 HOSTS               /* for the hosts that find no free one */
#define SHARED_V6 (HOSTS + 1)
#define GROUPS (HOSTS + 2)            /* the multicast of all interfaces */
#define PLACES (HOSTS + 3)
#define NONE UINT16_MAX               /* the end of a chain */

#define LARGEST_MESSAGE 65507         /* octets that UDP over IPv4 can carry */
_Static_assert(SACN_BATCH <= 64, "the kernel cuts a message into 64 segments at most (UDP_MAX_SEGMENTS of Linux 4.18)");

/* Room for one control message with a 16-bit segment size. */
union segment_control { struct cmsghdr header; uint8_t octets[CMSG_SPACE(sizeof(uint16_t))]; };

struct sacn_sender {
    struct sacn_target target;        /* the texts in it are not kept */
    union sacn_address to;            /* family 0: multicast */
    struct sacn__outlet groups[SACN_INTERFACES];
    struct sacn__outlet hosts[HOSTS + 2];        /* by hash of the address, or the next free one; then those that are shared */
    uint64_t lost;

    /* The batch: which outlet each datagram goes through, in a chain for each outlet, and where it goes. */
    size_t count;
    uint16_t place[SACN_BATCH], next[SACN_BATCH];
    uint16_t first[PLACES], last[PLACES], touched[SACN_BATCH];
    size_t touched_count;
    union sacn_address to_of[SACN_BATCH];
    uint8_t left[SACN_BATCH];         /* bit by interface */

    /* The messages made of one chain. */
    size_t message_count, part_count;
    struct mmsghdr messages[SACN_BATCH];
    struct iovec parts[SACN_BATCH];
    uint16_t part_of[SACN_BATCH];     /* the datagram of each part */
    union segment_control controls[SACN_BATCH];

    int sent, trouble;                /* in this batch; errno */
    const struct sacn__outlet *trouble_at;
};

static int open_groups(struct sacn_sender *sender, struct rig_why *why)
{
    const struct sacn_target *target = &sender->target;
    uint32_t count = target->interface_count ? target->interface_count : 1;
    union sacn_address group;
    sacn_group_address(SACN_FIRST_UNIVERSE, target->ipv6, target->port, &group);
    for (uint32_t i = 0; i < count; i++) {
        struct sacn__way way;
        int error = sacn__find_way(target->interface_count ? target->interfaces[i] : NULL, &group, &way, why);
        for (uint32_t k = 0; k < i && !error; k++)
            if (sender->groups[k].way.index == way.index)
                error = rig_fail(why, RIG_ENET, "interface %s is named twice", way.interface);
        if (!error)
            error = sacn__outlet_open_groups(&sender->groups[i], &way, target, why);
        if (error)
            return error;
    }
    return 0;
}

/* With a host for all, interfaces only say where rivals are listened for; but a wrong name is told. */
static int find_host(struct sacn_sender *sender, struct rig_why *why)
{
    struct sacn__way way;
    int error = sacn__find_host(&sender->target, &sender->to, why);
    for (uint32_t i = 0; i < sender->target.interface_count && !error; i++)
        if (if_nametoindex(sender->target.interfaces[i]) == 0)
            error = rig_fail(why, RIG_ENET, "there is no interface '%s'", sender->target.interfaces[i]);
    return error ? error : sacn__find_way(NULL, &sender->to, &way, why);
}

int sacn_sender_open(const struct sacn_target *target, struct sacn_sender **out, struct rig_why *why)
{
    struct sacn_sender *sender = calloc(1, sizeof *sender);
    assert(target->interface_count <= SACN_INTERFACES && target->dscp <= 63);
    *out = NULL;
    if (!sender)
        return rig_fail(why, RIG_ENOMEM, "no memory for a sender");
    sender->target = *target;
    sender->target.port = sacn__port(target);
    for (size_t i = 0; i < SACN_INTERFACES; i++)
        sender->groups[i].fd = -1;
    for (size_t i = 0; i < HOSTS + 2; i++)
        sender->hosts[i].fd = -1;
    memset(sender->first, 0xff, sizeof sender->first);
    int error = target->to ? find_host(sender, why) : open_groups(sender, why);
    if (error)
        sacn_sender_close(sender);
    else
        *out = sender;
    return error;
}

void sacn_sender_close(struct sacn_sender *sender)
{
    if (!sender)
        return;
    for (size_t i = 0; i < SACN_INTERFACES; i++)
        sacn__outlet_close(&sender->groups[i]);
    for (size_t i = 0; i < HOSTS + 2; i++)
        sacn__outlet_close(&sender->hosts[i]);
    free(sender);
}

/* ---- sorting ---- */

static size_t hash(const union sacn_address *address)
{
    uint32_t words[4] = { address->v4.sin_addr.s_addr, 0, 0, 0 };
    if (address->any.sa_family == AF_INET6)
        memcpy(words, &address->v6.sin6_addr, sizeof words);
    uint32_t mixed = (words[0] ^ words[1] ^ words[2] ^ words[3]) * 2654435761u;       /* Knuth, multiplicative hashing */
    return mixed >> 24 & (HOSTS - 1);
}

/* The place of a host's socket, opened when the host first comes. */
static uint16_t find_place(struct sacn_sender *sender, const union sacn_address *host)
{
    uint16_t shared = host->any.sa_family == AF_INET ? SHARED_V4 : SHARED_V6;
    for (size_t i = 0, from = hash(host); i < HOSTS; i++) {
        size_t at = (from + i) & (HOSTS - 1);
        struct sacn__outlet *outlet = &sender->hosts[at];
        if (outlet->fd < 0 && sacn__outlet_open_host(outlet, host, &sender->target, NULL) != 0)
            break;
        if (sacn_address_equal(&outlet->host, host))
            return (uint16_t)at;
    }
    if (sender->hosts[shared].fd < 0)
        sacn__outlet_open_host(&sender->hosts[shared], host, &sender->target, NULL);
    return shared;
}

static void put(struct sacn_sender *sender, uint16_t index, uint16_t place)
{
    sender->place[index] = place;
    sender->next[index] = NONE;
    if (sender->first[place] == NONE) {
        sender->first[place] = index;
        sender->touched[sender->touched_count++] = place;
    } else {
        sender->next[sender->last[place]] = index;
    }
    sender->last[place] = index;
}

static void sort(struct sacn_sender *sender, const struct sacn_datagram *datagrams)
{
    for (size_t i = 0; i < sender->touched_count; i++)
        sender->first[sender->touched[i]] = NONE;
    sender->touched_count = 0;
    memset(sender->left, 0, sizeof sender->left);
    for (uint16_t i = 0; i < sender->count; i++) {
        const struct sacn_target *target = &sender->target;
        const union sacn_address *host = datagrams[i].address;
        if (!host && sender->to.any.sa_family != AF_UNSPEC)
            host = &sender->to;
        if (host)
            sender->to_of[i] = *host;
        else
            sacn_group_address(datagrams[i].universe, target->ipv6, target->port, &sender->to_of[i]);
        put(sender, i, host ? find_place(sender, host) : GROUPS);
    }
}

/* ---- messages ---- */

/* Whether a datagram can be one more segment of the last message. */
static bool fits(const struct sacn_sender *sender, const struct sacn_datagram *datagrams, uint16_t index)
{
    const struct msghdr *message = &sender->messages[sender->message_count - 1].msg_hdr;
    uint16_t first = sender->part_of[message->msg_iov - sender->parts];
    return datagrams[index].length > 0 && datagrams[index].length == datagrams[first].length &&
           (message->msg_iovlen + 1) * datagrams[index].length <= LARGEST_MESSAGE &&
           sacn_address_equal(&sender->to_of[index], &sender->to_of[first]);
}

static void mark_segments(struct sacn_sender *sender)
{
    for (size_t i = 0; i < sender->message_count; i++) {
        struct msghdr *message = &sender->messages[i].msg_hdr;
        union segment_control *control = &sender->controls[i];
        uint16_t size = (uint16_t)message->msg_iov->iov_len;
        if (message->msg_iovlen < 2)
            continue;
        control->header = (struct cmsghdr){ .cmsg_level = IPPROTO_UDP, .cmsg_type = UDP_SEGMENT,
                                            .cmsg_len = CMSG_LEN(sizeof size) };
        memcpy(CMSG_DATA(&control->header), &size, sizeof size);
        message->msg_control = control;
        message->msg_controllen = sizeof *control;
    }
}

/* Make messages of the rest of a chain; with `offload` one for each run of equally long datagrams to one host. */
static void build(struct sacn_sender *sender, const struct sacn_datagram *datagrams, uint16_t from, bool offload)
{
    sender->message_count = sender->part_count = 0;
    for (uint16_t i = from; i != NONE; i = sender->next[i]) {
        struct iovec *part = &sender->parts[sender->part_count];
        sender->part_of[sender->part_count++] = i;
        /* sendmmsg() only reads it */
        *part = (struct iovec){ .iov_base = (void *)(uintptr_t)datagrams[i].bytes, .iov_len = datagrams[i].length };
        if (offload && sender->message_count > 0 && fits(sender, datagrams, i)) {
            sender->messages[sender->message_count - 1].msg_hdr.msg_iovlen++;
            continue;
        }
        sender->messages[sender->message_count++].msg_hdr = (struct msghdr){
            .msg_name = &sender->to_of[i], .msg_namelen = sacn__address_size(&sender->to_of[i]), .msg_iov = part, .msg_iovlen = 1 };
    }
    if (offload)
        mark_segments(sender);
}

/* ---- sending ---- */

static bool network_gone(int error)
{
    return error == ENETDOWN || error == ENETUNREACH || error == EHOSTUNREACH || error == ENODEV || error == ENXIO ||
           error == EADDRNOTAVAIL;
}

static bool socket_full(int error)
{
    return error == EAGAIN || error == EWOULDBLOCK || error == ENOBUFS;
}

/* A device that cannot have checksums left to it, a path with smaller packets, or a kernel that knows better. */
static bool offload_refused(int error)
{
    return error == EIO || error == EINVAL || error == EMSGSIZE || error == ENOPROTOOPT || error == EOPNOTSUPP;
}

static void mark_left(struct sacn_sender *sender, size_t from, size_t count, uint8_t bit)
{
    for (size_t m = from; m < from + count; m++) {
        const struct msghdr *message = &sender->messages[m].msg_hdr;
        const uint16_t *part_of = &sender->part_of[message->msg_iov - sender->parts];
        for (size_t i = 0; i < message->msg_iovlen; i++)
            sender->left[part_of[i]] |= bit;
        sender->sent += (int)message->msg_iovlen;
    }
}

static void lose(struct sacn_sender *sender, size_t from, size_t end)
{
    for (size_t m = from; m < end; m++)
        sender->lost += sender->messages[m].msg_hdr.msg_iovlen;
}

/* Send the messages from `at` on through one socket.
 * @return how many are dealt with: sent or lost; fewer than there are when the next one cannot go with offload */
static size_t transmit(struct sacn_sender *sender, struct sacn__outlet *outlet, uint8_t bit)
{
    size_t at = 0, count = sender->message_count;
    outlet->tried = true;
    while (at < count) {
        int taken = sendmmsg(outlet->fd, sender->messages + at, (unsigned)(count - at), MSG_DONTWAIT), error = errno;
        if (taken > 0) {
            mark_left(sender, at, (size_t)taken, bit);
            at += (size_t)taken;
            outlet->gone = false;
            continue;
        }
        if (error == EINTR)
            continue;
        if (sender->messages[at].msg_hdr.msg_iovlen > 1 && offload_refused(error))
            break;
        sender->trouble = error;
        sender->trouble_at = outlet;
        outlet->gone = network_gone(error);
        /* The first of the rest is the one that was refused; where none of the others can do better, they are not tried. */
        size_t lost_to = socket_full(error) || outlet->gone || outlet->fd < 0 ? count : at + 1;
        lose(sender, at, lost_to);
        at = lost_to;
    }
    return at;
}

static void send_to_groups(struct sacn_sender *sender, const struct sacn_datagram *datagrams)
{
    build(sender, datagrams, sender->first[GROUPS], false);
    for (size_t i = 0; i < SACN_INTERFACES; i++)
        if (sender->groups[i].fd >= 0)
            transmit(sender, &sender->groups[i], (uint8_t)(1u << i));
}

static void send_to_host(struct sacn_sender *sender, const struct sacn_datagram *datagrams, uint16_t place)
{
    struct sacn__outlet *outlet = &sender->hosts[place];
    build(sender, datagrams, sender->first[place], outlet->offload);
    size_t done = transmit(sender, outlet, 1);
    if (done == sender->message_count)
        return;
    /* Refused because it was several in one: nothing of it has left. From there on, and from now on, they go one by one. */
    outlet->offload = false;
    build(sender, datagrams, sender->part_of[sender->messages[done].msg_hdr.msg_iov - sender->parts], false);
    transmit(sender, outlet, 1);
}

/* Whether no way that was ever taken leads anywhere now. */
static bool all_gone(const struct sacn_sender *sender)
{
    for (size_t i = 0; i < SACN_INTERFACES; i++)
        if (sender->groups[i].tried && !sender->groups[i].gone)
            return false;
    for (size_t i = 0; i < HOSTS + 2; i++)
        if (sender->hosts[i].tried && !sender->hosts[i].gone)
            return false;
    return true;
}

static int fail_gone(const struct sacn_sender *sender, struct rig_why *why)
{
    char text[SACN_ADDRESS_TEXT];
    const struct sacn__outlet *outlet = sender->trouble_at;
    if (outlet->host.any.sa_family == AF_UNSPEC)
        return rig_fail(why, RIG_ENET, "cannot send on %s: %s", outlet->way.interface, strerror(sender->trouble));
    sacn_address_text(&outlet->host, text);
    return rig_fail(why, RIG_ENET, "cannot send to %s: %s", text, strerror(sender->trouble));
}

int sacn_sender_send(struct sacn_sender *sender, const struct sacn_datagram *datagrams, size_t count, struct rig_why *why)
{
    assert(count <= SACN_BATCH);
    sender->count = count;
    sender->sent = sender->trouble = 0;
    sort(sender, datagrams);
    for (size_t i = 0; i < sender->touched_count; i++)
        if (sender->touched[i] == GROUPS)
            send_to_groups(sender, datagrams);
        else
            send_to_host(sender, datagrams, sender->touched[i]);
    if (sender->sent == 0 && sender->trouble != 0 && all_gone(sender))
        return fail_gone(sender, why);
    return sender->sent;
}

uint64_t sacn_sender_lost(const struct sacn_sender *sender)
{
    return sender->lost;
}

/* ---- what left, for captures ---- */

static union sacn_address with_port(union sacn_address address, uint16_t port)
{
    if (address.any.sa_family == AF_INET)
        address.v4.sin_port = port;
    else
        address.v6.sin6_port = port;
    return address;
}

/* Asked for once for a host of its own socket. A failing question gives the family and zeros. */
static union sacn_address source_of(struct sacn_sender *sender, size_t index)
{
    const union sacn_address *to = &sender->to_of[index];
    struct sacn__outlet *outlet = &sender->hosts[sender->place[index]];
    union sacn_address source = outlet->way.source;
    if (sender->place[index] < HOSTS && source.any.sa_family != AF_UNSPEC)
        return source;
    if (sacn__find_source(to, 0, &source) != 0)
        return (union sacn_address){ .any = { .sa_family = to->any.sa_family } };
    outlet->way.source = source;
    return source;
}

size_t sacn_sender_paths(struct sacn_sender *sender, size_t index, struct sacn_path paths[SACN_INTERFACES])
{
    size_t count = 0;
    assert(index < sender->count);
    for (size_t i = 0; i < SACN_INTERFACES; i++) {
        if (!(sender->left[index] & 1u << i))
            continue;
        bool group = sender->place[index] == GROUPS;
        const struct sacn__outlet *outlet = group ? &sender->groups[i] : &sender->hosts[sender->place[index]];
        paths[count++] = (struct sacn_path){
            .from = with_port(group ? outlet->way.source : source_of(sender, index), outlet->from_port),
            .to = sender->to_of[index], .ttl = sacn_target_ttl(&sender->target, &sender->to_of[index]),
            .dscp = sender->target.dscp };
    }
    return count;
}
