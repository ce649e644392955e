/* Looking for other sources, in a network namespace with loopback alone. The rivals send from the look's own stop callback, so
 * that every packet is sent while it listens, without a thread or a sleep. */
#include <arpa/inet.h>
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <cmocka.h>

#include "rigcall/sacn.h"
#include "sacn/netspace.h"

static const uint8_t own_cid[16] = { 1 }, rival_cid[16] = { 2 }, other_cid[16] = { 3 };
static const struct sacn_target on_lo = { .interfaces = { "lo" }, .interface_count = 1 };

static int send_fd = -1;

static int set_up(void **state)
{
    (void)state;
    const struct ip_mreqn out = { .imr_ifindex = 1, .imr_address.s_addr = htonl(INADDR_LOOPBACK) };
    if (!netspace_loopback(true))
        return -1;
    send_fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    return send_fd < 0 ? -1 : setsockopt(send_fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out);
}

static int tear_down(void **state)
{
    (void)state;
    return close(send_fd);
}

static void send_to(const union sacn_address *to, const uint8_t *octets, size_t length)
{
    assert_int_equal(sendto(send_fd, octets, length, 0, &to->any, sizeof to->v4), length);
}

struct rival_packet { uint16_t universe, group; const uint8_t *cid; uint8_t priority; int at; uint8_t octet; };

static void send_rival(const struct rival_packet *rival)
{
    uint8_t packet[SACN_DATA_SIZE];
    struct sacn_source source;
    sacn_source_init(&source, rival->cid, "another source");
    sacn_data_init(packet, &source, rival->universe, rival->priority);
    if (rival->at)
        packet[rival->at] = rival->octet;
    union sacn_address group;
    sacn_group_address(rival->group, false, SACN_PORT, &group);
    send_to(&group, packet, sizeof packet);
}

/* Offsets: ANSI E1.31-2018 Table 4-1. */
static const struct rival_packet rival_packets[] = {
    { 1, 1, rival_cid, 100, 0, 0 },               /* the same priority: a rival */
    { 2, 2, rival_cid, 99, 0, 0 },                /* a lower one */
    { 3, 3, rival_cid, 100, 0, 0 },               /* two rivals: the higher is told */
    { 3, 3, other_cid, 150, 0, 0 },
    { 3, 3, rival_cid, 120, 0, 0 },
    { 4, 4, own_cid, 100, 0, 0 },                 /* ourselves */
    { 5, 5, rival_cid, 100, 112, 0x80 },          /* preview */
    { 6, 6, rival_cid, 100, 112, 0x40 },          /* terminated */
    { 7, 7, rival_cid, 100, 117, 3 },             /* not a packet */
    { 8, 8, rival_cid, 100, 125, 0xdd },          /* not level data */
    { 9, 10, rival_cid, 100, 0, 0 },              /* the packet says the universe, not the group (9.1.1) */
    { 700, 10, rival_cid, 200, 0, 0 },            /* not one of ours */
    { 63999, 63999, rival_cid, 0, 0, 0 },         /* ours has 0 */
};

/* Look on universe 1, which is ours at priority 100. */
static int look_for_one(const struct sacn_target *target, double seconds, bool (*stop)(void *), void *context, struct sacn_rival **rivals,
                        size_t *count, struct rig_why *why)
{
    const uint16_t universe = 1;
    const uint8_t priority = 100;
    return sacn_look(target, &universe, &priority, 1, own_cid, seconds, stop, context, rivals, count, why);
}

static bool send_rivals(void *context)
{
    (void)context;
    for (size_t i = 0; i < sizeof rival_packets / sizeof *rival_packets; i++)
        send_rival(&rival_packets[i]);
    return false;
}

static void check_rival(const struct sacn_rival *rival, uint16_t universe, uint8_t priority, const uint8_t *cid)
{
    assert_int_equal(rival->universe, universe);
    assert_int_equal(rival->priority, priority);
    assert_memory_equal(rival->cid, cid, 16);
    assert_string_equal(rival->name, "another source");
    assert_string_equal(rival->address, "127.0.0.1");
}

static void only_rivals_are_found(void **state)
{
    (void)state;
    static const uint16_t universes[] = { 63999, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 1 };
    static const uint8_t priorities[] = { 0, 100, 100, 100, 100, 100, 100, 100, 100, 100, 100, 100 };
    struct sacn_rival *rivals;
    size_t count;
    assert_int_equal(sacn_look(&on_lo, universes, priorities, 12, own_cid, 1.0, send_rivals, NULL, &rivals, &count, NULL), 0);
    assert_int_equal(count, 4);
    check_rival(&rivals[0], 1, 100, rival_cid);
    check_rival(&rivals[1], 3, 150, other_cid);
    check_rival(&rivals[2], 9, 100, rival_cid);
    check_rival(&rivals[3], 63999, 0, rival_cid);
    free(rivals);
}

static bool send_on_all(void *context)
{
    const size_t *count = context;
    for (size_t i = 0; i < *count; i++)
        send_rival(&(struct rival_packet){ (uint16_t)(i + 1), (uint16_t)(i + 1), rival_cid, 100, 0, 0 });
    return false;
}

/* Six hundred groups: more than one socket may join, more descriptors than the process has when it starts. */
static void many_universes_are_listened_for(void **state)
{
    (void)state;
    enum { MANY = 600 };
    uint16_t universes[MANY];
    uint8_t priorities[MANY];
    struct rlimit before, low, after;
    struct sacn_rival *rivals;
    size_t count, many = MANY;
    for (size_t i = 0; i < MANY; i++) {
        universes[i] = (uint16_t)(i + 1);
        priorities[i] = i < 500 ? 101 : 100;      /* so only the last hundred have a rival */
    }
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    low = before;
    low.rlim_cur = 256;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &low), 0);
    assert_int_equal(sacn_look(&on_lo, universes, priorities, MANY, own_cid, 1.5, send_on_all, &many, &rivals, &count, NULL),
                     0);
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &after), 0);
    assert_int_equal(after.rlim_cur, 256);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_int_equal(count, 64);
    for (size_t i = 0; i < count; i++)
        check_rival(&rivals[i], (uint16_t)(501 + i), 100, rival_cid);
    free(rivals);
}

static bool send_by_sender(void *context)
{
    uint8_t packet[SACN_DATA_SIZE];
    struct sacn_source source;
    sacn_source_init(&source, rival_cid, "another source");
    sacn_data_init(packet, &source, 7001, 100);
    const struct sacn_datagram datagram = { .bytes = packet, .length = sizeof packet, .universe = 7001 };
    assert_int_equal(sacn_sender_send(context, &datagram, 1, NULL), 1);
    return false;
}

/* The other half: what a sender of ours sends by multicast on an interface is heard on its group, from that interface's address. */
static void our_sender_is_heard(void **state)
{
    (void)state;
    const uint16_t universe = 7001;
    const uint8_t priority = 100;
    struct sacn_sender *sender;
    struct sacn_rival *rivals;
    size_t count;
    assert_int_equal(sacn_sender_open(&on_lo, &sender, NULL), 0);
    assert_int_equal(sacn_look(&on_lo, &universe, &priority, 1, own_cid, 1.0, send_by_sender, sender, &rivals, &count, NULL), 0);
    assert_int_equal(count, 1);
    check_rival(&rivals[0], 7001, 100, rival_cid);
    free(rivals);
    sacn_sender_close(sender);
}

/* A transmitter that no route leads to must not end a run that the others can follow. */
static void one_address_without_a_route_is_passed_over(void **state)
{
    (void)state;
    struct sacn_sender *sender;
    union sacn_address nowhere, here;
    assert_true(sacn_address_parse("10.1.2.3", SACN_PORT, &nowhere) && sacn_address_parse("127.0.0.1", SACN_PORT, &here));
    const struct sacn_datagram datagrams[2] = { { own_cid, 16, 1, &nowhere }, { own_cid, 16, 2, &here } };
    assert_int_equal(sacn_sender_open(&on_lo, &sender, NULL), 0);
    assert_int_equal(sacn_sender_send(sender, datagrams, 2, NULL), 1);
    assert_int_equal(sacn_sender_lost(sender), 1);
    sacn_sender_close(sender);
}

static bool stop_at_once(void *context)
{
    ++*(int *)context;
    return true;
}

static void a_look_can_be_stopped(void **state)
{
    (void)state;
    struct sacn_rival *rivals;
    struct rig_why why;
    size_t count;
    int asked = 0;
    assert_int_equal(look_for_one(&on_lo, 86400, stop_at_once, &asked, &rivals, &count, &why), RIG_EFAILED);
    assert_int_equal(asked, 1);
    assert_null(rivals);
    assert_string_equal(why.text, "stopped while listening for other sources");
}

static int bind_port(const char *address, uint16_t port, bool shared)
{
    struct sockaddr_in here = { .sin_family = AF_INET, .sin_port = htons(port) };
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0), on = 1;
    assert_true(fd >= 0);
    inet_pton(AF_INET, address, &here.sin_addr);
    if (shared)
        assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on), 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&here, sizeof here), 0);
    return fd;
}

static bool send_unicast(void *context)
{
    uint8_t packet[SACN_DATA_SIZE];
    struct sacn_source source;
    int *sent = context;
    sacn_source_init(&source, rival_cid, "another source");
    sacn_data_init(packet, &source, 1, 200);
    union sacn_address here;
    assert_true(sacn_address_parse("127.0.0.1", SACN_PORT, &here));
    send_to(&here, packet, sizeof packet);
    ++*sent;
    return false;
}

/* A program that shares the port keeps every unicast datagram it is sent while we look. */
static void unicast_of_other_programs_is_left_alone(void **state)
{
    (void)state;
    static const struct sacn_target ways[] = { { .interfaces = { "lo" }, .interface_count = 1 }, { .to = "127.0.0.1" } };
    for (size_t i = 0; i < 2; i++) {
        struct sacn_rival *rivals;
        uint8_t octets[SACN_DATA_SIZE];
        size_t count;
        int sent = 0, fd = bind_port("0.0.0.0", SACN_PORT, true);
        assert_int_equal(look_for_one(&ways[i], 0.2, send_unicast, &sent, &rivals, &count, NULL), 0);
        assert_int_equal(count, 0);
        for (; sent > 0; sent--)
            assert_int_equal(recv(fd, octets, sizeof octets, 0), SACN_DATA_SIZE);
        assert_int_equal(recv(fd, octets, sizeof octets, 0), -1);
        close(fd);
    }
}

/* With --to the target's port may be held by a receiver that shares it with nobody; the rivals are on 5568. */
static void target_port_is_not_bound(void **state)
{
    (void)state;
    const struct sacn_target target = { .to = "127.0.0.1", .port = 40000 };
    struct sacn_rival *rivals;
    size_t count;
    int fd = bind_port("0.0.0.0", 40000, false);
    assert_int_equal(look_for_one(&target, 1.0, send_rivals, NULL, &rivals, &count, NULL), 0);
    assert_int_equal(count, 1);
    free(rivals);
    close(fd);
}

static void expect_no_look(const struct sacn_target *target, const char *text)
{
    struct sacn_rival *rivals;
    struct rig_why why;
    size_t count;
    assert_int_equal(look_for_one(target, 0.0, NULL, NULL, &rivals, &count, &why), RIG_ENET);
    assert_null(rivals);
    assert_string_equal(why.text, text);
}

static void a_look_or_a_network_that_cannot_be_had_is_an_error(void **state)
{
    (void)state;
    int fd = bind_port("0.0.0.0", SACN_PORT, false);
    expect_no_look(&on_lo, "cannot listen for universe 1 on interface lo, port 5568: binding it (does another program hold the port for "
                           "itself?): Address already in use");
    close(fd);
    expect_no_look(&(struct sacn_target){ .interfaces = { "rc9" }, .interface_count = 1 }, "there is no interface 'rc9'");
    expect_no_look(&(struct sacn_target){ .to = NULL },
                   "no route to 239.255.0.1 (Network is unreachable); name an interface that has one");
    struct sacn_sender *sender;
    struct rig_why why;
    assert_int_equal(sacn_sender_open(&on_lo, &sender, NULL), 0);
    assert_true(netspace_loopback(false));
    const struct sacn_datagram datagram = { .bytes = own_cid, .length = 16, .universe = 1 };
    assert_int_equal(sacn_sender_send(sender, &datagram, 1, &why), RIG_ENET);
    assert_string_equal(why.text, "cannot send on lo: Network is unreachable");
    assert_int_equal(sacn_sender_lost(sender), 1);
    sacn_sender_close(sender);
    expect_no_look(&on_lo, "interface lo is down");
    assert_true(netspace_loopback(true));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_rivals_are_found),
        cmocka_unit_test(many_universes_are_listened_for),
        cmocka_unit_test(our_sender_is_heard),
        cmocka_unit_test(one_address_without_a_route_is_passed_over),
        cmocka_unit_test(a_look_can_be_stopped),
        cmocka_unit_test(unicast_of_other_programs_is_left_alone),
        cmocka_unit_test(target_port_is_not_bound),
        cmocka_unit_test(a_look_or_a_network_that_cannot_be_had_is_an_error),
    };
    if (!netspace_enter()) {
        fprintf(stderr, "SKIP: a network namespace is not to be had here (%s)\n", strerror(errno));
        return 77;
    }
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
