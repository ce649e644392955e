/* Data packets built and patched in place, ANSI E1.31-2018 Table 4-1. */
#include "rigcall/sacn.h"

#include <assert.h>
#include <string.h>

#include "rigcall/model.h"
#include "sacn_internal.h"

void sacn__name(char field[SACN_NAME_SIZE], const char *name, size_t length)
{
    char text[SACN_NAME_SIZE];
    size_t at = 0, used = length < sizeof text ? length : sizeof text;
    memcpy(text, name, used);
    while ((at += utf8_check(text + at, used - at)) < used) {
        /* A character that the copy itself cut in two is not wrong; the cut below takes it off. */
        if (length > used && used - at < 4 && utf8_check(name + at, length - at) > 0)
            break;
        text[at] = '?';
    }
    size_t end = utf8_cut(text, at, SACN_NAME_SIZE - 1);
    for (size_t i = 0; i < end; i++) {
        bool c1 = (unsigned char)text[i] == 0xc2 && i + 1 < end && (unsigned char)text[i + 1] < 0xa0;
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7f)
            text[i] = '?';
        else if (c1)
            text[i] = text[i + 1] = '?';
    }
    memset(field, 0, SACN_NAME_SIZE);
    memcpy(field, text, end);
}

void sacn_source_init(struct sacn_source *source, const uint8_t cid[16], const char *name)
{
    memcpy(source->cid, cid, sizeof source->cid);
    sacn__name(source->name, name, strlen(name));
}

void sacn__begin(uint8_t *packet, size_t size, const uint8_t cid[16], uint32_t root_vector, uint32_t framing_vector)
{
    memset(packet, 0, size);
    put16(packet + AT_PREAMBLE, 0x0010);
    memcpy(packet + AT_IDENTIFIER, IDENTIFIER, IDENTIFIER_SIZE);
    put16(packet + AT_ROOT, FLAGS | (unsigned)(size - AT_ROOT));
    put32(packet + AT_ROOT_VECTOR, root_vector);
    memcpy(packet + AT_CID, cid, 16);
    put16(packet + AT_FRAMING, FLAGS | (unsigned)(size - AT_FRAMING));
    put32(packet + AT_FRAMING_VECTOR, framing_vector);
}

void sacn_data_init(uint8_t packet[SACN_DATA_SIZE], const struct sacn_source *source, uint16_t universe, uint8_t priority)
{
    assert(sacn__is_universe(universe));
    assert(priority <= SACN_PRIORITY_LIMIT);
    sacn__begin(packet, SACN_DATA_SIZE, source->cid, ROOT_VECTOR_DATA, FRAMING_VECTOR_DATA);
    memcpy(packet + AT_NAME, source->name, SACN_NAME_SIZE);
    packet[AT_PRIORITY] = priority;
    put16(packet + AT_UNIVERSE, universe);
    put16(packet + AT_DMP, FLAGS | (SACN_DATA_SIZE - AT_DMP));
    packet[AT_DMP_VECTOR] = DMP_VECTOR_SET;
    packet[AT_DMP_TYPE] = DMP_TYPE;
    put16(packet + AT_INCREMENT, 1);
    put16(packet + AT_COUNT, SACN_SLOTS + 1);     /* the START code counts, 7.6 */
}

void sacn_data_set_sequence(uint8_t packet[SACN_DATA_SIZE], uint8_t sequence)
{
    packet[AT_SEQUENCE] = sequence;
}

void sacn_data_set_priority(uint8_t packet[SACN_DATA_SIZE], uint8_t priority)
{
    assert(priority <= SACN_PRIORITY_LIMIT);
    packet[AT_PRIORITY] = priority;
}

void sacn_data_set_sync(uint8_t packet[SACN_DATA_SIZE], uint16_t sync_address)
{
    assert(sync_address == 0 || sacn__is_universe(sync_address));
    put16(packet + AT_SYNC_ADDRESS, sync_address);
}

static void set_option(uint8_t *packet, uint8_t option, bool on)
{
    packet[AT_OPTIONS] = (uint8_t)(on ? packet[AT_OPTIONS] | option : packet[AT_OPTIONS] & ~option);
}

void sacn_data_set_terminated(uint8_t packet[SACN_DATA_SIZE], bool terminated)
{
    set_option(packet, OPTION_TERMINATED, terminated);
}

void sacn_data_set_preview(uint8_t packet[SACN_DATA_SIZE], bool preview)
{
    set_option(packet, OPTION_PREVIEW, preview);
}

void sacn_data_set_force_sync(uint8_t packet[SACN_DATA_SIZE], bool force_sync)
{
    set_option(packet, OPTION_FORCE_SYNC, force_sync);
}
