/* Listening to the network at call time: a receiver and a table on a loop for a while, and what is wrong with what was heard.
 * Sends nothing. */
#ifndef RIGCALL_LISTEN_H
#define RIGCALL_LISTEN_H

#include "rigcall/model.h"
#include "rigcall/sacn_receive.h"

#define LISTEN_FOLLOWED 4096u        /* most groups that are joined because somebody announces them */

/* What has been heard so far. */
struct listening {
    struct sacn_table *table;
    struct sacn_receiver_state receiver;
    int64_t now_ns;                  /* of the table */
    double seconds;                  /* since the groups were joined */
    bool interrupted;                /* a signal ended it */
    char warning[512];               /* of the receiver, or of the first group that could not be followed; "" when there is none */
};

struct listen_options {
    struct sacn_receiver_options receiver;
    const uint16_t *universes; size_t universe_count;        /* joined at first; borrowed */
    bool follow;                     /* join also what sources announce and the addresses of their synchronisation */
    double seconds;                  /* 0: until SIGINT, SIGTERM or SIGHUP */
    double every_s;                  /* how often heard() is called before the end */
    void (*heard)(void *context, const struct listening *listening);         /* may be NULL */
    void *context;
};

/** Listen. A signal ends it in order.
 * @param end  the last state, valid after 0 only: its table is the caller's, free with sacn_table_free()
 * @return 0, RIG_ENET, RIG_ENOMEM, RIG_EIO */
int listen_run(const struct listen_options *options, struct listening *end, struct rig_why *why);

/* ---- what is wrong ---- */

enum wire_fault_kind {
    WIRE_SILENT,                     /* fail: a universe of the show with fixtures that nobody sends */
    WIRE_RIVAL,                      /* fail: two live sources of the highest priority */
    WIRE_UNKNOWN,                    /* warn: sent, but not of the show */
    WIRE_LOST,                       /* warn: a source went away without saying so */
    WIRE_RATE,                       /* warn: faster than DMX512 carries */
    WIRE_GAP,                        /* warn: longer without a packet than the keep-alive allows */
    WIRE_MISSING,                    /* warn: sequence numbers missing, late or twice */
    WIRE_SYNC,                       /* warn: waits for synchronisation packets that do not come */
    WIRE_NAME                        /* warn: no name, a changing one, or one name for two sources of a universe */
};

struct wire_fault { enum wire_fault_kind kind; bool fail; uint16_t universe; char text[400]; };
struct wire_faults { struct wire_fault *items; size_t count, room, fails; };
#define WIRE_FAULTS 10000u           /* most that are kept; `fails` counts all */

/** Judge what was heard.
 * @param show  NULL: nothing is known of what should be sent
 * @param heard_s  how long; nothing is called silent in less than 2.5 s (E1.31 6.7.1)
 * @param faults  by universe, then kind; free with wire_faults_free() in either case. @return 0 or RIG_ENOMEM */
int wire_judge(struct sacn_table *table, const struct show *show, int64_t now_ns, double heard_s, struct wire_faults *faults,
               struct rig_why *why);
void wire_faults_free(struct wire_faults *faults);
/** "silent", "rival", ... Static text. */
const char *wire_fault_name(enum wire_fault_kind kind);
/** Most packets a second of so many slots: ANSI E1.11, break 92 us, mark 12 us, 44 us a slot and START code, at least 1204 us from
 * break to break (44.099 Hz at 512). E1.31 6.6.1 holds network output to it. @param slots 0..512 */
double wire_rate_most(uint16_t slots);
/** The universe of a wire number, or NULL. */
const struct universe *wire_universe(const struct show *show, uint16_t wire);

#endif
