/* What a packet costs to receive, in CPU time of the receiving process, and whether any is lost: 512 universes, sent by another
 * process at a steady 200,000 packets a second, by multicast and to one address, over loopback in a network namespace of its own.
 * In the same run npm sacn's receiver, at a rate it can follow, and this receiver at that rate.
 *   bench_receive [rounds] [seconds]     (5 rounds of 2 seconds unless said otherwise) */
#include <arpa/inet.h>
#include <errno.h>
#include <poll.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>

#include "../sacn/netspace.h"
#include "rigcall/sacn_receive.h"

enum { UNIVERSES = 512, BATCH = 64, READ_LIMIT = 1024, ROUND_LIMIT = 101, WANTED_BUFFER = 4 << 20 };
enum { FULL_RATE = 200000, NODE_RATE = 8000, NODE_SECONDS = 3 };

struct run { bool multicast; long rate; double seconds; struct sacn_table *table; };
struct result { double cpu_ns; long sent, received; uint64_t dropped, missing; double rate, late_ms; };

/* What the sending process tells. */
static struct shared { atomic_bool done; atomic_long sent; double rate, late_ms; } *shared;

static void die(const char *what)
{
    fprintf(stderr, "bench_receive: %s: %s\n", what, strerror(errno));
    exit(1);
}

static double clock_of(clockid_t id)
{
    struct timespec now;
    clock_gettime(id, &now);
    return (double)now.tv_sec * 1e9 + (double)now.tv_nsec;
}

/* ---- the sending process ---- */

static int open_sender(const struct run *run, struct mmsghdr *messages, struct iovec *parts, union sacn_address *to)
{
    static uint8_t packets[UNIVERSES][SACN_DATA_SIZE];
    const struct ip_mreqn loopback = { .imr_ifindex = 1 };
    struct sacn_source source;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &loopback, sizeof loopback) != 0)
        die("socket");
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "bench");
    for (uint16_t i = 0; i < UNIVERSES; i++) {
        sacn_data_init(packets[i], &source, (uint16_t)(i + 1), 100);
        sacn_group_address((uint16_t)(i + 1), false, SACN_PORT, &to[i]);
        if (!run->multicast)
            to[i].v4.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        parts[i] = (struct iovec){ packets[i], SACN_DATA_SIZE };
        messages[i].msg_hdr = (struct msghdr){ .msg_name = &to[i], .msg_namelen = sizeof to[i].v4, .msg_iov = &parts[i],
                                               .msg_iovlen = 1 };
    }
    return fd;
}

/* Batches at absolute deadlines; what was held up is caught up with. */
static void send_paced(const struct run *run)
{
    static struct mmsghdr messages[UNIVERSES];
    static struct iovec parts[UNIVERSES];
    static union sacn_address to[UNIVERSES];
    long total = (long)((double)run->rate * run->seconds) / UNIVERSES * UNIVERSES;
    int fd = open_sender(run, messages, parts, to);
    double start = clock_of(CLOCK_MONOTONIC) + 1e6, worst = 0;
    for (long sent = 0; sent < total; sent += BATCH) {
        int64_t due = (int64_t)(start + (double)sent * 1e9 / (double)run->rate);
        const struct timespec until = { due / 1000000000, due % 1000000000 };
        clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
        double late = clock_of(CLOCK_MONOTONIC) - (double)due;
        worst = late > worst ? late : worst;
        struct mmsghdr *batch = messages + sent % UNIVERSES;
        for (long i = 0; i < BATCH; i++)
            sacn_data_set_sequence(parts[sent % UNIVERSES + i].iov_base, (uint8_t)(sent / UNIVERSES));
        for (unsigned done = 0; done < BATCH;) {
            int taken = sendmmsg(fd, batch + done, BATCH - done, 0);
            if (taken < 0)
                die("sendmmsg");
            done += (unsigned)taken;
        }
        shared->sent = sent + BATCH;
    }
    shared->late_ms = worst / 1e6;
    shared->rate = (double)total / (clock_of(CLOCK_MONOTONIC) - start) * 1e9;
    shared->done = true;
    _exit(0);
}

static pid_t start_sender(const struct run *run)
{
    shared->done = false;
    shared->sent = 0;
    pid_t child = fork();
    if (child < 0)
        die("fork");
    if (child == 0)
        send_paced(run);
    return child;
}

/* ---- this receiver ---- */

struct taken { struct sacn_table *table; long count; };

static void take(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    struct taken *taken = context;
    taken->count++;
    if (taken->table)
        sacn_table_take(taken->table, now_ns, datagram, length, from);
}

static struct sacn_receiver *open_receiver(void)
{
    const struct sacn_receiver_options options = { .interfaces = { "lo" }, .interface_count = 1, .buffer = WANTED_BUFFER };
    static bool told;
    struct sacn_receiver *receiver;
    struct rig_why why;
    char warning[1024];
    uint16_t universes[UNIVERSES];
    for (uint16_t i = 0; i < UNIVERSES; i++)
        universes[i] = (uint16_t)(i + 1);
    if (sacn_receiver_open(&options, universes, UNIVERSES, &receiver, &why) != 0) {
        fprintf(stderr, "bench_receive: %s\n", why.text);
        exit(1);
    }
    if (!told && sacn_receiver_warning(receiver, warning, sizeof warning) > 0)
        printf("%s\n", warning);
    told = true;
    return receiver;
}

static uint64_t missing_of(struct sacn_table *table)
{
    uint64_t missing = 0;
    for (uint16_t i = 1; i <= UNIVERSES; i++) {
        struct sacn_heard heard;
        if (!sacn_table_universe(table, i, &heard))
            continue;
        for (uint32_t k = 0; k < heard.source_count; k++)
            missing += heard.sources[k]->missing + heard.sources[k]->late + heard.sources[k]->repeated;
    }
    return missing;
}

static struct result receive(const struct run *run)
{
    struct sacn_receiver *receiver = open_receiver();
    struct pollfd item = { .fd = sacn_receiver_fd(receiver), .events = POLLIN };
    struct taken taken = { run->table, 0 };
    struct sacn_receiver_state state;
    struct rig_why why;
    pid_t sender = start_sender(run);
    double before = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    while (poll(&item, 1, 20) > 0 || !shared->done)
        if (sacn_receiver_read(receiver, READ_LIMIT, take, &taken, &why) < 0) {
            fprintf(stderr, "bench_receive: %s\n", why.text);
            exit(1);
        }
    double used = clock_of(CLOCK_PROCESS_CPUTIME_ID) - before;
    waitpid(sender, NULL, 0);
    sacn_receiver_state(receiver, &state);
    sacn_receiver_close(receiver);
    return (struct result){ .cpu_ns = used / (double)taken.count, .sent = shared->sent, .received = taken.count,
                            .dropped = state.dropped, .missing = run->table ? missing_of(run->table) : 0,
                            .rate = shared->rate, .late_ms = shared->late_ms };
}

static struct result receive_with_table(struct run run)
{
    struct rig_why why;
    if (sacn_table_new(NULL, &run.table, &why) != 0) {
        fprintf(stderr, "bench_receive: %s\n", why.text);
        exit(1);
    }
    struct result result = receive(&run);
    sacn_table_free(run.table);
    return result;
}

/* ---- npm sacn ---- */

static struct result receive_by_node(void)
{
    const struct run run = { .multicast = true, .rate = NODE_RATE, .seconds = NODE_SECONDS };
    char command[1024];
    struct result result = { .cpu_ns = 0 };
    snprintf(command, sizeof command, "node '%s/tests/bench/bench_receive.js' '%s/.build/npm'", RIGCALL_SOURCE_DIR,
             RIGCALL_SOURCE_DIR);
    FILE *node = popen(command, "r");
    if (!node || fscanf(node, " ready") != 0 || fgetc(node) != '\n') {
        fprintf(stderr, "bench_receive: node or npm sacn is missing: npm install --prefix .build/npm sacn@4.6.2\n");
        exit(1);
    }
    pid_t sender = start_sender(&run);
    if (fscanf(node, "%lf %ld", &result.cpu_ns, &result.received) != 2 || pclose(node) != 0)
        die("node");
    waitpid(sender, NULL, 0);
    result.sent = shared->sent;
    result.rate = shared->rate;
    result.late_ms = shared->late_ms;
    return result;
}

/* ---- rounds ---- */

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

static double tell(const char *what, struct result result)
{
    printf("  %-32s %6.0f ns a packet; %ld sent at %.0f a second, %ld lost (kernel %llu, table %llu), sender held up %.1f ms\n",
           what, result.cpu_ns, result.sent, result.rate, result.sent - result.received, (unsigned long long)result.dropped,
           (unsigned long long)result.missing, result.late_ms);
    fflush(stdout);
    return result.cpu_ns;
}

/* npm sacn puts every group on one socket. */
static void raise_memberships(const char *value)
{
    FILE *file = fopen("/proc/sys/net/ipv4/igmp_max_memberships", "w");
    if (!file || fputs(value, file) < 0 || fclose(file) != 0)
        die("igmp_max_memberships");
}

int main(int argc, char **argv)
{
    enum { SOCKETS, MULTICAST, UNICAST, SLOW, NODE, KINDS };
    static const char *const names[KINDS] = { "multicast, sockets alone", "multicast, with the table", "to one address, with the table",
                                              "multicast at npm's rate, table", "npm sacn" };
    static double cost[KINDS][ROUND_LIMIT];
    int rounds = argc > 1 ? atoi(argv[1]) : 5;
    double seconds = argc > 2 ? atof(argv[2]) : 2;
    if (rounds < 1 || rounds > ROUND_LIMIT || !(seconds > 0.1 && seconds <= 600)) {
        fprintf(stderr, "usage: %s [rounds 1..%d] [seconds 0.1..600]\n", argv[0], ROUND_LIMIT);
        return 2;
    }
    const struct run full = { .multicast = true, .rate = FULL_RATE, .seconds = seconds };
    const struct run unicast = { .rate = FULL_RATE, .seconds = seconds };
    const struct run slow = { .multicast = true, .rate = NODE_RATE, .seconds = NODE_SECONDS };
    shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED || !netspace_enter() || !netspace_loopback(true))
        die("a network namespace");
    printf("%d universes, %d packets a second for %g s; npm sacn %d a second; CPU of the receiving process\n", UNIVERSES, FULL_RATE,
           seconds, NODE_RATE);
    for (int i = 0; i < rounds; i++) {
        printf("round %d\n", i + 1);
        cost[SOCKETS][i] = tell(names[SOCKETS], receive(&full));
        cost[MULTICAST][i] = tell(names[MULTICAST], receive_with_table(full));
        cost[UNICAST][i] = tell(names[UNICAST], receive_with_table(unicast));
        cost[SLOW][i] = tell(names[SLOW], receive_with_table(slow));
        raise_memberships("600");
        cost[NODE][i] = tell(names[NODE], receive_by_node());
        raise_memberships("20");
    }
    printf("medians\n");
    for (int i = 0; i < KINDS; i++)
        printf("  %-34s %6.0f ns a packet\n", names[i], median(cost[i], rounds));
    printf("npm sacn / multicast with the table: %.1f (aim: at least 15); at npm's rate %.1f\n",
           cost[NODE][rounds / 2] / cost[MULTICAST][rounds / 2], cost[NODE][rounds / 2] / cost[SLOW][rounds / 2]);
    return 0;
}
