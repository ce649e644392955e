/* Listening to the network at call time: a receiver and a table on a loop for a while, and what is wrong with what was heard.
 * Sends nothing. */
#ifndef RIGCALL_LISTEN_H
#define RIGCALL_LISTEN_H

#include "rigcall/model.h"
#include "rigcall/report.h"
#include "rigcall/sacn_receive.h"

#define LISTEN_FOLLOWED 4096u        /* most groups that are joined because somebody announces or names them */

/* What has been heard so far. */
struct listening {
    struct sacn_table *table;
    struct sacn_receiver_state receiver;
    int64_t now_ns;                  /* of the table */
    double seconds;                  /* since the groups were joined */
    bool interrupted;                /* a signal ended it */
    char warning[1024];              /* what a person should know of this machine's listening; "" when there is nothing */
};

struct listen_options {
    struct sacn_receiver_options receiver;
    const uint16_t *universes; size_t universe_count;        /* joined at first; borrowed */
    bool follow;                     /* join also what sources announce and the addresses of their synchronisation */
    double seconds;                  /* 0: until SIGINT, SIGTERM or SIGHUP, or until heard() has enough */
    double every_s;                  /* how often heard() is called before the end; those that are missed are left out */
    bool (*heard)(void *context, const struct listening *listening);         /* false: enough. May be NULL */
    void *context;
};

/** Listen. A signal ends it in order. Memory: sacn_table_bound() of the default limits (36 MiB), whatever is sent.
 * @param end  the last state, valid after 0 only: its table is the caller's, free with sacn_table_free()
 * @return 0, RIG_ENET, RIG_ENOMEM, RIG_EIO */
int listen_run(const struct listen_options *options, struct listening *end, struct rig_why *why);

/* ---- the show as the network sees it ---- */

struct wire_show {
    const struct show *show;         /* NULL: nothing is known of what should be sent */
    bool partial;                    /* only some universes were listened to: of the others nothing is said */
    bool listened[SACN_LAST_UNIVERSE + 1];
    const struct universe *of[SACN_LAST_UNIVERSE + 1];       /* by wire number: the first of the show that has it, or NULL */
};

/** @param show  borrowed until the end; NULL is fine
 * @param only  the universes listened to; NULL: all of the show
 * @return 0 or RIG_ENOMEM; free(*out) */
int wire_show_new(const struct show *show, const uint16_t *only, size_t only_count, struct wire_show **out, struct rig_why *why);

#define WIRE_RANGES_TEXT 160
/** Write numbers as "1-16, 101", ascending, cut after a whole part with ", ..." when they do not fit.
 * @param set  a bool each, from 0 */
void wire_ranges(const bool *set, size_t count, char out[WIRE_RANGES_TEXT]);

/** Put '?' in place of control characters (C0, DEL, C1): labels of a show may hold them, a terminal should not get them. */
void wire_clean(char *text);

/* ---- what is wrong ---- */

enum wire_fault_kind {
    WIRE_SILENT,                     /* fail: a universe of the show with fixtures that nobody sends; note: it goes by unicast */
    WIRE_RIVAL,                      /* fail: two live sources of the highest priority */
    WIRE_UNKNOWN,                    /* warn: sent, but not of the show */
    WIRE_LOST,                       /* warn: a source went away without saying so, and whether it came back */
    WIRE_RATE,                       /* warn: faster than DMX512 carries */
    WIRE_GAP,                        /* warn: longer without a packet than the keep-alive allows */
    WIRE_MISSING,                    /* warn: sequence numbers missing, late, twice or begun anew */
    WIRE_SYNC,                       /* warn: waits for synchronisation packets that do not come */
    WIRE_NAME,                       /* warn: what does not tell sources apart: no name, a changing one or address, one name for two */
    WIRE_PRIORITY,                   /* note: sent at another priority than the show's */
    WIRE_ANNOUNCED                   /* note: announced, not sent, and not of the show */
};

struct wire_fault {
    enum wire_fault_kind kind; enum severity severity;
    int64_t universe;                /* wire number as the show has it, right or wrong; SHOW_NONE: of no single one */
    char text[800];                  /* UTF-8 without control characters */
};
#define WIRE_FAULTS 10000u           /* most that are kept (8 MB); all are counted */
struct wire_faults { struct wire_fault *items; size_t count, room; size_t of[SEVERITY_NOTE + 1]; };

/** Judge what was heard.
 * @param heard_s  how long; nothing is called silent in less than 2.5 s (E1.31 6.7.1)
 * @param faults  by universe, then kind; free with wire_faults_free() in either case. @return 0 or RIG_ENOMEM */
int wire_judge(struct sacn_table *table, const struct wire_show *wire, int64_t now_ns, double heard_s, struct wire_faults *faults,
               struct rig_why *why);
void wire_faults_free(struct wire_faults *faults);
/** "silent", "rival", ... Static text. */
const char *wire_fault_name(enum wire_fault_kind kind);
/** Most packets a second of so many slots: ANSI E1.11, break 92 us, mark 12 us, 44 us a slot and START code, at least 1204 us from
 * break to break (44.099 Hz at 512). E1.31 6.6.1 holds network output to it. @param slots 0..512 */
double wire_rate_most(uint16_t slots);

#endif
