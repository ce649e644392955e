#include "run.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli.h"
#include "output.h"
#include "rigcall/radio.h"
#include "rigcall/showfile.h"

/* A question that comes later than this into a run is only met live, and ends the run there. */
#define QUESTION_WITHIN_S 600

static const struct option run_options[] = {
    { .name = "dry", .kind = OPTION_FLAG, .help = "play in computed time and send nothing (the default)" },
    { .name = "live", .kind = OPTION_FLAG, .help = "send it to the rig; see the cautions" },
    { .name = "twin", .kind = OPTION_FLAG, .hidden = true },
    { .name = "where", .kind = OPTION_TEXT, .value = "FILTER", .help = "only these fixtures: 'key=value[,value]; key=...'" },
    { .name = "set", .kind = OPTION_TEXT, .repeat = true, .value = "P=V", .help = "give the sequence's parameter P the value V" },
    { .name = "rate", .kind = OPTION_NUMBER, .least = ENGINE_RATE_LEAST, .most = ENGINE_RATE_MOST, .value = "HZ",
      .help = "frames a second, 1 to 44; default 40" },
    { .name = "pcap", .kind = OPTION_TEXT, .value = "FILE", .help = "capture what is sent, or in a dry run would be" },
    { .name = "trace", .kind = OPTION_TEXT, .value = "FILE", .help = "write changes of levels as JSON lines" },
    { .name = "if", .kind = OPTION_TEXT, .value = "NAME", .help = "live: the network interface for multicast and for listening first" },
    { .name = "to", .kind = OPTION_TEXT, .value = "ADDR", .help = "live: send every universe to this IPv4 address, not by multicast" },
    { .name = "port", .kind = OPTION_INTEGER, .least = 1, .most = 65535, .value = "N", .help = "live: UDP port; default 5568" },
    { .name = "answer", .kind = OPTION_CHOICE, .choices = "skip yes", .value = "skip|yes",
      .help = "live: answer every question so, ask nobody" },
    { .name = "beside", .kind = OPTION_FLAG, .help = "live: go on though another source sends to these universes" },
    { .name = "arm", .kind = OPTION_TEXT, .repeat = true, .value = "ID,...",
      .help = "drive these fixtures with a hazard; a person must confirm" },
    { .name = "allow-flash", .kind = OPTION_FLAG, .help = "let strobe slots out at their defaults; a person must confirm" },
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json", .help = "of the summary: text (default) or json" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE", .help = "write the summary to FILE" },
};

static const char caution[] =
    "Live output. Flashing light can bring on seizures in people with photosensitive epilepsy; moving, hot and hazard\n"
    "fixtures can hurt whoever is near. Everybody near the rig must know. Ctrl-C puts every level back.\n"
    "Listening for other sources first, 2.6 s.\n";

/* All that a run holds, so that one function lets it go. */
struct run {
    const struct options *options;
    const char *show_path, *sequence_name;
    bool live;
    struct show *show;
    uint32_t *fixtures, fixture_count;
    struct script_list scripts;
    struct script_set *sets; size_t set_count;
    struct terminal terminal;
    struct confirmed confirmed;
    int lock;
    struct script_sequence *sequence;
    struct engine *engine;
    struct sacn_capture *capture; uint64_t captured;
    FILE *trace;
    struct engine_report report;
    struct watch watch;
};

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

static int check_usage(const struct options *options, struct rig_why *why)
{
    static const char *const live_only[] = { "if", "to", "port", "answer", "beside" };
    if (options_has(options, "twin"))
        return rig_fail(why, RIG_EUSAGE, "run: --twin is not in this version");
    if (options_has(options, "live") && options_has(options, "dry"))
        return rig_fail(why, RIG_EUSAGE, "run: --live and --dry exclude each other");
    for (size_t i = 0; i < sizeof live_only / sizeof live_only[0]; i++)
        if (options_has(options, live_only[i]) && !options_has(options, "live"))
            return rig_fail(why, RIG_EUSAGE, "run: --%s works only with --live", live_only[i]);
    const char *pcap = options_text(options, "pcap", ""), *trace = options_text(options, "trace", "");
    if (!strcmp(pcap, "-") && !strcmp(trace, "-"))
        return rig_fail(why, RIG_EUSAGE, "run: --pcap and --trace cannot both go to standard output");
    return 0;
}

static int take_sets(struct run *run, struct rig_why *why)
{
    size_t at = 0;
    const char *text;
    run->sets = calloc(run->options->given_count + 1, sizeof *run->sets);
    if (!run->sets)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    while ((text = options_next(run->options, "set", &at))) {
        const char *equals = strchr(text, '=');
        if (!equals || equals == text)
            return rig_fail(why, RIG_EUSAGE, "run: --set \"%s\", expected P=V", text);
        char *name = strndup(text, (size_t)(equals - text));
        if (!name)
            return rig_fail(why, RIG_ENOMEM, "out of memory");
        run->sets[run->set_count++] = (struct script_set){ name, equals + 1 };
    }
    return 0;
}

static int select_fixtures(struct run *run, struct rig_why *why)
{
    struct selection *selection = NULL;
    const char *where = options_text(run->options, "where", NULL);
    int err = where ? selection_parse(where, &selection, why) : 0;
    if (!err && radio_select(run->show, selection, &run->fixtures, &run->fixture_count))
        err = rig_fail(why, RIG_ENOMEM, "out of memory");
    if (!err && !run->fixture_count && where)
        err = rig_fail(why, RIG_EUSAGE, "run: --where \"%s\" selects no fixture", where);
    selection_free(selection);
    return err;
}

static int start_sequence(struct run *run, struct rig_why *why)
{
    script_sequence_free(run->sequence);
    run->sequence = NULL;
    return script_sequence_start(run->show, &run->scripts.items[0], run->fixtures, run->fixture_count, run->sets, run->set_count,
                                 &run->sequence, why);
}

static int make_engine(struct run *run, struct rig_why *why)
{
    struct engine_options options = {
        .rate_hz = options_number(run->options, "rate", ENGINE_RATE), .fixtures = run->fixtures, .fixture_count = run->fixture_count,
        .armed = run->confirmed.armed, .armed_count = run->confirmed.armed_count, .allow_flash = run->confirmed.allow_flash };
    uint32_t universes = 0;
    engine_free(run->engine);
    run->engine = NULL;
    int err = engine_new(run->show, &options, &run->engine, why);
    if (!err)
        engine_universes(run->engine, &universes);
    if (!err && !universes)
        err = rig_fail(why, RIG_EINPUT, "%s: no patched fixture is selected, there is nothing to drive", run->show_path);
    return err;
}

/* What can be wrong without anybody being asked or anything being sent. */
static int prepare(struct run *run, struct rig_why *why)
{
    int err = check_usage(run->options, why);
    if (!err)
        err = take_sets(run, why);
    if (!err)
        err = showfile_load(run->show_path, &run->show, why);
    if (!err)
        err = showfile_require_sound(run->show, run->show_path, why);
    if (!err)
        err = select_fixtures(run, why);
    if (!err)
        err = sequence_find(run->sequence_name, run->show_path, &run->scripts, why);
    if (!err)
        err = start_sequence(run, why);
    if (!err)
        err = guard_confirm(run->options, run->show, run->sequence_name, &run->terminal, &run->confirmed, why);
    if (!err)
        err = make_engine(run, why);
    return err;
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

static int close_files(struct run *run, struct rig_why *why)
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
        err = rig_fail(why, RIG_EUSAGE, "run: %s asks questions; without a terminal give --answer skip or --answer yes", run->sequence_name);
    if (!err)
        err = start_sequence(run, why);
    return err ? err : make_engine(run, why);
}

static int play_live(struct run *run, struct engine_play *play, struct rig_why *why)
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
    struct engine_crew crew = { .context = &run->terminal, .fd = asked ? run->terminal.fd : -1, .ask = asked ? terminal_ask : NULL,
                                .read = asked ? terminal_read : NULL, .standing = answer && !strcmp(answer, "yes") ? CREW_YES : CREW_SKIP,
                                .told = told };
    source_of(run, cid, &play->source);
    play->engine = run->engine;
    play->crew = &crew;
    play->player = script_sequence_player(run->sequence, said, printed, run);
    if (silent) {
        mute_init(&mute, play->player, INT64_MAX);
        play->player = &mute.player;
    }
    play->target = (struct sacn_target){ options_text(run->options, "if", NULL), options_text(run->options, "to", NULL),
                                         (uint16_t)options_number(run->options, "port", SACN_PORT) };
    play->beside = options_has(run->options, "beside");
    play->capture = run->capture;
    play->trace = run->trace;
    fputs(caution, stderr);
    err = engine_play_live(play, &run->report, why);
    if (err && silent && mute.asked)
        rig_fail(why, err = RIG_EUSAGE, "run: %s asked a question; without a terminal give --answer skip or --answer yes",
                 run->sequence_name);
    return err;
}

static int play_dry(struct run *run, struct engine_play *play, struct rig_why *why)
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
    play->capture = run->capture;
    play->trace = run->trace;
    err = engine_play_dry(play, &run->report, why);
    progress_end(&run->watch.progress);
    return err;
}

static int write_summary(struct run *run, int err, const struct rig_why *played, struct rig_why *why)
{
    const char *pcap = options_text(run->options, "pcap", NULL), *trace = options_text(run->options, "trace", NULL);
    const char *path = options_text(run->options, "output", NULL);
    struct summary summary = {
        .show = run->show, .show_path = run->show_path, .sequence = run->sequence_name, .live = run->live, .report = &run->report,
        .pcap = pcap, .pcap_packets = run->captured, .trace = trace, .err = err, .why = played,
        .json = !strcmp(options_text(run->options, "format", "text"), "json") };
    engine_universes(run->engine, &summary.universes);
    bool taken = (pcap && !strcmp(pcap, "-")) || (trace && !strcmp(trace, "-"));
    if (taken && (!path || !strcmp(path, "-")))
        return summary_write(&summary, stderr, why);
    struct output output;
    int bad = output_open(&output, path, why);
    if (!bad)
        bad = summary_write(&summary, output.stream, why);
    if (!bad)
        bad = output_close(&output, why);
    output_drop(&output);
    return bad;
}

static int play_and_tell(struct run *run)
{
    struct rig_why why = { 0 }, after = { 0 };
    struct engine_play play = { 0 };
    int err = run->live ? play_live(run, &play, &why) : play_dry(run, &play, &why);
    bool played = play.player != NULL;
    int bad = close_files(run, &after);
    int status = 0;
    if (err && !(err == RIG_EFAILED && run->report.interrupted))
        status = say_failure(&why);
    else if (err || run->report.no)
        status = rig_exit_status(RIG_EFAILED);
    if (bad && !err)
        status = say_failure(&after);
    if (played && write_summary(run, err, &why, &after) && !status)
        status = say_failure(&after);
    return status;
}

static void run_fini(struct run *run)
{
    script_sequence_free(run->sequence);
    engine_free(run->engine);
    engine_report_fini(&run->report);
    script_list_free(&run->scripts);
    for (size_t i = 0; i < run->set_count; i++)
        free((void *)run->sets[i].name);
    free(run->sets);
    free(run->fixtures);
    guard_confirmed_fini(&run->confirmed);
    terminal_close(&run->terminal);
    if (run->lock >= 0)
        close(run->lock);
    show_free(run->show);
}

static int run_run(const struct options *options)
{
    struct rig_why why;
    struct run run = { .options = options, .show_path = options->words[0], .sequence_name = options->words[1],
                       .live = options_has(options, "live"), .lock = -1 };
    terminal_open(&run.terminal);
    int status = prepare(&run, &why) ? say_failure(&why) : play_and_tell(&run);
    run_fini(&run);
    return status;
}

const struct command command_run = {
    .name = "run",
    .about = "Plays a test sequence: dry, or live as streaming ACN (ANSI E1.31).",
    .words = "SHOW SEQUENCE",
    .words_least = 2, .words_most = 2,
    .options = run_options, .option_count = sizeof run_options / sizeof run_options[0],
    .details = "SEQUENCE is the name of a shipped sequence or of one in sequences/ beside the show, or a path. A dry run sends nothing\n"
               "and answers every question with skip. A live run first listens for other sources for 2.6 s; its questions are asked at\n"
               "the terminal. Without a terminal a sequence that asks needs --answer (found out before output starts, for questions in\n"
               "its first ten minutes). Exit status 1 when an answer was no or the run was interrupted.\n\n"
               "Keys of --where: id (and ranges 101-120), name, type, mode, site, tag, universe, transmitter; all must hold.",
    .example = "  rigcall run harbour.show.lua colour-roll --where 'site=quay; tag=rail' --pcap roll.pcap\n"
               "  rigcall run harbour.show.lua level-all --set level=30 --live --if eth0",
    .cautions = "  Flashing light can bring on seizures in people with photosensitive epilepsy: warn everybody who can see the rig.\n"
                "  Moving, hot and hazard fixtures can hurt: keep people away, and arm nothing that you cannot see.\n"
                "  Radio power and band rules differ by country: local rules and licensed practice come first.\n"
                "  DMX512 and streaming ACN are not for life safety: never for pyrotechnics, lifts, brakes or emergency light.",
    .run = run_run,
};
