/* What was heard, as JSON lines. */
#include <jansson.h>
#include <stdlib.h>

#include "listen.h"

static json_t *text_or_null(const char *text)
{
    return text ? json_string(text) : json_null();
}

static json_t *source_json(const struct sacn_heard_source *source)
{
    char address[SACN_ADDRESS_TEXT], cid[37];
    const uint8_t *c = source->cid;
    sacn_address_text(&source->from, address);
    snprintf(cid, sizeof cid, "%02x%02x%02x%02x-%02x%02x-%02x%02x-%02x%02x-%02x%02x%02x%02x%02x%02x", c[0], c[1], c[2], c[3], c[4], c[5],
             c[6], c[7], c[8], c[9], c[10], c[11], c[12], c[13], c[14], c[15]);
    json_t *json = json_pack("{s:s, s:s, s:s, s:i, s:s, s:b, s:b, s:i, s:i}", "name", source->name, "cid", cid, "address", address,
                             "priority", source->priority, "state", listen_state_name(source->state), "wins", source->wins,
                             "preview", source->preview, "slots", source->slot_count, "sync_address", source->sync_address);
    json_t *flow = json_pack("{s:f, s:f, s:f, s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "rate_hz", source->rate_hz, "jitter_ms",
                             source->jitter_ms, "gap_ms", source->gap_ms, "packets", (json_int_t)source->packets, "missing",
                             (json_int_t)source->missing, "late", (json_int_t)source->late, "repeated",
                             (json_int_t)source->repeated, "restarts", (json_int_t)source->restarts, "losses",
                             (json_int_t)source->losses, "other_start_codes", (json_int_t)source->other_start_codes);
    if (json && flow && json_object_update(json, flow)) {
        json_decref(json);
        json = NULL;
    }
    if (!flow && json) {
        json_decref(json);
        json = NULL;
    }
    json_decref(flow);
    return json;
}

static json_t *sources_json(const struct sacn_heard *heard)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < heard->source_count; i++)
        if (json_array_append_new(list, source_json(heard->sources[i]))) {
            json_decref(list);
            list = NULL;
        }
    return list;
}

static json_t *universe_json(double seconds, const struct sacn_heard *heard, const struct show *show)
{
    static const char *const syncs[] = { "free", "synced", "lost" };
    const struct universe *universe = wire_universe(show, heard->universe);
    json_t *id = universe ? json_integer(universe->id) : json_null();
    return json_pack("{s:s, s:f, s:i, s:o, s:o, s:o, s:i, s:s, s:I, s:o}", "kind", "universe", "time", seconds, "universe", heard->universe,
                     "id", id, "label", text_or_null(universe ? universe->label : NULL), "priority",
                     heard->winners ? json_integer(heard->priority) : json_null(), "winners", (int)heard->winners, "sync",
                     syncs[heard->sync], "turned_away", (json_int_t)heard->turned_away, "sources", sources_json(heard));
}

static json_t *state_json(const struct listening *heard, const struct wire_faults *faults, size_t universes)
{
    const struct sacn_counts *counts = sacn_table_counts(heard->table);
    const struct sacn_announcer *announcers;
    json_t *bad = json_object();
    for (int i = SACN_ACCEPT; bad && i <= SACN_BAD_VALUE; i++)
        if (counts->bad[i] && json_object_set_new(bad, sacn_verdict_name((enum sacn_verdict)i), json_integer((json_int_t)counts->bad[i]))) {
            json_decref(bad);
            bad = NULL;
        }
    return json_pack("{s:s, s:f, s:I, s:I, s:I, s:I, s:I, s:o, s:I, s:I, s:i, s:i, s:I, s:I, s:s}", "kind", "state", "time", heard->seconds,
                     "universes", (json_int_t)universes, "announcers", (json_int_t)sacn_table_announcers(heard->table, &announcers),
                     "data", (json_int_t)counts->data, "sync", (json_int_t)counts->sync, "discovery", (json_int_t)counts->discovery,
                     "bad", bad, "turned_away", (json_int_t)counts->turned_away, "dropped", (json_int_t)heard->receiver.dropped,
                     "sockets", (int)heard->receiver.sockets, "groups", (int)heard->receiver.groups, "fails", (json_int_t)faults->fails,
                     "faults", (json_int_t)faults->count, "warning", heard->warning);
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

int listen_print_json(const struct listening *heard, const struct show *show, const struct wire_faults *faults, FILE *out,
                      struct rig_why *why)
{
    const uint16_t *universes;
    size_t count = sacn_table_universes(heard->table, &universes);
    struct sacn_heard universe;
    int err = 0;
    for (size_t i = 0; i < count && !err; i++)
        if (sacn_table_universe(heard->table, universes[i], &universe))
            err = print(universe_json(heard->seconds, &universe, show), out, why);
    for (size_t i = 0; i < faults->count && !err; i++) {
        const struct wire_fault *fault = &faults->items[i];
        err = print(json_pack("{s:s, s:f, s:s, s:s, s:i, s:s}", "kind", "fault", "time", heard->seconds, "fault", wire_fault_name(fault->kind),
                              "severity", fault->fail ? "fail" : "warn", "universe", fault->universe, "text", fault->text), out, why);
    }
    return err ? err : print(state_json(heard, faults, count), out, why);
}
