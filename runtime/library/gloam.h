/* libgloam: light routines for lamps, from text to linear light.
 *
 *     gloam_program *program = gloam_compile_file("dawn.gloam");
 *     for (size_t i = 0; i < gloam_diagnostic_count(program); i++)
 *         ... gloam_diagnostic_at(program, i)->message ...
 *     const char *reason;
 *     gloam_lamp lamp = gloam_ring(16);
 *     gloam_routine *dawn = gloam_open(program, "daybreak", &lamp, &reason);
 *     if (!dawn) ... reason ...
 *     float light[3 * 16];
 *     gloam_render(dawn, 17 * 60 * 1000000LL, NULL, light); // 17 minutes after its start
 *     gloam_close(dawn);
 *     gloam_free(program);
 *
 * A routine is a pure function of (its time, the moment, its dials, the pixel): frames may be asked
 * for in any order. Nothing here opens a device, a network port or a clock; only
 * gloam_compile_file reads files, and none outside the folder of the file it is given.
 *
 * Light is linear, in the sRGB primaries, 1 is a channel's full light; values may lie outside 0..1.
 * Times are microseconds. Texts are UTF-8. Pointers that are returned belong to the object they
 * came from and live as long, unless the function says otherwise. NULL is allowed for every pointer
 * and gives 0, NULL or nothing, so that one check at the end will do. A routine is for one thread
 * at a time; different ones, of one program too, may run in different threads. */
#ifndef GLOAM_H
#define GLOAM_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define GLOAM_VERSION "0.1.0"
#if defined(__GNUC__)
#define GLOAM_API __attribute__((visibility("default")))
#else
#define GLOAM_API
#endif

typedef struct gloam_program gloam_program;
typedef struct gloam_routine gloam_routine;

/* The version of the library that runs, as GLOAM_VERSION. */
GLOAM_API const char *gloam_version(void);

/* ---- from text to a program ------------------------------------------------------------- */

/* Compiles a file and all that it uses, a text of `length` bytes that uses no other (`name` is
 * shown in diagnostics), or takes the bytes of a bytecode file. The result is NULL only when memory
 * ran out; with errors it holds the diagnostics and nothing that can be opened. Compiling takes
 * less than 2 MiB of the calling thread's stack, whatever the text. */
GLOAM_API gloam_program *gloam_compile_file(const char *path);
GLOAM_API gloam_program *gloam_compile_text(const char *name, const char *text, size_t length);
GLOAM_API gloam_program *gloam_load(const char *name, const void *bytes, size_t length);
GLOAM_API void gloam_free(gloam_program *program); /* after its routines are closed */

/* 1 where routines can be opened, 0 where an error was found. */
GLOAM_API int gloam_ready(const gloam_program *program);

typedef enum { GLOAM_ERROR, GLOAM_WARNING, GLOAM_NOTE } gloam_severity;

typedef struct {
    gloam_severity severity;
    const char *file;      /* or NULL */
    unsigned line, column; /* from 1, columns in code points; 0 where there is no place */
    unsigned end_line, end_column;
    const char *code;    /* a stable word such as "unknown-unit" */
    const char *message; /* what is wrong */
    const char *hint;    /* what to write instead, or NULL */
} gloam_diagnostic;

GLOAM_API size_t gloam_diagnostic_count(const gloam_program *program);
GLOAM_API const gloam_diagnostic *gloam_diagnostic_at(const gloam_program *program, size_t index);

/* ---- what is in a program --------------------------------------------------------------- */

GLOAM_API size_t gloam_routine_count(const gloam_program *program);
GLOAM_API const char *gloam_routine_name(const gloam_program *program, size_t index);
/* How long it lasts; 0 where it goes on. */
GLOAM_API int64_t gloam_routine_lasts(const gloam_program *program, size_t index);

typedef enum { GLOAM_NUMBER, GLOAM_DURATION, GLOAM_TRUTH, GLOAM_COLOUR } gloam_dial_type;

typedef struct {
    const char *name, *label; /* label may be NULL */
    gloam_dial_type type;
    int ranged;      /* from and to are meant */
    double from, to; /* durations in microseconds */
    double value[3]; /* default: [0], of a colour its three channels of linear light */
} gloam_dial;

GLOAM_API size_t gloam_dial_count(const gloam_program *program);
/* Fills *dial; 0 where there is no such index. */
GLOAM_API int gloam_dial_at(const gloam_program *program, size_t index, gloam_dial *dial);

/* ---- a lamp ----------------------------------------------------------------------------- */

/* Where the pixels are: x to the right, y up, z towards the viewer. The makers below fill it in;
 * for places of your own do it by hand. `places` has 3 * pixels doubles. gloam_open is the only one
 * to read it, and keeps nothing of it. */
typedef enum { GLOAM_STRIP, GLOAM_RING, GLOAM_GRID, GLOAM_BALL, GLOAM_PLACES } gloam_shape;

typedef struct {
    gloam_shape shape;
    uint32_t pixels;      /* 1 to 100,000; of a grid or a ball may be 0: the shape gives it */
    uint32_t across, up;  /* grid */
    uint32_t frequency;   /* ball: 1 to 8 */
    const double *places; /* GLOAM_PLACES: moved and scaled so that the longest side is -1..1 */
    const char *declared; /* name of a lamp declared in the program: overrides all above; or NULL */
} gloam_lamp;

GLOAM_API gloam_lamp gloam_strip(uint32_t pixels);
GLOAM_API gloam_lamp gloam_ring(uint32_t pixels);
GLOAM_API gloam_lamp gloam_grid(uint32_t across, uint32_t up); /* rows from the bottom up */
GLOAM_API gloam_lamp gloam_ball(uint32_t frequency);           /* 10 * frequency^2 + 2 pixels */
GLOAM_API gloam_lamp gloam_declared(const char *name);         /* as `lamp name { ... }` says */
/* The lamps that a program declares; bytecode has none. */
GLOAM_API size_t gloam_lamp_count(const gloam_program *program);
GLOAM_API const char *gloam_lamp_name(const gloam_program *program, size_t index);

/* ---- light at an instant ---------------------------------------------------------------- */

/* The world at the instant that is shown; NULL is midnight, no moon, the sun on the horizon. */
typedef struct {
    double hour;       /* 0..24, clock on the wall */
    double moonlit;    /* 0..1 */
    double moonage;    /* 0..1, 0.5 is full */
    double sun_height; /* turns; 0.25 is overhead */
} gloam_moment;

/* Opens a routine for a lamp; `name` may be NULL where the program has just one. NULL where there
 * is no such routine or lamp, where the lamp is not possible, or where memory ran out: then
 * *reason, if reason is not NULL, says which in a sentence (static text). */
GLOAM_API gloam_routine *gloam_open(const gloam_program *program, const char *name,
                                    const gloam_lamp *lamp, const char **reason);
GLOAM_API void gloam_close(gloam_routine *routine);
GLOAM_API uint32_t gloam_pixels(const gloam_routine *routine);

/* Sets a dial of this routine by its name; values are held within the dial's range, and what is not
 * finite is 0. Returns 0 where there is none. For a colour give three channels of linear light,
 * else one value (durations in microseconds, truths 0 or 1). */
GLOAM_API int gloam_set(gloam_routine *routine, const char *dial, const double *value);

/* The light at `microseconds` since the routine's start: light[3 * pixel + channel]. Allocates
 * nothing and makes no system call. */
GLOAM_API void gloam_render(gloam_routine *routine, int64_t microseconds,
                            const gloam_moment *moment, float *light);

/* From when on the light rests while dials rest: microseconds since the start, 0 for a routine in
 * which nothing moves, -1 for one that never rests. */
GLOAM_API int64_t gloam_rests_from(const gloam_routine *routine);

#ifdef __cplusplus
}
#endif

#endif
