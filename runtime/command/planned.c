#include "runtime/command/planned.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "runtime/library/zone_file.h"

/* By TZ as POSIX has it, else the machine's. */
static ZoneFileStatus zone_of_process(Zone **zone) {
    const char *name = getenv("TZ");
    if (!name || !*name)
        return zone_file_read(NULL, zone);
    name += *name == ':';
    if (zone_file_read(name, zone) == ZONE_FILE_FINE)
        return ZONE_FILE_FINE;
    return zone_from_rule(name, zone) == ZONE_NO_MEMORY ? ZONE_FILE_NO_MEMORY : ZONE_FILE_FINE;
}

int planned_open(Planned *planned, const Loaded *loaded, const char *file, bool fixed) {
    *planned = (Planned){0};
    if (loaded->bytecode)
        return command_fail(EXIT_WRONG, "%s is bytecode, which has no timetable", file);
    const Timetable *timetable = lang_timetable(loaded->compilation);
    if (!timetable)
        return command_fail(EXIT_WRONG,
                            "%s has no timetable: `at 19:30 play dusk` would be the first line of "
                            "one",
                            file);
    const char *name = timetable->place.zone;
    /* That the machine has no such zone was warned of; UTC stands in. */
    ZoneFileStatus status = name    ? zone_file_read(name, &planned->zone)
                            : fixed ? ZONE_FILE_FINE
                                    : zone_of_process(&planned->zone);
    if (status == ZONE_FILE_NO_MEMORY)
        return command_fail(EXIT_MACHINE, "out of memory");
    planned->compilation = loaded->compilation;
    planned->context = (TimetableContext){timetable, loaded->program, planned->zone};
    planned->lamps = lang_lamps(loaded->compilation, &planned->lamp_count);
    return EXIT_DONE;
}

void planned_close(Planned *planned) {
    zone_free(planned->zone);
}

int32_t planned_today(const Planned *planned) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return timetable_local_date(&planned->context, (int64_t)now.tv_sec * 1000000);
}

void planned_lamp(const Planned *planned, int32_t lamp, int32_t part, char *text, size_t size) {
    if (!planned->lamp_count)
        text[0] = '\0';
    else if (part == TIMETABLE_NOT_SAID)
        snprintf(text, size, "%s", planned->lamps[lamp].name);
    else
        snprintf(text, size, "%s part %s", planned->lamps[lamp].name,
                 planned->lamps[lamp].groups[part].name);
}
