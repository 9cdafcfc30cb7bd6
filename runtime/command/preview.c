#include "runtime/command/preview.h"

#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "backends/terminal.h"
#include "runtime/command/command.h"
#include "runtime/command/keys.h"
#include "runtime/command/playhead.h"
#include "runtime/command/still.h"
#include "runtime/core/memory.h"
#include "runtime/core/program.h"
#include "runtime/player/output.h"

#define SECOND INT64_C(1000000)
#define CENTURY (36525 * (86400 * SECOND))

typedef struct Preview {
    const PreviewOptions *options;
    Backend *terminal;
    Playhead head;
    KeyBuffer keys;
    int routine;
    int64_t shown;   /* the position of the light in `light`, */
    int64_t changes; /* and from when on it can be another */
    bool has_shown;  /* there is one */
    uint64_t frames;
    float *light;
    const char *trouble; /* a sentence, or NULL */
    BackendError error;
} Preview;

static const char preview_keys[] = "q quit   space pause   arrows seek   + - speed   n next";

/* ---- what is said ---- */

static void preview_time(int64_t microseconds, bool tenths, char *into, size_t room) {
    const char *sign = microseconds < 0 ? "-" : "";
    int64_t size = microseconds < 0 ? -microseconds : microseconds;
    int64_t hours = size / (3600 * SECOND), minutes = size / (60 * SECOND) % 60;
    int64_t seconds = size / SECOND % 60, rest = size / (SECOND / 10) % 10;
    size_t used = hours > 0
                      ? (size_t)snprintf(into, room, "%s%lld:%02d:%02d", sign, (long long)hours,
                                         (int)minutes, (int)seconds)
                      : (size_t)snprintf(into, room, "%s%d:%02d", sign, (int)minutes, (int)seconds);
    if (tenths && used < room)
        snprintf(into + used, room - used, ".%d", (int)rest);
}

static const PreviewRoutine *preview_routine(const Preview *preview) {
    return &preview->options->routines[preview->routine];
}

/* When the light at a position can be another. */
static int64_t preview_changes(const Preview *preview, int64_t position) {
    const PreviewOptions *options = preview->options;
    if (options->changes == NULL || preview->head.speed < 0.0)
        return position;
    return options->changes(options->context, preview->routine, position);
}

static bool preview_rests(const Preview *preview, int64_t position) {
    return preview_changes(preview, position) > position;
}

/* "1:30.0 of 40:00", or what the clock on the wall shows. */
static void preview_where(const Preview *preview, int64_t position, char *title, char *where,
                          size_t room) {
    char time[48], whole[48];
    const PreviewRoutine *routine = preview_routine(preview);
    snprintf(title, PREVIEW_WORDS, "%.100s", routine->name);
    if (routine->timetable) {
        preview->options->describe(preview->options->context, position, title, where);
        return;
    }
    preview_time(position, true, time, sizeof time);
    preview_time(routine->lasts, false, whole, sizeof whole);
    snprintf(where, room, "%s%s%s", time, routine->lasts > 0 ? " of " : "",
             routine->lasts > 0 ? whole : "");
}

static void preview_say(Preview *preview, int64_t position) {
    char title[PREVIEW_WORDS], where[PREVIEW_WORDS], detail[PREVIEW_WORDS + 64], speed[32] = "";
    int64_t lasts = preview_routine(preview)->lasts;
    preview_where(preview, position, title, where, sizeof where);
    if (preview->head.speed != 1.0)
        snprintf(speed, sizeof speed, "   %gx", preview->head.speed);
    const char *state = preview->head.paused               ? "   paused"
                        : preview_rests(preview, position) ? "   still"
                                                           : "";
    snprintf(detail, sizeof detail, "%s%s%s", where, speed, state);
    terminal_status(preview->terminal,
                    &(TerminalStatus){.title = title,
                                      .detail = detail,
                                      .keys = preview_keys,
                                      .done = lasts > 0 ? (double)position / (double)lasts : -1.0});
}

/* ---- frames ---- */

/* A routine that has come to rest goes no further than where it is shown; a clock does. */
static int64_t preview_position(const Preview *preview, int64_t now) {
    int64_t position = playhead_position(&preview->head, now);
    bool stays = preview->has_shown && !preview_routine(preview)->timetable &&
                 preview->head.speed >= 0.0 && preview->changes == INT64_MAX &&
                 position > preview->shown;
    return stays ? preview->shown : position;
}

static Rendered preview_render(Preview *preview, int64_t position) {
    const PreviewOptions *options = preview->options;
    if (preview->has_shown &&
        (preview->shown == position || (position > preview->shown && position < preview->changes)))
        return RENDER_FINE;
    Rendered rendered =
        options->render(options->context, preview->routine, position, keys_now(), preview->light);
    if (rendered == RENDER_FAILED)
        preview->trouble = "out of memory";
    preview->shown = position;
    preview->has_shown = rendered == RENDER_FINE;
    preview->changes = preview->has_shown ? preview_changes(preview, position) : position;
    return rendered;
}

/* FINE and BUSY as the terminal says; BUSY too while light is held back. */
static BackendResult preview_draw(Preview *preview, int64_t position) {
    Rendered rendered = preview_render(preview, position);
    if (rendered == RENDER_FAILED)
        return BACKEND_FAILED;
    preview_say(preview, position);
    BackendFrame frame = {preview->frames++, position, preview->light, NULL};
    BackendResult result = terminal_backend.frame(preview->terminal, &frame, &preview->error);
    if (result == BACKEND_FAILED)
        preview->trouble = preview->error.sentence;
    return result == BACKEND_FINE && rendered == RENDER_HELD ? BACKEND_BUSY : result;
}

/* ---- the loop ---- */

static void preview_choose(Preview *preview, int routine, int64_t now) {
    const PreviewOptions *options = preview->options;
    int64_t lasts = options->routines[routine].lasts, start = options->start;
    preview->routine = routine;
    preview->has_shown = false;
    preview->head.first = start < 0 ? start : 0;
    preview->head.last = lasts > 0 ? lasts : (int64_t)1 << 53;
    if (options->routines[routine].timetable)
        preview->head.first = -CENTURY;
    if (options->length >= 0) {
        preview->head.first = options->speed < 0.0 ? start - options->length : start;
        preview->head.last = options->speed < 0.0 ? start : start + options->length;
    }
    if (start > preview->head.last)
        start = preview->head.last;
    playhead_start(&preview->head, start, now);
}

/* A second of watching, or a hundredth of what the routine lasts. */
static int64_t preview_step(const Preview *preview) {
    double speed = fabs(preview->head.speed);
    return (int64_t)((double)SECOND * (speed > 1.0 ? speed : 1.0));
}

static void preview_toggle(Preview *preview, int64_t now) {
    bool at_end = playhead_position(&preview->head, now) >= preview->head.last;
    if (at_end && !preview->head.paused)
        preview_choose(preview, preview->routine, now); /* once more */
    else
        playhead_pause(&preview->head, !preview->head.paused, now);
}

/* False: the end. */
static bool preview_key(Preview *preview, Key key, int64_t now) {
    int64_t step = preview_step(preview);
    /* What rests has gone no further than where it is shown. */
    if (key != KEY_QUIT && key != KEY_NEXT)
        playhead_start(&preview->head, preview_position(preview, now), now);
    switch (key) {
    case KEY_SPACE:
        preview_toggle(preview, now);
        break;
    case KEY_LEFT:
        playhead_seek(&preview->head, -step, now);
        break;
    case KEY_RIGHT:
        playhead_seek(&preview->head, step, now);
        break;
    case KEY_DOWN:
        playhead_seek(&preview->head, -10 * step, now);
        break;
    case KEY_UP:
        playhead_seek(&preview->head, 10 * step, now);
        break;
    case KEY_FASTER:
    case KEY_SLOWER:
        playhead_speed(&preview->head, key == KEY_FASTER, now);
        break;
    case KEY_NEXT:
        preview_choose(preview, (preview->routine + 1) % preview->options->routine_count, now);
        break;
    case KEY_QUIT:
        return false;
    case KEY_ENTER:
    case KEY_BACK:
    case KEY_NONE:
        break;
    }
    return true;
}

static bool preview_all_keys(Preview *preview, bool all) {
    Key key;
    while ((key = keys_take(&preview->keys, all)) != KEY_NONE)
        if (!preview_key(preview, key, keys_now()))
            return false;
    return true;
}

static void preview_suspend(Preview *preview) {
    bool paused = preview->head.paused;
    playhead_pause(&preview->head, true, keys_now());
    terminal_pause(preview->terminal);
    keys_suspend();
    terminal_resume(preview->terminal);
    playhead_pause(&preview->head, paused, keys_now());
}

/* All of what was asked for has been shown. */
static bool preview_over(const Preview *preview, int64_t now) {
    int64_t position = playhead_position(&preview->head, now);
    if (preview->options->length < 0 || preview->head.paused)
        return false;
    return preview->head.speed < 0.0 ? position <= preview->head.first
                                     : position >= preview->head.last;
}

/* The next position at which something is to be done, where the light rests: the end, the next
 * change or, of a timetable, the next second on its clock; INT64_MAX: never. */
static int64_t preview_next_position(const Preview *preview, int64_t position) {
    int64_t next = preview->options->length >= 0 ? preview->head.last : INT64_MAX;
    int64_t changes = preview_changes(preview, position);
    int64_t second = position + SECOND - ((position % SECOND) + SECOND) % SECOND;
    if (preview_routine(preview)->timetable && second < next)
        next = second;
    return changes < next ? changes : next;
}

/* When there is something to do again: the next frame, the end, a key that has only begun. */
static int64_t preview_until(const Preview *preview, BackendResult drawn, int64_t now) {
    int64_t next = playhead_next(&preview->head, now);
    int64_t frame = now + (int64_t)(1e6 / preview->head.fps);
    int64_t position = playhead_position(&preview->head, now);
    if (next != INT64_MAX && preview_rests(preview, position)) {
        int64_t stop = preview_next_position(preview, position);
        double rest = (double)(stop - position) / preview->head.speed;
        int64_t then = stop == INT64_MAX ? INT64_MAX : now + (int64_t)fmin(rest, 1e15) + 1;
        next = then > next ? then : next;
    }
    if (drawn == BACKEND_BUSY && frame < next)
        next = frame;
    if (preview->keys.count > 0 && now + SECOND / 20 < next)
        next = now + SECOND / 20;
    return next;
}

static void preview_play(Preview *preview) {
    for (;;) {
        int64_t now = keys_now();
        BackendResult drawn = preview_draw(preview, preview_position(preview, now));
        if (drawn == BACKEND_FAILED || (drawn == BACKEND_FINE && preview_over(preview, now)))
            return;
        Wake wake = keys_wait(&preview->keys, preview_until(preview, drawn, now));
        if (wake == WAKE_END || !preview_all_keys(preview, wake == WAKE_TIME))
            return;
        if (wake == WAKE_SUSPEND)
            preview_suspend(preview);
    }
}

/* ---- beginning and end ---- */

/* A locale that names another character set; without one, UTF-8 is likely. */
static bool preview_must_be_ascii(void) {
    const char *names[] = {getenv("LC_ALL"), getenv("LC_CTYPE"), getenv("LANG")};
    for (int i = 0; i < 3; i++)
        if (names[i] != NULL && *names[i] != '\0') {
            const char *set = strchr(names[i], '.');
            return set != NULL && strncasecmp(set, ".utf-8", 6) != 0 &&
                   strncasecmp(set, ".utf8", 5) != 0;
        }
    return false;
}

static TerminalOptions preview_terminal(const PreviewOptions *options, Depth depth) {
    TerminalOptions terminal =
        output_terminal(options->shape, depth, options->ascii || preview_must_be_ascii());
    terminal.status = true;
    return terminal;
}

static int preview_on_terminal(Preview *preview, Depth depth) {
    const PreviewOptions *options = preview->options;
    TerminalOptions own = preview_terminal(options, depth);
    BackendOptions to = {
        .pixels = shape_pixels(options->shape), .descriptor = options->output, .own = &own};
    keys_begin(options->input);
    preview->terminal = terminal_backend.open(&to, &preview->error);
    if (preview->terminal == NULL) {
        keys_end();
        return command_fail(EXIT_MACHINE, "%s", preview->error.sentence);
    }
    preview->head.fps = options->fps;
    preview->head.speed = options->speed;
    preview_choose(preview, options->routine, keys_now());
    preview_play(preview);
    int ended = keys_signal();
    terminal_backend.close(preview->terminal, &preview->error);
    keys_end();
    if (ended != 0)
        raise(ended);
    if (preview->trouble != NULL)
        return command_fail(EXIT_MACHINE, "%s", preview->trouble);
    return EXIT_DONE;
}

int preview_run(const PreviewOptions *options) {
    bool is_terminal = isatty(options->output);
    PaletteEnvironment environment = palette_environment();
    Depth depth = palette_depth(options->colour, is_terminal, &environment);
    Preview preview = {.options = options};
    preview.light = memory_allocate(shape_pixels(options->shape), 3 * sizeof *preview.light);
    if (preview.light == NULL)
        return command_fail(EXIT_MACHINE, "out of memory");
    bool dumb = environment.term == NULL || strcmp(environment.term, "dumb") == 0;
    int status = is_terminal && !dumb ? preview_on_terminal(&preview, depth)
                                      : still_lines(options, depth, preview.light);
    memory_release(preview.light);
    return status;
}
