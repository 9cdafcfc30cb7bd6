/* What a compiled file is: routines as bytecode, dials, events. The compiler writes it, the
 * verifier checks it, the machine runs it; its bytes on disk are in spec/bytecode.md.
 *
 * Numbers are doubles and colours are three floats of linear sRGB light at every rate.
 * A truth is the number 0 or 1, a duration a whole number of microseconds, an angle a number
 * of turns. */
#ifndef GLOAM_CORE_PROGRAM_H
#define GLOAM_CORE_PROGRAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct Colour {
    float r, g, b;
} Colour;

/* The operations, from the one list. */
typedef enum Operation {
#define OP(name, kinds, form, expression, cost, text) OP_##name,
#include "runtime/core/operations.def"
#undef OP
    OPERATION_COUNT
} Operation;

/* A routine's code has six sections. Scalar sections work on frame registers, block sections on
 * pixel registers (a block of pixels at a time). The order is the order of execution.
 *   SET           scalar   when the lamp is known or a dial changed
 *   SET_SPREAD    block    once after SET: SPREAD only, copies frame registers for EACH
 *   EACH          block    for every block of pixels after SET_SPREAD; results are kept by KEEP
 *   FRAME         scalar   once a frame
 *   FRAME_SPREAD  block    once a frame: SPREAD only, copies frame registers for PIXEL
 *   PIXEL         block    for every block of pixels of a frame
 * Frame registers written in SET stay valid in FRAME; pixel registers written by a SPREAD stay
 * valid for the block section behind it; nothing else of a block section survives its block. */
typedef enum Section {
    SECTION_SET,
    SECTION_SET_SPREAD,
    SECTION_EACH,
    SECTION_FRAME,
    SECTION_FRAME_SPREAD,
    SECTION_PIXEL,
    SECTION_COUNT
} Section;

/* One instruction: 16 bytes, eight little-endian 16-bit words on disk. Which words mean what is
 * told by the operation's kinds; words without a meaning are 0. */
typedef struct Instruction {
    uint16_t op;
    uint16_t dst;
    uint16_t a, b, c, d; /* registers */
    uint16_t k;          /* an index: input, field, dial, easing, ramp, space, salt, ... */
    uint16_t spare;      /* 0 */
} Instruction;

/* Inputs of a frame (INPUT, scalar sections). All but INPUT_PIXELS move. */
typedef enum Input {
    INPUT_T,         /* microseconds since the routine began */
    INPUT_HOUR,      /* 0..24, local clock */
    INPUT_MOONLIT,   /* 0..1 */
    INPUT_MOONAGE,   /* 0..1 */
    INPUT_SUNHEIGHT, /* turns */
    INPUT_PIXELS,    /* number of pixels of the lamp; does not move (SET) */
    INPUT_COUNT
} Input;

/* What each pixel has of its own (FIELD, block sections). */
typedef enum Field {
    FIELD_PIXEL,
    FIELD_POS,
    FIELD_X,
    FIELD_Y,
    FIELD_Z,
    FIELD_RADIUS,
    FIELD_ANGLE, /* turns */
    FIELD_COUNT
} Field;

typedef enum BlendSpace { SPACE_OKLAB, SPACE_SRGB_LINEAR, SPACE_SRGB, SPACE_OKLCH } BlendSpace;
typedef enum HuePath { HUE_SHORTER, HUE_LONGER, HUE_INCREASING, HUE_DECREASING } HuePath;
/* k of COLOUR_BLEND and `blend` of a ramp: space + 4 * hue path; hue path 0 unless the space is
 * OKLCH. */
#define BLEND_CODE(space, hue) ((uint16_t)((space) + 4 * (hue)))
#define BLEND_CODE_COUNT 16

/* Salts of the hash (k of HASH1..4). */
typedef enum Salt { SALT_RANDOM = 1, SALT_DRAW = 2, SALT_NOISE = 3 } Salt;

typedef enum EasingKind { EASING_BEZIER, EASING_STEPS, EASING_LINEAR } EasingKind;
typedef enum Jump { JUMP_START, JUMP_END, JUMP_NONE, JUMP_BOTH } Jump;

/* An easing of CSS Easing 2. LINEAR has `count` points, inputs never falling: point i is
 * points[2 * i] (input), points[2 * i + 1] (output); at least 2. */
typedef struct Easing {
    EasingKind kind;
    Jump jump;        /* STEPS */
    uint32_t count;   /* STEPS: n; LINEAR: number of points */
    double bezier[4]; /* BEZIER: x1 y1 x2 y2, x in 0..1 */
    double *points;   /* LINEAR, owned by the program */
} Easing;

#define EASING_NONE 0xFFFFu /* straight */

/* A ramp whose stops and places are the same for the whole lamp. RAMP_READY k converts the stops
 * into the blend space, in the section in which they are known; RAMP_NUMBER and RAMP_COLOUR read.
 * Chains are built from COLOUR_BLEND, LERP and SELECT where a stop or a place differs from pixel to
 * pixel. */
typedef struct RampStop {
    uint16_t place;  /* frame number register; below the stop before it: moved up to that */
    uint16_t value;  /* frame number or colour register */
    uint16_t easing; /* of the stretch from this stop to the next; EASING_NONE */
} RampStop;

typedef struct Ramp {
    bool colour;    /* else numbers */
    bool bars;      /* values change at their places instead of fading */
    uint16_t blend; /* BLEND_CODE */
    uint16_t count;
    RampStop *stops; /* owned by the program */
} Ramp;

typedef enum Stillness {
    STILL_ALWAYS,  /* nothing moves */
    STILL_SETTLES, /* from some time on: `settle`, the largest over the pixels */
    STILL_NEVER
} Stillness;

/* The code of one routine. Everything pointed to is owned by the program. */
typedef struct Code {
    uint32_t number_constants; /* frame number registers 0 .. n-1 hold these */
    double *numbers;
    uint32_t colour_constants; /* frame colour registers 0 .. n-1 hold these */
    Colour *colours;

    uint16_t frame_numbers, frame_colours; /* registers, constants included */
    uint16_t pixel_numbers, pixel_colours;
    uint16_t kept_numbers, kept_colours; /* columns kept from EACH for PIXEL */

    uint32_t easing_count;
    Easing *easings;
    uint32_t ramp_count;
    Ramp *ramps;

    uint32_t lengths[SECTION_COUNT];
    Instruction *sections[SECTION_COUNT];

    bool result_each; /* the light is a pixel colour register (PIXEL), else a frame one */
    uint16_t result;  /* that register */
    Stillness stillness;
    bool settle_each; /* STILL_SETTLES: the time (microseconds) is kept number `settle`, */
    uint16_t settle;  /* else frame number register `settle` */
    bool reads_clock; /* reads hour, moonlit, moonage or sunheight */
} Code;

typedef enum DialType { DIAL_NUMBER, DIAL_DURATION, DIAL_TRUTH, DIAL_COLOUR } DialType;

typedef struct DialInfo {
    char *name;  /* with its prefix: `p.warmth` */
    char *label; /* or NULL */
    DialType type;
    bool ranged, percent; /* percent: written in %, shown in % */
    double from, to;      /* ranged only */
    double number;        /* default; truths 0 or 1, durations in microseconds */
    Colour colour;        /* default of a colour dial */
    double eased;         /* microseconds over which a change glides; 0 none */
    bool used;            /* some routine reads it */
} DialInfo;

typedef struct EventInfo {
    char *name, *label;
} EventInfo;

#define ROUTINE_NONE 0xFFFFu
#define ROUTINE_OFF 0xFFFEu

typedef struct RoutineInfo {
    char *name;
    double lasts;  /* microseconds; 0: goes on */
    uint16_t then; /* index, ROUTINE_OFF or ROUTINE_NONE */
    Code code;
} RoutineInfo;

typedef struct Program {
    uint16_t dial_count, event_count, routine_count, group_count;
    DialInfo *dials;
    EventInfo *events;
    RoutineInfo *routines; /* those of the main file first, in the order of the text */
    char **groups;         /* names asked for by within(...): k of WITHIN */
} Program;

/* Frees the program and all it owns; NULL is fine. (runtime/core/program.c) */
void program_free(Program *program);
/* Frees what a code owns, for one that belongs to no program. */
void program_free_code(Code *code);

#endif
