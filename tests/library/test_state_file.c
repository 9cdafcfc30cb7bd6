/* The state file: what was written is read back; nothing that is in the file, and nothing that
 * happens while it is written, stops anything or leaves half of it. */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"
#include "tests/support/household.h"
#include "tests/support/step_disk.h"

static Household home;
static char folder[FOLDER_PATH], path[128];

static int setup(void **state) {
    (void)state;
    household_start(&home, WEEK "when rung play feed for 2h\nwhen told play glow until 23:00\n"
                                "when passing > 50% play glow for 2h\n");
    folder_make(folder, "state");
    snprintf(path, sizeof path, "%s/state.json", folder);
    return 0;
}

static int teardown(void **state) {
    (void)state;
    folder_remove(folder);
    household_end(&home);
    return 0;
}

/* Something of every kind. */
static Overrides *full_state(void) {
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T02:50");
    const bool no[] = {false}, yes[] = {true};
    Act set = {.kind = ACT_SET, .lamp = ALL, .setting = {.dial = 0, .number = 1.0 / 3.0}};
    TimetableSetting with[] = {{.dial = 0, .number = 0.1},
                               {.dial = 2, .colour = {0.1f, 1.0f / 3.0f, -0.25f}}};
    Act play = act_of_play(&home, "nap", for_length(90 * MINUTE + 1));
    play.settings = with;
    play.setting_count = 2;
    play.lamp = SHELF;
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 15 * MINUTE});
    done(list, &home, &now, play);
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = SHELF, .length = 7 * MINUTE});
    done(list, &home, &now, act_of_play(&home, "off", next_entry));
    done(list, &home, &now, act_of_play(&home, "glow", until_clock(5, 0)));
    done(list, &home, &now, act_of_play(&home, "glow", until_instant("2026-12-24T12:00")));
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = LANTERN});
    done(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 19 * 3600});
    done(list, &home, &now,
         (Act){.kind = ACT_LEVEL, .lamp = ALL, .lightness = 37.5, .end = for_length(HOUR)});
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 1});
    overrides_truths(list, &home.world, &now, no);
    overrides_truths(list, &home.world, &now, yes);
    done(list, &home, &now, set);
    set.setting = (TimetableSetting){.dial = 2, .colour = {0.5f, 0.25f, 0.125f}};
    done(list, &home, &now, set);
    set.setting.colour.r = 0.75f;
    done(list, &home, &now, set);
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 4});
    assert_true(list->count >= 9 && list->running_count == 3 && list->undo_count >= 10);
    return list;
}

/* Field by field: there are gaps between fields. */
static bool same_begun(const Begun *a, const Begun *b) {
    return a->utc == b->utc && a->boottime == b->boottime && a->trusted == b->trusted &&
           a->guessed == b->guessed;
}

static bool same_setting(const TimetableSetting *a, const TimetableSetting *b) {
    return a->dial == b->dial && a->number == b->number && a->colour.r == b->colour.r &&
           a->colour.g == b->colour.g && a->colour.b == b->colour.b;
}

static bool same_set(const DialSet *a, const DialSet *b) {
    return a->number == b->number && same_begun(&a->begun, &b->begun) &&
           same_setting(&a->setting, &b->setting);
}

static bool same_override(const Override *a, const Override *b) {
    bool same = a->kind == b->kind && a->number == b->number && a->cleared == b->cleared &&
                a->lamp == b->lamp && same_begun(&a->begun, &b->begun) &&
                a->routine == b->routine && a->setting_count == b->setting_count &&
                a->lightness == b->lightness && a->length == b->length && a->moment == b->moment &&
                a->over == b->over;
    if (a->kind == OVERRIDE_PLAY || a->kind == OVERRIDE_LEVEL)
        same = same && a->end.kind == b->end.kind && a->end.length == b->end.length &&
               a->end.until.clock == b->end.until.clock && a->end.instant == b->end.instant &&
               a->seen == b->seen;
    else
        same = same && a->target.kind == b->target.kind && a->target.entry == b->target.entry &&
               a->target.start == b->target.start && a->target.number == b->target.number;
    for (uint32_t i = 0; same && i < a->setting_count; i++)
        same = same_setting(&a->settings[i], &b->settings[i]);
    return same;
}

static bool same_state(const Overrides *a, const Overrides *b) {
    bool same = strcmp(a->boot, b->boot) == 0 && a->last_number == b->last_number &&
                a->count == b->count && a->running_count == b->running_count &&
                a->dial_count == b->dial_count && a->report_count == b->report_count &&
                a->undo_count == b->undo_count &&
                memcmp(a->truths, b->truths, sizeof a->truths) == 0;
    for (uint32_t i = 0; same && i < a->count; i++)
        same = same_override(&a->list[i], &b->list[i]);
    for (uint32_t i = 0; same && i < a->running_count; i++)
        same = a->running[i].number == b->running[i].number &&
               a->running[i].cleared == b->running[i].cleared &&
               a->running[i].entry == b->running[i].entry &&
               same_begun(&a->running[i].begun, &b->running[i].begun) &&
               same_begun(&a->running[i].renewed, &b->running[i].renewed);
    for (uint32_t i = 0; same && i < a->dial_count; i++)
        same = same_set(&a->dials[i], &b->dials[i]);
    for (uint32_t i = 0; same && i < a->report_count; i++)
        same = a->reports[i].event == b->reports[i].event &&
               same_begun(&a->reports[i].begun, &b->reports[i].begun);
    for (uint32_t i = 0; same && i < a->undo_count; i++)
        same = a->undo[i].kind == b->undo[i].kind && a->undo[i].number == b->undo[i].number &&
               a->undo[i].was_set == b->undo[i].was_set &&
               (a->undo[i].kind != UNDO_DIAL || same_set(&a->undo[i].before, &b->undo[i].before));
    return same;
}

static bool is_empty(const Overrides *list) {
    Overrides *none = memory_allocate(1, sizeof *none);
    assert_non_null(none);
    bool empty = same_state(list, none);
    memory_release(none);
    return empty;
}

static void say(const StateSaid *said) {
    for (uint32_t i = 0; i < said->count && i < STATE_SAID; i++)
        printf("said: %s\n", said->sentences[i]);
}

/* -------- as text -------- */

static void test_round_trip(void **state) {
    (void)state;
    Overrides *list = full_state(), *back = overrides_new();
    size_t length;
    char *text = state_write(list, &home.world, &length);
    assert_non_null(text);
    assert_int_equal(strlen(text), length);
    StateSaid said = {0};
    assert_int_equal(state_read(text, length, &home.world, back, &said), STATE_FINE);
    say(&said);
    assert_int_equal(said.count, 0);
    assert_true(same_state(list, back));
    memory_release(text);
    memory_release(back);
    memory_release(list);
}

/* A state that is as full as it can be fits into a file. */
static void test_largest(void **state) {
    (void)state;
    static char lines[LIMIT_ENTRIES * 64];
    char *end = lines;
    enum { ENTRIES = LIMIT_ENTRIES - 1 }; /* `until clock` is one, too */
    for (int i = 0; i < ENTRIES; i++)
        end += sprintf(end, "when passing > %d play glow for 1h\n", i);
    Household large;
    household_start(&large, lines);
    Overrides *list = overrides_new(), *back = overrides_new();
    Now now = now_at("2026-11-25T02:50");
    bool *truths = memory_allocate(LIMIT_ENTRIES, sizeof *truths);
    overrides_truths(list, &large.world, &now, truths);
    memset(truths, 1, LIMIT_ENTRIES * sizeof *truths);
    overrides_truths(list, &large.world, &now, truths);
    assert_int_equal(list->running_count, ENTRIES);
    TimetableSetting with[LIMIT_OVERRIDE_DIALS];
    for (int i = 0; i < LIMIT_OVERRIDE_DIALS; i++)
        with[i] = (TimetableSetting){.dial = 2, .colour = {1.0f / 3.0f, 1.0f / 7.0f, 1.0f / 9.0f}};
    Act play = act_of_play(&large, "nightlight", for_length(HOUR));
    play.settings = with;
    play.setting_count = LIMIT_OVERRIDE_DIALS;
    play.lamp = LANTERN;
    for (int i = 0; i < LIMIT_OVERRIDES; i++)
        done(list, &large, &now, play);
    size_t length;
    char *text = state_write(list, &large.world, &length);
    assert_non_null(text);
    printf("%zu bytes\n", length);
    assert_true(length < LIMIT_STATE_BYTES * 3 / 4); /* the rest is for longer names and dials */
    StateSaid said = {0};
    assert_int_equal(state_read(text, length, &large.world, back, &said), STATE_FINE);
    assert_true(same_state(list, back));
    memory_release(text);
    memory_release(truths);
    memory_release(back);
    memory_release(list);
    household_end(&large);
}

static StateStatus reads(const char *text, size_t length, Overrides *list, StateSaid *said) {
    *said = (StateSaid){0};
    memset(list, 0x5A, sizeof *list);
    char *copy = malloc(length ? length : 1); /* so that a read past its end is seen */
    assert_non_null(copy);
    memcpy(copy, text, length);
    StateStatus status = state_read(copy, length, &home.world, list, said);
    free(copy);
    return status;
}

/* Cut at every byte: nonsense, and an empty state. */
static void test_cut(void **state) {
    (void)state;
    Overrides *list = full_state(), *back = overrides_new();
    size_t length;
    StateSaid said;
    char *text = state_write(list, &home.world, &length);
    for (size_t cut = 0; cut + 1 < length; cut++) {
        assert_int_equal(reads(text, cut, back, &said), STATE_NONSENSE);
        assert_true(is_empty(back));
        assert_true(said.count > 0);
    }
    assert_int_equal(reads(text, length - 1, back, &said), STATE_FINE); /* the end of the line */
    memory_release(text);
    memory_release(back);
    memory_release(list);
}

static void test_nonsense(void **state) {
    (void)state;
    static const char *const texts[] = {
        "",
        "null",
        "[]",
        "{}",
        "3",
        "\"gloam\"",
        "{\"gloam_state\":true}",
        "{\"gloam_state\":2,\"boot\":\"x\",\"last_number\":0}",
        "{\"gloam_state\":1}",
        "{\"gloam_state\":1,\"boot\":\"x\",\"last_number\":-1}",
        "{\"gloam_state\":1,\"boot\":3,\"last_number\":1}",
        "{\"gloam_state\":1,\"gloam_state\":1,\"boot\":\"x\",\"last_number\":0}",
        ("{\"gloam_state\":1,\"boot\":\"0123456789012345678901234567890123456789\","
         "\"last_number\":0}"),
        "{\"gloam_state\":1,\"boot\":\"x\",\"last_number\":0} x",
        "\xEF\xBB\xBF{}",
        "{\"gloam_state\":1,\"boot\":\"\xFF\",\"last_number\":0}",
    };
    Overrides *list = overrides_new();
    StateSaid said;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        assert_int_equal(reads(texts[i], strlen(texts[i]), list, &said), STATE_NONSENSE);
        assert_true(is_empty(list));
        assert_int_equal(said.count, 1);
    }
    char *deep = malloc(LIMIT_STATE_BYTES + 1);
    assert_non_null(deep);
    memset(deep, '[', LIMIT_STATE_BYTES + 1);
    assert_int_equal(reads(deep, LIMIT_STATE_BYTES, list, &said), STATE_NONSENSE);
    memset(deep, ' ', LIMIT_STATE_BYTES + 1);
    const char *least = "{\"gloam_state\":1,\"boot\":\"\",\"last_number\":0}";
    memcpy(deep, least, strlen(least));
    assert_int_equal(reads(deep, LIMIT_STATE_BYTES, list, &said), STATE_FINE);
    assert_int_equal(said.count, 6); /* no lists */
    assert_int_equal(reads(deep, LIMIT_STATE_BYTES + 1, list, &said), STATE_NONSENSE);
    free(deep);
    memory_release(list);
}

/* An item of a list, between what is fine: it alone is dropped. %s is the item. */
static void drops(const char *key, const char *good, const char *bad, uint32_t which) {
    char text[8192];
    snprintf(
        text, sizeof text,
        "{\"gloam_state\":1,\"boot\":\"x\",\"last_number\":9,\"overrides\":[%s],\"running\":[%s],"
        "\"dials\":[%s],\"reports\":[],\"truths\":[],\"undo\":[]}",
        strcmp(key, "overrides") == 0 ? bad : good, strcmp(key, "running") == 0 ? bad : "",
        strcmp(key, "dials") == 0 ? bad : "");
    Overrides *list = overrides_new();
    StateSaid said;
    assert_int_equal(reads(text, strlen(text), list, &said), STATE_FINE);
    if (said.count != 1 || list->count != which) {
        say(&said);
        fail_msg("%s: %u said, %u kept", bad, said.count, list->count);
    }
    memory_release(list);
}

#define BEGUN "\"begun\":{\"utc\":0,\"boottime\":0,\"trusted\":true,\"guessed\":false}"
#define LEVEL(number, lightness, end)                                                              \
    "{\"kind\":\"level\",\"number\":" number "," BEGUN ",\"end\":" end                             \
    ",\"seen\":0,\"over\":[],\"lightness\":" lightness "}"
#define GOOD LEVEL("1", "50", "{\"for\":1000}")

static void test_items(void **state) {
    (void)state;
    static const char *const odd[] = {
        "3",
        "[]",
        "{}",
        "{\"kind\":\"dance\"}",
        LEVEL("10", "50", "{\"for\":1000}"),
        LEVEL("0", "50", "{\"for\":1000}"),
        LEVEL("-1", "50", "{\"for\":1000}"),
        LEVEL("1.5", "50", "{\"for\":1000}"),
        LEVEL("3", "101", "{\"for\":1000}"),
        LEVEL("3", "-1", "{\"for\":1000}"),
        LEVEL("3", "\"x\"", "{\"for\":1000}"),
        LEVEL("3", "50", "{\"for\":0}"),
        LEVEL("3", "50", "{\"for\":31622400000001}"),
        LEVEL("3", "50", "{\"until\":86400}"),
        LEVEL("3", "50", "{\"at\":9223372036854775807}"),
        LEVEL("3", "50", "{\"next_entry\":false}"),
        LEVEL("3", "50", "{}"),
        LEVEL("3", "50", "null"),
        "{\"kind\":\"skip\",\"number\":3," BEGUN ",\"target\":{\"entry\":\"12\",\"start\":0}}",
        "{\"kind\":\"skip\",\"number\":3," BEGUN ",\"target\":{\"override\":1}}",
        "{\"kind\":\"more\",\"number\":3," BEGUN ",\"target\":{\"override\":1},\"length\":0}",
        "{\"kind\":\"more\",\"number\":3," BEGUN ",\"target\":{\"override\":1}}",
        "{\"kind\":\"play\",\"number\":3," BEGUN
        ",\"routine\":null,\"end\":{\"for\":1},\"seen\":0,\"over\":[]}",
    };
    char items[4096];
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        snprintf(items, sizeof items, GOOD ",%s," LEVEL("9", "50", "{\"for\":1000}"), odd[i]);
        drops("overrides", "", items, 2);
    }
    /* Numbers that fall, and names that are gone. */
    drops("overrides", "", LEVEL("2", "50", "{\"for\":1000}") "," GOOD, 1);
    drops("overrides", "",
          GOOD ",{\"kind\":\"play\",\"number\":3," BEGUN ",\"routine\":\"gone\",\"with\":[],"
               "\"end\":{\"for\":1},\"seen\":0,\"over\":[]}",
          1);
    drops("overrides", "",
          GOOD ",{\"kind\":\"level\",\"lamp\":\"gone\",\"number\":3," BEGUN
               ",\"end\":{\"for\":1},\"seen\":0,\"over\":[],\"lightness\":3}",
          1);
    drops("overrides", "",
          GOOD ",{\"kind\":\"skip\",\"number\":3," BEGUN
               ",\"target\":{\"entry\":\"0123456789abcdef\",\"start\":0}}",
          1);
    drops("running", GOOD, "{\"entry\":\"0123456789abcdef\",\"number\":2," BEGUN "}", 1);
    drops("dials", GOOD, "{\"dial\":\"warmth\",\"type\":\"colour\",\"number\":2,\"value\":3}", 1);
    drops("dials", GOOD,
          "{\"dial\":\"gone\",\"type\":\"number\",\"number\":2,\"value\":3," BEGUN "}", 1);
}

/* Every byte changed, in three ways: read or not, what comes of it can be settled, pruned, asked.
 */
static void test_changed(void **state) {
    (void)state;
    Overrides *list = full_state(), *back = overrides_new();
    size_t length, fine = 0;
    StateSaid said;
    char *text = state_write(list, &home.world, &length);
    Now now = now_at("2026-11-25T02:55");
    for (size_t i = 0; i < length; i++)
        for (int way = 0; way < 3; way++) {
            char was = text[i];
            text[i] = way == 0 ? (char)(was ^ 1) : way == 1 ? '9' : '-';
            if (reads(text, length, back, &said) == STATE_FINE) {
                fine++;
                overrides_settle(back, &now);
                overrides_prune(back, &home.world, &now);
                (void)playing_on(back, &home, &now, LANTERN, WHOLE);
            }
            text[i] = was;
        }
    printf("%zu of %zu could be read\n", fine, length * 3);
    assert_true(fine > length / 2);
    memory_release(text);
    memory_release(back);
    memory_release(list);
}

/* -------- memory -------- */

static void test_every_allocation(void **state) {
    (void)state;
    Overrides *list = full_state(), *back = overrides_new();
    unsigned long before = memory_live(), n = 0;
    int error;
    StateSaid said;
    bool saved = false;
    assert_true(state_save(&state_disk, path, list, &home.world, &error));
    for (n = 1; !saved; n++) {
        memory_fail_at(n);
        saved = state_save(&state_disk, path, list, &home.world, &error);
        memory_fail_at(0);
        assert_int_equal(memory_live(), before);
        assert_true(saved || error == ENOMEM);
    }
    printf("%lu allocations in saving\n", n - 2);
    assert_true(n > 100);
    StateStatus status = STATE_NO_MEMORY;
    for (n = 1; status == STATE_NO_MEMORY; n++) {
        said = (StateSaid){0};
        memory_fail_at(n);
        status = state_load(&state_disk, path, &home.world, back, &said);
        memory_fail_at(0);
        assert_int_equal(memory_live(), before);
        if (status == STATE_NO_MEMORY) {
            assert_true(is_empty(back));
            assert_int_equal(said.count, 1);
        }
    }
    printf("%lu allocations in loading\n", n - 2);
    assert_int_equal(status, STATE_FINE);
    assert_true(n > 100);
    assert_true(same_state(list, back));
    assert_int_equal(folder_count(folder), 1);
    for (n = 1, saved = false; !saved; n++) {
        memory_fail_at(n);
        saved = state_move(back, &home.world, &home.world, &said);
        memory_fail_at(0);
        assert_true(same_state(list, back));
    }
    World world;
    for (n = 1, saved = false; !saved; n++) {
        memory_fail_at(n);
        saved = state_world(&world, home.compilation, home.world.context.program, home.zone);
        memory_fail_at(0);
        state_world_free(&world);
    }
    assert_true(n > 3);
    memory_release(back);
    memory_release(list);
    assert_int_equal(memory_live() + 2, before);
    folder_empty(folder);
}

/* Texts that ask for much at once, with memory that ends at many places: no end of the program. */
static void test_hungry_texts(void **state) {
    (void)state;
    enum { LENGTH = 1 << 16 };
    static char text[LENGTH + 64];
    Overrides *list = overrides_new();
    for (int kind = 0; kind < 6; kind++) {
        size_t length = 0;
        text[length++] = "[[[\"{["[kind];
        while (length < LENGTH)
            switch (kind) {
            case 0:
                length += (size_t)sprintf(text + length, "{},");
                break;
            case 1:
                length += (size_t)sprintf(text + length, "[],");
                break;
            case 2:
                length += (size_t)sprintf(text + length, "1,");
                break;
            case 3:
                text[length++] = 'a';
                break;
            case 4:
                length += (size_t)sprintf(text + length, "\"%zx\":1,", length);
                break;
            default:
                length += (size_t)sprintf(text + length, length < 2000 ? "[" : "[[[{}]]],");
            }
        unsigned long before = memory_live(), made = memory_count();
        StateSaid said;
        assert_int_equal(reads(text, length, list, &said), STATE_NONSENSE);
        unsigned long all = memory_count() - made;
        assert_true(all > 10);
        for (unsigned long n = 1; n <= all; n += 1 + n / 40) {
            memory_fail_at(n);
            StateStatus status = reads(text, length, list, &said);
            memory_fail_at(0);
            assert_int_equal(status, STATE_NO_MEMORY);
            assert_int_equal(memory_live(), before);
        }
    }
    memory_release(list);
}

/* -------- a disk that fails -------- */

/* After the file is what it was or what it becomes, and can be read and written again. */
static bool holds_old_or_new(const Overrides *old, const Overrides *fresh) {
    StateSaid said = {0};
    Overrides *back = overrides_new();
    assert_int_equal(state_load(&state_disk, path, &home.world, back, &said), STATE_FINE);
    assert_int_equal(said.count, 0);
    bool is_old = same_state(old, back), is_new = same_state(fresh, back);
    assert_true(is_old != is_new);
    memory_release(back);
    return is_new;
}

static void test_failing_disk(void **state) {
    (void)state;
    Overrides *fresh = full_state(), *old = overrides_new();
    int error;
    size_t length;
    char *text = state_write(fresh, &home.world, &length);
    enum { MOST = 1000 };
    int operations = 0;
    for (int dead = 0; dead < 2; dead++)
        for (int n = 1;; n++) {
            assert_true(state_save(&state_disk, path, old, &home.world, &error));
            stepped = (StepDisk){.at = n,
                                 .lasting = dead,
                                 .error = EIO,
                                 .most = MOST,
                                 .part = (size_t)(n * 37 % MOST)};
            bool saved = state_save(&step_disk, path, fresh, &home.world, &error);
            bool is_new = holds_old_or_new(old, fresh);
            assert_true(saved ? is_new : error == EIO);
            assert_true(dead || folder_count(folder) == 1);
            if (saved)
                break;
            operations++;
        }
    /* create, the writes, sync, close, rename, sync of the folder */
    assert_int_equal(operations, 2 * (5 + (length + MOST - 1) / MOST));
    /* Dead in the middle of the write, at bytes all over it. */
    for (size_t part = 0; part <= length; part += 1 + part / 64) {
        assert_true(state_save(&state_disk, path, old, &home.world, &error));
        stepped = (StepDisk){.at = 2 + (int)(part / MOST),
                             .lasting = true,
                             .error = EIO,
                             .most = MOST,
                             .part = part % MOST};
        assert_false(state_save(&step_disk, path, fresh, &home.world, &error));
        assert_false(holds_old_or_new(old, fresh));
    }
    memory_release(text);
    memory_release(old);
    memory_release(fresh);
    folder_empty(folder);
}

/* What is written is on the disk before the name leads to it, and the name is before it is said. A
 * write that was interrupted, or wrote a part, goes on. */
static void test_order_of_operations(void **state) {
    (void)state;
    Overrides *list = full_state(), *back = overrides_new();
    StateSaid said = {0};
    int error;
    size_t length;
    memory_release(state_write(list, &home.world, &length));
    stepped = (StepDisk){.most = length / 20 + 1, .interrupted = true};
    assert_true(state_save(&step_disk, path, list, &home.world, &error));
    size_t writes = strspn(stepped.trace + 1, "w");
    assert_int_equal(stepped.trace[0], 'c');
    assert_int_equal(writes, 2 * 20); /* twenty parts, each interrupted once */
    assert_string_equal(stepped.trace + 1 + writes, "sxrf");
    assert_int_equal(state_load(&state_disk, path, &home.world, back, &said), STATE_FINE);
    assert_true(same_state(list, back));
    memory_release(back);
    memory_release(list);
    folder_empty(folder);
}

/* A process that saves one state and the other by turns, killed 300 times. */
static void test_killed(void **state) {
    (void)state;
    Overrides *fresh = full_state(), *old = overrides_new();
    int error, seen_new = 0;
    struct timespec from, to;
    clock_gettime(CLOCK_MONOTONIC, &from);
    assert_true(state_save(&state_disk, path, fresh, &home.world, &error));
    assert_true(state_save(&state_disk, path, old, &home.world, &error));
    clock_gettime(CLOCK_MONOTONIC, &to);
    int64_t two = (to.tv_sec - from.tv_sec) * INT64_C(1000000000) + to.tv_nsec - from.tv_nsec;
    for (int round = 0; round < 300; round++) {
        fflush(stdout);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0)
            for (unsigned turn = 0;; turn++)
                (void)state_save(&state_disk, path, turn % 2 ? old : fresh, &home.world, &error);
        int64_t wait = two / 100 * (1 + round * 37 % 300); /* up to six saves */
        struct timespec pause = {wait / 1000000000, (long)(wait % 1000000000)};
        nanosleep(&pause, NULL);
        kill(child, SIGKILL);
        assert_int_equal(waitpid(child, NULL, 0), child);
        seen_new += holds_old_or_new(old, fresh);
    }
    printf("%d of 300 found the new state\n", seen_new);
    assert_true(seen_new > 0);
    memory_release(old);
    memory_release(fresh);
    folder_empty(folder);
}

/* -------- set aside -------- */

static void is_aside(int number, const char *wanted) {
    char name[160];
    snprintf(name, sizeof name, "%s.aside-%d", path, number);
    char *text = file_read(name, NULL);
    assert_string_equal(text, wanted);
    free(text);
}

static void test_set_aside(void **state) {
    (void)state;
    Overrides *list = overrides_new();
    StateSaid said = {0};
    assert_int_equal(state_load(&state_disk, path, &home.world, list, &said), STATE_MISSING);
    assert_int_equal(said.count, 0);
    for (int i = 1; i <= 5; i++) {
        char text[16];
        snprintf(text, sizeof text, "nonsense %d", i);
        file_write(path, text);
        said = (StateSaid){0};
        assert_int_equal(state_load(&state_disk, path, &home.world, list, &said), STATE_NONSENSE);
        assert_true(is_empty(list));
        assert_int_equal(said.count, 2);
        assert_non_null(strstr(said.sentences[1], "aside-1"));
        assert_int_equal(folder_count(folder), i < STATE_ASIDE ? i : STATE_ASIDE);
        is_aside(1, text);
    }
    is_aside(2, "nonsense 4");
    is_aside(3, "nonsense 3");
    /* too large; of another version */
    assert_int_equal(truncate(path, 0), -1);
    file_write(path, "");
    assert_int_equal(truncate(path, LIMIT_STATE_BYTES + 1), 0);
    assert_int_equal(state_load(&state_disk, path, &home.world, list, &said), STATE_NONSENSE);
    assert_int_equal(access(path, F_OK), -1);
    /* what cannot be moved away is told */
    file_write(path, "x");
    said = (StateSaid){0};
    stepped = (StepDisk){.at = 1, .lasting = true, .error = EIO};
    assert_int_equal(state_load(&step_disk, path, &home.world, list, &said), STATE_NONSENSE);
    assert_non_null(strstr(said.sentences[1], "could not be set aside"));
    folder_empty(folder);
    /* a folder is no file, and stays */
    assert_int_equal(mkdir(path, 0700), 0);
    said = (StateSaid){0};
    assert_int_equal(state_load(&state_disk, path, &home.world, list, &said), STATE_UNREADABLE);
    assert_int_equal(said.count, 1);
    int error;
    assert_false(state_save(&state_disk, path, list, &home.world, &error));
    assert_int_equal(folder_count(folder), 1);
    assert_int_equal(rmdir(path), 0);
    memory_release(list);
}

/* What is in the way of the temporary: an old one is written over, a link is not followed. */
static void test_in_the_way(void **state) {
    (void)state;
    Overrides *list = full_state();
    int error;
    char fresh[160], other[160];
    snprintf(fresh, sizeof fresh, "%s.new", path);
    snprintf(other, sizeof other, "%s/other", folder);
    file_write(fresh, "of a time before");
    assert_int_equal(chmod(fresh, 0600), 0);
    assert_true(state_save(&state_disk, path, list, &home.world, &error));
    struct stat status;
    assert_int_equal(stat(path, &status), 0);
    assert_int_equal(status.st_mode & 0777, 0600);
    file_write(other, "precious");
    assert_int_equal(symlink(other, fresh), 0);
    assert_false(state_save(&state_disk, path, list, &home.world, &error));
    assert_int_equal(error, ELOOP);
    assert_int_equal(stat(other, &status), 0);
    assert_int_equal(status.st_size, 8);
    assert_false(state_save(&state_disk, "/nowhere/at/all", list, &home.world, &error));
    assert_int_equal(error, ENOENT);
    memory_release(list);
    folder_empty(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_largest),
        cmocka_unit_test(test_cut),
        cmocka_unit_test(test_nonsense),
        cmocka_unit_test(test_items),
        cmocka_unit_test(test_changed),
        cmocka_unit_test(test_every_allocation),
        cmocka_unit_test(test_hungry_texts),
        cmocka_unit_test(test_failing_disk),
        cmocka_unit_test(test_order_of_operations),
        cmocka_unit_test(test_killed),
        cmocka_unit_test(test_set_aside),
        cmocka_unit_test(test_in_the_way),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
