#include "pacer.h"

#include <math.h>

#define FIRST_PART 0.5               /* of a frame, over which its batches are spread */

static double frame_ns(const struct pacer *pacer, uint64_t frame)
{
    return (double)frame * 1e9 / pacer->rate_hz;
}

void pacer_init(struct pacer *pacer, double rate_hz)
{
    *pacer = (struct pacer){ .rate_hz = rate_hz };
}

enum pacer_kind pacer_next(struct pacer *pacer, int64_t now_ns, int64_t *until_ns)
{
    double now = (double)now_ns, next = frame_ns(pacer, pacer->next), due = next;
    if (pacer->sent < pacer->batches) {
        due = frame_ns(pacer, pacer->made) + FIRST_PART * 1e9 / pacer->rate_hz * pacer->sent / pacer->batches;
        if (now >= due || now >= next)
            return PACER_BATCH;
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

void pacer_made(struct pacer *pacer, uint32_t batches)
{
    pacer->made = pacer->next++;
    pacer->batches = batches;
    pacer->sent = 0;
}

void pacer_sent(struct pacer *pacer)
{
    pacer->sent++;
}
