/* Frames: when they are, what is in them, and the end of a run. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

double engine_frame_time(const struct engine *engine, uint64_t frame)
{
    return (double)frame * 1e9 / engine->rate_hz;
}

uint64_t engine_frame_at(const struct engine *engine, int64_t time_ns)
{
    double latest = (double)time_ns - ENGINE_GRACE_NS;
    if (latest <= 0)
        return 0;
    uint64_t frame = (uint64_t)ceil(latest * engine->rate_hz / 1e9);
    while (frame > 0 && engine_frame_time(engine, frame - 1) >= latest)
        frame--;
    while (engine_frame_time(engine, frame) < latest)
        frame++;
    return frame;
}

/* Mark what differs from the last frame. */
static void find_changes(struct engine *engine)
{
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        struct sent_universe *sent = &engine->sent[u];
        size_t first = (size_t)u * SHOW_SLOTS;
        engine->universes[u].changed = (sent->touched || sent->fading) &&
                                       memcmp(engine->next + first, engine->levels + first, SHOW_SLOTS) != 0;
        sent->touched = false;
    }
}

static void take_changes(struct engine *engine)
{
    for (uint32_t u = 0; u < engine->universe_count; u++)
        if (engine->universes[u].changed)
            memcpy(engine->levels + (size_t)u * SHOW_SLOTS, engine->next + (size_t)u * SHOW_SLOTS, SHOW_SLOTS);
}

static void refuse_changes(struct engine *engine)
{
    engine->failed = true;
    engine->ahead_count = 0;
    fades_drop(engine);
    for (uint32_t u = 0; u < engine->universe_count; u++)
        engine->universes[u].changed = false;
    memcpy(engine->next, engine->levels, (size_t)engine->universe_count * SHOW_SLOTS);
}

enum engine_frame_result engine_next_frame(struct engine *engine)
{
    double time_ns = engine_frame_time(engine, engine->frame);
    if (!engine->ended && !engine->failed) {
        commands_due(engine, time_ns);           /* a fade that cannot be had is a level held at its start */
        fades_step(engine, time_ns);
    }
    find_changes(engine);
    if (engine->guard && !engine->ended && !engine->failed && !watch_frame(engine))
        refuse_changes(engine);
    else
        take_changes(engine);
    engine->frame++;
    return engine->failed && !engine->ended ? ENGINE_FRAME_REFUSED : ENGINE_FRAME_SENT;
}

void engine_begin_end(struct engine *engine)
{
    engine->ended = true;
    engine->ahead_count = 0;
    fades_drop(engine);
    memcpy(engine->next, engine->defaults, (size_t)engine->universe_count * SHOW_SLOTS);
    for (uint32_t u = 0; u < engine->universe_count; u++)
        engine->sent[u].touched = true;
}

const struct engine_universe *engine_universes(const struct engine *engine, uint32_t *count)
{
    *count = engine->universe_count;
    return engine->universes;
}

void engine__skip_to(struct engine *engine, uint64_t frame)
{
    if (frame > engine->frame)
        engine->frame = frame;
}

/* ---- the guard's word ---- */

const struct engine_violation *engine_violation(const struct engine *engine)
{
    return engine->failed ? &engine->violation : NULL;
}

size_t engine_violation_text(const struct engine *engine, char *buffer, size_t size)
{
    const struct engine_violation *v = &engine->violation;
    char subject[200] = "fixtures without a site", part[48] = "";
    if (!engine->failed || size == 0) {
        if (size)
            buffer[0] = '\0';
        return 0;
    }
    if (v->of == VIOLATION_SITE && v->site != SHOW_UNKNOWN)
        show_describe(engine->show, SUBJECT_SITE, v->site, subject, sizeof subject);
    else if (v->of != VIOLATION_SITE)
        show_describe(engine->show, SUBJECT_FIXTURE, v->fixture, subject, sizeof subject);
    if (v->of == VIOLATION_CELL)
        snprintf(part, sizeof part, ", cell %u", v->cell + 1);
    else if (v->of == VIOLATION_SITE)
        snprintf(part, sizeof part, ", mean of its fixtures");
    else if (engine->violation_mean)
        snprintf(part, sizeof part, ", mean of its cells");
    int length = snprintf(buffer, size, "%s%s: %d %sflashes between %.3f s and %.3f s; %d in any second are allowed",
                          subject, part, v->count, v->kind == VIOLATION_RED_FLASH ? "red " : "", v->from_s, v->to_s,
                          GUARD_FLASHES);
    return length < 0 ? 0 : (size_t)length < size ? (size_t)length : size - 1;
}

/* ---- notices ---- */

void engine__notice(struct engine *engine, enum notice_kind kind, const char *format, ...)
{
    va_list args;
    char *text;
    if (engine->notice_count == ENGINE_NOTICES)
        return;
    if (engine->notice_count == engine->notice_room) {
        uint32_t room = engine->notice_room ? engine->notice_room * 2 : 8;
        struct notice *notices = realloc(engine->notices, room * sizeof *notices);
        if (!notices)
            return;
        engine->notices = notices;
        engine->notice_room = room;
    }
    va_start(args, format);
    int length = vasprintf(&text, format, args);
    va_end(args);
    if (length >= 0)
        engine->notices[engine->notice_count++] = (struct notice){ kind, text };
}

void engine_said(struct engine *engine, const char *text)
{
    engine__notice(engine, NOTICE_SAID, "%s", text);
}

void engine__forget_notices(struct engine *engine)
{
    for (uint32_t i = 0; i < engine->notice_count; i++)
        free(engine->notices[i].text);
    engine->notice_count = 0;
}
