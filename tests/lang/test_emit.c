/* Code from graphs: the machine gives what the graph says, bit for bit; each value is computed in
 * the slowest section that serves; what the light is made of comes to rest when it is said to. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

#include <math.h>

#include "evaluate.h"
#include "memory_reader.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/vm/vm.h"
#include "tests/vm/build.h"
#include "tests/vm/scenes.h"
#include "tests/support/chance.h"

enum { PIXELS = 70, DIALS = 4, LIGHT_DIAL = 3 }; /* more than a block */

/* -------- a program around the code of one graph -------- */

/* Dials 0 and 1 are numbers, 2 is eased, 3 a colour; one group. */
static Program *around(Graph *graph, Value light) {
    Program *program = build_program();
    for (int i = 0; i < DIALS; i++) {
        char name[] = {(char)('a' + i), 0};
        build_dial(program, name, i == LIGHT_DIAL ? DIAL_COLOUR : DIAL_NUMBER);
    }
    program->dials[2].eased = 1e6;
    build_group(program, "sill");
    RoutineInfo *routine = build_routine(program, "dawn");
    assert_int_equal(emit_code(graph, light, &routine->code), EMIT_FINE);
    char message[300] = "";
    if (!verify_program(program, message, sizeof message))
        fail_msg("%s", message);
    return program;
}

static void make_dials(DialValue *dials) {
    memset(dials, 0, DIALS * sizeof *dials);
    for (int i = 0; i < LIGHT_DIAL; i++)
        dials[i].number = chance_unit() * 2.0 - 0.5;
    dials[LIGHT_DIAL].colour =
        (Colour){(float)chance_unit(), (float)chance_unit(), (float)chance_unit()};
}

static Setting setting_of(const TestScene *scene, const DialValue *dials, const Moment *moment,
                          uint32_t pixel) {
    Setting setting = {.groups = {scene->group[pixel] != 0}};
    for (int i = 0; i < DIALS; i++) {
        setting.dials[i] = dials[i].number;
        setting.lights[i] = dials[i].colour;
    }
    memcpy(setting.inputs, moment->input, sizeof setting.inputs);
    setting.inputs[INPUT_PIXELS] = PIXELS;
    for (int field = 0; field < FIELD_COUNT; field++)
        setting.fields[field] = scene->field[field][pixel];
    return setting;
}

static void check_frame(const Graph *graph, Value light, const TestScene *scene,
                        const DialValue *dials, const Moment *moment, const float *frame) {
    for (uint32_t pixel = 0; pixel < PIXELS; pixel += 1 + pixel % 5) {
        Setting setting = setting_of(scene, dials, moment, pixel);
        Colour wanted = evaluate_colour(graph, light, &setting);
        if (memcmp(&wanted, frame + 3 * pixel, sizeof wanted) != 0)
            fail_msg("pixel %u at %.0f us: %.9g %.9g %.9g, not %.9g %.9g %.9g", pixel,
                     moment->input[INPUT_T], (double)frame[3 * pixel], (double)frame[3 * pixel + 1],
                     (double)frame[3 * pixel + 2], (double)wanted.r, (double)wanted.g,
                     (double)wanted.b);
    }
}

/* Frames in any order, and after dials are turned, are what the graph says. */
static void check_frames(const Graph *graph, Value light, const Program *program,
                         const TestScene *scene) {
    DialValue dials[DIALS];
    static float frame[3 * PIXELS];
    make_dials(dials);
    Vm *vm = vm_create(&program->routines[0].code, &scene->scene, dials);
    assert_non_null(vm);
    for (int turn = 0; turn < 2; turn++) {
        for (int i = 0; i < 3; i++) {
            Moment moment = moment_at(floor((chance_unit() - 0.2) * 2e7));
            moment.input[INPUT_HOUR] = chance_unit() * 24.0;
            vm_render(vm, &moment, frame);
            check_frame(graph, light, scene, dials, &moment, frame);
        }
        make_dials(dials);
        vm_set_dials(vm, dials);
    }
    vm_free(vm);
}

/* From the time of rest on nothing changes. */
static void check_rest(const Program *program, const TestScene *scene) {
    DialValue dials[DIALS];
    static float first[3 * PIXELS], later[3 * PIXELS];
    make_dials(dials);
    Vm *vm = vm_create(&program->routines[0].code, &scene->scene, dials);
    assert_non_null(vm);
    double still = vm_still_from(vm);
    if (isfinite(still)) {
        Moment moment = moment_at(still);
        vm_render(vm, &moment, first);
        double times[] = {1, 2, 1e3, 1e6, 7e6, 1e9, 1e13};
        for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
            moment.input[INPUT_T] = still + times[i];
            moment.input[INPUT_HOUR] = chance_unit() * 24.0;
            vm_render(vm, &moment, later);
            assert_memory_equal(first, later, sizeof first);
        }
    }
    vm_free(vm);
}

/* -------- random graphs -------- */

enum { MADE_MAX = 90 };

typedef struct Made {
    Value numbers[MADE_MAX], colours[MADE_MAX];
    int number_count, colour_count;
} Made;

static void add_number(Made *made, Value value) {
    assert_int_not_equal(value, 0);
    made->numbers[made->number_count++] = value;
}

static void add_colour(Made *made, Value value) {
    assert_int_not_equal(value, 0);
    made->colours[made->colour_count++] = value;
}

static Value any_number(const Made *made) {
    /* Mostly what was made last, so that graphs are deep. */
    uint64_t span = (uint64_t)made->number_count;
    uint64_t back = chance() % 3 ? chance() % (span < 8 ? span : 8) : chance() % span;
    return made->numbers[span - 1 - back];
}

static Value any_colour(const Made *made) {
    uint64_t span = (uint64_t)made->colour_count;
    uint64_t back = chance() % 3 ? chance() % (span < 4 ? span : 4) : chance() % span;
    return made->colours[span - 1 - back];
}

/* Clocks, places of runs, truths about clocks: what programs have and what comes to rest. */
static void add_clocks(Graph *graph, Made *made) {
    Value t = graph_input(graph, INPUT_T);
    Value each =
        one(graph, OP_MICROSECONDS,
            two(graph, OP_MULTIPLY, graph_field(graph, FIELD_POS), graph_number(graph, 3e6)));
    Value dial =
        one(graph, OP_MICROSECONDS,
            two(graph, OP_MULTIPLY, graph_dial(graph, 0, false, false, -INFINITY, INFINITY),
                graph_number(graph, 2e6)));
    Value clocks[4] = {t, one(graph, OP_MICROSECONDS, two(graph, OP_SUBTRACT, t, each)),
                       two(graph, OP_MINIMUM, t, graph_number(graph, 5e6))};
    clocks[3] = one(graph, OP_MICROSECONDS, two(graph, OP_SUBTRACT, clocks[2], dial));
    for (int i = 0; i < 4; i++) {
        Value lengths[3] = {graph_number(graph, 2e6), each, dial};
        Value length = lengths[chance() % 3];
        add_number(made, two(graph, OP_OVER, clocks[i], length));
        add_number(made, two(graph, OP_LESS, clocks[i], length));
        add_number(made, two(graph, OP_LESS_EQUAL, length, clocks[i]));
        if (chance() % 4 == 0)
            add_number(made, two(graph, OP_PHASE, clocks[i], length));
    }
}

static void add_leaves(Graph *graph, Made *made, bool moving) {
    Value leaves[] = {
        graph_number(graph, 0.0),        graph_number(graph, 1.5),
        graph_number(graph, -0.25),      graph_field(graph, FIELD_POS),
        graph_field(graph, FIELD_PIXEL), graph_field(graph, FIELD_Y),
        graph_within(graph, 0),          graph_dial(graph, 1, false, false, -INFINITY, INFINITY),
        graph_input(graph, INPUT_PIXELS)};
    for (size_t i = 0; i < sizeof leaves / sizeof leaves[0]; i++)
        add_number(made, leaves[i]);
    if (moving) {
        add_number(made, graph_dial(graph, 2, false, true, -INFINITY, INFINITY));
        add_number(made, graph_input(graph, INPUT_HOUR));
    }
    add_colour(made, graph_colour(graph, (Colour){1, 0.25f, 0}));
    add_colour(made, graph_colour(graph, (Colour){0, 0, 0}));
    add_colour(made, graph_dial(graph, LIGHT_DIAL, true, false, 0, 0));
}

static Value any_ramp(Graph *graph, const Made *made, bool colour) {
    static const Easing ease = {.kind = EASING_BEZIER, .bezier = {0.25, 0.1, 0.25, 1}};
    GraphStop stops[4];
    uint32_t count = 2 + (uint32_t)(chance() % 3);
    for (uint32_t i = 0; i < count; i++) {
        stops[i].place = chance() % 4 ? graph_number(graph, i / (count - 1.0)) : any_number(made);
        stops[i].value = colour ? any_colour(made) : any_number(made);
        stops[i].easing = chance() % 3 ? EASING_NONE : graph_easing(graph, &ease);
    }
    Value place = one(graph, OP_UNIT, any_number(made));
    return graph_ramp(graph, colour, chance() % 4 == 0, colour ? SPACE_OKLAB : 0, stops, count,
                      place);
}

static Value any_operation(Graph *graph, const Made *made, bool colour) {
    for (;;) {
        Operation operation = (Operation)(chance() % OPERATION_COUNT);
        if ((operation_result(operation) == 'c') != colour ||
            operation_form(operation) == FORM_CONTEXT || operation_result(operation) == '-')
            continue;
        if (operation == OP_AND || operation == OP_OR || operation == OP_NOT)
            continue; /* of truths only */
        Value operands[4] = {0};
        for (unsigned i = 0; i < 4 && operation_operand(operation, i); i++)
            operands[i] =
                operation_operand(operation, i) == 'c' ? any_colour(made) : any_number(made);
        uint16_t k = operation == OP_COLOUR_BLEND     ? SPACE_OKLAB
                     : operation_has_index(operation) ? SALT_RANDOM
                                                      : 0;
        return graph_operation(graph, operation, operands[0], operands[1], operands[2], operands[3],
                               k);
    }
}

static Value random_light(Graph *graph, bool moving) {
    Made made = {.number_count = 0};
    add_leaves(graph, &made, moving);
    if (moving || chance() % 2)
        add_clocks(graph, &made);
    int numbers = 1 + (int)(chance() % 30), colours = 2 + (int)(chance() % 20);
    for (int i = 0; i < numbers; i++)
        add_number(&made, chance() % 8 ? any_operation(graph, &made, false)
                                       : any_ramp(graph, &made, false));
    for (int i = 0; i < colours; i++)
        add_colour(&made,
                   chance() % 6 ? any_operation(graph, &made, true) : any_ramp(graph, &made, true));
    assert_int_equal(graph_trouble(graph), GRAPH_FINE);
    return made.colours[made.colour_count - 1];
}

static void test_code_is_the_graph(void **state) {
    (void)state;
    TestScene scene;
    scene_ring(&scene, PIXELS);
    int kept = 0, settles = 0;
    for (int i = 0; i < 1200; i++) {
        Graph *graph = graph_create();
        assert_non_null(graph);
        Value light = random_light(graph, i % 2);
        Program *program = around(graph, light);
        check_frames(graph, light, program, &scene);
        check_rest(program, &scene);
        kept += program->routines[0].code.kept_numbers + program->routines[0].code.kept_colours > 0;
        settles += program->routines[0].code.stillness == STILL_SETTLES;
        program_free(program);
        graph_free(graph);
    }
    scene_free(&scene);
    assert_true(kept > 100 && settles > 50); /* the random graphs are of all sorts */
}

static void test_the_same_code_every_time(void **state) {
    (void)state;
    for (int i = 0; i < 50; i++) {
        unsigned char *bytes[2];
        size_t lengths[2];
        uint64_t seed = chance_state;
        for (int run = 0; run < 2; run++) {
            chance_state = seed;
            Graph *graph = graph_create();
            Program *program = around(graph, random_light(graph, true));
            assert_true(bytecode_write(program, &bytes[run], &lengths[run]));
            program_free(program);
            graph_free(graph);
        }
        assert_int_equal(lengths[0], lengths[1]);
        assert_memory_equal(bytes[0], bytes[1], lengths[0]);
        memory_release(bytes[0]);
        memory_release(bytes[1]);
    }
}

/* -------- sections -------- */

static uint32_t count_operation(const Code *code, Section section, Operation operation) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < code->lengths[section]; i++)
        count += code->sections[section][i].op == operation;
    return count;
}

static void test_time_leaves_no_pixel_work(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Value place = two(graph, OP_PHASE, graph_input(graph, INPUT_T), graph_number(graph, 4e6));
    Value light = two(graph, OP_COLOUR_SCALE, graph_colour(graph, (Colour){1, 0.5f, 0}),
                      one(graph, OP_SINE, place));
    Program *program = around(graph, light);
    const Code *code = &program->routines[0].code;
    assert_false(code->result_each);
    assert_int_equal(code->lengths[SECTION_PIXEL], 0);
    assert_int_equal(code->lengths[SECTION_FRAME_SPREAD], 0);
    assert_int_equal(code->lengths[SECTION_EACH], 0);
    assert_int_equal(code->lengths[SECTION_FRAME], 4);
    assert_int_equal(code->stillness, STILL_NEVER);
    program_free(program);
    graph_free(graph);
}

static void test_nothing_moving_leaves_no_frame_work(void **state) {
    (void)state;
    for (int i = 0; i < 200; i++) {
        Graph *graph = graph_create();
        Made made = {.number_count = 0};
        add_leaves(graph, &made, false);
        for (int j = 0; j < 12; j++)
            add_number(&made, any_operation(graph, &made, false));
        for (int j = 0; j < 6; j++)
            add_colour(&made, any_operation(graph, &made, true));
        Program *program = around(graph, made.colours[made.colour_count - 1]);
        const Code *code = &program->routines[0].code;
        assert_int_equal(code->stillness, STILL_ALWAYS);
        assert_int_equal(code->lengths[SECTION_FRAME], 0);
        assert_int_equal(code->lengths[SECTION_FRAME_SPREAD], 0);
        assert_int_equal(code->lengths[SECTION_PIXEL], code->result_each ? 1 : 0);
        assert_int_equal(count_operation(code, SECTION_PIXEL, OP_KEPT_LIGHT),
                         code->result_each ? 1 : 0);
        program_free(program);
        graph_free(graph);
    }
}

static void test_pixel_work_that_rests_is_kept(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Value hash =
        graph_operation(graph, OP_HASH1, graph_field(graph, FIELD_PIXEL), 0, 0, 0, SALT_RANDOM);
    Value delay =
        one(graph, OP_MICROSECONDS, two(graph, OP_MULTIPLY, hash, graph_number(graph, 3e6)));
    Value clock =
        one(graph, OP_MICROSECONDS, two(graph, OP_SUBTRACT, graph_input(graph, INPUT_T), delay));
    Value place = two(graph, OP_PHASE, clock, graph_number(graph, 4e6));
    Value light = two(graph, OP_COLOUR_SCALE, graph_colour(graph, (Colour){1, 0.5f, 0}), place);
    light = two(graph, OP_COLOUR_SCALE, light, graph_field(graph, FIELD_POS));
    Program *program = around(graph, light);
    const Code *code = &program->routines[0].code;
    assert_int_equal(code->kept_numbers, 1); /* the delay; the field is read where it is wanted */
    assert_int_equal(count_operation(code, SECTION_EACH, OP_HASH1), 1);
    assert_int_equal(count_operation(code, SECTION_PIXEL, OP_HASH1), 0);
    assert_int_equal(count_operation(code, SECTION_PIXEL, OP_FIELD), 1);
    assert_int_equal(count_operation(code, SECTION_PIXEL, OP_KEPT), 1);
    assert_int_equal(code->lengths[SECTION_FRAME], 1); /* t */
    program_free(program);
    graph_free(graph);
}

static void test_chain_of_choices_takes_few_registers(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Value pixel = graph_field(graph, FIELD_PIXEL), t = graph_input(graph, INPUT_T);
    Value value = two(graph, OP_ADD, pixel, t);
    for (int i = 0; i < 100; i++) {
        Value here = two(graph, OP_LESS, two(graph, OP_ADD, t, pixel), graph_number(graph, i));
        value = three(graph, OP_SELECT, here, two(graph, OP_MULTIPLY, pixel, t), value);
        value = two(graph, OP_ADD, two(graph, OP_SUBTRACT, t, pixel), value);
    }
    Value light = two(graph, OP_COLOUR_SCALE, graph_colour(graph, (Colour){1, 1, 1}), value);
    Program *program = around(graph, light);
    /* 102 spread for good, a few that move */
    assert_in_range(program->routines[0].code.pixel_numbers, 1, 110);
    program_free(program);
    graph_free(graph);
}

/* -------- limits -------- */

static Value many_colours(Graph *graph, int count) {
    Value sum = graph_dial(graph, LIGHT_DIAL, true, false, 0, 0);
    for (int i = 0; i < count; i++)
        sum = two(graph, OP_COLOUR_SCALE, sum, graph_number(graph, 1.5));
    return sum;
}

static void test_limit_of_instructions(void **state) {
    (void)state;
    Graph *graph = graph_create();
    Code code;
    Program *program = around(graph, many_colours(graph, LIMIT_INSTRUCTIONS - 1));
    assert_int_equal(program->routines[0].code.lengths[SECTION_SET], LIMIT_INSTRUCTIONS);
    program_free(program);
    unsigned long live = memory_live();
    assert_int_equal(emit_code(graph, many_colours(graph, LIMIT_INSTRUCTIONS), &code),
                     EMIT_TOO_MANY_INSTRUCTIONS);
    assert_int_equal(memory_live(), live);
    assert_null(code.sections[SECTION_SET]);
    graph_free(graph);
}

static void test_limit_of_registers(void **state) {
    (void)state;
    for (int past = 0; past < 2; past++) {
        Graph *graph = graph_create();
        Value sum = graph_dial(graph, 0, false, false, -INFINITY, INFINITY);
        /* each constant holds a register; beside them the sum before and after, and no more */
        for (int i = 0; i < LIMIT_REGISTERS - 2 + past; i++)
            sum = two(graph, OP_ADD, sum, graph_number(graph, 1.0 + i));
        Value light = two(graph, OP_COLOUR_SCALE, graph_colour(graph, (Colour){1, 1, 1}), sum);
        Code code;
        EmitTrouble trouble = emit_code(graph, light, &code);
        assert_int_equal(trouble, past ? EMIT_TOO_MANY_REGISTERS : EMIT_FINE);
        if (trouble == EMIT_FINE) {
            assert_int_equal(code.frame_numbers, LIMIT_REGISTERS);
            Program *program = build_program();
            build_routine(program, "dawn")->code = code;
            program_free(program);
        }
        graph_free(graph);
    }
}

static Value many_ramps(Graph *graph, int count, bool eased) {
    Value t = graph_input(graph, INPUT_T), sum = 0;
    for (int i = 0; i < count; i++) {
        Easing ease = {.kind = EASING_BEZIER, .bezier = {0, i * 0.001, 1, 1}};
        Value next;
        if (eased) {
            next = graph_ease(graph, graph_easing(graph, &ease), t);
        } else {
            GraphStop stops[3];
            for (int j = 0; j < 3; j++)
                stops[j] = (GraphStop){graph_number(graph, j * 0.5),
                                       graph_number(graph, j == 1 ? i : 0), EASING_NONE};
            next = graph_ramp(graph, false, false, 0, stops, 3, t);
        }
        sum = sum ? two(graph, OP_ADD, sum, next) : next;
    }
    return two(graph, OP_COLOUR_SCALE, graph_colour(graph, (Colour){1, 1, 1}), sum);
}

static void check_limit(bool eased, int count, EmitTrouble wanted) {
    Graph *graph = graph_create();
    Code code;
    Value light = many_ramps(graph, count, eased);
    assert_int_equal(graph_trouble(graph), GRAPH_FINE);
    assert_int_equal(emit_code(graph, light, &code), wanted);
    if (wanted == EMIT_FINE) {
        assert_int_equal(eased ? code.easing_count : code.ramp_count, count);
        Program *program = build_program();
        build_routine(program, "dawn")->code = code;
        program_free(program);
    }
    graph_free(graph);
}

static void test_limits_of_ramps_and_easings(void **state) {
    (void)state;
    check_limit(false, LIMIT_RAMPS, EMIT_FINE);
    check_limit(false, LIMIT_RAMPS + 1, EMIT_TOO_MANY_RAMPS);
    check_limit(true, LIMIT_EASINGS, EMIT_FINE);
    check_limit(true, LIMIT_EASINGS + 1, EMIT_TOO_MANY_EASINGS);
}

static void test_every_allocation_may_fail(void **state) {
    (void)state;
    for (int i = 0; i < 3; i++) {
        bool fine = false;
        uint64_t seed = chance_state;
        for (unsigned long n = 1; !fine; n++) {
            unsigned long live = memory_live();
            chance_state = seed;
            Graph *graph = graph_create();
            Value light = random_light(graph, true);
            Program *program = build_program();
            RoutineInfo *routine = build_routine(program, "dawn");
            memory_fail_at(n);
            EmitTrouble trouble = emit_code(graph, light, &routine->code);
            memory_fail_at(0);
            fine = trouble == EMIT_FINE;
            assert_true(fine || trouble == EMIT_NO_MEMORY);
            program_free(program);
            graph_free(graph);
            assert_int_equal(memory_live(), live);
            assert_true(n < 2000);
        }
    }
}

/* -------- programs as text -------- */

static const Code *code_of(Compilation *compilation) {
    const Program *program = lang_program(compilation);
    if (!program) {
        diagnostics_print(lang_diagnostics(compilation), stderr, false);
        fail_msg("does not compile");
    }
    char message[300] = "";
    if (!verify_program(program, message, sizeof message))
        fail_msg("%s", message);
    return &program->routines[0].code;
}

typedef struct RestCase {
    const char *text;
    double still; /* microseconds on a ring of 16, INFINITY never */
} RestCase;

/* Each time follows from the text by hand: the last `over` ends, the last truth is decided. */
static const RestCase rests[] = {
    {"routine r { paint gold }", 0},
    {"routine r { paint red -> blue along pos }", 0},
    {"routine r { paint black -> gold over 30min }", 1800e6},
    {"routine r { paint black -> gold every 4s }", INFINITY},
    {"routine r { paint gold * (hour / 24) }", INFINITY},
    {"routine r { paint (black -> gold over 2s) delayed 3s }", 5e6},
    {"routine r { paint ((black -> gold over 2s) delayed 3s) delayed 1s }", 6e6},
    /* the last of 16 pixels: 0.5 + 15 spans of 1/16 of 16 s, so 15.5 s, and 2 s more */
    {"routine r { paint (black -> gold over 2s) delayed pos * 16s }", 17.5e6},
    {"routine r { paint (black -> 2700K over 600ms) delayed floor(pos * 15) * 400ms }", 6.2e6},
    {"routine r lasts 10min { paint black -> gold throughout }", 600e6},
    {"routine r lasts 10min { paint black -> gold every 4s }", 600e6},
    {"routine r lasts 20min { paint gold where (1 - progress) * pixels - pixel }", 1200e6},
    {"routine r lasts 4s { paint (black -> gold over 2s ease-out) delayed pos * 1s }",
     2e6 + 968750},
    {"routine r { paint gold where t < 3s }", 3e6},
    {"routine r { paint gold where t > 3s }", 3e6 + 1},
    {"routine r { paint gold where t >= 3s }", 3e6},
    {"routine r { paint gold where t <= 3s }", 3e6 + 1},
    /* once the truth is decided, what it hides may go on */
    {"routine r { paint if t < 3s then (red | black every 1s) else gold }", 3e6},
    {"routine r { paint if t < 3s then gold else (red | black every 1s) }", INFINITY},
    {"routine r { paint red | black every 1s where t < 5s and pos < 0.5 }", 5e6},
    {"routine r { paint red | black every 1s  paint gold where 0 -> 1 over 9s }", 9e6},
    {"routine r { paint gold -> red over 2s  paint black -> teal over 7s where pos < 0.3 }", 7e6},
    {"routine a { paint b delayed 2s } routine b lasts 5s { paint black -> gold throughout }", 7e6},
    {"dial pace = 4s from 1s to 9s routine r { paint black -> gold over pace }", 4e6},
    /* What glides a dial that was set knows until when. */
    {"dial glow = 40% from 0% to 100% eased 2s routine r { paint gold * glow }", 0},
};

static void test_rest_of_programs(void **state) {
    (void)state;
    TestScene scene;
    scene_ring(&scene, 16);
    float before[48], at[48], after[48];
    for (size_t i = 0; i < sizeof rests / sizeof rests[0]; i++) {
        Compilation *compilation = compile_text(rests[i].text);
        const Code *code = code_of(compilation);
        DialValue dial = {.number = 4e6};
        Vm *vm = vm_create(code, &scene.scene, &dial);
        assert_non_null(vm);
        if (vm_still_from(vm) != rests[i].still)
            fail_msg("%s: rests at %.0f us", rests[i].text, vm_still_from(vm));
        if (isfinite(rests[i].still) && rests[i].still > 0) {
            Moment moment = moment_at(rests[i].still - 1);
            vm_render(vm, &moment, before);
            moment.input[INPUT_T] += 1;
            vm_render(vm, &moment, at);
            moment.input[INPUT_T] += 86400e6;
            vm_render(vm, &moment, after);
            assert_memory_equal(at, after, sizeof at);
        }
        vm_free(vm);
        lang_free(compilation);
    }
    scene_free(&scene);
}

typedef struct ShapeCase {
    const char *text;
    uint32_t set, each, frame, pixel; /* instructions */
} ShapeCase;

/* What typical routines cost; the figures were counted by hand from the operations that each
 * needs, and keep the code from growing unseen. */
static const ShapeCase shapes[] = {
    {"routine r { paint gold }", 0, 0, 0, 0},
    /* ready; t phase back ramp */
    {"routine r { paint black -> 2700K and back every 8s ease-in-out }", 1, 0, 4, 0},
    /* t phase, two places reached, two choices */
    {"routine r { paint red | lime | blue for 1s each }", 0, 0, 6, 0},
    /* pixels; t / 10s * pixels; field - unit scale */
    {"routine r { paint gold where t / 10s * pixels - pixel }", 1, 0, 3, 4},
    /* ready; pos * 4s, whole, kept; t; delay, t - delay, whole, phase, ramp */
    {"routine r { paint (gold -> black at 20% -> black every 4s) delayed pos * 4s }", 1, 4, 1, 5},
    /* the turn of each pixel differs by its angle alone */
    {"routine r { paint oklch(75%, 0.12, angle + t / 30s * 1turn) }", 0, 0, 2, 3},
    /* field mod, two reached, two choices, kept; kept */
    {"routine r { paint in_turn(pixel, red, white, lime) }", 0, 7, 0, 1},
};

static void test_size_of_programs(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        Compilation *compilation = compile_text(shapes[i].text);
        const Code *code = code_of(compilation);
        const uint32_t *lengths = code->lengths;
        if (lengths[SECTION_SET] != shapes[i].set || lengths[SECTION_EACH] != shapes[i].each ||
            lengths[SECTION_FRAME] != shapes[i].frame || lengths[SECTION_PIXEL] != shapes[i].pixel)
            fail_msg("%s: set %u, each %u, frame %u, pixel %u", shapes[i].text,
                     lengths[SECTION_SET], lengths[SECTION_EACH], lengths[SECTION_FRAME],
                     lengths[SECTION_PIXEL]);
        uint32_t count;
        const RoutineCost *cost = lang_costs(compilation, &count);
        assert_int_equal(count, 1);
        assert_int_equal(cost->total.pixel, shapes[i].pixel);
        assert_int_equal(cost->total.frame, shapes[i].frame);
        lang_free(compilation);
    }
}

int main(void) {
    chance_state = 3;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_code_is_the_graph),
        cmocka_unit_test(test_the_same_code_every_time),
        cmocka_unit_test(test_time_leaves_no_pixel_work),
        cmocka_unit_test(test_nothing_moving_leaves_no_frame_work),
        cmocka_unit_test(test_pixel_work_that_rests_is_kept),
        cmocka_unit_test(test_chain_of_choices_takes_few_registers),
        cmocka_unit_test(test_limit_of_instructions),
        cmocka_unit_test(test_limit_of_registers),
        cmocka_unit_test(test_limits_of_ramps_and_easings),
        cmocka_unit_test(test_every_allocation_may_fail),
        cmocka_unit_test(test_rest_of_programs),
        cmocka_unit_test(test_size_of_programs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
