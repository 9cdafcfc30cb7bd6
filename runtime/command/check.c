/* gloam check: every diagnostic; --costs: what the routines cost. */
#include "runtime/command/costs.h"
#include "runtime/command/cuts.h"
#include "runtime/command/load.h"
#include "runtime/player/clock.h"

static int print_all(const Loaded *loaded, const Options *options, const Safety *safety) {
    Compilation *compilation = loaded->compilation;
    if (options->json) {
        diagnostics_print_json(lang_diagnostics(compilation), stdout);
        return EXIT_DONE;
    }
    diagnostics_print(lang_diagnostics(compilation), stdout, command_colours(options, stdout));
    if (!loaded->program)
        return EXIT_WRONG;
    uint16_t count = loaded->program->routine_count;
    printf("%s: no mistakes; %u routine%s\n", options->file, count, count == 1 ? "" : "s");
    if (safety->cut)
        puts("not all of it was looked at for flashes and current: that would take long");
    cautions_print(compilation, false, stdout);
    nights_print(compilation, safety);
    if (options->costs)
        costs_print(compilation, options, safety);
    return EXIT_DONE;
}

/* Where the week of nights begins: --clock, else now. */
static int first_night(const Options *options, Compilation *compilation, int64_t *now) {
    Zone *zone = NULL;
    *now = clock_system_now().utc;
    if (!options->clock)
        return EXIT_DONE;
    int status = clock_start(options, lang_place(compilation), false, &zone, now);
    zone_free(zone);
    return status;
}

int check_run(const Options *options) {
    Loaded loaded;
    Safety safety = {0};
    int64_t now = 0;
    int status = loaded_read(&loaded, options, NULL);
    if (status == EXIT_DONE && loaded.compilation)
        status = first_night(options, loaded.compilation, &now);
    if (status == EXIT_CALL) {
        loaded_free(&loaded);
        return status;
    }
    if (status == EXIT_DONE && loaded.compilation &&
        !(safety_look(loaded.compilation, now, &safety) && cuts_find(&loaded, options)))
        status = command_fail(EXIT_MACHINE, "out of memory");
    else if (loaded.compilation && status != EXIT_MACHINE)
        status = print_all(&loaded, options, &safety) == EXIT_DONE ? status : EXIT_WRONG;
    else if (loaded.bytecode && options->json)
        puts("[]");
    else if (loaded.bytecode)
        printf("%s: no mistakes; %u routine%s\n", options->file, loaded.program->routine_count,
               loaded.program->routine_count == 1 ? "" : "s");
    safety_free(&safety);
    loaded_free(&loaded);
    return command_printed(status);
}
