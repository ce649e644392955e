/* What was heard, as JSON lines. */
#include <jansson.h>
#include <stdlib.h>

#include "listen.h"

static json_t *text_or_null(const char *text)
{
    return text ? json_string(text) : json_null();
}

static json_t *flow_json(const struct sacn_heard_source *source, int64_t now_ns)
{
    return json_pack("{s:f, s:f, s:f, s:f, s:f, s:I, s:I, s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "rate_hz", source->rate_hz,
                     "rate_most_hz", wire_rate_most(source->slot_count), "jitter_ms", source->jitter_ms, "gap_s", source->gap_ms / 1e3,
                     "silent_s", (double)(now_ns - source->last_ns) / 1e9, "packets", (json_int_t)source->packets, "missing",
                     (json_int_t)source->missing, "late", (json_int_t)source->late, "repeated", (json_int_t)source->repeated,
                     "restarts", (json_int_t)source->restarts, "losses", (json_int_t)source->losses, "other_start_codes",
                     (json_int_t)source->other_start_codes, "name_changes", (json_int_t)source->name_changes, "address_changes",
                     (json_int_t)source->address_changes);
}

static json_t *source_json(const struct sacn_heard_source *source, int64_t now_ns)
{
    char address[SACN_ADDRESS_TEXT], cid[SACN_CID_TEXT];
    sacn_address_text(&source->from, address);
    sacn_cid_text(source->cid, cid);
    json_t *json = json_pack("{s:s, s:s, s:s, s:i, s:s, s:b, s:b, s:i, s:i}", "name", source->name, "cid", cid, "address", address,
                             "priority", source->priority, "state", sacn_source_state_name(source->state), "wins", source->wins,
                             "preview", source->preview, "slots", source->slot_count, "sync_address", source->sync_address);
    json_t *flow = flow_json(source, now_ns);
    if (!json || !flow || json_object_update(json, flow)) {
        json_decref(json);
        json = NULL;
    }
    json_decref(flow);
    return json;
}

static json_t *sources_json(const struct sacn_heard *heard, int64_t now_ns)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < heard->source_count; i++)
        if (json_array_append_new(list, source_json(heard->sources[i], now_ns))) {
            json_decref(list);
            list = NULL;
        }
    return list;
}

static json_t *universe_json(const struct listening *listening, const struct sacn_heard *heard, const struct universe *universe)
{
    json_t *id = universe ? json_integer(universe->id) : json_null();
    json_t *priority = heard->winners ? json_integer(heard->priority) : json_null();
    return json_pack("{s:s, s:f, s:i, s:o, s:o, s:o, s:i, s:s, s:b, s:I, s:o}", "kind", "universe", "time", listening->seconds,
                     "universe", heard->universe, "id", id, "label", text_or_null(universe ? universe->label : NULL), "priority",
                     priority, "winners", (int)heard->winners, "sync", sacn_sync_state_name(heard->sync), "held", heard->held, "turned_away",
                     (json_int_t)heard->turned_away, "sources", sources_json(heard, listening->now_ns));
}

static json_t *announcer_json(const struct listening *listening, size_t at, const struct sacn_announcer *announcer)
{
    bool set[SACN_LAST_UNIVERSE + 1] = { false };
    char ranges[WIRE_RANGES_TEXT], address[SACN_ADDRESS_TEXT], cid[SACN_CID_TEXT];
    for (unsigned u = SACN_FIRST_UNIVERSE; u <= SACN_LAST_UNIVERSE; u++)
        set[u] = sacn_table_announces(listening->table, at, (uint16_t)u);
    wire_ranges(set, SACN_LAST_UNIVERSE + 1, ranges);
    sacn_address_text(&announcer->from, address);
    sacn_cid_text(announcer->cid, cid);
    return json_pack("{s:s, s:f, s:s, s:s, s:s, s:b, s:i, s:s}", "kind", "announcer", "time", listening->seconds, "name",
                     announcer->name, "cid", cid, "address", address, "whole", announcer->whole, "count", (int)announcer->universe_count, "universes",
                     ranges);
}

static json_t *fault_json(const struct listening *listening, const struct wire_fault *fault)
{
    json_t *universe = fault->universe != SHOW_NONE ? json_integer(fault->universe) : json_null();
    return json_pack("{s:s, s:f, s:s, s:s, s:o, s:s}", "kind", "fault", "time", listening->seconds, "fault",
                     wire_fault_name(fault->kind), "severity", severity_name(fault->severity), "universe", universe, "text", fault->text);
}

static json_t *state_json(const struct listening *heard, const struct wire_faults *faults, size_t universes)
{
    const struct sacn_counts *counts = sacn_table_counts(heard->table);
    const struct sacn_announcer *announcers;
    json_t *bad = json_object();
    for (int i = SACN_ACCEPT; bad && i <= SACN_BAD_VALUE; i++)
        if (counts->bad[i] &&
            json_object_set_new(bad, sacn_verdict_name((enum sacn_verdict)i), json_integer((json_int_t)counts->bad[i]))) {
            json_decref(bad);
            bad = NULL;
        }
    return json_pack("{s:s, s:f, s:I, s:I, s:I, s:I, s:I, s:o, s:I, s:I, s:i, s:i, s:I, s:I, s:I, s:I, s:s}", "kind", "state", "time",
                     heard->seconds, "universes", (json_int_t)universes, "announcers", (json_int_t)sacn_table_announcers(heard->table, &announcers),
                     "data", (json_int_t)counts->data, "sync", (json_int_t)counts->sync, "discovery", (json_int_t)counts->discovery,
                     "bad", bad, "turned_away", (json_int_t)counts->turned_away, "dropped", (json_int_t)heard->receiver.dropped,
                     "sockets", (int)heard->receiver.sockets, "groups", (int)heard->receiver.groups, "fails",
                     (json_int_t)faults->of[SEVERITY_FAIL], "warns", (json_int_t)faults->of[SEVERITY_WARN], "notes",
                     (json_int_t)faults->of[SEVERITY_NOTE], "faults", (json_int_t)faults->count, "warning", heard->warning);
}

static int print(json_t *json, FILE *out, struct rig_why *why)
{
    char *line = json ? json_dumps(json, JSON_COMPACT | JSON_REAL_PRECISION(6)) : NULL;
    if (line)
        fprintf(out, "%s\n", line);
    json_decref(json);
    if (!line)
        return rig_fail(why, RIG_ENOMEM, "out of memory for JSON");
    free(line);
    return 0;
}

int listen_print_json(const struct listening *heard, const struct wire_show *wire, const struct wire_faults *faults, FILE *out,
                      struct rig_why *why)
{
    const struct sacn_announcer *announcers;
    const uint16_t *universes;
    size_t count = sacn_table_universes(heard->table, &universes), announcing = sacn_table_announcers(heard->table, &announcers);
    struct sacn_heard universe;
    int err = 0;
    for (size_t i = 0; i < count && !err; i++)
        if (sacn_table_universe(heard->table, universes[i], &universe))
            err = print(universe_json(heard, &universe, wire->of[universes[i]]), out, why);
    for (size_t i = 0; i < announcing && !err; i++)
        err = print(announcer_json(heard, i, &announcers[i]), out, why);
    for (size_t i = 0; i < faults->count && !err; i++)
        err = print(fault_json(heard, &faults->items[i]), out, why);
    return err ? err : print(state_json(heard, faults, count), out, why);
}
