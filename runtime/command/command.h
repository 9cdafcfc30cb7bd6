/* The command line: what the commands share. Exit statuses are contracts (spec/commands.md). */
#ifndef GLOAM_COMMAND_COMMAND_H
#define GLOAM_COMMAND_COMMAND_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum {
    EXIT_DONE = 0,
    EXIT_WRONG = 1,  /* the file or the data is wrong: diagnostics say where */
    EXIT_CALL = 2,   /* the call is wrong */
    EXIT_MACHINE = 3 /* the machine refused: the sentence says what to do */
};

enum { OPTION_WORDS = 16, OPTION_REPORTS = 16 };
enum { OPTION_SETTINGS = 64, OPTION_TAKES = 16 };

typedef enum Listing { LISTING_TEXT, LISTING_CSV, LISTING_ICS } Listing;

/* No date was said. */
#define OPTION_NO_DATE INT32_MIN

/* Everything that options can say; commands refuse those that are not theirs. */
typedef struct Options {
    const char *command;                   /* its name */
    const char *file;                      /* the FILE argument */
    const char *routine;                   /* --routine */
    const char *lamp;                      /* --lamp */
    uint32_t pixels;                       /* --pixels; 0: not said */
    double fps;                            /* --fps; 60 */
    int64_t start;                         /* --start, microseconds; may be negative */
    int64_t length;                        /* --length; -1: not said */
    int64_t trust_after;                   /* --trust-after; 0: never */
    double speed;                          /* --speed 60x; 1 */
    const char *clock;                     /* --clock */
    const char *settings[OPTION_SETTINGS]; /* --set DIAL=VALUE */
    int setting_count;
    const char *reports[OPTION_REPORTS]; /* --report EVENT@MOMENT */
    int report_count;
    const char *output;                       /* -o, --output; NULL: not said */
    bool light;                               /* --values light */
    bool no_dither;                           /* --no-dither */
    const char *state;                        /* --state */
    const char *home;                         /* --home */
    const char *chip, *port, *order, *supply; /* --chip, --port, --order, --supply */
    int64_t every;                            /* --every, microseconds; 0: not said */
    const char *to;                           /* --to */
    const char *page;                         /* --page 8080, 127.0.0.1:8080, none */
    const char *pairing;                      /* --pairing code|none */
    bool guests;                              /* --guests */
    const char *broker, *broker_file, *id;    /* --broker, --broker-file, --as */
    const char *takes[OPTION_TAKES];          /* --takes NAME */
    int take_count;
    const char *length_of;           /* --for, of an act by hand */
    const char *until;               /* --until */
    const char *words[OPTION_WORDS]; /* arguments of an act by hand */
    int word_count;
    bool wait;               /* --wait */
    bool costs;              /* --costs */
    bool json;               /* --format json */
    bool check;              /* --check */
    bool ascii;              /* --ascii */
    const char *colour;      /* --colour auto|always|never */
    uint32_t width, height;  /* --size of a picture; 0: not said */
    int32_t from, day, week; /* --from, --day, --week: days since 1970-01-01; OPTION_NO_DATE */
    int32_t days;            /* --days; 7 */
    Listing listing;         /* --format text|csv|ics */
} Options;

/* One option a command takes; the list of a command ends with a NULL name. */
typedef enum OptionId {
    OPTION_ROUTINE = 256,
    OPTION_LAMP,
    OPTION_PIXELS,
    OPTION_FPS,
    OPTION_START,
    OPTION_LENGTH,
    OPTION_SPEED,
    OPTION_CLOCK,
    OPTION_SET,
    OPTION_OUTPUT,
    OPTION_VALUES,
    OPTION_COSTS,
    OPTION_FORMAT,
    OPTION_CHECK,
    OPTION_ASCII,
    OPTION_COLOUR,
    OPTION_SIZE,
    OPTION_NO_DITHER,
    OPTION_REPORT,
    OPTION_STATE,
    OPTION_HOME,
    OPTION_TO,
    OPTION_FOR,
    OPTION_UNTIL,
    OPTION_WITH,
    OPTION_RUN_OUTPUT,
    OPTION_WAIT,
    OPTION_CHIP,
    OPTION_PORT,
    OPTION_ORDER,
    OPTION_SUPPLY,
    OPTION_EVERY,
    OPTION_PAGE,
    OPTION_PAIRING,
    OPTION_GUESTS,
    OPTION_BROKER,
    OPTION_BROKER_FILE,
    OPTION_TAKES_FILE,
    OPTION_AS,
    OPTION_TRUST_AFTER,
    OPTION_FROM,
    OPTION_DAYS,
    OPTION_LISTING,
    OPTION_DAY,
    OPTION_WEEK,
    OPTION_HELP
} OptionId;

typedef struct Command {
    const char *name;
    const char *summary;   /* one line of `gloam --help` */
    const char *usage;     /* behind the name: "[OPTIONS] FILE" */
    const OptionId *takes; /* ends with 0 */
    int (*run)(const Options *options);
} Command;

extern const Command COMMANDS[];

/* Reads argv behind the command's name. EXIT_DONE: go on; -1: help was asked for and printed; else
 * the exit status, already said. */
int options_read(const Command *command, int count, char **arguments, Options *options);
/* Whether days of the timetable are asked for: --day, --week. */
bool options_days(const Options *options);
void options_help(const Command *command, FILE *out);

/* `: `near`?` where one of the names is near to `name`, else ""; into `out`, which it returns. */
enum { COMMAND_NEAR = 140 };
const char *command_near(const char *name, const char *const *names, size_t count,
                         char out[COMMAND_NEAR]);

/* Prints "gloam: " and the sentence on standard error; returns `status`. */
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
int command_fail(int status, const char *format, ...);

/* Where results go: standard output or the file of -o. A file is written beside its place and
 * moved there by command_close, so that nothing half-written is ever left. */
typedef struct Output {
    FILE *stream;
    char *path, *temporary; /* NULL: standard output */
} Output;
int command_open(Output *output, const char *path);
/* Ends the output; `keep` false throws it away. Returns `status`, or EXIT_MACHINE with a sentence
 * where writing failed. */
int command_close(Output *output, bool keep, int status);
/* The same for what was printed on standard output. */
int command_printed(int status);

/* True where diagnostics on standard error may be coloured (NO_COLOR, --colour, a terminal). */
bool command_colours(const Options *options, FILE *stream);

int try_wiring_run(const Options *options);
int act_run(const Options *options);
int pair_run(const Options *options);
int check_run(const Options *options);
int format_run(const Options *options);
int compile_run(const Options *options);
int disassemble_run(const Options *options);
int when_run(const Options *options);
int dump_run(const Options *options);
int picture_run(const Options *options);
int preview_command_run(const Options *options);
int run_run(const Options *options);

#endif
