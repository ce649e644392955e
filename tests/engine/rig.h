/* Invented rigs for the tests of the engine room, and a player that follows a written list of steps. */
#ifndef RIGCALL_TESTS_RIG_H
#define RIGCALL_TESTS_RIG_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "rigcall/engine.h"

#define RIG_MOST 64
#define MS INT64_C(1000000)
#define SECOND INT64_C(1000000000)

struct rig { struct show *show; uint32_t grant[RIG_MOST]; uint32_t grant_count; struct engine *engine; struct rig_why why; };

static inline void rig_init(struct rig *rig)
{
    memset(rig, 0, sizeof *rig);
    rig->show = show_new();
    assert_non_null(rig->show);
}

static inline void rig_fini(struct rig *rig)
{
    engine_free(rig->engine);
    show_free(rig->show);
}

/* Slots from a text: "intensity red pan pan+fine strobe=50" (=: default in per cent). */
static inline struct slot *rig_slots(struct show *show, const char *text, uint32_t *count)
{
    struct slot *slots = show_alloc(show, 512 * sizeof *slots);
    *count = 0;
    while (*text) {
        size_t length = strcspn(text, " "), name = strcspn(text, " =+");
        struct slot *slot = &slots[(*count)++];
        slot->param = (uint16_t)show_param(show, text, name);
        slot->fine = strncmp(text + name, "+fine", 5) == 0;
        const char *equals = memchr(text, '=', length);
        slot->default_percent = equals ? atof(equals + 1) : (double)NAN;
        text += length;
        text += strspn(text, " ");
    }
    return slots;
}

/* A type with one mode. @return the type's id, which is what a fixture needs */
static inline const char *rig_type(struct rig *rig, const char *id, enum hazard hazard, const char *head, int64_t cells,
                                   const char *slots, const char *tail)
{
    struct show *show = rig->show;
    struct mode *mode = show_alloc(show, sizeof *mode);
    mode->id = show_text(show, "m", 1);
    mode->cells = cells;
    mode->head = rig_slots(show, head, &mode->head_count);
    mode->slots = rig_slots(show, slots, &mode->slot_count);
    mode->tail = rig_slots(show, tail, &mode->tail_count);
    struct type *type = show_add_type(show);
    type->id = show_text(show, id, strlen(id));
    type->hazard = hazard;
    type->modes = mode;
    type->mode_count = 1;
    return type->id;
}

static inline void rig_site(struct rig *rig, const char *id)
{
    struct site *site = show_add_site(rig->show);
    site->id = show_text(rig->show, id, strlen(id));
}

static inline void rig_universe(struct rig *rig, int64_t id, int64_t wire, int64_t priority)
{
    struct universe *universe = show_add_universe(rig->show);
    universe->id = id;
    universe->wire = wire;
    universe->priority = priority;
}

/* @return its index; granted unless told otherwise by rig_ungrant() */
static inline uint32_t rig_fixture(struct rig *rig, int64_t id, const char *type, const char *site, int64_t universe,
                                   int64_t address)
{
    struct show *show = rig->show;
    struct fixture *fixture = show_add_fixture(show);
    char name[32];
    snprintf(name, sizeof name, "Lamp %lld", (long long)id);
    fixture->id = id;
    fixture->name = show_text(show, name, strlen(name));
    fixture->type = show_text(show, type, strlen(type));
    fixture->mode = show_text(show, "m", 1);
    fixture->site = site ? show_text(show, site, strlen(site)) : NULL;
    fixture->universe = universe;
    fixture->address = address;
    rig->grant[rig->grant_count++] = show->fixture_count - 1;
    return show->fixture_count - 1;
}

static inline void rig_ungrant(struct rig *rig, uint32_t fixture)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < rig->grant_count; i++)
        if (rig->grant[i] != fixture)
            rig->grant[kept++] = rig->grant[i];
    rig->grant_count = kept;
}

static inline int rig_try_start(struct rig *rig, double rate_hz, bool allow_flash, const uint32_t *armed,
                                uint32_t armed_count)
{
    assert_int_equal(show_index(rig->show), 0);
    struct engine_options options = { .rate_hz = rate_hz,
                                      .fixtures = rig->grant,
                                      .fixture_count = rig->grant_count,
                                      .armed = armed,
                                      .armed_count = armed_count,
                                      .allow_flash = allow_flash };
    return engine_new(rig->show, &options, &rig->engine, &rig->why);
}

static inline void rig_start(struct rig *rig, double rate_hz)
{
    assert_int_equal(rig_try_start(rig, rate_hz, false, NULL, 0), 0);
}

static inline uint16_t rig_param(const struct rig *rig, const char *name)
{
    for (uint32_t p = 0; p < rig->show->param_count; p++)
        if (strcmp(rig->show->params[p], name) == 0)
            return (uint16_t)p;
    fail_msg("no parameter %s", name);
    return 0;
}

static inline void rig_set(struct rig *rig, int64_t at_ns, uint32_t fixture, const char *param, double percent)
{
    assert_int_equal(engine_set(rig->engine, at_ns, fixture, ENGINE_ALL_CELLS, rig_param(rig, param), percent, &rig->why), 0);
}

static inline void rig_fade(struct rig *rig, int64_t at_ns, uint32_t fixture, const char *param, double percent,
                            int64_t duration_ns)
{
    assert_int_equal(
        engine_fade(rig->engine, at_ns, fixture, ENGINE_ALL_CELLS, rig_param(rig, param), percent, duration_ns, &rig->why),
        0);
}

/* Level of a slot, as sent. */
static inline int rig_level(const struct rig *rig, uint32_t universe_place, int slot)
{
    uint32_t count;
    const struct engine_universe *universes = engine_universes(rig->engine, &count);
    assert_true(universe_place < count);
    return universes[universe_place].levels[slot - 1];
}

static inline void rig_frames(struct rig *rig, int count)
{
    for (int i = 0; i < count; i++)
        assert_int_equal(engine_next_frame(rig->engine), ENGINE_FRAME_SENT);
}

/* ---- a player that follows steps ---- */

enum step_kind { STEP_SET, STEP_FADE, STEP_CLEAR, STEP_SAY, STEP_WAIT, STEP_ASK, STEP_DONE, STEP_BREAK };
struct step { enum step_kind kind; double seconds; uint32_t fixture; const char *text; double percent, duration_s; };

struct steps {
    struct rig *rig;
    const struct step *steps;        /* ends with STEP_DONE or STEP_BREAK; seconds of a wait: until when */
    int at;
    int64_t now_ns;
    int64_t resumed_at[64]; int resumes;
    enum crew_answer answers[64];
    bool stopped;
};

static inline void steps_resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    struct steps *steps = context;
    (void)note;
    if (steps->resumes < 64) {
        steps->resumed_at[steps->resumes] = now_ns;
        steps->answers[steps->resumes] = answer;
    }
    steps->resumes++;
    steps->now_ns = now_ns;
}

static inline void steps_collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct steps *steps = context;
    (void)timeout_ms;
    for (;;) {
        const struct step *step = &steps->steps[steps->at];
        uint16_t param = step->kind <= STEP_FADE ? rig_param(steps->rig, step->text) : 0;
        wish->why = (struct rig_why){ 0 };
        switch (step->kind) {
        case STEP_SET:
        case STEP_FADE:
            wish->why.code = engine_fade(engine, steps->now_ns, step->fixture, ENGINE_ALL_CELLS, param, step->percent,
                                         (int64_t)(step->duration_s * 1e9), &wish->why);
            if (wish->why.code) {
                wish->kind = WISH_BROKEN;
                return;
            }
            break;
        case STEP_CLEAR:
            assert_int_equal(engine_clear(engine, steps->now_ns, step->fixture, ENGINE_ALL_CELLS, NULL), 0);
            break;
        case STEP_SAY:
            engine_said(engine, step->text);
            break;
        case STEP_WAIT:
            wish->kind = WISH_WAIT;
            wish->until_ns = (int64_t)llround(step->seconds * 1e9);
            steps->at++;
            return;
        case STEP_ASK:
            wish->kind = WISH_ASK;
            wish->fixture = step->fixture;
            snprintf(wish->question, sizeof wish->question, "%s", step->text);
            steps->at++;
            return;
        case STEP_DONE:
            wish->kind = WISH_DONE;
            return;
        case STEP_BREAK:
            wish->kind = WISH_BROKEN;
            rig_fail(&wish->why, RIG_ESCRIPT, "%s", step->text);
            return;
        }
        steps->at++;
    }
}

static inline void steps_stop(void *context)
{
    ((struct steps *)context)->stopped = true;
}

static inline struct engine_player steps_player(struct steps *steps)
{
    return (struct engine_player){
        .context = steps, .fd = -1, .resume = steps_resume, .collect = steps_collect, .stop = steps_stop
    };
}

#endif
