/* The syntax tree: what was written, nothing inferred. Nodes live in the arena of their file and
 * are never changed after parsing. The contract between parser, formatter and checker.
 *
 * One shape for every node. What a, b, c, d, e, number, text and word mean is told below beside
 * each kind; a kid that may be missing says "or NULL". Lists are chained by `next`. */
#ifndef GLOAM_LANG_AST_H
#define GLOAM_LANG_AST_H

#include <stdint.h>

#include "lang/diagnostics.h"

typedef enum NodeKind {
    /* -------- expressions -------- */
    NODE_HOLE,     /* something wrong stood here and was reported; later checks keep silent. In a
                      tree that is not whole a hole may stand for any expression, easing, moment */
    NODE_NUMBER,   /* number */
    NODE_PERCENT,  /* number: 0.4 for 40% */
    NODE_DURATION, /* number: whole microseconds */
    NODE_ANGLE,    /* number: turns */
    NODE_KELVIN,   /* number: kelvin as written */
    NODE_CLOCK,    /* a time of day; number: seconds since midnight */
    NODE_COLOUR,   /* number: 0xRRGGBB */
    NODE_TRUTH,    /* number: 0 or 1 */
    NODE_NAME,     /* text */
    NODE_MEMBER,   /* a = NAME (prefix), b = NAME */
    NODE_CALL,     /* a = NAME or MEMBER, b = arguments */
    NODE_EASE,     /* ease(a, b): a = expression, b = EASING */
    NODE_PARENS,   /* a */
    NODE_NEGATE,   /* -a */
    NODE_NOT,      /* not a */
    NODE_BINARY,   /* word = BINARY_..., a, b */
    NODE_IF,       /* if a then b else c */
    NODE_DELAYED,  /* a delayed b */
    NODE_RAMP,     /* word = RAMP_ flags, a = list of STOP, b = DRIVER, c = EASING or NULL,
                      d = SPACE or NULL */
    NODE_STOP,     /* a = value, b = place or NULL, c = EASING or NULL */
    NODE_DRIVER,   /* word = DRIVER_..., a = operand (NULL for THROUGHOUT) */
    NODE_EASING,   /* text = ease, ease-in, ..., steps, linear, cubic-bezier; a = arguments */
    NODE_EASING_ARGUMENT, /* a = number expression or NULL, b, c = PERCENT or NULL; text = a
                             hyphenated or plain word (jump-end, end) where a is NULL */
    NODE_SPACE, /* a = NAME of the space (text may hold a hyphen), b = NAME of the hue direction
                   (shorter, longer, increasing, decreasing) or NULL */

    /* -------- items -------- */
    NODE_USE,     /* text = the path, a = NAME (alias) or NULL */
    NODE_LET,     /* a = NAME, b = parameters (NAMEs) or NULL, c = expression */
    NODE_DIAL,    /* a = NAME, b = default, c = from or NULL, d = to or NULL, e = eased or NULL,
                     text = label or NULL */
    NODE_EVENT,   /* a = NAME, text = label or NULL */
    NODE_ROUTINE, /* a = NAME, b = lasts or NULL, c = NAME (then) or NULL, d = body: LETs, PAINTs */
    NODE_PAINT,   /* a = expression, b = NAME (blend mode) or NULL, c = where or NULL */
    NODE_PLACE,   /* a = latitude, b = longitude (NUMBER, or NEGATE of one), text = zone or NULL */
    NODE_UNTIL_CLOCK, /* a = routine (NAME or MEMBER) */
    NODE_ENTRY,       /* word = ENTRY_AT or ENTRY_BY, a = MOMENTs or one MOMENT_RANGE, b = BOUNDs,
                         c = day clauses, d = PLAY */
    NODE_WHEN,        /* a = expression, d = PLAY */
    NODE_BETWEEN, /* a, b = MOMENT, c = day clauses, d = level expression, e = ON_LAMP or NULL */
    NODE_LAMP,    /* a = NAME, b = PROPERTYs in the order of the text */

    /* -------- parts of a timetable -------- */
    NODE_PLAY,         /* a = routine (NAME, MEMBER), b = SETTINGs, c = ON_LAMP or NULL,
                          d = FOR or UNTIL or NULL, e = fading (expression) or NULL */
    NODE_SETTING,      /* a = NAME or MEMBER of a dial, b = expression */
    NODE_ON_LAMP,      /* a = NAME, b = NAME of a part or NULL */
    NODE_FOR,          /* a = duration expression */
    NODE_UNTIL,        /* a = MOMENT */
    NODE_MOMENT,       /* word = MOMENT_CLOCK: number = seconds since midnight;
                          word = MOMENT_SUN: text = sunrise, sunset, "civil dawn", ...;
                          number = offset in microseconds, negative before */
    NODE_MOMENT_RANGE, /* a, b = CLOCK, c = DURATION: 07:00..21:00 every 1h */
    NODE_BOUND,        /* word = BOUND_..., a = CLOCK */
    NODE_DAYS,         /* word = DAYS_..., a = list: RANGEs (WEEKDAYS, MONTHS, EXCEPT), DATE (FROM,
                          UNTIL); ROTA: three NUMBERs: first, last, of */
    NODE_RANGE,        /* a = WEEKDAY, MONTH or DATE; b = the same or NULL */
    NODE_WEEKDAY,      /* number: 0 mon .. 6 sun, 7 weekdays, 8 weekends */
    NODE_MONTH,        /* number: 1..12 */
    NODE_DATE,         /* number: year * 10000 + month * 100 + day, a day that exists */

    /* -------- lamps -------- */
    NODE_PROPERTY, /* word = PROPERTY_...; what it holds stands there */
    NODE_VOLT,     /* number: volts */
    NODE_AMPERE,   /* number: amperes */
    NODE_HERTZ,    /* number: hertz */
    NODE_TEXT,     /* text */
    NODE_KIND_COUNT
} NodeKind;

typedef enum Binary {
    BINARY_ADD,
    BINARY_SUBTRACT,
    BINARY_MULTIPLY,
    BINARY_DIVIDE,
    BINARY_EQUAL,
    BINARY_NOT_EQUAL,
    BINARY_LESS,
    BINARY_LESS_EQUAL,
    BINARY_GREATER,
    BINARY_GREATER_EQUAL,
    BINARY_AND,
    BINARY_OR
} Binary;

enum { RAMP_BARS = 1, RAMP_BACK = 2, RAMP_ROUND = 4 };

typedef enum Driver {
    DRIVER_OVER,
    DRIVER_EVERY,
    DRIVER_FOR_EACH,
    DRIVER_THROUGHOUT,
    DRIVER_ALONG
} Driver;

enum { ENTRY_AT, ENTRY_BY };
enum { MOMENT_CLOCK, MOMENT_SUN };
enum { BOUND_NOT_BEFORE, BOUND_NOT_AFTER, BOUND_ELSE };
enum { DAYS_WEEKDAYS, DAYS_ROTA, DAYS_MONTHS, DAYS_FROM, DAYS_UNTIL, DAYS_EXCEPT };

typedef enum Property {
    PROPERTY_PIXELS, /* a = NUMBER */
    PROPERTY_SHAPE,  /* text = strip, ring, grid, ball, points; GRID: a, b = NUMBER (across, up),
                        number = 1 zigzag; BALL: a = NUMBER, number = 1 faces; POINTS: c = TEXT */
    PROPERTY_TURNED, /* a = ANGLE */
    PROPERTY_MIRRORED,
    PROPERTY_CHIP,     /* a = NAME */
    PROPERTY_PORT,     /* a = TEXT */
    PROPERTY_ORDER,    /* a = NAME */
    PROPERTY_SUPPLY,   /* a = VOLT, b = AMPERE */
    PROPERTY_LEVEL,    /* a = expression */
    PROPERTY_WHITE,    /* a = KELVIN */
    PROPERTY_PART,     /* a = NAME, b = NUMBER, c = NUMBER */
    PROPERTY_GROUP,    /* a = NAME, b = list of RANGEs of NUMBERs (b NULL: one pixel) */
    PROPERTY_DRAWS,    /* a = AMPERE, b = AMPERE (idle) */
    PROPERTY_GAIN,     /* a, b, c = PERCENT */
    PROPERTY_DIE,      /* a = KELVIN */
    PROPERTY_DITHER,   /* a = NAME: level or time */
    PROPERTY_REPAINT,  /* a = DURATION */
    PROPERTY_CLOCK,    /* a = HERTZ */
    PROPERTY_ENDS,     /* a = NAME: off or last */
    PROPERTY_FLASHES,  /* a = TEXT */
    PROPERTY_UNIVERSE, /* a = NUMBER */
    PROPERTY_PRIORITY, /* a = NUMBER */
    PROPERTY_COUNT
} Property;

typedef struct Node Node;
struct Node {
    uint16_t kind; /* NodeKind */
    uint16_t word;
    uint16_t height; /* 1 + the largest of the kids': at most LIMIT_HEIGHT */
    Span span;       /* from the first byte of the first token to behind the last */
    double number;
    const char *text; /* NUL-terminated, in the arena; quotes and escapes taken off; or NULL */
    Node *a, *b, *c, *d, *e;
    Node *next;
};

#endif
