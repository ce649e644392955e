/* What a first patch costs: 10,000 and 100,000 fixtures without universe, address, code, air mode and lane, on transmitters
 * without codes and lanes. CPU time of plan_patch() alone, best and median of the rounds. The rig: 48 lamps of four lengths every
 * 30 m of a rail, eight universes a transmitter, sites 20 km apart.
 * Usage: bench_patch */
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/plan.h"

#define ROUNDS 9

static void die(const char *what)
{
    fprintf(stderr, "bench_patch: %s\n", what);
    exit(1);
}

static const char *text(struct show *show, const char *value)
{
    const char *kept = show_text(show, value, strlen(value));
    if (!kept)
        die("no memory");
    return kept;
}

static void add_types(struct show *show)
{
    static const int64_t slots[] = { 128, 96, 64, 160 };
    for (unsigned i = 0; i < sizeof slots / sizeof *slots; i++) {
        char id[16];
        struct type *type = show_add_type(show);
        struct mode *mode = show_alloc(show, sizeof *mode);
        struct slot *slot = show_alloc(show, sizeof *slot);
        if (!type || !mode || !slot)
            die("no memory");
        snprintf(id, sizeof id, "type%u", i);
        slot->param = (uint16_t)show_param(show, "red", 3);
        slot->default_percent = NAN;
        *mode = (struct mode){ .id = text(show, "cells"), .cells = slots[i], .slots = slot, .slot_count = 1 };
        type->id = text(show, id);
        type->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
        type->modes = mode;
        type->mode_count = 1;
    }
}

static struct show *make(uint32_t fixtures)
{
    struct show *show = show_new();
    char name[24];
    if (!show)
        die("no memory");
    add_types(show);
    for (uint32_t i = 0; i < fixtures; i++) {
        uint32_t site = i / 2000, along = i % 2000;
        struct fixture *f = show_add_fixture(show);
        snprintf(name, sizeof name, "type%u", (i * 7 + i / 5) % 4);
        if (!f)
            die("no memory");
        f->id = 1 + (int64_t)((uint64_t)i * 7919 % fixtures);
        f->type = text(show, name);
        f->mode = text(show, "cells");
        snprintf(name, sizeof name, "site%u", site);
        f->site = text(show, name);
        f->pos = (struct position){ site * 20000.0 + along * 0.625, along % 3, 2 };
        if (i % 24)
            continue;
        struct transmitter *t = show_add_transmitter(show);
        if (!t)
            die("no memory");
        t->site = text(show, name);
        t->pos = (struct position){ f->pos.x_m + 7.5, 10, 6 };
        snprintf(name, sizeof name, "T%u", i / 24);
        t->id = text(show, name);
        t->reach_m = 120;
        t->radios = 4;
        t->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
        t->air = AIR_DUAL;
    }
    for (uint32_t s = 0; s <= (fixtures - 1) / 2000; s++) {
        struct site *site = show_add_site(show);
        snprintf(name, sizeof name, "site%u", s);
        if (!site)
            die("no memory");
        site->id = text(show, name);
    }
    if (show_index(show))
        die("no memory");
    return show;
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double measure(uint32_t fixtures, bool tight)
{
    struct show *show = make(fixtures);
    struct plan_patch_options options = { .site = SHOW_UNKNOWN, .tight = tight };
    double ms[ROUNDS];
    uint32_t touches = 0, settings = 0, dark = 0, universes = 0, at_least = 0;
    for (int round = 0; round < ROUNDS; round++) {
        struct plan *plan;
        double start = now_ms();
        if (plan_patch(show, &options, &plan, NULL) || plan->refused)
            die("no plan");
        ms[round] = now_ms() - start;
        touches = plan->touches;
        settings = plan->settings;
        dark = plan->dark;
        universes = plan->universes;
        at_least = plan->universes_at_least;
        plan_free(plan);
    }
    qsort(ms, ROUNDS, sizeof *ms, ascending);
    printf("%6u fixtures, %4u transmitters%s: best %.1f ms, median %.1f ms; %u touches, %u settings, %u dark", fixtures,
           show->transmitter_count, tight ? ", --tight" : "", ms[0], ms[ROUNDS / 2], touches, settings, dark);
    if (tight)
        printf(", %u universes, at least %u", universes, at_least);
    puts("");
    show_free(show);
    return ms[ROUNDS / 2];
}

int main(void)
{
    /* Both sizes on a warm heap: otherwise the larger one pays for fresh pages in every round, and the smaller one does not. */
    mallopt(M_MMAP_THRESHOLD, 1 << 30);
    mallopt(M_TRIM_THRESHOLD, 1 << 30);
    double small = measure(10000, false), large = measure(100000, false), ratio = 10 * log(100000.0) / log(10000.0);
    printf("ten times the fixtures: %.1f times the time; n log n is %.1f\n", large / small, ratio);
    measure(10000, true);
    printf("10,000 fixtures under 300 ms: %s\n", small < 300 ? "yes" : "NO");
    return small < 300 && large / small <= ratio ? 0 : 1;
}
