/* Waking up costs more than reading a packet. While datagrams come faster than one a millisecond or so, the descriptor that the
 * owner polls follows a timer instead of the sockets, so that some gather and are read together; their times are the kernel's and
 * lose nothing. When a turn finds nothing, it follows the sockets again. */
#include "sacn_receiver_internal.h"

#include <errno.h>
#include <sys/epoll.h>
#include <sys/timerfd.h>
#include <unistd.h>

#define GATHER_NS 1000000
/* A quarter of what fills the buffer: 2,304 octets of twice its size a packet, one in 5.4 us on a gigabit line (638 octets and 42
 * of headers, RFC 768, RFC 791 and IEEE 802.3). */
#define FILL_NS(granted) ((int64_t)(granted) * 2 / 2304 * 5400)

static int watch(const struct sacn_receiver *receiver, int fd, int operation)
{
    return epoll_ctl(receiver->epoll, operation, fd, &(struct epoll_event){ .events = receiver->gathering ? 0 : EPOLLIN });
}

int sacn__receiver_watch(struct sacn_receiver *receiver, int fd)
{
    return watch(receiver, fd, EPOLL_CTL_ADD);
}

int sacn__receiver_gather_init(struct sacn_receiver *receiver)
{
    int64_t quarter = FILL_NS(receiver->granted) / 4;
    receiver->gather_ns = quarter < GATHER_NS ? quarter + 1 : GATHER_NS;
    receiver->timer = timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
    if (receiver->timer < 0)
        return -1;
    return epoll_ctl(receiver->epoll, EPOLL_CTL_ADD, receiver->timer, &(struct epoll_event){ .events = EPOLLIN });
}

static void set_timer(const struct sacn_receiver *receiver, int64_t ns)
{
    timerfd_settime(receiver->timer, 0, &(struct itimerspec){ .it_value = { 0, ns } }, NULL);
}

static void follow(struct sacn_receiver *receiver, bool gathering)
{
    receiver->gathering = gathering;
    watch(receiver, receiver->main.fd, EPOLL_CTL_MOD);
    for (uint32_t i = 0; i < receiver->flood_count; i++)
        watch(receiver, receiver->floods[i].queue.fd, EPOLL_CTL_MOD);
}

void sacn__receiver_rest(struct sacn_receiver *receiver, bool found)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    int64_t now_ns = (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
    bool soon = found && now_ns - receiver->rested_ns < receiver->gather_ns;
    receiver->rested_ns = now_ns;
    if (receiver->gathering && !found) {
        set_timer(receiver, 0);
        follow(receiver, false);
    } else if (receiver->gathering || soon) {
        if (!receiver->gathering)
            follow(receiver, true);
        set_timer(receiver, receiver->gather_ns);
    }
}
