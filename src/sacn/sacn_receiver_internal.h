/* What the files of the receiver share. One socket hears every group; the memberships lie on other sockets that are bound to
 * nothing. The kernel hands a multicast datagram to every socket on the port and walks each one's list of groups to see whether
 * it wants it, so memberships on the sockets that read make every datagram dearer by the number of groups (tests/bench/README.md).
 * A socket with IP_MULTICAST_ALL and no membership of its own takes what the host joined without a walk; what others on this
 * host joined is told by the destination and left out. One queue also keeps the order of arrival over all universes, which
 * synchronisation (ANSI E1.31-2018 11) lives by. */
#ifndef RIGCALL_SACN_RECEIVER_INTERNAL_H
#define RIGCALL_SACN_RECEIVER_INTERNAL_H

#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>

#include "rigcall/sacn_receive.h"
#include "sacn_internal.h"

#define RECEIVE_BATCH 64
#define RECEIVE_SIZE (LARGEST_PACKET + 1)    /* so that what is longer shows */
#define RECEIVE_CONTROL (CMSG_SPACE(sizeof(struct timespec)) + CMSG_SPACE(sizeof(struct in6_pktinfo)))
#define DEFAULT_BUFFER (4u << 20)
#define FLOOD_LIMIT SACN_FLOODS

struct sacn__batch {
    struct mmsghdr messages[RECEIVE_BATCH];
    struct iovec parts[RECEIVE_BATCH];
    union sacn_address from[RECEIVE_BATCH];
    _Alignas(struct cmsghdr) uint8_t control[RECEIVE_BATCH][RECEIVE_CONTROL];
    uint8_t bytes[RECEIVE_BATCH][RECEIVE_SIZE];
};

void sacn__batch_init(struct sacn__batch *batch);

/* Brings the kernel's times of arrival, which are wall-clock ones, to the monotonic clock. */
struct sacn__clock { int64_t offset_ns, last_ns; bool started; };

struct sacn__queue { int fd; uint32_t drops_seen; uint64_t dropped; };

/* A group that drowned the others, in a queue of its own. */
struct sacn__flood {
    struct sacn__queue queue;
    uint16_t universe;
    int64_t since_ns;                /* what of it came before this waits in the common queue and goes first */
    bool open;
};

struct sacn_receiver {
    bool ipv6;
    uint16_t port;
    char names[SACN_INTERFACES][IF_NAMESIZE];
    unsigned interfaces[SACN_INTERFACES]; uint32_t interface_count;
    size_t wanted;                   /* groups asked for so far, over all interfaces */
    uint32_t groups;                 /* joined */
    uint8_t joined[(UINT16_MAX + 1) / 8];
    uint8_t prefix[14];              /* of all groups, as an IPv6 address; the last two octets are the universe's (9.3) */
    int epoll;
    struct sacn__queue main;
    int timer; bool gathering; int64_t gather_ns, rested_ns;
    int *holders; size_t holder_count, holder_room;      /* of memberships; the last one may have room */
    uint32_t asked, granted;         /* octets of buffer, as SO_RCVBUF counts them */
    struct rlimit limit; bool limit_raised;
    struct sacn__clock clock;
    struct sacn__flood floods[FLOOD_LIMIT]; uint32_t flood_count;
    int64_t window_ns;               /* beginning of the span of time in which `taken` counts */
    uint32_t taken[UINT16_MAX + 1];  /* by universe; 0: unicast */
    struct sacn__batch batch;
};

/** The moment of arrival on the monotonic clock: never later than now, never before the one told last, so that a jump of the wall
 * clock between arrival and reading moves it no farther than that.
 * @param stamp_ns  the kernel's, wall clock; 0 when there is none   @param real_ns,mono_ns  both clocks now */
int64_t sacn__arrival(struct sacn__clock *clock, int64_t stamp_ns, int64_t real_ns, int64_t mono_ns);

/** Datagrams that the kernel dropped at a queue since it was opened. The kernel counts in 32 bits: call now and then. */
uint64_t sacn__queue_dropped(const struct sacn__queue *queue);
void sacn__queue_note_drops(struct sacn__queue *queue);

/** Ask the kernel for a buffer. @return octets granted, in the measure of `asked` */
uint32_t sacn__receiver_buffer(int fd, uint32_t asked);

/** At the end of a span of time: if datagrams were dropped in it and one group had much of what came, give that group a queue
 * of its own. */
void sacn__receiver_watch_floods(struct sacn_receiver *receiver, int64_t now_ns);

/** Make the timer. @return 0, or -1 with errno */
int sacn__receiver_gather_init(struct sacn_receiver *receiver);
/** Let the owner's descriptor follow a socket too. @return 0, or -1 with errno */
int sacn__receiver_watch(struct sacn_receiver *receiver, int fd);
/** All queues are empty: choose what the owner's descriptor follows next. @param found  whether there was anything to read */
void sacn__receiver_rest(struct sacn_receiver *receiver, bool found);

/** socket(), non-blocking; raises the soft limit on descriptors to the hard one when that is in the way (put back at the end).
 * @return a descriptor, or -1 with errno */
int sacn__receiver_socket(struct sacn_receiver *receiver, int family);

/** Find the interfaces of the options. @return 0 or RIG_ENET */
int sacn__receiver_interfaces(struct sacn_receiver *receiver, const struct sacn_receiver_options *options, struct rig_why *why);

/** An address as a socket of both families tells it: IPv4 as ::ffff:a.b.c.d. */
static inline struct in6_addr sacn__mapped(struct in_addr address)
{
    struct in6_addr mapped = { .s6_addr = { [10] = 0xff, [11] = 0xff } };
    memcpy(mapped.s6_addr + 12, &address, sizeof address);
    return mapped;
}

/** Join a group on an interface. @return 0, or errno */
int sacn__receiver_member(const struct sacn_receiver *receiver, int fd, const union sacn_address *group, unsigned interface);

/** Join a group on every interface. @param universe 1..63999 or SACN_DISCOVERY_UNIVERSE   @return 0, RIG_ENET, RIG_ENOMEM */
int sacn__receiver_add(struct sacn_receiver *receiver, uint16_t universe, struct rig_why *why);

static inline bool sacn__receiver_has(const struct sacn_receiver *receiver, uint16_t universe)
{
    return receiver->joined[universe / 8] & 1u << universe % 8;
}

#endif
