/* The ten last home files, as a player keeps them: what it takes, and nothing else; whatever
 * becomes of them, the light goes on. */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "runtime/library/versions.h"
#include "tests/support/house.h"

#define HOME                                                                                       \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "routine ember { paint #ff3a00 * %d%% }\nat 00:00 play ember\n"

static void home_text(int level, char text[200]) {
    snprintf(text, 200, HOME, level);
}

static void change(House *house, int level) {
    char text[200];
    home_text(level, text);
    house_write(house, text);
    house_wait(house, 5 * SECOND);
}

static size_t listed(const House *house, Version list[VERSIONS_KEPT]) {
    char folder[160];
    snprintf(folder, sizeof folder, "%s.versions", house->state);
    return versions_list(folder, list);
}

static void assert_kept(const House *house, uint32_t number, const char *wanted) {
    char folder[160], *text;
    size_t length;
    snprintf(folder, sizeof folder, "%s.versions", house->state);
    if (!versions_read(folder, number, &text, &length))
        fail_msg("expected number %u to be there", number);
    assert_string_equal(text, wanted);
    memory_release(text);
}

static void assert_kept_level(const House *house, uint32_t number, int level) {
    char text[200];
    home_text(level, text);
    assert_kept(house, number, text);
}

static void start(House *house, int level) {
    char text[200];
    home_text(level, text);
    house_start(house, text, MIDNIGHT + HOUR);
}

static void of_eleven_changes_ten_stay(void **unused) {
    (void)unused;
    House house;
    Version list[VERSIONS_KEPT];
    start(&house, 10);
    assert_int_equal(listed(&house, list), 1);
    assert_kept_level(&house, 1, 10);
    for (int i = 1; i <= 11; i++)
        change(&house, 10 + i);
    assert_int_equal(player_counts(house.player)->reloads, 11);
    assert_int_equal(listed(&house, list), VERSIONS_KEPT);
    for (int i = 0; i < VERSIONS_KEPT; i++) {
        assert_int_equal(list[i].number, 12 - i);
        assert_kept_level(&house, list[i].number, 21 - i);
    }
    house_end(&house);
}

static void what_is_equal_is_not_kept_again(void **unused) {
    (void)unused;
    House house;
    Version list[VERSIONS_KEPT];
    start(&house, 10);
    change(&house, 10);
    assert_int_equal(player_counts(house.player)->reloads, 1); /* it was taken, */
    assert_int_equal(listed(&house, list), 1);                 /* and is what is there */
    player_signal(house.player, SIGHUP);
    player_turn(house.player);
    assert_int_equal(player_counts(house.player)->reloads, 2);
    assert_int_equal(listed(&house, list), 1);
    /* Nor at another start. */
    player_free(house.player);
    house_play(&house);
    assert_int_equal(listed(&house, list), 1);
    /* What was written while nothing played is. */
    char text[200];
    player_free(house.player);
    home_text(20, text);
    house_write(&house, text);
    house_play(&house);
    assert_int_equal(listed(&house, list), 2);
    assert_kept_level(&house, 2, 20);
    /* Taken back by hand: a version as any other. */
    change(&house, 10);
    assert_int_equal(listed(&house, list), 3);
    assert_kept_level(&house, 3, 10);
    house_end(&house);
}

static void what_is_wrong_is_not_kept(void **unused) {
    (void)unused;
    House house;
    Version list[VERSIONS_KEPT];
    start(&house, 10);
    house_write(&house, "lamp lantern { pixels");
    house_wait(&house, 5 * SECOND);
    assert_int_equal(player_counts(house.player)->refused, 1);
    assert_int_equal(listed(&house, list), 1);
    /* At a start the copy of what was right plays; that file is no version either. */
    player_free(house.player);
    house_play(&house);
    assert_non_null(strstr(house.said, "its copy that was right before plays"));
    assert_int_equal(listed(&house, list), 1);
    change(&house, 11);
    assert_int_equal(listed(&house, list), 2);
    house_end(&house);
}

static void what_it_uses_is_not_kept(void **unused) {
    (void)unused;
    static const char USES[] = "use \"part.gloam\"\nlamp lantern { pixels 16 shape ring }\n"
                               "at 00:00 play sea\n";
    House house;
    Version list[VERSIONS_KEPT];
    start(&house, 10);
    House part = house;
    snprintf(part.home, sizeof part.home, "%s/part.gloam", house.folder);
    house_write(&part, "routine sea { paint teal }\n");
    house_write(&house, USES);
    house_wait(&house, 5 * SECOND);
    assert_int_equal(listed(&house, list), 2);
    assert_kept(&house, 2, USES);
    house_write(&part, "routine sea { paint teal * 20% }\n");
    house_wait(&house, 5 * SECOND);
    assert_int_equal(player_counts(house.player)->reloads, 2);
    assert_int_equal(listed(&house, list), 2);
    house_end(&house);
}

/* -------- a disk without room for versions, and with room for all else -------- */

static bool full;
static int create_where_there_is_room(const char *path) {
    if (full && strstr(path, ".versions/")) {
        errno = ENOSPC;
        return -1;
    }
    return state_disk.create(path);
}

static int times(const char *text, const char *words) {
    int count = 0;
    for (const char *at = text; (at = strstr(at, words)); at++)
        count++;
    return count;
}

static void assert_plays(int level) {
    char text[200];
    home_text(level, text);
    assert_shows(text, MIDNIGHT + HOUR);
}

static void a_full_disk_is_told_once_and_the_light_goes_on(void **unused) {
    (void)unused;
    static const char WORDS[] = "this version of the home file is not kept";
    House house;
    StateDisk disk = state_disk;
    Version list[VERSIONS_KEPT];
    char text[200];
    disk.create = create_where_there_is_room;
    home_text(10, text);
    house_make(&house, text, MIDNIGHT + HOUR);
    PlayerRequest request = house_request(&house);
    request.disk = &disk;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    assert_int_equal(listed(&house, list), 1);
    full = true;
    for (int i = 1; i <= 3; i++) {
        change(&house, 10 + i);
        assert_int_equal(player_counts(house.player)->reloads, i);
        assert_plays(10 + i);
    }
    assert_int_equal(times(house.said, WORDS), 1);
    assert_non_null(strstr(house.said, strerror(ENOSPC)));
    assert_int_equal(listed(&house, list), 1);
    /* Room again: the next is kept, and a disk that is full once more is told once more. */
    full = false;
    change(&house, 14);
    assert_int_equal(listed(&house, list), 2);
    assert_kept_level(&house, 2, 14);
    full = true;
    change(&house, 15);
    change(&house, 16);
    assert_plays(16);
    assert_int_equal(times(house.said, WORDS), 2);
    full = false;
    house_end(&house);
}

/* Something else lies where the folder is to be. */
static void no_folder_is_told_once_and_the_light_goes_on(void **unused) {
    (void)unused;
    House house, way;
    Version list[VERSIONS_KEPT];
    char text[200];
    home_text(10, text);
    house_make(&house, text, MIDNIGHT + HOUR);
    way = house;
    assert_true((size_t)snprintf(way.home, sizeof way.home, "%s.versions", house.state) <
                sizeof way.home);
    house_write(&way, "mine");
    house_play(&house);
    assert_plays(10);
    change(&house, 20);
    assert_plays(20);
    assert_int_equal(times(house.said, "this version of the home file is not kept"), 1);
    assert_int_equal(listed(&house, list), 0);
    assert_int_equal(remove(way.home), 0);
    change(&house, 30);
    assert_int_equal(listed(&house, list), 1);
    assert_kept_level(&house, 1, 30);
    house_end(&house);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(of_eleven_changes_ten_stay),
        cmocka_unit_test(what_is_equal_is_not_kept_again),
        cmocka_unit_test(what_is_wrong_is_not_kept),
        cmocka_unit_test(what_it_uses_is_not_kept),
        cmocka_unit_test(a_full_disk_is_told_once_and_the_light_goes_on),
        cmocka_unit_test(no_folder_is_told_once_and_the_light_goes_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
