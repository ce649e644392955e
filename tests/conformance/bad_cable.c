/* A bad cable between two network interfaces: it carries every frame both ways, and of the E1.31 data packets from the first to the
 * second it loses some, doubles some, and holds some back until one to three later ones of the same universe have passed. What it
 * did is exactly known, which a queueing discipline of the kernel does not tell, and it works where the kernel has none.
 * usage: bad_cable FROM TO PERCENT SEED      (of each fault)
 * SIGUSR1: no more faults from now on, what is held back goes out. Its standard input's end: print the counts as JSON, and end. */
#include <arpa/inet.h>
#include <errno.h>
#include <linux/if_packet.h>
#include <net/ethernet.h>
#include <net/if.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Offsets in an Ethernet frame with IPv4 without options and UDP: 14 + 20 + 8 octets of headers; E1.31 Table 4-1 from there. */
enum { AT_PROTOCOL = 23, AT_PORT = 36, AT_PAYLOAD = 42, AT_ROOT_VECTOR = AT_PAYLOAD + 18, AT_UNIVERSE = AT_PAYLOAD + 113 };
enum { PORT = 5568, ROOT_VECTOR_DATA = 4, FRAME = 2048, HELD = 1024, UNIVERSES = 65536 };

struct held { bool used, overtaken; uint16_t universe; int passes; size_t length; uint8_t bytes[FRAME]; };

static struct held held[HELD];
static bool begun[UNIVERSES], holding[UNIVERSES];
static unsigned long lost, doubled, delayed, carried;
static uint64_t random_state;
static volatile sig_atomic_t healthy;

static void on_user(int number)
{
    (void)number;
    healthy = 1;
}

/* xorshift64: the same faults for the same seed. @return 0..9999 */
static unsigned draw(void)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return (unsigned)(random_state % 10000);
}

static int open_interface(const char *name)
{
    struct sockaddr_ll address = { .sll_family = AF_PACKET, .sll_protocol = htons(ETH_P_ALL), .sll_ifindex = (int)if_nametoindex(name) };
    struct packet_mreq all = { .mr_ifindex = address.sll_ifindex, .mr_type = PACKET_MR_PROMISC };
    int fd = socket(AF_PACKET, SOCK_RAW | SOCK_NONBLOCK, htons(ETH_P_ALL)), buffer = 64 << 20;
    if (fd < 0 || bind(fd, (struct sockaddr *)&address, sizeof address) || setsockopt(fd, SOL_PACKET, PACKET_ADD_MEMBERSHIP, &all, sizeof all)) {
        perror(name);
        exit(1);
    }
    setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &buffer, sizeof buffer);
    return fd;
}

static void send_frame(int fd, const uint8_t *bytes, size_t length)
{
    struct pollfd wait = { .fd = fd, .events = POLLOUT };
    while (send(fd, bytes, length, 0) < 0 && (errno == EAGAIN || errno == ENOBUFS || errno == EINTR))
        poll(&wait, 1, 10);
}

static bool is_data(const uint8_t *bytes, size_t length)
{
    return length > AT_UNIVERSE + 2 && bytes[AT_PROTOCOL] == IPPROTO_UDP && (bytes[AT_PORT] << 8 | bytes[AT_PORT + 1]) == PORT &&
           bytes[AT_ROOT_VECTOR + 3] == ROOT_VECTOR_DATA;
}

static void let_go(int to, struct held *h)
{
    send_frame(to, h->bytes, h->length);
    h->used = holding[h->universe] = false;
    delayed += h->overtaken;                     /* else it was in order all the same */
}

/* A packet of the universe has passed. */
static void pass(int to, uint16_t universe)
{
    for (struct held *h = held; h < held + HELD && holding[universe]; h++)
        if (h->used && h->universe == universe) {
            h->overtaken = true;
            if (--h->passes == 0)
                let_go(to, h);
        }
}

static void let_all_go(int to)
{
    for (struct held *h = held; h < held + HELD; h++)
        if (h->used)
            let_go(to, h);
}

static bool hold(uint16_t universe, const uint8_t *bytes, size_t length)
{
    for (struct held *h = held; h < held + HELD; h++)
        if (!h->used) {
            *h = (struct held){ .used = true, .universe = universe, .passes = 1 + (int)(draw() % 3), .length = length };
            memcpy(h->bytes, bytes, length);
            return holding[universe] = true;
        }
    return false;
}

/* At most one fault a packet, and one held back a universe at a time: so each is counted once at the other end. The first packet of
 * a universe passes, because before it a receiver cannot know what it missed. */
static void carry(int to, const uint8_t *bytes, size_t length, unsigned share)
{
    if (!is_data(bytes, length)) {
        send_frame(to, bytes, length);
        return;
    }
    uint16_t universe = (uint16_t)(bytes[AT_UNIVERSE] << 8 | bytes[AT_UNIVERSE + 1]);
    unsigned chance = draw();
    carried++;
    if (!healthy && begun[universe] && chance < share) {
        lost++;
        return;
    }
    if (!healthy && begun[universe] && chance < 2 * share && !holding[universe] && hold(universe, bytes, length))
        return;
    begun[universe] = true;
    send_frame(to, bytes, length);
    if (!healthy && chance >= 2 * share && chance < 3 * share) {
        doubled++;
        send_frame(to, bytes, length);
    }
    pass(to, universe);
}

/* Frames that this socket sent itself come back marked as outgoing. */
static void take(int from, int to, bool faults, unsigned share)
{
    uint8_t bytes[FRAME];
    struct sockaddr_ll address;
    socklen_t size = sizeof address;
    ssize_t length;
    while ((length = recvfrom(from, bytes, sizeof bytes, 0, (struct sockaddr *)&address, &size)) >= 0) {
        if (address.sll_pkttype == PACKET_OUTGOING)
            continue;
        if (faults)
            carry(to, bytes, (size_t)length, share);
        else
            send_frame(to, bytes, (size_t)length);
    }
}

int main(int count, char **words)
{
    if (count != 5)
        return 2;
    int from = open_interface(words[1]), to = open_interface(words[2]);
    unsigned share = (unsigned)(atof(words[3]) * 100);
    bool flushed = false;
    random_state = strtoull(words[4], NULL, 10) * 0x9e3779b97f4a7c15u + 1;
    signal(SIGUSR1, on_user);
    puts("ready");
    fflush(stdout);
    struct pollfd watched[3] = { { from, POLLIN, 0 }, { to, POLLIN, 0 }, { STDIN_FILENO, POLLIN, 0 } };
    while (!(watched[2].revents & (POLLIN | POLLHUP))) {
        poll(watched, 3, 100);
        take(from, to, true, share);
        take(to, from, false, 0);
        if (healthy && !flushed) {
            let_all_go(to);
            flushed = true;
        }
    }
    struct tpacket_stats own = { 0 };
    socklen_t size = sizeof own;
    getsockopt(from, SOL_PACKET, PACKET_STATISTICS, &own, &size);
    printf("{\"carried\":%lu,\"lost\":%lu,\"doubled\":%lu,\"delayed\":%lu,\"overrun\":%u}\n", carried, lost, doubled, delayed, own.tp_drops);
    return 0;
}
