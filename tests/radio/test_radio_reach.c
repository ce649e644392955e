/* Distance, free-space loss, margin, reach and clash. Loss values are those of ITU-R P.525 (free-space basic transmission loss),
 * worked out with the exact constant; the rest is worked out by hand. */
#include "radio/radio_show.h"

/* ITU-R P.525: L = 20 log10(4 pi d f / c). Rows: MHz; columns: 1 m, 10 m, 30 m, 50 m, 100 m, 200 m, 300 m, 500 m, 1 km. */
static void loss_is_that_of_p525(void **state)
{
    (void)state;
    static const double dist_m[] = { 1, 10, 30, 50, 100, 200, 300, 500, 1000 };
    static const struct { double mhz, loss_db[9]; } rows[] = {
        { 2412, { 40.10, 60.10, 69.64, 74.07, 80.10, 86.12, 89.64, 94.07, 100.10 } },
        { 2437, { 40.18, 60.18, 69.73, 74.16, 80.18, 86.21, 89.73, 94.16, 100.18 } },
        { 2450, { 40.23, 60.23, 69.77, 74.21, 80.23, 86.25, 89.77, 94.21, 100.23 } },
        { 2480, { 40.34, 60.34, 69.88, 74.32, 80.34, 86.36, 89.88, 94.32, 100.34 } },
        { 915, { 31.68, 51.68, 61.22, 65.66, 71.68, 77.70, 81.22, 85.66, 91.68 } },
        { 5180, { 46.73, 66.73, 76.28, 80.71, 86.73, 92.75, 96.28, 100.71, 106.73 } },
    };
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++)
        for (size_t d = 0; d < 9; d++)
            assert_near(radio_free_space_loss_db(rows[r].mhz, dist_m[d]), rows[r].loss_db[d], 0.06);
    /* 1 GHz over 1 km is 92.4478 dB: 20 log10(4 pi 10^12 / 299792458). */
    assert_near(radio_free_space_loss_db(1000, 1000), 92.4478, 0.0001);
}

/* Twice the distance is 20 log10(2) = 6.0206 dB more. */
static void doubling_the_distance_adds_six_db(void **state)
{
    (void)state;
    for (double d = 0.5; d < 1000; d *= 2)
        assert_near(radio_free_space_loss_db(2442, 2 * d) - radio_free_space_loss_db(2442, d), 6.0206, 0.0001);
}

static void loss_of_nonsense_is_not_a_number(void **state)
{
    (void)state;
    static const double bad[] = { 0, -1, NAN, INFINITY };
    for (size_t i = 0; i < 4; i++) {
        assert_true(isnan(radio_free_space_loss_db(bad[i], 10)));
        assert_true(isnan(radio_free_space_loss_db(2442, bad[i])));
    }
}

/* 3-4-5 and 1-2-2-3 are whole-numbered right-angled boxes. */
static void distance_is_straight_through_three_dimensions(void **state)
{
    (void)state;
    struct position none = { NAN, NAN, NAN }, origin = at(0, 0, 0), plane = at(3, 4, 0), box = at(-1, 2, -2);
    assert_near(radio_distance_m(&origin, &plane), 5, 0);
    assert_near(radio_distance_m(&box, &origin), 3, 1e-15);
    assert_true(isnan(radio_distance_m(&origin, &none)));
    assert_true(isnan(radio_distance_m(&none, &origin)));
}

static struct type *add_type(struct show *show, double sensitivity_dbm)
{
    struct type *type = show_add_type(show);
    type->id = text(show, "wash");
    type->sensitivity_dbm = sensitivity_dbm;
    return type;
}

/* 20 dBm - 20 log10(4 pi 100 m 2442 MHz / c) = 20 - 80.20 dB; against -85 dBm: 24.80 dB; against -75 dBm: 14.80 dB. */
static void margin_is_eirp_less_loss_less_sensitivity(void **state)
{
    (void)state;
    for (int with_type = 0; with_type < 3; with_type++) {
        struct show *show = show_new();
        if (with_type)
            add_type(show, with_type == 2 ? -75 : NAN);
        struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
        struct fixture *fixture = add_fixture(show, 1, 1, "40718263", 1, 100);
        assert_int_equal(show_index(show), 0);
        assert_true(isnan(radio_margin_db(show, transmitter, fixture)));       /* no EIRP */
        transmitter->eirp_dbm = 20;
        assert_near(radio_margin_db(show, transmitter, fixture), with_type == 2 ? 14.80 : 24.80, 0.005);
        fixture->pos = at(0, 0, 0);                                           /* as at 0.1 m: 60.00 dB less than at 100 m */
        assert_near(radio_margin_db(show, transmitter, fixture), with_type == 2 ? 74.80 : 84.80, 0.005);
        fixture->pos.x_m = NAN;
        assert_true(isnan(radio_margin_db(show, transmitter, fixture)));
        show_free(show);
    }
}

static void reach_includes_its_border(void **state)
{
    (void)state;
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", 0);
    struct fixture *fixture = add_fixture(show, 1, 1, "40718263", 1, 100);
    fixture->site = text(show, "barge");         /* with positions and reach the site does not matter */
    assert_true(radio_in_reach(show, transmitter, fixture));
    fixture->pos = at(60, 80, 0);
    assert_true(radio_in_reach(show, transmitter, fixture));
    fixture->pos = at(100.001, 0, 0);
    assert_false(radio_in_reach(show, transmitter, fixture));
    /* 0.1 to 0.4 is 0.3 m, although the doubles differ by 0.30000000000000004. */
    transmitter->pos = at(0.1, 0, 0);
    transmitter->reach_m = 0.3;
    fixture->pos = at(0.4, 0, 0);
    assert_true(radio_in_reach(show, transmitter, fixture));
    transmitter->reach_m = 0;
    fixture->pos = transmitter->pos;
    assert_true(radio_in_reach(show, transmitter, fixture));
    show_free(show);
}

static void without_positions_or_reach_the_site_decides(void **state)
{
    (void)state;
    struct show *show = show_new();
    struct transmitter *transmitter = add_transmitter(show, "T1", "40718263", NAN);
    struct fixture *fixture = add_fixture(show, 1, 1, "40718263", 1, 5000);
    assert_true(radio_in_reach(show, transmitter, fixture));
    fixture->site = text(show, "barge");
    assert_false(radio_in_reach(show, transmitter, fixture));
    transmitter->pos = at(5000, 0, 0);
    assert_true(radio_in_reach(show, transmitter, fixture));
    transmitter->reach_m = NAN;
    assert_false(radio_in_reach(show, transmitter, fixture));
    fixture->site = NULL;
    assert_false(radio_in_reach(show, transmitter, fixture));
    transmitter->site = NULL;                    /* a show without sites is one place */
    assert_true(radio_in_reach(show, transmitter, fixture));
    show_free(show);
}

/* Reaches 100 and 40 m on one line. */
static void clash_by_distance(void **state)
{
    (void)state;
    static const struct { double dist_m; enum radio_clash clash; } rows[] = {
        { 0, RADIO_CLASH_FAIL }, { 40, RADIO_CLASH_FAIL }, { 41, RADIO_CLASH_FAIL }, { 100, RADIO_CLASH_FAIL },
        { 100.01, RADIO_CLASH_WARN }, { 140, RADIO_CLASH_WARN }, { 140.01, RADIO_CLASH_NONE },
    };
    struct show *show = show_new();
    add_transmitter(show, "T1", "40718263", 0);
    add_transmitter(show, "T2", "40718263", 0);
    struct transmitter *one = &show->transmitters[0], *two = &show->transmitters[1];
    two->reach_m = 40;
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        double dist_m = -1;
        two->pos = at(0, 0, rows[r].dist_m);
        assert_int_equal(radio_clash(one, two, &dist_m), rows[r].clash);
        assert_near(dist_m, rows[r].dist_m, 1e-12);
        assert_int_equal(radio_clash(two, one, NULL), rows[r].clash);
    }
    show_free(show);
}

static void clash_needs_one_code_and_without_positions_one_site(void **state)
{
    (void)state;
    double dist_m;
    struct show *show = show_new();
    add_transmitter(show, "T1", "40718263", 0);
    add_transmitter(show, "T2", "40718264", 0);
    struct transmitter *one = &show->transmitters[0], *two = &show->transmitters[1];
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_NONE);
    two->code = NULL;
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_NONE);
    one->code = NULL;
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_NONE);
    one->code = two->code = text(show, "40718263");
    two->pos.x_m = NAN;
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_FAIL);
    assert_true(isnan(dist_m));
    two->site = text(show, "barge");
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_NONE);
    /* One reach only: the other transmitter serves its own site. */
    two->pos = at(120, 0, 0);
    two->reach_m = NAN;
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_NONE);
    two->pos = at(90, 0, 0);
    assert_int_equal(radio_clash(one, two, &dist_m), RADIO_CLASH_FAIL);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(loss_is_that_of_p525),
        cmocka_unit_test(doubling_the_distance_adds_six_db),
        cmocka_unit_test(loss_of_nonsense_is_not_a_number),
        cmocka_unit_test(distance_is_straight_through_three_dimensions),
        cmocka_unit_test(margin_is_eirp_less_loss_less_sensitivity),
        cmocka_unit_test(reach_includes_its_border),
        cmocka_unit_test(without_positions_or_reach_the_site_decides),
        cmocka_unit_test(clash_by_distance),
        cmocka_unit_test(clash_needs_one_code_and_without_positions_one_site),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
