/* Small random shows for the tests of swap and move: mostly in order, now and then contradictory. One number, one show. */
#ifndef TESTS_PLAN_SWAP_SHOW_H
#define TESTS_PLAN_SWAP_SHOW_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/plan.h"

struct dice { uint64_t state; };

/* splitmix64 (Steele, Lea, Flood 2014) */
static inline uint64_t roll(struct dice *dice)
{
    uint64_t z = dice->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static inline uint32_t below(struct dice *dice, uint32_t limit)
{
    return (uint32_t)(roll(dice) % limit);
}

static inline bool chance(struct dice *dice, uint32_t percent)
{
    return below(dice, 100) < percent;
}

static inline const char *text_of(struct show *show, const char *text)
{
    return text ? show_text(show, text, strlen(text)) : NULL;
}

/* How large, and how wild. */
struct recipe {
    uint32_t transmitters, radios, universes, fixtures;      /* at most */
    uint32_t wild;                   /* per cent of what is put anywhere */
    bool far;                        /* transmitters and fixtures spread along a line, with reaches */
    uint32_t alike;                  /* per cent of transmitters that have the first one's code; 0: 15 */
    bool crowded;                    /* the first transmitter carries most, and the others have few lanes left */
};

static const char *const some_codes[] = { "40718263", "51829374", "62930485", "73041596", "84152607" };
#define SOME_CODES (sizeof some_codes / sizeof *some_codes)

static inline void give_lane(struct show *show, struct transmitter *transmitter, int64_t lane, int64_t universe)
{
    struct lane *lanes = show_alloc(show, (transmitter->lane_count + 1) * sizeof *lanes);
    assert_non_null(lanes);
    for (uint32_t i = 0; i < transmitter->lane_count; i++)
        lanes[i] = transmitter->lanes[i];
    lanes[transmitter->lane_count++] = (struct lane){ lane, universe };
    transmitter->lanes = lanes;
}

static inline bool has_lane(const struct transmitter *transmitter, int64_t lane)
{
    for (uint32_t e = 0; e < transmitter->lane_count; e++)
        if (transmitter->lanes[e].lane == lane)
            return true;
    return false;
}

static inline struct show *small_show(struct dice *dice, const struct recipe *recipe)
{
    struct show *show = show_new();
    assert_non_null(show);
    show->name = text_of(show, "small");
    for (int s = 0; s < 2; s++)
        show_add_site(show)->id = text_of(show, s ? "barge" : "quay");
    if (chance(dice, 30)) {
        struct band *band = show_add_quiet(show);
        band->from_mhz = 2402;
        band->to_mhz = chance(dice, 80) ? 2420 : 2470;       /* the second leaves 10 hop channels: too few */
    }
    for (int t = 0; t < 2; t++) {
        struct type *type = show_add_type(show);
        type->id = text_of(show, t ? "old" : "new");
        type->airs = t ? AIR_BIT(AIR_SINGLE) : AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
        type->firmware_floor[AIR_DUAL] = t ? NULL : text_of(show, "3.1");
    }
    for (uint32_t u = 1; u <= recipe->universes; u++)
        show_add_universe(show)->id = u;
    uint32_t count = 2 + below(dice, recipe->transmitters - 1);
    for (uint32_t t = 0; t < count; t++) {
        struct transmitter *transmitter = show_add_transmitter(show);
        char id[16];
        snprintf(id, sizeof id, "T%u", chance(dice, 50) ? t : 10 + (t * 7) % 10);
        transmitter->id = text_of(show, id);
        transmitter->site = text_of(show, chance(dice, 80) ? "quay" : "barge");
        transmitter->radios = recipe->crowded && t == 0 ? 2 : 1 + below(dice, recipe->radios);
        transmitter->airs = chance(dice, 50) ? 6 : chance(dice, 50) ? 2 : 4;
        transmitter->air = transmitter->airs & 4 ? (transmitter->airs & 2 && chance(dice, 40) ? AIR_SINGLE : AIR_DUAL) : AIR_SINGLE;
        transmitter->spare = t > 0 && chance(dice, recipe->crowded ? 25 : 40);
        transmitter->code = text_of(show, chance(dice, 80) || t == 0 ? some_codes[chance(dice, recipe->alike ? recipe->alike : 15) ? 0 : t % SOME_CODES] : NULL);
        if (recipe->far && chance(dice, 85)) {
            transmitter->pos = (struct position){ below(dice, 100), 0, 0 };
            transmitter->reach_m = 20 + below(dice, 60);
        }
        if (chance(dice, 30)) {
            transmitter->keep_out = show_alloc(show, sizeof *transmitter->keep_out);
            transmitter->keep_out_count = 1;
            transmitter->keep_out[0].from_mhz = chance(dice, 70) ? 2402 : 2430;
            transmitter->keep_out[0].to_mhz = chance(dice, 70) ? 2431 : 2479;
        }
    }
    /* universes on lanes: each on one, in order */
    for (uint32_t u = 1; u <= recipe->universes; u++) {
        uint32_t t = chance(dice, recipe->crowded ? 50 : 60) ? 0 : below(dice, count);
        struct transmitter *transmitter = &show->transmitters[t];
        int64_t top = transmitter_lane_count(transmitter);
        if (chance(dice, recipe->crowded ? 0 : 15))
            continue;
        int64_t lane = 1 + below(dice, (uint32_t)top);
        for (int64_t tries = 0; tries < top && has_lane(transmitter, lane); tries++)
            lane = lane % top + 1;
        if (!has_lane(transmitter, lane))
            give_lane(show, transmitter, lane, u);
    }
    /* spares set up ahead of time */
    for (uint32_t t = 1; t < count; t++) {
        struct transmitter *transmitter = &show->transmitters[t];
        if (!transmitter->spare || !chance(dice, 40))
            continue;
        if (chance(dice, 50))
            transmitter->code = show->transmitters[0].code;
        for (int64_t lane = 1; lane <= transmitter_lane_count(transmitter); lane++)
            if (!has_lane(transmitter, lane) && chance(dice, 50))
                give_lane(show, transmitter, lane, 1 + below(dice, recipe->universes));
    }
    uint32_t fixtures = 1 + below(dice, recipe->fixtures);
    for (uint32_t f = 0; f < fixtures; f++) {
        struct fixture *fixture = show_add_fixture(show);
        fixture->id = 100 + f;
        fixture->type = text_of(show, chance(dice, 70) ? "new" : "old");
        fixture->site = text_of(show, chance(dice, 85) ? "quay" : "barge");
        fixture->firmware = text_of(show, chance(dice, 30) ? NULL : chance(dice, 70) ? "3.10" : "2.9");
        fixture->universe = 1 + below(dice, recipe->universes);
        fixture->address = 1;
        if (recipe->far && chance(dice, 90))
            fixture->pos = (struct position){ below(dice, 100), 0, 0 };
        if (chance(dice, recipe->wild)) {
            fixture->code = text_of(show, some_codes[below(dice, SOME_CODES)]);
            fixture->air = chance(dice, 50) ? AIR_SINGLE : AIR_DUAL;
            fixture->lane = 1 + below(dice, 4);
            continue;
        }
        for (uint32_t t = 0; t < count; t++) {
            const struct transmitter *transmitter = &show->transmitters[t];
            for (uint32_t e = 0; e < transmitter->lane_count && !transmitter->spare; e++)
                if (transmitter->lanes[e].universe == fixture->universe) {
                    fixture->code = transmitter->code;
                    fixture->air = transmitter->air;
                    fixture->lane = transmitter->lanes[e].lane;
                }
        }
    }
    assert_int_equal(show_index(show), 0);
    return show;
}

#endif
