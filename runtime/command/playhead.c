#include "runtime/command/playhead.h"

#include <math.h>

#define SPEED_LEAST 0.01
#define SPEED_MOST 100000.0

void playhead_start(Playhead *head, int64_t position, int64_t now) {
    head->position = position;
    head->since = now;
}

static int64_t playhead_held(const Playhead *head, double position) {
    if (position <= (double)head->first)
        return head->first;
    return position >= (double)head->last ? head->last : (int64_t)nearbyint(position);
}

/* Frames that were due since `since`: the half is for their times, which are rounded. */
static double playhead_frames(const Playhead *head, int64_t now) {
    return floor(((double)(now - head->since) + 0.5) * head->fps / 1e6);
}

static double playhead_frame_time(const Playhead *head, double frame) {
    return nearbyint(frame * 1e6 / head->fps);
}

int64_t playhead_position(const Playhead *head, int64_t now) {
    double played = head->paused ? 0.0 : playhead_frame_time(head, playhead_frames(head, now));
    return playhead_held(head, (double)head->position + head->speed * played);
}

int64_t playhead_next(const Playhead *head, int64_t now) {
    int64_t position = playhead_position(head, now);
    bool at_end = head->speed > 0.0 ? position >= head->last : position <= head->first;
    if (head->paused || head->speed == 0.0 || at_end)
        return INT64_MAX;
    return head->since + (int64_t)playhead_frame_time(head, playhead_frames(head, now) + 1.0);
}

void playhead_pause(Playhead *head, bool paused, int64_t now) {
    playhead_start(head, playhead_position(head, now), now);
    head->paused = paused;
}

void playhead_seek(Playhead *head, int64_t by, int64_t now) {
    double position = (double)playhead_position(head, now) + (double)by;
    playhead_start(head, playhead_held(head, position), now);
}

/* The largest of 1, 2, 5 times a power of ten not above `size`, by a little. */
static double speed_below(double size) {
    double ten = pow(10.0, floor(log10(size) + 1e-9));
    double rest = size / ten + 1e-9;
    return ten * (rest >= 5.0 ? 5.0 : rest >= 2.0 ? 2.0 : 1.0);
}

static double speed_above(double size) {
    double below = speed_below(size);
    double lead = below / pow(10.0, floor(log10(below) + 1e-9));
    return lead > 1.5 && lead < 3.0 ? below * 2.5 : below * 2.0;
}

void playhead_speed(Playhead *head, bool faster, int64_t now) {
    double size = fabs(head->speed);
    if (size == 0.0)
        size = SPEED_LEAST;
    double next = faster ? speed_above(size) : speed_below(size * 0.999);
    next = fmin(fmax(next, SPEED_LEAST), SPEED_MOST);
    playhead_start(head, playhead_position(head, now), now);
    head->speed = head->speed < 0.0 ? -next : next;
}
