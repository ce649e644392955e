/* What a test watches of its own process: open descriptors, and the CPU time of the hosts that have ended. */
#ifndef TESTS_SCRIPT_WATCH_H
#define TESTS_SCRIPT_WATCH_H

#include <dirent.h>
#include <sys/resource.h>

static inline int open_descriptors(void)
{
    int count = 0;
    DIR *folder = opendir("/proc/self/fd");
    if (!folder)
        return -1;
    while (readdir(folder))
        count++;
    closedir(folder);
    return count - 3;                /* ".", ".." and the folder's own */
}

static inline double children_cpu_s(void)
{
    struct rusage usage;
    getrusage(RUSAGE_CHILDREN, &usage);
    return (double)usage.ru_utime.tv_sec + (double)usage.ru_stime.tv_sec + (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6;
}

#endif
