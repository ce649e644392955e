/* How evenly frames leave: `rigcall run --live` over 512 and 2,048 universes at 44 Hz that all change in every frame, beside a bare
 * loop of absolute timerfd deadlines that sends as many packets in as many batches at the same places in the frame. Both go to one
 * socket of this program on 127.0.0.1, which stamps every packet; in turns, round by round. Reported for each: of all intervals
 * between two packets of one universe, |interval - 22.727 ms|; packets sent of those due; sub-ticks more than 1 ms late.
 *   bench_pace [quiet|all] [rounds] [seconds] [seconds between new fades; 0: one fade for all the time]
 * all: also beside two busy processes, both senders with and without SCHED_FIFO, and compared with `quiet` of the same run. */
#include "pace_receive.h"

#include <sys/timerfd.h>

#define FIRST_PART 0.5               /* of a frame, as the engine's */
#define PRIORITY 5
#define ROUND_LIMIT 25
#define TRIES 5
#define SEQUENCE RIGCALL_SOURCE_DIR "/tests/bench/every-frame.lua"

enum { LOOP, LOOP_RT, ENGINE, ENGINE_RT, SENDERS };
static const char *const names[SENDERS] = { "bare loop", "bare loop, real-time", "rigcall run", "rigcall run --realtime" };
static const uint32_t sizes[] = { 512, 2048 };
enum { SIZES = sizeof sizes / sizeof sizes[0] };

static int rounds = 5, seconds = 8;
static const char *step = "0";

/* ---- the show ---- */

static void write_show(const char *path, uint32_t universes)
{
    FILE *file = fopen(path, "w");
    if (!file)
        die(path);
    fprintf(file, "return {\n  rigcall = 1, name = \"Bench %u\",\n  sites = { { id = \"quay\" } },\n  types = { { id = \"bar\", "
            "modes = { { id = \"cells\", head = { \"pan\", \"pan+fine\" }, cells = 31, slots = { \"intensity\", \"red\", "
            "\"green\", \"blue\" }, tail = {} } } } },\n  universes = {\n", universes);
    for (uint32_t u = 1; u <= universes; u++)
        fprintf(file, "    { id = %u, label = \"U%u\" },\n", u, u);
    fprintf(file, "  },\n  fixtures = {\n");
    for (uint32_t f = 0; f < universes * 4; f++)
        fprintf(file, "    { id = %u, type = \"bar\", mode = \"cells\", site = \"quay\", universe = %u, address = %u },\n", f + 1,
                f / 4 + 1, f % 4 * 128 + 1);
    fprintf(file, "  },\n}\n");
    if (fclose(file))
        die(path);
}

/* ---- the bare loop ---- */

static void wait_until(int timer, uint64_t at_ns)
{
    struct itimerspec time = { .it_value = { (time_t)(at_ns / 1000000000), (long)(at_ns % 1000000000) } };
    uint64_t expirations;
    if (timerfd_settime(timer, TFD_TIMER_ABSTIME, &time, NULL) ||
        read(timer, &expirations, sizeof expirations) != (ssize_t)sizeof expirations)
        die("timerfd");
}

static void send_batch(int fd, struct mmsghdr *messages, unsigned count)
{
    for (unsigned done = 0; done < count;) {
        int taken = sendmmsg(fd, messages + done, count - done, 0);
        if (taken < 0)
            die("sendmmsg");
        done += (unsigned)taken;
    }
}

static void bare_loop(uint16_t port, uint32_t universes)
{
    static uint8_t packets[UNIVERSES_MOST][SACN_DATA_SIZE];
    static struct mmsghdr messages[UNIVERSES_MOST];
    static struct iovec parts[UNIVERSES_MOST];
    struct sockaddr_in to = { .sin_family = AF_INET, .sin_port = htons(port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    struct sacn_source source;
    struct timespec now;
    int fd = socket(AF_INET, SOCK_DGRAM, 0), timer = timerfd_create(CLOCK_MONOTONIC, 0);
    if (fd < 0 || timer < 0)
        die("bare loop");
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "bench");
    for (uint32_t u = 0; u < universes; u++) {
        sacn_data_init(packets[u], &source, (uint16_t)(u + 1), 100);
        parts[u] = (struct iovec){ packets[u], SACN_DATA_SIZE };
        messages[u].msg_hdr = (struct msghdr){ .msg_name = &to, .msg_namelen = sizeof to, .msg_iov = &parts[u], .msg_iovlen = 1 };
    }
    clock_gettime(CLOCK_MONOTONIC, &now);
    double start_ns = (double)now.tv_sec * 1e9 + (double)now.tv_nsec + FRAME_NS;
    uint32_t batches = universes / SACN_BATCH, frames = (uint32_t)(seconds * RATE) + 2 * SETTLE_FRAMES;
    for (uint32_t k = 0; k < frames; k++)
        for (uint32_t b = 0; b < batches; b++) {
            wait_until(timer, (uint64_t)(start_ns + FRAME_NS * (k + FIRST_PART * b / batches)));
            for (uint32_t u = b * SACN_BATCH; u < (b + 1) * SACN_BATCH; u++)
                sacn_data_set_sequence(packets[u], (uint8_t)k);
            send_batch(fd, messages + b * SACN_BATCH, SACN_BATCH);
        }
    _exit(0);
}

/* ---- senders ---- */

static pid_t start_loop(uint16_t port, uint32_t universes, bool real_time)
{
    pid_t pid = fork();
    if (pid < 0)
        die("fork");
    if (pid)
        return pid;
    like_anybody();
    const struct sched_param priority = { PRIORITY };
    if (real_time && sched_setscheduler(0, SCHED_FIFO, &priority))
        die("SCHED_FIFO");
    bare_loop(port, universes);
    return 0;
}

static pid_t start_engine(uint16_t port, const char *show, bool real_time)
{
    char to_port[8], set_seconds[32], set_step[32];
    snprintf(to_port, sizeof to_port, "%u", port);
    snprintf(set_seconds, sizeof set_seconds, "seconds=%d", seconds + 2);
    snprintf(set_step, sizeof set_step, "step=%s", step);
    char *const argv[] = { RIGCALL_PROGRAM, "run", (char *)(uintptr_t)show, SEQUENCE,
                           "--live", "--to", "127.0.0.1", "--port", to_port, "--rate", "44", "--answer", "skip", "--set",
                           set_seconds, "--set", set_step, real_time ? "--realtime" : NULL, NULL };
    pid_t pid = fork();
    if (pid < 0)
        die("fork");
    if (pid)
        return pid;
    like_anybody();
    if (!freopen("/dev/null", "w", stdout) || !freopen("/dev/null", "w", stderr))
        _exit(1);
    execv(argv[0], argv);
    _exit(1);
}

static struct pace measure_sender(struct receiver *receiver, int sender, uint32_t universes, const char *show)
{
    for (int attempt = 0; attempt < TRIES; attempt++) {
        pid_t pid = sender <= LOOP_RT ? start_loop(receiver->port, universes, sender == LOOP_RT)
                                      : start_engine(receiver->port, show, sender == ENGINE_RT);
        double cpu_s = receive_until_end(receiver, pid);
        if (receiver->dropped) {
            printf("%u %s: the receiver lost %u packets; once more\n", universes, names[sender], receiver->dropped);
            continue;
        }
        struct pace pace = judge(receiver, universes, (uint32_t)(seconds * RATE));
        pace.cpu_us = cpu_s * 1e6 / (double)pace.due;
        return pace;
    }
    die("this machine is too busy to measure");
    return (struct pace){ 0 };
}

static pid_t start_busy(void)
{
    pid_t pid = fork();
    if (pid < 0)
        die("fork");
    if (pid)
        return pid;
    like_anybody();
    for (volatile uint64_t count = 0;; count++)
        ;
}

/* ---- rounds ---- */

static void tell(const char *title, const char *name, const struct pace *pace)
{
    printf("%-7s %-23s median %8.1f  99 %% %8.1f  99.9 %% %8.1f  most %8.1f us  sent %llu of %llu  late %llu of %llu  %.2f us CPU\n",
           title, name, pace->median, pace->p99, pace->p999, pace->most, (unsigned long long)pace->sent, (unsigned long long)pace->due,
           (unsigned long long)pace->late, (unsigned long long)pace->subticks, pace->cpu_us);
    fflush(stdout);
}

static double median_of(const struct pace *paces, size_t offset)
{
    double values[ROUND_LIMIT];
    for (int i = 0; i < rounds; i++)
        memcpy(&values[i], (const char *)&paces[i] + offset, sizeof values[i]);
    qsort(values, (size_t)rounds, sizeof *values, ascending);
    return values[rounds / 2];
}

/* The medians of the figures of all rounds; counts are added up. */
static struct pace middle(const struct pace *paces)
{
    struct pace all = { .median = median_of(paces, offsetof(struct pace, median)),
                        .p99 = median_of(paces, offsetof(struct pace, p99)),
                        .p999 = median_of(paces, offsetof(struct pace, p999)),
                        .most = median_of(paces, offsetof(struct pace, most)),
                        .cpu_us = median_of(paces, offsetof(struct pace, cpu_us)) };
    for (int i = 0; i < rounds; i++) {
        all.sent += paces[i].sent;
        all.due += paces[i].due;
        all.late += paces[i].late;
        all.subticks += paces[i].subticks;
    }
    return all;
}

static void run_rounds(struct receiver *receiver, bool busy, struct pace out[SIZES][SENDERS])
{
    static struct pace paces[SIZES][SENDERS][ROUND_LIMIT];
    char show[64], title[16];
    for (int round = 0; round < rounds; round++)
        for (int size = 0; size < SIZES; size++)
            for (int sender = 0; sender < SENDERS; sender++) {
                pid_t others[2] = { 0, 0 };
                snprintf(show, sizeof show, "/tmp/bench-pace-%u.show.lua", sizes[size]);
                for (int i = 0; busy && i < 2; i++)
                    others[i] = start_busy();
                paces[size][sender][round] = measure_sender(receiver, sender, sizes[size], show);
                for (int i = 0; busy && i < 2; i++) {
                    kill(others[i], SIGKILL);
                    waitpid(others[i], NULL, 0);
                }
                snprintf(title, sizeof title, "%u", sizes[size]);
                tell(title, names[sender], &paces[size][sender][round]);
            }
    for (int size = 0; size < SIZES; size++)
        for (int sender = 0; sender < SENDERS; sender++)
            out[size][sender] = middle(paces[size][sender]);
}

static void tell_all(const char *when, struct pace all[SIZES][SENDERS])
{
    char title[16];
    printf("\n%s: medians of %d rounds of %d s\n", when, rounds, seconds);
    for (int size = 0; size < SIZES; size++)
        for (int sender = 0; sender < SENDERS; sender++) {
            snprintf(title, sizeof title, "%u", sizes[size]);
            tell(title, names[sender], &all[size][sender]);
        }
}

int main(int argc, char **argv)
{
    static struct pace quiet[SIZES][SENDERS], busy[SIZES][SENDERS];
    struct receiver receiver;
    const char *what = argc > 1 ? argv[1] : "all";
    rounds = argc > 2 ? atoi(argv[2]) : rounds;
    seconds = argc > 3 ? atoi(argv[3]) : seconds;
    step = argc > 4 ? argv[4] : step;
    if (rounds < 1 || rounds > ROUND_LIMIT || seconds < 1 || seconds > 100) {
        fprintf(stderr, "usage: %s [quiet|all] [rounds 1..%d] [seconds 1..100] [seconds between new fades]\n", argv[0],
                ROUND_LIMIT);
        return 2;
    }
    for (int size = 0; size < SIZES; size++) {
        char show[64];
        snprintf(show, sizeof show, "/tmp/bench-pace-%u.show.lua", sizes[size]);
        write_show(show, sizes[size]);
    }
    receiver_open(&receiver);
    run_rounds(&receiver, false, quiet);
    tell_all("nothing beside it", quiet);
    for (int size = 0; size < SIZES; size++)
        printf("%u universes: rigcall / bare loop %.2f at 99.9 %% (aim: at most 1.5)\n", sizes[size],
               quiet[size][ENGINE].p999 / quiet[size][LOOP].p999);
    if (strcmp(what, "all") == 0) {
        run_rounds(&receiver, true, busy);
        tell_all("beside two busy processes", busy);
        for (int size = 0; size < SIZES; size++)
            printf("%u universes: --realtime beside two busy processes / quiet %.2f at 99.9 %% (aim: at most 2)\n", sizes[size],
                   busy[size][ENGINE_RT].p999 / quiet[size][ENGINE].p999);
    }
    receiver_close(&receiver);
    return 0;
}
