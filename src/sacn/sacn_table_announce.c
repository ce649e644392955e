/* Universe discovery (E1.31 4.3, 8, 12): what sources say they send. */
#include <stdlib.h>
#include <string.h>

#include "sacn_internal.h"
#include "sacn_table.h"

static bool bit_is_set(const uint8_t *bits, unsigned number)
{
    return bits[number / 8] >> number % 8 & 1;
}

static void set_bit(uint8_t *bits, unsigned number)
{
    bits[number / 8] |= (uint8_t)(1u << number % 8);
}

/* ---- who announces ---- */

static struct sacn__announcer *find(const struct sacn_table *table, const uint8_t cid[16])
{
    for (uint32_t i = 0; i < table->announcer_count; i++)
        if (memcmp(table->announcers[i].cid, cid, 16) == 0)
            return table->announcer_parts[i];
    return NULL;
}

static struct sacn__announcer *admit(struct sacn_table *table, const uint8_t cid[16], const union sacn_address *from)
{
    uint32_t of_host = 0;
    for (uint32_t i = 0; i < table->announcer_count; i++)
        of_host += sacn__same_host(&table->announcers[i].from, from);
    struct sacn__announcer *announcer = NULL;
    if (table->announcer_count < table->limits.announcers && of_host < sacn__half(table->limits.announcers))
        announcer = calloc(1, sizeof *announcer);
    if (!announcer)
        return NULL;
    announcer->index = table->announcer_count++;
    announcer->timer.kind = SACN__DUE_ANNOUNCER;
    table->announcer_parts[announcer->index] = announcer;
    table->announcers[announcer->index] = (struct sacn_announcer){ .whole = false };
    memcpy(table->announcers[announcer->index].cid, cid, 16);
    return announcer;
}

static void forget(struct sacn_table *table, struct sacn__announcer *announcer)
{
    uint32_t at = announcer->index, after = --table->announcer_count - at;
    memmove(table->announcers + at, table->announcers + at + 1, after * sizeof *table->announcers);
    memmove(table->announcer_parts + at, table->announcer_parts + at + 1, after * sizeof *table->announcer_parts);
    for (uint32_t i = at; i < table->announcer_count; i++)
        table->announcer_parts[i]->index = i;
    free(announcer);
}

/* ---- what they announce ---- */

/* The set that readers see: the one that is whole, else what came. */
static const struct sacn__set *shown(const struct sacn_table *table, const struct sacn__announcer *announcer)
{
    return &announcer->sets[table->announcers[announcer->index].whole ? announcer->shown : !announcer->shown];
}

static void set_begin(struct sacn__set *set, uint8_t last_page, int64_t now_ns)
{
    memset(set, 0, sizeof *set);
    set->open = true;
    set->last_page = last_page;
    set->begun_ns = now_ns;
}

/* A list has no name: a page that is there already, or that belongs to another number of pages, begins the next one. */
static void collect(struct sacn__set *set, const struct sacn_packet *packet, int64_t now_ns)
{
    if (!set->open || set->last_page != packet->last_page || bit_is_set(set->came, packet->page) ||
        now_ns - set->begun_ns >= SACN__SET_NS)
        set_begin(set, packet->last_page, now_ns);
    set_bit(set->came, packet->page);
    set->pages++;
    for (uint32_t i = 0; i < packet->universe_count; i++) {
        uint16_t universe = get16(packet->universes + 2 * i);
        set->count += !bit_is_set(set->universes, universe);
        set_bit(set->universes, universe);
    }
}

void sacn__take_discovery(struct sacn_table *table, const struct sacn_packet *packet, const union sacn_address *from)
{
    struct sacn__announcer *announcer = find(table, packet->cid);
    table->counts.discovery++;
    if (!announcer)
        announcer = admit(table, packet->cid, from);
    if (!announcer) {
        table->counts.turned_away++;
        return;
    }
    struct sacn_announcer *heard = &table->announcers[announcer->index];
    struct sacn__set *set = &announcer->sets[!announcer->shown];
    memcpy(heard->name, packet->name, sizeof heard->name);
    heard->from = *from;
    heard->last_ns = table->now_ns;
    collect(set, packet, table->now_ns);
    if (set->pages == set->last_page + 1u) {
        announcer->shown = !announcer->shown;
        announcer->whole_ns = table->now_ns;
        set->open = false;
        heard->whole = true;
    }
    heard->universe_count = shown(table, announcer)->count;
    sacn__timer_set(&table->timers, &announcer->timer, table->now_ns + SACN__ANNOUNCE_NS);
}

void sacn__announcer_due(struct sacn_table *table, struct sacn__announcer *announcer)
{
    struct sacn_announcer *heard = &table->announcers[announcer->index];
    if (heard->last_ns + SACN__ANNOUNCE_NS <= table->now_ns) {
        forget(table, announcer);
        return;
    }
    if (heard->whole && announcer->whole_ns + SACN__ANNOUNCE_NS <= table->now_ns) {
        heard->whole = false;
        heard->universe_count = shown(table, announcer)->count;
    }
    int64_t due_ns = heard->whole ? announcer->whole_ns : heard->last_ns;
    sacn__timer_set(&table->timers, &announcer->timer, due_ns + SACN__ANNOUNCE_NS);
}

size_t sacn_table_announcers(const struct sacn_table *table, const struct sacn_announcer **announcers)
{
    *announcers = table->announcers;
    return table->announcer_count;
}

bool sacn_table_announces(const struct sacn_table *table, size_t announcer, uint16_t universe)
{
    if (announcer >= table->announcer_count || !sacn__is_universe(universe))
        return false;
    return bit_is_set(shown(table, table->announcer_parts[announcer])->universes, universe);
}
