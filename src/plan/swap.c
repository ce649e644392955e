/* The loss of transmitters: who is lost, who works, and what is refused. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

struct asked {
    const struct show *show;
    bool *gone, *may_change;
    unsigned char *role;
    uint32_t lost;
};

static void asked_free(struct asked *asked)
{
    free(asked->gone);
    free(asked->may_change);
    free(asked->role);
}

static int read_options(struct asked *asked, const struct plan_swap_options *options, struct rig_why *why)
{
    uint32_t count = asked->show->transmitter_count;
    asked->gone = calloc(count + (size_t)1, sizeof *asked->gone);
    asked->may_change = calloc(count + (size_t)1, sizeof *asked->may_change);
    asked->role = calloc(asked->show->fixture_count + (size_t)1, 1);
    if (!asked->gone || !asked->may_change || !asked->role)
        return rig_fail(why, RIG_ENOMEM, "no memory for a plan");
    if (options->out_count == 0)
        return rig_fail(why, RIG_EUSAGE, "no transmitter is named as lost");
    for (uint32_t i = 0; i < options->out_count; i++) {
        if (options->out[i] >= count)
            return rig_fail(why, RIG_EUSAGE, "lost transmitter %" PRIu32 " of %" PRIu32 " does not exist", options->out[i], count);
        asked->gone[options->out[i]] = true;
    }
    for (uint32_t i = 0; i < options->in_count; i++) {
        if (options->in[i] >= count)
            return rig_fail(why, RIG_EUSAGE, "transmitter %" PRIu32 " of %" PRIu32 " does not exist", options->in[i], count);
        if (asked->gone[options->in[i]])
            return rig_fail(why, RIG_EUSAGE, "transmitter %s is lost: it cannot take over", asked->show->transmitters[options->in[i]].id);
        asked->may_change[options->in[i]] = true;
    }
    for (uint32_t t = 0; t < count && options->in_count == 0; t++)
        asked->may_change[t] = !asked->gone[t];
    return 0;
}

/* The universe in which a fixture lands once the lost transmitters are off; SHOW_NONE: in none, or on two transmitters. */
static int64_t lands_after(const struct asked *asked, const struct fixture *fixture)
{
    uint32_t count, in_reach = 0, entries = 0;
    int64_t universe = SHOW_NONE;
    const uint32_t *same = show_code_transmitters(asked->show, fixture->code, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &asked->show->transmitters[same[i]];
        if (asked->gone[same[i]] || transmitter->spare || transmitter->air != fixture->air || fixture->lane < 1 ||
            fixture->lane > transmitter_lane_count(transmitter) || !radio_in_reach(asked->show, transmitter, fixture))
            continue;
        in_reach++;
        for (uint32_t e = 0; e < transmitter->lane_count; e++)
            if (transmitter->lanes[e].lane == fixture->lane) {
                universe = transmitter->lanes[e].universe;
                entries++;
            }
    }
    return in_reach == 1 && entries == 1 ? universe : SHOW_NONE;
}

static void find_roles(struct asked *asked)
{
    for (uint32_t f = 0; f < asked->show->fixture_count; f++) {
        const struct fixture *fixture = &asked->show->fixtures[f];
        struct landing landing = radio_landing(asked->show, fixture);
        int64_t after;
        switch (landing.state) {
        case LANDING_NOT_ASKED:
        case LANDING_OTHER_UNIVERSE:
            break;
        case LANDING_RIGHT:
            asked->role[f] = asked->gone[landing.transmitter] ? ROLE_LOST : ROLE_WORKING;
            asked->lost += asked->gone[landing.transmitter];
            break;
        default:
            after = lands_after(asked, fixture);
            asked->role[f] = after == SHOW_NONE || after == fixture->universe ? ROLE_FAILING : ROLE_NONE;
        }
    }
}

/* Nothing lands on what is lost. If the show contradicts itself there, say where. */
static bool refuse_nothing_lost(const struct asked *asked, struct plan *plan)
{
    for (uint32_t t = 0; t < asked->show->transmitter_count; t++) {
        const struct transmitter *transmitter = &asked->show->transmitters[t];
        if (!asked->gone[t])
            continue;
        if (!transmitter->code)
            return plan__refuse(plan, "landing", "transmitter %s has no join code: it is off the air and no fixture lands on it",
                                transmitter->id);
        if (transmitter->spare)
            return plan__refuse(plan, "landing", "transmitter %s is a spare: it is off the air and no fixture lands on it",
                                transmitter->id);
        for (uint32_t e = 0; e < transmitter->lane_count; e++)
            if (transmitter->lanes[e].lane < 1 || transmitter->lanes[e].lane > transmitter_lane_count(transmitter))
                return plan__refuse(plan, "lane-exists", "transmitter %s has no lane %" PRId64 ", and no fixture lands on it",
                                    transmitter->id, transmitter->lanes[e].lane);
    }
    return true;
}

static bool any_keyed(const struct asked *asked)
{
    for (uint32_t f = 0; f < asked->show->fixture_count; f++) {
        struct landing landing = radio_landing(asked->show, &asked->show->fixtures[f]);
        if (landing.transmitter != SHOW_UNKNOWN && asked->gone[landing.transmitter])
            return true;
    }
    return false;
}

static bool judge(const struct asked *asked, struct plan *plan)
{
    if (plan->refused)
        return true;
    if (asked->lost == 0 && any_keyed(asked))
        return plan__refuse(plan, "landing", "no fixture lands rightly on what is lost: mend that first");
    if (asked->lost == 0)
        return refuse_nothing_lost(asked, plan);
    if (plan->dark < asked->lost)
        return true;
    const char *reason = plan->dark_whys && plan->darkened_count ? plan->dark_whys[0] : "nothing serves them";
    uint32_t first = plan->darkened[0];
    return plan__refuse(plan, "in-reach", "no fixture can be lit again; fixture %" PRId64 ": %s", asked->show->fixtures[first].id, reason);
}

int plan_swap(const struct show *show, const struct plan_swap_options *options, struct plan **out, struct rig_why *why)
{
    struct asked asked = { .show = show };
    struct plan *plan = NULL;
    *out = NULL;
    int err = read_options(&asked, options, why);
    if (err)
        goto out;
    find_roles(&asked);
    struct swap_problem problem = { .show = show, .gone = asked.gone, .may_change = asked.may_change, .role = asked.role,
                                    .listed = asked.gone, .step_limit = options->step_limit };
    err = swap__solve(&problem, PLAN_SWAP, options->keep_working, &plan);
    if (!err && !judge(&asked, plan))
        err = RIG_ENOMEM;
    if (err) {
        rig_fail(why, err, "no memory for a plan");
        goto out;
    }
    *out = plan;
    plan = NULL;
out:
    plan_free(plan);
    asked_free(&asked);
    return err;
}
