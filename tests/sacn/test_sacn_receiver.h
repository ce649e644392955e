/* What the tests of the receiver share: a network namespace with loopback and two pairs of virtual interfaces, sending, and what
 * was heard. A test runs on one processor, so that what it sends arrives in the order of sending. */
#ifndef RIGCALL_TESTS_SACN_RECEIVER_H
#define RIGCALL_TESTS_SACN_RECEIVER_H

#include <errno.h>
#include <netinet/in.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/test_sacn_receiver_links.h"

enum { KEPT = 2000, WAIT_MS = 10000 };

static struct heard { int64_t at_ns; size_t length; uint8_t octets[4]; union sacn_address from; } heard[KEPT];
static size_t heard_count;

static inline int set_up(void **state)
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

static inline void keep(void *context, int64_t now_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    (void)context;
    if (heard_count == KEPT)
        return;
    struct heard *item = &heard[heard_count++];
    *item = (struct heard){ .at_ns = now_ns, .length = length, .from = *from };
    memcpy(item->octets, datagram, length < sizeof item->octets ? length : sizeof item->octets);
}

static inline struct sacn_receiver *open_on(const struct sacn_receiver_options *options, const uint16_t *universes, size_t count)
{
    struct sacn_receiver *receiver;
    struct rig_why why = { .text = "" };
    heard_count = 0;
    if (sacn_receiver_open(options, universes, count, &receiver, &why) != 0)
        fail_msg("%s", why.text);
    return receiver;
}

static inline struct sacn_receiver *open_one(const char *interface, uint16_t universe)
{
    const struct sacn_receiver_options options = { .interfaces = { interface }, .interface_count = 1 };
    return open_on(&options, &universe, 1);
}

static inline bool is_readable(const struct sacn_receiver *receiver, int wait_ms)
{
    struct pollfd item = { .fd = sacn_receiver_fd(receiver), .events = POLLIN };
    return poll(&item, 1, wait_ms) == 1;
}

static inline void hear(struct sacn_receiver *receiver, size_t count)
{
    while (heard_count < count && is_readable(receiver, WAIT_MS))
        assert_true(sacn_receiver_read(receiver, 1000, keep, NULL, NULL) >= 0);
    assert_int_equal(heard_count, count);
}

/* ---- sending: a datagram's first two octets say what it is, the next two are counted up ---- */

static uint16_t sent_number;

static inline void send_as(const union sacn_address *to, const char *interface, uint16_t mark, size_t length)
{
    uint8_t octets[2000] = { (uint8_t)(mark >> 8), (uint8_t)mark, (uint8_t)(++sent_number >> 8), (uint8_t)sent_number };
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

static inline void send_group(const char *interface, uint16_t universe, bool ipv6, size_t length)
{
    union sacn_address to;
    sacn_group_address(universe, ipv6, SACN_PORT, &to);
    send_as(&to, interface, universe, length);
}

static inline void send_unicast(const char *text, uint16_t port, uint16_t mark)
{
    union sacn_address to;
    assert_true(sacn_address_parse(text, port, &to));
    send_as(&to, NULL, mark, 64);
}

static inline uint16_t mark_of(size_t i)
{
    return (uint16_t)(heard[i].octets[0] << 8 | heard[i].octets[1]);
}

static inline uint16_t number_of(size_t i)
{
    return (uint16_t)(heard[i].octets[2] << 8 | heard[i].octets[3]);
}

static inline void expect_from(size_t i, const char *address)
{
    char text[SACN_ADDRESS_TEXT];
    sacn_address_text(&heard[i].from, text);
    assert_string_equal(text, address);
}

static inline int64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* Another program on this host, on the same port. */
static inline int open_other(const char *address, uint16_t universe, const char *interface)
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

static inline size_t count_waiting(int fd)
{
    uint8_t octets[2000];
    size_t count = 0;
    while (recv(fd, octets, sizeof octets, 0) >= 0)
        count++;
    return count;
}

#endif
