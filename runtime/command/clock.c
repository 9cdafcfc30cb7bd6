/* The clock on the wall, for routines that read it: the zone is the process's. */
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "runtime/command/load.h"

/* 2026-06-21 00:00 UTC: the same frames from the same command on every day. */
static const int64_t FIXED_CLOCK = 1782000000LL * 1000000;

/* `2026-03-29 00:55`, perhaps with seconds; nothing else. */
static bool fields(const char *text, struct tm *civil) {
    static const char FORM[] = "dddd-dd-dd dd:dd:dd";
    size_t length = strlen(text);
    if (length != 16 && length != 19)
        return false;
    for (size_t i = 0; i < length; i++)
        if (FORM[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != FORM[i])
            return false;
    *civil = (struct tm){.tm_isdst = -1};
    sscanf(text, "%4d-%2d-%2d %2d:%2d:%2d", &civil->tm_year, &civil->tm_mon, &civil->tm_mday,
           &civil->tm_hour, &civil->tm_min, &civil->tm_sec);
    static const int DAYS[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int month = civil->tm_mon, year = civil->tm_year;
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    if (month < 1 || month > 12 || civil->tm_mday < 1 ||
        civil->tm_mday > DAYS[month - 1] + (leap && month == 2))
        return false;
    civil->tm_year -= 1900;
    civil->tm_mon--;
    return civil->tm_hour <= 23 && civil->tm_min <= 59 && civil->tm_sec <= 59;
}

/* The first instant at which the clock shows that; false where it is skipped on that day. */
static bool instant(const struct tm *civil, int64_t *utc) {
    bool found = false;
    for (int summer = 0; summer <= 1; summer++) {
        struct tm given = *civil, shown;
        given.tm_isdst = summer;
        time_t seconds = mktime(&given);
        if (!localtime_r(&seconds, &shown) || shown.tm_hour != civil->tm_hour ||
            shown.tm_min != civil->tm_min || shown.tm_mday != civil->tm_mday ||
            shown.tm_mon != civil->tm_mon || shown.tm_year != civil->tm_year)
            continue;
        if (!found || (int64_t)seconds * 1000000 < *utc)
            *utc = (int64_t)seconds * 1000000;
        found = true;
    }
    return found;
}

/* The files that localtime reads: tzset(3). */
static bool zone_here(const char *zone) {
    const char *folder = getenv("TZDIR");
    char path[4096];
    int length = snprintf(path, sizeof path, "%s/%s",
                          folder && *folder ? folder : "/usr/share/zoneinfo", zone);
    struct stat about;
    return length < (int)sizeof path && stat(path, &about) == 0 && S_ISREG(about.st_mode);
}

void clock_advise(Compilation *compilation) {
    const SourceTree *tree = lang_main_tree(compilation);
    const Node *item = tree ? tree->items : NULL;
    while (item && item->kind != NODE_PLACE)
        item = item->next;
    if (item && item->text && lang_program(compilation) && !zone_here(item->text))
        diagnostics_report(
            lang_diagnostics(compilation), SEVERITY_WARNING, "zone-not-here", item->span, SPAN_NONE,
            "zone \"Europe/London\"",
            "this machine knows no zone `%s`, so UTC stands in for it; zones come with "
            "the package tzdata",
            item->text);
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
    struct tm civil;
    if (!fields(options->clock, &civil))
        return command_fail(EXIT_CALL,
                            "--clock takes a date and a time, not `%s`: --clock '2026-03-29 00:55'",
                            options->clock);
    if (instant(&civil, utc))
        return EXIT_DONE;
    return command_fail(EXIT_CALL, "no clock shows %s there: clocks go forward past it",
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
