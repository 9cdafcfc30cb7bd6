/* Clocked pixels (APA102, SK9822): data and clock of an SPI port, mode 0, any clock. Pure
 * functions.
 *
 * A frame: 4 zero bytes; for each pixel 0xE0 + level (0..31), then its colours in the order of the
 * wire; 4 zero bytes, at which an SK9822 takes over what it was sent; and ceil(pixels / 16) zero
 * bytes, since each pixel hands on the data half a clock later. Zeros, not ones: ones would light a
 * pixel more than the lamp has. */
#ifndef GLOAM_BACKENDS_CLOCKED_H
#define GLOAM_BACKENDS_CLOCKED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CLOCKED_LEVEL_MOST = 31 };

uint64_t clocked_length(uint64_t pixels);
/* Writes clocked_length(pixels) bytes. `bytes`: red, green, blue, and where `level` says so the
 * level, of each pixel; without levels all are at the most. */
void clocked_frame(const char *order, const uint8_t *bytes, bool level, size_t pixels,
                   uint8_t *into);

#endif
