/* Between the files of the player. */
#ifndef GLOAM_PLAYER_PLAYER_INSIDE_H
#define GLOAM_PLAYER_PLAYER_INSIDE_H

#include "runtime/player/path_watch.h"
#include "runtime/player/player.h"
#include "runtime/player/score.h"
#include "runtime/player/trust.h"

/* After a file has changed so long until it is read: editors write in several steps. */
#define PLAYER_SETTLE INT64_C(200000)
/* After the state could not be saved, so long until it is tried again. */
#define PLAYER_SAVE_AGAIN INT64_C(60000000)
/* After memory ran out so long until what changed is tried again. */
#define PLAYER_TELL_AGAIN INT64_C(1000000)

typedef struct PlayerWatch {
    Player *player;
    PathWatch *watch;
    char *path;
    bool kept; /* while the list is made anew */
} PlayerWatch;

#define TRIAL_MOST INT64_C(600000000)

/* A routine of another file on the home's lamps. */
typedef struct Trial {
    Score *score;                 /* of that file */
    Overrides *overrides;         /* that play it, and nothing else */
    int64_t ends, length;         /* monotonic; how long in all */
    char routine[128], lamp[128]; /* lamp "": all */
} Trial;

struct Player {
    PlayerRequest request;
    Clock clock;
    Loop *loop;

    Score *score;
    Overrides *overrides;
    uint32_t lamp_count;
    LampPlayer **lamps;
    bool keeps;               /* there is a state file that may be written */
    char *accepted, *trusted; /* files beside it */
    char *versions;           /* a folder beside it */

    TrustWatch trust;
    PathWatch *trust_file;
    char boot[NOW_BOOT_BYTES];
    int64_t offset, boot_offset; /* utc and boottime less monotonic, as they were told */

    uint32_t watch_count;
    PlayerWatch **watches;

    bool ready[CLOCK_TIMERS];    /* a timer has something to tell */
    int64_t armed[CLOCK_TIMERS]; /* for what; */
    bool is_armed[CLOCK_TIMERS];
    unsigned causes; /* of this wake: 1 << PlayerWake */
    bool clock_was_set, zone_is_other, file_changed, asked_reload, asked_end;
    int64_t look;   /* utc: to look at the trust again */
    int64_t ends;   /* utc: something by hand ends */
    int64_t reload; /* monotonic; LAMP_NEVER */
    int64_t save;   /* monotonic: when to save; LAMP_NEVER: nothing has changed */
    int64_t copy;   /* monotonic: when to keep the copy of what plays; LAMP_NEVER: it is kept */
    int64_t again;  /* monotonic: to tell the lamps again what they had no memory for */
    int64_t alive;  /* monotonic: when to tell the watchdog */
    int64_t start;  /* monotonic: of the raster */
    bool said_save, said_versions; /* that it failed */
    bool copy_lost;   /* likewise: the copy on disk, if there is one, is not what plays */
    Trial *trial;     /* NULL: none */
    uint64_t version; /* grows with what status tells, but for counts and the passing of time */
    uint64_t taken;   /* grows with each home file that is taken */
    char wrong[PLAYER_WRONG_BYTES]; /* the first mistake of the file on disk; "": it plays */
    char page[PLAYER_PAGE_BYTES];   /* where the page is served; "": nowhere */
    char note[PLAYER_NOTE_BYTES];   /* of player_caption_note */
    PlayerEnd end;
    PlayerCounts counts;
};

#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
void player_say(const Player *player, PlayerGravity gravity, const char *format, ...);

/* The clocks as they were told, at a monotonic instant. */
Now player_now(const Player *player, int64_t monotonic);

/* The dials and overrides, and the clocks, to all lamps; plans when something of it ends. */
void player_tell(Player *player, int64_t monotonic);
/* The state has changed. */
void player_changed(Player *player, int64_t monotonic);

/* player_status.c: what the terminal says below the light. */
void player_caption(const void *player, const LampPlayer *lamp, int64_t utc);
/* "2026-11-25 03:10:05" on the clock on the wall. */
enum { PLAYER_WALL = 48 };
void player_wall(const Player *player, int64_t utc, char text[PLAYER_WALL]);

/* A lamp player of a driven lamp of the home: with another world where it `tries`. NULL: out of
 * memory. */
LampPlayer *player_make_lamp(const Player *player, const World *world, const LampInfo *info,
                             int32_t lamp, const Overrides *overrides, const Now *now, bool tries);
/* The first mistake of a text, with its place. */
void player_first_mistake(const Score *score, char *sentence, size_t size);

/* player_trial.c */
void player_trial_end(Player *player, int64_t monotonic);
void player_trial_free(Player *player);

/* player_load.c: the file at the start, at a change; the zone. */
PlayerStart player_load(Player *player, int64_t monotonic);
void player_reload(Player *player, int64_t monotonic);
void player_forget(Player *player);
/* Of what plays. Where it cannot be written that is told, and when it is to be tried again. */
void player_keep_copy(Player *player, int64_t monotonic);
void player_zone(Player *player, int64_t monotonic);

#endif
