#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli.h"
#include "hear.h"
#include "listen.h"
#include "output.h"
#include "rigcall/showfile.h"

#define DEFAULT_UNIVERSES 512u       /* joined when nothing says which */

static const struct option listen_options[] = {
    { .name = "universe", .kind = OPTION_TEXT, .repeat = true, .value = "N,...", .help = "these universes (wire numbers), also a-b" },
    { .name = "once", .kind = OPTION_FLAG, .help = "one report after 3 s (or --seconds), for scripts" },
    { .name = "seconds", .kind = OPTION_NUMBER, .least = 0.1, .most = 86400, .value = "S", .help = "stop after S seconds" },
    { .name = "every", .kind = OPTION_NUMBER, .least = 0.1, .most = 3600, .value = "S", .help = "a new report every S seconds (1)" },
    HEAR_OPTIONS,
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json",
      .help = "text (default on a terminal) or json (default elsewhere): JSON lines" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE", .help = "with --once: write the report to FILE" },
};

struct listen {
    const struct options *options;
    struct show *show;               /* NULL: none given */
    struct output output;            /* with --once */
    FILE *out;
    bool json, page, colour, once;
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

static unsigned page_rows(void)
{
    struct winsize size;
    return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_row > 4 ? size.ws_row - 1 : 23;
}

static void report(struct listen *listen, const struct listening *heard, unsigned rows)
{
    wire_faults_free(&listen->faults);
    int err = wire_judge(heard->table, listen->show, heard->now_ns, heard->seconds, &listen->faults, &listen->why);
    if (!err && listen->json)
        err = listen_print_json(heard, listen->show, &listen->faults, listen->out, &listen->why);
    else if (!err)
        listen_print_text(heard, &listen->faults, rows, listen->colour, listen->out);
    fflush(listen->out);
    if (err)
        listen->result = err;
}

static void on_heard(void *context, const struct listening *heard)
{
    struct listen *listen = context;
    if (listen->page)
        fputs("\033[H\033[J", listen->out);      /* home, clear */
    report(listen, heard, listen->page ? page_rows() : 0);
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
    int err = check_options(options, why);
    if (!err && options->word_count)
        err = showfile_load(options->words[0], &listen->show, why);
    if (!err)
        err = options_has(options, "universe") ? given_universes(listen, why) : default_universes(listen, why);
    if (!err && listen->once)
        err = output_open(&listen->output, options_text(options, "output", NULL), why);
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

static int listen_all(struct listen *listen, struct rig_why *why)
{
    const struct options *options = listen->options;
    struct listen_options how = { .universes = listen->universes, .universe_count = listen->universe_count, .follow = !options_has(options, "universe"),
                                  .seconds = options_number(options, "seconds", listen->once ? HEAR_S : 0),
                                  .every_s = listen->once ? 0 : options_number(options, "every", 1), .heard = on_heard,
                                  .context = listen };
    struct listening end;
    int err = hear_where(options, "listen", &how.receiver, why);
    if (!err)
        err = listen_run(&how, &end, why);
    if (err)
        return err;
    if (*end.warning)
        say("%s", end.warning);
    on_heard(listen, &end);
    sacn_table_free(end.table);
    if (!listen->result && listen->once)
        listen->result = output_close(&listen->output, &listen->why);
    if (listen->result)
        *why = listen->why;
    return listen->result;
}

static int run_listen(const struct options *options)
{
    struct listen listen = { .options = options };
    struct rig_why why;
    int err = prepare(&listen, &why);
    if (!err)
        err = listen_all(&listen, &why);
    int status = err ? say_failure(&why) : listen.faults.fails ? rig_exit_status(RIG_EFAILED) : 0;
    output_drop(&listen.output);
    wire_faults_free(&listen.faults);
    free(listen.universes);
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
               "followed, unless --universe says which. On a terminal a table that goes on until Ctrl-C; elsewhere JSON lines.\n\n"
               "Exit status 0; 1 when the last report has a fail: a universe of the show that nobody sends, or two sources at one\n"
               "priority; 4 when the network cannot be listened to.",
    .example = "  rigcall listen harbour.show.lua --if eth1\n"
               "  rigcall listen harbour.show.lua --if eth1 --once --format json -o wire.jsonl\n"
               "  rigcall listen --universe 1-16,101 --seconds 60",
    .run = run_listen,
};
