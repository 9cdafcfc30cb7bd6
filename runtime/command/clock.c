/* The clock on the wall, for routines that read it. */
#include <stdlib.h>
#include <string.h>

#include "runtime/command/load.h"
#include "runtime/core/civil.h"
#include "runtime/player/clock.h"
#include "runtime/player/zone_source.h"

/* 2026-06-21 00:00 UTC: the same frames from the same command on every day. */
static const int64_t FIXED_CLOCK = 1782000000LL * 1000000;

/* `2026-03-29 00:55`, perhaps with seconds, and nothing else: as a reading of the wall, the seconds
 * since 1970 as if it were in UTC. */
static bool wall_read(const char *text, int64_t *wall) {
    static const char FORM[] = "dddd-dd-dd dd:dd:dd";
    size_t length = strlen(text);
    if (length != 16 && length != 19)
        return false;
    for (size_t i = 0; i < length; i++)
        if (FORM[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != FORM[i])
            return false;
    CivilDate date;
    int hour, minute, second = 0;
    sscanf(text, "%4d-%2d-%2d %2d:%2d:%2d", &date.year, &date.month, &date.day, &hour, &minute,
           &second);
    if (date.month < 1 || date.month > 12 || date.day < 1 ||
        date.day > civil_days_in_month(date.year, date.month))
        return false;
    *wall = (int64_t)days_from_civil(date) * 86400 + hour * 3600 + minute * 60 + second;
    return hour <= 23 && minute <= 59 && second <= 59;
}

bool clock_moment(const char *text, const Zone *zone, int64_t after, int64_t *utc) {
    int64_t wall;
    char whole[32];
    bool date = wall_read(text, &wall);
    ZoneOffset offset = zone_offset(zone, after / 1000000);
    int64_t today = civil_floor_divide(after / 1000000 + offset.offset, 86400);
    for (int days = 0; days < 2; days++) {
        CivilDate civil = civil_from_days((int32_t)(today + days));
        snprintf(whole, sizeof whole, "%04d-%02d-%02d %.8s", (int)civil.year, (int)civil.month,
                 (int)civil.day, text);
        if (!date && (strlen(text) > 8 || !wall_read(whole, &wall)))
            return false;
        if (zone_to_utc(zone, wall, utc) == ZONE_GAP)
            return false;
        *utc *= 1000000;
        if (date || *utc >= after)
            return true;
    }
    return true;
}

static bool zone_here(const char *name) {
    Zone *zone;
    bool here = zone_file_read(name, &zone) == ZONE_FILE_FINE;
    zone_free(zone);
    return here;
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

int clock_start(const Options *options, const PlaceInfo *place, bool fixed, Zone **zone,
                int64_t *utc) {
    ZoneSource source = {.name = place && place->said ? place->zone : NULL};
    source.variable = fixed ? "" : getenv("TZ");
    /* What cannot be read is UTC: clock_advise has said so. */
    if (zone_source_read(&source, &zone_folders_system, zone) == ZONE_FILE_NO_MEMORY)
        return command_fail(EXIT_MACHINE, "out of memory: close other programs");
    if (!options->clock) {
        *utc = fixed ? FIXED_CLOCK : clock_system_now().utc;
        return EXIT_DONE;
    }
    int64_t wall;
    if (!wall_read(options->clock, &wall))
        return command_fail(EXIT_CALL,
                            "--clock takes a date and a time, not `%s`: --clock '2026-03-29 00:55'",
                            options->clock);
    if (zone_to_utc(*zone, wall, utc) == ZONE_GAP)
        return command_fail(EXIT_CALL, "no clock shows %s there: clocks go forward past it",
                            options->clock);
    *utc *= 1000000;
    return EXIT_DONE;
}
