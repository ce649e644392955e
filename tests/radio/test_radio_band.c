/* Hop channels, quiet bands and regional power. Channel counts are counted by hand; the sources stand beside them. */
#include "radio/radio_show.h"

/* IEEE 802.11, 2.4 GHz: centre frequency 2407 + 5 n MHz for n = 1..13. */
static double wifi_mhz(int channel)
{
    return 2407 + 5.0 * channel;
}

static int hops_beside_wifi(double width_mhz, const int *channels, int count)
{
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
    for (int i = 0; i < count; i++)
        keep_out(show, transmitter, wifi_mhz(channels[i]) - width_mhz / 2, wifi_mhz(channels[i]) + width_mhz / 2);
    int hops = radio_hops(transmitter);
    show_free(show);
    return hops;
}

/* IEEE 802.11 centres 2412, 2437, 2462 MHz.
 * 20 MHz wide: out 2402..2422, 2427..2447, 2452..2472, 21 each; left 2423..2426, 2448..2451, 2473..2480: 4 + 4 + 8 = 16.
 * 22 MHz wide: out 2402..2423 (22 of 2401..2423), 2426..2448, 2451..2473; left 2424..2425, 2449..2450, 2474..2480: 2 + 2 + 7 = 11,
 * which is under the 15 of 47 CFR 15.247 (a)(1)(iii). */
static void hops_left_beside_wifi(void **state)
{
    (void)state;
    static const int usual[] = { 1, 6, 11 }, one[] = { 6 }, last[] = { 13 };
    assert_int_equal(hops_beside_wifi(20, usual, 3), 16);
    assert_true(hops_beside_wifi(20, usual, 3) >= RADIO_FLOOR);
    assert_int_equal(hops_beside_wifi(22, usual, 3), 11);
    assert_true(hops_beside_wifi(22, usual, 3) < RADIO_FLOOR);
    assert_int_equal(hops_beside_wifi(20, one, 1), 79 - 21);
    assert_int_equal(hops_beside_wifi(20, last, 1), 79 - 19);       /* 2472 +/- 10: 2462..2480 of 2462..2482 */
    assert_int_equal(hops_beside_wifi(20, usual, 0), 79);
}

/* 47 CFR 15.247: at least 15 hopping channels; the band here is 79 channels, 2402..2480. */
static void floor_and_band(void **state)
{
    (void)state;
    assert_int_equal(RADIO_FLOOR, 15);
    assert_int_equal(RADIO_CHANNELS, 79);
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
    keep_out(show, transmitter, 2402, 2465);     /* 64 out: exactly 15 stay, 2466..2480 */
    assert_int_equal(radio_hops(transmitter), 15);
    keep_out(show, transmitter, 2466, 2466);
    assert_int_equal(radio_hops(transmitter), 14);
    keep_out(show, transmitter, 2300, 2500);
    assert_int_equal(radio_hops(transmitter), 0);
    show_free(show);
}

static void a_channel_is_out_by_its_centre(void **state)
{
    (void)state;
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
    keep_out(show, transmitter, 2410.5, 2412);
    keep_out(show, transmitter, 2420, 2420.9);
    keep_out(show, transmitter, 2430.1, 2430.9); /* holds no channel */
    keep_out(show, transmitter, 2390, 2401.9);
    keep_out(show, transmitter, 2480.1, 2499);
    keep_out(show, transmitter, NAN, NAN);
    keep_out(show, transmitter, -2147483648.0, -1);
    for (int mhz = RADIO_FIRST_MHZ; mhz <= RADIO_LAST_MHZ; mhz++)
        assert_int_equal(radio_channel_out(transmitter, mhz), mhz == 2411 || mhz == 2412 || mhz == 2420);
    assert_int_equal(radio_hops(transmitter), 76);
    keep_out(show, transmitter, 2411, 2413);     /* overlapping bands count a channel once: 2413 is new */
    assert_int_equal(radio_hops(transmitter), 75);
    show_free(show);
}

static bool kept(const struct transmitter *transmitter, double from_mhz, double to_mhz, int *open_mhz)
{
    struct band quiet = { .from_mhz = from_mhz, .to_mhz = to_mhz };
    *open_mhz = 0;
    return radio_quiet_kept(transmitter, &quiet, open_mhz);
}

static void a_quiet_band_is_kept_if_every_channel_in_it_is_out(void **state)
{
    (void)state;
    int open;
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
    assert_false(kept(transmitter, 2402, 2423, &open));
    assert_int_equal(open, 2402);
    keep_out(show, transmitter, 2402, 2410);
    keep_out(show, transmitter, 2412, 2423);
    assert_false(kept(transmitter, 2402, 2423, &open));
    assert_int_equal(open, 2411);
    assert_true(kept(transmitter, 2402, 2410, &open));
    assert_true(kept(transmitter, 2400, 2410.9, &open));            /* 2400 and 2401 are no channels */
    assert_true(kept(transmitter, 2410.1, 2410.9, &open));          /* holds no channel */
    assert_true(kept(transmitter, 2481, 2500, &open));
    assert_int_equal(open, 0);
    assert_false(kept(transmitter, 2423, 2424, &open));
    assert_int_equal(open, 2424);
    keep_out(show, transmitter, 2411, 2411);
    assert_true(kept(transmitter, 2402, 2423, &open));              /* by three bands together */
    show_free(show);
}

/* The whole of regdb-2g4.tsv (wireless-regdb 2026.05.30, licence in regdb-LICENSE.txt) against the compiled table: the limit is
 * the highest EIRP of the region's rules that overlap 2402..2480 MHz. */
static void limits_are_those_of_regdb(void **state)
{
    (void)state;
    FILE *file = fopen(RIGCALL_SOURCE_DIR "/tests/radio/regdb-2g4.tsv", "r");
    assert_non_null(file);
    char line[256], region[8], name[400][8];
    double low, high, eirp, limit[400];
    int regions = 0, rows = 0;
    while (fgets(line, sizeof line, file)) {
        if (sscanf(line, "%7s %lf %lf %*f %lf", region, &low, &high, &eirp) != 4)
            continue;                            /* the header */
        rows++;
        if (low > 2480 || high < 2402)
            continue;
        int r = 0;
        while (r < regions && strcmp(name[r], region) != 0)
            r++;
        if (r == regions) {
            assert_true(regions < 400);
            strcpy(name[regions], region);
            limit[regions++] = -1000;
        }
        limit[r] = limit[r] > eirp ? limit[r] : eirp;
    }
    fclose(file);
    assert_int_equal(rows, 33);
    assert_int_equal(regions, 30);               /* 29 countries and the world */
    for (int r = 0; r < regions; r++)
        assert_near(radio_region_limit_dbm(name[r]), limit[r], 0);
    for (char code[3] = "AA"; code[0] <= 'Z'; code[1] = code[1] == 'Z' ? code[0]++, 'A' : (char)(code[1] + 1))
        regions -= !isnan(radio_region_limit_dbm(code));
    assert_int_equal(regions, 1);                /* no code but those of the file and "00" has a limit */
}

/* wireless-regdb 2026.05.30, read from its text by eye. */
static void limits_of_some_regions(void **state)
{
    (void)state;
    assert_near(radio_region_limit_dbm("GB"), 20, 0);
    assert_near(radio_region_limit_dbm("US"), 30, 0);
    assert_near(radio_region_limit_dbm("KR"), 23, 0);
    assert_near(radio_region_limit_dbm("AU"), 36.02, 0);
    assert_near(radio_region_limit_dbm("JP"), 20, 0);
    assert_true(isnan(radio_region_limit_dbm("gb")));
    assert_true(isnan(radio_region_limit_dbm("XX")));
    assert_true(isnan(radio_region_limit_dbm("")));
    assert_true(isnan(radio_region_limit_dbm(NULL)));
    assert_string_equal(RADIO_REGDB_EDITION, "2026.05.30");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hops_left_beside_wifi),
        cmocka_unit_test(floor_and_band),
        cmocka_unit_test(a_channel_is_out_by_its_centre),
        cmocka_unit_test(a_quiet_band_is_kept_if_every_channel_in_it_is_out),
        cmocka_unit_test(limits_are_those_of_regdb),
        cmocka_unit_test(limits_of_some_regions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
