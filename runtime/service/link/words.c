#include "runtime/service/link/words.h"

#include <stddef.h>
#include <string.h>

static const Word *find(const Word *list, const char *name) {
    while (list->name && strcmp(list->name, name) != 0)
        list++;
    return list->name ? list : NULL;
}

bool words_read(int count, char **words, const Word *list) {
    for (int i = 1; i < count; i++) {
        const Word *word = find(list, words[i]);
        if (word && word->is_there) {
            *word->is_there = true;
            continue;
        }
        if (!word || ++i == count || (word->count && *word->count == word->most))
            return false;
        word->value[word->count ? (*word->count)++ : 0] = words[i];
    }
    return true;
}
