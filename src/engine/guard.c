#include "guard.h"

#include <stdlib.h>
#include <string.h>

#define TRANSITIONS (2 * (GUARD_FLASHES + 1))
#define ROUNDING 1e-9                /* so that 0.75 to 0.85 is 10 % in binary fractions too */
#define DARK 0.80
#define SECOND_NS (1e9 - 1000.0)     /* frame times are rounded; half-open: a span of exactly a second is not within it */
#define CHUNK 64

static const double steps[GUARD_KINDS] = { [GUARD_GENERAL] = 0.10 - ROUNDING, [GUARD_RED] = 20.0 / 320.0 + ROUNDING };

/* Where a light stands between peak and valley is one word: the farthest value since the last turn as a double, with the direction
 * in the sign bit (negative: falling), so that "farther" is "greater" both ways and a frame is a loop without branches. The three
 * lowest bits, worth less than 1e-15, say
 *   MARK     that state makes a transition to or from it count: it is under 0.80 (when the brighter of two states is, the darker is
 *            too) or a saturated red. Kept inverted when falling, so that of two equal values the marked one is the farther.
 *   FRESH    no transition has begun yet; the sign is positive then
 *   PENDING  the transition that runs does not count yet */
#define SIGN (UINT64_C(1) << 63)
#define MARK UINT64_C(1)
#define FRESH UINT64_C(2)
#define PENDING UINT64_C(4)

/* Two words, or two values, at a time; gcc and clang make it plain arithmetic where there are no such registers. */
typedef uint64_t word_pair __attribute__((vector_size(16)));
typedef double value_pair __attribute__((vector_size(16)));

/* What is rarely looked at. */
struct history {
    bool low_marked;                 /* of the lowest state before the first one; the highest is the word */
    double low;
    uint32_t turned, counts, ring[TRANSITIONS];      /* frames: of the transition that runs, of those that counted */
};

struct guard {
    double rate_hz;
    uint64_t *words[GUARD_KINDS];
    struct history *histories[GUARD_KINDS];
};

struct guard *guard_new(uint32_t lights, double rate_hz)
{
    struct guard *guard = calloc(1, sizeof *guard);
    if (!guard)
        return NULL;
    guard->rate_hz = rate_hz;
    bool all = true;
    for (int kind = 0; kind < GUARD_KINDS; kind++) {
        guard->words[kind] = calloc((size_t)lights + 1, sizeof *guard->words[kind]);
        guard->histories[kind] = calloc((size_t)lights + 1, sizeof *guard->histories[kind]);
        all &= guard->words[kind] && guard->histories[kind];
    }
    if (all)
        return guard;
    guard_free(guard);
    return NULL;
}

void guard_free(struct guard *guard)
{
    if (!guard)
        return;
    for (int kind = 0; kind < GUARD_KINDS; kind++) {
        free(guard->words[kind]);
        free(guard->histories[kind]);
    }
    free(guard);
}

static inline uint64_t to_bits(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static inline double from_bits(uint64_t bits)
{
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* A value as a word that can be compared with another of the same sign and the same flags. */
static inline uint64_t make_word(double value, uint64_t marked, uint64_t sign, uint64_t flags)
{
    return (to_bits(value) & ~(MARK | FRESH | PENDING)) | sign | flags | (marked ^ sign >> 63);
}

static inline bool is_marked(uint64_t word)
{
    return (word ^ word >> 63) & MARK;
}

static inline double sample_value(const struct guard_samples *samples, enum guard_kind kind, uint32_t i)
{
    return kind == GUARD_GENERAL ? samples->luminance[i] : samples->redness[i];
}

static inline bool sample_marked(const struct guard_samples *samples, enum guard_kind kind, uint32_t i)
{
    return kind == GUARD_GENERAL ? samples->luminance[i] < DARK - ROUNDING : samples->saturated[i] != 0;
}

void guard_start(struct guard *guard, uint32_t first, uint32_t count, const struct guard_samples *samples)
{
    for (uint32_t i = 0; i < count; i++)
        for (enum guard_kind kind = 0; kind < GUARD_KINDS; kind++) {
            double value = sample_value(samples, kind, i);
            bool marked = sample_marked(samples, kind, i);
            /* Nothing can fall from under the step, so darkness is as good as the end of a fall; most lights start so. */
            guard->words[kind][first + i] = value > 0 ? make_word(value, marked, 0, FRESH) : make_word(0, marked, SIGN, 0);
            guard->histories[kind][first + i] = (struct history){ .low = value, .low_marked = marked };
        }
}

/* Count the transition that runs. False when it is the eighth within a second. */
static bool count_transition(const struct guard *guard, struct history *history)
{
    history->ring[history->counts++ % TRANSITIONS] = history->turned;
    if (history->counts < TRANSITIONS)
        return true;
    uint32_t first = history->ring[history->counts % TRANSITIONS];
    return (history->turned - first) * 1e9 / guard->rate_hz >= SECOND_NS;
}

/* A transition begins; it counts at once when the state it leaves, or the one it has reached, makes it. */
static bool turn(const struct guard *guard, uint64_t *word, struct history *history, uint64_t sign, double value,
                 bool from_marked, bool marked, uint32_t frame)
{
    bool counts = from_marked || marked;
    *word = make_word(value, marked, sign, counts ? 0 : PENDING);
    history->turned = frame;
    return counts ? count_transition(guard, history) : true;
}

/* What move_all() leaves over: a turn, the time before the first transition, and one that comes to count while it runs. */
static bool settle(const struct guard *guard, uint64_t *word, struct history *history, double step, double value,
                   bool marked, uint32_t frame)
{
    uint64_t sign = *word & SIGN;
    double along = sign ? -value : value;
    if (from_bits(*word) - along >= step)
        return turn(guard, word, history, sign ^ SIGN, value, is_marked(*word), marked, frame);
    if (*word & PENDING && is_marked(*word)) {
        *word &= ~PENDING;
        return count_transition(guard, history);
    }
    if (!(*word & FRESH))
        return true;
    if (value - history->low >= step)
        return turn(guard, word, history, 0, value, history->low_marked, marked, frame);
    history->low_marked = (history->low_marked && value >= history->low) || (marked && value <= history->low);
    if (value < history->low)
        history->low = value;
    return true;
}

/* Move two words on to their values. @return not 0 for those that are left to settle() */
static inline word_pair move_pair(word_pair *words, value_pair values, word_pair marks, double step)
{
    word_pair before = *words;
    word_pair now = ((word_pair)values & ~(MARK | FRESH | PENDING)) | (before & (SIGN | FRESH | PENDING)) |
                    (marks ^ before >> 63);
    word_pair farther = (word_pair)((value_pair)now > (value_pair)before);
    word_pair after = (now & farther) | (before & ~farther);
    word_pair turned = (word_pair)((value_pair)after - (value_pair)now >= step);
    word_pair fresh = (now ^ before) & -(before >> 1 & 1), counts = (after ^ after >> 63) & after >> 2 & 1;
    *words = after;
    return turned | fresh | counts;
}

/* One or two words from i on. @param marks  NULL: those of luminance, from the values */
static inline word_pair move_some(uint64_t *words, const double *values, const uint64_t *marks, double step,
                                  uint64_t *stands_out, size_t size)
{
    word_pair word = { 0 }, mark = { 0 }, out;
    value_pair value = { 0 };
    memcpy(&word, words, size);
    memcpy(&value, values, size);
    if (marks)
        memcpy(&mark, marks, size);
    else
        mark = (word_pair)(value < DARK - ROUNDING) & 1;
    out = move_pair(&word, value, mark, step);
    memcpy(words, &word, size);
    memcpy(stands_out, &out, size);
    return out;
}

static inline uint64_t move_all(uint64_t *words, uint32_t count, double step, const double *values, const uint64_t *marks,
                                uint64_t *stands_out)
{
    word_pair any = { 0 };
    uint32_t i = 0;
    for (; i + 1 < count; i += 2)
        any |= move_some(words + i, values + i, marks ? marks + i : NULL, step, stands_out + i, sizeof any);
    if (i < count)
        any |= move_some(words + i, values + i, marks ? marks + i : NULL, step, stands_out + i, sizeof any[0]);
    return any[0] | any[1];
}

static uint32_t feed_chunk(struct guard *guard, uint32_t first, uint32_t count, uint32_t frame,
                           const struct guard_samples *samples, enum guard_kind *bad)
{
    uint64_t stands_out[GUARD_KINDS][CHUNK];
    uint64_t any = move_all(guard->words[GUARD_GENERAL] + first, count, steps[GUARD_GENERAL], samples->luminance, NULL,
                            stands_out[GUARD_GENERAL]);
    any |= move_all(guard->words[GUARD_RED] + first, count, steps[GUARD_RED], samples->redness, samples->saturated,
                    stands_out[GUARD_RED]);
    for (uint32_t i = 0; any && i < count; i++)
        for (enum guard_kind kind = 0; kind < GUARD_KINDS; kind++)
            if (stands_out[kind][i] &&
                !settle(guard, &guard->words[kind][first + i], &guard->histories[kind][first + i], steps[kind],
                        sample_value(samples, kind, i), sample_marked(samples, kind, i), frame)) {
                *bad = kind;
                return i;
            }
    return count;
}

uint32_t guard_feed(struct guard *guard, uint32_t first, uint32_t count, uint32_t frame, const struct guard_samples *samples,
                    enum guard_kind *kind)
{
    for (uint32_t done = 0; done < count; done += CHUNK) {
        uint32_t part = count - done < CHUNK ? count - done : CHUNK;
        struct guard_samples rest = { samples->luminance + done, samples->redness + done, samples->saturated + done };
        uint32_t bad = feed_chunk(guard, first + done, part, frame, &rest, kind);
        if (bad < part)
            return done + bad;
    }
    return count;
}

void guard_window(const struct guard *guard, uint32_t light, enum guard_kind kind, uint32_t *from, uint32_t *to)
{
    const struct history *history = &guard->histories[kind][light];
    *from = history->ring[history->counts % TRANSITIONS];
    *to = history->ring[(history->counts + TRANSITIONS - 1) % TRANSITIONS];
}
