#include <stdlib.h>
#include <string.h>

#include "replan.h"
#include "rigcall/showfile.h"

static const struct option move_options[] = {
    { .name = "from", .kind = OPTION_TEXT, .value = "SITE", .help = "the site whose fixtures go" },
    { .name = "to", .kind = OPTION_TEXT, .value = "SITE", .help = "the site they go to" },
    { .name = "pos", .kind = OPTION_TEXT, .value = "CSV",
      .help = "their places there, columns id, pos_x, pos_y, pos_z; without it they have none" },
    REPLAN_OPTIONS
};

static int say_bad_rows(const struct csv_report *report, const struct rig_why *why)
{
    for (size_t i = 0; i < report->error_count; i++)
        fprintf(stderr, "%s\n", report->errors[i].text);
    return report->error_count ? rig_exit_status(why->code) : say_failure(why);
}

/* "pos_x 1 -> 2, pos_y none -> 3": nothing but the place changes. */
static bool only_place(const char *fields)
{
    while (*fields && !strncmp(fields, "pos_", 4)) {
        const char *next = strstr(fields, ", ");
        if (!next)
            return true;
        fields = next + 2;
    }
    return !*fields;
}

static int take_positions(const struct replan *replan, const char *path, uint32_t from, const struct show *after,
                          const struct csv_report *rows, struct plan_position *positions, uint32_t *count, struct rig_why *why)
{
    for (size_t i = 0; i < rows->change_count; i++) {
        const struct csv_change *change = &rows->changes[i];
        const struct fixture *fixture = &after->fixtures[change->index];
        if (change->kind == CSV_ADDED)
            return rig_fail(why, RIG_EINPUT, "%s: fixture %lld is not in %s", path, (long long)fixture->id, replan->report.path);
        if (!only_place(change->fields))
            return rig_fail(why, RIG_EINPUT, "%s: fixture %lld: %s, expected only a new place", path, (long long)fixture->id, change->fields);
        if (replan->show->fixtures[change->index].site_index != from)
            return rig_fail(why, RIG_EINPUT, "%s: fixture %lld is not of site %s", path, (long long)fixture->id,
                            replan->show->sites[from].id);
        if (position_given(&fixture->pos))
            positions[(*count)++] = (struct plan_position){ change->index, fixture->pos };
    }
    return 0;
}

/* The rows are read as an import reads them, into a copy. @return the exit status, said already */
static int read_positions(const struct replan *replan, uint32_t from, struct plan_position **out, uint32_t *count)
{
    const char *path = options_text(replan->options, "pos", NULL);
    struct show *after = NULL;
    struct csv_report rows = { 0 };
    struct rig_why why;
    int status = 0;
    if (!path)
        return 0;
    if (csv_import(replan->show, CSV_FIXTURES, path, &after, &rows, &why))
        status = say_bad_rows(&rows, &why);
    else if (!(*out = malloc((rows.change_count + 1) * sizeof **out)))
        status = (rig_fail(&why, RIG_ENOMEM, "out of memory"), say_failure(&why));
    else if (take_positions(replan, path, from, after, &rows, *out, count, &why))
        status = say_failure(&why);
    show_free(after);
    csv_report_free(&rows);
    return status;
}

static int find_sites(struct replan *replan, struct plan_move_options *move, struct rig_why *why)
{
    int err = replan_site(replan, "from", &move->from, why);
    if (!err)
        err = replan_site(replan, "to", &move->to, why);
    if (!err && (move->from == SHOW_UNKNOWN || move->to == SHOW_UNKNOWN))
        err = rig_fail(why, RIG_EUSAGE, "move needs --from SITE and --to SITE");
    if (!err && move->from == move->to)
        err = rig_fail(why, RIG_EUSAGE, "move: --from and --to are both %s", replan->show->sites[move->from].id);
    return err;
}

static int move_fixtures(struct replan *replan, struct plan_move_options *move, struct plan_position **positions)
{
    struct rig_why why;
    if (find_sites(replan, move, &why))
        return say_failure(&why);
    int status = read_positions(replan, move->from, positions, &move->position_count);
    if (status)
        return status;
    move->positions = *positions;
    snprintf(replan->title, sizeof replan->title, "Move from site %.200s to site %.200s", replan->show->sites[move->from].id,
             replan->show->sites[move->to].id);
    if (plan_move(replan->show, move, &replan->plan, &why))
        return say_failure(&why);
    return replan_finish(replan, replan->plan, true, &why);
}

static int run_move(const struct options *options)
{
    struct rig_why why;
    struct replan replan;
    struct plan_move_options move = { 0 };
    struct plan_position *positions = NULL;
    int err = replan_load(&replan, options, &why);
    int status = err ? say_failure(&why) : move_fixtures(&replan, &move, &positions);
    free(positions);
    replan_fini(&replan);
    return status;
}

const struct command command_move = {
    .name = "move",
    .about = "Says what it takes to move fixtures to another site's transmitters.",
    .words = "SHOW",
    .words_least = 1, .words_most = 1,
    .options = move_options, .option_count = sizeof move_options / sizeof move_options[0],
    .details = "Says which fixtures join by themselves there, which must be keyed anew and why, and how to set the transmitters of the\n"
               "other site at the least cost. The transmitters of the first site stay as they are. Refused is a move that brings two\n"
               "transmitters with one join code together, or after which none of the fixtures would work.\n\n"
               "Exit status 0 when every fixture lands, 1 when one stays dark or the move is refused. --write also writes a plan that\n"
               "leaves some dark.",
    .example = "  rigcall move harbour.show.lua --from quay --to barge\n"
               "  rigcall move harbour.show.lua --from quay --to barge --pos barge.csv --write",
    .run = run_move,
};
