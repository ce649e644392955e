/* Synchronisation and universe discovery packets built, ANSI E1.31-2018 Tables 4-2 and 4-3. */
#include "rigcall/sacn.h"

#include <assert.h>
#include <string.h>

#include "sacn_internal.h"

void sacn_sync_init(uint8_t packet[SACN_SYNC_SIZE], const struct sacn_source *source, uint16_t sync_address)
{
    assert(sacn__is_universe(sync_address));
    sacn__begin(packet, SACN_SYNC_SIZE, source->cid, ROOT_VECTOR_EXTENDED, FRAMING_VECTOR_SYNC);
    put16(packet + AT_SYNC_PACKET_ADDRESS, sync_address);
}

void sacn_sync_set_sequence(uint8_t packet[SACN_SYNC_SIZE], uint8_t sequence)
{
    packet[AT_SYNC_SEQUENCE] = sequence;
}

size_t sacn_discovery_pages(size_t count)
{
    return count == 0 ? 1 : (count + SACN_PAGE_UNIVERSES - 1) / SACN_PAGE_UNIVERSES;
}

size_t sacn_discovery_page(uint8_t packet[SACN_DISCOVERY_SIZE], const struct sacn_source *source, const uint16_t *universes,
                           size_t count, size_t page)
{
    size_t pages = sacn_discovery_pages(count), first = page * SACN_PAGE_UNIVERSES;
    assert(count <= SACN_LAST_UNIVERSE && page < pages);
    size_t held = count - first < SACN_PAGE_UNIVERSES ? count - first : SACN_PAGE_UNIVERSES;
    size_t size = AT_LIST_UNIVERSES + 2 * held;
    sacn__begin(packet, size, source->cid, ROOT_VECTOR_EXTENDED, FRAMING_VECTOR_DISCOVERY);
    memcpy(packet + AT_NAME, source->name, SACN_NAME_SIZE);
    put16(packet + AT_LIST, FLAGS | (unsigned)(size - AT_LIST));
    put32(packet + AT_LIST_VECTOR, LIST_VECTOR);
    packet[AT_PAGE] = (uint8_t)page;
    packet[AT_LAST_PAGE] = (uint8_t)(pages - 1);
    for (size_t i = 0; i < held; i++) {
        uint16_t universe = universes[first + i];
        assert(sacn__is_universe(universe) && (first + i == 0 || universe > universes[first + i - 1]));
        put16(packet + AT_LIST_UNIVERSES + 2 * i, universe);
    }
    return size;
}
