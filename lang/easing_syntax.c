/* Easings as they are written (CSS Easing Functions Level 2), for ramps and `ease(E, easing)`. */
#include "lang/expand_private.h"

#include <math.h>
#include <string.h>

static bool bad_easing(const Context *in, const Node *node, const char *hint, const char *what) {
    expand_error(in, "wrong-easing", node, NULL, hint, "%s", what);
    return false;
}

static uint32_t count_arguments(const Node *node) {
    uint32_t count = 0;
    for (const Node *argument = node->a; argument; argument = argument->next)
        count++;
    return count;
}

/* The fixed number of one argument. */
static bool take_number(const Context *in, const Node *argument, const char *name, double *number) {
    if (!argument->a || argument->kind != NODE_EASING_ARGUMENT)
        return bad_easing(in, argument, NULL, "an easing has numbers here");
    Typed typed = expand_wanted(in, argument->a, TYPE_NUMBER, expand_print(in, "`%s`", name));
    if (typed.type == TYPE_NONE)
        return false;
    if (graph_constant_number(in->expander->graph, typed.value, number))
        return true;
    return bad_easing(in, argument->a, NULL, "the numbers of an easing are fixed");
}

static bool take_bezier(const Context *in, const Node *node, Easing *easing) {
    static const char *const hint = "`cubic-bezier(0.4, 0, 0.2, 1)`";
    if (count_arguments(node) != 4)
        return bad_easing(in, node, hint, "`cubic-bezier` takes 4 numbers");
    easing->kind = EASING_BEZIER;
    uint32_t i = 0;
    for (const Node *argument = node->a; argument; argument = argument->next, i++) {
        if (argument->b)
            return bad_easing(in, argument->b, hint, "`cubic-bezier` takes 4 numbers");
        if (!take_number(in, argument, "cubic-bezier", &easing->bezier[i]))
            return false;
        if (i % 2 == 0 && (easing->bezier[i] < 0.0 || easing->bezier[i] > 1.0))
            return bad_easing(in, argument, NULL,
                              "the first and third number of `cubic-bezier` lie in 0..1");
    }
    return true;
}

static bool take_jump(const Context *in, const Node *argument, Easing *easing) {
    static const struct {
        const char *word;
        Jump jump;
    } words[] = {{"jump-start", JUMP_START}, {"jump-end", JUMP_END}, {"jump-none", JUMP_NONE},
                 {"jump-both", JUMP_BOTH},   {"start", JUMP_START},  {"end", JUMP_END}};
    const char *text = argument->text;
    if (!text && argument->a && argument->a->kind == NODE_NAME)
        text = argument->a->text;
    for (size_t i = 0; text && i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i].word, text) == 0) {
            easing->jump = words[i].jump;
            return true;
        }
    return bad_easing(in, argument, "`jump-start`, `jump-end`, `jump-none` or `jump-both`",
                      "the second part of `steps` says where it jumps");
}

static bool take_steps(const Context *in, const Node *node, Easing *easing) {
    static const char *const hint = "`steps(4, jump-end)`";
    uint32_t count = count_arguments(node);
    double number;
    if (count < 1 || count > 2)
        return bad_easing(in, node, hint, "`steps` takes a number and where it jumps");
    if (!take_number(in, node->a, "steps", &number))
        return false;
    easing->kind = EASING_STEPS;
    easing->jump = JUMP_END;
    if (count == 2 && !take_jump(in, node->a->next, easing))
        return false;
    if (number != floor(number) || number < 1.0 || number > LIMIT_EASING_STEPS) {
        expand_error(in, "wrong-easing", node->a, NULL, hint,
                     "`steps` takes a whole number from 1 to %d", (int)LIMIT_EASING_STEPS);
        return false;
    }
    if (easing->jump == JUMP_NONE && number < 2.0)
        return bad_easing(in, node->a, "`steps(2, jump-none)`",
                          "`jump-none` needs at least 2 steps");
    easing->count = (uint32_t)number;
    return true;
}

/* -------- linear(...) -------- */

typedef struct Points {
    double *numbers; /* input and output of each; a missing input is NaN */
    uint32_t count;
    double largest;
} Points;

static bool add_point(const Context *in, const Node *argument, Points *points, const Node *input,
                      double output) {
    if (points->count >= LIMIT_EASING_POINTS) {
        expand_error(in, "wrong-easing", argument, NULL, NULL, "`linear` takes at most %d points",
                     (int)LIMIT_EASING_POINTS);
        return false;
    }
    double *point = &points->numbers[2 * points->count++];
    point[0] = NAN;
    point[1] = output;
    if (input) {
        point[0] = input->number > points->largest ? input->number : points->largest;
        points->largest = point[0];
    }
    return true;
}

/* Points without an input lie evenly between their neighbours. */
static void fill_inputs(Points *points) {
    uint32_t last = 0;
    for (uint32_t i = 1; i < points->count; i++) {
        if (isnan(points->numbers[2 * i]))
            continue;
        double from = points->numbers[2 * last], to = points->numbers[2 * i];
        for (uint32_t k = last + 1; k < i; k++)
            points->numbers[2 * k] = from + (to - from) * (k - last) / (i - last);
        last = i;
    }
}

static bool take_points(const Context *in, const Node *node, Points *points) {
    for (const Node *argument = node->a; argument; argument = argument->next) {
        double output;
        if (!take_number(in, argument, "linear", &output) ||
            !add_point(in, argument, points, argument->b, output))
            return false;
        double *point = &points->numbers[2 * (points->count - 1)];
        if (!argument->b && argument == node->a)
            point[0] = points->largest = 0.0;
        else if (!argument->b && !argument->next)
            point[0] = points->largest = points->largest > 1.0 ? points->largest : 1.0;
        if (argument->c && !add_point(in, argument, points, argument->c, output))
            return false;
    }
    return true;
}

static bool take_linear(const Context *in, const Node *node, Easing *easing) {
    Points points = {.largest = -INFINITY};
    points.numbers = expand_allocate(in, (LIMIT_EASING_POINTS + 1) * 2 * sizeof(double));
    if (!points.numbers || !take_points(in, node, &points))
        return false;
    if (points.count == 1) { /* one output everywhere */
        points.numbers[2] = points.numbers[0] + 1.0;
        points.numbers[3] = points.numbers[1];
        points.count = 2;
    }
    fill_inputs(&points);
    easing->kind = EASING_LINEAR;
    easing->count = points.count;
    easing->points = points.numbers;
    return true;
}

/* -------- all -------- */

static bool take_word(const char *word, Easing *easing) {
    static const struct {
        const char *word;
        double bezier[4];
    } curves[] = {{"ease", {0.25, 0.1, 0.25, 1.0}},
                  {"ease-in", {0.42, 0.0, 1.0, 1.0}},
                  {"ease-out", {0.0, 0.0, 0.58, 1.0}},
                  {"ease-in-out", {0.42, 0.0, 0.58, 1.0}}};
    for (size_t i = 0; i < sizeof curves / sizeof curves[0]; i++)
        if (strcmp(curves[i].word, word) == 0) {
            easing->kind = EASING_BEZIER;
            memcpy(easing->bezier, curves[i].bezier, sizeof easing->bezier);
            return true;
        }
    bool start = strcmp(word, "step-start") == 0;
    if (!start && strcmp(word, "step-end") != 0)
        return false;
    *easing = (Easing){.kind = EASING_STEPS, .jump = start ? JUMP_START : JUMP_END, .count = 1};
    return true;
}

bool expand_easing(const Context *in, const Node *node, uint16_t *easing) {
    Easing made = {.kind = EASING_BEZIER};
    *easing = EASING_NONE;
    if (node->kind != NODE_EASING || !node->text) {
        in->expander->failed = true;
        return false;
    }
    bool fine;
    if (strcmp(node->text, "linear") == 0) {
        if (!node->a)
            return true;
        fine = take_linear(in, node, &made);
    } else if (strcmp(node->text, "cubic-bezier") == 0)
        fine = take_bezier(in, node, &made);
    else if (strcmp(node->text, "steps") == 0)
        fine = take_steps(in, node, &made);
    else if (take_word(node->text, &made))
        fine = true;
    else
        fine = bad_easing(in, node, "`ease-in-out`", "no easing of that name");
    if (!fine)
        return false;
    *easing = graph_easing(in->expander->graph, &made);
    if (*easing == EASING_NONE) {
        expand_check_trouble(in);
        return false;
    }
    return true;
}

Typed expand_ease(const Context *in, const Node *node) {
    Typed typed = expand_wanted(in, node->a, TYPE_NUMBER, "`ease`");
    uint16_t easing;
    if (!expand_easing(in, node->b, &easing) || typed.type == TYPE_NONE)
        return NOTHING;
    if (easing == EASING_NONE)
        return typed;
    Typed like = {.smooth = typed.smooth};
    return expand_typed(in, TYPE_NUMBER, graph_ease(in->expander->graph, easing, typed.value),
                        like);
}
