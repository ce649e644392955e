/* What a slot holds: a level, or a place in a fade. */
#include <stdlib.h>

#include "engine_internal.h"

#define CHUNK 256

static const struct { double scale; unsigned shift; } forms[FORMS] = {
    [FORM_8] = { 255, 0 }, [FORM_HIGH] = { 65535, 8 }, [FORM_LOW] = { 65535, 0 },
};

uint8_t slot_level(double percent, enum form form)
{
    return (uint8_t)((int32_t)(percent * forms[form].scale / 100 + 0.5) >> forms[form].shift);
}

static bool group_over(const struct fade_group *group, double time_ns)
{
    return time_ns + ENGINE_GRACE_NS >= (double)group->start_ns + (double)group->duration_ns;
}

/* Time since the start; a start within the grace after a frame is at it. */
static double elapsed_ns(const struct fade_group *group, double time_ns)
{
    double elapsed = time_ns - (double)group->start_ns;
    return elapsed > 0 ? elapsed : 0;
}

double slot_percent(const struct engine *engine, uint32_t slot, double time_ns)
{
    const struct slot_state *state = &engine->slots[slot];
    const struct fade_group *group = state->group;
    if (!group)
        return state->percent;
    double from = group->blocks[state->form].from[state->element], to = group->blocks[state->form].to[state->element];
    return group_over(group, time_ns) ? to : from + (to - from) * elapsed_ns(group, time_ns) / (double)group->duration_ns;
}

static void group_free(struct engine *engine, struct fade_group *group)
{
    engine->group_count--;
    if (group->previous)
        group->previous->next = group->next;
    else
        engine->groups = group->next;
    if (group->next)
        group->next->previous = group->previous;
    for (int form = 0; form < FORMS; form++) {
        free(group->blocks[form].from);
        free(group->blocks[form].to);
        free(group->blocks[form].slot);
    }
    free(group);
}

static bool group_empty(const struct fade_group *group)
{
    return !group->blocks[FORM_8].count && !group->blocks[FORM_HIGH].count && !group->blocks[FORM_LOW].count;
}

/* Take a slot out of its fade; the last element moves into the gap. */
static void detach(struct engine *engine, uint32_t slot)
{
    struct slot_state *state = &engine->slots[slot];
    struct fade_group *group = state->group;
    if (!group)
        return;
    struct fade_block *block = &group->blocks[state->form];
    uint32_t last = --block->count;
    block->from[state->element] = block->from[last];
    block->to[state->element] = block->to[last];
    block->slot[state->element] = block->slot[last];
    engine->slots[block->slot[last]].element = state->element;
    state->group = NULL;
    engine->sent[slot / SHOW_SLOTS].fading--;
    if (group_empty(group))
        group_free(engine, group);
}

void slot_put(struct engine *engine, uint32_t slot, enum form form, double percent)
{
    struct slot_state *state = &engine->slots[slot];
    detach(engine, slot);
    state->percent = percent;
    state->form = (uint8_t)form;
    engine->next[slot] = slot_level(percent, form);
    engine->sent[slot / SHOW_SLOTS].touched = true;
}

static void *resized(void *array, uint32_t room, size_t size)
{
    return realloc(array, (size_t)room * size);
}

static bool block_grow(struct fade_block *block)
{
    uint32_t room = block->room ? block->room * 2 : 1;
    double *from = resized(block->from, room, sizeof *from);
    if (from)
        block->from = from;
    double *to = resized(block->to, room, sizeof *to);
    if (to)
        block->to = to;
    uint32_t *slot = resized(block->slot, room, sizeof *slot);
    if (slot)
        block->slot = slot;
    if (!from || !to || !slot)
        return false;
    block->room = room;
    return true;
}

/* The group of a start and a duration. Only the newest few are looked at: fades that belong together come one after another. */
static struct fade_group *group_for(struct engine *engine, int64_t start_ns, int64_t duration_ns)
{
    struct fade_group *group = engine->groups;
    for (int i = 0; group && i < 8; i++, group = group->next)
        if (group->start_ns == start_ns && group->duration_ns == duration_ns)
            return group;
    group = engine->group_count < ENGINE_GROUPS ? calloc(1, sizeof *group) : NULL;
    if (!group)
        return NULL;
    group->start_ns = start_ns;
    group->duration_ns = duration_ns;
    group->next = engine->groups;
    if (group->next)
        group->next->previous = group;
    engine->groups = group;
    engine->group_count++;
    return group;
}

int slot_fade(struct engine *engine, uint32_t slot, enum form form, double from, double to, int64_t start_ns,
              int64_t duration_ns)
{
    struct slot_state *state = &engine->slots[slot];
    slot_put(engine, slot, form, from);
    struct fade_group *group = group_for(engine, start_ns, duration_ns);
    if (!group)
        return engine->group_count == ENGINE_GROUPS ? RIG_ESCRIPT : RIG_ENOMEM;
    struct fade_block *block = &group->blocks[form];
    if (block->count == block->room && !block_grow(block)) {
        if (group_empty(group))
            group_free(engine, group);
        return RIG_ENOMEM;
    }
    block->from[block->count] = from;
    block->to[block->count] = to;
    block->slot[block->count] = slot;
    state->group = group;
    state->element = block->count++;
    engine->sent[slot / SHOW_SLOTS].fading++;
    return 0;
}

/* Levels of a block. The order of the arithmetic is the contract; the first loop is one that compilers vectorise. */
static void block_levels(const struct fade_block *block, double elapsed, double duration, double scale, unsigned shift,
                         uint8_t *levels)
{
    for (uint32_t done = 0; done < block->count; done += CHUNK) {
        uint32_t count = block->count - done < CHUNK ? block->count - done : CHUNK;
        const double *from = block->from + done, *to = block->to + done;
        const uint32_t *slot = block->slot + done;
        int32_t wide[CHUNK];
        for (uint32_t i = 0; i < count; i++) {
            double percent = from[i] + (to[i] - from[i]) * elapsed / duration;
            wide[i] = (int32_t)(percent * scale / 100 + 0.5);
        }
        for (uint32_t i = 0; i < count; i++)
            levels[slot[i]] = (uint8_t)(wide[i] >> shift);
    }
}

static void group_end(struct engine *engine, struct fade_group *group)
{
    for (int form = 0; form < FORMS; form++) {
        struct fade_block *block = &group->blocks[form];
        for (uint32_t i = 0; i < block->count; i++) {
            uint32_t slot = block->slot[i];
            engine->slots[slot].percent = block->to[i];
            engine->slots[slot].group = NULL;
            engine->next[slot] = slot_level(block->to[i], (enum form)form);
            engine->sent[slot / SHOW_SLOTS].fading--;
            engine->sent[slot / SHOW_SLOTS].touched = true;
        }
    }
    group_free(engine, group);
}

void fades_step(struct engine *engine, double time_ns)
{
    for (struct fade_group *group = engine->groups, *next; group; group = next) {
        next = group->next;
        if (group_over(group, time_ns)) {
            group_end(engine, group);
            continue;
        }
        for (int form = 0; form < FORMS; form++)
            block_levels(&group->blocks[form], elapsed_ns(group, time_ns), (double)group->duration_ns, forms[form].scale,
                         forms[form].shift, engine->next);
    }
}

void fades_drop(struct engine *engine)
{
    while (engine->groups) {
        struct fade_group *group = engine->groups;
        for (int form = 0; form < FORMS; form++)
            for (uint32_t i = 0; i < group->blocks[form].count; i++)
                engine->slots[group->blocks[form].slot[i]].group = NULL;
        group_free(engine, group);
    }
    for (uint32_t u = 0; u < engine->universe_count; u++)
        engine->sent[u].fading = 0;
}

int64_t engine_fades_end(const struct engine *engine, int64_t now_ns)
{
    int64_t end = now_ns;
    for (const struct fade_group *group = engine->groups; group; group = group->next)
        if (group->start_ns + group->duration_ns > end)
            end = group->start_ns + group->duration_ns;
    for (uint32_t i = 0; i < engine->ahead_count; i++) {
        const struct command *command = &engine->ahead[i];
        if (command->kind == COMMAND_FADE && command->duration_ns > 0 && command->at_ns + command->duration_ns > end)
            end = command->at_ns + command->duration_ns;
    }
    return end;
}
