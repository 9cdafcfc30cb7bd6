/* The zone in force and its replacement, in folders of the test's own. Zones are copies of those of
 * the machine; their offsets, without summer time, are those of the time zone database: Tokyo +9,
 * Kolkata +5:30, Dubai +4, Phoenix -7. TZ is read as tzset(3) has it. */
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/player/path_watch.h"
#include "runtime/player/zone_watch.h"
#include "tests/support/folder.h"

#define TOKYO (9 * 3600)
#define KOLKATA (5 * 3600 + 1800)
#define DUBAI (4 * 3600)
#define PHOENIX (-7 * 3600)

static char root[FOLDER_PATH];

/* A path below the test's folder; each of the last few results stays. */
static const char *at(const char *inside) {
    static char paths[8][PATH_MAX];
    static int turn;
    char *path = paths[turn++ % 8];
    snprintf(path, PATH_MAX, "%s/%s", root, inside);
    return path;
}

static void command(const char *line) {
    char whole[PATH_MAX * 2];
    snprintf(whole, sizeof whole, "cd %s && %s", root, line);
    if (system(whole) != 0)
        fail_msg("%s", line);
}

static int start(void **state) {
    (void)state;
    folder_make_aside(root, "zones");
    command("mkdir -p zones/Asia zones/America && cp /usr/share/zoneinfo/Asia/Tokyo "
            "/usr/share/zoneinfo/Asia/Kolkata /usr/share/zoneinfo/Asia/Dubai zones/Asia && "
            "cp /usr/share/zoneinfo/America/Phoenix zones/America");
    return 0;
}

static int end(void **state) {
    (void)state;
    folder_remove(root);
    return 0;
}

static ZoneWatch *watch;

static void open_watch(const char *name, const char *variable) {
    ZoneSource source = {name, variable};
    ZoneFolders folders = {at("zones"), at("localtime")};
    assert_true(zone_watch_open(&source, &folders, &watch));
}

static void close_watch(void) {
    zone_watch_close(watch);
    watch = NULL;
}

static bool reported(void) {
    struct pollfd one = {.fd = zone_watch_descriptor(watch), .events = POLLIN};
    return poll(&one, 1, 0) == 1;
}

static int offset(void) {
    return zone_offset(zone_watch_zone(watch), 1782000000).offset;
}

/* After `line` the watch wakes, tells `news`, is quiet again, and has this offset. */
static void follows(const char *line, ZoneNews news, int wanted) {
    assert_false(reported());
    command(line);
    if (!reported())
        fail_msg("no report of: %s", line);
    ZoneNews told = zone_watch_look(watch);
    if (told != news || offset() != wanted)
        fail_msg("%s: news %d, offset %d", line, (int)told, offset());
    assert_false(reported());
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    bool wrong = news == ZONE_NEWS_WRONG;
    if (wrong != (*zone_watch_wrong(watch) != '\0'))
        fail_msg("%s: `%s`", line, zone_watch_wrong(watch));
}

static void test_by_name(void **state) {
    (void)state;
    open_watch("Asia/Tokyo", "America/Phoenix");
    assert_int_equal(offset(), TOKYO);
    assert_string_equal(zone_watch_wrong(watch), "");
    follows("cp zones/Asia/Dubai new && mv new zones/Asia/Tokyo", ZONE_NEWS_ZONE, DUBAI);
    follows("cat zones/Asia/Kolkata >zones/Asia/Tokyo", ZONE_NEWS_ZONE, KOLKATA);
    follows("ln -sf ../America/Phoenix zones/Asia/Tokyo", ZONE_NEWS_ZONE, PHOENIX);
    follows("cp zones/Asia/Dubai new && mv new zones/America/Phoenix", ZONE_NEWS_ZONE, DUBAI);
    close_watch();
}

static void test_broken(void **state) {
    (void)state;
    open_watch("Asia/Tokyo", NULL);
    follows("echo no zone >new && mv new zones/Asia/Tokyo", ZONE_NEWS_WRONG, TOKYO);
    assert_non_null(strstr(zone_watch_wrong(watch), "`Asia/Tokyo`"));
    assert_non_null(strstr(zone_watch_wrong(watch), "the one read before stays in force"));
    command("echo no zone either >new && mv new zones/Asia/Tokyo"); /* told once */
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    assert_int_equal(offset(), TOKYO);
    follows("rm zones/Asia/Tokyo", ZONE_NEWS_WRONG, TOKYO);
    follows("head -c 60 zones/Asia/Dubai >new && mv new zones/Asia/Tokyo", ZONE_NEWS_WRONG, TOKYO);
    follows("cp zones/Asia/Dubai new && mv new zones/Asia/Tokyo", ZONE_NEWS_ZONE, DUBAI);
    follows("rm zones/Asia/Tokyo; mkdir zones/Asia/Tokyo", ZONE_NEWS_WRONG, DUBAI);
    follows("rmdir zones/Asia/Tokyo; cp zones/Asia/Kolkata zones/Asia/Tokyo", ZONE_NEWS_ZONE,
            KOLKATA);
    close_watch();
}

static void test_unrelated(void **state) {
    (void)state;
    open_watch("Asia/Tokyo", NULL);
    command("touch zones/Asia/other zones/other other && mv other Asia && rm zones/other && "
            "cp zones/Asia/Dubai new && mv new zones/Asia/Kolkata");
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    assert_int_equal(offset(), TOKYO);
    command("cat zones/Asia/Tokyo >/dev/null"); /* reading is no change */
    assert_false(reported());
    follows("ln -sf ../America/Phoenix zones/Asia/Tokyo", ZONE_NEWS_ZONE, PHOENIX);
    follows("cp zones/Asia/Dubai new && mv new zones/Asia/Tokyo", ZONE_NEWS_ZONE, DUBAI);
    command("touch zones/America/Phoenix"); /* no longer on the way: not even a wake */
    assert_false(reported());
    close_watch();
}

/* The machine's zone: a link into the database, through another link and another folder. */
static void test_links(void **state) {
    (void)state;
    command("ln -s here localtime && ln -s \"$PWD/folder/Asia/Tokyo\" here && ln -s zones folder");
    open_watch(NULL, NULL);
    assert_int_equal(offset(), TOKYO);
    follows("ln -s zones/Asia/Dubai new && mv new localtime", ZONE_NEWS_ZONE, DUBAI);
    command("ln -s folder/Asia/Kolkata new && mv new here"); /* no longer on the way */
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    follows("ln -s ./here new && mv new localtime", ZONE_NEWS_ZONE, KOLKATA);
    follows("mkdir -p other/Asia && cp zones/Asia/Tokyo other/Asia/Kolkata && ln -sfn other folder",
            ZONE_NEWS_ZONE, TOKYO);
    follows("mv other away && mkdir -p other/Asia && cp zones/Asia/Dubai other/Asia/Kolkata",
            ZONE_NEWS_ZONE, DUBAI);
    follows("ln -s zones/../zones/./Asia/Tokyo new && mv new here", ZONE_NEWS_ZONE, TOKYO);
    follows("rm localtime", ZONE_NEWS_WRONG, TOKYO);
    assert_non_null(strstr(zone_watch_wrong(watch), "is gone"));
    follows("ln -s localtime localtime", ZONE_NEWS_WRONG, TOKYO); /* in a circle */
    follows("ln -s zones/Asia/Dubai new && mv new localtime", ZONE_NEWS_ZONE, DUBAI);
    close_watch();
}

/* A database that is installed while we run. */
static void test_missing_at_first(void **state) {
    (void)state;
    command("mv zones later");
    open_watch("Asia/Tokyo", NULL);
    assert_null(zone_watch_zone(watch));
    assert_non_null(strstr(zone_watch_wrong(watch), "UTC stands in for it"));
    assert_non_null(strstr(zone_watch_wrong(watch), "install tzdata"));
    command("mkdir zones");
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    command("mkdir zones/Asia");
    assert_int_equal(zone_watch_look(watch), ZONE_NEWS_NONE);
    follows("cp later/Asia/Tokyo zones/Asia/new && mv zones/Asia/new zones/Asia/Tokyo",
            ZONE_NEWS_ZONE, TOKYO);
    follows("mv zones away", ZONE_NEWS_WRONG, TOKYO);
    follows("mv later zones", ZONE_NEWS_ZONE, TOKYO);
    close_watch();
    /* A machine without a zone has UTC, and is not told off. */
    open_watch(NULL, NULL);
    assert_null(zone_watch_zone(watch));
    assert_string_equal(zone_watch_wrong(watch), "");
    follows("ln -s zones/Asia/Dubai localtime", ZONE_NEWS_ZONE, DUBAI);
    close_watch();
}

static void test_variable(void **state) {
    (void)state;
    command("ln -s zones/Asia/Dubai localtime && cp zones/America/Phoenix mine && "
            "cp zones/Asia/Kolkata zones/EST5EDT");
    char mine[PATH_MAX + 1];
    snprintf(mine, sizeof mine, ":%s", at("mine"));
    const struct {
        const char *variable;
        int offset;
        bool watched, wrong;
    } cases[] = {{NULL, DUBAI, true, false},
                 {"", 0, false, false},
                 {":", 0, false, false},
                 {"Asia/Tokyo", TOKYO, true, false},
                 {":Asia/Tokyo", TOKYO, true, false},
                 {mine, PHOENIX, true, false},
                 {mine + 1, PHOENIX, true, false},
                 {"EST5EDT", KOLKATA, true, false}, /* a file goes before a rule */
                 {"JST-9", TOKYO, true, false},
                 {"<+04>-4", DUBAI, false, false},
                 {"CET-1CEST,M3.5.0,M10.5.0/3", 2 * 3600, false, false}, /* in June */
                 {"Asia/Nowhere", 0, true, true},
                 {"../zones/Asia/Tokyo", 0, false, true},
                 {"no zone at all", 0, false, true}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        open_watch(NULL, cases[i].variable);
        if (offset() != cases[i].offset ||
            (zone_watch_descriptor(watch) >= 0) != cases[i].watched ||
            (*zone_watch_wrong(watch) != '\0') != cases[i].wrong)
            fail_msg("TZ=%s: %d, descriptor %d, `%s`", cases[i].variable, offset(),
                     zone_watch_descriptor(watch), zone_watch_wrong(watch));
        close_watch();
    }
    open_watch(NULL, mine);
    follows("cp zones/Asia/Tokyo new && mv new mine", ZONE_NEWS_ZONE, TOKYO);
    close_watch();
    open_watch("../zones/Asia/Tokyo", NULL);
    assert_null(zone_watch_zone(watch));
    assert_non_null(strstr(zone_watch_wrong(watch), "no name of the time zone database"));
    close_watch();
}

static void test_release(void **state) {
    (void)state;
    const struct {
        const char *line, *release;
    } cases[] = {
        {"true", "unknown"},
        {"printf '2026a\\n' >zones/+VERSION", "2026a"},
        {"printf '# version 2026f\\n# This zic input file\\n' >zones/tzdata.zi", "2026f"},
        {"printf '# version 2026f-dirty' >zones/tzdata.zi", "2026f-dirty"},
        {"printf '# version \\033[31m\\n' >zones/tzdata.zi", "2026a"},
        {"printf '# version 2026f2026f2026f2026f2026f\\n' >zones/tzdata.zi", "2026a"},
        {"printf '# version \\n' >zones/tzdata.zi; : >zones/+VERSION", "unknown"},
    };
    char release[ZONE_FILE_RELEASE_BYTES];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        command(cases[i].line);
        assert_string_equal(zone_file_release(at("zones"), release), cases[i].release);
    }
}

/* Each allocation fails in turn: no memory is told, or nothing at all happens; nothing is kept. */
static void test_no_memory(void **state) {
    (void)state;
    unsigned long before = memory_live(), needed = 0;
    ZoneSource source = {"Asia/Tokyo", NULL};
    ZoneFolders folders = {at("zones"), at("localtime")};
    for (bool opened = false; !opened;) {
        memory_fail_at(++needed);
        opened = zone_watch_open(&source, &folders, &watch);
        memory_fail_at(0);
        assert_true(needed < 100);
        assert_int_equal(opened, watch != NULL);
        if (!opened)
            assert_int_equal(memory_live(), before);
    }
    assert_true(needed > 5);
    command("cp zones/Asia/Dubai new && mv new zones/Asia/Tokyo");
    memory_fail_at(1);
    ZoneNews news = zone_watch_look(watch);
    memory_fail_at(0);
    assert_int_equal(news, ZONE_NEWS_WRONG);
    assert_int_equal(offset(), TOKYO);
    close_watch();
    assert_int_equal(memory_live(), before);
}

static void test_paths_refused(void **state) {
    (void)state;
    PathWatch *path;
    char long_path[PATH_MAX + 2];
    memset(long_path, '/', sizeof long_path - 1);
    long_path[sizeof long_path - 1] = '\0';
    assert_false(path_watch_open("zones", &path));
    assert_null(path);
    assert_false(path_watch_open("", &path));
    assert_false(path_watch_open(long_path, &path));
    assert_true(path_watch_open("/", &path)); /* nothing to watch, nothing to tell */
    assert_false(path_watch_changed(path));
    path_watch_close(path);
    command("mkdir -p $(printf 'deep/%.0s' $(seq 80))");
    char deep[PATH_MAX];
    snprintf(deep, sizeof deep, "%s", root);
    for (int i = 0; i < 80; i++)
        strcat(deep, "/deep");
    assert_false(path_watch_open(deep, &path)); /* more than it can watch: said, not half done */
    assert_null(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_by_name, start, end),
        cmocka_unit_test_setup_teardown(test_broken, start, end),
        cmocka_unit_test_setup_teardown(test_unrelated, start, end),
        cmocka_unit_test_setup_teardown(test_links, start, end),
        cmocka_unit_test_setup_teardown(test_missing_at_first, start, end),
        cmocka_unit_test_setup_teardown(test_variable, start, end),
        cmocka_unit_test_setup_teardown(test_release, start, end),
        cmocka_unit_test_setup_teardown(test_no_memory, start, end),
        cmocka_unit_test_setup_teardown(test_paths_refused, start, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
