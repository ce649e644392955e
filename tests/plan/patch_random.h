/* Random rigs for the patch planner, the same ones every time, and what must hold of any plan for them. The checks are written
 * from the definitions and use nothing of the planner but its public results. */
#ifndef RIGCALL_TESTS_PLAN_PATCH_RANDOM_H
#define RIGCALL_TESTS_PLAN_PATCH_RANDOM_H

#include <inttypes.h>
#include <stdio.h>

#include "plan/plan_show.h"

struct dice { uint64_t state; };

/* xorshift64 (G. Marsaglia, 2003) */
static inline uint32_t roll(struct dice *dice, uint32_t below)
{
    dice->state ^= dice->state << 13;
    dice->state ^= dice->state >> 7;
    dice->state ^= dice->state << 17;
    return (uint32_t)(dice->state >> 33) % below;
}

static inline bool chance(struct dice *dice, uint32_t percent)
{
    return roll(dice, 100) < percent;
}

static inline const char *put_text(struct show *show, const char *text)
{
    return show_text(show, text, strlen(text));
}

struct random_size { uint32_t transmitters, fixtures, sites; bool plain; };   /* plain: positions and reach everywhere, one site wide apart */

static inline void random_types(struct dice *dice, struct show *show)
{
    static const uint32_t sizes[] = { 3, 8, 30, 64, 100, 128, 170, 200, 256, 300, 512 };
    for (uint32_t i = 0; i < 6; i++) {
        char id[8];
        struct type *type = show_add_type(show);
        snprintf(id, sizeof id, "t%u", i);
        type->id = put_text(show, id);
        type->airs = i == 5 ? 0 : chance(dice, 70) ? 6 : chance(dice, 50) ? 2 : 4;
        if (chance(dice, 30))
            type->firmware_floor[AIR_DUAL] = put_text(show, "3.1");
        type->modes = show_alloc(show, sizeof *type->modes);
        type->mode_count = 1;
        type->modes[0].id = put_text(show, "m");
        type->modes[0].slots = show_alloc(show, sizeof(struct slot));
        type->modes[0].slots[0].param = (uint16_t)show_param(show, "red", 3);
        type->modes[0].slots[0].default_percent = NAN;
        type->modes[0].slot_count = 1;
        type->modes[0].cells = sizes[roll(dice, sizeof sizes / sizeof *sizes)];
    }
}

static inline struct position random_place(struct dice *dice, uint32_t site, uint32_t wide)
{
    return (struct position){ site * (wide + 60.0) + roll(dice, wide * 4) / 4.0, roll(dice, 80) / 4.0, roll(dice, 20) / 2.0 };
}

static inline void random_transmitter(struct dice *dice, struct show *show, uint32_t i, const struct random_size *size)
{
    struct transmitter *t = show_add_transmitter(show);
    char id[16], code[9];
    uint32_t site = roll(dice, size->sites);
    snprintf(id, sizeof id, "T%u", i);
    snprintf(code, sizeof code, "4%07u", roll(dice, 10000000));
    t->id = put_text(show, id);
    t->site = show->sites[site].id;
    if (size->plain || chance(dice, 80))
        t->pos = random_place(dice, site, 150);
    if (size->plain || chance(dice, 85))
        t->reach_m = 20 + roll(dice, 160);
    t->radios = 1 + roll(dice, 3);
    t->airs = chance(dice, 60) ? 6 : chance(dice, 50) ? 2 : 4;
    t->air = t->airs == 2 || (t->airs == 6 && chance(dice, 50)) ? AIR_SINGLE : AIR_DUAL;
    t->spare = chance(dice, 10);
    if (chance(dice, 50))
        t->code = i && chance(dice, 10) && show->transmitters[i - 1].code ? show->transmitters[i - 1].code : put_text(show, code);
}

/* Lanes with universes, some of them with a fixture or two that stand right. */
static inline void random_lanes(struct dice *dice, struct show *show, struct transmitter *t, int64_t *universe, int64_t *fixture)
{
    int64_t top = transmitter_lane_count(t);
    t->lanes = show_alloc(show, (size_t)top * sizeof *t->lanes);
    for (int64_t lane = 1; lane <= top; lane++) {
        if (!chance(dice, 40))
            continue;
        char label[24];
        struct universe *u = show_add_universe(show);
        *universe += 1 + roll(dice, 2);
        snprintf(label, sizeof label, "Old %" PRId64, *universe);
        u->id = *universe;
        u->label = put_text(show, label);
        t->lanes[t->lane_count++] = (struct lane){ lane, *universe };
        for (int64_t n = roll(dice, 3), at = 1; n > 0; n--) {
            struct fixture *f = show_add_fixture(show);
            f->id = ++*fixture;
            f->universe = *universe;
            f->address = at;
            f->code = t->code;
            f->air = t->code ? t->air : AIR_NONE;
            f->lane = t->code ? lane : SHOW_NONE;
            f->type = show->types[0].id;
            f->mode = put_text(show, "m");
            f->site = t->site;
            f->pos = t->pos;
            at += show->types[0].modes[0].cells + roll(dice, 20);
            if (at + show->types[0].modes[0].cells > 513)
                n = 1;
        }
    }
}

static inline struct show *random_show(struct dice *dice, struct random_size size)
{
    static const char *const sites[] = { "quay", "barge", "mill" };
    struct show *show = show_new();
    int64_t universe = 0, fixture = 1000;
    for (uint32_t s = 0; s < size.sites; s++)
        show_add_site(show)->id = put_text(show, sites[s]);
    random_types(dice, show);
    for (uint32_t q = roll(dice, 3); q > 0; q--) {
        struct band *band = show_add_quiet(show);
        band->from_mhz = 2402 + roll(dice, 60);
        band->to_mhz = band->from_mhz + roll(dice, 38);
    }
    for (uint32_t i = 0, count = 1 + roll(dice, size.transmitters); i < count; i++)
        random_transmitter(dice, show, i, &size);
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        if (chance(dice, 50) && !show->transmitters[i].spare)
            random_lanes(dice, show, &show->transmitters[i], &universe, &fixture);
    for (uint32_t i = 0, count = 1 + roll(dice, size.fixtures); i < count; i++) {
        struct fixture *f = show_add_fixture(show);
        uint32_t site = roll(dice, size.sites);
        f->id = 1 + i * 7 % 997;
        f->type = show->types[chance(dice, 6) ? 5 : roll(dice, 5)].id;
        f->mode = put_text(show, "m");
        f->site = show->sites[site].id;
        if (size.plain || chance(dice, 90))
            f->pos = random_place(dice, site, 150);
        if (chance(dice, 20))
            f->firmware = put_text(show, chance(dice, 50) ? "3.0" : "3.10");
        f->wired = chance(dice, 4);
        if (i && chance(dice, 5))
            f->same_as = 1 + roll(dice, i) * 7 % 997;
    }
    assert_int_equal(show_index(show), 0);
    return show;
}

/* ---- what must hold ---- */

static inline bool is_wired(const struct show *show, const struct fixture *f)
{
    return f->wired || !fixture_type(show, f)->airs;
}

static inline int64_t root(const struct show *show, int64_t id)
{
    for (int hops = 0; hops < 100; hops++) {
        uint32_t at = show_find_fixture(show, id);
        if (at == SHOW_UNKNOWN || show->fixtures[at].same_as == SHOW_NONE)
            return id;
        id = show->fixtures[at].same_as;
    }
    return id;
}

static inline void check_fixture(const struct show *before, const struct show *after, uint32_t f)
{
    const struct fixture *a = &before->fixtures[f], *b = &after->fixtures[f];
    assert_true(b->universe >= 1 && b->universe <= 63999);
    assert_true(b->address >= 1 && fixture_last(after, b) <= SHOW_SLOTS);
    if (is_wired(before, a)) {
        assert_true(!b->code && b->air == AIR_NONE && b->lane == SHOW_NONE);
        return;
    }
    struct landing landing = radio_landing(after, b);
    if (landing.state != LANDING_RIGHT)
        fail_msg("fixture %" PRId64 " lands %d", b->id, landing.state);
    const struct type *type = fixture_type(after, b);
    assert_true(type->airs & AIR_BIT(b->air));
    if (b->air == AIR_DUAL && type->firmware_floor[AIR_DUAL] && b->firmware)
        assert_string_not_equal(b->firmware, "3.0");         /* the only version here below the only floor, 3.1 */
    uint32_t count, on = 0;
    const struct carrier *carriers = show_carriers(after, b->universe, &count);
    for (uint32_t i = 0; i < count; i++)
        on += !after->transmitters[carriers[i].transmitter].spare;
    assert_int_equal(on, 1);
}

static inline void check_slots(const struct show *before, const struct show *after)
{
    for (uint32_t a = 0; a < after->fixture_count; a++)
        for (uint32_t b = 0; b < a; b++) {
            const struct fixture *x = &after->fixtures[a], *y = &after->fixtures[b];
            if (x->universe == SHOW_NONE || x->universe != y->universe)
                continue;
            bool moved = x->universe != before->fixtures[a].universe || y->universe != before->fixtures[b].universe;
            bool apart = fixture_last(after, x) < y->address || fixture_last(after, y) < x->address;
            if (moved && !apart && !(x->address == y->address && root(after, x->id) == root(after, y->id)))
                fail_msg("fixtures %" PRId64 " and %" PRId64 " overlap", x->id, y->id);
            if (moved)
                assert_ptr_equal(after->sites + x->site_index, after->sites + y->site_index);
        }
}

/* Where two could hear one receiver (positions and reach given, or one site), codes differ if one of them is new. */
static inline void check_transmitters(const struct show *before, const struct show *after, uint32_t settings)
{
    uint32_t changed = 0;
    for (uint32_t i = 0; i < after->transmitter_count; i++) {
        const struct transmitter *a = &before->transmitters[i], *b = &after->transmitters[i];
        uint32_t here = (a->code == NULL) != (b->code == NULL);
        assert_true(a->spare == b->spare);
        if (a->code)
            assert_string_equal(a->code, b->code);
        here += a->air != b->air;
        here += b->lane_count - a->lane_count;
        here += a->keep_out_count != b->keep_out_count;
        changed += here;
        if (a->lane_count)
            assert_int_equal(a->air, b->air);
        if (a->spare || !here) {
            assert_int_equal(here, 0);
            continue;
        }
        assert_true(b->airs & AIR_BIT(b->air) || a->lane_count);
        assert_true(radio_hops(b) >= RADIO_FLOOR);
        for (uint32_t q = 0; q < after->quiet_count && (!a->lane_count || !a->code); q++)
            assert_true(radio_quiet_kept(b, &after->quiet[q], NULL));
        for (uint32_t e = 0; e < a->lane_count; e++) {
            bool kept = false;
            for (uint32_t k = 0; k < b->lane_count; k++)
                kept |= b->lanes[k].lane == a->lanes[e].lane && b->lanes[k].universe == a->lanes[e].universe;
            assert_true(kept);
        }
        assert_false(plan_code_guessable(b->code) && !a->code);
        for (uint32_t k = 0; k < after->transmitter_count && !a->code; k++) {
            const struct transmitter *c = &after->transmitters[k];
            double d = radio_distance_m(&b->pos, &c->pos), sum = b->reach_m + c->reach_m;
            bool near = isnan(d) || isnan(sum) ? b->site_index == c->site_index : d <= sum;
            if (k != i && c->code && near)
                assert_string_not_equal(b->code, c->code);
        }
    }
    assert_int_equal(changed, settings);
}

static inline bool same_text(const char *a, const char *b)
{
    return a && b ? !strcmp(a, b) : a == b;
}

static inline void check_touches(const struct plan *plan, const struct show *before, const struct show *after, bool all)
{
    uint32_t touches = 0;
    for (uint32_t f = 0; f < before->fixture_count; f++) {
        const struct fixture *a = &before->fixtures[f], *b = &after->fixtures[f];
        bool touched = a->address != b->address || a->air != b->air || a->lane != b->lane || !same_text(a->code, b->code);
        bool stays = a->universe != SHOW_NONE && (!all || !a->code || is_wired(before, a));
        if (touched && (touches >= plan->touched_count || plan->touched[touches] == SHOW_UNKNOWN))
            fail_msg("fixture %" PRId64 " changed and is not listed", a->id);
        touches += touched;
        bool listed = false;
        for (uint32_t i = 0; i < plan->touched_count; i++)
            listed |= plan->touched[i] == f;
        assert_true(listed == touched);
        if (stays) {
            assert_false(touched);
            assert_true(a->universe == b->universe);
            if (radio_landing(before, a).state == LANDING_RIGHT)
                assert_int_equal(radio_landing(after, b).state, LANDING_RIGHT);
        } else {
            check_fixture(before, after, f);
        }
    }
    assert_int_equal(touches, plan->touches);
}

static inline void check_labels(const struct show *before, const struct show *after)
{
    for (uint32_t u = before->universe_count; u < after->universe_count; u++) {
        assert_non_null(after->universes[u].label);
        assert_true(utf8_count(after->universes[u].label, strlen(after->universes[u].label)) <= 32);
        for (uint32_t v = 0; v < u; v++)
            assert_string_not_equal(after->universes[u].label, after->universes[v].label);
    }
}

/* Addresses in a new universe rise from 1 without gaps. */
static inline void check_stretches(const struct show *before, const struct show *after)
{
    for (uint32_t u = before->universe_count; u < after->universe_count; u++) {
        uint32_t count;
        const uint32_t *list = show_universe_fixtures(after, after->universes[u].id, &count);
        int64_t next = 1, last = 1;
        assert_true(count > 0);
        for (uint32_t i = 0; i < count; i++) {
            const struct fixture *f = &after->fixtures[list[i]];
            assert_true(f->address == next || f->address == last);
            last = f->address;
            next = fixture_last(after, f) + 1;
        }
    }
}

/* All that must hold of a plan that fits, or of one that does not. */
static inline void check_plan(const struct plan *plan, const struct show *before, const struct plan_patch_options *options)
{
    struct show *after;
    struct rig_why why;
    assert_null(plan->refused);
    assert_int_equal(plan_apply(plan, before, &after, &why), 0);
    if (plan->dark) {
        assert_int_equal(plan->step_count + plan->touches + plan->settings + plan->touched_count, 0);
        assert_int_equal(plan->darkened_count, plan->dark);
        for (uint32_t i = 0; i < plan->dark; i++)
            assert_non_null(plan->dark_whys[i]);
    } else {
        check_touches(plan, before, after, options->all);
        check_slots(before, after);
        check_transmitters(before, after, plan->settings);
        check_labels(before, after);
        check_stretches(before, after);
    }
    show_free(after);
}

#endif
