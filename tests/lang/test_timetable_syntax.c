/* The timetable as far as it can be checked without a clock: section 7 of the language, rules Z1 to
 * Z13, mistakes 24 to 28 of its list. */
#include "expect.h"
#include "runtime/core/limits.h"

#define HOUSE                                                                                      \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "lamp shelf { pixels 60 part left 0..29 group ends 0, 59 }\n"                                  \
    "dial warmth = 40% from 0% to 100% dial passing = 0 dial hold = 2s from 0s to 1min\n"          \
    "dial on_air = false event washing_done\n"                                                     \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine nightlight { paint 2000K * warmth where t > hold or on_air or passing > 1 }\n"        \
    "until clock is set play nightlight\n"

/* An entry in the baker's home, and exactly what is said of it. */
static void entry(const char *marked, const char *codes) {
    static char text[4000];
    snprintf(text, sizeof text, "%s%s\n", HOUSE, marked);
    expect(text, codes);
}

static void sentence(const char *entry_text, const char *code, const char *message,
                     const char *hint) {
    static char text[4000];
    snprintf(text, sizeof text, "%s%s\n", HOUSE, entry_text);
    expect_message(text, code, message, hint);
}

static void test_every_form_of_the_language(void **state) {
    (void)state;
    entry("by 03:10 on tue..sat play daybreak\n"
          "at 19:30 play nightlight\n"
          "at sunset - 20min not after 21:00 play nightlight on lamp shelf part left\n"
          "at civil dusk play nightlight\n"
          "at sunrise - 30min not before 06:00 else 07:00 play daybreak\n"
          "at 22:00 on fri, sat play off fading 2min\n"
          "at 07:00 from 2026-12-24 until 2027-01-02 except sun, 2026-12-25..2026-12-26 "
          "play nightlight\n"
          "at 17:00 in nov..feb play nightlight with warmth = 80%\n"
          "at 08:30 on days 1..4 of 8 from 2026-03-02 play nightlight\n"
          "at 07:00..21:00 every 1h play daybreak\n"
          "at 12:30 play nightlight until 14:30\n"
          "between 21:00 and 02:30 keep level under 10%\n"
          "between sunset and sunrise + 1h on weekends keep level under 10% on lamp shelf\n"
          "when washing_done play nightlight for 6s\n"
          "when washing_done play daybreak\n"
          "when passing > 50% play nightlight for 2min\n"
          "when not on_air play nightlight until sunrise\n"
          "at 06:30, 12:00, nautical dawn play nightlight for 1h",
          "");
}

static void test_routines(void **state) {
    (void)state;
    entry("at 19:30 play ⟦daybrake⟧", "error unknown-name");
    entry("at 19:30 play ⟦p⟧.daybreak", "error unknown-name");
    entry("at 19:30 play ⟦warmth⟧", "error no-routine");
    entry("at 19:30 play ⟦shelf⟧", "error no-routine");
    entry("at 19:30 play off", "");
    /* mistake 27: the routine stands in line 6 of this home */
    sentence("at 19:30 play daybrake", "unknown-name",
             "no routine `daybrake`: `daybreak` (line 6)?", NULL);
    sentence("at 19:30 play zebra", "unknown-name", "no routine `zebra`",
             "`routine zebra { paint gold }`");
}

static void test_ends(void **state) {
    (void)state;
    entry("when passing > 50% ⟦play nightlight⟧", "error needs-end");
    entry("when passing > 50% ⟦play daybreak⟧", "error needs-end");
    entry("when washing_done ⟦play nightlight⟧", "error needs-end");
    entry("when washing_done play daybreak", "");
    entry("at 07:00..21:00 every 1h ⟦play nightlight⟧", "error needs-end");
    entry("at 07:00..21:00 every 1h play nightlight for 24s", "");
    entry("at 07:00 play nightlight for ⟦0s⟧", "error duration-too-short");
    entry("at 07:00 play nightlight for ⟦2⟧", "error needs-duration");
    entry("at 07:00 play nightlight fading ⟦2⟧", "error needs-duration");
    entry("at 07:00 play nightlight fading 0s", "");
    entry("at 07:00 play nightlight fading ⟦-1s⟧", "error duration-too-short");
    entry("at 07:00 play nightlight for ⟦hold⟧", "error not-fixed");
    /* mistake 26 */
    sentence("when passing > 50% play nightlight", "needs-end", "an event needs an end: `for 2min`",
             NULL);
}

static void test_by(void **state) {
    (void)state;
    entry("by 03:10 play ⟦nightlight⟧", "error by-without-length");
    entry("by 03:10 play ⟦off⟧", "error by-without-length");
    entry("by sunrise play daybreak", "");
    entry("by 06:30 on weekdays play daybreak until 07:30", "");
    sentence("by 03:10 play nightlight", "by-without-length",
             "`by` says when a routine is over, and this one has no length",
             "routine nightlight lasts 30min");
}

static void test_cut_short(void **state) {
    (void)state;
    entry("at 06:00 play daybreak ⟦for 10min⟧", "warning cut-short");
    entry("at 06:00 play daybreak for 30min", "");
    entry("at 06:00 play daybreak ⟦until 06:20⟧", "warning cut-short");
    entry("at 23:50 play daybreak ⟦until 00:10⟧", "warning cut-short");
    entry("at 06:00 play daybreak until 05:50", ""); /* tomorrow's */
    entry("by 06:30 play daybreak ⟦until 06:20⟧", "warning cut-short");
    entry("by 00:10 play daybreak ⟦until 00:05⟧", "warning cut-short");
    entry("by 06:30 play daybreak until 06:30", "");
}

static void test_when(void **state) {
    (void)state;
    entry("when ⟦pos⟧ > 0.5 play daybreak for 1s", "error condition-moves");
    entry("when ⟦3 > 2⟧ play daybreak for 1s", "error condition-without-dial");
    entry("when ⟦warmth⟧ play daybreak for 1s", "error needs-truth");
    entry("when ⟦washing_don⟧ play daybreak for 1s", "error unknown-name");
    entry("when ⟦daybreak⟧ play daybreak for 1s", "error no-event");
    entry("when ⟦shelf⟧ play daybreak for 1s", "error no-event");
    sentence("when bell play daybreak for 1s", "unknown-name", "no event `bell`", "`event bell`");
    sentence("when washing_don play daybreak for 1s", "unknown-name",
             "no event `washing_don`: `washing_done` (line 5)?", NULL);
}

static void test_lamps(void **state) {
    (void)state;
    entry("at 07:00 play off on lamp ⟦shelff⟧", "error unknown-name");
    entry("at 07:00 play off on lamp shelf part ⟦lefft⟧", "error unknown-name");
    entry("at 07:00 play off on lamp lantern part ⟦left⟧", "error unknown-name");
    entry("at 07:00 play off on lamp shelf part ⟦ends⟧", "error group-as-part");
    entry("between 21:00 and 02:30 keep level under 10% on lamp ⟦shelff⟧", "error unknown-name");
    sentence("at 07:00 play off on lamp x", "unknown-name", "no lamp `x`",
             "`lamp x { pixels 16 shape ring }`");
    sentence("at 07:00 play off on lamp shelff", "unknown-name",
             "no lamp `shelff`: `shelf` (line 3)?", NULL);
}

static void test_with(void **state) {
    (void)state;
    entry("at 07:00 play nightlight with warmth = 80%, on_air = true, hold = 3s", "");
    entry("at 07:00 play nightlight with ⟦warmt⟧ = 80%", "error unknown-name");
    entry("at 07:00 play nightlight with ⟦daybreak⟧ = 80%", "error no-dial");
    entry("at 07:00 play nightlight with warmth = ⟦2s⟧", "error setting-type");
    entry("at 07:00 play nightlight with on_air = ⟦1⟧", "error setting-type");
    entry("at 07:00 play nightlight with warmth = ⟦101%⟧", "error out-of-range");
    entry("at 07:00 play nightlight with hold = ⟦2min⟧", "error out-of-range");
    entry("at 07:00 play nightlight with warmth = ⟦passing⟧", "error not-fixed");
    entry("at 07:00 play nightlight with warmth = 1, ⟦warmth = 0⟧", "error said-twice");
    sentence("at 07:00 play nightlight with bell = 1%", "unknown-name", "no dial `bell`",
             "`dial bell = 50%`");
    sentence("at 07:00 play nightlight with warmth = 101%", "out-of-range",
             "the dial `warmth` goes from 0% to 100%", NULL);
}

static void test_bounds(void **state) {
    (void)state;
    entry("at sunrise not before 07:00 ⟦not after 06:00⟧ play off", "error bounds-crossed");
    entry("at sunrise not before 06:00 not after 06:00 play off", "");
    entry("at 06:30 ⟦else 07:00⟧ play off", "error else-without-sun");
    entry("at 06:30, sunrise else 07:00 play off", "");
    entry("at ⟦sunrise - 24h⟧ play off", "error out-of-range");
    entry("at sunrise not before 05:00 ⟦not before 06:00⟧ play off", "error stands-twice");
}

static void test_sun_needs_a_place(void **state) {
    (void)state;
    static const char *const words[] = {"sunrise",           "sunset",           "civil dawn",
                                        "civil dusk",        "nautical dawn",    "nautical dusk",
                                        "astronomical dawn", "astronomical dusk"};
    char text[200];
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        snprintf(text, sizeof text,
                 "routine r { paint red } until clock is set play off at ⟦%s⟧ play r", words[i]);
        expect(text, "error sun-without-place");
        snprintf(text, sizeof text,
                 "place 51.45, -2.59 routine r { paint red } until clock is set play off "
                 "at %s play r",
                 words[i]);
        expect(text, "");
    }
    expect("routine r { paint red } until clock is set play off at 06:00 play r until ⟦sunset⟧",
           "error sun-without-place");
    expect("between ⟦sunset⟧ and 02:00 keep level under 10%", "error sun-without-place");
}

static void test_days(void **state) {
    (void)state;
    entry("at 08:00 on sat..mon in nov..feb play off", "");
    entry("at 08:00 on weekdays, sun play off", "");
    entry("at 08:00 on ⟦weekdays..fri⟧ play off", "error range-type");
    entry("at 08:00 except 2026-12-26..⟦2026-12-25⟧ play off", "error range-empty");
    entry("at 08:00 from 2026-12-24 ⟦until 2026-12-23⟧ play off", "error range-empty");
    entry("at 08:00 from 2026-12-24 until 2026-12-24 play off", "");
    entry("at 08:00 ⟦on days 0..4 of 8⟧ from 2026-03-02 play off", "error rota");
    entry("at 08:00 ⟦on days 4..3 of 8⟧ from 2026-03-02 play off", "error rota");
    entry("at 08:00 ⟦on days 4..9 of 8⟧ from 2026-03-02 play off", "error rota");
    entry("at 08:00 on days 1..8 of 8 from 2026-03-02 play off", "");
    entry("at 08:00 ⟦on days 1..4 of 8⟧ play off", "error rota-without-start");
    entry("at 08:00 on mon ⟦on tue⟧ play off", "error stands-twice");
}

static void test_dates_exist(void **state) {
    (void)state;
    /* The Gregorian calendar: 2024 and 2000 are leap years, 2026 and 2100 are none. */
    entry("at 08:00 from 2024-02-29 play off", "");
    entry("at 08:00 from 2000-02-29 play off", "");
    static const char *const none[] = {"2026-02-29", "2100-02-29", "2026-04-31", "2026-13-01",
                                       "2026-00-10", "2026-01-00", "2026-01-32"};
    char text[4000];
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        snprintf(text, sizeof text, "%sat 08:00 from %s play off\n", HOUSE, none[i]);
        Compilation *compilation = compile_text(text);
        assert_null(lang_program(compilation));
        assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
        lang_free(compilation);
    }
}

static void test_repeated_moments(void **state) {
    (void)state;
    entry("at 07:00..21:00 every ⟦90s⟧ play daybreak", "error uneven-step");
    entry("at 07:00..21:00 every ⟦0s⟧ play daybreak", "error uneven-step");
    entry("at 21:00..03:00 every 15min play daybreak", "");
}

static void test_keep(void **state) {
    (void)state;
    entry("between 21:00 and ⟦21:00⟧ keep level under 10%", "error range-empty");
    entry("between 21:00 and 02:30 keep level under ⟦110%⟧", "error out-of-range");
    entry("between 21:00 and 02:30 keep level under ⟦warmth⟧", "error not-fixed");
    entry("between 21:00 and 02:30 keep level under 0%", "");
    entry("between 21:00 and 02:30 keep level under 100%", "");
    sentence("between 21:00 and 02:30 keep level under 10", "out-of-range",
             "`keep level under` goes from 0% to 100%", "keep level under 10%");
}

static void test_until_clock_is_set(void **state) {
    (void)state;
    entry("⟦until clock is set play off⟧", "error said-twice");
    expect("routine r { paint red } ⟦at 06:00 play r⟧ at 07:00 play off", "warning no-until-clock");
    expect("routine r { paint red } at 06:00 play r until clock is set play ⟦rr⟧",
           "error unknown-name");
    expect_silence("routine r { paint red } dial d = 0 when d > 1 play r for 1s");
}

static void test_run_up(void **state) {
    (void)state;
    entry("by 03:10 on tue..sat play daybreak ⟦at 03:00 play off⟧", "warning in-run-up");
    entry("by 03:10 on tue..sat play daybreak at 02:40 play off", "");
    entry("by 03:10 on tue..sat play daybreak at 03:10 play off", "");
    entry("by 03:10 on tue..sat play daybreak at 03:00 on sun, mon play off", "");
    entry("by 00:10 on tue play daybreak ⟦at 23:50 on mon play off⟧", "warning in-run-up");
    entry("by 00:10 on tue play daybreak at 23:50 on tue play off", "");
    entry("by 00:10 on mon play daybreak ⟦at 23:50 on weekends play off⟧", "warning in-run-up");
    entry("by 03:10 play daybreak on lamp lantern at 03:00 play off on lamp shelf", "");
    entry("by 03:10 play daybreak ⟦at 03:00 play off on lamp shelf⟧", "warning in-run-up");
    entry("by 03:10 play daybreak ⟦at 03:00 play off on lamp shelf part left⟧",
          "warning in-run-up");
    entry("by 03:10 play daybreak on lamp shelf part left at 03:00 play off on lamp shelf", "");
}

/* Mistakes 24, 25 and 28 of the list: told while parsing, with these words. */
static void test_mistakes_of_the_list(void **state) {
    (void)state;
    static const struct {
        const char *entry, *words;
    } rows[] = {{"at 7 play daybreak", "`07:00`"},
                {"at 7am play daybreak", "`07:00`"},
                {"at 06.30 play daybreak", "06:30"},
                {"at 07:00 on fri sat play daybreak", "`fri, sat`"},
                {"at 07:00 on friday play daybreak", "`fri`"},
                {"let paint = 3", "`paint` is a word of the language"},
                {"lamp { pixels 3 }", "`lamp shelf {`"}};
    char text[4000], said_of_it[3000];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(text, sizeof text, "%s%s\n", HOUSE, rows[i].entry);
        Compilation *compilation = compile_text(text);
        Diagnostics *sink = lang_diagnostics(compilation);
        const Diagnostic *first = diagnostics_at(sink, 0);
        assert_non_null(first);
        snprintf(said_of_it, sizeof said_of_it, "%s: %s", first->message,
                 first->hint ? first->hint : "");
        if (diagnostics_count(sink, SEVERITY_ERROR) != 1 || !strstr(said_of_it, rows[i].words)) {
            said_print(compilation);
            fail_msg("%s: one error with the words %s", rows[i].entry, rows[i].words);
        }
        lang_free(compilation);
    }
}

static void test_number_of_entries(void **state) {
    (void)state;
    size_t room = (LIMIT_ENTRIES + 2) * 24 + 100;
    char *text = malloc(room);
    for (int count = LIMIT_ENTRIES; count <= LIMIT_ENTRIES + 1; count++) {
        size_t used = (size_t)snprintf(text, room, "until clock is set play off\n");
        for (int i = 1; i < count; i++)
            used += (size_t)snprintf(text + used, room - used, "at 07:00 play off\n");
        Compilation *compilation = compile_text(text);
        assert_int_equal(said_count(compilation, "too-many"), count > LIMIT_ENTRIES);
        lang_free(compilation);
    }
    free(text);
}

static void test_accessors(void **state) {
    (void)state;
    Compilation *compilation = compile_text(HOUSE);
    assert_true(lang_has_timetable(compilation));
    assert_non_null(lang_main_tree(compilation));
    uint32_t count;
    lang_lamps(compilation, &count);
    assert_int_equal(count, 2);
    const RoutineCost *costs = lang_costs(compilation, &count);
    assert_int_equal(count, 2);
    assert_string_equal(costs[0].name, "daybreak");
    Program *program = lang_take_program(compilation);
    assert_non_null(program);
    assert_null(lang_program(compilation));
    lang_free(compilation);
    assert_string_equal(program->routines[0].name, "daybreak");
    program_free(program);
    assert_int_equal(memory_live(), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_form_of_the_language),
        cmocka_unit_test(test_routines),
        cmocka_unit_test(test_ends),
        cmocka_unit_test(test_by),
        cmocka_unit_test(test_cut_short),
        cmocka_unit_test(test_when),
        cmocka_unit_test(test_lamps),
        cmocka_unit_test(test_with),
        cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_sun_needs_a_place),
        cmocka_unit_test(test_days),
        cmocka_unit_test(test_dates_exist),
        cmocka_unit_test(test_repeated_moments),
        cmocka_unit_test(test_keep),
        cmocka_unit_test(test_until_clock_is_set),
        cmocka_unit_test(test_run_up),
        cmocka_unit_test(test_mistakes_of_the_list),
        cmocka_unit_test(test_number_of_entries),
        cmocka_unit_test(test_accessors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
