#include "guard.h"

#include <stdlib.h>

#define TRANSITIONS (2 * (GUARD_FLASHES + 1))
#define ROUNDING 1e-9                /* so that 0.75 to 0.85 is 10 % in binary fractions too */
#define DARK 0.80
#define SATURATED 0.8
#define SECOND_NS (1e9 - 1000.0)     /* frame times are rounded; half-open: a span of exactly a second is not within it */

static const double steps[GUARD_KINDS] = { [GUARD_GENERAL] = 0.10 - ROUNDING, [GUARD_RED] = 20.0 / 320.0 + ROUNDING };

/* Where a light stands between peak and valley. Marked: the state makes a transition to or from it count, that is, it is under
 * 0.80 (when the brighter of two states is, the darker is too) or a saturated red. */
struct track {
    double low, high;
    int8_t going;                    /* +1 rising: high follows; -1 falling: low follows; 0 before the first transition: both do */
    bool low_marked, high_marked;
    bool counted;                    /* the transition that runs */
};

struct dates { uint32_t begun, counts, ring[TRANSITIONS]; };

struct guard {
    double rate_hz;
    struct track (*tracks)[GUARD_KINDS];     /* apart from the dates: these are read every frame */
    struct dates (*dates)[GUARD_KINDS];
};

struct guard *guard_new(uint32_t lights, double rate_hz)
{
    struct guard *guard = calloc(1, sizeof *guard);
    if (!guard)
        return NULL;
    guard->rate_hz = rate_hz;
    guard->tracks = calloc((size_t)lights + 1, sizeof *guard->tracks);
    guard->dates = calloc((size_t)lights + 1, sizeof *guard->dates);
    if (guard->tracks && guard->dates)
        return guard;
    guard_free(guard);
    return NULL;
}

void guard_free(struct guard *guard)
{
    if (!guard)
        return;
    free(guard->tracks);
    free(guard->dates);
    free(guard);
}

static inline double redness(const struct guard_light *s)
{
    double excess = s->red - s->green - s->blue;
    return excess > 0 ? excess : 0;
}

static inline bool dark(const struct guard_light *s)
{
    return s->luminance < DARK - ROUNDING;
}

static inline bool saturated(const struct guard_light *s)
{
    double sum = s->red + s->green + s->blue;
    return sum > 0 && s->red >= SATURATED * sum - ROUNDING;
}

void guard_start(struct guard *guard, uint32_t light, const struct guard_light *s)
{
    struct track *tracks = guard->tracks[light];
    tracks[GUARD_GENERAL] = (struct track){ .low = s->luminance, .high = s->luminance, .low_marked = dark(s), .high_marked = dark(s) };
    tracks[GUARD_RED] = (struct track){ .low = redness(s), .high = redness(s), .low_marked = saturated(s), .high_marked = saturated(s) };
}

/* Count the transition that runs. False when it is the eighth within a second. */
static bool count(const struct guard *guard, struct track *track, struct dates *dates)
{
    track->counted = true;
    dates->ring[dates->counts++ % TRANSITIONS] = dates->begun;
    if (dates->counts < TRANSITIONS)
        return true;
    uint32_t first = dates->ring[dates->counts % TRANSITIONS];
    return (dates->begun - first) * 1e9 / guard->rate_hz >= SECOND_NS;
}

static bool turn(const struct guard *guard, struct track *track, struct dates *dates, int8_t going, uint32_t frame)
{
    track->going = going;
    track->counted = false;
    dates->begun = frame;
    return track->low_marked || track->high_marked ? count(guard, track, dates) : true;
}

/* One state follows the light outwards; a transition that runs may come to count by it. */
static inline bool follow(const struct guard *guard, struct track *track, struct dates *dates, double *end, bool *end_marked,
                          double value, bool marked)
{
    *end_marked = marked || (*end == value && *end_marked);
    *end = value;
    return marked && track->going && !track->counted ? count(guard, track, dates) : true;
}

static inline bool judge(const struct guard *guard, struct track *track, struct dates *dates, double step, double value, bool marked,
                         uint32_t frame)
{
    if (track->going >= 0) {
        if (value >= track->high) {
            if (!follow(guard, track, dates, &track->high, &track->high_marked, value, marked))
                return false;
        } else if (track->high - value >= step) {
            track->low = value;
            track->low_marked = marked;
            return turn(guard, track, dates, -1, frame);
        }
    }
    if (track->going <= 0) {
        if (value <= track->low) {
            if (!follow(guard, track, dates, &track->low, &track->low_marked, value, marked))
                return false;
        } else if (value - track->low >= step) {
            track->high = value;
            track->high_marked = marked;
            return turn(guard, track, dates, +1, frame);
        }
    }
    return true;
}

uint32_t guard_feed(struct guard *guard, uint32_t first, uint32_t count_, uint32_t frame, const struct guard_light *samples,
                    enum guard_kind *kind)
{
    for (uint32_t i = 0; i < count_; i++) {
        const struct guard_light *s = &samples[i];
        struct track *tracks = guard->tracks[first + i];
        struct dates *dates = guard->dates[first + i];
        *kind = GUARD_GENERAL;
        if (!judge(guard, &tracks[GUARD_GENERAL], &dates[GUARD_GENERAL], steps[GUARD_GENERAL], s->luminance, dark(s), frame))
            return i;
        *kind = GUARD_RED;
        if (!judge(guard, &tracks[GUARD_RED], &dates[GUARD_RED], steps[GUARD_RED], redness(s), saturated(s), frame))
            return i;
    }
    return count_;
}

void guard_window(const struct guard *guard, uint32_t light, enum guard_kind kind, uint32_t *from, uint32_t *to)
{
    const struct dates *dates = &guard->dates[light][kind];
    *from = dates->ring[dates->counts % TRANSITIONS];
    *to = dates->ring[(dates->counts + TRANSITIONS - 1) % TRANSITIONS];
}
