/* The sender, on loopback only: what it sends is received as built, one datagram that cannot go does not hold up the rest. */
#include <arpa/inet.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
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
    struct sockaddr_in from;
    struct sacn_path paths[SACN_INTERFACES];
    uint16_t port;
    int fd = open_receiver("127.0.0.1", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port, .dscp = 10 };
    build_packets();
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), SACN_BATCH);
    for (size_t i = 0; i < SACN_BATCH; i++) {
        receive(fd, packets[i], &from);
        assert_int_equal(sacn_sender_paths(sender, i, paths), 1);
        assert_memory_equal(&paths[0].from.v4, &from, sizeof from);
        assert_int_equal(paths[0].to.v4.sin_addr.s_addr, htonl(INADDR_LOOPBACK));
        assert_int_equal(ntohs(paths[0].to.v4.sin_port), port);
        assert_int_equal(paths[0].ttl, 64);
        assert_int_equal(paths[0].dscp, 10);
    }
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
    union sacn_address other;
    build_packets();
    assert_true(sacn_address_parse("127.0.0.2", port, &other));
    datagrams[1].address = &other;
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, 3, NULL), 3);
    receive(fd, packets[1], &from);
    sacn_sender_close(sender);
    close(fd);
}

/* Runs of one length go as one message each (or do not, where the kernel cannot); every datagram arrives as it was, in order. */
static void runs_of_unequal_lengths_arrive_as_built(void **state)
{
    (void)state;
    static const uint16_t lengths[] = { 638, 638, 638, 49, 638, 638, 120, 120, 1, 0, 0, 638, 1144, 1144, 1144, 1143 };
    enum { COUNT = sizeof lengths / sizeof *lengths };
    static uint8_t octets[COUNT][SACN_DISCOVERY_SIZE];
    struct sacn_sender *sender;
    uint16_t port;
    int fd = open_receiver("127.0.0.1", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
    for (size_t i = 0; i < COUNT; i++) {
        memset(octets[i], (int)i + 1, sizeof octets[i]);
        datagrams[i] = (struct sacn_datagram){ .bytes = octets[i], .length = lengths[i], .universe = (uint16_t)(i + 1) };
    }
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT);
    for (size_t i = 0; i < COUNT; i++) {
        uint8_t got[SACN_DISCOVERY_SIZE + 1];
        assert_int_equal(recv(fd, got, sizeof got, MSG_DONTWAIT), lengths[i]);
        assert_memory_equal(got, octets[i], lengths[i]);
    }
    sacn_sender_close(sender);
    close(fd);
}

/* 60 datagrams of 1,144 octets are more than a message can be (65,507), so that they have to go in two. */
static void a_run_longer_than_a_message_arrives_whole(void **state)
{
    (void)state;
    static uint8_t octets[60][SACN_DISCOVERY_SIZE];
    struct sacn_sender *sender;
    uint16_t port;
    int fd = open_receiver("127.0.0.1", &port);
    const struct sacn_target target = { .to = "127.0.0.1", .port = port };
    for (size_t i = 0; i < 60; i++) {
        memset(octets[i], (int)i, sizeof octets[i]);
        datagrams[i] = (struct sacn_datagram){ .bytes = octets[i], .length = SACN_DISCOVERY_SIZE, .universe = 1 };
    }
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, 60, NULL), 60);
    for (size_t i = 0; i < 60; i++) {
        uint8_t got[SACN_DISCOVERY_SIZE + 1];
        assert_int_equal(recv(fd, got, sizeof got, MSG_DONTWAIT), SACN_DISCOVERY_SIZE);
        assert_memory_equal(got, octets[i], SACN_DISCOVERY_SIZE);
    }
    sacn_sender_close(sender);
    close(fd);
}

/* More than have sockets of their own, so that the last of them share one. Each gets its own datagram and no other. */
static void more_hosts_than_sockets_are_all_served(void **state)
{
    (void)state;
    enum { MANY = 300 };
    static union sacn_address hosts[MANY];
    static int fds[MANY];
    struct sacn_sender *sender;
    const struct sacn_target target = { .to = "127.0.0.1" };
    struct sacn_path paths[SACN_INTERFACES];
    build_packets();
    for (size_t i = 0; i < MANY; i++) {
        char text[32];
        uint16_t port;
        snprintf(text, sizeof text, "127.0.%zu.%zu", 1 + i / 200, 1 + i % 200);
        fds[i] = open_receiver(text, &port);
        assert_true(sacn_address_parse(text, port, &hosts[i]));
    }
    assert_int_equal(sacn_sender_open(&target, &sender, NULL), 0);
    for (int round = 0; round < 2; round++)
        for (size_t i = 0; i < MANY; i += 50) {
            for (size_t k = 0; k < 50; k++)
                datagrams[k].address = &hosts[i + k];
            assert_int_equal(sacn_sender_send(sender, datagrams, 50, NULL), 50);
            for (size_t k = 0; k < 50; k++) {
                struct sockaddr_in from;
                receive(fds[i + k], packets[k], &from);
                assert_int_equal(sacn_sender_paths(sender, k, paths), 1);
                assert_memory_equal(&paths[0].from.v4, &from, sizeof from);
                assert_true(sacn_address_equal(&paths[0].to, &hosts[i + k]));
            }
        }
    for (size_t i = 0; i < MANY; i++) {
        uint8_t octet;
        assert_int_equal(recv(fds[i], &octet, 1, MSG_DONTWAIT), -1);
        close(fds[i]);
    }
    sacn_sender_close(sender);
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
        { { .to = "10.0.0" }, "'10.0.0' is not the IPv4 or IPv6 address of a host" },
        { { .to = "0.0.0.0" }, "'0.0.0.0' is not the IPv4 or IPv6 address of a host" },
        { { .to = "239.255.0.1" }, "'239.255.0.1' is not the IPv4 or IPv6 address of a host" },
        { { .to = "ff18::8300:1" }, "'ff18::8300:1' is not the IPv4 or IPv6 address of a host" },
        { { .to = "fe80::1" }, "'fe80::1' needs its zone, as in fe80::1%eth0" },
        { { .to = "host\x1b[0m" }, "'host?[0m' is not the IPv4 or IPv6 address of a host" },
        { { .interfaces = { "no-such-if" }, .interface_count = 1 }, "there is no interface 'no-such-if'" },
        { { .interfaces = { "lo", "no-such-if" }, .interface_count = 2 }, "there is no interface 'no-such-if'" },
        { { .interfaces = { "lo", "lo" }, .interface_count = 2 }, "interface lo is named twice" },
        { { .interfaces = { "no-such-if" }, .interface_count = 1, .to = "127.0.0.1" }, "there is no interface 'no-such-if'" },
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_batch_arrives_as_built),
        cmocka_unit_test(a_datagram_goes_to_its_own_address),
        cmocka_unit_test(runs_of_unequal_lengths_arrive_as_built),
        cmocka_unit_test(a_run_longer_than_a_message_arrives_whole),
        cmocka_unit_test(more_hosts_than_sockets_are_all_served),
        cmocka_unit_test(a_refused_datagram_is_counted_and_passed_over),
        cmocka_unit_test(wrong_targets_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
