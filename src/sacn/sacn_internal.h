/* What the files of src/sacn share: the layout of the packets (ANSI E1.31-2018 Tables 4-1 to 4-3), host identity, and the
 * choice of interface and address for a target. */
#ifndef RIGCALL_SACN_INTERNAL_H
#define RIGCALL_SACN_INTERNAL_H

#include <net/if.h>
#include <string.h>

#include "rigcall/sacn.h"

/* Octet offsets in the UDP payload, all fields big-endian (4.1). The three layers of a data packet each begin with their
 * flags and length; the length counts from there to the end of the packet. */
enum {
    AT_PREAMBLE = 0, AT_POSTAMBLE = 2, AT_IDENTIFIER = 4,
    AT_ROOT = 16, AT_ROOT_VECTOR = 18, AT_CID = 22,
    AT_FRAMING = 38, AT_FRAMING_VECTOR = 40,
    /* data, Table 4-1 */
    AT_NAME = 44, AT_PRIORITY = 108, AT_SYNC_ADDRESS = 109, AT_SEQUENCE = 111, AT_OPTIONS = 112, AT_UNIVERSE = 113,
    AT_DMP = 115, AT_DMP_VECTOR = 117, AT_DMP_TYPE = 118, AT_FIRST_ADDRESS = 119, AT_INCREMENT = 121, AT_COUNT = 123,
    AT_START_CODE = 125,
    /* synchronisation, Table 4-2 */
    AT_SYNC_SEQUENCE = 44, AT_SYNC_PACKET_ADDRESS = 45, SYNC_SIZE = SACN_SYNC_SIZE,
    /* universe discovery, Table 4-3 */
    AT_LIST = 112, AT_LIST_VECTOR = 114, AT_PAGE = 118, AT_LAST_PAGE = 119, AT_LIST_UNIVERSES = 120,
    LARGEST_PACKET = SACN_DISCOVERY_SIZE
};

enum {
    FLAGS = 0x7000,                   /* top four bits of flags and length */
    ROOT_VECTOR_DATA = 4, ROOT_VECTOR_EXTENDED = 8,
    FRAMING_VECTOR_DATA = 2, FRAMING_VECTOR_SYNC = 1, FRAMING_VECTOR_DISCOVERY = 2, LIST_VECTOR = 1,
    DMP_VECTOR_SET = 2, DMP_TYPE = 0xa1,
    OPTION_PREVIEW = 0x80, OPTION_TERMINATED = 0x40, OPTION_FORCE_SYNC = 0x20      /* 6.2.6 */
};

/* "ASC-E1.17" padded with NUL, 5.3. */
#define IDENTIFIER_SIZE 12
#define IDENTIFIER "ASC-E1.17\0\0"    /* with the terminating NUL: 12 octets */

static inline uint16_t get16(const uint8_t *p)
{
    return (uint16_t)(p[0] << 8 | p[1]);
}

static inline uint32_t get32(const uint8_t *p)
{
    return (uint32_t)get16(p) << 16 | get16(p + 2);
}

static inline void put16(uint8_t *p, unsigned value)
{
    p[0] = (uint8_t)(value >> 8);
    p[1] = (uint8_t)value;
}

static inline void put32(uint8_t *p, uint32_t value)
{
    put16(p, value >> 16);
    put16(p + 2, value & 0xffff);
}

static inline bool sacn__is_universe(uint16_t number)
{
    return number >= SACN_FIRST_UNIVERSE && number <= SACN_LAST_UNIVERSE;
}

/** Begin a packet of `size` octets: the root layer, flags and length and vector of the framing layer, zeros behind (5, 6.1). */
void sacn__begin(uint8_t *packet, size_t size, const uint8_t cid[16], uint32_t root_vector, uint32_t framing_vector);

/** Copy a name that may be anything to a terminated, NUL-padded field: at most 63 octets, cut at a character border; octets that
 * are not UTF-8 and control characters become '?', so that a name cannot steer a terminal. */
void sacn__name(char field[SACN_NAME_SIZE], const char *name, size_t length);

/** A text that tells this host from others: the content of the machine id file if that is 32 hexadecimal digits, else a random
 * UUID kept in `state_folder`/host-id, made at the first call (folders 0700).
 * @param text  at least 37 octets */
int sacn__host_id(const char *machine_id_path, const char *state_folder, char text[37], struct rig_why *why);

/** Which interface and which source address datagrams take. */
struct sacn__way {
    char interface[IF_NAMESIZE];
    unsigned index;                   /* of the interface */
    union sacn_address source;        /* the address that they come from, port 0 */
};
/** Resolve. @param interface  NULL: the route to `to` decides   @param to  a host, or any group of a universe
 * @return 0 or RIG_ENET */
int sacn__find_way(const char *interface, const union sacn_address *to, struct sacn__way *way, struct rig_why *why);
/** The host of target->to, with its port. @return 0 or RIG_ENET */
int sacn__find_host(const struct sacn_target *target, union sacn_address *host, struct rig_why *why);
/** The address that the kernel would send from. @param interface_index  0: the route decides
 * @return 0 with source (port 0), or an errno */
int sacn__find_source(const union sacn_address *to, unsigned interface_index, union sacn_address *source);

/** Make ::ffff:a.b.c.d, as sockets of both families tell IPv4 addresses, the IPv4 address that it is; others stay. */
void sacn__unmap(union sacn_address *address);

static inline bool sacn__is_group(const union sacn_address *address)
{
    return address->any.sa_family == AF_INET ? IN_MULTICAST(ntohl(address->v4.sin_addr.s_addr))
                                             : IN6_IS_ADDR_MULTICAST(&address->v6.sin6_addr);
}

static inline socklen_t sacn__address_size(const union sacn_address *address)
{
    return address->any.sa_family == AF_INET ? sizeof address->v4 : sizeof address->v6;
}

static inline uint16_t sacn__port(const struct sacn_target *target)
{
    return target->port ? target->port : SACN_PORT;
}

#endif
