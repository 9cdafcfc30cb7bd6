/* The words of the language: which are tokens of their own, and which may not be names. */
#include <string.h>
#include <strings.h>

#include "lang/syntax.h"

#include "grammar.h"

typedef struct Word {
    const char *spelling;
    uint8_t kind;
    int8_t number;
    bool reserved;
} Word;

/* Sorted by spelling, bytes as in ASCII. */
static const Word WORDS[] = {
    {"after", TK_AFTER, 0, false},
    {"along", TK_ALONG, 0, true},
    {"and", TK_AND, 0, true},
    {"apr", TK_MONTH, 4, false},
    {"as", TK_AS, 0, false},
    {"astronomical", TK_TWILIGHT, 0, false},
    {"at", TK_AT, 0, true},
    {"aug", TK_MONTH, 8, false},
    {"ball", TK_BALL, 0, false},
    {"before", TK_BEFORE, 0, false},
    {"between", TK_BETWEEN, 0, true},
    {"blended", TK_BLENDED, 0, true},
    {"by", TK_BY, 0, false},
    {"chip", TK_CHIP, 0, false},
    {"civil", TK_TWILIGHT, 0, false},
    {"clock", TK_CLOCK, 0, false},
    {"cubic-bezier", TK_EASEFN, 0, false},
    {"dawn", TK_DAWN, 0, false},
    {"days", TK_DAYS, 0, false},
    {"dec", TK_MONTH, 12, false},
    {"decreasing", TK_HUEDIR, 0, false},
    {"delayed", TK_DELAYED, 0, true},
    {"dial", TK_DIAL, 0, true},
    {"die", TK_DIE, 0, false},
    {"dither", TK_DITHER, 0, false},
    {"draws", TK_DRAWS, 0, false},
    {"dusk", TK_DAWN, 0, false},
    {"each", TK_EACH, 0, false},
    {"ease", TK_EASE, 0, false},
    {"ease-in", TK_EASE, 0, false},
    {"ease-in-out", TK_EASE, 0, false},
    {"ease-out", TK_EASE, 0, false},
    {"eased", TK_EASED, 0, false},
    {"else", TK_ELSE, 0, true},
    {"ends", TK_ENDS, 0, false},
    {"event", TK_EVENT, 0, false},
    {"every", TK_EVERY, 0, true},
    {"except", TK_EXCEPT, 0, false},
    {"faces", TK_FACES, 0, false},
    {"fading", TK_FADING, 0, false},
    {"false", TK_FALSE, 0, true},
    {"feb", TK_MONTH, 2, false},
    {"flashes", TK_FLASHES, 0, false},
    {"for", TK_FOR, 0, false},
    {"fri", TK_WEEKDAY, 4, false},
    {"from", TK_FROM, 0, false},
    {"gain", TK_GAIN, 0, false},
    {"grid", TK_GRID, 0, false},
    {"group", TK_GROUP, 0, false},
    {"hue", TK_HUE, 0, false},
    {"idle", TK_IDLE, 0, false},
    {"if", TK_IF, 0, true},
    {"in", TK_IN, 0, true},
    {"increasing", TK_HUEDIR, 0, false},
    {"is", TK_IS, 0, false},
    {"jan", TK_MONTH, 1, false},
    {"jul", TK_MONTH, 7, false},
    {"jump-both", TK_HYPHENNAME, 0, false},
    {"jump-end", TK_HYPHENNAME, 0, false},
    {"jump-none", TK_HYPHENNAME, 0, false},
    {"jump-start", TK_HYPHENNAME, 0, false},
    {"jun", TK_MONTH, 6, false},
    {"keep", TK_KEEP, 0, false},
    {"lamp", TK_LAMP, 0, true},
    {"lasts", TK_LASTS, 0, false},
    {"let", TK_LET, 0, true},
    {"level", TK_LEVEL, 0, false},
    {"linear", TK_EASEFN, 0, false},
    {"longer", TK_HUEDIR, 0, false},
    {"mar", TK_MONTH, 3, false},
    {"may", TK_MONTH, 5, false},
    {"mirrored", TK_MIRRORED, 0, false},
    {"mon", TK_WEEKDAY, 0, false},
    {"nautical", TK_TWILIGHT, 0, false},
    {"not", TK_NOT, 0, true},
    {"nov", TK_MONTH, 11, false},
    {"oct", TK_MONTH, 10, false},
    {"of", TK_OF, 0, false},
    {"on", TK_ON, 0, true},
    {"or", TK_OR, 0, true},
    {"order", TK_ORDER, 0, false},
    {"over", TK_OVER, 0, true},
    {"paint", TK_PAINT, 0, true},
    {"part", TK_PART, 0, false},
    {"pixels", TK_PIXELS, 0, false},
    {"place", TK_PLACE, 0, false},
    {"play", TK_PLAY, 0, true},
    {"plus-lighter", TK_HYPHENNAME, 0, false},
    {"points", TK_POINTS, 0, false},
    {"port", TK_PORT, 0, false},
    {"priority", TK_PRIORITY, 0, false},
    {"repaint", TK_REPAINT, 0, false},
    {"ring", TK_RING, 0, false},
    {"routine", TK_ROUTINE, 0, true},
    {"sat", TK_WEEKDAY, 5, false},
    {"sep", TK_MONTH, 9, false},
    {"set", TK_SET, 0, false},
    {"shape", TK_SHAPE, 0, false},
    {"shorter", TK_HUEDIR, 0, false},
    {"srgb-linear", TK_HYPHENNAME, 0, false},
    {"step-end", TK_EASE, 0, false},
    {"step-start", TK_EASE, 0, false},
    {"steps", TK_EASEFN, 0, false},
    {"strip", TK_STRIP, 0, false},
    {"sun", TK_WEEKDAY, 6, false},
    {"sunrise", TK_SUN, 0, false},
    {"sunset", TK_SUN, 0, false},
    {"supply", TK_SUPPLY, 0, false},
    {"then", TK_THEN, 0, true},
    {"throughout", TK_THROUGHOUT, 0, false},
    {"thu", TK_WEEKDAY, 3, false},
    {"to", TK_TO, 0, false},
    {"true", TK_TRUE, 1, true},
    {"tue", TK_WEEKDAY, 1, false},
    {"turned", TK_TURNED, 0, false},
    {"under", TK_UNDER, 0, false},
    {"universe", TK_UNIVERSE, 0, false},
    {"until", TK_UNTIL, 0, false},
    {"use", TK_USE, 0, true},
    {"wed", TK_WEEKDAY, 2, false},
    {"weekdays", TK_WEEKDAY, 7, false},
    {"weekends", TK_WEEKDAY, 8, false},
    {"when", TK_WHEN, 0, true},
    {"where", TK_WHERE, 0, true},
    {"white", TK_WHITE, 0, false},
    {"with", TK_WITH, 0, false},
    {"zigzag", TK_ZIGZAG, 0, false},
    {"zone", TK_ZONE, 0, false},
};
enum { WORD_COUNT = sizeof WORDS / sizeof WORDS[0] };

static const Word *word_find(const char *text, size_t length) {
    size_t low = 0, high = WORD_COUNT;
    while (low < high) {
        size_t middle = (low + high) / 2;
        const char *spelling = WORDS[middle].spelling;
        int order = strncmp(text, spelling, length);
        if (order == 0 && spelling[length] == '\0')
            return &WORDS[middle];
        if (order > 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

bool word_classify(const unsigned char *text, Token *token) {
    const char *begin = (const char *)text + token->begin;
    size_t length = token->end - token->begin;
    const Word *word = word_find(begin, length);
    if (word) {
        token->kind = word->kind;
        token->number = word->number;
        return true;
    }
    token->kind = TK_NAME;
    return memchr(begin, '-', length) == NULL;
}

bool parse_is_reserved(const char *word) {
    const Word *found = word_find(word, strlen(word));
    return found && found->reserved;
}

const char *word_spelling(int kind) {
    const char *spelling = NULL;
    for (size_t i = 0; i < WORD_COUNT; i++) {
        if (WORDS[i].kind == kind && spelling)
            return NULL;
        if (WORDS[i].kind == kind)
            spelling = WORDS[i].spelling;
    }
    return spelling;
}

const char *word_nearest(const char *written, bool (*wanted)(const void *context, int kind),
                         const void *context, int *kind) {
    const char *names[WORD_COUNT];
    size_t count = 0;
    for (size_t i = 0; i < WORD_COUNT; i++)
        if (wanted(context, WORDS[i].kind))
            names[count++] = WORDS[i].spelling;
    const char *nearest = diagnostics_nearest(written, names, count);
    if (nearest)
        *kind = word_find(nearest, strlen(nearest))->kind;
    return nearest;
}

const char *word_nearest_hyphenated(const char *written) {
    const char *names[WORD_COUNT];
    size_t count = 0;
    for (size_t i = 0; i < WORD_COUNT; i++)
        if (strchr(WORDS[i].spelling, '-'))
            names[count++] = WORDS[i].spelling;
    return diagnostics_nearest(written, names, count);
}

const char *word_calendar(const char *text, size_t length, bool day, int *number) {
    static const char *const DAYS[] = {"monday", "tuesday",  "wednesday", "thursday",
                                       "friday", "saturday", "sunday"};
    static const char *const MONTHS[] = {"january",   "february", "march",    "april",
                                         "may",       "june",     "july",     "august",
                                         "september", "october",  "november", "december"};
    for (int i = 0; i < (day ? 7 : 12) && length >= 3; i++) {
        const char *name = day ? DAYS[i] : MONTHS[i];
        size_t whole = strlen(name);
        bool part = length <= whole && strncasecmp(name, text, length) == 0;
        bool plural = length == whole + 1 && strncasecmp(name, text, whole) == 0;
        if (!part && !plural)
            continue;
        *number = day ? i : i + 1;
        return name;
    }
    return NULL;
}
