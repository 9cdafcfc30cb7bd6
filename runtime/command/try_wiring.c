/* gloam try-wiring: lights a new lamp step by step and says what to look for. */
#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <unistd.h>

#include "backends/csv.h"
#include "runtime/command/costs.h"
#include "runtime/command/keys.h"
#include "runtime/command/try_holder.h"
#include "runtime/command/try_lamp.h"

enum { ANSWER = 64, USUAL_SECONDS = 3 };
static const int64_t FRAME = 1000000 / TRY_FRAMES;

typedef struct Wiring {
    const Options *options;
    TryLamp lamp;
    OutputInstead instead;
    int csv;        /* its descriptor; -1 */
    bool walks;     /* goes on by itself */
    bool asks;      /* there is somebody to type */
    bool screen;    /* the terminal shows the light: keys, not lines */
    int64_t began;  /* by the monotonic clock */
    int64_t played; /* as CSV, where time is not waited for */
    KeyBuffer keys;
    char right[TRY_ORDER]; /* the order to write; "": as it is */
    bool lost;             /* the port failed, which is still to be said */
    int status;            /* of what has been said */
} Wiring;

static volatile sig_atomic_t interrupted;

static void interrupt(int number) {
    interrupted = number;
}

/* -------- where it goes -------- */

static int choose_csv(Wiring *wiring, const char *path) {
    static const CsvOptions whole = {CSV_BYTES, false};
    if (!*path)
        return command_fail(EXIT_CALL, "--output csv: needs a file: --output csv:light.csv");
    wiring->csv = strcmp(path, "-") == 0
                      ? dup(STDOUT_FILENO)
                      : open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOCTTY, 0666);
    wiring->walks = true;
    wiring->asks = false;
    wiring->instead =
        (OutputInstead){.kind = &csv_backend, .descriptor = wiring->csv, .own = &whole};
    return wiring->csv >= 0 ? EXIT_DONE
                            : command_fail(EXIT_MACHINE, "%s: %s; name a place where you may write",
                                           path, strerror(errno));
}

static int choose_output(Wiring *wiring) {
    const Options *options = wiring->options;
    const char *output = options->output;
    wiring->asks = isatty(STDIN_FILENO);
    wiring->walks = options->every > 0 || !wiring->asks;
    if (output && strncmp(output, "csv:", 4) == 0)
        return choose_csv(wiring, output + 4);
    if (!output)
        return EXIT_DONE;
    if (strcmp(output, "terminal") != 0)
        return command_fail(
            EXIT_CALL, "--output takes terminal or csv:FILE, not `%s`: --output terminal", output);
    if (!isatty(STDOUT_FILENO))
        return command_fail(EXIT_CALL, "standard output is no terminal: --output csv:-");
    PaletteEnvironment environment = palette_environment();
    ColourChoice choice = strcmp(options->colour, "always") == 0  ? COLOUR_ALWAYS
                          : strcmp(options->colour, "never") == 0 ? COLOUR_NEVER
                                                                  : COLOUR_AUTO;
    wiring->screen = true;
    wiring->instead = (OutputInstead){.kind = &terminal_backend,
                                      .descriptor = STDOUT_FILENO,
                                      .depth = palette_depth(choice, true, &environment),
                                      .ascii = options->ascii};
    return EXIT_DONE;
}

/* -------- what is said -------- */

static void tell_on_screen(const Wiring *wiring, const char *title, const char *look) {
    const TerminalStatus status = {.title = title,
                                   .detail = look,
                                   .keys = wiring->asks ? "Enter on   b back   q end" : "",
                                   .done = -1};
    terminal_status(output_backend(wiring->lamp.output), &status);
}

static void tell(const Wiring *wiring, TryStep step) {
    TryWords words;
    char title[48];
    int number = 0, all = 0;
    for (int i = 0; i < TRY_STEPS; i++) {
        all += try_has((TryStep)i, &wiring->lamp.about);
        number = i == (int)step ? all : number;
    }
    try_words(step, &wiring->lamp.about, &words);
    snprintf(title, sizeof title, "%d of %d, %s", number, all, TRY_NAMES[step]);
    if (wiring->screen) {
        tell_on_screen(wiring, title, words.look);
        return;
    }
    fprintf(stderr, "%s: %s\n", title, words.look);
    for (const char *part = words.otherwise; *part;) {
        const char *end = strstr(part, "; ");
        int length = (int)(end ? (size_t)(end - part) : strlen(part));
        fprintf(stderr, "   - %.*s\n", length, part);
        part += length + (end ? 2 : 0);
    }
    if (wiring->asks && step == TRY_BLUE)
        fputs("   Enter: all three were right; three letters: what red, green, blue looked like\n"
              "   (grb: red green, green red, blue blue); b: back; q: end\n",
              stderr);
    else if (wiring->asks)
        fputs("   Enter: on; b: back; q: end\n", stderr);
}

/* -------- what is typed -------- */

typedef enum Typed { TYPED_NOTHING, TYPED_NEXT, TYPED_BACK, TYPED_AGAIN, TYPED_END } Typed;

/* The letters of what three colours looked like. */
static Typed take_letters(Wiring *wiring, const char *letters) {
    char right[TRY_ORDER];
    if (!try_order(wiring->lamp.order, letters, right, sizeof right)) {
        fputs("   those are not r, g and b, each once: look at the three colours again\n", stderr);
        return TYPED_AGAIN;
    }
    if (strcmp(right, wiring->lamp.order) == 0)
        return TYPED_NEXT;
    snprintf(wiring->right, sizeof wiring->right, "%s", right);
    fprintf(stderr, "   then it is `order %s`; once more with that\n", right);
    wiring->status = try_lamp_reorder(&wiring->lamp, right);
    return wiring->status == EXIT_DONE ? TYPED_AGAIN : TYPED_END;
}

static Typed take_line(Wiring *wiring, TryStep step, int64_t until) {
    struct pollfd input = {STDIN_FILENO, POLLIN, 0};
    int64_t left = until - keys_now();
    left = left > 0 ? left : 0;
    const struct timespec rest = {.tv_nsec = (long)left * 1000};
    if (ppoll(&input, wiring->asks ? 1 : 0, &rest, NULL) <= 0)
        return TYPED_NOTHING;
    char line[ANSWER], letters[ANSWER];
    int count = 0;
    ssize_t got = read(STDIN_FILENO, line, sizeof line);
    if (got <= 0)
        return got < 0 && errno == EINTR ? TYPED_NOTHING : TYPED_END;
    for (ssize_t i = 0; i < got; i++)
        if (isalpha((unsigned char)line[i]))
            letters[count++] = (char)tolower((unsigned char)line[i]);
    if (count == 0)
        return TYPED_NEXT;
    if (count == 3 && step >= TRY_BLUE)
        return take_letters(wiring, letters);
    if (count == 1 && (letters[0] == 'q' || letters[0] == 'b'))
        return letters[0] == 'q' ? TYPED_END : TYPED_BACK;
    fputs(step >= TRY_BLUE ? "   Enter, b, q, or three letters\n" : "   Enter, b or q\n", stderr);
    return TYPED_NOTHING;
}

static Typed take_key(Wiring *wiring, int64_t until) {
    switch (keys_wait(&wiring->keys, until)) {
    case WAKE_END:
        return TYPED_END;
    case WAKE_SUSPEND:
        terminal_pause(output_backend(wiring->lamp.output));
        keys_suspend();
        terminal_resume(output_backend(wiring->lamp.output));
        return TYPED_NOTHING;
    default:
        break;
    }
    switch (keys_take(&wiring->keys, false)) {
    case KEY_QUIT:
        return TYPED_END;
    case KEY_ENTER:
    case KEY_SPACE:
    case KEY_RIGHT:
    case KEY_NEXT:
        return TYPED_NEXT;
    case KEY_BACK:
    case KEY_LEFT:
        return TYPED_BACK;
    default:
        return TYPED_NOTHING;
    }
}

/* -------- steps -------- */

/* Until the next frame; what the port has to do meanwhile is done. */
static Typed wait_frame(Wiring *wiring, TryStep step) {
    LampOutput *output = wiring->lamp.output;
    wiring->played += FRAME;
    if (wiring->csv >= 0)
        return TYPED_NOTHING;
    int64_t until = keys_now() + FRAME;
    while (!interrupted && keys_now() < until) {
        if (output_due(output) <= keys_now() &&
            output_again(output, keys_now()) == BACKEND_FAILED) {
            wiring->lost = true;
            return TYPED_END;
        }
        int64_t due = output_due(output);
        due = due < until ? due : until;
        Typed way = wiring->screen ? take_key(wiring, due) : take_line(wiring, step, due);
        if (way != TYPED_NOTHING)
            return way;
    }
    return TYPED_NOTHING;
}

static Typed do_step(Wiring *wiring, TryStep step, double every) {
    double length = try_length(step, wiring->lamp.about.pixels, every), at = 0;
    Typed way = TYPED_NOTHING;
    tell(wiring, step);
    for (int n = 0; way == TYPED_NOTHING && !interrupted && !wiring->lost; n++) {
        at = (double)n / TRY_FRAMES;
        if (wiring->walks && at >= length)
            return TYPED_NEXT;
        if (step == TRY_WALK && at >= length) { /* round and round while it is looked at */
            n = 0;
            at = 0;
        }
        int64_t shown = wiring->csv >= 0 ? wiring->played : keys_now() - wiring->began;
        if (!try_lamp_show(&wiring->lamp, step, at, shown))
            wiring->lost = true;
        else
            way = wait_frame(wiring, step);
    }
    return wiring->lost ? TYPED_END : way;
}

static void walk(Wiring *wiring) {
    const Options *options = wiring->options;
    double every = options->every > 0 ? (double)options->every / 1e6 : USUAL_SECONDS;
    Typed way = TYPED_NEXT;
    wiring->began = keys_now();
    for (int step = TRY_DARK; step < TRY_STEPS && way != TYPED_END && !interrupted;) {
        if (try_has((TryStep)step, &wiring->lamp.about))
            way = do_step(wiring, (TryStep)step, every);
        if (way == TYPED_AGAIN)
            step = TRY_RED;
        else if (way == TYPED_BACK)
            step -= step > 0;
        else
            step++;
    }
}

/* -------- beginning and end -------- */

/* Signals that end it end it dark; a pipe that nobody reads does not. */
static void listen_signals(Wiring *wiring) {
    static const int ENDS[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
    const struct sigaction action = {.sa_handler = interrupt};
    struct sigaction before;
    if (wiring->screen) {
        wiring->asks = keys_begin(STDIN_FILENO) && wiring->asks;
        wiring->walks = wiring->walks || !wiring->asks;
        return;
    }
    signal(SIGPIPE, SIG_IGN);
    for (size_t i = 0; i < sizeof ENDS / sizeof *ENDS; i++)
        if (sigaction(ENDS[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN)
            sigaction(ENDS[i], &action, NULL);
}

static int try_all(Wiring *wiring) {
    int status = try_lamp_choose(&wiring->lamp, wiring->options);
    if (status == EXIT_DONE)
        status = choose_output(wiring);
    if (status == EXIT_DONE)
        status = try_lamp_make(&wiring->lamp, &wiring->instead);
    if (status != EXIT_DONE)
        return status;
    cautions_print(wiring->lamp.loaded.compilation, true, stderr);
    if (!wiring->lamp.about.said)
        fprintf(
            stderr, "  no supply is said, so no frame draws more than %.1f A here, estimated: %s\n",
            TRY_AMPERE, wiring->options->file ? "`supply 5V 2A` in the lamp" : "--supply '5V 2A'");
    if (!wiring->instead.kind)
        try_holder_warn(wiring->lamp.info.port);
    listen_signals(wiring);
    status = try_lamp_open(&wiring->lamp);
    if (status == EXIT_DONE)
        walk(wiring);
    return status == EXIT_DONE ? wiring->status : status;
}

int try_wiring_run(const Options *options) {
    Wiring wiring = {.options = options, .csv = -1};
    char sentence[256] = "";
    setvbuf(stderr, NULL, _IOLBF, 0);
    int status = try_all(&wiring);
    if (wiring.lost)
        snprintf(sentence, sizeof sentence, "%s", output_sentence(wiring.lamp.output));
    try_lamp_free(&wiring.lamp);
    if (wiring.screen)
        keys_end();
    if (wiring.lost)
        status = command_fail(EXIT_MACHINE, "%s", sentence);
    else if (status == EXIT_DONE && *wiring.right)
        printf("write in the lamp: order %s\n", wiring.right);
    if (wiring.csv >= 0 && close(wiring.csv) != 0 && status == EXIT_DONE)
        status = command_fail(EXIT_MACHINE, "%s: %s", options->output, strerror(errno));
    return status == EXIT_DONE ? command_printed(status) : status;
}
