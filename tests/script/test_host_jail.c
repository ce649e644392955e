/* The jail: which system calls a host has, and what it keeps of the engine's process (design: scripts run in processes of
 * their own). The acts are native code, as a script would be that has broken out of Lua. */
#include "fake_host.h"

#include <errno.h>
#include <fcntl.h>
#include <seccomp.h>
#include <signal.h>
#include <stdio.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/ptrace.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static struct show *show;

/* Try a call after the go. If the jail lets it through, say so. */
#define TRY(name, expression) \
    static void try_##name(struct host *host) \
    { \
        fake_rule(host); \
        long result = (long)(expression); \
        char text[80]; \
        snprintf(text, sizeof text, #name " was let through: %ld", result); \
        host_error(host, text, false); \
    }

TRY(openat, syscall(SYS_openat, AT_FDCWD, "/etc/passwd", O_WRONLY))
TRY(mkdir, syscall(SYS_mkdirat, AT_FDCWD, "/tmp/rigcall-escaped", 0700))
TRY(socket, socket(AF_INET, SOCK_DGRAM, 0))
TRY(connect, connect(HOST_SOCKET, NULL, 0))
TRY(clone, syscall(SYS_clone, SIGCHLD, 0, 0, 0, 0))
TRY(execve, syscall(SYS_execve, "/bin/true", NULL, NULL))
TRY(kill_engine, kill(getppid(), SIGTERM))
TRY(kill, syscall(SYS_kill, 1, 0))
TRY(ptrace, ptrace(PTRACE_TRACEME, 0, 0, 0))
TRY(exec_memory, mmap(NULL, 4096, PROT_READ | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0))
TRY(file_memory, mmap(NULL, 4096, PROT_READ, MAP_PRIVATE, HOST_SOCKET, 0))
TRY(exec_protect, mprotect((void *)((uintptr_t)&show & ~(uintptr_t)4095), 4096, PROT_READ | PROT_WRITE | PROT_EXEC))
TRY(write_stdout, syscall(SYS_write, 1, "x", 1))
TRY(write_socket, syscall(SYS_write, HOST_SOCKET, "x", 1))
TRY(send_elsewhere, syscall(SYS_sendto, 0, "x", 1, 0, NULL, 0))
TRY(send_to, syscall(SYS_sendto, HOST_SOCKET, "x", 1, 0, &show, 2))
TRY(sendmsg, syscall(SYS_sendmsg, HOST_SOCKET, &(struct msghdr){ 0 }, 0))
TRY(recvmsg, syscall(SYS_recvmsg, HOST_SOCKET, &(struct msghdr){ 0 }, 0))
TRY(dup, syscall(SYS_dup, HOST_SOCKET))
TRY(setrlimit, syscall(SYS_setrlimit, RLIMIT_CPU, &(struct rlimit){ 1, 1 }))
TRY(setitimer, syscall(SYS_setitimer, 2, NULL, NULL))
TRY(seccomp, syscall(SYS_seccomp, 0, 0, NULL))
TRY(io_uring, syscall(SYS_io_uring_setup, 1, NULL))
TRY(bpf, syscall(SYS_bpf, 0, NULL, 0))
TRY(unlink, syscall(SYS_unlinkat, AT_FDCWD, "/tmp/rigcall-none", 0))
#ifdef __x86_64__
TRY(x32, syscall(0x40000000 | SYS_getpid))
#else
TRY(x32, syscall(SYS_setitimer, 2, NULL, NULL))
#endif

#define ACT(name) { "try_" #name, try_##name }

/* What must work. */
static void act_allowed(struct host *host)
{
    struct timespec t;
    char random[8];
    fake_rule(host);
    void *block = mmap(NULL, 1 << 20, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    bool fine = block != MAP_FAILED;
    memset(block, 1, 1 << 20);
    fine = fine && madvise(block, 1 << 20, MADV_DONTNEED) == 0 && munmap(block, 1 << 20) == 0;
    fine = fine && syscall(SYS_clock_gettime, CLOCK_MONOTONIC, &t) == 0 && syscall(SYS_getrandom, random, sizeof random, 0) == sizeof random;
    /* A zone file must not be looked for. */
    time_t now = 0;
    struct tm tm;
    fine = fine && localtime_r(&now, &tm) && mktime(&tm) == 0 && localtime(&now);
    char *big = malloc(4 << 20), *bigger = realloc(big, 16 << 20);
    fine = fine && bigger;
    free(bigger);
    if (!fine)
        host_error(host, "something that is allowed failed", false);
    host_done(host);
}

static const char *inside_trouble(void)
{
    extern char **environ;
    struct rlimit limit;
    struct sigaction action;
    sigset_t blocked;
    int kept = HOST_SANITIZED ? HOST_REPORT : HOST_SOCKET;
    for (int fd = 0; fd < 1024; fd++)
        if ((fcntl(fd, F_GETFD) >= 0) != (fd == HOST_SOCKET || fd == kept))
            return "descriptors";
    if (HOST_SANITIZED && (fcntl(HOST_REPORT, F_GETFL) & O_ACCMODE) != O_WRONLY)
        return "the report can be read";
    if (prctl(PR_GET_NO_NEW_PRIVS, 0, 0, 0, 0) != 1 || prctl(PR_GET_DUMPABLE, 0, 0, 0, 0) != 0)
        return "privileges";
    int death = 0;
    if (prctl(PR_GET_PDEATHSIG, &death, 0, 0, 0) || death != SIGKILL)
        return "the signal at the engine's end";
    static const int none[] = { RLIMIT_CORE, RLIMIT_FSIZE, RLIMIT_NPROC };
    for (size_t i = 0; i < sizeof none / sizeof *none; i++)
        if (getrlimit(none[i], &limit) || limit.rlim_cur != 0 || limit.rlim_max != 0)
            return "resources";
    if (getrlimit(RLIMIT_CPU, &limit) || limit.rlim_max == RLIM_INFINITY)
        return "CPU backstop";
    if (!environ || !environ[0] || strncmp(environ[0], "TZ=", 3) || environ[1])
        return "environment";
    if (sigaction(SIGUSR1, NULL, &action) || action.sa_handler != SIG_DFL)
        return "signals";
    if (sigprocmask(SIG_BLOCK, NULL, &blocked) || sigismember(&blocked, SIGUSR2))
        return "blocked signals";
    return NULL;
}

static char *secret;                 /* an environment variable's string in the engine's memory */

static void act_inside(struct host *host)
{
    fake_rule(host);
    const char *trouble = inside_trouble();
    if (!trouble && *secret)
        trouble = "the environment's memory";
    if (trouble)
        host_error(host, trouble, false);
    host_done(host);
}

static void act_ends(struct host *host)
{
    fake_rule(host);
}

const struct fake_act fake_acts[] = {
    ACT(openat), ACT(mkdir), ACT(socket), ACT(connect), ACT(clone), ACT(execve), ACT(kill_engine), ACT(kill), ACT(ptrace),
    ACT(exec_memory), ACT(file_memory), ACT(exec_protect), ACT(write_stdout), ACT(write_socket), ACT(send_elsewhere), ACT(send_to),
    ACT(sendmsg), ACT(recvmsg), ACT(dup), ACT(setrlimit), ACT(setitimer), ACT(seccomp), ACT(io_uring), ACT(bpf), ACT(unlink), ACT(x32),
    { "allowed", act_allowed }, { "inside", act_inside }, { "ends", act_ends }, { NULL, NULL },
};

static void other_calls_end_a_host(void **state)
{
    (void)state;
    for (const struct fake_act *act = fake_acts; act->name; act++) {
        if (strncmp(act->name, "try_", 4))
            continue;
        /* A sanitizer's report may fail to open files, and does not die of it. */
        bool softened = HOST_SANITIZED && !strcmp(act->name, "try_openat");
        assert_failure(show, act->name, softened ? "let through: -1" : "tried a system call that the jail does not allow");
    }
    assert_int_equal(access("/tmp/rigcall-escaped", F_OK), -1);
}

static void memory_clock_and_randomness_are_left(void **state)
{
    (void)state;
    const char *act = "allowed";
    size_t count;
    struct findings *findings = fake_check(show, &act, 1, 1);
    const struct script_failure *failures = findings_failures(findings, &count);
    if (count)
        fail_msg("%s", failures[0].text);
    findings_free(findings);
}

/* Where the kernel takes no filter: in a child of its own, because this cannot be undone. */
static int without_filters(const char *act, bool shipped)
{
    scmp_filter_ctx context = seccomp_init(SCMP_ACT_ALLOW);
    seccomp_rule_add(context, SCMP_ACT_ERRNO(EINVAL), SCMP_SYS(prctl), 1, SCMP_A0_32(SCMP_CMP_EQ, PR_SET_SECCOMP, 0));
    if (seccomp_load(context))
        return 10;
    seccomp_release(context);
    signal(SIGUSR1, SIG_IGN);
    sigset_t blocked;
    sigemptyset(&blocked);
    sigaddset(&blocked, SIGUSR2);
    sigprocmask(SIG_BLOCK, &blocked, NULL);
    for (int i = 0; i < 20; i++)
        if (open("/dev/null", O_RDONLY) < 0)
            return 11;
    struct script script = fake_script(act);
    struct check_options options = { .scripts = &script, .script_count = 1 };
    struct findings *findings = findings_new();
    size_t count;
    script.shipped = shipped;
    if (script_check(show, &options, findings, NULL))
        return 12;
    const struct script_failure *failures = findings_failures(findings, &count);
    bool refused = count == 1 && strstr(failures[0].text, "is not a shipped script, and others are refused because this machine cannot jail them");
    if (count && !refused)
        fprintf(stderr, "%s\n", failures[0].text);
    findings_free(findings);
    return count == 0 ? 0 : refused ? 1 : 2;
}

static int status_without_filters(const char *act, bool shipped)
{
    int status = 0;
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0)
        _exit(without_filters(act, shipped));
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void without_a_filter_only_shipped_scripts_run(void **state)
{
    (void)state;
    assert_int_equal(status_without_filters("ends", false), 1);
    assert_int_equal(status_without_filters("ends", true), 0);
}

static void a_host_keeps_nothing_of_the_engine(void **state)
{
    (void)state;
    assert_int_equal(status_without_filters("inside", true), 0);
}

static int set_up(void **state)
{
    (void)state;
    setenv("RIGCALL_TEST_SECRET", "token", 1);
    secret = getenv("RIGCALL_TEST_SECRET");
    show = fake_show(4);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    show_free(show);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_calls_end_a_host),
        cmocka_unit_test(memory_clock_and_randomness_are_left),
        cmocka_unit_test(without_a_filter_only_shipped_scripts_run),
        cmocka_unit_test(a_host_keeps_nothing_of_the_engine),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
