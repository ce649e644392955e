/* Datagrams of the receiver: read in batches, dated, and those of foreign groups left out. */
#include "sacn_receiver_internal.h"

#include <errno.h>

#define FLOOD_BATCH 16               /* a queue of a flooding group gives less a turn than the common one */
#define JUMP_NS 1000000              /* more than slewing moves the wall clock between two reads that matter */

int64_t sacn__arrival(struct sacn__clock *clock, int64_t stamp_ns, int64_t real_ns, int64_t mono_ns)
{
    int64_t offset = real_ns - mono_ns, moved = offset - clock->offset_ns, arrival = stamp_ns - offset;
    bool jumped = clock->started && (moved > JUMP_NS || moved < -JUMP_NS);
    if (stamp_ns == 0 || jumped || arrival > mono_ns)
        arrival = mono_ns;
    if (clock->started && arrival < clock->last_ns)
        arrival = clock->last_ns;
    clock->started = true;
    clock->last_ns = arrival;
    return arrival;
}

static int64_t clock_ns(clockid_t id)
{
    struct timespec now;
    clock_gettime(id, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* Both clocks at one moment: read again when the process was held up between them. */
static void read_clocks(int64_t *real_ns, int64_t *mono_ns)
{
    for (int i = 0; i < 3; i++) {
        int64_t before = clock_ns(CLOCK_MONOTONIC);
        *real_ns = clock_ns(CLOCK_REALTIME);
        *mono_ns = clock_ns(CLOCK_MONOTONIC);
        if (*mono_ns - before < 10000)
            return;
    }
}

static void renew(struct sacn__batch *batch, size_t i)
{
    struct msghdr *header = &batch->messages[i].msg_hdr;
    header->msg_namelen = sizeof batch->from[i];
    header->msg_controllen = RECEIVE_CONTROL;
}

void sacn__batch_init(struct sacn__batch *batch)
{
    for (size_t i = 0; i < RECEIVE_BATCH; i++) {
        struct msghdr *header = &batch->messages[i].msg_hdr;
        batch->parts[i] = (struct iovec){ .iov_base = batch->bytes[i], .iov_len = RECEIVE_SIZE };
        *header = (struct msghdr){ .msg_name = &batch->from[i], .msg_iov = &batch->parts[i], .msg_iovlen = 1,
                                   .msg_control = batch->control[i] };
        renew(batch, i);
    }
}

struct arrived { int64_t stamp_ns; struct in6_addr to; unsigned interface; };

static struct arrived read_control(struct msghdr *header)
{
    struct arrived arrived = { .stamp_ns = 0 };
    for (struct cmsghdr *item = CMSG_FIRSTHDR(header); item; item = CMSG_NXTHDR(header, item)) {
        if (item->cmsg_level == SOL_SOCKET && item->cmsg_type == SCM_TIMESTAMPNS) {
            struct timespec stamp;
            memcpy(&stamp, CMSG_DATA(item), sizeof stamp);
            arrived.stamp_ns = (int64_t)stamp.tv_sec * 1000000000 + stamp.tv_nsec;
        } else if (item->cmsg_level == IPPROTO_IPV6 && item->cmsg_type == IPV6_PKTINFO) {
            struct in6_pktinfo info;
            memcpy(&info, CMSG_DATA(item), sizeof info);
            arrived.to = info.ipi6_addr;
            arrived.interface = info.ipi6_ifindex;
        } else if (item->cmsg_level == IPPROTO_IP && item->cmsg_type == IP_PKTINFO) {
            struct in_pktinfo info;
            memcpy(&info, CMSG_DATA(item), sizeof info);
            arrived.to = sacn__mapped(info.ipi_addr);
            arrived.interface = (unsigned)info.ipi_ifindex;
        }
    }
    return arrived;
}

static bool is_multicast(const struct in6_addr *address)
{
    return IN6_IS_ADDR_V4MAPPED(address) ? (address->s6_addr[12] & 0xf0) == 0xe0 : IN6_IS_ADDR_MULTICAST(address);
}

/* The socket hears every group that any program on this host joined on any interface; only ours count. */
static bool is_ours(const struct sacn_receiver *receiver, const struct arrived *arrived)
{
    if (!is_multicast(&arrived->to))
        return true;
    if (memcmp(arrived->to.s6_addr, receiver->prefix, sizeof receiver->prefix) != 0 ||
        !sacn__receiver_has(receiver, get16(arrived->to.s6_addr + 14)))
        return false;
    for (uint32_t i = 0; i < receiver->interface_count; i++)
        if (receiver->interfaces[i] == arrived->interface)
            return true;
    return false;
}

static int hand_over(struct sacn_receiver *receiver, int count, sacn_take *take, void *context)
{
    int64_t real_ns, mono_ns;
    int handed = 0;
    read_clocks(&real_ns, &mono_ns);
    for (int i = 0; i < count; i++) {
        struct mmsghdr *message = &receiver->batch.messages[i];
        struct arrived arrived = read_control(&message->msg_hdr);
        renew(&receiver->batch, (size_t)i);
        if (!is_ours(receiver, &arrived))
            continue;
        int64_t now_ns = sacn__arrival(&receiver->clock, arrived.stamp_ns, real_ns, mono_ns);
        receiver->taken[is_multicast(&arrived.to) ? get16(arrived.to.s6_addr + 14) : 0]++;
        sacn__unmap(&receiver->batch.from[i]);
        take(context, now_ns, receiver->batch.bytes[i], message->msg_len, &receiver->batch.from[i]);
        handed++;
    }
    receiver->clock.offset_ns = real_ns - mono_ns;
    sacn__receiver_watch_floods(receiver, mono_ns);
    return handed;
}

struct turn { sacn_take *take; void *context; size_t left; int handed; bool found, dry; };

/* One batch of one queue. @return 0, or errno */
static int read_queue(struct sacn_receiver *receiver, int fd, size_t most, struct turn *turn)
{
    unsigned wanted = (unsigned)(turn->left < most ? turn->left : most);
    int got;
    if (wanted == 0)
        return 0;
    do
        got = recvmmsg(fd, receiver->batch.messages, wanted, MSG_DONTWAIT, NULL);
    while (got < 0 && errno == EINTR);
    if (got < 0)
        return errno == EAGAIN ? 0 : errno;
    turn->left -= (size_t)got;
    turn->found = turn->found || got > 0;
    turn->dry = turn->dry && (unsigned)got < wanted;
    turn->handed += hand_over(receiver, got, turn->take, turn->context);
    return 0;
}

/* What of a flooding group came before it got its queue is in the common one still: not before that is read. */
static int read_floods(struct sacn_receiver *receiver, bool main_dry, struct turn *turn)
{
    int error = 0;
    for (uint32_t i = 0; i < receiver->flood_count && !error; i++) {
        struct sacn__flood *flood = &receiver->floods[i];
        flood->open = flood->open || main_dry || receiver->clock.last_ns > flood->since_ns;
        if (flood->open)
            error = read_queue(receiver, flood->queue.fd, FLOOD_BATCH, turn);
    }
    return error;
}

int sacn_receiver_read(struct sacn_receiver *receiver, size_t limit, sacn_take *take, void *context, struct rig_why *why)
{
    struct turn turn = { .take = take, .context = context, .left = limit < INT32_MAX ? limit : INT32_MAX };
    int error = 0;
    while (turn.left > 0 && !turn.dry && !error) {
        turn.dry = true;
        error = read_queue(receiver, receiver->main.fd, RECEIVE_BATCH, &turn);
        if (!error)
            error = read_floods(receiver, turn.dry, &turn);
    }
    if (error)
        return rig_fail(why, RIG_ENET, "cannot receive on port %u: %s", receiver->port, strerror(error));
    if (turn.dry)
        sacn__receiver_rest(receiver, turn.found);
    return turn.handed;
}
