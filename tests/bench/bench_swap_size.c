/* Up to which size a swap is proved least within the default step limit: generated shows by number of receivers and of lost
 * universes, in three families.
 *   open     every transmitter reaches every fixture; spares and live transmitters with free lanes, several air modes
 *   partial  spread over 100 m x 100 m with reaches of 45 to 75 m, so that a transmitter serves some fixtures of a universe
 *   tight    the same with about as many free lanes as lost universes, so that some fixtures stay dark or must be disturbed for
 * Usage: bench_swap_size [shows of each size] [family] [number of one size]. With a
 * size, every show has a line. Prints a table; times are CPU time of plan_swap(). */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/plan.h"

struct family { const char *name; bool far; bool tight; };
struct size { uint32_t receivers, universes; };
struct dice { uint64_t state; };

/* splitmix64 (Steele, Lea, Flood 2014) */
static uint32_t below(struct dice *dice, uint32_t limit)
{
    uint64_t z = dice->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (uint32_t)((z ^ (z >> 31)) % limit);
}

static double now_ms(void)
{
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (double)time.tv_sec * 1e3 + (double)time.tv_nsec / 1e6;
}

static const char *text(struct show *show, const char *format, uint32_t number)
{
    char buffer[32];
    int length = snprintf(buffer, sizeof buffer, format, number);
    return show_text(show, buffer, (size_t)length);
}

static struct position place_near(struct dice *dice, struct position at, double spread_m)
{
    double x = below(dice, 2001) / 1000.0 - 1, y = below(dice, 2001) / 1000.0 - 1;
    return (struct position){ at.x_m + spread_m * x, at.y_m + spread_m * y, 2 };
}

static void set_airs(struct dice *dice, struct transmitter *transmitter)
{
    static const unsigned sets[] = { AIR_BIT(AIR_DUAL), AIR_BIT(AIR_SINGLE), AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL),
                                     AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL) };
    transmitter->airs = sets[below(dice, 4)];
    transmitter->air = transmitter->airs & AIR_BIT(AIR_DUAL) && below(dice, 3) ? AIR_DUAL : AIR_SINGLE;
    if (!(transmitter->airs & AIR_BIT(transmitter->air)))
        transmitter->air = AIR_DUAL;
}

static struct transmitter *add_transmitter(struct show *show, struct dice *dice, const struct family *family, uint32_t t)
{
    struct transmitter *transmitter = show_add_transmitter(show);
    transmitter->id = text(show, "T%02u", t);
    transmitter->site = text(show, "field", 0);
    transmitter->code = text(show, "%08u", 10203040 + t * 7919);
    transmitter->pos = (struct position){ below(dice, 100), below(dice, 100), 4 };
    transmitter->reach_m = family->far ? 45 + below(dice, 31) : 500;
    set_airs(dice, transmitter);
    return transmitter;
}

static void fill(struct show *show, struct transmitter *transmitter, uint32_t count, int64_t *universe)
{
    transmitter->lanes = show_alloc(show, (count + 1u) * sizeof *transmitter->lanes);
    for (uint32_t l = 0; l < count; l++) {
        show_add_universe(show)->id = *universe;
        transmitter->lanes[transmitter->lane_count++] = (struct lane){ l + 1, (*universe)++ };
    }
}

static void add_fixtures(struct show *show, struct dice *dice, const struct transmitter *transmitter)
{
    static const char *const types[] = { "both", "narrow", "wide" };
    for (uint32_t l = 0; l < transmitter->lane_count; l++)
        for (uint32_t k = 1 + below(dice, 6); k > 0; k--) {
            struct fixture *fixture = show_add_fixture(show);
            const char *type = below(dice, 3) ? types[0] : types[transmitter->air == AIR_DUAL ? 2 : 1];
            fixture->id = show->fixture_count;
            fixture->type = show_text(show, type, strlen(type));
            fixture->site = transmitter->site;
            fixture->universe = transmitter->lanes[l].universe;
            fixture->address = k;
            fixture->code = transmitter->code;
            fixture->air = transmitter->air;
            fixture->lane = transmitter->lanes[l].lane;
            fixture->pos = place_near(dice, transmitter->pos, 30);
        }
}

/* The lost ones first: up to four with equal shares of the universes; then live and spare receivers in turn. */
static struct show *make_show(const struct family *family, const struct size *size, uint64_t number, uint32_t *lost)
{
    struct dice dice = { number * 1000003 + size->receivers * 4001 + size->universes };
    struct show *show = show_new();
    int64_t universe = 1;
    show_add_site(show)->id = text(show, "field", 0);
    for (uint32_t i = 0; i < 3; i++) {
        static const char *const names[] = { "both", "narrow", "wide" };
        static const unsigned airs[] = { AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL), AIR_BIT(AIR_SINGLE), AIR_BIT(AIR_DUAL) };
        struct type *type = show_add_type(show);
        type->id = show_text(show, names[i], strlen(names[i]));
        type->airs = airs[i];
    }
    *lost = size->universes < 16 ? 1 : size->universes < 32 ? 2 : 4;
    for (uint32_t t = 0; t < *lost; t++) {
        struct transmitter *transmitter = add_transmitter(show, &dice, family, t);
        uint32_t count = size->universes / *lost;
        transmitter->radios = transmitter->air == AIR_DUAL ? (count + 1) / 2 : count;
        fill(show, transmitter, count, &universe);
    }
    uint32_t room = size->universes * (family->tight ? 9 : 16) / 10;
    for (uint32_t r = 0; r < size->receivers; r++) {
        struct transmitter *transmitter = add_transmitter(show, &dice, family, *lost + r);
        uint32_t share = room / size->receivers + (below(&dice, size->receivers) < room % size->receivers);
        uint32_t carried = r % 2 ? 0 : 1 + below(&dice, 3);
        transmitter->spare = r % 2;
        if (transmitter->spare && below(&dice, 2))
            transmitter->code = NULL;
        transmitter->radios = (share + carried + transmitter->air - 1) / transmitter->air;
        if (transmitter->radios == 0)
            transmitter->radios = 1;
        fill(show, transmitter, carried, &universe);
    }
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        add_fixtures(show, &dice, &show->transmitters[t]);
    if (show_index(show))
        exit(1);
    return show;
}

static int ascending(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

struct gap { uint32_t dark, disturbed, touches, settings; };

/* The first part of the cost in which plan and bound differ, as the difference; the larger gap has the earlier part. */
static void note_gap(struct gap *worst, const struct plan *plan)
{
    if (plan->dark > plan->dark_at_least) {
        worst->dark = plan->dark - plan->dark_at_least > worst->dark ? plan->dark - plan->dark_at_least : worst->dark;
    } else if (plan->disturbed > plan->disturbed_at_least) {
        uint32_t gap = plan->disturbed - plan->disturbed_at_least;
        worst->disturbed = gap > worst->disturbed ? gap : worst->disturbed;
    } else if (plan->touches > plan->touches_at_least) {
        uint32_t gap = plan->touches - plan->touches_at_least;
        worst->touches = gap > worst->touches ? gap : worst->touches;
    } else if (plan->settings > plan->settings_at_least) {
        uint32_t gap = plan->settings - plan->settings_at_least;
        worst->settings = gap > worst->settings ? gap : worst->settings;
    }
}

static void measure(const struct family *family, const struct size *size, uint32_t shows, bool verbose)
{
    double *ms = malloc(sizeof *ms * shows);
    uint32_t proved = 0, dark = 0, disturbed = 0, touches = 0, settings = 0;
    struct gap worst = { 0, 0, 0, 0 };
    for (uint32_t n = 0; n < shows; n++) {
        uint32_t lost_count, lost[4] = { 0, 1, 2, 3 };
        struct show *show = make_show(family, size, n + 1, &lost_count);
        struct plan_swap_options options = { .out = lost, .out_count = lost_count };
        struct plan *plan;
        double start = now_ms();
        if (plan_swap(show, &options, &plan, NULL))
            exit(1);
        ms[n] = now_ms() - start;
        proved += plan->proved;
        dark += plan->dark;
        disturbed += plan->disturbed;
        touches += plan->touches;
        settings += plan->settings;
        if (!plan->proved)
            note_gap(&worst, plan);
        if (verbose)
            printf("  %3u: %8.1f ms, %u %u %u %u%s at least %u %u %u %u\n", n + 1, ms[n], plan->dark, plan->disturbed, plan->touches,
                   plan->settings, plan->proved ? "" : " NOT PROVED", plan->dark_at_least, plan->disturbed_at_least,
                   plan->touches_at_least, plan->settings_at_least);
        plan_free(plan);
        show_free(show);
    }
    qsort(ms, shows, sizeof *ms, ascending);
    printf("%-8s %4u %5u   %4u of %-4u %9.2f %9.1f   %6u %6u %6u %6u   %4u %4u %4u %4u\n", family->name, size->receivers,
           size->universes, proved, shows, ms[shows / 2], ms[shows - 1], dark, disturbed, touches, settings, worst.dark,
           worst.disturbed, worst.touches, worst.settings);
    fflush(stdout);
    free(ms);
}

int main(int count, char **arguments)
{
    static const struct family families[] = { { "open", false, false }, { "partial", true, false }, { "tight", true, true } };
    static const struct size sizes[] = { { 4, 8 }, { 8, 8 }, { 8, 16 }, { 12, 24 }, { 16, 16 }, { 16, 32 }, { 16, 64 }, { 32, 64 } };
    int shows = count > 1 ? atoi(arguments[1]) : 50;
    const char *only = count > 2 ? arguments[2] : NULL;
    uint32_t one = count > 3 ? (uint32_t)atoi(arguments[3]) : UINT32_MAX;
    if (shows < 1 || shows > 100000)
        return 2;
    printf("family   recv univs        proved   ms: median     worst   in all: dark, disturbed, touches, settings   worst gap in the "
           "same order\n");
    for (size_t f = 0; f < sizeof families / sizeof *families; f++)
        for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++)
            if ((!only || !strcmp(only, families[f].name)) && (one == UINT32_MAX || one == s))
                measure(&families[f], &sizes[s], (uint32_t)shows, one != UINT32_MAX);
    return 0;
}
