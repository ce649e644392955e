/* Who wins a universe and what results (E1.31 6.2.3): arbitration by priority, highest takes precedence among equals. Worked
 * out when somebody reads, or when what a receiver showed until now must be kept. */
#include <string.h>

#include "sacn_table.h"

static const struct sacn__source *source_at(const struct sacn__universe *universe, uint32_t at)
{
    return (const struct sacn__source *)universe->sources[at];
}

static void judge(struct sacn__universe *universe)
{
    universe->winners = 0;
    universe->priority = 0;
    for (uint32_t i = 0; i < universe->count; i++) {          /* the highest priority comes first */
        struct sacn__source *source = (struct sacn__source *)universe->sources[i];
        bool wins = source->has_levels && (universe->winners == 0 || source->heard.priority == universe->priority);
        source->heard.wins = wins;
        if (!wins)
            continue;
        universe->priority = source->heard.priority;
        universe->winners++;
    }
}

/* A source with fewer slots has zeros in the rest of its buffer, which raise nothing. */
static void merge(struct sacn__universe *universe)
{
    uint32_t merged = 0;
    for (uint32_t i = 0; merged < universe->winners; i++) {
        const struct sacn__source *source = source_at(universe, i);
        if (!source->heard.wins)
            continue;
        const uint8_t *levels = source->levels[source->acting];
        if (merged++ == 0)
            memcpy(universe->levels, levels, SACN_SLOTS);
        else
            for (size_t slot = 0; slot < SACN_SLOTS; slot++)
                universe->levels[slot] = levels[slot] > universe->levels[slot] ? levels[slot] : universe->levels[slot];
    }
}

void sacn__refresh(struct sacn__universe *universe)
{
    if (universe->judge)
        judge(universe);
    if (universe->judge || universe->merge)
        merge(universe);
    universe->judge = universe->merge = false;
}

/* What waited is in the buffer that does not act: it acts now, or is overwritten next. */
static void act(struct sacn__source *source)
{
    source->universe->judge |= !source->has_levels;
    source->universe->merge = true;
    source->has_levels = true;
}

void sacn__levels_put(struct sacn__source *source, const struct sacn_packet *packet)
{
    enum sacn_sync_state sync = sacn__sync_state(source);
    bool hold = sync == SACN_SYNCED || (sync == SACN_SYNC_LOST && !packet->force_sync);
    uint8_t *levels = source->levels[hold ? !source->acting : source->acting];
    memcpy(levels, packet->slots, packet->slot_count);
    memset(levels + packet->slot_count, 0, SACN_SLOTS - packet->slot_count);
    if (hold) {
        sacn__hold(source);
        return;
    }
    sacn__unhold(source);
    act(source);
}

void sacn__levels_release(struct sacn__source *source)
{
    sacn__unhold(source);
    source->acting = !source->acting;
    act(source);
}

void sacn__levels_drop(struct sacn__source *source)
{
    sacn__unhold(source);
    if (!source->has_levels)
        return;
    sacn__refresh(source->universe);
    source->has_levels = false;
    source->universe->judge = true;
}
