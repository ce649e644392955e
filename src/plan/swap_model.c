/* The problem in numbers: lost and working fixtures, receivers with their lanes, and the universes that are items. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

#define REACH_CELLS (1u << 28)       /* fixtures x transmitters whose reach is kept */

struct swap_block { struct swap_block *next; max_align_t bytes[]; };

void *swap__alloc(struct swap *swap, size_t count, size_t size)
{
    size_t octets;
    struct swap_block *block;
    if (__builtin_mul_overflow(count ? count : 1, size, &octets) || octets > SIZE_MAX - sizeof *block)
        return NULL;
    block = calloc(1, sizeof *block + octets);
    if (!block)
        return NULL;
    block->next = swap->blocks;
    swap->blocks = block;
    return block->bytes;
}

void swap__fini(struct swap *swap)
{
    for (struct swap_block *block = swap->blocks, *next; block; block = next) {
        next = block->next;
        free(block);
    }
    memset(swap, 0, sizeof *swap);
}

/* ---- receivers and what their lanes hold ---- */

struct name { const char *id; uint32_t index; };

static int compare_names(const void *a, const void *b)
{
    const struct name *x = a, *y = b;
    int order = strcmp(x->id ? x->id : "", y->id ? y->id : "");
    return order ? order : (x->index > y->index) - (x->index < y->index);
}

static int compare_lanes(const void *a, const void *b)
{
    const struct swap_lane *x = a, *y = b;
    return (x->number > y->number) - (x->number < y->number);
}

static int compare_numbers(const void *a, const void *b)
{
    const int64_t *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

static uint32_t unique_numbers(int64_t *numbers, uint32_t count)
{
    uint32_t kept = 0;
    qsort(numbers, count, sizeof *numbers, compare_numbers);
    for (uint32_t i = 0; i < count; i++)
        if (kept == 0 || numbers[kept - 1] != numbers[i])
            numbers[kept++] = numbers[i];
    return kept;
}

/* Lanes in the best air mode that it may take. */
static int64_t most_lanes(const struct transmitter *transmitter)
{
    unsigned airs = transmitter->airs | AIR_BIT(transmitter->air);
    int64_t per_radio = airs & AIR_BIT(AIR_DUAL) ? AIR_DUAL : airs & AIR_BIT(AIR_SINGLE) ? AIR_SINGLE : 0;
    return transmitter->radios > 0 ? transmitter->radios * per_radio : 0;
}

static int read_lanes(struct swap *swap, struct swap_receiver *receiver)
{
    const struct transmitter *transmitter = &swap->show->transmitters[receiver->transmitter];
    int64_t top = transmitter_lane_count(transmitter), most = most_lanes(transmitter);
    uint32_t count = 0, kept = 0;
    struct swap_lane *lanes = swap__alloc(swap, transmitter->lane_count, sizeof *lanes);
    if (!lanes)
        return RIG_ENOMEM;
    for (uint32_t e = 0; e < transmitter->lane_count; e++) {
        const struct lane *entry = &transmitter->lanes[e];
        if (entry->lane >= 1 && entry->lane <= most)
            lanes[count++] = (struct swap_lane){ .number = entry->lane, .universe = entry->universe, .item = SHOW_UNKNOWN,
                                                 .carrying = !transmitter->spare && entry->lane <= top };
    }
    qsort(lanes, count, sizeof *lanes, compare_lanes);
    for (uint32_t i = 0; i < count; i++) {
        if (kept && lanes[kept - 1].number == lanes[i].number)
            lanes[kept - 1].shared = true;
        else
            lanes[kept++] = lanes[i];
    }
    receiver->lanes = lanes;
    receiver->lane_count = kept;
    for (uint32_t l = 0; l < kept; l++)
        receiver->carrying += lanes[l].carrying;
    return 0;
}

/* keep_out for its first lane: every quiet band must be kept and enough hop channels must stay. */
static void judge_quiet(const struct show *show, struct swap_receiver *receiver)
{
    struct plan__quiet quiet = plan__quiet(show, &show->transmitters[receiver->transmitter]);
    receiver->quiet_needed = quiet.asked;
    receiver->quiet_missing = quiet.missing;
    receiver->quiet_fits = !quiet.asked || quiet.hops >= RADIO_FLOOR;
}

static int make_receivers(struct swap *swap)
{
    const struct show *show = swap->show;
    uint32_t count = 0;
    struct name *names = swap__alloc(swap, show->transmitter_count, sizeof *names);
    swap->receivers = swap__alloc(swap, show->transmitter_count, sizeof *swap->receivers);
    swap->receiver_of = swap__alloc(swap, show->transmitter_count, sizeof *swap->receiver_of);
    if (!names || !swap->receivers || !swap->receiver_of)
        return RIG_ENOMEM;
    for (uint32_t t = 0; t < show->transmitter_count; t++) {
        swap->receiver_of[t] = SHOW_UNKNOWN;
        if (!swap->problem->gone[t])
            names[count++] = (struct name){ show->transmitters[t].id, t };
    }
    qsort(names, count, sizeof *names, compare_names);
    swap->receiver_count = count;
    for (uint32_t r = 0; r < count; r++) {
        struct swap_receiver *receiver = &swap->receivers[r];
        const struct transmitter *transmitter = &show->transmitters[names[r].index];
        receiver->transmitter = names[r].index;
        receiver->may_change = swap->problem->may_change[names[r].index];
        receiver->on = transmitter->code && !transmitter->spare;
        swap->receiver_of[names[r].index] = r;
        judge_quiet(show, receiver);
        if (read_lanes(swap, receiver))
            return RIG_ENOMEM;
    }
    return 0;
}

static struct swap_lane *lane_at(const struct swap_receiver *receiver, int64_t number)
{
    struct swap_lane key = { .number = number };
    return bsearch(&key, receiver->lanes, receiver->lane_count, sizeof key, compare_lanes);
}

static void mark_working(struct swap *swap)
{
    for (uint32_t f = 0; f < swap->show->fixture_count; f++) {
        if (swap->problem->role[f] != ROLE_WORKING)
            continue;
        uint32_t home = radio_landing(swap->show, &swap->show->fixtures[f]).transmitter;
        struct swap_receiver *receiver = home == SHOW_UNKNOWN ? NULL : &swap->receivers[swap->receiver_of[home]];
        struct swap_lane *lane = receiver ? lane_at(receiver, swap->show->fixtures[f].lane) : NULL;
        if (lane)
            lane->working++;
    }
}

/* Transmitters that stay and carry a universe. A move lets the lanes of those that it must not change be. */
static uint32_t count_carriers(const struct swap *swap, int64_t universe)
{
    uint32_t entries, count = 0;
    const struct carrier *carriers = show_carriers(swap->show, universe, &entries);
    for (uint32_t i = 0; i < entries; i++) {
        const struct transmitter *transmitter = &swap->show->transmitters[carriers[i].transmitter];
        int64_t lane = transmitter->lanes[carriers[i].entry].lane;
        if (swap->problem->gone[carriers[i].transmitter] || transmitter->spare || lane < 1 ||
            lane > transmitter_lane_count(transmitter) ||
            (!swap->problem->listed && !swap->problem->may_change[carriers[i].transmitter]))
            continue;
        count++;
    }
    return count;
}

static bool is_movable(const struct swap *swap, const struct swap_receiver *receiver, const struct swap_lane *lane)
{
    return receiver->may_change && lane->carrying && !lane->shared && (lane->working == 0 || swap->disturb) &&
           count_carriers(swap, lane->universe) == 1;
}

/* Of a transmitter that carries nothing yet: if it comes on the air its universe may stay, if nobody else carries it. */
static bool is_waiting(const struct swap *swap, const struct swap_receiver *receiver, const struct swap_lane *lane)
{
    return receiver->may_change && !lane->carrying && !lane->shared && count_carriers(swap, lane->universe) == 0;
}

/* ---- items ---- */

uint32_t swap__find_item(const struct swap *swap, int64_t universe)
{
    uint32_t low = 0, high = swap->item_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (swap->items[middle].universe < universe)
            low = middle + 1;
        else
            high = middle;
    }
    return low < swap->item_count && swap->items[low].universe == universe ? low : SHOW_UNKNOWN;
}

/* Universes of the tie list. @return how many; `list` holds one for each lane entry and fixture at most */
static uint32_t list_universes(const struct swap *swap, int64_t *list)
{
    const struct show *show = swap->show;
    const bool *listed = swap->problem->listed;
    uint32_t count = 0;
    for (uint32_t t = 0; listed && t < show->transmitter_count; t++) {
        const struct transmitter *transmitter = &show->transmitters[t];
        for (uint32_t e = 0; listed[t] && !transmitter->spare && e < transmitter->lane_count; e++)
            if (transmitter->lanes[e].lane >= 1 && transmitter->lanes[e].lane <= transmitter_lane_count(transmitter))
                list[count++] = transmitter->lanes[e].universe;
    }
    for (uint32_t f = 0; !listed && f < show->fixture_count; f++)
        if (swap->problem->role[f] == ROLE_LOST)
            list[count++] = show->fixtures[f].universe;
    return unique_numbers(list, count);
}

static int make_items(struct swap *swap)
{
    size_t room = swap->show->fixture_count + (size_t)1;
    for (uint32_t t = 0; t < swap->show->transmitter_count; t++)
        room += swap->show->transmitters[t].lane_count;
    int64_t *listed = swap__alloc(swap, room, sizeof *listed), *all = swap__alloc(swap, room * 2, sizeof *all);
    if (!listed || !all)
        return RIG_ENOMEM;
    uint32_t listed_count = list_universes(swap, listed), count = listed_count;
    if (listed_count)
        memcpy(all, listed, listed_count * sizeof *all);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        for (uint32_t l = 0; l < swap->receivers[r].lane_count; l++)
            if (is_movable(swap, &swap->receivers[r], &swap->receivers[r].lanes[l]) ||
                is_waiting(swap, &swap->receivers[r], &swap->receivers[r].lanes[l]))
                all[count++] = swap->receivers[r].lanes[l].universe;
    count = unique_numbers(all, count);
    swap->items = swap__alloc(swap, count, sizeof *swap->items);
    swap->listed = swap__alloc(swap, listed_count, sizeof *swap->listed);
    if (!swap->items || !swap->listed)
        return RIG_ENOMEM;
    swap->item_count = count;
    for (uint32_t i = 0; i < count; i++)
        swap->items[i].universe = all[i];
    for (uint32_t k = 0; k < swap->problem->first_count; k++) {
        uint32_t i = swap__find_item(swap, swap->problem->first[k]);
        if (i != SHOW_UNKNOWN)
            swap->items[i].first = true;
    }
    swap->listed_count = listed_count;
    for (uint32_t i = 0; i < listed_count; i++) {
        swap->listed[i] = swap__find_item(swap, listed[i]);
        swap->items[swap->listed[i]].listed = true;
    }
    return 0;
}

static void judge_lane(struct swap *swap, struct swap_receiver *receiver, struct swap_lane *lane)
{
    uint32_t item = lane->shared ? SHOW_UNKNOWN : swap__find_item(swap, lane->universe);
    if (lane->carrying) {
        if (is_movable(swap, receiver, lane)) {
            lane->content = LANE_ITEM;
            lane->item = item;
            swap->items[item].must = true;
            return;
        }
        lane->content = LANE_PINNED;
        receiver->pinned = true;
        if (item != SHOW_UNKNOWN && receiver->on && (swap->problem->listed || receiver->may_change)) {
            lane->item = item;
            swap->items[item].tied = true;
        }
        return;
    }
    lane->content = receiver->may_change ? LANE_GOES : LANE_PINNED;
    if (receiver->may_change && item != SHOW_UNKNOWN) {
        lane->content = LANE_ITEM;
        lane->item = item;
    }
}

static void judge_lanes(struct swap *swap)
{
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        for (uint32_t l = 0; l < swap->receivers[r].lane_count; l++)
            judge_lane(swap, &swap->receivers[r], &swap->receivers[r].lanes[l]);
    for (uint32_t r = 0; r < swap->receiver_count; r++)      /* an item that is tied to a lane has no other home */
        for (uint32_t l = 0; l < swap->receivers[r].lane_count; l++) {
            struct swap_lane *lane = &swap->receivers[r].lanes[l];
            if (lane->content == LANE_ITEM && !lane->carrying && swap->items[lane->item].tied) {
                lane->content = LANE_GOES;
                lane->item = SHOW_UNKNOWN;
            }
        }
}

/* ---- fixtures ---- */

static int compare_fixtures(const void *a, const void *b)
{
    const struct swap_fixture *x = a, *y = b;
    if (x->item != y->item)
        return (x->item > y->item) - (x->item < y->item);
    return (x->index > y->index) - (x->index < y->index);
}

/* Where no plan can change it: on a pinned lane of a transmitter that stays as it is. */
static bool parks_for_sure(const struct swap *swap, const struct fixture *fixture)
{
    struct landing landing = radio_landing(swap->show, fixture);
    if (swap->problem->listed || landing.state != LANDING_OTHER_UNIVERSE)
        return false;
    const struct swap_receiver *receiver = &swap->receivers[swap->receiver_of[landing.transmitter]];
    const struct swap_lane *lane = lane_at(receiver, fixture->lane);
    return lane && lane->content == LANE_PINNED;
}

static int gather(struct swap *swap, enum swap_role role, struct swap_fixture **list, uint32_t *list_count)
{
    const struct show *show = swap->show;
    uint32_t count = 0, kept = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        count += swap->problem->role[f] == role;
    struct swap_fixture *fixtures = *list = swap__alloc(swap, count, sizeof *fixtures);
    if (!fixtures)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const struct fixture *fixture = &show->fixtures[f];
        if (swap->problem->role[f] != role)
            continue;
        uint32_t item = swap__find_item(swap, fixture->universe);
        if (item == SHOW_UNKNOWN || (role == ROLE_WORKING && !swap->items[item].must))
            continue;
        struct swap_fixture *entry = &fixtures[kept++];
        *entry = (struct swap_fixture){ .index = f, .item = item, .home = SHOW_UNKNOWN, .airs = plan__airs(show, fixture),
                                        .code = fixture->code, .air = fixture->air, .lane = fixture->lane };
        if (role == ROLE_WORKING)
            entry->home = radio_landing(show, fixture).transmitter;
        else
            entry->parks = parks_for_sure(swap, fixture);
    }
    qsort(fixtures, kept, sizeof *fixtures, compare_fixtures);
    *list_count = kept;
    return 0;
}

static int keep_reach(struct swap *swap, struct swap_fixture *fixtures, uint32_t count)
{
    const struct show *show = swap->show;
    unsigned char *cells = swap__alloc(swap, count, show->transmitter_count ? show->transmitter_count : 1);
    if (!cells || (uint64_t)count * show->transmitter_count > REACH_CELLS)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < count; f++) {
        fixtures[f].reach = cells;
        for (uint32_t t = 0; t < show->transmitter_count; t++)
            *cells++ = radio_in_reach(show, &show->transmitters[t], &show->fixtures[fixtures[f].index]);
    }
    return 0;
}

static int make_fixtures(struct swap *swap)
{
    if (gather(swap, ROLE_LOST, &swap->lost, &swap->lost_count) || keep_reach(swap, swap->lost, swap->lost_count))
        return RIG_ENOMEM;
    for (uint32_t f = swap->lost_count; f-- > 0;) {
        swap->items[swap->lost[f].item].lost = f;
        swap->items[swap->lost[f].item].lost_count++;
    }
    if (!swap->disturb)
        return 0;
    if (gather(swap, ROLE_WORKING, &swap->working, &swap->working_count) ||
        keep_reach(swap, swap->working, swap->working_count))
        return RIG_ENOMEM;
    for (uint32_t f = swap->working_count; f-- > 0;) {
        swap->items[swap->working[f].item].working = f;
        swap->items[swap->working[f].item].working_count++;
    }
    return 0;
}

/* ---- columns ---- */

static int list_keys(struct swap *swap)
{
    uint32_t count = 0;
    swap->key_lanes = swap__alloc(swap, (size_t)swap->lost_count + swap->working_count, sizeof *swap->key_lanes);
    if (!swap->key_lanes)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < swap->lost_count; f++)
        swap->key_lanes[count++] = swap->lost[f].lane;
    for (uint32_t f = 0; f < swap->working_count; f++)
        swap->key_lanes[count++] = swap->working[f].lane;
    swap->key_lane_count = unique_numbers(swap->key_lanes, count);
    return 0;
}

/* Distinct lanes that failing fixtures are keyed to: on each of them a receiver may have to refuse an item. */
static int count_barred(struct swap *swap)
{
    const struct show *show = swap->show;
    uint32_t count = 0;
    int64_t *lanes = swap__alloc(swap, show->fixture_count, sizeof *lanes);
    for (uint32_t f = 0; lanes && f < show->fixture_count; f++)
        if (swap->problem->role[f] == ROLE_FAILING)
            lanes[count++] = show->fixtures[f].lane;
    swap->barred = lanes ? unique_numbers(lanes, count) : 0;
    return lanes ? 0 : RIG_ENOMEM;
}

/* Failing fixtures that hear two transmitters which stay. */
static int find_torn(struct swap *swap)
{
    const struct show *show = swap->show;
    swap->torn = swap__alloc(swap, show->fixture_count, sizeof *swap->torn);
    for (uint32_t f = 0; swap->torn && f < show->fixture_count; f++)
        if (swap->problem->role[f] == ROLE_FAILING && radio_landing(show, &show->fixtures[f]).state == LANDING_TWICE)
            swap->torn[swap->torn_count++] = f;
    return swap->torn ? 0 : RIG_ENOMEM;
}

/* Of many free lanes only so many matter: one for each item and each lane that may be barred, and those that lost and working
 * fixtures are keyed to. */
static int add_free_lanes(struct swap *swap, struct swap_receiver *receiver)
{
    int64_t most = receiver->may_change ? most_lanes(&swap->show->transmitters[receiver->transmitter]) : 0;
    int64_t plain = (int64_t)swap->item_count + receiver->lane_count + swap->barred;
    uint32_t count = receiver->lane_count, kept = 0;
    struct swap_lane *lanes = swap__alloc(swap, (size_t)plain + receiver->lane_count + swap->key_lane_count, sizeof *lanes);
    if (!lanes)
        return RIG_ENOMEM;
    if (count)
        memcpy(lanes, receiver->lanes, count * sizeof *lanes);
    for (int64_t n = 1; n <= most && n <= plain; n++)
        if (!lane_at(receiver, n))
            lanes[count++] = (struct swap_lane){ .number = n, .universe = SHOW_NONE, .item = SHOW_UNKNOWN };
    for (uint32_t k = 0; k < swap->key_lane_count; k++)
        if (swap->key_lanes[k] > plain && swap->key_lanes[k] <= most && !lane_at(receiver, swap->key_lanes[k]))
            lanes[count++] = (struct swap_lane){ .number = swap->key_lanes[k], .universe = SHOW_NONE, .item = SHOW_UNKNOWN };
    qsort(lanes, count, sizeof *lanes, compare_lanes);
    for (uint32_t l = 0; l < count; l++)
        if (lanes[l].content != LANE_PINNED || lanes[l].item != SHOW_UNKNOWN)
            lanes[kept++] = lanes[l];
    receiver->lanes = lanes;
    receiver->lane_count = kept;
    return 0;
}

static int make_columns(struct swap *swap)
{
    size_t count = 0;
    uint32_t most = 0;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        if (add_free_lanes(swap, &swap->receivers[r]))
            return RIG_ENOMEM;
        swap->receivers[r].first = (uint32_t)count;
        count += swap->receivers[r].lane_count;
        most = most > swap->receivers[r].lane_count ? most : swap->receivers[r].lane_count;
    }
    if (count >= UINT32_MAX / 2)
        return RIG_ENOMEM;
    swap->column_count = (uint32_t)count;
    swap->column_receiver = swap__alloc(swap, count, sizeof *swap->column_receiver);
    swap->column_lane = swap__alloc(swap, count, sizeof *swap->column_lane);
    swap->scratch = swap__alloc(swap, most, sizeof *swap->scratch);
    if (!swap->column_receiver || !swap->column_lane || !swap->scratch)
        return RIG_ENOMEM;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        for (uint32_t l = 0; l < swap->receivers[r].lane_count; l++) {
            swap->column_receiver[swap->receivers[r].first + l] = r;
            swap->column_lane[swap->receivers[r].first + l] = l;
        }
    return 0;
}

/* Each part of the cost outweighs all that the parts after it can sum up to. */
static void weigh(struct swap *swap)
{
    bool touches_first = swap->problem->touches_first;
    plan_cost settings = (plan_cost)swap->column_count * 2 + (plan_cost)swap->receiver_count * 4 + 2;
    plan_cost fixtures = (plan_cost)swap->lost_count + swap->working_count + 2;
    swap->weights.setting = SWAP_SCALE;
    plan_cost low = swap->weights.setting * settings, high = low * fixtures;
    swap->weights.touch = touches_first ? high : low;
    swap->weights.disturbed = touches_first ? low : high;
    swap->weights.dark = high * (touches_first ? fixtures : (plan_cost)swap->working_count + 1);
    swap->weights.first = swap->weights.dark * (swap->problem->first_count ? fixtures : 1);
    swap->weights.forbidden = swap->weights.first * ((plan_cost)swap->lost_count + 2);
}

int swap__model(struct swap *swap, const struct swap_problem *problem, bool disturb)
{
    memset(swap, 0, sizeof *swap);
    swap->problem = problem;
    swap->show = problem->show;
    swap->disturb = disturb;
    if (make_receivers(swap))
        return RIG_ENOMEM;
    mark_working(swap);
    if (make_items(swap))
        return RIG_ENOMEM;
    judge_lanes(swap);
    if (make_fixtures(swap) || list_keys(swap) || count_barred(swap) || find_torn(swap) || make_columns(swap))
        return RIG_ENOMEM;
    weigh(swap);
    return 0;
}

struct swap_parts swap__parts(const struct swap *swap, plan_cost cost)
{
    const struct swap_weights *weights = &swap->weights;
    struct swap_parts parts;
    cost = (cost + SWAP_SCALE - 1) / SWAP_SCALE * SWAP_SCALE;
    plan_cost dark = cost / weights->dark, scale = weights->first / weights->dark;
    parts.dark = (uint32_t)(scale > 1 ? dark / scale + dark % scale : dark);
    cost %= weights->dark;
    bool touches_first = weights->touch > weights->disturbed;
    plan_cost high = touches_first ? weights->touch : weights->disturbed, low = touches_first ? weights->disturbed : weights->touch;
    uint32_t first = (uint32_t)(cost / high), second = (uint32_t)(cost % high / low);
    parts.disturbed = touches_first ? second : first;
    parts.touches = touches_first ? first : second;
    parts.settings = (uint32_t)(cost % high % low / weights->setting);
    return parts;
}
