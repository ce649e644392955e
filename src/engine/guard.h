/* The flash guard's judgement, pure: samples of light in, one sample a frame and a light, and a verdict out. It knows neither
 * fixtures nor slots (guard_watch.c does) and keeps no clock: time is the frame number.
 *
 * A transition is the change between neighbouring peak and valley. It is dated at the frame where it first reaches the step
 * (10 % of luminance; more than 20/320 of redness). A luminance transition counts when its darker state is under 0.80; a redness
 * transition when a state at one of its ends is a saturated red. A flash is a pair of opposing transitions, so an eighth one
 * less than a second after the first of them is the fourth flash in a second: one too many.
 * Source: WCAG 2.x, success criterion 2.3.1, general flash and red flash thresholds; for red the older wording (WCAG 2.0 and
 * 2.1: redness and saturation), which is the cautious one: with it red to black and back is a flash. */
#ifndef RIGCALL_ENGINE_GUARD_H
#define RIGCALL_ENGINE_GUARD_H

#include <stdbool.h>
#include <stdint.h>

#define GUARD_FLASHES 3              /* of a kind allowed in any second */

enum guard_kind { GUARD_GENERAL, GUARD_RED, GUARD_KINDS };

/* Samples of neighbouring lights, linear, 0..1: relative luminance; redness and saturation (0 or 1; as wide as the others, because it
 * goes through the same loop) as the two functions below say. */
struct guard_samples { double *luminance, *redness; uint64_t *saturated; };

/** Red less green and blue, at least 0. The primaries are times intensity. */
static inline double guard_redness(double red, double green, double blue)
{
    double excess = red - green - blue;
    return excess > 0 ? excess : 0;
}

/** A saturated red: red >= 0.8 (red + green + blue). Black is none. */
static inline bool guard_saturated(double red, double green, double blue)
{
    return red > 0 && red >= 0.8 * (red + green + blue) - 1e-9;
}

struct guard;
/** @param lights  how many lights are judged, each for itself   @param rate_hz  frames a second. @return NULL when memory is short */
struct guard *guard_new(uint32_t lights, double rate_hz);
void guard_free(struct guard *guard);

/** Tell the state of lights before the first frame. */
void guard_start(struct guard *guard, uint32_t first, uint32_t count, const struct guard_samples *samples);

/** Judge neighbouring lights in one frame. A light that did not change since its last frame need not be fed.
 * @param first,count  the lights   @param samples  of each of them
 * @return count when all is well; otherwise the place (0..count-1) of the first that flashes too often, and *kind of what */
uint32_t guard_feed(struct guard *guard, uint32_t first, uint32_t count, uint32_t frame, const struct guard_samples *samples,
                    enum guard_kind *kind);

/** Of a light that guard_feed() refused: the frames of the first and the last of the eight transitions. */
void guard_window(const struct guard *guard, uint32_t light, enum guard_kind kind, uint32_t *from, uint32_t *to);

#endif
