#include "runtime/player/lamp_player.h"

#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"

/* Of what the wire can carry, so much is used for frames that are dithered in time; while one is
 * on its way nothing else is done (common practice, no source). */
#define WIRE_SHARE 0.8
#define WITHOUT_MEMORY INT64_C(1000000)

struct LampPlayer {
    LampPlayerRequest request;
    Lamp lamp;
    Performance *performance;
    PipelineLamp light_of;
    Pipeline *pipeline;
    LampOutput *output;
    double fps;
    uint32_t parts; /* a frame and those between it and the next */
    int64_t offset; /* utc less monotonic */

    float *light;   /* of the frame that was worked out last */
    uint8_t *bytes; /* that were sent last */
    bool has_bytes;
    uint64_t last;   /* the number of that frame */
    bool moves;      /* after it */
    uint64_t next;   /* the number of the next */
    uint32_t part;   /* 0: the next is a frame; else one between, behind `last` */
    int64_t due;     /* of that; LAMP_NEVER: it rests */
    int64_t rest;    /* until then; LAMP_NEVER */
    int64_t repaint; /* LAMP_NEVER: not at all */
    LampCounts counts;
};

/* -------- the raster -------- */

static int64_t raster(const LampPlayer *lamp, uint64_t n) {
    double played = number_nearest((double)n * 1e6 / lamp->fps) * lamp->request.speed;
    return lamp->request.start + (int64_t)number_nearest(played);
}

/* The last frame at or before an instant, at least 0. */
static uint64_t raster_before(const LampPlayer *lamp, int64_t now) {
    double since = (double)(now - lamp->request.start);
    double guess = number_floor(since / lamp->request.speed * lamp->fps / 1e6);
    uint64_t n = guess > 1 ? (uint64_t)guess - 1 : 0;
    while (raster(lamp, n + 1) <= now)
        n++;
    return n;
}

/* The first at or after it. */
static uint64_t raster_after(const LampPlayer *lamp, int64_t now) {
    uint64_t n = raster_before(lamp, now);
    return raster(lamp, n) < now ? n + 1 : n;
}

/* -------- made -------- */

/* How many frames a second there are, and how many go between two. */
static void choose_rate(LampPlayer *lamp) {
    const LampInfo *info = lamp->request.info;
    lamp->fps = lamp->request.fps;
    lamp->parts = 1;
    if ((lamp->request.instead.kind && !lamp->request.instead.wire) || !info)
        return;
    double wire = output_rate(info);
    if (lamp->fps > wire)
        lamp->fps = wire;
    double parts = number_floor(wire * WIRE_SHARE / lamp->fps);
    if (info->dither && strcmp(info->dither, "time") == 0 && parts > 1)
        lamp->parts = (uint32_t)parts;
}

static OutputRequest output_request(const LampPlayer *lamp) {
    return (OutputRequest){.info = lamp->request.info,
                           .shape = lamp->lamp.shape,
                           .pixels = lamp->lamp.scene.pixels,
                           .white = lamp->light_of.has_white,
                           .level = lamp->light_of.has_level,
                           .instead = lamp->request.instead,
                           .cid = lamp->request.cid};
}

static bool make_rooms(LampPlayer *lamp) {
    choose_rate(lamp);
    lamp->light_of = lamp_light(lamp->request.info, lamp->fps * lamp->parts);
    lamp->pipeline = pipeline_create(&lamp->light_of, lamp->lamp.shape);
    OutputRequest output = output_request(lamp);
    lamp->output = output_create(&output);
    if (!lamp->pipeline || !lamp->output)
        return false;
    uint32_t pixels = lamp->lamp.scene.pixels;
    lamp->light = memory_allocate(pixels, 3 * sizeof *lamp->light);
    lamp->bytes = memory_allocate(pixels, pipeline_columns(lamp->pipeline));
    return lamp->light && lamp->bytes;
}

LampPlayer *lamp_player_create(const LampPlayerRequest *request, const Overrides *overrides,
                               const Now *now, int64_t offset) {
    LampPlayer *lamp = memory_allocate(1, sizeof *lamp);
    if (!lamp)
        return NULL;
    lamp->request = *request;
    lamp->offset = offset;
    lamp->due = lamp->rest = lamp->repaint = LAMP_NEVER;
    if (lamp_make_declared(&lamp->lamp, request->world->context.program, request->info) &&
        make_rooms(lamp)) {
        int32_t index = request->tries ? TIMETABLE_NOT_SAID : request->lamp;
        PerformanceRequest play = {request->world, index, request->info, &lamp->lamp.scene};
        lamp->performance = performance_create(&play, overrides, now);
    }
    if (lamp->performance)
        return lamp;
    lamp_player_free(lamp);
    return NULL;
}

void lamp_player_free(LampPlayer *lamp) {
    if (!lamp)
        return;
    output_free(lamp->output);
    performance_free(lamp->performance);
    pipeline_free(lamp->pipeline);
    memory_release(lamp->light);
    memory_release(lamp->bytes);
    lamp_free(&lamp->lamp);
    memory_release(lamp);
}

/* -------- told -------- */

/* A frame is due at the next place of the raster. */
static void lamp_wake(LampPlayer *lamp, int64_t now) {
    lamp->next = raster_after(lamp, now);
    lamp->part = 0;
    lamp->due = raster(lamp, lamp->next);
    lamp->rest = LAMP_NEVER;
}

bool lamp_player_tell(LampPlayer *lamp, const Overrides *overrides, const Now *now,
                      int64_t offset) {
    if (!performance_tell(lamp->performance, overrides, now))
        return false;
    lamp->offset = offset;
    if (output_is_open(lamp->output))
        lamp_wake(lamp, now->utc - offset);
    return true;
}

static bool same_number(double a, double b) {
    return a <= b && a >= b;
}

static bool same_light(const PipelineLamp *a, const PipelineLamp *b) {
    return same_number(a->level, b->level) && same_number(a->gain[0], b->gain[0]) &&
           same_number(a->gain[1], b->gain[1]) && same_number(a->gain[2], b->gain[2]) &&
           same_number(a->white, b->white) && same_number(a->die, b->die) &&
           a->has_white == b->has_white && a->has_level == b->has_level &&
           a->level_free == b->level_free && a->dither == b->dither &&
           same_number(a->frames, b->frames) && a->guarded == b->guarded &&
           same_number(a->supply.channel_ampere, b->supply.channel_ampere) &&
           same_number(a->supply.idle_ampere, b->supply.idle_ampere) &&
           same_number(a->supply.limit_ampere, b->supply.limit_ampere);
}

static bool same_places(const Scene *a, const Scene *b) {
    if (a->pixels != b->pixels)
        return false;
    for (int i = 0; i < FIELD_COUNT; i++)
        if (memcmp(a->field[i], b->field[i], a->pixels * sizeof *a->field[i]) != 0)
            return false;
    return true;
}

void lamp_player_follow(LampPlayer *lamp, LampPlayer *old, const Now *now) {
    OutputRequest output = output_request(lamp);
    performance_follow(lamp->performance, old->performance, now->utc);
    lamp->counts = old->counts;
    if (same_light(&lamp->light_of, &old->light_of) &&
        same_places(&lamp->lamp.scene, &old->lamp.scene)) {
        Pipeline *fresh = lamp->pipeline;
        lamp->pipeline = old->pipeline;
        old->pipeline = fresh;
    }
    if (!output_serves(old->output, &output))
        return;
    LampOutput *fresh = lamp->output;
    lamp->output = old->output;
    old->output = fresh;
    if (output_is_open(lamp->output))
        lamp_wake(lamp, now->utc - lamp->offset);
}

/* -------- frames -------- */

static BackendResult lamp_send(LampPlayer *lamp, int64_t instant, int64_t now) {
    BackendFrame frame = {lamp->last, instant - lamp->request.start, lamp->light, lamp->bytes};
    BackendResult result = output_frame(lamp->output, &frame, now);
    const LampInfo *info = lamp->request.info;
    lamp->has_bytes = true;
    lamp->repaint = info && info->repaint > 0 ? now + (int64_t)info->repaint : LAMP_NEVER;
    if (result == BACKEND_FAILED) {
        lamp->counts.failures++;
        lamp->due = lamp->rest = lamp->repaint = LAMP_NEVER;
    }
    return result;
}

/* What comes after frame `last`: more, or a rest until an instant of utc. */
static void lamp_plan(LampPlayer *lamp, bool again, int64_t changes) {
    lamp->next = lamp->last + 1;
    lamp->part = lamp->moves && lamp->parts > 1 ? 1 : 0;
    lamp->rest = LAMP_NEVER;
    if (lamp->moves || again) {
        int64_t here = raster(lamp, lamp->last), next = raster(lamp, lamp->next);
        lamp->due = lamp->part ? here + (next - here) / lamp->parts : next;
        return;
    }
    lamp->due = LAMP_NEVER;
    if (changes == TIMETABLE_NEVER)
        return;
    lamp->next = raster_after(lamp, changes - lamp->offset);
    if (lamp->next <= lamp->last)
        lamp->next = lamp->last + 1;
    lamp->rest = raster(lamp, lamp->next);
}

/* Not all memory that it needs is there: later. */
static void lamp_put_off(LampPlayer *lamp, int64_t now) {
    lamp->next = raster_after(lamp, now + WITHOUT_MEMORY);
    lamp->due = raster(lamp, lamp->next);
    lamp->rest = LAMP_NEVER;
}

static unsigned lamp_frame(LampPlayer *lamp, int64_t now) {
    uint64_t n = raster_before(lamp, now);
    if (n > lamp->next) {
        lamp->counts.dropped += n - lamp->next;
        lamp->counts.late++;
    }
    int64_t instant = raster(lamp, n), utc = instant + lamp->offset;
    double seen = (double)(instant - lamp->request.start) * lamp->request.seen;
    if (!performance_light(lamp->performance, utc, lamp->light)) {
        lamp_put_off(lamp, now);
        return LAMP_DID_FRAME;
    }
    uint64_t held = pipeline_held(lamp->pipeline);
    performance_show(lamp->performance, utc, lamp->pipeline, (int64_t)number_nearest(seen),
                     lamp->light);
    bool holds = pipeline_held(lamp->pipeline) != held;
    int64_t changes = performance_changes(lamp->performance, utc);
    lamp->last = n;
    lamp->moves = changes <= utc;
    pipeline_bytes(lamp->pipeline, lamp->light, n * lamp->parts, !lamp->moves, lamp->bytes);
    lamp->counts.rendered++;
    lamp->counts.held += holds;
    if (lamp->request.before)
        lamp->request.before(lamp->request.context, lamp, utc);
    BackendResult sent = lamp_send(lamp, instant, now);
    if (sent == BACKEND_FAILED)
        return LAMP_DID_FRAME | LAMP_PORT_LOST;
    bool busy = sent == BACKEND_BUSY && !output_minds_itself(lamp->output);
    lamp->counts.shown += !busy;
    lamp->counts.dropped += busy;
    int64_t most = lamp->request.at_least > 0 ? utc + lamp->request.at_least : changes;
    lamp_plan(lamp, holds || busy, changes < most ? changes : most);
    return LAMP_DID_FRAME;
}

/* One of those between frame `last` and the next: the latest that is due. */
static unsigned lamp_between(LampPlayer *lamp, int64_t now) {
    int64_t here = raster(lamp, lamp->last), next = raster(lamp, lamp->next);
    uint32_t part = (uint32_t)((now - here) * lamp->parts / (next - here));
    if (part < lamp->part)
        part = lamp->part;
    pipeline_bytes(lamp->pipeline, lamp->light, lamp->last * lamp->parts + part, false,
                   lamp->bytes);
    if (lamp_send(lamp, here + (next - here) * part / lamp->parts, now) == BACKEND_FAILED)
        return LAMP_DID_FRAME | LAMP_PORT_LOST;
    lamp->counts.between++;
    lamp->part = part + 1 < lamp->parts ? part + 1 : 0;
    lamp->due = lamp->part ? here + (next - here) * lamp->part / lamp->parts : next;
    return LAMP_DID_FRAME;
}

static unsigned lamp_repaint(LampPlayer *lamp, int64_t now) {
    lamp->counts.repeated++;
    if (lamp_send(lamp, raster(lamp, lamp->last), now) == BACKEND_FAILED)
        return LAMP_DID_REPAINT | LAMP_PORT_LOST;
    return LAMP_DID_REPAINT;
}

static unsigned lamp_open(LampPlayer *lamp, int64_t now) {
    if (output_next_try(lamp->output) > now)
        return 0;
    if (!output_open(lamp->output, now))
        return LAMP_DID_PORT | LAMP_PORT_LOST;
    lamp_wake(lamp, now);
    if (!lamp->has_bytes) { /* the first is shown at once */
        lamp->next = raster_before(lamp, now);
        lamp->due = raster(lamp, lamp->next);
    }
    return LAMP_DID_PORT;
}

unsigned lamp_player_step(LampPlayer *lamp, int64_t now) {
    unsigned did = 0;
    if (!output_is_open(lamp->output))
        did |= lamp_open(lamp, now);
    if (!output_is_open(lamp->output))
        return did;
    if (output_due(lamp->output) <= now) {
        did |= LAMP_DID_PORT;
        if (output_again(lamp->output, now) == BACKEND_FAILED) {
            lamp->counts.failures++;
            lamp->due = lamp->rest = lamp->repaint = LAMP_NEVER;
            return did | LAMP_PORT_LOST;
        }
    }
    bool frame = lamp->rest <= now || (lamp->due <= now && !lamp->part) ||
                 (lamp->due <= now && raster(lamp, lamp->next) <= now);
    if (frame)
        return did | lamp_frame(lamp, now);
    if (lamp->due <= now)
        return did | lamp_between(lamp, now);
    return lamp->repaint <= now && lamp->has_bytes ? did | lamp_repaint(lamp, now) : did;
}

int64_t lamp_player_due(const LampPlayer *lamp) {
    if (!output_is_open(lamp->output))
        return output_next_try(lamp->output);
    int64_t due = output_due(lamp->output);
    due = lamp->due < due ? lamp->due : due;
    return lamp->repaint < due ? lamp->repaint : due;
}

int64_t lamp_player_wakes(const LampPlayer *lamp) {
    bool rests = output_is_open(lamp->output) && lamp->rest != LAMP_NEVER;
    return rests ? lamp->rest + lamp->offset : TIMETABLE_NEVER;
}

const char *lamp_player_name(const LampPlayer *lamp) {
    return lamp->request.info ? lamp->request.info->name : "";
}

int32_t lamp_player_index(const LampPlayer *lamp) {
    return lamp->request.lamp;
}

LampOutput *lamp_player_output(const LampPlayer *lamp) {
    return lamp->output;
}

const LampCounts *lamp_player_counts(const LampPlayer *lamp) {
    return &lamp->counts;
}

bool lamp_player_tries(const LampPlayer *lamp) {
    return lamp->request.tries;
}

const float *lamp_player_light(const LampPlayer *lamp, uint32_t *pixels) {
    *pixels = lamp->lamp.scene.pixels;
    return lamp->has_bytes ? lamp->light : NULL;
}
