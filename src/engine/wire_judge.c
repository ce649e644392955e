/* What is wrong with what was heard, in words for a person at call time. */
#include "rigcall/listen.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define GAP_MOST_MS 1100.0           /* keep-alives come every 0.8 to 1 s (E1.31 6.6.2), and networks dawdle */
#define RATE_GRACE 1.02              /* of a rate measured over one second, give one packet more */

struct judge {
    struct sacn_table *table;
    const struct show *show;
    int64_t now_ns;
    struct wire_faults *faults;
    char name[192];                  /* of the universe in hand */
    uint16_t wire;
    bool failed;
};

const char *wire_fault_name(enum wire_fault_kind kind)
{
    static const char *const names[] = { "silent", "rival", "unknown", "lost", "rate", "gap", "missing", "sync", "name" };
    return names[kind];
}

double wire_rate_most(uint16_t slots)
{
    double packet_us = 92 + 12 + 44.0 * (slots + 1);
    return 1e6 / (packet_us < 1204 ? 1204 : packet_us);
}

const struct universe *wire_universe(const struct show *show, uint16_t wire)
{
    for (uint32_t i = 0; show && i < show->universe_count; i++)
        if (universe_wire(&show->universes[i]) == wire)
            return &show->universes[i];
    return NULL;
}

static void name_universe(struct judge *judge, uint16_t wire, const struct universe *universe)
{
    char number[48];
    judge->wire = wire;
    if (!universe || universe->id == wire)
        snprintf(number, sizeof number, "universe %u", wire);
    else
        snprintf(number, sizeof number, "universe %lld (wire number %u)", (long long)universe->id, wire);
    if (universe && universe->label && *universe->label)
        snprintf(judge->name, sizeof judge->name, "%s %.130s", number, universe->label);
    else
        snprintf(judge->name, sizeof judge->name, "%s", number);
}

static void __attribute__((format(printf, 4, 5))) add(struct judge *judge, enum wire_fault_kind kind, bool fail,
                                                      const char *format, ...)
{
    struct wire_faults *faults = judge->faults;
    struct wire_fault *fault;
    va_list args;
    faults->fails += fail;
    if (faults->count == WIRE_FAULTS || judge->failed)
        return;
    if (faults->count == faults->room) {
        size_t room = faults->room ? faults->room * 2 : 64;
        struct wire_fault *grown = realloc(faults->items, room * sizeof *grown);
        if (!grown) {
            judge->failed = true;
            return;
        }
        faults->items = grown;
        faults->room = room;
    }
    fault = &faults->items[faults->count++];
    *fault = (struct wire_fault){ .kind = kind, .fail = fail, .universe = judge->wire };
    int at = snprintf(fault->text, sizeof fault->text, "%s: ", judge->name);
    va_start(args, format);
    vsnprintf(fault->text + at, sizeof fault->text - (size_t)at, format, args);
    va_end(args);
}

typedef char who_text[SACN_NAME_SIZE + SACN_ADDRESS_TEXT + 16];

static const char *who(const struct sacn_heard_source *source, who_text text)
{
    char address[SACN_ADDRESS_TEXT];
    sacn_address_text(&source->from, address);
    snprintf(text, sizeof(who_text), "source \"%s\" at %s", source->name, address);
    return text;
}

static void judge_silence(struct judge *judge, const struct sacn_heard *heard)
{
    const struct sacn_announcer *announcers;
    size_t count = sacn_table_announcers(judge->table, &announcers);
    if (heard && heard->winners > 0)
        return;
    for (size_t i = 0; i < count; i++)
        if (sacn_table_announces(judge->table, i, judge->wire)) {
            add(judge, WIRE_SILENT, true, "nobody sends it, though source \"%s\" announces it", announcers[i].name);
            return;
        }
    add(judge, WIRE_SILENT, true, "nobody sends it");
}

static void judge_rivals(struct judge *judge, const struct sacn_heard *heard)
{
    who_text first, second;
    const struct sacn_heard_source *winners[2] = { 0 };
    uint32_t count = 0;
    for (uint32_t i = 0; i < heard->source_count && count < 2; i++)
        if (heard->sources[i]->wins)
            winners[count++] = heard->sources[i];
    if (heard->winners < 2 || count < 2)
        return;
    if (heard->winners == 2)
        add(judge, WIRE_RIVAL, true, "two sources send it at priority %u: %s and %s", heard->priority, who(winners[0], first),
            who(winners[1], second));
    else
        add(judge, WIRE_RIVAL, true, "%u sources send it at priority %u: %s, %s and %u more", heard->winners, heard->priority,
            who(winners[0], first), who(winners[1], second), heard->winners - 2);
}

static void judge_flow(struct judge *judge, const struct sacn_heard_source *source)
{
    who_text text;
    who(source, text);
    double most = wire_rate_most(source->slot_count);
    if (source->rate_hz > most * RATE_GRACE + 1)
        add(judge, WIRE_RATE, false, "%s sends %.1f packets a second; %u slots allow %.1f (ANSI E1.31 6.6.1)", text,
            source->rate_hz, source->slot_count, most);
    if (source->gap_ms > GAP_MOST_MS)
        add(judge, WIRE_GAP, false, "%s once sent nothing for %.1f s; unchanged levels are to be repeated within 1 s", text,
            source->gap_ms / 1e3);
    if (source->missing || source->late || source->repeated)
        add(judge, WIRE_MISSING, false, "%s: of %llu packets %llu missing, %llu late, %llu twice", text,
            (unsigned long long)(source->packets + source->missing), (unsigned long long)source->missing,
            (unsigned long long)source->late, (unsigned long long)source->repeated);
}

static void judge_name(struct judge *judge, const struct sacn_heard *heard, uint32_t at)
{
    const struct sacn_heard_source *source = heard->sources[at];
    who_text text;
    who(source, text);
    if (!*source->name)
        add(judge, WIRE_NAME, false, "%s gives no name", text);
    if (source->name_changes)
        add(judge, WIRE_NAME, false, "%s changed its name %s", text, source->name_changes == 1 ? "once" : "more than once");
    for (uint32_t i = 0; i < at && *source->name; i++)
        if (heard->sources[i]->state == SACN_LIVE && !strcmp(heard->sources[i]->name, source->name)) {
            add(judge, WIRE_NAME, false, "%s has the name of another source", text);
            return;
        }
}

static void judge_source(struct judge *judge, const struct sacn_heard *heard, uint32_t at)
{
    const struct sacn_heard_source *source = heard->sources[at];
    who_text text;
    if (source->state == SACN_LOST)
        add(judge, WIRE_LOST, false, "%s stopped %.1f s ago without saying so", who(source, text),
            (double)(judge->now_ns - source->last_ns) / 1e9);
    judge_flow(judge, source);
    if (source->state == SACN_LIVE)
        judge_name(judge, heard, at);
}

static void judge_universe(struct judge *judge, const struct sacn_heard *heard)
{
    judge_rivals(judge, heard);
    if (heard->sync == SACN_SYNC_LOST)
        add(judge, WIRE_SYNC, false, "synchronisation packets have stopped coming");
    for (uint32_t i = 0; i < heard->source_count; i++)
        judge_source(judge, heard, i);
}

static bool has_fixtures(const struct show *show, const struct universe *universe)
{
    uint32_t count;
    show_universe_fixtures(show, universe->id, &count);
    return count > 0;
}

static int by_universe(const void *a, const void *b)
{
    const struct wire_fault *left = a, *right = b;
    if (left->universe != right->universe)
        return (left->universe > right->universe) - (left->universe < right->universe);
    if (left->kind != right->kind)
        return (left->kind > right->kind) - (left->kind < right->kind);
    return strcmp(left->text, right->text);
}

int wire_judge(struct sacn_table *table, const struct show *show, int64_t now_ns, double heard_s, struct wire_faults *faults,
               struct rig_why *why)
{
    struct judge judge = { .table = table, .show = show, .now_ns = now_ns, .faults = faults };
    const uint16_t *universes;
    struct sacn_heard heard;
    *faults = (struct wire_faults){ 0 };
    for (uint32_t i = 0; show && heard_s >= SACN_LOSS_S && i < show->universe_count; i++) {
        const struct universe *universe = &show->universes[i];
        int64_t wire = universe_wire(universe);
        if (wire < SACN_FIRST_UNIVERSE || wire > SACN_LAST_UNIVERSE || !has_fixtures(show, universe))
            continue;
        name_universe(&judge, (uint16_t)wire, universe);
        judge_silence(&judge, sacn_table_universe(table, (uint16_t)wire, &heard) ? &heard : NULL);
    }
    size_t count = sacn_table_universes(table, &universes);
    for (size_t i = 0; i < count; i++) {
        const struct universe *universe = wire_universe(show, universes[i]);
        if (!sacn_table_universe(table, universes[i], &heard))
            continue;
        name_universe(&judge, universes[i], universe);
        if (show && !universe && heard.winners > 0)
            add(&judge, WIRE_UNKNOWN, false, "it is sent, but the show does not know it");
        judge_universe(&judge, &heard);
    }
    if (faults->count)
        qsort(faults->items, faults->count, sizeof *faults->items, by_universe);
    return judge.failed ? rig_fail(why, RIG_ENOMEM, "out of memory for faults") : 0;
}

void wire_faults_free(struct wire_faults *faults)
{
    free(faults->items);
    *faults = (struct wire_faults){ 0 };
}
