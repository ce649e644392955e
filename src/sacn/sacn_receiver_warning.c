/* What a person should know about a receiver. */
#include "sacn_receiver_internal.h"

#include <stdarg.h>
#include <stdio.h>
#include <sys/stat.h>

/* What the kernel counts for a full packet in a receive buffer, with headers and its own structures: 1,280 octets where it comes
 * by IPv4 over loopback (the default buffer of 212,992 holds 166), 2,304 by IPv6; a driver that gives it a page counts more. */
#define LEAST_COST 1280
#define USUAL_COST 2304

struct text { char *at; size_t size, used; };

static __attribute__((format(printf, 2, 0))) void put(struct text *text, const char *format, va_list arguments)
{
    size_t used = text->used < text->size ? text->used : text->size;
    int written = vsnprintf(text->at + used, text->size - used, format, arguments);
    text->used += written > 0 ? (size_t)written : 0;
}

static __attribute__((format(printf, 2, 3))) void add(struct text *text, const char *format, ...)
{
    va_list arguments;
    if (text->used > 0 && *format != ';')
        add(text, "; ");
    va_start(arguments, format);
    put(text, format, arguments);
    va_end(arguments);
}

/* Whether a line of /proc/net/udp or udp6 is a socket on the port that takes unicast and is not the one of this inode. */
static bool is_other(const char *line, unsigned port, unsigned long own_inode)
{
    char address[33];
    unsigned on;
    unsigned long inode;
    uint32_t first;
    if (sscanf(line, " %*u: %32[0-9A-F]:%X %*s %*s %*s %*s %*s %*u %*u %lu", address, &on, &inode) != 3 || on != port ||
        inode == own_inode)
        return false;
    address[8] = '\0';
    if (sscanf(address, "%X", &first) != 1)      /* the first four octets as they lie in memory */
        return false;
    uint8_t octets[4];
    memcpy(octets, &first, sizeof octets);
    return (octets[0] & 0xf0) != 0xe0 && octets[0] != 0xff;
}

static bool others_on_port(const struct sacn_receiver *receiver, const char *list)
{
    char line[512];
    struct stat own;
    bool found = false;
    FILE *file = fopen(list, "re");
    if (!file)
        return false;
    if (fstat(receiver->main.fd, &own) == 0)
        while (!found && fgets(line, sizeof line, file))
            found = is_other(line, receiver->port, (unsigned long)own.st_ino);
    fclose(file);
    return found;
}

size_t sacn_receiver_warning(const struct sacn_receiver *receiver, char *text, size_t size)
{
    struct text all = { text, size, 0 };
    if (size > 0)
        text[0] = '\0';
    if (receiver->granted < receiver->asked)
        add(&all, "the receive buffer is %u octets (%u to %u full packets), %u were asked for; bursts may be lost; to raise it: "
            "sysctl -w net.core.rmem_max=%u", receiver->granted, 2 * receiver->granted / USUAL_COST,
            2 * receiver->granted / LEAST_COST, receiver->asked, receiver->asked);
    if (others_on_port(receiver, "/proc/self/net/udp") || others_on_port(receiver, "/proc/self/net/udp6"))
        add(&all, "another program on this host has port %u open; packets sent to this host's own address may go to it and are then "
            "not heard here; multicast is", receiver->port);
    for (uint32_t i = 0; i < receiver->flood_count; i++)
        add(&all, "universe %u floods; it has a queue of its own so that the others are heard", receiver->floods[i].universe);
    return all.used;
}
