/* What `gloam check` says to those who build a lamp. */
#include <string.h>

#include "runtime/command/costs.h"
#include "runtime/light/lightness.h"

static const char *const SHAPES[] = {"strip", "ring", "grid", "ball", "points"};

static void print_lamp(const LampInfo *lamp, bool limited, FILE *out) {
    PipelineLamp light = lamp_light(lamp, 0);
    const Chip *chip = lamp_chip(lamp);
    uint32_t channels = light.has_white ? 4 : 3;
    double full = supply_current(&light.supply, lamp->pixels, (double)channels * lamp->pixels);
    double most =
        supply_current(&light.supply, lamp->pixels, (double)channels * lamp->pixels * lamp->level);
    double idle = supply_current(&light.supply, lamp->pixels, 0);
    fprintf(out, "lamp %s: %s of %u, %s%s; all at full about %.2f A, dark %.2f A\n", lamp->name,
            SHAPES[lamp->shape], lamp->pixels, chip->name, lamp->chip ? "" : " assumed", full,
            idle);
    if (lamp->supply_ampere > 0)
        fprintf(out, "  supply %g V %g A: %s\n", lamp->supply_volt, lamp->supply_ampere,
                most > lamp->supply_ampere   ? "brighter frames are dimmed to stay inside"
                : full > lamp->supply_ampere ? "enough at this `level`"
                                             : "enough for all at full");
    else if (!limited)
        fprintf(out, "  no `supply` is said, so nothing limits the current: `supply 5V 2A`\n");
    if (lamp->flashes)
        fprintf(out, "  the flash guard is off\n");
}

/* A lamp that only gives a preview its shape needs none. */
static bool is_hardware(const LampInfo *lamp) {
    return lamp->chip || lamp->port || lamp->supply_ampere > 0;
}

static bool some_one_wire(const LampInfo *lamps, uint32_t count) {
    for (uint32_t i = 0; i < count; i++)
        if (is_hardware(&lamps[i]) && lamp_chip(&lamps[i])->wire == CHIP_ONE_WIRE)
            return true;
    return false;
}

void cautions_print(const Compilation *compilation, bool limited, FILE *out) {
    uint32_t count, said = 0;
    const LampInfo *lamps = lang_lamps(compilation, &count);
    for (uint32_t i = 0; i < count; i++) {
        if (is_hardware(&lamps[i]))
            print_lamp(&lamps[i], limited, out);
        said += is_hardware(&lamps[i]);
    }
    if (said == 0)
        return;
    fputs("before it is switched on:\n"
          "  a strip needs a supply of its own, and a fuse near it; measure what it really draws\n",
          out);
    if (some_one_wire(lamps, count))
        fputs("  chips at 5 V want data above 3.5 V: put a level shifter behind a board of 3.3 V\n",
              out);
    fputs("  pixels warm paper, cloth and wood: keep a distance, feel after an hour\n"
          "  flashing can harm people, and bright or blue light keeps them awake at night\n"
          "  follow local codes; leave mains wiring to licensed people\n",
          out);
}

/* "light 0.49 % (L* 4)" or "light 0.4 % to 2 % (L* 4 to 15)" */
static void print_light(const Examined *seen) {
    char least[SAFETY_PERCENT], most[SAFETY_PERCENT];
    safety_percent(seen->light_least, least);
    safety_percent(seen->light_most, most);
    double low = lightness_of(seen->light_least), high = lightness_of(seen->light_most);
    if (seen->light_most <= 0)
        printf("dark");
    else if (strcmp(least, most) == 0)
        printf("light %s (L* %.0f)", most, high);
    else
        printf("light %s to %s (L* %.0f to %.0f)", least, most, low, high);
}

void nights_print(const Compilation *compilation, const Safety *safety) {
    uint32_t count;
    const RoutineCost *costs = lang_costs(compilation, &count);
    if (safety->night_count)
        puts("at night (02:00, and until the clock is set), in shares of the lamp's full white:");
    for (size_t i = 0; i < safety->night_count; i++) {
        const Sight *sight = &safety->nights[i];
        char text[SAFETY_PERCENT];
        printf("  %s on %s: ", costs[sight->routine].name,
               sight->lamp ? sight->lamp->name : "a ring of 16");
        print_light(&sight->examined);
        if (sight->examined.light_most > 0)
            printf(", melanopic output about %s",
                   safety_percent(sight->examined.melanopic_most, text));
        puts("");
    }
    if (safety->night_count)
        puts("  estimated from the wavelength bins of data sheets; what it is at the pillow only a "
             "meter tells");
}
