/* Who writes a show must not be able to choose ids or texts that all fall into one place of a hash table: a file of 6 MB could
 * hold the program up for minutes. Texts and ids that collide in two well-known plain hashes must not collide here. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "model/model_internal.h"

/* Pairs with equal 32-bit FNV-1a (offset 2166136261, prime 16777619), found by search. */
static void texts_chosen_for_a_plain_hash_do_not_collide(void **state)
{
    (void)state;
    static const char *const pairs[][2] = { { "yiijsv", "ktodoe" }, { "urswmb", "sausii" }, { "qqtfsj", "fkopel" }, { "czsxvy", "trepuw" },
                                            { "pzyxtc", "iaodxa" }, { "llrvyu", "vdcawe" } };
    struct show *show = show_new();
    int equal = 0;
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
        equal += show__hash_text(show, pairs[i][0], 6) == show__hash_text(show, pairs[i][1], 6);
    assert_true(equal <= 1);          /* by chance one in four thousand million */
    show_free(show);
}

/* Ids that multiplicative hashing (2^64 / golden ratio, high half) puts into 64 neighbouring cells of 2^20. */
static void ids_chosen_for_a_plain_hash_spread(void **state)
{
    (void)state;
    struct show *show = show_new();
    unsigned char *taken = calloc(1u << 20, 1);
    unsigned chosen = 0, cells = 0;
    assert_non_null(taken);
    for (uint64_t id = 1; chosen < 1000; id++) {
        if (((id * 0x9e3779b97f4a7c15u) >> 32 & 0xfffff) >= 64)
            continue;
        unsigned char *cell = &taken[show__hash_number(show, (int64_t)id) & 0xfffff];
        cells += !*cell;
        *cell = 1;
        chosen++;
    }
    assert_true(cells > 900);         /* 1000 balls into 2^20 cells meet about 0.5 times */
    free(taken);
    show_free(show);
}

static void texts_that_differ_hash_apart(void **state)
{
    (void)state;
    struct show *show = show_new();
    assert_int_equal(show__hash_text(show, "a\0b", 3), show__hash_text(show, "a\0b", 3));
    assert_int_not_equal(show__hash_text(show, "", 0), show__hash_text(show, "\0", 1));
    assert_int_not_equal(show__hash_text(show, "12345678", 8), show__hash_text(show, "12345678\0", 9));
    assert_int_not_equal(show__hash_text(show, "12345678a", 9), show__hash_text(show, "a12345678", 9));
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_chosen_for_a_plain_hash_do_not_collide),
        cmocka_unit_test(ids_chosen_for_a_plain_hash_spread),
        cmocka_unit_test(texts_that_differ_hash_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
