/* gloam check: every diagnostic; --costs: what the routines cost. */
#include <string.h>
#include <unistd.h>

#include "runtime/command/load.h"

static const char *when_word(When when) {
    return when == WHEN_FIXED ? "fixed" : when == WHEN_SET ? "set" : "moving";
}

static void print_costs(const Compilation *compilation, const Options *options) {
    uint32_t count, lamps;
    const RoutineCost *costs = lang_costs(compilation, &count);
    const LampInfo *lamp = lang_lamps(compilation, &lamps);
    const Program *program = lang_program(compilation);
    uint32_t pixels = options->pixels ? options->pixels : lamps == 1 ? lamp->pixels : 16;
    for (uint32_t i = 0; i < count && i < program->routine_count; i++) {
        const Code *code = &program->routines[i].code;
        double worst = 0;
        for (uint32_t k = 0; k < costs[i].layer_count; k++)
            if (costs[i].layers[k].cost.pixel_nanoseconds > worst)
                worst = costs[i].layers[k].cost.pixel_nanoseconds;
        printf("\nroutine %s\n", costs[i].name);
        printf("  layer                          when    where  a frame  a pixel  about\n");
        for (uint32_t k = 0; k < costs[i].layer_count; k++) {
            const LayerCost *layer = &costs[i].layers[k];
            const Diagnostics *sink = lang_diagnostics((Compilation *)compilation);
            char place[64];
            snprintf(place, sizeof place, "%.40s:%u", diagnostics_file_name(sink, layer->span.file),
                     diagnostics_line(sink, layer->span));
            printf("  %-30s %-7s %-6s %7u  %7u  %5.1f ns a pixel%s\n", place,
                   when_word(layer->rate.when), layer->rate.where == WHERE_EACH ? "each" : "one",
                   layer->cost.frame, layer->cost.pixel, layer->cost.pixel_nanoseconds,
                   costs[i].layer_count > 1 && worst > 0 && layer->cost.pixel_nanoseconds == worst
                       ? "  <- costs most"
                       : "");
        }
        printf("  instructions: %u when set, %u a frame, %u a pixel; %zu bytes for %u pixels\n",
               code->lengths[SECTION_SET] + code->lengths[SECTION_EACH],
               code->lengths[SECTION_FRAME], code->lengths[SECTION_PIXEL], vm_memory(code, pixels),
               pixels);
        printf("  %s\n", code->stillness == STILL_ALWAYS ? "nothing moves: no timer is needed"
                         : code->stillness == STILL_SETTLES
                             ? "comes to rest: no timer is needed from then on"
                             : "moves for as long as it plays");
    }
}

int check_run(const Options *options) {
    Loaded loaded;
    int status = loaded_read(&loaded, options, options->json ? NULL : stdout);
    if (loaded.compilation && options->json) {
        diagnostics_print_json(lang_diagnostics(loaded.compilation), stdout);
    } else if (loaded.bytecode && options->json) {
        puts("[]");
    } else if (status == EXIT_DONE) {
        uint16_t count = loaded.program->routine_count;
        printf("%s: no mistakes; %u routine%s\n", options->file, count, count == 1 ? "" : "s");
    }
    if (status == EXIT_DONE && options->costs && loaded.compilation)
        print_costs(loaded.compilation, options);
    loaded_free(&loaded);
    return command_printed(status);
}
