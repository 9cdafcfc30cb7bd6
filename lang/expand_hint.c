/* What is legal, but hardly what was meant: silence would be worse than a warning. */
#include "lang/expand_private.h"
#include "lang/syntax.h"

#include <math.h>
#include <string.h>

/* -------- ramps -------- */

static bool is_fract(const Context *in, const Node *node) {
    node = expand_bare(node);
    if (node->kind != NODE_CALL || node->a->kind != NODE_NAME)
        return false;
    Meaning meaning = expand_meaning(in, node->a, true);
    return meaning.kind == MEANING_FUNCTION && meaning.function == FUNCTION_FRACT;
}

static bool is_repeated(const Context *in, const Node *driver) {
    return driver->word == DRIVER_EVERY || driver->word == DRIVER_FOR_EACH ||
           (driver->word == DRIVER_ALONG && is_fract(in, driver->a));
}

static bool same_direction(const Context *in, Typed a, Typed b) {
    double from, to;
    return a.type == TYPE_ANGLE && graph_constant_number(in->expander->graph, a.value, &from) &&
           graph_constant_number(in->expander->graph, b.value, &to) &&
           to - from == floor(to - from);
}

static const Node *last_stop(const Node *ramp) {
    const Node *last = ramp->a;
    while (last->next)
        last = last->next;
    return last;
}

static bool is_stepped(const Node *ramp) {
    const Node *last = last_stop(ramp), *easing = last->c ? last->c : ramp->c;
    return easing && easing->text && strncmp(easing->text, "step", 4) == 0;
}

static void hint_jump(const Context *in, const Node *ramp, const Typed *stops, uint32_t count) {
    const Node *last = last_stop(ramp);
    Typed first = stops[0], end = stops[count - 1];
    if (ramp->word & (RAMP_BARS | RAMP_BACK | RAMP_ROUND) || !is_repeated(in, ramp->b) ||
        first.value == end.value || stops[count - 2].value == end.value ||
        same_direction(in, first, end) || is_stepped(ramp))
        return;
    expand_warn(in, SEVERITY_WARNING, "ramp-jumps", ramp,
                "`and back` for there and back, `and round` for a last fade to the first value",
                "at the end of each round this jumps from `%s` to `%s`", expand_source(in, last->a),
                expand_source(in, ramp->a->a));
}

static void hint_along_progress(const Context *in, const Node *ramp, uint32_t count) {
    if (count != 2 || ramp->b->word != DRIVER_ALONG || ramp->a->b || ramp->a->next->b ||
        !expand_is_moment(in, ramp->b->a, "progress"))
        return;
    expand_warn(in, SEVERITY_WARNING, "along-progress", ramp,
                "for a bar that grows: `where pos < progress`; for this fade: `throughout`",
                "the whole lamp changes together here");
}

static bool jumps_at_end(const Node *easing) {
    if (!easing || easing->kind != NODE_EASING || !easing->text)
        return false;
    if (strcmp(easing->text, "step-end") == 0)
        return true;
    if (strcmp(easing->text, "steps") != 0)
        return false;
    const Node *jump = easing->a ? easing->a->next : NULL;
    const char *word = jump ? jump->text : "end";
    if (jump && !word && jump->a) /* `end`, without a hyphen, is a name */
        word = jump->a->text;
    return word && (strcmp(word, "end") == 0 || strcmp(word, "jump-end") == 0);
}

static void hint_steps(const Context *in, const Node *ramp, const Typed *stops, uint32_t count) {
    const Node *last = last_stop(ramp);
    const Node *easing = last->c ? last->c : ramp->c;
    bool once = ramp->b->word == DRIVER_OVER || ramp->b->word == DRIVER_THROUGHOUT;
    if (ramp->word & (RAMP_BARS | RAMP_ROUND) || once || !jumps_at_end(easing) ||
        stops[count - 1].value == stops[count - 2].value)
        return;
    const char *steps =
        strcmp(easing->text, "steps") == 0 && easing->a ? expand_source(in, easing->a) : "2";
    expand_warn(in, SEVERITY_WARNING, "steps-never-last", easing,
                expand_print(in, "`steps(%s, jump-none)` shows both ends", steps),
                "these steps never show `%s`", expand_source(in, last->a));
}

/* lasts 30min, over 40min */
void hint_outlasts(const Context *in, const Node *driver, Value length) {
    double takes, lasts;
    char spelt[2][64];
    if (driver->word != DRIVER_OVER || !in->lasts ||
        !graph_constant_number(in->expander->graph, length, &takes) ||
        !graph_constant_number(in->expander->graph, in->lasts, &lasts) || takes <= lasts)
        return;
    literal_spell_duration(takes, spelt[0], sizeof spelt[0]);
    literal_spell_duration(lasts, spelt[1], sizeof spelt[1]);
    expand_warn(in, SEVERITY_WARNING, "ramp-outlasts", driver, "`throughout`, or a longer `lasts`",
                "this takes %s and the routine lasts %s: its end is never seen", spelt[0],
                spelt[1]);
}

void hint_ramp(const Context *in, const Node *ramp, const Typed *stops, uint32_t count) {
    hint_jump(in, ramp, stops, count);
    hint_along_progress(in, ramp, count);
    hint_steps(in, ramp, stops, count);
}

/* -------- comparisons -------- */

static bool is_known_whole(const Context *in, Typed typed) {
    double number;
    if (typed.type == TYPE_NUMBER)
        return graph_is_whole(in->expander->graph, typed.value);
    return graph_constant_number(in->expander->graph, typed.value, &number);
}

static void hint_pixel(const Context *in, const Node *node) {
    bool left = expand_is_moment(in, node->a, "pixel");
    const Node *number = expand_bare(left ? node->b : node->a);
    if ((!left && !expand_is_moment(in, node->b, "pixel")) || number->kind != NODE_NUMBER ||
        expand_said(in->expander->sink, "pixel-from-zero"))
        return;
    expand_warn(in, SEVERITY_NOTE, "pixel-from-zero", node, NULL,
                "`pixel` counts from 0: the first pixel is 0, the last `pixels - 1`");
}

/* pos > 50, pixel == -1: a name of the moment against a number that it never reaches. */
static bool beyond_reach(const Context *in, const Node *name, Typed typed, const Node *other,
                         Typed limit) {
    double from, to, number;
    name = expand_bare(name);
    if (name->kind != NODE_NAME || expand_meaning(in, name, false).kind != MEANING_MOMENT ||
        !graph_constant_number(in->expander->graph, limit.value, &number))
        return false;
    graph_range(in->expander->graph, typed.value, &from, &to);
    if (number >= from && number <= to)
        return false;
    const char *text = expand_source(in, other);
    if (expand_is_moment(in, name, "pixel"))
        expand_warn(in, SEVERITY_WARNING, "beyond-reach", other, "the last one is `pixels - 1`",
                    "`pixel` counts from 0 and is never `%s`", text);
    else
        expand_warn(in, SEVERITY_WARNING, "beyond-reach", other,
                    to == 1.0 && number > 1.0 && number <= 100.0
                        ? expand_print(in, "`%.15g%%`?", number)
                        : NULL,
                    "`%s` goes from %.15g to %.15g and is never `%s`", name->text, from, to, text);
    return true;
}

void hint_reach(const Context *in, const Node *node, Typed a, Typed b) {
    if (a.type == TYPE_NUMBER && b.type == TYPE_NUMBER && !beyond_reach(in, node->a, a, node->b, b))
        beyond_reach(in, node->b, b, node->a, a);
}

void hint_equal(const Context *in, const Node *node, Typed a, Typed b) {
    if (a.type == TYPE_TRUTH)
        return;
    hint_pixel(in, node);
    if (is_known_whole(in, a) && is_known_whole(in, b))
        return;
    const char *far = a.type == TYPE_NUMBER ? "0.05" : a.type == TYPE_DURATION ? "100ms" : "5deg";
    bool equal = node->word == BINARY_EQUAL;
    expand_warn(in, SEVERITY_WARNING, "equal-not-whole", node,
                expand_print(in, "`abs(%s - %s) %s %s`", expand_operand(in, node->a),
                             expand_operand(in, node->b), equal ? "<" : ">=", far),
                "`%s` compares exactly, and values that are not whole are hardly ever equal",
                equal ? "==" : "!=");
}

/* -------- time and chance -------- */

static bool counts_pixels(const Context *in, const Node *node) {
    node = expand_bare(node);
    if (node->kind != NODE_BINARY)
        return false;
    if (node->word == BINARY_MULTIPLY)
        return expand_is_moment(in, node->a, "pixel") || expand_is_moment(in, node->b, "pixel");
    if (node->word == BINARY_ADD || node->word == BINARY_SUBTRACT)
        return counts_pixels(in, node->a) || counts_pixels(in, node->b);
    return false;
}

void hint_delay(const Context *in, const Node *delay) {
    if (counts_pixels(in, delay))
        expand_warn(in, SEVERITY_WARNING, "delay-by-pixel", delay,
                    "`pos * 4s`: 4 s from one end of any lamp to the other",
                    "how this looks depends on the number of pixels of the lamp");
}

void hint_phase(const Context *in, const Node *node, Typed other) {
    if (!graph_reads_dial(in->expander->graph, other.value))
        return;
    expand_warn(in, SEVERITY_WARNING, "phase-by-dial", node,
                "the dial as the length of a driver or of `tick`: `every pace`",
                "when the dial is turned, the phase jumps, the more the longer `t` is");
}

void hint_chance(const Context *in, const Node *call, const char *name, const Typed *arguments,
                 uint32_t count) {
    const Graph *graph = in->expander->graph;
    bool fixed = true, smooth = false;
    for (uint32_t i = 0; i < count; i++) {
        double number;
        fixed = fixed && graph_constant_number(graph, arguments[i].value, &number);
        smooth = smooth || (arguments[i].smooth && arguments[i].type != TYPE_TRUTH);
    }
    bool noise = strcmp(name, "noise") == 0, draw = strcmp(name, "draw") == 0;
    if (fixed)
        expand_warn(in, SEVERITY_WARNING, "chance-of-constants", call,
                    noise  ? "`noise(t / 2s)`"
                    : draw ? "`draw(tick(2s), ...)`"
                           : "`random(tick(2s))` or `random(pixel)`",
                    "`%s` of what never changes is always the same", name);
    else if (smooth && !noise)
        expand_warn(in, SEVERITY_WARNING, "chance-every-frame", call,
                    draw ? "`draw(tick(2s), ...)`?" : "`random(tick(2s))`?",
                    "a new number every frame: its look depends on the frame rate");
}

/* -------- light -------- */

void hint_green(const Context *in, const Node *node) {
    if (!expand_said(in->expander->sink, "green-is-half"))
        expand_warn(in, SEVERITY_WARNING, "green-is-half", node, "`lime` for full green",
                    "`green` is the half-bright green of CSS: 22 %% of the light");
}

/* gold * (0 -> 1 over 30min): even in physical light, which looks fast at the dark end. */
void hint_level(const Context *in, const Node *node, Value light) {
    const Node *left = expand_bare(node->a), *right = expand_bare(node->b);
    const Node *ramp = right->kind == NODE_RAMP ? right : left;
    const Node *colour = ramp == right ? node->a : node->b;
    Colour fixed;
    if (!graph_constant_colour(in->expander->graph, light, &fixed) || ramp->kind != NODE_RAMP ||
        ramp->word & RAMP_BARS || !ramp->a || !ramp->a->next)
        return;
    const Node *first = expand_bare(ramp->a->a), *second = expand_bare(ramp->a->next->a);
    bool from = (first->kind == NODE_NUMBER || first->kind == NODE_PERCENT) && first->number == 0;
    bool to = (second->kind == NODE_NUMBER || second->kind == NODE_PERCENT) && second->number == 0;
    if (ramp->a->next->next || from == to || expand_said(in->expander->sink, "level-ramp"))
        return;
    const char *text = expand_operand(in, colour);
    expand_warn(in, SEVERITY_NOTE, "level-ramp", node,
                from ? expand_print(in, "`black -> %s` for one that is even to the eye", text)
                     : expand_print(in, "`%s -> black` for one that is even to the eye", text),
                "this ramp is even in physical light, and looks fast at its dark end (the guide "
                "shows both)");
}
