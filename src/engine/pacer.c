#include "pacer.h"

#include <math.h>

#define SPREAD 0.5                   /* part of a frame that its sub-ticks are spread over */
#define LEAD_MOST 0.3

static double frame_ns(const struct pacer *pacer, uint64_t frame)
{
    return (double)frame * 1e9 / pacer->rate_hz;
}

static double subtick_ns(const struct pacer *pacer)
{
    uint32_t place = pacer->at < pacer->spread ? pacer->at : pacer->spread - 1;
    return frame_ns(pacer, pacer->made) + pacer->lead_ns + SPREAD * 1e9 / pacer->rate_hz * place / pacer->spread;
}

void pacer_init(struct pacer *pacer, double rate_hz, uint32_t spread, uint32_t after, int64_t lead_ns)
{
    *pacer = (struct pacer){ .rate_hz = rate_hz, .spread = spread, .subticks = spread + after, .at = spread + after };
    pacer->lead_ns = fmin((double)lead_ns, LEAD_MOST * 1e9 / rate_hz);
}

enum pacer_kind pacer_next(struct pacer *pacer, int64_t now_ns, int64_t *until_ns)
{
    double now = (double)now_ns, next = frame_ns(pacer, pacer->next), due = next;
    if (pacer->at < pacer->subticks) {
        due = subtick_ns(pacer);
        if (now >= due || now >= next)
            return PACER_SUBTICK;
    }
    if (now >= next) {
        while (now >= frame_ns(pacer, pacer->next + 1)) {
            uint64_t passed = (uint64_t)((now - frame_ns(pacer, pacer->next + 1)) * pacer->rate_hz / 1e9);
            pacer->next += passed + 1;
            pacer->late += passed + 1;
        }
        return PACER_FRAME;
    }
    *until_ns = (int64_t)ceil(due < next ? due : next);
    return PACER_WAIT;
}

void pacer_made(struct pacer *pacer, uint32_t first)
{
    pacer->made = pacer->next++;
    pacer->at = first;
}

void pacer_sent(struct pacer *pacer, int64_t now_ns, uint32_t next)
{
    pacer->late_subticks += (double)now_ns > subtick_ns(pacer) + PACER_LATE_NS;
    pacer->at = next;
}
