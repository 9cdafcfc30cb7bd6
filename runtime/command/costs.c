/* gloam check --costs */
#include "runtime/command/costs.h"

#include <string.h>

static const char *when_word(When when) {
    return when == WHEN_FIXED ? "fixed" : when == WHEN_SET ? "set" : "moving";
}

static void print_layers(const Compilation *compilation, const RoutineCost *cost) {
    double worst = 0;
    for (uint32_t k = 0; k < cost->layer_count; k++)
        if (cost->layers[k].cost.pixel_nanoseconds > worst)
            worst = cost->layers[k].cost.pixel_nanoseconds;
    printf("  layer                          when    where  a frame  a pixel  about\n");
    for (uint32_t k = 0; k < cost->layer_count; k++) {
        const LayerCost *layer = &cost->layers[k];
        const Diagnostics *sink = lang_diagnostics((Compilation *)compilation);
        char place[64];
        snprintf(place, sizeof place, "%.40s:%u", diagnostics_file_name(sink, layer->span.file),
                 diagnostics_line(sink, layer->span));
        printf("  %-30s %-7s %-6s %7u  %7u  %5.1f ns a pixel%s\n", place,
               when_word(layer->rate.when), layer->rate.where == WHERE_EACH ? "each" : "one",
               layer->cost.frame, layer->cost.pixel, layer->cost.pixel_nanoseconds,
               cost->layer_count > 1 && worst > 0 && layer->cost.pixel_nanoseconds == worst
                   ? "  <- costs most"
                   : "");
    }
}

static void print_work(const Code *code, uint32_t pixels) {
    printf("  instructions: %u when set, %u a frame, %u a pixel; %zu bytes for %u pixels\n",
           code->lengths[SECTION_SET] + code->lengths[SECTION_EACH], code->lengths[SECTION_FRAME],
           code->lengths[SECTION_PIXEL], vm_memory(code, pixels), pixels);
    printf("  %s\n", code->stillness == STILL_ALWAYS    ? "nothing moves: no timer is needed"
                     : code->stillness == STILL_SETTLES ? "comes to rest: no timer is needed from "
                                                          "then on"
                                                        : "moves for as long as it plays");
}

/* "at most 8 (from 0:00.133)" or "none" */
static void print_changes(const FlashSeen *seen, FlashKind kind) {
    char time[32];
    safety_time(seen->worst[kind], time, sizeof time);
    if (seen->most[kind])
        printf("at most %u (from %s)", seen->most[kind], time);
    else
        printf("none");
}

/* "0.49 %" or "0.4 % to 2 %" */
static void print_range(double least, double most) {
    char low[SAFETY_PERCENT], high[SAFETY_PERCENT];
    safety_percent(least, low);
    safety_percent(most, high);
    if (strcmp(low, high) == 0)
        printf("%s", high);
    else
        printf("%s to %s", low, high);
}

static void print_sight(const Sight *sight) {
    const Examined *seen = &sight->examined;
    char length[32], peak[32];
    safety_time(seen->length, length, sizeof length);
    safety_time(seen->peak_at, peak, sizeof peak);
    if (sight->lamp)
        printf("  on %s, looked at for %s:\n", sight->lamp->name, length);
    else {
        Supply supply = lamp_light(NULL, 0).supply;
        printf("  on a ring of 16 (%g mA a channel, %g mA idle), looked at for %s:\n",
               supply.channel_ampere * 1000, supply.idle_ampere * 1000, length);
    }
    printf("    current: at most %.3f A (at %s), mean %.3f A%s\n", seen->peak_ampere, peak,
           seen->mean_ampere, seen->dimmed ? "; dimmed to stay inside its supply" : "");
    printf("    changes of light within a second, of which six are the limit: ");
    print_changes(&seen->flashes, FLASH_GENERAL);
    printf("; of red: ");
    print_changes(&seen->flashes, FLASH_RED);
    printf("\n    light: ");
    print_range(seen->light_least, seen->light_most);
    printf(" of full white, melanopic about ");
    print_range(seen->melanopic_least, seen->melanopic_most);
    puts("");
}

void costs_print(const Compilation *compilation, const Options *options, const Safety *safety) {
    uint32_t count, lamps;
    const RoutineCost *costs = lang_costs(compilation, &count);
    const LampInfo *lamp = lang_lamps(compilation, &lamps);
    const Program *program = lang_program(compilation);
    uint32_t pixels = options->pixels ? options->pixels : lamps == 1 ? lamp->pixels : 16;
    for (uint32_t i = 0; i < count && i < program->routine_count; i++) {
        printf("\nroutine %s\n", costs[i].name);
        print_layers(compilation, &costs[i]);
        print_work(&program->routines[i].code, pixels);
        for (size_t k = 0; k < safety->count; k++)
            if (safety->sights[k].routine == i)
                print_sight(&safety->sights[k]);
    }
    if (count)
        puts("\nLooked at 60 frames a second, dials at their defaults, over what a routine lasts "
             "or else\n10 minutes, after level and supply, before the flash guard.");
}
