/* libFuzzer target for sacn_parse(). What it gives must lie inside the datagram and inside the ranges its header promises.
 *   cmake --preset fuzz && cmake --build --preset fuzz --target fuzz_sacn_parse
 *   .build/fuzz/tests/fuzz_sacn_parse -max_len=1500 tests/sacn/corpus */
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/model.h"
#include "rigcall/sacn.h"

int LLVMFuzzerTestOneInput(const uint8_t *octets, size_t length);

static void demand(int holds)
{
    if (!holds)
        abort();
}

static int inside(const uint8_t *part, size_t size, const uint8_t *octets, size_t length)
{
    return part >= octets && part + size <= octets + length;
}

static void check_kind(const struct sacn_packet *packet, const uint8_t *octets, size_t length)
{
    switch (packet->kind) {
    case SACN_DATA:
        demand(packet->universe >= SACN_FIRST_UNIVERSE && packet->universe <= SACN_LAST_UNIVERSE);
        demand(packet->sync_address <= SACN_LAST_UNIVERSE && packet->priority <= SACN_PRIORITY_LIMIT);
        demand(packet->slot_count <= SACN_SLOTS && inside(packet->slots, packet->slot_count, octets, length));
        break;
    case SACN_SYNC:
        demand(packet->sync_address >= SACN_FIRST_UNIVERSE && packet->sync_address <= SACN_LAST_UNIVERSE);
        break;
    case SACN_DISCOVERY:
        demand(packet->universe_count <= 512 && packet->page <= packet->last_page);
        demand(inside(packet->universes, 2u * packet->universe_count, octets, length));
        break;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *octets, size_t length)
{
    struct sacn_packet packet;
    enum sacn_verdict verdict = sacn_parse(octets, length, &packet);
    demand(strcmp(sacn_verdict_name(verdict), "?") != 0);
    if (verdict != SACN_ACCEPT && verdict != SACN_OTHER_START_CODE) {
        demand(packet.cid == NULL && packet.slots == NULL && packet.universes == NULL);
        return 0;
    }
    demand(inside(packet.cid, 16, octets, length));
    demand(memchr(packet.name, 0, sizeof packet.name) != NULL);
    demand(utf8_check(packet.name, strlen(packet.name)) == strlen(packet.name));
    for (const char *c = packet.name; *c; c++)
        demand((unsigned char)*c >= 0x20 && *c != 0x7f);
    check_kind(&packet, octets, length);
    return 0;
}
