/* The sender and the look between two network namespaces joined by virtual cables: several interfaces, both families, what the
 * headers say, hosts that are slow or not there, messages that the kernel cuts up. */
#include <arpa/inet.h>
#include <errno.h>
#include <net/if.h>
#include <netinet/udp.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <cmocka.h>

#include "rigcall/sacn.h"
#include "sacn/cables.h"

static uint8_t packets[SACN_BATCH][SACN_DATA_SIZE];
static struct sacn_datagram datagrams[SACN_BATCH];

static int lay_cables(void **state)
{
    (void)state;
    return cables_lay("a", 1) && cables_lay("b", 2) ? 0 : -1;
}

static int build_packets(void **state)
{
    (void)state;
    struct sacn_source source;
    sacn_source_init(&source, (const uint8_t[16]){ 1 }, "test");
    for (uint16_t i = 0; i < SACN_BATCH; i++) {
        sacn_data_init(packets[i], &source, (uint16_t)(i + 1), 100);
        memset(packets[i] + SACN_SLOT_OFFSET, i + 1, SACN_SLOTS);
        datagrams[i] = (struct sacn_datagram){ .bytes = packets[i], .length = SACN_DATA_SIZE, .universe = (uint16_t)(i + 1) };
    }
    return 0;
}

static socklen_t size_of(const union sacn_address *address)
{
    return address->any.sa_family == AF_INET ? sizeof address->v4 : sizeof address->v6;
}

static void set(int fd, int level, int name, int value)
{
    assert_int_equal(setsockopt(fd, level, name, &value, sizeof value), 0);
}

/* A socket of theirs, on an address with its port, that is told the hops and the class of what it gets. */
static int listen_there(const union sacn_address *address)
{
    assert_true(cables_enter(cables_theirs));
    int fd = socket(address->any.sa_family, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    set(fd, SOL_SOCKET, SO_REUSEADDR, 1);
    if (address->any.sa_family == AF_INET) {
        set(fd, IPPROTO_IP, IP_MULTICAST_ALL, 0);
        set(fd, IPPROTO_IP, IP_RECVTTL, 1);
        set(fd, IPPROTO_IP, IP_RECVTOS, 1);
    } else {
        set(fd, IPPROTO_IPV6, IPV6_RECVHOPLIMIT, 1);
        set(fd, IPPROTO_IPV6, IPV6_RECVTCLASS, 1);
    }
    assert_int_equal(bind(fd, &address->any, size_of(address)), 0);
    assert_true(cables_enter(cables_ours));
    return fd;
}

static int join_there(uint16_t universe, bool ipv6, const char *interface)
{
    union sacn_address group;
    sacn_group_address(universe, ipv6, SACN_PORT, &group);
    int fd = listen_there(&group);
    assert_true(cables_enter(cables_theirs));
    int index = (int)if_nametoindex(interface);
    const struct ip_mreqn v4 = { .imr_multiaddr = group.v4.sin_addr, .imr_ifindex = index };
    const struct ipv6_mreq v6 = { .ipv6mr_multiaddr = group.v6.sin6_addr, .ipv6mr_interface = (unsigned)index };
    if (ipv6) {
        assert_int_equal(setsockopt(fd, IPPROTO_IPV6, IPV6_JOIN_GROUP, &v6, sizeof v6), 0);
        set(fd, SOL_SOCKET, SO_BINDTOIFINDEX, index);        /* a group of IPv6 is one for all interfaces otherwise */
    } else {
        assert_int_equal(setsockopt(fd, IPPROTO_IP, IP_ADD_MEMBERSHIP, &v4, sizeof v4), 0);
    }
    assert_true(cables_enter(cables_ours));
    return fd;
}

struct got { uint8_t octets[70000]; ssize_t length; union sacn_address from; int ttl, octet, segment; };
static struct got got;

/* Wait for one datagram (or, with UDP_GRO set, several in one). */
static void receive(int fd)
{
    union { struct cmsghdr header; uint8_t octets[256]; } control;
    struct iovec part = { got.octets, sizeof got.octets };
    struct msghdr message = { .msg_name = &got.from, .msg_namelen = sizeof got.from, .msg_iov = &part, .msg_iovlen = 1,
                              .msg_control = &control, .msg_controllen = sizeof control };
    struct pollfd ready = { .fd = fd, .events = POLLIN };
    memset(&got.from, 0, sizeof got.from);
    assert_int_equal(poll(&ready, 1, -1), 1);
    got.length = recvmsg(fd, &message, 0);
    got.ttl = got.octet = got.segment = -1;
    for (struct cmsghdr *item = CMSG_FIRSTHDR(&message); item; item = CMSG_NXTHDR(&message, item)) {
        int value = 0;
        memcpy(&value, CMSG_DATA(item), item->cmsg_len - CMSG_LEN(0) < sizeof value ? 1 : sizeof value);
        if (item->cmsg_level == IPPROTO_UDP)
            got.segment = value;
        else if ((item->cmsg_level == IPPROTO_IP && item->cmsg_type == IP_TTL) ||
                 (item->cmsg_level == IPPROTO_IPV6 && item->cmsg_type == IPV6_HOPLIMIT))
            got.ttl = value;
        else
            got.octet = value;
    }
}

static void assert_got(size_t index, const struct sacn_path *path)
{
    assert_int_equal(got.length, SACN_DATA_SIZE);
    assert_memory_equal(got.octets, packets[index], SACN_DATA_SIZE);
    if (got.from.any.sa_family == AF_INET6)
        got.from.v6.sin6_flowinfo = 0;
    union sacn_address from = path->from;
    if (from.any.sa_family == AF_INET6)           /* the zone is the interface's number, another one there */
        from.v6.sin6_scope_id = got.from.v6.sin6_scope_id;
    assert_true(sacn_address_equal(&got.from, &from));
    assert_int_equal(got.ttl, path->ttl);
    assert_int_equal(got.octet, path->dscp << 2);
}

static struct sacn_sender *open_sender(const struct sacn_target *target)
{
    struct sacn_sender *sender;
    struct rig_why why;
    if (sacn_sender_open(target, &sender, &why) != 0)
        fail_msg("%s", why.text);
    return sender;
}

/* ---- what leaves, and how ---- */

static void assert_address(const union sacn_address *address, const char *expected)
{
    char text[SACN_ADDRESS_TEXT];
    sacn_address_text(address, text);
    assert_string_equal(text, expected);
}

static void send_on_both(bool ipv6, uint8_t ttl, uint8_t dscp, int expected_ttl)
{
    static const uint16_t universes[] = { 1, 64 };
    const struct sacn_target target = { .interfaces = { "oa", "ob" }, .interface_count = 2, .ipv6 = ipv6, .ttl = ttl, .dscp = dscp };
    struct sacn_sender *sender = open_sender(&target);
    struct sacn_path paths[SACN_INTERFACES];
    int fds[2][2];
    for (int u = 0; u < 2; u++) {
        fds[u][0] = join_there(universes[u], ipv6, "ta");
        fds[u][1] = join_there(universes[u], ipv6, "tb");
    }
    assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), 2 * SACN_BATCH);
    for (int u = 0; u < 2; u++) {
        assert_int_equal(sacn_sender_paths(sender, universes[u] - 1u, paths), 2);
        assert_address(&paths[0].from, ipv6 ? "2001:db8:1::1" : "10.77.1.1");
        assert_address(&paths[1].from, ipv6 ? "2001:db8:2::1" : "10.77.2.1");
        assert_address(&paths[1].to, ipv6 ? (u ? "ff18::8300:40" : "ff18::8300:1") : (u ? "239.255.0.64" : "239.255.0.1"));
        assert_int_equal(paths[0].ttl, expected_ttl);
        assert_int_equal(paths[0].dscp, dscp);
        for (int i = 0; i < 2; i++) {
            receive(fds[u][i]);
            assert_got(universes[u] - 1u, &paths[i]);
            close(fds[u][i]);
        }
    }
    assert_int_equal(sacn_sender_lost(sender), 0);
    sacn_sender_close(sender);
}

/* 8: SACN_MULTICAST_TTL. 46 is Expedited Forwarding (RFC 3246): an octet of 184. */
static void multicast_leaves_on_every_interface(void **state)
{
    (void)state;
    send_on_both(false, 0, 0, 8);
    send_on_both(false, 3, 46, 3);
    send_on_both(false, 255, 63, 255);
}

static void ipv6_multicast_leaves_on_every_interface(void **state)
{
    (void)state;
    send_on_both(true, 0, 0, 8);
    send_on_both(true, 3, 46, 3);
    send_on_both(true, 255, 63, 255);
}

static void a_batch_to_a_host_arrives_octet_for_octet(void **state)
{
    (void)state;
    static const struct { const char *to, *there, *from; uint8_t ttl, dscp; int expected_ttl; } cases[] = {
        { "10.77.1.2", "10.77.1.2", "10.77.1.1", 0, 0, 64 },
        { "10.77.2.2", "10.77.2.2", "10.77.2.1", 2, 46, 2 },
        { "2001:db8:2::2", "2001:db8:2::2", "2001:db8:2::1", 0, 0, 64 },
        { "2001:db8:1::2", "2001:db8:1::2", "2001:db8:1::1", 7, 10, 7 },
        { "fe80::2%ob", "::", "fe80::1%ob", 0, 8, 64 },
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        const struct sacn_target target = { .to = cases[c].to, .ttl = cases[c].ttl, .dscp = cases[c].dscp };
        struct sacn_path path[SACN_INTERFACES];
        union sacn_address there;
        assert_true(sacn_address_parse(cases[c].there, SACN_PORT, &there));
        int fd = listen_there(&there);
        struct sacn_sender *sender = open_sender(&target);
        assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), SACN_BATCH);
        for (size_t i = 0; i < SACN_BATCH; i++) {
            assert_int_equal(sacn_sender_paths(sender, i, path), 1);
            assert_address(&path[0].from, cases[c].from);
            assert_address(&path[0].to, cases[c].to);
            assert_int_equal(path[0].ttl, cases[c].expected_ttl);
            receive(fd);
            assert_got(i, &path[0]);
        }
        assert_int_equal(sacn_sender_lost(sender), 0);
        sacn_sender_close(sender);
        close(fd);
    }
}

/* udp(7), UDP_SEGMENT and UDP_GRO: the cable hands the message over uncut to a socket that takes it so. */
static void a_batch_to_a_host_is_one_message(void **state)
{
    (void)state;
    static const char *const hosts[] = { "10.77.1.2", "2001:db8:1::2" };
    for (size_t h = 0; h < 2; h++) {
        union sacn_address there;
        const struct sacn_target target = { .to = hosts[h] };
        int zero = 0, one = 1;
        assert_true(sacn_address_parse(hosts[h], SACN_PORT, &there));
        int fd = listen_there(&there);
        if (setsockopt(fd, IPPROTO_UDP, UDP_SEGMENT, &zero, sizeof zero) != 0 ||
            setsockopt(fd, IPPROTO_UDP, UDP_GRO, &one, sizeof one) != 0)
            skip();                   /* a kernel before 5.0 */
        struct sacn_sender *sender = open_sender(&target);
        assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), SACN_BATCH);
        receive(fd);
        assert_int_equal(got.length, SACN_BATCH * SACN_DATA_SIZE);
        assert_int_equal(got.segment, SACN_DATA_SIZE);
        assert_memory_equal(got.octets, packets, sizeof packets);
        sacn_sender_close(sender);
        close(fd);
    }
}

/* Where a packet does not fit through whole, the kernel refuses a message that it would have to cut into such packets: then they
 * go one by one, each in fragments, and none is lost. */
static void a_path_of_small_packets_loses_nothing(void **state)
{
    (void)state;
    const struct sacn_target target = { .to = "10.77.3.2" };
    union sacn_address there;
    assert_true(cables_lay("c", 3) && cables_run("ip link set oc mtu 600"));
    assert_true(sacn_address_parse("10.77.3.2", SACN_PORT, &there));
    int fd = listen_there(&there);
    struct sacn_sender *sender = open_sender(&target);
    for (int round = 0; round < 2; round++) {
        assert_int_equal(sacn_sender_send(sender, datagrams, SACN_BATCH, NULL), SACN_BATCH);
        for (size_t i = 0; i < SACN_BATCH; i++) {
            receive(fd);
            assert_int_equal(got.length, SACN_DATA_SIZE);
            assert_memory_equal(got.octets, packets[i], SACN_DATA_SIZE);
        }
    }
    assert_int_equal(sacn_sender_lost(sender), 0);
    sacn_sender_close(sender);
    close(fd);
}

/* ---- hosts and interfaces that are not there ---- */

/* A neighbour that does not answer: the kernel keeps what is sent to it, here without end, until the socket's buffer is full. In
 * every batch, also once it is full, the others get all of theirs, and it alone loses. */
static void a_dead_neighbour_holds_up_nobody(void **state)
{
    (void)state;
    enum { BATCHES = 300, DEAD = 2 };
    static const char *const hosts[3] = { "10.77.1.2", "2001:db8:1::2", "10.77.1.99" };
    const struct sacn_target target = { .interfaces = { "oa" }, .interface_count = 1 };
    struct sacn_sender *sender = open_sender(&target);
    struct sacn_path paths[SACN_INTERFACES];
    union sacn_address addresses[3];
    uint64_t lost = 0;
    int fds[4];
    /* An hour until it is given up, and room for more than any socket holds. */
    assert_true(cables_setting("ipv4/neigh/oa/retrans_time_ms", "1200000") &&
                cables_setting("ipv4/neigh/oa/unres_qlen_bytes", "268435456"));
    for (int h = 0; h < 3; h++)
        assert_true(sacn_address_parse(hosts[h], SACN_PORT, &addresses[h]));
    fds[0] = listen_there(&addresses[0]);
    fds[1] = listen_there(&addresses[1]);
    fds[3] = join_there(4, false, "ta");
    for (int batch = 0; batch < BATCHES; batch++) {
        for (size_t i = 0; i < SACN_BATCH; i++)
            datagrams[i].address = i % 4 == 3 ? NULL : &addresses[i % 4];
        int sent = sacn_sender_send(sender, datagrams, SACN_BATCH, NULL);
        assert_in_range(sent, SACN_BATCH * 3 / 4, SACN_BATCH);
        lost += (uint64_t)(SACN_BATCH - sent);
        for (size_t i = 0; i < SACN_BATCH; i++) {
            size_t path_count = sacn_sender_paths(sender, i, paths);
            if (i % 4 != DEAD)
                assert_int_equal(path_count, 1);
            if (i % 4 == DEAD || (i % 4 == 3 && i != 3))
                continue;             /* of the groups, that of universe 4 is listened to */
            receive(fds[i % 4]);
            assert_got(i, &paths[0]);
        }
        if (batch == BATCHES - 1)
            assert_int_equal(sent, SACN_BATCH * 3 / 4);      /* it is full */
    }
    assert_int_equal(sacn_sender_lost(sender), lost);
    sacn_sender_close(sender);
    for (int i = 0; i < 4; i++)
        if (i != DEAD)
            close(fds[i]);
}

static void an_interface_that_is_gone_leaves_the_others_alone(void **state)
{
    (void)state;
    const struct sacn_target target = { .interfaces = { "ob", "oa" }, .interface_count = 2 };
    struct sacn_sender *sender = open_sender(&target);
    struct sacn_path paths[SACN_INTERFACES];
    struct rig_why why;
    int fd = join_there(1, false, "ta");
    assert_true(cables_run("ip link set ob down"));
    assert_int_equal(sacn_sender_send(sender, datagrams, 8, NULL), 8);
    assert_int_equal(sacn_sender_lost(sender), 8);
    assert_int_equal(sacn_sender_paths(sender, 0, paths), 1);
    assert_address(&paths[0].from, "10.77.1.1");
    receive(fd);
    assert_got(0, &paths[0]);
    assert_true(cables_run("ip link set oa down"));
    assert_int_equal(sacn_sender_send(sender, datagrams, 8, &why), RIG_ENET);
    assert_string_equal(why.text, "cannot send on oa: Network is unreachable");
    assert_int_equal(sacn_sender_paths(sender, 0, paths), 0);
    assert_true(cables_run("ip link set oa up && ip link set ob up"));
    assert_int_equal(sacn_sender_send(sender, datagrams, 8, NULL), 16);
    receive(fd);
    /* Now the network is there, and a batch of which nothing can go because one host has no route does not end a run. */
    union sacn_address nowhere;
    assert_true(sacn_address_parse("10.78.0.1", SACN_PORT, &nowhere));
    datagrams[0].address = &nowhere;
    assert_int_equal(sacn_sender_send(sender, datagrams, 1, NULL), 0);
    sacn_sender_close(sender);
    close(fd);
    assert_true(cables_run("ip link del oa && ip link del ob") && cables_lay("a", 1) && cables_lay("b", 2));
}

static void an_interface_without_an_address_is_named(void **state)
{
    (void)state;
    static const struct { struct sacn_target target; const char *text; } cases[] = {
        { { .interfaces = { "oa", "od" }, .interface_count = 2 }, "interface od has no IPv4 address" },
        { { .interfaces = { "oa", "od" }, .interface_count = 2, .ipv6 = true }, "interface od has no IPv6 address" },
        { { .interfaces = { "td" }, .interface_count = 1 }, "interface td is down" },
        { { .to = "10.78.0.1" }, "no route to 10.78.0.1 (Network is unreachable); name an interface that has one" },
    };
    assert_true(cables_run("ip link add od type veth peer name td && ip link set od up && ip addr flush dev od"));
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct sacn_sender *sender;
        struct rig_why why;
        assert_int_equal(sacn_sender_open(&cases[i].target, &sender, &why), RIG_ENET);
        assert_string_equal(why.text, cases[i].text);
    }
    assert_true(cables_run("ip link del od"));
}

/* ---- the look ---- */

struct rival { const char *from; uint16_t universe; bool ipv6; };

/* Send one packet of priority 150 from an address of theirs, to its group. */
static void send_rival(const struct rival *rival)
{
    uint8_t packet[SACN_DATA_SIZE];
    struct sacn_source source;
    union sacn_address from, group;
    sacn_source_init(&source, (const uint8_t[16]){ 2 }, "another source");
    sacn_data_init(packet, &source, rival->universe, 150);
    assert_true(cables_enter(cables_theirs));
    assert_true(sacn_address_parse(rival->from, 0, &from));
    sacn_group_address(rival->universe, rival->ipv6, SACN_PORT, &group);
    int fd = socket(from.any.sa_family, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    bool on_a = strstr(rival->from, ".1.") || strstr(rival->from, ":1::");
    const struct ip_mreqn out = { .imr_ifindex = (int)if_nametoindex(on_a ? "ta" : "tb") };
    assert_int_equal(bind(fd, &from.any, size_of(&from)), 0);
    if (rival->ipv6)
        set(fd, IPPROTO_IPV6, IPV6_MULTICAST_IF, out.imr_ifindex);
    else
        assert_int_equal(setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out), 0);
    assert_int_equal(sendto(fd, packet, sizeof packet, 0, &group.any, size_of(&group)), sizeof packet);
    close(fd);
    assert_true(cables_enter(cables_ours));
}

static const struct rival rivals_there[] = {
    { "10.77.1.2", 1, false }, { "10.77.2.2", 2, false }, { "2001:db8:1::2", 3, true }, { "2001:db8:2::2", 4, true },
};

static bool send_rivals(void *context)
{
    (void)context;
    for (size_t i = 0; i < sizeof rivals_there / sizeof *rivals_there; i++)
        send_rival(&rivals_there[i]);
    return false;
}

static void the_look_covers_all_interfaces_and_families(void **state)
{
    (void)state;
    static const struct { struct sacn_target target; const char *found; } cases[] = {
        { { .interfaces = { "oa" }, .interface_count = 1 }, "1" },
        { { .interfaces = { "ob" }, .interface_count = 1 }, "2" },
        { { .interfaces = { "oa", "ob" }, .interface_count = 2 }, "12" },
        { { .interfaces = { "ob" }, .interface_count = 1, .ipv6 = true }, "24" },
        { { .interfaces = { "oa", "ob" }, .interface_count = 2, .ipv6 = true }, "1234" },
        { { .to = "10.77.2.2" }, "2" },
        { { .to = "2001:db8:1::2" }, "13" },
        { { .to = "10.77.2.2", .interfaces = { "oa" }, .interface_count = 1 }, "1" },
        { { .to = "fe80::2%ob" }, "24" },
    };
    static const uint16_t universes[] = { 1, 2, 3, 4 };
    static const uint8_t priorities[] = { 100, 100, 100, 100 }, own_cid[16] = { 1 };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        char found[8] = "";
        struct sacn_rival *rivals;
        struct rig_why why;
        size_t count;
        if (sacn_look(&cases[c].target, universes, priorities, 4, own_cid, 0.3, send_rivals, NULL, &rivals, &count, &why) != 0)
            fail_msg("%s", why.text);
        for (size_t i = 0; i < count; i++) {
            found[i] = (char)('0' + rivals[i].universe);
            assert_string_equal(rivals[i].address, rivals_there[rivals[i].universe - 1].from);
        }
        assert_string_equal(found, cases[c].found);
        free(rivals);
    }
}

#define TEST(name) cmocka_unit_test_setup(name, build_packets)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(multicast_leaves_on_every_interface),
        TEST(ipv6_multicast_leaves_on_every_interface),
        TEST(a_batch_to_a_host_arrives_octet_for_octet),
        TEST(a_batch_to_a_host_is_one_message),
        TEST(a_path_of_small_packets_loses_nothing),
        TEST(a_dead_neighbour_holds_up_nobody),
        TEST(an_interface_that_is_gone_leaves_the_others_alone),
        TEST(an_interface_without_an_address_is_named),
        TEST(the_look_covers_all_interfaces_and_families),
    };
    if (!cables_make())
        return 77;
    return cmocka_run_group_tests(tests, lay_cables, NULL);
}
