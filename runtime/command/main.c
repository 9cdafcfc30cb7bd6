/* gloam COMMAND [OPTIONS] FILE */
#include <signal.h>
#include <string.h>

#include "runtime/command/command.h"
#include "runtime/command/programs.h"
#include "runtime/library/gloam.h"
#include "runtime/library/zone_file.h"
#include "runtime/vm/vm.h"

static const OptionId CHECK_TAKES[] = {
    OPTION_COSTS, OPTION_CLOCK, OPTION_FORMAT, OPTION_PIXELS, OPTION_COLOUR, OPTION_HELP, 0};
static const OptionId FORMAT_TAKES[] = {OPTION_CHECK, OPTION_OUTPUT, OPTION_COLOUR, OPTION_HELP, 0};
static const OptionId COMPILE_TAKES[] = {OPTION_OUTPUT, OPTION_COLOUR, OPTION_HELP, 0};
static const OptionId DUMP_TAKES[] = {
    OPTION_ROUTINE, OPTION_LAMP,   OPTION_PIXELS, OPTION_FPS, OPTION_START,  OPTION_LENGTH,
    OPTION_SPEED,   OPTION_CLOCK,  OPTION_REPORT, OPTION_SET, OPTION_VALUES, OPTION_NO_DITHER,
    OPTION_OUTPUT,  OPTION_COLOUR, OPTION_HELP,   0};
static const OptionId PICTURE_TAKES[] = {
    OPTION_ROUTINE, OPTION_LAMP,   OPTION_PIXELS, OPTION_START, OPTION_LENGTH,
    OPTION_CLOCK,   OPTION_REPORT, OPTION_SET,    OPTION_SIZE,  OPTION_DAY,
    OPTION_WEEK,    OPTION_OUTPUT, OPTION_COLOUR, OPTION_HELP,  0};
static const OptionId WHEN_TAKES[] = {OPTION_FROM,   OPTION_DAYS,   OPTION_LAMP, OPTION_LISTING,
                                      OPTION_OUTPUT, OPTION_COLOUR, OPTION_HELP, 0};
static const OptionId PREVIEW_TAKES[] = {OPTION_ROUTINE, OPTION_LAMP,
                                         OPTION_PIXELS,  OPTION_FPS,
                                         OPTION_START,   OPTION_LENGTH,
                                         OPTION_SPEED,   OPTION_CLOCK,
                                         OPTION_REPORT,  OPTION_SET,
                                         OPTION_ASCII,   OPTION_COLOUR,
                                         OPTION_HELP,    0};

static const OptionId RUN_TAKES[] = {
    OPTION_RUN_OUTPUT, OPTION_LAMP,    OPTION_STATE,  OPTION_TRUST_AFTER, OPTION_WAIT,
    OPTION_PAGE,       OPTION_PAIRING, OPTION_GUESTS, OPTION_BROKER,      OPTION_BROKER_FILE,
    OPTION_TAKES_FILE, OPTION_AS,      OPTION_CLOCK,  OPTION_SPEED,       OPTION_LENGTH,
    OPTION_FPS,        OPTION_ASCII,   OPTION_COLOUR, OPTION_HELP,        0};
static const OptionId TRY_TAKES[] = {OPTION_LAMP,  OPTION_CHIP,   OPTION_PORT,  OPTION_PIXELS,
                                     OPTION_ORDER, OPTION_SUPPLY, OPTION_EVERY, OPTION_RUN_OUTPUT,
                                     OPTION_ASCII, OPTION_COLOUR, OPTION_HELP,  0};
static const OptionId PLAY_TAKES[] = {
    OPTION_FOR,  OPTION_UNTIL, OPTION_WITH,  OPTION_LAMP, OPTION_TO,
    OPTION_HOME, OPTION_STATE, OPTION_CLOCK, OPTION_HELP, 0};
static const OptionId LEVEL_TAKES[] = {OPTION_FOR,   OPTION_UNTIL, OPTION_LAMP,
                                       OPTION_TO,    OPTION_HOME,  OPTION_STATE,
                                       OPTION_CLOCK, OPTION_HELP,  0};
static const OptionId LAMP_TAKES[] = {
    OPTION_LAMP, OPTION_TO, OPTION_HOME, OPTION_STATE, OPTION_CLOCK, OPTION_HELP, 0};
static const OptionId ACT_TAKES[] = {OPTION_TO,    OPTION_HOME, OPTION_STATE,
                                     OPTION_CLOCK, OPTION_HELP, 0};
static const OptionId PAIR_TAKES[] = {OPTION_TO, OPTION_HELP, 0};
static const OptionId STATUS_TAKES[] = {
    OPTION_FORMAT, OPTION_TO, OPTION_HOME, OPTION_STATE, OPTION_CLOCK, OPTION_HELP, 0};

const Command COMMANDS[] = {
    {"run", "Drives the lamps, unattended.", "[OPTIONS] FILE", RUN_TAKES, run_run},
    {"try-wiring", "Lights a new lamp step by step and says what to look for.", "[OPTIONS] [FILE]",
     TRY_TAKES, try_wiring_run},
    {"check", "Says what is wrong in a file, and what it costs.", "[OPTIONS] FILE", CHECK_TAKES,
     check_run},
    {"preview", "Plays the timetable or a routine in the terminal, in the lamp's shape.",
     "[OPTIONS] FILE", PREVIEW_TAKES, preview_command_run},
    {"dump", "Writes frames as CSV.", "[OPTIONS] FILE", DUMP_TAKES, dump_run},
    {"picture", "Draws a routine as one PNG: time from left to right, pixels downwards.",
     "[OPTIONS] -o FILE.png FILE", PICTURE_TAKES, picture_run},
    {"when", "Says what will play and why, day by day.", "[OPTIONS] FILE", WHEN_TAKES, when_run},
    {"format", "Puts a file into the one layout.", "[OPTIONS] FILE", FORMAT_TAKES, format_run},
    {"compile", "Writes the bytecode of a program into a file.", "[OPTIONS] -o FILE FILE",
     COMPILE_TAKES, compile_run},
    {"disassemble", "Shows bytecode as text.", "[OPTIONS] FILE", COMPILE_TAKES, disassemble_run},
    {"play", "Plays a routine by hand, for a while.", "[OPTIONS] ROUTINE", PLAY_TAKES, act_run},
    {"level", "Sets the level by hand, for a while: a lightness of 0 to 100.", "[OPTIONS] LEVEL",
     LEVEL_TAKES, act_run},
    {"skip", "Lets the next moment of the timetable do nothing, once.", "[OPTIONS]", LAMP_TAKES,
     act_run},
    {"more", "Holds what plays for so much longer.", "[OPTIONS] DURATION", LAMP_TAKES, act_run},
    {"earlier", "Lets the next moment come at another time, once.", "[OPTIONS] TIME", LAMP_TAKES,
     act_run},
    {"set", "Sets a dial.", "[OPTIONS] DIAL VALUE", ACT_TAKES, act_run},
    {"report", "Tells that an event happened.", "[OPTIONS] EVENT", ACT_TAKES, act_run},
    {"clear", "Clears what was done by hand: one number, or all.", "[OPTIONS] [NUMBER]", ACT_TAKES,
     act_run},
    {"undo", "Takes back the last act by hand.", "[OPTIONS]", ACT_TAKES, act_run},
    {"status", "Says what plays, why, and what was done by hand.", "[OPTIONS]", STATUS_TAKES,
     act_run},
    {"pair", "Lets a lamp elsewhere know you: it shows a code, you give it.", "--to=URL",
     PAIR_TAKES, pair_run},
    {0}};

static void help(FILE *out) {
    fputs("usage: gloam COMMAND [OPTIONS] FILE\n"
          "Light routines for lamps built from addressable pixels.\n\n",
          out);
    for (const Command *command = COMMANDS; command->name; command++)
        fprintf(out, "  %-12s %s\n", command->name, command->summary);
    fputs("\n`gloam COMMAND --help` lists a command's options. Begin with: gloam preview FILE\n",
          out);
}

static const Command *command_find(const char *name) {
    for (const Command *command = COMMANDS; command->name; command++)
        if (strcmp(command->name, name) == 0)
            return command;
    return NULL;
}

static int unknown(const char *name) {
    enum { COUNT = sizeof COMMANDS / sizeof *COMMANDS - 1 };
    const char *names[COUNT];
    char near[COMMAND_NEAR];
    for (int i = 0; i < COUNT; i++)
        names[i] = COMMANDS[i].name;
    command_near(name, names, COUNT, near);
    if (strstr(name, ".gloam"))
        return command_fail(EXIT_CALL, "a command comes first: gloam preview %s", name);
    return command_fail(EXIT_CALL, "there is no command `%s`%s", name,
                        *near ? near : ": `gloam --help` lists them");
}

/* gloam help [COMMAND] */
static int help_asked(const char *name) {
    const Command *command = name ? command_find(name) : NULL;
    if (name && !command)
        return unknown(name);
    if (command)
        options_help(command, stdout);
    else
        help(stdout);
    return command_printed(EXIT_DONE);
}

static int version(void) {
    char release[ZONE_FILE_RELEASE_BYTES];
    printf("gloam %s\nbytecode 1, kernels %s\ntime zone database %s\n", gloam_version(),
           vm_kernels(), zone_file_release(ZONE_FILE_DATABASE, release));
    static const char *const PARTS[][2] = {
        {"gloam-page", "page"}, {"gloam-mqtt", "broker"}, {"gloam-call", "--to"}};
    char path[PROGRAM_PATH_BYTES];
    for (size_t i = 0; i < sizeof PARTS / sizeof *PARTS; i++)
        printf("%s: %s\n", PARTS[i][1], program_path(PARTS[i][0], path) ? path : "not installed");
    return command_printed(EXIT_DONE);
}

int main(int count, char **arguments) {
    signal(SIGXFSZ, SIG_IGN); /* a file that grows too large is an error of writing, and said */
    if (count < 2) {
        help(stderr);
        return EXIT_CALL;
    }
    const char *name = arguments[1];
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0)
        return help_asked(NULL);
    if (strcmp(name, "help") == 0)
        return help_asked(arguments[2]);
    if (strcmp(name, "--version") == 0)
        return version();
    const Command *command = command_find(name);
    if (!command)
        return unknown(name);
    Options options;
    int status = options_read(command, count - 1, arguments + 1, &options);
    if (status < 0)
        return command_printed(EXIT_DONE);
    return status == EXIT_DONE ? command->run(&options) : status;
}
