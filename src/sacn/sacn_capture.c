/* Captures: a pcap file with times in nanoseconds and raw IP packets, written through one buffer. No packet goes through
 * printf, and the UDP checksum adds eight octets at a time: a dry run writes over a million packets. */
#include "rigcall/sacn.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "sacn_internal.h"

#define BUFFER_SIZE (256 * 1024)
#define NANOSECOND_MAGIC 0xa1b23c4du /* pcap-savefile(5), host byte order */
#define LINKTYPE_RAW 101             /* packets begin with their IPv4 or IPv6 header */
#define SNAP_LENGTH 65535
#define V4_HEADER 20
#define V6_HEADER 40
#define UDP_HEADER 8
#define DONT_FRAGMENT 0x4000
#define PROTOCOL_UDP 17
#define LARGEST_PAYLOAD (SNAP_LENGTH - V6_HEADER - UDP_HEADER)

struct sacn_capture {
    int fd;
    bool owned;                      /* false for standard output */
    int failed;                      /* errno of the first write that did not work */
    uint16_t ident;
    uint64_t packets;
    size_t used;
    char name[256];
    uint8_t buffer[BUFFER_SIZE];
};

struct record { uint32_t seconds, nanoseconds, captured, length; };

static int flush(struct sacn_capture *capture)
{
    size_t at = 0;
    while (at < capture->used && !capture->failed) {
        ssize_t put = write(capture->fd, capture->buffer + at, capture->used - at);
        if (put >= 0)
            at += (size_t)put;
        else if (errno != EINTR)
            capture->failed = errno;
    }
    capture->used = 0;
    return capture->failed;
}

static int fail(const struct sacn_capture *capture, struct rig_why *why)
{
    return rig_fail(why, RIG_EIO, "%s: %s", capture->name, strerror(capture->failed));
}

int sacn_capture_open(const char *path, struct sacn_capture **out, struct rig_why *why)
{
    const struct { uint32_t magic; uint16_t major, minor; uint32_t zone, accuracy, snap, link; } header =
        { NANOSECOND_MAGIC, 2, 4, 0, 0, SNAP_LENGTH, LINKTYPE_RAW };
    struct sacn_capture *capture = calloc(1, sizeof *capture);
    *out = NULL;
    if (!capture)
        return rig_fail(why, RIG_ENOMEM, "no memory for a capture");
    capture->owned = strcmp(path, "-") != 0;
    strncpy(capture->name, capture->owned ? path : "standard output", sizeof capture->name - 1);
    capture->fd = capture->owned ? open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666) : STDOUT_FILENO;
    if (capture->fd < 0) {
        capture->failed = errno;
        int error = fail(capture, why);
        free(capture);
        return error;
    }
    memcpy(capture->buffer, &header, sizeof header);
    capture->used = sizeof header;
    *out = capture;
    return 0;
}

/* Ones' complement sum, RFC 1071. Any even number of octets may be added at a time and in host order (RFC 1071, 2B), so
 * whole 64-bit words with their carries are folded at the end. The result is in memory order. */
static uint64_t sum(uint64_t total, const uint8_t *octets, size_t length)
{
    uint64_t word;
    for (; length >= sizeof word; octets += sizeof word, length -= sizeof word) {
        memcpy(&word, octets, sizeof word);
        total += word;
        total += total < word;
    }
    word = 0;
    memcpy(&word, octets, length);
    total += word;
    return total + (total < word);
}

static uint16_t checksum(uint64_t total)
{
    total = (total & 0xffffffffu) + (total >> 32);
    total = (total & 0xffffffffu) + (total >> 32);
    total = (total & 0xffff) + (total >> 16);
    total = (total & 0xffff) + (total >> 16);
    total = (total & 0xffff) + (total >> 16);
    return (uint16_t)~total;
}

/* RFC 791, with the flags the kernel gives datagrams that fit (don't fragment). */
static void put_v4_header(uint8_t *ip, const struct sacn_path *path, size_t udp_length, uint16_t ident)
{
    memset(ip, 0, V4_HEADER);
    ip[0] = 0x45;
    ip[1] = (uint8_t)(path->dscp << 2);           /* RFC 2474 3 */
    put16(ip + 2, (unsigned)(V4_HEADER + udp_length));
    put16(ip + 4, ident);
    put16(ip + 6, DONT_FRAGMENT);
    ip[8] = path->ttl;
    ip[9] = PROTOCOL_UDP;
    memcpy(ip + 12, &path->from.v4.sin_addr, 4);
    memcpy(ip + 16, &path->to.v4.sin_addr, 4);
    uint16_t check = checksum(sum(0, ip, V4_HEADER));
    memcpy(ip + 10, &check, sizeof check);
}

/* RFC 8200 3: version 6, traffic class, flow label 0, and no extension headers. */
static void put_v6_header(uint8_t *ip, const struct sacn_path *path, size_t udp_length)
{
    put32(ip, 6u << 28 | (uint32_t)path->dscp << 22);
    put16(ip + 4, (unsigned)udp_length);
    ip[6] = PROTOCOL_UDP;
    ip[7] = path->ttl;
    memcpy(ip + 8, &path->from.v6.sin6_addr, 16);
    memcpy(ip + 24, &path->to.v6.sin6_addr, 16);
}

/* RFC 768 and RFC 8200 8.1: the checksum covers a pseudo header of both addresses, the UDP length and the protocol. The two
 * pseudo headers differ in zeros only.
 * @param addresses  both, in the header before */
static void put_udp_header(uint8_t *udp, const uint8_t *addresses, size_t address_octets, const struct sacn_path *path,
                           size_t length)
{
    bool v4 = path->to.any.sa_family == AF_INET;
    uint8_t protocol[4] = { 0, PROTOCOL_UDP };
    memcpy(udp, v4 ? &path->from.v4.sin_port : &path->from.v6.sin6_port, 2);
    memcpy(udp + 2, v4 ? &path->to.v4.sin_port : &path->to.v6.sin6_port, 2);
    put16(udp + 4, (unsigned)length);
    memset(udp + 6, 0, 2);
    put16(protocol + 2, (unsigned)length);
    uint16_t check = checksum(sum(sum(sum(0, addresses, address_octets), protocol, sizeof protocol), udp, length));
    if (check == 0)
        check = 0xffff;              /* 0 would say that there is no checksum */
    memcpy(udp + 6, &check, sizeof check);
}

int sacn_capture_write(struct sacn_capture *capture, int64_t time_ns, const struct sacn_path *path, const uint8_t *payload,
                       size_t length, struct rig_why *why)
{
    const bool v4 = path->to.any.sa_family == AF_INET;
    const size_t header = v4 ? V4_HEADER : V6_HEADER, whole = header + UDP_HEADER + length;
    assert(time_ns >= 0 && time_ns / 1000000000 <= UINT32_MAX && length <= LARGEST_PAYLOAD);
    assert(path->from.any.sa_family == path->to.any.sa_family && path->dscp <= 63);
    if (capture->failed || (capture->used + sizeof(struct record) + whole > BUFFER_SIZE && flush(capture) != 0))
        return fail(capture, why);
    const struct record record = { .seconds = (uint32_t)(time_ns / 1000000000), .nanoseconds = (uint32_t)(time_ns % 1000000000),
                                   .captured = (uint32_t)whole, .length = (uint32_t)whole };
    uint8_t *ip = capture->buffer + capture->used + sizeof record, *udp = ip + header;
    memcpy(capture->buffer + capture->used, &record, sizeof record);
    memcpy(udp + UDP_HEADER, payload, length);
    if (v4)
        put_v4_header(ip, path, UDP_HEADER + length, capture->ident++);
    else
        put_v6_header(ip, path, UDP_HEADER + length);
    put_udp_header(udp, v4 ? ip + 12 : ip + 8, v4 ? 8 : 32, path, UDP_HEADER + length);
    capture->used += sizeof record + whole;
    capture->packets++;
    return 0;
}

uint64_t sacn_capture_packets(const struct sacn_capture *capture)
{
    return capture->packets;
}

int sacn_capture_close(struct sacn_capture *capture, struct rig_why *why)
{
    int error = 0;
    if (!capture)
        return 0;
    flush(capture);
    if (capture->owned && close(capture->fd) != 0 && !capture->failed)
        capture->failed = errno;
    if (capture->failed)
        error = fail(capture, why);
    free(capture);
    return error;
}
