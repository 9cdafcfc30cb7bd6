/* The rules of section 5 of spec/bytecode.md, each broken in a program built by hand: refused, and
 * with the words that tell which rule it was. */
#include "tests/vm/build.h"

#include <math.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"

/* Frame numbers: 0 .. 2 constants, 3 the dial, 4 a product, 5 t, 6 a phase. Frame colours: 0, 1
 * constants, 2 the dial. Pixel numbers: 0 spread, 1 .. 4. Pixel colours: 0 spread, 1, 2. */
static Program *sound_program(void) {
    Program *program = build_program();
    DialInfo *dial = build_dial(program, "warmth", DIAL_NUMBER);
    *dial = (DialInfo){dial->name, build_text("Wärme"), DIAL_NUMBER, true, true, 0.0, 1.0,
                       0.5,        {0, 0, 0},           2e6,         true};
    build_dial(program, "tint", DIAL_COLOUR);
    build_dial(program, "pace", DIAL_DURATION);
    build_dial(program, "lit", DIAL_TRUTH);
    build_event(program, "bell", "The oven's bell");
    build_event(program, "door", NULL);
    build_group(program, "window");
    build_group(program, "attic");
    RoutineInfo *routine = build_routine(program, "glow");
    routine->lasts = 60e6;
    routine->then = 1;
    Code *code = &routine->code;
    uint16_t zero = build_number(code, 0.0), one = build_number(code, 1.0);
    uint16_t second = build_number(code, 1e6);
    uint16_t red = build_colour(code, 1, 0, 0), blue = build_colour(code, 0, 0, 1);
    code->frame_numbers = 7;
    code->frame_colours = 3;
    code->pixel_numbers = 5;
    code->pixel_colours = 3;
    code->kept_numbers = code->kept_colours = 1;
    build_easing(code, (Easing){.kind = EASING_BEZIER, .bezier = {0.25, 0.1, 0.25, 1.0}});
    build_easing(code, (Easing){.kind = EASING_STEPS, .jump = JUMP_END, .count = 4});
    Easing linear = {.kind = EASING_LINEAR, .count = 2};
    linear.points = memory_allocate(4, sizeof(double));
    assert_non_null(linear.points);
    linear.points[2] = linear.points[3] = 1.0;
    build_easing(code, linear);
    uint16_t colours = build_ramp(code, true, BLEND_CODE(SPACE_OKLCH, HUE_LONGER));
    build_stop(code, colours, zero, red, 0);
    build_stop(code, colours, one, 2, EASING_NONE);
    uint16_t numbers = build_ramp(code, false, 0);
    build_stop(code, numbers, zero, one, EASING_NONE);
    build_stop(code, numbers, one, 3, EASING_NONE);
    EMIT(code, SET, DIAL, .dst = 3, .k = 0);
    EMIT(code, SET, DIAL_LIGHT, .dst = 2, .k = 1);
    EMIT(code, SET, MULTIPLY, .dst = 4, .a = 3, .b = second);
    EMIT(code, SET, RAMP_READY, .k = colours);
    EMIT(code, SET, RAMP_READY, .k = numbers);
    EMIT(code, SET_SPREAD, SPREAD, .dst = 0, .a = 4);
    EMIT(code, EACH, FIELD, .dst = 1, .k = FIELD_POS);
    EMIT(code, EACH, MULTIPLY, .dst = 2, .a = 0, .b = 1);
    EMIT(code, EACH, KEEP, .a = 2, .k = 0);
    EMIT(code, EACH, RAMP_COLOUR, .dst = 1, .a = 1, .k = colours);
    EMIT(code, EACH, KEEP_LIGHT, .a = 1, .k = 0);
    EMIT(code, FRAME, INPUT, .dst = 5, .k = INPUT_T);
    EMIT(code, FRAME, PHASE, .dst = 6, .a = 5, .b = 4);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 0, .a = 6);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 0, .a = blue);
    EMIT(code, PIXEL, KEPT, .dst = 1, .k = 0);
    EMIT(code, PIXEL, WITHIN, .dst = 2, .k = 0);
    EMIT(code, PIXEL, EASE, .dst = 3, .a = 0, .k = 0);
    EMIT(code, PIXEL, HASH1, .dst = 4, .a = 1, .k = SALT_RANDOM);
    EMIT(code, PIXEL, KEPT_LIGHT, .dst = 1, .k = 0);
    EMIT(code, PIXEL, COLOUR_BLEND, .dst = 2, .a = 0, .b = 1, .c = 3, .k = SPACE_OKLAB);
    code->result_each = true;
    code->result = 2;
    code->stillness = STILL_SETTLES;
    code->settle_each = true;
    RoutineInfo *rest = build_routine(program, "rest");
    build_colour(&rest->code, 0, 0, 0);
    rest->code.frame_colours = 1;
    return program;
}

static Code *code_of(Program *p) {
    return &p->routines[0].code;
}

static Instruction *at(Program *p, Section section, uint32_t index) {
    assert_true(index < code_of(p)->lengths[section]);
    return &code_of(p)->sections[section][index];
}

/* A text of `length` letters in the place of another. */
static void lengthen(char **text, size_t length) {
    memory_release(*text);
    *text = memory_allocate(length + 1, 1);
    assert_non_null(*text);
    memset(*text, 'a', length);
}

static void replace(char **text, const char *other) {
    memory_release(*text);
    *text = build_text(other);
}

#define SPOILT(name, statement)                                                                    \
    static void name(Program *p) {                                                                 \
        statement;                                                                                 \
    }
#define IT(section, index) at(p, SECTION_##section, index)

/* 3: names and labels */
SPOILT(name_empty, replace(&p->dials[0].name, ""))
SPOILT(name_digit, replace(&p->groups[0], "1st"))
SPOILT(name_two_points, replace(&p->events[0].name, "a..b"))
SPOILT(name_point_last, replace(&p->events[0].name, "a."))
SPOILT(name_foreign, replace(&p->dials[0].name, "w\xC3\xA4rme"))
SPOILT(name_long, lengthen(&p->groups[0], LIMIT_NAME_BYTES + 1))
SPOILT(dial_twice, replace(&p->dials[1].name, "warmth"))
SPOILT(event_twice, replace(&p->events[1].name, "bell"))
SPOILT(group_twice, replace(&p->groups[1], "window"))
SPOILT(label_long, lengthen(&p->dials[0].label, LIMIT_TEXT_BYTES + 1))
SPOILT(label_stray, replace(&p->dials[0].label, "oven \x80"))
SPOILT(label_cut, replace(&p->dials[0].label, "oven \xE2\x82"))
SPOILT(label_overlong, replace(&p->events[0].label, "\xC0\xAF"))
SPOILT(label_surrogate, replace(&p->events[0].label, "\xED\xA0\x80"))
SPOILT(label_beyond, replace(&p->events[0].label, "\xF4\x90\x80\x80"))
/* 4: dials */
SPOILT(dial_infinite, p->dials[2].number = INFINITY)
SPOILT(dial_colour_infinite, p->dials[1].colour.g = NAN)
SPOILT(dial_truth_half, p->dials[3].number = 0.5)
SPOILT(dial_duration_half, p->dials[2].number = 0.5)
SPOILT(dial_range_of_truth, p->dials[3].ranged = true)
SPOILT(dial_percent_of_duration, p->dials[2].percent = true)
SPOILT(dial_below, p->dials[0].number = -0.1)
SPOILT(dial_eased_half, p->dials[0].eased = 0.5)
SPOILT(dial_eased_backward, p->dials[0].eased = -1e6)
/* 5: routines */
SPOILT(lasts_negative, p->routines[0].lasts = -1)
SPOILT(lasts_endless, p->routines[0].lasts = 2 * LIMIT_MICROSECONDS)
/* 6 .. 8: tables */
SPOILT(constant_colour_infinite, code_of(p)->colours[1].b = INFINITY)
SPOILT(bezier_infinite, code_of(p)->easings[0].bezier[1] = NAN)
SPOILT(bezier_wide, code_of(p)->easings[0].bezier[2] = 1.5)
SPOILT(steps_none, code_of(p)->easings[1].count = 0)
SPOILT(steps_many, code_of(p)->easings[1].count = LIMIT_EASING_STEPS + 1)
SPOILT(steps_jump, code_of(p)->easings[1].jump = (Jump)4)
SPOILT(linear_one, code_of(p)->easings[2].count = 1)
SPOILT(linear_falls, code_of(p)->easings[2].points[2] = -1)
SPOILT(linear_infinite, code_of(p)->easings[2].points[3] = INFINITY)
SPOILT(ramp_hue_without_oklch, code_of(p)->ramps[0].blend = BLEND_CODE(SPACE_SRGB, HUE_LONGER))
SPOILT(ramp_blend_of_numbers, code_of(p)->ramps[1].blend = SPACE_SRGB)
/* 9: places of operations */
SPOILT(spread_in_frame, IT(FRAME, 1)->op = OP_SPREAD)
SPOILT(input_in_each, *IT(EACH, 0) = ((Instruction){.op = OP_INPUT, .dst = 1, .k = INPUT_PIXELS}))
SPOILT(dial_in_pixel, *IT(PIXEL, 0) = ((Instruction){.op = OP_DIAL, .dst = 1}))
SPOILT(ready_in_each, *IT(EACH, 0) = ((Instruction){.op = OP_RAMP_READY}))
SPOILT(field_in_set, *IT(SET, 0) = ((Instruction){.op = OP_FIELD, .dst = 3}))
SPOILT(within_in_frame, *IT(FRAME, 0) = ((Instruction){.op = OP_WITHIN, .dst = 5}))
SPOILT(kept_in_each, *IT(EACH, 0) = ((Instruction){.op = OP_KEPT, .dst = 1}))
SPOILT(keep_in_pixel, *IT(PIXEL, 4) = ((Instruction){.op = OP_KEEP_LIGHT}))
/* 10: registers */
SPOILT(each_reads_frame_spread, IT(EACH, 1)->a = 3)
SPOILT(pixel_reads_each, code_of(p)->lengths[SECTION_PIXEL] = 0)
SPOILT(colour_constant_written, IT(SET, 1)->dst = 1)
SPOILT(target_is_operand, IT(PIXEL, 5)->dst = 1)
/* 11: what the next run reads */
SPOILT(frame_writes_what_it_read, IT(FRAME, 0)->dst = 4;
       *IT(FRAME, 0) = ((Instruction){.op = OP_NEGATE, .dst = 5, .a = 4});
       *IT(FRAME, 1) = ((Instruction){.op = OP_NEGATE, .dst = 4, .a = 5}))
SPOILT(pixel_writes_what_it_read, IT(PIXEL, 3)->dst = 0)
SPOILT(spread_twice, *IT(FRAME_SPREAD, 1) = ((Instruction){.op = OP_SPREAD, .a = 5}))
/* 12: inputs and dials */
SPOILT(clock_unsaid, IT(FRAME, 0)->k = INPUT_HOUR)
SPOILT(moves_though_still, code_of(p)->stillness = STILL_ALWAYS)
SPOILT(dial_of_colour, IT(SET, 0)->k = 1)
SPOILT(dial_of_number, IT(SET, 1)->k = 0)
/* 13, 14: ramps and columns */
SPOILT(ready_twice, IT(SET, 4)->k = 0)
SPOILT(ready_too_early, *IT(SET, 1) = *IT(SET, 3))
SPOILT(ramp_of_numbers, IT(EACH, 3)->k = 1)
SPOILT(kept_twice, IT(EACH, 3)->op = OP_KEEP; IT(EACH, 3)->dst = 0)
SPOILT(never_kept, IT(EACH, 2)->op = OP_KEEP; code_of(p)->kept_numbers = 2; IT(PIXEL, 0)->k = 1)
SPOILT(column_beyond, IT(EACH, 2)->k = 1)
/* 15: indices */
SPOILT(easing_beyond, IT(PIXEL, 2)->k = 3)
SPOILT(group_beyond, IT(PIXEL, 1)->k = 2)
SPOILT(salt_none, IT(PIXEL, 3)->k = 0)
SPOILT(salt_beyond, IT(PIXEL, 3)->k = SALT_NOISE + 1)
SPOILT(blend_beyond, IT(PIXEL, 5)->k = BLEND_CODE_COUNT)
SPOILT(blend_hue, IT(PIXEL, 5)->k = BLEND_CODE(SPACE_SRGB, HUE_LONGER))
SPOILT(ramp_beyond, IT(EACH, 3)->k = 2)
SPOILT(operand_word, IT(SET, 0)->a = 1)
SPOILT(index_word, IT(SET, 2)->k = 1)
SPOILT(target_word, IT(EACH, 2)->dst = 1)
/* 16: light and rest */
SPOILT(light_of_each, code_of(p)->lengths[SECTION_PIXEL] = 5; code_of(p)->result = 2)
SPOILT(rest_not_kept, code_of(p)->settle = 1)
SPOILT(rest_of_frame, code_of(p)->settle_each = false; code_of(p)->settle = 6)

typedef struct Rule {
    const char *what;
    void (*spoil)(Program *program);
    const char *said;
} Rule;

#define RULE(name, said)                                                                           \
    { #name, name, said }

static const Rule rules[] = {
    RULE(name_empty, "dial 0 has no proper name"),
    RULE(name_digit, "group 0 has no proper name"),
    RULE(name_two_points, "event 0 has no proper name"),
    RULE(name_point_last, "event 0 has no proper name"),
    RULE(name_foreign, "dial 0 has no proper name"),
    RULE(name_long, "group 0 has no proper name"),
    RULE(dial_twice, "two dials are called warmth"),
    RULE(event_twice, "two events are called bell"),
    RULE(group_twice, "two groups are called window"),
    RULE(label_long, "the label of dial warmth"),
    RULE(label_stray, "the label of dial warmth"),
    RULE(label_cut, "the label of dial warmth"),
    RULE(label_overlong, "the label of event bell"),
    RULE(label_surrogate, "the label of event bell"),
    RULE(label_beyond, "the label of event bell"),
    RULE(dial_infinite, "dial pace holds a value that is not finite"),
    RULE(dial_colour_infinite, "dial tint holds a value that is not finite"),
    RULE(dial_truth_half, "neither 0 nor 1"),
    RULE(dial_duration_half, "no whole number of microseconds"),
    RULE(dial_range_of_truth, "has a range, which its type has not"),
    RULE(dial_percent_of_duration, "in percent but no number"),
    RULE(dial_below, "begins outside its range"),
    RULE(dial_eased_half, "glides for no whole number"),
    RULE(dial_eased_backward, "glides for no whole number"),
    RULE(lasts_negative, "lasts no whole number"),
    RULE(lasts_endless, "lasts no whole number"),
    RULE(constant_colour_infinite, "constant c1 is not finite"),
    RULE(bezier_infinite, "easing 0 is not finite"),
    RULE(bezier_wide, "easing 0 has an x outside 0..1"),
    RULE(steps_none, "easing 1 has 0 steps"),
    RULE(steps_many, "easing 1 has 1001 steps"),
    RULE(steps_jump, "easing 1 has an unknown jump"),
    RULE(linear_one, "easing 2 has 1 points"),
    RULE(linear_falls, "easing 2 has points out of order"),
    RULE(linear_infinite, "easing 2 has a point that is not finite"),
    RULE(ramp_hue_without_oklch, "ramp 0 has an unknown blend space"),
    RULE(ramp_blend_of_numbers, "ramp 1 has an unknown blend space"),
    RULE(spread_in_frame, "SPREAD has no place in this section"),
    RULE(input_in_each, "INPUT has no place in this section"),
    RULE(dial_in_pixel, "DIAL has no place in this section"),
    RULE(ready_in_each, "RAMP_READY has no place in this section"),
    RULE(field_in_set, "FIELD has no place in this section"),
    RULE(within_in_frame, "WITHIN has no place in this section"),
    RULE(kept_in_each, "KEPT has no place in this section"),
    RULE(keep_in_pixel, "KEEP_LIGHT has no place in this section"),
    RULE(each_reads_frame_spread, "reads register 3 before it is written"),
    RULE(pixel_reads_each, "the light is never written"),
    RULE(colour_constant_written, "writes over constant 1"),
    RULE(target_is_operand, "writes the register that it reads"),
    RULE(frame_writes_what_it_read, "writes over register 4, which the next run reads"),
    RULE(pixel_writes_what_it_read, "writes over register 0, which the next run reads"),
    RULE(spread_twice, "spreads to register 0 twice"),
    RULE(clock_unsaid, "reads no clock"),
    RULE(moves_though_still, "always still"),
    RULE(dial_of_colour, "dial 1 is of another type"),
    RULE(dial_of_number, "dial 0 is of another type"),
    RULE(ready_twice, "ramp 0 is made ready twice"),
    RULE(ready_too_early, "reads register 2 before it is written"),
    RULE(ramp_of_numbers, "ramp 1 is of another type"),
    RULE(kept_twice, "column 0 is kept twice"),
    RULE(never_kept, "column 1 is read but was never kept"),
    RULE(column_beyond, "kept column 1 is not there"),
    RULE(easing_beyond, "easing 3 is not there"),
    RULE(group_beyond, "group 2 is not there"),
    RULE(salt_none, "unknown salt"),
    RULE(salt_beyond, "unknown salt"),
    RULE(blend_beyond, "unknown blend space"),
    RULE(blend_hue, "unknown blend space"),
    RULE(ramp_beyond, "ramp 2 is not there"),
    RULE(operand_word, "a word without a meaning is not 0"),
    RULE(index_word, "a word without a meaning is not 0"),
    RULE(target_word, "a word without a meaning is not 0"),
    RULE(light_of_each, "the light is never written"),
    RULE(rest_not_kept, "the time of rest is not kept"),
    RULE(rest_of_frame, "the time of rest is not known"),
};

static void test_each_rule(void **state) {
    (void)state;
    char why[256];
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        Program *program = sound_program();
        if (!verify_program(program, why, sizeof why))
            fail_msg("expected the program to be sound: %s", why);
        rules[i].spoil(program);
        why[0] = '\0';
        if (verify_program(program, why, sizeof why))
            fail_msg("expected %s to be refused", rules[i].what);
        if (!strstr(why, rules[i].said))
            fail_msg("%s: expected \"%s\", not \"%s\"", rules[i].what, rules[i].said, why);
        program_free(program);
    }
    print_message("%zu rules broken\n", sizeof rules / sizeof *rules);
    assert_int_equal(memory_live(), 0);
}

/* At each limit: accepted; one past it: refused. */
static void test_limits(void **state) {
    (void)state;
    char why[256];
    for (int past = 0; past < 2; past++) {
        Program *program = sound_program();
        Code *code = code_of(program);
        while (code->ramps[1].count < LIMIT_STOPS + 1 + past)
            build_stop(code, 1, 1, 1, EASING_NONE);
        assert_int_equal(verify_program(program, why, sizeof why), !past);
        program_free(program);

        program = sound_program();
        while (code_of(program)->easing_count < LIMIT_EASINGS + (uint32_t)past)
            build_easing(code_of(program),
                         (Easing){.kind = EASING_STEPS, .jump = JUMP_END, .count = 1});
        assert_int_equal(verify_program(program, why, sizeof why), !past);
        program_free(program);

        program = sound_program();
        code_of(program)->pixel_colours = (uint16_t)(LIMIT_REGISTERS + past);
        assert_int_equal(verify_program(program, why, sizeof why), !past);
        program_free(program);

        program = sound_program();
        code_of(program)->kept_colours = (uint16_t)(LIMIT_REGISTERS + past);
        assert_int_equal(verify_program(program, why, sizeof why), !past);
        program_free(program);

        program = sound_program();
        code = code_of(program);
        uint32_t total = 0;
        for (int section = 0; section < SECTION_COUNT; section++)
            total += code->lengths[section];
        for (; total < LIMIT_INSTRUCTIONS + (uint32_t)past; total++)
            EMIT(code, FRAME, NEGATE, .dst = 6, .a = 5);
        assert_int_equal(verify_program(program, why, sizeof why), !past);
        program_free(program);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_each_rule),
                                       cmocka_unit_test(test_limits)};
    return cmocka_run_group_tests_name("rules", tests, NULL, NULL);
}
