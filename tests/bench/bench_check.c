/* What a whole `rigcall check` costs: CPU time of all its processes and the peak of their summed PSS, for shows of 10,000 and
 * 100,000 fixtures, beside Lua's own compiler loading the same file in the same run (the named alternative).
 * Usage: bench_check [FOLDER for the generated shows; default /tmp]. Needs lua5.4. */
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define ROUNDS 5

extern char **environ;

struct cost { double cpu_s; double pss_mib; int status; };

static void die(const char *what)
{
    fprintf(stderr, "bench_check: %s: %s\n", what, strerror(errno));
    exit(1);
}

static pid_t start(char *const argv[], const char *output)
{
    posix_spawn_file_actions_t actions;
    pid_t pid;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, 1, output, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    int err = posix_spawnp(&pid, argv[0], &actions, NULL, argv, environ);
    posix_spawn_file_actions_destroy(&actions);
    if (err) {
        errno = err;
        die(argv[0]);
    }
    return pid;
}

/* Pss of one process, KiB; 0 when it is gone. */
static double pss_kib(long pid)
{
    char path[64], line[256];
    double kib = 0;
    snprintf(path, sizeof path, "/proc/%ld/smaps_rollup", pid);
    FILE *file = fopen(path, "r");
    while (file && fgets(line, sizeof line, file))
        if (sscanf(line, "Pss: %lf kB", &kib) == 1)
            break;
    if (file)
        fclose(file);
    return kib;
}

static double tree_pss_kib(long pid)
{
    char path[64];
    double sum = pss_kib(pid);
    long child;
    snprintf(path, sizeof path, "/proc/%ld/task/%ld/children", pid, pid);
    FILE *file = fopen(path, "r");
    while (file && fscanf(file, "%ld", &child) == 1)
        sum += tree_pss_kib(child);
    if (file)
        fclose(file);
    return sum;
}

/* With `sample`, the memory of the whole tree is read about every millisecond; CPU time is then not representative. */
static struct cost measure(char *const argv[], const char *output, bool sample)
{
    struct cost cost = { 0, 0, 0 };
    struct rusage usage;
    pid_t pid = start(argv, output);
    for (;;) {
        pid_t ended = wait4(pid, &cost.status, sample ? WNOHANG : 0, &usage);
        if (ended == pid)
            break;
        if (ended < 0)
            die("wait4");
        double mib = tree_pss_kib(pid) / 1024;
        if (mib > cost.pss_mib)
            cost.pss_mib = mib;
        nanosleep(&(struct timespec){ 0, 1000000 }, NULL);
    }
    cost.cpu_s = usage.ru_utime.tv_sec + usage.ru_stime.tv_sec + (usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) * 1e-6;
    return cost;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_cpu(char *const argv[], const char *output, const char *label)
{
    double seconds[ROUNDS];
    for (int i = 0; i < ROUNDS; i++)
        seconds[i] = measure(argv, output, false).cpu_s;
    qsort(seconds, ROUNDS, sizeof *seconds, ascending);
    printf("%-36s CPU s  min %.3f  median %.3f  max %.3f\n", label, seconds[0], seconds[ROUNDS / 2], seconds[ROUNDS - 1]);
    return seconds[ROUNDS / 2];
}

static bool files_equal(const char *a, const char *b)
{
    FILE *x = fopen(a, "rb"), *y = fopen(b, "rb");
    int c, d;
    if (!x || !y)
        die("compare");
    do {
        c = getc(x);
        d = getc(y);
    } while (c == d && c != EOF);
    fclose(x);
    fclose(y);
    return c == d;
}

struct size_result { double check_s, lua_s, pss_mib; };

static struct size_result one_size(const char *rigcall, const char *lua, const char *generator, const char *folder, const char *count)
{
    char show[4096], first[4096], second[4096], load[4200], label[64];
    struct size_result result;
    snprintf(show, sizeof show, "%s/bench-%s.show.lua", folder, count);
    snprintf(first, sizeof first, "%s/bench-%s.1.json", folder, count);
    snprintf(second, sizeof second, "%s/bench-%s.2.json", folder, count);
    snprintf(load, sizeof load, "dofile(%c%s%c)", '"', show, '"');
    char *const make[] = { (char *)lua, (char *)generator, (char *)count, NULL };
    if (measure(make, show, false).status != 0)
        die("the generator failed");
    char *const check[] = { (char *)rigcall, "check", show, "--format", "json", NULL };
    char *const dofile[] = { (char *)lua, "-e", load, NULL };
    snprintf(label, sizeof label, "check of %s fixtures", count);
    result.check_s = median_cpu(check, first, label);
    snprintf(label, sizeof label, "lua dofile of the same %s", count);
    result.lua_s = median_cpu(dofile, second, label);
    struct cost sampled = measure(check, second, true);
    result.pss_mib = sampled.pss_mib;
    int status = WIFEXITED(sampled.status) ? WEXITSTATUS(sampled.status) : -1;
    printf("  peak PSS of all processes %.1f MiB; exit status %d; two runs give %s bytes\n", result.pss_mib, status,
           files_equal(first, second) ? "equal" : "DIFFERENT");
    if (status != 0 && status != 1)
        die("check did not end with status 0 or 1");
    printf("  check / lua dofile = %.2f\n", result.check_s / result.lua_s);
    return result;
}

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : "/tmp", *generator = RIGCALL_SOURCE_DIR "/tests/bench/make_show.lua";
    struct size_result small = one_size(RIGCALL_PROGRAM, "lua5.4", generator, folder, "10000");
    struct size_result large = one_size(RIGCALL_PROGRAM, "lua5.4", generator, folder, "100000");
    printf("10,000: %.3f s (wanted under 0.300), %.1f MiB (under 150)\n", small.check_s, small.pss_mib);
    printf("100,000 / 10,000 CPU: %.2f (at most 12); %.1f MiB (under 512)\n", large.check_s / small.check_s, large.pss_mib);
    return 0;
}
