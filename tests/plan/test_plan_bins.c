/* The packer against plain search over all packings, against instances with a known least number, and what it says of itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "plan/bins.h"

#define MOST 120

static uint64_t state_of_random = 88172645463325252u;

/* xorshift64 (G. Marsaglia, 2003) */
static uint32_t roll(uint32_t below)
{
    state_of_random ^= state_of_random << 13;
    state_of_random ^= state_of_random >> 7;
    state_of_random ^= state_of_random << 17;
    return (uint32_t)(state_of_random >> 33) % below;
}

struct instance { uint32_t count, size[MOST], gap_count, gap_room[4]; uint64_t set[MOST], gap_set[4]; };

/* Pack, and check the packing from its definition. */
static struct bins pack(const struct instance *in, uint64_t limit)
{
    static uint32_t bin[MOST];
    uint32_t used[MOST + 4] = { 0 }, highest = 0;
    uint64_t common[MOST + 4];
    memset(common, 0xff, sizeof common);
    struct bins bins = { .count = in->count, .size = in->size, .words = 1, .sets = in->set, .capacity = 512, .step_limit = limit,
                         .gap_count = in->gap_count, .gap_room = in->gap_room, .gap_sets = in->gap_set, .bin = bin };
    assert_true(bins_pack(&bins));
    assert_true(bins.accepted);
    for (uint32_t i = 0; i < in->count; i++) {
        assert_true(bin[i] < in->gap_count + bins.opened);
        used[bin[i]] += in->size[i];
        common[bin[i]] &= in->set[i];
        highest = bin[i] + 1 > highest ? bin[i] + 1 : highest;
    }
    for (uint32_t b = 0; b < in->gap_count + bins.opened; b++) {
        assert_true(used[b] <= (b < in->gap_count ? in->gap_room[b] : 512));
        assert_true(common[b] & (b < in->gap_count ? in->gap_set[b] : ~UINT64_C(0)));
        assert_true(b < in->gap_count || used[b] > 0);
    }
    assert_true(bins.at_least <= bins.opened && bins.proved == (bins.at_least == bins.opened));
    return bins;
}

/* Every thing into every bin that takes it, or a new one: the plain definition. */
struct plain { const struct instance *in; uint32_t room[MOST + 4], best; uint64_t common[MOST + 4]; };

static void every_way(struct plain *p, uint32_t at, uint32_t opened)
{
    if (opened >= p->best)
        return;
    if (at == p->in->count) {
        p->best = opened;
        return;
    }
    for (uint32_t b = 0; b <= p->in->gap_count + opened; b++) {
        bool fresh = b == p->in->gap_count + opened;
        if (fresh) {
            p->room[b] = 512;
            p->common[b] = ~UINT64_C(0);
        }
        if (p->room[b] < p->in->size[at] || !(p->common[b] & p->in->set[at]))
            continue;
        uint64_t before = p->common[b];
        p->room[b] -= p->in->size[at];
        p->common[b] &= p->in->set[at];
        every_way(p, at + 1, opened + fresh);
        p->room[b] += p->in->size[at];
        p->common[b] = before;
    }
}

static void as_few_as_plain_search(void **state)
{
    (void)state;
    for (int run = 0; run < 3000; run++) {
        struct instance in = { .count = 1 + roll(9), .gap_count = roll(3) };
        uint32_t least = 1 + roll(250), sets = 1 + roll(3);
        struct plain plain = { .in = &in, .best = UINT32_MAX };
        for (uint32_t i = 0; i < in.count; i++) {
            in.size[i] = least + roll(513 - least);
            in.set[i] = sets == 1 ? 7 : 1 + roll(7);
        }
        for (uint32_t g = 0; g < in.gap_count; g++) {
            plain.room[g] = in.gap_room[g] = 1 + roll(512);
            plain.common[g] = in.gap_set[g] = UINT64_C(1) << roll(3);
        }
        every_way(&plain, 0, 0);
        struct bins bins = pack(&in, 10000000);
        assert_true(bins.proved);
        assert_int_equal(bins.opened, plain.best);
    }
}

/* Full bins cut into three at random: the least number is known by construction, and nothing may be wasted. */
static void full_bins_cut_in_three(void **state)
{
    (void)state;
    for (int run = 0; run < 200; run++) {
        struct instance in = { .count = 30 };
        for (uint32_t i = 0; i < 30; i += 3) {
            uint32_t a = 130 + roll(100), b = 130 + roll(100);
            in.size[i] = a;
            in.size[i + 1] = b;
            in.size[i + 2] = 512 - a - b;
        }
        for (uint32_t i = 0; i < 30; i++)
            in.set[i] = 1;
        struct bins bins = pack(&in, 2000000);
        assert_true(bins.proved);
        assert_int_equal(bins.opened, 10);
    }
}

/* Thirty things of any sizes are always proved within the planner's step limit. */
static void thirty_are_proved(void **state)
{
    (void)state;
    for (int run = 0; run < 1000; run++) {
        struct instance in = { .count = 30 };
        uint32_t least = 1 + roll(200), most = least + roll(513 - least);
        for (uint32_t i = 0; i < 30; i++) {
            in.size[i] = least + roll(most - least + 1);
            in.set[i] = run % 2 ? 1 : 1 + roll(3);
        }
        struct bins bins = pack(&in, 2000000);
        if (!bins.proved)
            fail_msg("run %d: %u opened, at least %u", run, bins.opened, bins.at_least);
    }
}

/* First-fit-decreasing takes 6 bins for these, 5 will do (two of 256+128+128 and three of 170+171+171, by hand). */
static void stopped_at_once_it_says_so(void **state)
{
    (void)state;
    struct instance in = { .count = 15, .size = { 256, 256, 171, 171, 171, 171, 171, 171, 170, 170, 170, 128, 128, 128, 128 } };
    for (uint32_t i = 0; i < in.count; i++)
        in.set[i] = 1;
    struct bins bins = pack(&in, 1000000);
    assert_true(bins.proved);
    assert_int_equal(bins.opened, 5);
    bins = pack(&in, 1);
    assert_int_equal(bins.at_least, 5);
    assert_true(bins.opened == 5 || !bins.proved);
}

static bool odd(void *context, const uint64_t *sets, const uint32_t *bin, uint32_t opened)
{
    (void)context, (void)sets, (void)bin;
    return opened % 2;
}

static bool never(void *context, const uint64_t *sets, const uint32_t *bin, uint32_t opened)
{
    (void)context, (void)sets, (void)bin, (void)opened;
    return false;
}

static void what_is_refused_is_not_proved(void **state)
{
    (void)state;
    static const uint32_t size[] = { 300, 300, 200, 200 };
    static const uint64_t sets[] = { 1, 1, 1, 1 };
    uint32_t bin[4];
    struct bins bins = { .count = 4, .size = size, .words = 1, .sets = sets, .capacity = 512, .step_limit = 1000, .bin = bin, .accept = odd };
    assert_true(bins_pack(&bins));
    assert_int_equal(bins.at_least, 2);
    assert_true(!bins.accepted || (bins.opened == 3 && !bins.proved));
    bins.accept = never;
    assert_true(bins_pack(&bins));
    assert_false(bins.accepted);
    assert_false(bins.proved);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_few_as_plain_search),
        cmocka_unit_test(full_bins_cut_in_three),
        cmocka_unit_test(thirty_are_proved),
        cmocka_unit_test(stopped_at_once_it_says_so),
        cmocka_unit_test(what_is_refused_is_not_proved),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
