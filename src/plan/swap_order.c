/* In which order transmitters are set: by id, but one that takes the join code of another on the air after that one has given it
 * up. In between both would have it, and receivers would hear two. */
#include <stdlib.h>

#include "swap_internal.h"

struct order {
    const struct swap *swap;
    const uint32_t *choice;
    const bool *set;
    unsigned char *state;
    struct swap_order *out; uint32_t count;
};

enum { UNSEEN, WAITING, DONE };

static const char *code_before(const struct order *order, uint32_t r)
{
    return order->swap->show->transmitters[order->swap->receivers[r].transmitter].code;
}

static const char *code_after(const struct order *order, uint32_t r)
{
    return order->swap->receivers[r].options[order->choice[r]].code;
}

static bool changes(const struct order *order, uint32_t r)
{
    return order->set[r] && code_after(order, r) != code_before(order, r);
}

/* Put r at the end of the order, after those that give up the code that it takes or comes on the air with. Two that take each other's stand in each other's way:
 * the one that comes second is to be switched off before. */
static void put(struct order *order, uint32_t r)
{
    const struct swap *swap = order->swap;
    const char *code = changes(order, r) || (order->set[r] && !swap->receivers[r].on) ? code_after(order, r) : NULL;
    uint32_t count = 0;
    const uint32_t *same = NULL;
    uint32_t off_first = SHOW_UNKNOWN;
    order->state[r] = WAITING;
    if (code && code != swap->receivers[r].fresh)
        same = show_code_transmitters(swap->show, code, &count);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t q = swap->receiver_of[same[i]];
        if (q == SHOW_UNKNOWN || q == r || !swap->receivers[q].on || !changes(order, q))
            continue;
        if (order->state[q] == UNSEEN)
            put(order, q);
        else if (order->state[q] == WAITING)
            off_first = q;
    }
    order->state[r] = DONE;
    order->out[order->count++] = (struct swap_order){ r, off_first };
}

int swap__order(const struct swap *swap, const uint32_t *choice, const bool *set, struct swap_order *out)
{
    struct order order = { swap, choice, set, calloc(swap->receiver_count + (size_t)1, 1), out, 0 };
    if (!order.state)
        return RIG_ENOMEM;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (order.state[r] == UNSEEN)
            put(&order, r);
    free(order.state);
    return 0;
}
