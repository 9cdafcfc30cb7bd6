/* Who may use the page: codes, sessions, invitations and what is kept of them; what is let in; the
 * code as light, read as somebody in the room reads it. Times are handed in. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/gloam.h"
#include "runtime/service/page/access.h"
#include "runtime/service/page/door.h"
#include "runtime/service/page/guard.h"
#include "tests/support/folder.h"

enum { NOW = 1795575000, DAY = 86400 };

static char folder[FOLDER_PATH], file[96], said_once[256];
static int writes;
static bool broken;
static StateDisk disk;

static int counted_create(const char *path) {
    writes++;
    return broken ? -1 : state_disk.create(path);
}

static int make_folder(void **state) {
    (void)state;
    disk = state_disk;
    disk.create = counted_create;
    broken = false;
    writes = 0;
    folder_make(folder, "sessions");
    snprintf(file, sizeof file, "%s/state.json.page", folder);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    int left = folder_count(folder);
    folder_remove(folder);
    return left <= 1 ? 0 : -1; /* nothing beside the file */
}

static Access *open_access(void) {
    Access *access = access_create(&disk, file, said_once, sizeof said_once);
    assert_non_null(access);
    return access;
}

static const Session *pair(Access *access, const char *name, int64_t utc, char *token) {
    char code[ACCESS_CODE];
    const Session *session = NULL;
    int wait;
    /* Hours apart, so that there are never too many codes. */
    static int64_t hours;
    int64_t monotonic = ++hours * 3600;
    assert_true(access_show_code(access, monotonic, code, &wait));
    assert_int_equal(access_begin(access, code, name, utc, monotonic, token, &session),
                     ACCESS_GRANTED);
    return session;
}

/* -------- codes -------- */

static void each_digit_is_as_likely(void **state) {
    (void)state;
    Access *access = open_access();
    int seen[10] = {0}, wait;
    for (int i = 0; i < 400; i++) {
        char code[ACCESS_CODE];
        assert_true(access_show_code(access, i * 3600, code, &wait));
        assert_int_equal(strlen(code), 5);
        for (const char *digit = code; *digit; digit++) {
            assert_in_range(*digit, '1', '9');
            seen[*digit - '0']++;
        }
    }
    /* 2,000 digits: 222 each, with a standard deviation of 14; six of them to both sides. */
    for (int digit = 1; digit <= 9; digit++)
        assert_in_range(seen[digit], 222 - 84, 222 + 84);
    access_free(access);
}

static void a_code_is_good_once(void **state) {
    (void)state;
    Access *access = open_access();
    char code[ACCESS_CODE], token[ACCESS_TOKEN], other[ACCESS_TOKEN];
    const Session *session;
    int wait;
    assert_int_equal(access_begin(access, "11111", "", NOW, 0, token, &session), ACCESS_WRONG);
    assert_true(access_show_code(access, 100, code, &wait));
    assert_int_equal(access_begin(access, code, "phone", NOW, 219, token, &session),
                     ACCESS_GRANTED);
    assert_int_equal(session->role, ROLE_OWNER);
    assert_string_equal(session->name, "phone");
    assert_int_equal(strlen(token), 32);
    assert_int_equal(strspn(token, "0123456789abcdef"), 32);
    assert_int_equal(access_begin(access, code, "phone", NOW, 219, other, &session), ACCESS_WRONG);
    /* Two minutes; a newer code takes the place of an older one. */
    assert_true(access_show_code(access, 300, code, &wait));
    assert_int_equal(access_begin(access, code, "phone", NOW, 420, other, &session), ACCESS_WRONG);
    char newer[ACCESS_CODE];
    assert_true(access_show_code(access, 500, code, &wait));
    do
        assert_true(access_show_code(access, 501, newer, &wait));
    while (strcmp(newer, code) == 0);
    assert_int_equal(access_begin(access, code, "", NOW, 502, other, &session), ACCESS_WRONG);
    assert_int_equal(access_begin(access, newer, "", NOW, 502, other, &session), ACCESS_GRANTED);
    access_free(access);
}

/* Another code than that one. */
static void wrong_code(const char *code, char *wrong) {
    strcpy(wrong, code);
    wrong[4] = wrong[4] == '9' ? '1' : (char)(wrong[4] + 1);
}

static void five_guesses(void **state) {
    (void)state;
    Access *access = open_access();
    char code[ACCESS_CODE], wrong[ACCESS_CODE], token[ACCESS_TOKEN], dashes[32];
    const Session *session;
    int wait;
    assert_true(access_show_code(access, 0, code, &wait));
    wrong_code(code, wrong);
    for (int i = 0; i < 4; i++)
        assert_int_equal(access_begin(access, wrong, "", NOW, 1, token, &session), ACCESS_WRONG);
    /* What is no code of that length is no guess at it. */
    assert_int_equal(access_begin(access, "12a45", "", NOW, 1, token, &session), ACCESS_WRONG);
    assert_int_equal(access_begin(access, "", "", NOW, 1, token, &session), ACCESS_WRONG);
    assert_int_equal(
        access_begin(access, "123456789012345678901234567890", "", NOW, 1, token, &session),
        ACCESS_WRONG);
    /* Read out in parts. */
    snprintf(dashes, sizeof dashes, " %.2s-%s ", code, code + 2);
    assert_int_equal(access_begin(access, dashes, "", NOW, 1, token, &session), ACCESS_GRANTED);
    assert_string_equal(session->name, "a phone");
    assert_true(access_show_code(access, 2, code, &wait));
    wrong_code(code, wrong);
    for (int i = 0; i < 4; i++)
        assert_int_equal(access_begin(access, wrong, "", NOW, 3, token, &session), ACCESS_WRONG);
    assert_int_equal(access_begin(access, wrong, "", NOW, 3, token, &session), ACCESS_TOO_MANY);
    assert_int_equal(access_begin(access, code, "", NOW, 3, token, &session), ACCESS_WRONG);
    access_free(access);
}

static void ten_codes_an_hour(void **state) {
    (void)state;
    Access *access = open_access();
    char code[ACCESS_CODE];
    int wait = 0;
    for (int i = 0; i < 10; i++)
        assert_true(access_show_code(access, i * 10, code, &wait));
    assert_false(access_show_code(access, 100, code, &wait));
    assert_int_equal(wait, 3500);
    assert_false(access_show_code(access, 3599, code, &wait));
    assert_int_equal(wait, 1);
    assert_true(access_show_code(access, 3600, code, &wait));
    assert_false(access_show_code(access, 3600, code, &wait));
    assert_int_equal(wait, 10);
    access_free(access);
}

static void an_invitation_is_good_once_within_a_day(void **state) {
    (void)state;
    Access *access = open_access();
    char guest[ACCESS_CODE], owner[ACCESS_CODE], late[ACCESS_CODE], token[ACCESS_TOKEN];
    const Session *session;
    assert_true(access_invite(access, ROLE_GUEST, NOW, guest));
    assert_true(access_invite(access, ROLE_OWNER, NOW, owner));
    assert_true(access_invite(access, ROLE_OWNER, NOW, late));
    assert_int_equal(strlen(guest), 12);
    access_free(access);
    access = open_access(); /* invitations outlive the program */
    assert_string_equal(said_once, "");
    assert_int_equal(access_begin(access, guest, "", NOW + DAY - 1, 0, token, &session),
                     ACCESS_GRANTED);
    assert_int_equal(session->role, ROLE_GUEST);
    assert_int_equal(access_begin(access, guest, "", NOW, 0, token, &session), ACCESS_WRONG);
    assert_int_equal(access_begin(access, owner, "", NOW, 0, token, &session), ACCESS_GRANTED);
    assert_int_equal(session->role, ROLE_OWNER);
    assert_int_equal(access_begin(access, late, "", NOW + DAY, 0, token, &session), ACCESS_WRONG);
    for (int i = 0; i < ACCESS_INVITATIONS - 1; i++)
        assert_true(access_invite(access, ROLE_GUEST, NOW, guest));
    assert_false(access_invite(access, ROLE_GUEST, NOW, guest));
    assert_true(access_invite(access, ROLE_GUEST, NOW + DAY, guest));
    access_free(access);
}

/* -------- sessions -------- */

/* The hash of the token by sha256sum of coreutils. */
static void tokens_are_kept_as_hashes(void **state) {
    (void)state;
    Access *access = open_access();
    char token[ACCESS_TOKEN], command[128], sum[65] = "";
    size_t length;
    struct stat about;
    pair(access, "phone in the bakery", NOW, token);
    snprintf(command, sizeof command, "printf %%s %s | sha256sum", token);
    FILE *summed = popen(command, "r");
    assert_non_null(summed);
    assert_int_equal(fread(sum, 1, 64, summed), 64);
    pclose(summed);
    char *text = file_read(file, &length);
    assert_non_null(strstr(text, sum));
    assert_null(strstr(text, token));
    free(text);
    assert_int_equal(stat(file, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0600);
    access_free(access);
}

static void sessions_outlive_the_program(void **state) {
    (void)state;
    char token[ACCESS_TOKEN], id[ACCESS_ID];
    Access *access = open_access();
    snprintf(id, sizeof id, "%s", pair(access, "phone", NOW, token)->id);
    access_free(access);
    access = open_access();
    const Session *session = access_find(access, token, NOW);
    assert_non_null(session);
    assert_string_equal(session->id, id);
    assert_int_equal(session->began, NOW);
    assert_null(access_find(access, NULL, NOW));
    assert_null(access_find(access, "", NOW));
    assert_null(access_find(access, "00000000000000000000000000000000", NOW));
    token[31] = token[31] == '0' ? '1' : '0';
    assert_null(access_find(access, token, NOW));
    assert_false(access_end(access, ""));
    assert_false(access_end(access, "0123456789abcdef"));
    assert_true(access_end(access, id));
    assert_false(access_end(access, id));
    access_free(access);
    access = open_access();
    const Session *list;
    size_t count = access_sessions(access, &list);
    for (size_t i = 0; i < count; i++)
        assert_string_equal(list[i].id, "");
    access_free(access);
}

static void that_one_was_seen_is_written_once_an_hour(void **state) {
    (void)state;
    char token[ACCESS_TOKEN];
    Access *access = open_access();
    pair(access, "phone", NOW, token);
    writes = 0;
    for (int second = 0; second < 3600; second += 5)
        assert_non_null(access_find(access, token, NOW + second));
    assert_int_equal(writes, 0);
    for (int second = 3600; second < 7200; second += 5)
        assert_int_equal(access_find(access, token, NOW + second)->seen, NOW + 3600);
    assert_int_equal(writes, 1);
    access_find(access, token, NOW - 10 * DAY); /* a clock that was set back */
    assert_int_equal(access_find(access, token, NOW - 10 * DAY)->seen, NOW - 10 * DAY);
    assert_int_equal(writes, 2);
    access_free(access);
}

static void the_one_seen_longest_ago_makes_room(void **state) {
    (void)state;
    static char tokens[ACCESS_SESSIONS + 1][ACCESS_TOKEN];
    Access *access = open_access();
    for (int i = 0; i < ACCESS_SESSIONS; i++)
        pair(access, "phone", NOW + i, tokens[i]);
    for (int i = 0; i < ACCESS_SESSIONS; i++)
        if (i != 20)
            access_find(access, tokens[i], NOW + 2 * DAY + i);
    pair(access, "a new one", NOW + 3 * DAY, tokens[ACCESS_SESSIONS]);
    for (int i = 0; i <= ACCESS_SESSIONS; i++)
        assert_int_equal(access_find(access, tokens[i], NOW + 3 * DAY) != NULL, i != 20);
    access_free(access);
}

static void names_steer_no_terminal(void **state) {
    (void)state;
    char token[ACCESS_TOKEN], many[200];
    Access *access = open_access();
    assert_string_equal(pair(access, "a\x1b[2Jb\nc\x7f", NOW, token)->name, "a [2Jb c?");
    /* U+009B, by ECMA-48 the same as the two bytes before `2J` above */
    assert_string_equal(pair(access,
                             "a\xc2\x9b"
                             "2Jb",
                             NOW, token)
                            ->name,
                        "a?2Jb");
    /* Cut between characters: 59 bytes, then one of two. */
    memset(many, 'x', 59);
    strcpy(many + 59, "\xc3\xa9t\xc3\xa9");
    const Session *session = pair(access, many, NOW, token);
    assert_int_equal(strlen(session->name), 59);
    access_free(access);
    access = open_access();
    assert_string_equal(said_once, "");
    access_free(access);
}

/* -------- what is kept, and cannot be -------- */

static void nonsense_lets_nobody_in(void **state) {
    (void)state;
    static const char *const NONSENSE[] = {"",
                                           "{",
                                           "[]",
                                           "null",
                                           "{\"gloam-page\":2,\"sessions\":[]}",
                                           "{\"gloam-page\":1,\"gloam-page\":1}",
                                           "{\"sessions\":[{}]}"};
    for (size_t i = 0; i < sizeof NONSENSE / sizeof *NONSENSE; i++) {
        file_write(file, NONSENSE[i]);
        Access *access = open_access();
        if (!*said_once)
            fail_msg("expected to be told of `%s`", NONSENSE[i]);
        access_free(access);
    }
    /* One that is right beside some that are not. */
    file_write(
        file, "{\"gloam-page\":1,\"sessions\":[3,{},{\"id\":\"a\",\"name\":\"n\",\"role\":\"king\","
              "\"hash\":\"00\"},{\"id\":\"b\",\"name\":\"n\",\"role\":\"owner\",\"hash\":"
              "\"0000000000000000000000000000000000000000000000000000000000000000\"},"
              "{\"id\":\"c\",\"name\":\"n\",\"role\":\"owner\",\"hash\":"
              "\" 0x0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0\"}],"
              "\"invitations\":[7,{\"hash\":\"\",\"role\":\"owner\",\"until\":9999999999}]}");
    Access *access = open_access();
    const Session *list;
    int there = 0;
    for (size_t i = 0, count = access_sessions(access, &list); i < count; i++)
        if (*list[i].id) {
            there++;
            assert_string_equal(list[i].id, "b");
        }
    assert_int_equal(there, 1);
    char token[ACCESS_TOKEN];
    assert_int_equal(access_begin(access, "111111111111", "", NOW, 0, token, &list), ACCESS_WRONG);
    access_free(access);
}

static void a_disk_that_is_full_ends_no_session(void **state) {
    (void)state;
    char token[ACCESS_TOKEN];
    Access *access = open_access();
    broken = true;
    pair(access, "phone", NOW, token);
    assert_false(access_kept(access));
    assert_non_null(access_find(access, token, NOW));
    broken = false;
    access_find(access, token, NOW + 3600);
    assert_true(access_kept(access));
    access_free(access);
    memory_fail_at(1);
    assert_null(access_create(&disk, file, said_once, sizeof said_once));
    memory_fail_at(0);
}

/* A link to itself cannot be opened by anybody. */
static void a_file_that_cannot_be_read_is_not_written_over(void **state) {
    (void)state;
    char token[ACCESS_TOKEN], there[8];
    assert_int_equal(symlink("state.json.page", file), 0);
    Access *access = open_access();
    assert_non_null(strstr(said_once, strerror(ELOOP)));
    pair(access, "phone", NOW, token);
    assert_non_null(access_find(access, token, NOW));
    assert_false(access_kept(access));
    assert_false(access_waits(access)); /* a session that ends comes back never */
    assert_int_equal(access_again(access, 1000), -1);
    assert_int_equal(writes, 0);
    access_free(access);
    assert_true(readlink(file, there, sizeof there) > 0);
    assert_int_equal(unlink(file), 0);
    /* Nor can a folder be read, which opens. */
    assert_int_equal(mkdir(file, 0700), 0);
    access = open_access();
    assert_non_null(strstr(said_once, "left as it is"));
    access_free(access);
    assert_int_equal(rmdir(file), 0);
}

/* Where nobody comes any more it is tried again by the clock. */
static void an_end_that_could_not_be_kept_is_tried_again(void **state) {
    (void)state;
    char token[ACCESS_TOKEN];
    Access *access = open_access();
    const Session *session = pair(access, "phone", NOW, token);
    assert_int_equal(access_again(access, 1000), -1);
    broken = true;
    assert_true(access_end(access, session->id));
    assert_true(access_waits(access));
    writes = 0;
    assert_int_equal(access_again(access, 1000), 60000);
    assert_int_equal(access_again(access, 1059), 1000);
    assert_int_equal(writes, 1);
    broken = false;
    assert_int_equal(access_again(access, 1059), 1000);
    assert_int_equal(access_again(access, 1060), -1);
    assert_true(access_kept(access));
    access_free(access);
    access = open_access();
    assert_null(access_find(access, token, NOW));
    access_free(access);
}

/* -------- what is let in -------- */

static void hosts(void **state) {
    (void)state;
    static const struct {
        const char *host;
        uint16_t port;
        bool in;
    } ROWS[] = {
        {"localhost:8080", 8080, true},
        {"LOCALHOST:8080", 8080, true},
        {"lantern:8080", 8080, true},
        {"lantern.local:8080", 8080, true},
        {"Lantern.Local:8080", 8080, true},
        {"lantern-2.local:8080", 8080, true},
        {"192.0.2.7:8080", 8080, true},
        {"192.0.2.7", 80, true},
        {"lantern.local", 80, true},
        {"lantern.local:80", 80, true},
        {"lantern.local", 8080, false},
        {"lantern.local:80", 8080, false},
        {"lantern.local:8080x", 8080, false},
        {"lantern.local:", 8080, false},
        {"lantern.local:73616", 8080, false}, /* 8080 + 65536 */
        {"192.0.2.8:8080", 8080, false},
        {"lantern.local.bread.example:8080", 8080, false},
        {"bread.example:8080", 8080, false},
        {"lantern.bread.example:8080", 8080, false},
        {"lanterns.local:8080", 8080, false},
        {"lantern-.local:8080", 8080, false},
        {"lantern-2:8080", 8080, false},
        {"lantern-2x.local:8080", 8080, false},
        {"[192.0.2.7]:8080", 8080, true}, /* no such form, and no name of anybody's */
        {"[localhost]:8080", 8080, false},
        {"[::1:8080", 8080, false},
        {"", 80, false},
        {":8080", 8080, false},
        {".local:8080", 8080, false},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        if (guard_host(ROWS[i].host, "lantern", "192.0.2.7", ROWS[i].port) != ROWS[i].in)
            fail_msg("expected `%s` at port %d to be let in: %d", ROWS[i].host, ROWS[i].port,
                     ROWS[i].in);
    assert_true(guard_host("[2001:db8::7]:8080", "lantern", "2001:db8::7", 8080));
    assert_true(guard_host("[2001:db8::7]", "lantern", "2001:db8::7", 80));
    assert_false(guard_host("2001:db8::7:8080", "lantern", "2001:db8::7", 8080));
    assert_false(guard_host(NULL, "lantern", "192.0.2.7", 80));
    assert_false(guard_host("", "", "", 80));
}

/* Origin: RFC 6454, 6.2; Sec-Fetch-Site: W3C, Fetch Metadata Request Headers, 2.3. */
static void origins(void **state) {
    (void)state;
    const char *host = "lantern.local:8080";
    assert_true(guard_origin(NULL, NULL, host));
    assert_true(guard_origin("http://lantern.local:8080", NULL, host));
    assert_true(guard_origin("http://lantern.local:8080", "same-origin", host));
    assert_true(guard_origin(NULL, "none", host));
    assert_false(guard_origin("http://lantern.local", NULL, host));
    assert_false(guard_origin("http://bread.example", NULL, host));
    assert_false(guard_origin("null", NULL, host));
    assert_false(guard_origin("", NULL, host));
    assert_false(guard_origin("http://", NULL, host));
    assert_false(guard_origin("ftp://lantern.local:8080", NULL, host));
    assert_false(guard_origin(NULL, "cross-site", host));
    assert_false(guard_origin(NULL, "same-site", host));
    assert_false(guard_origin("http://lantern.local:8080", "cross-site", host));
    assert_false(guard_origin("http://lantern.local:8080", NULL, NULL));
}

/* Media types: RFC 9110, 8.3.1; codings and their weights: 12.4.2 and 12.5.3. */
static void types_and_codings(void **state) {
    (void)state;
    assert_true(guard_json("application/json"));
    assert_true(guard_json("Application/JSON; charset=utf-8"));
    assert_false(guard_json("application/jsonp"));
    assert_false(guard_json("text/plain"));
    assert_false(guard_json(NULL));
    static const struct {
        const char *value;
        bool packed;
    } ROWS[] = {{NULL, false},
                {"", false},
                {"gzip", true},
                {"deflate, GZIP", true},
                {"gzip, deflate, br", true},
                {"*", true},
                {"identity", false},
                {"gzip;q=0", false},
                {"gzip; q=0.000", false},
                {"gzip;q=0.001", true},
                {"gzip;q=1.0, *;q=0", true},
                {"gzip;q=0, *", false},
                {"*;q=0", false},
                {"xgzip, gzipx", false},
                {"gzip;q=", false},
                {";;,,=q", false}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        if (guard_packed(ROWS[i].value) != ROWS[i].packed)
            fail_msg("expected `%s` to be packed: %d", ROWS[i].value, ROWS[i].packed);
}

static void how_much_an_address_may(void **state) {
    (void)state;
    static Guard guard;
    char address[32];
    int64_t second = 1000000, now = 5 * second;
    guard = (Guard){0};
    for (int i = 0; i < 40; i++)
        assert_true(guard_take(&guard, "192.0.2.1", 10, now));
    assert_false(guard_take(&guard, "192.0.2.1", 1, now));
    assert_true(guard_take(&guard, "192.0.2.2", 10, now));
    assert_true(guard_take(&guard, "192.0.2.1", 60, now + second));
    assert_false(guard_take(&guard, "192.0.2.1", 1, now + second));
    now += 3600 * second;
    assert_false(guard_take(&guard, "192.0.2.1", 401, now));
    assert_true(guard_take(&guard, "192.0.2.1", 400, now));
    /* Many addresses together: no more than 1,600, then 240 a second. */
    now += 3600 * second;
    int taken = 0;
    for (int i = 0; i < 1000; i++) {
        snprintf(address, sizeof address, "2001:db8::%x", i);
        taken += guard_take(&guard, address, 4, now);
    }
    assert_int_equal(taken, 400);
    now += second;
    for (int i = 0; i < 1000; i++) {
        snprintf(address, sizeof address, "2001:db8::%x", i);
        taken += guard_take(&guard, address, 4, now);
    }
    assert_int_equal(taken, 460);
}

/* -------- the code as light -------- */

enum { STEP_MS = 20, GROUPS = 200 };

/* Stretches of light: since when, in ms, until when, and how many pixels at most. */
typedef struct Stretches {
    int count, begins[GROUPS], ends[GROUPS], pixels[GROUPS];
    float brightest;
} Stretches;

static void watch(const char *code, uint32_t pixels, Stretches *seen) {
    static float light[3 * 64];
    double seconds;
    const char *reason;
    char *text = door_light(code, pixels, &seconds);
    assert_non_null(text);
    gloam_program *program = gloam_compile_text("code.gloam", text, strlen(text));
    if (!gloam_ready(program))
        fail_msg("%s: %s", gloam_diagnostic_at(program, 0)->message, text);
    gloam_lamp lamp = gloam_ring(pixels);
    gloam_routine *routine = gloam_open(program, "code", &lamp, &reason);
    assert_non_null(routine);
    assert_in_range((int)seconds, 1, ACCESS_LASTS);
    *seen = (Stretches){0};
    bool lit = false;
    for (int ms = 0; ms <= seconds * 1000; ms += STEP_MS) {
        int count = 0;
        gloam_render(routine, ms * INT64_C(1000), NULL, light);
        for (uint32_t i = 0; i < 3 * pixels; i++)
            seen->brightest = light[i] > seen->brightest ? light[i] : seen->brightest;
        for (uint32_t i = 0; i < pixels; i++)
            count += light[3 * i] > 0.01f;
        int last = seen->count - 1 + (count > 0 && !lit);
        assert_true(last < GROUPS);
        if (count > 0 && !lit) {
            seen->begins[last] = ms;
            seen->count++;
        }
        if (count > 0) {
            seen->ends[last] = ms;
            seen->pixels[last] = count > seen->pixels[last] ? count : seen->pixels[last];
        }
        lit = count > 0;
    }
    assert_false(lit);
    gloam_close(routine);
    gloam_free(program);
    memory_release(text);
}

static const char *const CODES[] = {"12345", "98761", "99999", "11111", "31415"};

static void digits_are_pixels(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof CODES / sizeof *CODES; i++)
        for (uint32_t pixels = 9; pixels <= 60; pixels += 51) {
            static Stretches seen;
            watch(CODES[i], pixels, &seen);
            assert_int_equal(seen.count, 10); /* twice */
            for (int k = 0; k < 10; k++) {
                assert_int_equal(seen.pixels[k], CODES[i][k % 5] - '0');
                assert_in_range(seen.ends[k] - seen.begins[k], 1500, 2000);
                if (k > 0) /* once a second at most */
                    assert_true(seen.begins[k] - seen.begins[k - 1] >= 1000);
            }
            assert_true(seen.brightest <= 0.3001f && seen.brightest > 0.1f);
        }
}

static void digits_are_pulses_where_pixels_are_few(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof CODES / sizeof *CODES; i++)
        for (uint32_t pixels = 1; pixels <= 8; pixels += 7) {
            static Stretches seen;
            char read[GROUPS] = "", wanted[16];
            int pulses = 0, used = 0;
            watch(CODES[i], pixels, &seen);
            for (int k = 0; k < seen.count; k++) {
                assert_int_equal(seen.pixels[k], pixels);
                pulses++;
                bool last = k + 1 == seen.count;
                int rest = last ? 9999 : seen.begins[k + 1] - seen.ends[k];
                if (!last) /* once a second at most */
                    assert_true(seen.begins[k + 1] - seen.begins[k] >= 1000);
                if (rest > 2000) { /* of dark: the next digit */
                    read[used++] = (char)('0' + pulses);
                    pulses = 0;
                }
            }
            /* Twice, or once where twice would take longer than the code is good. */
            snprintf(wanted, sizeof wanted, "%s%s", CODES[i], used > 5 ? CODES[i] : "");
            assert_string_equal(read, wanted);
            /* By hand, 45 pulses of 1.2 s and six pauses of 2.5 s
             * take 70 s; the next longest, 31 pulses, 53 s. */
            assert_int_equal(used, strcmp(CODES[i], "99999") == 0 ? 5 : 10);
        }
}

int main(void) {
#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)
    const struct CMUnitTest tests[] = {
        IN_FOLDER(each_digit_is_as_likely),
        IN_FOLDER(a_code_is_good_once),
        IN_FOLDER(five_guesses),
        IN_FOLDER(ten_codes_an_hour),
        IN_FOLDER(an_invitation_is_good_once_within_a_day),
        IN_FOLDER(tokens_are_kept_as_hashes),
        IN_FOLDER(sessions_outlive_the_program),
        IN_FOLDER(that_one_was_seen_is_written_once_an_hour),
        IN_FOLDER(the_one_seen_longest_ago_makes_room),
        IN_FOLDER(names_steer_no_terminal),
        IN_FOLDER(nonsense_lets_nobody_in),
        IN_FOLDER(a_disk_that_is_full_ends_no_session),
        IN_FOLDER(a_file_that_cannot_be_read_is_not_written_over),
        IN_FOLDER(an_end_that_could_not_be_kept_is_tried_again),
        cmocka_unit_test(hosts),
        cmocka_unit_test(origins),
        cmocka_unit_test(types_and_codings),
        cmocka_unit_test(how_much_an_address_may),
        cmocka_unit_test(digits_are_pixels),
        cmocka_unit_test(digits_are_pulses_where_pixels_are_few),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
