/* gloam when: what will play and why. */
#include "runtime/command/planned.h"
#include "runtime/core/civil.h"

/* Days of years 0 to 9999 only. */
static int32_t when_first(const Options *options, const Planned *planned) {
    return options->from != OPTION_NO_DATE ? options->from
                                           : timetable_local_date(&planned->context, planned->now);
}

static void say_cut(const Planned *planned, const Agenda *agenda) {
    CivilDate date = civil_from_days(timetable_local_date(&planned->context, agenda->whole));
    char clock[16];
    agenda_clock(&planned->context, agenda->whole, clock, sizeof clock);
    fprintf(stderr, "gloam: the list ends at %04d-%02d-%02d %s: the rest would take long\n",
            (int)date.year, (int)date.month, (int)date.day, clock);
}

static int when_write(const Planned *planned, const Agenda *agenda, const Options *options) {
    Output output;
    int32_t first = when_first(options, planned);
    int status = command_open(&output, options->output);
    if (status != EXIT_DONE)
        return status;
    if (options->listing == LISTING_CSV)
        when_csv(planned, agenda, output.stream);
    else if (options->listing == LISTING_TEXT &&
             !when_table(planned, agenda, options, first, output.stream))
        status = command_fail(EXIT_MACHINE, "out of memory");
    else if (options->listing == LISTING_ICS && !when_calendar(planned, agenda, output.stream))
        status = command_fail(EXIT_WRONG,
                              "%s: nothing is played in these days, and a calendar needs an event; "
                              "--days 366 looks further",
                              options->file);
    return command_close(&output, status == EXIT_DONE, status);
}

static int when_tell(const Loaded *loaded, const Planned *planned, const Options *options) {
    const TimetableContext *context = &planned->context;
    int32_t only = TIMETABLE_NOT_SAID, first = when_first(options, planned);
    if (options->lamp) {
        const LampInfo *info;
        int status = loaded_lamp(loaded, options, &info);
        if (status != EXIT_DONE)
            return status;
        only = (int32_t)(info - planned->lamps);
    }
    Agenda agenda;
    int status = EXIT_MACHINE;
    if (agenda_make(context, planned->lamps, planned->lamp_count, only,
                    timetable_local_instant(context, first, 0),
                    timetable_local_instant(context, first + options->days, 0), &agenda)) {
        if (agenda.whole < timetable_local_instant(context, first + options->days, 0))
            say_cut(planned, &agenda);
        status = when_write(planned, &agenda, options);
    } else {
        command_fail(EXIT_MACHINE, "out of memory");
    }
    agenda_free(&agenda);
    return status;
}

int when_run(const Options *options) {
    Loaded loaded;
    Planned planned = {0};
    int status = loaded_read(&loaded, options, stderr);
    if (status == EXIT_DONE)
        status = planned_open(&planned, &loaded, options, false);
    if (status == EXIT_DONE)
        status = when_tell(&loaded, &planned, options);
    planned_close(&planned);
    loaded_free(&loaded);
    return status;
}
