/* Random events of several sources, through the table and through a model of its rules (table_model.h): everything that a reader
 * can see must be the same. Losses, reordering, repeats, restarts, terminations, synchronisation, discovery, floods, and times
 * that fall exactly on a time-out, one nanosecond before it and after it.
 *   test_sacn_table_model [runs]     (42 runs of 1,500 events unless said otherwise) */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "sacn/table_model.h"

enum { STREAM_SOURCES = 9, STREAM_UNIVERSES = 4, EVENTS = 1500 };

static unsigned runs = 42;
static uint64_t random_state;
static unsigned below(unsigned limit)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)((random_state >> 33) % limit);
}
static bool once_in(unsigned times) { return below(times) == 0; }

static const char *const names[] = { "stage left", "stage right", "r\xc3\xa9gie" };
static const int priorities[] = { 100, 100, 100, 90, 110, 200, -1 };
static const uint16_t addresses[] = { 0, 0, 5, 6, 1, 2 };

struct stream { uint8_t sequence; int priority, name; uint16_t sync; bool preview, force; };

struct run {
    struct model *model;
    struct sacn_table *table;
    struct stream streams[STREAM_SOURCES + 1][STREAM_UNIVERSES + 1];
    int hosts[STREAM_SOURCES + 1];
    uint8_t sync_sequences[STREAM_SOURCES + 1];
    unsigned seed, event;
};

/* ---- all that a reader can see ---- */

static void differ(const struct run *run, const char *what, double table, double model)
{
    fail_msg("run %u, event %u: %s: the table says %.9f, the model %.9f", run->seed, run->event, what, table, model);
}
#define SAME(what, a, b) do { if ((a) != (b)) differ(run, what, (double)(a), (double)(b)); } while (0)

static void compare_source(const struct run *run, const struct sacn_heard_source *heard, const struct m_source *s)
{
    union sacn_address from = host_address(s->host);
    struct sacn_source who = source_of(s->number, s->name);
    double rate, jitter, gap;
    assert_memory_equal(heard->cid, who.cid, 16);
    SAME("name", strcmp(heard->name, s->name), 0);
    SAME("address", sacn_address_equal(&heard->from, &from), true);
    SAME("priority", heard->priority, s->priority);
    SAME("sync_address", heard->sync_address, s->sync_said);
    SAME("slot_count", heard->slot_count, s->slots);
    SAME("preview", heard->preview, s->preview);
    SAME("force_sync", heard->force_sync, s->force);
    SAME("state", heard->state, s->state);
    SAME("wins", heard->wins, m_wins(run->model, s));
    SAME("first_ns", heard->first_ns, s->first);
    SAME("last_ns", heard->last_ns, s->last);
    SAME("packets", heard->packets, s->packets);
    SAME("other_start_codes", heard->other_start_codes, s->others);
    SAME("missing", heard->missing, m_missing(s));
    SAME("late", heard->late, s->late);
    SAME("repeated", heard->repeated, s->repeated);
    SAME("restarts", heard->restarts, s->restarts);
    SAME("losses", heard->losses, s->losses);
    SAME("name_changes", heard->name_changes, s->names);
    SAME("address_changes", heard->address_changes, s->hosts);
    SAME("priority_changes", heard->priority_changes, s->priorities);
    m_measure(s, &rate, &jitter, &gap);
    if (fabs(heard->rate_hz - rate) > 1e-6 * rate || fabs(heard->jitter_ms - jitter) > 1e-6 * (1 + jitter) || heard->gap_ms != gap)
        differ(run, "rate, jitter or gap", heard->rate_hz + heard->jitter_ms + heard->gap_ms, rate + jitter + gap);
}

/* The order of reading: is `a` not below `b`? */
static bool in_order(const struct sacn_heard_source *a, const struct sacn_heard_source *b)
{
    return a->priority > b->priority || (a->priority == b->priority && memcmp(a->cid, b->cid, 16) < 0);
}

static void compare_universe(const struct run *run, const struct m_universe *universe)
{
    struct model *m = run->model;
    struct sacn_heard heard;
    int winners = 0, best = m_best(m, universe->number), sync = SACN_FREE;
    bool held = false;
    SAME("known", sacn_table_universe(run->table, universe->number, &heard), true);
    SAME("sources", (int)heard.source_count, m_count(m, universe->number, -1, false));
    for (int i = 0; i < M_SOURCES; i++) {
        const struct m_source *s = &m->sources[i];
        if (!s->used || s->universe != universe->number)
            continue;
        const struct sacn_heard_source *same = source_in(&heard, s->number);
        if (!same)
            differ(run, "a source is not known", 0, s->number);
        compare_source(run, same, s);
        winners += m_wins(m, s);
        if (s->state != SACN_LIVE || s->preview || s->priority < best)
            continue;
        const struct m_sync *address = m_sync(m, s->sync_named);
        int state = !address || !address->ever ? SACN_FREE : address->lost ? SACN_SYNC_LOST : SACN_SYNCED;
        sync = state > sync ? state : sync;
        held |= s->waits;
    }
    for (uint32_t i = 1; i < heard.source_count; i++)
        SAME("order", in_order(heard.sources[i - 1], heard.sources[i]), true);
    SAME("winners", (int)heard.winners, winners);
    SAME("priority of the winners", heard.priority, best < 0 ? 0 : best);
    SAME("sync", (int)heard.sync, sync);
    SAME("held", heard.held, held);
    SAME("turned_away", heard.turned_away, universe->turned_away);
    if (memcmp(heard.levels, universe->levels, SACN_SLOTS) != 0)
        for (int slot = 0; slot < SACN_SLOTS; slot++)
            SAME("level", heard.levels[slot], universe->levels[slot]);
}

static void compare_announcers(const struct run *run)
{
    const struct sacn_announcer *announcers;
    size_t count = sacn_table_announcers(run->table, &announcers), known = 0;
    for (int i = 0; i < M_ANNOUNCERS; i++) {
        const struct m_announcer *a = &run->model->announcers[i];
        size_t at = 0;
        if (!a->used)
            continue;
        known++;
        while (at < count && memcmp(announcers[at].cid, source_of(a->number, NULL).cid, 16) != 0)
            at++;
        if (at == count)
            differ(run, "an announcer is not known", 0, a->number);
        const struct m_set *set = a->whole ? &a->full : &a->next;
        union sacn_address from = host_address(a->host);
        SAME("announcer's address", sacn_address_equal(&announcers[at].from, &from), true);
        SAME("announcer's name", strcmp(announcers[at].name, a->name), 0);
        SAME("announcer's last_ns", announcers[at].last_ns, a->last);
        SAME("whole", announcers[at].whole, a->whole);
        SAME("universe_count", (int)announcers[at].universe_count, m_list_count(set));
        for (int n = 0; n < M_LIST; n += 1 + n / 1600)
            SAME("announces", sacn_table_announces(run->table, at, (uint16_t)n), set->list[n]);
    }
    SAME("announcers", count, known);
}

static void compare(const struct run *run, bool announcers)
{
    const uint16_t *universes;
    const struct sacn_counts *counts = sacn_table_counts(run->table);
    const struct model *m = run->model;
    size_t count = sacn_table_universes(run->table, &universes), known = 0;
    for (int u = 0; u < M_UNIVERSES; u++) {
        if (!m->universes[u].used)
            continue;
        known++;
        compare_universe(run, &m->universes[u]);
    }
    SAME("universes", count, known);
    for (size_t i = 1; i < count; i++)
        SAME("order of universes", universes[i - 1] < universes[i], true);
    SAME("data", counts->data, m->data);
    SAME("sync packets", counts->sync, m->sync);
    SAME("discovery packets", counts->discovery, m->discovery);
    SAME("taken", counts->taken, m->data + m->sync + m->discovery);
    SAME("other START codes", counts->other_start_codes, m->others);
    SAME("turned away", counts->turned_away, m->turned_away);
    if (announcers)
        compare_announcers(run);
}

/* ---- events ---- */

static int64_t next_time(const struct run *run)
{
    const struct model *m = run->model;
    static const int64_t ms[] = { 2500, 5000, 25000, 60000, 62500 };
    unsigned way = below(100);
    if (way < 30)
        return m->now;
    if (way < 75)
        return m->now + below(30) * MS + below(1000000);
    if (way < 86)
        return m->now + (100 + below(900)) * MS;
    if (way < 87)
        return m->now + ms[below(5)] * MS + below(3) - 1;
    if (way < 88)
        return m->now - below(5000) * MS;
    const struct m_source *s = &m->sources[below(M_SOURCES)];
    const struct m_sync *sync = &m->syncs[below(8)];
    if (s->used && m_source_due(s) - m->now < (once_in(8) ? 100000 : 3000) * MS)
        return m_source_due(s) + below(3) - 1;
    return sync->used && sync->ever && !sync->lost ? sync->last + M_LOSS + below(3) - 1 : m->now + MS;
}

static uint8_t next_number(uint8_t number)
{
    unsigned way = below(100);
    if (way < 76)
        return (uint8_t)(number + 1);
    if (way < 82)
        return number;
    if (way < 88)
        return (uint8_t)(number + 2 + below(5));
    if (way < 95)
        return (uint8_t)(number - 1 - below(21));
    if (way < 97)
        return (uint8_t)(number + below(128));
    return (uint8_t)below(256);
}

static void send_data(struct run *run, int64_t now)
{
    int source = 1 + (int)below(STREAM_SOURCES), universe = 1 + (int)below(STREAM_UNIVERSES);
    struct stream *stream = &run->streams[source][universe];
    uint8_t packet[SACN_DATA_SIZE];
    if (once_in(20))
        stream->priority = priorities[below(7)];
    if (once_in(25))
        stream->sync = addresses[below(6)];
    if (once_in(30))
        stream->preview = !stream->preview;
    if (once_in(30))
        stream->force = !stream->force;
    if (once_in(40))
        stream->name = (int)below(3);
    if (once_in(60))
        run->hosts[source] = 1 + (int)below(4);
    uint8_t number = next_number(stream->sequence);
    if ((uint8_t)(number - stream->sequence) < 128 || once_in(4))
        stream->sequence = number;   /* a sender goes on from its highest; now and then it restarts */
    struct told told = {
        .source = source, .universe = (uint16_t)universe, .sequence = number, .priority = stream->priority,
        .level = (uint8_t)below(256), .sync = stream->sync, .preview = stream->preview, .terminated = once_in(25),
        .force_sync = stream->force, .slots = once_in(3) ? (int)below(513) : once_in(20) ? -1 : 0,
        .start_code = once_in(20) ? 0xdd : 0, .name = names[stream->name], .host = run->hosts[source]
    };
    union sacn_address from = host_address(told.host);
    size_t length = told_packet(&told, packet);
    m_data(run->model, &told);
    enum sacn_verdict verdict = sacn_table_take(run->table, now, packet, length, &from);
    assert_int_equal(verdict, told.start_code ? SACN_OTHER_START_CODE : SACN_ACCEPT);
}

static void send_sync(struct run *run, int64_t now)
{
    int sender = 1 + (int)below(STREAM_SOURCES);
    uint16_t address = addresses[2 + below(4)];
    uint8_t packet[SACN_SYNC_SIZE], number = next_number(run->sync_sequences[sender]);
    struct sacn_source source = source_of(sender, NULL);
    union sacn_address from = host_address(run->hosts[sender]);
    run->sync_sequences[sender] = number;
    sacn_sync_init(packet, &source, address);
    sacn_sync_set_sequence(packet, number);
    m_sync_packet(run->model, sender, run->hosts[sender], address, number);
    assert_int_equal(sacn_table_take(run->table, now, packet, sizeof packet, &from), SACN_ACCEPT);
}

static void send_discovery(struct run *run, int64_t now)
{
    static const size_t counts[] = { 0, 3, 512, 600, 600, 1100 };
    static uint16_t universes[1100];
    int number = 1 + (int)below(5);
    size_t count = counts[below(6)];
    uint8_t packet[SACN_DISCOVERY_SIZE];
    const char *name = names[below(3)];
    struct sacn_source source = source_of(number, name);
    union sacn_address from = host_address(run->hosts[number]);
    for (size_t i = 0; i < count; i++)
        universes[i] = (uint16_t)(1 + i * (1 + (size_t)number) + (once_in(2) ? 0 : 1));
    size_t page = below((unsigned)sacn_discovery_pages(count));
    size_t length = sacn_discovery_page(packet, &source, universes, count, page);
    m_discovery(run->model, number, run->hosts[number], name, universes, count, page);
    assert_int_equal(sacn_table_take(run->table, now, packet, length, &from), SACN_ACCEPT);
}

static void play(struct run *run)
{
    for (run->event = 0; run->event < EVENTS; run->event++) {
        int64_t now = next_time(run);
        unsigned way = below(100);
        m_advance(run->model, now);
        if (way < 80)
            send_data(run, now);
        else if (way < 92)
            send_sync(run, now);
        else if (way < 95)
            send_discovery(run, now);
        else
            sacn_table_advance(run->table, now);
        m_show(run->model);
        if (once_in(3))              /* what is not read must be kept for later all the same */
            compare(run, once_in(40));
    }
    compare(run, true);
}

static void the_table_shows_what_the_model_shows(void **state)
{
    (void)state;
    /* Limits that are never met, and limits that are met all the time. */
    static const struct sacn_table_limits limits[] = {
        { 0, 0, 0, 0 }, { 16, 128, 9, 5 }, { 4, 36, 4, 4 }, { 3, 9, 3, 2 }, { 2, 5, 2, 1 }, { 4, 12, 5, 3 }
    };
    const struct sacn_table_limits standard = { 8192, 16384, 16, 256 };
    for (unsigned seed = 0; seed < runs; seed++) {
        static struct run run;
        memset(&run, 0, sizeof run);
        random_state = seed;
        run.seed = seed;
        run.model = calloc(1, sizeof *run.model);
        assert_non_null(run.model);
        run.model->now = -1000000 * MS;
        size_t shape = seed % (sizeof limits / sizeof *limits);
        run.model->limits = shape == 0 ? standard : limits[shape];
        assert_int_equal(sacn_table_new(&limits[shape], &run.table, NULL), 0);
        sacn_table_advance(run.table, run.model->now);
        for (int s = 1; s <= STREAM_SOURCES; s++) {
            run.hosts[s] = 1 + (int)below(4);
            for (int u = 1; u <= STREAM_UNIVERSES; u++)
                run.streams[s][u] = (struct stream){
                    .sequence = (uint8_t)below(256), .priority = 100, .sync = addresses[below(6)]
                };
        }
        play(&run);
        sacn_table_free(run.table);
        m_free(run.model);
        free(run.model);
    }
}

int main(int argc, char **argv)
{
    if (argc > 1)
        runs = (unsigned)strtoul(argv[1], NULL, 10);
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_table_shows_what_the_model_shows) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
