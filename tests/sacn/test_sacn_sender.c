/* The sender, on loopback only: what it sends is received as built, one datagram that cannot go does not hold up the rest. */
#include <arpa/inet.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include <cmocka.h>

#include "rigcall/sacn.h"

static uint8_t packets[SACN_BATCH][SACN_DATA_SIZE];
static struct sacn_datagram datagrams[SACN_BATCH];

static void build_packets(void)
{
    struct sacn_source source;
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "test");
    for (uint16_t i = 0; i < SACN_BATCH; i++) {
        sacn_data_init(packets[i], &source, (uint16_t)(i + 1), 100);
        memset(packets[i] + SACN_SLOT_OFFSET, i, SACN_SLOTS);
        datagrams[i] = (struct sacn_datagram){ .bytes = packets[i], .length = SACN_DATA_SIZE, .universe = (uint16_t)(i + 1) };
    }
}

static int open_receiver(const char *address, uint16_t *port)
{
    struct sockaddr_in here = { .sin_family = AF_INET };
    socklen_t size = sizeof here;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    inet_pton(AF_INET, address, &here.sin_addr);
    assert_int_equal(bind(fd, (struct sockaddr *)&here, sizeof here), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&here, &size), 0);
    *port = ntohs(here.sin_port);
    return fd;
}

static void receive(int fd, const uint8_t *expected, struct sockaddr_in *from)
{
    uint8_t octets[SACN_DATA_SIZE + 1];
    socklen_t size = sizeof *from;
    struct pollfd ready = { .fd = fd, .events = POLLIN };
    assert_int_equal(poll(&ready, 1, -1), 1);
    assert_int_equal(recvfrom(fd, octets, sizeof octets, 0, (struct sockaddr *)from, &size), SACN_DATA_SIZE);
    assert_memory_equal(octets, expected, SACN_DATA_SIZE);
}

static void a_batch_arrives_as_built(void **state)
{
    (void)state;
    struct sacn_sender *sender;
    struct sockaddr_in from, said_from, said_to;
    uint16_t port;
    int fd = open_receiver("127.0.0.1", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
    build_packets();
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), SACN_BATCH);
    sacn_sender_addresses(sender, 1, &said_from, &said_to);
    for (int i = 0; i < SACN_BATCH; i++) {
        receive(fd, packets[i], &from);
        assert_int_equal(from.sin_port, said_from.sin_port);
        assert_int_equal(from.sin_addr.s_addr, said_from.sin_addr.s_addr);
    }
    assert_int_equal(said_to.sin_addr.s_addr, htonl(INADDR_LOOPBACK));
    assert_int_equal(ntohs(said_to.sin_port), port);
    assert_int_equal(sacn_sender_lost(sender), 0);
    sacn_sender_close(sender);
    close(fd);
}

static void a_datagram_goes_to_its_own_address(void **state)
{
    (void)state;
    struct sacn_sender *sender;
    struct sockaddr_in from;
    uint16_t port;
    int fd = open_receiver("127.0.0.2", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
    build_packets();
    inet_pton(AF_INET, "127.0.0.2", &datagrams[1].address);
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, 3, NULL), 3);
    receive(fd, packets[1], &from);
    sacn_sender_close(sender);
    close(fd);
}

/* An octet more than UDP over IPv4 can carry (65507) is refused by the kernel. */
static void a_refused_datagram_is_counted_and_passed_over(void **state)
{
    (void)state;
    static const uint8_t large[65508];
    struct sacn_sender *sender;
    struct sockaddr_in from;
    uint16_t port;
    int fd = open_receiver("127.0.0.1", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
    build_packets();
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    datagrams[0].bytes = datagrams[2].bytes = datagrams[3].bytes = large;
    datagrams[0].length = datagrams[2].length = datagrams[3].length = sizeof large;
    assert_int_equal(sacn_sender_send(sender, datagrams, 5, NULL), 2);
    assert_int_equal(sacn_sender_lost(sender), 3);
    receive(fd, packets[1], &from);
    receive(fd, packets[4], &from);
    datagrams[0].length = 0;          /* an empty batch and an empty datagram are fine */
    assert_int_equal(sacn_sender_send(sender, datagrams, 0, NULL), 0);
    sacn_sender_close(sender);
    close(fd);
}

static void wrong_targets_are_named(void **state)
{
    (void)state;
    static const struct { struct sacn_target target; const char *text; } cases[] = {
        { { .to = "10.0.0" }, "'10.0.0' is not an IPv4 address to send to" },
        { { .to = "0.0.0.0" }, "'0.0.0.0' is not an IPv4 address to send to" },
        { { .to = "host\x1b[0m" }, "'host?[0m' is not an IPv4 address to send to" },
        { { .interface = "no-such-if" }, "there is no interface 'no-such-if'" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct sacn_sender *sender;
        struct rig_why why;
        assert_int_equal(sacn_sender_open(&cases[i].target, &sender, &why), RIG_ENET);
        assert_null(sender);
        assert_string_equal(why.text, cases[i].text);
    }
    sacn_sender_close(NULL);
}

static void multicast_goes_to_the_group_of_the_universe(void **state)
{
    (void)state;
    struct sacn_sender *sender;
    struct sockaddr_in from, to;
    const struct sacn_target target = { .interface = "lo" };
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    sacn_sender_addresses(sender, 513, &from, &to);
    assert_int_equal(to.sin_addr.s_addr, inet_addr("239.255.2.1"));        /* E1.31 9.3.1 */
    assert_int_equal(ntohs(to.sin_port), 5568);
    assert_int_equal(from.sin_addr.s_addr, htonl(INADDR_LOOPBACK));
    sacn_sender_close(sender);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_batch_arrives_as_built),
        cmocka_unit_test(a_datagram_goes_to_its_own_address),
        cmocka_unit_test(a_refused_datagram_is_counted_and_passed_over),
        cmocka_unit_test(wrong_targets_are_named),
        cmocka_unit_test(multicast_goes_to_the_group_of_the_universe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
