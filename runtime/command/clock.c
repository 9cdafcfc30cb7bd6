/* The clock on the wall, for routines that read it: the zone is the process's. */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "runtime/command/load.h"

/* 2026-06-21 00:00 UTC: the same frames from the same command on every day. */
static const int64_t FIXED_CLOCK = 1782000000LL * 1000000;

static int parse(const char *text, int64_t *utc) {
    struct tm civil = {.tm_isdst = -1};
    char rest;
    int fields = sscanf(text, "%4d-%2d-%2d %2d:%2d:%2d%c", &civil.tm_year, &civil.tm_mon,
                        &civil.tm_mday, &civil.tm_hour, &civil.tm_min, &civil.tm_sec, &rest);
    if (fields < 3 || fields == 4 || fields > 6 || civil.tm_mon < 1 || civil.tm_mon > 12 ||
        civil.tm_mday < 1 || civil.tm_mday > 31 || civil.tm_hour > 23 || civil.tm_min > 59 ||
        civil.tm_sec > 59)
        return -1;
    struct tm wanted = civil;
    civil.tm_year -= 1900;
    civil.tm_mon -= 1;
    time_t seconds = mktime(&civil);
    if (civil.tm_mday != wanted.tm_mday && civil.tm_hour == wanted.tm_hour)
        return -1; /* 31 April */
    *utc = (int64_t)seconds * 1000000;
    return 0;
}

int clock_start(const Options *options, const PlaceInfo *place, bool fixed, int64_t *utc) {
    if (place && place->said && place->zone)
        setenv("TZ", place->zone, 1);
    else if (fixed)
        setenv("TZ", "UTC0", 1);
    tzset();
    if (!options->clock) {
        struct timespec now;
        clock_gettime(CLOCK_REALTIME, &now);
        *utc = fixed ? FIXED_CLOCK : (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
        return EXIT_DONE;
    }
    if (parse(options->clock, utc) == 0)
        return EXIT_DONE;
    return command_fail(EXIT_CALL,
                        "--clock takes a date and a time, not `%s`: "
                        "--clock '2026-03-29 00:55'",
                        options->clock);
}

double clock_hour(int64_t utc) {
    int64_t second = utc / 1000000, rest = utc % 1000000;
    if (rest < 0) {
        second--;
        rest += 1000000;
    }
    time_t seconds = (time_t)second;
    struct tm civil;
    if (!localtime_r(&seconds, &civil))
        return 0;
    return civil.tm_hour + civil.tm_min / 60.0 + (civil.tm_sec + (double)rest / 1e6) / 3600.0;
}
