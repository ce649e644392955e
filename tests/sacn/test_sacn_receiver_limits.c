/* What the receiver does at its limits: buffers, descriptors, memberships, floods; and what it says. */
#include "sacn/test_sacn_receiver.h"

#include <linux/capability.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>

enum { FLOOD = 1000 };

static unsigned rmem_max;            /* not told inside a namespace by every kernel */

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

static void expect_warning(const struct sacn_receiver *receiver, const char *text)
{
    char warning[1024], cut[10];
    assert_int_equal(sacn_receiver_warning(receiver, warning, sizeof warning), strlen(text));
    assert_string_equal(warning, text);
    assert_int_equal(sacn_receiver_warning(receiver, cut, sizeof cut), strlen(text));
    assert_int_equal(strncmp(cut, text, sizeof cut - 1), 0);
    assert_int_equal(strlen(cut), strlen(text) < sizeof cut ? strlen(text) : sizeof cut - 1);
}

/* Full packets to a universe, as fast as can be; every hundredth to the next one. */
static void flood(uint16_t universe, bool ipv6)
{
    static uint8_t octets[FLOOD][4], rest[SACN_DATA_SIZE - 4];
    static struct mmsghdr messages[FLOOD];
    static struct iovec parts[FLOOD][2];
    static union sacn_address to[2];
    const int index = (int)if_nametoindex("ra0"), fd = socket(ipv6 ? AF_INET6 : AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    const struct ip_mreqn out = { .imr_ifindex = index };
    assert_int_equal(ipv6 ? setsockopt(fd, IPPROTO_IPV6, IPV6_MULTICAST_IF, &index, sizeof index) :
                            setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &out, sizeof out), 0);
    for (uint16_t i = 0; i < 2; i++)
        sacn_group_address((uint16_t)(universe + i), ipv6, SACN_PORT, &to[i]);
    for (size_t i = 0; i < FLOOD; i++) {
        uint16_t mark = (uint16_t)(universe + (i % 100 == 99));
        memcpy(octets[i], (uint8_t[]){ (uint8_t)(mark >> 8), (uint8_t)mark, (uint8_t)(++sent_number >> 8), (uint8_t)sent_number }, 4);
        parts[i][0] = (struct iovec){ octets[i], 4 };
        parts[i][1] = (struct iovec){ rest, sizeof rest };
        messages[i].msg_hdr = (struct msghdr){ .msg_name = &to[mark != universe], .msg_namelen = ipv6 ? sizeof to->v6 : sizeof to->v4,
                                               .msg_iov = parts[i], .msg_iovlen = 2 };
    }
    for (unsigned done = 0; done < FLOOD;) {
        int taken = sendmmsg(fd, messages + done, FLOOD - done, 0);
        assert_true(taken > 0);
        done += (unsigned)taken;
    }
    close(fd);
}

/* One group floods: after a while it has a queue of its own, and drops nothing but its own. */
static void a_flood_does_not_drown_the_others(void **state)
{
    bool ipv6 = *state != NULL;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1, .ipv6 = ipv6, .buffer = 200000 };
    const uint16_t universes[] = { 1, 2, 3, 4 };
    struct sacn_receiver_state now;
    struct sacn_receiver *receiver = open_on(&options, universes, 4);
    int64_t end = now_ns() + WAIT_MS * 1000000ll;
    do {
        flood(1, ipv6);
        heard_count = 0;
        assert_true(sacn_receiver_read(receiver, 100, keep, NULL, NULL) >= 0);
        sacn_receiver_state(receiver, &now);
    } while (now.floods == 0 && now_ns() < end);
    assert_int_equal(now.floods, 1);
    assert_int_equal(now.flooded[0], 1);
    for (size_t i = 0; i < 5; i++)               /* to its own queue; the common one holds older ones */
        send_group("ra0", 1, ipv6, SACN_DATA_SIZE);
    while (sacn_receiver_read(receiver, 10000, keep, NULL, NULL) > 0)
        continue;
    assert_true(heard_count > 100 + 5);
    for (size_t i = 1; i < heard_count; i++)     /* the difference, so that the count may wrap */
        assert_true((int16_t)(number_of(i) - number_of(i - 1)) > 0);
    sacn_receiver_state(receiver, &now);
    uint64_t before = now.dropped;
    heard_count = 0;
    flood(1, ipv6);                              /* ten of them are universe 2 */
    for (uint16_t universe = 3; universe <= 4; universe++)
        send_group("ra0", universe, ipv6, SACN_DATA_SIZE);
    do {
        assert_true(sacn_receiver_read(receiver, 10000, keep, NULL, NULL) >= 0);
        sacn_receiver_state(receiver, &now);
    } while (heard_count + now.dropped - before < FLOOD + 2 && now_ns() < end);
    size_t others = 0;
    for (size_t i = 0; i < heard_count; i++)
        others += mark_of(i) != 1;
    assert_int_equal(others, 10 + 2);
    expect_warning(receiver, "universe 1 floods; it has a queue of its own so that the others are heard");
    assert_true(now.dropped > before);
    assert_int_equal(heard_count + now.dropped - before, FLOOD + 2);      /* and nothing comes twice */
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

static void another_program_on_the_port_is_told(void **state)
{
    (void)state;
    static const char *const here[] = { "0.0.0.0", "10.77.1.1", "::", "::1" };
    struct sacn_receiver *receiver = open_one("ra0", 5);
    union sacn_address group;
    char text[SACN_ADDRESS_TEXT];
    sacn_group_address(5, false, SACN_PORT, &group);
    sacn_address_text(&group, text);
    int other = open_other(text, 5, "ra0");       /* takes no unicast */
    expect_warning(receiver, "");
    close(other);
    for (size_t i = 0; i < 4; i++) {
        other = open_other(here[i], 1, NULL);
        expect_warning(receiver, "another program on this host has port 5568 open; packets sent to this host's own address may go to "
                       "it and are then not heard here; multicast is");
        close(other);
    }
    sacn_receiver_close(receiver);
}

/* Run a body in a process of its own: limits and rights that are given up cannot be had back. */
static void run_apart(int (*body)(void))
{
    int status;
    fflush(NULL);
    pid_t child = fork();
    if (child == 0)
        _exit(body());
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

/* Nobody may go past net.core.rmem_max. 2,304 octets of twice the buffer hold a packet, or 1,280 do. */
static int open_as_nobody(void)
{
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1, .buffer = rmem_max + 4096 };
    const uint16_t universe = 5;
    struct __user_cap_header_struct header = { .version = _LINUX_CAPABILITY_VERSION_3 };
    struct __user_cap_data_struct none[2] = { { 0, 0, 0 } };
    struct sacn_receiver *receiver;
    char expected[512], warning[512];
    if (syscall(SYS_capset, &header, none) != 0 || sacn_receiver_open(&options, &universe, 1, &receiver, NULL) != 0)
        return 2;
    snprintf(expected, sizeof expected, "the receive buffer is %u octets (%u to %u full packets), %u were asked for; bursts may be "
             "lost; to raise it: sysctl -w net.core.rmem_max=%u", rmem_max, rmem_max * 2 / 2304, rmem_max * 2 / 1280,
             rmem_max + 4096, rmem_max + 4096);
    sacn_receiver_warning(receiver, warning, sizeof warning);
    sacn_receiver_close(receiver);
    return strcmp(warning, expected) == 0 ? 0 : 1;
}

static void a_smaller_buffer_is_told(void **state)
{
    (void)state;
    run_apart(open_as_nobody);
}

/* As on a kernel without IPv6. */
static int hear_without_ipv6(void)
{
    struct sock_filter program[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_socket, 0, 3),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, args[0])),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, AF_INET6, 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ERRNO | EAFNOSUPPORT),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
    };
    const struct sock_fprog filter = { sizeof program / sizeof *program, program };
    const uint16_t universe = 5;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1 };
    const struct sacn_receiver_options v6 = { .interfaces = { "ra0" }, .interface_count = 1, .ipv6 = true };
    struct sacn_receiver *receiver;
    struct rig_why why;
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 || prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) != 0)
        return 2;
    if (sacn_receiver_open(&v6, &universe, 1, &receiver, &why) != RIG_ENET ||
        strcmp(why.text, "cannot listen on port 5568: socket: Address family not supported by protocol") != 0 ||
        sacn_receiver_open(&options, &universe, 1, &receiver, NULL) != 0)
        return 3;
    int other = open_other("10.77.1.1", 6, "ra0");
    heard_count = 0;
    send_group("ra0", 6, false, 64);
    send_group("ra0", 5, false, 64);
    send_unicast("127.0.0.1", SACN_PORT, 77);
    while (heard_count < 2 && is_readable(receiver, WAIT_MS))
        sacn_receiver_read(receiver, 1000, keep, NULL, NULL);
    sacn_receiver_close(receiver);
    close(other);
    return heard_count == 2 && mark_of(0) == 5 && mark_of(1) == 77 && heard[0].from.any.sa_family == AF_INET ? 0 : 1;
}

static void a_kernel_without_ipv6_will_do(void **state)
{
    (void)state;
    run_apart(hear_without_ipv6);
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
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    const struct sockaddr_in any = { .sin_family = AF_INET, .sin_port = htons(SACN_PORT) };
    assert_int_equal(bind(fd, (const struct sockaddr *)&any, sizeof any), 0);
    expect_no_receiver(&one, 1, "cannot listen on port 5568: binding it (does another program hold the port for itself?): "
                       "Address already in use");
    close(fd);
}

/* The kernel counts the octets of IPv6 memberships against net.core.optmem_max, where a namespace has its own: some kernels'. */
static void ipv6_groups_overflow_too(void **state)
{
    (void)state;
    const struct sacn_receiver_options options = { .interfaces = { "ra0" }, .interface_count = 1, .ipv6 = true };
    struct sacn_receiver_state now;
    uint16_t universes[200];
    for (size_t i = 0; i < 200; i++)
        universes[i] = (uint16_t)(i + 1);
    if (!link_setting("core/optmem_max", "4096"))
        skip();
    struct sacn_receiver *receiver = open_on(&options, universes, 200);
    sacn_receiver_state(receiver, &now);
    assert_int_equal(now.groups, 201);
    assert_true(now.sockets > 2);
    for (size_t i = 0; i < 200; i++)
        send_group("ra0", universes[i], true, 64);
    hear(receiver, 200);
    sacn_receiver_close(receiver);
    assert_true(link_setting("core/optmem_max", "1"));
    expect_no_receiver(&options, 30, "joined 0 of 31 groups; the kernel lets a socket join no group: sysctl -w "
                       "net.core.optmem_max=6080");
    assert_true(link_setting("core/optmem_max", "131072"));
}

/* Room for the socket that reads, its epoll, its timer and three sockets of 20 groups. */
static rlim_t few_descriptors(void)
{
    int lowest = dup(0);
    close(lowest);
    return (rlim_t)lowest + 6;
}

static int open_with_few_descriptors(void)
{
    const struct sacn_receiver_options one = { .interfaces = { "ra0" }, .interface_count = 1 };
    const rlim_t few = few_descriptors();
    char expected[512];
    uint16_t universes[100];
    struct sacn_receiver *receiver;
    struct rig_why why = { .text = "" };
    for (size_t i = 0; i < 100; i++)
        universes[i] = (uint16_t)(i + 1);
    snprintf(expected, sizeof expected, "joined 60 of 101 groups on 3 sockets; this process may have no more than %llu descriptors: "
             "raise that (ulimit -n), or let a socket join more groups: sysctl -w net.ipv4.igmp_max_memberships=101",
             (unsigned long long)few);
    if (setrlimit(RLIMIT_NOFILE, &(struct rlimit){ few, few }) != 0)
        return 2;
    int error = sacn_receiver_open(&one, universes, 100, &receiver, &why);
    if (error != RIG_ENET || strcmp(why.text, expected) != 0)
        fprintf(stderr, "%d: %s\n", error, why.text);
    return error == RIG_ENET && strcmp(why.text, expected) == 0 ? 0 : 1;
}

static void the_last_descriptor_is_said(void **state)
{
    (void)state;
    run_apart(open_with_few_descriptors);
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
        cmocka_unit_test(drops_are_counted),
        cmocka_unit_test(a_flood_does_not_drown_the_others),
        { "a_flood_does_not_drown_the_others, IPv6", a_flood_does_not_drown_the_others, NULL, NULL, &ipv6 },
        cmocka_unit_test(another_program_on_the_port_is_told), cmocka_unit_test(a_smaller_buffer_is_told),
        cmocka_unit_test(a_kernel_without_ipv6_will_do), cmocka_unit_test(what_cannot_be_had_is_said), cmocka_unit_test(ipv6_groups_overflow_too), cmocka_unit_test(the_last_descriptor_is_said),
        cmocka_unit_test(the_soft_limit_is_raised_and_put_back),
    };
    FILE *file = fopen("/proc/sys/net/core/rmem_max", "r");
    if (!file || fscanf(file, "%u", &rmem_max) != 1 || fclose(file) != 0) {
        fprintf(stderr, "SKIP: /proc/sys/net/core/rmem_max is not to be had here\n");
        return 77;
    }
    if (!netspace_enter()) {
        fprintf(stderr, "SKIP: a network namespace is not to be had here (%s)\n", strerror(errno));
        return 77;
    }
    return cmocka_run_group_tests(tests, set_up, NULL);
}
