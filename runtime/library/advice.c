#include "runtime/library/advice.h"

#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/library/never.h"
#include "runtime/light/encode.h"
#include "runtime/light/lightness.h"

enum { MOMENTS = 64 };
/* Pixel instructions that all advice on one program may spend, about a second: a stranger's file
 * may be large, and then nothing is said. */
static const double BUDGET = 2e8;

typedef struct Advice {
    Compilation *compilation;
    const Node *items;
    double budget;
} Advice;
static const double TEN_MINUTES = 600e6;

/* Mean relative luminance of one moment. */
static double luminance(Vm *machine, uint32_t pixels, double microseconds, double hour,
                        float *light) {
    Moment moment = {{[INPUT_T] = microseconds, [INPUT_HOUR] = hour}};
    vm_render(machine, &moment, light);
    double sum = 0;
    encode_gamut(light, pixels, light);
    for (uint32_t i = 0; i < pixels; i++)
        sum += lightness_luminance(light + 3 * (size_t)i);
    return sum / pixels;
}

/* The routine that a NAME or MEMBER plays; NULL: `off`, or none. */
static const RoutineInfo *find_routine(const Program *program, const Node *name) {
    for (uint16_t i = 0; i < program->routine_count; i++) {
        const char *known = program->routines[i].name;
        if (name->kind == NODE_NAME && strcmp(known, name->text) == 0)
            return &program->routines[i];
        size_t prefix = name->kind == NODE_MEMBER ? strlen(name->a->text) : 0;
        if (prefix && strncmp(known, name->a->text, prefix) == 0 && known[prefix] == '.' &&
            strcmp(known + prefix + 1, name->b->text) == 0)
            return &program->routines[i];
    }
    return NULL;
}

/* Takes the work of showing a routine from the budget; false where it is used up. */
static bool afford(Advice *advice, const Code *code, uint32_t pixels) {
    double instructions = 1;
    for (int section = 0; section < SECTION_COUNT; section++)
        instructions += code->lengths[section];
    advice->budget -= instructions * MOMENTS * (pixels + 63);
    return advice->budget >= 0;
}

static const LampInfo *find_lamp(const Compilation *compilation, const Node *on) {
    uint32_t count;
    const LampInfo *lamps = lang_lamps(compilation, &count);
    for (uint32_t i = 0; i < count; i++)
        if (!on || strcmp(lamps[i].name, on->a->text) == 0)
            return &lamps[i];
    return NULL;
}

/* The brightest of a routine: its last moment where it lasts, else of ten minutes. -1: not known,
 * for lack of memory or because it would take long. */
static double brightness(Advice *advice, const RoutineInfo *routine, const Node *on) {
    const Compilation *compilation = advice->compilation;
    const Program *program = lang_program(compilation);
    const LampInfo *info = find_lamp(compilation, on);
    Lamp lamp = {0};
    double most = -1;
    DialValue *dials = dial_defaults(program);
    if (dials && lamp_make_declared(&lamp, program, info)) {
        uint32_t pixels = lamp.scene.pixels;
        float *light = memory_allocate(pixels, 3 * sizeof *light);
        bool shown = light && afford(advice, &routine->code, pixels);
        Vm *machine = shown ? vm_create(&routine->code, &lamp.scene, dials) : NULL;
        for (int i = 0; machine && i < MOMENTS; i++) {
            double time = routine->lasts > 0 ? routine->lasts : i * TEN_MINUTES / MOMENTS;
            double value = luminance(machine, pixels, time, i * 24.0 / MOMENTS, light);
            most = value > most ? value : most;
        }
        vm_free(machine);
        memory_release(light);
    }
    memory_release(dials);
    lamp_free(&lamp);
    return most;
}

/* What is left on when a routine and those behind it are over; NULL: `off`. */
static const RoutineInfo *last_of(const Program *program, const RoutineInfo *routine) {
    for (uint16_t steps = 0; routine && steps < program->routine_count; steps++) {
        if (routine->then == ROUTINE_OFF)
            return NULL;
        if (routine->then == ROUTINE_NONE)
            break;
        routine = &program->routines[routine->then];
    }
    return routine;
}

static bool share_a_lamp(const Node *a, const Node *b) {
    return !a || !b || strcmp(a->a->text, b->a->text) == 0;
}

/* Another entry that ends this one: an `at` or `by` without an end of its own, for the lamp. */
static bool is_ended(const Node *items, const Node *entry) {
    for (const Node *other = items; other; other = other->next)
        if (other != entry && other->kind == NODE_ENTRY && !other->d->d &&
            share_a_lamp(entry->d->c, other->d->c))
            return true;
    return false;
}

static void advise(Advice *advice, const Node *entry) {
    Compilation *compilation = advice->compilation;
    const Program *program = lang_program(compilation);
    const Node *play = entry->d;
    const RoutineInfo *routine = find_routine(program, play->a);
    if (!routine)
        return;
    if (entry->word == ENTRY_BY && routine->lasts > 0) {
        double end = brightness(advice, routine, play->c);
        if (end >= 0 && end < ADVICE_DARK)
            diagnostics_report(lang_diagnostics(compilation), SEVERITY_WARNING, "by-ends-dark",
                               play->a->span, SPAN_NONE, "`at` where it should begin then",
                               "`%s` is dark at its last moment, and `by` is when it is over",
                               routine->name);
    }
    const RoutineInfo *last = last_of(program, routine);
    if (!last || play->d || entry->a->kind == NODE_MOMENT_RANGE || is_ended(advice->items, entry))
        return;
    if (brightness(advice, last, play->c) >= ADVICE_BRIGHT)
        diagnostics_report(lang_diagnostics(compilation), SEVERITY_WARNING,
                           "bright-round-the-clock", play->a->span, SPAN_NONE,
                           "an end, `for 2h` or `until 09:00`, or another entry: "
                           "`at 09:00 play off`",
                           "`%s` is bright and stays on round the clock: nothing else begins "
                           "before it comes again",
                           last->name);
}

void advice_give(Compilation *compilation) {
    const SourceTree *tree = lang_main_tree(compilation);
    if (!lang_program(compilation) || !tree)
        return;
    Advice advice = {compilation, tree->items, BUDGET};
    for (const Node *item = tree->items; item; item = item->next)
        if (item->kind == NODE_ENTRY)
            advise(&advice, item);
    never_find(compilation);
}
