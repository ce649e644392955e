/* Synchronisation and universe discovery packets, and the settings of data packets, octet by octet: against tests/sacn/samples
 * (decoded by tshark 4.6.9 and 4.4.19, see its README) and against the offsets of ANSI E1.31-2018 Tables 4-1 to 4-3. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn.h"
#include "sacn/samples.h"

/* 8f5c1e0a-3b7d-4c2e-9a41-6d0f2b7e5c13, in the order it is written (E1.31 5.6). */
static const uint8_t sample_cid[16] = {
    0x8f, 0x5c, 0x1e, 0x0a, 0x3b, 0x7d, 0x4c, 0x2e, 0x9a, 0x41, 0x6d, 0x0f, 0x2b, 0x7e, 0x5c, 0x13
};

static struct sacn_source sample_source(void)
{
    struct sacn_source source;
    sacn_source_init(&source, sample_cid, "rigcall reference");
    return source;
}

static void assert_sample(const char *name, const uint8_t *packet, size_t length)
{
    uint8_t octets[SAMPLE_SIZE];
    assert_int_equal(sample_read(name, octets), length);
    for (size_t i = 0; i < length; i++)
        if (packet[i] != octets[i])
            fail_msg("%s: octet %zu is %02x, expected %02x", name, i, packet[i], octets[i]);
}

static void the_synchronisation_sample_is_built(void **state)
{
    (void)state;
    uint8_t packet[SACN_SYNC_SIZE];
    const struct sacn_source source = sample_source();
    memset(packet, 0xa5, sizeof packet);
    sacn_sync_init(packet, &source, 7001);
    sacn_sync_set_sequence(packet, 7);
    assert_sample("sync", packet, sizeof packet);
}

/* Table 4-2: only octets 44 (sequence) and 45..46 (address) differ between synchronisation packets of one source. */
static void synchronisation_fields_lie_where_the_table_says(void **state)
{
    (void)state;
    uint8_t packet[SACN_SYNC_SIZE], sample[SAMPLE_SIZE];
    const struct sacn_source source = sample_source();
    struct sacn_packet parsed;
    sample_read("sync", sample);
    sacn_sync_init(packet, &source, 63999);
    sample[44] = 0, sample[45] = 0xf9, sample[46] = 0xff;
    assert_memory_equal(packet, sample, sizeof packet);
    sacn_sync_set_sequence(packet, 255);
    sample[44] = 255;
    assert_memory_equal(packet, sample, sizeof packet);
    assert_int_equal(sacn_parse(packet, sizeof packet, &parsed), SACN_ACCEPT);
    assert_int_equal(parsed.kind, SACN_SYNC);
    assert_int_equal(parsed.sync_address, 63999);
    assert_int_equal(parsed.sequence, 255);
}

static void the_discovery_samples_are_built(void **state)
{
    (void)state;
    static const uint16_t few[] = { 1, 2, 513, 7001, 63999 };
    uint16_t many[600];
    uint8_t packet[SACN_DISCOVERY_SIZE];
    const struct sacn_source source = sample_source();
    for (uint16_t i = 0; i < 600; i++)
        many[i] = (uint16_t)(i + 1);
    memset(packet, 0xa5, sizeof packet);
    assert_sample("discovery", packet, sacn_discovery_page(packet, &source, few, 5, 0));
    assert_sample("discovery-empty", packet, sacn_discovery_page(packet, &source, NULL, 0, 0));
    assert_int_equal(sacn_discovery_pages(600), 2);
    assert_sample("discovery-page0", packet, sacn_discovery_page(packet, &source, many, 600, 0));
    assert_sample("discovery-page1", packet, sacn_discovery_page(packet, &source, many, 600, 1));
}

/* 512 universes a page (8.5); an empty list is one page (8.4, 12.1). 63999 = 124 x 512 + 511. */
static void lists_are_cut_into_pages(void **state)
{
    (void)state;
    static const struct { size_t count, pages; } cases[] = {
        { 0, 1 }, { 1, 1 }, { 511, 1 }, { 512, 1 }, { 513, 2 }, { 1024, 2 }, { 1025, 3 }, { 63999, 125 },
    };
    static uint16_t all[SACN_LAST_UNIVERSE];
    const struct sacn_source source = sample_source();
    for (size_t i = 0; i < SACN_LAST_UNIVERSE; i++)
        all[i] = (uint16_t)(i + 1);
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        size_t seen = 0;
        assert_int_equal(sacn_discovery_pages(cases[c].count), cases[c].pages);
        for (size_t page = 0; page < cases[c].pages; page++) {
            uint8_t packet[SACN_DISCOVERY_SIZE];
            struct sacn_packet parsed;
            size_t length = sacn_discovery_page(packet, &source, all, cases[c].count, page);
            assert_int_equal(sacn_parse(packet, length, &parsed), SACN_ACCEPT);
            assert_int_equal(parsed.kind, SACN_DISCOVERY);
            assert_int_equal(parsed.page, page);
            assert_int_equal(parsed.last_page, cases[c].pages - 1);
            assert_string_equal(parsed.name, "rigcall reference");
            assert_memory_equal(parsed.cid, sample_cid, 16);
            for (size_t i = 0; i < parsed.universe_count; i++)
                assert_int_equal(parsed.universes[2 * i] << 8 | parsed.universes[2 * i + 1], all[seen + i]);
            seen += parsed.universe_count;
        }
        assert_int_equal(seen, cases[c].count);
    }
}

/* Table 4-1: priority at 108, synchronisation address at 109, options at 112 with the bits of 6.2.6; nothing else moves. */
static void settings_of_data_packets_touch_their_own_octets(void **state)
{
    (void)state;
    uint8_t packet[SACN_DATA_SIZE], expected[SACN_DATA_SIZE];
    const struct sacn_source source = sample_source();
    struct sacn_packet parsed;
    sacn_data_init(packet, &source, 513, 100);
    memcpy(expected, packet, sizeof expected);
    sacn_data_set_priority(packet, 200);
    sacn_data_set_sync(packet, 7001);
    sacn_data_set_preview(packet, true);
    sacn_data_set_force_sync(packet, true);
    sacn_data_set_terminated(packet, true);
    expected[108] = 200, expected[109] = 0x1b, expected[110] = 0x59, expected[112] = 0xe0;
    assert_memory_equal(packet, expected, sizeof expected);
    assert_int_equal(sacn_parse(packet, sizeof packet, &parsed), SACN_ACCEPT);
    assert_true(parsed.preview && parsed.force_sync && parsed.terminated);
    assert_int_equal(parsed.priority, 200);
    assert_int_equal(parsed.sync_address, 7001);
    sacn_data_set_preview(packet, false);
    assert_int_equal(packet[112], 0x60);
    sacn_data_set_terminated(packet, false);
    assert_int_equal(packet[112], 0x20);
    sacn_data_set_force_sync(packet, false);
    sacn_data_set_sync(packet, 0);
    sacn_data_set_priority(packet, 100);
    sacn_data_init(expected, &source, 513, 100);
    assert_memory_equal(packet, expected, sizeof expected);
}

/* data-short.hex and data-preview.hex have fewer slots, so octets of lengths and counts differ; the settings must not. */
static void settings_equal_the_samples(void **state)
{
    (void)state;
    uint8_t packet[SACN_DATA_SIZE], octets[SAMPLE_SIZE];
    const struct sacn_source source = sample_source();
    sacn_data_init(packet, &source, 1, 100);
    sacn_data_set_priority(packet, 150);
    sacn_data_set_sync(packet, 7001);
    sacn_data_set_force_sync(packet, true);
    sacn_data_set_sequence(packet, 255);
    assert_int_equal(sample_read("data-short", octets), 150);
    assert_memory_equal(packet + 40, octets + 40, 75);
    sacn_data_init(packet, &source, 63999, 0);
    sacn_data_set_preview(packet, true);
    assert_int_equal(sample_read("data-preview", octets), 132);
    assert_memory_equal(packet + 40, octets + 40, 75);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_synchronisation_sample_is_built),
        cmocka_unit_test(synchronisation_fields_lie_where_the_table_says),
        cmocka_unit_test(the_discovery_samples_are_built),
        cmocka_unit_test(lists_are_cut_into_pages),
        cmocka_unit_test(settings_of_data_packets_touch_their_own_octets),
        cmocka_unit_test(settings_equal_the_samples),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
