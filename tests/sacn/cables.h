/* Two network namespaces, "ours" and "theirs", joined by virtual cables, held by one process: a socket belongs to the namespace in
 * which it was made. Nothing leaves them. Needs root and the program `ip`. */
#ifndef RIGCALL_TESTS_CABLES_H
#define RIGCALL_TESTS_CABLES_H

#include <fcntl.h>
#include <sched.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static int cables_ours = -1, cables_theirs = -1;

static inline bool cables_enter(int space)
{
    return setns(space, CLONE_NEWNET) == 0;
}

static inline bool cables_run(const char *format, ...) __attribute__((format(printf, 1, 2)));
static inline bool cables_run(const char *format, ...)
{
    char command[512];
    va_list args;
    va_start(args, format);
    vsnprintf(command, sizeof command, format, args);
    va_end(args);
    return system(command) == 0;
}

/* A setting of the namespace that this process is in: "ipv4/ip_default_ttl". */
static inline bool cables_setting(const char *name, const char *value)
{
    char path[128];
    snprintf(path, sizeof path, "/proc/sys/net/%s", name);
    FILE *file = fopen(path, "w");
    bool done = file && fputs(value, file) >= 0;
    return file && fclose(file) == 0 && done;
}

static inline int cables_space(void)
{
    if (unshare(CLONE_NEWNET) != 0)
        return -1;
    /* An IPv6 address is not looked for at others first, so that it can be used at once. */
    cables_setting("ipv6/conf/all/accept_dad", "0");
    cables_setting("ipv6/conf/default/accept_dad", "0");
    cables_run("ip link set lo up");
    return open("/proc/self/ns/net", O_RDONLY | O_CLOEXEC);
}

/* Make both and go to ours. @return false with the reason on stderr where they are not to be had */
static inline bool cables_make(void)
{
    if (!cables_run("ip -V >/dev/null 2>&1") || geteuid() != 0) {
        fprintf(stderr, "SKIP: needs root and the program ip\n");
        return false;
    }
    cables_theirs = cables_space();
    cables_ours = cables_theirs < 0 ? -1 : cables_space();
    if (cables_ours < 0)
        perror("SKIP: a network namespace is not to be had here");
    return cables_ours >= 0;
}

/* Both ends are up before they get addresses: a kernel of today (6.18) gives an interface that comes up with one no route for
 * IPv6 multicast. */
static inline bool cables_address(const char *interface, int net, int host)
{
    return cables_run("ip addr add 10.77.%d.%d/24 dev %s && ip addr add 2001:db8:%d::%d/64 dev %s nodad && "
                      "ip addr add fe80::%d/64 dev %s nodad", net, host, interface, net, host, interface, host, interface);
}

/* A cable from interface o<name> of ours to t<name> of theirs, with addresses 10.77.<net>.1 and .2, 2001:db8:<net>::1 and ::2,
 * fe80::1 and fe80::2. */
static inline bool cables_lay(const char *name, int net)
{
    char ours[16], theirs[16];
    snprintf(ours, sizeof ours, "o%s", name);
    snprintf(theirs, sizeof theirs, "t%s", name);
    return cables_run("ip link add %s type veth peer name %s netns /proc/%d/fd/%d && ip link set %s up", ours, theirs, (int)getpid(),
                      cables_theirs, ours) &&
           cables_enter(cables_theirs) && cables_run("ip link set %s up", theirs) && cables_address(theirs, net, 2) &&
           cables_enter(cables_ours) && cables_address(ours, net, 1);
}

#endif
