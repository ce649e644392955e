/* What a dry and a live run share: frames into output, capture and trace, questions and answers, and what is reported. */
#ifndef RIGCALL_ENGINE_RUN_H
#define RIGCALL_ENGINE_RUN_H

#include "announce.h"
#include "trace.h"

#define RUN_WAKES 100000u            /* most times a script may go on without a frame passing */
#define RUN_TERMINATED 3             /* packets of a universe at the end, E1.31 6.2.6 */
#define RUN_VERDICTS 65536u          /* most that are kept; all are counted */

struct run {
    const struct engine_play *play;
    struct engine *engine;
    struct engine_report *report;
    struct output output;
    struct announce announce;
    uint32_t terminated;             /* frames of terminated packets made */
    union sacn_address to;           /* of the target; family 0: multicast */
    struct trace trace;
    int result;                      /* of the run; the first trouble wins */
    struct rig_why why;
    uint32_t wakes;                  /* since the last frame */
    uint32_t verdict_room;
    bool capture_failed;
    struct engine_wish wish;         /* the last one; here because it is large */
};

/** Prepare, and begin the trace. @param packets  build packets. @return 0, RIG_ENOMEM, RIG_EINPUT (a host),
 * RIG_EUSAGE (a target that is no address of a host) */
int run_init(struct run *run, const struct engine_play *play, struct engine_report *report, bool packets);
/** End the trace, tell the outcome. @return the result, with why filled */
int run_fini(struct run *run, struct rig_why *why);

/** Keep the first trouble of a run. @return code */
int run_fail(struct run *run, int code, const char *format, ...) __attribute__((format(printf, 3, 4)));
/** The same with a filled why. */
int run_fail_why(struct run *run, int code, const struct rig_why *why);

/** Make the next frame: engine, output.due, what announce adds, trace, counts. A refused one fails the run. @return its number */
uint64_t run_frame(struct run *run, enum output_kind kind);
/** Tell the crew and the trace what the engine and the script have to say. */
void run_notices(struct run *run, double time_s);
void run_asked(struct run *run, double time_s);
void run_answered(struct run *run, double time_s, enum crew_answer answer, const char *note);
/** Judge a wait: *until_ns is the wish's, never before now. @return false when the run has failed by it */
bool run_wait(struct run *run, int64_t now_ns, int64_t *until_ns);
/** Tell the trace why the run ends; then the engine goes to the defaults. */
void run_begin_end(struct run *run, double time_s);

#endif
