/* Builds the packets that packets.tsv commands and writes them as a capture, for tshark_packets.py to have decoded.
 *   conformance_packets packets.tsv out.pcap */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uuid/uuid.h>

#include "rigcall/sacn.h"

enum { COLUMNS = 13 };

static size_t cut_at_tabs(char *line, char **fields)
{
    size_t count = 0;
    line[strcspn(line, "\n")] = '\0';
    for (char *field; count < COLUMNS && (field = strsep(&line, "\t"));)
        fields[count++] = field;
    return count;
}

static union sacn_address address_of(const char *address, const char *port, uint16_t universe)
{
    union sacn_address result;
    uint16_t number = (uint16_t)atoi(port);
    if (strcmp(address, "group") == 0)
        sacn_group_address(universe, false, number, &result);
    else if (!sacn_address_parse(address, number, &result))
        exit(2);
    return result;
}

static int write_row(struct sacn_capture *capture, char **f, struct rig_why *why)
{
    uint8_t packet[SACN_DATA_SIZE];
    struct sacn_source source;
    uuid_t cid;
    uint16_t universe = (uint16_t)atoi(f[7]);
    const struct sacn_target target = { .to = NULL };
    struct sacn_path path = { .from = address_of(f[1], f[2], universe), .to = address_of(f[3], f[4], universe) };
    path.ttl = sacn_target_ttl(&target, &path.to);
    if (uuid_parse(f[5], cid) != 0)
        exit(2);
    sacn_source_init(&source, cid, f[6]);
    sacn_data_init(packet, &source, universe, (uint8_t)atoi(f[8]));
    sacn_data_set_sequence(packet, (uint8_t)atoi(f[9]));
    sacn_data_set_terminated(packet, f[10][0] == '1');
    for (int slot = 1; slot <= SACN_SLOTS; slot++)
        packet[SACN_SLOT_OFFSET + slot - 1] = (uint8_t)(slot * atoi(f[11]) + atoi(f[12]));
    return sacn_capture_write(capture, strtoll(f[0], NULL, 10), &path, packet, sizeof packet, why);
}

int main(int argc, char **argv)
{
    char line[512], *fields[COLUMNS];
    struct sacn_capture *capture = NULL;
    struct rig_why why;
    FILE *table = argc == 3 ? fopen(argv[1], "r") : NULL;
    if (!table || !fgets(line, sizeof line, table) || sacn_capture_open(argv[2], &capture, &why) != 0)
        return 2;
    int error = 0;
    while (!error && fgets(line, sizeof line, table))
        error = cut_at_tabs(line, fields) == COLUMNS ? write_row(capture, fields, &why) : RIG_EINPUT;
    fclose(table);
    return sacn_capture_close(capture, &why) != 0 || error != 0;
}
