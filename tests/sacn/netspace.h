/* A network namespace of the test's own, with nothing in it but loopback: multicast never leaves the test. */
#ifndef RIGCALL_TESTS_NETSPACE_H
#define RIGCALL_TESTS_NETSPACE_H

#include <net/if.h>
#include <sched.h>
#include <stdbool.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>

static inline bool netspace_loopback(bool up)
{
    struct ifreq request;
    memset(&request, 0, sizeof request);
    strcpy(request.ifr_name, "lo");
    request.ifr_flags = up ? IFF_UP : 0;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool done = fd >= 0 && ioctl(fd, SIOCSIFFLAGS, &request) == 0;
    if (fd >= 0)
        close(fd);
    return done;
}

/* Move this process into a new namespace, with a user namespace when it is not root. @return false where that is forbidden */
static inline bool netspace_enter(void)
{
    return unshare(CLONE_NEWNET) == 0 || unshare(CLONE_NEWUSER | CLONE_NEWNET) == 0;
}

#endif
