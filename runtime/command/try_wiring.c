/* gloam try-wiring: lights a new lamp step by step and says what to look for. */
#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "backends/csv.h"
#include "runtime/command/costs.h"
#include "runtime/command/load.h"
#include "runtime/command/run_place.h"
#include "runtime/command/try_steps.h"
#include "runtime/core/memory.h"
#include "runtime/light/level.h"
#include "runtime/player/clock.h"
#include "runtime/player/output.h"

enum { FRAMES = 25, TEXT = 1024, WORDS = 512, ANSWER = 64 };
static const int64_t SECOND = 1000000;

typedef struct Wiring {
    const Options *options;
    Loaded loaded;
    char text[TEXT]; /* of a lamp that only options tell of */
    const LampInfo *info;
    LampInfo own; /* the same, dark at the end */
    Lamp lamp;
    PipelineLamp light_of;
    Pipeline *pipeline;
    LampOutput *output;
    OutputInstead instead;
    int csv;    /* its descriptor; -1 */
    bool walks; /* by itself: nobody is asked */
    float *light;
    uint8_t *bytes;
    uint64_t frame;
    int64_t played; /* where time is not waited for */
    char seen[3];   /* for red, green, blue; 0: as it should be */
} Wiring;

static volatile sig_atomic_t interrupted;

static void interrupt(int number) {
    interrupted = number;
}

static int64_t monotonic(void) {
    return clock_system_now().monotonic;
}

/* -------- which lamp -------- */

/* A lamp as options tell it, as text, so that it is checked as one of a file. */
static int compose(Wiring *wiring) {
    const Options *options = wiring->options;
    if (!options->chip || !options->port || !options->pixels)
        return command_fail(EXIT_CALL,
                            "which lamp? a home file, or all of --chip, --port and --pixels: gloam "
                            "try-wiring --chip ws2812b --port /dev/spidev0.0 --pixels 16");
    const char *const words[] = {options->chip, options->port, options->order, options->supply};
    for (int i = 0; i < 4; i++)
        if (words[i] && strpbrk(words[i], "\"\\{}\r\n"))
            return command_fail(EXIT_CALL, "`%s` is no word for a lamp", words[i]);
    int used = snprintf(wiring->text, sizeof wiring->text,
                        "lamp wiring { pixels %u shape strip chip %s port \"%s\"%s%s%s%s }\n",
                        options->pixels, options->chip, options->port,
                        options->order ? " order " : "", options->order ? options->order : "",
                        options->supply ? " supply " : "", options->supply ? options->supply : "");
    return used > 0 && (size_t)used < sizeof wiring->text
               ? EXIT_DONE
               : command_fail(EXIT_CALL, "so many words are no lamp");
}

static int compile_words(Wiring *wiring) {
    TextReader one = {wiring->text, strlen(wiring->text)};
    LangReader reader = {text_reader_read, &one};
    wiring->loaded.compilation = lang_compile(&reader, "the options");
    if (!wiring->loaded.compilation)
        return command_fail(EXIT_MACHINE, "out of memory");
    diagnostics_print(lang_diagnostics(wiring->loaded.compilation), stderr,
                      command_colours(wiring->options, stderr));
    wiring->loaded.program = lang_program(wiring->loaded.compilation);
    return wiring->loaded.program ? EXIT_DONE : EXIT_WRONG;
}

static int choose_lamp(Wiring *wiring) {
    const Options *options = wiring->options;
    uint32_t count;
    if (!options->file) {
        int status = compose(wiring);
        if (status == EXIT_DONE)
            status = compile_words(wiring);
        if (status != EXIT_DONE)
            return status;
        wiring->info = lang_lamps(wiring->loaded.compilation, &count);
        return EXIT_DONE;
    }
    if (options->chip || options->port || options->order || options->supply)
        return command_fail(EXIT_CALL, "a file says it already: leave out --chip, --port, --order "
                                       "and --supply");
    int status = loaded_read(&wiring->loaded, options, stderr);
    if (status != EXIT_DONE)
        return status;
    if (options->lamp)
        return loaded_lamp(&wiring->loaded, options, &wiring->info);
    const LampInfo *lamps =
        wiring->loaded.compilation ? lang_lamps(wiring->loaded.compilation, &count) : NULL;
    if (!lamps || count != 1)
        return command_fail(EXIT_CALL, "which lamp of the file? --lamp NAME");
    wiring->info = lamps;
    return EXIT_DONE;
}

/* -------- what it takes -------- */

static int choose_output(Wiring *wiring) {
    static const CsvOptions whole = {CSV_BYTES, false};
    const Options *options = wiring->options;
    const char *output = options->output;
    wiring->walks = options->every > 0 || !isatty(STDIN_FILENO);
    if (output && strncmp(output, "csv:", 4) == 0 && output[4]) {
        wiring->csv = strcmp(output + 4, "-") == 0
                          ? dup(STDOUT_FILENO)
                          : open(output + 4, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
        wiring->walks = true;
        wiring->instead =
            (OutputInstead){.kind = &csv_backend, .descriptor = wiring->csv, .own = &whole};
        return wiring->csv >= 0 ? EXIT_DONE
                                : command_fail(EXIT_MACHINE, "%s: %s", output + 4, strerror(errno));
    }
    if (output && strcmp(output, "terminal") == 0) {
        PaletteEnvironment environment = palette_environment();
        wiring->instead = (OutputInstead){.kind = &terminal_backend,
                                          .descriptor = STDOUT_FILENO,
                                          .depth = palette_depth(COLOUR_AUTO, true, &environment),
                                          .ascii = options->ascii};
        wiring->walks = true; /* its screen leaves no room for questions */
        return isatty(STDOUT_FILENO)
                   ? EXIT_DONE
                   : command_fail(EXIT_CALL, "standard output is no terminal: --output csv:-");
    }
    return output ? command_fail(EXIT_CALL, "--output takes terminal or csv:FILE, not `%s`", output)
                  : EXIT_DONE;
}

static int make(Wiring *wiring) {
    ShapeRequest shape = {0};
    ShapePoint *points = NULL;
    bool made = lamp_request(wiring->info, &shape, &points) &&
                lamp_make(&wiring->lamp, wiring->loaded.program, &shape, wiring->info);
    memory_release(points);
    wiring->own = *wiring->info;
    wiring->own.ends = NULL;
    wiring->light_of = lamp_light(wiring->info, 0);
    /* The white part is tried, whatever light the file gives it. */
    if (wiring->light_of.has_white && wiring->light_of.die <= 0)
        wiring->light_of.die = 6500;
    if (wiring->light_of.supply.limit_ampere <= 0)
        wiring->light_of.supply.limit_ampere = TRY_AMPERE;
    wiring->light_of.dither = false;
    wiring->pipeline = made ? pipeline_create(&wiring->light_of, wiring->lamp.shape) : NULL;
    if (!wiring->pipeline)
        return command_fail(EXIT_MACHINE, "out of memory");
    OutputRequest request = {.info = &wiring->own,
                             .shape = wiring->lamp.shape,
                             .pixels = wiring->lamp.scene.pixels,
                             .white = wiring->light_of.has_white,
                             .level = wiring->light_of.has_level,
                             .instead = wiring->instead,
                             .cid = (const uint8_t *)"gloam try-wiring"};
    wiring->output = output_create(&request);
    wiring->light = memory_allocate(wiring->lamp.scene.pixels, 3 * sizeof *wiring->light);
    wiring->bytes = memory_allocate(wiring->lamp.scene.pixels, pipeline_columns(wiring->pipeline));
    return wiring->output && wiring->light && wiring->bytes
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "out of memory");
}

static int open_port(Wiring *wiring) {
    if (!wiring->instead.kind && !wiring->info->port)
        return command_fail(EXIT_WRONG, "that lamp has no port: `port \"/dev/spidev0.0\"` in it");
    if (output_open(wiring->output, monotonic()))
        return EXIT_DONE;
    return command_fail(EXIT_MACHINE, "%s", output_sentence(wiring->output));
}

/* A player that drives the same lamp would write over every step. */
static void warn_of_player(const Wiring *wiring) {
    char path[RUN_SOCKET_BYTES];
    if (!wiring->instead.kind && run_socket(path, false))
        fprintf(stderr, "gloam: a player runs on this machine; where it drives this lamp, stop it "
                        "first: systemctl stop gloam\n");
}

/* -------- steps -------- */

static bool show(Wiring *wiring, TryStep step, double at, int64_t now) {
    BackendFrame frame = {wiring->frame, wiring->played, wiring->light, wiring->bytes};
    try_light(step, at, wiring->lamp.scene.pixels, wiring->light);
    pipeline_show(wiring->pipeline, wiring->played, LEVEL_NO_CEILING, wiring->light);
    pipeline_bytes(wiring->pipeline, wiring->light, wiring->frame++, true, wiring->bytes);
    /* What red, green and blue of white still hold: the white part is to be seen alone. */
    uint32_t columns = pipeline_columns(wiring->pipeline);
    for (uint32_t i = 0; step == TRY_WHITE_PART && i < wiring->lamp.scene.pixels; i++)
        memset(wiring->bytes + (size_t)i * columns, 0, 3);
    wiring->played += SECOND / FRAMES;
    return output_frame(wiring->output, &frame, now) != BACKEND_FAILED;
}

/* What was typed, or that nothing was for so long (-1: without end). */
typedef enum Typed { TYPED_NOTHING, TYPED_NEXT, TYPED_BACK, TYPED_END } Typed;

static Typed typed(Wiring *wiring, TryStep step) {
    char line[ANSWER];
    if (!fgets(line, sizeof line, stdin))
        return TYPED_END;
    char letter = (char)tolower((unsigned char)line[strspn(line, " \t")]);
    if (letter == 'q')
        return TYPED_END;
    if (step >= TRY_RED && step <= TRY_BLUE && letter && strchr("rgb", letter) && letter != '\0') {
        wiring->seen[step - TRY_RED] = letter;
        return TYPED_NEXT;
    }
    return letter == 'b' ? TYPED_BACK : TYPED_NEXT;
}

static Typed wait_frame(Wiring *wiring, TryStep step) {
    struct pollfd input = {STDIN_FILENO, POLLIN, 0};
    if (wiring->csv >= 0)
        return TYPED_NOTHING;
    if (wiring->walks) {
        nanosleep(&(struct timespec){.tv_nsec = 1000000000 / FRAMES}, NULL);
        return TYPED_NOTHING;
    }
    if (poll(&input, 1, 1000 / FRAMES) == 1)
        return typed(wiring, step);
    return TYPED_NOTHING;
}

static bool has_step(const Wiring *wiring, TryStep step) {
    return step != TRY_WHITE_PART || wiring->light_of.has_white;
}

static void tell(const Wiring *wiring, TryStep step) {
    char words[WORDS];
    const char *order = wiring->info->order ? wiring->info->order : lamp_chip(wiring->info)->order;
    try_words(step, wiring->lamp.scene.pixels, order, words, sizeof words);
    int number = 1;
    for (int before = 0; before < (int)step; before++)
        number += has_step(wiring, (TryStep)before);
    fprintf(stderr, "%d. %s: %s\n", number, TRY_NAMES[step], words);
    if (wiring->walks)
        return;
    if (step >= TRY_RED && step <= TRY_BLUE)
        fputs("   Enter: as it should be; r, g or b: what it looks like; q: end\n", stderr);
    else
        fputs("   Enter: on; b: back; q: end\n", stderr);
}

/* EXIT_DONE and the way on; else the status. */
static int do_step(Wiring *wiring, TryStep step, double every, Typed *way) {
    double length = try_length(step, every);
    *way = TYPED_NOTHING;
    tell(wiring, step);
    for (int n = 0; *way == TYPED_NOTHING && !interrupted; n++) {
        double at = (double)n / FRAMES;
        if (wiring->walks && at >= length)
            *way = TYPED_NEXT;
        else if (!show(wiring, step, at, monotonic()))
            return command_fail(EXIT_MACHINE, "%s", output_sentence(wiring->output));
        else
            *way = wait_frame(wiring, step);
    }
    if (step == TRY_RISE)
        fprintf(stderr, "   about %.2f A by the chips' figures, at most %.2f A\n",
                pipeline_current(wiring->pipeline, wiring->bytes),
                wiring->light_of.supply.limit_ampere);
    return EXIT_DONE;
}

/* What the letters tell of the order. */
static void conclude(const Wiring *wiring) {
    static const char channels[] = "rgb";
    const char *order = wiring->info->order ? wiring->info->order : lamp_chip(wiring->info)->order;
    char seen[3], right[16];
    bool any = false;
    for (int i = 0; i < 3; i++) {
        any = any || (wiring->seen[i] && wiring->seen[i] != channels[i]);
        seen[i] = wiring->seen[i] ? wiring->seen[i] : channels[i];
    }
    if (!any)
        return;
    if (try_order(order, seen, right, sizeof right))
        printf("write in the lamp: order %s\n", right);
    else
        printf("two colours looked alike: try it again, and look at the first pixel\n");
}

static int walk(Wiring *wiring) {
    double every = wiring->options->every > 0 ? (double)wiring->options->every / (double)SECOND : 3;
    int status = EXIT_DONE;
    Typed way = TYPED_NEXT;
    for (int step = 0; step < TRY_STEPS && status == EXIT_DONE && !interrupted;) {
        if (has_step(wiring, (TryStep)step))
            status = do_step(wiring, (TryStep)step, every, &way);
        if (way == TYPED_END)
            break;
        step += way == TYPED_BACK && step > 0 ? -1 : way == TYPED_BACK ? 0 : 1;
    }
    return status;
}

int try_wiring_run(const Options *options) {
    Wiring wiring = {.options = options, .csv = -1};
    struct sigaction action = {.sa_handler = interrupt};
    int status = choose_lamp(&wiring);
    if (status == EXIT_DONE)
        status = choose_output(&wiring);
    if (status == EXIT_DONE)
        status = make(&wiring);
    if (status == EXIT_DONE) {
        cautions_print(wiring.loaded.compilation, stderr);
        warn_of_player(&wiring);
        status = open_port(&wiring);
    }
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    if (status == EXIT_DONE)
        status = walk(&wiring);
    output_free(wiring.output); /* dark */
    if (status == EXIT_DONE)
        conclude(&wiring);
    if (wiring.csv >= 0 && close(wiring.csv) != 0 && status == EXIT_DONE)
        status = command_fail(EXIT_MACHINE, "%s: %s", options->output, strerror(errno));
    pipeline_free(wiring.pipeline);
    memory_release(wiring.light);
    memory_release(wiring.bytes);
    lamp_free(&wiring.lamp);
    loaded_free(&wiring.loaded);
    return status == EXIT_DONE ? command_printed(status) : status;
}
