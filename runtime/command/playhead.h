/* Where a preview is: plays, pauses, seeks, changes speed. Pure: every call is told the time of a
 * clock that never goes back, in microseconds. Positions are derived, never added up. */
#ifndef GLOAM_COMMAND_PLAYHEAD_H
#define GLOAM_COMMAND_PLAYHEAD_H

#include <stdbool.h>
#include <stdint.h>

typedef struct Playhead {
    int64_t first, last; /* the positions it stays between */
    double fps;          /* 0.000001 to 10000 */
    double speed;        /* microseconds of the routine in one of the clock */
    bool paused;
    int64_t position, since; /* where it was when the clock said so */
} Playhead;

void playhead_start(Playhead *head, int64_t position, int64_t now);

/* The position of the frame that is due: frame n lies at round(n * 1,000,000 / fps). */
int64_t playhead_position(const Playhead *head, int64_t now);

/* When the next frame is due; INT64_MAX where none is, paused or at an end. */
int64_t playhead_next(const Playhead *head, int64_t now);

void playhead_pause(Playhead *head, bool paused, int64_t now);
void playhead_seek(Playhead *head, int64_t by, int64_t now);

/* The next speed of 1, 2, 5, 10, ... (and 0.5, 0.2, ...) above or below; keeps its direction. */
void playhead_speed(Playhead *head, bool faster, int64_t now);

#endif
