#include "runtime/core/bytecode.h"

#include <ctype.h>
#include <stdlib.h>

#include "runtime/core/operations.h"

static const char *const section_titles[SECTION_COUNT] = {
    "set: when the lamp is known or a dial changed",
    "set spread: once behind it",
    "each: every pixel behind it",
    "frame: once a frame",
    "frame spread: once a frame",
    "pixel: every pixel of a frame"};
static const char *const input_names[INPUT_COUNT] = {"t",       "hour",      "moonlit",
                                                     "moonage", "sunheight", "pixels"};
static const char *const field_names[FIELD_COUNT] = {"pixel", "pos",    "x",    "y",
                                                     "z",     "radius", "angle"};
static const char *const space_names[4] = {"oklab", "srgb-linear", "srgb", "oklch"};
static const char *const hue_names[4] = {"shorter", "longer", "increasing", "decreasing"};
static const char *const jump_names[4] = {"jump-start", "jump-end", "jump-none", "jump-both"};
static const char *const type_names[4] = {"number", "duration", "truth", "colour"};
static const char *const salt_names[4] = {"", "random", "draw", "noise"};

/* Control characters of a foreign file never reach the terminal. */
static void print_text(FILE *out, const char *text) {
    fputc('"', out);
    for (; *text; text++) {
        unsigned char byte = (unsigned char)*text;
        if (byte == '"' || byte == '\\')
            fprintf(out, "\\%c", byte);
        else if (byte < 0x20 || byte == 0x7F)
            fprintf(out, "\\x%02X", byte);
        else if (byte == 0xC2 && (unsigned char)text[1] < 0xA0) /* U+0080 .. U+009F */
            fprintf(out, "\\x%02X", (unsigned char)*++text);
        else
            fputc(byte, out);
    }
    fputc('"', out);
}

/* The fewest digits that read back as the same number. */
static void print_number(FILE *out, const char *before, double number, const char *behind) {
    char text[32];
    for (int digits = 15; digits <= 17; digits++) {
        (void)snprintf(text, sizeof text, "%.*g", digits, number);
        if (strtod(text, NULL) == number)
            break;
    }
    fprintf(out, "%s%s%s", before, text, behind);
}

static void print_colour(FILE *out, Colour colour) {
    fprintf(out, "%.9g %.9g %.9g", (double)colour.r, (double)colour.g, (double)colour.b);
}

static void print_dial(FILE *out, const DialInfo *dial, size_t index) {
    fprintf(out, "  dial %zu %s: %s", index, dial->name, type_names[dial->type]);
    if (dial->ranged) {
        print_number(out, " ", dial->from, "..");
        print_number(out, "", dial->to, "");
    }
    fputs(", begins at ", out);
    if (dial->type == DIAL_COLOUR)
        print_colour(out, dial->colour);
    else
        print_number(out, "", dial->number, "");
    if (dial->type == DIAL_DURATION)
        fputs(" us", out);
    if (dial->percent)
        fputs(", shown in percent", out);
    if (dial->eased != 0.0)
        print_number(out, ", glides ", dial->eased, " us");
    if (!dial->used)
        fputs(", unused", out);
    if (dial->label) {
        fputs(", ", out);
        print_text(out, dial->label);
    }
    fputc('\n', out);
}

static void print_names(FILE *out, const Program *program) {
    fprintf(out, "dials %u\n", program->dial_count);
    for (size_t i = 0; i < program->dial_count; i++)
        print_dial(out, &program->dials[i], i);
    fprintf(out, "events %u\n", program->event_count);
    for (size_t i = 0; i < program->event_count; i++) {
        fprintf(out, "  event %zu %s", i, program->events[i].name);
        if (program->events[i].label) {
            fputs(", ", out);
            print_text(out, program->events[i].label);
        }
        fputc('\n', out);
    }
    fprintf(out, "groups %u\n", program->group_count);
    for (size_t i = 0; i < program->group_count; i++)
        fprintf(out, "  group %zu %s\n", i, program->groups[i]);
}

static void print_blend(FILE *out, uint16_t blend) {
    fprintf(out, "%s", space_names[blend & 3]);
    if ((blend & 3) == SPACE_OKLCH)
        fprintf(out, " %s hue", hue_names[blend >> 2 & 3]);
}

static void print_easing(FILE *out, const Easing *easing) {
    switch (easing->kind) {
    case EASING_BEZIER:
        for (int i = 0; i < 4; i++)
            print_number(out, i ? ", " : "cubic-bezier(", easing->bezier[i], i < 3 ? "" : ")");
        break;
    case EASING_STEPS:
        fprintf(out, "steps(%u, %s)", (unsigned)easing->count, jump_names[easing->jump]);
        break;
    case EASING_LINEAR:
        for (size_t i = 0; i < easing->count; i++) {
            print_number(out, i ? ", " : "linear(", easing->points[2 * i + 1], " at ");
            print_number(out, "", easing->points[2 * i], "");
        }
        fputc(')', out);
        break;
    }
}

static void print_ramp(FILE *out, const Ramp *ramp) {
    fputs(ramp->bars ? "bars" : "fades", out);
    if (ramp->colour) {
        fputs(" in ", out);
        print_blend(out, ramp->blend);
    }
    fputs(": ", out);
    for (size_t i = 0; i < ramp->count; i++) {
        const RampStop *stop = &ramp->stops[i];
        fprintf(out, "%s%c%u at n%u", i ? ", " : "", ramp->colour ? 'c' : 'n', stop->value,
                stop->place);
        if (stop->easing != EASING_NONE)
            fprintf(out, " then easing %u", stop->easing);
    }
}

static void print_tables(FILE *out, const Code *code) {
    if (code->number_constants + code->colour_constants)
        fputs("  constants\n", out);
    for (size_t i = 0; i < code->number_constants; i++) {
        fprintf(out, "    n%zu", i);
        print_number(out, " = ", code->numbers[i], "\n");
    }
    for (size_t i = 0; i < code->colour_constants; i++) {
        fprintf(out, "    c%zu = ", i);
        print_colour(out, code->colours[i]);
        fputc('\n', out);
    }
    for (size_t i = 0; i < code->easing_count; i++) {
        fprintf(out, "  easing %zu = ", i);
        print_easing(out, &code->easings[i]);
        fputc('\n', out);
    }
    for (size_t i = 0; i < code->ramp_count; i++) {
        fprintf(out, "  ramp %zu = ", i);
        print_ramp(out, &code->ramps[i]);
        fputc('\n', out);
    }
}

/* What the index word of an operation stands for. */
static void print_index(FILE *out, const Program *program, const Instruction *it) {
    switch ((Operation)it->op) {
    case OP_INPUT:
        fputs(input_names[it->k], out);
        break;
    case OP_FIELD:
        fputs(field_names[it->k], out);
        break;
    case OP_DIAL:
    case OP_DIAL_LIGHT:
        fputs(program->dials[it->k].name, out);
        break;
    case OP_WITHIN:
        fputs(program->groups[it->k], out);
        break;
    case OP_EASE:
        fprintf(out, "easing %u", it->k);
        break;
    case OP_RAMP_READY:
    case OP_RAMP_NUMBER:
    case OP_RAMP_COLOUR:
        fprintf(out, "ramp %u", it->k);
        break;
    case OP_COLOUR_BLEND:
        print_blend(out, it->k);
        break;
    case OP_HASH1:
    case OP_HASH2:
    case OP_HASH3:
    case OP_HASH4:
        fprintf(out, "salt %s", salt_names[it->k & 3]);
        break;
    default:
        fprintf(out, "column %u", it->k);
    }
}

/* Registers of the frame are n and c, those of a pixel pn and pc. */
static void print_register(FILE *out, char kind, bool pixel, uint16_t index) {
    fprintf(out, "%s%c%u", pixel ? "p" : "", kind, index);
}

static void print_instruction(FILE *out, const Program *program, int section,
                              const Instruction *it) {
    const uint16_t words[4] = {it->a, it->b, it->c, it->d};
    const char *kinds = operation_kinds(it->op);
    bool block = section != SECTION_SET && section != SECTION_FRAME;
    bool spread = section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD;
    size_t used = 0;
    fputs("    ", out);
    if (kinds[0] != '-') {
        print_register(out, kinds[0], block, it->dst);
        fputs(" = ", out);
    }
    for (const char *name = operation_name(it->op); *name; name++)
        fputc(*name == '_' ? '-' : tolower((unsigned char)*name), out);
    for (const char *kind = kinds + 2; *kind; kind++) {
        fputs(kind == kinds + 2 ? " " : ", ", out);
        if (*kind == 'k')
            print_index(out, program, it);
        else
            print_register(out, *kind, block && !spread, words[used++]);
    }
    fputc('\n', out);
}

static void print_light(FILE *out, const Code *code) {
    fputs("  light: ", out);
    print_register(out, 'c', code->result_each, code->result);
    if (code->stillness == STILL_ALWAYS)
        fputs("; nothing moves", out);
    else if (code->stillness == STILL_NEVER)
        fputs("; never rests", out);
    else if (code->settle_each)
        fprintf(out, "; rests from the largest of column %u on", code->settle);
    else
        fprintf(out, "; rests from n%u on", code->settle);
    fprintf(out, "%s\n", code->reads_clock ? "; reads the clock" : "");
}

static void print_routine(FILE *out, const Program *program, size_t index) {
    const RoutineInfo *routine = &program->routines[index];
    const Code *code = &routine->code;
    fprintf(out, "routine %zu %s", index, routine->name);
    if (routine->lasts != 0.0)
        print_number(out, ", lasts ", routine->lasts, " us");
    if (routine->then == ROUTINE_OFF)
        fputs(", then off", out);
    else if (routine->then != ROUTINE_NONE)
        fprintf(out, ", then %s", program->routines[routine->then].name);
    fprintf(out,
            "\n  registers: frame %u numbers, %u colours; pixel %u numbers, %u colours; "
            "kept %u numbers, %u colours\n",
            code->frame_numbers, code->frame_colours, code->pixel_numbers, code->pixel_colours,
            code->kept_numbers, code->kept_colours);
    print_light(out, code);
    print_tables(out, code);
    for (int section = 0; section < SECTION_COUNT; section++) {
        if (code->lengths[section] == 0)
            continue;
        fprintf(out, "  %s\n", section_titles[section]);
        for (size_t i = 0; i < code->lengths[section]; i++)
            print_instruction(out, program, section, &code->sections[section][i]);
    }
}

void disassemble_program(const Program *program, FILE *out) {
    fputs("Gloam bytecode, version 1\n", out);
    print_names(out, program);
    for (size_t i = 0; i < program->routine_count; i++)
        print_routine(out, program, i);
}
