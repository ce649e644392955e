#include "run.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

static const char *const answers[] = { [CREW_YES] = "yes", [CREW_NO] = "no", [CREW_SKIP] = "skip" };

static json_t *universe_list(const struct engine *engine)
{
    json_t *list = json_array();
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        const struct engine_universe *universe = &engine->universes[u];
        json_array_append_new(list, json_pack("{s:I,s:i,s:i}", "universe", (json_int_t)universe->id, "wire", universe->wire,
                                              "priority", universe->priority));
    }
    return list;
}

int run_init(struct run *run, const struct engine_play *play, struct engine_report *report, bool packets)
{
    *report = (struct engine_report){ 0 };
    *run = (struct run){ .play = play, .engine = play->engine, .report = report };
    const struct sacn_target *target = &play->target;
    int err = trace_init(&run->trace, play->trace, play->engine, &run->why);
    if (!err && target->to && !(sacn_address_parse(target->to, target->port ? target->port : SACN_PORT, &run->to) &&
                                sacn_address_is_host(&run->to)))
        err = rig_fail(&run->why, RIG_EUSAGE, "target \"%s\": expected the IPv4 or IPv6 address of a host", target->to);
    if (!err)
        err = output_init(&run->output, play, packets, &run->why);
    if (!err)
        err = announce_init(&run->announce, play, &run->output, &run->why);
    run->result = err;
    if (!err)
        trace_event(&run->trace, 0, "start",
                    json_pack("{s:f,s:o}", "rate", run->engine->rate_hz, "universes", universe_list(run->engine)));
    return err;
}

int run_fini(struct run *run, struct rig_why *why)
{
    struct rig_why trouble;
    if (trace_end(&run->trace, &trouble))
        run_fail_why(run, RIG_EIO, &trouble);
    trace_fini(&run->trace);
    announce_fini(&run->announce);
    output_fini(&run->output);
    if (run->result && why)
        *why = run->why;
    return run->result;
}

int run_fail(struct run *run, int code, const char *format, ...)
{
    char text[RIG_WHY_TEXT];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (!run->result)
        run->result = rig_fail(&run->why, code, "%s", text);
    return code;
}

int run_fail_why(struct run *run, int code, const struct rig_why *why)
{
    if (!run->result) {
        run->result = code;
        run->why = *why;
        run->why.code = code;
    }
    return code;
}

/* ---- frames ---- */

static json_t *fixture_id(const struct engine *engine, uint32_t fixture)
{
    return fixture < engine->show->fixture_count ? json_integer((json_int_t)engine->show->fixtures[fixture].id) : json_null();
}

static void guard_refused(struct run *run, uint64_t frame)
{
    static const char *const of[] = { [VIOLATION_CELL] = "cell", [VIOLATION_FIXTURE] = "fixture", [VIOLATION_SITE] = "site" };
    const struct engine *engine = run->engine;
    const struct engine_violation *v = engine_violation(engine);
    char text[512];
    engine_violation_text(engine, text, sizeof text);
    json_t *cell = v->of == VIOLATION_CELL ? json_integer((json_int_t)v->cell + 1) : json_null();
    json_t *site = v->site < engine->show->site_count ? json_string(engine->show->sites[v->site].id) : json_null();
    trace_event(&run->trace, engine_frame_time(engine, frame) / 1e9, "guard",
                json_pack("{s:s,s:s,s:o,s:o,s:o,s:i,s:f,s:f,s:o}", "kind", v->kind == VIOLATION_RED_FLASH ? "red" : "general",
                          "of", of[v->of], "fixture", fixture_id(engine, v->fixture), "cell", cell, "site", site,
                          "count", v->count, "from", v->from_s, "to", v->to_s, "text", trace_text(text)));
    run_fail(run, RIG_EGUARD, "flash guard: %s", text);
}

uint64_t run_frame(struct run *run, enum output_kind kind)
{
    uint64_t frame = run->engine->frame;
    if (engine_next_frame(run->engine) == ENGINE_FRAME_REFUSED && !run->result)
        guard_refused(run, frame);
    output_frame(&run->output, frame, kind);
    run->terminated += kind == OUTPUT_TERMINATED;
    announce_frame(&run->announce, &run->output, engine_frame_time(run->engine, frame), kind, run->terminated == RUN_TERMINATED);
    trace_frame(&run->trace, run->engine, frame);
    run->report->frames++;
    run->wakes = 0;
    return frame;
}

void run_begin_end(struct run *run, double time_s)
{
    const char *word = run->result == 0 ? "done" : run->result == RIG_ESCRIPT ? "script" : run->result == RIG_EGUARD ? "guard"
                     : run->result == RIG_EFAILED ? "interrupted" : run->result == RIG_ENET ? "network" : "failed";
    run->report->seconds = time_s;
    trace_event(&run->trace, time_s, "end",
                json_pack("{s:s,s:o}", "result", word, "text", trace_text(run->result ? run->why.text : "")));
    engine_begin_end(run->engine);
}

/* ---- the script and the crew ---- */

void run_notices(struct run *run, double time_s)
{
    const struct engine_crew *crew = run->play->crew;
    for (uint32_t i = 0; i < run->engine->notice_count; i++) {
        const struct notice *notice = &run->engine->notices[i];
        bool told = notice->kind == NOTICE_TOLD;
        if (told && crew && crew->told)
            crew->told(crew->context, notice->text);
        trace_event(&run->trace, time_s, told ? "told" : "say", json_pack("{s:o}", "text", trace_text(notice->text)));
    }
    engine__forget_notices(run->engine);
}

void run_asked(struct run *run, double time_s)
{
    trace_event(&run->trace, time_s, "ask", json_pack("{s:o,s:o}", "fixture", fixture_id(run->engine, run->wish.fixture),
                                                      "question", trace_text(run->wish.question)));
}

static struct engine_verdict *new_verdict(struct run *run)
{
    struct engine_report *report = run->report;
    if (report->verdict_count == RUN_VERDICTS)
        return NULL;
    if (report->verdict_count == run->verdict_room) {
        uint32_t room = run->verdict_room ? run->verdict_room * 2 : 16;
        struct engine_verdict *verdicts = realloc(report->verdicts, room * sizeof *verdicts);
        if (!verdicts) {
            run_fail(run, RIG_ENOMEM, "out of memory for answers");
            return NULL;
        }
        report->verdicts = verdicts;
        run->verdict_room = room;
    }
    return &report->verdicts[report->verdict_count++];
}

static void copy_text(char *to, size_t size, const char *text)
{
    size_t length = utf8_cut(text, strlen(text), size - 1);
    memcpy(to, text, length);
    to[length] = '\0';
}

void run_answered(struct run *run, double time_s, enum crew_answer answer, const char *note)
{
    uint32_t *count = answer == CREW_YES ? &run->report->yes : answer == CREW_NO ? &run->report->no : &run->report->skip;
    struct engine_verdict *verdict = new_verdict(run);
    (*count)++;
    if (verdict) {
        *verdict = (struct engine_verdict){ .fixture = run->wish.fixture, .answer = answer, .at_s = time_s };
        copy_text(verdict->question, sizeof verdict->question, run->wish.question);
        copy_text(verdict->note, sizeof verdict->note, note);
    }
    trace_event(&run->trace, time_s, "answer",
                json_pack("{s:o,s:s,s:o}", "fixture", fixture_id(run->engine, run->wish.fixture), "answer", answers[answer],
                          "note", trace_text(note)));
}

bool run_wait(struct run *run, int64_t now_ns, int64_t *until_ns)
{
    *until_ns = run->wish.until_ns > now_ns ? run->wish.until_ns : now_ns;
    if (*until_ns > (int64_t)(ENGINE_TIME_LIMIT_S * 1e9))
        run_fail(run, RIG_ESCRIPT, "waits until %.3f s: a run is at most %.0f s long", (double)*until_ns / 1e9,
                 ENGINE_TIME_LIMIT_S);
    else if (++run->wakes > RUN_WAKES)
        run_fail(run, RIG_ESCRIPT, "went on %u times within one frame, at %.3f s", RUN_WAKES, (double)now_ns / 1e9);
    return !run->result;
}

void engine_report_fini(struct engine_report *report)
{
    free(report->verdicts);
    report->verdicts = NULL;
    report->verdict_count = 0;
}
