/* CPU of a dry run of 60 s at 40 Hz: 512 universes, 131,072 of their 262,144 slots in fades all the time, the guard on. The player is
 * in this process, so that the engine alone is measured. Beside it, in the same run, the plain way to do the fades alone: a loop
 * over one struct a slot that evaluates every fade and writes every universe's packet, without guard and without finding changes.
 * Usage: bench_dry [cells|fixtures] [pcap]   cells (default): two of four slots of every cell; fixtures: all slots of every other one */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/engine.h"

enum { UNIVERSES = 512, FIXTURES = UNIVERSES * 4, CELLS = 32, SLOTS = 4, RATE = 40, SECONDS = 60, FADE_S = 5 };

static double cpu_s(void)
{
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static uint32_t next_random(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return *state >> 8;
}

static struct show *make_show(void)
{
    static const char *const names[SLOTS] = { "intensity", "red", "green", "blue" };
    struct show *show = show_new();
    struct mode *mode = show_alloc(show, sizeof *mode);
    struct slot *slots = show_alloc(show, SLOTS * sizeof *slots);
    for (int i = 0; i < SLOTS; i++)
        slots[i] = (struct slot){ (uint16_t)show_param(show, names[i], strlen(names[i])), false, (double)NAN };
    *mode = (struct mode){ .id = show_text(show, "cells", 5), .cells = CELLS, .slots = slots, .slot_count = SLOTS };
    struct type *type = show_add_type(show);
    type->id = show_text(show, "batten", 6);
    type->modes = mode;
    type->mode_count = 1;
    struct site *site = show_add_site(show);
    site->id = show_text(show, "quay", 4);
    for (int i = 0; i < FIXTURES; i++) {
        struct fixture *fixture = show_add_fixture(show);
        fixture->id = i + 1;
        fixture->type = "batten";
        fixture->mode = "cells";
        fixture->site = "quay";
        fixture->universe = i / 4 + 1;
        fixture->address = i % 4 * 128 + 1;
    }
    if (show_index(show))
        abort();
    return show;
}

struct player { int64_t now_ns; uint32_t random; bool by_fixture; };

static void resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    (void)answer;
    (void)note;
    ((struct player *)context)->now_ns = now_ns;
}

/* Every 5 s a new fade for each of 131,072 slots, to a level of its own. */
static void collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct player *player = context;
    (void)timeout_ms;
    for (uint32_t f = 0; player->now_ns < SECONDS * INT64_C(1000000000) && f < FIXTURES; f += player->by_fixture ? 2 : 1)
        for (uint32_t c = 0; c < CELLS; c++)
            for (uint16_t p = 0; p < (player->by_fixture ? SLOTS : SLOTS / 2); p++)
                if (engine_fade(engine, player->now_ns, f, c, p, next_random(&player->random) % 1001 / 10.0,
                                FADE_S * INT64_C(1000000000), NULL))
                    abort();
    wish->kind = player->now_ns < SECONDS * INT64_C(1000000000) ? WISH_WAIT : WISH_DONE;
    wish->until_ns = player->now_ns + FADE_S * INT64_C(1000000000);
}

static double engine_run(const struct show *show, bool by_fixture, const char *pcap, bool guard)
{
    static uint32_t grant[FIXTURES];
    for (uint32_t i = 0; i < FIXTURES; i++)
        grant[i] = i;
    struct engine_options options = { .rate_hz = RATE, .fixtures = grant, .fixture_count = FIXTURES, .allow_flash = !guard };
    struct player context = { .random = 1, .by_fixture = by_fixture };
    struct engine_player player = { &context, -1, resume, collect, NULL };
    struct engine_play play = { .player = &player };
    struct engine_report report;
    struct rig_why why = { 0 };
    double before = cpu_s();
    sacn_source_init(&play.source, (const uint8_t[16]){ 1 }, "bench");
    if (engine_new(show, &options, &play.engine, &why) || (pcap && sacn_capture_open(pcap, &play.capture, &why)) ||
        engine_play_dry(&play, &report, &why)) {
        fprintf(stderr, "bench_dry: %s\n", why.text);
        exit(1);
    }
    if (play.capture && sacn_capture_close(play.capture, &why))
        exit(1);
    engine_free(play.engine);
    double used = cpu_s() - before;
    fprintf(stderr, "%llu frames, %llu packets\n", (unsigned long long)report.frames, (unsigned long long)report.packets);
    return used;
}

struct plain { double from, to, start_ns, duration_ns; uint32_t slot; };

static double plain_run(void)
{
    static struct plain fades[UNIVERSES * 256];
    static uint8_t levels[UNIVERSES][512], packets[UNIVERSES][SACN_DATA_SIZE];
    uint32_t random = 1, check = 0;
    double before = cpu_s();
    for (uint32_t k = 0; k < SECONDS * RATE; k++) {
        double time_ns = k * 1e9 / RATE;
        for (uint32_t i = 0; i < UNIVERSES * 256; i++) {
            struct plain *fade = &fades[i];
            if (k % (FADE_S * RATE) == 0)
                *fade = (struct plain){ fade->to, next_random(&random) % 1001 / 10.0, time_ns, FADE_S * 1e9,
                                        i / 2 * 4 + i % 2 };
            double percent = time_ns >= fade->start_ns + fade->duration_ns
                ? fade->to : fade->from + (fade->to - fade->from) * (time_ns - fade->start_ns) / fade->duration_ns;
            levels[fade->slot / 512][fade->slot % 512] = (uint8_t)floor(percent * 255 / 100 + 0.5);
        }
        for (int u = 0; u < UNIVERSES; u++) {
            memcpy(packets[u] + SACN_SLOT_OFFSET, levels[u], 512);
            packets[u][111]++;
            check += packets[u][SACN_SLOT_OFFSET + k % 512];
        }
    }
    double used = cpu_s() - before;
    fprintf(stderr, "plain loop: check sum %u\n", check);
    return used;
}

int main(int argc, char **argv)
{
    bool by_fixture = argc > 1 && strcmp(argv[1], "fixtures") == 0;
    struct show *show = make_show();
    double unguarded = engine_run(show, by_fixture, NULL, false), guarded = engine_run(show, by_fixture, NULL, true);
    double captured = engine_run(show, by_fixture, argc > 2 ? argv[2] : "/dev/null", true), plain = plain_run();
    printf("dry run of %d s, %d universes, half of all slots in fades (%s)\n", SECONDS, UNIVERSES,
           by_fixture ? "fixtures" : "cells");
    printf("engine, no capture         %6.2f s CPU   1/%.1f of the time   %.2f x the plain loop\n", guarded,
           SECONDS / guarded, guarded / plain);
    printf("engine, capture            %6.2f s CPU   1/%.1f of the time\n", captured, SECONDS / captured);
    printf("engine without the guard   %6.2f s CPU   guard: %.1f ns a cell and frame\n", unguarded,
           (guarded - unguarded) * 1e9 / (SECONDS * RATE) / (FIXTURES * CELLS / (by_fixture ? 2 : 1)));
    printf("plain loop, fades alone    %6.2f s CPU\n", plain);
    show_free(show);
    return 0;
}
