/* Packets of ANSI E1.31-2018: every octet against tables 4-1 and 4-2 (the octets, values and
 * sections as quoted in the check list of a public protocol library; the standard itself is at
 * tsp.esta.org). A second, strict reader of the same tables must agree. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "backends/e131_packet.h"
#include "tests/support/e131_read.h"

static const uint8_t cid[16] = {0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0x4D, 0xEF,
                                0x80, 0x01, 2,    3,    4,    5,    6,    7};

static E131Source source(void) {
    E131Source one = {.priority = 100};
    memcpy(one.cid, cid, sizeof cid);
    e131_name("shop window", one.name);
    return one;
}

static void check(const uint8_t *packet, size_t at, const uint8_t *wanted, size_t count) {
    for (size_t i = 0; i < count; i++)
        if (packet[at + i] != wanted[i])
            fail_msg("octet %zu is %02x, not %02x", at + i, packet[at + i], wanted[i]);
}
#define CHECK(packet, at, ...)                                                                     \
    check(packet, at, (const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

/* A full universe: 638 octets. 638 - 16 = 0x26e, 638 - 38 = 0x258, 638 - 115 = 0x20b, 513 = 0x201.
 */
static void test_data_full(void **state) {
    (void)state;
    E131Source one = source();
    uint8_t slots[512], packet[E131_DATA_MOST];
    for (size_t i = 0; i < sizeof slots; i++)
        slots[i] = (uint8_t)(i * 7 + 1);
    memset(packet, 0xEE, sizeof packet);
    E131Data data = {.universe = 0x1234,
                     .sync = 0x0BCD,
                     .sequence = 0xFE,
                     .options = E131_FORCE_SYNC,
                     .slots = slots,
                     .count = 512};
    assert_int_equal(e131_data_packet(&one, &data, packet), 638);
    CHECK(packet, 0, 0x00, 0x10, 0x00, 0x00);
    CHECK(packet, 4, 0x41, 0x53, 0x43, 0x2D, 0x45, 0x31, 0x2E, 0x31, 0x37, 0x00, 0x00, 0x00);
    CHECK(packet, 16, 0x72, 0x6E, 0x00, 0x00, 0x00, 0x04);
    check(packet, 22, cid, 16);
    CHECK(packet, 38, 0x72, 0x58, 0x00, 0x00, 0x00, 0x02);
    CHECK(packet, 44, 's', 'h', 'o', 'p', ' ', 'w', 'i', 'n', 'd', 'o', 'w');
    for (size_t i = 55; i < 108; i++)
        assert_int_equal(packet[i], 0);
    CHECK(packet, 108, 100, 0x0B, 0xCD, 0xFE, 0x20, 0x12, 0x34);
    CHECK(packet, 115, 0x72, 0x0B, 0x02, 0xA1, 0x00, 0x00, 0x00, 0x01, 0x02, 0x01, 0x00);
    check(packet, 126, slots, 512);
}

/* 16 pixels: 48 slots, 174 octets. 174 - 16 = 0x9e, - 38 = 0x88, - 115 = 0x3b; 49 = 0x31. */
static void test_data_short(void **state) {
    (void)state;
    E131Source one = source();
    uint8_t slots[48] = {9}, packet[E131_DATA_MOST];
    memset(packet, 0xEE, sizeof packet);
    E131Data data = {.universe = 1, .options = E131_TERMINATED, .slots = slots, .count = 48};
    assert_int_equal(e131_data_packet(&one, &data, packet), 174);
    CHECK(packet, 16, 0x70, 0x9E);
    CHECK(packet, 38, 0x70, 0x88);
    CHECK(packet, 108, 100, 0, 0, 0, 0x40, 0, 1, 0x70, 0x3B);
    CHECK(packet, 123, 0x00, 0x31, 0x00, 9);
    assert_int_equal(packet[174], 0xEE);
}

static void test_sync(void **state) {
    (void)state;
    E131Source one = source();
    uint8_t packet[E131_SYNC_BYTES + 1];
    memset(packet, 0xEE, sizeof packet);
    assert_int_equal(e131_sync_packet(&one, 0xF9FF, 0x7B, packet), 49);
    CHECK(packet, 0, 0x00, 0x10, 0x00, 0x00);
    CHECK(packet, 4, 0x41, 0x53, 0x43, 0x2D, 0x45, 0x31, 0x2E, 0x31, 0x37, 0x00, 0x00, 0x00);
    CHECK(packet, 16, 0x70, 0x21, 0x00, 0x00, 0x00, 0x08);
    check(packet, 22, cid, 16);
    CHECK(packet, 38, 0x70, 0x0B, 0x00, 0x00, 0x00, 0x01);
    CHECK(packet, 44, 0x7B, 0xF9, 0xFF, 0x00, 0x00, 0xEE);
}

/* Outside its range nothing is written; at its ends all is. */
static void test_bounds(void **state) {
    (void)state;
    E131Source one = source();
    uint8_t slots[513] = {0}, packet[E131_DATA_MOST + 1], before[E131_DATA_MOST + 1];
    const struct {
        uint16_t universe, sync;
        uint8_t priority;
        size_t count, length;
    } cases[] = {
        {0, 0, 100, 3, 0},     {64000, 0, 100, 3, 0}, {65535, 0, 100, 3, 0},
        {1, 64000, 100, 3, 0}, {1, 0, 201, 3, 0},     {1, 0, 100, 513, 0},
        {1, 0, 0, 0, 126},     {1, 0, 0, 1, 127},     {63999, 63999, 200, 512, 638},
        {1, 1, 200, 510, 636},
    };
    memset(before, 0xEE, sizeof before);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        memset(packet, 0xEE, sizeof packet);
        one.priority = cases[i].priority;
        E131Data data = {.universe = cases[i].universe,
                         .sync = cases[i].sync,
                         .slots = slots,
                         .count = cases[i].count};
        assert_int_equal(e131_data_packet(&one, &data, packet), cases[i].length);
        assert_memory_equal(packet + cases[i].length, before, sizeof before - cases[i].length);
        E131Read read;
        if (cases[i].length > 0)
            assert_null(e131_read(packet, cases[i].length, &read));
    }
    const uint16_t none[] = {0, 64000, 65535};
    memset(packet, 0xEE, sizeof packet);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(e131_sync_packet(&one, none[i], 0, packet), 0);
    assert_memory_equal(packet, before, sizeof packet);
}

static void named(const char *text, const char *wanted) {
    char name[E131_NAME_BYTES], rest[E131_NAME_BYTES] = {0};
    memset(name, 'x', sizeof name);
    e131_name(text, name);
    assert_string_equal(name, wanted);
    size_t length = strlen(wanted);
    assert_memory_equal(name + length, rest, sizeof name - length);
}

/* At most 63 bytes, and no letter of UTF-8 (RFC 3629) cut in two. */
static void test_name(void **state) {
    (void)state;
    named("", "");
    named("Schlafzimmer \xC3\xA4\xF0\x9F\x92\xA1", "Schlafzimmer \xC3\xA4\xF0\x9F\x92\xA1");
#define SIXTY "123456789 123456789 123456789 123456789 123456789 123456789 "
    named(SIXTY "abc", SIXTY "abc");
    named(SIXTY "abcd", SIXTY "abc");
    named(SIXTY "ab\xC3\xA4", SIXTY "ab");
    named(SIXTY "a\xC3\xA4", SIXTY "a\xC3\xA4");
    named(SIXTY "\xF0\x9F\x92\xA1", SIXTY);
    named(SIXTY "\xE2\x82\xAC", SIXTY "\xE2\x82\xAC");
}

/* RFC 4122, 4.4: version 4 in the upper half of octet 6, the variant 10 in the upper bits of octet
 * 8, all else random. */
static void test_cid(void **state) {
    (void)state;
    const uint8_t zeros[16] = {0}, nobits[16] = {[6] = 0x40, [8] = 0x80};
    uint8_t ones[16], made[16];
    e131_cid(zeros, made);
    assert_memory_equal(made, nobits, 16);
    memset(ones, 0xFF, sizeof ones);
    e131_cid(ones, made);
    ones[6] = 0x4F;
    ones[8] = 0xBF;
    assert_memory_equal(made, ones, 16);
}

/* Table 9-10: 239.255.(universe >> 8).(universe & 255). */
static void test_group(void **state) {
    (void)state;
    assert_int_equal(e131_group(1), 0xEFFF0001u);
    assert_int_equal(e131_group(255), 0xEFFF00FFu);
    assert_int_equal(e131_group(258), 0xEFFF0102u);
    assert_int_equal(e131_group(63999), 0xEFFFF9FFu);
}

/* The reader of the tests refuses a packet with any octet before the slots inverted, but those of
 * which the inverse is right too: CID, name, 100 of the priority, low octets of sync address and
 * universe, sequence. */
static void test_reader(void **state) {
    (void)state;
    E131Source one = source();
    uint8_t slots[9] = {1, 2, 3}, packet[E131_DATA_MOST];
    E131Data data = {.universe = 7, .slots = slots, .count = 9};
    size_t length = e131_data_packet(&one, &data, packet);
    E131Read read;
    assert_null(e131_read(packet, length, &read));
    assert_int_equal(read.universe, 7);
    assert_int_equal(read.count, 9);
    assert_memory_equal(read.slots, slots, 9);
    for (size_t i = 0; i < 126; i++) {
        bool any = (i >= 22 && i < 38) || (i >= 44 && i < 107) || i == 108 || i == 110 ||
                   i == 111 || i == 114;
        uint8_t was = packet[i];
        packet[i] ^= 0xFF;
        const char *wrong = e131_read(packet, length, &read);
        if ((wrong == NULL) != any)
            fail_msg("octet %zu: %s", i, wrong != NULL ? wrong : "not noticed");
        packet[i] = was;
    }
    assert_non_null(e131_read(packet, length - 1, &read));
    length = e131_sync_packet(&one, 7, 3, packet);
    assert_null(e131_read(packet, length, &read));
    assert_true(read.is_sync);
    packet[48] = 1;
    assert_non_null(e131_read(packet, length, &read));
}

/* 6.7.2: with B the new number and A the last, B - A as a signed octet; dropped where it is at most
 * 0 and above -20. */
static void test_late(void **state) {
    (void)state;
    assert_false(e131_late(5, 6));
    assert_true(e131_late(5, 5));
    assert_true(e131_late(5, 4));
    assert_false(e131_late(255, 0));
    assert_true(e131_late(0, 255));
    assert_true(e131_late(100, 81));
    assert_false(e131_late(100, 80));
    assert_false(e131_late(0, 127));
    assert_false(e131_late(0, 128));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_data_full), cmocka_unit_test(test_data_short),
        cmocka_unit_test(test_sync),      cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_name),      cmocka_unit_test(test_cid),
        cmocka_unit_test(test_group),     cmocka_unit_test(test_reader),
        cmocka_unit_test(test_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
