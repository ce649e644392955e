/* The packer on published instances whose fewest bins are known: tests/plan/orlib/README.md names their source. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "plan/bins.h"

#define ITEMS 120
#define STEPS 20000000u

static void the_known_number_is_found_and_proved(void **state)
{
    (void)state;
    FILE *file = fopen(RIGCALL_SOURCE_DIR "/tests/plan/orlib/binpack1.txt", "r");
    char name[16];
    uint32_t capacity, count, fewest, size[ITEMS], bin[ITEMS], used[ITEMS];
    uint64_t sets[ITEMS];
    int instances = 0;
    assert_non_null(file);
    while (fscanf(file, "%15s %u %u %u", name, &capacity, &count, &fewest) == 4) {
        assert_int_equal(count, ITEMS);
        for (uint32_t i = 0; i < count; i++) {
            assert_int_equal(fscanf(file, "%u", &size[i]), 1);
            sets[i] = 1;
        }
        struct bins bins = { .count = count, .size = size, .words = 1, .sets = sets, .capacity = capacity, .step_limit = STEPS, .bin = bin };
        assert_true(bins_pack(&bins));
        if (bins.opened != fewest || !bins.proved)
            fail_msg("%s: %u bins, at least %u, known %u", name, bins.opened, bins.at_least, fewest);
        memset(used, 0, sizeof used);
        for (uint32_t i = 0; i < count; i++) {
            assert_true(bin[i] < fewest);
            used[bin[i]] += size[i];
        }
        for (uint32_t b = 0; b < fewest; b++)
            assert_true(used[b] <= capacity);
        instances++;
    }
    fclose(file);
    assert_int_equal(instances, 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_known_number_is_found_and_proved) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
