/* The public functions of gloam.h, over the modules of the house. */
#include "runtime/library/gloam.h"

#include <math.h>
#include <string.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/library/advice.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"

struct gloam_program {
    Compilation *compilation; /* NULL: bytecode */
    Program *bytecode;
    const Program *program; /* NULL: errors */
    gloam_diagnostic *diagnostics;
    size_t diagnostic_count;
    char *name, *why; /* of bytecode that was refused */
};

struct gloam_routine {
    const Program *program;
    Lamp lamp;
    DialValue *dials;
    Vm *machine;
};

const char *gloam_version(void) {
    return GLOAM_VERSION;
}

/* ---- programs ---- */

static gloam_diagnostic public_diagnostic(const Diagnostics *sink, const Diagnostic *from) {
    gloam_diagnostic to = {.severity = (gloam_severity)from->severity,
                           .code = from->code,
                           .message = from->message,
                           .hint = from->hint};
    if (from->span.file == SPAN_NONE.file)
        return to;
    to.file = diagnostics_file_name(sink, from->span.file);
    diagnostics_position(sink, from->span.file, from->span.begin, &to.line, &to.column);
    diagnostics_position(sink, from->span.file, from->span.end, &to.end_line, &to.end_column);
    return to;
}

static gloam_program *from_compilation(Compilation *compilation) {
    gloam_program *made = compilation ? memory_allocate(1, sizeof *made) : NULL;
    if (!made) {
        lang_free(compilation);
        return NULL;
    }
    advice_give(compilation);
    made->compilation = compilation;
    made->program = lang_program(compilation);
    const Diagnostics *sink = lang_diagnostics(compilation);
    size_t count = diagnostics_total(sink);
    made->diagnostics = memory_allocate(count, sizeof *made->diagnostics);
    if (!made->diagnostics) {
        gloam_free(made);
        return NULL;
    }
    for (size_t i = 0; i < count; i++) {
        const Diagnostic *diagnostic = diagnostics_at(sink, i);
        if (diagnostic)
            made->diagnostics[made->diagnostic_count++] = public_diagnostic(sink, diagnostic);
    }
    return made;
}

gloam_program *gloam_compile_file(const char *path) {
    path = path ? path : "";
    DiskReader disk;
    disk_reader_start(&disk);
    gloam_program *made = from_compilation(lang_compile(&disk.reader, path));
    disk_reader_end(&disk);
    return made;
}

gloam_program *gloam_compile_text(const char *name, const char *text, size_t length) {
    name = name ? name : "text";
    TextReader one = {text ? text : "", text ? length : 0};
    LangReader reader = {text_reader_read, &one};
    return from_compilation(lang_compile(&reader, name));
}

gloam_program *gloam_load(const char *name, const void *bytes, size_t length) {
    gloam_program *made = memory_allocate(1, sizeof *made);
    if (!made)
        return NULL;
    char why[200];
    name = name ? name : "bytecode";
    made->bytecode = bytecode_read(bytes ? bytes : "", bytes ? length : 0, why, sizeof why);
    made->program = made->bytecode;
    if (made->program)
        return made;
    made->name = memory_copy_text(name, strlen(name));
    made->why = memory_copy_text(why, strlen(why));
    made->diagnostics = memory_allocate(1, sizeof *made->diagnostics);
    if (!made->name || !made->why || !made->diagnostics) {
        gloam_free(made);
        return NULL;
    }
    made->diagnostic_count = 1;
    made->diagnostics[0] = (gloam_diagnostic){
        .severity = GLOAM_ERROR, .file = made->name, .code = "bytecode", .message = made->why};
    return made;
}

void gloam_free(gloam_program *program) {
    if (!program)
        return;
    lang_free(program->compilation);
    program_free(program->bytecode);
    memory_release(program->diagnostics);
    memory_release(program->name);
    memory_release(program->why);
    memory_release(program);
}

int gloam_ready(const gloam_program *program) {
    return program && program->program;
}

size_t gloam_diagnostic_count(const gloam_program *program) {
    return program ? program->diagnostic_count : 0;
}

const gloam_diagnostic *gloam_diagnostic_at(const gloam_program *program, size_t index) {
    return index < gloam_diagnostic_count(program) ? &program->diagnostics[index] : NULL;
}

/* ---- what is in a program ---- */

size_t gloam_routine_count(const gloam_program *program) {
    return gloam_ready(program) ? program->program->routine_count : 0;
}

const char *gloam_routine_name(const gloam_program *program, size_t index) {
    return index < gloam_routine_count(program) ? program->program->routines[index].name : NULL;
}

int64_t gloam_routine_lasts(const gloam_program *program, size_t index) {
    return index < gloam_routine_count(program) ? (int64_t)program->program->routines[index].lasts
                                                : 0;
}

size_t gloam_dial_count(const gloam_program *program) {
    return gloam_ready(program) ? program->program->dial_count : 0;
}

int gloam_dial_at(const gloam_program *program, size_t index, gloam_dial *dial) {
    if (!dial || index >= gloam_dial_count(program))
        return 0;
    const DialInfo *info = &program->program->dials[index];
    *dial = (gloam_dial){.name = info->name,
                         .label = info->label,
                         .type = (gloam_dial_type)info->type,
                         .ranged = info->ranged,
                         .from = info->from,
                         .to = info->to,
                         .value = {info->number}};
    if (info->type == DIAL_COLOUR) {
        dial->value[0] = (double)info->colour.r;
        dial->value[1] = (double)info->colour.g;
        dial->value[2] = (double)info->colour.b;
    }
    return 1;
}

/* ---- lamps ---- */

gloam_lamp gloam_strip(uint32_t pixels) {
    return (gloam_lamp){.shape = GLOAM_STRIP, .pixels = pixels};
}

gloam_lamp gloam_ring(uint32_t pixels) {
    return (gloam_lamp){.shape = GLOAM_RING, .pixels = pixels};
}

gloam_lamp gloam_grid(uint32_t across, uint32_t up) {
    return (gloam_lamp){.shape = GLOAM_GRID, .across = across, .up = up};
}

gloam_lamp gloam_ball(uint32_t frequency) {
    return (gloam_lamp){.shape = GLOAM_BALL, .frequency = frequency};
}

gloam_lamp gloam_declared(const char *name) {
    return (gloam_lamp){.declared = name ? name : ""};
}

static const LampInfo *lamps_of(const gloam_program *program, uint32_t *count) {
    *count = 0;
    return program && program->compilation ? lang_lamps(program->compilation, count) : NULL;
}

size_t gloam_lamp_count(const gloam_program *program) {
    uint32_t count;
    lamps_of(program, &count);
    return count;
}

const char *gloam_lamp_name(const gloam_program *program, size_t index) {
    uint32_t count;
    const LampInfo *lamps = lamps_of(program, &count);
    return index < count ? lamps[index].name : NULL;
}

/* ---- routines ---- */

static bool request_of(const gloam_lamp *lamp, ShapeRequest *request, ShapePoint **points) {
    static const ShapeForm FORMS[] = {FORM_STRIP, FORM_RING, FORM_GRID, FORM_BALL, FORM_POINTS};
    *points = NULL;
    if ((unsigned)lamp->shape >= sizeof FORMS / sizeof *FORMS)
        return false;
    *request = (ShapeRequest){.form = FORMS[lamp->shape],
                              .pixels = lamp->pixels,
                              .across = lamp->across,
                              .up = lamp->up,
                              .frequency = lamp->frequency,
                              .point_count = lamp->pixels};
    if (lamp->shape != GLOAM_PLACES)
        return true;
    if (!lamp->places || lamp->pixels > LIMIT_PIXELS)
        return false;
    *points = memory_allocate(lamp->pixels, sizeof **points);
    for (uint32_t i = 0; *points && i < lamp->pixels; i++) {
        const double *place = lamp->places + 3 * (size_t)i;
        if (!isfinite(place[0]) || !isfinite(place[1]) || !isfinite(place[2]))
            return false;
        (*points)[i] = (ShapePoint){place[0], place[1], place[2]};
    }
    request->points = *points;
    return *points != NULL;
}

/* NULL, or why the lamp cannot be. */
static const char *make_lamp(const gloam_program *program, const gloam_lamp *lamp, Lamp *made) {
    uint32_t count;
    const LampInfo *lamps = lamps_of(program, &count), *info = NULL;
    for (uint32_t i = 0; lamp->declared && i < count; i++)
        if (strcmp(lamps[i].name, lamp->declared) == 0)
            info = &lamps[i];
    if (lamp->declared && !info)
        return "the program declares no lamp of that name";
    ShapeRequest request;
    ShapePoint *points;
    bool known = info ? lamp_request(info, &request, &points) : request_of(lamp, &request, &points);
    uint32_t pixels = known ? shape_count(&request) : 0;
    const char *trouble = NULL;
    if (info && !known)
        trouble = "out of memory";
    else if (!known || !pixels || (lamp->pixels && !info && lamp->pixels != pixels))
        trouble = "there is no lamp of that shape and number of pixels";
    else if (!lamp_make(made, program->program, &request, info))
        trouble = "out of memory";
    memory_release(points);
    return trouble;
}

static const RoutineInfo *find_routine(const gloam_program *program, const char *name) {
    size_t count = gloam_routine_count(program);
    if (!name)
        return count == 1 ? program->program->routines : NULL;
    for (size_t i = 0; i < count; i++)
        if (strcmp(program->program->routines[i].name, name) == 0)
            return &program->program->routines[i];
    return NULL;
}

gloam_routine *gloam_open(const gloam_program *program, const char *name, const gloam_lamp *lamp,
                          const char **reason) {
    const char *trouble = NULL;
    const RoutineInfo *info = find_routine(program, name);
    gloam_routine *routine = memory_allocate(1, sizeof *routine);
    if (!routine)
        trouble = "out of memory";
    else if (!gloam_ready(program))
        trouble = "the program has errors";
    else if (!info)
        trouble = name ? "the program has no routine of that name"
                       : "the program has several routines, or none: name one";
    else if (!lamp)
        trouble = "no lamp was given";
    else
        trouble = make_lamp(program, lamp, &routine->lamp);
    if (!trouble) {
        routine->program = program->program;
        routine->dials = dial_defaults(program->program);
        if (routine->dials)
            routine->machine = vm_create(&info->code, &routine->lamp.scene, routine->dials);
        if (!routine->machine)
            trouble = "out of memory";
    }
    if (reason)
        *reason = trouble;
    if (!trouble)
        return routine;
    gloam_close(routine);
    return NULL;
}

void gloam_close(gloam_routine *routine) {
    if (!routine)
        return;
    vm_free(routine->machine);
    memory_release(routine->dials);
    lamp_free(&routine->lamp);
    memory_release(routine);
}

uint32_t gloam_pixels(const gloam_routine *routine) {
    return routine ? routine->lamp.scene.pixels : 0;
}

int gloam_set(gloam_routine *routine, const char *dial, const double *value) {
    if (!routine || !dial || !value)
        return 0;
    uint16_t index = dial_find(routine->program, dial, strlen(dial));
    if (index == routine->program->dial_count)
        return 0;
    const DialInfo *info = &routine->program->dials[index];
    DialValue given = {.number = value[0]};
    if (info->type == DIAL_COLOUR) {
        given.number = 0;
        given.colour = (Colour){(float)value[0], (float)value[1], (float)value[2]};
    }
    routine->dials[index] = dial_held(info, given);
    vm_set_dials(routine->machine, routine->dials);
    return 1;
}

void gloam_render(gloam_routine *routine, int64_t microseconds, const gloam_moment *moment,
                  float *light) {
    if (!routine || !light)
        return;
    Moment inputs = {{[INPUT_T] = number_microseconds((double)microseconds)}};
    if (moment) {
        inputs.input[INPUT_HOUR] = number_finite(moment->hour);
        inputs.input[INPUT_MOONLIT] = number_finite(moment->moonlit);
        inputs.input[INPUT_MOONAGE] = number_finite(moment->moonage);
        inputs.input[INPUT_SUNHEIGHT] = number_finite(moment->sun_height);
    }
    vm_render(routine->machine, &inputs, light);
}

int64_t gloam_rests_from(const gloam_routine *routine) {
    double rests = routine ? vm_still_from(routine->machine) : 0;
    return rests <= LIMIT_MICROSECONDS ? (int64_t)rests : -1; /* later than any moment: never */
}
