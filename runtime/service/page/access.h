/* Who may: sessions of phones and programs, the code that the lamp shows, invitations. Kept in
 * STATE.page, tokens as their hashes only. Times are seconds of UTC, and for what is short seconds
 * of a monotonic clock, both handed in. */
#ifndef GLOAM_SERVICE_PAGE_ACCESS_H
#define GLOAM_SERVICE_PAGE_ACCESS_H

#include "runtime/library/state_file.h"
#include "runtime/service/page/request.h"

enum {
    ACCESS_SESSIONS = 32, /* one more, and the one that was seen longest ago ends */
    ACCESS_INVITATIONS = 16,
    ACCESS_DIGITS = 5,  /* of the code, each 1 to 9 */
    ACCESS_LASTS = 120, /* seconds that the code is good for */
    ACCESS_GUESSES = 5, /* at one code */
    ACCESS_CODES = 10,  /* in an hour */
    ACCESS_INVITED = 86400,
    ACCESS_AGAIN = 60, /* seconds from one try to keep a change to the next */
    ACCESS_TOKEN = 33, /* 32 hexadecimal digits and a NUL: 128 bits */
    ACCESS_ID = 17,
    ACCESS_NAME = 61,
    ACCESS_CODE = 16
};

typedef struct Session {
    char id[ACCESS_ID]; /* "": free */
    char name[ACCESS_NAME];
    Role role;
    uint8_t hash[32]; /* SHA-256 of the token */
    int64_t began, seen;
} Session;

/* Reads what was kept; where that is not to be understood it is empty, and `said` tells. Where it
 * cannot be read it is empty too, and nothing is kept: what is there may be read another time.
 * `disk` and `path` (NULL: nothing is kept) are borrowed. NULL: out of memory. */
Access *access_create(const StateDisk *disk, const char *path, char *said, size_t size);
void access_free(Access *access);

/* The session of a token; NULL: none. Notes that it was seen, and keeps that once an hour. */
const Session *access_find(Access *access, const char *token, int64_t utc);

/* A new code; false: there were too many in this hour, *wait seconds are to go by. */
bool access_show_code(Access *access, int64_t monotonic, char code[ACCESS_CODE], int *wait);

typedef enum AccessGiven {
    ACCESS_GRANTED,
    ACCESS_WRONG,   /* another code, or none is shown */
    ACCESS_TOO_MANY /* guesses: the code is good no more */
} AccessGiven;

/* A code or an invitation for a session. Compares in constant time. */
AccessGiven access_begin(Access *access, const char *code, const char *name, int64_t utc,
                         int64_t monotonic, char token[ACCESS_TOKEN], const Session **session);

/* A code for somebody else; false: there are too many. */
bool access_invite(Access *access, Role role, int64_t utc, char code[ACCESS_CODE]);

/* False: there is none of that id. */
bool access_end(Access *access, const char *id);
size_t access_sessions(const Access *access, const Session **list);

/* Whether all changes could be kept. */
bool access_kept(const Access *access);
/* Whether a change waits to be kept: until then a restart takes it back. Not where nothing is kept
 * since the file cannot be read: then all ends with this program. */
bool access_waits(const Access *access);
/* Where one does, tries again when it is time. Milliseconds until it is to be called the next time;
 * -1: nothing waits. */
int access_again(Access *access, int64_t monotonic);

#endif
