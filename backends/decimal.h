/* Floats as decimals: the digits of printf's %.9g in the C locale, whatever the locale is, so they
 * read back to the same float. */
#ifndef GLOAM_BACKENDS_DECIMAL_H
#define GLOAM_BACKENDS_DECIMAL_H

#include <stddef.h>
#include <stdint.h>

enum { DECIMAL_LONGEST = 24 }; /* characters that decimal_light writes at most */

/* Writes without a NUL; gives the number of characters. What is not finite is written as 0. */
size_t decimal_light(float value, char *into);

#endif
