/* Which keys a table has had: a set of (table, interned text). */
#include <stdint.h>
#include <stdlib.h>

#include "showfile_internal.h"

static uint32_t mix(const char *key, uint32_t table)
{
    uint64_t bits = ((uint64_t)(uintptr_t)key >> 3) * 0x9e3779b97f4a7c15u + table * 0xc2b2ae3d27d4eb4fu;
    return (uint32_t)(bits ^ (bits >> 29) ^ (bits >> 47));
}

static void put(struct seen *seen, const char *key, uint32_t table)
{
    uint32_t at = mix(key, table) & seen->mask;
    while (seen->cells[at].key)
        at = (at + 1) & seen->mask;
    seen->cells[at] = (struct seen_key){ key, table };
}

static bool grow(struct seen *seen)
{
    struct seen larger = { NULL, seen->cells ? seen->mask * 2 + 1 : 63, seen->count };
    larger.cells = calloc((size_t)larger.mask + 1, sizeof *larger.cells);
    if (!larger.cells)
        return false;
    for (uint32_t i = 0; seen->cells && i <= seen->mask; i++)
        if (seen->cells[i].key)
            put(&larger, seen->cells[i].key, seen->cells[i].table);
    free(seen->cells);
    *seen = larger;
    return true;
}

int showfile__see(struct seen *seen, uint32_t table, const char *key)
{
    if ((!seen->cells || seen->count >= seen->mask / 2) && !grow(seen))
        return RIG_ENOMEM;
    uint32_t at = mix(key, table) & seen->mask;
    for (; seen->cells[at].key; at = (at + 1) & seen->mask)
        if (seen->cells[at].key == key && seen->cells[at].table == table)
            return 1;
    seen->cells[at] = (struct seen_key){ key, table };
    seen->count++;
    return 0;
}
