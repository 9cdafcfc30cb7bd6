/* Dials: their defaults, and values that come from outside. */
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/colour.h"
#include "runtime/core/number.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"

DialValue *dial_defaults(const Program *program) {
    DialValue *values = memory_allocate(program->dial_count, sizeof *values);
    for (uint16_t i = 0; values && i < program->dial_count; i++)
        values[i] = (DialValue){program->dials[i].number, program->dials[i].colour};
    return values;
}

uint16_t dial_find(const Program *program, const char *name, size_t length) {
    for (uint16_t i = 0; i < program->dial_count; i++)
        if (strlen(program->dials[i].name) == length &&
            memcmp(program->dials[i].name, name, length) == 0)
            return i;
    return program->dial_count;
}

DialValue dial_held(const DialInfo *dial, DialValue value) {
    value.number = number_finite(value.number);
    value.colour = (Colour){light_finite(value.colour.r), light_finite(value.colour.g),
                            light_finite(value.colour.b)};
    if (dial->type == DIAL_TRUTH)
        value.number = value.number != 0.0;
    if (dial->type == DIAL_DURATION)
        value.number = number_microseconds(value.number);
    if (dial->ranged && value.number < dial->from)
        value.number = dial->from;
    if (dial->ranged && value.number > dial->to)
        value.number = dial->to;
    return value;
}

/* A value is what the declaration of a dial with it as default would hold, and no more than that.
 */
static bool alone(const Compilation *compilation, const Program *program) {
    uint32_t lamps = 0;
    const DialInfo *dial = program->dials;
    lang_lamps(compilation, &lamps);
    return program->dial_count == 1 && program->event_count == 0 && program->routine_count == 0 &&
           lamps == 0 && !dial->ranged && !dial->label && !(dial->eased > 0);
}

/* What a value of the dial's type comes to; `percent`: it was written in %. */
static DialTrouble hold(const DialInfo *dial, DialValue read, bool percent, DialValue *value) {
    DialInfo boundless = *dial;
    boundless.ranged = false;
    double number = dial_held(&boundless, read).number, hundredth = number / 100;
    *value = dial_held(dial, read);
    if (value->number == number)
        return DIAL_SET;
    bool meant = dial->percent && !percent && number > dial->to && hundredth >= dial->from &&
                 hundredth <= dial->to;
    return meant ? DIAL_NOT_PERCENT : DIAL_CUT;
}

DialTrouble dial_read(const DialInfo *dial, const char *text, DialValue *value) {
    static const char HEAD[] = "dial value =\n";
    size_t head = sizeof HEAD - 1, length = strlen(text);
    char *source = memory_allocate(head + length + 1, 1);
    if (!source)
        return DIAL_NO_MEMORY;
    memcpy(source, HEAD, head);
    memcpy(source + head, text, length);
    TextReader one = {source, head + length};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "value");
    DialTrouble trouble = DIAL_NOT_READ;
    const Program *program = compilation ? lang_program(compilation) : NULL;
    if (!compilation || diagnostics_out_of_memory(lang_diagnostics(compilation))) {
        trouble = DIAL_NO_MEMORY;
    } else if (program && alone(compilation, program)) {
        const DialInfo *read = &program->dials[0];
        trouble = DIAL_WRONG_TYPE;
        if (read->type == dial->type)
            trouble = hold(dial, (DialValue){read->number, read->colour}, read->percent, value);
    }
    lang_free(compilation);
    memory_release(source);
    return trouble;
}
