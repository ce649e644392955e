/* The table of what is heard: making, feeding and reading it. What it decides is said in its header, and done in the files
 * beside this one. */
#include "rigcall/sacn_receive.h"

#include <stdlib.h>
#include <string.h>

#include "sacn_internal.h"
#include "sacn_table.h"

/* Far from the ends of the type, so that no difference or sum of times overflows. */
#define TIME_LIMIT (INT64_MAX / 4)

static uint32_t bounded(uint32_t asked, uint32_t standard, uint32_t most)
{
    return asked == 0 ? standard : asked < most ? asked : most;
}

static struct sacn_table_limits whole_limits(const struct sacn_table_limits *asked)
{
    static const struct sacn_table_limits none = { 0, 0, 0, 0 };
    if (!asked)
        asked = &none;
    return (struct sacn_table_limits){
        .universes = bounded(asked->universes, 8192, SACN_LAST_UNIVERSE),
        .sources = bounded(asked->sources, 16384, 1u << 20),
        .sources_a_universe = bounded(asked->sources_a_universe, 16, 256),
        .announcers = bounded(asked->announcers, 256, 4096),
    };
}

static size_t timer_places(const struct sacn_table_limits *limits)
{
    return (size_t)limits->sources + limits->universes + limits->announcers + 1;
}

/* A newcomer is made before the one that gives way to it is freed, hence one more of each. */
size_t sacn_table_bound(const struct sacn_table_limits *limits)
{
    struct sacn_table_limits most = whole_limits(limits);
    return sizeof(struct sacn_table) + timer_places(&most) * sizeof(struct sacn__timer *) +
           most.universes * sizeof(uint16_t) + (most.universes + 1) * sacn__universe_size(&most) +
           (most.sources + 1) * sizeof(struct sacn__source) + most.universes * sizeof(struct sacn__sync) +
           most.announcers * (sizeof(struct sacn_announcer) + sizeof(struct sacn__announcer) + sizeof(void *));
}

int sacn_table_new(const struct sacn_table_limits *limits, struct sacn_table **out, struct rig_why *why)
{
    struct sacn_table_limits most = whole_limits(limits);
    struct sacn_table *table = calloc(1, sizeof *table);
    *out = NULL;
    if (!table)
        goto none;
    table->limits = most;
    table->now_ns = -TIME_LIMIT;
    table->timers.heap = calloc(timer_places(&most), sizeof *table->timers.heap);
    table->universes = calloc(most.universes, sizeof *table->universes);
    table->announcers = calloc(most.announcers, sizeof *table->announcers);
    table->announcer_parts = calloc(most.announcers, sizeof *table->announcer_parts);
    if (!table->timers.heap || !table->universes || !table->announcers || !table->announcer_parts)
        goto none;
    *out = table;
    return 0;
none:
    sacn_table_free(table);
    return rig_fail(why, RIG_ENOMEM, "no memory for a table of %u universes and %u sources", most.universes, most.sources);
}

void sacn_table_free(struct sacn_table *table)
{
    if (!table)
        return;
    while (table->universe_count > 0)
        sacn__universe_clear(table, table->universe_of[table->universes[table->universe_count - 1]]);
    for (uint32_t i = 0; i < table->announcer_count; i++)
        free(table->announcer_parts[i]);
    free(table->timers.heap);
    free(table->universes);
    free(table->announcers);
    free(table->announcer_parts);
    free(table);
}

static void wake(struct sacn_table *table, struct sacn__timer *timer)
{
    char *at = (char *)timer;
    switch ((enum sacn__due)timer->kind) {
    case SACN__DUE_SYNC:
        sacn__sync_due(table, (struct sacn__sync *)(at - offsetof(struct sacn__sync, timer)));
        break;
    case SACN__DUE_SOURCE:
        sacn__source_due(table, (struct sacn__source *)(at - offsetof(struct sacn__source, timer)));
        break;
    case SACN__DUE_ANNOUNCER:
        sacn__announcer_due(table, (struct sacn__announcer *)(at - offsetof(struct sacn__announcer, timer)));
        break;
    }
}

void sacn_table_advance(struct sacn_table *table, int64_t now_ns)
{
    if (now_ns > TIME_LIMIT)
        now_ns = TIME_LIMIT;
    if (now_ns < table->now_ns)
        now_ns = table->now_ns;
    for (struct sacn__timer *timer; (timer = sacn__timer_pop(&table->timers, now_ns));) {
        table->now_ns = timer->due_ns;
        wake(table, timer);
    }
    table->now_ns = now_ns;
}

enum sacn_verdict sacn_table_take(struct sacn_table *table, int64_t now_ns, const uint8_t *datagram, size_t length,
                                  const union sacn_address *from)
{
    struct sacn_packet packet;
    sacn_table_advance(table, now_ns);
    enum sacn_verdict verdict = sacn_parse(datagram, length, &packet);
    table->counts.taken++;
    if (verdict != SACN_ACCEPT && verdict != SACN_OTHER_START_CODE) {
        table->counts.bad[verdict]++;
        return verdict;
    }
    switch (packet.kind) {
    case SACN_DATA:
        sacn__take_data(table, &packet, from);
        break;
    case SACN_SYNC:
        sacn__take_sync(table, &packet, from);
        break;
    case SACN_DISCOVERY:
        sacn__take_discovery(table, &packet, from);
        break;
    }
    return verdict;
}

/* What a reader is told of synchronisation: of the sources whose levels act or would act. */
static void look_at_sync(const struct sacn__universe *universe, struct sacn_heard *heard)
{
    for (uint32_t i = 0; i < universe->count; i++) {
        const struct sacn__source *source = (const struct sacn__source *)universe->sources[i];
        if (source->heard.state != SACN_LIVE || source->heard.preview || source->heard.priority < universe->priority)
            continue;
        enum sacn_sync_state state = sacn__sync_state(source);
        if (state > heard->sync)
            heard->sync = state;
        heard->held |= source->holds;
    }
}

bool sacn_table_universe(struct sacn_table *table, uint16_t number, struct sacn_heard *heard)
{
    struct sacn__universe *universe = table->universe_of[number];
    memset(heard, 0, sizeof *heard);
    if (!universe)
        return false;
    sacn__refresh(universe);
    heard->universe = number;
    heard->sources = universe->sources;
    heard->source_count = universe->count;
    heard->winners = universe->winners;
    heard->priority = universe->priority;
    heard->turned_away = universe->turned_away;
    heard->levels = universe->levels;
    look_at_sync(universe, heard);
    return true;
}

size_t sacn_table_universes(const struct sacn_table *table, const uint16_t **universes)
{
    *universes = table->universes;
    return table->universe_count;
}

const struct sacn_counts *sacn_table_counts(const struct sacn_table *table)
{
    return &table->counts;
}

const char *sacn_source_state_name(enum sacn_source_state state)
{
    static const char *const names[] = { "live", "ended", "lost" };
    return names[state];
}

const char *sacn_sync_state_name(enum sacn_sync_state state)
{
    static const char *const names[] = { "free", "synced", "lost" };
    return names[state];
}
