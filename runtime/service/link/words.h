/* The words that the player starts a program with: options of its own, each a word, most with a
 * value behind it. */
#ifndef GLOAM_SERVICE_LINK_WORDS_H
#define GLOAM_SERVICE_LINK_WORDS_H

#include <stdbool.h>

typedef struct Word {
    const char *name;   /* "--home"; NULL at the end of a list */
    const char **value; /* what stands behind it; of several of them the last */
    bool *is_there;     /* where it has no value: becomes true */
    int most, *count;   /* where it may come several times: `value` is the first of so many */
} Word;

/* False: a word that is not in the list, without its value, or too often. */
bool words_read(int count, char **words, const Word *list);

#endif
