#include "runtime/core/bytecode.h"

#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

/* The first byte is no ASCII and begins no UTF-8, so no text is taken for bytecode; CR LF shows a
 * file that was sent as text. */
static const unsigned char magic[8] = {0xB1, 'G', 'L', 'O', 'A', 'M', '\r', '\n'};

enum {
    FORMAT_VERSION = 1,
    HEADER_BYTES = 20,
    NO_TEXT = 0xFFFF,
    DIAL_RANGED = 1,
    DIAL_PERCENT = 2,
    DIAL_USED = 4,
    RAMP_IS_COLOUR = 1,
    RAMP_IS_BARS = 2,
    CODE_RESULT_EACH = 1,
    CODE_SETTLE_EACH = 2,
    CODE_READS_CLOCK = 4,
    /* Fewest bytes that one entry takes: what a count is checked against before allocating. */
    MINIMUM_TEXT = 2,
    MINIMUM_EASING = 6,
    MINIMUM_ROUTINE = 70,
    DIAL_BYTES = 50,
    EVENT_BYTES = 4,
    RAMP_BYTES = 5,
    STOP_BYTES = 6,
    INSTRUCTION_BYTES = 16,
    COLOUR_BYTES = 12,
    NUMBER_BYTES = 8
};

bool bytecode_is(const unsigned char *bytes, size_t length) {
    return length >= sizeof magic && memcmp(bytes, magic, sizeof magic) == 0;
}

/* CRC-32 with the reflected polynomial 0xEDB88320 (ISO 3309, as in PNG and gzip). */
static uint32_t checksum(const unsigned char *bytes, size_t length) {
    static const uint32_t quarter[16] = {0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC,
                                         0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
                                         0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C,
                                         0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C};
    uint32_t sum = 0xFFFFFFFF;
    for (size_t i = 0; i < length; i++) {
        sum ^= bytes[i];
        sum = (sum >> 4) ^ quarter[sum & 15];
        sum = (sum >> 4) ^ quarter[sum & 15];
    }
    return sum ^ 0xFFFFFFFF;
}

/* -------- writing -------- */

typedef struct Writer {
    unsigned char *bytes;
    size_t length, room;
    bool failed;
} Writer;

static void put_bytes(Writer *writer, const void *bytes, size_t length) {
    if (writer->failed)
        return;
    if (length > writer->room - writer->length) {
        size_t room = writer->room * 2 > writer->length + length ? writer->room * 2
                                                                 : writer->length + length + 256;
        unsigned char *grown = room <= 2 * (size_t)LIMIT_PROGRAM_BYTES + 256
                                   ? memory_resize(writer->bytes, room, 1)
                                   : NULL;
        if (!grown) {
            writer->failed = true;
            return;
        }
        writer->bytes = grown;
        writer->room = room;
    }
    if (length)
        memcpy(writer->bytes + writer->length, bytes, length);
    writer->length += length;
}

static void put(Writer *writer, uint64_t value, size_t size) {
    unsigned char bytes[8];
    for (size_t i = 0; i < size; i++)
        bytes[i] = (unsigned char)(value >> (8 * i));
    put_bytes(writer, bytes, size);
}

static void put_number(Writer *writer, double number) {
    uint64_t bits;
    memcpy(&bits, &number, sizeof bits);
    put(writer, bits, 8);
}

static void put_colour(Writer *writer, Colour colour) {
    const float channels[3] = {colour.r, colour.g, colour.b};
    for (int i = 0; i < 3; i++) {
        uint32_t bits;
        memcpy(&bits, &channels[i], sizeof bits);
        put(writer, bits, 4);
    }
}

static void put_text(Writer *writer, const char *text) {
    size_t length = text ? strlen(text) : 0;
    if (length >= NO_TEXT)
        writer->failed = true;
    put(writer, text ? length : NO_TEXT, 2);
    put_bytes(writer, text, length);
}

static void put_dial(Writer *writer, const DialInfo *dial) {
    put_text(writer, dial->name);
    put_text(writer, dial->label);
    put(writer, dial->type, 1);
    put(writer,
        (dial->ranged ? DIAL_RANGED : 0) | (dial->percent ? DIAL_PERCENT : 0) |
            (dial->used ? DIAL_USED : 0),
        1);
    put_number(writer, dial->ranged ? dial->from : 0);
    put_number(writer, dial->ranged ? dial->to : 0);
    put_number(writer, dial->number);
    put_colour(writer, dial->colour);
    put_number(writer, dial->eased);
}

static void put_easing(Writer *writer, const Easing *easing) {
    put(writer, easing->kind, 1);
    switch (easing->kind) {
    case EASING_BEZIER:
        for (int i = 0; i < 4; i++)
            put_number(writer, easing->bezier[i]);
        break;
    case EASING_STEPS:
        put(writer, easing->jump, 1);
        put(writer, easing->count, 4);
        break;
    case EASING_LINEAR:
        put(writer, easing->count, 4);
        for (size_t i = 0; i < 2 * (size_t)easing->count; i++)
            put_number(writer, easing->points[i]);
        break;
    }
}

static void put_ramp(Writer *writer, const Ramp *ramp) {
    put(writer, (ramp->colour ? RAMP_IS_COLOUR : 0) | (ramp->bars ? RAMP_IS_BARS : 0), 1);
    put(writer, ramp->blend, 2);
    put(writer, ramp->count, 2);
    for (size_t i = 0; i < ramp->count; i++) {
        put(writer, ramp->stops[i].place, 2);
        put(writer, ramp->stops[i].value, 2);
        put(writer, ramp->stops[i].easing, 2);
    }
}

static void put_code(Writer *writer, const Code *code) {
    const uint16_t registers[] = {code->frame_numbers, code->frame_colours, code->pixel_numbers,
                                  code->pixel_colours, code->kept_numbers,  code->kept_colours};
    for (size_t i = 0; i < sizeof registers / sizeof *registers; i++)
        put(writer, registers[i], 2);
    put(writer,
        (code->result_each ? CODE_RESULT_EACH : 0) | (code->settle_each ? CODE_SETTLE_EACH : 0) |
            (code->reads_clock ? CODE_READS_CLOCK : 0),
        1);
    put(writer, code->stillness, 1);
    put(writer, code->result, 2);
    put(writer, code->settle, 2);
    put(writer, code->number_constants, 4);
    for (size_t i = 0; i < code->number_constants; i++)
        put_number(writer, code->numbers[i]);
    put(writer, code->colour_constants, 4);
    for (size_t i = 0; i < code->colour_constants; i++)
        put_colour(writer, code->colours[i]);
    put(writer, code->easing_count, 4);
    for (size_t i = 0; i < code->easing_count; i++)
        put_easing(writer, &code->easings[i]);
    put(writer, code->ramp_count, 4);
    for (size_t i = 0; i < code->ramp_count; i++)
        put_ramp(writer, &code->ramps[i]);
    for (int section = 0; section < SECTION_COUNT; section++) {
        put(writer, code->lengths[section], 4);
        for (size_t i = 0; i < code->lengths[section]; i++) {
            const Instruction *it = &code->sections[section][i];
            const uint16_t words[8] = {it->op, it->dst, it->a, it->b,
                                       it->c,  it->d,   it->k, it->spare};
            for (int word = 0; word < 8; word++)
                put(writer, words[word], 2);
        }
    }
}

static void put_program(Writer *writer, const Program *program) {
    put(writer, program->dial_count, 2);
    put(writer, program->event_count, 2);
    put(writer, program->routine_count, 2);
    put(writer, program->group_count, 2);
    for (size_t i = 0; i < program->dial_count; i++)
        put_dial(writer, &program->dials[i]);
    for (size_t i = 0; i < program->event_count; i++) {
        put_text(writer, program->events[i].name);
        put_text(writer, program->events[i].label);
    }
    for (size_t i = 0; i < program->group_count; i++)
        put_text(writer, program->groups[i]);
    for (size_t i = 0; i < program->routine_count; i++) {
        put_text(writer, program->routines[i].name);
        put_number(writer, program->routines[i].lasts);
        put(writer, program->routines[i].then, 2);
        put_code(writer, &program->routines[i].code);
    }
}

bool bytecode_write(const Program *program, unsigned char **bytes, size_t *length) {
    Writer writer = {0};
    put_bytes(&writer, magic, sizeof magic);
    put(&writer, FORMAT_VERSION, 2);
    put(&writer, 0, 2);
    put(&writer, 0, 8); /* length and checksum, below */
    put_program(&writer, program);
    if (writer.failed || writer.length > LIMIT_PROGRAM_BYTES) {
        memory_release(writer.bytes);
        *bytes = NULL;
        *length = 0;
        return false;
    }
    *bytes = writer.bytes;
    *length = writer.length;
    writer.length = HEADER_BYTES - 8;
    put(&writer, *length - HEADER_BYTES, 4);
    put(&writer, checksum(*bytes + HEADER_BYTES, *length - HEADER_BYTES), 4);
    return true;
}

/* -------- reading -------- */

typedef struct Reader {
    const unsigned char *bytes;
    size_t left;
    const char *reason; /* the first thing wrong; NULL: nothing yet */
} Reader;

static void refuse(Reader *reader, const char *reason) {
    if (!reader->reason)
        reader->reason = reason;
    reader->left = 0;
}

static uint64_t take(Reader *reader, size_t size) {
    if (reader->left < size) {
        refuse(reader, "the bytecode ends too early");
        return 0;
    }
    uint64_t value = 0;
    for (size_t i = 0; i < size; i++)
        value |= (uint64_t)reader->bytes[i] << (8 * i);
    reader->bytes += size;
    reader->left -= size;
    return value;
}

static uint16_t take_word(Reader *reader) {
    return (uint16_t)take(reader, 2);
}

static double take_number(Reader *reader) {
    uint64_t bits = take(reader, 8);
    double number;
    memcpy(&number, &bits, sizeof number);
    return number;
}

static Colour take_colour(Reader *reader) {
    float channels[3];
    for (int i = 0; i < 3; i++) {
        uint32_t bits = (uint32_t)take(reader, 4);
        memcpy(&channels[i], &bits, sizeof bits);
    }
    return (Colour){channels[0], channels[1], channels[2]};
}

/* `choices` values from 0 on. */
static unsigned take_choice(Reader *reader, unsigned choices) {
    unsigned value = (unsigned)take(reader, 1);
    if (value >= choices) {
        refuse(reader, "the bytecode has a value that means nothing");
        return 0;
    }
    return value;
}

/* Zeroed room for `count` entries, which take at least `least` bytes each of what is left. NULL
 * for none, and where it is refused. */
static void *take_room(Reader *reader, uint64_t count, size_t least, size_t size) {
    if (count == 0)
        return NULL;
    if (count > reader->left / least) {
        refuse(reader, "the bytecode ends too early");
        return NULL;
    }
    void *room = memory_allocate((size_t)count, size);
    if (!room)
        refuse(reader, "out of memory");
    return room;
}

static char *take_text(Reader *reader, bool optional) {
    size_t length = take_word(reader);
    if (reader->reason || (length == NO_TEXT && optional))
        return NULL;
    if (length > reader->left || length == NO_TEXT) {
        refuse(reader, "the bytecode ends too early");
        return NULL;
    }
    if (memchr(reader->bytes, 0, length)) {
        refuse(reader, "a text of the bytecode holds a zero byte");
        return NULL;
    }
    char *text = memory_copy_text((const char *)reader->bytes, length);
    if (!text) {
        refuse(reader, "out of memory");
        return NULL;
    }
    reader->bytes += length;
    reader->left -= length;
    return text;
}

static void take_dial(Reader *reader, DialInfo *dial) {
    dial->name = take_text(reader, false);
    dial->label = take_text(reader, true);
    dial->type = (DialType)take_choice(reader, DIAL_COLOUR + 1);
    unsigned flags = take_choice(reader, (DIAL_RANGED | DIAL_PERCENT | DIAL_USED) + 1);
    dial->ranged = flags & DIAL_RANGED;
    dial->percent = flags & DIAL_PERCENT;
    dial->used = flags & DIAL_USED;
    if (dial->ranged) {
        dial->from = take_number(reader);
        dial->to = take_number(reader);
    } else if (take(reader, 8) || take(reader, 8)) {
        refuse(reader, "the bytecode has a range for a dial that has none");
    }
    dial->number = take_number(reader);
    dial->colour = take_colour(reader);
    dial->eased = take_number(reader);
}

static void take_easing(Reader *reader, Easing *easing) {
    easing->kind = (EasingKind)take_choice(reader, EASING_LINEAR + 1);
    switch (easing->kind) {
    case EASING_BEZIER:
        for (int i = 0; i < 4; i++)
            easing->bezier[i] = take_number(reader);
        break;
    case EASING_STEPS:
        easing->jump = (Jump)take_choice(reader, JUMP_BOTH + 1);
        easing->count = (uint32_t)take(reader, 4);
        break;
    case EASING_LINEAR: {
        uint32_t count = (uint32_t)take(reader, 4);
        easing->points = take_room(reader, 2 * (uint64_t)count, NUMBER_BYTES, sizeof(double));
        easing->count = easing->points ? count : 0;
        for (size_t i = 0; i < 2 * (size_t)easing->count; i++)
            easing->points[i] = take_number(reader);
        break;
    }
    }
}

static void take_ramp(Reader *reader, Ramp *ramp) {
    unsigned flags = take_choice(reader, (RAMP_IS_COLOUR | RAMP_IS_BARS) + 1);
    ramp->colour = flags & RAMP_IS_COLOUR;
    ramp->bars = flags & RAMP_IS_BARS;
    ramp->blend = take_word(reader);
    uint16_t count = take_word(reader);
    ramp->stops = take_room(reader, count, STOP_BYTES, sizeof *ramp->stops);
    ramp->count = ramp->stops ? count : 0;
    for (size_t i = 0; i < ramp->count; i++) {
        ramp->stops[i].place = take_word(reader);
        ramp->stops[i].value = take_word(reader);
        ramp->stops[i].easing = take_word(reader);
    }
}

static void take_tables(Reader *reader, Code *code) {
    uint32_t count = (uint32_t)take(reader, 4);
    code->numbers = take_room(reader, count, NUMBER_BYTES, sizeof *code->numbers);
    code->number_constants = code->numbers ? count : 0;
    for (size_t i = 0; i < code->number_constants; i++)
        code->numbers[i] = take_number(reader);

    count = (uint32_t)take(reader, 4);
    code->colours = take_room(reader, count, COLOUR_BYTES, sizeof *code->colours);
    code->colour_constants = code->colours ? count : 0;
    for (size_t i = 0; i < code->colour_constants; i++)
        code->colours[i] = take_colour(reader);

    count = (uint32_t)take(reader, 4);
    code->easings = take_room(reader, count, MINIMUM_EASING, sizeof *code->easings);
    code->easing_count = code->easings ? count : 0;
    for (size_t i = 0; i < code->easing_count; i++)
        take_easing(reader, &code->easings[i]);

    count = (uint32_t)take(reader, 4);
    code->ramps = take_room(reader, count, RAMP_BYTES, sizeof *code->ramps);
    code->ramp_count = code->ramps ? count : 0;
    for (size_t i = 0; i < code->ramp_count; i++)
        take_ramp(reader, &code->ramps[i]);
}

static void take_section(Reader *reader, Code *code, int section) {
    uint32_t count = (uint32_t)take(reader, 4);
    Instruction *all = take_room(reader, count, INSTRUCTION_BYTES, sizeof *all);
    code->sections[section] = all;
    code->lengths[section] = all ? count : 0;
    for (size_t i = 0; i < code->lengths[section]; i++) {
        all[i].op = take_word(reader);
        all[i].dst = take_word(reader);
        all[i].a = take_word(reader);
        all[i].b = take_word(reader);
        all[i].c = take_word(reader);
        all[i].d = take_word(reader);
        all[i].k = take_word(reader);
        all[i].spare = take_word(reader);
    }
}

static void take_code(Reader *reader, Code *code) {
    code->frame_numbers = take_word(reader);
    code->frame_colours = take_word(reader);
    code->pixel_numbers = take_word(reader);
    code->pixel_colours = take_word(reader);
    code->kept_numbers = take_word(reader);
    code->kept_colours = take_word(reader);
    unsigned flags =
        take_choice(reader, (CODE_RESULT_EACH | CODE_SETTLE_EACH | CODE_READS_CLOCK) + 1);
    code->result_each = flags & CODE_RESULT_EACH;
    code->settle_each = flags & CODE_SETTLE_EACH;
    code->reads_clock = flags & CODE_READS_CLOCK;
    code->stillness = (Stillness)take_choice(reader, STILL_NEVER + 1);
    code->result = take_word(reader);
    code->settle = take_word(reader);
    take_tables(reader, code);
    for (int section = 0; section < SECTION_COUNT; section++)
        take_section(reader, code, section);
}

static void take_routine(Reader *reader, RoutineInfo *routine) {
    routine->name = take_text(reader, false);
    routine->lasts = take_number(reader);
    routine->then = take_word(reader);
    take_code(reader, &routine->code);
}

/* Counts are set with their tables, so that program_free finds what is there. */
static void take_program(Reader *reader, Program *program) {
    uint16_t dials = take_word(reader), events = take_word(reader);
    uint16_t routines = take_word(reader), groups = take_word(reader);
    program->dials = take_room(reader, dials, DIAL_BYTES, sizeof *program->dials);
    program->dial_count = program->dials ? dials : 0;
    for (size_t i = 0; i < program->dial_count && !reader->reason; i++)
        take_dial(reader, &program->dials[i]);
    program->events = take_room(reader, events, EVENT_BYTES, sizeof *program->events);
    program->event_count = program->events ? events : 0;
    for (size_t i = 0; i < program->event_count && !reader->reason; i++) {
        program->events[i].name = take_text(reader, false);
        program->events[i].label = take_text(reader, true);
    }
    program->groups = take_room(reader, groups, MINIMUM_TEXT, sizeof *program->groups);
    program->group_count = program->groups ? groups : 0;
    for (size_t i = 0; i < program->group_count && !reader->reason; i++)
        program->groups[i] = take_text(reader, false);
    program->routines = take_room(reader, routines, MINIMUM_ROUTINE, sizeof *program->routines);
    program->routine_count = program->routines ? routines : 0;
    for (size_t i = 0; i < program->routine_count && !reader->reason; i++)
        take_routine(reader, &program->routines[i]);
    if (reader->left)
        refuse(reader, "the bytecode has bytes behind its end");
}

static const char *check_header(Reader *reader) {
    if (!bytecode_is(reader->bytes, reader->left))
        return "this is no Gloam bytecode";
    if (reader->left < HEADER_BYTES)
        return "the bytecode ends too early";
    if (reader->left > LIMIT_PROGRAM_BYTES)
        return "the bytecode is larger than 16 MiB";
    (void)take(reader, sizeof magic);
    if (take(reader, 2) != FORMAT_VERSION || take(reader, 2) != 0)
        return "the bytecode is of another version; compile the text again";
    uint64_t length = take(reader, 4), sum = take(reader, 4);
    if (length > reader->left)
        return "the bytecode ends too early";
    if (length < reader->left)
        return "the bytecode has bytes behind its end";
    if (sum != checksum(reader->bytes, reader->left))
        return "the bytecode is damaged: its checksum does not fit";
    return NULL;
}

static void say(char *buffer, size_t buffer_size, const char *reason) {
    if (buffer_size)
        (void)snprintf(buffer, buffer_size, "%s", reason);
}

Program *bytecode_read(const unsigned char *bytes, size_t length, char *buffer,
                       size_t buffer_size) {
    Reader reader = {bytes, length, NULL};
    const char *reason = check_header(&reader);
    if (reason) {
        say(buffer, buffer_size, reason);
        return NULL;
    }
    Program *program = memory_allocate(1, sizeof *program);
    if (!program) {
        say(buffer, buffer_size, "out of memory");
        return NULL;
    }
    take_program(&reader, program);
    if (reader.reason)
        say(buffer, buffer_size, reader.reason);
    else if (verify_program(program, buffer, buffer_size))
        return program;
    program_free(program);
    return NULL;
}
