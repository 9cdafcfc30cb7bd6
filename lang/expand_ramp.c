/* Ramps: stops, driver, easing, blend space (rules R1 to R10; spec/meaning.md sections 3 to 5). */
#include "lang/expand_private.h"

#include <string.h>

/* -------- drivers -------- */

static const char *driver_word(Driver driver) {
    static const char *const words[] = {[DRIVER_OVER] = "over",
                                        [DRIVER_EVERY] = "every",
                                        [DRIVER_FOR_EACH] = "for",
                                        [DRIVER_THROUGHOUT] = "throughout",
                                        [DRIVER_ALONG] = "along"};
    return words[driver];
}

static bool moves_by_dial_only(const Context *in, Value value) {
    for (int input = 0; input < INPUT_COUNT; input++)
        if (input != INPUT_PIXELS && graph_reads_input(in->expander->graph, value, (Input)input))
            return false;
    return graph_reads_dial(in->expander->graph, value);
}

Value expand_length(const Context *in, const Node *node, const char *word) {
    Typed typed = expand_wanted(in, node, TYPE_DURATION, expand_print(in, "`%s`", word));
    if (typed.type == TYPE_NONE)
        return 0;
    double number;
    if (graph_constant_number(in->expander->graph, typed.value, &number) && number <= 0.0) {
        expand_error(in, "length-not-positive", node, NULL, NULL, "`%s` needs a length above 0s",
                     word);
        return 0;
    }
    if (graph_rate(in->expander->graph, typed.value).when != WHEN_MOVING)
        return typed.value;
    expand_error(in, "length-moves", node, NULL,
                 moves_by_dial_only(in, typed.value)
                     ? "drop `eased`, or use two routines"
                     : "a length that stays as it is: fixed, by a plain dial, or by the pixel",
                 "the length of a round may not move: phases would race");
    return 0;
}

static uint32_t count_stops(const Node *ramp) {
    uint32_t count = 0;
    for (const Node *stop = ramp->a; stop; stop = stop->next)
        count++;
    return count;
}

/* `for D each`: how many D the way takes. */
static double parts_of(const Node *ramp) {
    double count = count_stops(ramp);
    if (!(ramp->word & RAMP_BARS) && !(ramp->word & RAMP_ROUND))
        count -= 1.0;
    return ramp->word & RAMP_BACK ? count * 2.0 : count;
}

static bool fixed_refuses(const Context *in, const Node *driver) {
    if (in->expander->mode != MODE_FIXED)
        return false;
    expand_error(in, "not-fixed", driver, NULL, NULL,
                 "this must be fixed, but `%s` changes with time",
                 driver_word((Driver)driver->word));
    return true;
}

static bool take_along(const Context *in, const Node *driver, Way *way) {
    Typed typed = expand(in, driver->a);
    if (typed.type == TYPE_NUMBER) {
        way->place = expand_operation(in, OP_UNIT, typed.value, 0, 0);
        way->smooth = typed.smooth;
        return true;
    }
    if (typed.type == TYPE_NONE)
        return false;
    const char *text = expand_operand(in, driver->a);
    const char *hint = NULL;
    if (typed.type == TYPE_DURATION)
        hint = expand_print(in, "`along fract(%s / 10s)`", text);
    else if (typed.type == TYPE_ANGLE)
        hint = expand_print(in, "`along %s / 1turn`", text);
    else if (typed.type == TYPE_TRUTH)
        hint = "`if ... then ... else ...`";
    expand_error(in, "needs-number", driver->a, NULL, hint,
                 "`along` needs a number from 0 to 1, this is %s", type_name(typed.type));
    return false;
}

static Value half(const Context *in, const Node *ramp, Value length) {
    if (!(ramp->word & RAMP_BACK))
        return length;
    return expand_operation(in, OP_MULTIPLY, length, expand_number(in, 0.5), 0);
}

static bool take_driver(const Context *in, const Node *ramp, Way *way) {
    const Node *driver = ramp->b;
    Value length = 0;
    *way = (Way){.smooth = true};
    if (!driver || driver->kind != NODE_DRIVER) {
        in->expander->failed = true;
        return false;
    }
    if (driver->word == DRIVER_ALONG) {
        if (!take_along(in, driver, way))
            return false;
    } else if (fixed_refuses(in, driver))
        return false;
    else if (driver->word == DRIVER_THROUGHOUT) {
        length = in->lasts;
        if (!length) {
            expand_no_length(in, driver);
            return false;
        }
    } else if (!(length = expand_length(in, driver->a, driver_word((Driver)driver->word))))
        return false;
    if (driver->word == DRIVER_FOR_EACH) {
        length = expand_operation(in, OP_MULTIPLY, length, expand_number(in, parts_of(ramp)), 0);
        length = expand_operation(in, OP_MICROSECONDS, length, 0, 0);
    }
    if (length) {
        hint_outlasts(in, driver, length);
        bool once = driver->word == DRIVER_OVER || driver->word == DRIVER_THROUGHOUT;
        way->place = expand_operation(in, once ? OP_OVER : OP_PHASE, in->clock, length, 0);
        way->length = half(in, ramp, length);
    }
    if (ramp->word & RAMP_BACK)
        way->place = expand_operation(in, OP_THERE_AND_BACK, way->place, 0, 0);
    return true;
}

/* -------- stops -------- */

/* 2700K * 0 -> 1 over 30min: `*` binds first. */
static const char *product_hint(const Context *in, const Node *ramp) {
    const Node *first = ramp->a->a, *last = ramp->a;
    if (first->kind != NODE_BINARY || first->word != BINARY_MULTIPLY)
        return NULL;
    while (last->next)
        last = last->next;
    Node rest = *ramp, driver = *ramp;
    rest.span.begin = first->b->span.begin;
    driver.span.begin = last->span.end;
    return expand_print(in, "`%s * (%s)`, or `black -> %s %s`", expand_source(in, first->a),
                        expand_source(in, &rest), expand_source(in, first->a),
                        expand_source(in, &driver));
}

static void wrong_stop(const Context *in, const Node *ramp, const Node *stop, Type first,
                       Type type) {
    const char *hint = NULL;
    if (first == TYPE_COLOUR && type == TYPE_NUMBER)
        hint = product_hint(in, ramp);
    expand_error(in, "ramp-of-two-types", ramp->a->a, stop->a, hint,
                 "this ramp goes from %s to %s%s", type_name(first), type_name(type),
                 hint ? "; `*` binds first" : "");
}

static bool take_stops(const Context *in, const Node *ramp, Typed *stops) {
    bool fine = true;
    uint32_t i = 0;
    for (const Node *stop = ramp->a; stop; stop = stop->next, i++) {
        stops[i] = expand(in, stop->a);
        fine = fine && stops[i].type != TYPE_NONE;
    }
    if (!fine)
        return false;
    if (stops[0].type == TYPE_TRUTH) {
        expand_error(in, "ramp-of-truths", ramp->a->a, NULL, "`t < 5s`, or a ramp of `0 | 1`",
                     "truths have no ramp");
        return false;
    }
    i = 0;
    for (const Node *stop = ramp->a; stop; stop = stop->next, i++)
        if (stops[i].type != stops[0].type) {
            wrong_stop(in, ramp, stop, stops[0].type, stops[i].type);
            return false;
        }
    return true;
}

/* -------- easings -------- */

/* easings[k] shapes the stretch from stop k to the next; the last is the closing one. */
static bool take_easings(const Context *in, const Node *ramp, uint32_t count, uint16_t *easings) {
    bool bars = ramp->word & RAMP_BARS, round = ramp->word & RAMP_ROUND;
    uint16_t all = EASING_NONE;
    bool fine = true;
    if (ramp->c) {
        fine = expand_easing(in, ramp->c, &all);
        if (bars)
            expand_error(in, "easing-of-bars", ramp->c, NULL, "`->` between the values",
                         "`|` changes at once: there is nothing to ease");
    }
    uint32_t i = 0;
    for (const Node *stop = ramp->a; stop; stop = stop->next, i++) {
        uint16_t *easing = &easings[i == 0 ? count - 1 : i - 1];
        *easing = all;
        if (!stop->c)
            continue;
        fine = expand_easing(in, stop->c, easing) && fine;
        if (bars)
            expand_error(in, "easing-of-bars", stop->c, NULL, "`->` between the values",
                         "`|` changes at once: there is nothing to ease");
        else if (i == 0 && !round)
            expand_error(in, "easing-of-first", stop->c, NULL,
                         "the easing at the stop that the fade leads to",
                         "no fade leads to the first value");
        else
            continue;
        fine = false;
    }
    return fine && !(bars && ramp->c);
}

/* -------- blend space -------- */

static bool find_word(const char *word, const char *const *words, uint16_t count, uint16_t *index) {
    for (uint16_t i = 0; i < count; i++)
        if (word && strcmp(words[i], word) == 0) {
            *index = i;
            return true;
        }
    return false;
}

static bool take_space(const Context *in, const Node *ramp, Type type, uint16_t *blend) {
    static const char *const spaces[] = {[SPACE_OKLAB] = "oklab",
                                         [SPACE_SRGB_LINEAR] = "srgb-linear",
                                         [SPACE_SRGB] = "srgb",
                                         [SPACE_OKLCH] = "oklch"};
    static const char *const paths[] = {[HUE_SHORTER] = "shorter",
                                        [HUE_LONGER] = "longer",
                                        [HUE_INCREASING] = "increasing",
                                        [HUE_DECREASING] = "decreasing"};
    const Node *space = ramp->d;
    uint16_t code = SPACE_OKLAB, path = HUE_SHORTER;
    *blend = type == TYPE_COLOUR ? BLEND_CODE(SPACE_OKLAB, HUE_SHORTER) : 0;
    if (!space || space->kind != NODE_SPACE)
        return true;
    if (type != TYPE_COLOUR) {
        expand_error(in, "space-of-numbers", space, NULL, NULL,
                     "`in` tells how colours blend, and this ramp is one of %s",
                     type == TYPE_NUMBER     ? "numbers"
                     : type == TYPE_DURATION ? "durations"
                                             : "angles");
        return false;
    }
    const char *name = space->a ? space->a->text : NULL;
    if (!find_word(name, spaces, 4, &code)) {
        const char *nearest = name ? diagnostics_nearest(name, spaces, 4) : NULL;
        expand_error(in, "unknown-space", space->a ? space->a : space, NULL,
                     nearest ? expand_print(in, "`%s`?", nearest)
                             : "`oklab`, `oklch`, `srgb` or `srgb-linear`",
                     "no colour space named `%s`", name ? name : "");
        return false;
    }
    if (space->b && !find_word(space->b->text, paths, 4, &path)) {
        expand_error(in, "unknown-hue-path", space->b, NULL,
                     "`shorter`, `longer`, `increasing` or `decreasing`",
                     "no way round the hues named `%s`", space->b->text);
        return false;
    }
    if (space->b && code != SPACE_OKLCH) {
        expand_error(in, "hue-without-oklch", space->b, NULL,
                     expand_print(in, "`in oklch %s hue`", paths[path]), "`%s` has no hue", name);
        return false;
    }
    *blend = BLEND_CODE(code, path);
    return true;
}

/* -------- the whole -------- */

/* The stops as the graph wants them, closed where `and round` says so. */
static uint32_t build_stops(const Node *ramp, const Typed *stops, const Value *places,
                            const uint16_t *easings, uint32_t count, GraphStop *built) {
    for (uint32_t i = 0; i < count; i++)
        built[i] = (GraphStop){places[i], stops[i].value, easings[i]};
    if (!(ramp->word & RAMP_ROUND))
        return count;
    built[count] = (GraphStop){places[count], stops[0].value, EASING_NONE};
    return count + 1;
}

static Typed ramp_of(const Context *in, const Node *ramp, uint32_t count, Typed *stops,
                     Value *places, uint16_t *easings) {
    Way way;
    uint16_t blend;
    bool bars = ramp->word & RAMP_BARS;
    bool fine = take_stops(in, ramp, stops);
    fine = take_driver(in, ramp, &way) && fine;
    if (bars && ramp->word & RAMP_ROUND) {
        expand_error(in, "round-of-bars", ramp, NULL, NULL,
                     "`|` goes round by itself: without `and round`");
        fine = false;
    }
    fine = take_easings(in, ramp, count, easings) && fine;
    if (!fine || !take_space(in, ramp, stops[0].type, &blend) ||
        !expand_places(in, ramp, &way, count, places))
        return NOTHING;
    hint_ramp(in, ramp, stops, count);
    GraphStop *built = expand_allocate(in, (count + 1) * sizeof *built);
    if (!built)
        return NOTHING;
    uint32_t all = build_stops(ramp, stops, places, easings, count, built);
    Type type = stops[0].type;
    Value value =
        graph_ramp(in->expander->graph, type == TYPE_COLOUR, bars, blend, built, all, way.place);
    if (value && type == TYPE_DURATION)
        value = expand_operation(in, OP_MICROSECONDS, value, 0, 0);
    Typed like = {.smooth = way.smooth && !bars};
    for (uint32_t i = 0; i < count; i++)
        like.smooth = like.smooth || stops[i].smooth;
    return expand_typed(in, type, value, like);
}

Typed expand_ramp(const Context *in, const Node *ramp) {
    uint32_t count = count_stops(ramp);
    if (count < 2) {
        in->expander->failed = true;
        return NOTHING;
    }
    Typed *stops = expand_allocate(in, count * sizeof *stops);
    Value *places = expand_allocate(in, (count + 1) * sizeof *places);
    uint16_t *easings = expand_allocate(in, count * sizeof *easings);
    if (!stops || !places || !easings)
        return NOTHING;
    return ramp_of(in, ramp, count, stops, places, easings);
}
