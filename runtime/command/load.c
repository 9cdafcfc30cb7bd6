#include "runtime/command/load.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/advice.h"
#include "runtime/time/act.h"
#include "runtime/light/level.h"
#include "runtime/player/inputs.h"
#include "runtime/player/request.h"

static const char *OUT_OF_MEMORY = "out of memory: close other programs or use fewer pixels";

/* Whether FILE is bytecode by its first bytes. Of standard input all is read, at most so much as
 * bytecode may have. */
static bool is_bytecode(Loaded *loaded, const char *path) {
    DiskReader *disk = &loaded->disk;
    if (strcmp(path, "-") == 0) {
        disk_read_input(disk, LIMIT_PROGRAM_BYTES);
        return disk->input && bytecode_is((unsigned char *)disk->input, disk->input_length);
    }
    struct stat about;
    if (stat(path, &about) != 0 || !S_ISREG(about.st_mode))
        return false; /* the reader says what is wrong; opening a pipe would wait */
    FILE *file = fopen(path, "rb");
    unsigned char head[16];
    size_t got = file ? fread(head, 1, sizeof head, file) : 0;
    if (file)
        fclose(file);
    return bytecode_is(head, got);
}

static int read_bytecode(Loaded *loaded, const char *path) {
    DiskReader *disk = &loaded->disk;
    char *bytes = disk->input, why[200];
    size_t length = disk->input_length;
    const char *reason = "cannot be read";
    ReadStatus read =
        bytes ? READ_FINE : disk_read_file(path, LIMIT_PROGRAM_BYTES, &bytes, &length, &reason);
    if (read == READ_TOO_LARGE)
        return command_fail(EXIT_WRONG, "%s: bytecode has at most 16 MiB", path);
    if (read != READ_FINE)
        return command_fail(EXIT_WRONG, "%s: %s", path, read_sentence(read, reason));
    loaded->bytecode = bytecode_read((unsigned char *)bytes, length, why, sizeof why);
    if (bytes != disk->input)
        memory_release(bytes);
    loaded->program = loaded->bytecode;
    return loaded->program ? EXIT_DONE
                           : command_fail(EXIT_WRONG, "%s: is no sound bytecode: %s", path, why);
}

int loaded_read(Loaded *loaded, const Options *options, FILE *messages) {
    *loaded = (Loaded){0};
    disk_reader_start(&loaded->disk);
    if (is_bytecode(loaded, options->file))
        return read_bytecode(loaded, options->file);
    loaded->compilation = lang_compile(&loaded->disk.reader, options->file);
    if (!loaded->compilation)
        return command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
    advice_give(loaded->compilation);
    clock_advise(loaded->compilation);
    Diagnostics *sink = lang_diagnostics(loaded->compilation);
    if (messages)
        diagnostics_print(sink, messages, command_colours(options, messages));
    loaded->program = lang_program(loaded->compilation);
    if (!loaded->program && diagnostics_out_of_memory(sink))
        return command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
    return loaded->program ? EXIT_DONE : EXIT_WRONG;
}

void loaded_free(Loaded *loaded) {
    lang_free(loaded->compilation);
    program_free(loaded->bytecode);
    disk_reader_end(&loaded->disk);
}

int loaded_lamp(const Loaded *loaded, const Options *options, const LampInfo **info) {
    uint32_t count = 0;
    const LampInfo *lamps = loaded->compilation ? lang_lamps(loaded->compilation, &count) : NULL;
    char missing[LAMP_MISSING];
    *info = lamp_called(lamps, count, options->lamp, missing);
    if (*info)
        return EXIT_DONE;
    if (loaded->bytecode)
        return command_fail(EXIT_CALL, "%s is bytecode, which has no lamps: --pixels 60",
                            options->file);
    return command_fail(EXIT_CALL, "%s %s%s", options->file, missing, count ? "" : ": --pixels 60");
}

/* The declared lamp that is meant: --lamp, or the only one; NULL none. */
static int choose_lamp(Stage *stage, const Options *options) {
    uint32_t count = 0;
    const LampInfo *lamps =
        stage->loaded.compilation ? lang_lamps(stage->loaded.compilation, &count) : NULL;
    if (options->lamp && options->pixels)
        return command_fail(EXIT_CALL, "--pixels is a ring of its own: leave out --lamp");
    if (options->lamp)
        return loaded_lamp(&stage->loaded, options, &stage->info);
    if (count == 1 && !options->pixels)
        stage->info = lamps;
    if (count > 1 && !options->pixels)
        return command_fail(EXIT_CALL, "%s has %u lamps: say which with --lamp (`%s`, `%s`%s)",
                            options->file, count, lamps[0].name, lamps[1].name,
                            count > 2 ? ", ..." : "");
    return EXIT_DONE;
}

static int32_t lamp_index(const Stage *stage) {
    uint32_t count;
    return stage->info ? (int32_t)(stage->info - lang_lamps(stage->loaded.compilation, &count))
                       : TIMETABLE_NOT_SAID;
}

static int make_lamp(Stage *stage, const Options *options) {
    int status = choose_lamp(stage, options);
    if (status != EXIT_DONE)
        return status;
    stage->lamp_index = lamp_index(stage);
    ShapeRequest request = {.form = FORM_RING, .pixels = options->pixels ? options->pixels : 16};
    ShapePoint *points = NULL;
    bool made = (!stage->info || lamp_request(stage->info, &request, &points)) &&
                lamp_make(&stage->lamp, stage->loaded.program, &request, stage->info);
    memory_release(points);
    stage->lamp_light = lamp_light(stage->info, options->fps);
    stage->lamp_light.dither = stage->lamp_light.dither && !options->no_dither;
    if (made)
        stage->pipeline = pipeline_create(&stage->lamp_light, stage->lamp.shape);
    return stage->pipeline ? EXIT_DONE : command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
}

/* Ends a line of standard error: " (`dusk`, `nightlight`)" */
static int list_routines(const Program *program) {
    for (uint16_t i = 0; i < program->routine_count; i++)
        fprintf(stderr, "%s`%s`", i ? ", " : " (", program->routines[i].name);
    fputs(")\n", stderr);
    return EXIT_CALL;
}

/* Whether there is a timetable with something to play. */
static bool has_timetable(const Loaded *loaded) {
    const Timetable *timetable = loaded->compilation ? lang_timetable(loaded->compilation) : NULL;
    return timetable && timetable->entry_count > 0;
}

static int choose_routine(Stage *stage, const Options *options, bool any) {
    const Program *program = stage->loaded.program;
    if (program->routine_count == 0)
        return command_fail(EXIT_WRONG, "%s has no routine to show: routine name { paint gold }",
                            options->file);
    if (!options->routine) {
        stage->routine = 0;
        if (has_timetable(&stage->loaded) && !options_days(options)) {
            stage->routine = STAGE_TIMETABLE;
            return EXIT_DONE;
        }
        if (any || program->routine_count == 1)
            return EXIT_DONE;
        fprintf(stderr, "gloam: %s has %u routines: say which with --routine", options->file,
                program->routine_count);
        return list_routines(program);
    }
    const char *names[LIMIT_ROUTINES];
    for (uint16_t i = 0; i < program->routine_count; i++) {
        names[i] = program->routines[i].name;
        if (strcmp(names[i], options->routine) == 0) {
            stage->routine = i;
            return EXIT_DONE;
        }
    }
    char near[COMMAND_NEAR];
    if (*command_near(options->routine, names, program->routine_count, near))
        return command_fail(EXIT_CALL, "%s has no routine `%s`%s", options->file, options->routine,
                            near);
    fprintf(stderr, "gloam: %s has no routine `%s`", options->file, options->routine);
    return list_routines(program);
}

static int no_dial(const Program *program, const char *setting, size_t length) {
    const char *names[LIMIT_DIALS];
    char name[80], near[COMMAND_NEAR];
    for (uint16_t i = 0; i < program->dial_count; i++)
        names[i] = program->dials[i].name;
    snprintf(name, sizeof name, "%.*s", (int)(length < 79 ? length : 79), setting);
    if (program->dial_count == 0)
        return command_fail(EXIT_CALL, "there is no dial `%s`: the file has none", name);
    if (*command_near(name, names, program->dial_count, near))
        return command_fail(EXIT_CALL, "there is no dial `%s`%s", name, near);
    return command_fail(EXIT_CALL, "there is no dial `%s`; the first is `%s`", name, names[0]);
}

static int set_dial(Stage *stage, const char *setting) {
    const Program *program = stage->loaded.program;
    size_t length = (size_t)(strchr(setting, '=') - setting);
    const char *text = setting + length + 1;
    while (length && setting[length - 1] == ' ')
        length--;
    uint16_t dial = dial_find(program, setting, length);
    if (dial == program->dial_count)
        return no_dial(program, setting, length);
    const DialInfo *info = &program->dials[dial];
    static const char *EXAMPLES[] = {"40%", "2s", "true", "gold"};
    DialValue *value = &stage->dials[dial];
    char said[REQUEST_SENTENCE];
    switch (dial_read(info, text, value)) {
    case DIAL_SET:
        return EXIT_DONE;
    case DIAL_CUT:
        request_set(info, &(TimetableSetting){dial, value->number, value->colour}, true, said);
        fprintf(stderr, "gloam: %s\n", said);
        return EXIT_DONE;
    case DIAL_NOT_PERCENT:
        return command_fail(EXIT_CALL, "the dial `%s` goes from %.4g%% to %.4g%%: --set %s=%s%%",
                            info->name, 100 * info->from, 100 * info->to, info->name, text);
    case DIAL_NO_MEMORY:
        return command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
    default:
        return command_fail(EXIT_CALL, "`%s` is no value for the dial `%s`: --set %s=%s", text,
                            info->name, info->name, EXAMPLES[info->type]);
    }
}

static int make_dials(Stage *stage, const Options *options) {
    const Program *program = stage->loaded.program;
    stage->dials = dial_defaults(program);
    stage->machines = memory_allocate(program->routine_count, sizeof *stage->machines);
    stage->light = memory_allocate(stage->lamp.scene.pixels, 3 * sizeof *stage->light);
    if (!stage->dials || !stage->machines || !stage->light)
        return command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
    for (int i = 0; i < options->setting_count; i++) {
        int status = set_dial(stage, options->settings[i]);
        if (status != EXIT_DONE)
            return status;
    }
    return EXIT_DONE;
}

int stage_open(Stage *stage, const Options *options, bool live) {
    *stage = (Stage){.clock_at = options->start,
                     .reports = options->reports,
                     .report_count = options->report_count};
    int status = loaded_read(&stage->loaded, options, stderr);
    if (status == EXIT_DONE && stage->loaded.compilation)
        stage->place = *lang_place(stage->loaded.compilation);
    if (status == EXIT_DONE)
        status = choose_routine(stage, options, live || options_days(options));
    if (status == EXIT_DONE)
        status = clock_start(options, &stage->place, !live, &stage->zone, &stage->clock);
    if (status == EXIT_DONE)
        status = make_lamp(stage, options);
    if (status == EXIT_DONE)
        status = make_dials(stage, options);
    if (status == EXIT_DONE && stage->report_count && stage->routine != STAGE_TIMETABLE)
        status = command_fail(EXIT_CALL, "--report tells a timetable, and none is shown");
    bool made = status != EXIT_DONE ||
                (stage->routine == STAGE_TIMETABLE ? stage_performance(stage) != NULL
                                                   : stage_machine(stage, stage->routine) != NULL);
    if (!made && stage->wrong != EXIT_DONE)
        return stage->wrong;
    if (!made)
        status = command_fail(EXIT_MACHINE, "%s", OUT_OF_MEMORY);
    return status;
}

void stage_close(Stage *stage) {
    for (uint16_t i = 0; stage->machines && i < stage->loaded.program->routine_count; i++)
        vm_free(stage->machines[i]);
    performance_free(stage->performance);
    memory_release(stage->machines);
    memory_release(stage->dials);
    memory_release(stage->light);
    pipeline_free(stage->pipeline);
    zone_free(stage->zone);
    lamp_free(&stage->lamp);
    loaded_free(&stage->loaded);
}

Vm *stage_machine(Stage *stage, uint16_t routine) {
    if (!stage->machines[routine])
        stage->machines[routine] = vm_create(&stage->loaded.program->routines[routine].code,
                                             &stage->lamp.scene, stage->dials);
    return stage->machines[routine];
}

/* The dials, set before all that plays, so that a `with` counts. */
static void tell_dials(const Stage *stage, const Now *now, Overrides *overrides) {
    Begun begun = {.utc = TIMETABLE_EVER / 4, .boottime = TIMETABLE_EVER / 4, .trusted = true};
    memcpy(overrides->boot, now->boot, sizeof overrides->boot);
    overrides->dial_count = stage->loaded.program->dial_count;
    for (uint16_t i = 0; i < overrides->dial_count; i++)
        overrides->dials[i] =
            (DialSet){i + 1u, begun, {i, stage->dials[i].number, stage->dials[i].colour}};
    overrides->last_number = overrides->dial_count;
}

/* One `--report EVENT@MOMENT`. */
static int read_report(const Stage *stage, const char *report, uint16_t *event, int64_t *utc) {
    const Program *program = stage->loaded.program;
    const char *names[LIMIT_EVENTS], *moment = strchr(report, '@') + 1;
    char name[80], near[COMMAND_NEAR];
    snprintf(name, sizeof name, "%.*s", (int)(moment - 1 - report < 79 ? moment - 1 - report : 79),
             report);
    for (*event = 0; *event < program->event_count; ++*event) {
        names[*event] = program->events[*event].name;
        if (strcmp(names[*event], name) == 0)
            break;
    }
    if (*event == program->event_count)
        return command_fail(EXIT_CALL, "there is no event `%s`%s", name,
                            command_near(name, names, program->event_count, near));
    if (!clock_moment(moment, stage->zone, stage->clock, utc))
        return command_fail(
            EXIT_CALL, "`%s` is no time that a clock shows there: --report %s@14:30", moment, name);
    return EXIT_DONE;
}

/* The events of --report, each at its moment. */
static int tell_reports(const Stage *stage, const Now *now, Overrides *overrides) {
    bool told[LIMIT_EVENTS] = {false};
    for (int i = 0; i < stage->report_count; i++) {
        uint16_t event;
        int64_t utc;
        int status = read_report(stage, stage->reports[i], &event, &utc);
        if (status != EXIT_DONE)
            return status;
        if (told[event])
            return command_fail(EXIT_CALL, "--report tells each event once");
        told[event] = true;
        Now then = now_later(now, utc - now->utc);
        const char *trouble =
            overrides_act(overrides, &stage->world, &then,
                          &(Act){.kind = ACT_REPORT, .lamp = TIMETABLE_NOT_SAID, .event = event});
        if (trouble)
            return command_fail(EXIT_CALL, "--report %s: %s", stage->reports[i], trouble);
    }
    return EXIT_DONE;
}

Performance *stage_performance(Stage *stage) {
    Overrides *overrides = stage->performance ? NULL : memory_allocate(1, sizeof *overrides);
    if (!overrides)
        return stage->performance;
    Now now = {.utc = stage->clock, .trusted = true, .boot = "-"};
    tell_dials(stage, &now, overrides);
    stage->world = (World){
        .context = {lang_timetable(stage->loaded.compilation), stage->loaded.program, stage->zone}};
    stage->wrong = tell_reports(stage, &now, overrides);
    if (stage->wrong != EXIT_DONE) {
        memory_release(overrides);
        return NULL;
    }
    PerformanceRequest request = {&stage->world, stage->lamp_index, stage->info,
                                  &stage->lamp.scene};
    stage->performance = performance_create(&request, overrides, &now);
    memory_release(overrides);
    return stage->performance;
}

/* The instant of a position. */
static int64_t stage_utc(const Stage *stage, uint16_t routine, int64_t position) {
    return stage->clock + position - (routine == STAGE_TIMETABLE ? 0 : stage->clock_at);
}

static Moment moment_at(const Stage *stage, uint16_t routine, int64_t position) {
    const PlaceInfo *info = &stage->place;
    TimetablePlace place = {info->said, info->latitude, info->longitude, info->zone};
    Moment moment = {{0}};
    if (stage->loaded.program->routines[routine].code.reads_clock)
        inputs_at(stage->zone, &place, stage_utc(stage, routine, position), &moment);
    moment.input[INPUT_T] = (double)position;
    return moment;
}

const float *stage_render(Stage *stage, uint16_t routine, int64_t position) {
    if (routine == STAGE_TIMETABLE) {
        Performance *performance = stage_performance(stage);
        bool made =
            performance &&
            performance_light(performance, stage_utc(stage, routine, position), stage->light);
        return made ? stage->light : NULL;
    }
    Vm *machine = stage_machine(stage, routine);
    if (!machine)
        return NULL;
    Moment moment = moment_at(stage, routine, position);
    vm_render(machine, &moment, stage->light);
    return stage->light;
}

bool stage_show(Stage *stage, uint16_t routine, int64_t position, int64_t shown) {
    uint64_t held = pipeline_held(stage->pipeline);
    if (routine == STAGE_TIMETABLE)
        performance_show(stage->performance, stage_utc(stage, routine, position), stage->pipeline,
                         shown, stage->light);
    else
        pipeline_show(stage->pipeline, shown, LEVEL_NO_CEILING, stage->light);
    return pipeline_held(stage->pipeline) != held;
}

int64_t stage_changes(Stage *stage, uint16_t routine, int64_t position) {
    if (routine == STAGE_TIMETABLE) {
        int64_t utc = stage_utc(stage, routine, position);
        int64_t next = performance_changes(stage->performance, utc);
        return next == TIMETABLE_NEVER ? INT64_MAX : next - stage->clock;
    }
    Vm *machine = stage_machine(stage, routine);
    return machine && (double)position >= vm_still_from(machine) ? INT64_MAX : position;
}

const char *stage_routine_name(const Stage *stage, uint16_t routine) {
    return routine == STAGE_TIMETABLE ? "timetable" : stage->loaded.program->routines[routine].name;
}

int64_t stage_length(const Stage *stage, const Options *options) {
    if (options->length >= 0)
        return options->length;
    if (stage->routine == STAGE_TIMETABLE)
        return 10 * 1000000;
    int64_t lasts = (int64_t)stage->loaded.program->routines[stage->routine].lasts;
    return lasts > options->start ? lasts - options->start : 10 * 1000000;
}

/* Says once which clock stands in where it counts and --clock was not given. */
static void say_clock(const Stage *stage, const Options *options) {
    if (options->clock || options_days(options))
        return;
    if (stage->routine == STAGE_TIMETABLE)
        fputs("gloam: the timetable is played from 2026-06-21 00:00 UTC (--clock sets another; "
              "--routine shows one)\n",
              stderr);
    else if (stage->loaded.program->routines[stage->routine].code.reads_clock)
        fprintf(stderr,
                "gloam: `%s` reads the clock; it is taken to be 2026-06-21 00:00 UTC at "
                "the first frame (--clock sets another)\n",
                stage_routine_name(stage, stage->routine));
}

int stage_write(const Options *options, int (*write)(Stage *, const Options *, Output *)) {
    Stage stage;
    Output output;
    int status = stage_open(&stage, options, false);
    if (status == EXIT_DONE)
        say_clock(&stage, options);
    if (status == EXIT_DONE)
        status = command_open(&output, options->output);
    if (status == EXIT_DONE) {
        status = write(&stage, options, &output);
        status = command_close(&output, status == EXIT_DONE, status);
    }
    stage_close(&stage);
    return status;
}
