/* The days that come: sun, clock changes, light and what plays. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/agenda.h"
#include "runtime/library/calendar.h"
#include "runtime/library/lamp.h"
#include "runtime/light/encode.h"
#include "runtime/player/performance.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/frames.h"

enum { DAYS_MOST = 14, CALENDAR_MOST = 366, PLAYS_MOST = 5000, DATE_BYTES = 16 };
/* Of the timetable, as AGENDA_WORK. */
static const double WEEK_WORK = 4e6;
/* Nanoseconds that the colours of all days may take, roughly. */
static const double COLOURS_WORK = 1e9;
/* Where not each quarter's colour is worked out, the least often that it is. */
enum { STRIDE_MOST = 24 };
static const int64_t QUARTER = INT64_C(900000000), SECONDS = 1000000;

static const char *const WEEKDAYS[] = {"Monday", "Tuesday",  "Wednesday", "Thursday",
                                       "Friday", "Saturday", "Sunday"};

/* -------- light -------- */

/* A lamp that plays the timetable as it will be, with nothing done by hand. */
typedef struct Stand {
    Lamp lamp;
    Pipeline *pipeline;
    PipelineLamp light_of;
    Performance *performance;
    float *light;
    ScreenTable table;
    int stride; /* quarters that share a colour; 0: there are no colours */
} Stand;

/* So that `days` take no longer than they may: the longest routine counts. */
static int stride_for(const Score *score, int lamp, int days) {
    double longest = 0;
    for (uint16_t i = 0; i < score->program->routine_count; i++) {
        double cost = frames_cost(score, lamp, i);
        longest = cost > longest ? cost : longest;
    }
    double stride = longest * days * 96 / COLOURS_WORK;
    return stride > STRIDE_MOST ? 0 : (int)stride + 1;
}

static bool stand_make(Stand *stand, const Score *score, int lamp, int64_t now) {
    const LampInfo *info = (uint32_t)lamp < score->lamp_count ? &score->lamps[lamp] : NULL;
    Now moment = {.utc = now, .trusted = true, .boot = "-"};
    if (!lamp_make_declared(&stand->lamp, score->program, info))
        return false;
    PerformanceRequest request = {&score->world, info ? lamp : TIMETABLE_NOT_SAID, info,
                                  &stand->lamp.scene};
    stand->light_of = lamp_light(info, 0);
    stand->pipeline = pipeline_create(&stand->light_of, stand->lamp.shape);
    stand->light = memory_allocate(stand->lamp.scene.pixels, 3 * sizeof *stand->light);
    stand->performance = performance_create(&request, NULL, &moment);
    encode_screen_table(&stand->table);
    return stand->pipeline && stand->light && stand->performance;
}

static void stand_free(Stand *stand) {
    performance_free(stand->performance);
    pipeline_free(stand->pipeline);
    memory_release(stand->light);
    lamp_free(&stand->lamp);
}

/* "#rrggbb": the mean light of the lamp at an instant; NULL: out of memory. */
static json_t *stand_colour(Stand *stand, int64_t utc) {
    uint32_t pixels = stand->lamp.scene.pixels;
    float mean[3] = {0.0f, 0.0f, 0.0f};
    uint8_t bytes[3];
    if (!performance_light(stand->performance, utc, stand->light))
        return NULL;
    pipeline_restart(stand->pipeline);
    performance_show(stand->performance, utc, stand->pipeline, utc, stand->light);
    for (uint32_t i = 0; i < pixels; i++)
        for (size_t channel = 0; channel < 3; channel++)
            mean[channel] += stand->light[3 * (size_t)i + channel] / (float)pixels;
    encode_screen(&stand->table, mean, 1, bytes);
    return json_sprintf("#%02x%02x%02x", bytes[0], bytes[1], bytes[2]);
}

/* None of a day that the list does not hold as a whole: preparing it would take as long. */
static json_t *colours_of(Stand *stand, const Agenda *agenda, int64_t begins, int64_t ends) {
    json_t *colours = json_array();
    json_t *colour = NULL;
    int quarter = 0;
    if (!stand->stride || agenda->whole < ends ||
        !performance_prepare(stand->performance, begins, ends))
        return colours;
    for (int64_t utc = begins; utc < ends; utc += QUARTER, quarter++) {
        if (quarter % stand->stride == 0) {
            json_decref(colour);
            colour = stand_colour(stand, utc);
        }
        json_array_append(colours, colour);
    }
    json_decref(colour);
    return colours;
}

/* -------- words -------- */

static json_t *instant(int64_t utc) {
    return utc == TIMETABLE_NEVER || utc == TIMETABLE_EVER
               ? json_null()
               : page_instant(civil_floor_divide(utc, SECONDS));
}

static void date_text(int32_t date, char text[DATE_BYTES]) {
    CivilDate civil = civil_from_days(date);
    snprintf(text, DATE_BYTES, "%04u-%02u-%02u", (unsigned)civil.year % 10000,
             (unsigned)civil.month % 100, (unsigned)civil.day % 100);
}

static json_t *sun_object(const TimetableContext *context, int32_t date) {
    static const char *const KINDS[] = {"rises", "stays-up", "stays-down"};
    int64_t rises = TIMETABLE_NEVER, sets = TIMETABLE_NEVER;
    char up[16] = "", down[16] = "";
    if (!context->timetable->place.said)
        return json_null();
    AgendaSun kind = agenda_sun(context, date, &rises, &sets);
    bool moves = kind == AGENDA_SUN_RISES;
    if (moves && rises != TIMETABLE_NEVER)
        agenda_clock(context, rises, up, sizeof up);
    if (moves && sets != TIMETABLE_NEVER)
        agenda_clock(context, sets, down, sizeof down);
    return json_pack("{s:s, s:o, s:o, s:s, s:s}", "kind", KINDS[kind], "rises",
                     moves ? instant(rises) : json_null(), "sets",
                     moves ? instant(sets) : json_null(), "rises_clock", up, "sets_clock", down);
}

static json_t *change_object(const TimetableContext *context, int32_t date) {
    AgendaChange change;
    char before[8], after[8];
    if (!agenda_change(context, date, &change))
        return json_null();
    snprintf(before, sizeof before, "%02u:%02u", (unsigned)change.before / 3600 % 100,
             (unsigned)change.before / 60 % 60);
    snprintf(after, sizeof after, "%02u:%02u", (unsigned)change.after / 3600 % 100,
             (unsigned)change.after / 60 % 60);
    return json_pack("{s:o, s:s, s:s}", "at", instant(change.utc), "before", before, "after",
                     after);
}

static json_t *play_object(const Score *score, const AgendaItem *item) {
    static const char *const KINDS[] = {"stands",  "begins", "follows",    "ends",
                                        "lowered", "raised", "passed-over"};
    const TimetableContext *context = &score->world.context;
    char clock[16] = "";
    if (item->utc != TIMETABLE_EVER)
        agenda_clock(context, item->utc, clock, sizeof clock);
    const char *part = item->part == TIMETABLE_NOT_SAID || !score->lamp_count
                           ? NULL
                           : score->lamps[item->lamp].groups[item->part].name;
    return json_pack(
        "{s:s, s:o, s:s, s:o, s:s, s:s, s:s?, s:s?, s:b}", "kind", KINDS[item->kind], "at",
        instant(item->utc), "clock", clock, "until", instant(item->ends), "routine",
        item->routine == ROUTINE_NONE ? "" : agenda_routine(context->program, item->routine),
        "cause", item->cause, "notes", *item->notes ? item->notes : NULL, "part", part, "repeated",
        (int)item->repeated);
}

/* -------- days -------- */

/* What comes behind the most that a week tells is left out. */
static void cut(Agenda *agenda) {
    if (agenda->count <= PLAYS_MOST)
        return;
    agenda->whole = agenda->items[PLAYS_MOST].utc;
    agenda->count = PLAYS_MOST;
}

static json_t *plays_of(const Score *score, const Agenda *agenda, int32_t date) {
    json_t *plays = json_array();
    for (size_t i = 0; i < agenda->count; i++) {
        const AgendaItem *item = &agenda->items[i];
        if (item->kind != AGENDA_STANDS &&
            timetable_local_date(&score->world.context, item->utc) == date)
            json_array_append_new(plays, play_object(score, item));
    }
    return plays;
}

static json_t *day_object(const Score *score, Stand *stand, const Agenda *agenda, int32_t date) {
    const TimetableContext *context = &score->world.context;
    int64_t begins = timetable_local_instant(context, date, 0);
    int64_t ends = timetable_local_instant(context, date + 1, 0);
    char text[DATE_BYTES];
    date_text(date, text);
    return json_pack(
        "{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "date", text, "weekday",
        WEEKDAYS[weekday_from_days(date)], "begins", instant(begins), "ends", instant(ends), "sun",
        sun_object(context, date), "change", change_object(context, date), "colours",
        colours_of(stand, agenda, begins, ends), "plays", plays_of(score, agenda, date));
}

/* What is on when the days begin. */
static json_t *stands_of(const Score *score, const Agenda *agenda) {
    json_t *stands = json_array();
    for (size_t i = 0; i < agenda->count; i++)
        if (agenda->items[i].kind == AGENDA_STANDS)
            json_array_append_new(stands, play_object(score, &agenda->items[i]));
    return stands;
}

json_t *content_week(const Score *score, int lamp, int32_t date, int days, int64_t now) {
    const TimetableContext *context = &score->world.context;
    int64_t from = timetable_local_instant(context, date, 0);
    int64_t until = timetable_local_instant(context, date + days, 0);
    const PlaceInfo *place = lang_place(score->compilation);
    Stand stand = {0};
    Agenda agenda = {0};
    json_t *list = json_array(), *week = NULL;
    bool made = stand_make(&stand, score, lamp, from < now ? from : now) &&
                agenda_make_within(context, score->lamps, score->lamp_count,
                                   score->lamp_count ? lamp : TIMETABLE_NOT_SAID, from, until,
                                   WEEK_WORK, &agenda);
    stand.stride = stride_for(score, lamp, days);
    cut(&agenda);
    for (int i = 0; made && i < days; i++)
        json_array_append_new(list, day_object(score, &stand, &agenda, date + i));
    if (made)
        week = json_pack("{s:s, s:s?, s:b, s:o, s:O}", "zone",
                         place->said && place->zone ? place->zone : "the machine's", "lamp",
                         score->lamp_count ? score->lamps[lamp].name : NULL, "whole",
                         (int)(agenda.whole >= until), "stands", stands_of(score, &agenda), "days",
                         list);
    json_decref(list);
    agenda_free(&agenda);
    stand_free(&stand);
    return week;
}

/* -------- requests -------- */

/* A home with a timetable; NULL: answered. */
static const Score *planned(HttpRequest *request) {
    const Score *score = page_score(request->page);
    if (score && lang_has_timetable(score->compilation))
        return score;
    if (score)
        reply_problem(request, 404, "no-timetable", NULL,
                      "the home file has no timetable: `at 19:30 play dusk` would be a first line");
    else
        reply_problem(request, 503, "no-home", NULL, "the home that plays is not known yet");
    return NULL;
}

/* `2026-03-28`, else today. False: answered. */
static bool read_date(HttpRequest *request, const Score *score, int32_t *date) {
    const char *text = request_query(request, "from");
    CivilDate civil;
    int year, month, day;
    char rest;
    *date = timetable_local_date(&score->world.context, page_utc() * SECONDS);
    if (!text)
        return true;
    if (strlen(text) == 10 && sscanf(text, "%4d-%2d-%2d%c", &year, &month, &day, &rest) == 3 &&
        year >= 1970 && year <= 2199 && month >= 1 && month <= 12 && day >= 1 &&
        day <= civil_days_in_month(year, month)) {
        civil = (CivilDate){year, month, day};
        *date = days_from_civil(civil);
        return true;
    }
    reply_problem(request, 400, "bad-query", NULL, "`from` is a date: 2026-03-28");
    return false;
}

void content_get_week(HttpRequest *request) {
    const Score *score = planned(request);
    int32_t date;
    double days;
    int lamp;
    if (score && content_lamp(request, score, &lamp) && read_date(request, score, &date) &&
        request_number(request, "days", 1, DAYS_MOST, 7, &days))
        reply_json(request, 200, content_week(score, lamp, date, (int)days, page_utc() * SECONDS));
}

void content_get_calendar(HttpRequest *request) {
    const Score *score = planned(request);
    double days;
    int lamp;
    if (!score || !content_lamp(request, score, &lamp) ||
        !request_number(request, "days", 1, CALENDAR_MOST, 30, &days))
        return;
    const TimetableContext *context = &score->world.context;
    int64_t now = page_utc() * SECONDS;
    int32_t date = timetable_local_date(context, now);
    CalendarRequest about = {context, score->lamps, score->lamp_count, now};
    Agenda agenda = {0};
    char *text = NULL;
    size_t length = 0;
    FILE *out = open_memstream(&text, &length);
    bool one = request_query(request, "lamp") && score->lamp_count;
    bool made = out && agenda_make(context, score->lamps, score->lamp_count,
                                   one ? lamp : TIMETABLE_NOT_SAID,
                                   timetable_local_instant(context, date, 0),
                                   timetable_local_instant(context, date + (int)days, 0), &agenda);
    bool any = made && calendar_write(&about, &agenda, out);
    agenda_free(&agenda);
    made = out && fclose(out) == 0 && made;
    if (made && !any)
        reply_problem(request, 404, "no-events", NULL, "nothing begins on these days");
    else
        reply_bytes(request, "text/calendar; charset=utf-8",
                    made ? memory_copy_text(text, length) : NULL, length);
    free(text);
}
