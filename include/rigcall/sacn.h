/* Streaming ACN (ANSI E1.31-2018): packets built and parsed, addresses, a sender, a listener that looks before output starts,
 * captures, and component identifiers.
 * Offsets and rules: ANSI E1.31-2018 Tables 4-1 to 4-3, by clause where a check is made. */
#ifndef RIGCALL_SACN_H
#define RIGCALL_SACN_H

#include <netinet/in.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "rigcall/error.h"

#define SACN_PORT 5568
#define SACN_FIRST_UNIVERSE 1
#define SACN_LAST_UNIVERSE 63999
#define SACN_SLOTS 512
#define SACN_DATA_SIZE 638           /* octets of a data packet with 512 slots */
#define SACN_SLOT_OFFSET 126         /* of slot 1 */
#define SACN_SYNC_SIZE 49            /* octets of a synchronisation packet */
#define SACN_DISCOVERY_SIZE 1144     /* octets of a universe discovery page with 512 universes */
#define SACN_PAGE_UNIVERSES 512      /* of universe discovery */
#define SACN_NAME_SIZE 64            /* octets of the source name field, NUL included */
#define SACN_PRIORITY_LIMIT 200
#define SACN_LOSS_S 2.5              /* network data loss time-out, E1.31 6.7.1 */

/* ---- data packets ---- */

struct sacn_source { uint8_t cid[16]; char name[SACN_NAME_SIZE]; };

/** Set cid and name; the name is cut at a character border to 63 octets and NUL-padded, and cleaned as received ones are. */
void sacn_source_init(struct sacn_source *source, const uint8_t cid[16], const char *name);

/** Fill a whole data packet of 512 slots at level 0, sequence 0, options 0, no synchronisation.
 * @param universe 1..63999   @param priority 0..200 (asserted) */
void sacn_data_init(uint8_t packet[SACN_DATA_SIZE], const struct sacn_source *source, uint16_t universe, uint8_t priority);
void sacn_data_set_sequence(uint8_t packet[SACN_DATA_SIZE], uint8_t sequence);
/** @param priority 0..200 (asserted), 6.2.3 */
void sacn_data_set_priority(uint8_t packet[SACN_DATA_SIZE], uint8_t priority);
/** @param sync_address 1..63999, or 0: not synchronised (asserted), 6.2.4 */
void sacn_data_set_sync(uint8_t packet[SACN_DATA_SIZE], uint16_t sync_address);
/* The options of 6.2.6: for visualisers only; the source ends; without synchronisation packets receivers go on unsynchronised. */
void sacn_data_set_preview(uint8_t packet[SACN_DATA_SIZE], bool preview);
void sacn_data_set_terminated(uint8_t packet[SACN_DATA_SIZE], bool terminated);
void sacn_data_set_force_sync(uint8_t packet[SACN_DATA_SIZE], bool force_sync);

/* ---- synchronisation and universe discovery packets ---- */

/** Fill a synchronisation packet (Table 4-2), sequence 0. It goes to the group of its address (6.3.3.1).
 * @param sync_address 1..63999 (asserted) */
void sacn_sync_init(uint8_t packet[SACN_SYNC_SIZE], const struct sacn_source *source, uint16_t sync_address);
/** Its numbers are counted apart from those of data packets (6.7.2). */
void sacn_sync_set_sequence(uint8_t packet[SACN_SYNC_SIZE], uint8_t sequence);

/** Pages that a list of `count` universes takes; an empty list takes one (8.4, 12.1). @param count 0..63999 */
size_t sacn_discovery_pages(size_t count);
/** Fill page `page` of a universe discovery list (Table 4-3). All pages go to the group of SACN_DISCOVERY_UNIVERSE.
 * @param universes  the whole list, synchronisation addresses among them (4.3): ascending, each 1..63999 (asserted)
 * @param page  from 0, below sacn_discovery_pages(count) (asserted)
 * @return octets of the packet: 120..1144 */
size_t sacn_discovery_page(uint8_t packet[SACN_DISCOVERY_SIZE], const struct sacn_source *source, const uint16_t *universes,
                           size_t count, size_t page);

/* ---- packets received ---- */

enum sacn_kind { SACN_DATA, SACN_SYNC, SACN_DISCOVERY };

/* What the receiver makes of a datagram. Only SACN_ACCEPT and SACN_OTHER_START_CODE fill a packet. */
enum sacn_verdict {
    SACN_ACCEPT,
    SACN_OTHER_START_CODE,           /* valid, but not level data (7.7) */
    SACN_IGNORE,                     /* a synchronisation packet with address 0 (6.3.3.1) */
    SACN_BAD_ROOT,                   /* preamble, post-amble, identifier or root vector (5.x) */
    SACN_BAD_FRAMING,                /* framing vector (6.5) */
    SACN_BAD_DMP,                    /* DMP vector, type, first address or increment (7.x); list vector (8.2) */
    SACN_BAD_LENGTH,                 /* too short, or a length or count that does not fit */
    SACN_BAD_VALUE                   /* priority above 200, universe or synchronisation address outside 1..63999, count above 513,
                                      * list not ascending, page after the last one */
};

struct sacn_packet {                 /* borrowed from the datagram */
    enum sacn_kind kind;
    const uint8_t *cid;              /* 16 octets */
    char name[SACN_NAME_SIZE];       /* terminated; octets that are not UTF-8 and control characters are '?' */
    uint8_t priority, sequence, start_code;
    bool preview, terminated, force_sync;
    uint16_t universe, sync_address; /* universe: data; for SACN_SYNC sync_address only */
    const uint8_t *slots; uint16_t slot_count;              /* data: levels, without START code */
    uint8_t page, last_page;
    const uint8_t *universes; uint16_t universe_count;      /* discovery: big-endian pairs */
};
enum sacn_verdict sacn_parse(const uint8_t *datagram, size_t length, struct sacn_packet *packet);
const char *sacn_verdict_name(enum sacn_verdict verdict);

/** E1.31 6.7.2: with d = received - last as signed 8 bit, discard when -20 < d <= 0. */
bool sacn_sequence_accepted(uint8_t last, uint8_t received);

/* ---- addresses ---- */

union sacn_address { struct sockaddr any; struct sockaddr_in v4; struct sockaddr_in6 v6; };
#define SACN_ADDRESS_TEXT (INET6_ADDRSTRLEN + 20)    /* with a zone: "fe80::1%wlan0" */
#define SACN_INTERFACES 8            /* most that one target or receiver names */
#define SACN_DISCOVERY_UNIVERSE 64214        /* E131_DISCOVERY_UNIVERSE, Appendix A */

/** Read a numeric address: IPv4, or IPv6 with a zone ("fe80::1%wlan0", "fe80::1%3") where it has link scope. An IPv4 address
 * written as IPv6 (::ffff:10.0.0.1) gives IPv4. Any address is taken: whether it can be sent to is not asked.
 * @param out  all octets set; zero where the text is not an address or no interface has the zone's name
 * @return whether it is an address */
bool sacn_address_parse(const char *text, uint16_t port, union sacn_address *out);
/** The address without its port, as sacn_address_parse() reads it; "?" for neither family. */
void sacn_address_text(const union sacn_address *address, char text[SACN_ADDRESS_TEXT]);
/** Whether family, address, port and zone are the same. */
bool sacn_address_equal(const union sacn_address *a, const union sacn_address *b);
/** Whether datagrams can be sent to it as to one host: neither unspecified, nor a group, nor the broadcast of a link, nor of
 * link scope without a zone. */
bool sacn_address_is_host(const union sacn_address *address);

/** Group of a universe (1..63999, asserted) or of universe discovery: 239.255.H.L (9.3.1) or ff18::8300:HHLL (9.3.2). */
void sacn_group_address(uint16_t universe, bool ipv6, uint16_t port, union sacn_address *out);

/* ---- component identifiers ---- */

/** UUIDv5 (RFC 4122) of this host (/etc/machine-id, else a random id kept in $XDG_STATE_HOME/rigcall) and the show's name.
 * @return 0 or RIG_EIO (the id cannot be kept or read) */
int sacn_cid_live(const char *show_name, uint8_t cid[16], struct rig_why *why);
/** The fixed CID of dry runs: UUIDv5 of a constant and the show's name. */
void sacn_cid_dry(const char *show_name, uint8_t cid[16]);
/** As RFC 4122 writes it, in lower case. */
#define SACN_CID_TEXT 37
void sacn_cid_text(const uint8_t cid[16], char text[SACN_CID_TEXT]);

/* ---- sender ---- */

struct sacn_target {
    const char *interfaces[SACN_INTERFACES];     /* multicast leaves on each of them. Unicast always follows the route */
    uint32_t interface_count;        /* 0: the route decides */
    const char *to;                  /* NULL: multicast; else the IPv4 or IPv6 address of one host, for every universe */
    uint16_t port;                   /* 0: 5568 */
    bool ipv6;                       /* multicast goes to the groups of 9.3.2 instead of those of 9.3.1 */
    uint8_t ttl;                     /* hops; 0: SACN_MULTICAST_TTL or SACN_UNICAST_TTL */
    uint8_t dscp;                    /* of the DS field (RFC 2474), 0..63 */
};
/* Common practice, no source: E1.31 sets no TTL. Eight hops cross the routers of a venue and no more; 64 is the kernel's default. */
#define SACN_MULTICAST_TTL 8
#define SACN_UNICAST_TTL 64
#define SACN_BATCH 64                /* packets of one sub-tick: a default receive buffer holds 166 */

/* address: NULL: the target's; else a host, borrowed during the call. */
struct sacn_datagram { const uint8_t *bytes; uint16_t length; uint16_t universe; const union sacn_address *address; };

/* What the headers of a datagram say, for captures. */
struct sacn_path { union sacn_address from, to; uint8_t ttl, dscp; };

struct sacn_sender;
/** Open a sender: a non-blocking UDP socket for each interface; more, one for each unicast address (up to 256, then shared), as
 * datagrams to it come. @param out caller closes with sacn_sender_close(). @return 0, RIG_ENET or RIG_ENOMEM */
int sacn_sender_open(const struct sacn_target *target, struct sacn_sender **out, struct rig_why *why);
void sacn_sender_close(struct sacn_sender *sender);
/** Send up to SACN_BATCH datagrams (asserted) without blocking. Several to one host go as one message where the kernel cuts it
 * up (UDP_SEGMENT). What a socket cannot take is counted as lost; one that is full is left alone for the rest of the batch, and
 * holds up neither another interface nor another host. Order is kept on each interface and to each host, not between them.
 * @return packets sent: a multicast datagram counts once an interface. RIG_ENET when none was sent and the network is gone on
 * every way that was ever taken */
int sacn_sender_send(struct sacn_sender *sender, const struct sacn_datagram *datagrams, size_t count, struct rig_why *why);
/** How a datagram of the last batch left: a path for each interface that took it, none when it was lost.
 * @param index  of the datagram in that batch   @return paths */
size_t sacn_sender_paths(struct sacn_sender *sender, size_t index, struct sacn_path paths[SACN_INTERFACES]);
/** Packets that no socket took, counted as sacn_sender_send() counts. */
uint64_t sacn_sender_lost(const struct sacn_sender *sender);

/** Hops that a target's datagrams to an address may make. */
uint8_t sacn_target_ttl(const struct sacn_target *target, const union sacn_address *to);

/* ---- captures ---- */

struct sacn_capture;
/** Open a pcap file (nanosecond times, raw IP link type, which carries both families). "-" is standard output. @return 0 or RIG_EIO */
int sacn_capture_open(const char *path, struct sacn_capture **out, struct rig_why *why);
/** Append one UDP datagram with true IPv4 or IPv6 and UDP headers and checksums (the identification of IPv4 counts up, the
 * flow label of IPv6 is 0). @param time_ns since the epoch of the capture, >= 0 (asserted)   @param path  of one family (asserted)
 * @param length 0..65,487 (asserted) */
int sacn_capture_write(struct sacn_capture *capture, int64_t time_ns, const struct sacn_path *path, const uint8_t *payload,
                       size_t length, struct rig_why *why);
uint64_t sacn_capture_packets(const struct sacn_capture *capture);
/** Flush and close. @return 0 or RIG_EIO if anything was not written. NULL is fine. */
int sacn_capture_close(struct sacn_capture *capture, struct rig_why *why);

/* ---- looking before output starts ---- */

struct sacn_rival { uint16_t universe; uint8_t priority; uint8_t cid[16]; char name[SACN_NAME_SIZE]; char address[SACN_ADDRESS_TEXT]; };

/** Listen on the multicast of every interface of the target for `seconds` on every universe, then close. Uses a socket a group and
 * interface, bound to the group's address, so that no unicast datagram is taken from another program. With target->to it listens
 * on port 5568 of the interface that the route to it takes (lo for 127.0.0.1) unless some are named, whatever the target's port.
 * Where output is IPv6 it listens to the groups of both families, as most sources send by IPv4 (not on an interface without an
 * IPv4 address). Packets of `own_cid` are not rivals; preview and terminated packets neither. A look that cannot be had is
 * RIG_ENET, never "no rivals".
 * @param priorities  of our universes; a source at the same or a higher one is a rival
 * @param stop  may be NULL; polled at least every 50 ms, ends the look with RIG_EFAILED when true
 * @param rivals  malloc'd, caller frees, by universe, the highest priority of each universe, 64 in all
 * @return 0 (also with rivals), RIG_ENET, RIG_ENOMEM, or RIG_EFAILED when stopped */
int sacn_look(const struct sacn_target *target, const uint16_t *universes, const uint8_t *priorities, size_t count,
              const uint8_t own_cid[16], double seconds, bool (*stop)(void *context), void *context,
              struct sacn_rival **rivals, size_t *rival_count, struct rig_why *why);

#endif
