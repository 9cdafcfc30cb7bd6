/* One line of words is one act: every form, every refusal with its sentence, the bounds
 * (spec/protocol.md). */
#include "tests/support/household.h"

#include <math.h>

#include "runtime/player/request.h"
#include "runtime/player/truths.h"

static Household home;
static Request request;
static char said[REQUEST_SENTENCE];

static const Act *reads(const char *line) {
    if (!request_read(&home.world, line, &request, said))
        fail_msg("`%s` was refused: %s", line, said);
    assert_false(request.status);
    return &request.act;
}

static void refuses(const char *line, const char *words) {
    if (request_read(&home.world, line, &request, said))
        fail_msg("`%s` was not refused", line);
    if (!strstr(said, words))
        fail_msg("expected `%s` of `%.80s`, got `%s`", words, line, said);
}

static void test_play(void **state) {
    (void)state;
    const Act *act = reads("play glow");
    assert_true(act->kind == ACT_PLAY && act->routine == routine_named(&home, "glow"));
    assert_true(act->lamp == ALL && act->end.kind == OVERRIDE_NEXT_ENTRY && !act->setting_count);
    assert_int_equal(reads("play off")->routine, ROUTINE_OFF);
    act = reads("play nap for 1h30min on lamp shelf");
    assert_true(act->lamp == SHELF && act->end.kind == OVERRIDE_FOR);
    assert_int_equal(act->end.length, 90 * MINUTE);
    act = reads(" \t play  nap on lantern until 6:30 ");
    assert_true(act->lamp == LANTERN && act->end.kind == OVERRIDE_UNTIL);
    assert_int_equal(act->end.until.clock, 6 * 3600 + 30 * 60);
    assert_int_equal(reads("play nap until 23:59:58")->end.until.clock, 86398);
}

static void test_dials_of_a_play(void **state) {
    (void)state;
    const Act *act = reads("play glow with warmth = 70%, tone = rgb(255, 0, 0), hold=3s for 20min");
    assert_int_equal(act->setting_count, 3);
    assert_true(act->settings[0].number == 0.7);
    assert_true(act->settings[1].colour.r == 1.0f && act->settings[1].colour.g == 0.0f);
    assert_true(act->settings[2].number == 3e6);
    assert_int_equal(act->end.length, 20 * MINUTE);
    /* held within the dial's range */
    act = reads("play glow with warmth=300% on shelf");
    assert_true(act->settings[0].number == 1.0 && act->lamp == SHELF);
    refuses("play glow with warmth = 70%, warmth = 3%", "`warmth` is set twice");
    refuses("play glow with warmth", "which value for the dial `warmth`? `40%`, say");
    refuses("play glow with warmth = on shelf", "which value for the dial `warmth`?");
    refuses("play glow with warmth = 60%,", "which dial?");
    refuses("play glow with ,", "there is no dial `,`");
    refuses("play glow with", "which dial?");
    refuses("play glow with warmth = 1s", "no value for the dial `warmth`");
}

/* Spaces about `=` and commas are as one likes; commas inside parentheses belong to the value. */
static void test_spaces(void **state) {
    (void)state;
    static const char *const LINES[] = {
        "play glow with tone=rgb(255, 136, 0), warmth=70% for 1h",
        "play glow with tone = rgb( 255 ,136, 0 ) , warmth = 70% for 1h",
        "play glow with tone =rgb(255,136,0),warmth= 70% for 1h",
        "play glow for 1h with tone rgb(255,136,0), warmth 70%",
        "play\tglow\x01with tone=rgb(255,\n136,0),warmth=70%\r\nfor 1h\n",
    };
    for (size_t i = 0; i < sizeof LINES / sizeof *LINES; i++) {
        const Act *act = reads(LINES[i]);
        assert_int_equal(act->setting_count, 2);
        /* sRGB 136/255 is 0.2462 of the light (IEC 61966-2-1: ((v + 0.055) / 1.055) ^ 2.4). */
        assert_float_equal(act->settings[0].colour.g, 0.2462, 1e-4);
        assert_true(act->settings[0].colour.r == 1.0f && act->settings[0].colour.b == 0.0f);
        assert_true(act->settings[1].number == 0.7);
        assert_int_equal(act->end.length, HOUR);
    }
}

static void test_other_acts(void **state) {
    (void)state;
    assert_true(reads("level 40")->lightness == 40.0);
    /* CIE L* of 10 % of the light: 37.8424 (tests/data/light/lstar_inverse.csv, its formula). */
    assert_float_equal(reads("level 10%")->lightness, 37.8424, 1e-4);
    assert_true(reads("level 0 for 1s")->lightness == 0.0);
    assert_true(reads("level 100")->lightness == 100.0);
    assert_int_equal(reads("skip on lamp shelf")->lamp, SHELF);
    assert_int_equal(reads("more 15min")->length, 15 * MINUTE);
    assert_int_equal(reads("earlier 02:10 on lantern")->clock, 2 * 3600 + 600);
    assert_true(reads("set warmth 60%")->setting.number == 0.6);
    assert_true(reads("set warmth = 60%")->setting.number == 0.6);
    assert_true(reads("set warmth=60%")->setting.number == 0.6);
    assert_true(reads("set warmth =60%")->setting.number == 0.6);
    assert_true(reads("set warmth= 60%")->setting.number == 0.6);
    assert_true(!signbit(reads("level -0")->lightness));
    assert_int_equal(reads("clear 007")->number, 7);
    assert_true(reads("set tone #ff8800")->setting.colour.r == 1.0f);
    assert_int_equal(reads("report told")->event, 1);
    assert_int_equal(reads("clear 7")->number, 7);
    assert_int_equal(reads("clear")->number, 0);
    assert_int_equal(reads("undo")->kind, ACT_UNDO);
    assert_true(request_read(&home.world, "status", &request, said) && request.status);
}

static void test_refusals(void **state) {
    (void)state;
    refuses("", "the line is empty");
    refuses(" \x01\t", "the line is empty");
    refuses("plya nap", "there is no request `plya`: `play`?");
    refuses("sparkle", "there is no request `sparkle`: ");
    /* spec/protocol.md, the first table */
    static const char *const ACTS[] = {"play", "level",  "skip",  "more", "earlier",
                                       "set",  "report", "clear", "undo", "status"};
    for (size_t i = 0; i < sizeof ACTS / sizeof *ACTS; i++)
        refuses("sparkle", ACTS[i]);
    refuses("play", "which routine?");
    refuses("play nip", "there is no routine `nip`: `nap`?");
    refuses("play nap on", "which lamp?");
    refuses("play nap on lamp lanturn", "there is no lamp `lanturn`: `lantern`?");
    refuses("play nap for", "how long is written like `30min`");
    refuses("play nap for 0s", "how long is more than 0s and at most 366 days, not `0s`");
    refuses("more -1min", "how long is more than 0s and at most 24 hours, not `-1min`");
    refuses("play nap for 20", "how long is written like");
    refuses("play nap until 24:00", "a time of day is written like `22:00`, not `24:00`");
    refuses("play nap until 7am", "a time of day is written like");
    refuses("play nap until 07:60", "a time of day");
    refuses("play nap until 07:30:99", "a time of day");
    refuses("play nap for 1min until 22:00", "say one of `for 30min` and `until 22:00`");
    refuses("play nap for 1min for 2min", "say one of `for 30min` and `until 22:00`");
    refuses("play nap now", "`now` is not understood here; `for 30min`");
    refuses("skip for 2min", "`for` is not understood here; `on lamp NAME`");
    refuses("level", "a level is a lightness from 0 to 100");
    refuses("level 101", "a level is a lightness from 0 to 100");
    refuses("level 101%", "a level is a lightness");
    refuses("level -1", "a level is a lightness");
    refuses("set", "which dial?");
    refuses("set warmht 3", "there is no dial `warmht`: `warmth`?");
    refuses("set =3%", "which dial?");
    refuses("set warmth =", "which value for the dial `warmth`?");
    refuses("set warmth 60%,", "`set` takes one dial; `,`");
    refuses("set warmth 60%, tone gold", "`set` takes one dial; `tone`");
    refuses("set warmth 40% from 0% to 50%", "is no value for the dial");
    refuses("set warmth 40% \"label\"", "is no value for the dial");
    refuses("set warmth 40% event bell", "is no value for the dial");
    refuses("set warmth 40% lamp more { pixels 3 }", "is no value for the dial");
    refuses("set warmth (40%", "is no value for the dial");
    refuses("set warmth 60", "the dial `warmth` goes from 0% to 100%: write `60%`");
    refuses("play glow with warmth = 60", "write `60%`");
    refuses("set warmth red", "`red` is no value for the dial `warmth`: `40%`");
    refuses("set warmth 60% for 1h", "`for` is one word too many");
    refuses("report bell", "there is no event `bell`");
    refuses("clear all", "`clear` takes a number of the list of `status`, not `all`");
    refuses("clear 0", "`clear` takes a number");
    refuses("clear 1.5", "`clear` takes a number");
    refuses("clear 100%", "`clear` takes a number");
    refuses("clear -1", "`clear` takes a number");
    refuses("clear 9999999999999999999", "`clear` takes a number");
    refuses("clear 1 2", "`2` is one word too many");
    refuses("play nap until 7:5", "a time of day is written like `22:00`, not `7:5`");
    refuses("play nap until 7:05:3", "a time of day");
    refuses("play nap until :05", "a time of day");
    refuses("play nap until 007:05", "a time of day");
    refuses("play nap until 07:05:", "a time of day");
    refuses("play nap until", "a time of day is written like `22:00`, not ``");
    refuses("play nap until 22", "a time of day");
    refuses("earlier", "a time of day");
    refuses("more", "how long is written like");
    refuses("level nan", "a level is a lightness");
    refuses("level 10 %", "`%` is not understood here");
    refuses("level 40 with warmth = 3%", "`with` is not understood here");
    refuses("play nap on shelf on lantern",
            "`on` is not understood here; `for 30min` or `until 22:00` can stand here");
    refuses("play nap on shelf for 2min on lantern", "`on` is one word too many");
    refuses("report", "which event? The first is `rung`");
    refuses("report rung on shelf", "`on` is one word too many");
    refuses("undo 3", "`3` is one word too many");
    refuses("status all", "`all` is one word too many");
}

/* What was written comes back in sentences that are UTF-8 and steer no terminal. */
static void test_any_bytes(void **state) {
    (void)state;
    refuses("set a\x7f\xff\xc2\x9b"
            "b 3",
            "there is no dial `a???b`");
    refuses("play gl\xc3\xb6w", "there is no routine `gl\xc3\xb6w`");
    refuses("play \xe2\x80\xaeglow", "there is no routine `?glow`");
    char line[200] = "play ", wanted[200] = "there is no routine `";
    for (int i = 0; i < 40; i++)
        strcat(line, "\xe2\x82\xac"); /* the 64th byte is the first of one of three */
    for (int i = 0; i < 21; i++)
        strcat(wanted, "\xe2\x82\xac");
    refuses(line, strcat(wanted, "?`"));
}

/* As many dials as one play takes, and one more. */
static void test_many_dials(void **state) {
    (void)state;
    static char text[1 << 12];
    size_t used = 0;
    for (int i = 0; i <= LIMIT_OVERRIDE_DIALS; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "dial d%d = 0\n", i);
    Household many;
    household_start(&many, text);
    char line[REQUEST_BYTES] = "play glow with d0=0.5";
    for (int i = 1; i < LIMIT_OVERRIDE_DIALS; i++)
        snprintf(line + strlen(line), sizeof line - strlen(line), ", d%d=%d", i, i);
    assert_true(request_read(&many.world, line, &request, said));
    assert_int_equal(request.act.setting_count, LIMIT_OVERRIDE_DIALS);
    assert_true(request.act.settings[LIMIT_OVERRIDE_DIALS - 1].number == LIMIT_OVERRIDE_DIALS - 1);
    strcat(line, ", d16=1");
    assert_false(request_read(&many.world, line, &request, said));
    assert_string_equal(said, "a play by hand sets at most 16 dials");
    household_end(&many);
}

static void test_bounds(void **state) {
    (void)state;
    char line[REQUEST_BYTES + 1];
    memset(line, ' ', sizeof line);
    memcpy(line, "undo", 4);
    line[REQUEST_BYTES - 1] = '\0';
    reads(line);
    line[REQUEST_BYTES - 1] = ' ';
    line[REQUEST_BYTES] = '\0';
    refuses(line, "a line has at most 1023 bytes");
    size_t used = (size_t)snprintf(line, sizeof line, "set warmth ");
    for (int i = 2; i < REQUEST_WORDS; i++)
        used += (size_t)snprintf(line + used, sizeof line - used, i == 2 ? "1" : " +0");
    reads(line);
    snprintf(line + used, sizeof line - used, " +0");
    refuses(line, "a line has at most 128 words");
    memset(line, 'x', 900);
    line[900] = '\0';
    refuses(line, "there is no request `xxx");
}

static void answers(Overrides *overrides, const Now *now, const char *line, const char *words) {
    reads(line);
    if (!request_do(overrides, &home.world, now, &request, said))
        fail_msg("`%s` was refused: %s", line, said);
    if (strcmp(said, words) != 0)
        fail_msg("expected `%s` of `%s`, got `%s`", words, line, said);
}

static void test_answers(void **state) {
    (void)state;
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    answers(overrides, &now, "play nap for 20min on shelf",
            "nap for 20min on lamp shelf (number 1)");
    answers(overrides, &now, "level 40 until 22:00",
            "level 40 (11.3 % of the light) until 22:00 (number 2)");
    answers(overrides, &now, "skip on lantern",
            "skip daybreak (by 03:10) on lamp lantern (number 3)");
    answers(overrides, &now, "undo", "taken back: skip daybreak (by 03:10) on lamp lantern");
    answers(overrides, &now, "earlier 02:10 on lantern",
            "by 02:10 instead: daybreak (by 03:10) on lamp lantern (number 4)");
    answers(overrides, &now, "undo",
            "taken back: by 02:10 instead: daybreak (by 03:10) on lamp lantern");
    answers(overrides, &now, "play glow with warmth = 20%, hold = 90s on shelf for 5min",
            "glow for 5min on lamp shelf, with warmth 20%, hold 1min (number 5)");
    answers(overrides, &now, "undo",
            "taken back: glow for 5min on lamp shelf, with warmth 20%, hold 1min");
    answers(overrides, &now, "clear 1", "cleared: nap for 20min on lamp shelf");
    answers(overrides, &now, "undo", "taken back, so there is again: nap for 20min on lamp shelf");
    answers(overrides, &now, "clear", "cleared: nap for 20min on lamp shelf, and 1 more");
    answers(overrides, &now, "undo",
            "taken back, so there is again: nap for 20min on lamp shelf, and 1 more");
    answers(overrides, &now, "set warmth 60%", "`warmth` is 60%");
    answers(overrides, &now, "undo", "taken back: `warmth` is as it was before");
    now = now_at("2026-11-26T02:50"); /* the dawn is on both lamps */
    answers(overrides, &now, "more 15min", "15min more daybreak (by 03:10) (number 9)");
    answers(overrides, &now, "earlier 07:00 on lantern",
            "at 07:00 instead: off (at 08:00) on lamp lantern (number 10)");
    answers(overrides, &now, "report told", "`told` was told: nothing waits for it");
    answers(overrides, &now, "set warmth 999%", "`warmth` is 100%, the most it goes to");
    answers(overrides, &now, "set warmth -1%", "`warmth` is 0%, the least it goes to");
    answers(overrides, &now, "set warmth 100%", "`warmth` is 100%");
    answers(overrides, &now, "set hold 2min", "`hold` is 1min, the most it goes to");
    answers(overrides, &now, "set tone red", "`tone` is set");
    now = now_at("2026-11-28T02:30");
    reads("earlier 02:45");
    assert_false(request_do(overrides, &home.world, &now, &request, said));
    assert_non_null(strstr(said, "too late for that: the routine would have begun already"));
    memory_release(overrides);
}

/* What `when` began is cleared by its number. */
static void test_clear_when(void **state) {
    (void)state;
    Household strikes;
    household_start(&strikes, "when rung play strike for 6s\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    static const char *const LINES[][2] = {
        {"report rung", "`rung` was told: it plays"},
        {"clear 1", "cleared: strike, which `when` began"},
        {"undo", "taken back, so there is again"},
    };
    for (size_t i = 0; i < sizeof LINES / sizeof *LINES; i++) {
        assert_true(request_read(&strikes.world, LINES[i][0], &request, said));
        assert_true(request_do(overrides, &strikes.world, &now, &request, said));
        assert_string_equal(said, LINES[i][1]);
    }
    assert_int_equal(overrides->running[0].cleared, 0);
    memory_release(overrides);
    household_end(&strikes);
}

/* Without memory an act is refused, and nothing is lost. */
static void test_memory(void **state) {
    (void)state;
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    unsigned long live = memory_live();
    for (unsigned long n = 1; n < 2000; n++) {
        memory_fail_at(n);
        bool done =
            request_read(&home.world, "play glow with warmth = 3% for 1h", &request, said) &&
            request_do(overrides, &home.world, &now, &request, said);
        memory_fail_at(0);
        assert_int_equal(memory_live(), live);
        if (!done)
            assert_string_equal(said, "out of memory");
        if (done)
            break;
        assert_int_equal(overrides->count, 0);
    }
    assert_int_equal(overrides->count, 1);
    memory_release(overrides);
}

int main(void) {
    household_start(&home, WEEK);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_play),       cmocka_unit_test(test_dials_of_a_play),
        cmocka_unit_test(test_other_acts), cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_bounds),     cmocka_unit_test(test_answers),
        cmocka_unit_test(test_memory),     cmocka_unit_test(test_spaces),
        cmocka_unit_test(test_any_bytes),  cmocka_unit_test(test_many_dials),
        cmocka_unit_test(test_clear_when),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    household_end(&home);
    return failed != 0;
}
