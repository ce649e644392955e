/* Sets of receivers of which only one may be on the air with a code, because they are within reach of each other. */
#include "swap_dual.h"

#define CLIQUES_MOST 256

/* True if `a` and `b` may never have the code at once. */
static bool always_clash(const struct swap *swap, uint32_t a, uint32_t b, const char *code)
{
    bool any = false;
    for (uint32_t x = 0; x < swap->receivers[a].option_count; x++) {
        if (swap->receivers[a].options[x].code != code)
            continue;
        for (uint32_t y = 0; y < swap->receivers[b].option_count; y++) {
            if (swap->receivers[b].options[y].code != code)
                continue;
            if (swap__compatible(swap, a, x, b, y))
                return false;
            any = true;
        }
    }
    return any;
}

/* Grow a clique from a pair, receiver by receiver. */
static bool add_clique(struct swap_dual *dual, const bool *clash, uint32_t a, uint32_t b, const char *code)
{
    uint32_t count = dual->swap->receiver_count;
    bool *member = swap__alloc(dual->swap, count, sizeof *member);
    if (!member)
        return false;
    member[a] = member[b] = true;
    for (uint32_t r = 0; r < count; r++) {
        bool all = !member[r];
        for (uint32_t m = 0; m < count && all; m++)
            all = !member[m] || clash[(size_t)r * count + m];
        member[r] |= all;
    }
    dual->cliques[dual->clique_count++] = (struct swap_clique){ code, member };
    return true;
}

static bool is_covered(const struct swap_dual *dual, uint32_t from, uint32_t a, uint32_t b)
{
    for (uint32_t k = from; k < dual->clique_count; k++)
        if (dual->cliques[k].member[a] && dual->cliques[k].member[b])
            return true;
    return false;
}

/* Cliques of one code until every pair that clashes is in one. */
static bool cover_code(struct swap_dual *dual, bool *clash, const char *code)
{
    const struct swap *swap = dual->swap;
    uint32_t count = swap->receiver_count, from = dual->clique_count;
    for (uint32_t a = 0; a < count; a++)
        for (uint32_t b = a + 1; b < count; b++)
            clash[(size_t)a * count + b] = clash[(size_t)b * count + a] = always_clash(swap, a, b, code);
    for (uint32_t a = 0; a < count; a++)
        for (uint32_t b = a + 1; b < count && dual->clique_count < CLIQUES_MOST; b++)
            if (clash[(size_t)a * count + b] && !is_covered(dual, from, a, b) && !add_clique(dual, clash, a, b, code))
                return false;
    return true;
}

bool swap__find_cliques(struct swap_dual *dual)
{
    struct swap *swap = dual->swap;
    uint32_t count = swap->receiver_count;
    bool *clash = swap__alloc(swap, (size_t)count * count, sizeof *clash);
    dual->cliques = swap__alloc(swap, CLIQUES_MOST, sizeof *dual->cliques);
    bool good = clash && dual->cliques;
    for (uint32_t c = 0; c < swap->code_count && good; c++)
        good = cover_code(dual, clash, swap->codes[c]);
    return good;
}
