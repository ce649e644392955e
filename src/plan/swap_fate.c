/* What an answer does to a fixture: where it lands, whether somebody has to walk to it, and whether it must be parked. */
#include "swap_internal.h"

int64_t swap__content(const struct swap *swap, const uint32_t *item_of, uint32_t column)
{
    const struct swap_lane *lane = &swap->receivers[swap->column_receiver[column]].lanes[swap->column_lane[column]];
    if (item_of[column] < swap->item_count)
        return swap->items[item_of[column]].universe;
    return lane->content == LANE_PINNED ? lane->universe : SHOW_NONE;
}

bool swap__lights(const struct swap *swap, uint32_t r, const uint32_t *choice, int64_t lane, const struct swap_fixture *fixture)
{
    const struct swap_receiver *receiver = &swap->receivers[r];
    const struct swap_option *option = &receiver->options[choice[r]];
    return option->code && (fixture->airs & AIR_BIT(option->air)) && fixture->reach[receiver->transmitter] &&
           lane <= option->top && swap__other_top(swap, r, option, choice, fixture->index) < lane;
}

uint32_t swap__old_column(const struct swap *swap, const uint32_t *choice, const struct swap_fixture *fixture)
{
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        const struct swap_option *option = &receiver->options[choice[r]];
        if (option->code != fixture->code || option->air != fixture->air || !swap__lights(swap, r, choice, fixture->lane, fixture))
            continue;
        for (uint32_t l = 0; l < receiver->lane_count; l++)
            if (receiver->lanes[l].number == fixture->lane)
                return receiver->lanes[l].content == LANE_PINNED ? SHOW_UNKNOWN : receiver->first + l;
        return SHOW_UNKNOWN;
    }
    return SHOW_UNKNOWN;
}

static bool has_key(const struct swap *swap, const uint32_t *choice, uint32_t column, const struct swap_fixture *fixture)
{
    const struct swap_receiver *receiver = &swap->receivers[swap->column_receiver[column]];
    const struct swap_option *option = &receiver->options[choice[swap->column_receiver[column]]];
    return option->code == fixture->code && option->air == fixture->air &&
           receiver->lanes[swap->column_lane[column]].number == fixture->lane;
}

struct swap_fate swap__fate(const struct swap *swap, const uint32_t *choice, const uint32_t *column, const uint32_t *item_of,
                            const struct swap_fixture *fixture)
{
    struct swap_fate fate = { .column = column[fixture->item] };
    if (fate.column < swap->column_count) {
        uint32_t r = swap->column_receiver[fate.column];
        const struct swap_receiver *receiver = &swap->receivers[r];
        if (swap__lights(swap, r, choice, receiver->lanes[swap->column_lane[fate.column]].number, fixture)) {
            bool same = has_key(swap, choice, fate.column, fixture);
            fate.touched = !same;
            fate.disturbed = fixture->home != SHOW_UNKNOWN && !(same && fixture->home == receiver->transmitter);
            return fate;
        }
    }
    fate.dark = true;
    fate.column = swap__old_column(swap, choice, fixture);
    fate.park = fixture->parks;
    if (fate.column != SHOW_UNKNOWN) {
        int64_t content = swap__content(swap, item_of, fate.column);
        fate.park |= content != SHOW_NONE && content != swap->items[fixture->item].universe;
    }
    fate.touched = fate.park;
    return fate;
}
