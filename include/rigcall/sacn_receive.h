/* Receiving streaming ACN (ANSI E1.31-2018). Two things: a table of who sends what, how well, who wins and which levels result;
 * and the sockets that feed it. The table is pure: it is handed datagrams and times and knows no socket and no clock, so that
 * tests turn its time by hand. All times are nanoseconds of a monotonic clock. Everything that arrives is hostile: every list
 * has a bound, and what is turned away is counted. */
#ifndef RIGCALL_SACN_RECEIVE_H
#define RIGCALL_SACN_RECEIVE_H

#include "rigcall/sacn.h"

/* ---- the table ---- */

/* What E1.31 leaves to the receiver, decided here. [1]: from public texts that follow E1.31-2018 clause by clause, not from the
 * standard's own words.
 * - Sequence numbers (6.7.2) are judged apart for each source, universe and packet type. A number 1 to 127 ahead counts what is
 *   between as missing; 128 or more lost in a row cannot be told from a restart. Whoever was silent for 2.5 s begins anew with
 *   any number.
 * - Only accepted packets keep a source alive, whatever their START code. It wins only with levels (START code 0).
 * - One packet with Stream_Terminated ends a source (6.2.6), not the synchronisation of an address. Later numbers with that bit
 *   change nothing; what the numbers show to be older is discarded; a later number without it is a new beginning.
 * - The highest priority wins (6.2.3), several of it are merged, highest takes precedence, a slot that a source does not send
 *   counting as 0. The priority acts at once, also where levels are held. Preview data is kept nowhere: a source whose latest
 *   packet is preview has no levels.
 * - Levels with a synchronisation address are held from the first synchronisation packet of that address on; before it they act
 *   at once (6.2.4.1, 11.1.1 [1]). An address is watched while a source names it. A packet of any sender counts, each by its own
 *   numbers; four senders an address have a place, at most two of one host, and the silent give way. After 2.5 s without one
 *   (11.1.2) levels with Force_Synchronization act at once, those held too; the others stay held until the next (6.2.6).
 * - More sources than there is place for (6.2.3.5): ended ones give way first, the oldest first. A living one gives way only to
 *   one of its own universe that sends levels at a higher priority: the lowest priority first (preview, or no levels, below all),
 *   then the one heard last. So the highest priority finds its place, and a flood at the priority of the rig or lower pushes
 *   nobody out.
 * - A host (an IP address, with its zone) has at most half of every number of places, rounded down but never 0, its ended
 *   sources not counted; beyond it, it can replace only its own. Over the whole table hosts are told apart by a hash of 4,096
 *   values. */
struct sacn_table_limits {           /* 0: the default; more than the most counts as the most */
    uint32_t universes;              /* that anything is known of; 8,192, at most 63,999. As many synchronisation addresses */
    uint32_t sources;                /* pairs of source and universe, in all; 16,384, at most 1,048,576 */
    uint32_t sources_a_universe;     /* 16, at most 256 */
    uint32_t announcers;             /* sources whose universe discovery is kept; 256, at most 4,096 */
};

enum sacn_source_state {
    SACN_LIVE,
    SACN_TERMINATED,                 /* it said so (6.2.6) */
    SACN_LOST                        /* nothing for 2.5 s (6.7.1) */
};

/* One source on one universe. Kept until SACN_FORGET_S after its end, so that a fault can be read after it. */
#define SACN_FORGET_S 60.0
struct sacn_heard_source {
    uint8_t cid[16];
    char name[SACN_NAME_SIZE];       /* the latest; clean, see struct sacn_packet */
    union sacn_address from;         /* the latest */
    uint8_t priority;                /* the latest */
    uint16_t sync_address, slot_count;
    bool preview, force_sync;
    enum sacn_source_state state;
    bool wins;                       /* live, with levels that act, and of the highest priority among those */
    int64_t first_ns, last_ns;       /* of accepted packets */
    uint64_t packets;                /* accepted, START code 0, terminated ones too */
    uint64_t other_start_codes;      /* accepted; they share the sequence numbers and are not merged */
    uint64_t missing;                /* numbers of the sequence that never came: gaps, less what came late */
    uint64_t late;                   /* came after a higher number and were discarded (6.7.2) */
    uint64_t repeated;               /* the same number twice, discarded */
    uint64_t restarts;               /* the number went back 20 or more: accepted (6.7.2) */
    uint64_t losses;                 /* times it was lost and came back */
    uint32_t name_changes, address_changes, priority_changes;    /* address: another port is none */
    double rate_hz;                  /* levels a second over the last full second or more, up to the latest; 0 until then and
                                      * after the end */
    double jitter_ms;                /* mean deviation of the intervals of levels from their mean, both smoothed by 1/16 as in
                                      * RFC 3550 6.4.1 */
    double gap_ms;                   /* the longest interval of levels while it was live */
};

enum sacn_sync_state { SACN_FREE, SACN_SYNCED, SACN_SYNC_LOST };
/** "live", "ended" or "lost"; "free", "synced" or "lost". Static texts. */
const char *sacn_source_state_name(enum sacn_source_state state);
const char *sacn_sync_state_name(enum sacn_sync_state state);

struct sacn_heard {                  /* one universe; valid until the next call that changes the table */
    uint16_t universe;
    const struct sacn_heard_source *const *sources; uint32_t source_count;      /* by priority, highest first, then CID */
    uint32_t winners;                /* more than one: they are merged, highest takes precedence */
    uint8_t priority;                /* of the winners; 0 without one */
    enum sacn_sync_state sync;       /* of the live sources that are not preview and not below the winners; the worst of them */
    bool held;                       /* newer levels of one of those wait for a synchronisation packet */
    uint64_t turned_away;            /* datagrams of sources that there was no place for */
    const uint8_t *levels;           /* 512, as a receiver would output them now; the last look when nobody wins */
};

/* What a source says it sends (universe discovery, 8). Pages come in any order. A list that has all its pages replaces the one
 * before; until the first is whole, what came of it is told. Pages 5 s apart are not of one list. */
#define SACN_ANNOUNCE_S 25.0         /* kept so long after its last page: two intervals (12.2) and a half */
struct sacn_announcer {
    uint8_t cid[16]; char name[SACN_NAME_SIZE]; union sacn_address from;
    int64_t last_ns;                 /* of a page */
    uint32_t universe_count; bool whole;     /* every page came, within SACN_ANNOUNCE_S */
};

struct sacn_counts {                 /* of datagrams: taken = data + sync + discovery + all of bad */
    uint64_t taken, data, sync, discovery;
    uint64_t other_start_codes;      /* of data */
    uint64_t bad[SACN_BAD_VALUE + 1];        /* by enum sacn_verdict; SACN_IGNORE among them */
    uint64_t turned_away;            /* well-formed, but no place for its universe, source, sender or announcer */
};

struct sacn_table;
/** Make a table. @param limits NULL: defaults. @return 0 or RIG_ENOMEM. Memory never passes what sacn_table_bound() says. */
int sacn_table_new(const struct sacn_table_limits *limits, struct sacn_table **out, struct rig_why *why);
/** NULL is fine. */
void sacn_table_free(struct sacn_table *table);
/** Most octets that a table of these limits ever asks of malloc(), whose own overhead comes on top. */
size_t sacn_table_bound(const struct sacn_table_limits *limits);

/** Take a datagram. @param now_ns not before that of the call before (an earlier one counts as the same moment)
 * @return what was made of it; SACN_ACCEPT also for what was then discarded by its sequence number or turned away */
enum sacn_verdict sacn_table_take(struct sacn_table *table, int64_t now_ns, const uint8_t *datagram, size_t length,
                                  const union sacn_address *from);
/** Let time pass: losses, loss of synchronisation, forgetting, each at its own moment. Call before reading, up to a moment
 * before which every datagram was taken: what still waits in a socket would come too late, its source lost meanwhile. */
void sacn_table_advance(struct sacn_table *table, int64_t now_ns);

/** The universe as it is now. Reading changes nothing that another universe's reader holds.
 * @return false when nothing is known of it */
bool sacn_table_universe(struct sacn_table *table, uint16_t universe, struct sacn_heard *heard);
/** Universes heard (data), ascending; one is forgotten with its last source.
 * @param universes valid until the next call that changes the table */
size_t sacn_table_universes(const struct sacn_table *table, const uint16_t **universes);
/** In the order they were first heard. @param announcers valid until the next call that changes the table */
size_t sacn_table_announcers(const struct sacn_table *table, const struct sacn_announcer **announcers);
/** Whether an announcer of the list says that it sends a universe. */
bool sacn_table_announces(const struct sacn_table *table, size_t announcer, uint16_t universe);
const struct sacn_counts *sacn_table_counts(const struct sacn_table *table);

/* ---- the sockets ---- */

/* One queue hears all groups, in the order of arrival: a synchronisation packet comes after the data it releases, whatever their
 * universes. Other programs on the host can listen on the port beside it. A datagram sent to one address of this host reaches one
 * socket only: a program with an IPv4 socket on the port (SO_REUSEADDR), or one with an IPv6 socket that was there first, keeps
 * its own, and what it gets is not heard here. Two receivers of ours share by the sender's address and port. Groups that other
 * programs on the host joined pass through the same queue and are left out. */

struct sacn_receiver_options {
    const char *interfaces[SACN_INTERFACES]; uint32_t interface_count;       /* 0: the one the route to the groups takes */
    bool ipv6;                       /* the groups of 9.3.2 instead of those of 9.3.1; unicast of both is taken in any case */
    uint16_t port;                   /* 0: 5568 */
    uint32_t buffer;                 /* octets asked of the kernel; 0: 4 MiB. A full packet takes 640 to 1,152 of them */
};

#define SACN_FLOODS 8                /* groups that get a queue of their own */
struct sacn_receiver_state {
    uint32_t sockets, groups;        /* groups: joined, over all interfaces; one socket reads, the others hold memberships */
    uint32_t buffer;                 /* octets granted, as asked for */
    uint64_t dropped;                /* datagrams that came while the buffer was full, as the kernel counts them */
    /* Universes of which so much came that datagrams of others were dropped: each has a queue of its own since, and only its own
     * are dropped when it goes on. */
    uint32_t floods; uint16_t flooded[SACN_FLOODS];
};

/** Called for each datagram, in the order of arrival. It may call sacn_receiver_join() and sacn_receiver_state().
 * @param now_ns  when the kernel took it, CLOCK_MONOTONIC; never before that of the call before. When the wall clock jumps between
 *                arrival and reading, the moment of reading
 * @param length  0 for an empty one; one longer than any packet is cut to 1,145 octets, which no verdict accepts */
typedef void sacn_take(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from);

struct sacn_receiver;
/** Join the groups of the universes, and of universe discovery; unicast to the port is taken as well. What is no universe
 * (0, 64000) is passed over. Memberships that the kernel does not let one socket have go on further ones; the soft limit on
 * descriptors is raised to the hard one when it is in the way, and put back at the end. When no more can be had: RIG_ENET, and
 * the text says how many groups were joined and which setting to change.
 * @return 0, RIG_ENET, RIG_ENOMEM */
int sacn_receiver_open(const struct sacn_receiver_options *options, const uint16_t *universes, size_t count,
                       struct sacn_receiver **out, struct rig_why *why);
/** Join one more universe (1..63999): found by discovery, or the address of synchronisation. Joining twice is fine. After a failure
 * the receiver goes on with what it had. @return 0, RIG_ENET, RIG_ENOMEM */
int sacn_receiver_join(struct sacn_receiver *receiver, uint16_t universe, struct rig_why *why);
/** One descriptor for poll(): readable while datagrams wait. When many come, they gather for up to a millisecond (less where the
 * buffer is small), because waking up costs more than a packet. Owned by the receiver. */
int sacn_receiver_fd(const struct sacn_receiver *receiver);
/** Hand over what waits; at most `limit` datagrams are looked at, those of groups that other programs joined too. Never blocks.
 * @return datagrams handed over, or RIG_ENET */
int sacn_receiver_read(struct sacn_receiver *receiver, size_t limit, sacn_take *take, void *context, struct rig_why *why);
void sacn_receiver_state(const struct sacn_receiver *receiver, struct sacn_receiver_state *state);
/** What a person should know, each with what to do ("" when there is nothing): a buffer smaller than asked for and the setting to
 * change; another program on the port, which keeps what is sent to this host alone; a universe that floods. Looks it up: for now
 * and then. @return characters, as snprintf() */
size_t sacn_receiver_warning(const struct sacn_receiver *receiver, char *text, size_t size);
/** NULL is fine. Not from within a sacn_take. */
void sacn_receiver_close(struct sacn_receiver *receiver);

#endif
