/* The named colours of CSS: 148 words in lower case. */
#ifndef GLOAM_LANG_COLOUR_NAMES_H
#define GLOAM_LANG_COLOUR_NAMES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { COLOUR_NAME_COUNT = 148 };

/* True and 0xRRGGBB where `name` is one. */
bool colour_name_find(const char *name, uint32_t *rgb);
/* The name of that number in the order of the alphabet, or NULL behind the last. */
const char *colour_name_at(size_t index);

#endif
