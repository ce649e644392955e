#include "realtime.h"

#ifdef __linux__

#include <errno.h>
#include <linux/capability.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <unistd.h>

static volatile sig_atomic_t runaway;

/* A system call and a flag: nothing that a signal handler must not do. Without the flag for forks the kernel would refuse it to a
 * process without privileges. */
static void on_runaway(int number)
{
    const struct sched_param none = { 0 };
    int saved = errno;
    (void)number;
    sched_setscheduler(0, SCHED_OTHER | SCHED_RESET_ON_FORK, &none);
    runaway = 1;
    errno = saved;
}

static bool capable(unsigned capability)
{
    struct __user_cap_header_struct head = { _LINUX_CAPABILITY_VERSION_3, 0 };
    struct __user_cap_data_struct data[_LINUX_CAPABILITY_U32S_3] = { { 0 } };
    return syscall(SYS_capget, &head, data) == 0 && data[capability / 32].effective & 1u << capability % 32;
}

static rlim_t limit_of(__rlimit_resource_t resource)
{
    struct rlimit limit;
    return getrlimit(resource, &limit) == 0 ? limit.rlim_cur : 0;
}

static int refused(int error, struct rig_why *why)
{
    if (error == EPERM && limit_of(RLIMIT_RTPRIO) == 0 && !capable(CAP_SYS_NICE))
        return rig_fail(why, RIG_EIO, "real-time scheduling is refused: this user's real-time priority limit (RLIMIT_RTPRIO) is 0 "
                        "and the process has no CAP_SYS_NICE; \"rtprio\" in limits.conf, or a service's LimitRTPRIO, allows it");
    return rig_fail(why, RIG_EIO, "real-time scheduling is refused (%s): the control group or container of this process gives no "
                    "real-time share of the processors", strerror(error));
}

/* The signal comes at the soft limit; at the hard one the kernel would kill. */
static bool arm_guard(struct realtime *realtime)
{
    struct sigaction action = { .sa_handler = on_runaway, .sa_flags = SA_RESTART };
    runaway = 0;
    if (getrlimit(RLIMIT_RTTIME, &realtime->runaway) || sigaction(SIGXCPU, &action, &realtime->action))
        return false;
    struct rlimit limit = { REALTIME_RUNAWAY_US, realtime->runaway.rlim_max };
    if (limit.rlim_max != RLIM_INFINITY && limit.rlim_max / 2 < limit.rlim_cur)
        limit.rlim_cur = limit.rlim_max / 2;
    if (setrlimit(RLIMIT_RTTIME, &limit) == 0)
        return true;
    sigaction(SIGXCPU, &realtime->action, NULL);
    return false;
}

static void disarm_guard(struct realtime *realtime)
{
    setrlimit(RLIMIT_RTTIME, &realtime->runaway);
    sigaction(SIGXCPU, &realtime->action, NULL);
}

int realtime_begin(struct realtime *realtime, struct rig_why *why)
{
    rlim_t most = limit_of(RLIMIT_RTPRIO);
    struct sched_param priority = { REALTIME_PRIORITY };
    *realtime = (struct realtime){ 0 };
    if (!capable(CAP_SYS_NICE) && most > 0 && most < REALTIME_PRIORITY)
        priority.sched_priority = (int)most;
    realtime->policy = sched_getscheduler(0);
    if (realtime->policy < 0 || sched_getparam(0, &realtime->priority) || !arm_guard(realtime))
        return rig_fail(why, RIG_EIO, "real-time scheduling is not to be had: %s", strerror(errno));
    if (sched_setscheduler(0, SCHED_FIFO | SCHED_RESET_ON_FORK, &priority)) {
        int error = errno;
        disarm_guard(realtime);
        return refused(error, why);
    }
    realtime->on = true;
    /* Under a limit, memory that the run needs later could be refused. */
    if (capable(CAP_IPC_LOCK) || limit_of(RLIMIT_MEMLOCK) == RLIM_INFINITY)
        realtime->locked = mlockall(MCL_CURRENT | MCL_FUTURE) == 0;
    return 0;
}

bool realtime_lost(const struct realtime *realtime)
{
    return realtime->on && runaway;
}

void realtime_end(struct realtime *realtime)
{
    if (!realtime->on)
        return;
    realtime->on = false;
    if (sched_setscheduler(0, realtime->policy, &realtime->priority))       /* only the privileged can clear the flag for forks */
        sched_setscheduler(0, realtime->policy | SCHED_RESET_ON_FORK, &realtime->priority);
    if (realtime->locked)
        munlockall();
    disarm_guard(realtime);
}

#else

int realtime_begin(struct realtime *realtime, struct rig_why *why)
{
    *realtime = (struct realtime){ 0 };
    return rig_fail(why, RIG_EIO, "real-time scheduling is refused: this version asks for it on Linux only");
}

bool realtime_lost(const struct realtime *realtime)
{
    (void)realtime;
    return false;
}

void realtime_end(struct realtime *realtime)
{
    (void)realtime;
}

#endif
