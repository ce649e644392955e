/* What the number of groups costs the kernel for each multicast packet, in CPU time of one process that sends to them in turn over
 * loopback (delivery is part of sending there) and then reads: memberships on bound sockets, as many on each as the kernel allows
 * by default (20); the same on as few as possible; a socket a group, bound to its address; and this project's receiver.
 *   bench_receive_groups [rounds]     (5 unless said otherwise) */
#include <arpa/inet.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

#include "../sacn/netspace.h"
#include "rigcall/sacn_receive.h"

enum { MOST_GROUPS = 8192, BATCH = 64, PACKETS = 1 << 16, ROUND_LIMIT = 101, BUFFER = 4 << 20, RECEIVE_SIZE = 1145 };
enum way { BY_TWENTY, BY_MANY, BY_ADDRESS, OURS, WAYS };

static const char *const names[WAYS] = { "20 a socket", "as many as fit", "a socket a group", "sacn_receiver" };
static int sockets[MOST_GROUPS + 1];
static size_t socket_count;

static void die(const char *what)
{
    fprintf(stderr, "bench_receive_groups: %s: %s\n", what, strerror(errno));
    exit(1);
}

static void set_memberships(const char *value)
{
    FILE *file = fopen("/proc/sys/net/ipv4/igmp_max_memberships", "w");
    if (!file || fputs(value, file) < 0 || fclose(file) != 0)
        die("igmp_max_memberships");
}

static int open_bound(const union sacn_address *address)
{
    const int on = 1, off = 0, buffer = BUFFER;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0 ||
        setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer) != 0 ||
        setsockopt(fd, IPPROTO_IP, IP_MULTICAST_ALL, &off, sizeof off) != 0 || bind(fd, &address->any, sizeof address->v4) != 0)
        die("socket");
    return fd;
}

static bool join(int fd, const union sacn_address *group)
{
    const struct ip_mreqn membership = { .imr_multiaddr = group->v4.sin_addr, .imr_ifindex = 1 };
    return setsockopt(fd, IPPROTO_IP, IP_ADD_MEMBERSHIP, &membership, sizeof membership) == 0;
}

static void open_sockets(enum way way, const union sacn_address *groups, size_t count)
{
    union sacn_address any = { .v4 = { .sin_family = AF_INET, .sin_port = htons(SACN_PORT) } };
    socket_count = 0;
    for (size_t i = 0; i < count; i++) {
        if (way != BY_ADDRESS && socket_count > 0 && join(sockets[socket_count - 1], &groups[i]))
            continue;
        sockets[socket_count++] = open_bound(way == BY_ADDRESS ? &groups[i] : &any);
        if (!join(sockets[socket_count - 1], &groups[i]))
            die("join");
    }
}

static long read_sockets(void)
{
    static uint8_t bytes[BATCH][RECEIVE_SIZE];
    static struct mmsghdr messages[BATCH];
    static struct iovec parts[BATCH];
    long count = 0;
    for (size_t i = 0; i < BATCH; i++) {
        parts[i] = (struct iovec){ bytes[i], RECEIVE_SIZE };
        messages[i].msg_hdr = (struct msghdr){ .msg_iov = &parts[i], .msg_iovlen = 1 };
    }
    for (size_t i = 0; i < socket_count; i++)
        for (int got; (got = recvmmsg(sockets[i], messages, BATCH, MSG_DONTWAIT, NULL)) > 0;)
            count += got;
    return count;
}

static double cpu_ns(void)
{
    struct timespec used;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
    return (double)used.tv_sec * 1e9 + (double)used.tv_nsec;
}

static void send_batch(int fd, union sacn_address *groups)
{
    static uint8_t packet[SACN_DATA_SIZE];
    struct iovec part = { packet, sizeof packet };
    struct mmsghdr messages[BATCH];
    for (size_t i = 0; i < BATCH; i++)
        messages[i].msg_hdr = (struct msghdr){ .msg_name = &groups[i], .msg_namelen = sizeof groups[i].v4, .msg_iov = &part,
                                               .msg_iovlen = 1 };
    if (sendmmsg(fd, messages, BATCH, 0) != BATCH)
        die("sendmmsg");
}

static void count_taken(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    (void)now_ns, (void)datagram, (void)length, (void)from;
    ++*(long *)context;
}

static struct sacn_receiver *open_ours(size_t count)
{
    const struct sacn_receiver_options options = { .interfaces = { "lo" }, .interface_count = 1, .buffer = BUFFER };
    uint16_t universes[MOST_GROUPS];
    struct sacn_receiver *receiver;
    struct rig_why why;
    for (size_t i = 0; i < count; i++)
        universes[i] = (uint16_t)(i + 1);
    if (sacn_receiver_open(&options, universes, count, &receiver, &why) == 0)
        return receiver;
    fprintf(stderr, "bench_receive_groups: %s\n", why.text);
    exit(1);
}

/* CPU of sending, ns a packet; reading goes on between, so that buffers stay as empty as they are in use. */
static double round_of(enum way way, union sacn_address *groups, size_t count, int sender)
{
    struct sacn_receiver *receiver = NULL;
    long received = 0;
    double used = 0;
    if (way == OURS)
        receiver = open_ours(count);
    else
        open_sockets(way, groups, count);
    for (size_t sent = 0; sent < PACKETS; sent += BATCH) {
        double before = cpu_ns();
        send_batch(sender, groups + sent % count);
        used += cpu_ns() - before;
        if ((sent / BATCH) % 16 != 15)
            continue;
        if (receiver)
            sacn_receiver_read(receiver, PACKETS, count_taken, &received, NULL);
        else
            received += read_sockets();
    }
    if (received != PACKETS)
        fprintf(stderr, "bench_receive_groups: %s, %zu groups: %ld of %d received\n", names[way], count, received, PACKETS);
    for (size_t i = 0; i < socket_count; i++)
        close(sockets[i]);
    socket_count = 0;
    sacn_receiver_close(receiver);
    return used / PACKETS;
}

static int by_value(const void *a, const void *b)
{
    const double *left = a, *right = b;
    return (*left > *right) - (*left < *right);
}

int main(int argc, char **argv)
{
    static const size_t counts[] = { 64, 512, 2048, 8192 };
    static union sacn_address groups[MOST_GROUPS];
    const struct ip_mreqn loopback = { .imr_ifindex = 1 };
    struct rlimit limit;
    double cost[WAYS][ROUND_LIMIT];
    int rounds = argc > 1 ? atoi(argv[1]) : 5;
    if (rounds < 1 || rounds > ROUND_LIMIT) {
        fprintf(stderr, "usage: %s [rounds 1..%d]\n", argv[0], ROUND_LIMIT);
        return 2;
    }
    if (!netspace_enter() || !netspace_loopback(true) || getrlimit(RLIMIT_NOFILE, &limit) != 0)
        die("a network namespace");
    limit.rlim_cur = limit.rlim_max;
    setrlimit(RLIMIT_NOFILE, &limit);
    for (size_t i = 0; i < MOST_GROUPS; i++)
        sacn_group_address((uint16_t)(i + 1), false, SACN_PORT, &groups[i]);
    int sender = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (sender < 0 || setsockopt(sender, IPPROTO_IP, IP_MULTICAST_IF, &loopback, sizeof loopback) != 0)
        die("socket");
    printf("sending and delivering a packet, CPU ns, median of %d\n%8s", rounds, "groups");
    for (int way = 0; way < WAYS; way++)
        printf(" %17s", names[way]);
    for (size_t k = 0; k < sizeof counts / sizeof *counts; k++) {
        for (int i = 0; i < rounds; i++)
            for (int way = 0; way < WAYS; way++) {
                set_memberships(way == BY_MANY ? "100000" : "20");
                cost[way][i] = round_of((enum way)way, groups, counts[k], sender);
            }
        printf("\n%8zu", counts[k]);
        for (int way = 0; way < WAYS; way++) {
            qsort(cost[way], (size_t)rounds, sizeof *cost[way], by_value);
            printf(" %17.0f", cost[way][rounds / 2]);
        }
        fflush(stdout);
    }
    printf("\n");
    close(sender);
    return 0;
}
