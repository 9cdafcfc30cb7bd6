/* Local time against the time zone database as others read it: the tables of tests/data/time say
 * how they were made; glibc's localtime_r is asked here. The zones are those of the machine. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/zone_file.h"
#include "runtime/time/zone.h"
#include "runtime/time/zone_rule.h"
#include "tests/support/chance.h"
#include "tests/support/moments.h"
#include "tests/support/table.h"
#include "tests/support/zones.h"

/* +05:45 */
static int32_t offset_of(const char *text) {
    int hours, minutes;
    assert_int_equal(sscanf(text + 1, "%d:%d", &hours, &minutes), 2);
    int size = (hours * 60 + minutes) * 60;
    return text[0] == '-' ? -size : size;
}

static Zone *zone_of(const char *text) {
    Zone *zone;
    if (zone_from_rule(text, &zone) != ZONE_FINE)
        fail_msg("%s cannot be read", text);
    return zone;
}

/* The release of the machine's database, such as 2025b; "" where it does not say. */
static const char *release(void) {
    static char text[16];
    FILE *file = fopen("/usr/share/zoneinfo/tzdata.zi", "r");
    if (file) {
        if (fscanf(file, "# version %15s", text) != 1)
            text[0] = '\0';
        fclose(file);
    }
    return text;
}

static bool release_has_2026c(void) {
    return strcmp(release(), "2026c") >= 0;
}

static ZoneCase case_of(const char *kind) {
    if (strcmp(kind, "gap") == 0)
        return ZONE_GAP;
    if (strcmp(kind, "overlap") == 0)
        return ZONE_OVERLAP;
    assert_string_equal(kind, "normal");
    return ZONE_ONCE;
}

static void civil_row(const Zone *zone, const Table *table, size_t row) {
    const char *id = table_text(table, row, "id");
    int64_t utc, wanted = seconds(table_text(table, row, "utc_rfc5545"));
    ZoneCase found = zone_to_utc(zone, seconds(table_text(table, row, "local_time")), &utc);
    if (found != case_of(table_text(table, row, "kind")) || utc != wanted)
        fail_msg("%s: case %d, %lld s off", id, found, (long long)(utc - wanted));
    ZoneOffset there = zone_offset(zone, utc);
    if (there.offset != offset_of(table_text(table, row, "offset_at_utc_rfc5545")) ||
        there.summer != (table_number(table, row, "isdst_nonzero") != 0))
        fail_msg("%s: offset %d, summer %d", id, there.offset, there.summer);
    assert_int_equal(utc + there.offset,
                     seconds(table_text(table, row, "wall_shown_at_utc_rfc5545")));
}

static void test_civil_time(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/civil-time.csv", 52);
    size_t whole = 0, older = 0, skipped = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        Zone *zone = zone_named(table_text(table, row, "zone"));
        bool depends = strcmp(table_text(table, row, "tzdata_dependent"), "yes") == 0;
        if (depends && *release() == '\0') {
            print_message("%s skipped: the database does not say its release\n",
                          table_text(table, row, "id"));
            skipped++;
        } else if (depends && !release_has_2026c()) {
            int64_t utc;
            zone_to_utc(zone, seconds(table_text(table, row, "local_time")), &utc);
            assert_int_equal(utc, seconds(table_text(table, row, "utc_rfc5545_under_tz2025c")));
            older++;
        } else {
            civil_row(zone, table, row);
            whole++;
        }
        zone_free(zone);
    }
    assert_int_equal(whole + older + skipped, 52);
    assert_int_equal(whole, release_has_2026c() ? 52 : 48); /* four depend on it */
    table_free(table);
}

static Zone *zone_by_string(const Table *strings, const char *name) {
    for (size_t row = 0; row < table_rows(strings); row++)
        if (strcmp(table_text(strings, row, "zone"), name) == 0)
            return zone_of(table_text(strings, row, "posix_tz"));
    fail_msg("no string of %s", name);
    return NULL;
}

/* The strings alone, whatever the machine has: Casablanca's holds only from 2026-09-20 on, and no
 * string tells of the day that Apia left out in 2011. */
static bool string_holds(const char *zone, int64_t utc) {
    if (strcmp(zone, "Africa/Casablanca") == 0)
        return utc > seconds("2026-09-25T00:00:00Z");
    return utc > seconds("2022-01-01T00:00:00Z");
}

static void test_civil_time_strings(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/civil-time.csv", 52);
    Table *strings = table_read("tests/data/time/posix-tz-strings.csv", 11);
    size_t checked = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *name = table_text(table, row, "zone");
        if (!string_holds(name, seconds(table_text(table, row, "utc_rfc5545"))))
            continue;
        Zone *zone = zone_by_string(strings, name);
        civil_row(zone, table, row);
        zone_free(zone);
        checked++;
    }
    assert_int_equal(checked, 44); /* 52 less seven of Casablanca and one of 2011 */
    table_free(table);
    table_free(strings);
}

/* Both sides of a change. */
static void change(const Zone *zone, const Table *table, size_t row) {
    int64_t utc = seconds(table_text(table, row, "utc_instant"));
    ZoneOffset before = zone_offset(zone, utc - 1), after = zone_offset(zone, utc);
    bool start = strcmp(table_text(table, row, "kind"), "start") == 0;
    if (after.offset != offset_of(table_text(table, row, "offset_after")) ||
        (!start && before.offset != offset_of(table_text(table, row, "offset_before"))) ||
        after.summer != (table_number(table, row, "isdst_after") != 0))
        fail_msg("%s %s", table_text(table, row, "zone"), table_text(table, row, "utc_instant"));
    assert_string_equal(after.abbreviation, table_text(table, row, "abbreviation_after"));
    int64_t shown = utc + after.offset;
    assert_int_equal(shown, seconds(table_text(table, row, "wall_clock_reading_after")));
}

static void test_changes(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/tz-transitions.csv", 82);
    Table *strings = table_read("tests/data/time/posix-tz-strings.csv", 11);
    size_t named = 0, by_string = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *name = table_text(table, row, "zone");
        int64_t utc = seconds(table_text(table, row, "utc_instant"));
        bool newer =
            strcmp(name, "Africa/Casablanca") == 0 && utc > seconds("2026-09-01T00:00:00Z");
        if (newer && !release_has_2026c()) { /* the comment of the table */
            Zone *zone = zone_named(name);
            assert_int_equal(zone_offset(zone, seconds("2027-02-07T01:59:59Z")).offset, 3600);
            assert_int_equal(zone_offset(zone, seconds("2027-02-07T02:00:00Z")).offset, 0);
            assert_int_equal(zone_offset(zone, seconds("2027-03-14T01:59:59Z")).offset, 0);
            assert_int_equal(zone_offset(zone, seconds("2027-03-14T02:00:00Z")).offset, 3600);
            zone_free(zone);
        } else {
            Zone *zone = zone_named(name);
            change(zone, table, row);
            zone_free(zone);
            named++;
        }
        if (string_holds(name, utc)) {
            Zone *zone = zone_by_string(strings, name);
            change(zone, table, row);
            zone_free(zone);
            by_string++;
        }
    }
    assert_int_equal(named, release_has_2026c() ? 82 : 81);
    assert_int_equal(by_string, 74);
    table_free(table);
    table_free(strings);
}

/* RFC 5545 section 3.3.5: the two examples of its text. */
static void test_rfc_5545(void **state) {
    (void)state;
    Zone *zone = zone_named("America/New_York");
    int64_t utc;
    assert_int_equal(zone_to_utc(zone, seconds("2007-11-04T01:30:00"), &utc), ZONE_OVERLAP);
    assert_int_equal(zone_offset(zone, utc).offset, -4 * 3600);
    assert_int_equal(zone_to_utc(zone, seconds("2007-03-11T02:30:00"), &utc), ZONE_GAP);
    assert_int_equal(utc + zone_offset(zone, utc).offset, seconds("2007-03-11T03:30:00"));
    zone_free(zone);
}

/* -------- glibc -------- */

static void as_glibc(const Zone *zone, const char *name, int64_t utc) {
    time_t when = (time_t)utc;
    struct tm wanted;
    assert_non_null(localtime_r(&when, &wanted));
    ZoneOffset got = zone_offset(zone, utc);
    if (got.offset != wanted.tm_gmtoff || got.summer != (wanted.tm_isdst > 0) ||
        strcmp(got.abbreviation, wanted.tm_zone) != 0)
        fail_msg("%s at %lld: %d %d %s, glibc %ld %d %s", name, (long long)utc, got.offset,
                 got.summer, got.abbreviation, wanted.tm_gmtoff, wanted.tm_isdst, wanted.tm_zone);
}

/* Every zone of the database at instants from 1850 to 2150. */
static void test_glibc_zones(void **state) {
    (void)state;
    FILE *list = fopen("/usr/share/zoneinfo/tzdata.zi", "r");
    if (!list) {
        print_message("skipped: no /usr/share/zoneinfo/tzdata.zi, so no list of zones\n");
        skip();
    }
    char line[512], name[80];
    size_t zones = 0;
    while (fgets(line, sizeof line, list)) {
        if (sscanf(line, "Z %79s", name) != 1)
            continue;
        Zone *zone = zone_named(name);
        setenv("TZ", name, 1);
        tzset();
        for (int i = 0; i < 300; i++)
            as_glibc(zone, name, -3786825600 + (int64_t)(chance() % 9467000000));
        zone_free(zone);
        zones++;
    }
    fclose(list);
    unsetenv("TZ");
    tzset();
    assert_true(zones > 300);
}

/* Each form of a rule, every 5 hours and 59 seconds of eight years. */
static void test_glibc_rules(void **state) {
    (void)state;
    const char *rules[] = {
        "UTC0",
        "EST5EDT,M3.2.0,M11.1.0",
        "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0",
        "<-04>4<-03>,M9.1.6/24,M4.1.6/24",
        "<-02>2<-01>,M3.5.0/-1,M10.5.0/0",
        "EET-2EEST,M3.4.4/50,M10.4.4/50",
        "IST-2IDT,M3.4.4/26,M10.5.0",
        "IST-1GMT0,M10.5.0,M3.5.0/1",
        "ABC3DEF,J60/0,J300",
        "ABC3DEF,59/1:30,300/2:15:30",
        "ABC-3:30:15DEF-5,J59,J365/-3",
        "ABC0DEF,M1.1.1,M12.5.6/30",
    };
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        Zone *zone = zone_of(rules[i]);
        setenv("TZ", rules[i], 1);
        tzset();
        for (int64_t utc = seconds("2023-12-01T00:00:00"); utc < seconds("2031-12-31T00:00:00");
             utc += 5 * 3600 + 59)
            as_glibc(zone, rules[i], utc);
        zone_free(zone);
    }
    unsetenv("TZ");
    tzset();
}

/* RFC 9636 section 3.3.1: summer time that begins where it ends is in force all year. (Its
 * examples, from memory; the answer follows from the words.) */
static void test_summer_all_year(void **state) {
    (void)state;
    const char *rules[] = {"XXX3EDT4,0/0,J365/23", "EST5EDT,0/0,J365/25"};
    for (size_t i = 0; i < 2; i++) {
        Zone *zone = zone_of(rules[i]);
        for (int64_t utc = seconds("2023-12-25T00:00:00"); utc < seconds("2029-01-10T00:00:00");
             utc += 1800) {
            assert_int_equal(zone_offset(zone, utc).offset, -4 * 3600);
            assert_string_equal(zone_offset(zone, utc).abbreviation, "EDT");
        }
        zone_free(zone);
    }
}

/* -------- what is refused -------- */

static void test_rules_refused(void **state) {
    (void)state;
    const char *wrong[] = {"",
                           "E5",
                           "EST",
                           "EST25",
                           "EST5EDT", /* rules are not guessed */
                           "EST5EDT,M3.2.0",
                           "EST5EDT,M13.2.0,M11.1.0",
                           "EST5EDT,M3.6.0,M11.1.0",
                           "EST5EDT,M3.2.7,M11.1.0",
                           "EST5EDT,J0,J365",
                           "EST5EDT,J366,J1",
                           "EST5EDT,366,1",
                           "EST5EDT,M3.2.0/168,M11.1.0",
                           "EST5EDT,M3.2.0,M11.1.0 ",
                           "EST5EDT,M3.2.0,M11.1.0,",
                           "<EST5",
                           "<+1>5",
                           "E1T5",
                           "EST5:60",
                           "EST99999999999999999999",
                           "ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGH5"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        Zone *zone;
        if (zone_from_rule(wrong[i], &zone) != ZONE_BROKEN || zone)
            fail_msg("`%s` is taken", wrong[i]);
    }
}

static void test_names_refused(void **state) {
    (void)state;
    Zone *zone;
    assert_int_equal(zone_file_read("../../etc/passwd", &zone), ZONE_FILE_NAME);
    assert_int_equal(zone_file_read("/etc/localtime", &zone), ZONE_FILE_NAME);
    assert_int_equal(zone_file_read("", &zone), ZONE_FILE_NAME);
    assert_int_equal(zone_file_read("Europe/Nowhere", &zone), ZONE_FILE_MISSING);
    assert_int_equal(zone_file_read("Europe", &zone), ZONE_FILE_MISSING);
    assert_null(zone);
    assert_int_equal(zone_offset(NULL, 0).offset, 0);
    assert_string_equal(zone_offset(NULL, 0).abbreviation, "UTC");
}

static size_t bytes_of(const char *path, uint8_t *bytes, size_t room) {
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    size_t length = fread(bytes, 1, room, file);
    fclose(file);
    assert_true(length > 100 && length < room);
    return length;
}

/* An exact copy, so that a sanitizer sees a byte too far. */
static ZoneStatus try(const uint8_t *bytes, size_t length) {
    uint8_t *copy = malloc(length ? length : 1);
    assert_non_null(copy);
    memcpy(copy, bytes, length);
    Zone *zone;
    ZoneStatus status = zone_from_bytes(copy, length, &zone);
    free(copy);
    assert_int_equal(zone != NULL, status == ZONE_FINE);
    if (zone)
        for (int i = 0; i < 8; i++) {
            int64_t when = (int64_t)chance() >> (chance() % 64), utc;
            ZoneOffset at = zone_offset(zone, when);
            assert_true(at.offset > -90000 && at.offset < 93600 && strlen(at.abbreviation) < 32);
            zone_to_utc(zone, when, &utc);
        }
    zone_free(zone);
    return status;
}

static void test_any_bytes(void **state) {
    (void)state;
    const char *names[] = {"Europe/London", "America/Santiago", "Africa/Casablanca", "UTC"};
    size_t taken = 0, refused = 0;
    for (size_t n = 0; n < 4; n++) {
        char path[64];
        uint8_t bytes[8192], changed[8192];
        snprintf(path, sizeof path, "/usr/share/zoneinfo/%s", names[n]);
        size_t length = bytes_of(path, bytes, sizeof bytes);
        for (size_t cut = 0; cut < length; cut += 1 + chance_index(7))
            assert_int_equal(try(bytes, cut), ZONE_BROKEN);
        for (int round = 0; round < 4000; round++) {
            memcpy(changed, bytes, length);
            size_t reach = round % 2 ? length : 120; /* every second time the head */
            for (uint64_t i = 0; i <= chance() % 4; i++)
                changed[chance() % (reach < length ? reach : length)] = (uint8_t)chance();
            if (try(changed, length) == ZONE_FINE)
                taken++;
            else
                refused++;
        }
    }
    assert_true(taken > 500 && refused > 500);
}

/* A first block alone (version 1, 32-bit times) is read; leap seconds are not. */
static void test_versions(void **state) {
    (void)state;
    uint8_t bytes[] =
        {'T', 'Z', 'i', 'f', 0,   0,   0,   0, 0,  0,  0, 0, 0, 0,   0, 0, 0,
         0,   0,   0,   0,   0,   0,   0,   0, 0,  0,  0, 0, 0, 0,   0, 0, 0,
         0,   1,   0,   0,   0,   2,   0,   0, 0,  8,  0, 0, 0, 100, 1, /* at 100 s type 1 */
         0,   0,   0,   0,   0,   0,   0,   0, 14, 16, 1, 4, /* 0 s A; 3600 s, summer, B */
         'A', 'A', 'A', 0,   'B', 'B', 'B', 0};
    Zone *zone;
    assert_int_equal(zone_from_bytes(bytes, sizeof bytes, &zone), ZONE_FINE);
    assert_string_equal(zone_offset(zone, 99).abbreviation, "AAA");
    assert_string_equal(zone_offset(zone, 100).abbreviation, "BBB");
    assert_int_equal(zone_offset(zone, INT64_MAX).offset, 3600);
    assert_int_equal(zone_offset(zone, INT64_MIN).offset, 0);
    zone_free(zone);
    uint8_t leaps[sizeof bytes + 8] = {0};
    memcpy(leaps, bytes, sizeof bytes);
    leaps[31] = 1; /* one, whose bytes lie behind */
    assert_int_equal(zone_from_bytes(leaps, sizeof leaps, &zone), ZONE_LEAP_SECONDS);
    assert_null(zone);
    assert_int_equal(zone_from_bytes(NULL, 0, &zone), ZONE_BROKEN);
}

static void test_memory(void **state) {
    (void)state;
    unsigned long live = memory_live();
    Zone *zone;
    unsigned long n = 1;
    for (;; n++) {
        memory_fail_at(n);
        ZoneFileStatus status = zone_file_read("Europe/London", &zone);
        memory_fail_at(0);
        if (status == ZONE_FILE_FINE)
            break;
        assert_int_equal(status, ZONE_FILE_NO_MEMORY);
        assert_null(zone);
        assert_int_equal(memory_live(), live);
    }
    zone_free(zone);
    assert_int_equal(memory_live(), live);
    assert_true(n > 4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_civil_time),      cmocka_unit_test(test_civil_time_strings),
        cmocka_unit_test(test_changes),         cmocka_unit_test(test_rfc_5545),
        cmocka_unit_test(test_glibc_zones),     cmocka_unit_test(test_glibc_rules),
        cmocka_unit_test(test_summer_all_year), cmocka_unit_test(test_rules_refused),
        cmocka_unit_test(test_names_refused),   cmocka_unit_test(test_any_bytes),
        cmocka_unit_test(test_versions),        cmocka_unit_test(test_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
