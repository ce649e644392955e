#include "script_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#define LOOK_MOST_NS 100000000       /* one look never counts for more wall time: the engine itself may have been stopped */

static int64_t clock_ns(clockid_t clock)
{
    struct timespec t;
    if (clock_gettime(clock, &t))
        return 0;
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

/* Octets this process has mapped, 0 if that is not to be known. */
static size_t address_space(void)
{
    char text[64];
    int fd = open("/proc/self/statm", O_RDONLY | O_CLOEXEC);
    ssize_t got = fd < 0 ? -1 : read(fd, text, sizeof text - 1);
    if (fd >= 0)
        close(fd);
    if (got <= 0)
        return 0;
    text[got] = '\0';
    return (size_t)strtoull(text, NULL, 10) * (size_t)sysconf(_SC_PAGESIZE);
}

/* A host is reaped by its number. Where children that end are thrown away unseen, the number could be another process's. */
static void keep_children(void)
{
    struct sigaction action;
    if (sigaction(SIGCHLD, NULL, &action) == 0 && action.sa_handler == SIG_IGN) {
        action.sa_handler = SIG_DFL;
        sigaction(SIGCHLD, &action, NULL);
    }
}

/* Fork with all signals held back, so that no handler of the engine runs in the child. */
static pid_t fork_host(const struct host_start *start, int fd, int report_fd)
{
    sigset_t all, before;
    sigfillset(&all);
    sigprocmask(SIG_SETMASK, &all, &before);
    pid_t pid = fork();
    if (pid == 0)
        host__run(start, fd, report_fd);
    int error = errno;
    sigprocmask(SIG_SETMASK, &before, NULL);
    errno = error;
    return pid;
}

int script__fail(struct rig_why *why, int code, const struct script *script, const char *text)
{
    const char *slash = strrchr(script->path, '/'), *file = slash ? slash + 1 : script->path;
    size_t length = strlen(file);
    if (!strncmp(text, file, length) && text[length] == ':')
        return rig_fail(why, code, "%.*s%.900s", (int)(file - script->path), script->path, text);
    return rig_fail(why, code, "%.300s: %.700s", script->path, text);
}

int script__process_start(struct script_process *process, struct host_start *start, struct rig_why *why)
{
    int err = RIG_EIO, pair[2] = { -1, -1 }, report[2] = { -1, -1 };
    memset(process, 0, sizeof *process);
    process->fd = process->report_fd = -1;
    process->script = start->script;
    if (start->script->trouble)
        return rig_fail(why, RIG_ESCRIPT, "%s", start->script->trouble);
    process->buffer = malloc(LINK_BYTES);
    process->reader = calloc(1, sizeof *process->reader);
    if (!process->buffer || !process->reader) {
        err = rig_fail(why, RIG_ENOMEM, "no memory for a script host");
        goto out;
    }
    process->reader->show = start->show;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair)
        || (HOST_SANITIZED && pipe2(report, O_CLOEXEC | O_NONBLOCK))) {
        err = rig_fail(why, RIG_EIO, "no socket for a script host: %s", strerror(errno));
        goto out;
    }
    start->filter = host__filter(&start->filter_trouble);
    start->address_space = address_space();
    start->engine = getpid();
    keep_children();
    process->pid = fork_host(start, pair[1], report[1]);
    if (process->pid < 0) {
        process->pid = 0;
        err = rig_fail(why, RIG_EIO, "no process for a script host: %s", strerror(errno));
        goto out;
    }
    process->fd = pair[0];
    process->report_fd = report[0];
    pair[0] = report[0] = -1;
    clock_getcpuclockid(process->pid, &process->cpu_clock);
    script__process_burst(process, link_load_limit_s());
    process->cpu_start_ns = 0;
    err = 0;
out:
    for (int i = 0; i < 2; i++) {
        if (pair[i] >= 0)
            close(pair[i]);
        if (report[i] >= 0)
            close(report[i]);
    }
    if (err)
        script__process_fini(process);
    return err;
}

void script__process_burst(struct script_process *process, double cpu_limit_s)
{
    if (process->ended)
        return;
    process->cpu_limit_s = cpu_limit_s;
    process->cpu_start_ns = clock_ns(process->cpu_clock);
    process->wall_ns = 0;
    process->looked_ns = 0;
}

void script__process_refuse(struct script_process *process, const char *what)
{
    char text[RIG_WHY_TEXT];
    snprintf(text, sizeof text, "sent what no script host sends (%.900s) and was killed", what);
    script__process_end(process, text);
}

void script__process_reply(struct script_process *process, enum link_reply_kind kind, int64_t time_ns,
                           enum crew_answer answer, const char *note)
{
    struct link_reply reply = { .magic = LINK_MAGIC, .kind = kind, .time_ns = time_ns, .answer = answer };
    if (process->ended)
        return;
    if (note)
        link_text(reply.note, sizeof reply.note, note, strlen(note));
    process->looked_ns = 0;
    /* Any other trouble shows when it is read. */
    if (send(process->fd, &reply, sizeof reply, MSG_DONTWAIT | MSG_NOSIGNAL) < 0 && errno == EAGAIN)
        script__process_refuse(process, "questions without reading the answers");
}

/* Kill a host that is past a limit. waited: the engine has had nothing to do but wait for it since the last look. */
static void look(struct script_process *process, bool waited)
{
    char text[96];
    if (waited) {
        int64_t now = clock_ns(CLOCK_MONOTONIC);
        int64_t passed = process->looked_ns ? now - process->looked_ns : 0;
        process->wall_ns += passed < LOOK_MOST_NS ? passed : LOOK_MOST_NS;
        process->looked_ns = now;
    } else
        process->looked_ns = 0;
    double cpu_s = (double)(clock_ns(process->cpu_clock) - process->cpu_start_ns) / 1e9;
    double wall_s = (double)process->wall_ns / 1e9;
    if (cpu_s > process->cpu_limit_s + SCRIPT_KILL_S)
        snprintf(text, sizeof text, "passed the limit of %.4g s CPU time and was killed", process->cpu_limit_s);
    else if (wall_s > process->cpu_limit_s * SCRIPT_WALL_FACTOR)
        snprintf(text, sizeof text, "passed the limit of %.4g s wall time and was killed",
                 process->cpu_limit_s * SCRIPT_WALL_FACTOR);
    else
        return;
    script__process_end(process, text);
}

/* The link is at its end, or an empty message looks like that. */
static void at_end(struct script_process *process)
{
    struct pollfd pollfd = { process->fd, POLLRDHUP, 0 };
    if (poll(&pollfd, 1, 0) == 1 && pollfd.revents & (POLLHUP | POLLRDHUP | POLLERR))
        script__process_end(process, NULL);
    else
        script__process_refuse(process, "an empty message");
}

void script__process_silent(struct script_process *process)
{
    char octet;
    if (process->ended)
        return;
    ssize_t got = recv(process->fd, &octet, sizeof octet, MSG_PEEK | MSG_DONTWAIT);
    if (got > 0 || process->in_message)
        script__process_refuse(process, "records while it should wait");
    else if (got == 0 || (errno != EAGAIN && errno != EINTR))
        at_end(process);
    else
        look(process, false);
}

void script__process_last(struct script_process *process)
{
    char octet;
    while (!process->ended) {
        struct pollfd pollfd = { process->fd, POLLIN | POLLRDHUP, 0 };
        poll(&pollfd, 1, SCRIPT_POLL_MS);
        ssize_t got = recv(process->fd, &octet, sizeof octet, MSG_PEEK | MSG_DONTWAIT);
        if (got < 0 && (errno == EAGAIN || errno == EINTR))
            look(process, true);
        else if (got > 0 || process->in_message || !(pollfd.revents & (POLLHUP | POLLRDHUP | POLLERR)))
            script__process_refuse(process, "another word after its last");
        else
            script__process_end(process, "");
    }
}

/* @return true when a message is there */
static bool receive(struct script_process *process, unsigned allowed)
{
    struct rig_why why;
    struct iovec iov = { process->buffer, LINK_BYTES };
    struct msghdr message = { .msg_iov = &iov, .msg_iovlen = 1 };
    ssize_t got;
    do
        got = recvmsg(process->fd, &message, MSG_DONTWAIT | MSG_CMSG_CLOEXEC);
    while (got < 0 && errno == EINTR);
    if (got < 0 && errno == EAGAIN) {
        look(process, true);
        return false;
    }
    if (got <= 0) {
        at_end(process);
        return false;
    }
    process->messages++;
    look(process, false);
    if (process->ended)
        return false;
    if (message.msg_flags & (MSG_TRUNC | MSG_CTRUNC)) {
        script__process_refuse(process, "a message over 64 KiB");
        return false;
    }
    process->reader->allowed = allowed;
    if (link_open(process->reader, process->buffer, (size_t)got, &why)) {
        script__process_refuse(process, why.text);
        return false;
    }
    return true;
}

enum script_event script__process_next(struct script_process *process, unsigned allowed, struct link_record *record)
{
    struct rig_why why;
    for (;;) {
        if (process->ended)
            return SCRIPT_ENDED;
        if (!process->in_message) {
            process->in_message = receive(process, allowed);
            if (!process->in_message)
                return process->ended ? SCRIPT_ENDED : SCRIPT_IDLE;
        }
        int got = link_next(process->reader, record, &why);
        process->in_message = got > 0 && process->reader->left;
        if (got > 0)
            return SCRIPT_RECORD;
        if (got < 0)
            script__process_refuse(process, why.text);
    }
}

/* The sentence for how a process ended that had not said so. */
static void describe_death(int status, char *text, size_t size)
{
    int number = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
    if (number == SIGSYS)
        snprintf(text, size, "tried a system call that the jail does not allow");
    else if (number == SIGXCPU)
        snprintf(text, size, "passed the limit of CPU time of its process");
    else if (number == SIGKILL)
        snprintf(text, size, "was killed from outside (signal 9), perhaps because memory is short");
    else if (number)
        snprintf(text, size, "crashed (signal %d, %s)", number, strsignal(number));
    else if (WIFEXITED(status) && WEXITSTATUS(status) == HOST_EXIT_JAIL)
        snprintf(text, size, "did not start: its process could not give up its descriptors and privileges");
    else
        snprintf(text, size, "ended without a word (exit status %d)", WIFEXITED(status) ? WEXITSTATUS(status) : -1);
}

/* The line of a sanitizer's report that says what it found. The whole report goes to stderr: such a build is a developer's.
 * @return false when there is no report */
static bool sanitizer_report(int fd, char *text, size_t size)
{
    static char report[65537];
    size_t length = 0;
    ssize_t got;
    while (length < sizeof report - 1 && (got = read(fd, report + length, sizeof report - 1 - length)) > 0)
        length += (size_t)got;
    if (!length)
        return false;
    report[length] = '\0';
    fputs(report, stderr);
    const char *found = strstr(report, "ERROR: ");
    if (!found)
        found = strstr(report, "runtime error: ");
    if (!found)
        found = report;
    snprintf(text, size, "made a sanitizer report: %.*s", (int)strcspn(found, "\n"), found);
    return true;
}

void script__process_end(struct script_process *process, const char *text)
{
    char found[RIG_WHY_TEXT];
    int status = 0;
    if (process->ended)
        return;
    process->ended = true;
    process->in_message = false;
    if (process->pid > 0) {
        kill(process->pid, SIGKILL);                  /* changes nothing about one that is ending by itself */
        while (waitpid(process->pid, &status, 0) < 0 && errno == EINTR)
            ;
        process->pid = 0;
    }
    if (process->report_fd >= 0 && sanitizer_report(process->report_fd, found, sizeof found))
        text = found;
    if (!text) {
        describe_death(status, found, sizeof found);
        text = found;
    }
    process->end.code = 0;
    if (*text)
        rig_fail(&process->end, RIG_ESCRIPT, "%s", text);
}

void script__process_fini(struct script_process *process)
{
    script__process_end(process, "");
    if (process->fd >= 0)
        close(process->fd);
    if (process->report_fd >= 0)
        close(process->report_fd);
    process->fd = process->report_fd = -1;
    free(process->buffer);
    free(process->reader);
    process->buffer = NULL;
    process->reader = NULL;
}

int script__process_load(struct script_process *process, struct script_about *about,
                         void (*printed)(void *context, const char *text), void *context, struct rig_why *why)
{
    struct link_record record;
    for (;;) {
        switch (script__process_next(process, LINK_ALLOW_LOAD, &record)) {
        case SCRIPT_IDLE: {
            struct pollfd pollfd = { process->fd, POLLIN, 0 };
            poll(&pollfd, 1, SCRIPT_POLL_MS);
            continue;
        }
        case SCRIPT_ENDED:
            return rig_fail(why, RIG_ESCRIPT, "%s", process->end.text);
        case SCRIPT_RECORD:
            break;
        }
        if (record.op == LINK_ABOUT) {
            *about = *record.about;
            return 0;
        }
        if (record.op == LINK_ERROR)
            return rig_fail(why, record.usage ? RIG_EUSAGE : RIG_ESCRIPT, "%s", record.text);
        if (printed)
            printed(context, record.text);
    }
}
