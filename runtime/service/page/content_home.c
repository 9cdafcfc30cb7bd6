#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/player/feed.h"
#include "runtime/service/link/keep.h"
#include "runtime/service/page/base64.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/frames.h"

/* Nanoseconds that one request for frames may take, roughly. */
static const double FRAMES_WORK = 4e8;
static const int FRAMES_MOST = 120;

/* -------- lamps -------- */

static json_t *place_of(const double *const *fields, uint32_t pixel) {
    return json_pack("[f, f, f]", fields[FIELD_X][pixel], fields[FIELD_Y][pixel],
                     fields[FIELD_Z][pixel]);
}

/* Of the pixels that are shown. */
static json_t *places_of(const LampInfo *info, uint32_t *pixels, ShapeForm *form) {
    ShapeRequest request = {.form = FORM_RING, .pixels = 16};
    ShapePoint *points = NULL;
    json_t *places = json_array();
    Shape *shape = !info || lamp_request(info, &request, &points) ? shape_create(&request) : NULL;
    memory_release(points);
    *pixels = shape ? shape_pixels(shape) : 0;
    *form = request.form;
    uint32_t step = feed_step(*pixels);
    for (uint32_t i = 0; shape && i < *pixels; i += step)
        json_array_append_new(places, place_of(shape_fields(shape), i));
    shape_free(shape);
    return places;
}

static json_t *lamp_object(const LampInfo *info) {
    static const char *const FORMS[] = {"strip", "ring", "grid", "ball", "points"};
    uint32_t pixels;
    ShapeForm form;
    json_t *places = places_of(info, &pixels, &form), *parts = json_array();
    for (uint32_t i = 0; info && i < info->group_count; i++)
        if (info->groups[i].is_part)
            json_array_append_new(parts, json_string(info->groups[i].name));
    return json_pack("{s:s?, s:i, s:s, s:o, s:o}", "name", info ? info->name : NULL, "pixels",
                     (int)pixels, "shape", FORMS[form], "places", places, "parts", parts);
}

json_t *content_lamps(const Score *score) {
    json_t *lamps = json_array();
    for (uint32_t i = 0; i < score->lamp_count; i++)
        json_array_append_new(lamps, lamp_object(&score->lamps[i]));
    if (score->lamp_count == 0)
        json_array_append_new(lamps, lamp_object(NULL));
    return lamps;
}

/* -------- routines, dials, events -------- */

static json_t *routine_object(const RoutineInfo *routine, const Scene *scene,
                              const DialValue *dials) {
    Vm *machine = vm_create(&routine->code, scene, dials);
    bool still = machine && vm_still_from(machine) <= 0;
    bool made = machine != NULL;
    vm_free(machine);
    return made ? json_pack("{s:s, s:o, s:b}", "name", routine->name, "lasts",
                            routine->lasts > 0 ? json_real(routine->lasts / 1e6) : json_null(),
                            "still", (int)still)
                : NULL;
}

/* Whether they move is seen on a ring of 16, however large the lamps are. */
json_t *content_routines(const Score *score) {
    const Program *program = score->program;
    Lamp lamp = {0};
    json_t *routines = json_array();
    DialValue *dials = dial_defaults(program);
    bool made = dials && lamp_make_declared(&lamp, program, NULL);
    for (uint16_t i = 0; made && i < program->routine_count; i++)
        made = json_array_append_new(
                   routines, routine_object(&program->routines[i], &lamp.scene, dials)) == 0;
    lamp_free(&lamp);
    memory_release(dials);
    if (!made)
        json_decref(routines);
    return made ? routines : NULL;
}

static json_t *dial_object(const DialInfo *dial) {
    static const char *const TYPES[] = {"number", "duration", "truth", "colour"};
    double scale = dial->type == DIAL_DURATION ? 1e-6 : 1;
    json_t *usual;
    if (dial->type == DIAL_COLOUR)
        usual = json_pack("[f, f, f]", (double)dial->colour.r, (double)dial->colour.g,
                          (double)dial->colour.b);
    else if (dial->type == DIAL_TRUTH)
        usual = json_boolean(dial->number != 0);
    else
        usual = json_real(dial->number * scale);
    return json_pack("{s:s, s:s?, s:s, s:b, s:o, s:o, s:o, s:b}", "name", dial->name, "label",
                     dial->label, "type", TYPES[dial->type], "percent", (int)dial->percent, "from",
                     dial->ranged ? json_real(dial->from * scale) : json_null(), "to",
                     dial->ranged ? json_real(dial->to * scale) : json_null(), "default", usual,
                     "used", (int)dial->used);
}

json_t *content_home(const Score *score) {
    const Program *program = score->program;
    const PlaceInfo *place = lang_place(score->compilation);
    json_t *dials = json_array(), *events = json_array();
    for (uint16_t i = 0; i < program->dial_count; i++)
        json_array_append_new(dials, dial_object(&program->dials[i]));
    for (uint16_t i = 0; i < program->event_count; i++)
        json_array_append_new(events, json_pack("{s:s, s:s?}", "name", program->events[i].name,
                                                "label", program->events[i].label));
    json_t *where = place->said ? json_pack("{s:f, s:f, s:s?}", "latitude", place->latitude,
                                            "longitude", place->longitude, "zone", place->zone)
                                : json_null();
    return json_pack("{s:o, s:o, s:o, s:o, s:o}", "place", where, "lamps", content_lamps(score),
                     "routines", content_routines(score), "dials", dials, "events", events);
}

/* -------- diagnostics -------- */

static json_t *diagnostic_object(const Diagnostics *all, const Diagnostic *one) {
    static const char *const WORDS[] = {"error", "warning", "note"};
    uint32_t line = 0, column = 0, end_line = 0, end_column = 0;
    bool placed = one->span.file != UINT32_MAX;
    if (placed) {
        diagnostics_position(all, one->span.file, one->span.begin, &line, &column);
        diagnostics_position(all, one->span.file, one->span.end, &end_line, &end_column);
    }
    return json_pack("{s:s?, s:i, s:i, s:i, s:i, s:s, s:s, s:s, s:s?}", "file",
                     placed ? diagnostics_file_name(all, one->span.file) : NULL, "line", (int)line,
                     "column", (int)column, "end_line", (int)end_line, "end_column",
                     (int)end_column, "severity", WORDS[one->severity], "code", one->code,
                     "message", one->message, "hint", one->hint);
}

json_t *content_diagnostics(Compilation *compilation) {
    const Diagnostics *all = lang_diagnostics(compilation);
    json_t *list = json_array();
    for (size_t i = 0; i < diagnostics_total(all); i++) {
        const Diagnostic *one = diagnostics_at(all, i);
        if (one)
            json_array_append_new(list, diagnostic_object(all, one));
    }
    return list;
}

/* -------- requests -------- */

static const Score *home_of(HttpRequest *request) {
    const Score *score = page_score(request->page);
    if (score)
        return score;
    request->retry_after = 1;
    reply_problem(request, 503, "no-home", NULL, "the home that plays is not known yet");
    return NULL;
}

void content_get_home(HttpRequest *request) {
    const Score *score = home_of(request);
    char hash[KEEP_HASH] = "";
    if (!score)
        return;
    json_t *home = content_home(score);
    if (score->readings.count && score->readings.list[0].text)
        keep_hash(score->readings.list[0].text, score->readings.list[0].length, hash);
    json_object_set_new(home, "hash", json_string(hash));
    reply_json(request, 200, home);
}

bool content_lamp(HttpRequest *request, const Score *score, int *lamp) {
    const char *name = request_query(request, "lamp");
    *lamp = page_lamp(score, name);
    if (*lamp >= 0)
        return true;
    reply_problem(request, 404, "no-lamp", NULL, "there is no lamp `%.100s`", name);
    return false;
}

bool content_afford(HttpRequest *request, const Score *score, int lamp, uint16_t routine,
                    int frames) {
    if (frames_cost(score, lamp, routine) * frames <= FRAMES_WORK)
        return true;
    reply_problem(request, 422, "too-much-light", NULL,
                  frames > 1 ? "so many frames of so many pixels take too long: ask for fewer "
                               "`frames`"
                             : "one picture of so many pixels takes too long here: the lamp itself "
                               "can show it");
    return false;
}

/* `count` frames from `start` on, in base64; NULL: out of memory. */
static char *frames_text(Frames *frames, double start, double length, int count) {
    size_t one = 3 * (size_t)frames_pixels(frames);
    uint8_t *rgb = memory_allocate((size_t)count, one);
    for (int i = 0; rgb && i < count; i++)
        frames_at(frames, (int64_t)((start + length * i / count) * 1e6), -1, rgb + one * (size_t)i);
    char *text = rgb ? base64_text(rgb, one * (size_t)count) : NULL;
    memory_release(rgb);
    return text;
}

static void reply_frames(HttpRequest *request, Frames *frames, double start, double length,
                         int count) {
    double lasts = frames_lasts(frames);
    bool still = frames_still(frames);
    char *text = frames_text(frames, start, length, count);
    reply_json(request, 200,
               text ? json_pack("{s:i, s:i, s:f, s:o, s:b, s:s}", "pixels",
                                (int)frames_pixels(frames), "frames", count, "period",
                                length / count, "lasts", lasts > 0 ? json_real(lasts) : json_null(),
                                "still", (int)still, "light", text)
                    : NULL);
    memory_release(text);
}

void content_frames(HttpRequest *request, const Score *score, const char *routine) {
    double start, length, count;
    int lamp;
    uint16_t index = frames_routine(score, routine);
    if (index == ROUTINE_NONE) {
        reply_problem(request, 404, "no-routine", NULL, "there is no routine `%.100s`", routine);
        return;
    }
    double lasts = score->program->routines[index].lasts / 1e6;
    if (!content_lamp(request, score, &lamp) ||
        !request_number(request, "start", 0, 86400, 0, &start) ||
        !request_number(request, "length", 0, 86400, lasts > 0 ? lasts : 12, &length) ||
        !request_number(request, "frames", 1, FRAMES_MOST, 24, &count))
        return;
    if (!content_afford(request, score, lamp, index, 1))
        return;
    Frames *frames =
        frames_open(score, lamp, index, request->page->told, page_utc() * INT64_C(1000000));
    count = frames && frames_still(frames) ? 1 : count;
    if (!frames)
        reply_json(request, 200, NULL);
    else if (content_afford(request, score, lamp, index, (int)count))
        reply_frames(request, frames, start, length, (int)count);
    frames_free(frames);
}

void content_get_light(HttpRequest *request) {
    const Score *score = home_of(request);
    if (score)
        content_frames(request, score, request->parts[0]);
}
