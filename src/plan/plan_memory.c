/* A plan's memory: blocks that go with the plan, and the array of steps. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan_internal.h"

struct block { struct block *next; max_align_t bytes[]; };

struct plan_memory { struct block *blocks; uint32_t step_room; };

struct plan *plan__new(enum plan_kind kind)
{
    struct plan *plan = calloc(1, sizeof *plan);
    if (!plan)
        return NULL;
    plan->memory = calloc(1, sizeof *plan->memory);
    if (!plan->memory) {
        free(plan);
        return NULL;
    }
    plan->kind = kind;
    plan->proved = true;
    return plan;
}

void plan_free(struct plan *plan)
{
    if (!plan)
        return;
    plan_free(plan->undisturbing);
    for (struct block *block = plan->memory->blocks, *next; block; block = next) {
        next = block->next;
        free(block);
    }
    free(plan->memory);
    free(plan->steps);
    free(plan);
}

void *plan__alloc(struct plan *plan, size_t size)
{
    struct block *block;
    if (size > SIZE_MAX - sizeof *block || !(block = calloc(1, sizeof *block + size)))
        return NULL;
    block->next = plan->memory->blocks;
    plan->memory->blocks = block;
    return block->bytes;
}

static const char *text_of(struct plan *plan, const char *format, va_list arguments)
{
    va_list again;
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *text = length < 0 ? NULL : plan__alloc(plan, (size_t)length + 1);
    if (text)
        vsnprintf(text, (size_t)length + 1, format, arguments);
    return text;
}

const char *plan__text(struct plan *plan, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    const char *text = text_of(plan, format, arguments);
    va_end(arguments);
    return text;
}

struct plan_step *plan__step(struct plan *plan, enum subject_kind kind, uint32_t index, const char *field)
{
    if (plan->step_count == plan->memory->step_room) {
        uint32_t room = plan->memory->step_room ? plan->memory->step_room * 2 : 16;
        struct plan_step *steps = room > plan->step_count ? reallocarray(plan->steps, room, sizeof *steps) : NULL;
        if (!steps)
            return NULL;
        plan->steps = steps;
        plan->memory->step_room = room;
    }
    struct plan_step *step = &plan->steps[plan->step_count++];
    memset(step, 0, sizeof *step);
    step->subject.kind = kind;
    step->subject.index = index;
    step->id = SHOW_NONE;
    step->field = field;
    return step;
}

struct plan_value plan__null(void)
{
    return (struct plan_value){ PLAN_NULL, NULL, 0 };
}

struct plan_value plan__number(int64_t number)
{
    return number == SHOW_NONE ? plan__null() : (struct plan_value){ PLAN_NUMBER, NULL, number };
}

struct plan_value plan__value(const char *text)
{
    return text ? (struct plan_value){ PLAN_TEXT, text, 0 } : plan__null();
}

struct place { int64_t id; uint32_t index; };

static int compare_places(const void *a, const void *b)
{
    const struct place *x = a, *y = b;
    return x->id != y->id ? (x->id > y->id) - (x->id < y->id) : (x->index > y->index) - (x->index < y->index);
}

uint32_t *plan__fixtures(struct plan *plan, const struct show *show, const uint32_t *indexes, uint32_t count)
{
    struct place *places = malloc((count + (size_t)1) * sizeof *places);
    uint32_t *sorted = plan__alloc(plan, (count + (size_t)1) * sizeof *sorted);
    if (!places || !sorted) {
        free(places);
        return NULL;
    }
    for (uint32_t i = 0; i < count; i++)
        places[i] = (struct place){ show->fixtures[indexes[i]].id, indexes[i] };
    qsort(places, count, sizeof *places, compare_places);
    for (uint32_t i = 0; i < count; i++)
        sorted[i] = places[i].index;
    free(places);
    return sorted;
}

bool plan__refuse(struct plan *plan, const char *rule, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    plan->refused = text_of(plan, format, arguments);
    va_end(arguments);
    plan->refused_rule = rule;
    plan->step_count = plan->touches = plan->settings = plan->disturbed = 0;
    plan->touched_count = plan->disturbed_count = plan->universes_dark_count = 0;
    plan_free(plan->undisturbing);
    plan->undisturbing = NULL;
    return plan->refused != NULL;
}
