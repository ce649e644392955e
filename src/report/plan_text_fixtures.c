/* The fixtures of a plan in the order in which a person meets them: site by site, and along a site on the axis (x, y or z) on
 * which its fixtures are spread the most. Fixtures next to each other with one reason stand under it. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "plan_text.h"

/* One fixture: its steps are first..end-1 of the plan. */
struct stop { const struct fixture *fixture; uint32_t first, end; double along; bool keyed; };

/* Where a fixture hangs is written in the show file and not keyed into the fixture. */
static bool is_keyed(const struct plan_step *step)
{
    return strcmp(step->field, "site") && strcmp(step->field, "pos");
}

/* Sites in the order of the show, then those it does not define by name, then none. */
static int compare_sites(const struct fixture *a, const struct fixture *b)
{
    if (a->site_index != b->site_index)
        return a->site_index < b->site_index ? -1 : 1;
    if (!a->site || !b->site)
        return !a->site - !b->site;
    return strcmp(a->site, b->site);
}

static int compare_stops(const void *left, const void *right)
{
    const struct stop *a = left, *b = right;
    int order = compare_sites(a->fixture, b->fixture);
    if (!order)
        order = (a->along > b->along) - (a->along < b->along);
    return order ? order : (a->first > b->first) - (a->first < b->first);
}

static double coordinate(const struct position *pos, int axis)
{
    return axis == 0 ? pos->x_m : axis == 1 ? pos->y_m : pos->z_m;
}

/* Where each of the stops of one site is along it; those without a position come last. */
static void place(struct stop *stops, uint32_t count)
{
    int best = 0;
    double widest = -1;
    for (int axis = 0; axis < 3; axis++) {
        double least = INFINITY, most = -INFINITY;
        for (uint32_t i = 0; i < count; i++)
            if (position_given(&stops[i].fixture->pos)) {
                least = fmin(least, coordinate(&stops[i].fixture->pos, axis));
                most = fmax(most, coordinate(&stops[i].fixture->pos, axis));
            }
        if (most - least > widest) {
            widest = most - least;
            best = axis;
        }
    }
    for (uint32_t i = 0; i < count; i++)
        stops[i].along = position_given(&stops[i].fixture->pos) ? coordinate(&stops[i].fixture->pos, best) : INFINITY;
}

static uint32_t find_stops(const struct plan_text *text, struct stop *stops)
{
    const struct plan *plan = text->plan;
    uint32_t count = 0;
    for (uint32_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        if (step->subject.kind != SUBJECT_FIXTURE)
            continue;
        const struct fixture *fixture = &text->show->fixtures[step->subject.index];
        if (count && stops[count - 1].fixture == fixture && stops[count - 1].end == i)
            stops[count - 1].end++;
        else
            stops[count++] = (struct stop){ fixture, i, i + 1, 0, false };
        stops[count - 1].keyed |= is_keyed(step);
    }
    return count;
}

static uint32_t site_end(const struct stop *stops, uint32_t first, uint32_t count)
{
    uint32_t end = first + 1;
    while (end < count && !compare_sites(stops[first].fixture, stops[end].fixture))
        end++;
    return end;
}

static bool same_text(const char *a, const char *b)
{
    return a == b || (a && b && !strcmp(a, b));
}

static bool is_said(const struct plan *plan, const struct stop *stop, uint32_t end, const char *why)
{
    for (uint32_t i = stop->first; i < end; i++)
        if (is_keyed(&plan->steps[i]) && same_text(plan->steps[i].why, why))
            return true;
    return false;
}

/* True when two fixtures have the same set of reasons. */
static bool same_whys(const struct plan *plan, const struct stop *a, const struct stop *b)
{
    for (uint32_t i = a->first; i < a->end; i++)
        if (is_keyed(&plan->steps[i]) && !is_said(plan, b, b->end, plan->steps[i].why))
            return false;
    for (uint32_t i = b->first; i < b->end; i++)
        if (is_keyed(&plan->steps[i]) && !is_said(plan, a, a->end, plan->steps[i].why))
            return false;
    return true;
}

static void put_whys(struct plan_text *text, const struct stop *stop)
{
    const struct plan_step *steps = text->plan->steps;
    bool any = false;
    for (uint32_t i = stop->first; i < stop->end; i++) {
        if (!is_keyed(&steps[i]) || !steps[i].why || !*steps[i].why || is_said(text->plan, stop, i, steps[i].why))
            continue;
        fputs(any ? "; " : "   ", text->out);
        report__put(text->out, steps[i].why);
        any = true;
    }
    if (any)
        fputs(":\n", text->out);
}

static void put_stop(struct plan_text *text, const struct stop *stop)
{
    text->number_of_fixtures++;
    fprintf(text->out, "%3u. ", ++text->number);
    plan_text__name(text, SUBJECT_FIXTURE, (uint32_t)(stop->fixture - text->show->fixtures));
    plan_text__pos(text, &stop->fixture->pos);
    const char *before = ": ";
    for (uint32_t i = stop->first; i < stop->end; i++) {
        if (!is_keyed(&text->plan->steps[i]))
            continue;
        fputs(before, text->out);
        before = ", ";
        plan_text__change(text, &text->plan->steps[i]);
    }
    fputc('\n', text->out);
}

static void put_site(struct plan_text *text, const struct stop *stops, uint32_t count)
{
    const struct stop *last = NULL;
    uint32_t keyed = 0;
    for (uint32_t i = 0; i < count; i++)
        keyed += stops[i].keyed;
    if (!keyed)
        return;
    const char *site = stops->fixture->site;
    fputs("\nFixtures", text->out);
    if (site) {
        fputs(" at ", text->out);
        plan_text__site(text, site);
    } else {
        fputs(" without a site", text->out);
    }
    fprintf(text->out, ", %" PRIu32 " to touch\n", keyed);
    for (uint32_t i = 0; i < count; i++) {
        if (!stops[i].keyed)
            continue;
        if (!last || !same_whys(text->plan, last, &stops[i]))
            put_whys(text, &stops[i]);
        put_stop(text, &stops[i]);
        last = &stops[i];
    }
}

/* Those that a move takes along as they are; what stays dark is said elsewhere. */
static void put_unkeyed(struct plan_text *text, const struct stop *stops, uint32_t count)
{
    const struct plan *plan = text->plan;
    bool any = false;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t index = (uint32_t)(stops[i].fixture - text->show->fixtures);
        bool dark = false;
        for (uint32_t d = 0; d < plan->darkened_count && !stops[i].keyed && !dark; d++)
            dark = plan->darkened[d] == index;
        if (stops[i].keyed || dark)
            continue;
        if (!any)
            fputs("\nGo along with nothing to key in\n", text->out);
        any = true;
        fputs("     ", text->out);
        plan_text__name(text, SUBJECT_FIXTURE, index);
        fputc('\n', text->out);
    }
}

int plan_text__fixtures(struct plan_text *text)
{
    struct stop *stops = malloc((text->plan->step_count + (size_t)1) * sizeof *stops);
    if (!stops)
        return RIG_ENOMEM;
    uint32_t count = find_stops(text, stops);
    qsort(stops, count, sizeof *stops, compare_stops);
    for (uint32_t i = 0; i < count; i = site_end(stops, i, count))
        place(stops + i, site_end(stops, i, count) - i);
    qsort(stops, count, sizeof *stops, compare_stops);
    for (uint32_t i = 0; i < count; i = site_end(stops, i, count))
        put_site(text, stops + i, site_end(stops, i, count) - i);
    put_unkeyed(text, stops, count);
    if (!text->number_of_fixtures && text->plan->kind != PLAN_PATCH)
        fputs("\nNo fixture has to be touched.\n", text->out);
    free(stops);
    return 0;
}
