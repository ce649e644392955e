/* Timers of the table: a binary heap. A packet only ever puts its source's timer off, so it does not touch the heap: the
 * timer wakes too early, and whoever it wakes sets it again. */
#include "sacn_table.h"

static bool before(const struct sacn__timer *a, const struct sacn__timer *b)
{
    if (a->due_ns != b->due_ns)
        return a->due_ns < b->due_ns;
    return a->kind != b->kind ? a->kind < b->kind : a->tie < b->tie;
}

static void put(struct sacn__timers *timers, uint32_t place, struct sacn__timer *timer)
{
    timers->heap[place - 1] = timer;
    timer->place = place;
}

static void rise(struct sacn__timers *timers, uint32_t place, struct sacn__timer *timer)
{
    for (; place > 1 && before(timer, timers->heap[place / 2 - 1]); place /= 2)
        put(timers, place, timers->heap[place / 2 - 1]);
    put(timers, place, timer);
}

static void sink(struct sacn__timers *timers, uint32_t place, struct sacn__timer *timer)
{
    for (uint32_t child; (child = 2 * place) <= timers->count; place = child) {
        if (child < timers->count && before(timers->heap[child], timers->heap[child - 1]))
            child++;
        if (!before(timers->heap[child - 1], timer))
            break;
        put(timers, place, timers->heap[child - 1]);
    }
    put(timers, place, timer);
}

void sacn__timer_set(struct sacn__timers *timers, struct sacn__timer *timer, int64_t due_ns)
{
    if (timer->place != 0 && timer->due_ns <= due_ns)
        return;
    timer->due_ns = due_ns;
    rise(timers, timer->place != 0 ? timer->place : ++timers->count, timer);
}

void sacn__timer_drop(struct sacn__timers *timers, struct sacn__timer *timer)
{
    uint32_t place = timer->place;
    if (place == 0)
        return;
    timer->place = 0;
    struct sacn__timer *last = timers->heap[--timers->count];
    if (last == timer)
        return;
    if (place > 1 && before(last, timers->heap[place / 2 - 1]))
        rise(timers, place, last);
    else
        sink(timers, place, last);
}

struct sacn__timer *sacn__timer_pop(struct sacn__timers *timers, int64_t now_ns)
{
    struct sacn__timer *first = timers->count > 0 ? timers->heap[0] : NULL;
    if (!first || first->due_ns > now_ns)
        return NULL;
    sacn__timer_drop(timers, first);
    return first;
}
