/* Values of literals: whole numbers divided once by a power of ten, so every place has the same
 * bits; durations are whole microseconds, exactly. */
#include <ctype.h>
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"

#include "grammar.h"

#define TURN_RADIANS 6.283185307179586476925286766559

typedef enum Part {
    PART_UNKNOWN,
    PART_DURATION,
    PART_ANGLE,
    PART_KELVIN,
    PART_VOLT,
    PART_AMPERE,
    PART_HERTZ
} Part;

/* factor: microseconds of a duration; what an angle is divided by; else what is multiplied. */
typedef struct Unit {
    const char *spelling;
    Part part;
    double factor;
} Unit;

static const Unit UNITS[] = {
    {"h", PART_DURATION, 3.6e9},
    {"min", PART_DURATION, 6e7},
    {"s", PART_DURATION, 1e6},
    {"ms", PART_DURATION, 1e3},
    {"deg", PART_ANGLE, 360},
    {"turn", PART_ANGLE, 1},
    {"rad", PART_ANGLE, TURN_RADIANS},
    {"grad", PART_ANGLE, 400},
    {"K", PART_KELVIN, 1},
    {"V", PART_VOLT, 1},
    {"A", PART_AMPERE, 1},
    {"mA", PART_AMPERE, 1e3},
    {"kHz", PART_HERTZ, 1e3},
};
enum { UNIT_COUNT = sizeof UNITS / sizeof UNITS[0] };

/* What people write instead. */
static const struct {
    const char *written, *unit;
} ALIASES[] = {
    {"sec", "s"},      {"secs", "s"},      {"second", "s"},        {"seconds", "s"},
    {"mins", "min"},   {"minute", "min"},  {"minutes", "min"},     {"hr", "h"},
    {"hrs", "h"},      {"hour", "h"},      {"hours", "h"},         {"msec", "ms"},
    {"millis", "ms"},  {"degree", "deg"},  {"degrees", "deg"},     {"turns", "turn"},
    {"radian", "rad"}, {"radians", "rad"}, {"kelvin", "K"},        {"volt", "V"},
    {"volts", "V"},    {"amp", "A"},       {"amps", "A"},          {"ampere", "A"},
    {"amperes", "A"},  {"percent", "%"},   {"milliseconds", "ms"}, {"millisecond", "ms"},
};

/* digits[.digits] as a whole number and how often it is divided by ten. */
typedef struct Decimal {
    uint64_t digits;
    int places;
    bool fits;
} Decimal;

static Decimal literal_decimal(const unsigned char *text, uint32_t length) {
    Decimal decimal = {.fits = true};
    int significant = 0;
    bool point = false;
    for (uint32_t i = 0; i < length; i++) {
        if (text[i] == '.') {
            point = true;
            continue;
        }
        if (significant || text[i] != '0')
            significant++;
        if (significant <= LIMIT_DIGITS)
            decimal.digits = decimal.digits * 10 + (uint64_t)(text[i] - '0');
        if (point)
            decimal.places++;
    }
    /* Powers of ten up to 22 are exact in a double. */
    decimal.fits = significant <= LIMIT_DIGITS && decimal.places <= 22;
    return decimal;
}

static double literal_value(Decimal decimal) {
    double power = 1;
    for (int i = 0; i < decimal.places; i++)
        power *= 10;
    return (double)decimal.digits / power;
}

static bool literal_fits(Syntax *s, Token *token, Decimal decimal) {
    if (decimal.fits)
        return true;
    syntax_error(s, "too-many-digits", token->begin, token->end, NULL,
                 "a number has at most %d significant digits and 22 behind the point",
                 LIMIT_DIGITS);
    token->kind = TK_BAD;
    return false;
}

void literal_number(Syntax *s, Token *token) {
    const unsigned char *text = s->text + token->begin;
    uint32_t length = token->end - token->begin;
    Decimal decimal = literal_decimal(text, length);
    token->kind = TK_NUMBER;
    if (text[0] == '.') {
        char hint[80];
        snprintf(hint, sizeof hint, "`0%.*s`", length < 60 ? (int)length : 60, text);
        syntax_error(s, "point-first", token->begin, token->end, hint,
                     "a number begins with a digit");
    }
    if (literal_fits(s, token, decimal))
        token->number = literal_value(decimal);
}

void literal_percent(Syntax *s, Token *token) {
    Decimal decimal = literal_decimal(s->text + token->begin, token->end - token->begin - 1);
    if (literal_fits(s, token, decimal))
        token->number = literal_value(decimal) / 100;
}

/* ---- numbers with units ---- */

typedef struct Piece {
    const unsigned char *number, *unit;
    uint32_t number_length, unit_length; /* unit_length 0: a number without a unit at the end */
} Piece;

/* Cuts "1h30min" into pieces; returns how many there are, filling at most `room`. */
static uint32_t literal_cut(const unsigned char *text, uint32_t length, Piece *pieces,
                            uint32_t room) {
    uint32_t count = 0, at = 0;
    while (at < length) {
        Piece piece = {.number = text + at};
        while (at < length && (isdigit(text[at]) || text[at] == '.'))
            at++;
        piece.number_length = (uint32_t)(text + at - piece.number);
        piece.unit = text + at;
        while (at < length && !isdigit(text[at]))
            at++;
        piece.unit_length = (uint32_t)(text + at - piece.unit);
        if (count < room)
            pieces[count] = piece;
        count++;
    }
    return count;
}

static bool literal_same(const Piece *piece, const char *word) {
    return strlen(word) == piece->unit_length && memcmp(word, piece->unit, piece->unit_length) == 0;
}

static const Unit *literal_unit(const Piece *piece) {
    for (size_t i = 0; i < UNIT_COUNT; i++)
        if (literal_same(piece, UNITS[i].spelling))
            return &UNITS[i];
    return NULL;
}

static const char *literal_alias(const Piece *piece) {
    for (size_t i = 0; i < sizeof ALIASES / sizeof ALIASES[0]; i++)
        if (literal_same(piece, ALIASES[i].written))
            return ALIASES[i].unit;
    return NULL;
}

const char *literal_unit_word(const char *word, size_t length) {
    const Piece piece = {.unit = (const unsigned char *)word, .unit_length = (uint32_t)length};
    const Unit *unit = literal_unit(&piece);
    return unit ? unit->spelling : literal_alias(&piece);
}

static bool literal_is_day_half(const Piece *piece) {
    return literal_same(piece, "am") || literal_same(piece, "pm") || literal_same(piece, "AM") ||
           literal_same(piece, "PM");
}

/* What was meant by a unit that is none, or NULL. */
static const char *literal_meant(const Piece *piece) {
    for (size_t i = 0; i < UNIT_COUNT; i++)
        if (strlen(UNITS[i].spelling) == piece->unit_length &&
            strncasecmp(UNITS[i].spelling, (const char *)piece->unit, piece->unit_length) == 0)
            return UNITS[i].spelling;
    return literal_alias(piece);
}

int literal_clock(const char *digits, size_t length) {
    char copy[8];
    unsigned whole = 0, minute = 0;
    int used = 0;
    if (length == 0 || length > 5)
        return -1;
    snprintf(copy, sizeof copy, "%.*s", (int)length, digits);
    size_t head = strspn(copy, "0123456789");
    bool pointed = head <= 2 && length == head + 3 && copy[head] == '.';
    if (pointed ? sscanf(copy, "%2u.%2u%n", &whole, &minute, &used) != 2
                : sscanf(copy, "%4u%n", &whole, &used) != 1)
        return -1;
    if (!pointed && head > 2) {
        minute = whole % 100;
        whole /= 100;
    }
    return (size_t)used == length && whole < 24 && minute < 60 ? (int)(whole * 60 + minute) : -1;
}

static void literal_time_hint(Syntax *s, const Token *token, const Piece *piece) {
    char hint[16];
    int clock = literal_clock((const char *)piece->number, piece->number_length);
    bool later = piece->unit[0] == 'p' || piece->unit[0] == 'P';
    if (clock < 60 || clock >= 13 * 60)
        snprintf(hint, sizeof hint, "`07:00`");
    else
        snprintf(hint, sizeof hint, "`%02d:%02d`", clock / 60 % 12 + (later ? 12 : 0), clock % 60);
    syntax_error(s, "time-of-day", token->begin, token->end, hint,
                 "a time of day is written `07:00`");
}

static void literal_unknown_unit(Syntax *s, const Token *token, const Piece *piece) {
    char hint[160];
    const char *meant = literal_meant(piece);
    uint32_t begin = (uint32_t)(piece->unit - s->text), length = piece->unit_length;
    int shown = length < 64 ? (int)length : 64,
        digits = piece->number_length < 30 ? (int)piece->number_length : 30;
    const char *number = (const char *)piece->number, *unit = (const char *)piece->unit;
    if (literal_is_day_half(piece)) {
        literal_time_hint(s, token, piece);
        return;
    }
    if (literal_same(piece, "m"))
        snprintf(hint, sizeof hint, "`min` is minutes, `ms` is thousandths of a second");
    else if (meant)
        snprintf(hint, sizeof hint, "`%.*s%s`", digits, number, meant);
    else if (literal_same(piece, "d") || literal_same(piece, "day") || literal_same(piece, "days"))
        snprintf(hint, sizeof hint, "`%.0fh`",
                 24 * literal_value(literal_decimal(piece->number, piece->number_length)));
    else if ((unit[0] == 'e' || unit[0] == 'E') && length == 1)
        snprintf(hint, sizeof hint, "a number has no exponent: all its digits");
    else if (unit[0] == '_')
        snprintf(hint, sizeof hint, "a number has no `_`: digits only");
    else if (literal_same(piece, "x") && unit[1] >= '0' && unit[1] <= '9')
        snprintf(hint, sizeof hint, "a grid is `%.*s by %.*s`", digits, number,
                 (int)strspn(unit + 1, "0123456789"), unit + 1);
    else
        snprintf(hint, sizeof hint, "`%.*s * %.*s` to multiply", digits, number, shown, unit);
    syntax_error(s, "unknown-unit", begin, begin + length, hint, "unknown unit `%.*s`", shown,
                 unit);
}

/* Microseconds of one part; false where they are not whole or too many. */
static bool literal_microseconds(Decimal decimal, double factor, double *microseconds) {
    uint64_t unit = (uint64_t)factor, denominator = 1;
    int places = decimal.places;
    while (places && decimal.digits % 10 == 0) {
        decimal.digits /= 10;
        places--;
    }
    if (places > 15)
        return false;
    for (int i = 0; i < places; i++)
        denominator *= 10;
    uint64_t whole = decimal.digits / denominator;
    uint64_t rest = decimal.digits % denominator, a = denominator, b = rest;
    while (b) {
        uint64_t swap = a % b;
        a = b;
        b = swap;
    }
    rest /= a;
    denominator /= a;
    if (unit % denominator || whole > (uint64_t)LIMIT_MICROSECONDS / unit)
        return false;
    *microseconds = (double)(whole * unit + rest * (unit / denominator));
    return true;
}

void literal_spell_duration(double microseconds, char *buffer, size_t size) {
    uint64_t rest = (uint64_t)microseconds;
    uint64_t hours = rest / 3600000000U, minutes = rest / 60000000U % 60;
    uint64_t seconds = rest / 1000000U % 60, thousandths = rest % 1000000U;
    size_t used = 0;
    buffer[0] = '\0';
    if (hours)
        used += (size_t)snprintf(buffer + used, size - used, "%" PRIu64 "h", hours);
    if (minutes)
        used += (size_t)snprintf(buffer + used, size - used, "%" PRIu64 "min", minutes);
    if (seconds)
        used += (size_t)snprintf(buffer + used, size - used, "%" PRIu64 "s", seconds);
    if (thousandths % 1000) {
        char digits[16];
        snprintf(digits, sizeof digits, "%" PRIu64 ".%03" PRIu64, thousandths / 1000,
                 thousandths % 1000);
        for (size_t end = strlen(digits); end > 0 && digits[end - 1] == '0'; end--)
            digits[end - 1] = '\0';
        snprintf(buffer + used, size - used, "%sms", digits);
    } else if (thousandths || used == 0) {
        snprintf(buffer + used, size - used, "%" PRIu64 "ms", thousandths / 1000);
    }
}

/* All parts known and durations: in order, whole? */
static void literal_duration(Syntax *s, Token *token, const Piece *pieces, uint32_t count) {
    double sum = 0, before = INFINITY;
    bool ordered = true, whole = true;
    for (uint32_t i = 0; i < count; i++) {
        Decimal decimal = literal_decimal(pieces[i].number, pieces[i].number_length);
        double factor = literal_unit(&pieces[i])->factor, part = 0;
        if (!literal_fits(s, token, decimal))
            return;
        whole = whole && literal_microseconds(decimal, factor, &part) &&
                part <= LIMIT_MICROSECONDS - sum; /* exact; the sum need not be */
        ordered = ordered && factor < before && (i + 1 == count || decimal.places == 0);
        before = factor;
        sum += part;
    }
    if (!whole) {
        syntax_error(s, "duration-not-whole", token->begin, token->end, NULL,
                     "a duration is a whole number of microseconds and at most 285 years");
        token->kind = TK_BAD;
        return;
    }
    if (!ordered) {
        char spelt[64], hint[72];
        literal_spell_duration(sum, spelt, sizeof spelt);
        snprintf(hint, sizeof hint, "`%s`", spelt);
        syntax_error(s, "duration-order", token->begin, token->end, hint,
                     "one duration is written without a space, largest first");
    }
    token->kind = TK_DURATION;
    token->number = sum;
}

static void literal_single(Syntax *s, Token *token, const Piece *piece, const Unit *unit) {
    static const uint16_t KINDS[] = {[PART_ANGLE] = TK_ANGLE,
                                     [PART_KELVIN] = TK_KELVIN,
                                     [PART_VOLT] = TK_VOLT,
                                     [PART_AMPERE] = TK_AMPERE,
                                     [PART_HERTZ] = TK_HERTZ};
    Decimal decimal = literal_decimal(piece->number, piece->number_length);
    if (!literal_fits(s, token, decimal))
        return;
    double value = literal_value(decimal);
    bool divided = unit->part == PART_ANGLE || unit->part == PART_AMPERE;
    token->kind = KINDS[unit->part];
    token->number = divided ? value / unit->factor : value * unit->factor;
}

/* Behind these words stands a time of day. */
static bool literal_wants_time(const Syntax *s) {
    const Token *before = s->token_count ? &s->tokens[s->token_count - 1] : NULL;
    switch (before ? before->kind : 0) {
    case TK_AT:
    case TK_BY:
        return before->first_on_line;
    case TK_BETWEEN:
    case TK_BEFORE:
    case TK_AFTER:
    case TK_UNTIL:
        return true;
    default:
        return false;
    }
}

/* `1h30`, `20h30` as a time of day */
static void literal_glued(Syntax *s, const Token *token, const Piece *pieces, uint32_t count) {
    char hint[64] = "`1h30min`";
    const Piece *last = &pieces[1];
    bool hours = count == 2 && literal_same(&pieces[0], "h") && last->unit_length == 0 &&
                 pieces[0].number_length <= 2 && last->number_length == 2;
    if (hours) {
        char digits[8];
        snprintf(digits, sizeof digits, "%.*s.%.2s", (int)pieces[0].number_length,
                 (const char *)pieces[0].number, (const char *)last->number);
        int clock = literal_clock(digits, strlen(digits));
        if (clock >= 0 && literal_wants_time(s)) {
            snprintf(hint, sizeof hint, "`%02d:%02d`", clock / 60, clock % 60);
            syntax_error(s, "time-of-day", token->begin, token->end, hint,
                         "a time of day is written `07:00`");
            return;
        }
        snprintf(hint, sizeof hint, "`%.*smin`", (int)(token->end - token->begin),
                 (const char *)s->text + token->begin);
    }
    syntax_error(s, "glued-numbers", token->begin, token->end, hint,
                 "only the parts of a duration are glued together, each with its unit");
}

void literal_quantity(Syntax *s, Token *token) {
    enum { PIECES = 16 };
    Piece pieces[PIECES];
    uint32_t count = literal_cut(s->text + token->begin, token->end - token->begin, pieces, PIECES);
    bool durations = count <= PIECES;
    token->kind = TK_BAD;
    for (uint32_t i = 0; i < count && i < PIECES; i++) {
        const Unit *unit = pieces[i].unit_length ? literal_unit(&pieces[i]) : NULL;
        if (pieces[i].unit_length && !unit) {
            literal_unknown_unit(s, token, &pieces[i]);
            return;
        }
        durations = durations && unit && unit->part == PART_DURATION;
    }
    if (durations)
        literal_duration(s, token, pieces, count);
    else if (count == 1)
        literal_single(s, token, &pieces[0], literal_unit(&pieces[0]));
    else
        literal_glued(s, token, pieces, count);
}

/* ---- times, dates, colours ---- */

/* `7:30pm`, `7.30`, `7:5` */
static void literal_odd_time(Syntax *s, const Token *token) {
    const char *text = (const char *)s->text + token->begin;
    char copy[16], hint[16];
    unsigned hour = 0, minute = 0;
    char half = '\0';
    uint32_t length = token->end - token->begin;
    snprintf(copy, sizeof copy, "%.*s", length < 15 ? (int)length : 15, text);
    int found = sscanf(copy, "%2u:%2u%c", &hour, &minute, &half);
    bool afternoon = half == 'p' || half == 'P';
    if (found == 3 && (half == 'a' || half == 'A' || afternoon))
        hour = hour % 12 + (afternoon ? 12 : 0);
    snprintf(hint, sizeof hint, "`%02u:%02u`", hour % 100, minute % 100);
    syntax_error(s, "time-of-day", token->begin, token->end,
                 found >= 2 && hour < 24 && minute < 60 ? hint : NULL,
                 "a time of day is written `07:00`");
}

void literal_time(Syntax *s, Token *token) {
    const char *text = (const char *)s->text + token->begin;
    uint32_t length = token->end - token->begin, digits = 0;
    unsigned part[3] = {0, 0, 0};
    int parts = 0, width = 0;
    bool shaped = length <= 8;
    for (uint32_t i = 0; i < length && shaped; i++) {
        if (text[i] == ':') {
            shaped = width == 2 || (parts == 0 && width == 1);
            parts++;
            width = 0;
            shaped = shaped && parts < 3;
        } else if (isdigit((unsigned char)text[i])) {
            part[parts] = part[parts] * 10 + (unsigned)(text[i] - '0');
            width++;
            digits++;
        } else {
            shaped = false;
        }
    }
    shaped = shaped && parts >= 1 && width == 2;
    token->number = part[0] * 3600.0 + part[1] * 60.0 + part[2];
    if (shaped && part[0] < 24 && part[1] < 60 && part[2] < 60)
        return;
    token->kind = TK_BAD;
    if (shaped)
        syntax_error(s, "time-of-day", token->begin, token->end,
                     part[0] == 24 && part[1] == 0 ? "`00:00`" : NULL,
                     "a time of day runs from `00:00` to `23:59`");
    else
        literal_odd_time(s, token);
}

void literal_date(Syntax *s, Token *token) {
    static const int DAYS[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const unsigned char *t = s->text + token->begin;
    int year = (t[0] - '0') * 1000 + (t[1] - '0') * 100 + (t[2] - '0') * 10 + (t[3] - '0');
    int month = (t[5] - '0') * 10 + (t[6] - '0'), day = (t[8] - '0') * 10 + (t[9] - '0');
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    bool known = year >= 1 && month >= 1 && month <= 12;
    int days = known ? DAYS[month - 1] + (month == 2 && leap) : 0;
    token->number = year * 10000 + month * 100 + day;
    if (known && day >= 1 && day <= days)
        return;
    token->kind = TK_BAD;
    syntax_error(s, "no-such-day", token->begin, token->end, NULL,
                 "there is no such day: a date is written year-month-day, `2026-12-24`");
}

static void literal_transparent(Syntax *s, const Token *token, unsigned value, uint32_t digits) {
    char hint[48];
    unsigned alpha = digits == 4 ? (value & 15) * 17 : value & 255;
    int percent = (int)((alpha * 100 + 127) / 255);
    if (digits == 4)
        snprintf(hint, sizeof hint, "`#%03x` and `where %d%%`", value >> 4, percent);
    else
        snprintf(hint, sizeof hint, "`#%06x` and `where %d%%`", value >> 8, percent);
    syntax_error(s, "transparency", token->begin, token->end, hint, "light has no transparency");
}

void literal_colour(Syntax *s, Token *token) {
    const unsigned char *text = s->text + token->begin + 1;
    uint32_t digits = token->end - token->begin - 1;
    uint64_t value = 0;
    bool hexadecimal = true;
    for (uint32_t i = 0; i < digits; i++) {
        hexadecimal = hexadecimal && isxdigit(text[i]);
        if (hexadecimal && i < 8)
            value =
                value * 16 + (unsigned)(text[i] <= '9' ? text[i] - '0' : (text[i] | 32) - 'a' + 10);
    }
    if (hexadecimal && digits == 3)
        value = (value >> 8) * 0x110000 + (value >> 4 & 15) * 0x1100 + (value & 15) * 0x11;
    token->number = (double)value;
    if (hexadecimal && (digits == 3 || digits == 6))
        return;
    token->kind = TK_BAD;
    if (hexadecimal && (digits == 4 || digits == 8))
        literal_transparent(s, token, (unsigned)value, digits);
    else if (hexadecimal)
        syntax_error(s, "colour-digits", token->begin, token->end, NULL,
                     "a colour has 3 or 6 digits, this has %u; a comment begins with `//`", digits);
    else
        syntax_error(s, "colour-digits", token->begin, token->end, NULL,
                     "a colour has 3 or 6 hexadecimal digits; a comment begins with `//`");
}
