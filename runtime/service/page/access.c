#include "runtime/service/page/access.h"

#include <errno.h>
#include <jansson.h>
#include <nettle/memops.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>

#include "lang/diagnostics.h"
#include "runtime/core/memory.h"

enum { HOUR = 3600 };

typedef struct Invitation {
    uint8_t hash[32];
    Role role;
    int64_t until; /* 0: free */
} Invitation;

struct Access {
    const StateDisk *disk;
    const char *path;
    bool kept;
    bool closed;  /* what is in the file is not known: it is not written over */
    int64_t next; /* monotonic: when keeping is tried again, where it failed */
    Session sessions[ACCESS_SESSIONS];
    Invitation invitations[ACCESS_INVITATIONS];
    char code[ACCESS_CODE]; /* "": none is shown */
    int guesses;
    int64_t code_until;
    int64_t shown[ACCESS_CODES]; /* when, the last ones, plus 1; 0: not yet */
    int next_shown;
};

/* -------- small things -------- */

static void hash_of(const char *text, uint8_t hash[32]) {
    struct sha256_ctx context;
    sha256_init(&context);
    sha256_update(&context, strlen(text), (const uint8_t *)text);
    sha256_digest(&context, 32, hash);
}

static void hex(const uint8_t *bytes, size_t count, char *text) {
    for (size_t i = 0; i < count; i++)
        snprintf(text + 2 * i, 3, "%02x", bytes[i]);
}

static bool unhex(const char *text, uint8_t *bytes, size_t count) {
    if (!text || strlen(text) != 2 * count)
        return false;
    for (size_t i = 0; i < count; i++) {
        unsigned value;
        if (strspn(text + 2 * i, "0123456789abcdef") < 2 ||
            sscanf(text + 2 * i, "%2x", &value) != 1)
            return false;
        bytes[i] = (uint8_t)value;
    }
    return true;
}

/* The system's own; it does not fail once the machine has started. */
static void lots(void *into, size_t count) {
    uint8_t *bytes = into;
    while (count > 0) {
        ssize_t got = getrandom(bytes, count, 0);
        if (got > 0) {
            bytes += got;
            count -= (size_t)got;
        }
    }
}

/* Digits 1 to 9, each as likely. */
static void make_code(char code[ACCESS_CODE], int digits) {
    for (int i = 0; i < digits; i++) {
        uint8_t lot;
        do
            lots(&lot, 1);
        while (lot >= 252);
        code[i] = (char)('1' + lot % 9);
    }
    code[digits] = '\0';
}

static const char *role_word(Role role) {
    return role == ROLE_OWNER ? "owner" : "guest";
}

static Role role_of(const char *word) {
    return word && strcmp(word, "owner") == 0   ? ROLE_OWNER
           : word && strcmp(word, "guest") == 0 ? ROLE_GUEST
                                                : ROLE_NOBODY;
}

/* -------- the file -------- */

static json_t *session_object(const Session *session) {
    char hash[65];
    hex(session->hash, sizeof session->hash, hash);
    return json_pack("{s:s, s:s, s:s, s:s, s:I, s:I}", "id", session->id, "name", session->name,
                     "role", role_word(session->role), "hash", hash, "began",
                     (json_int_t)session->began, "seen", (json_int_t)session->seen);
}

static void keep(Access *access) {
    json_t *sessions = json_array(), *invitations = json_array();
    int error = 0, failed = 0;
    access->kept = !access->path;
    for (int i = 0; i < ACCESS_SESSIONS; i++)
        if (*access->sessions[i].id)
            failed |= json_array_append_new(sessions, session_object(&access->sessions[i]));
    for (int i = 0; i < ACCESS_INVITATIONS; i++) {
        const Invitation *one = &access->invitations[i];
        char hash[65];
        hex(one->hash, sizeof one->hash, hash);
        if (one->until)
            failed |= json_array_append_new(
                invitations, json_pack("{s:s, s:s, s:I}", "hash", hash, "role",
                                       role_word(one->role), "until", (json_int_t)one->until));
    }
    json_t *all = json_pack("{s:i, s:o, s:o}", "gloam-page", 1, "sessions", sessions, "invitations",
                            invitations);
    char *text = all ? json_dumps(all, JSON_INDENT(1)) : NULL;
    json_decref(all);
    if (access->path && !access->closed && !failed)
        access->kept =
            text && state_replace(access->disk, access->path, text, strlen(text), &error);
    free(text);
}

static void read_session(Access *access, int place, const json_t *object) {
    Session *session = &access->sessions[place];
    const char *id = json_string_value(json_object_get(object, "id"));
    const char *name = json_string_value(json_object_get(object, "name"));
    session->role = role_of(json_string_value(json_object_get(object, "role")));
    session->began = json_integer_value(json_object_get(object, "began"));
    session->seen = json_integer_value(json_object_get(object, "seen"));
    bool fine = id && *id && strlen(id) < ACCESS_ID && name && strlen(name) < ACCESS_NAME &&
                session->role != ROLE_NOBODY &&
                unhex(json_string_value(json_object_get(object, "hash")), session->hash,
                      sizeof session->hash);
    if (!fine) {
        *session = (Session){0};
        return;
    }
    snprintf(session->id, sizeof session->id, "%s", id);
    snprintf(session->name, sizeof session->name, "%s", name);
}

static void read_invitation(Access *access, int place, const json_t *object) {
    Invitation *one = &access->invitations[place];
    one->role = role_of(json_string_value(json_object_get(object, "role")));
    one->until = json_integer_value(json_object_get(object, "until"));
    if (one->role == ROLE_NOBODY ||
        !unhex(json_string_value(json_object_get(object, "hash")), one->hash, sizeof one->hash))
        *one = (Invitation){0};
}

/* What a file holds; NULL: nothing that is understood, or *closed: it is not known. */
static json_t *read_file(const char *path, bool *missing, const char **closed) {
    json_error_t error;
    FILE *file = fopen(path, "re");
    *missing = !file && errno == ENOENT;
    *closed = file || *missing ? NULL : strerror(errno);
    if (!file)
        return NULL;
    json_t *all = json_loadf(file, JSON_REJECT_DUPLICATES, &error);
    if (ferror(file))
        *closed = "it cannot be read";
    else if (!all && json_error_code(&error) == json_error_out_of_memory)
        *closed = "out of memory";
    fclose(file);
    return all;
}

/* What is wrong with the file is said. */
static void load(Access *access, char *said, size_t size) {
    const char *closed;
    bool missing;
    json_t *all = read_file(access->path, &missing, &closed);
    bool fine = json_integer_value(json_object_get(all, "gloam-page")) == 1;
    const json_t *sessions = json_object_get(all, "sessions");
    const json_t *invitations = json_object_get(all, "invitations");
    access->closed = closed != NULL;
    for (size_t i = 0; fine && i < json_array_size(sessions) && i < ACCESS_SESSIONS; i++)
        read_session(access, (int)i, json_array_get(sessions, i));
    for (size_t i = 0; fine && i < json_array_size(invitations) && i < ACCESS_INVITATIONS; i++)
        read_invitation(access, (int)i, json_array_get(invitations, i));
    json_decref(all);
    if (closed)
        snprintf(said, size,
                 "%s: %s: no phone is known, and sessions end with this program; what is there is "
                 "left as it is",
                 access->path, closed);
    else if (!fine && !missing)
        snprintf(said, size, "%s is not understood: phones are to be paired anew", access->path);
}

Access *access_create(const StateDisk *disk, const char *path, char *said, size_t size) {
    Access *access = memory_allocate(1, sizeof *access);
    *said = '\0';
    if (!access)
        return NULL;
    access->disk = disk;
    access->path = path;
    access->kept = true;
    if (path)
        load(access, said, size);
    return access;
}

void access_free(Access *access) {
    memory_release(access);
}

bool access_kept(const Access *access) {
    return access->kept;
}

bool access_waits(const Access *access) {
    return !access->kept && !access->closed;
}

int access_again(Access *access, int64_t monotonic) {
    if (!access_waits(access))
        return -1;
    if (monotonic >= access->next) {
        access->next = monotonic + ACCESS_AGAIN;
        keep(access);
    }
    return access->kept ? -1 : (int)(access->next - monotonic) * 1000;
}

/* -------- sessions -------- */

const Session *access_find(Access *access, const char *token, int64_t utc) {
    uint8_t hash[32];
    Session *found = NULL;
    if (!token || strlen(token) != ACCESS_TOKEN - 1)
        return NULL;
    hash_of(token, hash);
    for (int i = 0; i < ACCESS_SESSIONS; i++) {
        Session *session = &access->sessions[i];
        bool same = memeql_sec(session->hash, hash, sizeof hash) != 0;
        found = same && *session->id ? session : found;
    }
    if (found && (utc - found->seen >= HOUR || utc < found->seen)) {
        found->seen = utc;
        keep(access);
    }
    return found;
}

/* A free place, or that of the one that was seen longest ago. */
static Session *place_for(Access *access) {
    Session *place = &access->sessions[0];
    for (int i = 0; i < ACCESS_SESSIONS && *place->id; i++) {
        Session *session = &access->sessions[i];
        if (!*session->id || session->seen < place->seen)
            place = session;
    }
    return place;
}

/* As much of a name as fits, whole characters, nothing that steers a terminal. */
static void copy_name(const char *name, char into[ACCESS_NAME]) {
    size_t length = strlen(name);
    if (length >= ACCESS_NAME)
        length = ACCESS_NAME - 1;
    while (length > 0 && ((unsigned char)name[length] & 0xc0) == 0x80)
        length--;
    for (size_t i = 0; i < length; i++)
        into[i] = (unsigned char)name[i] < 32 ? ' ' : name[i];
    into[length] = '\0';
    diagnostics_clean(into);
}

static const Session *begin(Access *access, Role role, const char *name, int64_t utc,
                            char token[ACCESS_TOKEN]) {
    uint8_t lot[16], id[8];
    Session *session = place_for(access);
    *session = (Session){.role = role, .began = utc, .seen = utc};
    lots(lot, sizeof lot);
    lots(id, sizeof id);
    hex(lot, sizeof lot, token);
    hex(id, sizeof id, session->id);
    hash_of(token, session->hash);
    copy_name(name && *name ? name : "a phone", session->name);
    keep(access);
    return session;
}

bool access_end(Access *access, const char *id) {
    for (int i = 0; i < ACCESS_SESSIONS; i++)
        if (*id && strcmp(access->sessions[i].id, id) == 0) {
            access->sessions[i] = (Session){0};
            keep(access);
            return true;
        }
    return false;
}

size_t access_sessions(const Access *access, const Session **list) {
    *list = access->sessions;
    return ACCESS_SESSIONS;
}

/* -------- codes -------- */

bool access_show_code(Access *access, int64_t monotonic, char code[ACCESS_CODE], int *wait) {
    int64_t *oldest = &access->shown[access->next_shown];
    if (*oldest && monotonic < *oldest - 1 + HOUR) {
        *wait = (int)(*oldest - 1 + HOUR - monotonic);
        return false;
    }
    *oldest = monotonic + 1;
    access->next_shown = (access->next_shown + 1) % ACCESS_CODES;
    make_code(access->code, ACCESS_DIGITS);
    access->guesses = 0;
    access->code_until = monotonic + ACCESS_LASTS;
    snprintf(code, ACCESS_CODE, "%s", access->code);
    return true;
}

bool access_invite(Access *access, Role role, int64_t utc, char code[ACCESS_CODE]) {
    for (int i = 0; i < ACCESS_INVITATIONS; i++) {
        Invitation *one = &access->invitations[i];
        if (one->until > utc)
            continue;
        make_code(code, 12);
        *one = (Invitation){.role = role, .until = utc + ACCESS_INVITED};
        hash_of(code, one->hash);
        keep(access);
        return true;
    }
    return false;
}

/* Digits only, as they are read out: spaces and dashes are for the eye. */
static bool clean_code(const char *given, char code[ACCESS_CODE]) {
    size_t used = 0;
    for (; *given; given++) {
        if (*given == ' ' || *given == '-')
            continue;
        if (*given < '0' || *given > '9' || used + 1 >= ACCESS_CODE)
            return false;
        code[used++] = *given;
    }
    code[used] = '\0';
    return used > 0;
}

static Invitation *invited(Access *access, const char *code, int64_t utc) {
    uint8_t hash[32];
    Invitation *found = NULL;
    hash_of(code, hash);
    for (int i = 0; i < ACCESS_INVITATIONS; i++) {
        Invitation *one = &access->invitations[i];
        bool same = memeql_sec(one->hash, hash, sizeof hash) != 0;
        found = same && one->until > utc ? one : found;
    }
    return found;
}

AccessGiven access_begin(Access *access, const char *given, const char *name, int64_t utc,
                         int64_t monotonic, char token[ACCESS_TOKEN], const Session **session) {
    char code[ACCESS_CODE] = "";
    if (!clean_code(given, code))
        return ACCESS_WRONG;
    if (strlen(code) != ACCESS_DIGITS) {
        Invitation *one = invited(access, code, utc);
        if (!one)
            return ACCESS_WRONG;
        Role role = one->role;
        *one = (Invitation){0};
        *session = begin(access, role, name, utc, token);
        return ACCESS_GRANTED;
    }
    if (!*access->code || monotonic >= access->code_until)
        return ACCESS_WRONG;
    if (memeql_sec(code, access->code, ACCESS_DIGITS)) {
        access->code[0] = '\0';
        *session = begin(access, ROLE_OWNER, name, utc, token);
        return ACCESS_GRANTED;
    }
    if (++access->guesses < ACCESS_GUESSES)
        return ACCESS_WRONG;
    access->code[0] = '\0';
    return ACCESS_TOO_MANY;
}
