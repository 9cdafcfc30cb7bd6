/* Lamps as declared: every value checked as far as no device is needed, and put into LampInfo. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lang/checks.h"
#include "runtime/core/chip.h"

typedef struct LampCheck {
    Checks *checks;
    Diagnostics *sink;
    const Node *node;
    LampInfo *lamp;
    const Node *said[PROPERTY_COUNT]; /* the first of each */
    uint32_t pixels;                  /* as written, 0: not said or wrong */
    bool wrong;                       /* the number of pixels is not known: keep silent about it */
} LampCheck;

/* -------- one value -------- */

static bool whole(LampCheck *check, const Node *node, const char *what, double least, double most,
                  uint32_t *number) {
    if (!node || node->kind != NODE_NUMBER)
        return false;
    if (node->number < least || node->number > most || node->number != floor(node->number)) {
        diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", node->span, SPAN_NONE, NULL,
                           "%s is a whole number from %.0f to %.0f", what, least, most);
        return false;
    }
    *number = (uint32_t)node->number;
    return true;
}

static void above_zero(LampCheck *check, const Node *node, const char *what, double *number) {
    if (!node)
        return;
    if (node->number > 0)
        *number = node->number;
    else
        diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", node->span, SPAN_NONE, NULL,
                           "%s must be above 0", what);
}

static void kelvin(LampCheck *check, const Node *node, double *number) {
    enum { LEAST = 1000, MOST = 25000 };
    if (!node)
        return;
    if (node->number >= LEAST && node->number <= MOST)
        *number = node->number;
    else
        diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", node->span, SPAN_NONE, NULL,
                           "the white of a glowing body goes from %dK to %dK", LEAST, MOST);
}

/* A word of a closed list. */
static const char *word_of(LampCheck *check, const Node *node, const char *what,
                           const char *const *words, size_t count) {
    if (!node || !node->text)
        return NULL;
    char list[160] = "";
    size_t used = 0;
    for (size_t i = 0; i < count; i++) {
        if (strcmp(words[i], node->text) == 0)
            return words[i];
        used +=
            (size_t)snprintf(list + used, sizeof list - used, "%s`%s`", i ? ", " : "", words[i]);
    }
    const char *nearest = diagnostics_nearest(node->text, words, count);
    diagnostics_report(check->sink, SEVERITY_ERROR, "unknown-word", node->span, SPAN_NONE, nearest,
                       "no %s `%s`; there are %s", what, node->text, list);
    return NULL;
}

#define WORD_OF(check, node, what, words)                                                          \
    word_of(check, node, what, words, sizeof(words) / sizeof((words)[0]))

/* -------- pixels and shape -------- */

static void check_grid(LampCheck *check, const Node *shape) {
    LampInfo *lamp = check->lamp;
    lamp->shape = SHAPE_GRID;
    lamp->zigzag = shape->number == 1;
    bool across = whole(check, shape->a, "the width of a grid", 1, LIMIT_PIXELS, &lamp->across);
    bool up = whole(check, shape->b, "the height of a grid", 1, LIMIT_PIXELS, &lamp->up);
    if (!across || !up) {
        check->wrong = true;
        return;
    }
    double product = (double)lamp->across * lamp->up;
    if (product > LIMIT_PIXELS) {
        check->wrong = true;
        diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", shape->span, SPAN_NONE,
                           NULL, "a lamp has at most %d pixels, this grid has %.0f", LIMIT_PIXELS,
                           product);
        return;
    }
    lamp->pixels = lamp->across * lamp->up;
}

static void check_ball(LampCheck *check, const Node *shape) {
    LampInfo *lamp = check->lamp;
    lamp->shape = SHAPE_BALL;
    lamp->faces = shape->number == 1;
    if (!whole(check, shape->a, "the frequency of a ball", 1, 8, &lamp->frequency)) {
        check->wrong = true;
        return;
    }
    uint32_t square = lamp->frequency * lamp->frequency;
    lamp->pixels = lamp->faces ? 20 * square : 10 * square + 2;
}

static void check_points(LampCheck *check, const Node *shape) {
    LampInfo *lamp = check->lamp;
    lamp->shape = SHAPE_POINTS;
    check->wrong = true;
    if (!shape->c || !points_read(check->checks, shape->c, lamp) || lamp->point_count == 0)
        return;
    check->wrong = false;
    lamp->pixels = lamp->point_count;
}

static void check_shape(LampCheck *check) {
    const Node *shape = check->said[PROPERTY_SHAPE];
    const char *word = shape && shape->text ? shape->text : "strip";
    if (strcmp(word, "grid") == 0)
        check_grid(check, shape);
    else if (strcmp(word, "ball") == 0)
        check_ball(check, shape);
    else if (strcmp(word, "points") == 0)
        check_points(check, shape);
    else if (strcmp(word, "ring") == 0)
        check->lamp->shape = SHAPE_RING;
    else
        check->lamp->shape = SHAPE_STRIP;
}

static void check_pixels(LampCheck *check) {
    LampInfo *lamp = check->lamp;
    const Node *said = check->said[PROPERTY_PIXELS];
    const Node *shape = check->said[PROPERTY_SHAPE];
    if (said && !whole(check, said->a, "the number of pixels", 1, LIMIT_PIXELS, &check->pixels))
        check->wrong = true;
    check_shape(check);
    if (check->wrong)
        return;
    if (lamp->pixels == 0 && !said && !names_all_whole(check->checks->program->modules))
        return; /* it may stand in what was not understood */
    if (lamp->pixels == 0 && !said)
        diagnostics_report(check->sink, SEVERITY_ERROR, "no-pixels", check->node->a->span,
                           SPAN_NONE, "pixels 16", "lamp `%s` does not say how many pixels it has",
                           lamp->name);
    else if (lamp->pixels == 0)
        lamp->pixels = check->pixels;
    else if (said && check->pixels != lamp->pixels)
        diagnostics_report(check->sink, SEVERITY_ERROR, "pixels-and-shape", said->a->span,
                           shape->span, NULL, "the shape gives %u pixels, not %u",
                           (unsigned)lamp->pixels, (unsigned)check->pixels);
}

/* -------- chip and wire -------- */

static bool is_device(const char *port) {
    static const char head[] = "/dev/spidev";
    if (strncmp(port, head, sizeof head - 1) != 0)
        return false;
    const char *rest = port + sizeof head - 1;
    size_t bus = strspn(rest, "0123456789");
    size_t chip = rest[bus] == '.' ? strspn(rest + bus + 1, "0123456789") : 0;
    return bus > 0 && bus <= 5 && chip > 0 && chip <= 5 && rest[bus + 1 + chip] == 0;
}

/* An address or a name of a host; whether it answers is found out when the lamp runs. */
static bool is_network(const char *port) {
    if (strncmp(port, "e131:", 5) != 0)
        return false;
    size_t length =
        strspn(port + 5, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                         ".:-");
    return length > 0 && length <= 253 && port[5 + length] == 0;
}

static void check_port(LampCheck *check) {
    const Node *port = check->said[PROPERTY_PORT];
    const char *text = port && port->a ? port->a->text : NULL;
    bool network = false;
    if (text) {
        network = is_network(text);
        check->lamp->port = text;
        if (!network && !is_device(text))
            diagnostics_report(check->sink, SEVERITY_ERROR, "unknown-port", port->a->span,
                               SPAN_NONE, "port \"/dev/spidev0.0\"",
                               "no port `%s`: it is `/dev/spidev` and two numbers, or `e131:` and "
                               "an address, such as `e131:192.0.2.7`",
                               text);
    }
    for (int i = 0; i < 2; i++) {
        Property property = i ? PROPERTY_PRIORITY : PROPERTY_UNIVERSE;
        const Node *said = check->said[property];
        if (!said)
            continue;
        whole(check, said->a, i ? "the priority" : "the universe", i ? 0 : 1, i ? 200 : 63999,
              i ? &check->lamp->priority : &check->lamp->universe);
        if (!network)
            diagnostics_report(check->sink, SEVERITY_ERROR, "needs-network", said->span,
                               text ? port->span : SPAN_NONE, NULL,
                               "`%s` belongs to a port of the network: `port \"e131:192.0.2.7\"`",
                               i ? "priority" : "universe");
    }
}

static bool is_order(const char *text) {
    size_t length = strlen(text);
    if (length != 3 && length != 4)
        return false;
    bool four = length == 4;
    return strchr(text, 'r') && strchr(text, 'g') && strchr(text, 'b') &&
           (!four || strchr(text, 'w'));
}

static void check_chip(LampCheck *check) {
    const char *names[CHIP_COUNT];
    const Node *chip = check->said[PROPERTY_CHIP], *order = check->said[PROPERTY_ORDER];
    LampInfo *lamp = check->lamp;
    for (int i = 0; i < CHIP_COUNT; i++)
        names[i] = CHIPS[i].name;
    if (chip)
        lamp->chip = WORD_OF(check, chip->a, "chip", names);
    const char *text = order && order->a ? order->a->text : NULL;
    if (!text)
        return;
    if (!is_order(text)) {
        diagnostics_report(check->sink, SEVERITY_ERROR, "unknown-order", order->a->span, SPAN_NONE,
                           "order grb",
                           "`order` is each of the letters `r`, `g`, `b` once, and `w` for a white "
                           "part: `%s` is not",
                           text);
        return;
    }
    lamp->order = text;
    bool white = lamp->chip && chip_find(lamp->chip)->white;
    if (lamp->chip && white != (strlen(text) == 4))
        diagnostics_report(check->sink, SEVERITY_ERROR, "order-and-chip", order->a->span,
                           chip->a->span, white ? "order grbw" : "order grb",
                           "`%s` has %d parts a pixel, `%s` names %d", lamp->chip, white ? 4 : 3,
                           text, (int)strlen(text));
}

/* All chips that can be named live on 3.5 V to 5.5 V (data sheets of WS2812B and SK6812RGBW). */
static void check_volts(LampCheck *check, const Node *volts) {
    if (!volts || !check->lamp->chip || check->lamp->supply_volt <= 0 ||
        (check->lamp->supply_volt >= 3.5 && check->lamp->supply_volt <= 5.5))
        return;
    diagnostics_report(check->sink, SEVERITY_WARNING, "supply-volts", volts->span,
                       check->said[PROPERTY_CHIP]->a->span, "supply 5V 2A",
                       "`%s` lives on 3.5 V to 5.5 V; %g V would destroy it or not light it",
                       check->lamp->chip, check->lamp->supply_volt);
}

static void check_current(LampCheck *check) {
    LampInfo *lamp = check->lamp;
    const Node *supply = check->said[PROPERTY_SUPPLY], *draws = check->said[PROPERTY_DRAWS];
    if (supply) {
        above_zero(check, supply->a, "the voltage of the supply", &lamp->supply_volt);
        above_zero(check, supply->b, "the current of the supply", &lamp->supply_ampere);
        check_volts(check, supply->a);
    }
    if (!draws || !draws->a)
        return;
    double full = 0;
    above_zero(check, draws->a, "the current of a pixel", &full);
    if (full > 0)
        lamp->draws_ampere = full;
    if (draws->b)
        lamp->idle_ampere = draws->b->number;
    if (draws->b && full > 0 && draws->b->number > full)
        diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", draws->b->span,
                           draws->a->span, NULL, "a dark pixel cannot draw more than a bright one");
}

/* -------- light -------- */

static void check_gain(LampCheck *check, const Node *gain) {
    const Node *parts[] = {gain->a, gain->b, gain->c};
    for (int i = 0; i < 3; i++) {
        if (!parts[i])
            continue;
        if (parts[i]->number > 0 && parts[i]->number <= 1)
            check->lamp->gain[i] = parts[i]->number;
        else
            diagnostics_report(check->sink, SEVERITY_ERROR, "out-of-range", parts[i]->span,
                               SPAN_NONE, NULL, "a gain is above 0%% and at most 100%%");
    }
}

static void check_light(LampCheck *check) {
    static const char *const dithers[] = {"level", "time"};
    static const char *const ends[] = {"off", "last"};
    static const char promise[] = "I know that flashing can harm";
    LampInfo *lamp = check->lamp;
    const Node *const *said = check->said;
    ExpandProgram *program = check->checks->program;
    if (said[PROPERTY_TURNED] && said[PROPERTY_TURNED]->a)
        lamp->turned = said[PROPERTY_TURNED]->a->number;
    lamp->mirrored = said[PROPERTY_MIRRORED] != NULL;
    if (said[PROPERTY_LEVEL] && said[PROPERTY_LEVEL]->a)
        checks_share(program, program->modules->modules[0], said[PROPERTY_LEVEL]->a, "level",
                     &lamp->level);
    if (said[PROPERTY_WHITE])
        kelvin(check, said[PROPERTY_WHITE]->a, &lamp->white_kelvin);
    if (said[PROPERTY_DIE])
        kelvin(check, said[PROPERTY_DIE]->a, &lamp->die_kelvin);
    if (said[PROPERTY_GAIN])
        check_gain(check, said[PROPERTY_GAIN]);
    if (said[PROPERTY_DITHER])
        lamp->dither = WORD_OF(check, said[PROPERTY_DITHER]->a, "way to dither", dithers);
    if (said[PROPERTY_ENDS])
        lamp->ends = WORD_OF(check, said[PROPERTY_ENDS]->a, "end", ends);
    if (said[PROPERTY_REPAINT])
        above_zero(check, said[PROPERTY_REPAINT]->a, "the time between repaints", &lamp->repaint);
    if (said[PROPERTY_CLOCK])
        above_zero(check, said[PROPERTY_CLOCK]->a, "the clock of the wire", &lamp->clock_hertz);
    const Node *flashes = said[PROPERTY_FLASHES] ? said[PROPERTY_FLASHES]->a : NULL;
    if (!flashes || !flashes->text)
        return;
    lamp->flashes = flashes->text;
    if (strcmp(flashes->text, promise) != 0)
        diagnostics_report(check->sink, SEVERITY_ERROR, "flashes-promise", flashes->span, SPAN_NONE,
                           "flashes \"I know that flashing can harm\"",
                           "`flashes` takes off a guard and wants this very sentence");
}

/* -------- words that belong to some chips only -------- */

static void check_white_part(LampCheck *check) {
    const LampInfo *lamp = check->lamp;
    const Node *chip = check->said[PROPERTY_CHIP], *die = check->said[PROPERTY_DIE];
    if (!lamp->chip)
        return;
    bool white = chip_find(lamp->chip)->white;
    if (white && !die && names_all_whole(check->checks->program->modules))
        diagnostics_report(check->sink, SEVERITY_WARNING, "white-stays-dark", chip->a->span,
                           SPAN_NONE, "die 4000K, as the seller says of the strip",
                           "the white part of lamp `%s` stays dark: its colour is not said",
                           lamp->name);
    if (!white && die)
        diagnostics_report(check->sink, SEVERITY_WARNING, "no-white-part", die->span, chip->a->span,
                           NULL, "`%s` has no white part", lamp->chip);
}

static void check_dither(LampCheck *check) {
    const LampInfo *lamp = check->lamp;
    const Node *dither = check->said[PROPERTY_DITHER], *chip = check->said[PROPERTY_CHIP];
    if (!dither || !lamp->dither || !lamp->chip)
        return;
    ChipLevel level = chip_find(lamp->chip)->level;
    if (strcmp(lamp->dither, "level") == 0 && level == CHIP_LEVEL_NONE)
        diagnostics_report(check->sink, SEVERITY_ERROR, "dither-and-chip", dither->span,
                           chip->a->span,
                           "dither time, or nothing: steps are spread over the "
                           "pixels anyway",
                           "`%s` has no level of its own", lamp->chip);
    if (strcmp(lamp->dither, "time") == 0 && level != CHIP_LEVEL_NONE)
        diagnostics_report(check->sink, SEVERITY_WARNING, "dither-and-chip", dither->span,
                           chip->a->span, level == CHIP_LEVEL_SLOW ? "dither level" : NULL,
                           "`%s` sets finer steps by its level; dithering in time is not used",
                           lamp->chip);
}

/* A supply that cannot feed the dark lamp and one code of each channel would show nothing. */
static void check_supply(LampCheck *check) {
    const LampInfo *lamp = check->lamp;
    const Node *supply = check->said[PROPERTY_SUPPLY];
    const Chip *chip = chip_find(lamp->chip ? lamp->chip : "ws2812b");
    if (!supply || !supply->b || lamp->supply_ampere <= 0 || check->wrong)
        return;
    double channel = lamp->draws_ampere > 0 ? lamp->draws_ampere : chip->channel_ampere;
    double idle = lamp->idle_ampere >= 0 ? lamp->idle_ampere : chip->idle_ampere;
    double least = lamp->pixels * (idle + (chip->white ? 4 : 3) * channel / 255);
    if (lamp->supply_ampere > least)
        return;
    diagnostics_report(check->sink, SEVERITY_ERROR, "supply-too-small", supply->b->span, SPAN_NONE,
                       NULL,
                       "%u pixels draw about %.3g A at their faintest, and this supply gives %.3g "
                       "A: the lamp would stay dark",
                       (unsigned)lamp->pixels, least, lamp->supply_ampere);
}

/* -------- parts and groups -------- */

static int by_first(const void *a, const void *b) {
    const uint32_t *left = a, *right = b;
    return left[0] < right[0] ? -1 : left[0] > right[0];
}

/* Runs in the order of pixels, those that meet joined: so many that no pixel is told twice. */
static void join_runs(LampGroup *group) {
    qsort(group->runs, group->run_count, sizeof group->runs[0], by_first);
    uint32_t count = 0;
    for (uint32_t i = 0; i < group->run_count; i++) {
        if (count && group->runs[i][0] <= group->runs[count - 1][1] + 1) {
            if (group->runs[i][1] > group->runs[count - 1][1])
                group->runs[count - 1][1] = group->runs[i][1];
            continue;
        }
        group->runs[count][0] = group->runs[i][0];
        group->runs[count++][1] = group->runs[i][1];
    }
    group->run_count = count;
}

static void add_run(LampCheck *check, LampGroup *group, const Node *first, const Node *last) {
    uint32_t from, to;
    if (!first)
        return;
    if (!last)
        last = first;
    double most = check->lamp->pixels ? check->lamp->pixels - 1.0 : LIMIT_PIXELS - 1.0;
    if (!whole(check, first, "a pixel of this lamp", 0, most, &from) ||
        !whole(check, last, "a pixel of this lamp", 0, most, &to))
        return;
    if (from > to) {
        char hint[32];
        snprintf(hint, sizeof hint, "%u..%u", (unsigned)to, (unsigned)from);
        diagnostics_report(check->sink, SEVERITY_ERROR, "range-empty", last->span, first->span,
                           hint, "a run of pixels goes from the smaller to the larger number");
        return;
    }
    group->runs[group->run_count][0] = from;
    group->runs[group->run_count++][1] = to;
}

static bool add_group(LampCheck *check, const Node *property) {
    LampInfo *lamp = check->lamp;
    const char *name = property->a ? property->a->text : NULL;
    if (!name)
        return true;
    if (lamp->group_count == LIMIT_GROUPS) {
        diagnostics_report(check->sink, SEVERITY_ERROR, "too-many", property->span, SPAN_NONE, NULL,
                           "a lamp has at most %d parts and groups", LIMIT_GROUPS);
        return true;
    }
    for (uint32_t i = 0; i < lamp->group_count; i++)
        if (strcmp(lamp->groups[i].name, name) == 0)
            diagnostics_report(check->sink, SEVERITY_ERROR, "named-twice", property->a->span,
                               SPAN_NONE, NULL, "this lamp has a part or group `%s` already", name);
    LampGroup *group = &lamp->groups[lamp->group_count++];
    group->name = name;
    group->is_part = property->word == PROPERTY_PART;
    uint32_t count = 1;
    for (const Node *run = group->is_part ? NULL : property->b; run; run = run->next)
        count++;
    Arena *arena = check->checks->program->modules->arena;
    group->runs = arena_allocate(arena, count * sizeof group->runs[0]);
    if (arena_failed(arena))
        return false;
    if (group->is_part)
        add_run(check, group, property->b, property->c);
    for (const Node *run = group->is_part ? NULL : property->b; run; run = run->next)
        add_run(check, group, run->a, run->b);
    join_runs(group);
    return true;
}

static bool check_groups(LampCheck *check) {
    Arena *arena = check->checks->program->modules->arena;
    uint32_t count = 0;
    for (const Node *property = check->node->b; property; property = property->next)
        count += property->word == PROPERTY_PART || property->word == PROPERTY_GROUP;
    if (count > LIMIT_GROUPS)
        count = LIMIT_GROUPS;
    check->lamp->groups = arena_allocate(arena, count * sizeof(LampGroup));
    if (arena_failed(arena))
        return false;
    for (const Node *property = check->node->b; property; property = property->next)
        if (property->word == PROPERTY_PART || property->word == PROPERTY_GROUP)
            if (!add_group(check, property))
                return false;
    return true;
}

/* -------- all -------- */

static void collect(LampCheck *check) {
    for (const Node *property = check->node->b; property; property = property->next) {
        if (property->kind != NODE_PROPERTY || property->word >= PROPERTY_COUNT)
            continue;
        const Node **said = &check->said[property->word];
        if (property->word == PROPERTY_PART || property->word == PROPERTY_GROUP)
            continue;
        if (!*said) /* the parser tells of a second one */
            *said = property;
    }
}

static bool check_lamp(Checks *checks, const Node *node, LampInfo *lamp) {
    LampCheck check = {
        .checks = checks, .sink = checks->program->modules->sink, .node = node, .lamp = lamp};
    *lamp = (LampInfo){.name = node->a->text,
                       .span = node->span,
                       .level = 1,
                       .draws_ampere = -1,
                       .idle_ampere = -1,
                       .gain = {1, 1, 1},
                       .universe = 1,
                       .priority = 100};
    collect(&check);
    check_pixels(&check);
    check_port(&check);
    check_chip(&check);
    check_current(&check);
    check_light(&check);
    check_white_part(&check);
    check_dither(&check);
    check_supply(&check);
    return check_groups(&check);
}

bool lamps_check(Checks *checks) {
    Modules *modules = checks->program->modules;
    const Module *module = modules->modules[0];
    uint32_t count = 0;
    for (uint32_t i = 0; i < module->symbol_count; i++)
        count += module->symbols[i].kind == SYMBOL_LAMP;
    checks->lamps = arena_allocate(modules->arena, count * sizeof(LampInfo));
    if (arena_failed(modules->arena))
        return false;
    for (uint32_t i = 0; i < module->symbol_count; i++) {
        const Symbol *symbol = &module->symbols[i];
        if (symbol->kind != SYMBOL_LAMP)
            continue;
        if (checks->lamp_count == LIMIT_LAMPS) {
            diagnostics_report(modules->sink, SEVERITY_ERROR, "too-many", symbol->node->a->span,
                               SPAN_NONE, NULL, "a file has at most %d lamps", LIMIT_LAMPS);
            break;
        }
        if (!check_lamp(checks, symbol->node, &checks->lamps[checks->lamp_count++]))
            return false;
    }
    return !arena_failed(modules->arena) && !checks->no_memory;
}
