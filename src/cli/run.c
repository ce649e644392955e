#include "run.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli.h"
#include "explain.h"
#include "output.h"
#include "rigcall/radio.h"
#include "rigcall/showfile.h"

static const struct option run_options[] = {
    { .name = "dry", .kind = OPTION_FLAG, .help = "play in computed time and send nothing (the default)" },
    { .name = "live", .kind = OPTION_FLAG, .help = "send it to the rig; see the cautions" },
    { .name = "twin", .kind = OPTION_FLAG, .hidden = true },
    { .name = "where", .kind = OPTION_TEXT, .value = "FILTER", .help = "only these fixtures: 'key=value[,value]; key=...'" },
    { .name = "set", .kind = OPTION_TEXT, .repeat = true, .value = "P=V",
      .help = "give the sequence's parameter P the value V" },
    { .name = "rate", .kind = OPTION_NUMBER, .least = ENGINE_RATE_LEAST, .most = ENGINE_RATE_MOST, .value = "HZ",
      .help = "frames a second, 1 to 44; default 40" },
    { .name = "pcap", .kind = OPTION_TEXT, .value = "FILE", .help = "capture what is sent, or in a dry run would be" },
    { .name = "trace", .kind = OPTION_TEXT, .value = "FILE", .help = "write changes of levels as JSON lines" },
    { .name = "if", .kind = OPTION_TEXT, .repeat = true, .value = "NAME",
      .help = "live: a network interface for multicast and for listening first" },
    { .name = "ipv6", .kind = OPTION_FLAG, .help = "multicast by IPv6" },
    { .name = "to", .kind = OPTION_TEXT, .value = "ADDR",
      .help = "send every universe to this IPv4 or IPv6 address, not by multicast" },
    { .name = "port", .kind = OPTION_INTEGER, .least = 1, .most = 65535, .value = "N", .help = "UDP port; default 5568" },
    { .name = "ttl", .kind = OPTION_INTEGER, .least = 1, .most = 255, .value = "N",
      .help = "hops of a packet; default 8 by multicast, else 64" },
    { .name = "dscp", .kind = OPTION_INTEGER, .least = 0, .most = 63, .value = "N",
      .help = "class of service in the DS field of packets; default 0" },
    { .name = "preview", .kind = OPTION_FLAG, .help = "mark the data as for visualisers only, not for live output" },
    { .name = "answer", .kind = OPTION_CHOICE, .choices = "skip yes", .value = "skip|yes",
      .help = "live: answer every question so, ask nobody" },
    { .name = "beside", .kind = OPTION_FLAG, .help = "live: go on though another source sends to these universes" },
    { .name = "sync", .kind = OPTION_INTEGER, .least = SACN_FIRST_UNIVERSE, .most = SACN_LAST_UNIVERSE, .value = "N",
      .help = "hold every frame until a synchronisation packet on universe N, 1 to 63999" },
    { .name = "force-sync", .kind = OPTION_FLAG,
      .help = "with --sync: receivers that lose the synchronisation packets go on without" },
    { .name = "realtime", .kind = OPTION_FLAG,
      .help = "live: ask for real-time scheduling, for even frames on a busy machine" },
    { .name = "arm", .kind = OPTION_TEXT, .repeat = true, .value = "ID,...",
      .help = "drive these fixtures with a hazard; a person must confirm" },
    { .name = "allow-flash", .kind = OPTION_FLAG, .help = "let strobe slots out at their defaults; a person must confirm" },
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json",
      .help = "of the summary: text (default) or json" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE", .help = "write the summary to FILE" },
};

static int check_usage(const struct options *options, struct rig_why *why)
{
    if (options_has(options, "twin"))
        return rig_fail(why, RIG_EUSAGE, "run: --twin is not in this version");
    if (options_has(options, "live") && options_has(options, "dry"))
        return rig_fail(why, RIG_EUSAGE, "run: --live and --dry exclude each other");
    /* Light must not go out by whatever way the machine's routes happen to say. */
    if (options_has(options, "live") && !options_has(options, "if") && !options_has(options, "to"))
        return rig_fail(why, RIG_EUSAGE, "run: --live needs --if NAME, the interface of the lighting network, or --to ADDR");
    const char *to = options_text(options, "to", NULL);
    union sacn_address address;
    if (to && !(sacn_address_parse(to, SACN_PORT, &address) && sacn_address_is_host(&address)))
        return rig_fail(why, RIG_EUSAGE, "run: --to \"%s\", expected the IPv4 or IPv6 address of a host; one that begins with fe80: "
                        "needs its interface, as in fe80::1%%eth0", to);
    if (options_has(options, "ipv6") && to)
        return rig_fail(why, RIG_EUSAGE, "run: --ipv6 and --to exclude each other: --ipv6 chooses multicast groups");
    size_t at = 0, interfaces = 0;
    while (options_next(options, "if", &at))
        interfaces++;
    if (interfaces > SACN_INTERFACES)
        return rig_fail(why, RIG_EUSAGE, "run: --if is given %zu times, %d are allowed", interfaces, SACN_INTERFACES);
    if (options_has(options, "force-sync") && !options_has(options, "sync"))
        return rig_fail(why, RIG_EUSAGE, "run: --force-sync needs --sync N");
    const char *pcap = options_text(options, "pcap", ""), *trace = options_text(options, "trace", "");
    if (!strcmp(pcap, "-") && !strcmp(trace, "-"))
        return rig_fail(why, RIG_EUSAGE, "run: --pcap and --trace cannot both go to standard output");
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

int run_start_sequence(struct run *run, struct rig_why *why)
{
    script_sequence_free(run->sequence);
    run->sequence = NULL;
    return script_sequence_start(run->show, &run->scripts.items[0], run->fixtures, run->fixture_count, run->sets, run->set_count,
                                 &run->sequence, why);
}

int run_make_engine(struct run *run, struct rig_why *why)
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
        err = find_sets(run->options, "run", &run->sets, &run->set_count, why);
    if (!err)
        err = showfile_load(run->show_path, &run->show, why);
    if (!err)
        err = showfile_require_sound(run->show, run->show_path, why);
    if (!err)
        err = select_fixtures(run, why);
    if (!err)
        err = find_script(&find_sequence, run->sequence_name, run->show_path, &run->scripts, why);
    if (!err)
        err = run_start_sequence(run, why);
    if (!err)
        err = guard_confirm(run->options, run->show, run->sequence_name, &run->terminal, &run->confirmed, why);
    if (!err)
        err = run_make_engine(run, why);
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
    int err = run->live ? run_play_live(run, &play, &why) : run_play_dry(run, &play, &why);
    bool played = play.player != NULL;
    int bad = run_close_files(run, &after);
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
    find_sets_free(run->sets, run->set_count);
    free(run->fixtures);
    guard_confirmed_fini(&run->confirmed);
    terminal_close(&run->terminal);
    if (run->lock >= 0)
        close(run->lock);
    show_free(run->show);
}

/* A stopped process sends nothing, and the rig would hold what it last got. The script's host inherits this. */
static void ignore_stops(void)
{
    signal(SIGTSTP, SIG_IGN);
    signal(SIGTTIN, SIG_IGN);
    signal(SIGTTOU, SIG_IGN);
}

static int run_run(const struct options *options)
{
    struct rig_why why;
    struct run run = { .options = options, .show_path = options->words[0], .sequence_name = options->words[1],
                       .live = options_has(options, "live"), .lock = -1 };
    if (run.live)
        ignore_stops();
    terminal_open(&run.terminal);
    int status = prepare(&run, &why) ? say_failure(&why) : play_and_tell(&run);
    run_fini(&run);
    return status;
}

static int explain(const struct options *options)
{
    const char *show_path = options->words[0], *name = options->word_count > 1 ? options->words[1] : NULL;
    int status = explain_scripts(&find_sequence, show_path, name);
    if (!status && name)
        printf("\nrigcall run --help explains the options.\n");
    else if (!status)
        printf("\nrigcall run %s SEQUENCE --help explains one, with its parameters; rigcall run --help the options.\n", show_path);
    return status;
}

const struct command command_run = {
    .name = "run",
    .about = "Plays a test sequence: dry, or live as streaming ACN (ANSI E1.31).",
    .words = "SHOW SEQUENCE",
    .words_least = 2, .words_most = 2,
    .options = run_options, .option_count = sizeof run_options / sizeof run_options[0],
    .details = "SEQUENCE is the name of a shipped sequence or of one in sequences/ beside the show, or a path.\n"
               "rigcall run SHOW --help lists them; rigcall run SHOW SEQUENCE --help explains one, with its parameters.\n\n"
               "A dry run sends nothing and answers every question with skip; its capture holds the addresses of --to and --port.\n"
               "A live run needs --if or --to, and first listens for other sources for 2.6 s; with --if more\n"
               "than once (8 at most) multicast leaves on each. Its questions are asked at the terminal. Without a terminal a sequence\n"
               "that asks needs --answer (found out before output starts, for questions in its first ten minutes). Exit status 1\n"
               "when an answer was no or the run was interrupted.\n\n"
               "Keys of --where: id (and ranges 101-120), name, type, mode, site, tag, universe, transmitter; all must hold.",
    .example = "  rigcall run harbour.show.lua colour-roll --where 'site=quay; tag=rail' --pcap roll.pcap\n"
               "  rigcall run harbour.show.lua level-all --set level=30 --live --if eth0",
    .cautions = "  Flashing light can bring on seizures in people with photosensitive epilepsy: warn everybody who can see the rig.\n"
                "  Moving, hot and hazard fixtures can hurt: keep people away, and arm nothing that you cannot see.\n"
                "  Radio power and band rules differ by country: local rules and licensed practice come first.\n"
                "  DMX512 and streaming ACN are not for life safety: never for pyrotechnics, lifts, brakes or emergency light.",
    .run = run_run,
    .explain = explain,
};
