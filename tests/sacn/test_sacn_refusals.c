/* What the sender does when the kernel refuses: sendmmsg() is replaced here and refuses as it is told; what it lets through goes
 * over loopback. Error numbers: udp(7), send(2), and net/ipv4/udp.c of Linux for those of UDP_SEGMENT. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>
#include <cmocka.h>

#include "rigcall/sacn.h"

static struct kernel {
    int cut_error;                    /* for messages that it would have to cut up, from the cut_from-th message on */
    unsigned cut_from;
    int error;                        /* for the message at `error_at` and, if `all`, those behind it */
    unsigned error_at;
    bool all;
    unsigned calls, taken, largest;   /* largest: datagrams in one message */
} kernel;

int sendmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags)
{
    unsigned allowed = 0;
    int error = 0;
    kernel.calls++;
    for (; allowed < count && !error; allowed += !error) {
        unsigned number = kernel.taken + allowed;
        if (messages[allowed].msg_hdr.msg_iovlen > kernel.largest)
            kernel.largest = (unsigned)messages[allowed].msg_hdr.msg_iovlen;
        if (messages[allowed].msg_hdr.msg_control && kernel.cut_error && number >= kernel.cut_from)
            error = kernel.cut_error;
        if (kernel.error && (number == kernel.error_at || (kernel.all && number > kernel.error_at)))
            error = kernel.error;
    }
    if (allowed == 0) {
        if (error == kernel.error)
            kernel.taken++;           /* the sender goes on behind it */
        errno = error;
        return -1;
    }
    int sent = (int)syscall(SYS_sendmmsg, fd, messages, allowed, flags);
    assert_int_equal(sent, allowed);
    kernel.taken += allowed;
    return sent;
}

enum { COUNT = 20, FIRST_RUN = 10 };             /* ten datagrams of 638 octets, ten of 120 */
static uint8_t octets[COUNT][SACN_DATA_SIZE];
static struct sacn_datagram datagrams[COUNT];
static struct sacn_sender *sender;
static int receiver;

static int set_up(void **state)
{
    (void)state;
    struct sockaddr_in here = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    socklen_t size = sizeof here;
    receiver = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (receiver < 0 || bind(receiver, (struct sockaddr *)&here, size) != 0 ||
        getsockname(receiver, (struct sockaddr *)&here, &size) != 0)
        return -1;
    for (uint16_t i = 0; i < COUNT; i++) {
        memset(octets[i], i + 1, sizeof octets[i]);
        datagrams[i] = (struct sacn_datagram){ .bytes = octets[i], .length = i < FIRST_RUN ? 638 : 120,
                                               .universe = (uint16_t)(i + 1) };
    }
    kernel = (struct kernel){ 0 };
    const struct sacn_target target = { .to = "127.0.0.1", .port = ntohs(here.sin_port) };
    return sacn_sender_open(&target, &sender, NULL);
}

static int tear_down(void **state)
{
    (void)state;
    sacn_sender_close(sender);
    return close(receiver);
}

static void expect(size_t from, size_t end)
{
    for (size_t i = from; i < end; i++) {
        uint8_t got[SACN_DATA_SIZE + 1];
        assert_int_equal(recv(receiver, got, sizeof got, MSG_DONTWAIT), datagrams[i].length);
        assert_memory_equal(got, octets[i], datagrams[i].length);
    }
}

static void expect_no_more(void)
{
    uint8_t octet;
    assert_int_equal(recv(receiver, &octet, 1, MSG_DONTWAIT), -1);
}

/* EIO: no checksums by the device. EINVAL, EMSGSIZE: a path of small packets. ENOPROTOOPT, EOPNOTSUPP: not known after all. */
static void refused_offload_loses_and_doubles_nothing(void **state)
{
    (void)state;
    static const int errors[] = { EIO, EINVAL, EMSGSIZE, ENOPROTOOPT, EOPNOTSUPP };
    for (size_t e = 0; e < sizeof errors / sizeof *errors; e++)
        for (unsigned from = 0; from < 2; from++) {
            tear_down(state);
            assert_int_equal(set_up(state), 0);
            kernel.cut_error = errors[e];
            kernel.cut_from = from;
            assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT);
            expect(0, COUNT);
            expect_no_more();
            if (kernel.largest == 1)
                skip();               /* a kernel without it: there was nothing to refuse */
            assert_int_equal(kernel.largest, FIRST_RUN);
            kernel.largest = 0;
            assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT);
            assert_int_equal(kernel.largest, 1);             /* it is not asked again */
            expect(0, COUNT);
            assert_int_equal(sacn_sender_lost(sender), 0);
        }
}

/* Two runs, so two messages. EAGAIN, ENOBUFS: the buffer is full. */
static void a_full_socket_is_left_alone(void **state)
{
    (void)state;
    static const int errors[] = { EAGAIN, ENOBUFS };
    for (size_t e = 0; e < 2; e++) {
        tear_down(state);
        assert_int_equal(set_up(state), 0);
        kernel.error = errors[e];
        kernel.error_at = 1;
        kernel.all = true;
        assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), FIRST_RUN);
        assert_int_equal(kernel.calls, 2);
        assert_int_equal(sacn_sender_lost(sender), COUNT - FIRST_RUN);
        expect(0, FIRST_RUN);
        expect_no_more();
        kernel = (struct kernel){ .error = errors[e], .all = true };
        assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), 0);
        assert_int_equal(kernel.calls, 1);
        kernel = (struct kernel){ 0 };           /* it has room again */
        assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT);
        expect(0, COUNT);
        assert_int_equal(sacn_sender_lost(sender), COUNT - FIRST_RUN + COUNT);
    }
}

/* A packet filter's EPERM, a refused message's ECONNREFUSED: only that message is lost. */
static void one_refused_message_is_passed_over(void **state)
{
    (void)state;
    kernel.cut_error = EIO;                      /* one datagram a message */
    assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT);
    expect(0, COUNT);
    kernel = (struct kernel){ .error = EPERM, .error_at = 7 };
    struct sacn_path paths[SACN_INTERFACES];
    assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT - 1);
    expect(0, 7);
    expect(8, COUNT);
    for (size_t i = 0; i < COUNT; i++)
        assert_int_equal(sacn_sender_paths(sender, i, paths), i != 7);
    assert_int_equal(sacn_sender_lost(sender), 1);
    kernel = (struct kernel){ .error = ECONNREFUSED, .error_at = 0 };
    assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, NULL), COUNT - 1);
    expect(1, COUNT);
}

static void a_network_that_is_gone_is_told(void **state)
{
    (void)state;
    struct rig_why why;
    kernel = (struct kernel){ .error = ENETUNREACH, .all = true };
    assert_int_equal(sacn_sender_send(sender, datagrams, COUNT, &why), RIG_ENET);
    assert_string_equal(why.text, "cannot send to 127.0.0.1: Network is unreachable");
    assert_int_equal(sacn_sender_lost(sender), COUNT);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(refused_offload_loses_and_doubles_nothing),
        TEST(a_full_socket_is_left_alone),
        TEST(one_refused_message_is_passed_over),
        TEST(a_network_that_is_gone_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
