/* Captures. Layout: pcap-savefile(5), RFC 791, RFC 768; checksums are worked out by hand or as RFC 1071 says, a 16-bit word at a
 * time. tests/conformance has tshark check the same. */
#include <arpa/inet.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "rigcall/sacn.h"

static char path[64];

static int make_file(void **state)
{
    (void)state;
    strcpy(path, "/tmp/rigcall-pcap-XXXXXX");
    int fd = mkstemp(path);
    return fd < 0 ? -1 : close(fd);
}

static int remove_file(void **state)
{
    (void)state;
    return unlink(path);
}

static struct sacn_path path_of(const char *from, uint16_t from_port, const char *to, uint16_t to_port)
{
    const struct sacn_target target = { .to = NULL };
    struct sacn_path result = { .dscp = 0 };
    assert_true(sacn_address_parse(from, from_port, &result.from) && sacn_address_parse(to, to_port, &result.to));
    result.ttl = sacn_target_ttl(&target, &result.to);
    return result;
}

static uint8_t *read_all(size_t *length)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    fseek(file, 0, SEEK_END);
    *length = (size_t)ftell(file);
    rewind(file);
    uint8_t *octets = malloc(*length + 1);
    assert_non_null(octets);
    assert_int_equal(fread(octets, 1, *length, file), *length);
    fclose(file);
    return octets;
}

/* RFC 1071: the plain way, big-endian words; a right packet adds up to 0xffff. */
static uint32_t add_words(uint32_t sum, const uint8_t *octets, size_t length)
{
    for (size_t i = 0; i < length; i++)
        sum += i % 2 ? octets[i] : (uint32_t)octets[i] << 8;
    while (sum >> 16)
        sum = (sum & 0xffff) + (sum >> 16);
    return sum;
}

static uint32_t udp_sum(const uint8_t *ip, size_t udp_length)
{
    const uint8_t pseudo[4] = { 0, 17, (uint8_t)(udp_length >> 8), (uint8_t)udp_length };
    return add_words(add_words(add_words(0, ip + 12, 8), pseudo, 4), ip + 20, udp_length);
}

static uint32_t host32(const uint8_t *octets)
{
    uint32_t value;
    memcpy(&value, octets, sizeof value);
    return value;
}

static void one_packet_is_laid_out_as_the_standards_say(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    const struct sacn_path way = path_of("127.0.0.1", 5568, "239.255.0.1", 5568);
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    assert_int_equal(sacn_capture_write(capture, 1234567891011, &way, (const uint8_t *)"abcd", 4, NULL), 0);
    assert_int_equal(sacn_capture_packets(capture), 1);
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length;
    uint8_t *octets = read_all(&length);
    assert_int_equal(length, 24 + 16 + 20 + 8 + 4);
    assert_int_equal(host32(octets), 0xa1b23c4d);                  /* nanoseconds */
    assert_int_equal(host32(octets + 16), 65535);
    assert_int_equal(host32(octets + 20), 101);                    /* LINKTYPE_RAW */
    assert_int_equal(host32(octets + 24), 1234);
    assert_int_equal(host32(octets + 28), 567891011);
    assert_int_equal(host32(octets + 32), 32);
    assert_int_equal(host32(octets + 36), 32);
    /* IPv4, 20 octets, total 32, ident 0, don't fragment, TTL 8, UDP. The words 4500 0020 0000 4000 0811 7f00 0001 efff 0001 add
     * up to 1fc32 = fc33, so the checksum is 03cc. UDP: pseudo header 7f00 0001 efff 0001 0011 000c and 15c0 15c0 000c 0000 6162
     * 6364 add up to 25f70 = 5f72, so a08d. */
    static const uint8_t expected[32] = {
        0x45, 0, 0, 32, 0, 0, 0x40, 0, 8, 17, 0x03, 0xcc, 127, 0, 0, 1, 239, 255, 0, 1,
        0x15, 0xc0, 0x15, 0xc0, 0, 12, 0xa0, 0x8d, 'a', 'b', 'c', 'd'
    };
    assert_memory_equal(octets + 40, expected, sizeof expected);
    free(octets);
}

/* RFC 8200 3: version 6, traffic class b8 (DSCP 46, RFC 2474 3), flow label 0, payload 12, UDP, hop limit 3. The words of the pseudo
 * header 2001 0db8 0001 ff18 8300 1b59 000c 0011 (and zeros) add up to 1cb48, with 15c0 15c0 000c 6162 6364 to 2bb9a = bb9c, so the
 * checksum is 4463 (RFC 8200 8.1). */
static void one_ipv6_packet_is_laid_out_as_the_standards_say(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    struct sacn_path way = path_of("2001:db8::1", 5568, "ff18::8300:1b59", 5568);
    way.dscp = 46;
    way.ttl = 3;
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    assert_int_equal(sacn_capture_write(capture, 7, &way, (const uint8_t *)"abcd", 4, NULL), 0);
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length;
    uint8_t *octets = read_all(&length);
    assert_int_equal(length, 24 + 16 + 40 + 8 + 4);
    assert_int_equal(host32(octets + 32), 52);
    assert_int_equal(host32(octets + 36), 52);
    static const uint8_t expected[52] = {
        0x6b, 0x80, 0, 0, 0, 12, 17, 3, 0x20, 0x01, 0x0d, 0xb8, [23] = 1, 0xff, 0x18, [36] = 0x83, [38] = 0x1b, 0x59,
        0x15, 0xc0, 0x15, 0xc0, 0, 12, 0x44, 0x63, 'a', 'b', 'c', 'd'
    };
    assert_memory_equal(octets + 40, expected, sizeof expected);
    free(octets);
}

/* The octet of RFC 791's type of service is that of RFC 2474: 46 << 2 = b8. */
static void dscp_and_ttl_of_ipv4_stand_in_the_header(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    struct sacn_path way = path_of("127.0.0.1", 1, "127.0.0.2", 2);
    way.dscp = 46;
    way.ttl = 255;
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    assert_int_equal(sacn_capture_write(capture, 0, &way, (const uint8_t *)"", 0, NULL), 0);
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length;
    uint8_t *octets = read_all(&length);
    assert_int_equal(octets[41], 0xb8);
    assert_int_equal(octets[48], 255);
    assert_int_equal(add_words(0, octets + 40, 20), 0xffff);
    assert_int_equal(udp_sum(octets + 40, 8), 0xffff);
    free(octets);
}

/* RFC 8200 8.1: addresses, length and next header are added, a 16-bit word at a time here. */
static void ipv6_checksums_hold_for_every_length(void **state)
{
    (void)state;
    enum { PACKETS = 1300 };
    struct sacn_capture *capture;
    uint8_t payload[PACKETS];
    const struct sacn_path way = path_of("2001:db8:ffff:ffff:ffff:ffff:ffff:fffe", 40000, "2001:db8::abcd", 5568);
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    for (size_t i = 0; i < PACKETS; i++) {
        for (size_t j = 0; j < i; j++)
            payload[j] = (uint8_t)(i % 3 == 0 ? 0xff : j * 167 + i);
        assert_int_equal(sacn_capture_write(capture, (int64_t)i, &way, payload, i, NULL), 0);
    }
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length, at = 24;
    uint8_t *octets = read_all(&length);
    for (size_t i = 0; i < PACKETS; i++) {
        const uint8_t *ip = octets + at + 16;
        const uint8_t pseudo[4] = { (uint8_t)((8 + i) >> 8), (uint8_t)(8 + i), 0, 17 };
        assert_int_equal(host32(octets + at + 8), 48 + i);
        assert_int_equal(ip[7], 64);
        assert_int_equal(ip[4] << 8 | ip[5], 8 + i);
        assert_int_equal(add_words(add_words(add_words(0, ip + 8, 32), pseudo, 4), ip + 40, 8 + i), 0xffff);
        assert_true(ip[46] != 0 || ip[47] != 0);                   /* RFC 8200 8.1: 0 is sent as all ones */
        at += 16 + 48 + i;
    }
    assert_int_equal(at, length);
    free(octets);
}

static void checksums_hold_for_every_length_and_content(void **state)
{
    (void)state;
    enum { PACKETS = 1300 };
    struct sacn_capture *capture;
    uint8_t payload[PACKETS];
    const struct sacn_path way = path_of("10.20.0.11", 40000, "10.255.255.254", 5568);
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    for (size_t i = 0; i < PACKETS; i++) {
        memset(payload, i % 3 == 0 ? 0xff : 0, sizeof payload);
        for (size_t j = 0; i % 3 == 1 && j < i; j++)
            payload[j] = (uint8_t)(j * 167 + i);
        assert_int_equal(sacn_capture_write(capture, (int64_t)i, &way, payload, i, NULL), 0);
    }
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length, at = 24;
    uint8_t *octets = read_all(&length);
    for (size_t i = 0; i < PACKETS; i++) {
        const uint8_t *ip = octets + at + 16;
        assert_int_equal(host32(octets + at + 8), 28 + i);
        assert_int_equal(ip[4] << 8 | ip[5], i);                   /* ident counts */
        assert_int_equal(ip[8], 64);
        assert_int_equal(add_words(0, ip, 20), 0xffff);
        assert_int_equal(udp_sum(ip, 8 + i), 0xffff);
        assert_true(ip[26] != 0 || ip[27] != 0);                   /* RFC 768: 0 is sent as all ones */
        at += 16 + 28 + i;
    }
    assert_int_equal(at, length);
    free(octets);
}

/* RFC 768: a checksum that comes out as 0 is sent as 0xffff. Payload word w makes the sum 0xffff: for 127.0.0.1:1 to 127.0.0.1:1
 * the words 7f00 0001 7f00 0001 0011 000a and 0001 0001 000a 0000 add up to fe29, and fe29 + 01d6 = ffff. */
static void zero_checksum_is_sent_as_ones(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    const struct sacn_path way = path_of("127.0.0.1", 1, "127.0.0.1", 1);
    const uint8_t payload[2] = { 0x01, 0xd6 };
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    assert_int_equal(sacn_capture_write(capture, 0, &way, payload, 2, NULL), 0);
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    size_t length;
    uint8_t *octets = read_all(&length);
    assert_int_equal(octets[40 + 26] << 8 | octets[40 + 27], 0xffff);
    free(octets);
}

static void capture_without_packets_is_a_header(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    size_t length;
    assert_int_equal(sacn_capture_open(path, &capture, NULL), 0);
    assert_int_equal(sacn_capture_close(capture, NULL), 0);
    free(read_all(&length));
    assert_int_equal(length, 24);
}

static void full_disk_is_reported_once_and_at_the_close(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    struct rig_why why;
    const struct sacn_path way = path_of("127.0.0.1", 5568, "127.0.0.1", 5568);
    uint8_t payload[SACN_DATA_SIZE] = { 0 };
    int error = 0;
    assert_int_equal(sacn_capture_open("/dev/full", &capture, &why), 0);
    for (int i = 0; i < 2000 && !error; i++)
        error = sacn_capture_write(capture, i, &way, payload, sizeof payload, &why);
    assert_int_equal(error, RIG_EIO);
    assert_string_equal(why.text, "/dev/full: No space left on device");
    assert_int_equal(sacn_capture_close(capture, &why), RIG_EIO);
}

static void path_that_cannot_be_opened_is_named(void **state)
{
    (void)state;
    struct sacn_capture *capture;
    struct rig_why why;
    assert_int_equal(sacn_capture_open("/nowhere/at/all.pcap", &capture, &why), RIG_EIO);
    assert_null(capture);
    assert_string_equal(why.text, "/nowhere/at/all.pcap: No such file or directory");
    assert_int_equal(sacn_capture_close(NULL, &why), 0);
}

#define ON_FILE(test) cmocka_unit_test_setup_teardown(test, make_file, remove_file)

int main(void)
{
    const struct CMUnitTest tests[] = {
        ON_FILE(one_packet_is_laid_out_as_the_standards_say),
        ON_FILE(one_ipv6_packet_is_laid_out_as_the_standards_say),
        ON_FILE(dscp_and_ttl_of_ipv4_stand_in_the_header),
        ON_FILE(ipv6_checksums_hold_for_every_length),
        ON_FILE(checksums_hold_for_every_length_and_content),
        ON_FILE(zero_checksum_is_sent_as_ones),
        ON_FILE(capture_without_packets_is_a_header),
        cmocka_unit_test(full_disk_is_reported_once_and_at_the_close),
        cmocka_unit_test(path_that_cannot_be_opened_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
