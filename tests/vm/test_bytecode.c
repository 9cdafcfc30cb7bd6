/* Bytecode as bytes, and the check that the machine relies on. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/vm/vm.h"
#include "tests/lang/memory_reader.h"
#include "tests/support/chance.h"

/* Uses every kind of thing that a program can hold. */
static const char *const RICH =
    "dial warmth = 40% from 0% to 100% \"How warm\"\ndial pace = 2s from 1s to 9s\n"
    "dial lit = true\ndial tint = gold eased 2s\nevent bell \"A bell\"\n"
    "lamp l { pixels 9 group mine 1..2, 5 }\n"
    "routine a lasts 5min then b {\n"
    "  paint (black -> tint at 30% ease-in -> #203040 every pace in oklch longer hue) delayed pos "
    "* 3s\n"
    "  paint in_turn(pixel, red, tint, teal) * warmth blended screen where within(mine) and lit\n"
    "  paint white * noise(pixel, t / 1s) blended plus-lighter where 0 -> 1 over 3s steps(4, "
    "jump-end)\n"
    "  paint hsl(angle, 50%, warmth) where random(pixel, tick(pace)) < 0.1\n}\n"
    "routine b { paint gold | red along ease(pos, linear(0, 0.3 40%, 1)) }\n"
    "routine c { paint red * warmth }\nroutine d { paint a where hour / 24 }\n";

static Program *compile(const char *text) {
    Compilation *compilation = compile_text(text);
    Program *program = lang_take_program(compilation);
    if (!program)
        diagnostics_print(lang_diagnostics(compilation), stderr, false);
    assert_non_null(program);
    lang_free(compilation);
    return program;
}

static unsigned char *bytes_of(const Program *program, size_t *length) {
    unsigned char *bytes;
    assert_true(bytecode_write(program, &bytes, length));
    return bytes;
}

static void test_round_trip(void **state) {
    (void)state;
    Program *program = compile(RICH);
    size_t length, again_length;
    unsigned char *bytes = bytes_of(program, &length);
    char why[200];
    assert_true(bytecode_is(bytes, length));
    assert_false(bytecode_is((const unsigned char *)"routine a {", 11));
    Program *read = bytecode_read(bytes, length, why, sizeof why);
    if (!read)
        fail_msg("expected own bytes to be read: %s", why);
    unsigned char *again = bytes_of(read, &again_length);
    assert_int_equal(again_length, length);
    assert_memory_equal(again, bytes, length);
    memory_release(bytes);
    memory_release(again);
    program_free(read);
    program_free(program);
}

static void test_every_cut_is_refused(void **state) {
    (void)state;
    Program *program = compile(RICH);
    size_t length;
    unsigned char *bytes = bytes_of(program, &length);
    char why[200];
    for (size_t cut = 0; cut < length; cut++) {
        /* A copy of that very size, so that sanitizers see a read behind it. */
        unsigned char *copy = malloc(cut ? cut : 1);
        memcpy(copy, bytes, cut);
        why[0] = '\0';
        if (bytecode_read(copy, cut, why, sizeof why) || !why[0])
            fail_msg("expected %zu of %zu bytes to be refused with a reason", cut, length);
        free(copy);
    }
    memory_release(bytes);
    program_free(program);
}

/* CRC-32 of ISO 3309, as spec/bytecode.md names it. */
static uint32_t crc(const unsigned char *bytes, size_t length) {
    uint32_t sum = 0xFFFFFFFFu;
    for (size_t i = 0; i < length; i++) {
        sum ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            sum = sum & 1 ? sum >> 1 ^ 0xEDB88320u : sum >> 1;
    }
    return ~sum;
}

enum { HEAD = 20, SUM_AT = 16 };

static void run(const Program *program) {
    DialValue *dials = dial_defaults(program);
    for (uint16_t i = 0; i < program->routine_count; i++) {
        static const uint32_t COUNTS[] = {1, 63, 65};
        for (int k = 0; k < 3; k++) {
            ShapeRequest request = {.form = FORM_RING, .pixels = COUNTS[k]};
            Lamp lamp;
            float light[3 * 65];
            assert_true(lamp_make(&lamp, program, &request, NULL));
            Vm *vm = vm_create(&program->routines[i].code, &lamp.scene, dials);
            assert_non_null(vm);
            for (int frame = -1; frame < 3; frame++)
                vm_render(vm, &(Moment){{[INPUT_T] = frame * 777777.0, [INPUT_HOUR] = 3}}, light);
            vm_free(vm);
            lamp_free(&lamp);
        }
    }
    memory_release(dials);
}

/* A byte changed anywhere, the sum made right again: refused, or it runs like any other. */
static void test_changed_bytes_are_refused_or_harmless(void **state) {
    (void)state;
    Program *program = compile(RICH);
    size_t length;
    unsigned char *bytes = bytes_of(program, &length);
    assert_int_equal(crc((const unsigned char *)"123456789", 9), 0xCBF43926u);
    char why[200];
    unsigned accepted = 0, refused = 0;
    bytes[HEAD + 5] ^= 1;
    assert_null(bytecode_read(bytes, length, why, sizeof why)); /* the sum notices */
    bytes[HEAD + 5] ^= 1;
    for (int turn = 0; turn < 6000; turn++) {
        size_t at = HEAD + chance_index(length - HEAD);
        unsigned char old = bytes[at];
        bytes[at] = (unsigned char)chance();
        uint32_t sum = crc(bytes + HEAD, length - HEAD);
        for (int i = 0; i < 4; i++)
            bytes[SUM_AT + i] = (unsigned char)(sum >> 8 * i);
        Program *read = bytecode_read(bytes, length, why, sizeof why);
        if (read)
            run(read);
        accepted += read != NULL;
        refused += read == NULL;
        program_free(read);
        bytes[at] = old;
    }
    print_message("%u changes refused, %u accepted and run\n", refused, accepted);
    assert_true(accepted > 100 && refused > 1000);
    memory_release(bytes);
    program_free(program);
}

/* ---- one spoilt program a rule ---- */

typedef struct Spoilt {
    const char *what;
    void (*spoil)(Program *program);
} Spoilt;

static Code *code_of(Program *program) {
    return &program->routines[0].code;
}

/* The first instruction of a section. */
static Instruction *first(Program *program, Section section) {
    assert_true(code_of(program)->lengths[section] > 0);
    return code_of(program)->sections[section];
}

static Instruction *find(Program *program, Section section, Operation operation) {
    Code *code = code_of(program);
    for (uint32_t i = 0; i < code->lengths[section]; i++)
        if (code->sections[section][i].op == operation)
            return &code->sections[section][i];
    fail_msg("expected section %d to hold operation %d", section, operation);
    return NULL;
}

static Ramp *ramp_of(Program *program) {
    assert_true(code_of(program)->ramp_count > 0);
    return &code_of(program)->ramps[0];
}

static Easing *easing_of(Program *program) {
    assert_true(code_of(program)->easing_count > 0);
    return &code_of(program)->easings[0];
}

#define SPOIL(name, statement)                                                                     \
    static void name(Program *p) {                                                                 \
        statement;                                                                                 \
    }
SPOIL(op_unknown, first(p, SECTION_PIXEL)->op = OPERATION_COUNT)
SPOIL(op_misplaced, first(p, SECTION_FRAME)->op = OP_FIELD)
SPOIL(op_not_spread, first(p, SECTION_FRAME_SPREAD)->op = OP_NEGATE)
SPOIL(keep_in_pixel, first(p, SECTION_PIXEL)->op = OP_KEEP)
SPOIL(register_too_large, first(p, SECTION_PIXEL)->dst = 60000)
SPOIL(source_too_large, first(p, SECTION_FRAME_SPREAD)->a = 60000)
SPOIL(constant_written, first(p, SECTION_FRAME)->dst = 0)
SPOIL(word_without_meaning, first(p, SECTION_PIXEL)->spare = 1)
SPOIL(input_unknown, find(p, SECTION_FRAME, OP_INPUT)->k = INPUT_COUNT)
SPOIL(input_moves_in_set, {
    Instruction *it = find(p, SECTION_SET, OP_DIAL);
    it->op = OP_INPUT;
    it->k = INPUT_T;
})
SPOIL(field_unknown, find(p, SECTION_PIXEL, OP_FIELD)->k = FIELD_COUNT)
SPOIL(dial_unknown, find(p, SECTION_SET, OP_DIAL)->k = 99)
SPOIL(dial_unused, p->dials[0].used = false)
SPOIL(undefined_read, {
    Code *code = code_of(p);
    code->lengths[SECTION_FRAME_SPREAD] = 0;
})
SPOIL(source_is_destination, {
    Instruction *it = find(p, SECTION_FRAME, OP_PHASE);
    it->a = it->dst;
})
SPOIL(result_unwritten, code_of(p)->lengths[SECTION_PIXEL] = 0)
SPOIL(result_too_large, code_of(p)->result = 60000)
SPOIL(ramp_one_stop, ramp_of(p)->count = 1)
SPOIL(ramp_register, ramp_of(p)->stops[0].value = 60000)
SPOIL(ramp_place, ramp_of(p)->stops[0].place = 60000)
SPOIL(ramp_easing, ramp_of(p)->stops[0].easing = 500)
SPOIL(ramp_space, ramp_of(p)->blend = BLEND_CODE_COUNT)
SPOIL(ramp_type, ramp_of(p)->colour = !ramp_of(p)->colour)
SPOIL(ramp_not_ready, {
    for (int section = 0; section < SECTION_COUNT; section++)
        for (uint32_t i = 0; i < code_of(p)->lengths[section]; i++)
            if (code_of(p)->sections[section][i].op == OP_RAMP_READY)
                code_of(p)->sections[section][i].k = 1;
})
SPOIL(easing_kind, easing_of(p)->kind = (EasingKind)7)
SPOIL(easing_x, {
    easing_of(p)->kind = EASING_BEZIER;
    easing_of(p)->bezier[0] = 2;
})
SPOIL(easing_steps, {
    easing_of(p)->kind = EASING_STEPS;
    easing_of(p)->jump = JUMP_NONE;
    easing_of(p)->count = 1;
})
SPOIL(number_not_finite, code_of(p)->numbers[0] = 0.0 / (double)(p->dial_count - p->dial_count))
SPOIL(constants_too_many, code_of(p)->number_constants = code_of(p)->frame_numbers + 1u)
SPOIL(registers_too_many, code_of(p)->pixel_numbers = LIMIT_REGISTERS + 1)
SPOIL(stillness_wrong, code_of(p)->stillness = STILL_ALWAYS)
SPOIL(stillness_unknown, code_of(p)->stillness = (Stillness)9)
SPOIL(settle_unknown, {
    code_of(p)->stillness = STILL_SETTLES;
    code_of(p)->settle_each = false;
    code_of(p)->settle = 60000;
})
SPOIL(then_unknown, p->routines[0].then = 77)
SPOIL(then_without_length, p->routines[0].lasts = 0)
SPOIL(then_circle, {
    p->routines[1].lasts = 1e6;
    p->routines[1].then = 0;
})
SPOIL(lasts_broken, p->routines[0].lasts = 1.5)
SPOIL(name_broken, p->routines[0].name[0] = ' ')
SPOIL(name_twice, p->routines[1].name[0] = 'a')
SPOIL(dial_outside, p->dials[0].number = 9)
SPOIL(dial_type, p->dials[0].type = (DialType)9)

static const Spoilt SPOILT[] = {
    {"an unknown operation", op_unknown},
    {"an operation in a section where it has no place", op_misplaced},
    {"work in a spread section", op_not_spread},
    {"a column kept in the pixel section", keep_in_pixel},
    {"a destination that is not there", register_too_large},
    {"a source that is not there", source_too_large},
    {"a constant written over", constant_written},
    {"a word without a meaning", word_without_meaning},
    {"an unknown input", input_unknown},
    {"a moving input in the set section", input_moves_in_set},
    {"an unknown field", field_unknown},
    {"an unknown dial", dial_unknown},
    {"a dial read that is marked as unused", dial_unused},
    {"a register read before it is written", undefined_read},
    {"a destination that is a source", source_is_destination},
    {"light that is never written", result_unwritten},
    {"light in a register that is not there", result_too_large},
    {"a ramp of one stop", ramp_one_stop},
    {"a stop in a register that is not there", ramp_register},
    {"a place in a register that is not there", ramp_place},
    {"a stop's easing that is not there", ramp_easing},
    {"an unknown blend space", ramp_space},
    {"a ramp read as the other type", ramp_type},
    {"a ramp read before it is ready", ramp_not_ready},
    {"an unknown kind of easing", easing_kind},
    {"a Bezier easing with x outside 0..1", easing_x},
    {"one step without jumps", easing_steps},
    {"a constant that is not finite", number_not_finite},
    {"more constants than registers", constants_too_many},
    {"more registers than the limit", registers_too_many},
    {"a moving routine called still", stillness_wrong},
    {"an unknown stillness", stillness_unknown},
    {"a time of rest in a register that is not there", settle_unknown},
    {"a next routine that is not there", then_unknown},
    {"a next routine without a length", then_without_length},
    {"routines that follow each other in a circle", then_circle},
    {"a length of half a microsecond", lasts_broken},
    {"a name that is none", name_broken},
    {"two routines of one name", name_twice},
    {"a dial outside its range", dial_outside},
    {"an unknown type of dial", dial_type},
};

static void test_each_rule_is_checked(void **state) {
    (void)state;
    static const char *const TEXT = "dial warmth = 40% from 0% to 100%\n"
                                    "routine a lasts 5min then b {\n"
                                    "  paint (black -> gold at warmth -> teal every 7s ease-in) "
                                    "where pos < warmth + fract(t / 9s) }\n"
                                    "routine b { paint red }\n";
    char why[256];
    for (size_t i = 0; i < sizeof SPOILT / sizeof *SPOILT; i++) {
        Program *program = compile(TEXT);
        if (!verify_program(program, why, sizeof why))
            fail_msg("expected the program to be sound before it is spoilt: %s", why);
        uint32_t lengths[SECTION_COUNT];
        Code *code = code_of(program);
        memcpy(lengths, code->lengths, sizeof lengths);
        uint32_t constants = code->number_constants;
        why[0] = '\0';
        SPOILT[i].spoil(program);
        if (verify_program(program, why, sizeof why))
            fail_msg("expected %s to be refused", SPOILT[i].what);
        assert_true(why[0] != '\0');
        memcpy(code->lengths, lengths, sizeof lengths);
        code->number_constants = constants;
        program_free(program);
    }
    print_message("%zu spoilt programs refused\n", sizeof SPOILT / sizeof *SPOILT);
}

static void test_every_allocation_may_fail(void **state) {
    (void)state;
    Program *program = compile(RICH);
    size_t length;
    unsigned char *bytes = bytes_of(program, &length), *copy;
    char why[200];
    for (unsigned long n = 1;; n++) {
        unsigned long before = memory_live();
        memory_fail_at(n);
        Program *read = bytecode_read(bytes, length, why, sizeof why);
        size_t copy_length;
        bool wrote = read && bytecode_write(read, &copy, &copy_length);
        memory_fail_at(0);
        if (wrote)
            memory_release(copy);
        program_free(read);
        if (memory_live() != before)
            fail_msg("expected nothing to be left when allocation %lu fails", n);
        if (wrote)
            break;
        assert_true(n < 10000);
    }
    memory_release(bytes);
    program_free(program);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_every_cut_is_refused),
        cmocka_unit_test(test_changed_bytes_are_refused_or_harmless),
        cmocka_unit_test(test_each_rule_is_checked),
        cmocka_unit_test(test_every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
