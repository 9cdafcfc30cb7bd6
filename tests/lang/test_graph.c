/* The graph: sharing, folding, rates, ranges, and that no simplification changes a bit. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

#include <float.h>
#include <math.h>

#include "evaluate.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "tests/support/chance.h"

static Graph *fresh(void) {
    Graph *graph = graph_create();
    assert_non_null(graph);
    return graph;
}

/* -------- sharing -------- */

static void test_equal_values_are_one(void **state) {
    (void)state;
    Graph *graph = fresh();
    Value t = graph_input(graph, INPUT_T), two_seconds = graph_number(graph, 2e6);
    assert_int_equal(t, graph_input(graph, INPUT_T));
    assert_int_equal(two_seconds, graph_number(graph, 2e6));
    assert_int_equal(two(graph, OP_OVER, t, two_seconds), two(graph, OP_OVER, t, two_seconds));
    assert_int_equal(two(graph, OP_ADD, t, two_seconds), two(graph, OP_ADD, two_seconds, t));
    assert_int_not_equal(two(graph, OP_SUBTRACT, t, two_seconds),
                         two(graph, OP_SUBTRACT, two_seconds, t));
    Value a = graph_operation(graph, OP_HASH1, t, 0, 0, 0, SALT_RANDOM);
    assert_int_not_equal(a, graph_operation(graph, OP_HASH1, t, 0, 0, 0, SALT_DRAW));
    assert_int_not_equal(graph_number(graph, 0.0), graph_number(graph, -0.0));
    assert_int_equal(graph_colour(graph, (Colour){1, 0, 0}),
                     graph_colour(graph, (Colour){1, 0, 0}));
    double points[] = {0, 0, 1, 0.5}, same[] = {0, 0, 1, 0.5};
    Easing line = {.kind = EASING_LINEAR, .count = 2, .points = points};
    uint16_t first = graph_easing(graph, &line);
    line.points = same;
    assert_int_equal(first, graph_easing(graph, &line));
    same[3] = 0.75;
    assert_int_not_equal(first, graph_easing(graph, &line));
    assert_int_equal(graph_trouble(graph), GRAPH_FINE);
    graph_free(graph);
}

static void test_sharing_survives_many_values(void **state) {
    (void)state;
    Graph *graph = fresh();
    static Value values[20000];
    for (int i = 0; i < 20000; i++)
        values[i] = graph_number(graph, i * 0.5);
    for (int i = 0; i < 20000; i++)
        assert_int_equal(values[i], graph_number(graph, i * 0.5));
    graph_free(graph);
}

static void test_limit_of_values(void **state) {
    (void)state;
    Graph *graph = fresh();
    for (int i = 0; i < LIMIT_VALUES; i++)
        assert_int_not_equal(graph_number(graph, i), 0);
    assert_int_equal(graph_trouble(graph), GRAPH_FINE);
    assert_int_equal(graph_number(graph, 0.5), 0);
    assert_int_equal(graph_trouble(graph), GRAPH_TOO_LARGE);
    assert_int_equal(graph_input(graph, INPUT_T), 0);
    graph_free(graph);
}

/* -------- folding -------- */

static const double special[] = {
    0.0,     -0.0,    1.0,   -1.0,   0.5,     -0.5, 2.0, 3.0,     0.25, 1e-320,
    -1e-320, DBL_MIN, 1e300, -1e300, DBL_MAX, 0.1,  7.5, 1048576, 1e15, 9007199254740992.0,
    -2.5,    0x1p-53};
enum { SPECIALS = sizeof special / sizeof special[0] };

static bool is_number_operation(int operation) {
    return operation_form((Operation)operation) == FORM_NUMBER;
}

static void test_constants_fold_as_the_reference(void **state) {
    (void)state;
    for (int operation = 0; operation < OPERATION_COUNT; operation++) {
        if (!is_number_operation(operation))
            continue;
        Graph *graph = fresh();
        for (int i = 0; i < 400; i++) {
            double operands[4];
            Value values[4];
            bool truths = operation == OP_AND || operation == OP_OR || operation == OP_NOT;
            for (int j = 0; j < 4; j++) {
                operands[j] = truths ? (double)(chance() % 2) : special[chance() % SPECIALS];
                values[j] = graph_number(graph, operands[j]);
            }
            uint16_t k = operation_has_index((Operation)operation) ? SALT_RANDOM : 0;
            Value folded = graph_operation(graph, (Operation)operation, values[0], values[1],
                                           values[2], values[3], k);
            double result, wanted = reference_number((Operation)operation, operands, k);
            assert_true(graph_constant_number(graph, folded, &result));
            if (!graph_same_bits(result, wanted))
                fail_msg("%s of %g, %g, %g, %g: %g, not %g", operation_name((Operation)operation),
                         operands[0], operands[1], operands[2], operands[3], result, wanted);
            assert_int_equal(graph_rate(graph, folded).when, WHEN_FIXED);
        }
        graph_free(graph);
    }
}

static void test_constant_colours_fold(void **state) {
    (void)state;
    Graph *graph = fresh();
    Value red = graph_colour(graph, (Colour){1, 0, 0}),
          blue = graph_colour(graph, (Colour){0, 0, 1});
    Value half = graph_number(graph, 0.5);
    Colour colour;
    assert_true(graph_constant_colour(graph, two(graph, OP_COLOUR_SCALE, red, half), &colour));
    assert_true(colour.r == 0.5f && colour.g == 0 && colour.b == 0);
    assert_true(graph_constant_colour(graph, two(graph, OP_COLOUR_ADD, red, blue), &colour));
    assert_true(colour.r == 1 && colour.g == 0 && colour.b == 1);
    /* 255, 0, 0 of sRGB is the full red primary (IEC 61966-2-1). */
    Value rgb = three(graph, OP_COLOUR_RGB, graph_number(graph, 255), graph_number(graph, 0),
                      graph_number(graph, 0));
    assert_true(graph_constant_colour(graph, rgb, &colour));
    assert_true(colour.r == 1 && colour.g == 0 && colour.b == 0);
    assert_false(graph_constant_number(graph, rgb, &(double){0}));
    graph_free(graph);
}

static void test_not_finite_constants_are_zero(void **state) {
    (void)state;
    Graph *graph = fresh();
    double number;
    assert_true(graph_constant_number(graph, graph_number(graph, NAN), &number));
    assert_true(number == 0.0);
    assert_true(graph_constant_number(graph, graph_number(graph, INFINITY), &number));
    assert_true(number == 0.0);
    graph_free(graph);
}

/* -------- simplification, ranges, whole numbers: all operations on all kinds of operands ------ */

enum { DIAL_ANY, DIAL_UNIT, DIAL_ABOVE, DIAL_BELOW, DIAL_TINY, DIAL_WIDE };

typedef struct Pool {
    Value values[48];
    int count;
} Pool;

static void pool_add(Pool *pool, Value value) {
    assert_int_not_equal(value, 0);
    pool->values[pool->count++] = value;
}

static Pool make_pool(Graph *graph) {
    Pool pool = {{0}, 0};
    static const double constants[] = {0.0, -0.0, 1.0, -1.0, 2.0, 0.25, 3.0, -0.3};
    for (size_t i = 0; i < sizeof constants / sizeof constants[0]; i++)
        pool_add(&pool, graph_number(graph, constants[i]));
    Value any = graph_dial(graph, DIAL_ANY, false, false, -INFINITY, INFINITY);
    Value unit = graph_dial(graph, DIAL_UNIT, false, false, 0.0, 1.0);
    pool_add(&pool, any);
    pool_add(&pool, unit);
    pool_add(&pool, graph_dial(graph, DIAL_ABOVE, false, false, 0.5, 4.0));
    pool_add(&pool, graph_dial(graph, DIAL_BELOW, false, true, -3.0, 0.5));
    pool_add(&pool, graph_dial(graph, DIAL_TINY, false, false, -1e-308, 1e-308));
    pool_add(&pool, graph_field(graph, FIELD_PIXEL));
    pool_add(&pool, graph_field(graph, FIELD_POS));
    pool_add(&pool, graph_field(graph, FIELD_X));
    pool_add(&pool, graph_within(graph, 0));
    Value less = two(graph, OP_LESS, any, unit);
    pool_add(&pool, less);
    pool_add(&pool, one(graph, OP_NOT, less));
    pool_add(&pool, one(graph, OP_NEGATE, any));
    pool_add(&pool, one(graph, OP_FLOOR, any));
    pool_add(&pool, one(graph, OP_UNIT, any));
    pool_add(&pool, one(graph, OP_ROUND, graph_dial(graph, DIAL_WIDE, false, false, -1e15, 1e15)));
    pool_add(&pool, two(graph, OP_MAXIMUM, any, unit));
    pool_add(&pool, two(graph, OP_MODULO, any, graph_number(graph, 1.0)));
    pool_add(&pool, one(graph, OP_MICROSECONDS, any));
    return pool;
}

static double any_number(void) {
    switch (chance() % 4) {
    case 0:
        return special[chance() % SPECIALS];
    case 1:
        return (chance_unit() - 0.5) * 10.0;
    case 2:
        return floor((chance_unit() - 0.5) * 1e7);
    default:
        return ldexp(chance_unit() - 0.5, (int)(chance() % 2000) - 1000);
    }
}

static double within_range(double from, double to) {
    double number = any_number();
    if (number >= from && number <= to)
        return number;
    switch (chance() % 4) {
    case 0:
        return from;
    case 1:
        return to;
    case 2:
        return from <= 0.0 && to >= 0.0 ? (chance() % 2 ? 0.0 : -0.0) : to;
    default:
        return from + chance_unit() * (to - from);
    }
}

static Setting make_setting(void) {
    Setting setting = {.groups = {chance() % 2}};
    setting.dials[DIAL_ANY] = any_number();
    setting.dials[DIAL_UNIT] = within_range(0.0, 1.0);
    setting.dials[DIAL_ABOVE] = within_range(0.5, 4.0);
    setting.dials[DIAL_BELOW] = within_range(-3.0, 0.5);
    setting.dials[DIAL_WIDE] = within_range(-1e15, 1e15);
    setting.dials[DIAL_TINY] = within_range(-1e-308, 1e-308);
    setting.fields[FIELD_PIXEL] = (double)(chance() % 300);
    setting.fields[FIELD_POS] = (setting.fields[FIELD_PIXEL] + 0.5) / 300.0;
    setting.fields[FIELD_X] = within_range(-1.0, 1.0);
    return setting;
}

static void check_value(const Graph *graph, Value value, double number, int operation) {
    const GraphNode *node = graph_node(graph, value);
    const char *name = operation_name((Operation)operation);
    if (!(number >= node->from && number <= node->to))
        fail_msg("%s: %.17g is outside %.17g .. %.17g", name, number, node->from, node->to);
    if (node->whole && number != floor(number))
        fail_msg("%s: %.17g is not whole", name, number);
    if (!node->minus_zero && number == 0.0 && signbit(number))
        fail_msg("%s: is -0", name);
}

static void check_operation(Graph *graph, int operation, const Value *values, uint16_t k) {
    Value built =
        graph_operation(graph, (Operation)operation, values[0], values[1], values[2], values[3], k);
    assert_int_not_equal(built, 0);
    for (int sample = 0; sample < 6; sample++) {
        Setting setting = make_setting();
        double operands[4] = {0};
        for (unsigned i = 0; i < 4 && operation_operand((Operation)operation, i); i++)
            operands[i] = evaluate_number(graph, values[i], &setting);
        double wanted = reference_number((Operation)operation, operands, k);
        double number = evaluate_number(graph, built, &setting);
        if (!graph_same_bits(wanted, number))
            fail_msg("%s of %.17g, %.17g, %.17g is %.17g, not %.17g",
                     operation_name((Operation)operation), operands[0], operands[1], operands[2],
                     wanted, number);
        check_value(graph, built, number, operation);
    }
}

/* AND, OR and NOT are for truths only. */
static bool fits(const Graph *graph, int operation, Value value) {
    bool truths = operation == OP_AND || operation == OP_OR || operation == OP_NOT;
    return !truths || graph_is_truth(graph, value);
}

static void test_simplification_keeps_every_bit(void **state) {
    (void)state;
    for (int operation = 0; operation < OPERATION_COUNT; operation++) {
        if (!is_number_operation(operation))
            continue;
        Graph *graph = fresh();
        Pool pool = make_pool(graph);
        uint16_t k = operation_has_index((Operation)operation) ? SALT_NOISE : 0;
        int b_count = operation_operand((Operation)operation, 1) ? pool.count : 1;
        for (int a = 0; a < pool.count; a++) {
            for (int b = 0; b < b_count; b++) {
                for (int c = 0; c < (operation_operand((Operation)operation, 2) ? 6 : 1); c++) {
                    Value third = pool.values[chance() % (uint64_t)pool.count];
                    Value values[4] = {pool.values[a], pool.values[b], third, pool.values[0]};
                    if (fits(graph, operation, values[0]) && fits(graph, operation, values[1]))
                        check_operation(graph, operation, values, k);
                }
            }
        }
        assert_int_equal(graph_trouble(graph), GRAPH_FINE);
        graph_free(graph);
    }
}

/* Deeper: random expressions of random expressions keep their intervals. */
static void test_ranges_hold_in_depth(void **state) {
    (void)state;
    for (int round = 0; round < 300; round++) {
        Graph *graph = fresh();
        Pool pool = make_pool(graph);
        Value values[64];
        int operations[64], count = 0;
        while (count < 64) {
            int operation = (int)(chance() % OPERATION_COUNT);
            if (!is_number_operation(operation))
                continue;
            Value operands[4];
            bool fine = true;
            for (int i = 0; i < 4; i++) {
                uint64_t pick = chance() % (uint64_t)(pool.count + count);
                operands[i] = pick < (uint64_t)pool.count ? pool.values[pick]
                                                          : values[pick - (uint64_t)pool.count];
                fine = fine && fits(graph, operation, operands[i]);
            }
            if (!fine)
                continue;
            uint16_t k = operation_has_index((Operation)operation) ? SALT_RANDOM : 0;
            operations[count] = operation;
            values[count++] = graph_operation(graph, (Operation)operation, operands[0], operands[1],
                                              operands[2], operands[3], k);
        }
        for (int sample = 0; sample < 20; sample++) {
            Setting setting = make_setting();
            for (int i = 0; i < count; i++)
                check_value(graph, values[i], evaluate_number(graph, values[i], &setting),
                            operations[i]);
        }
        graph_free(graph);
    }
}

static bool same_colour(Colour a, Colour b) {
    return memcmp(&a, &b, sizeof a) == 0;
}

static void check_colours(Graph *graph, int operation, const Value *values, uint16_t k) {
    Value built =
        graph_operation(graph, (Operation)operation, values[0], values[1], values[2], 0, k);
    for (int sample = 0; sample < 4; sample++) {
        Setting setting = make_setting();
        for (int i = 0; i < 3; i++)
            setting.lights[i] = (Colour){(float)(chance_unit() - 0.1), (float)chance_unit(),
                                         chance() % 2 ? 0.0f : -0.0f};
        ReferenceOperand operands[4] = {{0}};
        for (unsigned i = 0; i < 3 && operation_operand((Operation)operation, i); i++)
            operands[i] = evaluate(graph, values[i], &setting);
        Colour colour = evaluate_colour(graph, built, &setting);
        if (!same_colour(colour, reference_colour((Operation)operation, operands, k)))
            fail_msg("%s differs", operation_name((Operation)operation));
        bool dark = signbit(colour.r) || signbit(colour.g) || signbit(colour.b);
        if (dark && !graph_node(graph, built)->minus_zero)
            fail_msg("%s: some channel is below 0", operation_name((Operation)operation));
    }
}

static void test_simplification_keeps_every_bit_of_light(void **state) {
    (void)state;
    for (int operation = 0; operation < OPERATION_COUNT; operation++) {
        OperationForm form = operation_form((Operation)operation);
        if (form != FORM_CHANNEL && form != FORM_COLOUR)
            continue;
        Graph *graph = fresh();
        Pool numbers = make_pool(graph);
        Value colours[8] = {graph_colour(graph, (Colour){0, 0, 0}),
                            graph_colour(graph, (Colour){1, 1, 1}),
                            graph_colour(graph, (Colour){-0.0f, 0.25f, 2}),
                            graph_dial(graph, 0, true, false, 0, 0),
                            graph_dial(graph, 1, true, false, 0, 0),
                            graph_colour(graph, (Colour){0.3f, 1, 0})};
        colours[6] =
            three(graph, OP_COLOUR_RGB, numbers.values[8], numbers.values[9], numbers.values[10]);
        colours[7] = three(graph, OP_COLOUR_MIX, colours[5], colours[6], numbers.values[14]);
        for (int round = 0; round < 3000; round++) {
            Value values[4] = {0};
            for (unsigned i = 0; i < 3 && operation_operand((Operation)operation, i); i++)
                values[i] = operation_operand((Operation)operation, i) == 'c'
                                ? colours[chance() % 8]
                                : numbers.values[chance() % (uint64_t)numbers.count];
            check_colours(graph, operation, values,
                          operation_has_index((Operation)operation) ? SPACE_OKLAB : 0);
        }
        graph_free(graph);
    }
}

static void test_what_becomes_simpler(void **state) {
    (void)state;
    Graph *graph = fresh();
    Value t = graph_input(graph, INPUT_T), pos = graph_field(graph, FIELD_POS);
    Value unit = graph_dial(graph, 0, false, false, 0, 1), one_ = graph_number(graph, 1);
    Value red = graph_colour(graph, (Colour){1, 0, 0}),
          dial = graph_dial(graph, 1, true, false, 0, 0);
    assert_int_equal(one(graph, OP_UNIT, pos), pos);
    Value over = two(graph, OP_OVER, t, graph_number(graph, 2e6));
    assert_int_equal(one(graph, OP_UNIT, over), over);
    /* A dial may be set to -0, which UNIT makes 0. */
    assert_int_not_equal(one(graph, OP_UNIT, unit), unit);
    assert_int_equal(two(graph, OP_MULTIPLY, t, one_), t);
    assert_int_equal(two(graph, OP_DIVIDE, t, one_), t);
    assert_int_equal(two(graph, OP_DIVIDE, t, graph_number(graph, 4)),
                     two(graph, OP_MULTIPLY, t, graph_number(graph, 0.25)));
    assert_int_equal(two(graph, OP_MINIMUM, pos, graph_number(graph, 2)), pos);
    assert_int_equal(two(graph, OP_MAXIMUM, pos, graph_number(graph, -1)), pos);
    Value truth = two(graph, OP_LESS, t, graph_number(graph, 5));
    assert_int_equal(three(graph, OP_SELECT, one_, t, pos), t);
    assert_int_equal(three(graph, OP_SELECT, truth, pos, pos), pos);
    assert_int_equal(one(graph, OP_NOT, one(graph, OP_NOT, truth)), truth);
    assert_int_equal(three(graph, OP_COLOUR_MIX, red, dial, graph_number(graph, 0)), red);
    assert_int_equal(three(graph, OP_COLOUR_MIX, red, dial, one_), dial);
    assert_int_equal(two(graph, OP_COLOUR_SCALE, dial, one_), dial);
    Value black = graph_colour(graph, (Colour){0, 0, 0});
    assert_int_equal(three(graph, OP_COLOUR_MIX, black, red, pos),
                     two(graph, OP_COLOUR_SCALE, red, pos));
    assert_int_not_equal(three(graph, OP_COLOUR_MIX, black, dial, pos),
                         two(graph, OP_COLOUR_SCALE, dial, pos));
    assert_int_equal(two(graph, OP_LESS, pos, graph_number(graph, -1)), graph_number(graph, 0));
    graph_free(graph);
}

/* -------- rates -------- */

static void check_rate(const Graph *graph, Value value, When when, Where where) {
    assert_int_not_equal(value, 0);
    Rate rate = graph_rate(graph, value);
    assert_int_equal(rate.when, when);
    assert_int_equal(rate.where, where);
}

static void test_rates(void **state) {
    (void)state;
    Graph *graph = fresh();
    Value t = graph_input(graph, INPUT_T), pos = graph_field(graph, FIELD_POS);
    Value dial = graph_dial(graph, 0, false, false, 0, 1);
    Value eased = graph_dial(graph, 1, false, true, 0, 1);
    check_rate(graph, graph_number(graph, 3), WHEN_FIXED, WHERE_ONE);
    check_rate(graph, dial, WHEN_SET, WHERE_ONE);
    check_rate(graph, eased, WHEN_MOVING, WHERE_ONE);
    check_rate(graph, graph_input(graph, INPUT_PIXELS), WHEN_SET, WHERE_ONE);
    check_rate(graph, graph_input(graph, INPUT_HOUR), WHEN_MOVING, WHERE_ONE);
    check_rate(graph, pos, WHEN_SET, WHERE_EACH);
    check_rate(graph, graph_within(graph, 0), WHEN_SET, WHERE_EACH);
    check_rate(graph, two(graph, OP_MULTIPLY, dial, graph_number(graph, 3)), WHEN_SET, WHERE_ONE);
    check_rate(graph, two(graph, OP_MULTIPLY, dial, pos), WHEN_SET, WHERE_EACH);
    check_rate(graph, two(graph, OP_SUBTRACT, t, dial), WHEN_MOVING, WHERE_ONE);
    check_rate(graph, two(graph, OP_SUBTRACT, t, pos), WHEN_MOVING, WHERE_EACH);
    Value red = graph_colour(graph, (Colour){1, 0, 0}),
          blue = graph_colour(graph, (Colour){0, 0, 1});
    GraphStop stops[] = {{graph_number(graph, 0), red, EASING_NONE},
                         {graph_number(graph, 1), blue, EASING_NONE}};
    check_rate(graph, graph_ramp(graph, true, false, SPACE_OKLAB, stops, 2, pos), WHEN_SET,
               WHERE_EACH);
    stops[1].value = three(graph, OP_COLOUR_RGB, graph_number(graph, 3), eased, dial);
    check_rate(graph, graph_ramp(graph, true, false, SPACE_OKLAB, stops, 2, dial), WHEN_MOVING,
               WHERE_ONE);
    assert_true(graph_reads_dial(graph, two(graph, OP_SUBTRACT, t, dial)));
    assert_false(graph_reads_dial(graph, two(graph, OP_SUBTRACT, t, pos)));
    assert_true(graph_reads_input(graph, two(graph, OP_SUBTRACT, t, pos), INPUT_T));
    assert_false(graph_reads_input(graph, two(graph, OP_SUBTRACT, t, pos), INPUT_HOUR));
    graph_free(graph);
}

static void test_whole_numbers(void **state) {
    (void)state;
    Graph *graph = fresh();
    Value pixel = graph_field(graph, FIELD_PIXEL), pixels = graph_input(graph, INPUT_PIXELS);
    Value pos = graph_field(graph, FIELD_POS), t = graph_input(graph, INPUT_T);
    assert_true(graph_is_whole(graph, graph_number(graph, 3)));
    assert_false(graph_is_whole(graph, graph_number(graph, 3.5)));
    assert_true(graph_is_whole(graph, pixel));
    assert_true(graph_is_whole(graph, two(graph, OP_ADD, pixel, pixels)));
    assert_true(graph_is_whole(graph, two(graph, OP_MULTIPLY, pixel, graph_number(graph, 2))));
    assert_false(graph_is_whole(graph, two(graph, OP_MULTIPLY, pixel, graph_number(graph, 0.5))));
    assert_true(graph_is_whole(graph, two(graph, OP_TICK, t, graph_number(graph, 1e6))));
    assert_true(graph_is_whole(graph, one(graph, OP_FLOOR, pos)));
    Value beat = two(graph, OP_TICK, t, graph_number(graph, 1e6)), three_ = graph_number(graph, 3);
    assert_true(graph_is_whole(graph, two(graph, OP_MODULO, beat, three_)));
    assert_true(graph_is_whole(graph, two(graph, OP_MODULO, pixel, three_)));
    /* mod(-2259597579687627800000, 61220) is the double below 61220 */
    Value any = one(graph, OP_FLOOR, graph_dial(graph, 0, false, false, -INFINITY, INFINITY));
    assert_false(graph_is_whole(graph, two(graph, OP_MODULO, any, three_)));
    assert_false(graph_is_whole(graph, pos));
    assert_false(graph_is_whole(graph, t));
    assert_false(graph_is_whole(graph, two(graph, OP_DIVIDE, pixel, pixels)));
    graph_free(graph);
}

/* -------- trouble -------- */

static void build_something(Graph *graph) {
    Value t = graph_input(graph, INPUT_T), pos = graph_field(graph, FIELD_POS);
    double points[] = {0, 0, 0.5, 0.75, 1, 1};
    Easing line = {.kind = EASING_LINEAR, .count = 3, .points = points};
    uint16_t easing = graph_easing(graph, &line);
    Value at = two(graph, OP_OVER, t, graph_number(graph, 2e6));
    GraphStop stops[3];
    for (int i = 0; i < 3; i++)
        stops[i] = (GraphStop){graph_number(graph, i * 0.5),
                               graph_colour(graph, (Colour){(float)i, 0, 0}), easing};
    Value table = graph_ramp(graph, true, false, SPACE_OKLAB, stops, 3, at);
    stops[1].place = two(graph, OP_MULTIPLY, pos, graph_number(graph, 0.7));
    Value chain = graph_ramp(graph, true, false, SPACE_OKLAB, stops, 3, at);
    Value sum = two(graph, OP_COLOUR_ADD, table, chain);
    for (int i = 0; i < 400; i++)
        sum = two(graph, OP_COLOUR_SCALE, sum, graph_number(graph, i * 0.01 + 1.001));
    if (graph_trouble(graph) == GRAPH_FINE)
        assert_int_not_equal(sum, 0);
    else
        assert_int_equal(sum, 0);
}

static void test_every_allocation_may_fail(void **state) {
    (void)state;
    unsigned long live = memory_live();
    for (unsigned long n = 1;; n++) {
        memory_fail_at(n);
        Graph *graph = graph_create();
        GraphTrouble trouble = GRAPH_NO_MEMORY;
        if (graph) {
            build_something(graph);
            trouble = graph_trouble(graph);
            graph_free(graph);
        }
        memory_fail_at(0);
        assert_int_equal(memory_live(), live);
        if (trouble == GRAPH_FINE)
            break;
        assert_int_equal(trouble, GRAPH_NO_MEMORY);
        assert_true(n < 1000);
    }
}

int main(void) {
    chance_state = 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_equal_values_are_one),
        cmocka_unit_test(test_sharing_survives_many_values),
        cmocka_unit_test(test_limit_of_values),
        cmocka_unit_test(test_constants_fold_as_the_reference),
        cmocka_unit_test(test_constant_colours_fold),
        cmocka_unit_test(test_not_finite_constants_are_zero),
        cmocka_unit_test(test_simplification_keeps_every_bit),
        cmocka_unit_test(test_ranges_hold_in_depth),
        cmocka_unit_test(test_simplification_keeps_every_bit_of_light),
        cmocka_unit_test(test_what_becomes_simpler),
        cmocka_unit_test(test_rates),
        cmocka_unit_test(test_whole_numbers),
        cmocka_unit_test(test_every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
