/* Addresses of both families: from text, to text, compared, and the multicast groups of universes. */
#include "rigcall/sacn.h"

#include <arpa/inet.h>
#include <assert.h>
#include <net/if.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sacn_internal.h"

/* A zone tells on which link an address of link scope is meant (RFC 4007 11); elsewhere it means nothing. */
static bool has_link_scope(const struct in6_addr *address)
{
    return IN6_IS_ADDR_LINKLOCAL(address) || IN6_IS_ADDR_MC_LINKLOCAL(address);
}

/* The name of an interface, or its number. @return 0 when it is neither */
static uint32_t zone_of(const char *text)
{
    char *end;
    uint32_t index = if_nametoindex(text);
    if (index != 0 || text[0] < '0' || text[0] > '9')
        return index;
    unsigned long number = strtoul(text, &end, 10);
    return *end == '\0' && number <= INT32_MAX ? (uint32_t)number : 0;
}

static bool parse_v6(const char *text, uint16_t port, struct sockaddr_in6 *out)
{
    char address[INET6_ADDRSTRLEN];
    size_t length = strcspn(text, "%");
    *out = (struct sockaddr_in6){ .sin6_family = AF_INET6, .sin6_port = htons(port) };
    if (length >= sizeof address)
        return false;
    memcpy(address, text, length);
    address[length] = '\0';
    if (inet_pton(AF_INET6, address, &out->sin6_addr) != 1)
        return false;
    if (text[length] == '\0')
        return true;
    out->sin6_scope_id = has_link_scope(&out->sin6_addr) ? zone_of(text + length + 1) : 0;
    return out->sin6_scope_id != 0;
}

/* Sockets of IPv6 carry IPv4 in ::ffff:0:0/96 (RFC 4291 2.5.5.2); what goes over the wire is IPv4. */
void sacn__unmap(union sacn_address *address)
{
    const struct sockaddr_in6 mapped = address->v6;
    if (address->any.sa_family != AF_INET6 || !IN6_IS_ADDR_V4MAPPED(&mapped.sin6_addr))
        return;
    memset(address, 0, sizeof *address);
    address->v4.sin_family = AF_INET;
    address->v4.sin_port = mapped.sin6_port;
    memcpy(&address->v4.sin_addr, mapped.sin6_addr.s6_addr + 12, sizeof address->v4.sin_addr);
}

bool sacn_address_parse(const char *text, uint16_t port, union sacn_address *out)
{
    union sacn_address parsed;
    memset(&parsed, 0, sizeof parsed);
    memset(out, 0, sizeof *out);
    if (inet_pton(AF_INET, text, &parsed.v4.sin_addr) == 1) {
        parsed.v4.sin_family = AF_INET;
        parsed.v4.sin_port = htons(port);
    } else if (parse_v6(text, port, &parsed.v6)) {
        sacn__unmap(&parsed);
    } else {
        return false;
    }
    *out = parsed;
    return true;
}

void sacn_address_text(const union sacn_address *address, char text[SACN_ADDRESS_TEXT])
{
    char zone[IF_NAMESIZE];
    strcpy(text, "?");
    if (address->any.sa_family == AF_INET)
        inet_ntop(AF_INET, &address->v4.sin_addr, text, SACN_ADDRESS_TEXT);
    if (address->any.sa_family != AF_INET6)
        return;
    inet_ntop(AF_INET6, &address->v6.sin6_addr, text, SACN_ADDRESS_TEXT);
    if (address->v6.sin6_scope_id == 0 || !has_link_scope(&address->v6.sin6_addr))
        return;
    size_t used = strlen(text);
    if (if_indextoname(address->v6.sin6_scope_id, zone))
        snprintf(text + used, SACN_ADDRESS_TEXT - used, "%%%s", zone);
    else
        snprintf(text + used, SACN_ADDRESS_TEXT - used, "%%%u", (unsigned)address->v6.sin6_scope_id);
}

bool sacn_address_equal(const union sacn_address *a, const union sacn_address *b)
{
    if (a->any.sa_family != b->any.sa_family)
        return false;
    if (a->any.sa_family == AF_INET)
        return a->v4.sin_port == b->v4.sin_port && a->v4.sin_addr.s_addr == b->v4.sin_addr.s_addr;
    return a->any.sa_family == AF_INET6 && a->v6.sin6_port == b->v6.sin6_port && a->v6.sin6_scope_id == b->v6.sin6_scope_id &&
           memcmp(&a->v6.sin6_addr, &b->v6.sin6_addr, sizeof a->v6.sin6_addr) == 0;
}

bool sacn_address_is_host(const union sacn_address *address)
{
    if (address->any.sa_family == AF_INET) {
        uint32_t number = ntohl(address->v4.sin_addr.s_addr);
        return number != INADDR_ANY && number != INADDR_BROADCAST && !IN_MULTICAST(number);
    }
    return address->any.sa_family == AF_INET6 && !IN6_IS_ADDR_UNSPECIFIED(&address->v6.sin6_addr) &&
           !IN6_IS_ADDR_MULTICAST(&address->v6.sin6_addr) &&
           (!IN6_IS_ADDR_LINKLOCAL(&address->v6.sin6_addr) || address->v6.sin6_scope_id != 0);
}

void sacn_group_address(uint16_t universe, bool ipv6, uint16_t port, union sacn_address *out)
{
    assert(sacn__is_universe(universe) || universe == SACN_DISCOVERY_UNIVERSE);
    memset(out, 0, sizeof *out);
    if (!ipv6) {
        out->v4.sin_family = AF_INET;
        out->v4.sin_port = htons(port);
        out->v4.sin_addr.s_addr = htonl(0xefff0000u | universe);      /* 239.255.H.L, 9.3.1 */
        return;
    }
    const uint8_t group[16] = { 0xff, 0x18, [12] = 0x83, [14] = (uint8_t)(universe >> 8), (uint8_t)universe };  /* 9.3.2 */
    out->v6.sin6_family = AF_INET6;
    out->v6.sin6_port = htons(port);
    memcpy(&out->v6.sin6_addr, group, sizeof group);
}
