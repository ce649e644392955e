/* One source on one universe: its sequence numbers (E1.31 6.7.2), how well it sends, how it ends (6.2.6, 6.7.1) and comes
 * back. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sacn_table.h"

/* ---- sequence numbers ---- */

static void window_begin(struct sacn__window *window, uint8_t number)
{
    *window = (struct sacn__window){ .last = number, .came = 1 };
}

/* The bits of the numbers passed over, nearest last. */
static uint32_t below(unsigned bits)
{
    return bits >= 32 ? UINT32_MAX : (UINT32_C(1) << bits) - 1;
}

static uint32_t shifted(uint32_t bits, unsigned by)
{
    return by >= 32 ? 0 : bits << by;
}

static enum sacn__step window_step(struct sacn__window *window, uint8_t number)
{
    int ahead = (int8_t)(uint8_t)(number - window->last);
    if (!sacn_sequence_accepted(window->last, number)) {
        uint32_t bit = UINT32_C(1) << -ahead;
        if (window->came & bit)
            return SACN__REPEATED;
        window->came |= bit;
        return SACN__LATE;
    }
    if (ahead < 0) {
        window_begin(window, number);
        return SACN__RESTART;
    }
    window->came = shifted(window->came, (unsigned)ahead) | 1;
    window->missed = shifted(window->missed, (unsigned)ahead) | (below((unsigned)ahead) & ~UINT32_C(1));
    window->last = number;
    return SACN__AHEAD;
}

/* @return whether the packet is to be acted on */
static bool in_order(const struct sacn_table *table, struct sacn__source *source, uint8_t number)
{
    struct sacn_heard_source *heard = &source->heard;
    struct sacn__window *window = &source->window;
    uint8_t last = window->last;
    if (heard->state != SACN_LIVE && table->now_ns - heard->last_ns >= SACN__LOSS_NS) {
        window_begin(window, number);
        return true;
    }
    switch (window_step(window, number)) {
    case SACN__AHEAD:
        heard->missing += (uint8_t)(number - last - 1);
        return true;
    case SACN__RESTART:
        heard->restarts++;
        return true;
    case SACN__LATE:
        heard->late++;
        heard->missing -= window->missed >> (uint8_t)(last - number) & 1;
        return false;
    case SACN__REPEATED:
        heard->repeated++;
        return false;
    }
    return false;
}

/* ---- how well it sends ---- */

static void measure(struct sacn__source *source, int64_t now_ns)
{
    struct sacn_heard_source *heard = &source->heard;
    int64_t interval_ns = now_ns - source->levels_ns;
    source->levels_ns = now_ns;
    if (!source->measured) {
        source->measured = true;
        source->rate_from_ns = now_ns;
        source->rate_count = 0;
        return;
    }
    double interval_ms = (double)interval_ns / 1e6;
    if (interval_ms > heard->gap_ms)
        heard->gap_ms = interval_ms;
    if (source->has_mean) {
        heard->jitter_ms += (fabs(interval_ms - source->mean_ms) - heard->jitter_ms) / 16;
        source->mean_ms += (interval_ms - source->mean_ms) / 16;
    } else {
        source->mean_ms = interval_ms;
        source->has_mean = true;
    }
    source->rate_count++;
    if (now_ns - source->rate_from_ns < SACN__SECOND)
        return;
    heard->rate_hz = source->rate_count * 1e9 / (double)(now_ns - source->rate_from_ns);
    source->rate_from_ns = now_ns;
    source->rate_count = 0;
}

/* ---- its end, and coming back ---- */

static void ended_append(struct sacn_table *table, struct sacn__source *source)
{
    source->ended_turn = ++table->turns;
    source->ended_before = table->ended_last;
    source->ended_after = NULL;
    *(table->ended_last ? &table->ended_last->ended_after : &table->ended_first) = source;
    table->ended_last = source;
}

static void ended_remove(struct sacn_table *table, struct sacn__source *source)
{
    *(source->ended_before ? &source->ended_before->ended_after : &table->ended_first) = source->ended_after;
    *(source->ended_after ? &source->ended_after->ended_before : &table->ended_last) = source->ended_before;
}

static void end(struct sacn_table *table, struct sacn__source *source, enum sacn_source_state state)
{
    if (source->heard.state == state)
        return;
    sacn__levels_drop(source);
    if (source->heard.state == SACN_LIVE)
        sacn__living(table, source, false);
    else
        ended_remove(table, source);
    ended_append(table, source);
    source->heard.state = state;
    source->heard.rate_hz = 0;
    source->ended_ns = table->now_ns;
    sacn__timer_set(&table->timers, &source->timer, source->ended_ns + SACN__FORGET_NS);
}

static bool come_back(struct sacn_table *table, struct sacn__source *source, const struct sacn_packet *packet,
                      const union sacn_address *from)
{
    struct sacn_heard_source *heard = &source->heard;
    enum sacn_source_state ended = heard->state;
    union sacn_address before = heard->from;
    if (!sacn__admit(table, source, packet, from))
        return false;
    ended_remove(table, source);
    heard->losses += ended == SACN_LOST;
    heard->address_changes += !sacn__same_host(&before, from);
    source->measured = source->has_mean = false;
    return true;
}

void sacn__source_delete(struct sacn_table *table, struct sacn__source *source)
{
    struct sacn__universe *universe = source->universe;
    sacn__levels_drop(source);
    if (source->heard.state == SACN_LIVE)
        sacn__living(table, source, false);
    else
        ended_remove(table, source);
    sacn__sync_name(table, source, 0);
    sacn__timer_drop(&table->timers, &source->timer);
    sacn__source_remove(source);
    table->source_count--;
    if (universe->count == 0)
        sacn__universe_delete(table, universe);
    free(source);
}

void sacn__source_due(struct sacn_table *table, struct sacn__source *source)
{
    bool lives = source->heard.state == SACN_LIVE;
    int64_t due_ns = lives ? source->heard.last_ns + SACN__LOSS_NS : source->ended_ns + SACN__FORGET_NS;
    if (due_ns > table->now_ns)
        sacn__timer_set(&table->timers, &source->timer, due_ns);
    else if (lives)
        end(table, source, SACN_LOST);
    else
        sacn__source_delete(table, source);
}

/* ---- packets ---- */

/* What every accepted packet tells, whatever its START code. */
static void note(struct sacn_table *table, struct sacn__source *source, const struct sacn_packet *packet,
                 const union sacn_address *from)
{
    struct sacn_heard_source *heard = &source->heard;
    heard->last_ns = table->now_ns;
    if (packet->start_code == 0)
        heard->packets++;
    else
        heard->other_start_codes++;
    if (strcmp(heard->name, packet->name) != 0) {
        memcpy(heard->name, packet->name, sizeof heard->name);
        heard->name_changes++;
    }
    if (!sacn__same_host(&heard->from, from)) {
        heard->address_changes++;
        if (heard->state == SACN_LIVE) {
            table->host_sources[source->host]--;
            table->host_sources[sacn__host(from)]++;
        }
        source->host = sacn__host(from);
    }
    heard->from = *from;
}

static void take_levels(struct sacn_table *table, struct sacn__source *source, const struct sacn_packet *packet)
{
    struct sacn_heard_source *heard = &source->heard;
    if (packet->preview)
        sacn__levels_drop(source);
    heard->preview = packet->preview;
    heard->force_sync = packet->force_sync;
    heard->sync_address = packet->sync_address;
    heard->slot_count = packet->slot_count;
    if (heard->priority != packet->priority) {
        heard->priority_changes++;
        heard->priority = packet->priority;
        sacn__resort(source);
        source->universe->judge = true;
    }
    sacn__sync_name(table, source, packet->sync_address);
    measure(source, table->now_ns);
    if (!packet->preview)
        sacn__levels_put(source, packet);
}

void sacn__take_data(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from)
{
    struct sacn__universe *universe = table->universe_of[packet->universe];
    struct sacn__source *source = universe ? sacn__find(universe, packet->cid) : NULL;
    table->counts.data++;
    table->counts.other_start_codes += packet->start_code != 0;
    if (!source) {
        if (packet->terminated)
            return;                   /* the end of what was not heard is no news */
        source = sacn__admit(table, NULL, packet, from);
        if (!source)
            return;
        window_begin(&source->window, packet->sequence);
    } else if (!in_order(table, source, packet->sequence)) {
        return;
    } else if (!packet->terminated && source->heard.state != SACN_LIVE && !come_back(table, source, packet, from)) {
        return;
    }
    note(table, source, packet, from);
    if (packet->terminated) {
        end(table, source, SACN_TERMINATED);
        return;
    }
    sacn__timer_set(&table->timers, &source->timer, source->heard.last_ns + SACN__LOSS_NS);
    if (packet->start_code == 0)
        take_levels(table, source, packet);
}
