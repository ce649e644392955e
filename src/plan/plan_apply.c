/* Carries a plan out on a copy of the show. */
#include <inttypes.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan_internal.h"

struct apply { struct show *show; uint32_t universes_before; struct rig_why *why; };

static int no_memory(const struct apply *apply)
{
    return rig_fail(apply->why, RIG_ENOMEM, "no memory for the changed show");
}

static int misfit(const struct apply *apply, const struct plan_step *step)
{
    return rig_fail(apply->why, RIG_EUSAGE, "a step on field \"%s\" of %s %" PRIu32 " does not fit this show", step->field,
                    subject_kind_name(step->subject.kind), step->subject.index);
}

/* ---- values ---- */

static int set_text(const struct apply *apply, const struct plan_step *step, const char **field)
{
    if (step->to.kind == PLAN_NUMBER)
        return misfit(apply, step);
    *field = NULL;
    if (step->to.kind == PLAN_NULL)
        return 0;
    *field = show_text(apply->show, step->to.text, strlen(step->to.text));
    return *field ? 0 : no_memory(apply);
}

static int set_number(const struct apply *apply, const struct plan_step *step, int64_t *field)
{
    if (step->to.kind == PLAN_TEXT)
        return misfit(apply, step);
    *field = step->to.kind == PLAN_NULL ? SHOW_NONE : step->to.number;
    return 0;
}

static int set_air(const struct apply *apply, const struct plan_step *step, enum air *field)
{
    *field = step->to.kind == PLAN_TEXT ? air_from_name(step->to.text, strlen(step->to.text)) : AIR_NONE;
    return step->to.kind == PLAN_NULL || *field ? 0 : misfit(apply, step);
}

/* Read a decimal number with a point whatever the locale says, and move on. */
static bool take_number(const char **at, double *number)
{
    char *end = NULL;
    locale_t locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (locale == (locale_t)0)
        return false;
    *number = strtod_l(*at, &end, locale);
    freelocale(locale);
    bool good = end != *at && isfinite(*number);
    *at = end;
    return good;
}

static bool take(const char **at, char c)
{
    if (**at != c)
        return false;
    ++*at;
    return true;
}

static int set_position(const struct apply *apply, const struct plan_step *step, struct position *pos)
{
    const char *at = step->to.text;
    *pos = (struct position){ NAN, 0, 0 };
    if (step->to.kind == PLAN_NULL)
        return 0;
    struct position read;
    if (step->to.kind != PLAN_TEXT || !take_number(&at, &read.x_m) || !take(&at, ' ') || !take_number(&at, &read.y_m)
        || !take(&at, ' ') || !take_number(&at, &read.z_m) || *at)
        return misfit(apply, step);
    *pos = read;
    return 0;
}

/* ---- transmitters ---- */

/* A band that stood there before keeps who it is for. */
static void keep_words(const struct transmitter *before, struct band *band)
{
    for (uint32_t i = 0; i < before->keep_out_count; i++) {
        const struct band *old = &before->keep_out[i];
        if (old->from_mhz == band->from_mhz && old->to_mhz == band->to_mhz) {
            *band = *old;
            return;
        }
    }
}

static int set_keep_out(const struct apply *apply, const struct plan_step *step, struct transmitter *transmitter)
{
    const char *at = step->to.kind == PLAN_TEXT ? step->to.text : "";
    size_t room = strlen(at) / 4 + 1;                        /* "1-2 " is the shortest */
    struct transmitter before = *transmitter;
    struct band *bands = show_alloc(apply->show, room * sizeof *bands);
    uint32_t count = 0;
    if (!bands)
        return no_memory(apply);
    while (*at) {
        struct band band = { 0 };
        if (count == room || !take_number(&at, &band.from_mhz) || !take(&at, '-') || !take_number(&at, &band.to_mhz)
            || !(band.from_mhz <= band.to_mhz) || (*at && !take(&at, ' ')))
            return misfit(apply, step);
        keep_words(&before, &band);
        bands[count++] = band;
    }
    transmitter->keep_out = bands;
    transmitter->keep_out_count = count;
    return step->to.kind == PLAN_NUMBER ? misfit(apply, step) : 0;
}

/* Give lane `lane` the universe of the step, or none. Lanes stay in the order in which they stand, a new one comes before the
 * first higher one. */
static int set_lane(const struct apply *apply, const struct plan_step *step, struct transmitter *transmitter, int64_t lane)
{
    struct lane *lanes = show_alloc(apply->show, (transmitter->lane_count + (size_t)1) * sizeof *lanes);
    uint32_t count = 0;
    bool placed = step->to.kind == PLAN_NULL;
    if (!lanes)
        return no_memory(apply);
    if (step->to.kind == PLAN_TEXT)
        return misfit(apply, step);
    for (uint32_t i = 0; i < transmitter->lane_count; i++) {
        const struct lane *old = &transmitter->lanes[i];
        if (!placed && old->lane >= lane) {
            lanes[count++] = (struct lane){ lane, step->to.number };
            placed = true;
        }
        if (old->lane != lane)
            lanes[count++] = *old;
    }
    if (!placed)
        lanes[count++] = (struct lane){ lane, step->to.number };
    transmitter->lanes = lanes;
    transmitter->lane_count = count;
    return 0;
}

static int apply_transmitter(const struct apply *apply, const struct plan_step *step)
{
    if (step->subject.index >= apply->show->transmitter_count)
        return misfit(apply, step);
    struct transmitter *transmitter = &apply->show->transmitters[step->subject.index];
    int64_t lane;
    int end = 0;
    if (!strcmp(step->field, "code"))
        return set_text(apply, step, &transmitter->code);
    if (!strcmp(step->field, "air"))
        return set_air(apply, step, &transmitter->air);
    if (!strcmp(step->field, "keep_out"))
        return set_keep_out(apply, step, transmitter);
    if (!strcmp(step->field, "lanes") && step->to.kind == PLAN_NULL) {
        transmitter->lanes = NULL;
        transmitter->lane_count = 0;
        return 0;
    }
    if (!strcmp(step->field, "spare") && step->to.kind == PLAN_NULL) {
        transmitter->spare = false;
        return 0;
    }
    if (sscanf(step->field, "lane %" SCNd64 "%n", &lane, &end) == 1 && !step->field[end])
        return set_lane(apply, step, transmitter, lane);
    return misfit(apply, step);
}

/* ---- universes and fixtures ---- */

/* The universe of a step: one of the show, or one that the plan adds. Those stand in the order in which they are added. */
static int find_universe(const struct apply *apply, const struct plan_step *step, struct universe **out)
{
    struct show *show = apply->show;
    if (step->subject.index < apply->universes_before) {
        *out = &show->universes[step->subject.index];
        return 0;
    }
    bool added = step->subject.index < show->universe_count;
    if (step->id == SHOW_NONE || step->subject.index > show->universe_count ||
        (added && show->universes[step->subject.index].id != step->id))
        return misfit(apply, step);
    if (added) {
        *out = &show->universes[step->subject.index];
        return 0;
    }
    *out = show_add_universe(show);
    if (!*out)
        return no_memory(apply);
    (*out)->id = step->id;
    return 0;
}

static int apply_universe(const struct apply *apply, const struct plan_step *step)
{
    struct universe *universe;
    if (strcmp(step->field, "label"))
        return misfit(apply, step);
    int err = find_universe(apply, step, &universe);
    return err ? err : set_text(apply, step, &universe->label);
}

static int apply_fixture(const struct apply *apply, const struct plan_step *step)
{
    if (step->subject.index >= apply->show->fixture_count)
        return misfit(apply, step);
    struct fixture *fixture = &apply->show->fixtures[step->subject.index];
    const struct { const char *name; const char **text; int64_t *number; } fields[] = {
        { "code", &fixture->code, NULL }, { "mode", &fixture->mode, NULL }, { "site", &fixture->site, NULL },
        { "universe", NULL, &fixture->universe }, { "address", NULL, &fixture->address }, { "lane", NULL, &fixture->lane },
    };
    for (unsigned i = 0; i < sizeof fields / sizeof *fields; i++)
        if (!strcmp(fields[i].name, step->field))
            return fields[i].text ? set_text(apply, step, fields[i].text) : set_number(apply, step, fields[i].number);
    if (!strcmp(step->field, "air"))
        return set_air(apply, step, &fixture->air);
    if (!strcmp(step->field, "pos"))
        return set_position(apply, step, &fixture->pos);
    return misfit(apply, step);
}

static int apply_step(const struct apply *apply, const struct plan_step *step)
{
    switch (step->subject.kind) {
    case SUBJECT_TRANSMITTER:
        return apply_transmitter(apply, step);
    case SUBJECT_UNIVERSE:
        return apply_universe(apply, step);
    case SUBJECT_FIXTURE:
        return apply_fixture(apply, step);
    default:
        return misfit(apply, step);
    }
}

/* A transmitter that the plan gives a code or a lane, and that has both now, is on the air: no spare any more. */
static void put_on_air(const struct plan *plan, struct show *show)
{
    for (uint32_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        bool gives = step->to.kind != PLAN_NULL && (!strcmp(step->field, "code") || !strncmp(step->field, "lane ", 5));
        if (step->subject.kind != SUBJECT_TRANSMITTER || !gives)
            continue;
        struct transmitter *transmitter = &show->transmitters[step->subject.index];
        if (transmitter->code && transmitter->lane_count)
            transmitter->spare = false;
    }
}

static int compare_numbers(const void *a, const void *b)
{
    const int64_t *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

static bool gives_universe(const struct plan_step *step)
{
    return step->to.kind == PLAN_NUMBER && ((step->subject.kind == SUBJECT_TRANSMITTER && !strncmp(step->field, "lane ", 5)) ||
                                            (step->subject.kind == SUBJECT_FIXTURE && !strcmp(step->field, "universe")));
}

/* Every universe that a lane or a fixture gets is to be listed: a finding on the lost transmitter must not become one on its
 * stand-in. */
static int list_universes(const struct apply *apply, const struct plan *plan)
{
    int64_t *ids = malloc((plan->step_count + (size_t)1) * sizeof *ids);
    uint32_t count = 0;
    int err = ids && !show_index(apply->show) ? 0 : no_memory(apply);
    for (uint32_t i = 0; i < plan->step_count && !err; i++)
        if (gives_universe(&plan->steps[i]) && show_find_universe(apply->show, plan->steps[i].to.number) == SHOW_UNKNOWN)
            ids[count++] = plan->steps[i].to.number;
    if (count)
        qsort(ids, count, sizeof *ids, compare_numbers);
    for (uint32_t i = 0; i < count && !err; i++) {
        struct universe *added = i && ids[i] == ids[i - 1] ? NULL : show_add_universe(apply->show);
        if (added)
            added->id = ids[i];
        else if (!i || ids[i] != ids[i - 1])
            err = no_memory(apply);
    }
    if (!err && count && show_index(apply->show))
        err = no_memory(apply);
    free(ids);
    return err;
}

int plan_apply(const struct plan *plan, const struct show *show, struct show **out, struct rig_why *why)
{
    *out = NULL;
    if (plan->refused)
        return rig_fail(why, RIG_EUSAGE, "the plan is refused: %s", plan->refused);
    struct apply apply = { show_copy(show), show->universe_count, why };
    if (!apply.show)
        return no_memory(&apply);
    int err = 0;
    for (uint32_t i = 0; i < plan->step_count && !err; i++)
        err = apply_step(&apply, &plan->steps[i]);
    if (!err)
        put_on_air(plan, apply.show);
    if (!err)
        err = list_universes(&apply, plan);
    if (err)
        show_free(apply.show);
    else
        *out = apply.show;
    return err;
}
