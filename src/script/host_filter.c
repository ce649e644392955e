/* The system call filter of a host, as one BPF program that every host loads. It is built in the engine, once. */
#include <errno.h>
#include <seccomp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "host_internal.h"

#define ALLOW(call) { SCMP_ACT_ALLOW, SCMP_SYS(call), 0, { { 0 } } }
struct rule { uint32_t action; int call; unsigned count; struct scmp_arg_cmp args[3]; };

/* Memory that is never executable and never a file, clocks, random numbers, the end, and the one socket without addresses. */
static const struct rule rules[] = {
    { SCMP_ACT_ALLOW, SCMP_SYS(mmap), 2,
      { { 2, SCMP_CMP_MASKED_EQ, PROT_EXEC, 0 }, { 3, SCMP_CMP_MASKED_EQ, MAP_ANONYMOUS, MAP_ANONYMOUS } } },
    ALLOW(munmap), ALLOW(mremap), ALLOW(brk), ALLOW(madvise),
    ALLOW(clock_gettime), ALLOW(gettimeofday), ALLOW(time), ALLOW(getrandom),
    ALLOW(rt_sigreturn), ALLOW(exit), ALLOW(exit_group),
    { SCMP_ACT_ALLOW, SCMP_SYS(sendto), 2, { { 0, SCMP_CMP_EQ, HOST_SOCKET, 0 }, { 4, SCMP_CMP_EQ, 0, 0 } } },
    { SCMP_ACT_ALLOW, SCMP_SYS(recvfrom), 2, { { 0, SCMP_CMP_EQ, HOST_SOCKET, 0 }, { 4, SCMP_CMP_EQ, 0, 0 } } },
#if HOST_SANITIZED
    /* A sanitizer's report: where it goes, what its allocator and its locks need, and calls that may fail but not kill, because
     * a report tries to name functions from files and asks whether it writes to a terminal. */
    { SCMP_ACT_ALLOW, SCMP_SYS(write), 1, { { 0, SCMP_CMP_EQ, HOST_REPORT, 0 } } },
    { SCMP_ACT_ALLOW, SCMP_SYS(mprotect), 1, { { 2, SCMP_CMP_MASKED_EQ, PROT_EXEC, 0 } } },
    ALLOW(futex), ALLOW(sched_yield), ALLOW(sigaltstack), ALLOW(rt_sigprocmask), ALLOW(rt_sigaction), ALLOW(getpid), ALLOW(gettid),
    ALLOW(getrlimit), ALLOW(nanosleep),
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(open), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(openat), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(readlink), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(readlinkat), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(stat), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(newfstatat), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(ioctl), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(prctl), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(prlimit64), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(pipe2), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(pipe), 0, { { 0 } } },
    { SCMP_ACT_ERRNO(EPERM), SCMP_SYS(close), 0, { { 0 } } },
#endif
};

/* libseccomp gives its program to a descriptor only. */
static const char *export(scmp_filter_ctx context, struct sock_fprog *program)
{
    struct stat info;
    const char *trouble = NULL;
    int fd = memfd_create("rigcall-filter", MFD_CLOEXEC);
    if (fd < 0)
        return "no memory file for the system call filter";
    if (seccomp_export_bpf(context, fd) || fstat(fd, &info) || info.st_size <= 0
        || info.st_size > (off_t)(BPF_MAXINSNS * sizeof(struct sock_filter)))
        trouble = "the system call filter cannot be made";
    else if (!(program->filter = malloc((size_t)info.st_size))
             || pread(fd, program->filter, (size_t)info.st_size, 0) != info.st_size)
        trouble = "the system call filter cannot be kept";
    else
        program->len = (unsigned short)((size_t)info.st_size / sizeof(struct sock_filter));
    close(fd);
    return trouble;
}

static const char *build(struct sock_fprog *program)
{
    const char *trouble = NULL;
    scmp_filter_ctx context = seccomp_init(SCMP_ACT_KILL_PROCESS);
    if (!context)
        return "this kernel has no system call filter that kills";
    if (seccomp_attr_set(context, SCMP_FLTATR_ACT_BADARCH, SCMP_ACT_KILL_PROCESS))
        trouble = "the system call filter cannot be made";
    for (size_t i = 0; !trouble && i < sizeof rules / sizeof *rules; i++)
        if (rules[i].call >= 0 && seccomp_rule_add_array(context, rules[i].action, rules[i].call, rules[i].count, rules[i].args))
            trouble = "the system call filter cannot be made";
    if (!trouble)
        trouble = export(context, program);
    seccomp_release(context);
    return trouble;
}

const struct sock_fprog *host__filter(const char **trouble)
{
    static struct sock_fprog program;
    *trouble = NULL;
    if (!program.len)
        *trouble = build(&program);
    return program.len ? &program : NULL;
}
