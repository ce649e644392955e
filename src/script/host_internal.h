/* Shared by the host_*.c files: what happens in the child between fork() and host_lua_main(). */
#ifndef RIGCALL_SCRIPT_HOST_INTERNAL_H
#define RIGCALL_SCRIPT_HOST_INTERNAL_H

#include <linux/filter.h>
#include <stdatomic.h>

#include "host.h"
#include "link.h"

#define HOST_SOCKET 3                /* the host's end of the link after the jail is closed */
#define HOST_REPORT 2                /* sanitizer builds only: where reports go (some go to stderr, whatever one asks for) */
#define HOST_EXIT_JAIL 70            /* exit status of a host that could not close its jail */

#if defined(__SANITIZE_ADDRESS__)
#define HOST_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define HOST_SANITIZED 1
#endif
#endif
#ifndef HOST_SANITIZED
#define HOST_SANITIZED 0
#endif

struct host_link {
    int fd;
    _Alignas(8) unsigned char buffer[LINK_BYTES];
    size_t used;                     /* octets of the buffer, the head included */
    uint16_t records;
    uint32_t findings, prints, says;
    uint64_t more;                   /* findings left out, the most severe of them */
    enum severity more_severity;
    int64_t burst_start_ns;          /* run time */
    _Atomic int64_t cpu_end_ns;      /* CPU time at which the burst passes its limit: read by the signal handler */
};

/* What a child needs; all borrowed from the engine's memory before the fork. */
struct host_start {
    const struct show *show;
    const struct show *before; const char *before_trouble;   /* of a check; may be NULL */
    const struct script *script;
    const struct host_lib *libs; size_t lib_count;
    const uint32_t *fixtures; uint32_t fixture_count;
    const struct script_set *sets; size_t set_count;
    const struct plan *const *plans; uint32_t plan_count;
    const struct listening *wire;
    bool describe_only;
    const struct sock_fprog *filter; /* NULL: no jail to be had, filter_trouble says why */
    const char *filter_trouble;
    size_t address_space;            /* octets the engine has mapped */
    unsigned cpu_backstop_s;         /* for RLIMIT_CPU */
    pid_t engine;
};

/** Run a host in this freshly forked process. @param fd  its end of the link  @param report_fd  for sanitizer reports, or -1 */
void host__run(const struct host_start *start, int fd, int report_fd) __attribute__((noreturn));

/** The system call filter for hosts, built once. @return NULL when it cannot be had, *trouble says why */
const struct sock_fprog *host__filter(const char **trouble);

/** Everything of the jail but the filter: descriptors, privileges, resources, environment, signals.
 * @return NULL, or what failed */
const char *host__close_jail(const struct host_start *start, size_t memory_limit, int fd, int report_fd);
/** Lock it: from here on only the calls of the filter. @return NULL, or what failed */
const char *host__lock_jail(const struct host_start *start);

/** Start the CPU clock's timer signal for this host. */
void host__limits_start(struct host *host);
/** A new burst of `seconds` of CPU time begins now. */
void host__burst(struct host *host, double seconds);

/** Prepare the link of this process. */
void host__link_start(struct host *host, int fd);

#endif
