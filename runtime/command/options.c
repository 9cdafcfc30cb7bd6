#include "runtime/command/command.h"

#include <getopt.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "lang/compile.h"
#include "runtime/core/civil.h"
#include "runtime/core/limits.h"

typedef struct OptionText {
    OptionId id;
    const char *name, *argument, *text;
} OptionText;

static const OptionText TEXTS[] = {
    {OPTION_ROUTINE, "routine", "NAME",
     "which routine (default: the timetable, else the only one)"},
    {OPTION_LAMP, "lamp", "NAME", "the lamp of the file to show it on"},
    {OPTION_PIXELS, "pixels", "N", "so many pixels in a ring (default: the only lamp, else 16)"},
    {OPTION_FPS, "fps", "N", "frames a second (default: 60)"},
    {OPTION_START, "start", "DURATION", "begin so far into it: 10min, 1h30min"},
    {OPTION_LENGTH, "length", "DURATION",
     "how much to show (default: all that it lasts, else 10s)"},
    {OPTION_SPEED, "speed", "Nx", "N times as fast; -1x is backwards"},
    {OPTION_CLOCK, "clock", "'DATE TIME'",
     "the clock on the wall to begin with: '2026-03-29 00:55'"},
    {OPTION_SET, "set", "DIAL=VALUE", "set a dial; may be given again"},
    {OPTION_OUTPUT, "output", "FILE", "write to FILE instead of standard output"},
    {OPTION_VALUES, "values", "bytes|light", "bytes 0..255 (default) or linear light"},
    {OPTION_NO_DITHER, "no-dither", NULL, "round to the nearest byte"},
    {OPTION_COSTS, "costs", NULL, "rates, instructions and memory of each routine"},
    {OPTION_FORMAT, "format", "text|json", "diagnostics for people (default) or for editors"},
    {OPTION_CHECK, "check", NULL, "write nothing; exit 1 where the layout would change"},
    {OPTION_ASCII, "ascii", NULL, "letters instead of block characters"},
    {OPTION_COLOUR, "colour", "auto|always|never", "colours on the terminal (default: auto)"},
    {OPTION_SIZE, "size", "WxH", "size of the picture in pixels"},
    {OPTION_FROM, "from", "DATE", "the first day (default: today): 2026-03-28"},
    {OPTION_DAYS, "days", "N", "how many days (default: 7)"},
    {OPTION_LISTING, "format", "text|csv|ics", "a table (default), CSV, or a calendar"},
    {OPTION_DAY, "day", "DATE", "the 24 hours of the timetable on that day: 2026-03-28"},
    {OPTION_WEEK, "week", "DATE", "seven days from that day on, one row each"},
    {OPTION_REPORT, "report", "EVENT@TIME", "tell an event at that time of day: rung@14:30"},
    {OPTION_STATE, "state", "FILE", "what was done by hand is kept in FILE"},
    {OPTION_HOME, "home", "FILE", "the home file that is played"},
    {OPTION_TO, "to", "URL", "the lamp at that address: http://lantern.local"},
    {OPTION_FOR, "for", "DURATION", "so long: 30min (default: until the next entry)"},
    {OPTION_UNTIL, "until", "TIME", "until that time of day: 22:00"},
    {OPTION_WITH, "with", "DIAL=VALUE", "a dial for this play; may be given again"},
    {OPTION_RUN_OUTPUT, "output", "terminal|csv:FILE", "show it there instead of at the port"},
    {OPTION_TRUST_AFTER, "trust-after", "DURATION",
     "take a clock that nobody sets once the machine has run so long"},
    {OPTION_WAIT, "wait", NULL, "wait for a port that is not there, and try it again"},
    {OPTION_CHIP, "chip", "NAME", "the chip of the pixels: ws2812b, sk6812, apa102"},
    {OPTION_PORT, "port", "PORT", "where they are: /dev/spidev0.0, e131:192.0.2.7"},
    {OPTION_ORDER, "order", "LETTERS", "of the channels on the wire (default: the chip's)"},
    {OPTION_SUPPLY, "supply", "'V A'", "what it gives: '5V 2A' (default: no more than 0.5 A)"},
    {OPTION_EVERY, "every", "DURATION", "go on by itself after so long"},
    {OPTION_PAGE, "page", "[ADDRESS:]PORT|none",
     "the lamp's page there (default: 8080, on all addresses)"},
    {OPTION_PAIRING, "pairing", "code|none", "who uses the page gives a code (default) or not"},
    {OPTION_GUESTS, "guests", NULL, "who has given no code may look"},
    {OPTION_BROKER, "broker", "HOST", "an MQTT broker: broker.local, mqtts://broker.local"},
    {OPTION_BROKER_FILE, "broker-file", "FILE", "user and password at the broker, a line each"},
    {OPTION_TAKES_FILE, "takes", "NAME", "a home file of the broker to take; may be given again"},
    {OPTION_AS, "as", "ID", "what the lamp is called at the broker (default: the machine's name)"},
    {OPTION_HELP, "help", NULL, "this help"},
};
/* What an option means to one command, where it is not what it means to the others. */
static const struct {
    const char *command;
    OptionId id;
    const char *text;
} OWN_TEXTS[] = {
    {"run", OPTION_LENGTH, "end after so long (default: never)"},
    {"run", OPTION_LAMP, "the lamp of the file that is shown there"},
    {"when", OPTION_LAMP, "what begins on that lamp of the file alone (default: on every one)"},
    {"play", OPTION_LAMP, "on that lamp alone (default: on all)"},
    {"level", OPTION_LAMP, "of that lamp alone (default: of all)"},
    {"more", OPTION_LAMP, "on that lamp alone (default: on all)"},
    {"skip", OPTION_LAMP, "the next there alone (default: the first anywhere, on all)"},
    {"earlier", OPTION_LAMP, "the next there alone (default: the first anywhere, on all)"},
    {"try-wiring", OPTION_PORT,
     "where they are: /dev/spidev0.0, e131:192.0.2.7; not needed with --output"},
    {"try-wiring", OPTION_LAMP, "the lamp of the file that is lit"},
    {"try-wiring", OPTION_PIXELS, "how many there are, where no FILE says it"},
    {"status", OPTION_FORMAT, "for people (default) or for programs"},
};
enum { DAYS_MOST = 366 }; /* of --days */
enum { TEXT_COUNT = sizeof TEXTS / sizeof *TEXTS };

static const OptionText *text_of(OptionId id) {
    for (int i = 0; i < TEXT_COUNT; i++)
        if (TEXTS[i].id == id)
            return &TEXTS[i];
    return NULL;
}

bool options_days(const Options *options) {
    return options->day != OPTION_NO_DATE || options->week != OPTION_NO_DATE;
}

int command_fail(int status, const char *format, ...) {
    va_list arguments;
    fputs("gloam: ", stderr);
    va_start(arguments, format);
    vfprintf(stderr, format, arguments);
    va_end(arguments);
    fputc('\n', stderr);
    return status;
}

const char *command_near(const char *name, const char *const *names, size_t count,
                         char out[COMMAND_NEAR]) {
    const char *near = diagnostics_nearest(name, names, count);
    out[0] = '\0';
    if (near)
        snprintf(out, COMMAND_NEAR, ": `%s`?", near);
    return out;
}

static const char *meaning(const Command *command, const OptionText *option) {
    for (size_t i = 0; i < sizeof OWN_TEXTS / sizeof *OWN_TEXTS; i++)
        if (OWN_TEXTS[i].id == option->id && strcmp(OWN_TEXTS[i].command, command->name) == 0)
            return OWN_TEXTS[i].text;
    return option->text;
}

void options_help(const Command *command, FILE *out) {
    fprintf(out, "usage: gloam %s %s\n%s\n\n", command->name, command->usage, command->summary);
    for (const OptionId *id = command->takes; *id; id++) {
        const OptionText *text = text_of(*id);
        char left[48];
        snprintf(left, sizeof left, "%s--%s%s%s",
                 *id == OPTION_OUTPUT || *id == OPTION_RUN_OUTPUT ? "-o, " : "    ", text->name,
                 text->argument ? "=" : "", text->argument ? text->argument : "");
        fprintf(out, "  %-30s %s\n", left, meaning(command, text));
    }
    fprintf(out, "\n%s`man gloam-%s` says more.\n",
            strstr(command->usage, "FILE") ? "`-` as FILE is standard input. " : "", command->name);
}

/* One number and its unit; false where there is none. */
static bool part(const char **text, double *microseconds, int *rank) {
    static const struct {
        const char *unit;
        double size;
    } UNITS[] = {{"h", 3600e6}, {"min", 60e6}, {"ms", 1e3}, {"s", 1e6}};
    static const int RANKS[] = {0, 1, 3, 2};
    const char *p = *text;
    double number = 0, scale = 1;
    if (*p < '0' || *p > '9')
        return false;
    for (; *p >= '0' && *p <= '9'; p++)
        number = number * 10 + (*p - '0');
    if (*p == '.') {
        for (p++; *p >= '0' && *p <= '9'; p++) {
            number = number * 10 + (*p - '0');
            scale *= 10;
        }
    }
    for (int i = 0; i < 4; i++) {
        size_t n = strlen(UNITS[i].unit);
        if (strncmp(p, UNITS[i].unit, n) == 0 && RANKS[i] > *rank) {
            *rank = RANKS[i];
            *microseconds += number * UNITS[i].size / scale;
            *text = p + n;
            return true;
        }
    }
    return false;
}

/* `1h30min`, `2.5s`, `-10s`: whole microseconds. */
static bool duration(const char *text, int64_t *microseconds) {
    double sum = 0;
    int rank = -1;
    bool minus = *text == '-';
    text += minus;
    do {
        if (!part(&text, &sum, &rank))
            return false;
    } while (*text);
    if (sum > LIMIT_MICROSECONDS || sum != floor(sum))
        return false;
    *microseconds = (int64_t)(minus ? -sum : sum);
    return true;
}

/* -1.5 and the suffix, which may be left out; nothing else that strtod would take. */
static bool number(const char *text, const char *suffix, double *value) {
    size_t digits = strspn(text + (*text == '-'), "0123456789.");
    const char *rest = text + (*text == '-') + digits;
    char *end;
    *value = strtod(text, &end);
    return digits > 0 && end == rest && (!*rest || strcmp(rest, suffix) == 0) && isfinite(*value);
}

static bool whole(const char *text, double from, double to, double *value) {
    return number(text, "", value) && *value >= from && *value <= to && *value == floor(*value);
}

/* 800x600, within what a picture may have. */
static bool size(const char *text, Options *options) {
    char width[8];
    size_t digits = strcspn(text, "x");
    double across, down;
    if (digits >= sizeof width || !text[digits])
        return false;
    memcpy(width, text, digits);
    width[digits] = '\0';
    if (!whole(width, 240, 8192, &across) || !whole(text + digits + 1, 160, 8192, &down))
        return false;
    options->width = (uint32_t)across;
    options->height = (uint32_t)down;
    return true;
}

/* 2026-03-28, a day that exists. */
static bool date(const char *text, int32_t *days) {
    static const char FORM[] = "dddd-dd-dd";
    CivilDate civil;
    if (strlen(text) != sizeof FORM - 1)
        return false;
    for (size_t i = 0; i < sizeof FORM - 1; i++)
        if (FORM[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != FORM[i])
            return false;
    sscanf(text, "%4d-%2d-%2d", &civil.year, &civil.month, &civil.day);
    if (civil.month < 1 || civil.month > 12 || civil.day < 1 ||
        civil.day > civil_days_in_month(civil.year, civil.month))
        return false;
    *days = days_from_civil(civil);
    return true;
}

static int wants(const OptionText *option, const char *given, const char *example) {
    return command_fail(EXIT_CALL, "--%s takes %s, not `%s`: --%s %s", option->name,
                        option->argument, given, option->name, example);
}

static int take_word(const OptionText *option, const char *given, Options *options) {
    switch (option->id) {
    case OPTION_ROUTINE:
        options->routine = given;
        return EXIT_DONE;
    case OPTION_LAMP:
        options->lamp = given;
        return EXIT_DONE;
    case OPTION_CLOCK:
        options->clock = given;
        return EXIT_DONE;
    case OPTION_OUTPUT:
    case OPTION_RUN_OUTPUT:
        options->output = given;
        return EXIT_DONE;
    case OPTION_STATE:
        options->state = given;
        return EXIT_DONE;
    case OPTION_HOME:
        options->home = given;
        return EXIT_DONE;
    case OPTION_TO:
        options->to = given;
        return EXIT_DONE;
    case OPTION_PAGE:
        options->page = given;
        return EXIT_DONE;
    case OPTION_CHIP:
        options->chip = given;
        return EXIT_DONE;
    case OPTION_PORT:
        options->port = given;
        return EXIT_DONE;
    case OPTION_ORDER:
        options->order = given;
        return EXIT_DONE;
    case OPTION_SUPPLY:
        options->supply = given;
        return EXIT_DONE;
    case OPTION_BROKER:
        options->broker = given;
        return EXIT_DONE;
    case OPTION_BROKER_FILE:
        options->broker_file = given;
        return EXIT_DONE;
    case OPTION_AS:
        options->id = given;
        return EXIT_DONE;
    case OPTION_PAIRING:
        options->pairing = given;
        return strcmp(given, "code") && strcmp(given, "none") ? wants(option, given, "code")
                                                              : EXIT_DONE;
    case OPTION_TAKES_FILE:
        if (options->take_count == OPTION_TAKES)
            return command_fail(EXIT_CALL, "--takes may be given %d times", OPTION_TAKES);
        options->takes[options->take_count++] = given;
        return EXIT_DONE;
    case OPTION_FOR:
        options->length_of = given;
        return EXIT_DONE;
    case OPTION_UNTIL:
        options->until = given;
        return EXIT_DONE;
    case OPTION_VALUES:
        options->light = strcmp(given, "light") == 0;
        return options->light || strcmp(given, "bytes") == 0 ? EXIT_DONE
                                                             : wants(option, given, "light");
    case OPTION_FORMAT:
        options->json = strcmp(given, "json") == 0;
        return options->json || strcmp(given, "text") == 0 ? EXIT_DONE
                                                           : wants(option, given, "json");
    case OPTION_LISTING:
        options->listing = strcmp(given, "csv") == 0   ? LISTING_CSV
                           : strcmp(given, "ics") == 0 ? LISTING_ICS
                                                       : LISTING_TEXT;
        return options->listing || strcmp(given, "text") == 0 ? EXIT_DONE
                                                              : wants(option, given, "csv");
    case OPTION_COLOUR:
        options->colour = given;
        return strcmp(given, "auto") && strcmp(given, "always") && strcmp(given, "never")
                   ? wants(option, given, "never")
                   : EXIT_DONE;
    case OPTION_REPORT:
        if (!strchr(given, '@'))
            return wants(option, given, "washing_done@14:30");
        if (options->report_count == OPTION_REPORTS)
            return command_fail(EXIT_CALL, "--report may be given %d times", OPTION_REPORTS);
        options->reports[options->report_count++] = given;
        return EXIT_DONE;
    case OPTION_SET:
    case OPTION_WITH:
        if (!strchr(given, '='))
            return wants(option, given, "warmth=60%");
        if (options->setting_count == OPTION_SETTINGS)
            return command_fail(EXIT_CALL, "--%s may be given %d times", option->name,
                                OPTION_SETTINGS);
        options->settings[options->setting_count++] = given;
        return EXIT_DONE;
    default:
        return EXIT_DONE;
    }
}

static int take_number(const OptionText *option, const char *given, Options *options) {
    double value;
    switch (option->id) {
    case OPTION_PIXELS:
        if (!whole(given, 1, LIMIT_PIXELS, &value))
            return command_fail(EXIT_CALL, "--pixels takes a whole number from 1 to %d, not `%s`",
                                LIMIT_PIXELS, given);
        options->pixels = (uint32_t)value;
        return EXIT_DONE;
    case OPTION_FPS:
        if (!number(given, "", &value) || value < 1e-6 || value > 10000)
            return command_fail(EXIT_CALL, "--fps goes from 0.000001 to 10000, not `%s`", given);
        options->fps = value;
        return EXIT_DONE;
    case OPTION_SPEED:
        if (!number(given, "x", &value))
            return wants(option, given, "60x");
        if (fabs(value) > 1e6 || (value != 0 && fabs(value) < 1e-6))
            return command_fail(EXIT_CALL, "--speed goes from 0.000001x to 1000000x, not `%s`",
                                given);
        options->speed = value;
        return EXIT_DONE;
    case OPTION_START:
        return duration(given, &options->start) ? EXIT_DONE : wants(option, given, "10min");
    case OPTION_LENGTH:
        return duration(given, &options->length) && options->length >= 0
                   ? EXIT_DONE
                   : wants(option, given, "30s");
    case OPTION_EVERY:
        return duration(given, &options->every) && options->every > 0 ? EXIT_DONE
                                                                      : wants(option, given, "3s");
    case OPTION_TRUST_AFTER:
        return duration(given, &options->trust_after) && options->trust_after > 0
                   ? EXIT_DONE
                   : wants(option, given, "10min");
    case OPTION_FROM:
        return date(given, &options->from) ? EXIT_DONE : wants(option, given, "2026-03-28");
    case OPTION_DAY:
        return date(given, &options->day) ? EXIT_DONE : wants(option, given, "2026-03-28");
    case OPTION_WEEK:
        return date(given, &options->week) ? EXIT_DONE : wants(option, given, "2026-03-23");
    case OPTION_DAYS:
        if (!whole(given, 1, DAYS_MOST, &value))
            return command_fail(EXIT_CALL, "--days takes a whole number from 1 to %d, not `%s`",
                                DAYS_MOST, given);
        options->days = (int32_t)value;
        return EXIT_DONE;
    case OPTION_SIZE:
        if (!size(given, options))
            return command_fail(EXIT_CALL, "--size takes 240x160 to 8192x8192, not `%s`", given);
        return EXIT_DONE;
    default:
        return take_word(option, given, options);
    }
}

static int take(const OptionText *option, const char *given, Options *options) {
    switch (option->id) {
    case OPTION_WAIT:
        options->wait = true;
        return EXIT_DONE;
    case OPTION_GUESTS:
        options->guests = true;
        return EXIT_DONE;
    case OPTION_COSTS:
        options->costs = true;
        return EXIT_DONE;
    case OPTION_CHECK:
        options->check = true;
        return EXIT_DONE;
    case OPTION_ASCII:
        options->ascii = true;
        return EXIT_DONE;
    case OPTION_NO_DITHER:
        options->no_dither = true;
        return EXIT_DONE;
    default:
        return take_number(option, given, options);
    }
}

/* The names of what a command takes that begin so; of all where `begin` is "". */
static size_t names_of(const Command *command, const char *begin, const char **names) {
    size_t count = 0;
    for (const OptionId *id = command->takes; *id; id++)
        if (strncmp(text_of(*id)->name, begin, strlen(begin)) == 0)
            names[count++] = text_of(*id)->name;
    return count;
}

/* A command that has what this one has not, or NULL. */
static const char *taken_by(const char *name) {
    for (const Command *command = COMMANDS; command->name; command++)
        for (const OptionId *id = command->takes; *id; id++)
            if (strcmp(text_of(*id)->name, name) == 0)
                return command->name;
    return NULL;
}

static int unknown_long(const Command *command, const char *given) {
    char name[64];
    const char *names[TEXT_COUNT];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(given, "="), given);
    size_t begun = names_of(command, name, names);
    if (begun > 1)
        return command_fail(EXIT_CALL, "`--%s` may be `--%s` or `--%s`: write it out", name,
                            names[0], names[1]);
    size_t count = names_of(command, "", names);
    const char *near = diagnostics_nearest(name, names, count), *other = taken_by(name);
    if (other)
        return command_fail(EXIT_CALL, "`gloam %s` has no option `--%s`; `gloam %s` has",
                            command->name, name, other);
    if (near)
        return command_fail(EXIT_CALL, "`gloam %s` has no option `--%s`: `--%s`?", command->name,
                            name, near);
    return command_fail(EXIT_CALL, "`gloam %s` has no option `--%s`: `gloam %s --help`",
                        command->name, name, command->name);
}

/* `word` is where getopt_long stopped, optopt what it stopped at: 0 for an unknown name. */
static int unknown(const Command *command, const char *word) {
    const OptionText *text = text_of((OptionId)optopt);
    if (text)
        return command_fail(EXIT_CALL, "`--%s` takes no value", text->name);
    if (optopt == 0)
        return unknown_long(command, word + 2);
    return command_fail(EXIT_CALL, "`gloam %s` has no option `-%c`: `gloam %s --help`",
                        command->name, optopt, command->name);
}

/* An act on a home takes words instead of a FILE. */
static bool is_live(const Command *command) {
    for (const OptionId *id = command->takes; *id; id++)
        if (*id == OPTION_HOME || *id == OPTION_TO)
            return true;
    return false;
}

static int take_words(int count, char **words, Options *options) {
    if (count > OPTION_WORDS)
        return command_fail(EXIT_CALL, "`%s` is one word too many", words[OPTION_WORDS]);
    for (int i = 0; i < count; i++)
        options->words[options->word_count++] = words[i];
    return EXIT_DONE;
}

int options_read(const Command *command, int count, char **arguments, Options *options) {
    struct option known[TEXT_COUNT + 1] = {{0}};
    int used = 0;
    for (const OptionId *id = command->takes; *id; id++) {
        const OptionText *text = text_of(*id);
        known[used++] = (struct option){
            text->name, text->argument ? required_argument : no_argument, NULL, (int)*id};
    }
    *options = (Options){.command = command->name,
                         .fps = 60,
                         .length = -1,
                         .speed = 1,
                         .colour = "auto",
                         .from = OPTION_NO_DATE,
                         .day = OPTION_NO_DATE,
                         .week = OPTION_NO_DATE,
                         .days = 7};
    optind = 0;
    opterr = 0;
    int id;
    while ((id = getopt_long(count, arguments, ":ho:", known, NULL)) != -1) {
        if (id == 'o')
            id = OPTION_OUTPUT;
        if (id == OPTION_HELP || id == 'h') {
            options_help(command, stdout);
            return -1;
        }
        if (id == ':')
            return command_fail(EXIT_CALL, "`%s` needs a value: `gloam %s --help`",
                                arguments[optind - 1], command->name);
        if (id == '?')
            return unknown(command, arguments[optind - 1]);
        int status = take(text_of((OptionId)id), optarg, options);
        if (status != EXIT_DONE)
            return status;
    }
    if (is_live(command))
        return take_words(count - optind, arguments + optind, options);
    /* Of try-wiring options may stand in for a file. */
    if (optind == count && command->run == try_wiring_run)
        return EXIT_DONE;
    if (optind == count)
        return command_fail(EXIT_CALL, "which file? usage: gloam %s %s", command->name,
                            command->usage);
    if (optind + 1 < count)
        return command_fail(EXIT_CALL, "one file at a time, `%s` is one too many",
                            arguments[optind + 1]);
    options->file = arguments[optind];
    return EXIT_DONE;
}
