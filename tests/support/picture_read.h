/* A picture that was drawn into a file, read back with libpng's own reader. Included after
 * cmocka.h.
 */
#ifndef GLOAM_TESTS_SUPPORT_PICTURE_READ_H
#define GLOAM_TESTS_SUPPORT_PICTURE_READ_H

#include <png.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

typedef struct Seen {
    int width, height;
    uint8_t *bytes; /* red, green, blue of each dot, to be freed */
} Seen;

/* Closes the descriptor. */
static inline Seen seen_read(int descriptor) {
    FILE *file = fdopen(descriptor, "rb");
    assert_non_null(file);
    rewind(file);
    png_image image = {.version = PNG_IMAGE_VERSION};
    assert_true(png_image_begin_read_from_stdio(&image, file));
    image.format = PNG_FORMAT_RGB;
    Seen seen = {(int)image.width, (int)image.height, malloc(PNG_IMAGE_SIZE(image))};
    assert_true(png_image_finish_read(&image, NULL, seen.bytes, 0, NULL));
    fclose(file);
    return seen;
}

static inline const uint8_t *seen_at(const Seen *seen, int x, int y) {
    assert_true(x >= 0 && x < seen->width && y >= 0 && y < seen->height);
    return seen->bytes + 3 * (y * seen->width + x);
}

static inline void shows(const Seen *seen, int x, int y, int r, int g, int b) {
    const uint8_t *byte = seen_at(seen, x, y);
    if (byte[0] != r || byte[1] != g || byte[2] != b)
        fail_msg("at %d, %d: %d %d %d instead of %d %d %d", x, y, byte[0], byte[1], byte[2], r, g,
                 b);
}

#endif
