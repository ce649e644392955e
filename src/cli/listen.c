#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli.h"
#include "hear.h"
#include "listen.h"
#include "output.h"
#include "progress.h"
#include "rigcall/showfile.h"

#define DEFAULT_UNIVERSES 512u       /* joined when nothing says which */
#define SLOW_UNIVERSES 8192u         /* 63,999 groups took 34 s on a 2-core virtual machine, growing with the square */

static const struct option listen_options[] = {
    { .name = "universe", .kind = OPTION_TEXT, .repeat = true, .value = "N,...",
      .help = "these universes (wire numbers), also a-b" },
    { .name = "once", .kind = OPTION_FLAG, .help = "one report after 3 s (or --seconds), for scripts" },
    { .name = "seconds", .kind = OPTION_NUMBER, .least = 0.1, .most = 86400, .value = "S", .help = "stop after S seconds" },
    { .name = "every", .kind = OPTION_NUMBER, .least = 0.1, .most = 3600, .value = "S",
      .help = "a new report every S seconds (1)" },
    HEAR_OPTIONS,
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json",
      .help = "text (default on a terminal) or json (default elsewhere): JSON lines" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE", .help = "with --once: write the report to FILE" },
};

struct listen {
    const struct options *options;
    struct show *show;               /* NULL: none given */
    struct wire_show *wire;
    struct output output;            /* with --once */
    FILE *out;
    bool json, page, colour, once;
    bool broken;                     /* nobody reads standard output any more, or it cannot be written */
    double seconds;                  /* 0: until a signal */
    char warned[sizeof ((struct listening *)0)->warning];    /* what was said last */
    struct progress progress;
    struct wire_faults faults;
    uint16_t *universes; size_t universe_count;
    int result; struct rig_why why;
};

/* ---- which universes ---- */

/* "7" or "3-9". @return what is wrong, or NULL */
static const char *add_range(struct listen *listen, bool *chosen, const char *text)
{
    char *end;
    if (*text < '0' || *text > '9')
        return "expected a number or a range a-b";
    unsigned long first = strtoul(text, &end, 10), last = first;
    if (*end == '-' && end[1] >= '0' && end[1] <= '9')
        last = strtoul(end + 1, &end, 10);
    if (*end)
        return "expected a number or a range a-b";
    if (first < SACN_FIRST_UNIVERSE || last > SACN_LAST_UNIVERSE || first > last)
        return "universes are 1 to 63999, the lower one first";
    for (; first <= last; first++)
        if (!chosen[first]) {
            chosen[first] = true;
            listen->universes[listen->universe_count++] = (uint16_t)first;
        }
    return NULL;
}

static int given_universes(struct listen *listen, struct rig_why *why)
{
    char **list = NULL;
    size_t count = 0;
    const char *wrong = NULL;
    bool *chosen = calloc(SACN_LAST_UNIVERSE + 1, sizeof *chosen);
    listen->universes = calloc(SACN_LAST_UNIVERSE + 1, sizeof *listen->universes);
    int err = chosen && listen->universes ? options_list(listen->options, "universe", &list, &count, why)
                                          : rig_fail(why, RIG_ENOMEM, "out of memory");
    for (size_t i = 0; i < count && !err; i++)
        if ((wrong = add_range(listen, chosen, list[i])))
            err = rig_fail(why, RIG_EUSAGE, "listen: --universe: \"%.40s\": %s", list[i], wrong);
    options_list_free(list, count);
    free(chosen);
    return err;
}

static int default_universes(struct listen *listen, struct rig_why *why)
{
    if (listen->show)
        return hear_universes(listen->show, &listen->universes, &listen->universe_count, why);
    listen->universes = calloc(DEFAULT_UNIVERSES, sizeof *listen->universes);
    while (listen->universes && listen->universe_count < DEFAULT_UNIVERSES) {
        listen->universes[listen->universe_count] = (uint16_t)(listen->universe_count + 1);
        listen->universe_count++;
    }
    return listen->universes ? 0 : rig_fail(why, RIG_ENOMEM, "out of memory");
}

/* ---- reports ---- */

static struct listen_page page_of(const struct listen *listen)
{
    struct winsize size;
    struct listen_page page = { .colour = listen->colour };
    if (!listen->page)
        return page;
    bool known = ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_row > 4 && size.ws_col > 0;
    page.rows = known ? size.ws_row - 1u : 23;
    page.columns = known ? size.ws_col : 80;
    return page;
}

static void report(struct listen *listen, const struct listening *heard)
{
    struct listen_page page = page_of(listen);
    wire_faults_free(&listen->faults);
    int err = wire_judge(heard->table, listen->wire, heard->now_ns, heard->seconds, &listen->faults, &listen->why);
    if (!err && listen->page)
        fputs("\033[H\033[J", listen->out);      /* home, clear */
    if (!err && listen->json)
        err = listen_print_json(heard, listen->wire, &listen->faults, listen->out, &listen->why);
    else if (!err)
        listen_print_text(heard, listen->wire, &listen->faults, &page, listen->out);
    if (err)
        listen->result = err;
}

/* Without a page the report has no place for it in text. */
static void say_warning(struct listen *listen, const struct listening *heard)
{
    if (listen->page || !strcmp(heard->warning, listen->warned))
        return;
    strcpy(listen->warned, heard->warning);
    if (*heard->warning)
        say("%s", heard->warning);
}

/* @return false: enough, see `result` and `broken` */
static bool on_heard(void *context, const struct listening *heard)
{
    struct listen *listen = context;
    say_warning(listen, heard);
    errno = 0;
    report(listen, heard);
    listen->broken = !listen->once && (fflush(stdout) || ferror(stdout));
    if (listen->broken && errno != EPIPE && !listen->result)
        listen->result = rig_fail(&listen->why, RIG_EIO, "cannot write to standard output: %s",
                                  errno ? strerror(errno) : "write error");
    if (listen->broken)
        clearerr(stdout);             /* said, so that main() does not say it again */
    return !listen->result && !listen->broken;
}

static bool on_wait(void *context, const struct listening *heard)
{
    struct listen *listen = context;
    progress_show(&listen->progress, "listening, %.0f of %g s", heard->seconds, listen->seconds);
    return true;
}

/* ---- the command ---- */

static int check_options(const struct options *options, struct rig_why *why)
{
    if (options_has(options, "once") && options_has(options, "every"))
        return rig_fail(why, RIG_EUSAGE, "listen: --once and --every exclude each other");
    if (options_has(options, "output") && !options_has(options, "once"))
        return rig_fail(why, RIG_EUSAGE, "listen: -o needs --once");
    return 0;
}

static int prepare(struct listen *listen, struct rig_why *why)
{
    const struct options *options = listen->options;
    listen->once = options_has(options, "once");
    listen->out = stdout;
    listen->seconds = options_number(options, "seconds", listen->once ? HEAR_S : 0);
    int err = check_options(options, why);
    if (!err && options->word_count)
        err = showfile_load(options->words[0], &listen->show, why);
    if (!err)
        err = options_has(options, "universe") ? given_universes(listen, why) : default_universes(listen, why);
    if (!err && listen->once)
        err = output_open(&listen->output, options_text(options, "output", NULL), why);
    if (err)
        return err;
    err = wire_show_new(listen->show, options_has(options, "universe") ? listen->universes : NULL, listen->universe_count,
                        &listen->wire, why);
    if (err)
        return err;
    bool terminal = listen->once ? output_is_terminal(&listen->output) : isatty(STDOUT_FILENO) == 1;
    listen->json = !strcmp(options_text(options, "format", terminal ? "text" : "json"), "json");
    listen->page = terminal && !listen->json && !listen->once;
    listen->colour = terminal && !listen->json && colour_wanted(stdout);
    if (listen->once)
        listen->out = listen->output.stream;
    return 0;
}

static int last_report(struct listen *listen, const struct listening *end)
{
    progress_end(&listen->progress);
    if (listen->once && end->interrupted)
        return rig_fail(&listen->why, RIG_EFAILED, "listen: stopped after %.1f of %g s, so there is no report", end->seconds,
                        listen->seconds);
    if (!listen->result && !listen->broken)
        on_heard(listen, end);
    if (!listen->result && listen->once)
        return output_close(&listen->output, &listen->why);
    return listen->result;
}

static int listen_all(struct listen *listen, struct rig_why *why)
{
    const struct options *options = listen->options;
    struct listen_options how = { .universes = listen->universes, .universe_count = listen->universe_count,
                                  .follow = !options_has(options, "universe"), .seconds = listen->seconds,
                                  .every_s = options_number(options, "every", 1), .heard = listen->once ? on_wait : on_heard,
                                  .context = listen };
    struct listening end;
    int err = hear_where(options, "listen", &how.receiver, why);
    if (err)
        return err;
    if (listen->show)
        hear_warn_short(listen->seconds);
    if (listen->show && listen->universe_count == 0)
        say("%s has no universe that can be heard; only what sources announce is followed", options->words[0]);
    if (listen->universe_count > SLOW_UNIVERSES)
        say("joining the groups of %zu universes, which takes the kernel a while", listen->universe_count);
    progress_start(&listen->progress);
    err = listen_run(&how, &end, why);
    if (err)
        progress_end(&listen->progress);
    if (err)
        return err;
    err = last_report(listen, &end);
    sacn_table_free(end.table);
    if (err)
        *why = listen->why;
    return err;
}

static int run_listen(const struct options *options)
{
    struct listen listen = { .options = options };
    struct rig_why why;
    int err = prepare(&listen, &why);
    if (!err)
        err = listen_all(&listen, &why);
    int status = err ? say_failure(&why) : listen.faults.of[SEVERITY_FAIL] ? rig_exit_status(RIG_EFAILED) : 0;
    output_drop(&listen.output);
    wire_faults_free(&listen.faults);
    free(listen.universes);
    free(listen.wire);
    show_free(listen.show);
    return status;
}

const struct command command_listen = {
    .name = "listen",
    .about = "Says which sources send what, how well, and who wins.",
    .words = "[SHOW]",
    .words_least = 0, .words_most = 1,
    .options = listen_options, .option_count = sizeof listen_options / sizeof listen_options[0],
    .details = "Hears streaming ACN (ANSI E1.31) and sends none. With SHOW it listens on the show's universes and says which of them nobody\n"
               "sends, and what is sent that the show does not know; without SHOW or --universe on 1 to 512. What sources announce is\n"
               "followed, unless --universe says which; then nothing is said of the show's other universes. On a terminal a table that\n"
               "goes on until Ctrl-C; elsewhere JSON lines.\n\n"
               "Exit status 0; 1 when the last report has a fail (a universe of the show that nobody sends, two sources at one priority),\n"
               "or --once was stopped before its time; 4 when the network cannot be listened to.",
    .example = "  rigcall listen harbour.show.lua --if eth1\n"
               "  rigcall listen harbour.show.lua --if eth1 --once --format json -o wire.jsonl\n"
               "  rigcall listen --universe 1-16,101 --seconds 60",
    .run = run_listen,
};
