/* Who gets a place in the table (E1.31 6.2.3.5: what is done when there are more sources than places). */
#include <stdlib.h>
#include <string.h>

#include "sacn_internal.h"
#include "sacn_table.h"

/* ---- hosts ---- */

bool sacn__same_host(const union sacn_address *a, const union sacn_address *b)
{
    if (a->any.sa_family != b->any.sa_family)
        return false;
    if (a->any.sa_family == AF_INET)
        return a->v4.sin_addr.s_addr == b->v4.sin_addr.s_addr;
    return a->any.sa_family != AF_INET6 || (a->v6.sin6_scope_id == b->v6.sin6_scope_id &&
                                            memcmp(&a->v6.sin6_addr, &b->v6.sin6_addr, sizeof a->v6.sin6_addr) == 0);
}

/* FNV-1a, folded. Whoever finds another host's hash shares its half of the places with it, no more. */
uint16_t sacn__host(const union sacn_address *address)
{
    uint8_t octets[20] = { 0 };
    if (address->any.sa_family == AF_INET)
        memcpy(octets, &address->v4.sin_addr, 4);
    else if (address->any.sa_family == AF_INET6) {
        memcpy(octets, &address->v6.sin6_addr, 16);
        put32(octets + 16, address->v6.sin6_scope_id);
    }
    uint32_t hash = 2166136261u;
    for (size_t i = 0; i < sizeof octets; i++)
        hash = (hash ^ octets[i]) * 16777619u;
    return (uint16_t)((hash ^ hash >> 12 ^ hash >> 24) % SACN__HOSTS);
}

/* ---- who gives way ---- */

/* What a source counts for: its priority if it has levels to win with, else less than any. */
static int rank_of(const struct sacn__source *source)
{
    return source->has_levels || source->holds ? source->heard.priority : -1;
}

static bool gives_way_before(const struct sacn__source *a, const struct sacn__source *b)
{
    if (rank_of(a) != rank_of(b))
        return rank_of(a) < rank_of(b);
    if (a->heard.first_ns != b->heard.first_ns)
        return a->heard.first_ns > b->heard.first_ns;
    return memcmp(a->heard.cid, b->heard.cid, 16) > 0;
}

/* A living source that gives way to one of that rank. @param host  only of this one; NULL: of any */
static struct sacn__source *weakest(const struct sacn__universe *universe, int rank, const union sacn_address *host)
{
    struct sacn__source *found = NULL;
    for (uint32_t i = 0; universe && i < universe->count; i++) {
        struct sacn__source *source = (struct sacn__source *)universe->sources[i];
        if (source->heard.state != SACN_LIVE || rank_of(source) >= rank ||
            (host && !sacn__same_host(&source->heard.from, host)))
            continue;
        if (!found || gives_way_before(source, found))
            found = source;
    }
    return found;
}

static struct sacn__source *ended_of(const struct sacn__universe *universe)
{
    struct sacn__source *found = NULL;
    for (uint32_t i = 0; i < universe->count; i++) {
        struct sacn__source *source = (struct sacn__source *)universe->sources[i];
        if (source->heard.state != SACN_LIVE && (!found || source->ended_turn < found->ended_turn))
            found = source;
    }
    return found;
}

static uint32_t living_of(const struct sacn__universe *universe, const union sacn_address *host)
{
    uint32_t count = 0;
    for (uint32_t i = 0; universe && i < universe->count; i++)
        count += universe->sources[i]->state == SACN_LIVE && sacn__same_host(&universe->sources[i]->from, host);
    return count;
}

/* ---- a place ---- */

struct request {
    struct sacn_table *table;
    struct sacn__universe *universe;          /* NULL: not there yet */
    bool has_record;                          /* it ended and comes back */
    int rank;
    uint16_t host;
    const union sacn_address *from;
    struct sacn__source *victim;              /* gives way */
    struct sacn__universe *idle;              /* gives way with all its ended sources */
};

static bool find_universe_place(struct request *request)
{
    struct sacn_table *table = request->table;
    const struct sacn__universe *universe = request->universe;
    if ((!universe || universe->live == 0) && table->host_universes[request->host] >= sacn__half(table->limits.universes))
        return false;
    if (universe || table->universe_count < table->limits.universes)
        return true;
    request->idle = table->idle_first;
    return request->idle != NULL;
}

/* Half of the places of a universe, and of all, are the most that a host gets: beyond them it pushes out only its own. */
static bool find_host_place(struct request *request)
{
    struct sacn_table *table = request->table;
    if (living_of(request->universe, request->from) < sacn__half(table->limits.sources_a_universe) &&
        table->host_sources[request->host] < sacn__half(table->limits.sources))
        return true;
    request->victim = weakest(request->universe, request->rank, request->from);
    return request->victim != NULL;
}

static bool find_record(struct request *request)
{
    struct sacn_table *table = request->table;
    const struct sacn__universe *universe = request->universe;
    if (request->has_record || request->victim || request->idle)
        return true;
    if (universe && universe->count >= table->limits.sources_a_universe)
        request->victim = ended_of(universe);
    else if (table->source_count >= table->limits.sources)
        request->victim = table->ended_first;
    else
        return true;
    if (!request->victim)
        request->victim = weakest(universe, request->rank, NULL);
    return request->victim != NULL;
}

static struct sacn__source *make(struct request *request, const struct sacn_packet *packet)
{
    struct sacn_table *table = request->table;
    struct sacn__source *source = calloc(1, sizeof *source);
    struct sacn__universe *universe = request->universe;
    if (!universe)
        universe = sacn__universe_alloc(&table->limits, packet->universe);
    if (!source || !universe) {
        free(source);
        if (!request->universe)
            free(universe);
        return NULL;
    }
    if (request->idle)
        sacn__universe_clear(table, request->idle);
    if (!request->universe)
        sacn__universe_insert(table, universe);
    memcpy(source->heard.cid, packet->cid, 16);
    memcpy(source->heard.name, packet->name, sizeof source->heard.name);
    source->heard.priority = packet->priority;
    source->heard.first_ns = table->now_ns;
    source->universe = universe;
    source->timer.kind = SACN__DUE_SOURCE;
    source->timer.tie = (uint64_t)packet->universe << 48 | (uint64_t)get32(packet->cid) << 16 | get16(packet->cid + 4);
    sacn__source_insert(universe, source);
    table->source_count++;
    return source;
}

static struct sacn__source *place(struct request *request, struct sacn__source *source, const struct sacn_packet *packet)
{
    if (!find_universe_place(request) || !find_host_place(request) || !find_record(request))
        return NULL;
    if (!source)
        source = make(request, packet);
    if (!source)
        return NULL;
    source->heard.from = *request->from;
    source->host = request->host;
    source->heard.state = SACN_LIVE;
    sacn__living(request->table, source, true);
    if (request->victim)                      /* last, so that the universe is never without a source */
        sacn__source_delete(request->table, request->victim);
    return source;
}

struct sacn__source *sacn__admit(struct sacn_table *table, struct sacn__source *source, const struct sacn_packet *packet,
                                 const union sacn_address *from)
{
    struct request request = {
        .table = table, .universe = table->universe_of[packet->universe], .has_record = source != NULL,
        .rank = packet->start_code == 0 && !packet->preview ? packet->priority : -1,
        .host = sacn__host(from), .from = from
    };
    struct sacn__source *placed = place(&request, source, packet);
    if (placed)
        return placed;
    table->counts.turned_away++;
    if (request.universe)
        request.universe->turned_away++;
    return NULL;
}
