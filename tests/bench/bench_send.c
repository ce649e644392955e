/* What a packet costs to send, in CPU time: this project's sender against a bare sendmmsg loop and against npm sacn's sender, all in
 * one run, interleaved, over a virtual cable between two network namespaces of its own. 512 universes, all of which change in every
 * frame; nothing waits between frames. Needs root and the program `ip`.
 *   bench_send [rounds] [frames]     (5 rounds of 400 frames unless said otherwise) */
#include <errno.h>
#include <net/if.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "rigcall/sacn.h"
#include "../sacn/cables.h"
#include "device_feature.h"

enum { UNIVERSES = 512, BARE_BATCH = 128, ROUND_LIMIT = 101, NODE_SHARE = 10 };
#define THEIRS "10.77.1.2"

/* Multicast: nobody has joined, so the other end drops each packet. One host: a bound port there that nobody reads, with its buffer
 * full, so that no ICMP error is made. The kernel cuts what is sent in one before it goes over the cable, as for a network card
 * that cannot do it; with one that can, it goes over whole and is cut at the other end. */
enum way { GROUPS, HOST, HOST_BY_CARD, WAYS };

static uint8_t packets[UNIVERSES][SACN_DATA_SIZE];
static uint8_t levels[UNIVERSES][SACN_SLOTS];

static void die(const char *what)
{
    fprintf(stderr, "bench_send: %s: %s\n", what, strerror(errno));
    exit(1);
}

static double cpu_ns(void)
{
    struct timespec used;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
    return (double)used.tv_sec * 1e9 + (double)used.tv_nsec;
}

static void open_sink(void)
{
    union sacn_address there;
    int buffer = 4096;
    sacn_address_parse(THEIRS, SACN_PORT, &there);
    if (!cables_enter(cables_theirs))
        die("the other namespace");
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer) != 0 ||
        bind(fd, &there.any, sizeof there.v4) != 0 || !cables_enter(cables_ours))
        die("sink");
}

static void change(int universe, uint8_t sequence)
{
    levels[universe][sequence]++;
    memcpy(packets[universe] + SACN_SLOT_OFFSET, levels[universe], SACN_SLOTS);
    sacn_data_set_sequence(packets[universe], sequence);
}

/* ---- the bare loop ---- */

static void send_bare(int fd, struct mmsghdr *messages, uint8_t sequence)
{
    for (int i = 0; i < UNIVERSES; i++)
        change(i, sequence);
    for (int at = 0; at < UNIVERSES; at += BARE_BATCH)
        for (int done = 0; done < BARE_BATCH;) {
            int taken = sendmmsg(fd, messages + at + done, (unsigned)(BARE_BATCH - done), 0);
            if (taken < 0)
                die("sendmmsg");
            done += taken;
        }
}

static double bare_round(enum way way, int frames)
{
    static struct mmsghdr messages[UNIVERSES];
    static struct iovec parts[UNIVERSES];
    static union sacn_address to[UNIVERSES];
    const struct ip_mreqn out = { .imr_ifindex = (int)if_nametoindex("oa") };
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0), buffer = 1 << 20;
    if (fd < 0 || setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out) != 0)
        die("socket");
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &buffer, sizeof buffer);
    for (int i = 0; i < UNIVERSES; i++) {
        if (way == GROUPS)
            sacn_group_address((uint16_t)(i + 1), false, SACN_PORT, &to[i]);
        else
            sacn_address_parse(THEIRS, SACN_PORT, &to[i]);
        parts[i] = (struct iovec){ packets[i], SACN_DATA_SIZE };
        messages[i].msg_hdr = (struct msghdr){ .msg_name = &to[i], .msg_namelen = sizeof to[i].v4, .msg_iov = &parts[i],
                                               .msg_iovlen = 1 };
    }
    send_bare(fd, messages, 0);
    double before = cpu_ns();
    for (int frame = 0; frame < frames; frame++)
        send_bare(fd, messages, (uint8_t)(frame + 1));
    double used = cpu_ns() - before;
    close(fd);
    return used / frames / UNIVERSES;
}

/* ---- the sender, as the engine uses it ---- */

static void send_frame(struct sacn_sender *sender, uint8_t sequence)
{
    struct sacn_datagram batch[SACN_BATCH];
    size_t filled = 0;
    for (int i = 0; i < UNIVERSES; i++)
        change(i, sequence);
    for (int i = 0; i < UNIVERSES; i++) {
        batch[filled++] = (struct sacn_datagram){ .bytes = packets[i], .length = SACN_DATA_SIZE, .universe = (uint16_t)(i + 1) };
        if (filled < SACN_BATCH && i + 1 < UNIVERSES)
            continue;
        if (sacn_sender_send(sender, batch, filled, NULL) != (int)filled) {
            fprintf(stderr, "bench_send: packets were lost\n");
            exit(1);
        }
        filled = 0;
    }
}

static double sender_round(enum way way, int frames)
{
    struct sacn_target target = { .interfaces = { "oa" }, .interface_count = 1, .to = way == GROUPS ? NULL : THEIRS };
    struct sacn_sender *sender;
    struct rig_why why;
    if (sacn_sender_open(&target, &sender, &why) != 0) {
        fprintf(stderr, "bench_send: %s\n", why.text);
        exit(1);
    }
    send_frame(sender, 0);
    double before = cpu_ns();
    for (int frame = 0; frame < frames; frame++)
        send_frame(sender, (uint8_t)(frame + 1));
    double used = cpu_ns() - before;
    sacn_sender_close(sender);
    return used / frames / UNIVERSES;
}

/* ---- npm sacn ---- */

static double node_round(enum way way, int frames)
{
    char command[1024];
    double result = 0;
    snprintf(command, sizeof command, "node '%s/tests/bench/bench_send.js' '%s/.build/npm' %d %s", RIGCALL_SOURCE_DIR,
             RIGCALL_SOURCE_DIR, frames, way == GROUPS ? "" : THEIRS);
    FILE *node = popen(command, "r");
    if (!node || fscanf(node, "%lf", &result) != 1 || pclose(node) != 0) {
        fprintf(stderr, "bench_send: node or npm sacn is missing: npm install --prefix .build/npm sacn@4.6.2\n");
        exit(1);
    }
    return result;
}

/* ---- side by side ---- */

static int by_value(const void *a, const void *b)
{
    const double *left = a, *right = b;
    return (*left > *right) - (*left < *right);
}

static double median(double *values, int count)
{
    qsort(values, (size_t)count, sizeof *values, by_value);
    return values[count / 2];
}

enum sender { BARE, OWN, NODE, SENDERS };
static double (*const measure[SENDERS])(enum way way, int frames) = { bare_round, sender_round, node_round };
static const char *const way_names[WAYS] = { "multicast", "one host", "one host, cut by the card" };

static void set_way(enum way way)
{
    if (!device_feature("oa", "tx-udp-segmentation", way == HOST_BY_CARD))
        die("tx-udp-segmentation");
}

int main(int argc, char **argv)
{
    static double costs[WAYS][SENDERS][ROUND_LIMIT];
    double medians[WAYS][SENDERS];
    int rounds = argc > 1 ? atoi(argv[1]) : 5, frames = argc > 2 ? atoi(argv[2]) : 400;
    struct sacn_source source;
    if (rounds < 1 || rounds > ROUND_LIMIT || frames < NODE_SHARE) {
        fprintf(stderr, "usage: %s [rounds 1..%d] [frames from %d]\n", argv[0], ROUND_LIMIT, NODE_SHARE);
        return 2;
    }
    /* npm sacn can be told an interface only with a port of its own for each universe; the route does as well. */
    if (!cables_make() || !cables_lay("a", 1) || !cables_run("ip route add 239.255.0.0/16 dev oa"))
        return 1;
    open_sink();
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "bench");
    for (int i = 0; i < UNIVERSES; i++)
        sacn_data_init(packets[i], &source, (uint16_t)(i + 1), 100);
    printf("%d rounds of %d frames of %d universes (npm sacn: %d frames); CPU ns a packet\n", rounds, frames, UNIVERSES,
           frames / NODE_SHARE);
    for (int round = 0; round < rounds; round++)
        for (int way = 0; way < WAYS; way++) {
            set_way((enum way)way);
            for (int sender = 0; sender < SENDERS; sender++)
                costs[way][sender][round] = measure[sender]((enum way)way, sender == NODE ? frames / NODE_SHARE : frames);
            printf("round %d, %s: bare sendmmsg %.0f, sacn_sender %.0f, npm sacn %.0f\n", round + 1, way_names[way],
                   costs[way][BARE][round], costs[way][OWN][round], costs[way][NODE][round]);
            fflush(stdout);
        }
    for (int way = 0; way < WAYS; way++) {
        for (int sender = 0; sender < SENDERS; sender++)
            medians[way][sender] = median(costs[way][sender], rounds);
        printf("median, %s: bare sendmmsg %.0f, sacn_sender %.0f, npm sacn %.0f\n", way_names[way], medians[way][BARE],
               medians[way][OWN], medians[way][NODE]);
    }
    printf("multicast: sacn_sender / bare sendmmsg %.2f (aim: at most 1.15)\n", medians[GROUPS][OWN] / medians[GROUPS][BARE]);
    printf("one host, offload: sacn_sender / bare sendmmsg %.2f (aim: at most 0.7); with a card that cuts %.2f\n",
           medians[HOST][OWN] / medians[HOST][BARE], medians[HOST_BY_CARD][OWN] / medians[HOST_BY_CARD][BARE]);
    printf("npm sacn / sacn_sender: multicast %.1f, one host %.1f (aim: at least 20)\n", medians[GROUPS][NODE] / medians[GROUPS][OWN],
           medians[HOST][NODE] / medians[HOST][OWN]);
    return 0;
}
