/* Pairs of virtual Ethernet interfaces in the test's own network namespace, made over netlink. */
#ifndef RIGCALL_TESTS_RECEIVER_LINKS_H
#define RIGCALL_TESTS_RECEIVER_LINKS_H

#include <arpa/inet.h>
#include <linux/if_link.h>
#include <linux/ipv6.h>
#include <linux/rtnetlink.h>
#include <linux/veth.h>
#include <stdint.h>
#include <stdio.h>

#include "sacn/netspace.h"

struct link_request { struct nlmsghdr header; uint8_t body[512]; };

static inline void *link_put(struct link_request *request, unsigned short type, const void *data, size_t size)
{
    struct rtattr *attribute = (struct rtattr *)((uint8_t *)request + NLMSG_ALIGN(request->header.nlmsg_len));
    attribute->rta_type = type;
    attribute->rta_len = (unsigned short)RTA_LENGTH(size);
    if (size > 0)
        memcpy(RTA_DATA(attribute), data, size);
    request->header.nlmsg_len = NLMSG_ALIGN(request->header.nlmsg_len) + RTA_ALIGN(attribute->rta_len);
    return attribute;
}

static inline void link_close(struct link_request *request, void *nest)
{
    ((struct rtattr *)nest)->rta_len = (unsigned short)((uint8_t *)request + request->header.nlmsg_len - (uint8_t *)nest);
}

static inline bool link_ask(const struct link_request *request)
{
    struct { struct nlmsghdr header; struct nlmsgerr error; uint8_t rest[1024]; } answer;
    int fd = socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC, NETLINK_ROUTE);
    bool done = fd >= 0 && send(fd, request, request->header.nlmsg_len, 0) == (ssize_t)request->header.nlmsg_len &&
                recv(fd, &answer, sizeof answer, 0) > 0 && answer.header.nlmsg_type == NLMSG_ERROR && answer.error.error == 0;
    if (fd >= 0)
        close(fd);
    return done;
}

static inline bool link_pair(const char *name, const char *peer)
{
    struct link_request request = { .header = { .nlmsg_len = NLMSG_LENGTH(sizeof(struct ifinfomsg)), .nlmsg_type = RTM_NEWLINK,
                                                .nlmsg_flags = NLM_F_REQUEST | NLM_F_ACK | NLM_F_CREATE | NLM_F_EXCL } };
    const struct ifinfomsg none = { .ifi_family = AF_UNSPEC };
    link_put(&request, IFLA_IFNAME, name, strlen(name) + 1);
    void *info = link_put(&request, IFLA_LINKINFO, NULL, 0);
    link_put(&request, IFLA_INFO_KIND, "veth", 4);
    void *data = link_put(&request, IFLA_INFO_DATA, NULL, 0);
    void *other = link_put(&request, VETH_INFO_PEER, &none, sizeof none);
    link_put(&request, IFLA_IFNAME, peer, strlen(peer) + 1);
    link_close(&request, other);
    link_close(&request, data);
    link_close(&request, info);
    return link_ask(&request);
}

static inline bool link_up(const char *name)
{
    struct ifreq request;
    memset(&request, 0, sizeof request);
    strcpy(request.ifr_name, name);
    request.ifr_flags = IFF_UP;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool done = fd >= 0 && ioctl(fd, SIOCSIFFLAGS, &request) == 0;
    close(fd);
    return done;
}

static inline bool link_address(const char *name, const char *text)
{
    struct ifreq request;
    struct sockaddr_in address = { .sin_family = AF_INET };
    memset(&request, 0, sizeof request);
    strcpy(request.ifr_name, name);
    inet_pton(AF_INET, text, &address.sin_addr);
    memcpy(&request.ifr_addr, &address, sizeof address);
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool done = fd >= 0 && ioctl(fd, SIOCSIFADDR, &request) == 0;
    close(fd);
    return done;
}

static inline bool link_address6(const char *name, const char *text)
{
    struct in6_ifreq request = { .ifr6_prefixlen = 64, .ifr6_ifindex = (int)if_nametoindex(name) };
    inet_pton(AF_INET6, text, &request.ifr6_addr);
    int fd = socket(AF_INET6, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool done = fd >= 0 && ioctl(fd, SIOCSIFADDR, &request) == 0;
    close(fd);
    return done;
}

/* A setting of this network namespace: "ipv4/igmp_max_memberships". */
static inline bool link_setting(const char *name, const char *value)
{
    char path[128];
    snprintf(path, sizeof path, "/proc/sys/net/%s", name);
    FILE *file = fopen(path, "w");
    bool done = file && fputs(value, file) >= 0;
    return file && fclose(file) == 0 && done;
}

#endif
