/* What is wrong with what was heard, in words for a person at call time. */
#include "rigcall/listen.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define GAP_MOST_MS 1100.0           /* keep-alives come every 0.8 to 1 s (E1.31 6.6.2), and networks dawdle */
#define RATE_GRACE 1.02              /* of a rate measured over one second, give one packet more */
#define NAMED 4u                     /* rivals that are named */
#define NAME_MOST 160u               /* octets of a universe's name in a sentence */

struct judge {
    struct sacn_table *table;
    const struct wire_show *wire;
    int64_t now_ns;
    struct wire_faults *faults;
    char name[NAME_MOST + 1];        /* of the universe in hand; "" for none */
    int64_t number;
    bool failed;
};

const char *wire_fault_name(enum wire_fault_kind kind)
{
    static const char *const names[] = { "silent", "rival", "unknown", "lost", "rate", "gap", "missing", "sync", "name", "priority",
                                         "announced" };
    return names[kind];
}

double wire_rate_most(uint16_t slots)
{
    double packet_us = 92 + 12 + 44.0 * (slots + 1);
    return 1e6 / (packet_us < 1204 ? 1204 : packet_us);
}

/* ---- sentences ---- */

static void name_universe(struct judge *judge, int64_t number, const struct universe *universe)
{
    char name[NAME_MOST * 4];
    int length = !universe || universe->id == number ? snprintf(name, sizeof name, "universe %" PRId64, number)
                 : snprintf(name, sizeof name, "universe %" PRId64 " (wire number %" PRId64 ")", universe->id, number);
    if (universe && universe->label && *universe->label)
        snprintf(name + length, sizeof name - (size_t)length, " %s", universe->label);
    size_t kept = utf8_cut(name, strlen(name), NAME_MOST);
    memcpy(judge->name, name, kept);
    judge->name[kept] = '\0';
    judge->number = number;
}

static struct wire_fault *new_fault(struct judge *judge, enum severity severity)
{
    struct wire_faults *faults = judge->faults;
    faults->of[severity]++;
    if (faults->count == WIRE_FAULTS || judge->failed)
        return NULL;
    if (faults->count == faults->room) {
        size_t room = faults->room ? faults->room * 2 : 64;
        struct wire_fault *grown = realloc(faults->items, (room < WIRE_FAULTS ? room : WIRE_FAULTS) * sizeof *grown);
        if (!grown) {
            judge->failed = true;
            return NULL;
        }
        faults->items = grown;
        faults->room = room < WIRE_FAULTS ? room : WIRE_FAULTS;
    }
    return &faults->items[faults->count++];
}

static void __attribute__((format(printf, 4, 5))) add(struct judge *judge, enum wire_fault_kind kind, enum severity severity,
                                                      const char *format, ...)
{
    char text[2 * sizeof((struct wire_fault *)0)->text];
    va_list args;
    struct wire_fault *fault = new_fault(judge, severity);
    if (!fault)
        return;
    *fault = (struct wire_fault){ .kind = kind, .severity = severity, .universe = judge->number };
    int at = snprintf(text, sizeof text, "%s%s", judge->name, *judge->name ? ": " : "");
    va_start(args, format);
    vsnprintf(text + at, sizeof text - (size_t)at, format, args);
    va_end(args);
    memcpy(fault->text, text, utf8_cut(text, strlen(text), sizeof fault->text - 1));
    wire_clean(fault->text);
}

typedef char who_text[SACN_NAME_SIZE + SACN_ADDRESS_TEXT + 16];

static const char *name_at(const struct sacn_heard_source *source, who_text text)
{
    char address[SACN_ADDRESS_TEXT];
    sacn_address_text(&source->from, address);
    snprintf(text, sizeof(who_text), "\"%s\" at %s", source->name, address);
    return text;
}

typedef char times_text[32];

static const char *times(uint64_t count, times_text text)
{
    if (count == 1)
        return "once";
    snprintf(text, sizeof(times_text), "%llu times", (unsigned long long)count);
    return text;
}

static double since_s(const struct judge *judge, const struct sacn_heard_source *source)
{
    return (double)(judge->now_ns - source->last_ns) / 1e9;
}

/* ---- one universe ---- */

/* The first that is live: of those that give no level it is the one to ask about. Else who ended it last. */
static const struct sacn_heard_source *suspect(const struct sacn_heard *heard)
{
    const struct sacn_heard_source *found = NULL;
    for (uint32_t i = 0; heard && i < heard->source_count; i++) {
        const struct sacn_heard_source *source = heard->sources[i];
        if (source->state == SACN_LIVE)
            return source;
        if (source->state == SACN_TERMINATED && (!found || source->last_ns > found->last_ns))
            found = source;
    }
    return found;
}

static const char *announcer_of(const struct judge *judge)
{
    const struct sacn_announcer *announcers;
    size_t count = sacn_table_announcers(judge->table, &announcers);
    for (size_t i = 0; i < count; i++)
        if (sacn_table_announces(judge->table, i, (uint16_t)judge->number))
            return announcers[i].name;
    return NULL;
}

/* The transmitter that a live run sends the universe to by unicast, as the engine chooses it, or NULL. */
static const struct transmitter *unicast_to(const struct show *show, const struct universe *universe)
{
    uint32_t count;
    const struct carrier *carriers = show_carriers(show, universe->id, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &show->transmitters[carriers[i].transmitter];
        if (!transmitter->spare && transmitter->input == INPUT_UNICAST && transmitter->host)
            return transmitter;
    }
    return NULL;
}

/* @param heard  NULL: nothing was ever heard of it */
static void judge_silence(struct judge *judge, const struct universe *universe, const struct sacn_heard *heard)
{
    who_text text;
    const struct sacn_heard_source *source = suspect(heard);
    const struct transmitter *to = unicast_to(judge->wire->show, universe);
    const char *announcer;
    if (heard && heard->winners > 0)
        return;
    if (source)
        name_at(source, text);
    if (source && source->state == SACN_TERMINATED)
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it any more; source %s ended it %.1f s ago", text,
            since_s(judge, source));
    else if (source && source->preview)
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it; source %s sends preview data only, which is not put out",
            text);
    else if (source && heard->held)
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it; levels of source %s wait for synchronisation packets", text);
    else if (source)
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it; source %s sends no levels (START code 0)", text);
    else if (to)
        add(judge, WIRE_SILENT, SEVERITY_NOTE, "it is not heard; transmitter %s takes it by unicast at %s, which no other host hears",
            to->id, to->host);
    else if ((announcer = announcer_of(judge)))
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it, though source \"%s\" announces it", announcer);
    else
        add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody sends it");
}

static void judge_rivals(struct judge *judge, const struct sacn_heard *heard)
{
    char list[NAMED * (sizeof(who_text) + 2) + 32] = "";
    who_text text;
    uint32_t named = 0;
    int used = 0;
    if (heard->winners < 2)
        return;
    for (uint32_t i = 0; i < heard->source_count && named < NAMED; i++)
        if (heard->sources[i]->wins)
            used += snprintf(list + used, sizeof list - (size_t)used, "%s%s", named++ ? ", " : "",
                             name_at(heard->sources[i], text));
    if (heard->winners > named)
        snprintf(list + used, sizeof list - (size_t)used, ", and %u more", heard->winners - named);
    add(judge, WIRE_RIVAL, SEVERITY_FAIL, "%u sources send it at priority %u: %s", heard->winners, heard->priority, list);
}

static void judge_stranger(struct judge *judge, const struct sacn_heard *heard)
{
    who_text text;
    const struct sacn_heard_source *first = heard->sources[0];
    for (uint32_t i = 0; i < heard->source_count && !first->wins; i++)
        first = heard->sources[i];
    if (heard->winners == 1)
        add(judge, WIRE_UNKNOWN, SEVERITY_WARN, "source %s sends it, but the show does not know it", name_at(first, text));
    else if (heard->winners > 1)
        add(judge, WIRE_UNKNOWN, SEVERITY_WARN, "source %s and %u more send it, but the show does not know it",
            name_at(first, text), heard->winners - 1);
}

static void judge_priority(struct judge *judge, const struct sacn_heard *heard, const struct universe *universe)
{
    int64_t ours = universe_priority(universe);
    if (heard->winners == 0 || heard->priority == ours)
        return;
    add(judge, WIRE_PRIORITY, SEVERITY_NOTE, "it is sent at priority %u, %s the %" PRId64 " of the show: a live run would %s",
        heard->priority, heard->priority > ours ? "above" : "below", ours,
        heard->priority > ours ? "not be seen" : "take it over");
}

/* ---- one source ---- */

static void judge_presence(struct judge *judge, const struct sacn_heard_source *source)
{
    who_text text;
    times_text often;
    name_at(source, text);
    if (source->losses)
        add(judge, WIRE_LOST, SEVERITY_WARN, "source %s sent nothing for 2.5 s or more %s, and came back", text,
            times(source->losses, often));
    if (source->state == SACN_LOST)
        add(judge, WIRE_LOST, SEVERITY_WARN, "source %s stopped %.1f s ago without saying so", text, since_s(judge, source));
}

static void judge_flow(struct judge *judge, const struct sacn_heard_source *source)
{
    who_text text;
    times_text often;
    name_at(source, text);
    double most = wire_rate_most(source->slot_count);
    if (source->rate_hz > most * RATE_GRACE + 1)
        add(judge, WIRE_RATE, SEVERITY_WARN, "source %s sends %.1f packets a second, %u slots allow %.1f", text, source->rate_hz,
            source->slot_count, most);
    if (source->gap_ms > GAP_MOST_MS)
        add(judge, WIRE_GAP, SEVERITY_WARN,
            "source %s once sent nothing for %.1f s, unchanged levels are to be repeated within 1 s", text, source->gap_ms / 1e3);
    if (source->missing || source->late || source->repeated)
        add(judge, WIRE_MISSING, SEVERITY_WARN, "source %s: of %llu packets %llu are missing, %llu late, %llu twice", text,
            (unsigned long long)(source->packets + source->missing), (unsigned long long)source->missing,
            (unsigned long long)source->late, (unsigned long long)source->repeated);
    if (source->restarts)
        add(judge, WIRE_MISSING, SEVERITY_WARN, "source %s began its sequence numbers anew %s", text,
            times(source->restarts, often));
}

static void judge_name(struct judge *judge, const struct sacn_heard *heard, uint32_t at)
{
    const struct sacn_heard_source *source = heard->sources[at];
    char address[SACN_ADDRESS_TEXT], other[SACN_ADDRESS_TEXT];
    times_text often;
    sacn_address_text(&source->from, address);
    if (!*source->name)
        add(judge, WIRE_NAME, SEVERITY_WARN, "the source at %s gives no name", address);
    if (source->name_changes)
        add(judge, WIRE_NAME, SEVERITY_WARN, "the source at %s, \"%s\" now, changed its name %s", address, source->name,
            times(source->name_changes, often));
    if (source->address_changes)
        add(judge, WIRE_NAME, SEVERITY_WARN,
            "source \"%s\", at %s now, changed its address %s: two machines with one CID look like that", source->name,
            address, times(source->address_changes, often));
    for (uint32_t i = 0; i < at && *source->name; i++)
        if (heard->sources[i]->state == SACN_LIVE && !strcmp(heard->sources[i]->name, source->name)) {
            sacn_address_text(&heard->sources[i]->from, other);
            add(judge, WIRE_NAME, SEVERITY_WARN, "sources at %s and %s both call themselves \"%s\"", other, address,
                source->name);
            return;
        }
}

static void judge_universe(struct judge *judge, const struct sacn_heard *heard)
{
    judge_rivals(judge, heard);
    if (heard->sync == SACN_SYNC_LOST)
        add(judge, WIRE_SYNC, SEVERITY_WARN, "its synchronisation packets have stopped coming");
    for (uint32_t i = 0; i < heard->source_count; i++) {
        judge_presence(judge, heard->sources[i]);
        judge_flow(judge, heard->sources[i]);
        if (heard->sources[i]->state == SACN_LIVE)
            judge_name(judge, heard, i);
    }
}

/* ---- all of them ---- */

static bool has_fixtures(const struct show *show, const struct universe *universe)
{
    uint32_t count;
    show_universe_fixtures(show, universe->id, &count);
    return count > 0;
}

static void judge_show(struct judge *judge, double heard_s)
{
    const struct wire_show *wire = judge->wire;
    struct sacn_heard heard;
    for (uint32_t i = 0; wire->show && i < wire->show->universe_count; i++) {
        const struct universe *universe = &wire->show->universes[i];
        int64_t number = universe_wire(universe);
        bool valid = number >= SACN_FIRST_UNIVERSE && number <= SACN_LAST_UNIVERSE;
        if ((wire->partial && (!valid || !wire->listened[number])) || !has_fixtures(wire->show, universe))
            continue;
        name_universe(judge, number, universe);
        if (!valid)
            add(judge, WIRE_SILENT, SEVERITY_FAIL, "nobody can send it: wire numbers are 1 to 63999");
        else if (heard_s >= SACN_LOSS_S)
            judge_silence(judge, universe, sacn_table_universe(judge->table, (uint16_t)number, &heard) ? &heard : NULL);
    }
}

static void judge_heard(struct judge *judge)
{
    const struct wire_show *wire = judge->wire;
    const uint16_t *universes;
    struct sacn_heard heard;
    size_t count = sacn_table_universes(judge->table, &universes);
    for (size_t i = 0; i < count; i++) {
        const struct universe *universe = wire->of[universes[i]];
        if (!sacn_table_universe(judge->table, universes[i], &heard))
            continue;
        name_universe(judge, universes[i], universe);
        if (universe)
            judge_priority(judge, &heard, universe);
        else if (wire->show)
            judge_stranger(judge, &heard);
        judge_universe(judge, &heard);
    }
}

/* What is heard of it is told with its universe; here is what is only announced. */
static void judge_announcer(struct judge *judge, size_t at, const struct sacn_announcer *announcer, const bool *heard)
{
    bool strange[SACN_LAST_UNIVERSE + 1] = { false };
    char ranges[WIRE_RANGES_TEXT], address[SACN_ADDRESS_TEXT];
    unsigned count = 0;
    for (unsigned u = SACN_FIRST_UNIVERSE; u <= SACN_LAST_UNIVERSE; u++) {
        strange[u] = !heard[u] && !judge->wire->of[u] && sacn_table_announces(judge->table, at, (uint16_t)u);
        count += strange[u];
    }
    if (count == 0)
        return;
    wire_ranges(strange, SACN_LAST_UNIVERSE + 1, ranges);
    sacn_address_text(&announcer->from, address);
    add(judge, WIRE_ANNOUNCED, SEVERITY_NOTE,
        "source \"%s\" at %s announces %u universe%s that the show does not know and nobody sends: %s", announcer->name, address,
        count, count == 1 ? "" : "s", ranges);
}

static void judge_announcers(struct judge *judge)
{
    bool heard[SACN_LAST_UNIVERSE + 1] = { false };
    const struct sacn_announcer *announcers;
    const uint16_t *universes;
    size_t count = sacn_table_universes(judge->table, &universes);
    for (size_t i = 0; i < count; i++)
        heard[universes[i]] = true;
    count = judge->wire->show && !judge->wire->partial ? sacn_table_announcers(judge->table, &announcers) : 0;
    *judge->name = '\0';
    judge->number = SHOW_NONE;
    for (size_t i = 0; i < count; i++)
        judge_announcer(judge, i, &announcers[i], heard);
}

/* What is of no single universe comes last. */
static int by_universe(const void *a, const void *b)
{
    const struct wire_fault *left = a, *right = b;
    if (left->universe != right->universe)
        return left->universe == SHOW_NONE ? 1 : right->universe == SHOW_NONE ? -1 : left->universe > right->universe ? 1 : -1;
    if (left->kind != right->kind)
        return left->kind > right->kind ? 1 : -1;
    return strcmp(left->text, right->text);
}

int wire_judge(struct sacn_table *table, const struct wire_show *wire, int64_t now_ns, double heard_s, struct wire_faults *faults,
               struct rig_why *why)
{
    struct judge judge = { .table = table, .wire = wire, .now_ns = now_ns, .faults = faults };
    *faults = (struct wire_faults){ 0 };
    judge_show(&judge, heard_s);
    judge_heard(&judge);
    judge_announcers(&judge);
    if (faults->count)
        qsort(faults->items, faults->count, sizeof *faults->items, by_universe);
    return judge.failed ? rig_fail(why, RIG_ENOMEM, "out of memory for faults") : 0;
}

void wire_faults_free(struct wire_faults *faults)
{
    free(faults->items);
    *faults = (struct wire_faults){ 0 };
}
