/* What a datagram costs in the table of what is heard: 512 universes, 1 to 4 sources on each, every slot changing, in turns with
 * sacn_parse() alone and a copy of 512 octets out of the same packets; and what a datagram of a flood costs, in a table that is
 * full of it. Nothing is read from a network.
 *   bench_table [rounds] [frames]     (5 rounds of 400 frames unless said otherwise) */
#include <arpa/inet.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rigcall/sacn_receive.h"

enum { UNIVERSES = 512, SOURCES = 4, ROUND_LIMIT = 101, FRAME_NS = 22727272 };
enum what { COPY, PARSE, TABLE, TABLE_READ, TABLE_SYNC, WAYS };

static const char *const names[WAYS] = { "memcpy of 512", "sacn_parse", "table", "table, all read 10 times a second", "table, synchronised" };
static uint8_t packets[SOURCES][UNIVERSES][SACN_DATA_SIZE];
static uint8_t sink[UNIVERSES][SACN_SLOTS];
static volatile unsigned seen;

static double cpu_ns(void)
{
    struct timespec used;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
    return (double)used.tv_sec * 1e9 + (double)used.tv_nsec;
}

static void make_packets(uint16_t sync)
{
    for (int s = 0; s < SOURCES; s++) {
        struct sacn_source source;
        uint8_t cid[16] = { 0x51, (uint8_t)s };
        sacn_source_init(&source, cid, "a desk at front of house");
        for (int u = 0; u < UNIVERSES; u++) {
            sacn_data_init(packets[s][u], &source, (uint16_t)(u + 1), 100);
            sacn_data_set_sync(packets[s][u], sync);
        }
    }
}

static void number_packets(int sources, uint8_t frame)
{
    for (int s = 0; s < sources; s++)
        for (int u = 0; u < UNIVERSES; u++) {
            sacn_data_set_sequence(packets[s][u], frame);
            packets[s][u][SACN_SLOT_OFFSET + frame] = (uint8_t)(frame + s);
        }
}

static void read_all(struct sacn_table *table)
{
    struct sacn_heard heard;
    for (int u = 1; u <= UNIVERSES; u++)
        if (sacn_table_universe(table, (uint16_t)u, &heard))
            seen += heard.levels[u % SACN_SLOTS];
}

static void take(struct sacn_table *table, enum what what, int64_t now_ns, const uint8_t *packet, int u, const union sacn_address *from)
{
    struct sacn_packet parsed;
    if (what == COPY)
        memcpy(sink[u], packet + SACN_SLOT_OFFSET, SACN_SLOTS);
    else if (what == PARSE)
        seen += sacn_parse(packet, SACN_DATA_SIZE, &parsed) + parsed.sequence;
    else
        seen += sacn_table_take(table, now_ns, packet, SACN_DATA_SIZE, from);
}

/* @return ns of CPU time a packet; writing numbers and levels into the packets is not counted */
static double measure(enum what what, int sources, int frames)
{
    struct sacn_table *table;
    union sacn_address from[SOURCES] = { { .v4 = { .sin_family = AF_INET } } };
    uint8_t sync[SACN_SYNC_SIZE];
    struct sacn_source sender = { .cid = { 0x51 } };
    double used = 0;
    if (sacn_table_new(NULL, &table, NULL) != 0)
        exit(1);
    sacn_sync_init(sync, &sender, 7001);
    make_packets(what == TABLE_SYNC ? 7001 : 0);
    for (int s = 0; s < SOURCES; s++)
        from[s] = (union sacn_address){ .v4 = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(0x0a000001u + (uint32_t)s) } };
    for (int f = 0; f < frames; f++) {
        int64_t now_ns = (int64_t)f * FRAME_NS;
        number_packets(sources, (uint8_t)f);
        sacn_sync_set_sequence(sync, (uint8_t)f);
        double before = cpu_ns();
        for (int s = 0; s < sources; s++)
            for (int u = 0; u < UNIVERSES; u++)
                take(table, what, now_ns + (s * UNIVERSES + u) * 5000, packets[s][u], u, &from[s]);
        if (what == TABLE_SYNC)
            sacn_table_take(table, now_ns + 20000000, sync, sizeof sync, &from[0]);
        if (what == TABLE_READ && f % 4 == 0)
            read_all(table);
        used += cpu_ns() - before;
    }
    seen += sink[0][0];
    sacn_table_free(table);
    return used / ((double)frames * sources * UNIVERSES);
}

/* Every datagram a new source of one universe, of a new universe, or a new announcer, from 64 hosts. */
static double flood(int kind, int datagrams)
{
    static uint8_t data[SACN_DATA_SIZE], page[SACN_DISCOVERY_SIZE];
    struct sacn_table *table;
    struct sacn_source source = { .cid = { 0x52 }, .name = "a flood" };
    if (sacn_table_new(NULL, &table, NULL) != 0)
        exit(1);
    sacn_data_init(data, &source, 1, 100);
    size_t page_length = sacn_discovery_page(page, &source, (const uint16_t[]){ 1 }, 1, 0);
    double before = cpu_ns();
    for (int i = 0; i < datagrams; i++) {
        union sacn_address from = { .v4 = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(0x0a000000u + (uint32_t)i % 64) } };
        uint8_t *packet = kind == 2 ? page : data;
        memcpy(packet + 22, &i, sizeof i);       /* in the CID */
        if (kind == 1) {
            data[113] = (uint8_t)(i / 256 % 249);
            data[114] = (uint8_t)(i | 1);        /* never 0 */
        }
        seen += sacn_table_take(table, i, packet, kind == 2 ? page_length : sizeof data, &from);
    }
    double used = cpu_ns() - before;
    sacn_table_free(table);
    return used / datagrams;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

int main(int argc, char **argv)
{
    static double ns[SOURCES + 1][WAYS][ROUND_LIMIT];
    int rounds = argc > 1 ? atoi(argv[1]) : 5, frames = argc > 2 ? atoi(argv[2]) : 400;
    if (rounds < 1 || rounds > ROUND_LIMIT || frames < 1) {
        fprintf(stderr, "usage: bench_table [rounds 1..%d] [frames]\n", ROUND_LIMIT);
        return 2;
    }
    for (int r = 0; r < rounds; r++)
        for (int sources = 1; sources <= SOURCES; sources++)
            for (int what = 0; what < WAYS; what++)
                ns[sources][what][r] = measure((enum what)what, sources, frames);
    printf("%d universes, %d rounds of %d frames, ns of CPU a packet, median (least)\n%-36s", UNIVERSES, rounds, frames, "sources");
    for (int sources = 1; sources <= SOURCES; sources++)
        printf("%16d", sources);
    for (int what = 0; what < WAYS; what++) {
        printf("\n%-36s", names[what]);
        for (int sources = 1; sources <= SOURCES; sources++) {
            qsort(ns[sources][what], (size_t)rounds, sizeof **ns[sources], ascending);
            printf("   %6.0f (%4.0f)", ns[sources][what][rounds / 2], ns[sources][what][0]);
        }
    }
    static const char *const floods[] = { "new sources", "new universes", "new announcers" };
    for (int kind = 0; kind < 3; kind++) {
        double each[ROUND_LIMIT];
        for (int r = 0; r < rounds; r++)
            each[r] = flood(kind, 200000);
        qsort(each, (size_t)rounds, sizeof *each, ascending);
        printf("\nflood of %-27s   %6.0f (%4.0f)", floods[kind], each[rounds / 2], each[0]);
    }
    printf("\nmost memory at the default limits: %.1f MiB\n", (double)sacn_table_bound(NULL) / (1 << 20));
    return 0;
}
