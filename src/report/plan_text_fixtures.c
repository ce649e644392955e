/* The fixtures of a plan in the order in which a person meets them: site by site, a patch in its own order, which is that in which
 * they hang, anything else as a walk (plan_text_walk.c). Fixtures next to each other with one reason stand under it, unless nearly
 * each has its own. A fixture that moves is met where it will stand, if that is known, else where it stands now. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "plan_text.h"

/* Where a fixture hangs is written in the show file and not keyed into the fixture. */
static bool is_keyed(const struct plan_step *step)
{
    return strcmp(step->field, "site") && strcmp(step->field, "pos");
}

/* Sites in the order of the show, then those it does not define by name, then none. */
static int compare_sites(const struct stop *a, const struct stop *b)
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
    int order = compare_sites(a, b);
    return order ? order : (a->place > b->place) - (a->place < b->place);
}

/* "3 0 2.5": x, y, z */
static struct position read_position(const char *words)
{
    struct position pos = { NAN, 0, 0 };
    double *const parts[] = { &pos.x_m, &pos.y_m, &pos.z_m };
    char *end = NULL;
    for (int i = 0; i < 3; i++, words = end)
        *parts[i] = strtod(words, &end);
    return pos;
}

/* Where a person meets it. */
static void find_place(const struct plan_text *text, struct stop *stop)
{
    const struct plan_step *site = NULL, *pos = NULL;
    stop->site = stop->fixture->site;
    stop->site_index = stop->fixture->site_index;
    stop->pos = stop->fixture->pos;
    for (uint32_t i = 0; i < stop->step_count; i++) {
        stop->keyed |= is_keyed(&stop->steps[i]);
        site = strcmp(stop->steps[i].field, "site") ? site : &stop->steps[i];
        pos = strcmp(stop->steps[i].field, "pos") ? pos : &stop->steps[i];
    }
    bool known = pos && pos->to.kind == PLAN_TEXT;
    stop->leaves = site && !known;
    if (known)
        stop->pos = read_position(pos->to.text);
    if (site && known && site->to.kind == PLAN_TEXT) {
        stop->site = site->to.text;
        stop->site_index = show_find_site(text->show, stop->site);
    }
}

struct placed { struct plan_step step; uint32_t at; };   /* at: place in the plan */

static int compare_placed(const void *left, const void *right)
{
    const struct placed *a = left, *b = right;
    uint32_t x = a->step.subject.index, y = b->step.subject.index;
    return x != y ? (x > y) - (x < y) : (a->at > b->at) - (a->at < b->at);
}

/* The steps of fixtures, those of one fixture side by side: a plan may name it in two places.
 * @param places  filled: where each stands in the plan; freed by the caller, as the steps. @return NULL when memory is short */
static struct plan_step *gather_steps(const struct plan *plan, uint32_t *count, uint32_t **places)
{
    struct placed *placed = malloc((plan->step_count + (size_t)1) * sizeof *placed);
    struct plan_step *steps = malloc((plan->step_count + (size_t)1) * sizeof *steps);
    *places = malloc((plan->step_count + (size_t)1) * sizeof **places);
    *count = 0;
    for (uint32_t i = 0; placed && i < plan->step_count; i++)
        if (plan->steps[i].subject.kind == SUBJECT_FIXTURE)
            placed[(*count)++] = (struct placed){ plan->steps[i], i };
    if (placed)
        qsort(placed, *count, sizeof *placed, compare_placed);
    for (uint32_t i = 0; placed && steps && *places && i < *count; i++) {
        steps[i] = placed[i].step;
        (*places)[i] = placed[i].at;
    }
    if (!placed || !*places) {
        free(steps);
        steps = NULL;
    }
    free(placed);
    return steps;
}

static uint32_t find_stops(const struct plan_text *text, const struct plan_step *steps, const uint32_t *places, uint32_t step_count,
                           struct stop *stops)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < step_count; i++) {
        const struct fixture *fixture = &text->show->fixtures[steps[i].subject.index];
        if (count && stops[count - 1].fixture == fixture)
            stops[count - 1].step_count++;
        else
            stops[count++] = (struct stop){ .fixture = fixture, .steps = &steps[i], .step_count = 1, .place = places[i] };
    }
    for (uint32_t i = 0; i < count; i++)
        find_place(text, &stops[i]);
    return count;
}

static uint32_t site_end(const struct stop *stops, uint32_t first, uint32_t count)
{
    uint32_t end = first + 1;
    while (end < count && !compare_sites(&stops[first], &stops[end]))
        end++;
    return end;
}

static bool same_text(const char *a, const char *b)
{
    return a == b || (a && b && !strcmp(a, b));
}

/* Among the first `count` of its steps. */
static bool is_said(const struct stop *stop, uint32_t count, const char *why)
{
    for (uint32_t i = 0; i < count; i++)
        if (is_keyed(&stop->steps[i]) && same_text(stop->steps[i].why, why))
            return true;
    return false;
}

static bool says_all_of(const struct stop *a, const struct stop *b)
{
    for (uint32_t i = 0; i < b->step_count; i++)
        if (is_keyed(&b->steps[i]) && !is_said(a, a->step_count, b->steps[i].why))
            return false;
    return true;
}

/* True when two fixtures have the same set of reasons. */
static bool same_whys(const struct stop *a, const struct stop *b)
{
    return says_all_of(a, b) && says_all_of(b, a);
}

/* @return false if there is nothing to say */
static bool put_whys(struct plan_text *text, const struct stop *stop, const char *before)
{
    bool any = false;
    for (uint32_t i = 0; i < stop->step_count; i++) {
        const struct plan_step *step = &stop->steps[i];
        if (!is_keyed(step) || !step->why || !*step->why || is_said(stop, i, step->why))
            continue;
        fputs(any ? "; " : before, text->out);
        report__put(text->out, step->why);
        any = true;
    }
    return any;
}

static void put_stop(struct plan_text *text, const struct stop *stop, bool with_whys)
{
    text->number_of_fixtures++;
    fprintf(text->out, "%3u. ", ++text->number);
    plan_text__name(text, SUBJECT_FIXTURE, (uint32_t)(stop->fixture - text->show->fixtures));
    plan_text__pos(text, &stop->pos);
    const char *before = ": ";
    for (uint32_t i = 0; i < stop->step_count; i++) {
        if (!is_keyed(&stop->steps[i]))
            continue;
        fputs(before, text->out);
        before = ", ";
        plan_text__change(text, &stop->steps[i]);
    }
    if (with_whys)
        put_whys(text, stop, "; ");
    fputc('\n', text->out);
}

static void put_site_head(struct plan_text *text, const struct stop *stop, uint32_t keyed)
{
    fputs(stop->leaves ? "\nFixtures from" : "\nFixtures at", text->out);
    if (stop->site) {
        fputc(' ', text->out);
        plan_text__site(text, stop->site);
    } else {
        fputs(" no site", text->out);
    }
    fprintf(text->out, ", %" PRIu32 " to touch%s\n", keyed, stop->leaves ? ", before they go or once they are there" : "");
}

static void put_site(struct plan_text *text, const struct stop *stops, uint32_t count)
{
    const struct stop *last = NULL;
    uint32_t keyed = 0, runs = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (!stops[i].keyed)
            continue;
        keyed++;
        runs += !last || !same_whys(last, &stops[i]);
        last = &stops[i];
    }
    if (!keyed)
        return;
    bool behind = runs * 2 > keyed && runs > 1;
    put_site_head(text, stops, keyed);
    last = NULL;
    for (uint32_t i = 0; i < count; i++) {
        if (!stops[i].keyed)
            continue;
        if (!behind && (!last || !same_whys(last, &stops[i])) && put_whys(text, &stops[i], "   "))
            fputs(":\n", text->out);
        put_stop(text, &stops[i], behind);
        last = &stops[i];
    }
}

/* ---- those that a move takes along as they are ---- */

static int compare_ids(const void *left, const void *right)
{
    const struct stop *a = left, *b = right;
    return (a->fixture->id > b->fixture->id) - (a->fixture->id < b->fixture->id);
}

/* "101, 103 to 105": a run of ids without a gap in the show file is told by its ends. */
static void put_ids(struct plan_text *text, const struct stop *const *stops, uint32_t count)
{
    for (uint32_t i = 0, end; i < count; i = end) {
        for (end = i + 1; end < count && stops[end]->fixture->id == stops[end - 1]->fixture->id + 1;)
            end++;
        fprintf(text->out, "%s%" PRId64, !i ? "     " : ", ", stops[i]->fixture->id);
        if (end - i > 2)
            fprintf(text->out, " to %" PRId64, stops[end - 1]->fixture->id);
        else if (end - i == 2)
            fprintf(text->out, ", %" PRId64, stops[end - 1]->fixture->id);
    }
    fputc('\n', text->out);
}

static void put_group(struct plan_text *text, const char *head, const struct stop *const *stops, uint32_t count)
{
    if (!count)
        return;
    fprintf(text->out, "\n%s: %" PRIu32 " fixture%s\n", head, count, count == 1 ? "" : "s");
    put_ids(text, stops, count);
}

/* What stays dark is told elsewhere. Both lists are by id. */
static bool is_dark(const struct plan *plan, const struct show *show, const struct stop *stop, uint32_t *from)
{
    while (*from < plan->darkened_count && show->fixtures[plan->darkened[*from]].id < stop->fixture->id)
        ++*from;
    return *from < plan->darkened_count && show->fixtures[plan->darkened[*from]].id == stop->fixture->id;
}

/* @param stops  sorted by id from here on */
static int put_unkeyed(struct plan_text *text, struct stop *stops, uint32_t count)
{
    const struct stop **lists = malloc((2 * (size_t)count + 1) * sizeof *lists), **joining = lists, **others = lists + count;
    uint32_t joining_count = 0, others_count = 0, dark = 0;
    if (!lists)
        return RIG_ENOMEM;
    qsort(stops, count, sizeof *stops, compare_ids);
    for (uint32_t i = 0; i < count; i++) {
        if (stops[i].keyed || is_dark(text->plan, text->show, &stops[i], &dark))
            continue;
        if (radio_landing(text->show, stops[i].fixture).state == LANDING_RIGHT)
            joining[joining_count++] = &stops[i];
        else
            others[others_count++] = &stops[i];
    }
    put_group(text, "Join by themselves, nothing to key in", joining, joining_count);
    put_group(text, "Go along as they are (wired, not patched, or not lit rightly before)", others, others_count);
    free(lists);
    return 0;
}

/* @param stops  room for as many as there are steps */
static int tell(struct plan_text *text, const struct plan_step *steps, const uint32_t *places, uint32_t step_count, struct stop *stops)
{
    bool walk = text->plan->kind != PLAN_PATCH || text->plan->has_bins;
    uint32_t count = find_stops(text, steps, places, step_count, stops);
    qsort(stops, count, sizeof *stops, compare_stops);
    for (uint32_t i = 0; i < count; i = site_end(stops, i, count)) {
        uint32_t here = site_end(stops, i, count) - i;
        if (walk)
            plan_text__walk(stops + i, here);
        put_site(text, stops + i, here);
    }
    if (!text->number_of_fixtures && text->plan->kind != PLAN_PATCH)
        fputs("\nNo fixture has to be touched.\n", text->out);
    return put_unkeyed(text, stops, count);
}

int plan_text__fixtures(struct plan_text *text)
{
    uint32_t step_count, *places;
    struct plan_step *steps = gather_steps(text->plan, &step_count, &places);
    struct stop *stops = malloc((text->plan->step_count + (size_t)1) * sizeof *stops);
    int err = steps && stops ? tell(text, steps, places, step_count, stops) : RIG_ENOMEM;
    free(stops);
    free(steps);
    free(places);
    return err;
}
