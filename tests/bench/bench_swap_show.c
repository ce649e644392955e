/* What plan_swap() alone costs on a show file: the median over rounds of the CPU time of this process; loading is not counted.
 * Usage: bench_swap_show SHOW ROUNDS [--out TX]... [--in TX]... [--keep-working]
 * Prints: microseconds dark disturbed touches settings proved(1|0) */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/plan.h"
#include "rigcall/showfile.h"

#define NAMES_MAX 256
#define ROUNDS_MAX 1000

static double cpu_us(void)
{
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (double)time.tv_sec * 1e6 + (double)time.tv_nsec / 1e3;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static bool read_options(const struct show *show, int argc, char **argv, struct plan_swap_options *options, uint32_t *out,
                         uint32_t *in)
{
    *options = (struct plan_swap_options){ .out = out, .in = in };
    for (int i = 3; i < argc; i++) {
        bool is_out = !strcmp(argv[i], "--out"), is_in = !strcmp(argv[i], "--in");
        if (!strcmp(argv[i], "--keep-working")) {
            options->keep_working = true;
            continue;
        }
        if ((!is_out && !is_in) || i + 1 == argc || options->out_count == NAMES_MAX || options->in_count == NAMES_MAX)
            return false;
        uint32_t found = show_find_transmitter(show, argv[++i]);
        if (found == SHOW_UNKNOWN)
            return false;
        if (is_out)
            out[options->out_count++] = found;
        else
            in[options->in_count++] = found;
    }
    return true;
}

static int measure(const struct show *show, const struct plan_swap_options *options, int rounds, struct rig_why *why)
{
    double times[ROUNDS_MAX];
    struct plan *plan = NULL;
    for (int i = 0; i < rounds; i++) {
        plan_free(plan);
        double start = cpu_us();
        int err = plan_swap(show, options, &plan, why);
        times[i] = cpu_us() - start;
        if (err)
            return err;
    }
    qsort(times, (size_t)rounds, sizeof *times, by_size);
    printf("%.3f %" PRIu32 " %" PRIu32 " %" PRIu32 " %" PRIu32 " %d\n", times[rounds / 2], plan->dark, plan->disturbed,
           plan->touches, plan->settings, plan->proved);
    plan_free(plan);
    return 0;
}

int main(int argc, char **argv)
{
    struct rig_why why = { 0 };
    struct show *show = NULL;
    struct plan_swap_options options;
    uint32_t out[NAMES_MAX], in[NAMES_MAX];
    int rounds = argc > 2 ? atoi(argv[2]) : 0;
    if (rounds < 1 || rounds > ROUNDS_MAX) {
        fprintf(stderr, "usage: bench_swap_show SHOW ROUNDS(1..%d) [--out TX]... [--in TX]... [--keep-working]\n", ROUNDS_MAX);
        return 2;
    }
    int err = showfile_load(argv[1], &show, &why);
    if (!err && !read_options(show, argc, argv, &options, out, in))
        err = rig_fail(&why, RIG_EUSAGE, "an option that is not known, or a transmitter that the show has not");
    if (!err)
        err = measure(show, &options, rounds, &why);
    if (err)
        fprintf(stderr, "bench_swap_show: %s\n", why.text);
    show_free(show);
    return err ? rig_exit_status(err) : 0;
}
