#include "runtime/player/status.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/agenda.h"
#include "runtime/library/state_file.h"
#include "runtime/light/lightness.h"
#include "runtime/player/request.h"

enum { WORDS = 320 };

/* ---- words ---- */

/* "03:10", with the date in front of it where that is not today's. */
static void instant_words(const StatusRequest *request, int64_t utc, char *text, size_t size) {
    const TimetableContext *context = &request->world->context;
    char clock[16];
    int32_t date = timetable_local_date(context, utc);
    CivilDate civil = civil_from_days(date);
    agenda_clock(context, utc, clock, sizeof clock);
    if (date == timetable_local_date(context, request->now->utc))
        snprintf(text, size, "%s", clock);
    else
        snprintf(text, size, "%04d-%02d-%02d %s", (int)civil.year, (int)civil.month, (int)civil.day,
                 clock);
}

static void why_words(const StatusRequest *request, const Playing *playing, char *text,
                      size_t size) {
    const TimetableContext *context = &request->world->context;
    const Timetable *timetable = context->timetable;
    switch (playing->cause) {
    case PLAYING_NOTHING:
        snprintf(text, size, "nothing has begun");
        return;
    case PLAYING_ENTRY:
        agenda_why(context, playing->entry, playing->began, text, size);
        return;
    case PLAYING_WHEN:
        if (timetable->entries[playing->entry].kind == TIMETABLE_EVENT)
            snprintf(text, size, "when %s, number %llu",
                     context->program->events[timetable->entries[playing->entry].event].name,
                     (unsigned long long)playing->number);
        else
            snprintf(text, size, "when, line %u, number %llu",
                     (unsigned)timetable->entries[playing->entry].line,
                     (unsigned long long)playing->number);
        return;
    case PLAYING_HAND:
        snprintf(text, size, "by hand, number %llu", (unsigned long long)playing->number);
        return;
    case PLAYING_UNTIL_CLOCK:
        snprintf(text, size, "until the clock is set");
        return;
    }
}

static const char *cause_word(PlayingCause cause) {
    static const char *const NAMES[] = {"nothing", "entry", "when", "hand", "until-clock"};
    return NAMES[cause];
}

/* ---- lamps and parts ---- */

typedef struct Row {
    const char *lamp, *part; /* NULL: not declared, the whole lamp */
    Playing playing;
    char why[WORDS], since[48], until[48];
} Row;

static void row_make(const StatusRequest *request, int32_t lamp, int32_t part, Row *row) {
    const World *world = request->world;
    *row = (Row){0};
    if (world->lamp_count)
        row->lamp = world->lamps[lamp].name;
    if (part != TIMETABLE_NOT_SAID)
        row->part = world->lamps[lamp].groups[part];
    playing_now(request->overrides, world, request->now, lamp, part, &row->playing);
    why_words(request, &row->playing, row->why, sizeof row->why);
    if (row->playing.cause != PLAYING_NOTHING)
        instant_words(request, row->playing.since, row->since, sizeof row->since);
    if (row->playing.until != TIMETABLE_NEVER)
        instant_words(request, row->playing.until, row->until, sizeof row->until);
}

static bool next_words(const StatusRequest *request, int32_t lamp, char *text, size_t size,
                       TimetableBegin *begin) {
    const World *world = request->world;
    char when[48], why[WORDS];
    if (!playing_next(request->overrides, world, request->now, lamp, begin))
        return false;
    const TimetableEntry *entry = &world->context.timetable->entries[begin->entry];
    instant_words(request, begin->start, when, sizeof when);
    agenda_why(&world->context, begin->entry, begin->origin, why, sizeof why);
    snprintf(text, size, "%s at %s (%s)",
             agenda_routine(world->context.program, entry->play.routine), when, why);
    return true;
}

static uint32_t lamps_of(const World *world) {
    return world->lamp_count ? world->lamp_count : 1;
}

static int32_t lamp_at(const World *world, uint32_t i) {
    return world->lamp_count ? (int32_t)i : TIMETABLE_NOT_SAID;
}

/* ---- dials ---- */

/* As set by hand, else the default. */
static TimetableSetting dial_of(const StatusRequest *request, uint16_t dial, bool *by_hand) {
    const DialInfo *info = &request->world->context.program->dials[dial];
    const DialSet *set = overrides_dial(request->overrides, dial);
    *by_hand = set != NULL;
    return set ? set->setting : (TimetableSetting){dial, info->number, info->colour};
}

/* ---- text ---- */

static void text_lamp(const StatusRequest *request, FILE *out, uint32_t i) {
    const World *world = request->world;
    int32_t lamp = lamp_at(world, i);
    uint32_t parts = world->lamp_count ? world->lamps[i].group_count : 0;
    for (int32_t part = TIMETABLE_NOT_SAID; part < (int32_t)parts; part++) {
        Row row;
        row_make(request, lamp, part, &row);
        if (row.part && row.playing.cause == PLAYING_NOTHING)
            continue;
        if (row.part)
            fprintf(out, "  part %s: ", row.part);
        else
            fprintf(out, "%s: ", row.lamp ? row.lamp : "the lamp");
        fprintf(out, "%s (%s)", agenda_routine(world->context.program, row.playing.routine),
                row.why);
        if (*row.since)
            fprintf(out, " since %s", row.since);
        if (*row.until)
            fprintf(out, ", until %s", row.until);
        if (row.playing.held)
            fputs(", standing still", out);
        fputc('\n', out);
    }
    char next[2 * WORDS];
    TimetableBegin begin;
    if (next_words(request, lamp, next, sizeof next, &begin))
        fprintf(out, "  next: %s\n", next);
    PlayingLevel level = playing_level(request->overrides, world, request->now, lamp);
    if (level.number)
        fprintf(out, "  level %.4g (%.3g %% of the light), by hand, number %llu\n", level.lightness,
                100 * lightness_light(level.lightness), (unsigned long long)level.number);
}

static void text_dials(const StatusRequest *request, FILE *out) {
    const Program *program = request->world->context.program;
    for (uint16_t i = 0; i < program->dial_count; i++) {
        bool by_hand;
        char words[64];
        TimetableSetting setting = dial_of(request, i, &by_hand);
        if (!program->dials[i].used && !by_hand)
            continue;
        request_value(&program->dials[i], &setting, words, sizeof words);
        fprintf(out, "dial %s: %s%s\n", program->dials[i].name, words,
                by_hand ? ", set by hand" : "");
    }
}

static void text_overrides(const StatusRequest *request, FILE *out) {
    const Overrides *overrides = request->overrides;
    for (uint32_t i = 0; i < overrides->count; i++) {
        char words[WORDS];
        if (overrides->list[i].cleared)
            continue;
        request_words(request->world, &overrides->list[i], words, sizeof words);
        fprintf(out, "by hand %llu: %s\n", (unsigned long long)overrides->list[i].number, words);
    }
}

void status_text(const StatusRequest *request, FILE *out) {
    for (uint32_t i = 0; i < lamps_of(request->world); i++)
        text_lamp(request, out, i);
    text_dials(request, out);
    text_overrides(request, out);
    fprintf(out, "clock: %s; time zone database %s\n", request->trust, request->release);
}

/* ---- JSON ---- */

json_t *status_instant(int64_t utc) {
    if (utc == TIMETABLE_NEVER || utc == TIMETABLE_EVER)
        return json_null();
    int64_t seconds = civil_floor_divide(utc, 1000000), days = civil_floor_divide(seconds, 86400);
    CivilDate date = civil_from_days((int32_t)days);
    int rest = (int)(seconds - days * 86400);
    return json_sprintf("%04d-%02d-%02dT%02d:%02d:%02dZ", (int)date.year, (int)date.month,
                        (int)date.day, rest / 3600, rest / 60 % 60, rest % 60);
}

static json_t *json_playing(const StatusRequest *request, const Row *row) {
    const Program *program = request->world->context.program;
    const Playing *playing = &row->playing;
    json_t *object = json_object();
    if (row->part)
        json_object_set_new(object, "part", json_string(row->part));
    else
        json_object_set_new(object, "name", row->lamp ? json_string(row->lamp) : json_null());
    json_object_set_new(object, "plays", json_string(agenda_routine(program, playing->routine)));
    json_object_set_new(object, "cause", json_string(cause_word(playing->cause)));
    json_object_set_new(object, "why", json_string(row->why));
    json_object_set_new(object, "since",
                        playing->cause == PLAYING_NOTHING ? json_null()
                                                          : status_instant(playing->since));
    json_object_set_new(object, "until", status_instant(playing->until));
    json_object_set_new(object, "held", json_boolean(playing->held));
    return object;
}

/* "dusk (at 19:30)" */
static json_t *json_named(const StatusRequest *request, uint16_t routine, const char *why) {
    return json_sprintf("%s (%s)", agenda_routine(request->world->context.program, routine), why);
}

/* What comes next, and so what `skip` would skip. */
static void json_next(const StatusRequest *request, int32_t lamp, json_t *object) {
    const World *world = request->world;
    TimetableBegin begin;
    json_t *next = json_null(), *skip = json_null();
    if (playing_next(request->overrides, world, request->now, lamp, &begin)) {
        uint16_t routine = world->context.timetable->entries[begin.entry].play.routine;
        char why[WORDS];
        agenda_why(&world->context, begin.entry, begin.origin, why, sizeof why);
        next = json_object();
        json_object_set_new(next, "plays",
                            json_string(agenda_routine(world->context.program, routine)));
        json_object_set_new(next, "at", status_instant(begin.start));
        json_object_set_new(next, "why", json_string(why));
        skip = json_named(request, routine, why);
    }
    json_object_set_new(object, "next", next);
    json_object_set_new(object, "skip", skip);
}

static json_t *json_level(const StatusRequest *request, int32_t lamp) {
    PlayingLevel level = playing_level(request->overrides, request->world, request->now, lamp);
    json_t *object = json_object();
    json_object_set_new(object, "lightness", json_real(level.lightness));
    json_object_set_new(object, "light", json_real(lightness_light(level.lightness)));
    json_object_set_new(object, "until",
                        status_instant(level.number ? level.until : TIMETABLE_NEVER));
    json_object_set_new(object, "by_hand", json_boolean(level.number != 0));
    return object;
}

/* Whether `more` would hold it. */
static bool can_go_on(const Row *row) {
    PlayingCause cause = row->playing.cause;
    return cause == PLAYING_ENTRY || cause == PLAYING_WHEN || cause == PLAYING_HAND;
}

static json_t *json_lamp(const StatusRequest *request, uint32_t i) {
    const World *world = request->world;
    int32_t lamp = lamp_at(world, i);
    uint32_t parts = world->lamp_count ? world->lamps[i].group_count : 0;
    Row row, more;
    row_make(request, lamp, TIMETABLE_NOT_SAID, &row);
    more = row;
    json_t *object = json_playing(request, &row), *list = json_array();
    for (int32_t part = 0; part < (int32_t)parts; part++) {
        row_make(request, lamp, part, &row);
        if (row.playing.cause != PLAYING_NOTHING)
            json_array_append_new(list, json_playing(request, &row));
        if (!can_go_on(&more))
            more = row;
    }
    json_object_set_new(object, "parts", list);
    json_next(request, lamp, object);
    json_object_set_new(object, "more",
                        can_go_on(&more) ? json_named(request, more.playing.routine, more.why)
                                         : json_null());
    json_object_set_new(object, "level", json_level(request, lamp));
    return object;
}

static json_t *json_dials(const StatusRequest *request) {
    const Program *program = request->world->context.program;
    json_t *list = json_array();
    for (uint16_t i = 0; i < program->dial_count; i++) {
        const DialInfo *info = &program->dials[i];
        bool by_hand;
        TimetableSetting setting = dial_of(request, i, &by_hand);
        json_t *object = json_object(), *value;
        json_object_set_new(object, "name", json_string(info->name));
        json_object_set_new(object, "label", info->label ? json_string(info->label) : json_null());
        if (info->type == DIAL_COLOUR) {
            value = json_array();
            json_array_append_new(value, json_real((double)setting.colour.r));
            json_array_append_new(value, json_real((double)setting.colour.g));
            json_array_append_new(value, json_real((double)setting.colour.b));
        } else if (info->type == DIAL_TRUTH) {
            value = json_boolean(setting.number != 0);
        } else {
            value = json_real(info->type == DIAL_DURATION ? setting.number / 1e6 : setting.number);
        }
        char words[64];
        request_value(info, &setting, words, sizeof words);
        json_object_set_new(object, "value", value);
        json_object_set_new(object, "says", json_string(words));
        json_object_set_new(object, "by_hand", json_boolean(by_hand));
        json_array_append_new(list, object);
    }
    return list;
}

static json_t *json_overrides(const StatusRequest *request) {
    const Overrides *overrides = request->overrides;
    json_t *list = json_array();
    for (uint32_t i = 0; i < overrides->count; i++) {
        char words[WORDS];
        if (overrides->list[i].cleared)
            continue;
        request_words(request->world, &overrides->list[i], words, sizeof words);
        json_t *object = json_object();
        json_object_set_new(object, "number", json_integer((json_int_t)overrides->list[i].number));
        json_object_set_new(object, "what", json_string(words));
        json_array_append_new(list, object);
    }
    return list;
}

/* How far local time is ahead of UTC, and the next change of that within a year or so: what changes
 * and changes back within a week is passed over. */
static void json_zone(const StatusRequest *request, json_t *clock) {
    enum { MICROSECONDS = 1000000, WEEK = 7 * 86400, WEEKS = 53 };
    const Zone *zone = request->world->context.zone;
    int64_t before = request->now->utc / MICROSECONDS, after = before + WEEK;
    int32_t offset = zone_offset(zone, before).offset;
    json_t *change = json_null();
    int64_t at;
    bool changes = false;
    for (int week = 0; week < WEEKS && !changes; week++) {
        changes = zone_change(zone, before, after, &at);
        before = after;
        after += WEEK;
    }
    if (changes) {
        change = json_object();
        json_object_set_new(change, "at", status_instant(at * MICROSECONDS));
        json_object_set_new(change, "ahead", json_integer(zone_offset(zone, at).offset));
    }
    json_object_set_new(clock, "ahead", json_integer(offset));
    json_object_set_new(clock, "change", change);
}

json_t *status_object(const StatusRequest *request) {
    char undo[REQUEST_SENTENCE];
    if (!request_undoes(request->overrides, request->world, request->now, undo))
        return NULL;
    json_t *object = json_object(), *lamps = json_array(), *clock = json_object();
    for (uint32_t i = 0; i < lamps_of(request->world); i++)
        json_array_append_new(lamps, json_lamp(request, i));
    json_object_set_new(object, "lamps", lamps);
    json_object_set_new(object, "dials", json_dials(request));
    json_object_set_new(object, "by_hand", json_overrides(request));
    json_object_set_new(object, "undo", *undo ? json_string(undo) : json_null());
    json_object_set_new(clock, "utc", status_instant(request->now->utc));
    json_object_set_new(clock, "trusted", json_boolean(request->now->trusted));
    json_object_set_new(clock, "says", json_string(request->trust));
    json_object_set_new(clock, "zones", json_string(request->release));
    json_zone(request, clock);
    json_object_set_new(object, "clock", clock);
    return object;
}

bool status_write(json_t *object, FILE *out) {
    char *text = json_dumps(object, JSON_INDENT(2) | JSON_REAL_PRECISION(9));
    json_decref(object);
    /* What there was no memory for is not in the text. */
    bool whole = text && !state_json_failed();
    if (whole)
        fprintf(out, "%s\n", text);
    memory_release(text);
    return whole;
}

bool status_json(const StatusRequest *request, FILE *out) {
    state_json_begin();
    return status_write(status_object(request), out);
}
