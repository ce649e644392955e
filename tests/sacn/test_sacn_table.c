/* The table of what is heard: judged packets, sequence numbers and ends. Expected values come from the clauses
 * of ANSI E1.31-2018 named beside the cases, and from the tables of tests/sacn/samples. Times are given by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/samples.h"
#include "sacn/table_rig.h"
#include "sacn/table_test.h"

/* ---- what arrives ---- */

static size_t read_sample(const char *name, uint8_t octets[SAMPLE_SIZE])
{
    size_t length = sample_read(name, octets);
    if (length == 0)
        fail_msg("cannot read sample %s", name);
    return length;
}

/* Rows whose packet may be acted on; the others must leave nothing behind but their count. */
static bool is_taken(const char *expected)
{
    return strncmp(expected, "accept", 6) == 0 || strncmp(expected, "valid packet", 12) == 0;
}

static void every_mutation_leaves_what_the_table_says(void **state)
{
    (void)state;
    char line[512], *fields[6];
    int rows = 0;
    union sacn_address from = host_address(1);
    FILE *rows_file = fopen(SAMPLES "mutations.tsv", "r");
    assert_non_null(rows_file);
    assert_non_null(fgets(line, sizeof line, rows_file));
    for (; fgets(line, sizeof line, rows_file); rows++) {
        uint8_t octets[SAMPLE_SIZE], change[32];
        const uint16_t *universes;
        const struct sacn_announcer *announcers;
        assert_int_equal(sample_fields(line, fields, 6), 6);
        size_t length = read_sample(fields[1], octets);
        size_t changed = sample_from_hex(fields[3], change, sizeof change);
        memcpy(octets + strtoul(fields[2], NULL, 10), change, changed);
        free_table(NULL);
        make_table(NULL);
        enum sacn_verdict verdict = sacn_table_take(table, 0, octets, length, &from);
        const struct sacn_counts *counts = sacn_table_counts(table);
        bool taken = is_taken(fields[4]), data = strncmp(fields[1], "data", 4) == 0;
        assert_int_equal(counts->taken, 1);
        assert_int_equal(counts->data + counts->sync + counts->discovery, taken);
        assert_int_equal(verdict == SACN_ACCEPT || verdict == SACN_OTHER_START_CODE, taken);
        assert_int_equal(counts->bad[verdict], !taken);
        assert_int_equal(sacn_table_universes(table, &universes), taken && data);
        assert_int_equal(sacn_table_announcers(table, &announcers), 0);
    }
    fclose(rows_file);
    assert_int_equal(rows, 23);
}

static void a_sample_is_shown_as_it_is_described(void **state)
{
    (void)state;
    static const uint8_t cid[16] = {       /* tests/sacn/samples/README.md */
        0x8f, 0x5c, 0x1e, 0x0a, 0x3b, 0x7d, 0x4c, 0x2e, 0x9a, 0x41, 0x6d, 0x0f, 0x2b, 0x7e, 0x5c, 0x13
    };
    uint8_t octets[SAMPLE_SIZE];
    union sacn_address from = host_address(7);
    size_t length = read_sample("data-short", octets);
    assert_int_equal(sacn_table_take(table, 5 * MS, octets, length, &from), SACN_ACCEPT);
    struct sacn_heard heard = hear(table, 6, 1);
    assert_int_equal(heard.universe, 1);
    assert_int_equal(heard.source_count, 1);
    const struct sacn_heard_source *source = heard.sources[0];
    assert_memory_equal(source->cid, cid, 16);
    assert_string_equal(source->name, "rigcall reference");
    assert_true(sacn_address_equal(&source->from, &from));
    assert_int_equal(source->priority, 150);
    assert_int_equal(source->sync_address, 7001);
    assert_int_equal(source->slot_count, 24);
    assert_true(source->force_sync && !source->preview);
    assert_int_equal(source->state, SACN_LIVE);
    assert_true(source->wins);
    assert_int_equal(source->first_ns, 5 * MS);
    assert_int_equal(source->last_ns, 5 * MS);
    assert_int_equal(source->packets, 1);
    assert_int_equal(heard.winners, 1);
    assert_int_equal(heard.priority, 150);
    for (int slot = 1; slot <= 24; slot++)
        assert_int_equal(heard.levels[slot - 1], 10 * slot);
    assert_levels(heard.levels, 25, 512, 0);
}

/* ---- sequence numbers, 6.7.2 ---- */

static void every_sequence_vector_is_followed(void **state)
{
    (void)state;
    char line[256], *fields[4];
    int rows = 0;
    FILE *vectors = fopen(SAMPLES "sequence-window.tsv", "r");
    assert_non_null(vectors);
    assert_non_null(fgets(line, sizeof line, vectors));
    for (; fgets(line, sizeof line, vectors); rows++) {
        assert_int_equal(sample_fields(line, fields, 4), 4);
        int last = atoi(fields[0]), received = atoi(fields[1]), difference = atoi(fields[2]);
        bool accepted = strcmp(fields[3], "accept") == 0;
        free_table(NULL);
        make_table(NULL);
        TELL(table, 0, .source = 1, .sequence = (uint8_t)last, .level = 10);
        TELL(table, 1, .source = 1, .sequence = (uint8_t)received, .level = 20);
        struct sacn_heard heard = hear(table, 2, 1);
        assert_levels(heard.levels, 1, 512, accepted ? 20 : 10);
        assert_int_equal(heard.sources[0]->packets, 1 + accepted);
        assert_int_equal(heard.sources[0]->missing, accepted && difference > 0 ? difference - 1 : 0);
        assert_int_equal(heard.sources[0]->repeated, difference == 0);
        assert_int_equal(heard.sources[0]->late, !accepted && difference != 0);
        assert_int_equal(heard.sources[0]->restarts, difference < 0 && accepted);
    }
    fclose(vectors);
    assert_int_equal(rows, 27);
}

static void late_repeated_and_missing_are_told_apart(void **state)
{
    (void)state;
    /* Number, and what the source's counts must be after it: missing, late, repeated. */
    static const struct { uint8_t number; int missing, late, repeated; } steps[] = {
        { 250, 0, 0, 0 }, { 249, 0, 1, 0 },          /* before the first: late, and nobody missed it */
        { 249, 0, 1, 1 }, { 253, 2, 1, 1 },          /* 251 and 252 */
        { 252, 1, 2, 1 }, { 252, 1, 2, 2 }, { 253, 1, 2, 3 }, { 2, 5, 2, 3 },   /* 254, 255, 0, 1 */
        { 255, 4, 3, 3 }, { 251, 3, 4, 3 }, { 251, 3, 4, 4 }, { 3, 3, 4, 4 },
    };
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        TELL(table, (int64_t)i, .source = 1, .sequence = steps[i].number);
        struct sacn_heard heard = hear(table, (int64_t)i, 1);
        assert_int_equal(heard.sources[0]->missing, steps[i].missing);
        assert_int_equal(heard.sources[0]->late, steps[i].late);
        assert_int_equal(heard.sources[0]->repeated, steps[i].repeated);
        assert_int_equal(heard.sources[0]->restarts, 0);
    }
}

/* 19 back is still told apart, with gaps as long as the window and longer; a late packet of before a restart is not looked for. */
static void the_window_is_as_long_as_the_rule(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 0);
    TELL(table, 1, .source = 1, .sequence = 20);
    TELL(table, 2, .source = 1, .sequence = 1);
    TELL(table, 3, .source = 1, .sequence = 1);
    struct sacn_heard heard = hear(table, 3, 1);
    assert_int_equal(heard.sources[0]->missing, 18);
    assert_int_equal(heard.sources[0]->late, 1);
    assert_int_equal(heard.sources[0]->repeated, 1);
    TELL(table, 4, .source = 1, .sequence = 147);      /* 127 ahead */
    TELL(table, 5, .source = 1, .sequence = 128);      /* 19 back */
    heard = hear(table, 5, 1);
    assert_int_equal(heard.sources[0]->missing, 18 + 126 - 1);
    assert_int_equal(heard.sources[0]->late, 2);
    TELL(table, 6, .source = 1, .sequence = 127);      /* 20 back: a restart */
    TELL(table, 7, .source = 1, .sequence = 126);
    heard = hear(table, 7, 1);
    assert_int_equal(heard.sources[0]->restarts, 1);
    assert_int_equal(heard.sources[0]->missing, 18 + 126 - 1);
    assert_int_equal(heard.sources[0]->late, 3);
}

/* Alternate START codes share the numbers of the universe (6.2.5), other universes and sources do not. */
static void numbers_are_counted_for_source_and_universe(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .universe = 1, .sequence = 10);
    TELL(table, 0, .source = 1, .universe = 2, .sequence = 5);
    TELL(table, 0, .source = 2, .universe = 1, .sequence = 5);
    enum sacn_verdict verdict = TELL(table, 1, .source = 1, .universe = 1, .sequence = 11, .start_code = 0x17, .level = 99);
    assert_int_equal(verdict, SACN_OTHER_START_CODE);
    TELL(table, 1, .source = 1, .universe = 2, .sequence = 6);
    TELL(table, 1, .source = 2, .universe = 1, .sequence = 6);
    TELL(table, 2, .source = 1, .universe = 1, .sequence = 12);
    struct sacn_heard heard = hear(table, 2, 1);
    for (uint32_t i = 0; i < 2; i++) {
        assert_int_equal(heard.sources[i]->packets, 2);
        assert_int_equal(heard.sources[i]->missing + heard.sources[i]->late + heard.sources[i]->repeated, 0);
    }
    assert_int_equal(source_in(&heard, 1)->other_start_codes, 1);
    assert_levels(heard.levels, 1, 512, 0);
    assert_int_equal(sacn_table_counts(table)->other_start_codes, 1);
    assert_int_equal(sacn_table_counts(table)->data, 7);
}

/* ---- ends ---- */

static void silence_of_two_and_a_half_seconds_is_a_loss(void **state)
{
    (void)state;
    TELL(table, 1000, .source = 1, .sequence = 1, .level = 70);
    struct sacn_heard heard = hear(table, 3499, 1);
    assert_int_equal(heard.sources[0]->state, SACN_LIVE);
    heard = hear(table, 3500, 1);                      /* 6.7.1, Appendix A */
    assert_int_equal(heard.sources[0]->state, SACN_LOST);
    assert_int_equal(heard.winners, 0);
    assert_levels(heard.levels, 1, 512, 70);           /* the last look */
    TELL(table, 4000, .source = 1, .sequence = 1, .level = 80);      /* any number is new after a loss */
    heard = hear(table, 4000, 1);
    assert_int_equal(heard.sources[0]->state, SACN_LIVE);
    assert_int_equal(heard.sources[0]->losses, 1);
    assert_int_equal(heard.sources[0]->repeated, 0);
    assert_levels(heard.levels, 1, 512, 80);
}

/* The last look is what was output before the end, read or not. */
static void the_last_look_needs_no_reader(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 70);
    TELL(table, 10, .source = 1, .sequence = 2, .level = 71);
    struct sacn_heard heard = hear(table, 20000, 1);
    assert_levels(heard.levels, 1, 512, 71);
    assert_false(sacn_table_universe(table, 2, &heard));
    sacn_table_advance(table, (10 + 2500 + 59999) * MS);
    assert_true(sacn_table_universe(table, 1, &heard));
    sacn_table_advance(table, (10 + 2500 + 60000) * MS);
    assert_false(sacn_table_universe(table, 1, &heard));
    const uint16_t *universes;
    assert_int_equal(sacn_table_universes(table, &universes), 0);
}

/* 6.2.6: one packet with Stream_Terminated is enough, its levels are ignored; the other two do not bring the source back, and
 * neither does what was overtaken. */
static void a_terminated_packet_ends_a_source(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 41, .level = 50);
    TELL(table, 10, .source = 1, .sequence = 43, .terminated = true, .level = 200);
    struct sacn_heard heard = hear(table, 10, 1);
    assert_int_equal(heard.sources[0]->state, SACN_TERMINATED);
    assert_false(heard.sources[0]->wins);
    assert_int_equal(heard.winners, 0);
    assert_levels(heard.levels, 1, 512, 50);
    TELL(table, 11, .source = 1, .sequence = 42, .level = 60);
    TELL(table, 12, .source = 1, .sequence = 44, .terminated = true, .level = 200);
    TELL(table, 13, .source = 1, .sequence = 45, .terminated = true, .level = 200);
    TELL(table, 14, .source = 1, .sequence = 45, .terminated = true, .level = 200);
    heard = hear(table, 14, 1);
    assert_int_equal(heard.sources[0]->state, SACN_TERMINATED);
    assert_int_equal(heard.sources[0]->missing, 0);
    assert_int_equal(heard.sources[0]->late, 1);
    assert_int_equal(heard.sources[0]->repeated, 1);
    assert_levels(heard.levels, 1, 512, 50);
    TELL(table, 20, .source = 1, .sequence = 46, .level = 61);
    heard = hear(table, 20, 1);
    assert_int_equal(heard.sources[0]->state, SACN_LIVE);
    assert_int_equal(heard.sources[0]->losses, 0);
    assert_levels(heard.levels, 1, 512, 61);
}

static void the_samples_of_termination_end_their_source(void **state)
{
    (void)state;
    static const char *const names[] = { "data", "terminated-1", "terminated-2", "terminated-3" };
    union sacn_address from = host_address(1);
    for (int i = 0; i < 4; i++) {
        uint8_t octets[SAMPLE_SIZE];
        size_t length = read_sample(names[i], octets);
        assert_int_equal(sacn_table_take(table, i * MS, octets, length, &from), SACN_ACCEPT);
        struct sacn_heard heard = hear(table, i, 513);
        assert_int_equal(heard.sources[0]->state, i == 0 ? SACN_LIVE : SACN_TERMINATED);
        assert_int_equal(heard.sources[0]->packets, i + 1);
    }
}

static void a_terminated_packet_of_nobody_is_no_source(void **state)
{
    (void)state;
    struct sacn_heard heard;
    TELL(table, 0, .source = 1, .sequence = 1, .terminated = true);
    assert_false(sacn_table_universe(table, 1, &heard));
    assert_int_equal(sacn_table_counts(table)->data, 1);
}

/* A device that restarts after its end begins with any number once 2.5 s have passed since its last packet. */
static void numbers_begin_anew_after_a_termination(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 9, .level = 1);
    TELL(table, 10, .source = 1, .sequence = 10, .terminated = true);
    TELL(table, 2509, .source = 1, .sequence = 0, .level = 2);
    struct sacn_heard heard = hear(table, 2509, 1);
    assert_int_equal(heard.sources[0]->state, SACN_TERMINATED);
    TELL(table, 2510, .source = 1, .sequence = 0, .level = 3);
    heard = hear(table, 2510, 1);
    assert_int_equal(heard.sources[0]->state, SACN_LIVE);
    assert_levels(heard.levels, 1, 512, 3);
}

/* ---- who it is ---- */

static void names_and_addresses_are_the_latest(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .name = "one", .host = 1);
    TELL(table, 1, .source = 1, .sequence = 2, .name = "two", .host = 2);
    TELL(table, 2, .source = 1, .sequence = 2, .name = "three", .host = 3);      /* repeated: discarded */
    TELL(table, 3, .source = 1, .sequence = 3, .name = "two", .host = 2);
    struct sacn_heard heard = hear(table, 3, 1);
    union sacn_address from = host_address(2);
    assert_string_equal(heard.sources[0]->name, "two");
    assert_true(sacn_address_equal(&heard.sources[0]->from, &from));
    assert_int_equal(heard.sources[0]->name_changes, 1);
    assert_int_equal(heard.sources[0]->address_changes, 1);
}

static void universes_are_listed_ascending(void **state)
{
    (void)state;
    static const uint16_t heard_in[] = { 300, 63999, 1, 2, 299 }, ascending[] = { 1, 2, 299, 300, 63999 };
    const uint16_t *universes;
    for (size_t i = 0; i < 5; i++)
        TELL(table, 0, .source = 1, .universe = heard_in[i], .sequence = 1);
    assert_int_equal(sacn_table_universes(table, &universes), 5);
    assert_memory_equal(universes, ascending, sizeof ascending);
}

static void time_never_goes_back(void **state)
{
    (void)state;
    TELL(table, 5000, .source = 1, .sequence = 1);
    TELL(table, 10, .source = 1, .sequence = 2);
    struct sacn_heard heard = hear(table, 0, 1);
    assert_int_equal(heard.sources[0]->last_ns, 5000 * MS);
    sacn_table_advance(table, INT64_MIN);
    sacn_table_advance(table, INT64_MAX);
    assert_false(sacn_table_universe(table, 1, &heard));
    TELL(table, 0, .source = 1, .sequence = 1);
    sacn_table_advance(table, INT64_MAX);
    assert_true(sacn_table_universe(table, 1, &heard));
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_table, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(every_mutation_leaves_what_the_table_says),
        TEST(a_sample_is_shown_as_it_is_described),
        TEST(every_sequence_vector_is_followed),
        TEST(late_repeated_and_missing_are_told_apart),
        TEST(the_window_is_as_long_as_the_rule),
        TEST(numbers_are_counted_for_source_and_universe),
        TEST(silence_of_two_and_a_half_seconds_is_a_loss),
        TEST(the_last_look_needs_no_reader),
        TEST(a_terminated_packet_ends_a_source),
        TEST(the_samples_of_termination_end_their_source),
        TEST(a_terminated_packet_of_nobody_is_no_source),
        TEST(numbers_begin_anew_after_a_termination),
        TEST(names_and_addresses_are_the_latest),
        TEST(universes_are_listed_ascending),
        TEST(time_never_goes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
