/* What an option of a receiver costs, and which options can be together: the radio side of the problem. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

#define NO_UNIVERSE (SHOW_NONE + 1)  /* a lane that must stay empty */

/* A receiver with more than one way is on the air as decided, or unknown; any other transmitter as the show says. */
static const struct swap_option *decided(const struct swap *swap, uint32_t receiver, const uint32_t *choice)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    if (r->option_count == 1)
        return &r->options[0];
    return choice && choice[receiver] != SHOW_UNKNOWN ? &r->options[choice[receiver]] : NULL;
}

static bool is_dynamic(const struct swap *swap, uint32_t receiver)
{
    return swap->receivers[receiver].option_count > 1;
}

/* Call visit() for every transmitter on the air, but `receiver`, with this code and air mode. */
struct other { const struct swap *swap; uint32_t fixture; const unsigned char *reach; int64_t top; };

static void consider(struct other *other, uint32_t transmitter, int64_t top)
{
    const struct show *show = other->swap->show;
    if (top > other->top && (other->reach ? other->reach[transmitter] != 0
                             : radio_in_reach(show, &show->transmitters[transmitter], &show->fixtures[other->fixture])))
        other->top = top;
}

static int64_t other_top(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                         uint32_t fixture, const unsigned char *reach)
{
    struct other other = { swap, fixture, reach, 0 };
    uint32_t count;
    if (option->code == swap->receivers[receiver].fresh)
        return 0;
    const uint32_t *same = show_code_transmitters(swap->show, option->code, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &swap->show->transmitters[same[i]];
        uint32_t r = swap->receiver_of[same[i]];
        if (r == SHOW_UNKNOWN || r == receiver || is_dynamic(swap, r) || transmitter->spare || transmitter->air != option->air)
            continue;
        consider(&other, same[i], transmitter_lane_count(transmitter));
    }
    for (uint32_t r = 0; choice && r < swap->receiver_count; r++) {
        const struct swap_option *theirs = r != receiver && is_dynamic(swap, r) ? decided(swap, r, choice) : NULL;
        if (theirs && theirs->code == option->code && theirs->air == option->air)
            consider(&other, swap->receivers[r].transmitter, theirs->top);
    }
    return other.top;
}

int64_t swap__other_top(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                        uint32_t fixture)
{
    return other_top(swap, receiver, option, choice, fixture, NULL);
}

bool swap__shares_code(const struct swap *swap, uint32_t receiver, const uint32_t *choice)
{
    const struct swap_option *mine = decided(swap, receiver, choice);
    if (!mine || !mine->code || mine->code == swap->receivers[receiver].fresh)
        return false;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_option *theirs = r == receiver ? NULL : decided(swap, r, choice);
        if (theirs && theirs->code == mine->code && theirs->air == mine->air)
            return true;
    }
    return false;
}

/* ---- clashes ---- */

static bool would_clash(const struct swap *swap, uint32_t a, uint32_t b, const char *code)
{
    struct transmitter x = swap->show->transmitters[a], y = swap->show->transmitters[b];
    x.code = y.code = code;
    return radio_clash(&x, &y, NULL) == RADIO_CLASH_FAIL;
}

/* On the air before with the code that the option has: then a clash is not the plan's. */
static bool is_unchanged(const struct swap *swap, uint32_t receiver, const struct swap_option *option)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    return r->on && option->code == swap->show->transmitters[r->transmitter].code;
}

bool swap__compatible(const struct swap *swap, uint32_t a, uint32_t option_a, uint32_t b, uint32_t option_b)
{
    const struct swap_option *x = &swap->receivers[a].options[option_a], *y = &swap->receivers[b].options[option_b];
    if (!x->code || x->code != y->code)
        return true;
    if (is_unchanged(swap, a, x) && is_unchanged(swap, b, y))
        return true;
    return !would_clash(swap, swap->receivers[a].transmitter, swap->receivers[b].transmitter, x->code);
}

static bool clashes_with_fixed(const struct swap *swap, uint32_t receiver, const struct swap_option *option)
{
    uint32_t count;
    const uint32_t *same = show_code_transmitters(swap->show, option->code, &count);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t r = swap->receiver_of[same[i]];
        if (r == SHOW_UNKNOWN || r == receiver || swap->show->transmitters[same[i]].spare || swap->receivers[r].option_count != 1)
            continue;
        if (!is_unchanged(swap, receiver, option) &&
            would_clash(swap, swap->receivers[receiver].transmitter, same[i], option->code))
            return true;
    }
    return false;
}

/* A working fixture that no plan keys anew must not hear a second transmitter. */
static bool lands_twice(const struct swap *swap, uint32_t receiver, const struct swap_option *option)
{
    uint32_t count, mine = swap->receivers[receiver].transmitter;
    const uint32_t *keyed = show_code_fixtures(swap->show, option->code, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct fixture *fixture = &swap->show->fixtures[keyed[i]];
        if (swap->problem->role[keyed[i]] != ROLE_WORKING || fixture->air != option->air || fixture->lane > option->top ||
            !radio_in_reach(swap->show, &swap->show->transmitters[mine], fixture))
            continue;
        uint32_t home = radio_landing(swap->show, fixture).transmitter;
        if (home != mine && swap->receivers[swap->receiver_of[home]].option_count == 1)
            return true;
    }
    return false;
}

bool swap__option_clashes(const struct swap *swap, uint32_t receiver, const struct swap_option *option)
{
    if (!option->code || option->code == swap->receivers[receiver].fresh)
        return false;
    return clashes_with_fixed(swap, receiver, option) || lands_twice(swap, receiver, option);
}

/* Where a fixture lands if one receiver alone answers to it, and that lane is pinned: is it another universe than its own? */
static bool lands_in_other(const struct swap *swap, const uint32_t *choice, const struct fixture *fixture)
{
    uint32_t found = SHOW_UNKNOWN, entries = 0;
    int64_t universe = SHOW_NONE;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_option *option = decided(swap, r, choice);
        if (option->code != fixture->code || option->air != fixture->air || fixture->lane < 1 || fixture->lane > option->top ||
            !radio_in_reach(swap->show, &swap->show->transmitters[swap->receivers[r].transmitter], fixture))
            continue;
        if (found != SHOW_UNKNOWN)
            return false;
        found = r;
    }
    if (found == SHOW_UNKNOWN || (swap->receivers[found].may_change && !swap->receivers[found].pinned))
        return false;
    for (uint32_t l = 0; l < swap->receivers[found].lane_count; l++)
        if (swap->receivers[found].lanes[l].number == fixture->lane && swap->receivers[found].lanes[l].content != LANE_PINNED)
            return false;            /* what may come there is judged with its price */
    const struct transmitter *transmitter = &swap->show->transmitters[swap->receivers[found].transmitter];
    for (uint32_t e = 0; e < transmitter->lane_count; e++)
        if (transmitter->lanes[e].lane == fixture->lane) {
            universe = transmitter->lanes[e].universe;
            entries++;
        }
    return entries == 1 && universe != fixture->universe;
}

bool swap__tears(const struct swap *swap, const uint32_t *choice)
{
    for (uint32_t k = 0; k < swap->torn_count; k++)
        if (lands_in_other(swap, choice, &swap->show->fixtures[swap->torn[k]]))
            return true;
    return false;
}

/* ---- prices ---- */

static bool could_share(const struct swap *swap, uint32_t receiver, const char *code, uint32_t fixture)
{
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *other = &swap->receivers[r];
        if (r == receiver || other->option_count < 2 ||
            !radio_in_reach(swap->show, &swap->show->transmitters[other->transmitter], &swap->show->fixtures[fixture]))
            continue;
        for (uint32_t o = 0; o < other->option_count; o++)
            if (other->options[o].code == code)
                return true;
    }
    return false;
}

/* Failing fixtures are not touched; where one would begin to land in another universe than its own, only its own may come. */
static void find_only(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                      struct swap_scratch *lanes)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    uint32_t count = 0;
    const uint32_t *keyed = option->code && option->code != r->fresh ? show_code_fixtures(swap->show, option->code, &count) : NULL;
    for (uint32_t l = 0; l < r->lane_count; l++)
        lanes[l].only = SHOW_NONE;
    for (uint32_t i = 0; i < count; i++) {
        const struct fixture *fixture = &swap->show->fixtures[keyed[i]];
        if (swap->problem->role[keyed[i]] != ROLE_FAILING || fixture->air != option->air || fixture->lane > option->top ||
            !radio_in_reach(swap->show, &swap->show->transmitters[r->transmitter], fixture) ||
            swap__other_top(swap, receiver, option, choice, keyed[i]) >= fixture->lane ||
            (!choice && could_share(swap, receiver, option->code, keyed[i])))
            continue;
        for (uint32_t l = 0; l < r->lane_count; l++)
            if (r->lanes[l].number == fixture->lane && r->lanes[l].content != LANE_PINNED)
                lanes[l].only = lanes[l].only == SHOW_NONE || lanes[l].only == fixture->universe ? fixture->universe : NO_UNIVERSE;
    }
}

/* Settings that a lane costs if nobody is put on it: its content has to go. An item that stays gets this back. */
static uint32_t lane_base(const struct swap *swap, const struct swap_receiver *r, const struct swap_option *option, uint32_t l)
{
    const struct swap_lane *lane = &r->lanes[l];
    int64_t old_top = transmitter_lane_count(&swap->show->transmitters[r->transmitter]);
    bool exists = lane->number <= option->top;
    switch (lane->content) {
    case LANE_ITEM: return lane->carrying || (option->used && (exists || lane->number <= old_top));
    case LANE_GOES: return option->used && (exists || lane->number <= old_top);
    default:        return 0;
    }
}

static void count_lost(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                       bool alone, const struct swap_item *item, struct swap_scratch *lanes)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    for (uint32_t f = item->lost; f < item->lost + item->lost_count; f++) {
        const struct swap_fixture *fixture = &swap->lost[f];
        bool able = (fixture->airs & AIR_BIT(option->air)) && fixture->reach[r->transmitter];
        int64_t twice = able && !alone ? other_top(swap, receiver, option, choice, fixture->index, fixture->reach) : 0;
        bool keyed = fixture->code == option->code && fixture->air == option->air;
        for (uint32_t l = 0; l < r->lane_count; l++) {
            if (able && r->lanes[l].number > twice) {
                lanes[l].lit++;
                lanes[l].touches += !(keyed && fixture->lane == r->lanes[l].number);
            } else {
                lanes[l].parked += fixture->parks;
            }
        }
    }
}

static void count_working(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                          bool alone, const struct swap_item *item, struct swap_scratch *lanes)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    for (uint32_t f = item->working; f < item->working + item->working_count; f++) {
        const struct swap_fixture *fixture = &swap->working[f];
        bool able = (fixture->airs & AIR_BIT(option->air)) && fixture->reach[r->transmitter];
        int64_t twice = able && !alone ? other_top(swap, receiver, option, choice, fixture->index, fixture->reach) : 0;
        bool keyed = fixture->code == option->code && fixture->air == option->air;
        for (uint32_t l = 0; l < r->lane_count; l++) {
            bool same = keyed && fixture->lane == r->lanes[l].number;
            lanes[l].bad += !able || r->lanes[l].number <= twice;
            lanes[l].touches += !same;
            lanes[l].disturbed += !(same && fixture->home == r->transmitter);
        }
    }
}

static bool may_sit(const struct swap_receiver *r, const struct swap_option *option, uint32_t l, uint32_t i,
                    const struct swap_item *item, const struct swap_scratch *lanes)
{
    const struct swap_lane *lane = &r->lanes[l];
    if (lanes[l].bad || lane->number > option->top || (lanes[l].only != SHOW_NONE && lanes[l].only != item->universe))
        return false;
    if (lane->content == LANE_PINNED)
        return lane->item == i;
    if (item->tied || !r->may_change || (!item->listed && !item->must && lane->item != i))
        return false;
    return option->used || (lane->content == LANE_ITEM && lane->item == i && lane->carrying);
}

static plan_cost dark_weight(const struct swap *swap, uint32_t item)
{
    return swap->items[item].first ? swap->weights.first : swap->weights.dark;
}

static plan_cost pair_price(const struct swap *swap, const struct swap_receiver *r, uint32_t l, uint32_t i,
                            const struct swap_scratch *lanes)
{
    const struct swap_lane *lane = &r->lanes[l];
    const struct swap_weights *w = &swap->weights;
    int settings = lane->content == LANE_PINNED ? 0 : 1;
    if (lane->content == LANE_ITEM && lane->item == i)
        settings = 0;
    return dark_weight(swap, i) * (plan_cost)(swap->items[i].lost_count - lanes[l].lit) + w->disturbed * lanes[l].disturbed +
           w->touch * ((plan_cost)lanes[l].touches + lanes[l].parked) + w->setting * (settings - (plan_cost)lanes[l].base);
}

bool swap__never(const struct swap *swap, uint32_t i, uint32_t receiver)
{
    const struct swap_item *item = &swap->items[i];
    for (uint32_t n = 0; n < swap->problem->never_count; n++)
        if (swap->problem->never[n].universe == item->universe &&
            swap->problem->never[n].transmitter == swap->receivers[receiver].transmitter)
            return !item->must && !item->tied;
    return false;
}

static void price_item(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                       bool alone_on_air, uint32_t i, plan_cost *row)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    const struct swap_item *item = &swap->items[i];
    struct swap_scratch *lanes = swap->scratch;
    for (uint32_t l = 0; l < r->lane_count; l++)
        lanes[l].lit = lanes[l].touches = lanes[l].disturbed = lanes[l].parked = lanes[l].bad = 0;
    if (option->code)
        count_lost(swap, receiver, option, choice, alone_on_air, item, lanes);
    if (option->code)
        count_working(swap, receiver, option, choice, alone_on_air, item, lanes);
    plan_cost alone = item->must ? swap->weights.forbidden : swap__alone(swap, i);
    bool never = swap__never(swap, i, receiver);
    for (uint32_t l = 0; l < r->lane_count; l++) {
        row[l] = swap->weights.forbidden;
        if (!never && may_sit(r, option, l, i, item, lanes))
            row[l] = pair_price(swap, r, l, i, lanes);
        if (row[l] > alone)
            row[l] = swap->weights.forbidden;
    }
}

/* Not carried: all its lost fixtures stay dark. */
plan_cost swap__alone(const struct swap *swap, uint32_t i)
{
    const struct swap_item *item = &swap->items[i];
    plan_cost cost = dark_weight(swap, i) * item->lost_count;
    if (item->must)
        return swap->weights.forbidden;
    for (uint32_t f = item->lost; f < item->lost + item->lost_count; f++)
        cost += swap->lost[f].parks ? swap->weights.touch : 0;
    return cost;
}

/* True if nobody else can be on the air with this code and air mode: then no fixture lands twice. */
static bool is_alone(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice)
{
    uint32_t count, transmitter = swap->receivers[receiver].transmitter;
    if (!option->code || option->code == swap->receivers[receiver].fresh)
        return true;
    const uint32_t *same = show_code_transmitters(swap->show, option->code, &count);
    for (uint32_t i = 0; i < count; i++)
        if (same[i] != transmitter && !swap->problem->gone[same[i]])
            return false;
    return !choice || !swap__shares_code(swap, receiver, choice);
}

void swap__price(const struct swap *swap, uint32_t receiver, uint32_t o, const uint32_t *choice, plan_cost *table,
                 uint32_t *fixed)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    const struct swap_option *option = &r->options[o];
    const struct transmitter *transmitter = &swap->show->transmitters[r->transmitter];
    *fixed = (option->code && option->code != transmitter->code) + (option->air != transmitter->air) + option->keep_out;
    bool alone = is_alone(swap, receiver, option, choice);
    find_only(swap, receiver, option, choice, swap->scratch);
    for (uint32_t l = 0; l < r->lane_count; l++) {
        swap->scratch[l].base = lane_base(swap, r, option, l);
        *fixed += swap->scratch[l].base;
    }
    for (uint32_t i = 0; i < swap->item_count; i++)
        price_item(swap, receiver, option, choice, alone, i, table + (size_t)i * r->lane_count);
}
