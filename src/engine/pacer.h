/* When a live run makes frames and sends its sub-ticks: a state machine over a time that is given to it, so that tests turn the clock
 * by hand. Times are ns since the start of the run. A frame is made at its deadline; its sub-ticks, as many in every frame, leave at
 * fixed places: after a lead, in which the frame is made, spread over half a frame. So a universe always leaves at the same place in
 * the frame, however long the work took and whatever else is sent. A late sub-tick is sent, and a frame that is late by its whole
 * length is left out. */
#ifndef RIGCALL_ENGINE_PACER_H
#define RIGCALL_ENGINE_PACER_H

#include <stdint.h>

#define PACER_LATE_NS 1000000        /* after its time a sub-tick counts as late */

struct pacer {
    double rate_hz, lead_ns;
    uint32_t spread, subticks;       /* of every frame; those from `spread` on follow the last one before at once */
    uint64_t next;                   /* frame to make */
    uint64_t made; uint32_t at;      /* the last frame made; its sub-tick to send, `subticks` when there is none left */
    uint64_t late;                   /* frames left out */
    uint64_t late_subticks;          /* sent, but over PACER_LATE_NS after their time */
};

enum pacer_kind { PACER_WAIT, PACER_FRAME, PACER_SUBTICK };

/** @param spread  sub-ticks that are spread over half a frame, at least 1
 * @param after  sub-ticks that follow the last of them at once
 * @param lead_ns  between a frame's deadline and its first sub-tick; at most 0.3 of a frame */
void pacer_init(struct pacer *pacer, double rate_hz, uint32_t spread, uint32_t after, int64_t lead_ns);
/** What to do now. PACER_FRAME: make frame pacer->next, then say pacer_made(). PACER_SUBTICK: send sub-tick pacer->at, then say
 * pacer_sent(). PACER_WAIT: nothing before *until_ns. */
enum pacer_kind pacer_next(struct pacer *pacer, int64_t now_ns, int64_t *until_ns);
/** @param first  sub-tick in which the frame has something to send, `subticks` when it has nothing */
void pacer_made(struct pacer *pacer, uint32_t first);
/** @param now_ns  when it was sent   @param next  sub-tick with something to send after it, `subticks` when there is none */
void pacer_sent(struct pacer *pacer, int64_t now_ns, uint32_t next);

#endif
