/* What a swap costs, in CPU time of one thread, on generated shows:
 *   8 universes among 8 spares;
 *   64 transmitters, 512 universes, 10,000 fixtures, 4 transmitters lost at once: with spares for all of them, with spares for
 *   half, and with none but free lanes here and there.
 * The named alternative in the same run is what a crew does by hand: each lost universe, lowest first, to the first free lane of
 * the first transmitter that reaches all its fixtures ("first fit"); its time and its cost stand beside the planner's.
 * Usage: bench_swap [rounds]. Prints the best and the median of the rounds. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/plan.h"

struct setting {
    const char *name;
    uint32_t live, spares, spare_radios, universes, free_lanes, fixtures, lost;
    double spread_m, reach_m;        /* transmitters stand on a line this long */
};

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

/* Universes are shared out evenly, the first transmitters have one more. */
static uint32_t count_of(const struct setting *s, uint32_t t)
{
    return s->universes / s->live + (t < s->universes % s->live);
}

static void add_transmitter(struct show *show, const struct setting *s, uint32_t t, int64_t *universe)
{
    struct transmitter *transmitter = show_add_transmitter(show);
    bool spare = t >= s->live;
    transmitter->id = text(show, spare ? "S%03u" : "T%03u", t);
    transmitter->site = text(show, "site", 0);
    transmitter->code = spare ? NULL : text(show, "%08u", 10203040 + t * 7919);
    transmitter->radios = spare ? s->spare_radios : (count_of(s, t) + s->free_lanes + 1) / 2;
    transmitter->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    transmitter->air = AIR_DUAL;
    transmitter->spare = spare;
    transmitter->reach_m = s->reach_m;
    uint32_t place = spare ? (t - s->live) * (s->live / (s->spares ? s->spares : 1)) : t;
    transmitter->pos = (struct position){ s->spread_m * place / s->live, 0, spare ? 3 : 0 };
    transmitter->lanes = show_alloc(show, (count_of(s, t) + 1u) * sizeof *transmitter->lanes);
    for (uint32_t l = 0; !spare && l < count_of(s, t); l++)
        transmitter->lanes[transmitter->lane_count++] = (struct lane){ l + 1, (*universe)++ };
}

static struct show *make_show(const struct setting *s)
{
    struct show *show = show_new();
    int64_t universe = 1;
    show_add_site(show)->id = text(show, "site", 0);
    struct band *band = show_add_quiet(show);
    band->from_mhz = 2402;
    band->to_mhz = 2423;
    struct type *type = show_add_type(show);
    type->id = text(show, "wash", 0);
    type->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    for (uint32_t t = 0; t < s->live + s->spares; t++)
        add_transmitter(show, s, t, &universe);
    for (int64_t u = 1; u < universe; u++)
        show_add_universe(show)->id = u;
    for (uint32_t f = 0; f < s->fixtures; f++) {
        struct fixture *fixture = show_add_fixture(show);
        uint32_t count, u = f % s->universes, t = 0, lane = u;
        for (; lane >= (count = count_of(s, t)); t++)
            lane -= count;
        const struct transmitter *transmitter = &show->transmitters[t];
        fixture->id = f + 1;
        fixture->type = text(show, "wash", 0);
        fixture->site = transmitter->site;
        fixture->universe = u + 1;
        fixture->address = 1 + f / s->universes;
        fixture->code = transmitter->code;
        fixture->air = transmitter->air;
        fixture->lane = lane + 1;
        fixture->pos = transmitter->pos;
        fixture->pos.y_m = s->reach_m * (f * 37 % 100) / 125;        /* spread from the foot of the mast to 0.8 of its reach */
    }
    if (show_index(show))
        exit(1);
    return show;
}

/* First fit by hand: no code is taken over, every fixture is keyed anew. @return touches and fixtures left dark */
static void first_fit(const struct show *show, const uint32_t *lost, uint32_t lost_count, uint32_t *touches, uint32_t *dark)
{
    uint32_t *used = calloc(show->transmitter_count, sizeof *used);
    *touches = *dark = 0;
    for (uint32_t i = 0; i < lost_count; i++) {
        used[lost[i]] = UINT32_MAX;
        for (uint32_t e = 0; e < show->transmitters[lost[i]].lane_count; e++) {
            uint32_t count, at = SHOW_UNKNOWN;
            const uint32_t *fixtures = show_universe_fixtures(show, show->transmitters[lost[i]].lanes[e].universe, &count);
            for (uint32_t t = 0; t < show->transmitter_count && at == SHOW_UNKNOWN; t++) {
                const struct transmitter *transmitter = &show->transmitters[t];
                bool serves = used[t] != UINT32_MAX && transmitter->lane_count + used[t] < transmitter_lane_count(transmitter);
                for (uint32_t f = 0; f < count && serves; f++)
                    serves = radio_in_reach(show, transmitter, &show->fixtures[fixtures[f]]);
                if (serves)
                    at = t;
            }
            if (at == SHOW_UNKNOWN) {
                *dark += count;
            } else {
                used[at]++;
                *touches += count;
            }
        }
    }
    free(used);
}

static int compare_doubles(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

static void measure(const struct setting *s, int rounds)
{
    struct show *show = make_show(s);
    uint32_t lost[16], touches, dark;
    double *ms = malloc(sizeof *ms * (size_t)rounds), fit_ms;
    struct plan_swap_options options = { .out = lost, .out_count = s->lost };
    struct plan *plan = NULL;
    for (uint32_t i = 0; i < s->lost; i++)
        lost[i] = (i * 17 + 5) % s->live;
    for (int r = 0; r < rounds; r++) {
        plan_free(plan);
        double start = now_ms();
        if (plan_swap(show, &options, &plan, NULL))
            exit(1);
        ms[r] = now_ms() - start;
    }
    double start = now_ms();
    first_fit(show, lost, s->lost, &touches, &dark);
    fit_ms = now_ms() - start;
    qsort(ms, (size_t)rounds, sizeof *ms, compare_doubles);
    printf("%s\n  planner    %8.3f ms best, %8.3f ms median: dark %u, disturbed %u, touches %u, settings %u, ", s->name, ms[0],
           ms[rounds / 2], plan->dark, plan->disturbed, plan->touches, plan->settings);
    if (plan->proved)
        printf("proved\n");
    else
        printf("not proved: at least %u, %u, %u, %u\n", plan->dark_at_least, plan->disturbed_at_least, plan->touches_at_least,
               plan->settings_at_least);
    printf("  first fit  %8.3f ms: dark %u, touches %u\n", fit_ms, dark, touches);
    plan_free(plan);
    show_free(show);
    free(ms);
}

int main(int count, char **arguments)
{
    int rounds = count > 1 ? atoi(arguments[1]) : 9;
    const struct setting settings[] = {
        { "8 universes among 8 spares of 4 radios", 1, 8, 4, 8, 0, 80, 1, 0, 100 },
        { "8 universes among 8 spares of 1 radio", 1, 8, 1, 8, 0, 80, 1, 0, 100 },
        { "64 transmitters, 512 universes, 10,000 fixtures, 4 lost; 8 of the 64 are spares of 5 radios, all in reach", 56, 8, 5, 512, 1, 10000, 4, 0, 100 },
        { "the same, spares of 2 radios", 56, 8, 2, 512, 1, 10000, 4, 0, 100 },
        { "the same along 1 km, reach 150 m, spares of 5 radios", 56, 8, 5, 512, 1, 10000, 4, 1000, 150 },
        { "the same along 1 km, reach 150 m, spares of 2 radios", 56, 8, 2, 512, 1, 10000, 4, 1000, 150 },
        { "64 live transmitters, 512 universes, 2 free lanes each, 4 lost", 64, 0, 0, 512, 2, 10000, 4, 0, 100 },
        { "the same without a free lane, along 1 km, reach 150 m", 64, 0, 0, 512, 0, 10000, 4, 1000, 150 },
        { "12 live transmitters without a free lane along 400 m, reach 100 m, 2 spares, 1 lost", 12, 2, 4, 96, 0, 960, 1, 400, 100 },
        { "24 live transmitters without a free lane along 800 m, reach 100 m, 3 spares, 2 lost", 24, 3, 4, 192, 0, 1920, 2, 800, 100 },
    };
    if (rounds < 1 || rounds > 1000)
        return 2;
    for (size_t s = 0; s < sizeof settings / sizeof *settings; s++)
        measure(&settings[s], rounds);
    return 0;
}
