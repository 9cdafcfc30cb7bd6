/* gloam run: drives the lamps of a home, unattended. */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "backends/csv.h"
#include "runtime/command/costs.h"
#include "runtime/command/load.h"
#include "runtime/command/run_helpers.h"
#include "runtime/command/run_place.h"
#include "runtime/command/run_said.h"
#include "runtime/library/advice.h"
#include "runtime/player/clock_fake.h"
#include "runtime/player/clock_paced.h"
#include "runtime/player/notify.h"
#include "runtime/player/player.h"
#include "runtime/player/socket.h"
#include "runtime/player/trust.h"

typedef struct Run {
    const Options *options;
    bool csv, terminal;
    int descriptor; /* of the CSV; -1 */
    RunPlace place;
    char folder[4096];
    Clock clock;
    ClockFake ahead;
    bool plays_ahead; /* by that clock */
    Loop *loop;
    int signals;
    Player *player;
    PlayerSocket *socket;
    RunHelpers helpers;
    RunSaid said;
    bool journal;   /* lines carry their gravity */
    bool said_once; /* the cautions */
} Run;

/* -------- what is said -------- */

static void say(void *context, PlayerGravity gravity, const char *sentence) {
    Run *run = context;
    if (run->journal)
        fprintf(stderr, "<%d>%s\n", (int)gravity, sentence);
    else
        fprintf(stderr, "gloam: %s\n", sentence);
}

static void compiled(void *context, Compilation *compilation) {
    Run *run = context;
    advice_give(compilation);
    clock_advise(compilation);
    diagnostics_print(lang_diagnostics(compilation), stderr, command_colours(run->options, stderr));
    if (!run->said_once && lang_program(compilation) && !run->csv && !run->terminal) {
        cautions_print(compilation, false, stderr);
        run->said_once = true;
    }
}

/* -------- where it goes -------- */

/* Whether time is another than the machine's. */
static bool is_tried(const Options *options) {
    return options->clock || options->speed < 1 || options->speed > 1;
}

static int open_csv(Run *run, const char *path) {
    run->csv = true;
    if (strcmp(path, "-") == 0) {
        run->descriptor = dup(STDOUT_FILENO);
    } else if (!*path) {
        return command_fail(EXIT_CALL, "--output csv: needs a file: --output csv:light.csv");
    } else {
        run->descriptor = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOCTTY, 0666);
    }
    return run->descriptor >= 0
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "%s: %s; name a place where you may write", path,
                              strerror(errno));
}

static int choose_output(Run *run, OutputInstead *instead) {
    static const CsvOptions live = {CSV_BYTES, true}, whole = {CSV_BYTES, false};
    const Options *options = run->options;
    const char *output = options->output;
    run->descriptor = -1;
    if (output && strncmp(output, "csv:", 4) == 0) {
        int status = open_csv(run, output + 4);
        *instead = (OutputInstead){.kind = &csv_backend,
                                   .descriptor = run->descriptor,
                                   .own = is_tried(options) ? &whole : &live};
        return status;
    }
    if (output && strcmp(output, "terminal") == 0) {
        PaletteEnvironment environment = palette_environment();
        ColourChoice choice = strcmp(options->colour, "always") == 0  ? COLOUR_ALWAYS
                              : strcmp(options->colour, "never") == 0 ? COLOUR_NEVER
                                                                      : COLOUR_AUTO;
        if (!isatty(STDOUT_FILENO))
            return command_fail(EXIT_CALL, "standard output is no terminal: --output csv:-");
        run->terminal = true;
        *instead = (OutputInstead){.kind = &terminal_backend,
                                   .descriptor = STDOUT_FILENO,
                                   .depth = palette_depth(choice, true, &environment),
                                   .ascii = options->ascii};
        return EXIT_DONE;
    }
    return output ? command_fail(EXIT_CALL,
                                 "--output takes terminal or csv:FILE, not `%s`: --output terminal",
                                 output)
                  : EXIT_DONE;
}

/* -------- when -------- */

static int start_instant(const Run *run, int64_t *utc) {
    Loaded loaded;
    Zone *zone = NULL;
    const Options *options = run->options;
    int status = loaded_read(&loaded, options, NULL);
    const PlaceInfo *place = loaded.compilation ? lang_place(loaded.compilation) : NULL;
    /* A wrong file is told of when it is read to be played. */
    if (status != EXIT_MACHINE)
        status = clock_start(options, place, false, &zone, utc);
    zone_free(zone);
    loaded_free(&loaded);
    return status;
}

static int choose_clock(Run *run) {
    const Options *options = run->options;
    bool tries = is_tried(options);
    if ((tries || options->length >= 0) && !run->csv && !run->terminal)
        return command_fail(EXIT_CALL, "--clock, --speed and --length are for trying a day: with "
                                       "--output terminal or --output csv:FILE");
    if (options->speed <= 0)
        return command_fail(EXIT_CALL, "time goes on: --speed above 0x");
    if (!tries)
        return clock_open_system(&run->clock)
                   ? EXIT_DONE
                   : command_fail(EXIT_MACHINE, "no timers: %s", strerror(errno));
    int64_t utc = 0;
    int status = start_instant(run, &utc);
    if (status != EXIT_DONE)
        return status;
    if (run->csv) {
        if (options->length < 0)
            return command_fail(EXIT_CALL, "how much of it? --length 24h");
        run->clock = clock_fake_start(&run->ahead, utc, 0);
        run->ahead.signs.synchronised = true;
        run->plays_ahead = true;
        return EXIT_DONE;
    }
    return clock_open_paced(&run->clock, utc, options->speed)
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "no timers: %s", strerror(errno));
}

/* -------- the loop -------- */

static void take_signal(void *context, uint32_t events) {
    Run *run = context;
    struct signalfd_siginfo one;
    (void)events;
    while (read(run->signals, &one, sizeof one) == (ssize_t)sizeof one) {
        player_signal(run->player, (int)one.ssi_signo);
        if (one.ssi_signo == SIGUSR1)
            player_status(run->player, false, stderr);
    }
}

static int listen_signals(Run *run) {
    static const int NUMBERS[] = {SIGTERM, SIGINT, SIGQUIT, SIGHUP, SIGUSR1};
    sigset_t set;
    sigemptyset(&set);
    for (size_t i = 0; i < sizeof NUMBERS / sizeof *NUMBERS; i++)
        sigaddset(&set, NUMBERS[i]);
    signal(SIGPIPE, SIG_IGN); /* a pipe that nobody reads is said as an error of writing */
    sigprocmask(SIG_BLOCK, &set, NULL);
    run->signals = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
    run->loop = loop_create();
    if (run->signals < 0 || !run->loop || !loop_add(run->loop, run->signals, take_signal, run))
        return command_fail(EXIT_MACHINE, "the system gives no descriptors: %s", strerror(errno));
    return EXIT_DONE;
}

/* As fast as it goes, up to an instant of the clock's monotonic time. */
static void play_ahead(Run *run, int64_t until) {
    ClockFake *clock = &run->ahead;
    while (player_ended(run->player) == PLAYER_GOES_ON) {
        player_turn(run->player);
        loop_wait(run->loop, 0);
        int64_t next = clock_fake_next(clock);
        if (next >= until - clock->now.monotonic)
            return;
        clock_fake_advance(clock, next);
    }
}

/* Until it is ended, or until so much has been shown. */
static void play(Run *run, int64_t until) {
    player_turn(run->player);
    notify_send(run->place.notify, "READY=1");
    while (player_ended(run->player) == PLAYER_GOES_ON) {
        int64_t left = -1;
        if (run->options->length >= 0) {
            left = until - clock_now(&run->clock).monotonic;
            if (left <= 0)
                return;
            left = (int64_t)((double)left / run->options->speed) / 1000 + 1;
        }
        loop_wait(run->loop, left < 0 ? -1 : left > 1000000 ? 1000000 : (int)left);
        player_turn(run->player);
        socket_turn(run->socket);
    }
}

static int start_player(Run *run, const OutputInstead *instead) {
    const Options *options = run->options;
    PlayerRequest request = {.path = options->file,
                             .folder = run->folder,
                             .state = run->place.state,
                             .disk = &state_disk,
                             .variable = getenv("TZ"),
                             .folders = &zone_folders_system,
                             .trust_file = run->plays_ahead || options->clock ? NULL : TRUST_FILE,
                             .trust_after = options->trust_after,
                             .lamp = options->lamp,
                             .instead = *instead,
                             .cid = run->place.cid,
                             .fps = options->fps,
                             .speed = options->speed,
                             .seen = run->terminal ? 1 / options->speed : 1,
                             .waits = (options->wait || run->place.notify) && !instead->kind,
                             .notify = run->place.notify,
                             .watchdog = run->place.watchdog,
                             .say = say,
                             .compiled = compiled,
                             .context = run};
    switch (player_create(&request, &run->clock, run->loop, &run->player)) {
    case PLAYER_STARTED:
        return EXIT_DONE;
    case PLAYER_WRONG:
        return EXIT_WRONG;
    case PLAYER_NO_LAMP:
        return EXIT_CALL;
    default:
        return EXIT_MACHINE;
    }
}

/* Without a socket it plays all the same. */
static void open_socket(Run *run) {
    char why[256], sentence[sizeof run->place.mute + 64];
    if (*run->place.mute && run->options->length < 0) {
        snprintf(sentence, sizeof sentence, "nobody can tell this player anything: %s",
                 run->place.mute);
        say(run, PLAYER_WARNING, sentence);
    }
    run->socket = socket_open(run->place.socket, run->loop, run->player, why, sizeof why);
    if (run->socket)
        return;
    snprintf(sentence, sizeof sentence, "nobody can tell this player anything: %s", why);
    say(run, PLAYER_WARNING, sentence);
    run->socket = socket_open(NULL, run->loop, run->player, why, sizeof why);
}

/* What answers phones and brokers; not where time is another than the machine's. */
static void start_helpers(Run *run) {
    const HelperRequest base = {.loop = run->loop,
                                .player = run->player,
                                .socket = run->socket,
                                .say = say,
                                .context = run};
    if (run->socket && !is_tried(run->options) && !run->plays_ahead)
        run_helpers_start(&run->helpers, run->options, run->place.state, run->csv || run->terminal,
                          &base);
}

static int run_all(Run *run) {
    const Options *options = run->options;
    OutputInstead instead = {0};
    int status = run_helpers_check(options);
    if (status == EXIT_DONE)
        status = choose_output(run, &instead);
    if (status == EXIT_DONE)
        status = choose_clock(run);
    if (status == EXIT_DONE)
        status = run_place(&run->place, options, is_tried(options));
    if (status == EXIT_DONE)
        status = listen_signals(run);
    if (status == EXIT_DONE)
        status = start_player(run, &instead);
    if (status != EXIT_DONE)
        return status;
    if (run->terminal && !run_said_begin(&run->said, run->loop, run->player))
        return command_fail(EXIT_MACHINE, "the system gives no descriptors: %s", strerror(errno));
    open_socket(run);
    start_helpers(run);
    int64_t until = clock_now(&run->clock).monotonic + (options->length < 0 ? 0 : options->length);
    if (run->plays_ahead)
        play_ahead(run, until);
    else
        play(run, until);
    notify_send(run->place.notify, "STOPPING=1");
    return player_ended(run->player) == PLAYER_NO_PORT ? EXIT_MACHINE : EXIT_DONE;
}

int run_run(const Options *options) {
    Run run = {.options = options, .signals = -1, .descriptor = -1, .said = {.own = -1}};
    run.journal =
        notify_is_journal(getenv("JOURNAL_STREAM"), STDERR_FILENO) || getenv("NOTIFY_SOCKET");
    setvbuf(stderr, NULL, _IOLBF, 0);
    if (strcmp(options->file, "-") == 0)
        return command_fail(EXIT_CALL, "standard input cannot be read again when it changes: name "
                                       "a file");
    if (!getcwd(run.folder, sizeof run.folder))
        return command_fail(EXIT_MACHINE, "the working directory: %s", strerror(errno));
    int status = run_all(&run);
    run_helpers_end(&run.helpers);
    socket_close(run.socket);
    player_free(run.player);
    run_said_end(&run.said);
    loop_free(run.loop);
    clock_close(&run.clock);
    if (run.signals >= 0)
        close(run.signals);
    if (run.descriptor >= 0 && close(run.descriptor) != 0 && status == EXIT_DONE)
        status = command_fail(EXIT_MACHINE, "%s: %s", options->output, strerror(errno));
    run_place_end(&run.place);
    return status;
}
