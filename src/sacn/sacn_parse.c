/* Datagrams judged, ANSI E1.31-2018. Every octet comes from the network: nothing is read before its place is known to be
 * inside the datagram, and every length and count must agree with the datagram's own. Where the standard gives a range but no
 * sentence about what lies outside (a priority above 200, a universe above 63999, lengths that disagree), the packet is
 * refused: a source that is wrong there cannot be believed about its levels. */
#include "rigcall/sacn.h"

#include <string.h>

#include "sacn_internal.h"

/* Flags 0x7, and the length from here to the end of the datagram (5.4, 6.1, 7.1, 8.1). */
static bool length_fits(const uint8_t *datagram, size_t length, size_t at)
{
    return get16(datagram + at) == (FLAGS | (length - at));
}

static void take_name(struct sacn_packet *packet, const uint8_t *datagram)
{
    const char *name = (const char *)datagram + AT_NAME;
    sacn__name(packet->name, name, strnlen(name, SACN_NAME_SIZE));
}

static enum sacn_verdict parse_dmp(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    if (datagram[AT_DMP_VECTOR] != DMP_VECTOR_SET || datagram[AT_DMP_TYPE] != DMP_TYPE ||
        get16(datagram + AT_FIRST_ADDRESS) != 0 || get16(datagram + AT_INCREMENT) != 1)
        return SACN_BAD_DMP;
    if (get16(datagram + AT_COUNT) > SACN_SLOTS + 1)
        return SACN_BAD_VALUE;
    if (!length_fits(datagram, length, AT_DMP) || get16(datagram + AT_COUNT) != length - AT_START_CODE)
        return SACN_BAD_LENGTH;
    packet->start_code = datagram[AT_START_CODE];
    packet->slots = datagram + SACN_SLOT_OFFSET;
    packet->slot_count = (uint16_t)(length - SACN_SLOT_OFFSET);
    return packet->start_code == 0 ? SACN_ACCEPT : SACN_OTHER_START_CODE;
}

static enum sacn_verdict parse_data(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    if (length < SACN_SLOT_OFFSET)
        return SACN_BAD_LENGTH;
    if (get32(datagram + AT_FRAMING_VECTOR) != FRAMING_VECTOR_DATA)
        return SACN_BAD_FRAMING;
    enum sacn_verdict verdict = parse_dmp(datagram, length, packet);
    if (verdict != SACN_ACCEPT && verdict != SACN_OTHER_START_CODE)
        return verdict;
    packet->kind = SACN_DATA;
    packet->priority = datagram[AT_PRIORITY];
    packet->sync_address = get16(datagram + AT_SYNC_ADDRESS);
    packet->sequence = datagram[AT_SEQUENCE];
    packet->preview = datagram[AT_OPTIONS] & OPTION_PREVIEW;
    packet->terminated = datagram[AT_OPTIONS] & OPTION_TERMINATED;
    packet->force_sync = datagram[AT_OPTIONS] & OPTION_FORCE_SYNC;
    packet->universe = get16(datagram + AT_UNIVERSE);
    if (packet->priority > SACN_PRIORITY_LIMIT || !sacn__is_universe(packet->universe) ||
        (packet->sync_address != 0 && !sacn__is_universe(packet->sync_address)))
        return SACN_BAD_VALUE;
    take_name(packet, datagram);
    return verdict;
}

static enum sacn_verdict parse_sync(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    if (length != SYNC_SIZE)
        return SACN_BAD_LENGTH;
    packet->kind = SACN_SYNC;
    packet->sequence = datagram[AT_SYNC_SEQUENCE];
    packet->sync_address = get16(datagram + AT_SYNC_PACKET_ADDRESS);
    if (packet->sync_address == 0)
        return SACN_IGNORE;           /* 6.3.3.1 */
    return sacn__is_universe(packet->sync_address) ? SACN_ACCEPT : SACN_BAD_VALUE;
}

static enum sacn_verdict parse_discovery(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    if (length < AT_LIST_UNIVERSES)
        return SACN_BAD_LENGTH;
    if (get32(datagram + AT_LIST_VECTOR) != LIST_VECTOR)
        return SACN_BAD_DMP;
    size_t octets = length - AT_LIST_UNIVERSES;
    if (!length_fits(datagram, length, AT_LIST) || octets % 2 != 0)
        return SACN_BAD_LENGTH;
    packet->kind = SACN_DISCOVERY;
    packet->page = datagram[AT_PAGE];
    packet->last_page = datagram[AT_LAST_PAGE];
    packet->universes = datagram + AT_LIST_UNIVERSES;
    packet->universe_count = (uint16_t)(octets / 2);
    if (packet->page > packet->last_page)
        return SACN_BAD_VALUE;
    uint16_t before = 0;
    for (size_t i = 0; i < packet->universe_count; i++) {
        uint16_t universe = get16(packet->universes + 2 * i);
        if (universe <= before || !sacn__is_universe(universe))
            return SACN_BAD_VALUE;    /* sorted, ascending: 8.5 */
        before = universe;
    }
    take_name(packet, datagram);
    return SACN_ACCEPT;
}

static enum sacn_verdict parse_extended(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    switch (get32(datagram + AT_FRAMING_VECTOR)) {
    case FRAMING_VECTOR_SYNC:
        return parse_sync(datagram, length, packet);
    case FRAMING_VECTOR_DISCOVERY:
        return parse_discovery(datagram, length, packet);
    default:
        return SACN_BAD_FRAMING;
    }
}

static enum sacn_verdict parse_root(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    if (length < AT_NAME || length > LARGEST_PACKET)
        return SACN_BAD_LENGTH;
    if (get16(datagram + AT_PREAMBLE) != 0x0010 || get16(datagram + AT_POSTAMBLE) != 0 ||
        memcmp(datagram + AT_IDENTIFIER, IDENTIFIER, IDENTIFIER_SIZE) != 0)
        return SACN_BAD_ROOT;
    uint32_t vector = get32(datagram + AT_ROOT_VECTOR);
    if (vector != ROOT_VECTOR_DATA && vector != ROOT_VECTOR_EXTENDED)
        return SACN_BAD_ROOT;
    if (!length_fits(datagram, length, AT_ROOT) || !length_fits(datagram, length, AT_FRAMING))
        return SACN_BAD_LENGTH;
    packet->cid = datagram + AT_CID;
    if (vector == ROOT_VECTOR_DATA)
        return parse_data(datagram, length, packet);
    return parse_extended(datagram, length, packet);
}

enum sacn_verdict sacn_parse(const uint8_t *datagram, size_t length, struct sacn_packet *packet)
{
    memset(packet, 0, sizeof *packet);
    enum sacn_verdict verdict = parse_root(datagram, length, packet);
    if (verdict != SACN_ACCEPT && verdict != SACN_OTHER_START_CODE)
        memset(packet, 0, sizeof *packet);        /* nothing of a refused packet is left to be believed */
    return verdict;
}

const char *sacn_verdict_name(enum sacn_verdict verdict)
{
    static const char *const names[] = {
        [SACN_ACCEPT] = "accept", [SACN_OTHER_START_CODE] = "other START code", [SACN_IGNORE] = "ignore",
        [SACN_BAD_ROOT] = "bad root layer", [SACN_BAD_FRAMING] = "bad framing layer", [SACN_BAD_DMP] = "bad DMP or list layer",
        [SACN_BAD_LENGTH] = "bad length", [SACN_BAD_VALUE] = "bad value",
    };
    return (size_t)verdict < sizeof names / sizeof *names ? names[verdict] : "?";
}

bool sacn_sequence_accepted(uint8_t last, uint8_t received)
{
    int8_t difference = (int8_t)(uint8_t)(received - last);
    return difference > 0 || difference <= -20;
}
