/* A ramp has two forms, a table and a chain; spec/meaning.md section 5 gives both one value. Here
 * they are compared bit for bit, and both with the formula itself. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

#include <math.h>

#include "evaluate.h"
#include "runtime/core/colour.h"
#include "runtime/core/limits.h"
#include "tests/support/chance.h"

enum { STOPS_MAX = 8, DIAL_PLACE = 0, DIAL_STOPS = 1 };

/* A ramp as numbers, before it is in a graph. */
typedef struct Case {
    bool colour, bars;
    uint16_t blend;
    uint32_t count;
    double places[STOPS_MAX];
    double numbers[STOPS_MAX];
    Colour colours[STOPS_MAX];
    int easings[STOPS_MAX]; /* index into the easings below, -1 none */
} Case;

static double line_points[] = {0, 0.25, 0.5, 1.5, 0.5, -0.5, 1, 0.75};
static const Easing easings[] = {
    {.kind = EASING_BEZIER, .bezier = {0.42, 0, 0.58, 1}},
    {.kind = EASING_BEZIER, .bezier = {0.3, -1.5, 0.7, 2.5}},
    {.kind = EASING_STEPS, .jump = JUMP_START, .count = 3},
    {.kind = EASING_STEPS, .jump = JUMP_END, .count = 4},
    {.kind = EASING_STEPS, .jump = JUMP_BOTH, .count = 2},
    {.kind = EASING_LINEAR, .count = 4, .points = line_points},
};
enum { EASINGS = sizeof easings / sizeof easings[0] };

static Case make_case(void) {
    Case it = {.colour = chance() % 2, .bars = chance() % 4 == 0};
    static const uint16_t blends[] = {
        BLEND_CODE(SPACE_OKLAB, 0),          BLEND_CODE(SPACE_SRGB_LINEAR, 0),
        BLEND_CODE(SPACE_SRGB, 0),           BLEND_CODE(SPACE_OKLCH, HUE_SHORTER),
        BLEND_CODE(SPACE_OKLCH, HUE_LONGER), BLEND_CODE(SPACE_OKLCH, HUE_DECREASING)};
    it.blend = it.colour ? blends[chance() % 6] : 0;
    it.count = 2 + (uint32_t)(chance() % (STOPS_MAX - 1));
    bool eased = chance() % 2;
    double place = chance() % 2 ? 0.0 : chance_unit() * 0.3;
    for (uint32_t i = 0; i < it.count; i++) {
        it.places[i] = place;
        if (chance() % 4) /* else an edge */
            place += chance() % 4 ? chance_unit() * 0.4 : 1.0 / 3.0;
        if (i + 2 == it.count && chance() % 2)
            place = place < 1.0 ? 1.0 : place;
        it.numbers[i] = chance() % 3 ? chance_unit() * 20 - 10 : (double)(chance() % 3);
        it.colours[i] = (Colour){(float)chance_unit(), (float)chance_unit(), (float)chance_unit()};
        if (chance() % 4 == 0)
            it.colours[i] = (Colour){0, 0, 0};
        it.easings[i] = eased && chance() % 2 ? (int)(chance() % EASINGS) : -1;
    }
    return it;
}

/* Zero that differs from pixel to pixel as far as the graph knows. */
static Value each_zero(Graph *graph) {
    return graph_operation(graph, OP_MULTIPLY, graph_field(graph, FIELD_X), graph_number(graph, 0),
                           0, 0, 0);
}

static Value each_number(Graph *graph, double number) {
    /* number + 0 * x is number, but for -0. */
    return graph_operation(graph, OP_ADD, graph_number(graph, number), each_zero(graph), 0, 0, 0);
}

static Value each_colour(Graph *graph, Colour colour) {
    Value truth =
        graph_operation(graph, OP_EQUAL, each_zero(graph), graph_number(graph, 0), 0, 0, 0);
    Value other = graph_colour(graph, (Colour){9, 9, 9});
    return graph_operation(graph, OP_COLOUR_SELECT, truth, graph_colour(graph, colour), other, 0,
                           0);
}

/* How the stops and places of a case come into the graph. */
typedef enum Form { FORM_TABLE, FORM_EACH_STOPS, FORM_EACH_PLACES, FORM_EACH_ALL } Form;

static Value build(Graph *graph, const Case *it, Form form, Value place) {
    GraphStop stops[STOPS_MAX];
    for (uint32_t i = 0; i < it->count; i++) {
        bool each_place = form == FORM_EACH_PLACES || form == FORM_EACH_ALL;
        bool each_value = form == FORM_EACH_STOPS || form == FORM_EACH_ALL;
        stops[i].place =
            each_place ? each_number(graph, it->places[i]) : graph_number(graph, it->places[i]);
        if (it->colour)
            stops[i].value = each_value ? each_colour(graph, it->colours[i])
                                        : graph_colour(graph, it->colours[i]);
        else
            stops[i].value = each_value ? each_number(graph, it->numbers[i])
                                        : graph_number(graph, it->numbers[i]);
        stops[i].easing =
            it->easings[i] < 0 ? EASING_NONE : graph_easing(graph, &easings[it->easings[i]]);
    }
    Value ramp = graph_ramp(graph, it->colour, it->bars, it->blend, stops, it->count, place);
    assert_int_not_equal(ramp, 0);
    return ramp;
}

static bool is_table(const Graph *graph, Value value) {
    const GraphNode *node = graph_node(graph, value);
    return node->class == CLASS_OPERATION &&
           (node->operation == OP_RAMP_NUMBER || node->operation == OP_RAMP_COLOUR);
}

static bool same(bool colour, ReferenceOperand a, ReferenceOperand b) {
    return colour ? memcmp(&a.colour, &b.colour, sizeof a.colour) == 0
                  : graph_same_bits(a.number, b.number);
}

/* A place worth asking at: on a stop, beside it, anywhere, outside. */
static double make_place(const Case *it, double from, double to) {
    double place = it->places[chance() % it->count];
    switch (chance() % 6) {
    case 0:
        break;
    case 1:
        place = nextafter(place, 9);
        break;
    case 2:
        place = nextafter(place, -9);
        break;
    case 3:
        place = chance() % 2 ? from : to;
        break;
    default:
        place = from + chance_unit() * (to - from);
        break;
    }
    return place < from ? from : place > to ? to : place;
}

/* spec/meaning.md section 5, said plainly. */
static ReferenceOperand by_formula(const Case *it, double p) {
    ReferenceOperand own[STOPS_MAX], result;
    for (uint32_t i = 0; i < it->count; i++) {
        if (it->colour)
            own[i].colour = it->colours[i];
        else
            own[i].number = it->numbers[i];
    }
    if (p < it->places[0])
        return own[0];
    uint32_t k = 0;
    for (uint32_t i = 0; i < it->count; i++)
        k = it->places[i] <= p ? i : k;
    if (it->bars || p == it->places[k] || k == it->count - 1)
        return own[k];
    double share = (p - it->places[k]) / (it->places[k + 1] - it->places[k]);
    if (it->easings[k] >= 0)
        share = easing_at(&easings[it->easings[k]], share);
    if (it->colour) {
        ReferenceOperand operands[3] = {own[k], own[k + 1], {.number = share}};
        result.colour = reference_colour(OP_COLOUR_BLEND, operands, it->blend);
    } else {
        double operands[3] = {own[k].number, own[k + 1].number, share};
        result.number = reference_number(OP_LERP, operands, 0);
    }
    return result;
}

static void check_forms(const Case *it, double from, double to) {
    Graph *graph = graph_create();
    assert_non_null(graph);
    Value dial = graph_dial(graph, DIAL_PLACE, false, false, from, to);
    Value field = graph_operation(graph, OP_ADD, dial, each_zero(graph), 0, 0, 0);
    Value forms[8];
    int count = 0;
    for (int form = FORM_TABLE; form <= FORM_EACH_ALL; form++) {
        forms[count++] = build(graph, it, (Form)form, dial);
        forms[count++] = build(graph, it, (Form)form, field);
    }
    if (it->colour && !it->bars)
        assert_true(is_table(graph, forms[0]) && is_table(graph, forms[1]));
    for (int i = 2; i < count; i++)
        assert_false(is_table(graph, forms[i]));
    for (int sample = 0; sample < 40; sample++) {
        Setting setting = {.fields = {[FIELD_X] = 0.5}};
        setting.dials[DIAL_PLACE] = make_place(it, from, to);
        ReferenceOperand wanted = by_formula(it, setting.dials[DIAL_PLACE]);
        for (int i = 0; i < count; i++) {
            if (!same(it->colour, evaluate(graph, forms[i], &setting), wanted))
                fail_msg("form %d at %.17g of %u %s differs", i, setting.dials[DIAL_PLACE],
                         it->count,
                         it->bars     ? "bars"
                         : it->colour ? "colours"
                                      : "numbers");
        }
        Value constant = build(graph, it, FORM_TABLE, graph_number(graph, setting.dials[0]));
        assert_true(graph_is_constant(graph, constant));
        assert_true(same(it->colour, evaluate(graph, constant, &setting), wanted));
    }
    graph_free(graph);
}

static void test_table_is_chain(void **state) {
    (void)state;
    for (int i = 0; i < 1500; i++) {
        Case it = make_case();
        check_forms(&it, 0.0, 1.0);
        check_forms(&it, -1.0, 2.0);
    }
}

static void test_two_numbers_need_no_operation(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Value t = graph_input(graph, INPUT_T);
    Value place = graph_operation(graph, OP_PHASE, t, graph_number(graph, 4e6), 0, 0, 0);
    GraphStop stops[] = {{graph_number(graph, 0), graph_number(graph, 0), EASING_NONE},
                         {graph_number(graph, 1), graph_number(graph, 1), EASING_NONE}};
    assert_int_equal(graph_ramp(graph, false, false, 0, stops, 2, place), place);
    graph_free(graph);
}

static void test_places_are_moved_up(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Setting setting = {.dials = {0.5, 0.9, 0.3}};
    Value place = graph_dial(graph, 0, false, false, 0, 1);
    GraphStop stops[4];
    for (uint16_t i = 0; i < 4; i++)
        stops[i] = (GraphStop){0, graph_number(graph, i), EASING_NONE};
    stops[0].place = graph_number(graph, 0);
    stops[1].place = graph_dial(graph, 1, false, false, 0, 1);
    stops[2].place = graph_dial(graph, 2, false, false, 0, 1); /* lies before the one before */
    stops[3].place = graph_number(graph, 1);
    Value ramp = graph_ramp(graph, false, false, 0, stops, 4, place);
    setting.dials[0] = 0.45; /* half way to 0.9 */
    assert_true(evaluate_number(graph, ramp, &setting) == 0.5);
    setting.dials[0] = 0.9; /* the later of two at one place */
    assert_true(evaluate_number(graph, ramp, &setting) == 2.0);
    graph_free(graph);
}

static void test_equal_tables_are_one(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Value pos = graph_field(graph, FIELD_POS);
    GraphStop stops[3];
    for (int i = 0; i < 3; i++)
        stops[i] = (GraphStop){graph_number(graph, i * 0.5),
                               graph_colour(graph, (Colour){(float)i, 0, 0}), EASING_NONE};
    Value first = graph_ramp(graph, true, false, SPACE_OKLAB, stops, 3, pos);
    assert_int_equal(first, graph_ramp(graph, true, false, SPACE_OKLAB, stops, 3, pos));
    assert_int_not_equal(first, graph_ramp(graph, true, false, SPACE_SRGB, stops, 3, pos));
    assert_int_equal(graph->ramp_count, 2);
    /* The easing of the last stop leads nowhere. */
    stops[2].easing = graph_easing(graph, &easings[0]);
    assert_int_equal(first, graph_ramp(graph, true, false, SPACE_OKLAB, stops, 3, pos));
    graph_free(graph);
}

int main(void) {
    chance_state = 7;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table_is_chain),
        cmocka_unit_test(test_two_numbers_need_no_operation),
        cmocka_unit_test(test_places_are_moved_up),
        cmocka_unit_test(test_equal_tables_are_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
