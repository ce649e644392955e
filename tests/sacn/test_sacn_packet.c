/* Packets built and judged. Expected octets: tests/sacn/samples (see its README: made from the layout of ANSI E1.31-2018 Tables
 * 4-1 to 4-3, decoded by tshark 4.6.9 and 4.4.19; data.hex also equals what npm sacn 4.6.2 encodes). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn.h"
#include "sacn/samples.h"

/* 8f5c1e0a-3b7d-4c2e-9a41-6d0f2b7e5c13, in the order it is written (E1.31 5.6). */
static const uint8_t sample_cid[16] = {
    0x8f, 0x5c, 0x1e, 0x0a, 0x3b, 0x7d, 0x4c, 0x2e, 0x9a, 0x41, 0x6d, 0x0f, 0x2b, 0x7e, 0x5c, 0x13
};

#define DEFAULT_NAME "rigcall reference"

/* The samples as their README describes them. */
static const struct data_sample {
    const char *file, *name;
    uint16_t universe; uint8_t sequence, priority; uint16_t sync; uint8_t options;
    uint16_t slots;
    int step;                         /* slot n = n x step mod 256; 0: `levels` */
    uint8_t levels[6];
} data_samples[] = {
    { "data", DEFAULT_NAME, 513, 42, 100, 0, 0x00, 512, 1, { 0 } },
    { "data-short", DEFAULT_NAME, 1, 255, 150, 7001, 0x20, 24, 10, { 0 } },
    { "data-preview", DEFAULT_NAME, 63999, 0, 0, 0, 0x80, 6, 0, { 255, 128, 64, 32, 16, 8 } },
    { "data-utf8", "rigcall r\xc3\xa9" "f\xc3\xa9rence \xe2\x99\xaa plateau n\xc2\xb0" "2", 256, 128, 200, 0, 0x00, 6, 0,
      { 1, 2, 3, 4, 5, 6 } },
    { "terminated-1", DEFAULT_NAME, 513, 43, 100, 0, 0x40, 512, 1, { 0 } },
    { "terminated-2", DEFAULT_NAME, 513, 44, 100, 0, 0x40, 512, 1, { 0 } },
    { "terminated-3", DEFAULT_NAME, 513, 45, 100, 0, 0x40, 512, 1, { 0 } },
};
#define DATA_SAMPLES (sizeof data_samples / sizeof *data_samples)

static uint8_t level_of(const struct data_sample *sample, size_t slot)
{
    return (uint8_t)(sample->step ? slot * (size_t)sample->step : sample->levels[(slot - 1) % sizeof sample->levels]);
}

static size_t read_sample(const char *name, uint8_t octets[SAMPLE_SIZE])
{
    size_t length = sample_read(name, octets);
    if (length == 0)
        fail_msg("cannot read sample %s", name);
    return length;
}

static void full_samples_are_built_octet_for_octet(void **state)
{
    (void)state;
    int built = 0;
    for (size_t i = 0; i < DATA_SAMPLES; i++) {
        const struct data_sample *sample = &data_samples[i];
        uint8_t octets[SAMPLE_SIZE], packet[SACN_DATA_SIZE];
        struct sacn_source source;
        size_t length = read_sample(sample->file, octets);
        sacn_source_init(&source, sample_cid, sample->name);
        sacn_data_init(packet, &source, sample->universe, sample->priority);
        sacn_data_set_sequence(packet, sample->sequence);
        if (sample->slots != SACN_SLOTS) {
            /* A shorter sample: the fields that do not depend on the number of slots are the same. */
            assert_memory_equal(packet, octets, 16);
            assert_memory_equal(packet + 18, octets + 18, 20);
            assert_memory_equal(packet + 40, octets + 40, 69);
            assert_int_equal(packet[111], octets[111]);
            assert_memory_equal(packet + 113, octets + 113, 2);
            assert_memory_equal(packet + 117, octets + 117, 6);
            continue;
        }
        sacn_data_set_terminated(packet, sample->options & 0x40);
        for (size_t slot = 1; slot <= SACN_SLOTS; slot++)
            packet[SACN_SLOT_OFFSET + slot - 1] = level_of(sample, slot);
        assert_int_equal(length, SACN_DATA_SIZE);
        assert_memory_equal(packet, octets, SACN_DATA_SIZE);
        built++;
    }
    assert_int_equal(built, 4);
}

static void terminated_can_be_taken_back(void **state)
{
    (void)state;
    uint8_t packet[SACN_DATA_SIZE], before[SACN_DATA_SIZE];
    struct sacn_source source;
    sacn_source_init(&source, sample_cid, DEFAULT_NAME);
    sacn_data_init(packet, &source, 1, 100);
    memcpy(before, packet, sizeof before);
    sacn_data_set_terminated(packet, true);
    assert_int_equal(packet[112], 0x40);          /* 6.2.6, Table 4-1 */
    sacn_data_set_terminated(packet, false);
    assert_memory_equal(packet, before, sizeof before);
}

static void data_samples_are_read_as_described(void **state)
{
    (void)state;
    for (size_t i = 0; i < DATA_SAMPLES; i++) {
        const struct data_sample *sample = &data_samples[i];
        uint8_t octets[SAMPLE_SIZE];
        struct sacn_packet packet;
        size_t length = read_sample(sample->file, octets);
        assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
        assert_int_equal(packet.kind, SACN_DATA);
        assert_memory_equal(packet.cid, sample_cid, 16);
        assert_string_equal(packet.name, sample->name);
        assert_int_equal(packet.universe, sample->universe);
        assert_int_equal(packet.sequence, sample->sequence);
        assert_int_equal(packet.priority, sample->priority);
        assert_int_equal(packet.sync_address, sample->sync);
        assert_int_equal(packet.start_code, 0);
        assert_int_equal(packet.preview, sample->options == 0x80);
        assert_int_equal(packet.terminated, sample->options == 0x40);
        assert_int_equal(packet.force_sync, sample->options == 0x20);
        assert_int_equal(packet.slot_count, sample->slots);
        for (size_t slot = 1; slot <= sample->slots; slot++)
            assert_int_equal(packet.slots[slot - 1], level_of(sample, slot));
    }
}

static void sync_sample_is_read_as_described(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE];
    struct sacn_packet packet;
    size_t length = read_sample("sync", octets);
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
    assert_int_equal(packet.kind, SACN_SYNC);
    assert_memory_equal(packet.cid, sample_cid, 16);
    assert_int_equal(packet.sync_address, 7001);
    assert_int_equal(packet.sequence, 7);
    assert_string_equal(packet.name, "");
}

static void check_discovery(const char *file, uint8_t page, uint8_t last, size_t count, const uint16_t *universes, uint16_t from)
{
    uint8_t octets[SAMPLE_SIZE];
    struct sacn_packet packet;
    size_t length = read_sample(file, octets);
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
    assert_int_equal(packet.kind, SACN_DISCOVERY);
    assert_memory_equal(packet.cid, sample_cid, 16);
    assert_string_equal(packet.name, DEFAULT_NAME);
    assert_int_equal(packet.page, page);
    assert_int_equal(packet.last_page, last);
    assert_int_equal(packet.universe_count, count);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(packet.universes[2 * i] << 8 | packet.universes[2 * i + 1], universes ? universes[i] : from + i);
}

static void discovery_samples_are_read_as_described(void **state)
{
    (void)state;
    static const uint16_t few[] = { 1, 2, 513, 7001, 63999 };
    check_discovery("discovery", 0, 0, 5, few, 0);
    check_discovery("discovery-empty", 0, 0, 0, NULL, 0);
    check_discovery("discovery-page0", 0, 1, 512, NULL, 1);
    check_discovery("discovery-page1", 1, 1, 88, NULL, 513);
}

/* The words of mutations.tsv as verdicts; the clause tells which layer a discarded packet is wrong in. */
static enum sacn_verdict expected_verdict(const char *expected, const char *clause)
{
    if (strncmp(expected, "accept", 6) == 0)
        return SACN_ACCEPT;
    if (strcmp(expected, "ignore") == 0)
        return SACN_IGNORE;
    if (strcmp(expected, "valid packet, not level data") == 0)
        return SACN_OTHER_START_CODE;
    if (strcmp(expected, "length mismatch") == 0)
        return SACN_BAD_LENGTH;       /* our choice: refused, see sacn_parse.c */
    if (strcmp(expected, "invalid field value") == 0 || strncmp(expected, "sender error", 12) == 0)
        return SACN_BAD_VALUE;        /* our choice: refused */
    assert_string_equal(expected, "discard");
    return clause[0] == '5' ? SACN_BAD_ROOT : clause[0] == '6' ? SACN_BAD_FRAMING : SACN_BAD_DMP;
}

static void every_mutation_is_judged_as_the_table_says(void **state)
{
    (void)state;
    char line[512], *fields[6];
    int rows = 0;
    FILE *table = fopen(SAMPLES "mutations.tsv", "r");
    assert_non_null(table);
    assert_non_null(fgets(line, sizeof line, table));
    while (fgets(line, sizeof line, table)) {
        uint8_t octets[SAMPLE_SIZE], change[32];
        struct sacn_packet packet;
        assert_int_equal(sample_fields(line, fields, 6), 6);
        size_t length = read_sample(fields[1], octets), at = strtoul(fields[2], NULL, 10);
        size_t changed = sample_from_hex(fields[3], change, sizeof change);
        assert_in_range(at + changed, 1, length);
        memcpy(octets + at, change, changed);
        enum sacn_verdict verdict = sacn_parse(octets, length, &packet), expected = expected_verdict(fields[4], fields[5]);
        if (verdict != expected)
            fail_msg("%s: %s, expected %s", fields[0], sacn_verdict_name(verdict), sacn_verdict_name(expected));
        if (verdict != SACN_ACCEPT && verdict != SACN_OTHER_START_CODE)
            assert_null(packet.cid);
        rows++;
    }
    fclose(table);
    assert_int_equal(rows, 23);
}

/* 7.7: the slots of another START code are given, marked with it. 6.2.6: the low five option bits are not looked at. */
static void accepted_mutations_keep_their_fields(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE];
    struct sacn_packet packet;
    size_t length = read_sample("data-short", octets);
    octets[125] = 0x17;
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_OTHER_START_CODE);
    assert_int_equal(packet.start_code, 0x17);
    assert_int_equal(packet.slot_count, 24);
    octets[125] = 0;
    octets[112] = 0x3f;
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
    assert_true(packet.force_sync && !packet.preview && !packet.terminated);
}

/* Every shorter or longer datagram than its length fields say is refused, without a read outside (AddressSanitizer watches:
 * each copy is exactly as long as it claims). */
static void every_cut_of_every_sample_is_refused(void **state)
{
    (void)state;
    static const char *const files[] = {
        "data", "data-short", "data-preview", "data-utf8", "sync", "discovery", "discovery-empty", "discovery-page0"
    };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        uint8_t octets[SAMPLE_SIZE] = { 0 };
        size_t length = read_sample(files[i], octets);
        for (size_t cut = 0; cut <= length + 3; cut++) {
            struct sacn_packet packet;
            uint8_t *exact = malloc(cut + 1);
            assert_non_null(exact);
            memcpy(exact + 1, octets, cut);
            enum sacn_verdict verdict = sacn_parse(exact + 1, cut, &packet);
            free(exact);
            if (cut == length)
                assert_int_equal(verdict, SACN_ACCEPT);
            else
                assert_int_equal(verdict, SACN_BAD_LENGTH);
        }
    }
}

/* Table 4-1: N may be 0; then only the START code is there, 126 octets, lengths 110, 88, 11 and count 1. */
static void packet_without_slots_is_accepted(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE];
    struct sacn_packet packet;
    read_sample("data", octets);
    octets[16] = 0x70, octets[17] = 110;
    octets[38] = 0x70, octets[39] = 88;
    octets[115] = 0x70, octets[116] = 11;
    octets[123] = 0, octets[124] = 1;
    assert_int_equal(sacn_parse(octets, 126, &packet), SACN_ACCEPT);
    assert_int_equal(packet.slot_count, 0);
    octets[124] = 0;
    assert_int_equal(sacn_parse(octets, 126, &packet), SACN_BAD_LENGTH);
}

/* 513 slots with all lengths right: above what E1.11 and 7.6 allow. */
static void too_many_slots_are_refused(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE] = { 0 };
    struct sacn_packet packet;
    read_sample("data", octets);
    octets[17]++, octets[39]++, octets[116]++, octets[124]++;
    assert_int_equal(sacn_parse(octets, 639, &packet), SACN_BAD_VALUE);
}

/* 8.5: at most 512 universes a page, two octets each. */
static void list_of_the_wrong_size_is_refused(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE] = { 0 };
    struct sacn_packet packet;
    read_sample("discovery-page0", octets);
    octets[1144] = 2, octets[1145] = 1;           /* universe 513 */
    octets[17] += 2, octets[39] += 2, octets[113] += 2;
    assert_int_equal(sacn_parse(octets, 1146, &packet), SACN_BAD_LENGTH);
    read_sample("discovery", octets);
    octets[17]--, octets[39]--, octets[113]--;
    assert_int_equal(sacn_parse(octets, 129, &packet), SACN_BAD_LENGTH);
}

/* The values next to each border (6.2.3, 6.2.7, 6.3.3, 8.3 to 8.5). */
static void borders_of_ranges(void **state)
{
    (void)state;
    static const struct { const char *sample; int at, high, low; enum sacn_verdict verdict; } cases[] = {
        { "data", 107, 0, 200, SACN_ACCEPT }, { "data", 107, 0, 201, SACN_BAD_VALUE },
        { "data", 113, 0x00, 0x01, SACN_ACCEPT }, { "data", 113, 0xf9, 0xff, SACN_ACCEPT },
        { "data", 113, 0xff, 0xff, SACN_BAD_VALUE },
        { "data", 109, 0xf9, 0xff, SACN_ACCEPT }, { "data", 109, 0xfa, 0x00, SACN_BAD_VALUE },
        { "sync", 45, 0xf9, 0xff, SACN_ACCEPT }, { "sync", 45, 0xfa, 0x00, SACN_BAD_VALUE },
        { "discovery", 118, 0, 1, SACN_ACCEPT }, { "discovery", 118, 1, 0, SACN_BAD_VALUE },
        { "discovery", 122, 0, 1, SACN_BAD_VALUE },   /* a universe twice */
        { "discovery", 128, 0xfa, 0, SACN_BAD_VALUE }, { "discovery", 120, 0, 0, SACN_BAD_VALUE },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        uint8_t octets[SAMPLE_SIZE];
        struct sacn_packet packet;
        size_t length = read_sample(cases[i].sample, octets);
        octets[cases[i].at] = (uint8_t)cases[i].high;
        octets[cases[i].at + 1] = (uint8_t)cases[i].low;
        assert_int_equal(sacn_parse(octets, length, &packet), cases[i].verdict);
    }
}

static void check_name(const char *given, const char *expected)
{
    struct sacn_source source;
    sacn_source_init(&source, sample_cid, given);
    assert_string_equal(source.name, expected);
    for (size_t i = strlen(expected); i < SACN_NAME_SIZE; i++)
        assert_int_equal(source.name[i], 0);      /* unused octets are NUL, 6.2.2 */
}

#define TEN "0123456789"
#define SIXTY TEN TEN TEN TEN TEN TEN

static void names_are_cut_at_a_character(void **state)
{
    (void)state;
    check_name("", "");
    check_name(SIXTY "abc", SIXTY "abc");
    check_name(SIXTY "abcd", SIXTY "abc");
    check_name(SIXTY "ab\xc3\xa9", SIXTY "ab");                    /* the second octet would be the 64th */
    check_name(SIXTY "a\xc3\xa9", SIXTY "a\xc3\xa9");
    check_name(SIXTY "\xf0\x9f\x92\xa1", SIXTY);                   /* four octets, three places */
    check_name(SIXTY "a\xe2\x99\xaa" TEN, SIXTY "a");              /* cut in the copy and in the field */
    check_name(SIXTY "ab\xf0\x9f\x92\xa1" TEN, SIXTY "ab");
}

static void names_are_cleaned(void **state)
{
    (void)state;
    check_name("a\xff" "b\xc3", "a?b?");
    check_name("tab\there\x1b[31m\x7f", "tab?here?[31m?");
    check_name("c1 \xc2\x9b" "31m n\xc2\xb0", "c1 ??31m n\xc2\xb0");
    check_name("\xed\xa0\x80", "???");                             /* a surrogate, RFC 3629 */
}

static void received_name_may_lack_its_nul(void **state)
{
    (void)state;
    uint8_t octets[SAMPLE_SIZE];
    struct sacn_packet packet;
    size_t length = read_sample("data", octets);
    memset(octets + 44, 'x', 64);
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
    assert_int_equal(strlen(packet.name), 63);
    octets[44 + 3] = '\0';            /* what follows the NUL is not part of the name */
    assert_int_equal(sacn_parse(octets, length, &packet), SACN_ACCEPT);
    assert_string_equal(packet.name, "xxx");
}

/* E1.31 6.7.2, as worked out row by row in sequence-window.tsv. */
static void every_row_of_the_sequence_window(void **state)
{
    (void)state;
    char line[128], *fields[4];
    int rows = 0;
    FILE *table = fopen(SAMPLES "sequence-window.tsv", "r");
    assert_non_null(table);
    assert_non_null(fgets(line, sizeof line, table));
    for (; fgets(line, sizeof line, table); rows++) {
        assert_int_equal(sample_fields(line, fields, 4), 4);
        bool accepted = sacn_sequence_accepted((uint8_t)atoi(fields[0]), (uint8_t)atoi(fields[1]));
        assert_int_equal(accepted, strcmp(fields[3], "accept") == 0);
    }
    fclose(table);
    assert_int_equal(rows, 27);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_samples_are_built_octet_for_octet),
        cmocka_unit_test(terminated_can_be_taken_back),
        cmocka_unit_test(data_samples_are_read_as_described),
        cmocka_unit_test(sync_sample_is_read_as_described),
        cmocka_unit_test(discovery_samples_are_read_as_described),
        cmocka_unit_test(every_mutation_is_judged_as_the_table_says),
        cmocka_unit_test(accepted_mutations_keep_their_fields),
        cmocka_unit_test(every_cut_of_every_sample_is_refused),
        cmocka_unit_test(packet_without_slots_is_accepted),
        cmocka_unit_test(too_many_slots_are_refused),
        cmocka_unit_test(list_of_the_wrong_size_is_refused),
        cmocka_unit_test(borders_of_ranges),
        cmocka_unit_test(names_are_cut_at_a_character),
        cmocka_unit_test(names_are_cleaned),
        cmocka_unit_test(received_name_may_lack_its_nul),
        cmocka_unit_test(every_row_of_the_sequence_window),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
