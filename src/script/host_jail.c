#include <errno.h>
#include <fcntl.h>
#include <linux/seccomp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "host_internal.h"

extern char **environ;

/* Leave the link as HOST_SOCKET, in a sanitizer build the report as HOST_REPORT, and nothing else. */
static const char *close_descriptors(int fd, int report_fd)
{
    /* Both out of the way first: either may stand on the other's place. */
    fd = fcntl(fd, F_DUPFD, HOST_SOCKET + 1);
    if (report_fd >= 0)
        report_fd = fcntl(report_fd, F_DUPFD, HOST_SOCKET + 1);
    if (fd < 0 || dup2(fd, HOST_SOCKET) < 0)
        return "the link's descriptor";
    if (HOST_SANITIZED && dup2(report_fd, HOST_REPORT) < 0)
        return "the report's descriptor";
    if (close_range(0, HOST_SANITIZED ? HOST_REPORT - 1 : HOST_SOCKET - 1, 0) || close_range(HOST_SOCKET + 1, ~0u, 0))
        return "close_range";
    return NULL;
}

static bool limit(int resource, rlim_t most)
{
    struct rlimit now;
    if (getrlimit(resource, &now))
        return false;
    if (now.rlim_max != RLIM_INFINITY && now.rlim_max < most)
        most = now.rlim_max;
    struct rlimit both = { most, most };
    return setrlimit(resource, &both) == 0;
}

/* Lua's C functions nest up to 200 deep: give them the usual 8 MiB when the engine was started with less. */
static void widen_stack(void)
{
    struct rlimit stack;
    if (getrlimit(RLIMIT_STACK, &stack) || stack.rlim_cur >= (8u << 20))
        return;
    stack.rlim_cur = stack.rlim_max == RLIM_INFINITY || stack.rlim_max > (8u << 20) ? (8u << 20) : stack.rlim_max;
    setrlimit(RLIMIT_STACK, &stack);
}

/* CPU and address space are backstops for a host whose own limits are out of order; the limits proper are kept by the engine's
 * clock and by host_alloc(). */
static const char *limit_resources(const struct host_start *start, size_t memory_limit)
{
    widen_stack();
    if (!limit(RLIMIT_CORE, 0) || !limit(RLIMIT_FSIZE, 0) || !limit(RLIMIT_NPROC, 0) || !limit(RLIMIT_NOFILE, HOST_SOCKET + 1)
        || !limit(RLIMIT_MEMLOCK, 0) || !limit(RLIMIT_CPU, start->cpu_backstop_s))
        return "a resource limit";
    if (!HOST_SANITIZED && start->address_space && !limit(RLIMIT_AS, start->address_space + 2 * memory_limit + (64u << 20)))
        return "the limit of address space";
    return NULL;
}

/* Environment variables hold other programs' secrets, and the strings stay in memory when they are only unset. TZ alone is kept,
 * and always set: without it the C library would look for the time zone's file at every use. */
static const char *clear_environment(void)
{
    static char zone[256];
    const char *given = getenv("TZ");
    strncpy(zone, given && strlen(given) < sizeof zone ? given : ":/etc/localtime", sizeof zone - 1);
    for (char **e = environ; e && *e; e++)
        explicit_bzero(*e, strlen(*e));
    if (clearenv() || setenv("TZ", zone, 1))
        return "the environment";
    tzset();
    return NULL;
}

#if HOST_SANITIZED
/* How the sanitizer reports a crash, kept from before anybody in the engine took these signals. */
static const int crash_signals[] = { SIGSEGV, SIGBUS, SIGFPE };
static struct sigaction crash_actions[3];

__attribute__((constructor)) static void keep_crash_actions(void)
{
    for (int i = 0; i < 3; i++)
        sigaction(crash_signals[i], NULL, &crash_actions[i]);
}
#endif

static void reset_signals(void)
{
    struct sigaction usual = { .sa_handler = SIG_DFL };
    sigset_t none;
    sigemptyset(&usual.sa_mask);
    for (int s = 1; s < NSIG; s++)
        sigaction(s, &usual, NULL);
#if HOST_SANITIZED
    for (int i = 0; i < 3; i++)
        sigaction(crash_signals[i], &crash_actions[i], NULL);
#endif
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
}

const char *host__close_jail(const struct host_start *start, size_t memory_limit, int fd, int report_fd)
{
    const char *trouble = clear_environment();        /* needs the time zone's file: before the descriptors' limit */
    reset_signals();
    setsid();                        /* Ctrl-C at the terminal is for the engine, which then ends its hosts */
    if (!trouble)
        trouble = close_descriptors(fd, report_fd);
    if (!trouble)
        trouble = limit_resources(start, memory_limit);
    if (trouble)
        return trouble;
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) || prctl(PR_SET_DUMPABLE, 0, 0, 0, 0))
        return "privileges";
    if (prctl(PR_SET_PDEATHSIG, SIGKILL, 0, 0, 0))
        return "the signal at the engine's end";
    if (getppid() != start->engine)
        _exit(0);                    /* the engine ended before the signal was asked for */
    return NULL;
}

/* The C library asks the system for the size of memory at the first larger qsort() of a process, which the filter would take for an
 * attack; plans sort. */
static int compare_shorts(const void *a, const void *b)
{
    return *(const short *)a - *(const short *)b;
}

static void prime_sort(void)
{
    static short numbers[1024];
    qsort(numbers, sizeof numbers / sizeof *numbers, sizeof *numbers, compare_shorts);
}

const char *host__lock_jail(const struct host_start *start)
{
    prime_sort();
    if (!start->filter)
        return start->filter_trouble;
    if (prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, start->filter, 0, 0))
        return "the kernel takes no system call filter";
    return NULL;
}
