/* The sky against Swiss Ephemeris, JPL Horizons, the U.S. Naval Observatory and the worked examples
 * of Meeus: the tables of tests/data/time say how they were made. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/time/sky.h"
#include "tests/support/table.h"

/* 2024-01-04T03:30:27Z, seconds left out in some; -1 where the cell holds no instant. */
static int64_t instant(const char *text) {
    struct tm date = {0};
    if (sscanf(text, "%d-%d-%dT%d:%d:%d", &date.tm_year, &date.tm_mon, &date.tm_mday, &date.tm_hour,
               &date.tm_min, &date.tm_sec) < 5)
        return -1;
    date.tm_year -= 1900;
    date.tm_mon -= 1;
    return (int64_t)timegm(&date) * 1000000;
}

static void near(double got, double wanted, double tolerance, const char *what) {
    if (!(fabs(got - wanted) <= tolerance))
        fail_msg("%s: %.6f is not within %g of %.6f", what, got, tolerance, wanted);
}

static double phase_of(const char *name) {
    const char *names[] = {"new", "first_quarter", "full", "last_quarter"};
    for (int i = 0; i < 4; i++)
        if (strcmp(name, names[i]) == 0)
            return i / 4.0;
    fail_msg("no phase %s", name);
    return NAN;
}

/* Within 0.0015 of a month: an hour. */
static void age_near(const char *when, double wanted) {
    double apart = fabs(sky_moonage(instant(when)) - wanted);
    near(fmin(apart, 1.0 - apart), 0.0, 0.0015, when);
}

static void test_moonage(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/moon-phases.csv", 198);
    size_t minutes = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        double wanted = phase_of(table_text(table, row, "phase"));
        age_near(table_text(table, row, "phase_utc"), wanted);
        const char *usno = table_text(table, row, "usno_utc_minute");
        if (*usno != '\0') {
            age_near(usno, wanted);
            minutes++;
        }
    }
    assert_int_equal(minutes, 109);
    table_free(table);
}

static void test_moonlit(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/moon-illumination.csv", 303);
    size_t horizons = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *when = table_text(table, row, "utc");
        double wanted = table_number(table, row, "illuminated_fraction_swe");
        if (isnan(wanted)) {
            wanted = table_number(table, row, "illuminated_fraction_jpl_horizons");
            horizons++;
        }
        near(sky_moonlit(instant(when)), wanted, 0.004, when);
        const char *trend = table_text(table, row, "trend");
        double age = sky_moonage(instant(when));
        if (*trend != '\0' && wanted > 0.02 && wanted < 0.98)
            assert_int_equal(age < 0.5, strcmp(trend, "waxing") == 0);
    }
    assert_int_equal(horizons, 10);
    table_free(table);
}

/* Meeus, Astronomical Algorithms, 2nd edition, example 48.a (page 347): 1992 April 12, 0h TD, k =
 * 0.6786; his low-accuracy formula gives 0.680 there. */
static void test_moon_meeus(void **state) {
    (void)state;
    near(sky_moonlit(instant("1992-04-12T00:00:00Z")), 0.6786, 0.004, "example 48.a");
    near(sky_moonlit(instant("1992-04-12T00:00:00Z")), 0.680, 0.0005, "formula 48.4");
}

static void test_moon_bounds(void **state) {
    (void)state;
    for (int64_t hour = -2000000; hour < 2000000; hour += 97) {
        double age = sky_moonage(hour * 3600000000), lit = sky_moonlit(hour * 3600000000);
        assert_true(age >= 0.0 && age < 1.0);
        assert_true(lit >= 0.0 && lit <= 1.0);
    }
}

static size_t heights(const Table *table, size_t row, const char *column, double degrees) {
    double latitude = table_number(table, row, "lat_deg_N");
    double longitude = table_number(table, row, "lon_deg_E");
    int64_t when = instant(table_text(table, row, column));
    if (when == -1)
        return 0;
    near(360.0 * sky_sun_height(when, latitude, longitude), degrees, 0.025,
         table_text(table, row, column));
    return 1;
}

static void test_sunheight(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/sun-times.csv", 240);
    size_t checked = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        checked += heights(table, row, "sunrise_utc", -50.0 / 60.0);
        checked += heights(table, row, "sunset_utc", -50.0 / 60.0);
        checked += heights(table, row, "civil_dawn_utc", -6.0);
        checked += heights(table, row, "civil_dusk_utc", -6.0);
        checked += heights(table, row, "nautical_dawn_utc", -12.0);
        checked += heights(table, row, "nautical_dusk_utc", -12.0);
        checked += heights(table, row, "astro_dawn_utc", -18.0);
        checked += heights(table, row, "astro_dusk_utc", -18.0);
        checked +=
            heights(table, row, "transit_utc", table_number(table, row, "altitude_at_transit_deg"));
    }
    assert_int_equal(checked, 240 * 9 - 300); /* 300 do not happen */
    table_free(table);
}

/* NREL/TP-560-34302, table A5.1: 2003-10-17 12:30:30 UTC-7, 39.742476 N, 105.1786 W, 1830 m:
 * topocentric zenith 50.111620 degrees with refraction of about 0.012 degrees and parallax. */
static void test_sun_nrel(void **state) {
    (void)state;
    double height = sky_sun_height(instant("2003-10-17T19:30:30Z"), 39.742476, -105.1786);
    near(360.0 * height, 90.0 - 50.111620, 0.025, "NREL");
}

/* The poles and the date line: heights stay within a quarter turn. */
static void test_sun_bounds(void **state) {
    (void)state;
    for (int latitude = -90; latitude <= 90; latitude += 15)
        for (int longitude = -180; longitude <= 180; longitude += 45)
            for (int64_t hour = -600000; hour < 1200000; hour += 7919) {
                double height = sky_sun_height(hour * 3600000000, latitude, longitude);
                assert_true(height >= -0.25 && height <= 0.25);
                if (latitude == 90) /* the height at a pole is the declination */
                    assert_true(fabs(360.0 * height) < 23.5);
            }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_moonage),    cmocka_unit_test(test_moonlit),
        cmocka_unit_test(test_moon_meeus), cmocka_unit_test(test_moon_bounds),
        cmocka_unit_test(test_sunheight),  cmocka_unit_test(test_sun_nrel),
        cmocka_unit_test(test_sun_bounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
