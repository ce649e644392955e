/* A sequence: its host, and the player through which the engine plays it. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "script_internal.h"

#define MESSAGES_A_TURN 64           /* then the engine has its turn */
#define TURN_NS 100000               /* in a live run: a flood of commands must not make frames late */

struct script_sequence {
    const struct show *show;
    const struct script *script;
    struct script_process process;
    struct script_libs libs;
    struct script_about about;
    unsigned char *granted;          /* one bit a fixture; NULL: all */
    struct engine_player player;
    enum { SEQUENCE_READY, SEQUENCE_RUNS, SEQUENCE_WAITS, SEQUENCE_OVER } state;
    struct engine_wish wish;         /* what it waits for, or how it ended */
    int64_t burst_ns;                /* run time at which the burst began */
    unsigned commands, says;         /* of the burst */
    unsigned prints;
    char **lines; size_t line_count; /* print() before there was a player */
    void (*said)(void *context, const char *text);
    void (*printed)(void *context, const char *text);
    void *context;
};

static void keep_line(void *context, const char *text)
{
    struct script_sequence *sequence = context;
    if (sequence->line_count > LINK_PRINTS)
        return;
    if (!sequence->lines)
        sequence->lines = calloc(LINK_PRINTS + 1, sizeof *sequence->lines);
    if (sequence->lines && (sequence->lines[sequence->line_count] = strdup(text)))
        sequence->line_count++;
}

static int load(struct script_sequence *sequence, struct rig_why *why)
{
    struct rig_why inner;
    int err = script__process_load(&sequence->process, &sequence->about, keep_line, sequence, &inner);
    if (err == RIG_EUSAGE)
        return rig_fail(why, err, "%s", inner.text);
    if (err)
        return script__fail(why, err, sequence->script, inner.text);
    if (sequence->about.kind != SCRIPT_SEQUENCE)
        return rig_fail(why, RIG_ESCRIPT, "%s: is a %s, not a sequence", sequence->script->path,
                        script_kind_name(sequence->about.kind));
    return 0;
}

static int grant(struct script_sequence *sequence, const uint32_t *fixtures, uint32_t fixture_count)
{
    if (!fixtures)
        return 0;
    sequence->granted = calloc(sequence->show->fixture_count / 8 + 1, 1);
    for (uint32_t i = 0; sequence->granted && i < fixture_count; i++)
        sequence->granted[fixtures[i] / 8] |= (unsigned char)(1u << fixtures[i] % 8);
    return sequence->granted ? 0 : RIG_ENOMEM;
}

int script_sequence_start(const struct show *show, const struct script *script, const uint32_t *fixtures, uint32_t fixture_count,
                          const struct script_set *sets, size_t set_count, struct script_sequence **out, struct rig_why *why)
{
    struct script_sequence *sequence = calloc(1, sizeof *sequence);
    *out = NULL;
    if (!sequence)
        return rig_fail(why, RIG_ENOMEM, "%s: no memory", script->path);
    sequence->show = show;
    sequence->script = script;
    struct host_start start = { .show = show, .script = script, .libs = sequence->libs.offered, .fixtures = fixtures,
                                .fixture_count = fixture_count, .sets = sets, .set_count = set_count,
                                .cpu_backstop_s = (unsigned)ENGINE_TIME_LIMIT_S };
    start.lib_count = script__libs_offer(&sequence->libs, script);
    sequence->process.fd = sequence->process.report_fd = -1;
    int err = grant(sequence, fixtures, fixture_count);
    if (err)
        rig_fail(why, err, "%s: no memory", script->path);
    if (!err)
        err = script__process_start(&sequence->process, &start, why);
    if (!err)
        err = load(sequence, why);
    if (err) {
        script_sequence_free(sequence);
        return err;
    }
    *out = sequence;
    return 0;
}

const struct script_about *script_sequence_about(const struct script_sequence *sequence)
{
    return &sequence->about;
}

static void over(struct script_sequence *sequence, enum engine_wish_kind kind, const char *text)
{
    script__process_end(&sequence->process, "");
    sequence->state = SEQUENCE_OVER;
    if (sequence->process.end.code) {
        kind = WISH_BROKEN;
        text = sequence->process.end.text;
    }
    memset(&sequence->wish, 0, sizeof sequence->wish);
    sequence->wish.kind = kind;
    sequence->wish.fixture = SHOW_UNKNOWN;
    if (kind == WISH_BROKEN)
        script__fail(&sequence->wish.why, RIG_ESCRIPT, sequence->script, text);
}

static int64_t monotonic_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

/* The first command of a run is "go". */
static void go(struct script_sequence *sequence, int64_t now_ns)
{
    sequence->state = SEQUENCE_RUNS;
    sequence->burst_ns = now_ns;
    script__process_burst(&sequence->process, link_run_limit_s(SCRIPT_SEQUENCE, 0));
    script__process_reply(&sequence->process, LINK_GO, now_ns, CREW_SKIP, NULL);
}

static void player_resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    struct script_sequence *sequence = context;
    if (sequence->state == SEQUENCE_READY)
        go(sequence, now_ns);
    if (sequence->state != SEQUENCE_WAITS)
        return;
    script__process_silent(&sequence->process);
    sequence->state = SEQUENCE_RUNS;
    if (now_ns - sequence->burst_ns >= LINK_BURST_NS) {
        sequence->burst_ns = now_ns;
        sequence->commands = sequence->says = 0;
        script__process_burst(&sequence->process, link_run_limit_s(SCRIPT_SEQUENCE, 0));
    }
    script__process_reply(&sequence->process, LINK_RESUME, now_ns, answer, note);
}

/* Give a command to the engine, which checks what the script may drive. */
static int command(struct engine *engine, const struct link_record *record, struct rig_why *why)
{
    switch (record->op) {
    case LINK_SET:
        return engine_set(engine, record->time_ns, record->fixture, record->cell, record->param, record->percent, why);
    case LINK_FADE:
        return engine_fade(engine, record->time_ns, record->fixture, record->cell, record->param, record->percent,
                           record->duration_ns, why);
    case LINK_SLOT:
        return engine_slot(engine, record->time_ns, record->universe, record->slot, record->percent, why);
    default:
        return engine_clear(engine, record->time_ns, record->fixture, record->cell, why);
    }
}

static void say(struct script_sequence *sequence, struct engine *engine, const char *text)
{
    if (sequence->says++ > LINK_SAYS) {
        script__process_refuse(&sequence->process, "more lines of crew.say than are allowed");
        return;
    }
    engine_said(engine, text);
    if (sequence->said)
        sequence->said(sequence->context, text);
}

static void print(struct script_sequence *sequence, const char *text)
{
    if (sequence->prints++ > LINK_PRINTS)
        script__process_refuse(&sequence->process, "more lines of print than are allowed");
    else if (sequence->printed)
        sequence->printed(sequence->context, text);
}

static bool may_ask(const struct script_sequence *sequence, uint32_t fixture)
{
    return fixture == SHOW_UNKNOWN || !sequence->granted || sequence->granted[fixture / 8] & 1u << fixture % 8;
}

static void wish(struct script_sequence *sequence, const struct link_record *record)
{
    struct engine_wish *out = &sequence->wish;
    if (record->op == LINK_ASK && !may_ask(sequence, record->fixture)) {
        char name[128], text[200];
        show_describe(sequence->show, SUBJECT_FIXTURE, record->fixture, name, sizeof name);
        snprintf(text, sizeof text, "asks about %s, which is not among the fixtures of this run", name);
        over(sequence, WISH_BROKEN, text);
        return;
    }
    sequence->state = SEQUENCE_WAITS;
    memset(out, 0, sizeof *out);
    out->kind = record->op == LINK_WAIT ? WISH_WAIT : WISH_ASK;
    out->until_ns = record->time_ns;
    out->fixture = record->op == LINK_ASK ? record->fixture : SHOW_UNKNOWN;
    if (record->op == LINK_ASK)
        link_text(out->question, sizeof out->question, record->text, record->length);
}

static void take_record(struct script_sequence *sequence, struct engine *engine, const struct link_record *record)
{
    struct rig_why why;
    switch (record->op) {
    case LINK_SET:
    case LINK_FADE:
    case LINK_SLOT:
    case LINK_CLEAR:
        if (++sequence->commands > LINK_COMMANDS)
            script__process_refuse(&sequence->process, "more commands than a burst can hold");
        else if (command(engine, record, &why))
            over(sequence, WISH_BROKEN, why.text);
        return;
    case LINK_SAY:
        say(sequence, engine, record->text);
        return;
    case LINK_PRINT:
        print(sequence, record->text);
        return;
    case LINK_FADES:
        script__process_reply(&sequence->process, LINK_RESUME, engine_fades_end(engine, record->time_ns), CREW_SKIP, NULL);
        return;
    case LINK_DONE:
        over(sequence, WISH_DONE, NULL);
        return;
    case LINK_ERROR:
        over(sequence, WISH_BROKEN, record->text);
        return;
    default:                         /* WAIT and ASK: others are not allowed to a sequence */
        wish(sequence, record);
    }
}

static void player_collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *out)
{
    struct script_sequence *sequence = context;
    struct link_record record;
    int64_t end_ns = monotonic_ns() + (timeout_ms > 0 ? timeout_ms * INT64_C(1000000) : TURN_NS);
    bool more = false;
    if (sequence->state == SEQUENCE_READY)
        go(sequence, 0);
    if (sequence->state == SEQUENCE_WAITS) {
        script__process_silent(&sequence->process);
        if (sequence->process.ended)
            over(sequence, WISH_BROKEN, NULL);
    }
    unsigned first_message = sequence->process.messages;
    while (sequence->state == SEQUENCE_RUNS && sequence->process.messages - first_message < MESSAGES_A_TURN && !more) {
        enum script_event event = script__process_next(&sequence->process, LINK_ALLOW_SEQUENCE, &record);
        if (event == SCRIPT_RECORD) {
            take_record(sequence, engine, &record);
            more = timeout_ms <= 0 && monotonic_ns() >= end_ns;
        } else if (event == SCRIPT_ENDED)
            over(sequence, WISH_BROKEN, NULL);
        else {
            int64_t left_ms = timeout_ms > 0 ? (end_ns - monotonic_ns() + 999999) / 1000000 : 0;
            struct pollfd pollfd = { sequence->process.fd, POLLIN, 0 };
            if (left_ms <= 0)
                break;
            poll(&pollfd, 1, left_ms < SCRIPT_POLL_MS ? (int)left_ms : SCRIPT_POLL_MS);
        }
    }
    if (sequence->state == SEQUENCE_WAITS || sequence->state == SEQUENCE_OVER)
        *out = sequence->wish;
    else
        *out = (struct engine_wish){ .kind = more ? WISH_AGAIN : WISH_MORE, .fixture = SHOW_UNKNOWN };
}

static void player_stop(void *context)
{
    struct script_sequence *sequence = context;
    if (sequence->state != SEQUENCE_OVER)
        over(sequence, WISH_DONE, NULL);
}

struct engine_player *script_sequence_player(struct script_sequence *sequence, void (*said)(void *context, const char *text),
                                             void (*printed)(void *context, const char *text), void *context)
{
    sequence->said = said;
    sequence->printed = printed;
    sequence->context = context;
    sequence->player = (struct engine_player){ sequence, sequence->process.fd, player_resume, player_collect, player_stop };
    for (size_t i = 0; i < sequence->line_count; i++) {
        print(sequence, sequence->lines[i]);
        free(sequence->lines[i]);
    }
    sequence->line_count = 0;
    return &sequence->player;
}

void script_sequence_free(struct script_sequence *sequence)
{
    if (!sequence)
        return;
    script__process_fini(&sequence->process);
    script__libs_fini(&sequence->libs);
    for (size_t i = 0; i < sequence->line_count; i++)
        free(sequence->lines[i]);
    free(sequence->lines);
    free(sequence->granted);
    free(sequence);
}
