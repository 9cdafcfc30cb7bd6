#include "runtime/command/planned.h"

int planned_open(Planned *planned, const Loaded *loaded, const Options *options, bool fixed) {
    const char *file = options->file;
    *planned = (Planned){0};
    if (loaded->bytecode)
        return command_fail(EXIT_WRONG, "%s is bytecode, which has no timetable", file);
    const Timetable *timetable = lang_timetable(loaded->compilation);
    if (!timetable)
        return command_fail(EXIT_WRONG,
                            "%s has no timetable: `at 19:30 play dusk` would be the first line of "
                            "one",
                            file);
    int status =
        clock_start(options, lang_place(loaded->compilation), fixed, &planned->zone, &planned->now);
    if (status != EXIT_DONE)
        return status;
    planned->compilation = loaded->compilation;
    planned->context = (TimetableContext){timetable, loaded->program, planned->zone};
    planned->lamps = lang_lamps(loaded->compilation, &planned->lamp_count);
    return EXIT_DONE;
}

void planned_close(Planned *planned) {
    zone_free(planned->zone);
}

void planned_lamp(const Planned *planned, int32_t lamp, int32_t part, char *text, size_t size) {
    agenda_lamp(planned->lamps, planned->lamp_count, lamp, part, text, size);
}
