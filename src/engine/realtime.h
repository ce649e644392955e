/* Real-time scheduling (SCHED_FIFO) of this process while a live run sends, and the way back. Processes that it forks have it not.
 * A guard gives it up by itself when the process holds a processor for long without a pause. */
#ifndef RIGCALL_ENGINE_REALTIME_H
#define RIGCALL_ENGINE_REALTIME_H

#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <sys/resource.h>

#include "rigcall/error.h"

#define REALTIME_PRIORITY 5          /* of 1..99: above everything that is not real-time, below sound programs and the kernel's threads */
#define REALTIME_RUNAWAY_US 500000   /* of CPU time without a pause */

struct realtime {
    bool on, locked;                 /* locked: memory is kept from being paged out */
    int policy; struct sched_param priority;         /* before */
    struct rlimit runaway;
    struct sigaction action;
};

/** Ask for it. One at a time in a process: the guard is a signal, SIGXCPU.
 * @return 0, or RIG_EIO with a sentence that says why it is refused and what would allow it; nothing is changed then */
int realtime_begin(struct realtime *realtime, struct rig_why *why);
/** The guard has given it up. */
bool realtime_lost(const struct realtime *realtime);
/** Put everything back. Without realtime_begin(), or when it was refused, nothing happens. */
void realtime_end(struct realtime *realtime);

#endif
