/* Runs the programs of spec/conformance (its README says how they are written): compiles each,
 * compares its light or its messages with what it expects. Arguments: files; without, all. */
#include <glob.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lang/compile.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/advice.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"
#include "runtime/vm/vm.h"

enum { MESSAGES = 64, WORD = 160 };

typedef struct Case {
    const char *path;
    char *text;
    double tolerance; /* 0: exact */
    ShapeRequest request;
    char declared[WORD], routine[WORD]; /* empty: none, the only one */
    Moment moment;
    unsigned misses;
    bool taken[MESSAGES]; /* messages that a line of the case asked for */
    bool clean;
    /* What it was compiled to. */
    Compilation *compilation;
    const Program *program;
    DialValue *dials;
    Vm *vm;
    Lamp lamp;
    float *light;
} Case;

#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
static void
case_miss(Case *one, unsigned line, const char *format, ...) {
    va_list arguments;
    one->misses++;
    printf("%s:%u: ", one->path, line);
    va_start(arguments, format);
    vprintf(format, arguments);
    va_end(arguments);
    putchar('\n');
}

/* ---- reading the lines that begin with //= ---- */

/* The next such line as "KEY REST" in `line`, or false. *at moves on, *number counts lines. */
static bool case_next(const char **at, unsigned *number, char line[1024]) {
    while (**at) {
        const char *start = *at;
        size_t length = strcspn(start, "\n");
        *at = start + length + (start[length] == '\n');
        (*number)++;
        if (strncmp(start, "//= ", 4) != 0)
            continue;
        length -= 4;
        if (length && start[4 + length - 1] == '\r')
            length--;
        if (length > 1023)
            length = 1023;
        memcpy(line, start + 4, length);
        line[length] = 0;
        return true;
    }
    return false;
}

/* What follows the key, or NULL where the line has another one. */
static const char *line_rest(const char *line, const char *key) {
    size_t length = strlen(key);
    if (strncmp(line, key, length) != 0)
        return NULL;
    if (!line[length])
        return line + length;
    return line[length] == ' ' ? line + length + 1 : NULL;
}

/* "1h30min", "-0.5s" in microseconds; *end is behind it. */
static double read_time(const char *text, const char **end) {
    static const struct {
        const char *unit;
        double length;
    } units[] = {{"ms", 1e3}, {"min", 6e7}, {"h", 3.6e9}, {"s", 1e6}};
    double sign = 1, sum = 0;
    if (*text == '-') {
        sign = -1;
        text++;
    }
    while (*text >= '0' && *text <= '9') {
        char *behind = NULL;
        double value = strtod(text, &behind);
        for (size_t u = 0; u < sizeof units / sizeof units[0]; u++) {
            size_t length = strlen(units[u].unit);
            if (strncmp(behind, units[u].unit, length) == 0) {
                sum += value * units[u].length;
                behind += length;
                break;
            }
        }
        text = behind;
    }
    *end = text;
    return sign * floor(sum + 0.5);
}

static bool read_lamp(Case *one, const char *text) {
    char word[WORD] = "", more[WORD] = "";
    unsigned first = 0, second = 0;
    ShapeRequest *request = &one->request;
    memset(request, 0, sizeof *request);
    if (sscanf(text, "declared %159s", one->declared) == 1)
        return true;
    if (sscanf(text, "grid %u by %u %159s", &first, &second, more) >= 2) {
        request->form = FORM_GRID;
        request->across = first;
        request->up = second;
        request->zigzag = strcmp(more, "zigzag") == 0;
        return true;
    }
    if (sscanf(text, "%159s %u %159s", word, &first, more) < 2)
        return false;
    if (strcmp(word, "ball") == 0) {
        request->form = FORM_BALL;
        request->frequency = first;
        request->faces = strcmp(more, "faces") == 0;
        return true;
    }
    request->form = strcmp(word, "ring") == 0 ? FORM_RING : FORM_STRIP;
    request->pixels = first;
    return strcmp(word, "ring") == 0 || strcmp(word, "strip") == 0;
}

/* A line that says under what circumstances the light is read; false where it is none. */
static bool read_circumstance(Case *one, unsigned number, const char *line) {
    const char *rest = NULL;
    if ((rest = line_rest(line, "lamp"))) {
        if (!read_lamp(one, rest))
            case_miss(one, number, "no lamp: %s", rest);
    } else if ((rest = line_rest(line, "routine"))) {
        snprintf(one->routine, sizeof one->routine, "%s", rest);
    } else if ((rest = line_rest(line, "tolerance"))) {
        one->tolerance = strcmp(rest, "exact") == 0 ? 0 : strtod(rest, NULL);
    } else if ((rest = line_rest(line, "hour"))) {
        one->moment.input[INPUT_HOUR] = strtod(rest, NULL);
    } else if ((rest = line_rest(line, "moonlit"))) {
        one->moment.input[INPUT_MOONLIT] = strtod(rest, NULL);
    } else if ((rest = line_rest(line, "moonage"))) {
        one->moment.input[INPUT_MOONAGE] = strtod(rest, NULL);
    } else if ((rest = line_rest(line, "sunheight"))) {
        one->moment.input[INPUT_SUNHEIGHT] = strtod(rest, NULL) / 360;
    } else {
        return line_rest(line, "about") || line_rest(line, "light");
    }
    return true;
}

/* ---- messages ---- */

static const char *const severities[] = {"error", "warning", "note"};

/* Every text in quotes must stand in the message or in its hint. */
static bool texts_occur(const char *wanted, const Diagnostic *message) {
    const char *start = strchr(wanted, '"');
    while (start) {
        char text[512];
        const char *end = strchr(++start, '"');
        size_t length = end ? (size_t)(end - start) : strlen(start);
        if (length >= sizeof text)
            return false;
        memcpy(text, start, length);
        text[length] = 0;
        if (!strstr(message->message, text) && !(message->hint && strstr(message->hint, text)))
            return false;
        start = end ? strchr(end + 1, '"') : NULL;
    }
    return true;
}

static void print_messages(const Diagnostics *sink) {
    for (size_t i = 0; i < diagnostics_total(sink); i++) {
        const Diagnostic *message = diagnostics_at(sink, i);
        uint32_t line = 0, column = 0;
        if (message->span.file != UINT32_MAX)
            diagnostics_position(sink, message->span.file, message->span.begin, &line, &column);
        printf("    said: %s %u:%u: %s%s%s\n", severities[message->severity], line, column,
               message->message, message->hint ? " -- " : "", message->hint ? message->hint : "");
    }
}

/* "LINE[:COLUMN] "text" ..." or "any "text" ...". */
static void expect_message(Case *one, unsigned number, Severity severity, const char *wanted) {
    const Diagnostics *sink = lang_diagnostics(one->compilation);
    unsigned want_line = 0, want_column = 0;
    sscanf(wanted, "%u:%u", &want_line, &want_column);
    for (size_t i = 0; i < diagnostics_total(sink) && i < MESSAGES; i++) {
        const Diagnostic *message = diagnostics_at(sink, i);
        uint32_t line = 0, column = 0;
        if (one->taken[i] || message->severity != severity)
            continue;
        if (message->span.file != UINT32_MAX)
            diagnostics_position(sink, message->span.file, message->span.begin, &line, &column);
        if (want_line && want_line != line)
            continue;
        if (want_column && want_column != column)
            continue;
        if (!texts_occur(wanted, message))
            continue;
        one->taken[i] = true;
        return;
    }
    case_miss(one, number, "not said: %s %s", severities[severity], wanted);
    print_messages(sink);
}

/* Errors that no line asked for; in a clean case any message. */
static void refuse_messages(Case *one) {
    const Diagnostics *sink = lang_diagnostics(one->compilation);
    for (size_t i = 0; i < diagnostics_total(sink) && i < MESSAGES; i++) {
        const Diagnostic *message = diagnostics_at(sink, i);
        uint32_t line = 0, column = 0;
        if (one->taken[i] || (message->severity != SEVERITY_ERROR && !one->clean))
            continue;
        if (message->span.file != UINT32_MAX)
            diagnostics_position(sink, message->span.file, message->span.begin, &line, &column);
        case_miss(one, line, "not expected: %s at column %u: %s", severities[message->severity],
                  column, message->message);
    }
}

/* ---- light ---- */

static void set_dial(Case *one, unsigned number, const char *rest) {
    size_t length = strcspn(rest, " ");
    uint16_t index = dial_find(one->program, rest, length);
    DialValue value = {0};
    if (index == one->program->dial_count) {
        case_miss(one, number, "no dial of that name: %s", rest);
        return;
    }
    const DialInfo *dial = &one->program->dials[index];
    DialTrouble trouble = dial_read(dial, rest + length + 1, &value);
    if (trouble != DIAL_SET && trouble != DIAL_CUT) {
        case_miss(one, number, "the dial does not take: %s", rest);
        return;
    }
    one->dials[index] = dial_held(dial, value);
}

static const Code *find_code(const Case *one) {
    const Program *program = one->program;
    for (uint16_t i = 0; i < program->routine_count; i++)
        if (!one->routine[0] || strcmp(program->routines[i].name, one->routine) == 0)
            return &program->routines[i].code;
    return NULL;
}

/* Opens the routine on the lamp of the case; false after a miss. */
static bool open_routine(Case *one) {
    const Code *code = find_code(one);
    const LampInfo *info = NULL;
    ShapePoint *points = NULL;
    uint32_t count = 0;
    const LampInfo *lamps = lang_lamps(one->compilation, &count);
    for (uint32_t i = 0; i < count; i++)
        if (one->declared[0] && strcmp(lamps[i].name, one->declared) == 0)
            info = &lamps[i];
    if (one->declared[0] && (!info || !lamp_request(info, &one->request, &points))) {
        case_miss(one, 1, "no lamp %s", one->declared);
        return false;
    }
    bool placed = lamp_make(&one->lamp, one->program, &one->request, info);
    memory_release(points);
    if (code && placed)
        one->vm = vm_create(code, &one->lamp.scene, one->dials);
    if (one->vm)
        one->light = calloc(one->lamp.scene.pixels, 3 * sizeof *one->light);
    if (!one->light)
        case_miss(one, 1, "the routine cannot be opened");
    return one->light != NULL;
}

static bool same_light(double expected, float got, double tolerance) {
    float single = (float)expected;
    if (!isfinite(got))
        return false;
    return tolerance > 0 ? fabs((double)got - expected) <= tolerance : got == single;
}

/* "1.5s pixels 3..5: 0.25 0 0", "0s every pixel: 1 0 0". */
static void expect_light(Case *one, unsigned number, const char *text) {
    const char *behind = NULL;
    unsigned first = 0, last = one->lamp.scene.pixels - 1;
    double expected[3];
    one->moment.input[INPUT_T] = read_time(text, &behind);
    const char *values = strchr(behind, ':');
    int numbers = sscanf(behind, " pixel%*[s ]%u..%u", &first, &last);
    if (numbers == 1)
        last = first;
    if (!values || last >= one->lamp.scene.pixels || first > last ||
        sscanf(values + 1, "%lf %lf %lf", &expected[0], &expected[1], &expected[2]) != 3) {
        case_miss(one, number, "not readable: %s", text);
        return;
    }
    vm_render(one->vm, &one->moment, one->light);
    for (unsigned pixel = first; pixel <= last; pixel++) {
        const float *got = one->light + 3 * (size_t)pixel;
        if (same_light(expected[0], got[0], one->tolerance) &&
            same_light(expected[1], got[1], one->tolerance) &&
            same_light(expected[2], got[2], one->tolerance))
            continue;
        case_miss(one, number, "%.*s pixel %u: expected %.9g %.9g %.9g, got %.9g %.9g %.9g",
                  (int)(behind - text), text, pixel, expected[0], expected[1], expected[2],
                  (double)got[0], (double)got[1], (double)got[2]);
    }
}

/* ---- a case ---- */

/* Circumstances first, since they may stand behind what is expected. Returns how much is. */
static unsigned read_circumstances(Case *one) {
    char line[1024];
    unsigned number = 0, expected = 0;
    for (const char *at = one->text; case_next(&at, &number, line);) {
        if (read_circumstance(one, number, line))
            continue;
        if (line_rest(line, "set"))
            continue;
        expected++;
        if (line_rest(line, "clean"))
            one->clean = true;
    }
    return expected;
}

static void check_expected(Case *one) {
    char line[1024];
    unsigned number = 0;
    for (const char *at = one->text; case_next(&at, &number, line);) {
        const char *rest = NULL;
        if ((rest = line_rest(line, "at"))) {
            if (!one->program) {
                case_miss(one, number, "no light: the program has errors");
                print_messages(lang_diagnostics(one->compilation));
                return;
            }
            if (!one->light && !open_routine(one))
                return;
            expect_light(one, number, rest);
        } else if ((rest = line_rest(line, "set"))) {
            if (one->program)
                set_dial(one, number, rest);
        } else if ((rest = line_rest(line, "error"))) {
            expect_message(one, number, SEVERITY_ERROR, rest);
        } else if ((rest = line_rest(line, "warning"))) {
            expect_message(one, number, SEVERITY_WARNING, rest);
        } else if ((rest = line_rest(line, "note"))) {
            expect_message(one, number, SEVERITY_NOTE, rest);
        } else if (!line_rest(line, "clean") && !read_circumstance(one, number, line)) {
            case_miss(one, number, "no such line: %s", line);
        }
    }
}

static bool run_case(const char *path) {
    Case one = {.path = path, .tolerance = 4e-6, .request = {.form = FORM_RING, .pixels = 16}};
    const char *reason = NULL;
    size_t length = 0;
    DiskReader disk;
    if (disk_read_file(path, LIMIT_SOURCE_BYTES, &one.text, &length, &reason) != READ_FINE) {
        case_miss(&one, 0, "cannot be read");
        return false;
    }
    if (read_circumstances(&one) == 0)
        case_miss(&one, 0, "expects nothing");
    disk_reader_start(&disk);
    one.compilation = lang_compile(&disk.reader, path);
    if (one.compilation)
        advice_give(one.compilation);
    if (!one.compilation) {
        case_miss(&one, 0, "out of memory");
    } else {
        one.program = lang_program(one.compilation);
        if (one.program)
            one.dials = dial_defaults(one.program);
        check_expected(&one);
        refuse_messages(&one);
    }
    vm_free(one.vm);
    lamp_free(&one.lamp);
    free(one.light);
    memory_release(one.dials);
    lang_free(one.compilation);
    disk_reader_end(&disk);
    memory_release(one.text);
    return one.misses == 0;
}

int main(int count, char **arguments) {
    unsigned passed = 0, failed = 0;
    glob_t found = {0};
    if (count > 1) {
        for (int i = 1; i < count; i++)
            *(run_case(arguments[i]) ? &passed : &failed) += 1;
    } else {
        if (glob("spec/conformance/*/*.gloam", 0, NULL, &found) != 0) {
            puts("no programs in spec/conformance: run this at the top of the project");
            return 1;
        }
        for (size_t i = 0; i < found.gl_pathc; i++)
            *(run_case(found.gl_pathv[i]) ? &passed : &failed) += 1;
        globfree(&found);
    }
    printf("%u passed, %u failed\n", passed, failed);
    return failed ? 1 : 0;
}
