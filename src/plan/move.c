/* Fixtures go to another site. What was lit by the old site's transmitters is to be lit by those of the new one: the problem of a
 * swap, in a show where the fixtures stand at the new site already. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

struct move {
    const struct show *before;
    struct show *after;
    bool *moved, *gone, *may_change;
    unsigned char *role;
    uint32_t count, lost, kept;      /* moved: all, those to be lit again, those that an old transmitter still lights */
};

static void move_fini(struct move *move)
{
    show_free(move->after);
    free(move->moved);
    free(move->gone);
    free(move->may_change);
    free(move->role);
}

static bool is_at(const char *site, const char *wanted)
{
    return site && wanted && strcmp(site, wanted) == 0;
}

static int allocate(struct move *move, struct rig_why *why)
{
    size_t transmitters = move->before->transmitter_count + (size_t)1, fixtures = move->before->fixture_count + (size_t)1;
    move->moved = calloc(fixtures, sizeof *move->moved);
    move->role = calloc(fixtures, 1);
    move->gone = calloc(transmitters, sizeof *move->gone);
    move->may_change = calloc(transmitters, sizeof *move->may_change);
    move->after = show_copy(move->before);
    if (!move->moved || !move->role || !move->gone || !move->may_change || !move->after)
        return rig_fail(why, RIG_ENOMEM, "no memory for a plan");
    return 0;
}

/* Put the fixtures where they go. */
static int go(struct move *move, const struct plan_move_options *options, struct rig_why *why)
{
    struct show *show = move->after;
    if (options->from >= show->site_count || options->to >= show->site_count || options->from == options->to)
        return rig_fail(why, RIG_EUSAGE, "a move needs two sites of the show");
    const char *from = show->sites[options->from].id, *to = show->sites[options->to].id;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        struct fixture *fixture = &show->fixtures[f];
        if (!is_at(fixture->site, from))
            continue;
        fixture->site = to;
        fixture->pos = (struct position){ NAN, 0, 0 };
        move->moved[f] = true;
        move->count++;
    }
    for (uint32_t i = 0; i < options->position_count; i++) {
        uint32_t f = options->positions[i].fixture;
        if (f >= show->fixture_count || !move->moved[f])
            return rig_fail(why, RIG_EUSAGE, "a position is given for a fixture that does not move");
        show->fixtures[f].pos = options->positions[i].pos;
    }
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        move->may_change[t] = is_at(show->transmitters[t].site, to);
    return show_index(show) ? rig_fail(why, RIG_ENOMEM, "no memory for a plan") : 0;
}

/* A moved fixture is lost, unless a transmitter that no plan changes still serves it where it stands now. */
static unsigned char role_of(const struct move *move, uint32_t f)
{
    struct landing old = radio_landing(move->before, &move->before->fixtures[f]);
    struct landing now = radio_landing(move->after, &move->after->fixtures[f]);
    if (old.state == LANDING_NOT_ASKED)
        return ROLE_NONE;
    if (old.state != LANDING_RIGHT)
        return old.state == LANDING_OTHER_UNIVERSE || now.state == LANDING_OTHER_UNIVERSE ? ROLE_NONE : ROLE_FAILING;
    if (!move->moved[f] || (now.state == LANDING_RIGHT && !move->may_change[now.transmitter]))
        return ROLE_WORKING;
    return ROLE_LOST;
}

/* Two transmitters on the air with the join code of a moved fixture, one of them at the new site, in reach of each other. */
static bool find_clash(const struct move *move, const char *code, uint32_t *a, uint32_t *b)
{
    uint32_t count;
    const uint32_t *same = show_code_transmitters(move->after, code, &count);
    for (uint32_t i = 0; i < count; i++)
        for (uint32_t j = i + 1; j < count; j++) {
            const struct transmitter *x = &move->after->transmitters[same[i]], *y = &move->after->transmitters[same[j]];
            if (x->spare || y->spare || !(move->may_change[same[i]] || move->may_change[same[j]]) ||
                radio_clash(x, y, NULL) != RADIO_CLASH_FAIL)
                continue;
            *a = same[i];
            *b = same[j];
            return true;
        }
    return false;
}

/* Where it stands now a fixture hears a transmitter of the old site, which stays as it is, and one of the new site. */
static bool hears_both(const struct move *move, const struct fixture *fixture, uint32_t *a, uint32_t *b)
{
    uint32_t count;
    const uint32_t *same = show_code_transmitters(move->after, fixture->code, &count);
    *a = *b = SHOW_UNKNOWN;
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &move->after->transmitters[same[i]];
        if (transmitter->spare || transmitter->air != fixture->air || fixture->lane < 1 ||
            fixture->lane > transmitter_lane_count(transmitter) || !radio_in_reach(move->after, transmitter, fixture))
            continue;
        *(move->may_change[same[i]] ? b : a) = same[i];
    }
    return *a != SHOW_UNKNOWN && *b != SHOW_UNKNOWN;
}

static bool refuse_clash(const struct move *move, struct plan *plan)
{
    const struct show *show = move->after;
    uint32_t a = 0, b = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const struct fixture *fixture = &show->fixtures[f];
        if (move->role[f] != ROLE_LOST)
            continue;
        if (hears_both(move, fixture, &a, &b))
            return plan__refuse(plan, "code-clash", "transmitters %s and %s have one join code, %s, and fixture %" PRId64 " would hear both: "
                                "give one of them another code first", show->transmitters[a].id, show->transmitters[b].id, fixture->code,
                                fixture->id);
        if (find_clash(move, fixture->code, &a, &b))
            return plan__refuse(plan, "code-clash", "transmitters %s and %s have one join code, %s, that fixture %" PRId64 " is keyed to, and "
                                "are within reach of each other: give one of them another code first", show->transmitters[a].id,
                                show->transmitters[b].id, fixture->code, fixture->id);
    }
    return true;
}

/* Before anything is solved. @return 0, or RIG_ENOMEM; *out is a plan where it is refused */
static int refuse_early(const struct move *move, const struct plan_move_options *options, struct plan **out)
{
    struct plan *plan = plan__new(PLAN_MOVE);
    bool good = plan;
    if (good && move->count == 0)
        good = plan__refuse(plan, NULL, "no fixture stands at site %s", move->after->sites[options->from].id);
    if (good && !plan->refused)
        good = refuse_clash(move, plan);
    if (good && plan->refused)
        *out = plan;
    else
        plan_free(plan);
    return good ? 0 : RIG_ENOMEM;
}

static int refuse_late(const struct move *move, const struct plan_move_options *options, struct plan *plan)
{
    if (plan->refused || move->lost == 0 || plan->dark < move->lost || move->kept > 0)
        return 0;
    return plan__refuse(plan, plan->dark_rules[0], "no fixture can be lit at site %s",
                        move->after->sites[options->to].id) ? 0 : RIG_ENOMEM;
}

static int solve(struct move *move, const struct plan_move_options *options, struct plan **out)
{
    struct swap_problem problem = { .show = move->after, .before = move->before, .gone = move->gone,
                                    .may_change = move->may_change, .role = move->role, .step_limit = options->step_limit };
    for (uint32_t f = 0; f < move->after->fixture_count; f++) {
        move->role[f] = role_of(move, f);
        move->lost += move->role[f] == ROLE_LOST;
        move->kept += move->moved[f] && move->role[f] == ROLE_WORKING;
    }
    int err = refuse_early(move, options, out);
    if (err || *out)
        return err;
    err = swap__solve(&problem, PLAN_MOVE, false, out);
    if (!err) {
        (*out)->lost = move->lost + move->kept;
        err = refuse_late(move, options, *out);
    }
    return err || (*out)->refused ? err : plan__name_failing(move->before, *out);
}

int plan_move(const struct show *show, const struct plan_move_options *options, struct plan **out, struct rig_why *why)
{
    struct move move = { .before = show };
    *out = NULL;
    int err = allocate(&move, why);
    if (!err)
        err = go(&move, options, why);
    if (!err && solve(&move, options, out)) {
        err = rig_fail(why, RIG_ENOMEM, "no memory for a plan");
        plan_free(*out);
        *out = NULL;
    }
    move_fini(&move);
    return err;
}
