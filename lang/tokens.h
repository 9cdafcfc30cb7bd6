/* A text as a reader sees it: what each word and sign is, for editors that colour. By the lexer of
 * the compiler itself, so that what looks right is what is read. */
#ifndef GLOAM_LANG_TOKENS_H
#define GLOAM_LANG_TOKENS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum TokenLook {
    LOOK_COMMENT,
    LOOK_WORD,   /* of the language */
    LOOK_NAME,   /* somebody's own */
    LOOK_NUMBER, /* with its unit; times and dates */
    LOOK_COLOUR, /* `#ff8800`, `2700K`, `gold` */
    LOOK_TEXT,
    LOOK_SIGN,
    LOOK_FUNCTION,
    LOOK_WRONG, /* no token of the language */
    LOOK_COUNT
} TokenLook;
extern const char *const TOKEN_LOOK_WORDS[LOOK_COUNT];

typedef struct LookToken {
    uint32_t begin, end; /* bytes */
    TokenLook look;
} LookToken;

/* In the order of the text; any bytes may come in, up to LIMIT_SOURCE_BYTES. *list is
 * memory_allocate'd, or NULL where there is none. False: out of memory. */
bool tokens_look(const char *text, size_t length, LookToken **list, uint32_t *count);

#endif
