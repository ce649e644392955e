/* The playing itself: files opened, the sequence rehearsed where nobody can answer it, then dry or live. */
#include <errno.h>
#include <string.h>

#include "cli.h"
#include "run.h"

/* A question that comes later than this into a run is only met live, and ends the run there. */
#define QUESTION_WITHIN_S 600

static const char caution[] =
    "Live output. Flashing light can bring on seizures in people with photosensitive epilepsy; moving, hot and hazard\n"
    "fixtures can hurt whoever is near. Everybody near the rig must know. Ctrl-C puts every level back.\n"
    "Listening for other sources first, 2.6 s.\n";

static void told(void *context, const char *text)
{
    (void)context;
    say("%s", text);
}

static void said(void *context, const char *text)
{
    struct run *run = context;
    progress_end(&run->watch.progress);
    if (run->live && run->terminal.fd >= 0)
        terminal_print(&run->terminal, "%s\n", text);
    else
        fprintf(stderr, "%s\n", text);
}

static void printed(void *context, const char *text)
{
    struct run *run = context;
    progress_end(&run->watch.progress);
    fprintf(stderr, "%s: %s\n", run->sequence_name, text);
}

static int open_files(struct run *run, struct rig_why *why)
{
    const char *pcap = options_text(run->options, "pcap", NULL), *trace = options_text(run->options, "trace", NULL);
    int err = pcap ? sacn_capture_open(pcap, &run->capture, why) : 0;
    if (err || !trace)
        return err;
    run->trace = strcmp(trace, "-") ? fopen(trace, "w") : stdout;
    return run->trace ? 0 : rig_fail(why, RIG_EIO, "%s: %s", trace, strerror(errno));
}

int run_close_files(struct run *run, struct rig_why *why)
{
    int err = 0;
    if (run->capture) {
        run->captured = sacn_capture_packets(run->capture);
        err = sacn_capture_close(run->capture, why);
        run->capture = NULL;
    }
    if (run->trace) {
        bool bad = fflush(run->trace) || ferror(run->trace);
        int error = errno;
        if (run->trace != stdout)
            bad |= fclose(run->trace) != 0;
        else
            clearerr(stdout);
        if (bad && !err)
            err = rig_fail(why, RIG_EIO, "%s: the trace is not whole: %s", options_text(run->options, "trace", ""), strerror(error));
        run->trace = NULL;
    }
    return err;
}

static void source_of(const struct run *run, const uint8_t cid[16], struct sacn_source *source)
{
    char name[SACN_NAME_SIZE * 4];
    snprintf(name, sizeof name, "rigcall %s", run->show->name ? run->show->name : "");
    sacn_source_init(source, cid, name);
}

/* Play it dry with nobody to ask, as far as a question can be expected: what would go wrong has then gone wrong unsent. */
static int rehearse(struct run *run, struct rig_why *why)
{
    struct mute mute;
    struct engine_crew crew = { .fd = -1, .standing = CREW_SKIP };
    struct engine_report report = { 0 };
    mute_init(&mute, script_sequence_player(run->sequence, NULL, NULL, NULL), (int64_t)QUESTION_WITHIN_S * 1000000000);
    struct engine_play play = { .engine = run->engine, .player = &mute.player, .crew = &crew };
    uint8_t cid[16];
    sacn_cid_dry(run->show->name ? run->show->name : "", cid);
    source_of(run, cid, &play.source);
    int err = engine_play_dry(&play, &report, why);
    engine_report_fini(&report);
    if (mute.asked)
        err = rig_fail(why, RIG_EUSAGE, "run: %s asks questions; without a terminal give --answer skip or --answer yes",
                       run->sequence_name);
    if (!err)
        err = run_start_sequence(run, why);
    return err ? err : run_make_engine(run, why);
}

static struct sacn_target target_of(const struct options *options)
{
    struct sacn_target target = { .to = options_text(options, "to", NULL),
                                  .port = (uint16_t)options_number(options, "port", SACN_PORT),
                                  .ipv6 = options_has(options, "ipv6"), .ttl = (uint8_t)options_number(options, "ttl", 0),
                                  .dscp = (uint8_t)options_number(options, "dscp", 0) };
    size_t at = 0;
    const char *name;
    while (target.interface_count < SACN_INTERFACES && (name = options_next(options, "if", &at)))
        target.interfaces[target.interface_count++] = name;
    return target;
}

/* What is the same on the wire and in a dry capture. */
static void set_wire(const struct options *options, struct engine_play *play)
{
    play->target = target_of(options);
    play->preview = options_has(options, "preview");
    play->sync_address = (uint16_t)options_number(options, "sync", 0);
    play->force_sync = options_has(options, "force-sync");
}

int run_play_live(struct run *run, struct engine_play *play, struct rig_why *why)
{
    uint8_t cid[16];
    const char *answer = options_text(run->options, "answer", NULL);
    bool silent = run->terminal.fd < 0 && !answer;
    struct mute mute;
    int err = lock_show(run->show->name ? run->show->name : "", &run->lock, why);
    if (!err)
        err = sacn_cid_live(run->show->name ? run->show->name : "", cid, why);
    if (!err && silent)
        err = rehearse(run, why);
    if (!err)
        err = open_files(run, why);
    if (err)
        return err;
    bool asked = run->terminal.fd >= 0 && !answer;
    struct engine_crew crew = { .context = &run->terminal, .fd = asked ? run->terminal.fd : -1, .told = told,
                                .ask = asked ? terminal_ask : NULL, .read = asked ? terminal_read : NULL,
                                .standing = answer && !strcmp(answer, "yes") ? CREW_YES : CREW_SKIP };
    source_of(run, cid, &play->source);
    play->engine = run->engine;
    play->crew = &crew;
    play->player = script_sequence_player(run->sequence, said, printed, run);
    if (silent) {
        mute_init(&mute, play->player, INT64_MAX);
        play->player = &mute.player;
    }
    set_wire(run->options, play);
    play->beside = options_has(run->options, "beside");
    play->realtime = options_has(run->options, "realtime");
    play->capture = run->capture;
    play->trace = run->trace;
    fputs(caution, stderr);
    err = engine_play_live(play, &run->report, why);
    if (err && silent && mute.asked)
        rig_fail(why, err = RIG_EUSAGE, "run: %s asked a question; without a terminal give --answer skip or --answer yes",
                 run->sequence_name);
    return err;
}

int run_play_dry(struct run *run, struct engine_play *play, struct rig_why *why)
{
    uint8_t cid[16];
    struct engine_crew crew = { .fd = -1, .standing = CREW_SKIP, .told = told };
    int err = open_files(run, why);
    if (err)
        return err;
    sacn_cid_dry(run->show->name ? run->show->name : "", cid);
    source_of(run, cid, &play->source);
    play->engine = run->engine;
    play->crew = &crew;
    watch_init(&run->watch, script_sequence_player(run->sequence, said, printed, run));
    play->player = &run->watch.player;
    set_wire(run->options, play);
    play->capture = run->capture;
    play->trace = run->trace;
    err = engine_play_dry(play, &run->report, why);
    progress_end(&run->watch.progress);
    return err;
}
