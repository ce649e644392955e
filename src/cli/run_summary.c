/* What a run says at its end. */
#include <inttypes.h>

#include "json.h"
#include "run.h"

static const char *answer_name(enum crew_answer answer)
{
    return answer == CREW_YES ? "yes" : answer == CREW_NO ? "no" : "skip";
}

static const char *const realtime_names[] = { [REALTIME_NOT_ASKED] = "not asked", [REALTIME_HAD] = "had",
                                              [REALTIME_REFUSED] = "refused", [REALTIME_LOST] = "given up" };

/* What of a capture is not data, which the first line counts. */
static void write_capture(const struct summary *summary, FILE *out)
{
    const struct engine_report *report = summary->report;
    fprintf(out, "capture: %s, %" PRIu64 " packets (", summary->pcap, summary->pcap_packets);
    if (report->sync_packets)
        fprintf(out, "%" PRIu64 " of synchronisation, ", report->sync_packets);
    fprintf(out, "%" PRIu64 " of universe discovery)\n", report->discovery_packets);
}

static void write_text(const struct summary *summary, FILE *out)
{
    const struct engine_report *report = summary->report;
    char name[256];
    for (size_t i = 0; i < report->verdict_count; i++) {
        const struct engine_verdict *verdict = &report->verdicts[i];
        if (verdict->answer != CREW_NO)
            continue;
        if (verdict->fixture != SHOW_UNKNOWN)
            show_describe(summary->show, SUBJECT_FIXTURE, verdict->fixture, name, sizeof name);
        fprintf(out, "no  %s%s%s%s%s\n", verdict->fixture == SHOW_UNKNOWN ? "" : name, verdict->fixture == SHOW_UNKNOWN ? "" : ": ",
                verdict->question, *verdict->note ? " - " : "", verdict->note);
    }
    fprintf(out, "%s run of %s over %s%s: %.3f s, %" PRIu64 " frames, %" PRIu64 " packets, %" PRIu32 " universe%s\n",
            summary->live ? "live" : "dry", summary->sequence, summary->show_path,
            summary->err && !report->interrupted ? ", ended early" : "", report->seconds, report->frames, report->packets,
            summary->universes, summary->universes == 1 ? "" : "s");
    if (summary->live)
        fprintf(out, "lost %" PRIu64 " packet%s, late %" PRIu64 " frame%s\n", report->lost, report->lost == 1 ? "" : "s",
                report->late, report->late == 1 ? "" : "s");
    if (report->realtime != REALTIME_NOT_ASKED)
        fprintf(out, "real-time scheduling: %s\n", realtime_names[report->realtime]);
    if (report->yes + report->no + report->skip)
        fprintf(out, "answers: %" PRIu32 " yes, %" PRIu32 " no, %" PRIu32 " skip\n", report->yes, report->no, report->skip);
    if (summary->pcap)
        write_capture(summary, out);
    if (summary->trace)
        fprintf(out, "trace: %s\n", summary->trace);
    if (report->interrupted)
        fputs(report->packets ? "interrupted; every level is back at its default\n" : "interrupted before anything was sent\n",
              out);
}

static json_t *verdict_json(const struct summary *summary, const struct engine_verdict *verdict)
{
    json_t *fixture = verdict->fixture == SHOW_UNKNOWN ? json_null() : json_integer(summary->show->fixtures[verdict->fixture].id);
    return json_pack("{s:o, s:s, s:s, s:s, s:f}", "fixture", fixture, "question", verdict->question, "answer",
                     answer_name(verdict->answer), "note", verdict->note, "at", verdict->at_s);
}

static int fill_json(const struct summary *summary, json_t *root)
{
    const struct engine_report *report = summary->report;
    json_t *verdicts = json_array();
    int bad = json_object_set_new(root, "verdicts", verdicts);
    for (size_t i = 0; !bad && i < report->verdict_count; i++)
        bad = json_array_append_new(verdicts, verdict_json(summary, &report->verdicts[i]));
    if (!bad && summary->pcap)
        bad = json_object_set_new(root, "capture", json_pack("{s:o, s:I}", "path", json_from_text(summary->pcap), "packets",
                                                             (json_int_t)summary->pcap_packets));
    if (!bad && summary->trace)
        bad = json_object_set_new(root, "trace", json_from_text(summary->trace));
    if (!bad && summary->err)
        bad = json_object_set_new(root, "why", json_from_text(summary->why->text));
    return bad;
}

static int write_json(const struct summary *summary, FILE *out, struct rig_why *why)
{
    const struct engine_report *report = summary->report;
    json_t *root = json_pack("{s:o, s:o, s:s, s:b, s:b, s:f, s:I, s:I, s:I, s:I, s:i, s:I, s:I, s:I, s:s, s:{s:i, s:i, s:i}}",
                             "show", json_from_text(summary->show_path), "sequence", json_from_text(summary->sequence),
                             "run", summary->live ? "live" : "dry",
                             "done", summary->err == 0, "interrupted", report->interrupted, "seconds", report->seconds,
                             "frames", (json_int_t)report->frames, "packets", (json_int_t)report->packets,
                             "sync_packets", (json_int_t)report->sync_packets,
                             "discovery_packets", (json_int_t)report->discovery_packets,
                             "universes", (int)summary->universes, "lost", (json_int_t)report->lost, "late", (json_int_t)report->late,
                             "late_subticks", (json_int_t)report->late_subticks, "realtime", realtime_names[report->realtime],
                             "answers", "yes", (int)report->yes, "no", (int)report->no, "skip", (int)report->skip);
    int err = !root || fill_json(summary, root) ? rig_fail(why, RIG_ENOMEM, "out of memory") : 0;
    if (!err && !json_dumpf(root, out, JSON_INDENT(2) | JSON_REAL_PRECISION(12)))
        fputc('\n', out);
    json_decref(root);
    return err;
}

int summary_write(const struct summary *summary, FILE *out, struct rig_why *why)
{
    if (summary->json)
        return write_json(summary, out, why);
    write_text(summary, out);
    return 0;
}
