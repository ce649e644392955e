/* The engine: turns commands (set, fade, slot, clear) into frames of levels, passes every frame through the guard, and plays a
 * sequence in virtual time (dry) or on the network (live). It knows nothing of Lua: what plays is a struct engine_player.
 * Times are integer nanoseconds since the start of the run; frame k is at k / rate seconds. A command at time t is in the first
 * frame at or after t; a command up to a microsecond after a frame counts as at it, so that sums of rounded waits do not slip. */
#ifndef RIGCALL_ENGINE_H
#define RIGCALL_ENGINE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "rigcall/model.h"
#include "rigcall/sacn.h"

#define ENGINE_RATE 40.0             /* Hz; 1..44 allowed (E1.11 refresh limit at 512 slots) */
#define ENGINE_RATE_LEAST 1.0
#define ENGINE_RATE_MOST 44.0
#define ENGINE_ALL_CELLS UINT32_MAX
#define ENGINE_TIME_LIMIT_S 86400.0  /* longest fade, wait and run */

struct engine_options {
    double rate_hz;
    const uint32_t *fixtures; uint32_t fixture_count;        /* the grant: indexes into show.fixtures; unpatched ones are ignored */
    const uint32_t *armed; uint32_t armed_count;             /* fixtures with a hazard that a person has armed */
    bool allow_flash;                                        /* a person has confirmed it */
};

struct engine;
/** Make an engine for a sound show. All patched granted fixtures' universes are sent, at their defaults.
 * @param show  borrowed, must outlive the engine
 * @return 0, RIG_EUSAGE (rate), RIG_EINPUT (a wire number outside 1..63999 or given twice, a fixture past slot 512), RIG_ENOMEM */
int engine_new(const struct show *show, const struct engine_options *options, struct engine **out, struct rig_why *why);
void engine_free(struct engine *engine);

/* ---- commands. All check the grant themselves and return 0 or RIG_ESCRIPT with a sentence for the script's author.
 * fixture: index into show.fixtures; cell from 0, or ENGINE_ALL_CELLS (which includes head and tail);
 * param: index into show.params; percent 0..100. ---- */
int engine_set(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent, struct rig_why *why);
int engine_fade(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent, int64_t duration_ns, struct rig_why *why);
int engine_slot(struct engine *engine, int64_t at_ns, int64_t universe, int64_t slot, double percent, struct rig_why *why);
/** Put every slot of the fixture (or cell) back to its default. */
int engine_clear(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, struct rig_why *why);
/** Tell the engine what the script said to the crew, so that it stands in the trace. The player still shows it itself.
 * @param text  copied: checked UTF-8; beyond 1,000 texts between two frames it is dropped */
void engine_said(struct engine *engine, const char *text);
/** When the last running fade ends, or now_ns when none runs. */
int64_t engine_fades_end(const struct engine *engine, int64_t now_ns);

/* ---- frames ---- */

/** Time of frame k, ns, as the exact double k x 1e9 / rate. */
double engine_frame_time(const struct engine *engine, uint64_t frame);
/** First frame at or after a time (with the microsecond of grace). */
uint64_t engine_frame_at(const struct engine *engine, int64_t time_ns);

enum engine_frame_result { ENGINE_FRAME_SENT, ENGINE_FRAME_REFUSED };
/** Compute the next frame and pass it through the guard. REFUSED: levels stay as they were, engine_violation() says why, and
 * only engine_begin_end() frames may follow. */
enum engine_frame_result engine_next_frame(struct engine *engine);
/** From now on frames hold the defaults (with strobe at 0 unless allowed), whatever was commanded. The guard lets these through. */
void engine_begin_end(struct engine *engine);

struct engine_violation {            /* "fixture 101 Rail 1, cell 3: 4 flashes between 0.000 s and 0.875 s; 3 in any second are allowed" */
    enum { VIOLATION_GENERAL_FLASH, VIOLATION_RED_FLASH } kind;
    enum { VIOLATION_CELL, VIOLATION_FIXTURE, VIOLATION_SITE } of;
    uint32_t fixture, cell, site;    /* fixture SHOW_UNKNOWN for a site */
    int count;                       /* flashes */
    double from_s, to_s;             /* first and last change of them */
};
const struct engine_violation *engine_violation(const struct engine *engine);       /* NULL when there is none */
size_t engine_violation_text(const struct engine *engine, char *buffer, size_t size);

/* One universe that is sent. levels[0] is slot 1; valid until the next call that changes the engine. */
struct engine_universe {
    int64_t id; uint16_t wire; uint8_t priority;
    const char *host;                /* of the transmitter with input "unicast" that carries it, else NULL */
    const uint8_t *levels;
    bool changed;                    /* by the last frame */
};
/** Universes by wire number. */
const struct engine_universe *engine_universes(const struct engine *engine, uint32_t *count);

/* ---- players: what the engine plays ---- */

enum engine_wish_kind {
    WISH_MORE,                       /* nothing complete yet: collect again when fd is readable */
    WISH_AGAIN,                      /* nothing complete yet, but there is more to read: collect again soon */
    WISH_WAIT,                       /* resume me at until_ns; all commands before that are in the engine */
    WISH_ASK,                        /* ask the crew, answer me, resume at the time of the answer */
    WISH_DONE,                       /* the script has returned */
    WISH_BROKEN                      /* it raised, passed a limit, or its process died: why says so */
};
enum crew_answer { CREW_YES, CREW_NO, CREW_SKIP };
struct engine_wish {
    enum engine_wish_kind kind;
    int64_t until_ns;
    uint32_t fixture;                /* WISH_ASK: index, or SHOW_UNKNOWN */
    char question[1024];             /* WISH_ASK: checked UTF-8, control characters replaced */
    struct rig_why why;              /* WISH_BROKEN */
};
struct engine_player {
    void *context;
    int fd;                          /* readable when collect() has work; -1 for a player in this process */
    /** It is now_ns: go on. For an answer: answer and note (may be NULL). */
    void (*resume)(void *context, int64_t now_ns, enum crew_answer answer, const char *note);
    /** Read what is there, apply commands to the engine, and say what comes next. Waits for input at most timeout_ms
     * (0: not at all, and reads for about 0.1 ms, so that a flood of commands makes no frame late). Also the place where the
     * player's limits are checked, so call it at least every 50 ms. */
    void (*collect)(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish);
    /** The run ends early: no more resumes. */
    void (*stop)(void *context);
};

/* How people are asked and told. All callbacks may be NULL. */
struct engine_crew {
    void *context;
    int fd;                          /* of the terminal, -1 if there is none */
    void (*ask)(void *context, const char *subject, const char *question);      /* print the question, return at once */
    /** fd, non-blocking during a live run, is readable: true when a whole answer was read, or the terminal has ended. */
    bool (*read)(void *context, enum crew_answer *answer, char *note, size_t note_size);
    enum crew_answer standing;       /* the answer given when fd is -1 */
    void (*told)(void *context, const char *text);                              /* guard notices and the like */
};

/* What became of the wish for real-time scheduling: not asked for; had to the end; refused; given up by the guard against a run that
 * holds a processor without a pause. */
enum engine_realtime { REALTIME_NOT_ASKED, REALTIME_HAD, REALTIME_REFUSED, REALTIME_LOST };

struct engine_verdict { uint32_t fixture; char question[160]; enum crew_answer answer; char note[160]; double at_s; };
struct engine_report {
    uint64_t frames, lost, late;              /* lost: packets of any kind; late: frames skipped because their time was over */
    uint64_t packets, sync_packets, discovery_packets;       /* of data, synchronisation and universe discovery; live: as often as
                                                              * they left, so once an interface; dry: once for each address */
    uint64_t late_subticks;                   /* parts of frames that were sent over 1 ms after their time */
    double seconds;                           /* of run time */
    uint32_t yes, no, skip;
    struct engine_verdict *verdicts; size_t verdict_count;   /* malloc'd; free with engine_report_fini() */
    bool interrupted;
    enum engine_realtime realtime;
};
void engine_report_fini(struct engine_report *report);

struct engine_play {
    struct engine *engine;           /* all borrowed */
    struct engine_player *player;
    struct engine_crew *crew;
    struct sacn_source source;
    struct sacn_capture *capture;    /* NULL: none */
    FILE *trace;                     /* NULL: none. One JSON object a line; see scripts/README.md */
    struct sacn_target target;       /* a dry run takes from it what its capture shows; interfaces are live only */
    bool preview;                    /* packets are marked for visualisers only (Preview_Data, E1.31 6.2.6) */
    uint16_t sync_address;           /* 1..63999: data is synchronised by packets there, after each frame that sends; 0: it is not */
    bool force_sync;                 /* without synchronisation packets, receivers go on unsynchronised (6.2.6); with sync_address */
    bool beside;                     /* live only: go on beside a rival */
    bool realtime;                   /* live only: ask for SCHED_FIFO; the crew is told when it is refused, and the run goes on */
};
/** Play in virtual time, as fast as the machine allows; asks are answered "skip" at once. Byte-for-byte repeatable.
 * @return 0 done; RIG_ESCRIPT, RIG_EGUARD, RIG_EIO, RIG_ENOMEM with why */
int engine_play_dry(const struct engine_play *play, struct engine_report *report, struct rig_why *why);
/** Play on the network. Looks first (2.6 s); then frames by absolute deadlines. SIGINT, SIGTERM and SIGHUP end it in order.
 * However it ends, defaults and then three terminated packets a universe go out. @return also RIG_ENET; RIG_EFAILED when interrupted */
int engine_play_live(const struct engine_play *play, struct engine_report *report, struct rig_why *why);

#endif
