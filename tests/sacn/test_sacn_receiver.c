/* The sockets of the receiver, in a network namespace with loopback and two pairs of virtual interfaces. The test runs on one
 * processor, so that what it sends arrives in the order of sending. */
#include <errno.h>
#include <netinet/in.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/test_sacn_receiver_links.h"

enum { KEPT = 2000, WAIT_MS = 10000 };

static struct heard { int64_t at_ns; size_t length; uint8_t octets[4]; union sacn_address from; } heard[KEPT];
static size_t heard_count;

static int set_up(void **state)
{
    (void)state;
    cpu_set_t one;
    CPU_ZERO(&one);
    CPU_SET(sched_getcpu(), &one);
    return sched_setaffinity(0, sizeof one, &one) == 0 && netspace_loopback(true) &&
           link_setting("ipv6/conf/all/accept_dad", "0") && link_setting("ipv6/conf/default/accept_dad", "0") &&
           link_pair("ra0", "ra1") && link_pair("rb0", "rb1") && link_up("ra0") && link_up("ra1") && link_up("rb0") &&
           link_up("rb1") && link_address("ra0", "10.77.1.1") && link_address("rb0", "10.77.2.1") &&
           link_address6("ra0", "fd77:1::1") && link_address6("rb0", "fd77:2::1") ? 0 : -1;
}

static void keep(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    (void)context;
    if (heard_count == KEPT)
        return;
    struct heard *item = &heard[heard_count++];
    *item = (struct heard){ .at_ns = now_ns, .length = length, .from = *from };
    memcpy(item->octets, datagram, length < sizeof item->octets ? length : sizeof item->octets);
}

static struct sacn_receiver *open_on(const struct sacn_receiver_options *options, const uint16_t *universes, size_t count)
{
    struct sacn_receiver *receiver;
    struct rig_why why = { .text = "" };
    heard_count = 0;
    if (sacn_receiver_open(options, universes, count, &receiver, &why) != 0)
        fail_msg("%s", why.text);
    return receiver;
}

static struct sacn_receiver *open_one(const char *interface, uint16_t universe)
{
    const struct sacn_receiver_options options = { .interfaces = { interface }, .interface_count = 1 };
    return open_on(&options, &universe, 1);
}

static bool is_readable(const struct sacn_receiver *receiver, int wait_ms)
{
    struct pollfd item = { .fd = sacn_receiver_fd(receiver), .events = POLLIN };
    return poll(&item, 1, wait_ms) == 1;
}

static void hear(struct sacn_receiver *receiver, size_t count)
{
    while (heard_count < count && is_readable(receiver, WAIT_MS))
        assert_true(sacn_receiver_read(receiver, 1000, keep, NULL, NULL) >= 0);
    assert_int_equal(heard_count, count);
}

/* ---- sending: a datagram's first two octets say what it is ---- */

static void send_as(const union sacn_address *to, const char *interface, uint16_t mark, size_t length)
{
    uint8_t octets[2000] = { (uint8_t)(mark >> 8), (uint8_t)mark };
    bool v6 = to->any.sa_family == AF_INET6;
    int fd = socket(to->any.sa_family, SOCK_DGRAM | SOCK_CLOEXEC, 0), index = interface ? (int)if_nametoindex(interface) : 0;
    const struct ip_mreqn out = { .imr_ifindex = index };
    assert_true(fd >= 0);
    if (interface)
        assert_int_equal(v6 ? setsockopt(fd, IPPROTO_IPV6, IPV6_MULTICAST_IF, &index, sizeof index) :
                              setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out), 0);
    assert_int_equal(sendto(fd, octets, length, 0, &to->any, v6 ? sizeof to->v6 : sizeof to->v4), length);
    close(fd);
}

static void send_group(const char *interface, uint16_t universe, bool ipv6, size_t length)
{
    union sacn_address to;
    sacn_group_address(universe, ipv6, SACN_PORT, &to);
    send_as(&to, interface, universe, length);
}

static void send_unicast(const char *text, uint16_t port, uint16_t mark)
{
    union sacn_address to;
    assert_true(sacn_address_parse(text, port, &to));
    send_as(&to, NULL, mark, 64);
}

static uint16_t mark_of(size_t i)
{
    return (uint16_t)(heard[i].octets[0] << 8 | heard[i].octets[1]);
}

static void expect_from(size_t i, const char *address)
{
    char text[SACN_ADDRESS_TEXT];
    sacn_address_text(&heard[i].from, text);
    assert_string_equal(text, address);
}

static int64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* ---- the tests ---- */

static void one_group_is_heard_and_dated(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 7001);
    struct sacn_receiver_state now;
    assert_int_equal(sacn_receiver_read(receiver, 10, keep, NULL, NULL), 0);     /* nothing there: does not wait */
    assert_false(is_readable(receiver, 0));
    int64_t before = now_ns();
    send_group("ra0", 7001, false, SACN_DATA_SIZE);
    hear(receiver, 1);
    int64_t after = now_ns();
    assert_int_equal(mark_of(0), 7001);
    assert_int_equal(heard[0].length, SACN_DATA_SIZE);
    assert_true(heard[0].at_ns >= before - 1000000 && heard[0].at_ns <= after);
    expect_from(0, "10.77.1.1");
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.groups, 2);              /* universe discovery is the other */
    assert_int_equal(now.dropped, 0);
    send_group("ra0", SACN_DISCOVERY_UNIVERSE, false, 120);
    hear(receiver, 2);
    sacn_receiver_close(receiver);
}

/* 100 groups and discovery, 20 a socket (the kernel's default), and the one that reads. */
static void a_hundred_groups_take_six_more_sockets(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1 };
    struct sacn_receiver_state now;
    uint16_t universes[200];
    for (size_t i = 0; i < 200; i++)
        universes[i] = (uint16_t)(i / 2 * 3 + 250);          /* each twice; over the border of an octet */
    struct sacn_receiver *receiver = open_on(&options, universes, 200);
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.groups, 101);
    assert_int_equal(now.sockets, 7);
    for (size_t i = 0; i < 200; i += 2)
        send_group("ra0", universes[i], false, SACN_DATA_SIZE);
    hear(receiver, 100);
    for (size_t i = 0; i < 100; i++)
        assert_int_equal(mark_of(i), universes[2 * i]);      /* in the order of sending, over all sockets */
    sacn_receiver_close(receiver);
}

static void a_higher_limit_needs_fewer_sockets(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1 };
    struct sacn_receiver_state now;
    uint16_t universes[100];
    for (size_t i = 0; i < 100; i++)
        universes[i] = (uint16_t)(i + 1);
    assert_true(link_setting("ipv4/igmp_max_memberships", "101"));
    struct sacn_receiver *receiver = open_on(&options, universes, 100);
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.sockets, 2);
    sacn_receiver_close(receiver);
    assert_true(link_setting("ipv4/igmp_max_memberships", "20"));
}

static void two_interfaces_are_heard(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0", "rb0", "ra0" }, .interface_count = 3 };
    const uint16_t universe = 1;
    struct sacn_receiver_state now;
    struct sacn_receiver *receiver = open_on(&options, &universe, 1);
    send_group("ra0", 1, false, 100);
    send_group("rb0", 1, false, 200);
    hear(receiver, 2);
    expect_from(0, "10.77.1.1");
    expect_from(1, "10.77.2.1");
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.groups, 4);
    sacn_receiver_close(receiver);
}

static void ipv6_groups_are_heard(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0", "rb0" }, .interface_count = 2, .ipv6 = true };
    const uint16_t universes[2] = { 513, 63999 };
    struct sacn_receiver *receiver = open_on(&options, universes, 2);
    send_group("ra0", 513, true, SACN_DATA_SIZE);
    send_group("rb0", 63999, true, SACN_DATA_SIZE);
    send_group("ra0", SACN_DISCOVERY_UNIVERSE, true, 120);
    send_unicast("fd77:1::1", SACN_PORT, 9);
    hear(receiver, 4);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(mark_of(i), ((uint16_t[]){ 513, 63999, SACN_DISCOVERY_UNIVERSE, 9 })[i]);
    expect_from(0, "fd77:1::1");
    sacn_receiver_close(receiver);
}

static void joining_twice_hears_once(void **state)
{
    (void)state;
    struct sacn_receiver_state now;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    struct rig_why why;
    assert_int_equal(sacn_receiver_join(receiver, 5, NULL), 0);
    assert_int_equal(sacn_receiver_join(receiver, 6, NULL), 0);
    assert_int_equal(sacn_receiver_join(receiver, 6, NULL), 0);
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.groups, 3);
    send_group("ra0", 5, false, 64);
    send_group("ra0", 6, false, 64);
    hear(receiver, 2);
    assert_int_equal(sacn_receiver_join(receiver, 64000, &why), RIG_ENET);
    assert_string_equal(why.text, "universe 64000 has no group, 1..63999 have");
    sacn_receiver_close(receiver);
}

/* Another program on this host, on the same port. */
static int open_other(const char *address, uint16_t universe, const char *interface)
{
    union sacn_address here, group;
    int on = 1;
    assert_true(sacn_address_parse(address, SACN_PORT, &here));
    int fd = socket(here.any.sa_family, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    sacn_group_address(universe, false, SACN_PORT, &group);
    const struct ip_mreqn membership = { .imr_multiaddr = group.v4.sin_addr,
                                         .imr_ifindex = interface ? (int)if_nametoindex(interface) : 0 };
    assert_true(fd >= 0);
    assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on), 0);
    assert_int_equal(bind(fd, &here.any, here.any.sa_family == AF_INET ? sizeof here.v4 : sizeof here.v6), 0);
    if (interface)
        assert_int_equal(setsockopt(fd, IPPROTO_IP, IP_ADD_MEMBERSHIP, &membership, sizeof membership), 0);
    return fd;
}

static size_t count_waiting(int fd)
{
    uint8_t octets[2000];
    size_t count = 0;
    while (recv(fd, octets, sizeof octets, 0) >= 0)
        count++;
    return count;
}

/* What others on this host join on the port reaches the socket, and is left out: another universe, another interface, another
 * group that ends in the same two octets, the groups of the other family. */
static void foreign_groups_are_not_heard(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    int others[] = { open_other("0.0.0.0", 6, "ra0"), open_other("0.0.0.0", 5, "rb0") };
    const struct ip_mreqn alike = { { inet_addr("239.1.0.5") }, { 0 }, (int)if_nametoindex("ra0") };
    struct ipv6_mreq v6 = { .ipv6mr_interface = if_nametoindex("ra0") };
    union sacn_address to;
    int other6 = open_other("::", 1, NULL);
    sacn_group_address(5, true, SACN_PORT, &to);
    v6.ipv6mr_multiaddr = to.v6.sin6_addr;
    assert_int_equal(setsockopt(others[0], IPPROTO_IP, IP_ADD_MEMBERSHIP, &alike, sizeof alike), 0);
    assert_int_equal(setsockopt(other6, IPPROTO_IPV6, IPV6_ADD_MEMBERSHIP, &v6, sizeof v6), 0);
    send_group("ra0", 6, false, 64);
    send_group("rb0", 5, false, 64);
    send_group("ra0", 5, true, 64);
    assert_true(sacn_address_parse("239.1.0.5", SACN_PORT, &to));
    send_as(&to, "ra0", 5, 64);
    send_group("ra0", 5, false, 65);
    hear(receiver, 1);
    assert_int_equal(heard[0].length, 65);
    assert_true(count_waiting(others[0]) >= 4 && count_waiting(other6) >= 1);
    for (size_t i = 0; i < 2; i++)
        close(others[i]);
    close(other6);
    sacn_receiver_close(receiver);
}

static void unicast_is_heard_once(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    send_unicast("127.0.0.1", SACN_PORT, 77);
    send_unicast("10.77.1.1", SACN_PORT, 78);
    send_unicast("::1", SACN_PORT, 79);
    hear(receiver, 3);
    assert_int_equal(mark_of(0), 77);
    assert_int_equal(mark_of(2), 79);
    expect_from(0, "127.0.0.1");
    expect_from(2, "::1");
    sacn_receiver_close(receiver);
}

/* A program that shares the port keeps its unicast datagrams, opened before or after us. */
static void unicast_of_other_programs_is_left_alone(void **state)
{
    (void)state;
    static const char *const here[] = { "0.0.0.0", "127.0.0.1", "::" };
    for (size_t i = 0; i < 6; i++) {
        bool before = i % 2 == 0;
        int other = before ? open_other(here[i / 2], 1, NULL) : -1;
        struct sacn_receiver *receiver = open_one("ra0", 5);
        if (!before)
            other = open_other(here[i / 2], 1, NULL);
        send_unicast(i < 4 ? "127.0.0.1" : "::1", SACN_PORT, 77);
        send_group("ra0", 5, false, 64);
        hear(receiver, 1);
        assert_int_equal(mark_of(0), 5);
        assert_int_equal(count_waiting(other), i < 2 ? 2 : 1);       /* 0.0.0.0: the group that we joined, too */
        close(other);
        sacn_receiver_close(receiver);
    }
}

static void what_is_too_long_or_empty_is_handed_over(void **state)
{
    (void)state;
    uint8_t octets[SACN_DISCOVERY_SIZE + 1] = { 0 };
    struct sacn_packet packet;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    send_group("ra0", 5, false, 2000);
    send_group("ra0", 5, false, 0);
    send_group("ra0", 5, false, SACN_DISCOVERY_SIZE);
    send_group("ra0", 5, false, 1);
    hear(receiver, 4);
    assert_int_equal(heard[0].length, SACN_DISCOVERY_SIZE + 1);
    assert_int_equal(sacn_parse(octets, heard[0].length, &packet), SACN_BAD_LENGTH);
    assert_int_equal(heard[1].length, 0);
    assert_int_equal(sacn_parse(octets, 0, &packet), SACN_BAD_LENGTH);
    assert_int_equal(heard[2].length, SACN_DISCOVERY_SIZE);
    assert_int_equal(heard[3].length, 1);
    sacn_receiver_close(receiver);
}

static void a_limit_is_kept_and_the_rest_waits(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    for (size_t i = 0; i < 150; i++)
        send_group("ra0", 5, false, 64);
    while (heard_count < 100) {
        size_t before = heard_count;
        assert_true(is_readable(receiver, WAIT_MS));
        int got = sacn_receiver_read(receiver, 10, keep, NULL, NULL);
        assert_in_range(got, 1, 10);
        assert_int_equal(heard_count - before, got);
    }
    hear(receiver, 150);
    sacn_receiver_close(receiver);
}

/* What the kernel could not keep is counted, also when nothing comes after it. */
static void drops_are_counted(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1, .buffer = 32768 };
    const uint16_t universe = 5;
    enum { SENT = 500 };
    struct sacn_receiver_state now;
    struct sacn_receiver *receiver = open_on(&options, &universe, 1);
    int64_t end = now_ns() + WAIT_MS * 1000000ll;
    for (size_t i = 0; i < SENT; i++)
        send_group("ra0", 5, false, SACN_DATA_SIZE);
    do {
        assert_true(sacn_receiver_read(receiver, 1000, keep, NULL, NULL) >= 0);
        sacn_receiver_state(receiver, &now);
    } while (heard_count + now.dropped < SENT && now_ns() < end);
    assert_int_equal(heard_count + now.dropped, SENT);
    assert_true(now.dropped > 0 && heard_count > 0);
    assert_int_equal(now.buffer, 32768);
    sacn_receiver_close(receiver);
}

/* One group floods: after a while it has a queue of its own, and drops nothing but its own. */
static void a_flood_does_not_drown_the_others(void **state)
{
    bool ipv6 = *state != NULL;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1, .ipv6 = ipv6, .buffer = 65536 };
    const uint16_t universes[] = { 1, 2, 3, 4 };
    struct sacn_receiver_state now;
    struct sacn_receiver *receiver = open_on(&options, universes, 4);
    int64_t end = now_ns() + WAIT_MS * 1000000ll;
    do {
        for (size_t i = 0; i < 300; i++)
            send_group("ra0", i % 100 == 99 ? 2 : 1, ipv6, SACN_DATA_SIZE);
        assert_true(sacn_receiver_read(receiver, 10000, keep, NULL, NULL) >= 0);
        sacn_receiver_state(receiver, &now);
    } while (now.floods == 0 && now_ns() < end);
    assert_int_equal(now.floods, 1);
    assert_int_equal(now.flooded[0], 1);
    while (sacn_receiver_read(receiver, 10000, keep, NULL, NULL) > 0)
        continue;
    sacn_receiver_state(receiver, &now);
    uint64_t before = now.dropped;
    heard_count = 0;
    for (size_t i = 0; i < 1000; i++)
        send_group("ra0", 1, ipv6, SACN_DATA_SIZE);
    for (uint16_t universe = 2; universe <= 4; universe++)
        send_group("ra0", universe, ipv6, SACN_DATA_SIZE);
    do {
        assert_true(sacn_receiver_read(receiver, 10000, keep, NULL, NULL) >= 0);
        sacn_receiver_state(receiver, &now);
    } while (heard_count + now.dropped - before < 1003 && now_ns() < end);
    size_t others = 0;
    for (size_t i = 0; i < heard_count; i++)
        others += mark_of(i) != 1;
    assert_int_equal(others, 3);
    assert_true(now.dropped > before);
    assert_int_equal(heard_count + now.dropped - before, 1003);      /* and nothing comes twice */
    sacn_receiver_close(receiver);
}

static void expect_no_receiver(const struct sacn_receiver_options *options, size_t count, const char *text)
{
    static uint16_t universes[400];
    struct sacn_receiver *receiver;
    struct rig_why why = { .text = "" };
    for (size_t i = 0; i < count; i++)
        universes[i] = (uint16_t)(i + 1);
    int error = sacn_receiver_open(options, universes, count, &receiver, &why);
    assert_string_equal(why.text, text);
    assert_int_equal(error, RIG_ENET);
    assert_null(receiver);
}

static void what_cannot_be_had_is_said(void **state)
{
    (void)state;
    const struct sacn_receiver_options one = { .interfaces = { "ra0" }, .interface_count = 1 };
    expect_no_receiver(&(struct sacn_receiver_options){ .interfaces = { "rc9" }, .interface_count = 1 }, 1,
                       "there is no interface 'rc9'");
    assert_true(link_pair("rd0", "rd1"));
    expect_no_receiver(&(struct sacn_receiver_options){ .interfaces = { "rd0" }, .interface_count = 1 }, 1,
                       "interface rd0 is down");
    assert_true(link_setting("ipv4/igmp_max_memberships", "0"));
    expect_no_receiver(&one, 30, "joined 0 of 31 groups; the kernel lets a socket join no group: "
                       "sysctl -w net.ipv4.igmp_max_memberships=31");
    assert_true(link_setting("ipv4/igmp_max_memberships", "20"));
    const struct sockaddr_in any = { .sin_family = AF_INET, .sin_port = htons(SACN_PORT) };
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_int_equal(bind(fd, (const struct sockaddr *)&any, sizeof any), 0);
    expect_no_receiver(&one, 1, "cannot listen on port 5568: binding it (does another program hold the port for itself?): "
                       "Address already in use");
    close(fd);
}

/* Room for the socket that reads, its epoll and three sockets of 20 groups. */
static rlim_t few_descriptors(void)
{
    int lowest = dup(0);
    close(lowest);
    return (rlim_t)lowest + 5;
}

/* In a process of its own: a hard limit cannot be raised again. */
static void the_last_descriptor_is_said(void **state)
{
    (void)state;
    int status;
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        const struct sacn_receiver_options one = { .interfaces = { "ra0" }, .interface_count = 1 };
        const rlim_t few = few_descriptors();
        char expected[512];
        uint16_t universes[100];
        struct sacn_receiver *receiver;
        struct rig_why why = { .text = "" };
        for (size_t i = 0; i < 100; i++)
            universes[i] = (uint16_t)(i + 1);
        snprintf(expected, sizeof expected, "joined 60 of 101 groups on 3 sockets; this process may have no more than %llu "
                 "descriptors: raise that (ulimit -n), or let a socket join more groups: sysctl -w "
                 "net.ipv4.igmp_max_memberships=101", (unsigned long long)few);
        if (setrlimit(RLIMIT_NOFILE, &(struct rlimit){ few, few }) != 0)
            _exit(2);
        int error = sacn_receiver_open(&one, universes, 100, &receiver, &why);
        if (error != RIG_ENET || strcmp(why.text, expected) != 0)
            fprintf(stderr, "%d: %s\n", error, why.text);
        _exit(error == RIG_ENET && strcmp(why.text, expected) == 0 ? 0 : 1);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

static void the_soft_limit_is_raised_and_put_back(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1 };
    struct rlimit before, low, after;
    uint16_t universes[100];
    for (size_t i = 0; i < 100; i++)
        universes[i] = (uint16_t)(i + 1);
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    low = before;
    low.rlim_cur = few_descriptors();
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &low), 0);
    sacn_receiver_close(open_on(&options, universes, 100));
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &after), 0);
    assert_int_equal(after.rlim_cur, low.rlim_cur);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
}

int main(void)
{
    static bool ipv6 = true;
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_group_is_heard_and_dated), cmocka_unit_test(a_hundred_groups_take_six_more_sockets),
        cmocka_unit_test(a_higher_limit_needs_fewer_sockets), cmocka_unit_test(two_interfaces_are_heard),
        cmocka_unit_test(ipv6_groups_are_heard), cmocka_unit_test(joining_twice_hears_once),
        cmocka_unit_test(foreign_groups_are_not_heard), cmocka_unit_test(unicast_is_heard_once),
        cmocka_unit_test(unicast_of_other_programs_is_left_alone), cmocka_unit_test(what_is_too_long_or_empty_is_handed_over),
        cmocka_unit_test(a_limit_is_kept_and_the_rest_waits), cmocka_unit_test(drops_are_counted),
        cmocka_unit_test(a_flood_does_not_drown_the_others),
        { "a_flood_does_not_drown_the_others, IPv6", a_flood_does_not_drown_the_others, NULL, NULL, &ipv6 },
        cmocka_unit_test(what_cannot_be_had_is_said), cmocka_unit_test(the_last_descriptor_is_said),
        cmocka_unit_test(the_soft_limit_is_raised_and_put_back),
    };
    if (!netspace_enter()) {
        fprintf(stderr, "SKIP: a network namespace is not to be had here (%s)\n", strerror(errno));
        return 77;
    }
    return cmocka_run_group_tests(tests, set_up, NULL);
}
