#include "replan.h"

#include <stdlib.h>
#include <string.h>

#include "output.h"
#include "rigcall/nearest.h"
#include "save.h"

int replan_load(struct replan *replan, const struct options *options, struct rig_why *why)
{
    *replan = (struct replan){ .options = options };
    replan->report.path = options->words[0];
    replan->report.title = replan->title;
    replan->report.write = options_has(options, "write");
    int err = showfile_load(options->words[0], &replan->show, why);
    return err ? err : showfile_require_sound(replan->show, options->words[0], why);
}

void replan_fini(struct replan *replan)
{
    plan_free(replan->plan);
    show_free(replan->show);
}

static const char *transmitter_at(const void *context, size_t i)
{
    const struct show *show = context;
    return i < show->transmitter_count ? show->transmitters[i].id : NULL;
}

static const char *site_at(const void *context, size_t i)
{
    const struct show *show = context;
    return i < show->site_count ? show->sites[i].id : NULL;
}

static int unknown(const struct replan *replan, const char *option, const char *kind, const char *id,
                   const char *(*name_at)(const void *context, size_t i), struct rig_why *why)
{
    const char *nearest = nearest_name(id, name_at, replan->show);
    if (nearest)
        return rig_fail(why, RIG_EUSAGE, "--%s: %s has no %s \"%s\", nearest is %s", option, replan->report.path, kind, id, nearest);
    return rig_fail(why, RIG_EUSAGE, "--%s: %s has no %s \"%s\"", option, replan->report.path, kind, id);
}

int replan_transmitters(const struct replan *replan, const char *option, uint32_t **out, uint32_t *count, struct rig_why *why)
{
    char **ids = NULL;
    size_t id_count = 0;
    *out = NULL;
    *count = 0;
    int err = options_list(replan->options, option, &ids, &id_count, why);
    if (!err && !(*out = malloc((id_count + 1) * sizeof **out)))
        err = rig_fail(why, RIG_ENOMEM, "out of memory");
    for (size_t i = 0; i < id_count && !err; i++) {
        uint32_t index = show_find_transmitter(replan->show, ids[i]);
        bool again = false;
        if (index == SHOW_UNKNOWN)
            err = unknown(replan, option, "transmitter", ids[i], transmitter_at, why);
        for (uint32_t k = 0; k < *count; k++)
            again |= (*out)[k] == index;
        if (!err && !again)
            (*out)[(*count)++] = index;
    }
    options_list_free(ids, id_count);
    return err;
}

int replan_site(const struct replan *replan, const char *option, uint32_t *out, struct rig_why *why)
{
    const char *id = options_text(replan->options, option, NULL);
    *out = SHOW_UNKNOWN;
    if (!id)
        return 0;
    *out = show_find_site(replan->show, id);
    return *out == SHOW_UNKNOWN ? unknown(replan, option, "site", id, site_at, why) : 0;
}

static int carry_out(struct replan *replan, const struct plan *plan, struct rig_why *why)
{
    struct show *after = NULL;
    int err = plan_apply(plan, replan->show, &after, why);
    if (!err)
        err = save_show(after, replan->report.path, why);
    replan->report.written = !err;
    show_free(after);
    return err;
}

static int tell(const struct replan *replan, const struct plan *plan, struct rig_why *why)
{
    struct output output;
    bool json = !strcmp(options_text(replan->options, "format", "text"), "json");
    int err = output_open(&output, options_text(replan->options, "output", NULL), why);
    if (!err)
        err = (json ? plan_write_json : plan_write_text)(plan, replan->show, &replan->report, output.stream, why);
    if (!err)
        err = output_close(&output, why);
    output_drop(&output);
    return err;
}

/* Where fixtures are to be lit again and none is, the file stays as it is: it is still what the rig was. */
static bool lights_nothing(const struct plan *plan)
{
    return plan->lost > 0 && plan->dark >= plan->lost;
}

int replan_finish(struct replan *replan, const struct plan *plan, bool fits, struct rig_why *why)
{
    int err = 0;
    if (replan->report.write && fits && !plan->refused && !lights_nothing(plan) && plan->step_count)
        err = carry_out(replan, plan, why);
    if (!err)
        err = tell(replan, plan, why);
    if (err)
        return say_failure(why);
    return plan->refused || plan->dark ? rig_exit_status(RIG_EFAILED) : 0;
}
