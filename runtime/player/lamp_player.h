/* One lamp that plays: from its performance to the bytes at its port, a frame only where it can
 * differ from the last.
 *
 * Frames lie on a raster of the monotonic clock: frame n at start + n periods; one that is late is
 * dropped for the latest that is due. All instants here are monotonic, microseconds, but where utc
 * is said; utc is reckoned with the offset that was told last, so that a set of the clock is not
 * seen before it is told. */
#ifndef GLOAM_PLAYER_LAMP_PLAYER_H
#define GLOAM_PLAYER_LAMP_PLAYER_H

#include "runtime/library/lamp.h"
#include "runtime/player/output.h"
#include "runtime/player/performance.h"

#define LAMP_NEVER INT64_MAX

typedef struct LampPlayer LampPlayer;

typedef struct LampPlayerRequest {
    const World *world; /* outlives it, as program and info do */
    const LampInfo *info;
    bool tries;   /* a routine of another home, whose world this is: none of its lamps is meant */
    int32_t lamp; /* its index; TIMETABLE_NOT_SAID: one that is not declared, a ring of 16 */
    OutputInstead instead;
    const uint8_t *cid;
    double fps;    /* frames a second that are asked for, and how much faster the clock runs: */
    double speed;  /* a period is speed / fps seconds of the clock */
    double seen;   /* of a second of the clock, how much the person who looks sees */
    int64_t start; /* of the raster */
    /* Told before each frame, of the instant that it shows; NULL: nobody. With `at_least` above 0
     * there is a frame at least so often, for a clock that is shown beside the light. */
    void (*before)(const void *context, const LampPlayer *lamp, int64_t utc);
    const void *context;
    int64_t at_least;
} LampPlayerRequest;

typedef struct LampCounts {
    uint64_t rendered; /* frames that were worked out */
    uint64_t shown;    /* that the port took, without those that follow: */
    uint64_t between;  /* frames between them, dithered in time */
    uint64_t repeated; /* by `repaint` */
    uint64_t dropped;  /* of the raster, while something moved: too late, or the port was busy */
    uint64_t late;     /* times that at least one was too late */
    uint64_t held;     /* that the flash guard held back */
    uint64_t failures; /* of the port */
} LampCounts;

/* What there was to do. */
enum {
    LAMP_DID_FRAME = 1,
    LAMP_DID_PORT = 2, /* tried to open it, or did what it had due */
    LAMP_DID_REPAINT = 4,
    LAMP_PORT_LOST = 8 /* and why: output_sentence of lamp_player_output */
};

/* NULL: out of memory. `offset` is utc less monotonic. */
LampPlayer *lamp_player_create(const LampPlayerRequest *request, const Overrides *overrides,
                               const Now *now, int64_t offset);
void lamp_player_free(LampPlayer *lamp); /* NULL is fine */

/* Goes on where an older player of the same lamp is: counts and, where they can serve, port and
 * flash guard become this one's; the light cross-fades. */
void lamp_player_follow(LampPlayer *lamp, LampPlayer *old, const Now *now);

/* As performance_tell; a frame is due then. False: out of memory, nothing is changed. */
bool lamp_player_tell(LampPlayer *lamp, const Overrides *overrides, const Now *now, int64_t offset);

/* Does what is due; returns what it was. */
unsigned lamp_player_step(LampPlayer *lamp, int64_t now);
/* When something is due next by the monotonic clock; LAMP_NEVER. */
int64_t lamp_player_due(const LampPlayer *lamp);
/* The instant of utc at which a frame is due after a rest; TIMETABLE_NEVER. */
int64_t lamp_player_wakes(const LampPlayer *lamp);

const char *lamp_player_name(const LampPlayer *lamp); /* "" where none is declared */
int32_t lamp_player_index(const LampPlayer *lamp);
LampOutput *lamp_player_output(const LampPlayer *lamp);
bool lamp_player_tries(const LampPlayer *lamp);
/* What was shown last: 3 floats a pixel of linear light, after guard and limits, before calibration
 * and white. NULL: nothing yet. */
const float *lamp_player_light(const LampPlayer *lamp, uint32_t *pixels);
const LampCounts *lamp_player_counts(const LampPlayer *lamp);

#endif
