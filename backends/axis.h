/* Where the marks of an axis are and what stands beside them. Pure. */
#ifndef GLOAM_BACKENDS_AXIS_H
#define GLOAM_BACKENDS_AXIS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The smallest round step of time (microseconds; 1, 2, 5 times a power of ten below a second, then
 * those of seconds, minutes, hours, days) of which at most `most` lie in `length`. */
int64_t axis_time_step(int64_t length, int most);
/* How far apart the small marks between two of such steps are. */
int64_t axis_small_step(int64_t step);

/* A time at a mark: `0`, `0.2 s`, `1 min 30 s`, `2 h`, `1 d 6 h`. */
void axis_time(int64_t microseconds, char *into, size_t room);
/* The same as a clock reading, the microseconds counted from midnight: `06:00`; with seconds where
 * the step is not whole minutes. */
void axis_clock(int64_t microseconds, int64_t step, char *into, size_t room);

/* A round step of counted things (1, 2, 5 times a power of ten, 4 and 8 where `eighths`). */
uint32_t axis_count_step(uint32_t count, uint32_t most, bool eighths);

#endif
