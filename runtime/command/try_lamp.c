#include "runtime/command/try_lamp.h"

#include <string.h>
#include <sys/random.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/light/level.h"
#include "runtime/player/clock.h"

/* A `level` that leaves less than this is taken as this, so that there is something to see: 8 of
 * 255 codes. */
static const double LEAST_LEVEL = 0.125;

/* -------- which lamp -------- */

/* A lamp as options tell it, as text, so that it is checked as one of a file. */
static int compose(TryLamp *lamp, const Options *options) {
    if (!options->chip || !options->pixels || !(options->port || options->output))
        return command_fail(
            EXIT_CALL, "which lamp? a home file, or all of --chip, --port (none with --output) "
                       "and --pixels: gloam try-wiring --chip ws2812b --port /dev/spidev0.0 "
                       "--pixels 16");
    if (options->lamp)
        return command_fail(EXIT_CALL, "--lamp names a lamp of a file: name the file");
    const char *const words[] = {options->chip, options->port, options->order, options->supply};
    for (int i = 0; i < 4; i++) {
        const char *never = words[i] == options->port ? "\"\\\r\n" : "\"\\{}/\r\n";
        if (words[i] && strpbrk(words[i], never))
            return command_fail(EXIT_CALL, "`%s` is no word for a lamp", words[i]);
    }
    int used = snprintf(lamp->text, sizeof lamp->text,
                        "lamp wiring { pixels %u shape strip chip %s%s%s%s%s%s%s%s }\n",
                        options->pixels, options->chip, options->port ? " port \"" : "",
                        options->port ? options->port : "", options->port ? "\"" : "",
                        options->order ? " order " : "", options->order ? options->order : "",
                        options->supply ? " supply " : "", options->supply ? options->supply : "");
    return used > 0 && (size_t)used < sizeof lamp->text
               ? EXIT_DONE
               : command_fail(EXIT_CALL, "so many words are no lamp");
}

static int compile_words(TryLamp *lamp, const Options *options) {
    TextReader one = {lamp->text, strlen(lamp->text)};
    LangReader reader = {text_reader_read, &one};
    lamp->loaded.compilation = lang_compile(&reader, "the options");
    if (!lamp->loaded.compilation)
        return command_fail(EXIT_MACHINE, "out of memory");
    diagnostics_print(lang_diagnostics(lamp->loaded.compilation), stderr,
                      command_colours(options, stderr));
    lamp->loaded.program = lang_program(lamp->loaded.compilation);
    return lamp->loaded.program ? EXIT_DONE : EXIT_WRONG;
}

static int choose_of_file(TryLamp *lamp, const Options *options, const LampInfo **info) {
    if (options->chip || options->port || options->pixels || options->order || options->supply)
        return command_fail(EXIT_CALL, "a file says it already: leave out --chip, --port, "
                                       "--pixels, --order and --supply");
    int status = loaded_read(&lamp->loaded, options, stderr);
    if (status != EXIT_DONE)
        return status;
    if (options->lamp)
        return loaded_lamp(&lamp->loaded, options, info);
    uint32_t count = 0;
    if (lamp->loaded.compilation)
        *info = lang_lamps(lamp->loaded.compilation, &count);
    if (count == 0)
        return command_fail(EXIT_WRONG,
                            "%s has no lamp: leave it out, and say --chip, --port and --pixels",
                            options->file);
    return count == 1 ? EXIT_DONE
                      : command_fail(EXIT_CALL, "which lamp of the file? --lamp %s", (*info)->name);
}

int try_lamp_choose(TryLamp *lamp, const Options *options) {
    const LampInfo *info = NULL;
    uint32_t count;
    int status = options->file ? choose_of_file(lamp, options, &info) : compose(lamp, options);
    if (status == EXIT_DONE && !options->file) {
        status = compile_words(lamp, options);
        info = status == EXIT_DONE ? lang_lamps(lamp->loaded.compilation, &count) : NULL;
    }
    if (status != EXIT_DONE)
        return status;
    lamp->info = *info;
    lamp->info.ends = NULL;
    return EXIT_DONE;
}

/* -------- what it takes -------- */

/* A network carries channels as they are, unless the lamp says otherwise; a strip as its chip. */
static void choose_order(TryLamp *lamp) {
    const LampInfo *info = &lamp->info;
    bool strip = !info->port || strncmp(info->port, "e131:", 5) != 0;
    const Chip *chip = lamp_chip(info);
    const char *order = info->order ? info->order : chip->white ? "rgbw" : "rgb";
    snprintf(lamp->order, sizeof lamp->order, "%s", info->order || !strip ? order : chip->order);
}

/* The light, as the file has it but for what would hide a fault; the guard is always on. */
static void choose_light(TryLamp *lamp) {
    PipelineLamp *light = &lamp->light_of;
    *light = lamp_light(&lamp->info, 0);
    light->guarded = true;
    light->dither = false;
    light->die = 0; /* the white part has a step of its own; white of three channels draws most */
    if (light->level < LEAST_LEVEL)
        light->level = LEAST_LEVEL;
    if (light->supply.limit_ampere <= 0)
        light->supply.limit_ampere = TRY_AMPERE;
}

/* Whether the supply leaves something to see, and how far the last step goes. */
static int choose_limit(TryLamp *lamp) {
    const PipelineLamp *light = &lamp->light_of;
    const Supply *supply = &light->supply;
    uint32_t pixels = lamp->info.pixels, channels = light->has_white ? 4 : 3;
    double some = TRY_LIGHT * light->level;
    double least = supply_factor(supply, pixels, channels, some * pixels) * some * 255;
    if (least < 2)
        return command_fail(EXIT_WRONG,
                            "%u pixels draw %.2f A while dark, which of %.2f A leaves too little "
                            "to see: say what the supply gives, %s",
                            pixels, supply_current(supply, pixels, 0), supply->limit_ampere,
                            lamp->text[0] ? "--supply '5V 5A'" : "`supply 5V 5A`");
    double full = 3.0 * pixels * light->level;
    lamp->most = supply_factor(supply, pixels, channels, full);
    lamp->about = (TryAbout){.pixels = pixels,
                             .order = lamp->order,
                             .white = light->has_white,
                             .level = light->has_level,
                             .one_wire = lamp_chip(&lamp->info)->wire == CHIP_ONE_WIRE,
                             .limit = supply->limit_ampere,
                             .most = supply_current(supply, pixels, full * lamp->most),
                             .said = lamp->info.supply_ampere > 0};
    return EXIT_DONE;
}

static bool make_output(TryLamp *lamp) {
    OutputRequest request = {.info = &lamp->info,
                             .shape = lamp->lamp.shape,
                             .pixels = lamp->lamp.scene.pixels,
                             .white = lamp->light_of.has_white,
                             .level = lamp->light_of.has_level,
                             .instead = lamp->instead,
                             .cid = lamp->cid};
    lamp->output = output_create(&request);
    return lamp->output != NULL;
}

int try_lamp_make(TryLamp *lamp, const OutputInstead *instead) {
    ShapeRequest shape = {0};
    ShapePoint *points = NULL;
    uint8_t random[E131_CID_BYTES] = {0};
    lamp->instead = *instead;
    if (!instead->kind && !lamp->info.port)
        return command_fail(EXIT_WRONG, "that lamp has no port: `port \"/dev/spidev0.0\"` in it");
    choose_order(lamp);
    choose_light(lamp);
    int status = choose_limit(lamp);
    if (status != EXIT_DONE)
        return status;
    if (getrandom(random, sizeof random, 0) != (ssize_t)sizeof random)
        memset(random, 0x5a, sizeof random);
    e131_cid(random, lamp->cid);
    bool made = lamp_request(&lamp->info, &shape, &points) &&
                lamp_make(&lamp->lamp, lamp->loaded.program, &shape, &lamp->info);
    memory_release(points);
    if (made)
        lamp->pipeline = pipeline_create(&lamp->light_of, lamp->lamp.shape);
    if (lamp->pipeline && make_output(lamp)) {
        lamp->light = memory_allocate(lamp->lamp.scene.pixels, 3 * sizeof *lamp->light);
        lamp->bytes = memory_allocate(lamp->lamp.scene.pixels, pipeline_columns(lamp->pipeline));
    }
    return lamp->light && lamp->bytes ? EXIT_DONE : command_fail(EXIT_MACHINE, "out of memory");
}

int try_lamp_open(TryLamp *lamp) {
    return output_open(lamp->output, clock_system_now().monotonic)
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "%s", output_sentence(lamp->output));
}

int try_lamp_reorder(TryLamp *lamp, const char *order) {
    output_free(lamp->output);
    snprintf(lamp->order, sizeof lamp->order, "%s", order);
    lamp->info.order = lamp->order;
    return make_output(lamp) ? try_lamp_open(lamp) : command_fail(EXIT_MACHINE, "out of memory");
}

void try_lamp_free(TryLamp *lamp) {
    output_free(lamp->output);
    pipeline_free(lamp->pipeline);
    memory_release(lamp->light);
    memory_release(lamp->bytes);
    lamp_free(&lamp->lamp);
    loaded_free(&lamp->loaded);
    *lamp = (TryLamp){0};
}

/* -------- frames -------- */

/* The white parts alone take the codes of green; a level only ever falls. So neither draws more
 * than the frame that the pipeline made. */
static void try_lamp_alter(TryLamp *lamp, TryStep step, double at) {
    uint32_t columns = pipeline_columns(lamp->pipeline);
    for (uint32_t i = 0; i < lamp->lamp.scene.pixels; i++) {
        uint8_t *pixel = lamp->bytes + (size_t)i * columns;
        float *light = lamp->light + 3 * (size_t)i;
        if (step == TRY_WHITE_PART) {
            pixel[3] = pixel[1];
            pixel[1] = 0;
            light[0] = light[2] = light[1];
        } else {
            uint8_t level = pixel[columns - 1], left = try_level(step, at, level);
            pixel[columns - 1] = left;
            for (int c = 0; c < 3 && level > 0; c++)
                light[c] *= (float)left / (float)level;
        }
    }
}

bool try_lamp_show(TryLamp *lamp, TryStep step, double at, int64_t shown) {
    BackendFrame frame = {lamp->frame, shown, lamp->light, lamp->bytes};
    size_t channels = 3 * (size_t)lamp->lamp.scene.pixels;
    try_light(step, at, lamp->lamp.scene.pixels, lamp->light);
    for (size_t i = 0; step == TRY_RISE && i < channels; i++)
        lamp->light[i] *= (float)lamp->most;
    pipeline_show(lamp->pipeline, shown, LEVEL_NO_CEILING, lamp->light);
    pipeline_bytes(lamp->pipeline, lamp->light, lamp->frame++, true, lamp->bytes);
    if (step == TRY_WHITE_PART || step == TRY_LEVEL)
        try_lamp_alter(lamp, step, at);
    return output_frame(lamp->output, &frame, clock_system_now().monotonic) != BACKEND_FAILED;
}
