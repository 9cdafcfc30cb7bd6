/* The player of a home: its lamps, its timetable with what was done by hand, its files, its clock.
 * It does nothing but in player_turn, and arms the clock for the next one; what else wakes it comes
 * through the loop. With a clock of a test (clock_fake.h) the same code plays a day in no time.
 * spec/player.md has the rules. */
#ifndef GLOAM_PLAYER_PLAYER_H
#define GLOAM_PLAYER_PLAYER_H

#include <stdio.h>

#include "runtime/library/state_file.h"
#include "runtime/player/clock.h"
#include "runtime/player/lamp_player.h"
#include "runtime/player/loop.h"
#include "runtime/player/zone_source.h"

/* How grave a sentence is: the levels of sd-daemon(3). */
typedef enum PlayerGravity {
    PLAYER_ERROR = 3,
    PLAYER_WARNING = 4,
    PLAYER_NOTICE = 5,
    PLAYER_INFORMATION = 6
} PlayerGravity;

/* All borrowed for as long as the player lives. */
typedef struct PlayerRequest {
    const char *path;   /* the home file */
    const char *folder; /* absolute: where relative paths begin */
    const char *state;  /* the state file; the copy of the home file last accepted lies beside it,
                           as STATE.accepted, and why the clock is trusted,
                             as STATE.trust. NULL: nothing is kept */
    const StateDisk *disk;
    const char *variable; /* the value of TZ, or NULL */
    const ZoneFolders *folders;
    const char *trust_file; /* which the time service makes: it is watched; NULL: not */
    int64_t trust_after; /* a clock that nobody sets is taken all the same once the machine has run
                            for so long; 0: never */
    const char *lamp;    /* of that name only; NULL: each that has a port */
    OutputInstead instead;
    const uint8_t *cid; /* E131_CID_BYTES */
    double fps, speed, seen;
    bool waits;         /* for ports that are not there; else their failure is the end */
    const char *notify; /* the value of NOTIFY_SOCKET, or NULL */
    int64_t watchdog;   /* it is told at least so often that all is well; 0: it is not */
    /* What is to be said, and what was compiled, right or wrong. */
    void (*say)(void *context, PlayerGravity gravity, const char *sentence);
    void (*compiled)(void *context, Compilation *compilation);
    void *context;
} PlayerRequest;

typedef enum PlayerStart {
    PLAYER_STARTED,
    PLAYER_WRONG,   /* the file is wrong and there is no copy that was accepted */
    PLAYER_NO_LAMP, /* likewise, since it has no lamp of the name that is asked for */
    PLAYER_MACHINE  /* out of memory, descriptors */
} PlayerStart;

typedef enum PlayerEnd {
    PLAYER_GOES_ON,
    PLAYER_ASKED,  /* a signal */
    PLAYER_NO_PORT /* one failed and is not waited for */
} PlayerEnd;

/* Why the process woke. */
typedef enum PlayerWake {
    WAKE_FRAME,     /* something moves */
    WAKE_TIMETABLE, /* a rest is over, or something by hand has ended */
    WAKE_CLOCK,     /* the clock was set */
    WAKE_TRUST,     /* to look whether it can be trusted */
    WAKE_ZONE,
    WAKE_FILE, /* the home file or one that it uses */
    WAKE_SIGNAL,
    WAKE_PORT, /* one is tried again, or keeps up what it shows */
    WAKE_REPAINT,
    WAKE_STATE, /* what could not be written, or shown for want of memory, is tried again */
    WAKE_WATCHDOG,
    WAKE_REQUEST, /* somebody asked something, or is told what he watches */
    WAKE_HELPER,  /* a program that it started came or went */
    WAKE_NOTHING, /* none of these */
    WAKE_COUNT
} PlayerWake;
extern const char *const PLAYER_WAKE_WORDS[WAKE_COUNT];

typedef struct PlayerCounts {
    uint64_t wakes; /* times that it woke; one may have several causes */
    uint64_t by_cause[WAKE_COUNT];
    uint64_t steps;            /* of the clock */
    uint64_t reloads, refused; /* files that were taken, and that were wrong */
    uint64_t saves, lost;      /* of the state file, and that failed */
} PlayerCounts;

enum { PLAYER_WRONG_BYTES = 512, PLAYER_PAGE_BYTES = 256, PLAYER_NOTE_BYTES = 256 };

typedef struct Player Player;

/* Reads the file and the state. *player is the caller's, to player_free, where it is
 * PLAYER_STARTED; else what is wrong has been said. */
PlayerStart player_create(const PlayerRequest *request, const Clock *clock, Loop *loop,
                          Player **player);
/* Saves what is to be saved and closes the ports: dark, or as the lamps say. */
void player_free(Player *player);

/* Does all that is due and arms the clock. To be called at first and after every wake. */
void player_turn(Player *player);
PlayerEnd player_ended(const Player *player);

/* SIGTERM, SIGINT, SIGQUIT end it, SIGHUP reloads; others are nothing. At the next turn. */
void player_signal(Player *player, int number);
/* One line of runtime/player/request.h; not `status`. False: refused. `said` is what to answer. */
bool player_act(Player *player, const char *line, char *said, size_t size);
/* What plays and why, and how the player is doing, for people or as one JSON object. False: out of
 * memory. */
bool player_status(const Player *player, bool json, FILE *out);

/* Reads the file now. False: it is not taken; `said` is what was wrong first. */
bool player_reload_now(Player *player, char *said, size_t size);
/* `PATH play ROUTINE [with ...] [on lamp NAME] for D`: plays a routine of the file at PATH, beside
 * the home file or the state file, on lamps of the home, for ten minutes at most; `end`. It ends
 * with any act and any reload, too. False: refused, `said` tells why. */
bool player_try(Player *player, const char *words, char *said, size_t size);
/* What the terminal says in a line of its own below the light, until the next; copied. */
void player_caption_note(Player *player, const char *note);
/* Where the page is served; "" or NULL: nowhere. */
void player_tell_page(Player *player, const char *address);
/* Counted: the loop has woken it for that, which may be none of its own doing. */
void player_wake(Player *player, PlayerWake cause);

/* Grows with what player_status tells, but for counts and what time alone changes; and the instant
 * at which time does. */
uint64_t player_version(const Player *player);
int64_t player_status_until(const Player *player);
int64_t player_utc(const Player *player);

const PlayerCounts *player_counts(const Player *player);
uint32_t player_lamps(const Player *player);
LampPlayer *player_lamp(const Player *player, uint32_t index);
const Overrides *player_overrides(const Player *player);

#endif
