/* What the receiver hears, and what it leaves out. */
#include "sacn/test_sacn_receiver.h"

#include "sacn/sacn_receiver_internal.h"

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

static void join_what_is_heard(void *context, int64_t at_ns, const uint8_t *datagram, size_t length, const union sacn_address *from)
{
    assert_int_equal(sacn_receiver_join(context, (uint16_t)(datagram[0] << 8 | datagram[1]), NULL), 0);
    keep(NULL, at_ns, datagram, length, from);
}

static void a_universe_can_be_joined_while_reading(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    send_unicast("127.0.0.1", SACN_PORT, 300);
    while (heard_count < 1 && is_readable(receiver, WAIT_MS))
        assert_true(sacn_receiver_read(receiver, 10, join_what_is_heard, receiver, NULL) >= 0);
    send_group("ra0", 300, false, 64);
    hear(receiver, 2);
    sacn_receiver_close(receiver);
}

static void two_receivers_both_hear_multicast_and_one_hears_unicast(void **state)
{
    (void)state;
    struct sacn_receiver *receivers[2] = { open_one("ra0", 5), open_one("ra0", 5) };
    send_unicast("127.0.0.1", SACN_PORT, 77);
    send_group("ra0", 5, false, 64);
    while (heard_count < 3 && (is_readable(receivers[0], 0) || is_readable(receivers[1], WAIT_MS)))
        for (size_t i = 0; i < 2; i++)
            assert_true(sacn_receiver_read(receivers[i], 10, keep, NULL, NULL) >= 0);
    size_t unicast = 0;
    for (size_t i = 0; i < heard_count; i++)
        unicast += mark_of(i) == 77;
    assert_int_equal(heard_count, 3);
    assert_int_equal(unicast, 1);
    for (size_t i = 0; i < 2; i++)
        sacn_receiver_close(receivers[i]);
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

/* While datagrams come quickly the descriptor follows a timer; when nothing comes any more it is quiet, and wakes again. */
static void datagrams_gather_and_nothing_is_forgotten(void **state)
{
    (void)state;
    struct sacn_receiver *receiver = open_one("ra0", 5);
    int64_t end = now_ns() + WAIT_MS * 1000000ll;
    size_t sent = 0;
    for (size_t round = 0; round < 3; round++) {
        while (!receiver->gathering && now_ns() < end && sent < KEPT - 2) {
            send_group("ra0", 5, false, 64);
            hear(receiver, ++sent);
        }
        assert_true(receiver->gathering);
        send_group("ra0", 5, false, 64);
        hear(receiver, ++sent);
        while (receiver->gathering && is_readable(receiver, WAIT_MS))
            assert_true(sacn_receiver_read(receiver, 10, keep, NULL, NULL) == 0);
        assert_false(receiver->gathering);
        assert_false(is_readable(receiver, 0));
        send_group("ra0", 5, false, 64);
        hear(receiver, ++sent);
    }
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

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_group_is_heard_and_dated), cmocka_unit_test(a_hundred_groups_take_six_more_sockets),
        cmocka_unit_test(a_higher_limit_needs_fewer_sockets), cmocka_unit_test(two_interfaces_are_heard),
        cmocka_unit_test(ipv6_groups_are_heard), cmocka_unit_test(joining_twice_hears_once),
        cmocka_unit_test(foreign_groups_are_not_heard), cmocka_unit_test(unicast_is_heard_once),
        cmocka_unit_test(unicast_of_other_programs_is_left_alone), cmocka_unit_test(what_is_too_long_or_empty_is_handed_over),
        cmocka_unit_test(a_limit_is_kept_and_the_rest_waits),
        cmocka_unit_test(a_universe_can_be_joined_while_reading), cmocka_unit_test(datagrams_gather_and_nothing_is_forgotten),
        cmocka_unit_test(two_receivers_both_hear_multicast_and_one_hears_unicast),
    };
    if (!netspace_enter()) {
        fprintf(stderr, "SKIP: a network namespace is not to be had here (%s)\n", strerror(errno));
        return 77;
    }
    return cmocka_run_group_tests(tests, set_up, NULL);
}
