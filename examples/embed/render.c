/* A host program for libgloam: renders ten seconds of a routine into a file of raw light.
 *
 *     cc -o render render.c $(pkg-config --cflags --libs gloam)
 *     ./render dawn.gloam daybreak light.raw
 *
 * The file holds 600 frames of 16 pixels, three floats each, as the machine stores them. */
#include <gloam.h>
#include <stdio.h>

enum { PIXELS = 16, FRAMES = 600 };

static void print_diagnostics(const gloam_program *program) {
    for (size_t i = 0; i < gloam_diagnostic_count(program); i++) {
        const gloam_diagnostic *d = gloam_diagnostic_at(program, i);
        fprintf(stderr, "%s:%u:%u: %s\n", d->file ? d->file : "gloam", d->line, d->column,
                d->message);
        if (d->hint)
            fprintf(stderr, "  write: %s\n", d->hint);
    }
}

/* 0 when all frames are in the file. */
static int render(const gloam_program *program, const char *name, FILE *out) {
    const char *reason;
    gloam_lamp lamp = gloam_ring(PIXELS);
    gloam_routine *routine = gloam_open(program, name, &lamp, &reason);
    if (!routine) {
        fprintf(stderr, "%s: %s\n", name, reason);
        return 1;
    }
    gloam_moment moment = {.hour = 3.0, .moonlit = 0.5, .moonage = 0.25};
    float light[3 * PIXELS];
    size_t written = 0;
    for (int64_t frame = 0; frame < FRAMES; frame++) {
        gloam_render(routine, (frame * 1000000 + 30) / 60, &moment, light);
        written += fwrite(light, sizeof light, 1, out);
    }
    gloam_close(routine);
    return written == FRAMES ? 0 : 1;
}

int main(int count, char **arguments) {
    if (count != 4) {
        fprintf(stderr, "usage: render FILE ROUTINE OUTPUT\n");
        return 2;
    }
    gloam_program *program = gloam_compile_file(arguments[1]);
    print_diagnostics(program);
    FILE *out = gloam_ready(program) ? fopen(arguments[3], "wb") : NULL;
    int status = out ? render(program, arguments[2], out) : 1;
    if (out && fclose(out) != 0)
        status = 1;
    gloam_free(program);
    return status;
}
