/* Shows for swaps worked out by hand. */
#ifndef TESTS_PLAN_SWAP_HAND_H
#define TESTS_PLAN_SWAP_HAND_H

#include "swap_show.h"

static inline struct show *new_show(void)
{
    struct show *show = show_new();
    assert_non_null(show);
    show->name = text_of(show, "by hand");
    show_add_site(show)->id = text_of(show, "quay");
    struct type *type = show_add_type(show);
    type->id = text_of(show, "wash");
    type->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    type->firmware_floor[AIR_DUAL] = text_of(show, "3.1");
    return show;
}

/* On one site without positions: everything is in reach of everything. Universes first, first + 1, ... on lanes 1, 2, ... */
static inline struct transmitter *add_transmitter(struct show *show, const char *id, const char *code, int64_t radios, enum air air,
                                                  int64_t first, int64_t count)
{
    struct transmitter *transmitter = show_add_transmitter(show);
    assert_non_null(transmitter);
    transmitter->id = text_of(show, id);
    transmitter->site = text_of(show, "quay");
    transmitter->code = text_of(show, code);
    transmitter->radios = radios;
    transmitter->air = air;
    transmitter->airs = AIR_BIT(air);
    for (int64_t l = 0; l < count; l++)
        give_lane(show, transmitter, l + 1, first + l);
    return transmitter;
}

static inline void place(struct show *show, uint32_t transmitter, double x_m, double reach_m)
{
    show->transmitters[transmitter].pos = (struct position){ x_m, 0, 0 };
    show->transmitters[transmitter].reach_m = reach_m;
}

/* `count` fixtures of a universe, keyed to transmitter t, ids from `id`. */
static inline void add_fixtures(struct show *show, uint32_t t, int64_t lane, int64_t universe, int64_t id, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        struct fixture *fixture = show_add_fixture(show);
        assert_non_null(fixture);
        fixture->id = id + i;
        fixture->universe = universe;
        fixture->address = 1;
        fixture->type = text_of(show, "wash");
        fixture->site = text_of(show, "quay");
        fixture->code = show->transmitters[t].code;
        fixture->air = show->transmitters[t].air;
        fixture->lane = lane;
    }
}

static inline struct plan *swap_of(struct show *show, const struct plan_swap_options *options)
{
    struct plan *plan;
    struct rig_why why;
    assert_int_equal(show_index(show), 0);
    if (plan_swap(show, options, &plan, &why))
        fail_msg("%s", why.text);
    return plan;
}

static inline struct plan *lose_first(struct show *show)
{
    const uint32_t first = 0;
    return swap_of(show, &(struct plan_swap_options){ .out = &first, .out_count = 1 });
}

static inline void assert_cost(const struct plan *plan, uint32_t dark, uint32_t disturbed, uint32_t touches, uint32_t settings)
{
    assert_null(plan->refused);
    assert_true(plan->proved);
    assert_int_equal(plan->dark, dark);
    assert_int_equal(plan->disturbed, disturbed);
    assert_int_equal(plan->touches, touches);
    assert_int_equal(plan->settings, settings);
    assert_int_equal(plan->dark_at_least, dark);
    assert_int_equal(plan->disturbed_at_least, disturbed);
    assert_int_equal(plan->touches_at_least, touches);
    assert_int_equal(plan->settings_at_least, settings);
}

#endif
