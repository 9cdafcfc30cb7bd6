/* A routine of another file, tried on the home's lamps: it comes, goes, and leaves nothing. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/support/house.h"

/* It has a lamp of its own, brighter and larger, which is not that of the home. */
#define DRAFT                                                                                      \
    "lamp other { pixels 99 shape strip }\n"                                                       \
    "dial shade = 100%\n"                                                                          \
    "routine blaze { paint white * shade }\n"                                                      \
    "at 00:00 play off\n"

/* What the home would show if the routine were its own. */
#define AS_HOME                                                                                    \
    "lamp lantern { pixels 16 shape ring level 25% }\n"                                            \
    "routine blaze { paint white }\nat 00:00 play blaze\n"
#define DIM_HOME                                                                                   \
    "lamp lantern { pixels 16 shape ring level 25% }\n"                                            \
    "routine ember { paint #ff3a00 * 2% }\nat 00:00 play ember\n"

static char said[512];

static void write_beside(const House *house, const char *name, const char *text, char path[160]) {
    snprintf(path, 160, "%s/%s", house->folder, name);
    file_write(path, text);
}

static bool try_draft(House *house, const char *text, const char *rest) {
    char path[160], words[512];
    write_beside(house, ".draft-1.gloam", text, path);
    snprintf(words, sizeof words, "%s %s", path, rest);
    bool begun = player_try(house->player, words, said, sizeof said);
    player_turn(house->player);
    return begun;
}

static void it_comes_and_goes_by_itself(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(try_draft(&house, DRAFT, "play blaze for 1min"));
    assert_status(&house, "\"routine\": \"blaze\"", true);
    house_wait(&house, 30 * SECOND);
    assert_shows(AS_HOME, MIDNIGHT + 12 * HOUR); /* with the home's own level */
    assert_status(&house, "\"plays\": \"ember\"", true);
    house_wait(&house, 35 * SECOND);
    assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_status(&house, "\"trial\": null", true);
    house_end(&house);
}

static void it_cross_fades(void **unused) {
    (void)unused;
    House house;
    uint8_t before, after, last = 0;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    before = wire.bytes[0];
    assert_true(try_draft(&house, DRAFT, "play blaze for 1min"));
    for (int i = 0; i < 90; i++) {
        house_wait(&house, SECOND / 60);
        assert_true(wire.bytes[0] + 1 >= last); /* a code may be dithered */
        last = wire.bytes[0];
        if (i == 20)
            assert_in_range(last, before + 2, 60);
    }
    after = wire.bytes[0];
    assert_int_equal(after, 64); /* a quarter of 255, and up: a still frame is dithered in space */
    house_end(&house);
}

static void acts_and_reloads_end_it(void **unused) {
    (void)unused;
    static const char *const ACTS[] = {"level 50", "play off", "skip"};
    for (int i = 0; i < 5; i++) {
        House house;
        house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
        assert_true(try_draft(&house, DRAFT, "play blaze for 5min"));
        house_wait(&house, 5 * SECOND);
        if (i < 3)
            assert_true(player_act(house.player, ACTS[i], said, sizeof said));
        else if (i == 3)
            assert_true(player_reload_now(house.player, said, sizeof said));
        else
            assert_true(player_try(house.player, "end", said, sizeof said));
        player_turn(house.player);
        assert_status(&house, "\"trial\": null", true);
        house_wait(&house, 5 * SECOND);
        if (i >= 2)
            assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
        house_end(&house);
    }
}

static void an_act_that_is_refused_leaves_it(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(try_draft(&house, DRAFT, "play blaze for 5min"));
    assert_false(player_act(house.player, "play nothing_like_it", said, sizeof said));
    assert_status(&house, "\"routine\": \"blaze\"", true);
    house_end(&house);
}

static void nothing_of_it_is_kept(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(player_act(house.player, "level 60 for 2h", said, sizeof said));
    uint64_t number = player_overrides(house.player)->last_number;
    assert_true(try_draft(&house, DRAFT, "play blaze with shade = 50% for 5min"));
    house_wait(&house, 5 * SECOND);
    assert_int_equal(player_overrides(house.player)->last_number, number);
    assert_int_equal(player_overrides(house.player)->count, 1);
    /* Killed in the middle of it: the home plays. */
    player_free(house.player);
    house_play(&house);
    assert_status(&house, "\"trial\": null", true);
    assert_int_equal(player_overrides(house.player)->count, 1);
    house_end(&house);
}

/* Of the house, to be freed. */
static char *kept_text(const House *house, const char *suffix) {
    char name[160];
    snprintf(name, sizeof name, "%s%s", house->state, suffix);
    return file_read(name, NULL);
}

/* State, accepted copy and versions have the bytes that they had, while it plays, when it has ended
 * by itself, and when it is ended. */
static void no_file_knows_of_it(void **unused) {
    (void)unused;
    static const char *const SUFFIXES[] = {"", ".accepted", ".versions/000001.gloam"};
    char *before[3], second[160];
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(player_act(house.player, "level 60 for 2h", said, sizeof said));
    player_turn(house.player);
    house_wait(&house, 5 * SECOND);
    uint64_t saves = player_counts(house.player)->saves;
    for (int i = 0; i < 3; i++) {
        before[i] = kept_text(&house, SUFFIXES[i]);
        assert_true(before[i][0] != '\0');
    }
    for (int turn = 0; turn < 3; turn++) {
        if (turn != 1)
            assert_true(try_draft(&house, DRAFT, "play blaze for 1min"));
        else
            house_wait(&house, 65 * SECOND);
        if (turn == 2)
            assert_true(player_try(house.player, "end", said, sizeof said));
        house_wait(&house, 5 * SECOND);
        for (int i = 0; i < 3; i++) {
            char *after = kept_text(&house, SUFFIXES[i]);
            assert_string_equal(after, before[i]);
            free(after);
        }
        snprintf(second, sizeof second, "%s.versions/000002.gloam", house.state);
        assert_int_equal(access(second, F_OK), -1);
    }
    for (int i = 0; i < 3; i++)
        free(before[i]);
    assert_int_equal(player_counts(house.player)->saves, saves);
    house_end(&house);
}

/* The draft has a supply without a limit that matters; that of the home holds. */
static void the_supply_of_the_home_holds(void **unused) {
    (void)unused;
    static const char *const LAMP =
        "lamp lantern { pixels 16 shape ring chip ws2812b order grb supply 5V 0.25A }\n"
        "routine ember { paint #ff3a00 * 2% }\nat 00:00 play ember\n";
    static const char *const GENEROUS =
        "lamp lantern { pixels 16 shape ring chip ws2812b order grb supply 5V 60A }\n"
        "routine blaze { paint white }\n";
    House house;
    house_start(&house, LAMP, MIDNIGHT + 12 * HOUR);
    assert_true(try_draft(&house, GENEROUS, "play blaze for 1min"));
    unsigned most = 0;
    for (int i = 0; i < 120; i++) {
        unsigned sum = 0;
        house_wait(&house, SECOND / 60);
        for (int k = 0; k < WIRE_BYTES; k++)
            sum += wire.bytes[k];
        most = sum > most ? sum : most;
    }
    /* By hand: a channel of a WS2812B draws 20 mA at 255 (its sheet of 2013-10), a dark chip 1 mA
     * (WS2812's): 255 * (250 - 16) / 20 = 2983.5 codes are left. Nine tenths of them are used. */
    assert_in_range(most, 2685, 2983);
    house_end(&house);
}

/* More lamps at home than in the draft, and none in it. */
static void lamps_are_those_of_the_home(void **unused) {
    (void)unused;
    static const char *const DRAFTS[] = {
        "routine blaze { paint white }\n", DRAFT,
        ("lamp a { pixels 3 }\nlamp b { pixels 4 }\n"
         "routine blaze { paint white }\nat 00:00 play off on lamp b\n")};
    static const char *const HOME = "lamp first { pixels 4 }\nlamp second { pixels 5 }\n"
                                    "lamp lantern { pixels 16 shape ring level 25% }\n"
                                    "routine ember { paint #ff3a00 * 2% }\nat 00:00 play ember\n";
    for (int i = 0; i < 3; i++) {
        House house;
        house_make(&house, HOME, MIDNIGHT + 12 * HOUR);
        PlayerRequest request = house_request(&house);
        request.lamp = "lantern";
        assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                         PLAYER_STARTED);
        player_turn(house.player);
        assert_false(try_draft(&house, DRAFTS[i], "play blaze on lamp second for 1min"));
        assert_true(
            try_draft(&house, DRAFTS[i],
                      i % 2 ? "play blaze on lamp lantern for 1min" : "play blaze for 1min"));
        house_wait(&house, 5 * SECOND);
        assert_shows(AS_HOME, MIDNIGHT + 12 * HOUR);
        assert_status(&house,
                      i % 2 ? "\"lamp\": \"lantern\",\n    \"until\""
                            : "\"lamp\": null,\n    \"until\"",
                      true);
        house_wait(&house, 65 * SECOND);
        assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
        house_end(&house);
    }
}

static void a_second_one_takes_the_place_of_the_first(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(try_draft(&house, DRAFT, "play blaze for 5min"));
    house_wait(&house, 5 * SECOND);
    assert_true(try_draft(&house, "routine dim { paint #ff3a00 * 2% }\n", "play dim for 1min"));
    house_wait(&house, 5 * SECOND);
    assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_status(&house, "\"routine\": \"dim\"", true);
    house_wait(&house, 60 * SECOND);
    assert_status(&house, "\"trial\": null", true);
    house_end(&house);
}

static void what_cannot_be_tried_is_said(void **unused) {
    (void)unused;
    static const struct {
        const char *text, *rest, *wanted;
    } WRONG[] = {
        {DRAFT, "play blaze", "for 1min"},
        {DRAFT, "play blaze for 11min", "10min"},
        {DRAFT, "play blaze until 22:00", "10min"},
        {DRAFT, "play nothing_like_it for 1min", "nothing_like_it"},
        {DRAFT, "play blaze on lamp nowhere for 1min", "no lamp `nowhere`"},
        {DRAFT, "blaze for 1min", "try PATH play"},
        {DRAFT, "play blaze on lamp", "try PATH play"},
        {DRAFT, "\tplay\tblaze\ton\tlamp\tnowhere\tfor 1min", "no lamp `nowhere`"},
        {"routine blaze { paint", "play blaze for 1min", ".draft-1.gloam:1:"},
        {"use \"/etc/passwd\"\nroutine blaze { paint white }\n", "play blaze for 1min", ":1:"},
    };
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        bool begun = try_draft(&house, WRONG[i].text, WRONG[i].rest);
        if (begun || !strstr(said, WRONG[i].wanted))
            fail_msg("`%s`: expected `%s`, not `%s`", WRONG[i].rest, WRONG[i].wanted, said);
    }
    assert_false(player_try(house.player, "/etc/passwd play x for 1min", said, sizeof said));
    assert_non_null(strstr(said, "beside the home file"));
    assert_false(player_try(house.player, "end", said, sizeof said));
    house_wait(&house, 5 * SECOND);
    assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
    house_end(&house);
}

/* The clock is set in the middle of it: a trial is by the clock that nobody sets. */
static void a_clock_that_is_set_does_not_end_it(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    assert_true(try_draft(&house, DRAFT, "play blaze for 1min"));
    house_wait(&house, 5 * SECOND);
    clock_fake_set(&house.fake, house.fake.now.utc + 5 * HOUR);
    player_turn(house.player);
    house_wait(&house, 5 * SECOND);
    assert_status(&house, "\"routine\": \"blaze\"", true);
    assert_shows(AS_HOME, MIDNIGHT + 12 * HOUR);
    house_wait(&house, 60 * SECOND);
    assert_status(&house, "\"trial\": null", true);
    house_end(&house);
}

static void memory_that_runs_out_leaves_the_home(void **unused) {
    (void)unused;
    House house;
    house_start(&house, DIM_HOME, MIDNIGHT + 12 * HOUR);
    bool begun = false;
    for (unsigned long n = 1; !begun && n < 4000; n += n < 40 ? 1 : 37) {
        char path[160], words[512];
        write_beside(&house, ".draft-1.gloam", DRAFT, path);
        snprintf(words, sizeof words, "%s play blaze for 1min", path);
        memory_fail_at(n);
        begun = player_try(house.player, words, said, sizeof said);
        memory_fail_at(0);
        player_turn(house.player);
    }
    assert_true(begun);
    house_wait(&house, 90 * SECOND);
    assert_shows(DIM_HOME, MIDNIGHT + 12 * HOUR);
    house_end(&house);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_comes_and_goes_by_itself),
        cmocka_unit_test(it_cross_fades),
        cmocka_unit_test(acts_and_reloads_end_it),
        cmocka_unit_test(an_act_that_is_refused_leaves_it),
        cmocka_unit_test(nothing_of_it_is_kept),
        cmocka_unit_test(no_file_knows_of_it),
        cmocka_unit_test(the_supply_of_the_home_holds),
        cmocka_unit_test(lamps_are_those_of_the_home),
        cmocka_unit_test(a_second_one_takes_the_place_of_the_first),
        cmocka_unit_test(what_cannot_be_tried_is_said),
        cmocka_unit_test(a_clock_that_is_set_does_not_end_it),
        cmocka_unit_test(memory_that_runs_out_leaves_the_home),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
