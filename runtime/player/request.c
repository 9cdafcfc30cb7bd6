#include "runtime/player/request.h"

#include <stdio.h>
#include <string.h>

#include "runtime/library/lamp.h"
#include "runtime/light/lightness.h"

typedef struct Reader {
    const World *world;
    char line[REQUEST_BYTES];
    char *words[REQUEST_WORDS + 1]; /* NULL behind the last */
    int at;
    Request *request;
    char *said;
} Reader;

#define SAY(said, ...) snprintf(said, REQUEST_SENTENCE, __VA_ARGS__)

/* ---- words ---- */

const char *request_behind(const char *line, const char *words) {
    for (;; words += *words == ' ') {
        while (*line && (unsigned char)*line <= ' ')
            line++;
        if (!*words)
            return line;
        for (; *words && *words != ' '; words++, line++)
            if (*line != *words)
                return NULL;
        if ((unsigned char)*line > ' ')
            return NULL;
    }
}

size_t request_word(const char *line) {
    size_t length = 0;
    while ((unsigned char)line[length] > ' ')
        length++;
    return length;
}

bool request_is(const char *line, const char *words) {
    const char *rest = request_behind(line, words);
    return rest && !*rest;
}

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

/* False: `said` is `otherwise`, with the word in it, or that memory ran out. */
static bool read_number(Reader *reader, DialType type, double *number, const char *otherwise) {
    DialValue value = {0};
    DialInfo info = {.type = type};
    const char *text = word(reader);
    DialTrouble trouble = text ? dial_read(&info, text, &value) : DIAL_NOT_READ;
    SAY(reader->said, "%s, not `%.60s`", otherwise, text ? text : "");
    if (trouble == DIAL_NO_MEMORY)
        SAY(reader->said, "out of memory");
    *number = value.number;
    return trouble == DIAL_SET;
}

static bool read_length(Reader *reader, int64_t *length) {
    double microseconds;
    if (!read_number(reader, DIAL_DURATION, &microseconds,
                     "how long is written like `30min`, `1h30min` or `20s`"))
        return false;
    if (microseconds <= 0) {
        SAY(reader->said, "how long is more than 0s and at most %s, not `%.60s`",
            reader->request->act.kind == ACT_MORE ? "24 hours" : "366 days", word(reader));
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
    size_t length = text ? strlen(text) : 0, head = text ? strcspn(text, ":") : 0;
    bool fine = text && strspn(text, "0123456789:") == length && (head == 1 || head == 2) &&
                (length == head + 3 || length == head + 6) &&
                sscanf(text, "%2d:%2d%n", &hours, &minutes, &used) == 2;
    if (fine && text[used])
        fine = sscanf(text, "%2d:%2d:%2d%n", &hours, &minutes, &seconds, &used) == 3;
    if (!fine || (size_t)used != length || hours > 23 || minutes > 59 || seconds > 59) {
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
    if (!given || !*given)
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

/* The comma that ends a value: not inside parentheses, where it belongs to the value, as in
 * rgb(255, 136, 0). `depth` of them are open before the text. */
static char *end_of_value(char *text, int *depth) {
    for (; *text; text++) {
        *depth += (*text == '(') - (*text == ')');
        if (*text == ',' && *depth <= 0)
            return text;
    }
    return NULL;
}

/* The words up to a comma or a word that goes on; what stands behind the comma stays. *more: a
 * comma ended it. */
static void take_value(Reader *reader, char value[REQUEST_BYTES], bool *more) {
    int depth = 0;
    size_t used = 0;
    *more = false;
    value[0] = '\0';
    while (!*more && !ends_value(word(reader))) {
        char *piece = reader->words[reader->at], *comma = end_of_value(piece, &depth);
        *more = comma != NULL;
        if (comma)
            *comma = '\0';
        used += (size_t)snprintf(value + used, REQUEST_BYTES - used, used && *piece ? " %s" : "%s",
                                 piece);
        if (comma && comma[1])
            reader->words[reader->at] = comma + 1;
        else
            reader->at++;
    }
}

/* Why a value is none for the dial, and what to write. */
static void no_value(Reader *reader, const DialInfo *info, const char *value, DialTrouble trouble) {
    static const char *const EXAMPLES[] = {"40%", "2s", "true", "gold"};
    if (trouble == DIAL_NO_MEMORY)
        SAY(reader->said, "out of memory");
    else if (!*value)
        SAY(reader->said, "which value for the dial `%.64s`? `%s`, say", info->name,
            EXAMPLES[info->type]);
    else if (trouble == DIAL_NOT_PERCENT)
        SAY(reader->said, "the dial `%.64s` goes from %.4g%% to %.4g%%: write `%.60s%%`",
            info->name, 100 * info->from, 100 * info->to, value);
    else
        SAY(reader->said, "`%.60s` is no value for the dial `%.64s`: `%s`", value, info->name,
            EXAMPLES[info->type]);
}

/* DIAL = VALUE, DIAL=VALUE or DIAL VALUE. */
static bool read_setting(Reader *reader, TimetableSetting *setting, bool *more) {
    const Program *program = reader->world->context.program;
    const char *names[LIMIT_DIALS];
    char *given = reader->words[reader->at], value[REQUEST_BYTES];
    char *equals = given ? strchr(given, '=') : NULL;
    for (uint16_t i = 0; i < program->dial_count; i++)
        names[i] = program->dials[i].name;
    if (equals)
        *equals = '\0';
    uint16_t dial = given ? dial_find(program, given, strlen(given)) : program->dial_count;
    if (dial == program->dial_count)
        return no_name(reader, "dial", given, names, program->dial_count);
    if (equals && equals[1])
        reader->words[reader->at] = equals + 1;
    else
        reader->at++;
    if (!equals && word(reader) && *word(reader) == '=' && !*++reader->words[reader->at])
        reader->at++;
    take_value(reader, value, more);
    const DialInfo *info = &program->dials[dial];
    DialValue read;
    DialTrouble trouble = *value ? dial_read(info, value, &read) : DIAL_NOT_READ;
    reader->request->cut = trouble == DIAL_CUT;
    if (trouble != DIAL_SET && trouble != DIAL_CUT) {
        no_value(reader, info, value, trouble);
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

/* A word that does not fit, and what may still stand in its place. */
static void not_understood(Reader *reader, bool ended, bool end, bool lamp) {
    const char *given = word(reader);
    bool ends = strcmp(given, "for") == 0 || strcmp(given, "until") == 0;
    if (ended && ends)
        SAY(reader->said, "it ends once: say one of `for 30min` and `until 22:00`");
    else if (end || lamp)
        SAY(reader->said, "`%.60s` is not understood here; %s%s can stand here", given,
            end ? lamp ? "`for 30min`, `until 22:00` or " : "`for 30min` or `until 22:00`" : "",
            lamp ? "`on lamp NAME`" : "");
    else
        SAY(reader->said, "`%.60s` is one word too many", given);
}

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
            not_understood(reader, end, ends && !end, !lamp);
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

static bool one_setting(Reader *reader, bool more) {
    if (more)
        SAY(reader->said, "`set` takes one dial; `%.60s` is for a line of its own",
            word(reader) ? word(reader) : ",");
    return !more && nothing_more(reader);
}

static bool read_level(Reader *reader) {
    double value;
    const char *text = word(reader);
    bool percent = text && *text && text[strlen(text) - 1] == '%';
    if (!read_number(reader, DIAL_NUMBER, &value,
                     "a level is a lightness from 0 to 100, or a share of the light, `10%`") ||
        value < 0 || value > (percent ? 1 : 100))
        return false;
    reader->at++;
    reader->request->act.lightness = percent ? lightness_of(value) : value + 0.0;
    return read_rest(reader, true, false);
}

static bool read_clear(Reader *reader) {
    const char *text = word(reader);
    uint64_t number = 0;
    for (const char *p = text; p && *p >= '0' && *p <= '9' && p - text < 18; p++)
        number = number * 10 + (uint64_t)(*p - '0');
    if (text && (number == 0 || strspn(text, "0123456789") != strlen(text) || strlen(text) > 18)) {
        SAY(reader->said, "`clear` takes a number of the list of `status`, not `%.60s`", text);
        return false;
    }
    reader->at += text != NULL;
    reader->request->act.number = number;
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
        return read_setting(reader, &act->setting, &more) && one_setting(reader, more);
    case ACT_CLEAR:
        return read_clear(reader);
    case ACT_UNDO:
        return nothing_more(reader);
    case ACT_REPORT:
        return read_event(reader) && nothing_more(reader);
    }
    return false;
}

static const char *const WORDS[] = {
    [ACT_PLAY] = "play",     [ACT_LEVEL] = "level",      [ACT_SKIP] = "skip",   [ACT_MORE] = "more",
    [ACT_SET] = "set",       [ACT_EARLIER] = "earlier",  [ACT_CLEAR] = "clear", [ACT_UNDO] = "undo",
    [ACT_REPORT] = "report", [ACT_REPORT + 1] = "status"};
enum { WORD_STATUS = ACT_REPORT + 1, WORD_COUNT };

bool request_names_act(const char *line, ActKind *kind) {
    for (int i = 0; i < WORD_STATUS; i++) {
        *kind = (ActKind)i;
        if (request_behind(line, WORDS[i]))
            return true;
    }
    return false;
}

/* All that can be asked; `near` is what was perhaps meant. */
static void no_request(char *said, const char *given) {
    const char *near = diagnostics_nearest(given, WORDS, WORD_COUNT);
    int used = SAY(said, "there is no request `%.64s`: ", given);
    if (near)
        snprintf(said + used, (size_t)(REQUEST_SENTENCE - used), "`%s`?", near);
    for (int i = 0; !near && i < WORD_COUNT; i++)
        used += snprintf(said + used, (size_t)(REQUEST_SENTENCE - used), "%s%s",
                         i == 0                ? ""
                         : i + 1 == WORD_COUNT ? " or "
                                               : ", ",
                         WORDS[i]);
}

static bool read_line(const World *world, const char *line, Request *request,
                      char said[REQUEST_SENTENCE]) {
    Reader reader = {.world = world, .request = request, .said = said};
    *request = (Request){.act = {.lamp = TIMETABLE_NOT_SAID}};
    said[0] = '\0';
    if (!split(&reader, line))
        return false;
    const char *first = word(&reader);
    for (int i = 0; i < WORD_COUNT; i++) {
        if (!take(&reader, WORDS[i]))
            continue;
        request->status = i == WORD_STATUS;
        request->act.kind = (ActKind)i;
        return request->status ? nothing_more(&reader) : read_act(&reader);
    }
    if (!first)
        SAY(said, "the line is empty: `status` asks what plays");
    else
        no_request(said, first);
    return false;
}

bool request_read(const World *world, const char *line, Request *request,
                  char said[REQUEST_SENTENCE]) {
    bool understood = read_line(world, line, request, said);
    if (understood)
        said[0] = '\0';
    diagnostics_clean(said); /* words of others come back in it */
    return understood;
}
