#include "progress.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

void progress_start(struct progress *progress)
{
    *progress = (struct progress){ .terminal = isatty(STDERR_FILENO) == 1 };
    clock_gettime(CLOCK_MONOTONIC, &progress->start);
}

static double seconds_since(const struct timespec *start)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - start->tv_sec) + (double)(now.tv_nsec - start->tv_nsec) / 1e9;
}

void progress_show(struct progress *progress, const char *format, ...)
{
    char text[sizeof progress->shown];
    va_list args;
    if (!progress->terminal || (!*progress->shown && seconds_since(&progress->start) < 1))
        return;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (!strcmp(text, progress->shown))
        return;
    strcpy(progress->shown, text);
    fprintf(stderr, "\r%s\033[K", text);
    fflush(stderr);
}

void progress_end(struct progress *progress)
{
    if (*progress->shown)
        fputs("\r\033[K", stderr);
    *progress->shown = '\0';
}
