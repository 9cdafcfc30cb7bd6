#include "backends/axis.h"

#include <inttypes.h>
#include <stdio.h>

#define SECOND INT64_C(1000000)
#define MINUTE (60 * SECOND)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)

typedef struct AxisStep {
    int64_t step, small;
} AxisStep;

static const AxisStep axis_steps[] = {
    {SECOND, SECOND / 5},  {2 * SECOND, SECOND / 2},  {5 * SECOND, SECOND},
    {10 * SECOND, SECOND}, {15 * SECOND, 5 * SECOND}, {30 * SECOND, 5 * SECOND},
    {MINUTE, 10 * SECOND}, {2 * MINUTE, 30 * SECOND}, {5 * MINUTE, MINUTE},
    {10 * MINUTE, MINUTE}, {15 * MINUTE, 5 * MINUTE}, {30 * MINUTE, 5 * MINUTE},
    {HOUR, 10 * MINUTE},   {2 * HOUR, 30 * MINUTE},   {3 * HOUR, HOUR},
    {6 * HOUR, HOUR},      {12 * HOUR, 3 * HOUR},     {DAY, 6 * HOUR},
};
enum { AXIS_STEPS = sizeof axis_steps / sizeof *axis_steps };

/* 1, 2, 5, 10, ... times `unit`, up to below `end`; 0: none is large enough. */
static int64_t axis_decimal(int64_t unit, int64_t end, int64_t length, int most) {
    static const int64_t parts[] = {1, 2, 5};
    for (int64_t ten = 1; ten <= end / unit; ten *= 10)
        for (int i = 0; i < 3; i++) {
            int64_t step = parts[i] * ten * unit;
            if (step < end && length / step <= most)
                return step;
        }
    return 0;
}

int64_t axis_time_step(int64_t length, int most) {
    int64_t step = axis_decimal(1, SECOND, length, most);
    for (int i = 0; i < AXIS_STEPS && step == 0; i++)
        if (length / axis_steps[i].step <= most)
            step = axis_steps[i].step;
    return step == 0 ? axis_decimal(DAY, INT64_MAX / 10, length, most) : step;
}

int64_t axis_small_step(int64_t step) {
    for (int i = 0; i < AXIS_STEPS; i++)
        if (axis_steps[i].step == step)
            return axis_steps[i].small;
    int64_t unit = step < SECOND ? 1 : DAY;
    while (step % (unit * 10) == 0)
        unit *= 10;
    return step / unit == 1 ? (step < 5 ? step : step / 5) : unit;
}

static size_t axis_part(char *into, size_t room, size_t used, int64_t number, const char *unit) {
    if (number == 0 || used >= room)
        return used;
    int length =
        snprintf(into + used, room - used, "%s%" PRId64 " %s", used > 1 ? " " : "", number, unit);
    return used + (size_t)length;
}

/* Seconds with as many decimals as they have. */
static void axis_seconds(char *into, size_t room, const char *sign, int64_t microseconds) {
    char text[48];
    int length = snprintf(text, sizeof text, "%s%" PRId64 ".%06" PRId64, sign,
                          microseconds / SECOND, microseconds % SECOND);
    while (text[length - 1] == '0')
        length--;
    length -= text[length - 1] == '.';
    snprintf(into, room, "%.*s s", length, text);
}

void axis_time(int64_t microseconds, char *into, size_t room) {
    const char *sign = microseconds < 0 ? "-" : "";
    int64_t size = microseconds < 0 ? -microseconds : microseconds;
    if (size == 0) {
        snprintf(into, room, "0");
        return;
    }
    if (size < MINUTE) {
        axis_seconds(into, room, sign, size);
        return;
    }
    size_t used = (size_t)snprintf(into, room, "%s", sign);
    used = axis_part(into, room, used, size / DAY, "d");
    used = axis_part(into, room, used, size % DAY / HOUR, "h");
    used = axis_part(into, room, used, size % HOUR / MINUTE, "min");
    if (size % MINUTE != 0 && used + 1 < room) {
        into[used++] = ' ';
        axis_seconds(into + used, room - used, "", size % MINUTE);
    }
}

void axis_clock(int64_t microseconds, int64_t step, char *into, size_t room) {
    int64_t day = microseconds % DAY;
    day += day < 0 ? DAY : 0;
    int hour = (int)(day / HOUR), minute = (int)(day % HOUR / MINUTE);
    int second = (int)(day % MINUTE / SECOND);
    if (step % MINUTE == 0)
        snprintf(into, room, "%02d:%02d", hour, minute);
    else
        snprintf(into, room, "%02d:%02d:%02d", hour, minute, second);
}

uint32_t axis_count_step(uint32_t count, uint32_t most, bool eighths) {
    for (uint32_t two = 1; eighths && two <= 8; two *= 2)
        if (count / two <= most)
            return two;
    return (uint32_t)axis_decimal(1, INT64_MAX / 10, count, (int)most);
}
