/* What the files of the table share: its parts, and who may call what. Sources of one universe are held in the order in which
 * they are read; whatever ends by itself (a source, synchronisation, an announcer) has a timer. */
#ifndef RIGCALL_SACN_TABLE_H
#define RIGCALL_SACN_TABLE_H

#include "rigcall/sacn_receive.h"

#define SACN__SECOND INT64_C(1000000000)
#define SACN__LOSS_NS ((int64_t)(SACN_LOSS_S * 1e9))
#define SACN__FORGET_NS ((int64_t)(SACN_FORGET_S * 1e9))
#define SACN__ANNOUNCE_NS ((int64_t)(SACN_ANNOUNCE_S * 1e9))
#define SACN__SET_NS (5 * SACN__SECOND)       /* pages of one list come together; the lists come every 10 s */

enum { SACN__NUMBERS = 1 << 16, SACN__HOSTS = 4096, SACN__SENDERS = 4, SACN__BITMAP = 64000 / 8, SACN__PAGES = 256 };

/* ---- timers ---- */

/* The order in which what is due at the same moment happens. */
enum sacn__due { SACN__DUE_SYNC, SACN__DUE_SOURCE, SACN__DUE_ANNOUNCER };

struct sacn__timer {
    int64_t due_ns;                   /* not after the true moment, which whoever is called works out again */
    uint32_t place;                   /* in the heap, from 1; 0: not in it */
    uint8_t kind;
    uint64_t tie;                     /* of the same moment and kind: the lower one first */
};

struct sacn__timers { struct sacn__timer **heap; uint32_t count; };

/** Wake no later than due_ns. An earlier wake that is already set stays: putting off costs nothing. */
void sacn__timer_set(struct sacn__timers *timers, struct sacn__timer *timer, int64_t due_ns);
void sacn__timer_drop(struct sacn__timers *timers, struct sacn__timer *timer);
/** @return the first that is due, taken out; NULL when none is */
struct sacn__timer *sacn__timer_pop(struct sacn__timers *timers, int64_t now_ns);

/* ---- sequence numbers (6.7.2) ---- */

struct sacn__window {
    uint8_t last;                     /* the number last accepted */
    uint32_t came, missed;            /* bit n, below 20: last - n came; was counted as missing when it was passed over */
};

enum sacn__step { SACN__AHEAD, SACN__RESTART, SACN__LATE, SACN__REPEATED };

/* ---- parts ---- */

struct sacn__universe;
struct sacn__sync;

struct sacn__source {
    struct sacn_heard_source heard;   /* first: what readers see is a pointer to it */
    struct sacn__universe *universe;
    struct sacn__window window;
    bool has_levels, holds;           /* levels act; newer ones wait in the other buffer */
    uint8_t acting;                   /* the buffer that acts */
    uint16_t host;                    /* hash of heard.from */
    bool measured, has_mean;          /* levels came, and an interval of them, since it was last heard for the first time */
    int64_t ended_ns, levels_ns, rate_from_ns;
    uint64_t ended_turn;
    uint32_t rate_count;
    double mean_ms;                   /* of the intervals, smoothed */
    struct sacn__timer timer;
    struct sacn__source *ended_before, *ended_after;   /* in table->ended */
    struct sacn__sync *sync;          /* of heard.sync_address; NULL without one, or without a place */
    struct sacn__source *held_before, *held_after;     /* in sync->held */
    uint8_t levels[2][SACN_SLOTS];
};

struct sacn__universe {
    uint16_t number, owner;           /* owner: host that its place is put down to while a source lives */
    bool judge, merge;                /* who wins, what results: to be worked out at the next reading */
    uint32_t count, live, winners;
    uint64_t turned_away;
    struct sacn__universe *idle_before, *idle_after;   /* in table->idle, while no source lives */
    uint8_t priority, levels[SACN_SLOTS];
    uint64_t *keys;                   /* the first octets of the CIDs, in the order of `sources` */
    const struct sacn_heard_source *sources[];
};

struct sacn__sender { uint8_t cid[16]; union sacn_address from; int64_t last_ns; uint8_t sequence; bool known; };

struct sacn__sync {                   /* an address of synchronisation that a source names */
    uint16_t address;
    bool ever, lost;
    uint32_t refers;
    int64_t last_ns;
    struct sacn__timer timer;
    struct sacn__source *held;
    struct sacn__sender senders[SACN__SENDERS];
};

struct sacn__set {                    /* of pages */
    bool open;
    uint8_t last_page, came[SACN__PAGES / 8];
    uint32_t pages, count;
    int64_t begun_ns;
    uint8_t universes[SACN__BITMAP];
};

struct sacn__announcer {
    struct sacn__timer timer;
    uint32_t index;                   /* in table->announcers */
    int64_t whole_ns;
    uint8_t shown;                    /* the set that is whole, when heard.whole; the other one is collected */
    struct sacn__set sets[2];
};

struct sacn_table {
    struct sacn_table_limits limits;
    int64_t now_ns;
    struct sacn_counts counts;
    struct sacn__timers timers;
    uint32_t source_count, universe_count, sync_count, announcer_count;
    struct sacn__source *ended_first, *ended_last;             /* oldest end first */
    uint64_t turns;                                            /* ends so far */
    struct sacn__universe *idle_first, *idle_last;
    uint16_t *universes;                                       /* ascending */
    struct sacn_announcer *announcers;
    struct sacn__announcer **announcer_parts;
    uint32_t host_sources[SACN__HOSTS], host_universes[SACN__HOSTS];   /* living, by hash */
    struct sacn__universe *universe_of[SACN__NUMBERS];
    struct sacn__sync *sync_of[SACN__NUMBERS];
};

/* ---- hosts ---- */

bool sacn__same_host(const union sacn_address *a, const union sacn_address *b);
uint16_t sacn__host(const union sacn_address *address);
static inline uint32_t sacn__half(uint32_t limit)
{
    return limit < 2 ? 1 : limit / 2;
}

/* ---- sacn_table_universe.c: who is on a universe ---- */

struct sacn__source *sacn__find(const struct sacn__universe *universe, const uint8_t cid[16]);
/** Put a source at its place after its priority changed. */
void sacn__resort(struct sacn__source *source);
/** The size of a universe's memory at these limits. */
size_t sacn__universe_size(const struct sacn_table_limits *limits);
struct sacn__universe *sacn__universe_alloc(const struct sacn_table_limits *limits, uint16_t number);
void sacn__universe_insert(struct sacn_table *table, struct sacn__universe *universe);
void sacn__universe_delete(struct sacn_table *table, struct sacn__universe *universe);
/** Delete all its sources, and it with the last of them. */
void sacn__universe_clear(struct sacn_table *table, struct sacn__universe *universe);
void sacn__source_insert(struct sacn__universe *universe, struct sacn__source *source);
void sacn__source_remove(struct sacn__source *source);
/** Put down to its host, or take off, what a living source takes up. */
void sacn__living(struct sacn_table *table, struct sacn__source *source, bool lives);

/* ---- sacn_table_admit.c: who gets a place ---- */

/** Make a record, or find a place for a living source in one that ended (`source`, else NULL).
 * @return NULL: turned away, and counted */
struct sacn__source *sacn__admit(struct sacn_table *table, struct sacn__source *source, const struct sacn_packet *packet,
                                 const union sacn_address *from);

/* ---- sacn_table_source.c: one source on one universe ---- */

void sacn__take_data(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from);
void sacn__source_due(struct sacn_table *table, struct sacn__source *source);
void sacn__source_delete(struct sacn_table *table, struct sacn__source *source);

/* ---- sacn_table_merge.c: who wins and what results ---- */

void sacn__refresh(struct sacn__universe *universe);
/** The levels of a packet, acting at once or held. */
void sacn__levels_put(struct sacn__source *source, const struct sacn_packet *packet);
/** Forget the levels of a source; what the universe showed until now stays as its last look if nobody wins. */
void sacn__levels_drop(struct sacn__source *source);
/** The held levels act. */
void sacn__levels_release(struct sacn__source *source);

/* ---- sacn_table_sync.c ---- */

/** Let a source name another address of synchronisation, 0 for none. Levels it holds are let go. */
void sacn__sync_name(struct sacn_table *table, struct sacn__source *source, uint16_t address);
enum sacn_sync_state sacn__sync_state(const struct sacn__source *source);
void sacn__hold(struct sacn__source *source);
void sacn__unhold(struct sacn__source *source);
void sacn__take_sync(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from);
void sacn__sync_due(struct sacn_table *table, struct sacn__sync *sync);

/* ---- sacn_table_announce.c ---- */

void sacn__take_discovery(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from);
void sacn__announcer_due(struct sacn_table *table, struct sacn__announcer *announcer);

#endif
