/* Whole processes started and measured, for the benchmarks. */
#ifndef RIGCALL_BENCH_PROCESS_H
#define RIGCALL_BENCH_PROCESS_H

#include <errno.h>
#include <fcntl.h>
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
    fprintf(stderr, "bench: %s: %s\n", what, strerror(errno));
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

static inline double median_cpu(char *const argv[], const char *output, const char *label)
{
    double seconds[ROUNDS];
    for (int i = 0; i < ROUNDS; i++)
        seconds[i] = measure(argv, output, false).cpu_s;
    qsort(seconds, ROUNDS, sizeof *seconds, ascending);
    printf("%-36s CPU s  min %.3f  median %.3f  max %.3f\n", label, seconds[0], seconds[ROUNDS / 2], seconds[ROUNDS - 1]);
    return seconds[ROUNDS / 2];
}

#endif
