#include "runtime/player/output.h"

#include <stdio.h>
#include <string.h>

#include "backends/e131.h"
#include "backends/spi.h"
#include "runtime/core/memory.h"
#include "runtime/core/program.h"
#include "runtime/library/lamp.h"

struct LampOutput {
    OutputRequest request;
    LampInfo info; /* with texts of its own */
    char *port, *order, *ends, *chip;
    const BackendKind *kind;
    SpiOptions spi;
    E131Options e131;
    TerminalOptions terminal;
    Backend *backend; /* NULL: not open */
    int64_t next_try; /* while it is not open */
    int64_t pause;    /* before the try after that */
    uint32_t failures;
    BackendError error; /* the last thing that went wrong */
};

static bool is_network(const char *port) {
    return port && strncmp(port, "e131:", 5) == 0;
}

static bool ends_last(const LampInfo *info) {
    return info->ends && strcmp(info->ends, "last") == 0;
}

double output_rate(const LampInfo *info) {
    return is_network(info->port) ? 1e6 / E131_BETWEEN : lamp_frames(info);
}

bool output_is_network(const LampInfo *info) {
    return is_network(info->port);
}

uint32_t output_universe_behind(const LampInfo *info) {
    return info->universe + e131_universes(info->pixels, lamp_chip(info)->white);
}

bool output_collides(const LampInfo *a, const LampInfo *b) {
    return a->port && b->port && strcmp(a->port, b->port) == 0 &&
           (!is_network(a->port) ||
            (a->universe < output_universe_behind(b) && b->universe < output_universe_behind(a)));
}

/* -------- made and freed -------- */

static bool copy(const char *text, char **into) {
    *into = text ? memory_copy_text(text, strlen(text)) : NULL;
    return !text || *into;
}

static bool output_copy(LampOutput *output, const LampInfo *info) {
    if (!info)
        return true;
    output->info = *info;
    bool copied = copy(info->port, &output->port) && copy(info->order, &output->order) &&
                  copy(info->ends, &output->ends) && copy(info->chip, &output->chip);
    output->info.port = output->port;
    output->info.order = output->order;
    output->info.ends = output->ends;
    output->info.chip = output->chip;
    return copied;
}

TerminalOptions output_terminal(const Shape *shape, Depth depth, bool ascii) {
    const double *const *fields = shape_fields(shape);
    static const Arrangement arrangements[] = {[FORM_STRIP] = ARRANGE_STRIP,
                                               [FORM_RING] = ARRANGE_RING,
                                               [FORM_GRID] = ARRANGE_GRID,
                                               [FORM_BALL] = ARRANGE_BALL,
                                               [FORM_POINTS] = ARRANGE_POINTS};
    return (TerminalOptions){.arrangement = arrangements[shape_form(shape)],
                             .x = fields[FIELD_X],
                             .y = fields[FIELD_Y],
                             .z = fields[FIELD_Z],
                             .across = shape_across(shape),
                             .up = shape_up(shape),
                             .depth = depth,
                             .ascii = ascii};
}

LampOutput *output_create(const OutputRequest *request) {
    LampOutput *output = memory_allocate(1, sizeof *output);
    if (!output)
        return NULL;
    output->request = *request;
    output->pause = LAMP_OUTPUT_FIRST;
    output->next_try = INT64_MIN;
    if (!output_copy(output, request->info)) {
        output_free(output);
        return NULL;
    }
    output->request.info = request->info ? &output->info : NULL;
    output->kind = request->instead.kind      ? request->instead.kind
                   : is_network(output->port) ? &e131_backend
                                              : &spi_backend;
    return output;
}

static void output_close(LampOutput *output) {
    BackendError error;
    if (output->backend && output->kind->close(output->backend, &error) == BACKEND_FAILED)
        output->error = error;
    output->backend = NULL;
}

void output_free(LampOutput *output) {
    if (!output)
        return;
    output_close(output);
    memory_release(output->port);
    memory_release(output->order);
    memory_release(output->ends);
    memory_release(output->chip);
    memory_release(output);
}

static bool same_text(const char *a, const char *b) {
    return a == b || (a && b && strcmp(a, b) == 0);
}

static bool same_port(const LampInfo *a, const LampInfo *b) {
    return same_text(a->port, b->port) && same_text(a->order, b->order) &&
           same_text(a->ends, b->ends) && lamp_chip(a) == lamp_chip(b) &&
           a->clock_hertz >= b->clock_hertz && a->clock_hertz <= b->clock_hertz &&
           a->universe == b->universe && a->priority == b->priority;
}

bool output_serves(const LampOutput *output, const OutputRequest *request) {
    const OutputRequest *own = &output->request;
    bool same = own->pixels == request->pixels && own->white == request->white &&
                own->level == request->level && own->instead.kind == request->instead.kind &&
                own->instead.descriptor == request->instead.descriptor;
    if (!same || own->instead.kind)
        return same && own->instead.kind != &terminal_backend;
    return own->info && request->info && same_port(own->info, request->info);
}

/* -------- open -------- */

bool output_is_open(const LampOutput *output) {
    return output->backend != NULL;
}

int64_t output_next_try(const LampOutput *output) {
    return output->next_try;
}

static const void *output_options(LampOutput *output) {
    const OutputRequest *request = &output->request;
    const LampInfo *info = request->info;
    if (output->kind == &terminal_backend) {
        const OutputInstead *instead = &request->instead;
        output->terminal = output_terminal(request->shape, instead->depth, instead->ascii);
        output->terminal.status = true;
        return &output->terminal;
    }
    if (request->instead.kind)
        return request->instead.own;
    if (output->kind == &e131_backend) {
        output->e131 = (E131Options){.port = info->port,
                                     .order = info->order,
                                     .universe = info->universe,
                                     .priority = info->priority,
                                     .cid = request->cid,
                                     .stays = ends_last(info)};
        return &output->e131;
    }
    output->spi = (SpiOptions){.path = info->port,
                               .chip = lamp_chip(info),
                               .order = info->order,
                               .clock_hertz = (uint32_t)info->clock_hertz,
                               .ends = ends_last(info) ? SPI_END_LAST : SPI_END_DARK};
    return &output->spi;
}

static void output_wait(LampOutput *output, int64_t monotonic) {
    output->failures++;
    output->next_try = monotonic + output->pause;
    output->pause *= 2;
    if (output->pause > LAMP_OUTPUT_MOST)
        output->pause = LAMP_OUTPUT_MOST;
}

bool output_open(LampOutput *output, int64_t monotonic) {
    const OutputRequest *request = &output->request;
    BackendOptions options = {.pixels = request->pixels,
                              .white = request->white,
                              .level = request->level,
                              .descriptor = request->instead.descriptor,
                              .own = output_options(output)};
    output->backend = output->kind->open(&options, &output->error);
    if (!output->backend)
        output_wait(output, monotonic);
    return output->backend != NULL;
}

/* -------- frames -------- */

static BackendResult output_took(LampOutput *output, BackendResult result, int64_t monotonic) {
    if (result == BACKEND_FAILED) {
        BackendError error = output->error;
        output_close(output);
        output->error = error;
        output_wait(output, monotonic);
    } else {
        output->pause = LAMP_OUTPUT_FIRST;
        output->failures = 0;
    }
    return result;
}

BackendResult output_frame(LampOutput *output, const BackendFrame *frame, int64_t monotonic) {
    return output_took(output, output->kind->frame(output->backend, frame, &output->error),
                       monotonic);
}

bool output_takes_light(const LampOutput *output) {
    return output->kind->takes_light;
}

bool output_minds_itself(const LampOutput *output) {
    return output->kind->again != NULL;
}

int64_t output_due(const LampOutput *output) {
    return output->backend && output->kind->due ? output->kind->due(output->backend)
                                                : BACKEND_NEVER;
}

BackendResult output_again(LampOutput *output, int64_t monotonic) {
    return output_took(output, output->kind->again(output->backend, &output->error), monotonic);
}

Backend *output_backend(const LampOutput *output) {
    return output->backend;
}

const char *output_sentence(const LampOutput *output) {
    return output->error.sentence;
}

uint32_t output_failures(const LampOutput *output) {
    return output->failures;
}

const char *output_name(const LampOutput *output) {
    return output->request.instead.kind ? output->kind->name : output->info.port;
}
