/* libFuzzer target for the table of what is heard: streams of datagrams with times, and every reader after each. The input is a
 * list of steps, each an octet of kind and what it takes: a datagram as it is, one made of a few fields (with one octet changed,
 * if the step says so), or time alone. What readers get must keep the promises of rigcall/sacn_receive.h.
 *   cmake --preset fuzz && cmake --build --preset fuzz --target fuzz_sacn_table
 *   .build/fuzz/tests/fuzz_sacn_table -max_len=4096 tests/sacn/corpus_table */
#include <arpa/inet.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/sacn_receive.h"

int LLVMFuzzerTestOneInput(const uint8_t *octets, size_t length);

static void demand(int holds)
{
    if (!holds)
        abort();
}

/* ---- the input ---- */

struct input { const uint8_t *octets; size_t left; };

static uint8_t next(struct input *input)
{
    if (input->left == 0)
        return 0;
    input->left--;
    return *input->octets++;
}

static uint16_t next16(struct input *input)
{
    uint8_t high = next(input);
    return (uint16_t)(high << 8 | next(input));
}

/* Numbers from few, or from all, so that the same ones meet. */
static uint16_t next_universe(struct input *input)
{
    uint8_t octet = next(input);
    uint16_t universe = octet < 0xf0 ? octet % 6 : next16(input);
    return universe <= SACN_LAST_UNIVERSE ? universe : SACN_LAST_UNIVERSE;
}

static int64_t next_step_ns(struct input *input)
{
    static const int64_t round[] = { 0, 1, 2499999999, 2500000000, 2500000001, 5000000000, 25000000000, 60000000000 };
    uint8_t octet = next(input);
    if (octet < 0x80)
        return octet * INT64_C(1000000);
    if (octet < 0xc0)
        return round[octet & 7];
    return octet < 0xff ? INT64_C(50000000) * (octet & 63) : INT64_MAX;
}

static struct sacn_source next_source(struct input *input)
{
    uint8_t octet = next(input), cid[16] = { 0 };
    struct sacn_source source;
    if (octet < 0xf0)
        cid[15] = octet % 12;
    else
        for (int i = 0; i < 16; i++)
            cid[i] = next(input);
    char name[2] = { (char)next(input), 0 };
    sacn_source_init(&source, cid, name);
    return source;
}

static union sacn_address next_host(struct input *input)
{
    union sacn_address address;
    uint8_t octet = next(input);
    memset(&address, 0, sizeof address);
    if (octet & 0x80) {
        address.v6.sin6_family = AF_INET6;
        address.v6.sin6_addr.s6_addr[15] = octet & 7;
        address.v6.sin6_scope_id = octet >> 3 & 3;
    } else if (octet != 0x7f) {
        address.v4.sin_family = AF_INET;
        address.v4.sin_addr.s_addr = htonl(octet & 15);
        address.v4.sin_port = htons(octet >> 4);
    }
    return address;
}

/* ---- datagrams ---- */

static size_t make_data(struct input *input, uint8_t *packet)
{
    static const uint8_t lengths_at[] = { 16, 38, 115 };
    struct sacn_source source = next_source(input);
    uint16_t universe = next_universe(input);
    sacn_data_init(packet, &source, universe ? universe : 1, (uint8_t)(next(input) % 201));
    sacn_data_set_sequence(packet, next(input));
    sacn_data_set_sync(packet, next_universe(input));
    packet[112] = next(input);       /* options */
    uint8_t shape = next(input);
    packet[125] = shape & 0x80 ? shape & 3 : 0;
    size_t slots = shape & 0x40 ? next16(input) % (SACN_SLOTS + 1) : SACN_SLOTS, length = SACN_SLOT_OFFSET + slots;
    memset(packet + SACN_SLOT_OFFSET, next(input), slots);
    for (size_t i = 0; i < sizeof lengths_at; i++) {
        packet[lengths_at[i]] = (uint8_t)(0x70 | (length - lengths_at[i]) >> 8);
        packet[lengths_at[i] + 1] = (uint8_t)(length - lengths_at[i]);
    }
    packet[123] = (uint8_t)((slots + 1) >> 8);
    packet[124] = (uint8_t)(slots + 1);
    return length;
}

static size_t make_sync(struct input *input, uint8_t *packet)
{
    struct sacn_source source = next_source(input);
    uint16_t address = next_universe(input);
    sacn_sync_init(packet, &source, address ? address : 1);
    sacn_sync_set_sequence(packet, next(input));
    return SACN_SYNC_SIZE;
}

static size_t make_discovery(struct input *input, uint8_t *packet)
{
    uint16_t universes[1200];
    struct sacn_source source = next_source(input);
    size_t count = next16(input) % 1200, step = 1 + next(input) % 50, first = 1 + next(input);
    for (size_t i = 0; i < count; i++)
        universes[i] = (uint16_t)(first + i * step);
    return sacn_discovery_page(packet, &source, universes, count, next(input) % sacn_discovery_pages(count));
}

static size_t make_raw(struct input *input, uint8_t *packet, size_t size)
{
    size_t length = next16(input) % size;
    for (size_t i = 0; i < length; i++)
        packet[i] = next(input);
    return length;
}

/* ---- readers ---- */

static void check_source(const struct sacn_heard_source *source, int64_t now_ns)
{
    demand(memchr(source->name, 0, sizeof source->name) != NULL);
    demand(source->priority <= SACN_PRIORITY_LIMIT && source->slot_count <= SACN_SLOTS);
    demand(source->sync_address <= SACN_LAST_UNIVERSE);
    demand(source->first_ns <= source->last_ns && source->last_ns <= now_ns);
    demand(!source->wins || (source->state == SACN_LIVE && !source->preview && source->packets > 0));
    demand(source->packets + source->other_start_codes > 0);
    demand(isfinite(source->rate_hz) && source->rate_hz >= 0 && (source->rate_hz == 0 || source->state == SACN_LIVE));
    demand(isfinite(source->jitter_ms) && source->jitter_ms >= 0 && source->gap_ms >= 0 && source->gap_ms < 2500);
    demand(source->state != SACN_LIVE || now_ns - source->last_ns < INT64_C(2500000000));
    demand(now_ns - source->last_ns < INT64_C(62500000000) || source->state == SACN_TERMINATED);
    demand(source->missing < UINT64_MAX / 2);
}

static uint32_t check_universe(struct sacn_table *table, uint16_t number, const struct sacn_table_limits *limits,
                               int64_t now_ns)
{
    struct sacn_heard heard;
    uint32_t winners = 0, levels = 0;
    demand(sacn_table_universe(table, number, &heard) && heard.universe == number);
    demand(heard.source_count > 0 && heard.source_count <= limits->sources_a_universe);
    for (uint32_t i = 0; i < heard.source_count; i++) {
        const struct sacn_heard_source *source = heard.sources[i], *above = i > 0 ? heard.sources[i - 1] : NULL;
        check_source(source, now_ns);
        demand(!above || above->priority > source->priority ||
               (above->priority == source->priority && memcmp(above->cid, source->cid, 16) < 0));
        demand(!source->wins || source->priority == heard.priority);
        winners += source->wins;
    }
    for (size_t slot = 0; slot < SACN_SLOTS; slot++)
        levels += heard.levels[slot];
    demand(winners == heard.winners && levels <= 255 * SACN_SLOTS);
    demand(heard.sync <= SACN_SYNC_LOST && (!heard.held || heard.sync != SACN_FREE));
    return heard.source_count;
}

static void check_counts(const struct sacn_counts *counts)
{
    uint64_t refused = 0;
    for (size_t i = 0; i < sizeof counts->bad / sizeof *counts->bad; i++)
        refused += counts->bad[i];
    demand(counts->taken == counts->data + counts->sync + counts->discovery + refused);
    demand(counts->other_start_codes <= counts->data && counts->turned_away <= counts->taken);
}

static void check(struct sacn_table *table, const struct sacn_table_limits *limits, int64_t now_ns)
{
    const uint16_t *universes;
    const struct sacn_announcer *announcers;
    struct sacn_heard heard;
    uint32_t sources = 0;
    size_t count = sacn_table_universes(table, &universes);
    demand(count <= limits->universes);
    for (size_t i = 0; i < count; i++) {
        demand(i == 0 || universes[i - 1] < universes[i]);
        sources += check_universe(table, universes[i], limits, now_ns);
    }
    demand(sources <= limits->sources && !sacn_table_universe(table, 0, &heard));
    count = sacn_table_announcers(table, &announcers);
    demand(count <= limits->announcers);
    for (size_t i = 0; i < count; i++)
        demand(announcers[i].last_ns <= now_ns && now_ns - announcers[i].last_ns < INT64_C(25000000000));
    check_counts(sacn_table_counts(table));
}

static void check_lists(const struct sacn_table *table)
{
    const struct sacn_announcer *announcers;
    size_t count = sacn_table_announcers(table, &announcers);
    for (size_t i = 0; i < count; i++) {
        uint32_t announced = 0;
        for (uint32_t universe = 0; universe <= UINT16_MAX; universe++)
            announced += sacn_table_announces(table, i, (uint16_t)universe);
        demand(announced == announcers[i].universe_count);
    }
}

/* ---- a stream ---- */

static void step(struct sacn_table *table, struct input *input, int64_t *now_ns)
{
    uint8_t built[1600];
    uint8_t kind = next(input);
    int64_t step_ns = next_step_ns(input), most = INT64_MAX / 4;       /* where the table's own time stops */
    int64_t asked_ns = step_ns > most - *now_ns ? INT64_MAX : *now_ns + step_ns;
    size_t length;
    *now_ns = asked_ns < most ? asked_ns : most;
    switch (kind & 15) {
    case 0: length = make_raw(input, built, sizeof built); break;
    case 1: case 2: length = make_sync(input, built); break;
    case 3: length = make_discovery(input, built); break;
    case 4: sacn_table_advance(table, asked_ns); return;
    default: length = make_data(input, built);
    }
    if (kind & 0x80) {
        uint16_t at = next16(input);
        built[at % (length ? length : 1)] = next(input);
    }
    union sacn_address from = next_host(input);
    uint8_t *datagram = malloc(length ? length : 1);      /* exactly as long, so that AddressSanitizer sees its end */
    demand(datagram != NULL);
    memcpy(datagram, built, length);
    struct sacn_packet packet;
    enum sacn_verdict verdict = sacn_parse(datagram, length, &packet);
    demand(sacn_table_take(table, asked_ns, datagram, length, &from) == verdict);
    free(datagram);
}

int LLVMFuzzerTestOneInput(const uint8_t *octets, size_t length)
{
    struct input input = { octets, length };
    uint8_t shape = next(&input);
    struct sacn_table_limits limits = { 1 + (shape & 7), 1 + (shape >> 1 & 31), 1 + (shape >> 3 & 7), 1 + (shape >> 5 & 3) };
    struct sacn_table *table;
    int64_t now_ns = 0;
    if (sacn_table_new(&limits, &table, NULL) != 0)
        return 0;
    for (unsigned steps = 0; input.left > 0; steps++) {
        step(table, &input, &now_ns);
        if (shape & 0x80 || steps % 3 == 0)
            check(table, &limits, now_ns);
    }
    check(table, &limits, now_ns);
    if ((shape & 0x67) == 1)         /* it takes long */
        check_lists(table);
    sacn_table_free(table);
    return 0;
}
