/* Progress on stderr, for a person who waits: only on a terminal, only for what takes over a second, and wiped away at the end. */
#ifndef RIGCALL_CLI_PROGRESS_H
#define RIGCALL_CLI_PROGRESS_H

#include <stdbool.h>
#include <time.h>

struct progress { struct timespec start; bool terminal; char shown[80]; };

void progress_start(struct progress *progress);
/** Show a line in place of the last one, unless it is the same or the first second is not over. */
void progress_show(struct progress *progress, const char *format, ...) __attribute__((format(printf, 2, 3)));
/** Wipe the line away, if there is one. */
void progress_end(struct progress *progress);

#endif
