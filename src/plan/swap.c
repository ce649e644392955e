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
    for (uint32_t i = 0; i < options->never_count; i++)
        if (options->never[i].transmitter >= count)
            return rig_fail(why, RIG_EUSAGE, "transmitter %" PRIu32 " of %" PRIu32 " does not exist", options->never[i].transmitter, count);
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

/* ---- what is refused: only where the show contradicts itself ---- */

static bool refuse_code(const struct asked *asked, struct plan *plan)
{
    for (uint32_t t = 0; t < asked->show->transmitter_count; t++) {
        const struct transmitter *lost = &asked->show->transmitters[t];
        if (asked->gone[t] && !lost->spare && lost->code && !plan__is_code(lost->code))
            return plan__refuse(plan, "code-form", "transmitter %s has join code \"%.40s\", expected eight digits: put it right first",
                                lost->id, lost->code);
    }
    return true;
}

static bool refuse_lanes(const struct transmitter *lost, struct plan *plan)
{
    int64_t top = transmitter_lane_count(lost);
    for (uint32_t e = 0; e < lost->lane_count; e++) {
        int64_t lane = lost->lanes[e].lane;
        if (lane < 1 || lane > top)
            return plan__refuse(plan, "lane-exists", "transmitter %s has no lane %" PRId64 ", and no fixture lands on it: put its lanes "
                                "right first", lost->id, lane);
        for (uint32_t k = 0; k < e; k++)
            if (lost->lanes[k].lane == lane)
                return plan__refuse(plan, "lane-shared", "lane %" PRId64 " of transmitter %s is given universes %" PRId64 " and %" PRId64
                                    ", and no fixture lands on it: take one off first", lane, lost->id, lost->lanes[k].universe,
                                    lost->lanes[e].universe);
    }
    return true;
}

/* Nothing lands on what is lost: it may carry nothing, or not be able to. */
static bool refuse_nothing_lost(const struct asked *asked, struct plan *plan)
{
    for (uint32_t t = 0; t < asked->show->transmitter_count && !plan->refused; t++) {
        const struct transmitter *lost = &asked->show->transmitters[t];
        if (!asked->gone[t] || lost->spare || !lost->lane_count)
            continue;
        if (!lost->code)
            return plan__refuse(plan, "landing", "transmitter %s has lanes but no join code, so no fixture lands on it: give it the code "
                                "of its fixtures first", lost->id);
        if (!refuse_lanes(lost, plan))
            return false;
    }
    return true;
}

/* True if a transmitter that may change reaches a lost fixture, or any fixture at all. */
static bool reaches(const struct asked *asked, uint32_t transmitter, bool any)
{
    for (uint32_t f = 0; f < asked->show->fixture_count; f++)
        if ((any || asked->role[f] == ROLE_LOST) &&
            radio_in_reach(asked->show, &asked->show->transmitters[transmitter], &asked->show->fixtures[f]))
            return true;
    return false;
}

/* Nothing can be lit, and there is a spare that reaches nothing in the whole show: where it stands is a mistake. */
static bool refuse_useless_spare(const struct asked *asked, struct plan *plan)
{
    uint32_t useless = SHOW_UNKNOWN;
    for (uint32_t t = 0; t < asked->show->transmitter_count; t++) {
        if (!asked->may_change[t])
            continue;
        if (reaches(asked, t, false))
            return true;
        if (asked->show->transmitters[t].spare && useless == SHOW_UNKNOWN && !reaches(asked, t, true))
            useless = t;
    }
    return useless == SHOW_UNKNOWN ||
           plan__refuse(plan, "in-reach", "spare %s reaches no fixture of the show, and no other transmitter that may change reaches a lost "
                        "one: put site, position or reach of %s right first", asked->show->transmitters[useless].id,
                        asked->show->transmitters[useless].id);
}

static bool judge(const struct asked *asked, struct plan *plan)
{
    if (plan->refused)
        return true;
    if (asked->lost == 0)
        return refuse_nothing_lost(asked, plan);
    return plan->dark < asked->lost || refuse_useless_spare(asked, plan);
}

/* Before anything is solved. @return 0, or RIG_ENOMEM; *out is a plan where it is refused */
static int refuse_early(const struct asked *asked, struct plan **out)
{
    struct plan *plan = plan__new(PLAN_SWAP);
    if (!plan || !refuse_code(asked, plan)) {
        plan_free(plan);
        return RIG_ENOMEM;
    }
    if (plan->refused)
        *out = plan;
    else
        plan_free(plan);
    return 0;
}

static int solve(const struct asked *asked, const struct plan_swap_options *options, struct plan **plan)
{
    struct swap_problem problem = { .show = asked->show, .gone = asked->gone, .may_change = asked->may_change, .role = asked->role,
                                    .listed = asked->gone, .never = options->never, .never_count = options->never_count,
                                    .touches_first = options->touches_first && !options->keep_working,
                                    .first = options->first, .first_count = options->first_count,
                                    .step_limit = options->step_limit };
    int err = refuse_early(asked, plan);
    if (err || *plan)
        return err;
    err = swap__solve(&problem, PLAN_SWAP, options->keep_working, plan);
    if (!err && !judge(asked, *plan))
        err = RIG_ENOMEM;
    return err || (*plan)->refused ? err : plan__name_failing(asked->show, *plan);
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
    err = solve(&asked, options, &plan);
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
