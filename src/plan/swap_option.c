/* The ways to set each receiver up: code x air mode, or left alone; without those that another way never loses to. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

/* ---- codes that can save a touch ---- */

static int note_codes(struct swap *swap, const struct swap_fixture *fixtures, uint32_t count)
{
    for (uint32_t f = 0; f < count; f++) {
        uint32_t c = 0;
        if (!plan__is_code(fixtures[f].code))                /* nobody takes it over */
            continue;
        while (c < swap->code_count && swap->codes[c] != fixtures[f].code)
            c++;
        if (c == swap->code_count)
            swap->codes[swap->code_count++] = fixtures[f].code;
        swap->code_airs[c] |= AIR_BIT(fixtures[f].air);
    }
    return 0;
}

static int find_codes(struct swap *swap)
{
    uint32_t room = swap->lost_count + swap->working_count;
    swap->codes = swap__alloc(swap, room, sizeof *swap->codes);
    swap->code_airs = swap__alloc(swap, room, sizeof *swap->code_airs);
    if (!swap->codes || !swap->code_airs)
        return RIG_ENOMEM;
    note_codes(swap, swap->lost, swap->lost_count);
    note_codes(swap, swap->working, swap->working_count);
    return 0;
}

static bool is_noted(const struct swap *swap, const char *code)
{
    for (uint32_t c = 0; c < swap->code_count; c++)
        if (swap->codes[c] == code)
            return true;
    return false;
}

/* Failing fixtures, which no plan touches, are keyed to the code. */
static bool is_left_keyed(const struct swap *swap, const struct swap_receiver *receiver, const char *code)
{
    uint32_t count = 0;
    const uint32_t *keyed = code && code != receiver->fresh ? show_code_fixtures(swap->show, code, &count) : NULL;
    for (uint32_t f = 0; f < count; f++)
        if (swap->problem->role[keyed[f]] == ROLE_FAILING)
            return true;
    return false;
}

/* Its own code meets nobody: no other transmitter has it, none can take it, and no fixture that the plan leaves is keyed to it. */
static bool own_is_clean(const struct swap *swap, const struct swap_receiver *receiver)
{
    const char *code = swap->show->transmitters[receiver->transmitter].code;
    uint32_t transmitters;
    if (!code || !plan__is_code(code) || is_noted(swap, code) || is_left_keyed(swap, receiver, code))
        return false;
    show_code_transmitters(swap->show, code, &transmitters);
    return transmitters == 1;
}

/* ---- the list of ways ---- */

static int add(struct swap *swap, struct swap_receiver *receiver, const char *code, enum air air, bool used)
{
    struct transmitter copy = swap->show->transmitters[receiver->transmitter];
    if (receiver->option_count == receiver->option_room)
        return RIG_ENOMEM;
    copy.air = air;
    receiver->options[receiver->option_count++] = (struct swap_option){
        .code = code, .air = air, .used = used, .keep_out = used && receiver->quiet_needed && receiver->quiet_missing,
        .top = transmitter_lane_count(&copy), .recheck = is_left_keyed(swap, receiver, code) };
    return 0;
}

static int add_unchanged(struct swap *swap, struct swap_receiver *receiver)
{
    const struct transmitter *transmitter = &swap->show->transmitters[receiver->transmitter];
    bool used = receiver->on && receiver->may_change && plan__is_code(transmitter->code) && (!receiver->quiet_needed || (!receiver->quiet_missing && receiver->quiet_fits));
    return add(swap, receiver, receiver->on ? transmitter->code : NULL, transmitter->air, used);
}

static int add_air(struct swap *swap, struct swap_receiver *receiver, enum air air)
{
    const struct transmitter *transmitter = &swap->show->transmitters[receiver->transmitter];
    bool unchanged = receiver->on && air == transmitter->air && receiver->options[0].used;
    int err = 0;
    if (transmitter->code && plan__is_code(transmitter->code) && !unchanged)
        err = add(swap, receiver, transmitter->code, air, true);
    for (uint32_t c = 0; c < swap->code_count && !err; c++)
        if (swap->codes[c] != transmitter->code && (swap->code_airs[c] & AIR_BIT(air)))
            err = add(swap, receiver, swap->codes[c], air, true);
    if (!err && !own_is_clean(swap, receiver))
        err = add(swap, receiver, receiver->fresh, air, true);
    return err;
}

/* The way that changes nothing comes first. */
static int list_options(struct swap *swap, struct swap_receiver *receiver)
{
    const struct transmitter *transmitter = &swap->show->transmitters[receiver->transmitter];
    receiver->option_room = 2 * (swap->code_count + 3);
    receiver->options = swap__alloc(swap, receiver->option_room, sizeof *receiver->options);
    if (!receiver->options || add_unchanged(swap, receiver))
        return RIG_ENOMEM;
    if (!receiver->may_change || receiver->pinned)
        return 0;
    if (receiver->on && !receiver->options[0].used && !own_is_clean(swap, receiver) &&
        add(swap, receiver, receiver->fresh, transmitter->air, false))
        return RIG_ENOMEM;
    if (receiver->quiet_needed && !receiver->quiet_fits)
        return 0;
    for (enum air air = AIR_SINGLE; air <= AIR_DUAL; air++)
        if ((transmitter->airs | AIR_BIT(transmitter->air)) & AIR_BIT(air))
            if (add_air(swap, receiver, air))
                return RIG_ENOMEM;
    return 0;
}

static void drop_clashing(struct swap *swap, uint32_t r)
{
    struct swap_receiver *receiver = &swap->receivers[r];
    uint32_t kept = 1;
    for (uint32_t o = 1; o < receiver->option_count; o++)
        if (!swap__option_clashes(swap, r, &receiver->options[o]))
            receiver->options[kept++] = receiver->options[o];
    receiver->option_count = kept;
}

/* ---- ways that never win ---- */

static bool is_clean(const struct swap *swap, const struct swap_receiver *receiver, const struct swap_option *option)
{
    const char *own = swap->show->transmitters[receiver->transmitter].code;
    return !option->code || option->code == receiver->fresh || (option->code == own && own_is_clean(swap, receiver));
}

static bool beats(const struct swap *swap, const struct swap_receiver *receiver, const struct swap_option *a,
                  const struct swap_option *b)
{
    size_t cells = (size_t)swap->item_count * receiver->lane_count;
    if (a->fixed > b->fixed || !is_clean(swap, receiver, a))
        return false;
    for (size_t k = 0; k < cells; k++)
        if (a->table[k] > b->table[k])
            return false;
    return true;
}

/* A failing fixture that hears two transmitters lands nowhere, so what another may carry can hang on this one: no price of an option
 * by itself shows that. For it a fixture must be keyed just so, and hear the receiver and another. */
static bool can_tear(const struct swap *swap, uint32_t receiver, const struct swap_option *option)
{
    uint32_t count = 0;
    const struct transmitter *own = &swap->show->transmitters[swap->receivers[receiver].transmitter];
    const uint32_t *keyed = option->recheck ? show_code_fixtures(swap->show, option->code, &count) : NULL;
    for (uint32_t k = 0; k < count; k++) {
        const struct fixture *fixture = &swap->show->fixtures[keyed[k]];
        if (swap->problem->role[keyed[k]] != ROLE_FAILING || fixture->air != option->air || fixture->lane < 1 ||
            fixture->lane > option->top || !radio_in_reach(swap->show, own, fixture))
            continue;
        for (uint32_t r = 0; r < swap->receiver_count; r++)
            if (r != receiver && radio_in_reach(swap->show, &swap->show->transmitters[swap->receivers[r].transmitter], fixture))
                return true;
    }
    return false;
}

static void drop_beaten(struct swap *swap, uint32_t r)
{
    struct swap_receiver *receiver = &swap->receivers[r];
    for (uint32_t o = 0; o < receiver->option_count; o++) {
        bool beaten = false, tears = can_tear(swap, r, &receiver->options[o]);
        for (uint32_t p = 0; p < receiver->option_count && !beaten && !tears; p++)
            beaten = p != o && beats(swap, receiver, &receiver->options[p], &receiver->options[o]) &&
                     (p < o || !beats(swap, receiver, &receiver->options[o], &receiver->options[p]));
        if (!beaten)
            continue;
        receiver->option_count--;
        memmove(&receiver->options[o], &receiver->options[o + 1], (receiver->option_count - o) * sizeof *receiver->options);
        o--;
    }
}

/* ---- the relaxation of a receiver whose way is not decided ---- */

/* How many pairs of an option that beat `relaxed` can be had at once, at most. */
static uint32_t count_better(const struct swap *swap, const struct swap_receiver *receiver, const struct swap_option *option)
{
    uint32_t rows = 0, lanes = 0;
    for (uint32_t i = 0; i < swap->item_count; i++) {
        bool any = false;
        for (uint32_t l = 0; l < receiver->lane_count; l++)
            any |= option->table[(size_t)i * receiver->lane_count + l] < receiver->relaxed[(size_t)i * receiver->lane_count + l];
        rows += any;
    }
    for (uint32_t l = 0; l < receiver->lane_count; l++) {
        bool any = false;
        for (uint32_t i = 0; i < swap->item_count && !any; i++)
            any = option->table[(size_t)i * receiver->lane_count + l] < receiver->relaxed[(size_t)i * receiver->lane_count + l];
        lanes += any;
    }
    return rows < lanes ? rows : lanes;
}

/* An option's settings over the least of all are shared out over the pairs that it makes cheaper, of which an answer has at most
 * so many: then no answer pays less here than it really does. Options are taken by rising settings. */
static void relax_with(const struct swap *swap, struct swap_receiver *receiver, const struct swap_option *option)
{
    size_t cells = (size_t)swap->item_count * receiver->lane_count;
    uint32_t pairs = count_better(swap, receiver, option);
    if (pairs == 0)
        return;
    plan_cost share = swap->weights.setting * (option->fixed - receiver->fixed) / pairs;
    for (size_t k = 0; k < cells; k++)
        if (option->table[k] + share < receiver->relaxed[k])
            receiver->relaxed[k] = option->table[k] + share;
}

void swap__relax(const struct swap *swap, struct swap_receiver *receiver)
{
    size_t cells = (size_t)swap->item_count * receiver->lane_count;
    uint32_t most = 0;
    receiver->fixed = UINT32_MAX;
    for (uint32_t o = 0; o < receiver->option_count; o++) {
        const struct swap_option *option = &receiver->options[o];
        if (option->dead)
            continue;
        receiver->fixed = option->fixed < receiver->fixed ? option->fixed : receiver->fixed;
        most = option->fixed > most ? option->fixed : most;
    }
    for (size_t k = 0; k < cells; k++)
        receiver->relaxed[k] = swap->weights.forbidden;
    for (uint32_t fixed = receiver->fixed; fixed <= most; fixed++)
        for (uint32_t o = 0; o < receiver->option_count; o++)
            if (!receiver->options[o].dead && receiver->options[o].fixed == fixed)
                relax_with(swap, receiver, &receiver->options[o]);
}

static int price_all(struct swap *swap, uint32_t r)
{
    struct swap_receiver *receiver = &swap->receivers[r];
    size_t cells = (size_t)swap->item_count * receiver->lane_count;
    receiver->relaxed = swap__alloc(swap, cells, sizeof *receiver->relaxed);
    receiver->order = swap__alloc(swap, receiver->option_count, sizeof *receiver->order);
    receiver->estimate = swap__alloc(swap, receiver->option_count, sizeof *receiver->estimate);
    for (uint32_t o = 0; o < receiver->option_count; o++) {
        struct swap_option *option = &receiver->options[o];
        option->table = swap__alloc(swap, cells, sizeof *option->table);
        if (!option->table)
            return RIG_ENOMEM;
        swap__price(swap, r, o, NULL, option->table, &option->fixed);
    }
    return receiver->relaxed && receiver->order && receiver->estimate ? 0 : RIG_ENOMEM;
}

/* Prices to be computed: each is some nanoseconds, and the tables take 16 octets for each item and lane of an option. */
static bool is_too_large(const struct swap *swap)
{
    uint64_t work = (uint64_t)swap->item_count * swap->column_count;
    if (swap->lost_count + swap->working_count > 1u << 17 || swap->item_count > 1u << 16 || swap->column_count > 1u << 20)
        return true;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        work += (uint64_t)swap->receivers[r].option_count * swap->receivers[r].lane_count *
                ((uint64_t)swap->item_count + swap->lost_count + swap->working_count);
    return work > SWAP_WORK;
}

int swap__options(struct swap *swap, bool *too_large)
{
    *too_large = false;
    if (find_codes(swap))
        return RIG_ENOMEM;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (list_options(swap, &swap->receivers[r]))
            return RIG_ENOMEM;
    *too_large = is_too_large(swap);
    if (*too_large)
        return 0;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        drop_clashing(swap, r);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (price_all(swap, r))
            return RIG_ENOMEM;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        drop_beaten(swap, r);
        swap__relax(swap, &swap->receivers[r]);
    }
    return 0;
}
