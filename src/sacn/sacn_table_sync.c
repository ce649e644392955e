/* Synchronisation (E1.31 6.2.4, 6.3.3, 11): which addresses are watched, who sends for them, what they release. */
#include <stdlib.h>
#include <string.h>

#include "sacn_table.h"

/* ---- what is held ---- */

void sacn__hold(struct sacn__source *source)
{
    struct sacn__sync *sync = source->sync;
    if (source->holds)
        return;
    source->holds = true;
    source->held_before = NULL;
    source->held_after = sync->held;
    if (sync->held)
        sync->held->held_before = source;
    sync->held = source;
}

void sacn__unhold(struct sacn__source *source)
{
    if (!source->holds)
        return;
    source->holds = false;
    *(source->held_before ? &source->held_before->held_after : &source->sync->held) = source->held_after;
    if (source->held_after)
        source->held_after->held_before = source->held_before;
}

/* All of them, or those that need not wait for packets that stay away. */
static void release(struct sacn__sync *sync, bool all)
{
    for (struct sacn__source *source = sync->held, *after; source; source = after) {
        after = source->held_after;
        if (all || source->heard.force_sync)
            sacn__levels_release(source);
    }
}

enum sacn_sync_state sacn__sync_state(const struct sacn__source *source)
{
    if (!source->sync || !source->sync->ever)
        return SACN_FREE;
    return source->sync->lost ? SACN_SYNC_LOST : SACN_SYNCED;
}

/* ---- addresses ---- */

static struct sacn__sync *watch(struct sacn_table *table, uint16_t address)
{
    struct sacn__sync *sync = table->sync_of[address];
    if (sync || table->sync_count >= table->limits.universes || !(sync = calloc(1, sizeof *sync)))
        return sync;
    sync->address = address;
    sync->timer.kind = SACN__DUE_SYNC;
    sync->timer.tie = address;
    table->sync_of[address] = sync;
    table->sync_count++;
    return sync;
}

static void let_go(struct sacn_table *table, struct sacn__sync *sync)
{
    if (--sync->refers > 0)
        return;
    sacn__timer_drop(&table->timers, &sync->timer);
    table->sync_of[sync->address] = NULL;
    table->sync_count--;
    free(sync);
}

void sacn__sync_name(struct sacn_table *table, struct sacn__source *source, uint16_t address)
{
    if (address == (source->sync ? source->sync->address : 0))
        return;
    sacn__unhold(source);
    struct sacn__sync *sync = address != 0 ? watch(table, address) : NULL;
    if (sync)
        sync->refers++;
    if (source->sync)
        let_go(table, source->sync);
    source->sync = sync;
}

/* ---- packets ---- */

static bool silent(const struct sacn__sender *sender, int64_t now_ns)
{
    return !sender->known || now_ns - sender->last_ns >= SACN__LOSS_NS;
}

static struct sacn__sender *find_sender(struct sacn__sync *sync, const uint8_t cid[16])
{
    for (int i = 0; i < SACN__SENDERS; i++)
        if (sync->senders[i].known && memcmp(sync->senders[i].cid, cid, 16) == 0)
            return &sync->senders[i];
    return NULL;
}

/* A place for a sender that is not known or was silent: its own one, or the first whose sender is silent. */
static struct sacn__sender *place_sender(struct sacn__sync *sync, struct sacn__sender *own, int64_t now_ns,
                                         const union sacn_address *from)
{
    int of_host = 0;
    for (int i = 0; i < SACN__SENDERS; i++) {
        struct sacn__sender *sender = &sync->senders[i];
        if (!silent(sender, now_ns))
            of_host += sacn__same_host(&sender->from, from);
        else if (!own)
            own = sender;
    }
    return of_host < SACN__SENDERS / 2 ? own : NULL;
}

void sacn__take_sync(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from)
{
    struct sacn__sync *sync = table->sync_of[packet->sync_address];
    table->counts.sync++;
    if (!sync)
        return;
    struct sacn__sender *sender = find_sender(sync, packet->cid);
    if (!sender || silent(sender, table->now_ns)) {
        sender = place_sender(sync, sender, table->now_ns, from);
        if (!sender) {
            table->counts.turned_away++;
            return;
        }
    } else if (!sacn_sequence_accepted(sender->sequence, packet->sequence)) {
        return;
    }
    *sender = (struct sacn__sender){ .from = *from, .last_ns = table->now_ns, .sequence = packet->sequence, .known = true };
    memcpy(sender->cid, packet->cid, 16);
    sync->ever = true;
    sync->lost = false;
    sync->last_ns = table->now_ns;
    sacn__timer_set(&table->timers, &sync->timer, sync->last_ns + SACN__LOSS_NS);
    release(sync, true);
}

void sacn__sync_due(struct sacn_table *table, struct sacn__sync *sync)
{
    int64_t due_ns = sync->last_ns + SACN__LOSS_NS;
    if (due_ns > table->now_ns) {
        sacn__timer_set(&table->timers, &sync->timer, due_ns);
        return;
    }
    sync->lost = true;
    release(sync, false);
}
