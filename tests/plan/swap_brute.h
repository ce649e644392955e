/* A search of everything for swap and move: every code, air mode and place of every universe, judged fixture by fixture straight
 * from the definitions. Only for shows small enough; the solver's own arithmetic is not used. */
#ifndef TESTS_PLAN_SWAP_BRUTE_H
#define TESTS_PLAN_SWAP_BRUTE_H

#include "swap_show.h"

#define MOST 8                       /* transmitters, universes, fixtures */

/* One transmitter as a plan leaves it. */
struct after { const char *code; enum air air; int64_t top; bool on; int64_t lanes[9]; };

struct cost { uint32_t first, dark, disturbed, touches, settings; uint64_t list[MOST]; };

struct brute {
    const struct show *show;
    bool gone[MOST], in[MOST], was_on[MOST];
    int64_t old_top[MOST], most[MOST];
    struct after now[MOST];
    bool used[MOST];
    bool move;                       /* transmitters that must not change may go on carrying what receivers carry too */
    struct landing before[64];
    bool lost[64];
    bool excused[64];                /* lands in another universe already, or by the loss alone */
    int64_t universes[MOST];         /* that may be put anywhere */
    uint32_t universe_count;
    int64_t moved[MOST]; uint32_t moved_count;
    bool keep_working, touches_first, found;
    const int64_t *first; uint32_t first_count;
    const struct plan_never *never; uint32_t never_count;
    const struct plan_never *not_all; uint32_t not_all_count;      /* of these pairs at least one must not be had */
    struct cost best;
    uint64_t tried;
};

static char fresh[MOST][2];          /* only their addresses count */

static inline int64_t before_on_lane(const struct transmitter *transmitter, int64_t lane)
{
    for (uint32_t e = 0; e < transmitter->lane_count; e++)
        if (transmitter->lanes[e].lane == lane)
            return transmitter->lanes[e].universe;
    return 0;
}

/* Where a key lands: the only transmitter in reach that is on and matches. @return its index, or -1 */
static inline int land(const struct brute *b, const struct fixture *fixture, const char *code, enum air air, int64_t lane)
{
    int found = -1;
    for (uint32_t t = 0; t < b->show->transmitter_count; t++) {
        const struct after *after = &b->now[t];
        if (!after->on || after->code != code || after->air != air || lane < 1 || lane > after->top ||
            !radio_in_reach(b->show, &b->show->transmitters[t], fixture))
            continue;
        if (found >= 0)
            return -1;
        found = (int)t;
    }
    return found;
}

/* firmware is "3.10", "2.9" or none, and the only floor is 3.1 for dual */
static inline bool takes_air(const struct brute *b, const struct fixture *fixture, enum air air)
{
    const struct type *type = fixture_type(b->show, fixture);
    if (air == fixture->air)
        return true;
    if (!(type->airs & AIR_BIT(air)))
        return false;
    return !(air == AIR_DUAL && type->firmware_floor[AIR_DUAL] && fixture->firmware && !strcmp(fixture->firmware, "2.9"));
}

/* Key the fixture to the lane that carries its universe. @return true if it lands there rightly */
static inline bool rekey(const struct brute *b, const struct fixture *fixture)
{
    for (uint32_t t = 0; t < b->show->transmitter_count; t++)
        for (int64_t lane = 1; b->now[t].on && (b->in[t] || !b->move) && lane <= b->now[t].top; lane++)
            if (b->now[t].lanes[lane] == fixture->universe && takes_air(b, fixture, b->now[t].air) &&
                land(b, fixture, b->now[t].code, b->now[t].air, lane) == (int)t)
                return true;
    return false;
}

static inline bool is_first(const struct brute *b, int64_t universe)
{
    for (uint32_t i = 0; i < b->first_count; i++)
        if (b->first[i] == universe)
            return true;
    return false;
}

/* @return false if the plan must not do this to the fixture */
static inline bool judge_fixture(const struct brute *b, uint32_t f, struct cost *cost)
{
    const struct fixture *fixture = &b->show->fixtures[f];
    enum landing_state state = b->before[f].state;
    if (state == LANDING_NOT_ASKED)
        return true;
    int at = land(b, fixture, fixture->code, fixture->air, fixture->lane);
    int64_t gets = at < 0 ? 0 : b->now[at].lanes[fixture->lane];
    bool right = at >= 0 && gets == fixture->universe;
    bool other = at >= 0 && gets != 0 && gets != fixture->universe;
    if (state != LANDING_RIGHT)
        return !other || b->excused[f];
    if (b->lost[f]) {
        if (right)
            return true;
        if (rekey(b, fixture)) {
            cost->touches++;
        } else {
            cost->dark++;
            cost->first += is_first(b, fixture->universe);
            cost->touches += other;
        }
        return true;
    }
    if (right) {
        cost->disturbed += at != (int)b->before[f].transmitter;
        return true;
    }
    cost->disturbed++;
    cost->touches++;
    return rekey(b, fixture);
}

static inline bool judge_quiet(const struct brute *b, uint32_t t, struct cost *cost)
{
    const struct show *show = b->show;
    const struct transmitter *transmitter = &show->transmitters[t];
    bool gets = false, missing = false;
    for (int64_t lane = 1; lane <= b->now[t].top; lane++)
        gets |= b->now[t].lanes[lane] != 0;
    if (!b->now[t].on || !((transmitter->lane_count == 0 && gets) || !transmitter->code))
        return true;
    int left = 0;
    for (int mhz = RADIO_FIRST_MHZ; mhz <= RADIO_LAST_MHZ; mhz++) {
        bool out = radio_channel_out(transmitter, mhz);
        for (uint32_t q = 0; q < show->quiet_count; q++)
            out |= show->quiet[q].from_mhz <= mhz && mhz <= show->quiet[q].to_mhz;
        missing |= out && !radio_channel_out(transmitter, mhz);
        left += !out;
    }
    cost->settings += missing;
    return left >= RADIO_FLOOR;
}

static inline bool judge_transmitter(const struct brute *b, uint32_t t, struct cost *cost)
{
    const struct transmitter *transmitter = &b->show->transmitters[t];
    const struct after *after = &b->now[t];
    if (b->gone[t] || !b->in[t] || (!b->was_on[t] && !b->used[t] && transmitter->spare))
        return true;
    cost->settings += b->used[t] && after->code != transmitter->code;
    cost->settings += after->air != transmitter->air;
    for (int64_t lane = 1; lane < 9; lane++) {
        int64_t old = before_on_lane(transmitter, lane);
        bool exists = lane <= after->top;
        if (!exists && lane > b->old_top[t])
            continue;                /* it was no lane, and is none */
        cost->settings += old != (exists ? after->lanes[lane] : 0);
    }
    return judge_quiet(b, t, cost);
}

static inline bool clashes(const struct brute *b)
{
    for (uint32_t i = 0; i < b->show->transmitter_count; i++)
        for (uint32_t j = i + 1; j < b->show->transmitter_count; j++) {
            struct transmitter x = b->show->transmitters[i], y = b->show->transmitters[j];
            bool unchanged = b->was_on[i] && b->was_on[j] && b->now[i].code == x.code && b->now[j].code == y.code;
            if (!b->now[i].on || !b->now[j].on || b->now[i].code != b->now[j].code || unchanged)
                continue;
            x.code = y.code = b->now[i].code;
            if (radio_clash(&x, &y, NULL) == RADIO_CLASH_FAIL)
                return true;
        }
    return false;
}

static inline uint64_t place_of(const struct brute *b, int64_t universe)
{
    uint64_t best = UINT64_MAX;
    for (uint32_t t = 0; t < b->show->transmitter_count; t++) {
        uint64_t rank = 0;
        for (uint32_t other = 0; other < b->show->transmitter_count; other++) {
            int order = strcmp(b->show->transmitters[other].id, b->show->transmitters[t].id);
            rank += order < 0 || (order == 0 && other < t);
        }
        for (int64_t lane = 1; b->now[t].on && (b->in[t] || !b->move) && lane <= b->now[t].top; lane++)
            if (b->now[t].lanes[lane] == universe && ((rank << 32) | (uint64_t)lane) < best)
                best = (rank << 32) | (uint64_t)lane;
    }
    return best;
}

static inline int compare(const struct brute *b, const struct cost *x, const struct cost *y)
{
    bool t = b->touches_first;
    const uint32_t a[] = { x->first, x->dark, t ? x->touches : x->disturbed, t ? x->disturbed : x->touches, x->settings };
    const uint32_t c[] = { y->first, y->dark, t ? y->touches : y->disturbed, t ? y->disturbed : y->touches, y->settings };
    for (int i = 0; i < 5; i++)
        if (a[i] != c[i])
            return a[i] < c[i] ? -1 : 1;
    for (uint32_t m = 0; m < b->moved_count; m++)
        if (x->list[m] != y->list[m])
            return x->list[m] < y->list[m] ? -1 : 1;
    return 0;
}

static inline bool has_all(const struct brute *b)
{
    for (uint32_t n = 0; n < b->not_all_count; n++) {
        const struct after *after = &b->now[b->not_all[n].transmitter];
        bool there = false;
        for (int64_t lane = 1; after->on && lane <= after->top; lane++)
            there |= after->lanes[lane] == b->not_all[n].universe;
        if (!there)
            return false;
    }
    return b->not_all_count > 0;
}

static inline void judge(struct brute *b)
{
    struct cost cost = { 0, 0, 0, 0, 0, { 0 } };
    b->tried++;
    if (has_all(b))
        return;
    for (uint32_t t = 0; t < b->show->transmitter_count; t++)
        if (!judge_transmitter(b, t, &cost))
            return;
    for (uint32_t f = 0; f < b->show->fixture_count; f++)
        if (!judge_fixture(b, f, &cost))
            return;
    if (b->keep_working && cost.disturbed)
        return;
    for (uint32_t m = 0; m < b->moved_count; m++)
        cost.list[m] = place_of(b, b->moved[m]);
    if (b->found && compare(b, &cost, &b->best) >= 0)
        return;
    b->best = cost;
    b->found = true;
}

static inline bool is_never(const struct brute *b, int64_t universe, uint32_t transmitter)
{
    for (uint32_t n = 0; n < b->never_count; n++)
        if (b->never[n].universe == universe && b->never[n].transmitter == transmitter)
            return true;
    return false;
}

/* Carried before by a transmitter that stays. */
static inline bool must_stay(const struct brute *b, int64_t universe)
{
    for (uint32_t t = 0; t < b->show->transmitter_count; t++)
        for (int64_t lane = 1; !b->gone[t] && (b->in[t] || !b->move) && !b->show->transmitters[t].spare && lane <= b->old_top[t]; lane++)
            if (before_on_lane(&b->show->transmitters[t], lane) == universe)
                return true;
    return false;
}

static inline void place_universe(struct brute *b, uint32_t n)
{
    if (n == b->universe_count) {
        judge(b);
        return;
    }
    int64_t universe = b->universes[n];
    if (!must_stay(b, universe))
        place_universe(b, n + 1);
    for (uint32_t t = 0; t < b->show->transmitter_count; t++) {
        const struct transmitter *transmitter = &b->show->transmitters[t];
        if (b->gone[t] || !b->in[t] || (is_never(b, universe, t) && !must_stay(b, universe)))
            continue;
        for (int64_t lane = 1; lane <= b->now[t].top; lane++) {
            bool stays = !transmitter->spare && lane <= b->old_top[t] && before_on_lane(transmitter, lane) == universe;
            if (b->now[t].lanes[lane] || !(b->used[t] || stays))
                continue;
            b->now[t].lanes[lane] = universe;
            place_universe(b, n + 1);
            b->now[t].lanes[lane] = 0;
        }
    }
}

static inline void set_up(struct brute *b, uint32_t t);

static inline void set_code(struct brute *b, uint32_t t, const char *code)
{
    b->now[t].code = code;
    b->now[t].on = true;
    b->used[t] = true;
    set_up(b, t + 1);
}

/* Every way to set transmitter t up, and then those after it. */
static inline void set_up(struct brute *b, uint32_t t)
{
    const struct show *show = b->show;
    if (t == show->transmitter_count) {
        if (!clashes(b))
            place_universe(b, 0);
        return;
    }
    const struct transmitter *transmitter = &show->transmitters[t];
    b->now[t] = (struct after){ b->was_on[t] ? transmitter->code : NULL, transmitter->air, b->old_top[t], b->was_on[t], { 0 } };
    b->used[t] = false;
    if (b->gone[t] || !b->in[t]) {
        b->now[t].on = b->was_on[t] && !b->gone[t];
        for (int64_t lane = 1; lane <= b->old_top[t]; lane++)
            b->now[t].lanes[lane] = before_on_lane(transmitter, lane);
        set_up(b, t + 1);
        return;
    }
    if (!b->was_on[t])
        set_up(b, t + 1);
    for (enum air air = AIR_SINGLE; air <= AIR_DUAL; air++) {
        if (air != transmitter->air && !(transmitter->airs & AIR_BIT(air)))
            continue;
        b->now[t].air = air;
        b->now[t].top = transmitter->radios * (int64_t)air;
        if (transmitter->code)
            set_code(b, t, transmitter->code);
        for (size_t c = 0; c < SOME_CODES; c++) {
            uint32_t keyed;
            const char *code = some_codes[c];
            const uint32_t *list = show_code_fixtures(show, code, &keyed);
            if (keyed && show->fixtures[list[0]].code != transmitter->code)
                set_code(b, t, show->fixtures[list[0]].code);
        }
        set_code(b, t, fresh[t]);
    }
    b->now[t].on = b->was_on[t];
    b->used[t] = false;
}

static inline void note(int64_t *list, uint32_t *count, int64_t universe)
{
    uint32_t at = 0;
    while (at < *count && list[at] < universe)
        at++;
    if (at < *count && list[at] == universe)
        return;
    assert_true(*count < MOST);
    memmove(list + at + 1, list + at, (*count - at) * sizeof *list);
    list[at] = universe;
    ++*count;
}

/* Universes that sit on a transmitter that stays but must not change. */
static inline bool is_fixed(const struct brute *b, int64_t universe)
{
    for (uint32_t t = 0; t < b->show->transmitter_count; t++)
        for (int64_t lane = 1; !b->gone[t] && !b->in[t] && !b->move && !b->show->transmitters[t].spare && lane <= b->old_top[t]; lane++)
            if (before_on_lane(&b->show->transmitters[t], lane) == universe)
                return true;
    return false;
}

static inline void prepare_swap(struct brute *b, const struct show *show, const struct plan_swap_options *options)
{
    memset(b, 0, sizeof *b);
    b->show = show;
    b->keep_working = options->keep_working;
    b->touches_first = options->touches_first && !options->keep_working;
    b->first = options->first;
    b->first_count = options->first_count;
    b->never = options->never;
    b->never_count = options->never_count;
    for (uint32_t i = 0; i < options->out_count; i++)
        b->gone[options->out[i]] = true;
    for (uint32_t i = 0; i < options->in_count; i++)
        b->in[options->in[i]] = true;
    for (uint32_t t = 0; t < show->transmitter_count; t++) {
        const struct transmitter *transmitter = &show->transmitters[t];
        b->in[t] |= options->in_count == 0;
        b->was_on[t] = transmitter->code && !transmitter->spare;
        b->old_top[t] = transmitter_lane_count(transmitter);
        for (int64_t lane = 1; lane <= b->old_top[t]; lane++) {
            int64_t universe = before_on_lane(transmitter, lane);
            if (universe && b->gone[t] && !transmitter->spare)
                note(b->moved, &b->moved_count, universe);
        }
    }
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        for (uint32_t e = 0; e < show->transmitters[t].lane_count; e++)
            if ((b->in[t] || b->gone[t]) && !is_fixed(b, show->transmitters[t].lanes[e].universe))
                note(b->universes, &b->universe_count, show->transmitters[t].lanes[e].universe);
    struct show *loss = show_copy(show);
    assert_non_null(loss);
    for (uint32_t t = 0; t < loss->transmitter_count; t++)
        if (b->gone[t])
            loss->transmitters[t].code = NULL;
    assert_int_equal(show_index(loss), 0);
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        b->before[f] = radio_landing(show, &show->fixtures[f]);
        b->lost[f] = b->before[f].state == LANDING_RIGHT && b->gone[b->before[f].transmitter];
        b->excused[f] = b->before[f].state == LANDING_OTHER_UNIVERSE ||
                        radio_landing(loss, &loss->fixtures[f]).state == LANDING_OTHER_UNIVERSE;
    }
    show_free(loss);
}

/* The same of a show that a plan has been carried out on. */
static inline uint64_t place_in(const struct brute *brute, const struct show *show, int64_t universe)
{
    struct brute b = { .show = show, .move = brute->move };
    memcpy(b.in, brute->in, sizeof b.in);
    for (uint32_t t = 0; t < show->transmitter_count; t++) {
        const struct transmitter *transmitter = &show->transmitters[t];
        b.now[t].on = transmitter->code && !transmitter->spare;
        b.now[t].top = transmitter_lane_count(transmitter);
        for (int64_t lane = 1; lane <= b.now[t].top; lane++)
            b.now[t].lanes[lane] = before_on_lane(transmitter, lane);
    }
    return place_of(&b, universe);
}

#endif
