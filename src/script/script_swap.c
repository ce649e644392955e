/* Swap policies: one host that sees ranked plans and chooses, refuses or asks. */
#include <poll.h>
#include <stdio.h>
#include <string.h>

#include "script_internal.h"

/* What take_record() says. */
enum turn { TURN_GO_ON, TURN_OVER };

struct decide {
    const struct script_swap_options *options;
    struct script_process process;
    struct script_verdict *verdict;
    unsigned prints, questions;
    int err;                         /* how it ended, with the sentence in why */
    struct rig_why why;
};

static void print(void *context, const char *text)
{
    struct decide *decide = context;
    if (decide->prints++ > LINK_PRINTS)
        script__process_refuse(&decide->process, "more lines of print than are allowed");
    else if (decide->options->printed)
        decide->options->printed(decide->options->context, text);
}

static enum turn broke(struct decide *decide, const char *text)
{
    decide->err = script__fail(&decide->why, RIG_ESCRIPT, decide->options->script, text);
    return TURN_OVER;
}

static enum turn answer(struct decide *decide, const struct link_record *record)
{
    enum crew_answer given = CREW_SKIP;
    char note[256] = "";
    if (record->fixture != SHOW_UNKNOWN || decide->questions++ >= LINK_QUESTIONS) {
        script__process_refuse(&decide->process, record->fixture == SHOW_UNKNOWN ? "more questions than are allowed"
                                                                                 : "a question about a fixture");
        return TURN_GO_ON;
    }
    decide->err = decide->options->ask(decide->options->context, record->text, &given, note, sizeof note, &decide->why);
    if (decide->err)
        return TURN_OVER;
    script__process_silent(&decide->process);
    script__process_reply(&decide->process, LINK_RESUME, 0, given, note);
    return TURN_GO_ON;
}

/* The last word: nothing may follow it. */
static enum turn take_verdict(struct decide *decide, const struct link_record *record)
{
    const struct script_swap_options *options = decide->options;
    char text[96];
    if (record->plan > options->plan_count) {
        snprintf(text, sizeof text, "chose plan %u of %u and was not believed", record->plan, options->plan_count);
        return broke(decide, text);
    }
    script__process_last(&decide->process);
    if (decide->process.end.code)
        return broke(decide, decide->process.end.text);
    decide->verdict->plan = record->plan;
    link_text(decide->verdict->why, sizeof decide->verdict->why, record->text, record->length);
    return TURN_OVER;
}

static enum turn take_record(struct decide *decide, const struct link_record *record)
{
    switch (record->op) {
    case LINK_PRINT:
        print(decide, record->text);
        return TURN_GO_ON;
    case LINK_ASK:
        return answer(decide, record);
    case LINK_VERDICT:
        return take_verdict(decide, record);
    default:                         /* LINK_ERROR: others are not allowed to a policy */
        return broke(decide, record->text);
    }
}

static void run(struct decide *decide)
{
    struct link_record record;
    script__process_burst(&decide->process, link_run_limit_s(SCRIPT_SWAP, 0));
    script__process_reply(&decide->process, LINK_GO, 0, CREW_SKIP, NULL);
    for (enum turn turn = TURN_GO_ON; turn == TURN_GO_ON;) {
        switch (script__process_next(&decide->process, LINK_ALLOW_SWAP, &record)) {
        case SCRIPT_IDLE: {
            struct pollfd pollfd = { decide->process.fd, POLLIN, 0 };
            poll(&pollfd, 1, SCRIPT_POLL_MS);
            break;
        }
        case SCRIPT_ENDED:
            turn = broke(decide, decide->process.end.text);
            break;
        case SCRIPT_RECORD:
            turn = take_record(decide, &record);
        }
    }
}

static void load_and_run(struct decide *decide)
{
    struct rig_why inner;
    struct script_about about;
    int err = script__process_load(&decide->process, &about, print, decide, &inner);
    if (err == RIG_EUSAGE) {
        decide->err = rig_fail(&decide->why, err, "%s", inner.text);
    } else if (err) {
        broke(decide, inner.text);
    } else if (about.kind != SCRIPT_SWAP) {
        snprintf(inner.text, sizeof inner.text, "is a %s, not a swap policy", script_kind_name(about.kind));
        broke(decide, inner.text);
    } else {
        snprintf(decide->verdict->name, sizeof decide->verdict->name, "%s", about.name);
        run(decide);
    }
}

int script_decide(const struct show *show, const struct script_swap_options *options, struct script_verdict *verdict, struct rig_why *why)
{
    struct decide decide = { .options = options, .verdict = verdict };
    struct script_libs libs = { 0 };
    struct host_start start = { .show = show, .script = options->script, .libs = libs.offered, .sets = options->sets,
                                .set_count = options->set_count, .plans = options->plans, .plan_count = options->plan_count };
    *verdict = (struct script_verdict){ .plan = 0 };
    start.lib_count = script__libs_offer(&libs, options->script);
    start.cpu_backstop_s = (unsigned)(link_load_limit_s() + link_run_limit_s(SCRIPT_SWAP, 0)) + 2;
    int err = script__process_start(&decide.process, &start, why);
    if (!err) {
        load_and_run(&decide);
        err = decide.err;
        if (err)
            rig_fail(why, err, "%s", decide.why.text);
        script__process_fini(&decide.process);
    }
    script__libs_fini(&libs);
    return err;
}
