/* Addresses. Groups: the examples of ANSI E1.31-2018 9.3.1 and 9.3.2, Tables 9-10 to 9-12; the zone's form: RFC 4007 11.2. */
#include <arpa/inet.h>
#include <net/if.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn.h"

static void groups_of_universes(void **state)
{
    (void)state;
    static const struct { uint16_t universe; const char *v4, *v6; } cases[] = {
        { 1, "239.255.0.1", "ff18::8300:1" },
        { 255, "239.255.0.255", "ff18::8300:ff" },
        { 256, "239.255.1.0", "ff18::8300:100" },
        { 513, "239.255.2.1", "ff18::8300:201" },
        { 7001, "239.255.27.89", "ff18::8300:1b59" },
        { 63999, "239.255.249.255", "ff18::8300:f9ff" },
        { SACN_DISCOVERY_UNIVERSE, "239.255.250.214", "ff18::8300:fad6" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        union sacn_address group;
        char text[SACN_ADDRESS_TEXT];
        sacn_group_address(cases[i].universe, false, 5568, &group);
        sacn_address_text(&group, text);
        assert_string_equal(text, cases[i].v4);
        assert_int_equal(group.any.sa_family, AF_INET);
        assert_int_equal(group.v4.sin_port, htons(5568));
        sacn_group_address(cases[i].universe, true, 5568, &group);
        sacn_address_text(&group, text);
        assert_string_equal(text, cases[i].v6);
        assert_int_equal(group.any.sa_family, AF_INET6);
        assert_int_equal(group.v6.sin6_port, htons(5568));
    }
}

/* Table 9-11 and 9-12, octet by octet, for universe 7001 = 0x1b59. */
static void an_ipv6_group_octet_by_octet(void **state)
{
    (void)state;
    static const uint8_t expected[16] = { 0xff, 0x18, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x83, 0x00, 0x1b, 0x59 };
    union sacn_address group;
    sacn_group_address(7001, true, 1, &group);
    assert_memory_equal(group.v6.sin6_addr.s6_addr, expected, sizeof expected);
}

static void texts_are_read_and_written(void **state)
{
    (void)state;
    char zone[IF_NAMESIZE] = "", named[64], numbered[64], text[SACN_ADDRESS_TEXT];
    uint32_t lo = if_nametoindex("lo");
    assert_int_not_equal(lo, 0);
    if_indextoname(lo, zone);
    snprintf(named, sizeof named, "fe80::1:2%%%s", zone);
    snprintf(numbered, sizeof numbered, "fe80::1:2%%%u", (unsigned)lo);
    const struct { const char *given, *written; sa_family_t family; uint32_t scope; } cases[] = {
        { "10.20.0.11", "10.20.0.11", AF_INET, 0 },
        { "255.255.255.255", "255.255.255.255", AF_INET, 0 },
        { "0.0.0.0", "0.0.0.0", AF_INET, 0 },
        { "2001:db8:0:0:0:0:0:7", "2001:db8::7", AF_INET6, 0 },
        { "::1", "::1", AF_INET6, 0 },
        { "FF18::8300:201", "ff18::8300:201", AF_INET6, 0 },
        { "::ffff:10.20.0.11", "10.20.0.11", AF_INET, 0 },
        { "fe80::1:2", "fe80::1:2", AF_INET6, 0 },
        { named, named, AF_INET6, lo },
        { numbered, named, AF_INET6, lo },
        { "fe80::1:2%2000000000", "fe80::1:2%2000000000", AF_INET6, 2000000000 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        union sacn_address address;
        assert_true(sacn_address_parse(cases[i].given, 7, &address));
        assert_int_equal(address.any.sa_family, cases[i].family);
        if (cases[i].family == AF_INET) {
            assert_int_equal(address.v4.sin_port, htons(7));
        } else {
            assert_int_equal(address.v6.sin6_port, htons(7));
            assert_int_equal(address.v6.sin6_scope_id, cases[i].scope);
        }
        sacn_address_text(&address, text);
        assert_string_equal(text, cases[i].written);
    }
}

static void what_is_no_address_is_refused(void **state)
{
    (void)state;
    static const char *const cases[] = {
        "", "10.0.0", "10.0.0.256", "10.0.0.1 ", " 10.0.0.1", "010.0.0.1x", "0x0a000001", "localhost", "10.0.0.1%lo",
        "10.0.0.1:5568",
        ":", ":::", "1::2::3", "12345::", "[::1]", "fe80::1%", "fe80::1%no-such-zone", "fe80::1%0", "fe80::1%-1", "fe80::1%1x",
        "fe80::1%4294967297", "fe80::1%99999999999999999999999", "2001:db8::1%lo", "::1%1", "::1/64",
        "0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000:0000",
    };
    static const union sacn_address zero;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        union sacn_address address;
        memset(&address, 0xa5, sizeof address);
        if (sacn_address_parse(cases[i], 5568, &address))
            fail_msg("'%s' was taken for an address", cases[i]);
        assert_memory_equal(&address, &zero, sizeof zero);
    }
    char text[SACN_ADDRESS_TEXT];
    sacn_address_text(&zero, text);
    assert_string_equal(text, "?");
}

static void equal_means_family_address_port_and_zone(void **state)
{
    (void)state;
    static const struct { const char *text; uint16_t port; } all[] = {
        { "10.0.0.1", 1 }, { "10.0.0.1", 2 }, { "10.0.0.2", 1 }, { "2001:db8::1", 1 }, { "2001:db8::1", 2 }, { "2001:db8::2", 1 },
        { "fe80::1", 1 }, { "fe80::1%11", 1 }, { "fe80::1%12", 1 },
    };
    size_t count = sizeof all / sizeof *all;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < count; k++) {
            union sacn_address a, b;
            assert_true(sacn_address_parse(all[i].text, all[i].port, &a) && sacn_address_parse(all[k].text, all[k].port, &b));
            assert_int_equal(sacn_address_equal(&a, &b), i == k);
        }
    union sacn_address plain, labelled;
    assert_true(sacn_address_parse("2001:db8::1", 1, &plain));
    labelled = plain;
    labelled.v6.sin6_flowinfo = htonl(5);        /* says nothing of where it is */
    assert_true(sacn_address_equal(&plain, &labelled));
}

static void only_hosts_are_hosts(void **state)
{
    (void)state;
    static const struct { const char *text; bool host; } cases[] = {
        { "10.20.0.11", true }, { "127.0.0.1", true }, { "0.0.0.0", false }, { "255.255.255.255", false }, { "223.255.255.255", true },
        { "224.0.0.0", false }, { "239.255.0.1", false }, { "240.0.0.1", true }, { "2001:db8::1", true }, { "::1", true },
        { "::", false }, { "ff18::8300:1", false }, { "ff02::1%1", false }, { "fe80::1", false }, { "fe80::1%1", true },
        { "::ffff:0.0.0.0", false }, { "::ffff:224.0.0.1", false },
    };
    static const union sacn_address zero;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        union sacn_address address;
        assert_true(sacn_address_parse(cases[i].text, 5568, &address));
        if (sacn_address_is_host(&address) != cases[i].host)
            fail_msg("%s", cases[i].text);
    }
    assert_false(sacn_address_is_host(&zero));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(groups_of_universes),
        cmocka_unit_test(an_ipv6_group_octet_by_octet),
        cmocka_unit_test(texts_are_read_and_written),
        cmocka_unit_test(what_is_no_address_is_refused),
        cmocka_unit_test(equal_means_family_address_port_and_zone),
        cmocka_unit_test(only_hosts_are_hosts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
