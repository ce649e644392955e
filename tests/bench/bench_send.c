/* What a packet costs to send, in CPU time: this project's sender against a bare sendmmsg loop and against npm sacn's sender, all
 * in one run, interleaved, to one loopback port. 512 universes, all of which change in every frame; nothing waits between frames.
 *   bench_send [rounds] [frames]     (5 rounds of 400 frames unless said otherwise) */
#include <arpa/inet.h>
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "rigcall/sacn.h"

enum { UNIVERSES = 512, BARE_BATCH = 128, ROUND_LIMIT = 101, NODE_SHARE = 10 };

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

/* Where all packets go: a bound port that nobody reads, so that no ICMP error is made and every sender meets the same. */
static int open_sink(struct sockaddr_in *address)
{
    socklen_t size = sizeof *address;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0), buffer = 4096;
    *address = (struct sockaddr_in){ .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer) != 0 ||
        bind(fd, (struct sockaddr *)address, sizeof *address) != 0 || getsockname(fd, (struct sockaddr *)address, &size) != 0)
        die("sink");
    return fd;
}

static void send_bare(int fd, struct mmsghdr *messages)
{
    for (int at = 0; at < UNIVERSES; at += BARE_BATCH)
        for (int done = 0; done < BARE_BATCH;) {
            int taken = sendmmsg(fd, messages + at + done, (unsigned)(BARE_BATCH - done), 0);
            if (taken < 0)
                die("sendmmsg");
            done += taken;
        }
}

static double bare_round(const struct sockaddr_in *to, int frames)
{
    static struct mmsghdr messages[UNIVERSES];
    static struct iovec parts[UNIVERSES];
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        die("socket");
    for (int i = 0; i < UNIVERSES; i++) {
        parts[i] = (struct iovec){ packets[i], SACN_DATA_SIZE };
        messages[i].msg_hdr.msg_name = (void *)(uintptr_t)to;
        messages[i].msg_hdr.msg_namelen = sizeof *to;
        messages[i].msg_hdr.msg_iov = &parts[i];
        messages[i].msg_hdr.msg_iovlen = 1;
    }
    send_bare(fd, messages);
    double before = cpu_ns();
    for (int frame = 0; frame < frames; frame++)
        send_bare(fd, messages);
    double used = cpu_ns() - before;
    close(fd);
    return used / frames / UNIVERSES;
}

/* What the engine does in a frame in which every universe changed: sequence and 512 slots into the packet, batches out. */
static void send_frame(struct sacn_sender *sender, uint8_t sequence)
{
    struct sacn_datagram batch[SACN_BATCH];
    struct rig_why why;
    size_t filled = 0;
    for (int i = 0; i < UNIVERSES; i++) {
        levels[i][sequence]++;
        sacn_data_set_sequence(packets[i], sequence);
        memcpy(packets[i] + SACN_SLOT_OFFSET, levels[i], SACN_SLOTS);
        batch[filled++] = (struct sacn_datagram){ .bytes = packets[i], .length = SACN_DATA_SIZE, .universe = (uint16_t)(i + 1) };
        if (filled < SACN_BATCH && i + 1 < UNIVERSES)
            continue;
        if (sacn_sender_send(sender, batch, filled, &why) != (int)filled) {
            fprintf(stderr, "bench_send: packets were lost\n");
            exit(1);
        }
        filled = 0;
    }
}

static double sender_round(uint16_t port, int frames)
{
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
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

static double node_round(uint16_t port, int frames)
{
    char command[1024];
    double result = 0;
    snprintf(command, sizeof command, "node '%s/tests/bench/bench_send.js' '%s/.build/npm' %u %d", RIGCALL_SOURCE_DIR,
             RIGCALL_SOURCE_DIR, port, frames);
    FILE *node = popen(command, "r");
    if (!node || fscanf(node, "%lf", &result) != 1 || pclose(node) != 0) {
        fprintf(stderr, "bench_send: node or npm sacn is missing: npm install --prefix .build/npm sacn@4.6.2\n");
        exit(1);
    }
    return result;
}

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

int main(int argc, char **argv)
{
    double bare[ROUND_LIMIT], ours[ROUND_LIMIT], node[ROUND_LIMIT];
    int rounds = argc > 1 ? atoi(argv[1]) : 5, frames = argc > 2 ? atoi(argv[2]) : 400;
    struct sockaddr_in sink;
    struct sacn_source source;
    if (rounds < 1 || rounds > ROUND_LIMIT || frames < NODE_SHARE) {
        fprintf(stderr, "usage: %s [rounds 1..%d] [frames from %d]\n", argv[0], ROUND_LIMIT, NODE_SHARE);
        return 2;
    }
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "bench");
    for (int i = 0; i < UNIVERSES; i++)
        sacn_data_init(packets[i], &source, (uint16_t)(i + 1), 100);
    int fd = open_sink(&sink);
    printf("%d rounds of %d frames of %d universes (npm sacn: %d frames); CPU ns a packet\n", rounds, frames, UNIVERSES,
           frames / NODE_SHARE);
    for (int i = 0; i < rounds; i++) {
        bare[i] = bare_round(&sink, frames);
        ours[i] = sender_round(ntohs(sink.sin_port), frames);
        node[i] = node_round(ntohs(sink.sin_port), frames / NODE_SHARE);
        printf("round %d: bare sendmmsg %.0f, sacn_sender %.0f, npm sacn %.0f\n", i + 1, bare[i], ours[i], node[i]);
        fflush(stdout);
    }
    double bare_median = median(bare, rounds), ours_median = median(ours, rounds), node_median = median(node, rounds);
    printf("median: bare sendmmsg %.0f, sacn_sender %.0f, npm sacn %.0f\n", bare_median, ours_median, node_median);
    printf("sacn_sender / bare sendmmsg: %.2f (aim: at most 1.5)\n", ours_median / bare_median);
    printf("npm sacn / sacn_sender: %.1f (aim: at least 15)\n", node_median / ours_median);
    close(fd);
    return 0;
}
