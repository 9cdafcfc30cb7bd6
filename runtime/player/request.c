#include "runtime/player/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/library/agenda.h"
#include "runtime/library/lamp.h"
#include "runtime/light/lightness.h"

typedef struct Reader {
    const World *world;
    char line[REQUEST_BYTES];
    const char *words[REQUEST_WORDS + 1]; /* NULL behind the last */
    int at;
    Request *request;
    char *said;
} Reader;

#define SAY(said, ...) snprintf(said, REQUEST_SENTENCE, __VA_ARGS__)

/* ---- words ---- */

static bool split(Reader *reader, const char *line) {
    size_t length = strlen(line);
    int count = 0;
    if (length >= REQUEST_BYTES) {
        SAY(reader->said, "a line has at most %d bytes", REQUEST_BYTES - 1);
        return false;
    }
    memcpy(reader->line, line, length + 1);
    for (char *p = reader->line; *p;) {
        while (*p && (unsigned char)*p <= ' ')
            *p++ = '\0';
        if (*p && count == REQUEST_WORDS) {
            SAY(reader->said, "a line has at most %d words", REQUEST_WORDS);
            return false;
        }
        if (*p)
            reader->words[count++] = p;
        while ((unsigned char)*p > ' ')
            p++;
    }
    reader->words[count] = NULL;
    return true;
}

static const char *word(const Reader *reader) {
    return reader->words[reader->at];
}

static bool take(Reader *reader, const char *wanted) {
    if (!word(reader) || strcmp(word(reader), wanted) != 0)
        return false;
    reader->at++;
    return true;
}

/* ---- values, by the language's own reader ---- */

static bool read_number(const char *text, DialType type, double *number) {
    DialValue value;
    DialInfo info = {.type = type};
    if (!text || dial_read(&info, text, &value) != DIAL_SET)
        return false;
    *number = value.number;
    return true;
}

static bool read_length(Reader *reader, int64_t *length) {
    double microseconds;
    const char *text = word(reader);
    if (!read_number(text, DIAL_DURATION, &microseconds) || microseconds <= 0) {
        SAY(reader->said, "how long is written like `30min`, `1h30min` or `20s`, not `%.60s`",
            text ? text : "");
        return false;
    }
    reader->at++;
    *length = (int64_t)microseconds;
    return true;
}

/* 22:00, 6:30, 03:10:30 */
static bool read_clock(Reader *reader, int32_t *clock) {
    const char *text = word(reader);
    int hours, minutes, seconds = 0, used = 0;
    bool fine = text && strspn(text, "0123456789:") == strlen(text) &&
                sscanf(text, "%2d:%2d%n", &hours, &minutes, &used) == 2;
    if (fine && text[used] == ':')
        fine = sscanf(text, "%2d:%2d:%2d%n", &hours, &minutes, &seconds, &used) == 3;
    if (!fine || text[used] || hours > 23 || minutes > 59 || seconds > 59) {
        SAY(reader->said, "a time of day is written like `22:00`, not `%.60s`", text ? text : "");
        return false;
    }
    reader->at++;
    *clock = hours * 3600 + minutes * 60 + seconds;
    return true;
}

/* ---- names ---- */

static bool no_name(Reader *reader, const char *what, const char *given, const char *const *names,
                    size_t count) {
    const char *near = given ? diagnostics_nearest(given, names, count) : NULL;
    if (!given)
        SAY(reader->said, "which %s?%s%.64s%s", what, count ? " The first is `" : " There is none",
            count ? names[0] : "", count ? "`" : "");
    else if (near)
        SAY(reader->said, "there is no %s `%.64s`: `%.64s`?", what, given, near);
    else
        SAY(reader->said, "there is no %s `%.64s`%s%.64s%s", what, given,
            count ? "; the first is `" : "", count ? names[0] : "", count ? "`" : "");
    return false;
}

static bool read_routine(Reader *reader) {
    const Program *program = reader->world->context.program;
    const char *names[LIMIT_ROUTINES + 1], *given = word(reader);
    for (uint16_t i = 0; i < program->routine_count; i++) {
        names[i] = program->routines[i].name;
        if (given && strcmp(given, names[i]) == 0) {
            reader->request->act.routine = i;
            reader->at++;
            return true;
        }
    }
    reader->request->act.routine = ROUTINE_OFF;
    names[program->routine_count] = "off";
    return take(reader, "off") ||
           no_name(reader, "routine", given, names, program->routine_count + 1u);
}

static bool read_lamp(Reader *reader) {
    const World *world = reader->world;
    const char *names[LIMIT_LAMPS], *given = word(reader);
    for (uint32_t i = 0; i < world->lamp_count; i++) {
        names[i] = world->lamps[i].name;
        if (given && strcmp(given, names[i]) == 0) {
            reader->request->act.lamp = (int32_t)i;
            reader->at++;
            return true;
        }
    }
    return no_name(reader, "lamp", given, names, world->lamp_count);
}

static bool read_event(Reader *reader) {
    const Program *program = reader->world->context.program;
    const char *names[LIMIT_EVENTS], *given = word(reader);
    for (uint16_t i = 0; i < program->event_count; i++) {
        names[i] = program->events[i].name;
        if (given && strcmp(given, names[i]) == 0) {
            reader->request->act.event = i;
            reader->at++;
            return true;
        }
    }
    return no_name(reader, "event", given, names, program->event_count);
}

/* ---- dials ---- */

static bool ends_value(const char *next) {
    return !next || strcmp(next, "on") == 0 || strcmp(next, "for") == 0 ||
           strcmp(next, "until") == 0;
}

static bool balanced(const char *text) {
    int depth = 0;
    for (; *text; text++)
        depth += (*text == '(') - (*text == ')');
    return depth == 0;
}

/* DIAL = VALUE, or DIAL VALUE: the words up to a comma or a word that goes on. *more: a comma
 * ended it. */
static bool read_setting(Reader *reader, TimetableSetting *setting, bool *more) {
    static const char *const EXAMPLES[] = {"40%", "2s", "true", "gold"};
    const Program *program = reader->world->context.program;
    const char *names[LIMIT_DIALS], *given = word(reader);
    char name[LIMIT_NAME_BYTES * 2 + 2] = "", value[REQUEST_BYTES] = "";
    /* `warmth=40%` is one word. */
    size_t length = given ? strcspn(given, "=") : 0;
    bool glued = given && given[length] == '=';
    snprintf(name, sizeof name, "%.*s", (int)(length < 128 ? length : 128), given ? given : "");
    for (uint16_t i = 0; i < program->dial_count; i++)
        names[i] = program->dials[i].name;
    uint16_t dial = dial_find(program, name, strlen(name));
    if (dial == program->dial_count)
        return no_name(reader, "dial", given ? name : NULL, names, program->dial_count);
    reader->at++;
    const char *piece = glued && given[length + 1] ? given + length + 1 : NULL;
    *more = false;
    if (!glued)
        take(reader, "=");
    while (!*more && (piece || !ends_value(word(reader)))) {
        if (!piece) {
            piece = word(reader);
            reader->at++;
        }
        snprintf(value + strlen(value), sizeof value - strlen(value), "%s ", piece);
        /* A comma inside parentheses belongs to the value: rgb(255, 136, 0). */
        *more = piece[strlen(piece) - 1] == ',' && balanced(value);
        piece = NULL;
    }
    if (*more)
        value[strlen(value) - 2] = '\0';
    const DialInfo *info = &program->dials[dial];
    DialValue read;
    if (!*value || dial_read(info, value, &read) != DIAL_SET) {
        SAY(reader->said, "`%.60s` is no value for the dial `%.64s`: `%s`", value, info->name,
            EXAMPLES[info->type]);
        return false;
    }
    *setting = (TimetableSetting){dial, read.number, read.colour};
    return true;
}

static bool read_settings(Reader *reader) {
    Act *act = &reader->request->act;
    bool more = true;
    act->settings = reader->request->settings;
    while (more) {
        if (act->setting_count == LIMIT_OVERRIDE_DIALS) {
            SAY(reader->said, "a play by hand sets at most %d dials", LIMIT_OVERRIDE_DIALS);
            return false;
        }
        TimetableSetting *setting = &reader->request->settings[act->setting_count];
        if (!read_setting(reader, setting, &more))
            return false;
        for (uint32_t i = 0; i < act->setting_count; i++)
            if (act->settings[i].dial == setting->dial) {
                SAY(reader->said, "the dial `%.64s` is set twice",
                    reader->world->context.program->dials[setting->dial].name);
                return false;
            }
        act->setting_count++;
    }
    return true;
}

/* ---- what follows ---- */

/* on [lamp] NAME, for D, until T, with DIAL = VALUE, ...: in any order, each once. */
static bool read_rest(Reader *reader, bool ends, bool dials) {
    Act *act = &reader->request->act;
    bool lamp = false, end = false;
    act->lamp = TIMETABLE_NOT_SAID;
    act->end = (OverrideEnd){.kind = OVERRIDE_NEXT_ENTRY};
    while (word(reader)) {
        bool fine = false;
        if (!lamp && take(reader, "on")) {
            take(reader, "lamp");
            lamp = true;
            fine = read_lamp(reader);
        } else if (ends && !end && take(reader, "for")) {
            end = true;
            act->end.kind = OVERRIDE_FOR;
            fine = read_length(reader, &act->end.length);
        } else if (ends && !end && take(reader, "until")) {
            end = true;
            act->end.kind = OVERRIDE_UNTIL;
            fine = read_clock(reader, &act->end.until.clock);
        } else if (dials && act->setting_count == 0 && take(reader, "with")) {
            fine = read_settings(reader);
        } else {
            SAY(reader->said, "`%.60s` is not understood here%s", word(reader),
                ends ? "; `for 30min`, `until 22:00` or `on lamp NAME` can stand here"
                     : "; `on lamp NAME` can stand here");
        }
        if (!fine)
            return false;
    }
    return true;
}

static bool nothing_more(Reader *reader) {
    if (!word(reader))
        return true;
    SAY(reader->said, "`%.60s` is one word too many", word(reader));
    return false;
}

static bool read_level(Reader *reader) {
    double value;
    const char *text = word(reader);
    bool percent = text && *text && text[strlen(text) - 1] == '%';
    if (!read_number(text, DIAL_NUMBER, &value) || value < 0 || value > (percent ? 1 : 100)) {
        SAY(reader->said,
            "a level is a lightness from 0 to 100, or a share of the light, `10%%`, not `%.60s`",
            text ? text : "");
        return false;
    }
    reader->at++;
    reader->request->act.lightness = percent ? lightness_of(value) : value;
    return read_rest(reader, true, false);
}

static bool read_clear(Reader *reader) {
    double number = 0;
    bool all = !word(reader);
    if (!all && (!read_number(word(reader), DIAL_NUMBER, &number) || number < 1 ||
                 number != number_floor(number) || number > LIMIT_MICROSECONDS)) {
        SAY(reader->said, "`clear` takes a number of the list of `status`, not `%.60s`",
            word(reader));
        return false;
    }
    reader->at += !all;
    reader->request->act.number = (uint64_t)number;
    return nothing_more(reader);
}

static bool read_act(Reader *reader) {
    Act *act = &reader->request->act;
    bool more;
    switch (act->kind) {
    case ACT_PLAY:
        return read_routine(reader) && read_rest(reader, true, true);
    case ACT_LEVEL:
        return read_level(reader);
    case ACT_SKIP:
        return read_rest(reader, false, false);
    case ACT_MORE:
        return read_length(reader, &act->length) && read_rest(reader, false, false);
    case ACT_EARLIER:
        return read_clock(reader, &act->clock) && read_rest(reader, false, false);
    case ACT_SET:
        return read_setting(reader, &act->setting, &more) && nothing_more(reader);
    case ACT_CLEAR:
        return read_clear(reader);
    case ACT_UNDO:
        return nothing_more(reader);
    case ACT_REPORT:
        return read_event(reader) && nothing_more(reader);
    }
    return false;
}

bool request_read(const World *world, const char *line, Request *request,
                  char said[REQUEST_SENTENCE]) {
    static const char *const KINDS[] = {
        [ACT_PLAY] = "play",        [ACT_LEVEL] = "level", [ACT_SKIP] = "skip",
        [ACT_MORE] = "more",        [ACT_SET] = "set",     [ACT_EARLIER] = "earlier",
        [ACT_CLEAR] = "clear",      [ACT_UNDO] = "undo",   [ACT_REPORT] = "report",
        [ACT_REPORT + 1] = "status"};
    enum { COUNT = sizeof KINDS / sizeof *KINDS };
    Reader reader = {.world = world, .request = request, .said = said};
    *request = (Request){.act = {.lamp = TIMETABLE_NOT_SAID}};
    said[0] = '\0';
    if (!split(&reader, line))
        return false;
    const char *first = word(&reader);
    for (int i = 0; i < COUNT; i++) {
        if (!take(&reader, KINDS[i]))
            continue;
        request->status = i == ACT_REPORT + 1;
        request->act.kind = (ActKind)i;
        return request->status ? nothing_more(&reader) : read_act(&reader);
    }
    if (!first)
        SAY(said, "the line is empty: `status` asks what plays");
    else
        no_name(&reader, "request", first, KINDS, COUNT);
    return false;
}

/* ---- what is said ---- */

__attribute__((format(printf, 3, 4))) static void add(char *text, size_t size, const char *format,
                                                      ...) {
    size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + used, size - used, format, arguments);
    va_end(arguments);
}

static void add_end(const World *world, const OverrideEnd *end, char *text, size_t size) {
    char words[AGENDA_WORDS];
    switch (end->kind) {
    case OVERRIDE_FOR:
        agenda_duration(end->length, words, sizeof words);
        add(text, size, " for %s", words);
        return;
    case OVERRIDE_UNTIL:
        agenda_moment(&end->until, words, sizeof words);
        add(text, size, " until %s", words);
        return;
    case OVERRIDE_AT:
        agenda_clock(&world->context, end->instant, words, sizeof words);
        add(text, size, " until %s", words);
        return;
    case OVERRIDE_NEXT_ENTRY:
        add(text, size, " until the next entry");
        return;
    }
}

static void add_target(const World *world, const Override *override, char *text, size_t size) {
    char words[AGENDA_CAUSE];
    if (override->target.kind != TARGET_ENTRY) {
        add(text, size, " of number %llu", (unsigned long long) override->target.number);
        return;
    }
    const TimetableEntry *entry = &world->context.timetable->entries[override->target.entry];
    agenda_why(&world->context, override->target.entry, override->target.start, words,
               sizeof words);
    add(text, size, " %s (%s)", agenda_routine(world->context.program, entry->play.routine), words);
}

void request_words(const World *world, const Override *override, char *text, size_t size) {
    char words[AGENDA_WORDS];
    text[0] = '\0';
    switch (override->kind) {
    case OVERRIDE_PLAY:
        add(text, size, "%s", agenda_routine(world->context.program, override->routine));
        add_end(world, &override->end, text, size);
        break;
    case OVERRIDE_LEVEL:
        add(text, size, "level %.4g (%.3g %% of the light)", override->lightness,
            100 * lightness_light(override->lightness));
        add_end(world, &override->end, text, size);
        break;
    case OVERRIDE_SKIP:
        add(text, size, "skip");
        add_target(world, override, text, size);
        break;
    case OVERRIDE_MORE:
        agenda_duration(override->length, words, sizeof words);
        add(text, size, "%s more", words);
        add_target(world, override, text, size);
        break;
    case OVERRIDE_EARLIER:
        agenda_clock(&world->context, override->moment, words, sizeof words);
        add(text, size, "at %s instead:", words);
        add_target(world, override, text, size);
        break;
    }
    if (override->lamp != TIMETABLE_NOT_SAID && world->lamp_count)
        add(text, size, " on lamp %s", world->lamps[override->lamp].name);
}

/* What was done: the overrides of the last number, or the dial. */
static void say_done(const Overrides *before, const Overrides *overrides, const World *world,
                     const Request *request, char said[REQUEST_SENTENCE]) {
    const Program *program = world->context.program;
    static const char *const WORDS[] = {[ACT_CLEAR] = "cleared", [ACT_UNDO] = "taken back"};
    switch (request->act.kind) {
    case ACT_SET:
        SAY(said, "`%.64s` is set", program->dials[request->act.setting.dial].name);
        return;
    case ACT_REPORT:
        SAY(said, "`%.64s` was told: %s", program->events[request->act.event].name,
            overrides->last_number != before->last_number ? "it plays" : "nothing waits for it");
        return;
    case ACT_CLEAR:
    case ACT_UNDO:
        SAY(said, "%s", WORDS[request->act.kind]);
        for (uint32_t i = 0; i < before->count; i++) {
            int64_t at = overrides_find(overrides, before->list[i].kind, before->list[i].number);
            if (before->list[i].cleared || (at >= 0 && !overrides->list[at].cleared))
                continue;
            char words[REQUEST_SENTENCE / 2];
            request_words(world, &before->list[i], words, sizeof words);
            SAY(said, "%s: %s", WORDS[request->act.kind], words);
            return;
        }
        return;
    default:
        for (uint32_t i = 0; i < overrides->count; i++)
            if (overrides->list[i].number == overrides->last_number) {
                char words[REQUEST_SENTENCE / 2];
                request_words(world, &overrides->list[i], words, sizeof words);
                SAY(said, "%s (number %llu)", words, (unsigned long long)overrides->last_number);
                return;
            }
    }
}

bool request_do(Overrides *overrides, const World *world, const Now *now, const Request *request,
                char said[REQUEST_SENTENCE]) {
    const char *trouble = NULL;
    Overrides *before = memory_allocate(1, sizeof *before);
    if (!before) {
        SAY(said, "out of memory");
        return false;
    }
    *before = *overrides;
    trouble = overrides_act(overrides, world, now, &request->act);
    if (trouble)
        SAY(said, "%s", trouble);
    else
        say_done(before, overrides, world, request, said);
    memory_release(before);
    return !trouble;
}
