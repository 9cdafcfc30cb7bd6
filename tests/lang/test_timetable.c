/* The timetable as data, field by field against what the text says: every form of the language.
 * Expected figures are worked out by hand from the text; numbers of days come from timegm of the C
 * library. */
#include <time.h>

#include "expect.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/vm/vm.h"

#define HOUSE                                                                                      \
    "use \"palette.gloam\" as p\n"                                                                 \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "lamp shelf { pixels 60 group ends 0, 59 part left 0..29 part right 30..59 }\n"                \
    "dial warmth = 40% from 0% to 100% dial passing = 0 dial hold = 2s from 0s to 1min\n"          \
    "dial on_air = false dial tone = gold dial glide = 0 eased 2s\n"                               \
    "event rung event washing_done\n"                                                              \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine nightlight { paint tone * warmth where t > hold or on_air or passing + glide > 1 }\n" \
    "until clock is set play nightlight\n"
enum { HOUSE_LINES = 10, WARMTH = 0, PASSING, HOLD, ON_AIR, TONE, GLIDE };
enum { RUNG, WASHING_DONE };
enum { LANTERN, SHELF };
enum { ENDS, LEFT, RIGHT };
enum { DAYBREAK, NIGHTLIGHT, STARS }; /* of the main file first */
enum { MON = 1, TUE = 2, WED = 4, THU = 8, FRI = 16, SAT = 32, SUN = 64 };

#define MINUTES INT64_C(60000000)

static char house_text[100000];
static const MemoryFile house_files[] = {
    {.path = "home.gloam", .text = house_text},
    {.path = "palette.gloam",
     .text = "dial sparkle = 30% event told routine stars { paint white * sparkle }\n"
             "let bright = 60% let soft = #ff8000\n"
             "at 12:00 play stars"},
    {0}};

/* The compiled home with these lines at its end. Nothing that stops it may be said. */
static Compilation *house(const char *lines) {
    snprintf(house_text, sizeof house_text, "%s%s\n", HOUSE, lines);
    Compilation *compilation = compile_files(house_files);
    assert_non_null(compilation);
    if (!lang_timetable(compilation)) {
        said_print(compilation);
        fail_msg("no timetable of: %s", lines);
    }
    return compilation;
}

static const TimetableEntry *nth(Compilation *compilation, uint32_t index) {
    const Timetable *table = lang_timetable(compilation);
    assert_true(index < table->entry_count);
    return &table->entries[index];
}

static const TimetableEntry *last_of(Compilation *compilation) {
    const Timetable *table = lang_timetable(compilation);
    assert_true(table->entry_count > 0);
    return &table->entries[table->entry_count - 1];
}

static int32_t day(int year, int month, int number) {
    struct tm tm = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = number};
    return (int32_t)(timegm(&tm) / 86400);
}

static void is_clock(const TimetableMoment *moment, int hours, int minutes) {
    assert_false(moment->sun);
    assert_int_equal(moment->clock, hours * 3600 + minutes * 60);
}

static void is_sun(const TimetableMoment *moment, SunEvent event, int64_t offset) {
    assert_true(moment->sun);
    assert_int_equal(moment->event, event);
    assert_int_equal(moment->offset, offset);
}

static void is_bounds(const TimetableEntry *entry, int not_before, int not_after, int otherwise) {
    assert_int_equal(entry->bounds.not_before, not_before);
    assert_int_equal(entry->bounds.not_after, not_after);
    assert_int_equal(entry->bounds.otherwise, otherwise);
}

static void is_every_day(const TimetableDays *days) {
    assert_int_equal(days->weekdays, MON | TUE | WED | THU | FRI | SAT | SUN);
    assert_int_equal(days->months, 0xFFF);
    assert_int_equal(days->from, INT32_MIN);
    assert_int_equal(days->until, INT32_MAX);
    assert_int_equal(days->rota_length, 0);
    assert_int_equal(days->except_weekdays, 0);
    assert_int_equal(days->except_count, 0);
    assert_null(days->except);
}

/* A routine on all lamps, with nothing said about it. */
static void is_plain(const TimetablePlay *play, uint16_t routine) {
    assert_int_equal(play->routine, routine);
    assert_int_equal(play->setting_count, 0);
    assert_int_equal(play->lamp, -1);
    assert_int_equal(play->part, -1);
    assert_int_equal(play->end, TIMETABLE_GOES_ON);
    assert_int_equal(play->fading, -1);
}

/* -------- moments -------- */

static void test_simple_entry(void **state) {
    (void)state;
    Compilation *home = house("at 19:30 play nightlight");
    const Timetable *table = lang_timetable(home);
    assert_int_equal(table->entry_count, 1);
    assert_int_equal(table->ceiling_count, 0);
    assert_int_equal(table->condition_count, 0);
    assert_int_equal(table->until_clock, NIGHTLIGHT);
    assert_true(table->place.said);
    assert_true(table->place.latitude == 51.45 && table->place.longitude == -2.59);
    assert_string_equal(table->place.zone, "Europe/London");
    const TimetableEntry *entry = nth(home, 0);
    assert_int_equal(entry->kind, TIMETABLE_AT);
    assert_int_equal(entry->line, HOUSE_LINES + 1);
    assert_int_equal(entry->column, 1);
    assert_int_equal(entry->moment_count, 1);
    is_clock(&entry->moments[0], 19, 30);
    assert_int_equal(entry->every, 0);
    is_bounds(entry, -1, -1, -1);
    is_every_day(&entry->days);
    is_plain(&entry->play, NIGHTLIGHT);
    lang_free(home);
}

static void test_order_of_the_text(void **state) {
    (void)state;
    Compilation *home = house("by 03:10 play daybreak\nwhen rung play daybreak\n"
                              "between 21:00 and 22:00 keep level under 5%\n"
                              "at 00:00 play off   at 23:59:58 play p.stars\n"
                              "at 12:00 play nightlight");
    const Timetable *table = lang_timetable(home);
    static const TimetableKind kinds[] = {TIMETABLE_BY, TIMETABLE_EVENT, TIMETABLE_AT, TIMETABLE_AT,
                                          TIMETABLE_AT};
    static const uint16_t routines[] = {DAYBREAK, DAYBREAK, ROUTINE_OFF, STARS, NIGHTLIGHT};
    static const uint32_t lines[] = {1, 2, 4, 4, 5}, columns[] = {1, 1, 1, 21, 1};
    assert_int_equal(table->entry_count, 5);
    for (uint32_t i = 0; i < 5; i++) {
        assert_int_equal(table->entries[i].kind, kinds[i]);
        assert_int_equal(table->entries[i].play.routine, routines[i]);
        assert_int_equal(table->entries[i].line, HOUSE_LINES + lines[i]);
        assert_int_equal(table->entries[i].column, columns[i]);
    }
    assert_string_equal(lang_program(home)->routines[STARS].name, "p.stars");
    is_clock(&table->entries[2].moments[0], 0, 0);
    assert_int_equal(table->entries[3].moments[0].clock, 86398);
    assert_int_equal(table->ceiling_count, 1);
    assert_int_equal(table->ceilings[0].line, HOUSE_LINES + 3);
    assert_int_equal(table->ceilings[0].column, 1);
    lang_free(home);
}

static void test_times_of_the_sun(void **state) {
    (void)state;
    static const struct {
        const char *text;
        SunEvent event;
        int64_t offset;
    } cases[] = {
        {"sunrise", SUN_SUNRISE, 0},
        {"sunset", SUN_SUNSET, 0},
        {"civil dawn", SUN_CIVIL_DAWN, 0},
        {"civil dusk", SUN_CIVIL_DUSK, 0},
        {"nautical dawn", SUN_NAUTICAL_DAWN, 0},
        {"nautical  dusk", SUN_NAUTICAL_DUSK, 0},
        {"astronomical dawn", SUN_ASTRONOMICAL_DAWN, 0},
        {"astronomical dusk", SUN_ASTRONOMICAL_DUSK, 0},
        {"sunset - 20min", SUN_SUNSET, -20 * MINUTES},
        {"sunrise + 1h30min", SUN_SUNRISE, 90 * MINUTES},
        {"civil dusk + 1500ms", SUN_CIVIL_DUSK, 1500000},
    };
    char line[100];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(line, sizeof line, "at %s play off", cases[i].text);
        Compilation *home = house(line);
        assert_int_equal(nth(home, 0)->moment_count, 1);
        is_sun(&nth(home, 0)->moments[0], cases[i].event, cases[i].offset);
        lang_free(home);
    }
}

static void test_several_moments(void **state) {
    (void)state;
    Compilation *home = house("at 06:30, nautical dawn - 5min, 12:00 not before 05:00 "
                              "not after 21:00:30 else 07:00 play nightlight");
    const TimetableEntry *entry = nth(home, 0);
    assert_int_equal(entry->moment_count, 3);
    is_clock(&entry->moments[0], 6, 30);
    is_sun(&entry->moments[1], SUN_NAUTICAL_DAWN, -5 * MINUTES);
    is_clock(&entry->moments[2], 12, 0);
    is_bounds(entry, 5 * 3600, 21 * 3600 + 30, 7 * 3600);
    lang_free(home);
    home = house("by sunrise - 30min else 00:00 play daybreak");
    is_bounds(nth(home, 0), -1, -1, 0);
    lang_free(home);
    home = house("at 05:00 not after 04:00 play off");
    is_bounds(nth(home, 0), -1, 4 * 3600, -1);
    lang_free(home);
}

static void test_repeated_moments(void **state) {
    (void)state;
    Compilation *home = house("at 07:00..21:00 every 1h play daybreak\n"
                              "at 22:10..01:40 every 90min on fri play nightlight for 24s");
    const TimetableEntry *hourly = nth(home, 0), *night = nth(home, 1);
    assert_int_equal(hourly->moment_count, 0);
    assert_int_equal(hourly->first, 7 * 3600);
    assert_int_equal(hourly->last, 21 * 3600);
    assert_int_equal(hourly->every, 3600);
    assert_int_equal(hourly->play.end, TIMETABLE_GOES_ON);
    assert_int_equal(hourly->play.fading, -1);
    assert_int_equal(night->first, 22 * 3600 + 600);
    assert_int_equal(night->last, 3600 + 2400);
    assert_int_equal(night->every, 5400);
    assert_int_equal(night->days.weekdays, FRI);
    lang_free(home);
}

/* -------- days -------- */

static void test_weekdays(void **state) {
    (void)state;
    static const struct {
        const char *text;
        unsigned bits;
    } cases[] = {
        {"tue..sat", TUE | WED | THU | FRI | SAT},
        {"fri, sat", FRI | SAT},
        {"sun", SUN},
        {"mon", MON},
        {"weekdays", MON | TUE | WED | THU | FRI},
        {"weekends", SAT | SUN},
        {"sat..mon", SAT | SUN | MON},
        {"weekends, wed", SAT | SUN | WED},
        {"mon..sun", MON | TUE | WED | THU | FRI | SAT | SUN},
        {"sun..sun, tue..wed", SUN | TUE | WED},
    };
    char line[100];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(line, sizeof line, "at 06:00 on %s play off", cases[i].text);
        Compilation *home = house(line);
        assert_int_equal(nth(home, 0)->days.weekdays, cases[i].bits);
        assert_int_equal(nth(home, 0)->days.months, 0xFFF);
        lang_free(home);
    }
}

static void test_months(void **state) {
    (void)state;
    enum { JAN = 1, FEB = 2, JUN = 32, NOV = 1024, DEC = 2048 };
    static const struct {
        const char *text;
        unsigned bits;
    } cases[] = {{"nov..feb", NOV | DEC | JAN | FEB},
                 {"jun", JUN},
                 {"jan, dec", JAN | DEC},
                 {"jan..feb, jun", JAN | FEB | JUN},
                 {"jan..dec", 0xFFF}};
    char line[100];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(line, sizeof line, "at 17:00 in %s play off", cases[i].text);
        Compilation *home = house(line);
        assert_int_equal(nth(home, 0)->days.months, cases[i].bits);
        assert_int_equal(nth(home, 0)->days.weekdays, 0x7F);
        lang_free(home);
    }
}

static void test_dates(void **state) {
    (void)state;
    Compilation *home = house("at 07:00 from 2026-12-24 until 2027-01-02 "
                              "except sun, 2026-12-25..2026-12-26, weekdays, 2026-12-31 play off");
    const TimetableDays *days = &nth(home, 0)->days;
    assert_int_equal(days->from, day(2026, 12, 24));
    assert_int_equal(days->until, day(2027, 1, 2));
    assert_int_equal(days->except_weekdays, SUN | MON | TUE | WED | THU | FRI);
    assert_int_equal(days->except_count, 2);
    assert_int_equal(days->except[0].first, day(2026, 12, 25));
    assert_int_equal(days->except[0].last, day(2026, 12, 26));
    assert_int_equal(days->except[1].first, day(2026, 12, 31));
    assert_int_equal(days->except[1].last, day(2026, 12, 31));
    assert_int_equal(days->rota_length, 0);
    lang_free(home);
    home = house("at 07:00 except sat..mon play off");
    assert_int_equal(nth(home, 0)->days.except_weekdays, SAT | SUN | MON);
    assert_int_equal(nth(home, 0)->days.except_count, 0);
    assert_null(nth(home, 0)->days.except);
    lang_free(home);
}

static void test_rota(void **state) {
    (void)state;
    Compilation *home = house("at 08:30 on days 1..4 of 8 from 2026-03-02 play nightlight\n"
                              "at 08:30 on days 5..5 of 10000 from 1969-12-31 play nightlight");
    const TimetableDays *days = &nth(home, 0)->days;
    assert_int_equal(days->rota_first, 1);
    assert_int_equal(days->rota_last, 4);
    assert_int_equal(days->rota_length, 8);
    assert_int_equal(days->from, day(2026, 3, 2));
    assert_int_equal(days->weekdays, 0x7F);
    days = &nth(home, 1)->days;
    assert_int_equal(days->rota_first, 5);
    assert_int_equal(days->rota_last, 5);
    assert_int_equal(days->rota_length, 10000);
    assert_int_equal(days->from, -1);
    lang_free(home);
}

static void test_clauses_in_any_order(void **state) {
    (void)state;
    Compilation *home = house("at sunset except 2026-12-25 in nov on fri not after 21:00 "
                              "from 2026-01-01 else 20:00 play off");
    const TimetableEntry *entry = nth(home, 0);
    is_bounds(entry, -1, 21 * 3600, 20 * 3600);
    assert_int_equal(entry->days.weekdays, FRI);
    assert_int_equal(entry->days.months, 1024);
    assert_int_equal(entry->days.from, day(2026, 1, 1));
    assert_int_equal(entry->days.until, INT32_MAX);
    assert_int_equal(entry->days.except_count, 1);
    lang_free(home);
}

/* -------- what is played -------- */

static void test_ends(void **state) {
    (void)state;
    Compilation *home = house("at 12:30 play nightlight until 14:30\n"
                              "at 12:30 play nightlight for 2h fading 2min\n"
                              "at 22:00 on fri, sat play off fading 0s\n"
                              "by 06:30 on weekdays play daybreak until sunrise + 1h\n"
                              "at 12:30 play nightlight for 2 * 90ms");
    assert_int_equal(nth(home, 0)->play.end, TIMETABLE_UNTIL);
    is_clock(&nth(home, 0)->play.until, 14, 30);
    assert_int_equal(nth(home, 0)->play.fading, -1);
    assert_int_equal(nth(home, 1)->play.end, TIMETABLE_FOR);
    assert_int_equal(nth(home, 1)->play.stays, 120 * MINUTES);
    assert_int_equal(nth(home, 1)->play.fading, 2 * MINUTES);
    assert_int_equal(nth(home, 2)->play.routine, ROUTINE_OFF);
    assert_int_equal(nth(home, 2)->play.fading, 0);
    assert_int_equal(nth(home, 3)->kind, TIMETABLE_BY);
    assert_int_equal(nth(home, 3)->days.weekdays, 0x1F);
    assert_int_equal(nth(home, 3)->play.end, TIMETABLE_UNTIL);
    is_sun(&nth(home, 3)->play.until, SUN_SUNRISE, 60 * MINUTES);
    assert_int_equal(nth(home, 4)->play.stays, 180000);
    lang_free(home);
}

static void test_lamps(void **state) {
    (void)state;
    Compilation *home = house("at 07:00 play off on lamp lantern\n"
                              "at 07:00 play off on lamp shelf\n"
                              "at 07:00 play off on lamp shelf part right\n"
                              "at 07:00 play off on lamp shelf part left fading 3s");
    static const int lamps[] = {LANTERN, SHELF, SHELF, SHELF}, parts[] = {-1, -1, RIGHT, LEFT};
    uint32_t count;
    const LampInfo *infos = lang_lamps(home, &count);
    assert_int_equal(count, 2);
    assert_string_equal(infos[SHELF].groups[RIGHT].name, "right");
    for (uint32_t i = 0; i < 4; i++) {
        assert_int_equal(nth(home, i)->play.lamp, lamps[i]);
        assert_int_equal(nth(home, i)->play.part, parts[i]);
    }
    assert_int_equal(nth(home, 3)->play.fading, 3000000);
    lang_free(home);
}

static void test_settings(void **state) {
    (void)state;
    Compilation *home = house("at 17:00 play nightlight with hold = 2s + 1s, warmth = 80%, "
                              "on_air = true, tone = p.soft, p.sparkle = p.bright, passing = -3\n"
                              "at 18:00 play nightlight with on_air = false, warmth = 0%");
    const TimetablePlay *play = &nth(home, 0)->play;
    const Program *program = lang_program(home);
    static const char *const names[] = {"hold", "warmth", "on_air", "tone", "p.sparkle", "passing"};
    static const double numbers[] = {3e6, 0.8, 1, 0, 0.6, -3};
    assert_int_equal(play->setting_count, 6);
    for (uint32_t i = 0; i < 6; i++) {
        assert_string_equal(program->dials[play->settings[i].dial].name, names[i]);
        assert_true(play->settings[i].number == numbers[i]);
    }
    assert_int_equal(play->settings[2].dial, ON_AIR);
    /* #ff8000 in linear light: red 1, green above 0.2 and below 0.22 (IEC 61966-2-1), blue 0 */
    Colour tone = play->settings[3].colour;
    assert_true(tone.r == 1.0f && tone.g > 0.2f && tone.g < 0.22f && tone.b == 0.0f);
    play = &nth(home, 1)->play;
    assert_int_equal(play->setting_count, 2);
    assert_true(play->settings[0].number == 0 && play->settings[1].number == 0);
    lang_free(home);
}

/* -------- when -------- */

typedef struct Set {
    uint16_t dial;
    double number;
    Colour colour;
} Set;

/* What the n-th condition says with all dials at their defaults, but for one. */
static bool truth_is(Compilation *compilation, uint32_t condition, Set set) {
    const Program *program = lang_program(compilation);
    const Code *code = &lang_timetable(compilation)->conditions[condition];
    double zero = 0.0;
    Scene scene = {.pixels = 1};
    for (int field = 0; field < FIELD_COUNT; field++)
        scene.field[field] = &zero;
    DialValue dials[LIMIT_DIALS];
    for (uint16_t i = 0; i < program->dial_count; i++)
        dials[i] = (DialValue){program->dials[i].number, program->dials[i].colour};
    dials[set.dial] = (DialValue){set.number, set.colour};
    Vm *vm = vm_create(code, &scene, dials);
    assert_non_null(vm);
    float light[3];
    vm_render(vm, &(Moment){{0}}, light);
    vm_free(vm);
    assert_true(light[0] == 0.0f || light[0] == 1.0f);
    return light[0] > 0.0f;
}

static void test_events(void **state) {
    (void)state;
    Compilation *home = house("when washing_done play nightlight for 6s\n"
                              "when rung play daybreak\nwhen p.told play daybreak");
    const Program *program = lang_program(home);
    assert_int_equal(nth(home, 0)->kind, TIMETABLE_EVENT);
    assert_int_equal(nth(home, 0)->event, WASHING_DONE);
    assert_int_equal(nth(home, 0)->moment_count, 0);
    assert_int_equal(nth(home, 0)->every, 0);
    is_bounds(nth(home, 0), -1, -1, -1);
    is_every_day(&nth(home, 0)->days);
    assert_int_equal(nth(home, 0)->play.stays, 6000000);
    assert_int_equal(nth(home, 1)->event, RUNG);
    is_plain(&nth(home, 1)->play, DAYBREAK);
    assert_string_equal(program->events[nth(home, 2)->event].name, "p.told");
    assert_int_equal(lang_timetable(home)->condition_count, 0);
    lang_free(home);
}

static void test_truths(void **state) {
    (void)state;
    Compilation *home = house("when passing > 50% play nightlight for 2min\n"
                              "when washing_done play daybreak\n"
                              "when not on_air play nightlight until sunrise\n"
                              "when on_air play nightlight for 1s\n"
                              "when glide > 3 or warmth == 100% play nightlight for 1s\n"
                              "when hold >= 30s and not on_air play nightlight for 1s\n"
                              "when (passing -> 2 along warmth) > 1 play nightlight for 1s");
    static const TimetableKind kinds[] = {TIMETABLE_TRUTH, TIMETABLE_EVENT, TIMETABLE_TRUTH};
    for (uint32_t i = 0; i < 3; i++)
        assert_int_equal(nth(home, i)->kind, kinds[i]);
    assert_int_equal(lang_timetable(home)->condition_count, 6);
    static const uint32_t entries[] = {0, 2, 3, 4, 5, 6};
    for (uint32_t i = 0; i < 6; i++)
        assert_int_equal(nth(home, entries[i])->condition, i);
    static const struct {
        uint32_t condition;
        Set set;
        bool truth;
    } cases[] = {
        {0, {.dial = PASSING, .number = 0.5}, false},
        {0, {.dial = PASSING, .number = 0.51}, true},
        {1, {.dial = ON_AIR, .number = 0}, true},
        {1, {.dial = ON_AIR, .number = 1}, false},
        {2, {.dial = ON_AIR, .number = 0}, false},
        {2, {.dial = ON_AIR, .number = 1}, true},
        {3, {.dial = GLIDE, .number = 3}, false},
        {3, {.dial = GLIDE, .number = 4}, true}, /* at once, although it glides elsewhere */
        {3, {.dial = WARMTH, .number = 1}, true},
        {4, {.dial = HOLD, .number = 30e6}, true},
        {4, {.dial = HOLD, .number = 29e6}, false},
        {5, {.dial = WARMTH, .number = 0.5}, false}, /* half-way from 0 to 2 is 1 */
        {5, {.dial = WARMTH, .number = 0.75}, true},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (truth_is(home, cases[i].condition, cases[i].set) != cases[i].truth)
            fail_msg("condition %u, case %zu", cases[i].condition, i);
    lang_free(home);
}

static void test_loose_code_is_verified(void **state) {
    (void)state;
    Compilation *home = house("when passing > 50% play nightlight for 2min");
    char why[256];
    Code code = lang_timetable(home)->conditions[0];
    assert_true(verify_loose_code(lang_program(home), &code, why, sizeof why));
    code.result = LIMIT_REGISTERS;
    assert_false(verify_loose_code(lang_program(home), &code, why, sizeof why));
    assert_true(*why);
    memory_fail_at(1);
    assert_false(verify_loose_code(lang_program(home), &code, why, sizeof why));
    memory_fail_at(0);
    assert_string_equal(why, "out of memory");
    lang_free(home);
}

/* -------- keep, until clock is set, place -------- */

static void test_ceilings(void **state) {
    (void)state;
    Compilation *home = house("between 21:00 and 02:30 keep level under 10%\n"
                              "at 12:00 play nightlight\n"
                              "between sunset and sunrise + 1h on weekends in jun from 2026-06-01 "
                              "keep level under 2 * 5% on lamp shelf\n"
                              "between 06:00 and civil dawn keep level under 0 "
                              "on lamp shelf part left");
    const Timetable *table = lang_timetable(home);
    assert_int_equal(table->entry_count, 1);
    assert_int_equal(table->ceiling_count, 3);
    const TimetableCeiling *ceiling = &table->ceilings[0];
    is_clock(&ceiling->from, 21, 0);
    is_clock(&ceiling->to, 2, 30);
    is_every_day(&ceiling->days);
    assert_true(ceiling->level == 0.1);
    assert_int_equal(ceiling->lamp, -1);
    assert_int_equal(ceiling->part, -1);
    ceiling++;
    assert_int_equal(ceiling->line, HOUSE_LINES + 3);
    is_sun(&ceiling->from, SUN_SUNSET, 0);
    is_sun(&ceiling->to, SUN_SUNRISE, 60 * MINUTES);
    assert_int_equal(ceiling->days.weekdays, SAT | SUN);
    assert_int_equal(ceiling->days.months, 32);
    assert_int_equal(ceiling->days.from, day(2026, 6, 1));
    assert_true(ceiling->level == 0.1);
    assert_int_equal(ceiling->lamp, SHELF);
    assert_int_equal(ceiling->part, -1);
    ceiling++;
    is_sun(&ceiling->to, SUN_CIVIL_DAWN, 0);
    assert_true(ceiling->level == 0);
    assert_int_equal(ceiling->lamp, SHELF);
    assert_int_equal(ceiling->part, LEFT);
    lang_free(home);
}

static void test_what_is_not_said(void **state) {
    (void)state;
    Compilation *home = compile_text("routine r { paint gold } at 06:00 play r");
    const Timetable *table = lang_timetable(home);
    assert_non_null(table);
    assert_int_equal(table->until_clock, ROUTINE_NONE);
    assert_false(table->place.said);
    assert_null(table->place.zone);
    lang_free(home);
    home = compile_text("place -33.9, 151.2 until clock is set play off");
    table = lang_timetable(home);
    assert_non_null(table);
    assert_int_equal(table->entry_count, 0);
    assert_int_equal(table->until_clock, ROUTINE_OFF);
    assert_true(table->place.said && table->place.latitude == -33.9);
    assert_true(table->place.longitude == 151.2);
    assert_null(table->place.zone);
    lang_free(home);
    home = compile_text("between 21:00 and 02:30 keep level under 10%");
    assert_int_equal(lang_timetable(home)->ceiling_count, 1);
    lang_free(home);
}

/* A routine of the file may be called `off`; the entry means that one. */
static void test_own_off(void **state) {
    (void)state;
    Compilation *home = compile_text("routine a { paint gold } routine off { paint black }\n"
                                     "at 06:00 play off until clock is set play off");
    assert_non_null(lang_timetable(home));
    assert_int_equal(last_of(home)->play.routine, 1);
    assert_int_equal(lang_timetable(home)->until_clock, 1);
    lang_free(home);
}

static void test_no_timetable(void **state) {
    (void)state;
    static const char *const texts[] = {
        "routine r { paint gold }",
        "routine r { paint gold } place 51.45, -2.59",
        "",
        "routine r { paint gold } at 06:00 play rr until clock is set play off", /* mistakes */
        "routine r { paint golld } at 06:00 play r until clock is set play off",
        "routine r { paint gold } at 06:00 play",
        "lamp l { pixels 0 } at 06:00 play off",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        Compilation *home = compile_text(texts[i]);
        if (lang_timetable(home))
            fail_msg("a timetable of: %s", texts[i]);
        lang_free(home);
    }
    Compilation *none =
        compile_files((MemoryFile[]){{.path = "gone.gloam", .status = READ_MISSING}, {0}});
    assert_null(lang_timetable(none));
    lang_free(none);
}

static void test_outlives_the_program(void **state) {
    (void)state;
    Compilation *home = house("when passing > 50% play nightlight for 2min");
    Program *program = lang_take_program(home);
    assert_non_null(program);
    program_free(program);
    assert_non_null(lang_timetable(home));
    assert_int_equal(last_of(home)->play.stays, 2 * MINUTES);
    assert_true(lang_timetable(home)->conditions[0].lengths[SECTION_SET] > 0);
    lang_free(home);
}

/* -------- limits and memory -------- */

static void test_as_many_as_fit(void **state) {
    (void)state;
    static char lines[60000];
    size_t length = 0;
    for (int i = 0; i < LIMIT_ENTRIES - 1; i++) /* and `until clock is set` */
        length += (size_t)snprintf(lines + length, sizeof lines - length,
                                   i % 2 ? "when passing > %d play nightlight for 1s\n"
                                         : "at %02d:30 play nightlight\n",
                                   i % 2 ? i : i % 24);
    Compilation *home = house(lines);
    const Timetable *table = lang_timetable(home);
    assert_int_equal(table->entry_count, LIMIT_ENTRIES - 1);
    assert_int_equal(table->condition_count, (LIMIT_ENTRIES - 1) / 2);
    assert_int_equal(table->entries[1021].condition, 510);
    assert_false(truth_is(home, 510, (Set){.dial = PASSING, .number = 1021}));
    assert_true(truth_is(home, 510, (Set){.dial = PASSING, .number = 1022}));
    lang_free(home);
}

/* A truth of so many terms of two steps each, added up: three steps a term. */
static Compilation *with_terms(int terms) {
    enum { A_LET = 100, ROOM = 200000 };
    char *text = calloc(1, ROOM);
    assert_non_null(text);
    int lets = terms / A_LET;
    size_t length = (size_t)snprintf(text, ROOM, "dial d = 0 routine r { paint gold }\n");
    for (int i = 0; i < terms; i++)
        length += i % A_LET ? (size_t)snprintf(text + length, ROOM - length, " + floor(d / %d)", i)
                            : (size_t)snprintf(text + length, ROOM - length, "\nlet s%d = d / 2",
                                               i / A_LET);
    length += (size_t)snprintf(text + length, ROOM - length, "\nwhen 0");
    for (int i = 0; i < lets; i++)
        length += (size_t)snprintf(text + length, ROOM - length, " + s%d", i);
    snprintf(text + length, ROOM - length, " > 1 play r for 1s\n");
    Compilation *compilation = compile_text(text);
    free(text);
    return compilation;
}

static void test_truth_that_is_too_large(void **state) {
    (void)state;
    Compilation *home = with_terms(5000);
    if (!lang_timetable(home))
        said_print(home);
    assert_non_null(lang_timetable(home));
    lang_free(home);
    home = with_terms(6000); /* 18000 steps, above LIMIT_INSTRUCTIONS */
    assert_null(lang_timetable(home));
    assert_null(lang_program(home));
    assert_int_equal(said_count(home, "too-large"), 1);
    assert_int_equal(diagnostics_count(lang_diagnostics(home), SEVERITY_ERROR), 1);
    lang_free(home);
}

/* What the checks could expand fits a second time: truths that together take more than half of
 * LIMIT_EXPANSIONS_ALL (12 of 900 calls of a function in which 100 names are added up: each call
 * meets 199 expressions or more, 2.1 million of 4 million in all). */
static void test_expanded_again(void **state) {
    (void)state;
    enum { ROOM = 20000, TERMS = 100, LETS = 9, CALLS = 100, TRUTHS = 12 };
    static char text[ROOM];
    size_t length =
        (size_t)snprintf(text, ROOM, "dial d = 0 routine r { paint gold } let f(x) = x");
    for (int i = 1; i < TERMS; i++)
        length += (size_t)snprintf(text + length, ROOM - length, " + x");
    for (int i = 0; i < LETS; i++) {
        length += (size_t)snprintf(text + length, ROOM - length, "\nlet s%d = f(d)", i);
        for (int j = 1; j < CALLS; j++)
            length += (size_t)snprintf(text + length, ROOM - length, " + f(d)");
    }
    for (int i = 0; i < TRUTHS; i++) {
        length += (size_t)snprintf(text + length, ROOM - length, "\nwhen s0");
        for (int j = 1; j < LETS; j++)
            length += (size_t)snprintf(text + length, ROOM - length, " + s%d", j);
        length += (size_t)snprintf(text + length, ROOM - length, " > %d play r for 1s", i);
    }
    assert_true((long)TRUTHS * LETS * CALLS * (2 * TERMS - 1) > LIMIT_EXPANSIONS_ALL / 2);
    Compilation *home = compile_text(text);
    if (!lang_timetable(home))
        said_print(home);
    assert_non_null(lang_timetable(home));
    assert_int_equal(lang_timetable(home)->condition_count, TRUTHS);
    lang_free(home);
}

static bool compile_failing_at(unsigned long n, unsigned long *refused) {
    memory_fail_at(n);
    Compilation *home = compile_files(house_files);
    memory_fail_at(0);
    if (!home) {
        ++*refused;
        return false;
    }
    bool fine = lang_timetable(home) != NULL;
    if (fine)
        assert_non_null(lang_program(home));
    else
        assert_int_equal(said_count(home, "out-of-memory"), 1);
    lang_free(home);
    return fine;
}

static void test_memory(void **state) {
    (void)state;
    snprintf(house_text, sizeof house_text, "%s%s\n", HOUSE,
             "by 03:10 on tue..sat except 2026-12-25 play daybreak with warmth = 80%, tone = red\n"
             "at sunset - 20min, 20:00 play nightlight on lamp shelf part left until sunrise\n"
             "at 07:00..21:00 every 1h play nightlight for 24s fading 1s\n"
             "when rung play daybreak when passing > 50% play nightlight for 2min\n"
             "when (passing -> 2 along warmth) > 1 play nightlight for 1s\n"
             "between 21:00 and 02:30 keep level under 10%");
    unsigned long n = 0, refused = 0;
    assert_int_equal(memory_live(), 0);
    while (!compile_failing_at(++n, &refused)) {
        if (memory_live() != 0)
            fail_msg("allocation %lu leaves %lu blocks", n, memory_live());
        assert_true(n < 100000);
    }
    assert_true(n > 10 && refused <= 3);
    assert_int_equal(memory_live(), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_simple_entry),
        cmocka_unit_test(test_order_of_the_text),
        cmocka_unit_test(test_times_of_the_sun),
        cmocka_unit_test(test_several_moments),
        cmocka_unit_test(test_repeated_moments),
        cmocka_unit_test(test_weekdays),
        cmocka_unit_test(test_months),
        cmocka_unit_test(test_dates),
        cmocka_unit_test(test_rota),
        cmocka_unit_test(test_clauses_in_any_order),
        cmocka_unit_test(test_ends),
        cmocka_unit_test(test_lamps),
        cmocka_unit_test(test_settings),
        cmocka_unit_test(test_events),
        cmocka_unit_test(test_truths),
        cmocka_unit_test(test_loose_code_is_verified),
        cmocka_unit_test(test_ceilings),
        cmocka_unit_test(test_what_is_not_said),
        cmocka_unit_test(test_own_off),
        cmocka_unit_test(test_no_timetable),
        cmocka_unit_test(test_outlives_the_program),
        cmocka_unit_test(test_as_many_as_fit),
        cmocka_unit_test(test_truth_that_is_too_large),
        cmocka_unit_test(test_expanded_again),
        cmocka_unit_test(test_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
