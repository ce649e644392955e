/* The rule spare-ready decides most of a show without the planner, so that a large show stays cheap to check. Here it is held against
 * the planner (plan_spare_ready(), itself held against a search of everything in tests/plan): on random small shows both must say the
 * same of every transmitter on which a fixture lands. */
#include <stdio.h>

#include "plan/plan_show.h"
#include "rigcall/script.h"

#define SHOWS 400

static unsigned below(uint64_t *state, unsigned limit)
{
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (unsigned)((*state >> 33) % limit);
}

static void write_transmitter(FILE *out, uint64_t *state, unsigned t)
{
    bool spare = t >= 3 || below(state, 8) == 0, bare = spare && below(state, 3);
    fprintf(out, "{ id = \"T%u\", site = \"%s\", reach = %u, radios = %u, airs = { %s }, air = \"%s\", spare = %s", t,
            below(state, 2) ? "quay" : "barge", 20 + below(state, 60), 1 + below(state, 2), below(state, 5) ? "\"single\", \"dual\"" : "\"dual\"",
            below(state, 5) ? "dual" : "single", spare ? "true" : "false");
    if (below(state, 8))
        fprintf(out, ", pos = { %u, 0, 0 }", below(state, 60));
    if (!bare)
        fprintf(out, ", code = \"%08u\"", 40718263 + below(state, 6) % 4);
    fputs(", lanes = { ", out);
    for (unsigned lane = 1; lane <= 2 && !bare; lane++)
        if (below(state, 5))
            fprintf(out, "{ lane = %u, universe = %u }, ", lane, below(state, 6) ? t * 2 % 6 + lane : 1 + below(state, 6));
    fputs("}", out);
    if (below(state, 4) == 0)
        fprintf(out, ", keep_out = { { from = 2402, to = %u } }", 2420 + below(state, 50));
    fputs(" },\n", out);
}

/* A few transmitters that share codes and universes now and then, spares before and after them, fixtures mostly keyed to one. */
static struct show *random_show(uint64_t seed)
{
    char *text = NULL;
    size_t length;
    uint64_t state = seed * 77 + 1;
    FILE *out = open_memstream(&text, &length);
    fputs("return { rigcall = 1, name = \"R\", sites = { { id = \"quay\" }, { id = \"barge\" } },\n", out);
    if (below(&state, 3) == 0)
        fprintf(out, "quiet = { { from = 2402, to = %u } },\n", 2410 + below(&state, 60));
    fputs("types = { { id = \"w\", airs = { \"single\", \"dual\" }, modes = { { id = \"m\", head = { \"red\" }, cells = 0, slots = {}, tail = {} } } } },\n"
          "universes = { { id = 1 }, { id = 2 }, { id = 3 }, { id = 4 }, { id = 5 }, { id = 6 } }, transmitters = {\n", out);
    unsigned count = 3 + below(&state, 3);
    for (unsigned t = 0; t < count; t++)
        write_transmitter(out, &state, t);
    fputs("}, fixtures = {\n", out);
    for (unsigned f = 1; f <= 7; f++) {
        unsigned t = below(&state, 3), lane = 1 + below(&state, 2);
        fprintf(out, "{ id = %u, type = \"w\", mode = \"m\", site = \"quay\", pos = { %u, 0, 0 }, universe = %u, address = %u, code = \"%08u\", "
                "air = \"%s\", lane = %u },\n", f, below(&state, 60), below(&state, 6) ? t * 2 % 6 + lane : 1 + below(&state, 6), f,
                40718263 + below(&state, 4), below(&state, 6) ? "dual" : "single", lane);
    }
    fputs("} }\n", out);
    fclose(out);
    struct show *show = show_from(text);
    free(text);
    return show;
}

static bool warned(const struct findings *findings, uint32_t transmitter)
{
    size_t count;
    const struct finding *items = findings_items(findings, &count);
    for (size_t i = 0; i < count; i++)
        if (items[i].subject.index == transmitter)
            return true;
    return false;
}

static void the_rule_says_what_the_planner_says(void **state)
{
    (void)state;
    struct script_list list = { 0 };
    unsigned ready = 0, not_ready = 0;
    assert_int_equal(script_list_add(&list, RIGCALL_SOURCE_DIR "/scripts/rules/spare-ready.lua", true, NULL), 0);
    for (uint64_t seed = 0; seed < SHOWS; seed++) {
        struct show *show = random_show(seed);
        struct findings *findings = findings_new();
        struct check_options options = { .scripts = list.items, .script_count = list.count };
        size_t broken;
        assert_int_equal(script_check(show, &options, findings, NULL), 0);
        const struct script_failure *failures = findings_failures(findings, &broken);
        if (broken)
            fail_msg("show %d: %s", (int)seed, failures[0].text);
        for (uint32_t t = 0; t < show->transmitter_count; t++) {
            bool lands = false;
            for (uint32_t f = 0; f < show->fixture_count; f++) {
                struct landing landing = radio_landing(show, &show->fixtures[f]);
                lands |= landing.state == LANDING_RIGHT && landing.transmitter == t;
            }
            if (!lands || show->transmitters[t].spare)
                continue;
            bool can = plan_spare_ready(show, t, NULL);
            if (can == warned(findings, t))
                fail_msg("show %d, transmitter T%u: the planner %s, the rule %s", (int)seed, t, can ? "finds a spare" : "finds none",
                         can ? "warns" : "is silent");
            ready += can;
            not_ready += !can;
        }
        findings_free(findings);
        show_free(show);
    }
    print_message("%u transmitters with a spare, %u without\n", ready, not_ready);
    assert_true(ready > 50 && not_ready > 50);               /* both happen */
    script_list_free(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_rule_says_what_the_planner_says) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
