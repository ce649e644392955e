/* A table fed by hand: packets with every field that the table looks at, at times in milliseconds. */
#ifndef RIGCALL_TESTS_TABLE_RIG_H
#define RIGCALL_TESTS_TABLE_RIG_H

#include <arpa/inet.h>
#include <stdint.h>
#include <string.h>

#include "rigcall/sacn_receive.h"

#define MS INT64_C(1000000)

struct told {                        /* what a data packet says; 0 where nothing is said, but the priority is 100 */
    int source;                      /* tells CID, name and host: 10.0.0.source */
    uint16_t universe;
    uint8_t sequence;
    int priority;                    /* 0: 100; below 0: 0 */
    uint8_t level;                   /* of every slot */
    uint16_t sync;
    bool preview, terminated, force_sync;
    int slots;                       /* 0: 512; below 0: none */
    uint8_t start_code;
    const char *name;
    int host;                        /* 0: source */
};

static inline union sacn_address host_address(int host)
{
    union sacn_address address;
    memset(&address, 0, sizeof address);
    address.v4.sin_family = AF_INET;
    address.v4.sin_port = htons(SACN_PORT);
    address.v4.sin_addr.s_addr = htonl(0x0a000000u + (uint32_t)host);
    return address;
}

static inline struct sacn_source source_of(int number, const char *name)
{
    struct sacn_source source;
    uint8_t cid[16] = { (uint8_t)(number >> 8), (uint8_t)number, 0x1e, 0x0a, 0x3b, 0x7d, 0x4c, 0x2e, 0x9a, 0x41 };
    sacn_source_init(&source, cid, name ? name : "a source");
    return source;
}

/* Shorten a whole packet to some slots: its four lengths and the count (Table 4-1). @return octets */
static inline size_t with_slots(uint8_t packet[SACN_DATA_SIZE], size_t slots)
{
    static const uint8_t lengths_at[] = { 16, 38, 115 };
    size_t length = SACN_SLOT_OFFSET + slots;
    for (size_t i = 0; i < sizeof lengths_at; i++) {
        size_t value = 0x7000 | (length - lengths_at[i]);
        packet[lengths_at[i]] = (uint8_t)(value >> 8);
        packet[lengths_at[i] + 1] = (uint8_t)value;
    }
    packet[123] = (uint8_t)((slots + 1) >> 8);
    packet[124] = (uint8_t)(slots + 1);
    return length;
}

static inline size_t told_packet(const struct told *told, uint8_t packet[SACN_DATA_SIZE])
{
    struct sacn_source source = source_of(told->source, told->name);
    sacn_data_init(packet, &source, told->universe ? told->universe : 1,
                   (uint8_t)(told->priority == 0 ? 100 : told->priority < 0 ? 0 : told->priority));
    sacn_data_set_sequence(packet, told->sequence);
    sacn_data_set_sync(packet, told->sync);
    sacn_data_set_preview(packet, told->preview);
    sacn_data_set_terminated(packet, told->terminated);
    sacn_data_set_force_sync(packet, told->force_sync);
    packet[SACN_SLOT_OFFSET - 1] = told->start_code;
    memset(packet + SACN_SLOT_OFFSET, told->level, SACN_SLOTS);
    return with_slots(packet, told->slots == 0 ? SACN_SLOTS : told->slots < 0 ? 0 : (size_t)told->slots);
}

static inline enum sacn_verdict tell(struct sacn_table *table, int64_t ms, struct told told)
{
    uint8_t packet[SACN_DATA_SIZE];
    union sacn_address from = host_address(told.host ? told.host : told.source);
    size_t length = told_packet(&told, packet);
    return sacn_table_take(table, ms * MS, packet, length, &from);
}
#define TELL(table, ms, ...) tell(table, ms, (struct told){ __VA_ARGS__ })

static inline enum sacn_verdict tell_sync(struct sacn_table *table, int64_t ms, int sender, uint16_t address, uint8_t sequence)
{
    uint8_t packet[SACN_SYNC_SIZE];
    union sacn_address from = host_address(sender);
    struct sacn_source source = source_of(sender, NULL);
    sacn_sync_init(packet, &source, address);
    sacn_sync_set_sequence(packet, sequence);
    return sacn_table_take(table, ms * MS, packet, sizeof packet, &from);
}

/* The universe after time has passed to `ms`. */
static inline struct sacn_heard hear(struct sacn_table *table, int64_t ms, uint16_t universe)
{
    struct sacn_heard heard;
    sacn_table_advance(table, ms * MS);
    sacn_table_universe(table, universe, &heard);
    return heard;
}

static inline const struct sacn_heard_source *source_in(const struct sacn_heard *heard, int number)
{
    struct sacn_source source = source_of(number, NULL);
    for (uint32_t i = 0; i < heard->source_count; i++)
        if (memcmp(heard->sources[i]->cid, source.cid, 16) == 0)
            return heard->sources[i];
    return NULL;
}

#endif
