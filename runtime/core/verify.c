/* The one place where a program is checked; the machine relies on all of it. */
#include "runtime/core/bytecode.h"

#include <stdarg.h>
#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/operations.h"

/* What is known of a register while the sections are read in their order. */
enum {
    DEFINED = 1,  /* holds a value */
    CONSTANT = 2, /* holds it for good */
    CARRIED = 4,  /* the value is of an earlier section and outlives this one */
    PINNED = 8    /* it was read as such, so writing it would be seen by the next frame or block */
};

typedef enum Bank { FRAME_NUMBERS, FRAME_COLOURS, PIXEL_NUMBERS, PIXEL_COLOURS, BANKS } Bank;

typedef struct Verifier {
    const Program *program;
    const RoutineInfo *routine; /* NULL: not in a routine */
    const Code *code;
    int section; /* SECTION_COUNT: not in a section */
    size_t position;
    char *buffer;
    size_t buffer_size;
    uint16_t counts[BANKS];
    unsigned char registers[BANKS][LIMIT_REGISTERS];
    unsigned char kept_numbers[LIMIT_REGISTERS], kept_colours[LIMIT_REGISTERS];
    unsigned char ready[LIMIT_RAMPS];
} Verifier;

static const char *const section_names[SECTION_COUNT] = {"set",   "set spread",   "each",
                                                         "frame", "frame spread", "pixel"};

/* Writes the message with its place; always false. */
static bool wrong(const Verifier *verifier, const char *format, ...) {
    if (!verifier->buffer_size)
        return false;
    char place[2 * LIMIT_NAME_BYTES + 80] = "";
    if (verifier->routine && verifier->section < SECTION_COUNT)
        (void)snprintf(place, sizeof place,
                       "routine %.*s, section %s, instruction %zu: ", 2 * LIMIT_NAME_BYTES + 1,
                       verifier->routine->name, section_names[verifier->section],
                       verifier->position);
    else if (verifier->routine)
        (void)snprintf(place, sizeof place, "routine %.*s: ", 2 * LIMIT_NAME_BYTES + 1,
                       verifier->routine->name);
    char what[160];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    (void)snprintf(verifier->buffer, verifier->buffer_size, "%s%s", place, what);
    return false;
}

/* -------- values and texts -------- */

static bool finite(double number) {
    return number - number == 0.0;
}

static bool finite_colour(Colour colour) {
    return finite((double)colour.r) && finite((double)colour.g) && finite((double)colour.b);
}

/* A whole number of microseconds, not negative. */
static bool is_length(double number) {
    return number >= 0.0 && number <= LIMIT_MICROSECONDS && (double)(int64_t)number == number;
}

static bool is_duration(double number) {
    return is_length(number < 0.0 ? -number : number);
}

static bool is_letter(char character) {
    return (character >= 'a' && character <= 'z') || (character >= 'A' && character <= 'Z') ||
           character == '_';
}

/* One name, or several with points between (prefixes of `use ... as`). */
static bool is_name(const char *text) {
    if (!text)
        return false;
    for (int part = 0; part < LIMIT_FILES; part++) {
        size_t length = 0;
        while (is_letter(text[length]) || (length && text[length] >= '0' && text[length] <= '9'))
            length++;
        if (length == 0 || length > LIMIT_NAME_BYTES)
            return false;
        if (text[length] == '\0')
            return true;
        if (text[length] != '.')
            return false;
        text += length + 1;
    }
    return false;
}

/* Bytes of the character that begins here; 0 where it is no UTF-8. */
static size_t character_length(const unsigned char *at) {
    if (at[0] < 0x80)
        return 1;
    size_t length = at[0] >= 0xF0 ? 4 : at[0] >= 0xE0 ? 3 : 2;
    static const unsigned char lead[5] = {0, 0, 0x1F, 0x0F, 0x07};
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    if (at[0] < 0xC0 || at[0] > 0xF4)
        return 0;
    uint32_t point = at[0] & lead[length];
    for (size_t i = 1; i < length; i++) {
        if ((at[i] & 0xC0) != 0x80)
            return 0;
        point = point << 6 | (at[i] & 0x3F);
    }
    if (point < least[length] || point > 0x10FFFF || (point >= 0xD800 && point <= 0xDFFF))
        return 0;
    return length;
}

static bool is_label(const char *text) {
    if (!text)
        return true;
    const unsigned char *at = (const unsigned char *)text;
    while (*at) {
        size_t length = character_length(at);
        if (length == 0)
            return false;
        at += length;
    }
    return at - (const unsigned char *)text <= LIMIT_TEXT_BYTES;
}

static bool is_blend(uint16_t blend) {
    return blend < BLEND_CODE_COUNT && (blend < 4 || (blend & 3) == SPACE_OKLCH);
}

/* -------- dials, events, groups -------- */

static bool verify_dial_value(const Verifier *verifier, const DialInfo *dial) {
    if (!finite(dial->number) || !finite(dial->from) || !finite(dial->to) ||
        !finite_colour(dial->colour))
        return wrong(verifier, "dial %s holds a value that is not finite", dial->name);
    if (!is_length(dial->eased))
        return wrong(verifier, "dial %s glides for no whole number of microseconds", dial->name);
    if (dial->ranged && (dial->type == DIAL_TRUTH || dial->type == DIAL_COLOUR))
        return wrong(verifier, "dial %s has a range, which its type has not", dial->name);
    if (dial->percent && dial->type != DIAL_NUMBER)
        return wrong(verifier, "dial %s is in percent but no number", dial->name);
    if (dial->ranged && !(dial->from <= dial->number && dial->number <= dial->to))
        return wrong(verifier, "dial %s begins outside its range", dial->name);
    if (dial->type == DIAL_TRUTH && dial->number != 0.0 && dial->number != 1.0)
        return wrong(verifier, "dial %s is a truth that is neither 0 nor 1", dial->name);
    if (dial->type == DIAL_DURATION &&
        !(is_duration(dial->number) &&
          (!dial->ranged || (is_duration(dial->from) && is_duration(dial->to)))))
        return wrong(verifier, "dial %s is no whole number of microseconds", dial->name);
    return true;
}

static bool verify_dials(const Verifier *verifier) {
    const Program *program = verifier->program;
    for (size_t i = 0; i < program->dial_count; i++) {
        const DialInfo *dial = &program->dials[i];
        if (!is_name(dial->name))
            return wrong(verifier, "dial %zu has no proper name", i);
        for (size_t j = 0; j < i; j++)
            if (strcmp(dial->name, program->dials[j].name) == 0)
                return wrong(verifier, "two dials are called %s", dial->name);
        if (!is_label(dial->label))
            return wrong(verifier, "the label of dial %s is no proper text", dial->name);
        if ((unsigned)dial->type > DIAL_COLOUR)
            return wrong(verifier, "dial %s has an unknown type", dial->name);
        if (!verify_dial_value(verifier, dial))
            return false;
    }
    return true;
}

static bool verify_names(const Verifier *verifier) {
    const Program *program = verifier->program;
    for (size_t i = 0; i < program->event_count; i++) {
        const EventInfo *event = &program->events[i];
        if (!is_name(event->name))
            return wrong(verifier, "event %zu has no proper name", i);
        for (size_t j = 0; j < i; j++)
            if (strcmp(event->name, program->events[j].name) == 0)
                return wrong(verifier, "two events are called %s", event->name);
        if (!is_label(event->label))
            return wrong(verifier, "the label of event %s is no proper text", event->name);
    }
    for (size_t i = 0; i < program->group_count; i++) {
        if (!is_name(program->groups[i]))
            return wrong(verifier, "group %zu has no proper name", i);
        for (size_t j = 0; j < i; j++)
            if (strcmp(program->groups[i], program->groups[j]) == 0)
                return wrong(verifier, "two groups are called %s", program->groups[i]);
    }
    return true;
}

static bool verify_limits(const Verifier *verifier) {
    const Program *program = verifier->program;
    if (program->dial_count > LIMIT_DIALS)
        return wrong(verifier, "more than %d dials", LIMIT_DIALS);
    if (program->event_count > LIMIT_EVENTS)
        return wrong(verifier, "more than %d events", LIMIT_EVENTS);
    if (program->routine_count > LIMIT_ROUTINES)
        return wrong(verifier, "more than %d routines", LIMIT_ROUTINES);
    if (program->group_count > LIMIT_GROUPS)
        return wrong(verifier, "more than %d groups", LIMIT_GROUPS);
    return true;
}

/* -------- tables of a routine -------- */

static bool verify_counts(const Verifier *verifier) {
    const Code *code = verifier->code;
    for (int bank = 0; bank < BANKS; bank++)
        if (verifier->counts[bank] > LIMIT_REGISTERS)
            return wrong(verifier, "more than %d registers of one kind", LIMIT_REGISTERS);
    if (code->kept_numbers > LIMIT_REGISTERS || code->kept_colours > LIMIT_REGISTERS)
        return wrong(verifier, "more than %d kept columns", LIMIT_REGISTERS);
    if (code->number_constants > code->frame_numbers ||
        code->colour_constants > code->frame_colours)
        return wrong(verifier, "more constants than registers");
    if (code->easing_count > LIMIT_EASINGS)
        return wrong(verifier, "more than %d easings", LIMIT_EASINGS);
    if (code->ramp_count > LIMIT_RAMPS)
        return wrong(verifier, "more than %d ramps", LIMIT_RAMPS);
    size_t instructions = 0;
    for (int section = 0; section < SECTION_COUNT; section++)
        instructions += code->lengths[section];
    if (instructions > LIMIT_INSTRUCTIONS)
        return wrong(verifier, "more than %d instructions", LIMIT_INSTRUCTIONS);
    if ((unsigned)code->stillness > STILL_NEVER)
        return wrong(verifier, "unknown stillness");
    return true;
}

static bool verify_constants(const Verifier *verifier) {
    const Code *code = verifier->code;
    for (size_t i = 0; i < code->number_constants; i++)
        if (!finite(code->numbers[i]))
            return wrong(verifier, "constant n%zu is not finite", i);
    for (size_t i = 0; i < code->colour_constants; i++)
        if (!finite_colour(code->colours[i]))
            return wrong(verifier, "constant c%zu is not finite", i);
    return true;
}

static bool verify_linear(const Verifier *verifier, const Easing *easing, size_t index) {
    if (easing->count < 2 || easing->count > LIMIT_EASING_POINTS)
        return wrong(verifier, "easing %zu has %u points; 2 to %d are possible", index,
                     (unsigned)easing->count, LIMIT_EASING_POINTS);
    for (size_t i = 0; i < easing->count; i++) {
        if (!finite(easing->points[2 * i]) || !finite(easing->points[2 * i + 1]))
            return wrong(verifier, "easing %zu has a point that is not finite", index);
        if (i && easing->points[2 * i] < easing->points[2 * i - 2])
            return wrong(verifier, "easing %zu has points out of order", index);
    }
    return true;
}

static bool verify_steps(const Verifier *verifier, const Easing *easing, size_t index) {
    if ((unsigned)easing->jump > JUMP_BOTH)
        return wrong(verifier, "easing %zu has an unknown jump", index);
    uint32_t least = easing->jump == JUMP_NONE ? 2 : 1;
    if (easing->count < least || easing->count > LIMIT_EASING_STEPS)
        return wrong(verifier, "easing %zu has %u steps; %u to %d are possible", index,
                     (unsigned)easing->count, (unsigned)least, LIMIT_EASING_STEPS);
    return true;
}

static bool verify_easings(const Verifier *verifier) {
    for (size_t i = 0; i < verifier->code->easing_count; i++) {
        const Easing *easing = &verifier->code->easings[i];
        if (easing->kind == EASING_STEPS) {
            if (!verify_steps(verifier, easing, i))
                return false;
        } else if (easing->kind == EASING_LINEAR) {
            if (!verify_linear(verifier, easing, i))
                return false;
        } else if (easing->kind == EASING_BEZIER) {
            for (int part = 0; part < 4; part++)
                if (!finite(easing->bezier[part]))
                    return wrong(verifier, "easing %zu is not finite", i);
            if (!(easing->bezier[0] >= 0.0 && easing->bezier[0] <= 1.0 &&
                  easing->bezier[2] >= 0.0 && easing->bezier[2] <= 1.0))
                return wrong(verifier, "easing %zu has an x outside 0..1", i);
        } else {
            return wrong(verifier, "easing %zu is of an unknown kind", i);
        }
    }
    return true;
}

static bool verify_ramp(const Verifier *verifier, const Ramp *ramp, size_t index) {
    /* One more than in the text: a ramp that is closed has its first value twice. */
    if (ramp->count < 2 || ramp->count > LIMIT_STOPS + 1)
        return wrong(verifier, "ramp %zu has %u stops; 2 to %d are possible", index,
                     (unsigned)ramp->count, LIMIT_STOPS + 1);
    if (ramp->colour ? !is_blend(ramp->blend) : ramp->blend != 0)
        return wrong(verifier, "ramp %zu has an unknown blend space", index);
    Bank values = ramp->colour ? FRAME_COLOURS : FRAME_NUMBERS;
    for (size_t i = 0; i < ramp->count; i++) {
        const RampStop *stop = &ramp->stops[i];
        if (stop->place >= verifier->counts[FRAME_NUMBERS] ||
            stop->value >= verifier->counts[values])
            return wrong(verifier, "ramp %zu reads a register that is not there", index);
        if (stop->easing != EASING_NONE && stop->easing >= verifier->code->easing_count)
            return wrong(verifier, "ramp %zu has an easing that is not there", index);
    }
    return true;
}

/* -------- instructions -------- */

static bool is_scalar(int section) {
    return section == SECTION_SET || section == SECTION_FRAME;
}

static bool is_spread(int section) {
    return section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD;
}

static bool is_allowed(Operation operation, int section) {
    switch (operation) {
    case OP_SPREAD:
    case OP_SPREAD_LIGHT:
        return is_spread(section);
    case OP_INPUT:
    case OP_DIAL:
    case OP_DIAL_LIGHT:
    case OP_RAMP_READY:
        return is_scalar(section);
    case OP_FIELD:
    case OP_WITHIN:
        return section == SECTION_EACH || section == SECTION_PIXEL;
    case OP_KEEP:
    case OP_KEEP_LIGHT:
        return section == SECTION_EACH;
    case OP_KEPT:
    case OP_KEPT_LIGHT:
        return section == SECTION_PIXEL;
    default:
        return !is_spread(section);
    }
}

static bool read_register(Verifier *verifier, Bank bank, uint16_t index) {
    if (index >= verifier->counts[bank])
        return wrong(verifier, "reads a register that is not there (%u)", (unsigned)index);
    unsigned char *state = &verifier->registers[bank][index];
    if (!(*state & DEFINED))
        return wrong(verifier, "reads register %u before it is written", (unsigned)index);
    if (*state & CARRIED)
        *state |= PINNED;
    return true;
}

static bool write_register(Verifier *verifier, Bank bank, uint16_t index) {
    if (index >= verifier->counts[bank])
        return wrong(verifier, "writes a register that is not there (%u)", (unsigned)index);
    unsigned char *state = &verifier->registers[bank][index];
    if (*state & CONSTANT)
        return wrong(verifier, "writes over constant %u", (unsigned)index);
    if (*state & PINNED)
        return wrong(verifier, "writes over register %u, which the next run reads",
                     (unsigned)index);
    if (is_spread(verifier->section) && (*state & DEFINED))
        return wrong(verifier, "spreads to register %u twice", (unsigned)index);
    *state = DEFINED;
    return true;
}

static bool verify_ready(Verifier *verifier, uint16_t index) {
    const Ramp *ramp = &verifier->code->ramps[index];
    if (verifier->ready[index])
        return wrong(verifier, "ramp %u is made ready twice", (unsigned)index);
    for (size_t i = 0; i < ramp->count; i++)
        if (!read_register(verifier, FRAME_NUMBERS, ramp->stops[i].place) ||
            !read_register(verifier, ramp->colour ? FRAME_COLOURS : FRAME_NUMBERS,
                           ramp->stops[i].value))
            return false;
    verifier->ready[index] = 1;
    return true;
}

static bool verify_input(const Verifier *verifier, uint16_t input) {
    if (input >= INPUT_COUNT)
        return wrong(verifier, "input %u is not there", (unsigned)input);
    if (input == INPUT_PIXELS)
        return true;
    if (verifier->section != SECTION_FRAME)
        return wrong(verifier, "a moving input is read outside the frame section");
    if (verifier->code->stillness == STILL_ALWAYS)
        return wrong(verifier, "a moving input is read by a routine that is always still");
    if (input != INPUT_T && !verifier->code->reads_clock)
        return wrong(verifier, "the clock is read by a routine that reads no clock");
    return true;
}

static bool verify_dial_read(const Verifier *verifier, uint16_t dial, bool colour) {
    if (dial >= verifier->program->dial_count)
        return wrong(verifier, "dial %u is not there", (unsigned)dial);
    const DialInfo *info = &verifier->program->dials[dial];
    if ((info->type == DIAL_COLOUR) != colour)
        return wrong(verifier, "dial %u is of another type", (unsigned)dial);
    if (!info->used)
        return wrong(verifier, "dial %u is read but not marked as used", (unsigned)dial);
    return true;
}

static bool verify_keep(const Verifier *verifier, unsigned char *columns, uint16_t count,
                        uint16_t column, bool write) {
    if (column >= count)
        return wrong(verifier, "kept column %u is not there", (unsigned)column);
    if (write && columns[column])
        return wrong(verifier, "column %u is kept twice", (unsigned)column);
    if (!write && !columns[column])
        return wrong(verifier, "column %u is read but was never kept", (unsigned)column);
    columns[column] = 1;
    return true;
}

static bool verify_ramp_read(const Verifier *verifier, uint16_t index, bool colour) {
    if (!verifier->ready[index])
        return wrong(verifier, "ramp %u is read before it is ready", (unsigned)index);
    if (verifier->code->ramps[index].colour != colour)
        return wrong(verifier, "ramp %u is of another type", (unsigned)index);
    return true;
}

/* The index word of an operation that has one. */
static bool verify_index(Verifier *verifier, Operation operation, uint16_t k) {
    const Code *code = verifier->code;
    switch (operation) {
    case OP_EASE:
        return k < code->easing_count || wrong(verifier, "easing %u is not there", (unsigned)k);
    case OP_HASH1:
    case OP_HASH2:
    case OP_HASH3:
    case OP_HASH4:
        return (k >= SALT_RANDOM && k <= SALT_NOISE) || wrong(verifier, "unknown salt");
    case OP_COLOUR_BLEND:
        return is_blend(k) || wrong(verifier, "unknown blend space");
    case OP_RAMP_READY:
    case OP_RAMP_NUMBER:
    case OP_RAMP_COLOUR:
        if (k >= code->ramp_count)
            return wrong(verifier, "ramp %u is not there", (unsigned)k);
        return operation == OP_RAMP_READY
                   ? verify_ready(verifier, k)
                   : verify_ramp_read(verifier, k, operation == OP_RAMP_COLOUR);
    case OP_INPUT:
        return verify_input(verifier, k);
    case OP_DIAL:
    case OP_DIAL_LIGHT:
        return verify_dial_read(verifier, k, operation == OP_DIAL_LIGHT);
    case OP_FIELD:
        return k < FIELD_COUNT || wrong(verifier, "field %u is not there", (unsigned)k);
    case OP_WITHIN:
        return k < verifier->program->group_count ||
               wrong(verifier, "group %u is not there", (unsigned)k);
    case OP_KEEP:
    case OP_KEPT:
        return verify_keep(verifier, verifier->kept_numbers, code->kept_numbers, k,
                           operation == OP_KEEP);
    case OP_KEEP_LIGHT:
    case OP_KEPT_LIGHT:
        return verify_keep(verifier, verifier->kept_colours, code->kept_colours, k,
                           operation == OP_KEEP_LIGHT);
    default:
        return wrong(verifier, "an index has no meaning here");
    }
}

static Bank bank_of(int section, char kind, bool result) {
    bool frame = is_scalar(section) || (is_spread(section) && !result);
    return (Bank)((frame ? FRAME_NUMBERS : PIXEL_NUMBERS) + (kind == 'c'));
}

static bool verify_operands(Verifier *verifier, const Instruction *it, const char *kinds) {
    const uint16_t words[4] = {it->a, it->b, it->c, it->d};
    size_t used = 0;
    bool indexed = false;
    Bank target = bank_of(verifier->section, kinds[0], true);
    for (const char *kind = kinds + 2; *kind; kind++) {
        if (*kind == 'k') {
            indexed = true;
            continue;
        }
        Bank bank = bank_of(verifier->section, *kind, false);
        if (!read_register(verifier, bank, words[used]))
            return false;
        if (kinds[0] != '-' && bank == target && words[used] == it->dst)
            return wrong(verifier, "writes the register that it reads");
        used++;
    }
    for (size_t i = used; i < 4; i++)
        if (words[i])
            return wrong(verifier, "a word without a meaning is not 0");
    if ((!indexed && it->k) || it->spare || (kinds[0] == '-' && it->dst))
        return wrong(verifier, "a word without a meaning is not 0");
    if (indexed && !verify_index(verifier, (Operation)it->op, it->k))
        return false;
    return kinds[0] == '-' || write_register(verifier, target, it->dst);
}

static void carry(Verifier *verifier, Bank bank) {
    for (size_t i = 0; i < verifier->counts[bank]; i++)
        if (verifier->registers[bank][i] == DEFINED)
            verifier->registers[bank][i] |= CARRIED;
}

static void begin_section(Verifier *verifier) {
    if (verifier->section == SECTION_FRAME) {
        carry(verifier, FRAME_NUMBERS);
        carry(verifier, FRAME_COLOURS);
    } else if (is_spread(verifier->section)) {
        memset(verifier->registers[PIXEL_NUMBERS], 0, LIMIT_REGISTERS);
        memset(verifier->registers[PIXEL_COLOURS], 0, LIMIT_REGISTERS);
    } else if (!is_scalar(verifier->section)) {
        carry(verifier, PIXEL_NUMBERS);
        carry(verifier, PIXEL_COLOURS);
    }
}

static bool verify_section(Verifier *verifier, int section) {
    verifier->section = section;
    begin_section(verifier);
    for (size_t i = 0; i < verifier->code->lengths[section]; i++) {
        const Instruction *it = &verifier->code->sections[section][i];
        verifier->position = i;
        if (it->op >= OPERATION_COUNT)
            return wrong(verifier, "unknown operation %u", (unsigned)it->op);
        if (!is_allowed((Operation)it->op, section))
            return wrong(verifier, "%s has no place in this section", operation_name(it->op));
        if (!verify_operands(verifier, it, operation_kinds(it->op)))
            return false;
    }
    verifier->section = SECTION_COUNT;
    return true;
}

/* After SET, before any frame: the time from which the light rests. */
static bool verify_settle(const Verifier *verifier) {
    const Code *code = verifier->code;
    if (code->stillness != STILL_SETTLES || code->settle_each)
        return true;
    if (code->settle >= code->frame_numbers ||
        !(verifier->registers[FRAME_NUMBERS][code->settle] & DEFINED))
        return wrong(verifier, "the time of rest is not known after the set section");
    return true;
}

static bool verify_result(const Verifier *verifier) {
    const Code *code = verifier->code;
    if (code->stillness == STILL_SETTLES && code->settle_each &&
        (code->settle >= code->kept_numbers || !verifier->kept_numbers[code->settle]))
        return wrong(verifier, "the time of rest is not kept");
    Bank bank = code->result_each ? PIXEL_COLOURS : FRAME_COLOURS;
    if (code->result >= verifier->counts[bank] ||
        !(verifier->registers[bank][code->result] & DEFINED))
        return wrong(verifier, "the light is never written");
    return true;
}

static void begin_code(Verifier *verifier, const Code *code) {
    verifier->code = code;
    verifier->section = SECTION_COUNT;
    verifier->counts[FRAME_NUMBERS] = code->frame_numbers;
    verifier->counts[FRAME_COLOURS] = code->frame_colours;
    verifier->counts[PIXEL_NUMBERS] = code->pixel_numbers;
    verifier->counts[PIXEL_COLOURS] = code->pixel_colours;
    memset(verifier->registers, 0, sizeof verifier->registers);
    memset(verifier->kept_numbers, 0, sizeof verifier->kept_numbers);
    memset(verifier->kept_colours, 0, sizeof verifier->kept_colours);
    memset(verifier->ready, 0, sizeof verifier->ready);
}

static bool verify_code(Verifier *verifier, const Code *code) {
    begin_code(verifier, code);
    if (!verify_counts(verifier) || !verify_constants(verifier) || !verify_easings(verifier))
        return false;
    for (size_t i = 0; i < code->ramp_count; i++)
        if (!verify_ramp(verifier, &code->ramps[i], i))
            return false;
    memset(verifier->registers[FRAME_NUMBERS], DEFINED | CONSTANT, code->number_constants);
    memset(verifier->registers[FRAME_COLOURS], DEFINED | CONSTANT, code->colour_constants);
    for (int section = 0; section < SECTION_COUNT; section++) {
        if (!verify_section(verifier, section))
            return false;
        if (section == SECTION_SET && !verify_settle(verifier))
            return false;
    }
    return verify_result(verifier);
}

/* -------- routines -------- */

static bool verify_then(const Verifier *verifier, size_t index) {
    const Program *program = verifier->program;
    const RoutineInfo *routine = &program->routines[index];
    if (routine->then == ROUTINE_NONE)
        return true;
    if (routine->lasts == 0.0)
        return wrong(verifier, "has a routine to follow but no length");
    size_t at = index;
    for (size_t steps = 0; steps <= program->routine_count; steps++) {
        uint16_t then = program->routines[at].then;
        if (then == ROUTINE_NONE || then == ROUTINE_OFF)
            return true;
        if (then >= program->routine_count)
            return wrong(verifier, "is followed by a routine that is not there");
        at = then;
    }
    return wrong(verifier, "is followed by itself in the end");
}

static bool verify_routine(Verifier *verifier, size_t index) {
    const Program *program = verifier->program;
    const RoutineInfo *routine = &program->routines[index];
    verifier->routine = NULL;
    if (!is_name(routine->name))
        return wrong(verifier, "routine %zu has no proper name", index);
    for (size_t i = 0; i < index; i++)
        if (strcmp(routine->name, program->routines[i].name) == 0)
            return wrong(verifier, "two routines are called %s", routine->name);
    verifier->routine = routine;
    if (!is_length(routine->lasts))
        return wrong(verifier, "lasts no whole number of microseconds");
    return verify_then(verifier, index) && verify_code(verifier, &routine->code);
}

/* NULL: out of memory, and *buffer says so. */
static Verifier *verifier_create(const Program *program, char *buffer, size_t buffer_size) {
    Verifier *verifier = memory_allocate(1, sizeof *verifier);
    if (!verifier) {
        if (buffer_size)
            (void)snprintf(buffer, buffer_size, "out of memory");
        return NULL;
    }
    verifier->program = program;
    verifier->section = SECTION_COUNT;
    verifier->buffer = buffer;
    verifier->buffer_size = buffer_size;
    return verifier;
}

bool verify_program(const Program *program, char *buffer, size_t buffer_size) {
    Verifier *verifier = verifier_create(program, buffer, buffer_size);
    if (!verifier)
        return false;
    bool good = verify_limits(verifier) && verify_dials(verifier) && verify_names(verifier);
    for (size_t i = 0; good && i < program->routine_count; i++)
        good = verify_routine(verifier, i);
    memory_release(verifier);
    return good;
}

bool verify_loose_code(const Program *program, const Code *code, char *buffer, size_t buffer_size) {
    Verifier *verifier = verifier_create(program, buffer, buffer_size);
    if (!verifier)
        return false;
    bool good = verify_code(verifier, code);
    memory_release(verifier);
    return good;
}
