/* What the table of what is heard must show, said again in the plainest way: written from the words of rigcall/sacn_receive.h and
 * ANSI E1.31-2018, with none of the table's structures. Every number of a sequence has its fate noted, every measure is worked out
 * from the list of all times, every limit by counting, every universe's levels after every event. Slow. */
#ifndef RIGCALL_TESTS_TABLE_MODEL_H
#define RIGCALL_TESTS_TABLE_MODEL_H

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sacn/table_rig.h"

enum { M_SOURCES = 128, M_UNIVERSES = 16, M_NUMBERS = 1 << 16, M_TIMES = 4096, M_SYNCS = 64, M_SENDERS = 16, M_ANNOUNCERS = 16,
       M_LIST = 64000, M_ORIGIN = 64 };
#define M_LOSS (2500 * MS)
#define M_FORGET (60000 * MS)
#define M_ANNOUNCE (25000 * MS)
#define M_SET (5000 * MS)

enum fate { UNKNOWN, CAME, MISSING };

struct m_source {
    bool used;
    int number, host;                /* who: struct told */
    uint16_t universe;
    char name[SACN_NAME_SIZE];
    int priority, slots;
    uint16_t sync_said, sync_named;  /* named: watched for it */
    bool preview, force, has, waits;
    enum sacn_source_state state;
    int64_t first, last, ended;
    uint64_t end_order;
    uint64_t packets, others, missing_before, late, repeated, restarts, losses;
    uint32_t names, hosts, priorities;
    uint8_t at;                      /* the number last accepted, and where it stands in `fates` */
    int place;
    uint8_t *fates;
    int64_t *times; int time_count;  /* of levels; a life begins where `begins` says so */
    bool *begins;
    bool begin_next;
    uint8_t act[SACN_SLOTS], wait[SACN_SLOTS];
};

struct m_sender { bool used; int number, host; int64_t last; uint8_t at; };
struct m_sync { bool used, ever, lost; uint16_t address; int64_t last; struct m_sender senders[M_SENDERS]; };
struct m_universe { bool used; uint16_t number; int owner; uint64_t turned_away; uint64_t idle_order; uint8_t levels[SACN_SLOTS]; };

struct m_set { bool open; int last_page; bool came[256]; int64_t begun; bool *list; };
struct m_announcer {
    bool used, whole;
    int number, host;
    char name[SACN_NAME_SIZE];
    int64_t last, whole_at;
    struct m_set full, next;
};

struct model {
    struct sacn_table_limits limits;
    int64_t now;
    uint64_t order, data, sync, discovery, others, turned_away;
    struct m_source sources[M_SOURCES];
    struct m_universe universes[M_UNIVERSES];
    struct m_sync syncs[M_SYNCS];
    struct m_announcer announcers[M_ANNOUNCERS];
};

static inline uint32_t m_half(uint32_t limit) { return limit / 2 > 0 ? limit / 2 : 1; }

static inline struct m_universe *m_universe(struct model *m, uint16_t number)
{
    for (int i = 0; i < M_UNIVERSES; i++)
        if (m->universes[i].used && m->universes[i].number == number)
            return &m->universes[i];
    return NULL;
}

static inline struct m_source *m_source(struct model *m, uint16_t universe, int number)
{
    for (int i = 0; i < M_SOURCES; i++)
        if (m->sources[i].used && m->sources[i].universe == universe && m->sources[i].number == number)
            return &m->sources[i];
    return NULL;
}

static inline int m_count(const struct model *m, int universe, int host, bool living_only)
{
    int count = 0;
    for (int i = 0; i < M_SOURCES; i++) {
        const struct m_source *s = &m->sources[i];
        count += s->used && (universe < 0 || s->universe == universe) && (host < 0 || s->host == host) &&
                 (!living_only || s->state == SACN_LIVE);
    }
    return count;
}

/* ---- what a universe shows ---- */

static inline bool m_contends(const struct m_source *s) { return s->used && s->state == SACN_LIVE && !s->preview && s->has; }

static inline int m_best(const struct model *m, uint16_t universe)
{
    int best = -1;
    for (int i = 0; i < M_SOURCES; i++)
        if (m->sources[i].universe == universe && m_contends(&m->sources[i]) && m->sources[i].priority > best)
            best = m->sources[i].priority;
    return best;
}

static inline bool m_wins(const struct model *m, const struct m_source *s)
{
    return m_contends(s) && s->priority == m_best(m, s->universe);
}

static inline void m_show(struct model *m)
{
    for (int u = 0; u < M_UNIVERSES; u++) {
        struct m_universe *universe = &m->universes[u];
        int best = universe->used ? m_best(m, universe->number) : -1;
        if (best < 0)
            continue;                /* the last look stays */
        memset(universe->levels, 0, SACN_SLOTS);
        for (int i = 0; i < M_SOURCES; i++) {
            const struct m_source *s = &m->sources[i];
            if (s->universe != universe->number || !m_contends(s) || s->priority != best)
                continue;
            for (int slot = 0; slot < SACN_SLOTS; slot++)
                universe->levels[slot] = s->act[slot] > universe->levels[slot] ? s->act[slot] : universe->levels[slot];
        }
    }
}

/* ---- synchronisation ---- */

static inline struct m_sync *m_sync(struct model *m, uint16_t address)
{
    for (int i = 0; address != 0 && i < M_SYNCS; i++)
        if (m->syncs[i].used && m->syncs[i].address == address)
            return &m->syncs[i];
    return NULL;
}

static inline void m_unwatch(struct model *m)
{
    for (int k = 0; k < M_SYNCS; k++) {
        bool named = false;
        for (int i = 0; i < M_SOURCES; i++)
            named |= m->sources[i].used && m->sources[i].sync_named == m->syncs[k].address;
        if (!named)
            m->syncs[k].used = false;
    }
}

static inline void m_name(struct model *m, struct m_source *s, uint16_t address)
{
    uint32_t watched = 0;
    if (s->sync_named != address)
        s->waits = false;
    for (int k = 0; k < M_SYNCS; k++)
        watched += m->syncs[k].used;
    if (address != 0 && !m_sync(m, address)) {
        if (watched >= m->limits.universes) {
            address = 0;             /* before the old one is let go */
        } else {
            int k = 0;
            while (m->syncs[k].used)
                k++;
            m->syncs[k] = (struct m_sync){ .used = true, .address = address };
        }
    }
    s->sync_named = address;
    m_unwatch(m);
}

static inline void m_release(struct model *m, uint16_t address, bool all)
{
    for (int i = 0; i < M_SOURCES; i++) {
        struct m_source *s = &m->sources[i];
        if (!s->used || s->sync_named != address || !s->waits || !(all || s->force))
            continue;
        memcpy(s->act, s->wait, SACN_SLOTS);
        s->has = true;
        s->waits = false;
    }
}

/* ---- ends ---- */

static inline void m_end(struct model *m, struct m_source *s, enum sacn_source_state state)
{
    if (s->state == state)
        return;
    bool was_live = s->state == SACN_LIVE;
    s->state = state;
    s->has = s->waits = false;
    s->ended = m->now;
    s->end_order = ++m->order;
    struct m_universe *universe = m_universe(m, s->universe);
    if (was_live && m_count(m, s->universe, -1, true) == 0)
        universe->idle_order = ++m->order;
}

static inline void m_forget(struct model *m, struct m_source *s)
{
    uint16_t universe = s->universe;
    free(s->fates);
    free(s->times);
    free(s->begins);
    *s = (struct m_source){ .used = false };
    m_unwatch(m);
    if (m_count(m, universe, -1, false) == 0)
        m_universe(m, universe)->used = false;
}

static inline void m_forget_announcer(struct m_announcer *a)
{
    free(a->full.list);
    free(a->next.list);
    *a = (struct m_announcer){ .used = false };
}

/* ---- time: the earliest of everything that is due, again and again ---- */

static inline int64_t m_source_due(const struct m_source *s)
{
    return s->state == SACN_LIVE ? s->last + M_LOSS : s->ended + M_FORGET;
}

/* The order of the same moment: synchronisation by address, sources by universe and CID, announcers. */
static inline bool m_step(struct model *m, int64_t now)
{
    int64_t least = INT64_MAX;
    struct m_sync *sync = NULL;
    struct m_source *source = NULL;
    struct m_announcer *announcer = NULL;
    for (int k = 0; k < M_SYNCS; k++) {
        struct m_sync *y = &m->syncs[k];
        int64_t due = y->last + M_LOSS;
        if (y->used && y->ever && !y->lost && (due < least || (due == least && y->address < sync->address)))
            sync = y, least = due;
    }
    for (int i = 0; i < M_SOURCES; i++) {
        struct m_source *s = &m->sources[i];
        if (!s->used || m_source_due(s) > least || (m_source_due(s) == least && sync && !source))
            continue;
        if (m_source_due(s) < least || s->universe < source->universe ||
            (s->universe == source->universe && s->number < source->number))
            source = s, least = m_source_due(s);
    }
    for (int i = 0; i < M_ANNOUNCERS; i++) {
        struct m_announcer *a = &m->announcers[i];
        int64_t due = a->whole && a->whole_at < a->last ? a->whole_at + M_ANNOUNCE : a->last + M_ANNOUNCE;
        if (a->used && due < least)
            announcer = a, source = NULL, sync = NULL, least = due;
    }
    if (least > now || (!sync && !source && !announcer))
        return false;
    m->now = least;
    if (announcer) {
        if (announcer->last + M_ANNOUNCE <= least)
            m_forget_announcer(announcer);
        else
            announcer->whole = false;
    } else if (source && !(sync && sync->last + M_LOSS == least)) {
        if (source->state == SACN_LIVE)
            m_end(m, source, SACN_LOST);
        else
            m_forget(m, source);
    } else {
        sync->lost = true;
        m_release(m, sync->address, false);
    }
    m_show(m);
    return true;
}

static inline void m_advance(struct model *m, int64_t now)
{
    if (now < m->now)
        now = m->now;
    while (m_step(m, now))
        ;
    m->now = now;
}

/* ---- places ---- */

static inline int m_rank(const struct m_source *s) { return s->has || s->waits ? s->priority : -1; }

static inline struct m_source *m_weakest(struct model *m, uint16_t universe, int rank, int host)
{
    struct m_source *found = NULL;
    for (int i = 0; i < M_SOURCES; i++) {
        struct m_source *s = &m->sources[i];
        if (!s->used || s->universe != universe || s->state != SACN_LIVE || m_rank(s) >= rank || (host >= 0 && s->host != host))
            continue;
        if (!found || m_rank(s) < m_rank(found) ||
            (m_rank(s) == m_rank(found) && (s->first > found->first || (s->first == found->first && s->number > found->number))))
            found = s;
    }
    return found;
}

static inline struct m_source *m_first_end(struct model *m, int universe)
{
    struct m_source *found = NULL;
    for (int i = 0; i < M_SOURCES; i++) {
        struct m_source *s = &m->sources[i];
        if (s->used && s->state != SACN_LIVE && (universe < 0 || s->universe == universe) &&
            (!found || s->end_order < found->end_order))
            found = s;
    }
    return found;
}

static inline struct m_universe *m_longest_idle(struct model *m)
{
    struct m_universe *found = NULL;
    for (int u = 0; u < M_UNIVERSES; u++) {
        struct m_universe *universe = &m->universes[u];
        if (universe->used && m_count(m, universe->number, -1, true) == 0 && (!found || universe->idle_order < found->idle_order))
            found = universe;
    }
    return found;
}

static inline struct m_source *m_new_source(struct model *m, const struct told *told, int priority)
{
    int i = 0;
    while (m->sources[i].used)
        i++;
    struct m_source *s = &m->sources[i];
    *s = (struct m_source){
        .used = true, .number = told->source, .universe = told->universe, .priority = priority, .first = m->now
    };
    s->fates = calloc(M_NUMBERS, 1);
    s->times = calloc(M_TIMES, sizeof *s->times);
    s->begins = calloc(M_TIMES, sizeof *s->begins);
    if (!s->fates || !s->times || !s->begins)
        abort();
    s->begin_next = true;
    snprintf(s->name, sizeof s->name, "%s", told->name);
    return s;
}

/* A place among the living, for a new source or one that ended. @return NULL: turned away */
static inline struct m_source *m_admit(struct model *m, struct m_source *ended, const struct told *told, int priority)
{
    int host = told->host, universes_of_host = 0, universe_count = 0;
    int rank = told->start_code == 0 && !told->preview ? priority : -1;
    struct m_universe *universe = m_universe(m, told->universe), *idle = NULL;
    struct m_source *victim = NULL;
    for (int u = 0; u < M_UNIVERSES; u++) {
        bool living = m->universes[u].used && m_count(m, m->universes[u].number, -1, true) > 0;
        universe_count += m->universes[u].used;
        universes_of_host += living && m->universes[u].owner == host;
    }
    int here = m_count(m, told->universe, -1, false), living_here = m_count(m, told->universe, -1, true);
    if (living_here == 0 && universes_of_host >= (int)m_half(m->limits.universes))
        goto away;
    if (!universe && universe_count >= (int)m->limits.universes && !(idle = m_longest_idle(m)))
        goto away;
    if (m_count(m, told->universe, host, true) >= (int)m_half(m->limits.sources_a_universe) ||
        m_count(m, -1, host, true) >= (int)m_half(m->limits.sources)) {
        victim = m_weakest(m, told->universe, rank, host);
        if (!victim)
            goto away;
    }
    if (!ended && !victim && !idle) {
        bool full_here = here >= (int)m->limits.sources_a_universe;
        if (full_here || m_count(m, -1, -1, false) >= (int)m->limits.sources) {
            victim = m_first_end(m, full_here ? told->universe : -1);
            if (!victim)
                victim = m_weakest(m, told->universe, rank, -1);
            if (!victim)
                goto away;
        }
    }
    if (idle)
        for (int i = 0, number = idle->number; i < M_SOURCES; i++)
            if (m->sources[i].used && m->sources[i].universe == number)
                m_forget(m, &m->sources[i]);
    if (!universe) {
        int u = 0;
        while (m->universes[u].used)
            u++;
        universe = &m->universes[u];
        *universe = (struct m_universe){ .used = true, .number = told->universe };
    }
    if (living_here == 0)
        universe->owner = host;
    struct m_source *s = ended ? ended : m_new_source(m, told, priority);
    s->host = host;
    s->state = SACN_LIVE;
    if (victim)
        m_forget(m, victim);
    return s;
away:
    m->turned_away++;
    if (universe)
        universe->turned_away++;
    return NULL;
}

/* ---- packets ---- */

static inline uint64_t m_missing(const struct m_source *s)
{
    uint64_t count = s->missing_before;
    for (int n = 0; n <= s->place; n++)
        count += s->fates[n] == MISSING;
    return count;
}

static inline void m_begin_numbers(struct m_source *s, uint8_t number)
{
    s->missing_before = m_missing(s);
    memset(s->fates, UNKNOWN, M_NUMBERS);
    s->at = number;
    s->place = M_ORIGIN;
    s->fates[s->place] = CAME;
}

/* @return whether the number is accepted */
static inline bool m_number(struct m_source *s, uint8_t number)
{
    int d = number - s->at;          /* as a signed 8 bit value */
    d = d > 127 ? d - 256 : d < -128 ? d + 256 : d;
    if (d > -20 && d <= 0) {
        if (s->fates[s->place + d] == CAME) {
            s->repeated++;
        } else {
            s->late++;
            s->fates[s->place + d] = CAME;
        }
        return false;
    }
    if (d < 0) {
        s->restarts++;
        m_begin_numbers(s, number);
        return true;
    }
    for (int n = 1; n < d; n++)
        s->fates[s->place + n] = MISSING;
    s->place += d;
    if (s->place >= M_NUMBERS - 256)
        abort();                     /* the test asks for more than the model holds */
    s->at = number;
    s->fates[s->place] = CAME;
    return true;
}

static inline void m_levels(struct model *m, struct m_source *s, const struct told *told, int priority)
{
    s->priorities += s->priority != priority;
    s->priority = priority;
    s->preview = told->preview;
    s->force = told->force_sync;
    s->sync_said = told->sync;
    s->slots = told->slots == 0 ? SACN_SLOTS : told->slots < 0 ? 0 : told->slots;
    if (s->time_count >= M_TIMES)
        abort();
    s->begins[s->time_count] = s->begin_next;
    s->times[s->time_count++] = m->now;
    s->begin_next = false;
    if (told->preview)
        s->has = s->waits = false;
    m_name(m, s, told->sync);
    if (told->preview)
        return;
    struct m_sync *sync = m_sync(m, s->sync_named);
    bool hold = sync && sync->ever && (!sync->lost || !told->force_sync);
    uint8_t *levels = hold ? s->wait : s->act;
    memset(levels, 0, SACN_SLOTS);
    memset(levels, told->level, (size_t)s->slots);
    s->waits = hold;
    s->has |= !hold;
}

/* told: universe, priority, name and host are all said. */
static inline void m_data(struct model *m, const struct told *told)
{
    int priority = told->priority < 0 ? 0 : told->priority;
    struct m_source *s = m_source(m, told->universe, told->source);
    m->data++;
    m->others += told->start_code != 0;
    if (!s) {
        if (told->terminated || !(s = m_admit(m, NULL, told, priority)))
            return;
        m_begin_numbers(s, told->sequence);
    } else {
        if (s->state != SACN_LIVE && m->now - s->last >= M_LOSS)
            m_begin_numbers(s, told->sequence);
        else if (!m_number(s, told->sequence))
            return;
        int host = s->host;
        enum sacn_source_state state = s->state;
        if (!told->terminated && state != SACN_LIVE) {
            if (!m_admit(m, s, told, priority))
                return;
            s->losses += state == SACN_LOST;
            s->begin_next = true;
        }
        s->hosts += host != told->host;
        s->host = told->host;
        s->names += strcmp(s->name, told->name) != 0;
        snprintf(s->name, sizeof s->name, "%s", told->name);
    }
    s->last = m->now;
    if (told->start_code == 0)
        s->packets++;
    else
        s->others++;
    if (told->terminated)
        m_end(m, s, SACN_TERMINATED);
    else if (told->start_code == 0)
        m_levels(m, s, told, priority);
}

static inline void m_sync_packet(struct model *m, int number, int host, uint16_t address, uint8_t sequence)
{
    struct m_sync *sync = m_sync(m, address);
    struct m_sender *own = NULL, *unused = NULL;
    int active = 0, active_of_host = 0;
    m->sync++;
    if (!sync)
        return;
    for (int i = 0; i < M_SENDERS; i++) {
        struct m_sender *sender = &sync->senders[i];
        if (sender->used && m->now - sender->last >= M_LOSS)
            sender->used = false;    /* whoever was silent begins anew */
        if (!sender->used)
            unused = sender;
        else if (sender->number == number)
            own = sender;
        active += sender->used;
        active_of_host += sender->used && sender->host == host;
    }
    if (own && !sacn_sequence_accepted(own->at, sequence))
        return;
    if (!own && (active >= 4 || active_of_host >= 2)) {
        m->turned_away++;
        return;
    }
    *(own ? own : unused) = (struct m_sender){ .used = true, .number = number, .host = host, .last = m->now, .at = sequence };
    sync->ever = true;
    sync->lost = false;
    sync->last = m->now;
    m_release(m, address, true);
}

static inline int m_list_count(const struct m_set *set)
{
    int count = 0;
    for (int n = 0; set->list && n < M_LIST; n++)
        count += set->list[n];
    return count;
}

static inline void m_discovery(struct model *m, int number, int host, const char *name, const uint16_t *universes, size_t count,
                               size_t page)
{
    struct m_announcer *a = NULL;
    uint32_t known = 0, of_host = 0;
    int last_page = count == 0 ? 0 : (int)((count - 1) / 512);
    m->discovery++;
    for (int i = 0; i < M_ANNOUNCERS; i++) {
        known += m->announcers[i].used;
        of_host += m->announcers[i].used && m->announcers[i].host == host;
        if (m->announcers[i].used && m->announcers[i].number == number)
            a = &m->announcers[i];
    }
    if (!a) {
        if (known >= m->limits.announcers || of_host >= m_half(m->limits.announcers)) {
            m->turned_away++;
            return;
        }
        for (int i = 0; i < M_ANNOUNCERS && !a; i++)
            a = m->announcers[i].used ? NULL : &m->announcers[i];
        *a = (struct m_announcer){ .used = true, .number = number };
        a->full.list = calloc(M_LIST, sizeof(bool));
        a->next.list = calloc(M_LIST, sizeof(bool));
        if (!a->full.list || !a->next.list)
            abort();
    }
    a->host = host;
    a->last = m->now;
    snprintf(a->name, sizeof a->name, "%s", name);
    struct m_set *next = &a->next;
    if (!next->open || next->last_page != last_page || next->came[page] || m->now - next->begun >= M_SET) {
        bool *list = next->list;
        memset(list, 0, M_LIST * sizeof *list);
        *next = (struct m_set){ .open = true, .last_page = last_page, .begun = m->now, .list = list };
    }
    next->came[page] = true;
    for (size_t i = page * 512; i < count && i < page * 512 + 512; i++)
        next->list[universes[i]] = true;
    for (int p = 0; p <= last_page; p++)
        if (!next->came[p])
            return;
    memcpy(a->full.list, next->list, M_LIST * sizeof(bool));
    next->open = false;
    a->whole = true;
    a->whole_at = m->now;
}

/* ---- measures, from all the times ---- */

static inline void m_measure(const struct m_source *s, double *rate, double *jitter, double *gap)
{
    double mean = 0;
    int intervals = 0, window = 0;
    *rate = *jitter = *gap = 0;
    for (int i = 0; i < s->time_count; i++) {
        if (s->begins[i]) {
            intervals = 0;
            window = i;
            *rate = 0;
            continue;
        }
        double interval = (double)(s->times[i] - s->times[i - 1]) / 1e6;
        *gap = interval > *gap ? interval : *gap;
        if (intervals++ == 0) {
            mean = interval;
        } else {
            *jitter = *jitter * 15 / 16 + fabs(interval - mean) / 16;
            mean = mean * 15 / 16 + interval / 16;
        }
        if (s->times[i] - s->times[window] >= 1000 * MS) {
            *rate = (i - window) / ((double)(s->times[i] - s->times[window]) / 1e9);
            window = i;
        }
    }
    if (s->state != SACN_LIVE || s->begin_next)
        *rate = 0;
}

static inline void m_free(struct model *m)
{
    for (int i = 0; i < M_SOURCES; i++)
        if (m->sources[i].used)
            m_forget(m, &m->sources[i]);
    for (int i = 0; i < M_ANNOUNCERS; i++)
        m_forget_announcer(&m->announcers[i]);
}

#endif
