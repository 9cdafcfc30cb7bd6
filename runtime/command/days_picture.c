#include "runtime/command/days_picture.h"

#include <stdlib.h>
#include <string.h>

#include "backends/days.h"
#include "runtime/command/planned.h"
#include "runtime/core/civil.h"
#include "runtime/core/memory.h"

enum { WEEK = 7, WORDS = 24, MOMENTS = 12 /* a column, of a minute or so */ };

/* One day, and the words that its row points to. */
typedef struct Day {
    int32_t date;
    char label[WORDS], note[64], rises[WORDS], sets[WORDS];
} Day;

typedef struct Drawing {
    Stage *stage;
    Planned planned;
    Performance *performance; /* the stage's */
    int32_t lamp;             /* 0 where none is declared */
    uint32_t count;
    Day days[WEEK];
    DaysRow rows[WEEK];
    DaysName *names; /* of all rows */
    char (*words)[140];
    int64_t prepared; /* the performance is ready up to here */
} Drawing;

static const char *const WEEKDAYS[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};

/* -------- light -------- */

static const float *light_at(void *context, uint32_t row, double hour, bool *none) {
    Drawing *drawing = context;
    int32_t date = drawing->days[row].date;
    int64_t wall = (int64_t)(hour * 3600e6), seconds = wall / 1000000, utc;
    *none = zone_to_utc(drawing->planned.zone, (int64_t)date * 86400 + seconds, &utc) == ZONE_GAP;
    if (*none)
        return NULL;
    utc = utc * 1000000 + wall % 1000000;
    /* An hour at a time: what a day needs at once may be many machines. */
    if (utc > drawing->prepared) {
        drawing->prepared = utc + 3600000000;
        if (!performance_prepare(drawing->performance, utc, drawing->prepared))
            return NULL;
    }
    Stage *stage = drawing->stage;
    if (!performance_light(drawing->performance, utc, stage->light))
        return NULL;
    pipeline_restart(stage->pipeline); /* columns are no moments that follow each other */
    performance_show(drawing->performance, utc, stage->pipeline, utc, stage->light);
    return stage->light;
}

/* -------- the days -------- */

static double hour_of(const Drawing *drawing, int32_t date, int64_t utc) {
    int64_t seconds = civil_floor_divide(utc, 1000000);
    int64_t wall = seconds + zone_offset(drawing->planned.zone, seconds).offset;
    double hour = (double)(wall - (int64_t)date * 86400) / 3600.0;
    return hour < 0 ? 0 : hour > 24 ? 24 : hour;
}

/* Daylight of the sun's date `sun` that falls on the date of the row. */
static void day_light(const Drawing *drawing, int32_t sun, int32_t date, DaysRow *row) {
    int64_t rises, sets;
    double from = 0, to = 24;
    AgendaSun kind = agenda_sun(&drawing->planned.context, sun, &rises, &sets);
    if (kind == AGENDA_SUN_STAYS_DOWN || (kind == AGENDA_SUN_STAYS_UP && sun != date))
        return;
    if (kind == AGENDA_SUN_RISES) {
        if (sun != date && (rises == TIMETABLE_NEVER || sets == TIMETABLE_NEVER))
            return;
        from = rises == TIMETABLE_NEVER ? 0 : hour_of(drawing, date, rises);
        to = sets == TIMETABLE_NEVER ? 24 : hour_of(drawing, date, sets);
    }
    if (to > from) {
        row->light[row->light_count][0] = from;
        row->light[row->light_count++][1] = to;
    }
}

static void day_sun(const Drawing *drawing, Day *day, DaysRow *row) {
    const TimetableContext *context = &drawing->planned.context;
    int64_t rises, sets;
    char clock[16];
    bool alone = drawing->count == 1;
    row->sun = context->timetable->place.said;
    if (!row->sun)
        return;
    for (int32_t sun = day->date - 1; sun <= day->date + 1; sun++)
        day_light(drawing, sun, day->date, row);
    row->rise_text = day->rises;
    AgendaSun kind = agenda_sun(context, day->date, &rises, &sets);
    if (kind != AGENDA_SUN_RISES) {
        snprintf(day->rises, sizeof day->rises, "%s",
                 kind == AGENDA_SUN_STAYS_UP ? "no sunset" : "no sunrise");
        return;
    }
    row->rises = rises == TIMETABLE_NEVER ? 0 : hour_of(drawing, day->date, rises);
    row->sets = sets == TIMETABLE_NEVER ? 24 : hour_of(drawing, day->date, sets);
    row->set_text = day->sets;
    agenda_clock(context, rises, clock, sizeof clock);
    snprintf(day->rises, sizeof day->rises, "%s %s", alone ? "sunrise" : "sun",
             rises == TIMETABLE_NEVER ? "-" : clock);
    agenda_clock(context, sets, clock, sizeof clock);
    snprintf(day->sets, sizeof day->sets, "%s %s", alone ? "sunset" : "to",
             sets == TIMETABLE_NEVER ? "-" : clock);
}

static void day_clocks(const Drawing *drawing, Day *day, DaysRow *row) {
    AgendaChange change;
    if (!agenda_change(&drawing->planned.context, day->date, &change))
        return;
    bool forward = change.after > change.before;
    int32_t from = forward ? change.before : change.after;
    int32_t to = forward ? change.after : change.before;
    snprintf(day->note, sizeof day->note, "%02d:%02d to %02d:%02d %s", from / 3600, from / 60 % 60,
             to / 3600, to / 60 % 60, forward ? "is skipped" : "comes twice: the first");
    row->note = day->note;
}

/* What has a name over the light: all that begins, of a repeated moment the first of the day. */
static bool is_named(const Agenda *agenda, size_t index, int32_t date,
                     const TimetableContext *context) {
    const AgendaItem *item = &agenda->items[index];
    if (item->kind != AGENDA_BEGINS && (item->kind > AGENDA_ENDS || item->repeated))
        return false;
    bool uncovered = item->part != TIMETABLE_NOT_SAID && item->routine == ROUTINE_NONE;
    if (item->kind == AGENDA_STANDS || uncovered ||
        timetable_local_date(context, item->utc) != date)
        return false;
    for (size_t i = 0; item->repeated && i < index; i++)
        if (agenda->items[i].kind == AGENDA_BEGINS && agenda->items[i].repeated &&
            agenda->items[i].index == item->index && agenda->items[i].part == item->part &&
            timetable_local_date(context, agenda->items[i].utc) == date)
            return false;
    return true;
}

static int name_compare(const void *one, const void *other) {
    const DaysName *a = one, *b = other;
    return a->hour < b->hour ? -1 : a->hour > b->hour;
}

/* Names of row `index` from names[used] on; returns how many. */
static uint32_t day_names(Drawing *drawing, const Agenda *agenda, uint32_t index, size_t used) {
    const Planned *planned = &drawing->planned;
    uint32_t count = 0;
    for (size_t i = 0; i < agenda->count; i++) {
        const AgendaItem *item = &agenda->items[i];
        if (!is_named(agenda, i, drawing->days[index].date, &planned->context))
            continue;
        const char *part = item->part == TIMETABLE_NOT_SAID
                               ? NULL
                               : planned->lamps[item->lamp].groups[item->part].name;
        snprintf(drawing->words[used + count], sizeof *drawing->words, "%s%s%s", part ? part : "",
                 part ? ": " : "", agenda_routine(planned->context.program, item->routine));
        drawing->names[used + count] = (DaysName){
            hour_of(drawing, drawing->days[index].date, item->utc), drawing->words[used + count]};
        count++;
    }
    drawing->rows[index].names = drawing->names + used;
    drawing->rows[index].name_count = count;
    if (count)
        qsort(drawing->names + used, count, sizeof *drawing->names, name_compare);
    return count;
}

/* An exit status, already said. */
static int drawing_names(Drawing *drawing, int32_t first) {
    const TimetableContext *context = &drawing->planned.context;
    int64_t end = timetable_local_instant(context, first + (int32_t)drawing->count, 0);
    Agenda agenda;
    bool fine =
        agenda_make(context, drawing->planned.lamps, drawing->planned.lamp_count, drawing->lamp,
                    timetable_local_instant(context, first, 0), end, &agenda);
    bool whole = agenda.whole == end;
    drawing->names = memory_allocate(agenda.count + 1, sizeof *drawing->names);
    drawing->words = memory_allocate(agenda.count + 1, sizeof *drawing->words);
    fine = fine && drawing->names && drawing->words;
    size_t used = 0;
    for (uint32_t i = 0; fine && i < drawing->count; i++)
        used += day_names(drawing, &agenda, i, used);
    agenda_free(&agenda);
    if (!fine)
        return command_fail(EXIT_MACHINE, "out of memory");
    return whole ? EXIT_DONE
                 : command_fail(EXIT_WRONG, "so much begins in these days that drawing them would "
                                            "take long: fewer repeated moments");
}

static void drawing_days(Drawing *drawing, int32_t first) {
    for (uint32_t i = 0; i < drawing->count; i++) {
        Day *day = &drawing->days[i];
        DaysRow *row = &drawing->rows[i];
        day->date = first + (int32_t)i;
        CivilDate civil = civil_from_days(day->date);
        snprintf(day->label, sizeof day->label, "%s %02d-%02d",
                 WEEKDAYS[weekday_from_days(day->date)], (int)civil.month, (int)civil.day);
        row->label = drawing->count > 1 ? day->label : NULL;
        day_sun(drawing, day, row);
        day_clocks(drawing, day, row);
    }
}

static int draw(Drawing *drawing, const Options *options, Output *output, int32_t first) {
    char note[64], title[200], lamp[160];
    CivilDate civil = civil_from_days(first);
    picture_describe(drawing->stage, note, sizeof note);
    planned_lamp(&drawing->planned, drawing->lamp, TIMETABLE_NOT_SAID, lamp, sizeof lamp);
    snprintf(title, sizeof title, "%s%s%s %04d-%02d-%02d%s", lamp, *lamp ? ", " : "",
             WEEKDAYS[weekday_from_days(first)], (int)civil.year, (int)civil.month, (int)civil.day,
             drawing->count > 1 ? " and six days more" : "");
    DaysOptions own = {.width = (int)options->width,
                       .height = (int)options->height,
                       .note = note,
                       .row_count = drawing->count,
                       .rows = drawing->rows,
                       .moments = MOMENTS};
    BackendOptions to = {.pixels = drawing->stage->lamp.scene.pixels,
                         .descriptor = fileno(output->stream),
                         .title = title,
                         .own = &own};
    BackendError error;
    return days_draw(&to, light_at, drawing, &error)
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "%s", error.sentence);
}

static int days_write(Stage *stage, const Options *options, Output *output) {
    bool week = options->week != OPTION_NO_DATE;
    int32_t first = week ? options->week : options->day;
    Drawing drawing = {.stage = stage, .count = week ? WEEK : 1};
    int status = planned_open(&drawing.planned, &stage->loaded, options, true);
    if (status == EXIT_DONE) {
        drawing.lamp = stage->info ? (int32_t)(stage->info - drawing.planned.lamps) : 0;
        drawing_days(&drawing, first);
        status = drawing_names(&drawing, first);
    }
    if (status == EXIT_DONE) {
        drawing.prepared = TIMETABLE_EVER;
        drawing.performance = stage_performance(stage);
        status = drawing.performance ? draw(&drawing, options, output, first)
                                     : command_fail(EXIT_MACHINE, "out of memory");
    }
    memory_release(drawing.names);
    memory_release(drawing.words);
    planned_close(&drawing.planned);
    return status;
}

int days_picture_run(const Options *options) {
    bool week = options->week != OPTION_NO_DATE;
    const char *name = week ? "--week" : "--day";
    if (week && options->day != OPTION_NO_DATE)
        return command_fail(EXIT_CALL, "--day or --week, not both");
    if (options->routine || options->clock || options->start || options->length >= 0)
        return command_fail(EXIT_CALL,
                            "%s draws what the timetable plays: leave out --routine, --clock, "
                            "--start and --length",
                            name);
    if (options->pixels)
        return command_fail(EXIT_CALL, "%s draws a lamp of the file: leave out --pixels", name);
    uint32_t height = DAYS_SMALLEST_HEIGHT + (week ? (WEEK - 1) * (uint32_t)DAYS_ROW_HEIGHT : 0);
    if (options->width && (options->width < DAYS_SMALLEST_WIDTH || options->height < height))
        return command_fail(EXIT_CALL, "%s needs a --size of at least %dx%u", name,
                            DAYS_SMALLEST_WIDTH, height);
    return stage_write(options, days_write);
}
