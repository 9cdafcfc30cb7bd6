#include "runtime/light/encode.h"

#include <float.h>

#include "runtime/core/colour.h"

typedef struct Pixel {
    float channel[3];
} Pixel;

/* What is not above 0 becomes 0: also whatever is not a number. */
static float encode_lifted(float value) {
    const float above = value > 0.0f ? value : 0.0f;
    return above < FLT_MAX ? above : FLT_MAX;
}

static Pixel encode_pixel(const float *light) {
    Pixel pixel = {{encode_lifted(light[0]), encode_lifted(light[1]), encode_lifted(light[2])}};
    float largest = 1.0f;
    for (int i = 0; i < 3; i++)
        largest = pixel.channel[i] > largest ? pixel.channel[i] : largest;
    if (largest > 1.0f)
        for (int i = 0; i < 3; i++)
            pixel.channel[i] /= largest;
    return pixel;
}

void encode_gamut(const float *light, size_t pixels, float *into) {
    for (size_t i = 0; i < pixels; i++) {
        Pixel pixel = encode_pixel(light + 3 * i);
        for (int channel = 0; channel < 3; channel++)
            into[3 * i + channel] = pixel.channel[channel];
    }
}

void encode_screen_table(ScreenTable *table) {
    table->from[0] = 0.0f;
    for (int code = 1; code < 256; code++)
        table->from[code] = (float)colour_decode((code - 0.5) / 255.0);
    table->from[256] = 2.0f;
    int code = 0;
    for (int i = 0; i <= 4096; i++) {
        while (table->from[code + 1] <= (float)i / 4096.0f)
            code++;
        table->start[i] = (uint8_t)code;
    }
}

static uint8_t encode_code(const ScreenTable *table, float value) {
    int code = table->start[(int)(value * 4096.0f)];
    while (table->from[code + 1] <= value)
        code++;
    return (uint8_t)code;
}

void encode_screen(const ScreenTable *table, const float *light, size_t pixels, uint8_t *bytes) {
    for (size_t i = 0; i < pixels; i++) {
        Pixel pixel = encode_pixel(light + 3 * i);
        for (int channel = 0; channel < 3; channel++)
            bytes[3 * i + channel] = encode_code(table, pixel.channel[channel]);
    }
}
