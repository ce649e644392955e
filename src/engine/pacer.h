/* When a live run makes frames and sends batches: a state machine over a time that is given to it, so that tests turn the clock by
 * hand. Times are ns since the start of the run. A frame is made at its deadline and its batches are spread over its first half;
 * a late batch is sent, and a frame that is late by its whole length is left out. */
#ifndef RIGCALL_ENGINE_PACER_H
#define RIGCALL_ENGINE_PACER_H

#include <stdint.h>

struct pacer {
    double rate_hz;
    uint64_t next;                   /* frame to make */
    uint64_t made;                   /* frame whose batches are going out */
    uint32_t batches, sent;          /* of it */
    uint64_t late;                   /* frames left out */
};

enum pacer_kind { PACER_WAIT, PACER_FRAME, PACER_BATCH };

void pacer_init(struct pacer *pacer, double rate_hz);
/** What to do now. PACER_FRAME: make frame pacer->next, then say pacer_made(). PACER_BATCH: send batch pacer->sent, then say
 * pacer_sent(). PACER_WAIT: nothing before *until_ns. */
enum pacer_kind pacer_next(struct pacer *pacer, int64_t now_ns, int64_t *until_ns);
void pacer_made(struct pacer *pacer, uint32_t batches);
void pacer_sent(struct pacer *pacer);

#endif
