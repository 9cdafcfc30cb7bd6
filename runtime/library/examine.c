#include "runtime/library/examine.h"

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/light/lightness.h"
#include "runtime/light/night.h"

#define HOUR 3600e6

/* Nanoseconds, about: of an instruction of a frame and of a pixel, and of the steps behind the
 * machine for a pixel. */
enum { FRAME_INSTRUCTION = 40, PIXEL_INSTRUCTION = 3, STEPS = 60 };
/* The same for a pixel before the first frame. */
static const double OPENING = 150;

typedef struct Show {
    const ExamineRequest *request;
    const RoutineInfo *routine;
    Lamp lamp;
    Pipeline *pipeline;
    Flash *flash;
    DialValue *dials;
    Vm *machine;
    float *light;
    uint8_t *bytes;
} Show;

static bool show_open(Show *show) {
    const Program *program = show->request->program;
    const LampInfo *info = show->request->lamp;
    bool made = lamp_make_declared(&show->lamp, program, info);
    PipelineLamp light = lamp_light(info, 0);
    light.guarded = false;
    if (!made)
        return false;
    uint32_t pixels = show->lamp.scene.pixels;
    show->dials = dial_defaults(program);
    show->pipeline = pipeline_create(&light, show->lamp.shape);
    show->flash = flash_create(pixels);
    show->light = memory_allocate(pixels, 3 * sizeof *show->light);
    if (show->pipeline)
        show->bytes = memory_allocate(pixels, pipeline_columns(show->pipeline));
    if (show->dials)
        show->machine = vm_create(&show->routine->code, &show->lamp.scene, show->dials);
    return show->flash && show->light && show->bytes && show->machine;
}

static void show_close(Show *show) {
    vm_free(show->machine);
    memory_release(show->dials);
    memory_release(show->bytes);
    memory_release(show->light);
    flash_free(show->flash);
    pipeline_free(show->pipeline);
    lamp_free(&show->lamp);
}

/* `time` is since looking began. */
static void show_frame(Show *show, int64_t time) {
    const ExamineRequest *request = show->request;
    double hour = number_modulo(request->hour + (double)time / HOUR, 24.0);
    Moment moment = {{[INPUT_T] = (double)(request->start + time), [INPUT_HOUR] = hour}};
    vm_render(show->machine, &moment, show->light);
    pipeline_show(show->pipeline, time, request->ceiling, show->light);
    flash_frame(show->flash, time, show->light);
    pipeline_bytes(show->pipeline, show->light, 0, true, show->bytes);
}

/* Takes the frame that stays for `frames` frames into account. */
static void account(const Show *show, int64_t time, double frames, Examined *examined) {
    uint32_t pixels = show->lamp.scene.pixels;
    double ampere = pipeline_current(show->pipeline, show->bytes), light = 0;
    if (ampere > examined->peak_ampere) {
        examined->peak_ampere = ampere;
        examined->peak_at = time;
    }
    examined->mean_ampere += ampere * frames; /* the sum, as yet */
    for (uint32_t i = 0; i < pixels; i++)
        light += lightness_luminance(show->light + 3 * (size_t)i);
    light /= pixels;
    double melanopic = night_melanopic(show->light, pixels);
    bool first = time == 0;
    if (first || light < examined->light_least)
        examined->light_least = light;
    if (light > examined->light_most)
        examined->light_most = light;
    if (first || melanopic < examined->melanopic_least)
        examined->melanopic_least = melanopic;
    if (melanopic > examined->melanopic_most)
        examined->melanopic_most = melanopic;
}

/* What one frame takes. */
static double frame_work(const Show *show) {
    const Code *code = &show->routine->code;
    return (double)FRAME_INSTRUCTION * code->lengths[SECTION_FRAME] +
           (double)show->lamp.scene.pixels *
               ((double)PIXEL_INSTRUCTION * code->lengths[SECTION_PIXEL] + STEPS);
}

static int64_t frame_at(int64_t n) {
    return (int64_t)number_nearest((double)n * 1e6 / 60);
}

static void look(Show *show, double *work, Examined *examined) {
    const int64_t frames = (int64_t)number_floor((double)examined->wanted * 60 / 1e6) + 1;
    const double still = vm_still_from(show->machine) - (double)show->request->start;
    const double each = frame_work(show);
    int64_t n = 0;
    for (; n < frames && *work >= each; n++) {
        int64_t time = frame_at(n);
        bool last = (double)time >= still;
        show_frame(show, time);
        *work -= each;
        account(show, time, last ? (double)(frames - n) : 1, examined);
        if (last)
            n = frames - 1;
    }
    examined->length = n == frames ? examined->wanted : frame_at(n);
    if (n > 0)
        examined->mean_ampere /= (double)n;
    examined->flashes = *flash_seen(show->flash);
    examined->dimmed = pipeline_dimmed(show->pipeline) > 0;
}

bool examine(const ExamineRequest *request, double *work, Examined *examined) {
    Show show = {.request = request, .routine = &request->program->routines[request->routine]};
    int64_t lasts = (int64_t)show.routine->lasts;
    *examined = (Examined){.wanted = EXAMINE_LENGTH};
    if (lasts > 0)
        examined->wanted = lasts > request->start ? lasts - request->start : 0;
    *work -= OPENING * (request->lamp ? request->lamp->pixels : 16);
    if (*work <= 0)
        return true; /* nothing of it is looked at */
    bool fine = show_open(&show);
    if (fine)
        look(&show, work, examined);
    show_close(&show);
    return fine;
}
