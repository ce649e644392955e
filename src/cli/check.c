#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli.h"
#include "hear.h"
#include "output.h"
#include "paths.h"
#include "progress.h"
#include "rigcall/report.h"
#include "rigcall/script.h"
#include "rigcall/showfile.h"

static const struct option check_options[] = {
    { .name = "rules", .kind = OPTION_TEXT, .repeat = true, .value = "PATH", .help = "also the rules of this file or folder" },
    { .name = "only", .kind = OPTION_TEXT, .repeat = true, .value = "ID,...", .help = "only these rules" },
    { .name = "live", .kind = OPTION_FLAG, .help = "listen to the network first, and run the rules about it too" },
    { .name = "seconds", .kind = OPTION_NUMBER, .least = 0.1, .most = 86400, .value = "S", .help = "with --live: listen for S seconds (3)" },
    HEAR_OPTIONS,
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json junit",
      .help = "text (default), json or junit" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE",
      .help = "write the report to FILE instead of standard output" },
};

/* Folders and files that were added, as real paths, so that none is read twice. */
struct places { char **items; size_t count; };

static bool inside(const char *path, const char *place)
{
    size_t length = strlen(place);
    return !strncmp(path, place, length) && (!path[length] || (path[length] == '/' && !strchr(path + length + 1, '/')));
}

static int add_scripts(struct script_list *list, struct places *places, const char *path, bool must_exist, struct rig_why *why)
{
    char *real = realpath(path, NULL);
    for (size_t i = 0; real && i < places->count; i++)
        if (inside(real, places->items[i])) {
            free(real);
            return 0;
        }
    if (real) {
        char **grown = realloc(places->items, (places->count + 1) * sizeof *grown);
        if (!grown) {
            free(real);
            return rig_fail(why, RIG_ENOMEM, "out of memory");
        }
        places->items = grown;
        places->items[places->count++] = real;
    }
    return script_list_add(list, path, must_exist, why);
}

static int collect_scripts(const struct options *options, struct script_list *list, struct rig_why *why)
{
    char home[4096], path[4096];
    struct places places = { 0 };
    size_t at = 0;
    int err = script_home(home, sizeof home, why);
    if (!err)
        err = path_join(home, "rules", path, sizeof path, why);
    if (!err)
        err = add_scripts(list, &places, path, true, why);
    if (!err && options_has(options, "live"))
        err = path_join(home, "wire", path, sizeof path, why);
    if (!err && options_has(options, "live"))
        err = add_scripts(list, &places, path, true, why);
    if (!err)
        err = path_beside(options->words[0], "rules", path, sizeof path, why);
    if (!err)
        err = add_scripts(list, &places, path, false, why);
    for (const char *given; !err && (given = options_next(options, "rules", &at));)
        err = add_scripts(list, &places, given, true, why);
    for (size_t i = 0; i < places.count; i++)
        free(places.items[i]);
    free(places.items);
    return err;
}

/* A rule about the network is none of the others, and whoever names it should know why. */
static int need_live(const struct options *options, char *const *only, size_t count, struct rig_why *why)
{
    char home[4096], folder[4096], path[4096], file[80];
    if (options_has(options, "live"))
        return 0;
    int err = script_home(home, sizeof home, why);
    if (!err)
        err = path_join(home, "wire", folder, sizeof folder, why);
    for (size_t i = 0; i < count && !err; i++) {
        if (strchr(only[i], '/') || snprintf(file, sizeof file, "%s.lua", only[i]) >= (int)sizeof file)
            continue;
        err = path_join(folder, file, path, sizeof path, why);
        if (!err && access(path, F_OK) == 0)
            err = rig_fail(why, RIG_EUSAGE, "check: the rule %s is about what is heard on the network: it needs --live", only[i]);
    }
    return err;
}

static void show_progress(void *context, size_t done, size_t all)
{
    progress_show(context, "%zu of %zu scripts", done, all);
}

static void show_printed(void *context, const char *script, const char *text)
{
    progress_end(context);
    fprintf(stderr, "%s: %s\n", script, text);
}

/* The show kept beside this one, for rules that compare. One that cannot be read is for a rule to say, and stops nothing. */
struct kept { struct show *show; const char *trouble; struct rig_why why; };

static void load_kept(struct kept *kept, const char *path)
{
    if (showfile_load_kept(path, &kept->show, &kept->why))
        kept->trouble = kept->why.text;
}

static int check_show(const struct show *show, const struct kept *kept, const struct options *options, struct findings *findings,
                      struct rig_why *why)
{
    struct script_list list = { 0 };
    struct progress progress;
    char **only = NULL;
    size_t only_count = 0;
    struct listening heard = { .table = NULL };
    int err = options_list(options, "only", &only, &only_count, why);
    if (!err)
        err = need_live(options, only, only_count, why);
    if (!err)
        err = hear_for_check(show, options, &heard, why);
    progress_start(&progress);
    if (!err)
        err = collect_scripts(options, &list, why);
    if (!err) {
        struct check_options check = { .scripts = list.items, .script_count = list.count, .only = (const char *const *)only,
                                       .only_count = only_count, .before = kept->show, .before_trouble = kept->trouble,
                                       .wire = heard.table ? &heard : NULL, .progress = show_progress,
                                       .printed = show_printed, .context = &progress };
        err = script_check(show, &check, findings, why);
        progress_end(&progress);
    }
    if (!err)
        findings_sort(findings, show);
    options_list_free(only, only_count);
    script_list_free(&list);
    sacn_table_free(heard.table);
    return err;
}

static enum report_format format_of(const struct options *options)
{
    const char *name = options_text(options, "format", "text");
    return !strcmp(name, "json") ? REPORT_JSON : !strcmp(name, "junit") ? REPORT_JUNIT : REPORT_TEXT;
}

/* Broken scripts stand in the report; whoever does not see the report on the terminal is told here. */
static void say_broken(const struct findings *findings, bool seen)
{
    size_t count;
    const struct script_failure *failures = findings_failures(findings, &count);
    for (size_t i = 0; i < count && !seen; i++)
        say("script %s (%s): %s", failures[i].name, failures[i].path, failures[i].text);
}

static int write_report(const struct findings *findings, const struct show *show, const struct options *options,
                        struct rig_why *why)
{
    struct output output;
    enum report_format format = format_of(options);
    int err = output_open(&output, options_text(options, "output", NULL), why);
    if (err)
        return err;
    bool terminal = output_is_terminal(&output);
    err = findings_write(findings, show, options->words[0], format, terminal && colour_wanted(stdout), output.stream, why);
    if (!err)
        err = output_close(&output, why);
    output_drop(&output);
    say_broken(findings, terminal && format == REPORT_TEXT);
    return err;
}

static int run_check(const struct options *options)
{
    struct rig_why why;
    struct show *show = NULL;
    struct kept kept = { NULL, NULL, { 0 } };
    struct findings *findings = findings_new();
    size_t broken = 0;
    int status = 0;
    int err = findings ? showfile_load(options->words[0], &show, &why) : rig_fail(&why, RIG_ENOMEM, "out of memory");
    if (!err) {
        load_kept(&kept, options->words[0]);
        err = check_show(show, &kept, options, findings, &why);
    }
    if (!err)
        err = write_report(findings, show, options, &why);
    if (err)
        status = say_failure(&why);
    else if (findings_failures(findings, &broken), broken)
        status = rig_exit_status(RIG_ESCRIPT);
    else if (findings_count(findings, SEVERITY_FAIL))
        status = rig_exit_status(RIG_EFAILED);
    findings_free(findings);
    show_free(kept.show);
    show_free(show);
    return status;
}

const struct command command_check = {
    .name = "check",
    .about = "Runs the rules over a show and says what they find.",
    .words = "SHOW",
    .words_least = 1, .words_most = 1,
    .options = check_options, .option_count = sizeof check_options / sizeof check_options[0],
    .details = "The rules are the shipped ones, those in rules/ beside the show, and those of --rules. Exit status 1 when a finding is\n"
               "a fail, 5 when a script broke (the others still run). While SHOW~ is there, the file kept when SHOW was last written, the rule\n"
               "plan-drift notes what has changed since. With --live it first hears what is sent on the network (it sends nothing), for rules\n"
               "that read rig.wire and for the shipped wire-present, wire-rival, wire-rate and wire-name.",
    .example = "  rigcall check harbour.show.lua\n"
               "  rigcall check harbour.show.lua --only landing,address-overlap --format json -o findings.json\n"
               "  rigcall check harbour.show.lua --live --if eth1",
    .run = run_check,
};
