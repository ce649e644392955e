/* The receiving end of bench_pace: a socket on 127.0.0.1 that stamps every packet when it arrives (SO_TIMESTAMPNS; on the loopback
 * interface that is still inside the sender's system call), and what the stamps say about a sender. */
#ifndef RIGCALL_BENCH_PACE_RECEIVE_H
#define RIGCALL_BENCH_PACE_RECEIVE_H

#include <arpa/inet.h>
#include <math.h>
#include <sched.h>
#include <signal.h>
#include <sys/socket.h>

#include "process.h"
#include "rigcall/sacn.h"

#define RATE 44.0
#define FRAME_NS (1e9 / RATE)
#define UNIVERSES_MOST 2048
#define FRAMES_MOST 8192
#define SETTLE_FRAMES 44             /* of each universe, before those that count */
#define ROOM (64 << 20)              /* octets of the receive buffer */
#define AT_ONCE 256
#define NAP_NS 5000000               /* between two looks at the socket: the receiver must not be what disturbs the sender */
#define LATE_NS 1e6
#define NICE (-10)                   /* of the receiver, beside builds and the like; senders have none of it */

struct receiver { int fd; uint16_t port; uint32_t dropped; int64_t (*times)[FRAMES_MOST]; uint32_t *counts; };

/* |interval - frame| in us; lateness of sub-ticks against their own earliest place in the frame. */
struct pace { double median, p99, p999, most; uint64_t sent, due, late, subticks; double cpu_us; };

static void receiver_open(struct receiver *receiver)
{
    struct sockaddr_in address = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    socklen_t size = sizeof address;
    int on = 1, room = ROOM;
    receiver->fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (receiver->fd < 0 || setsockopt(receiver->fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on) ||
        setsockopt(receiver->fd, SOL_SOCKET, SO_RXQ_OVFL, &on, sizeof on) ||
        bind(receiver->fd, (struct sockaddr *)&address, sizeof address) ||
        getsockname(receiver->fd, (struct sockaddr *)&address, &size))
        die("receiver");
    if (setsockopt(receiver->fd, SOL_SOCKET, SO_RCVBUFFORCE, &room, sizeof room))
        setsockopt(receiver->fd, SOL_SOCKET, SO_RCVBUF, &room, sizeof room);
    receiver->port = ntohs(address.sin_port);
    receiver->times = malloc(UNIVERSES_MOST * sizeof *receiver->times);
    receiver->counts = malloc(UNIVERSES_MOST * sizeof *receiver->counts);
    if (!receiver->times || !receiver->counts)
        die("memory");
    memset(receiver->times, 0, UNIVERSES_MOST * sizeof *receiver->times);
    cpu_set_t last;
    CPU_ZERO(&last);
    CPU_SET((int)sysconf(_SC_NPROCESSORS_ONLN) - 1, &last);
    sched_setaffinity(0, sizeof last, &last);
    setpriority(PRIO_PROCESS, 0, NICE);
}

/* In a child: what the receiver has for itself is not for others. */
static void like_anybody(void)
{
    cpu_set_t all;
    memset(&all, 0xff, sizeof all);
    sched_setaffinity(0, sizeof all, &all);
    setpriority(PRIO_PROCESS, 0, 0);
}

static void receiver_close(struct receiver *receiver)
{
    close(receiver->fd);
    free(receiver->times);
    free(receiver->counts);
}

static void take(struct receiver *receiver, const struct msghdr *message, const uint8_t *packet, size_t length)
{
    struct timespec stamp = { 0 };
    for (struct cmsghdr *c = CMSG_FIRSTHDR(message); c; c = CMSG_NXTHDR((struct msghdr *)(uintptr_t)message, c)) {
        if (c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_TIMESTAMPNS)
            memcpy(&stamp, CMSG_DATA(c), sizeof stamp);
        if (c->cmsg_level == SOL_SOCKET && c->cmsg_type == SO_RXQ_OVFL)
            memcpy(&receiver->dropped, CMSG_DATA(c), sizeof receiver->dropped);
    }
    /* E1.31 Table 4-1: root vector at 18, options at 112, universe at 113. */
    if (length < 128 || packet[21] != 4 || packet[112])
        return;
    uint32_t universe = (uint32_t)(packet[113] << 8 | packet[114]) - 1;
    if (universe < UNIVERSES_MOST && receiver->counts[universe] < FRAMES_MOST)
        receiver->times[universe][receiver->counts[universe]++] = stamp.tv_sec * INT64_C(1000000000) + stamp.tv_nsec;
}

/* Take what is there. @return packets */
static int receive(struct receiver *receiver)
{
    static uint8_t packets[AT_ONCE][128];
    static char controls[AT_ONCE][64];
    struct mmsghdr messages[AT_ONCE];
    struct iovec parts[AT_ONCE];
    for (int i = 0; i < AT_ONCE; i++) {
        parts[i] = (struct iovec){ packets[i], sizeof packets[i] };
        messages[i].msg_hdr = (struct msghdr){ .msg_iov = &parts[i], .msg_iovlen = 1, .msg_control = controls[i],
                                               .msg_controllen = sizeof controls[i] };
    }
    int got = recvmmsg(receiver->fd, messages, AT_ONCE, MSG_DONTWAIT, NULL);
    for (int i = 0; i < got; i++)
        take(receiver, &messages[i].msg_hdr, packets[i], messages[i].msg_len);
    return got;
}

/* Receive until a process has ended. @return its CPU time, s */
static double receive_until_end(struct receiver *receiver, pid_t pid)
{
    struct rusage usage;
    int status;
    bool over = false;
    memset(receiver->counts, 0, UNIVERSES_MOST * sizeof *receiver->counts);
    receiver->dropped = 0;
    while (!over) {
        over = wait4(pid, &status, WNOHANG, &usage) == pid;
        while (receive(receiver) > 0)
            ;
        nanosleep(&(struct timespec){ 0, NAP_NS }, NULL);
    }
    if (status)
        die("the sender failed");
    return usage.ru_utime.tv_sec + usage.ru_stime.tv_sec + (usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) * 1e-6;
}

/* How many of a universe's sub-ticks came more than 1 ms after its earliest place in the frame. */
static uint64_t late_ones(const int64_t *times, uint32_t count)
{
    double earliest = INFINITY;
    uint64_t late = 0;
    for (int pass = 0; pass < 2; pass++)
        for (uint32_t i = 0; i < count; i++) {
            double since = (double)(times[i] - times[0]), place = since - round(since / FRAME_NS) * FRAME_NS;
            if (pass == 0)
                earliest = place < earliest ? place : earliest;
            else
                late += place - earliest > LATE_NS;
        }
    return late;
}

/* What the packets of `frames` frames after the settling say. */
static struct pace judge(const struct receiver *receiver, uint32_t universes, uint32_t frames)
{
    struct pace pace = { .due = (uint64_t)universes * frames };
    double *off = malloc(sizeof *off * universes * (frames + 1)), *end = off;
    if (!off)
        die("memory");
    for (uint32_t u = 0; u < universes; u++) {
        const int64_t *times = receiver->times[u];
        double from = (double)times[0] + (SETTLE_FRAMES - 0.5) * FRAME_NS, to = from + frames * FRAME_NS;
        uint32_t first = 0, past;
        while (first < receiver->counts[u] && (double)times[first] < from)
            first++;
        for (past = first; past < receiver->counts[u] && (double)times[past] < to; past++)
            if (past > first)
                *end++ = fabs((double)(times[past] - times[past - 1]) - FRAME_NS) / 1e3;
        pace.sent += past - first;
        if (u % SACN_BATCH == 0) {
            pace.late += late_ones(times + first, past - first);
            pace.subticks += past - first;
        }
    }
    size_t count = (size_t)(end - off);
    if (!count)
        die("nothing arrived");
    qsort(off, count, sizeof *off, ascending);
    pace.median = off[count / 2];
    pace.p99 = off[(size_t)((double)count * 0.99)];
    pace.p999 = off[(size_t)((double)count * 0.999)];
    pace.most = off[count - 1];
    free(off);
    return pace;
}

#endif
