/* The one public header of the language: text in, program and diagnostics out. */
#ifndef GLOAM_LANG_COMPILE_H
#define GLOAM_LANG_COMPILE_H

#include "lang/arena.h"
#include "lang/ast.h"
#include "lang/diagnostics.h"
#include "lang/graph.h"
#include "lang/parse.h"
#include "runtime/core/program.h"
#include "runtime/core/timetable.h"

/* Where the text of files comes from. The language itself opens nothing. */
typedef enum ReadStatus {
    READ_FINE,
    READ_MISSING,
    READ_REFUSED, /* exists, may not be read */
    READ_DIRECTORY,
    READ_TOO_LARGE, /* above LIMIT_SOURCE_BYTES */
    READ_OUTSIDE,   /* the file reached lies outside the folder of the main file (rule M5) */
    READ_FAILED,    /* anything else; *reason says what */
    READ_NO_MEMORY
} ReadStatus;

typedef struct LangReader {
    /* Reads `path`. `from` is NULL for the main file, else the name of the file that uses it, to
     * which path is relative. On READ_FINE: *text (memory_allocate'd, `length` bytes, any bytes)
     * and *identity, a name that is the same for the same file however it was reached and is what
     * diagnostics show (memory_allocate'd). The caller releases both. */
    ReadStatus (*read)(void *context, const char *path, const char *from, char **text,
                       size_t *length, char **identity, const char **reason);
    void *context;
} LangReader;

/* One layer of a routine, for `check --costs`. */
typedef struct LayerCost {
    Span span;
    Rate rate;
    GraphCost cost;
} LayerCost;

typedef struct RoutineCost {
    const char *name;
    Span span;
    uint32_t layer_count;
    LayerCost *layers;
    GraphCost total;
} RoutineCost;

/* A lamp as declared; what is not said is 0 or NULL. Values are checked (types, units, ranges that
 * need no device). Texts are in the arena of the compilation. */
typedef enum ShapeKind { SHAPE_STRIP, SHAPE_RING, SHAPE_GRID, SHAPE_BALL, SHAPE_POINTS } ShapeKind;

typedef struct LampGroup {
    const char *name;
    bool is_part;
    uint32_t run_count;
    uint32_t (*runs)[2]; /* first and last pixel of each run, both included */
} LampGroup;

typedef struct LampPoint {
    double x, y, z;
} LampPoint;

typedef struct LampInfo {
    const char *name;
    Span span;
    uint32_t pixels; /* as written or as the shape gives it; never 0 */
    ShapeKind shape;
    uint32_t across, up; /* grid */
    bool zigzag;
    uint32_t frequency; /* ball */
    bool faces;
    uint32_t point_count; /* points */
    LampPoint *points;    /* as the file says, not yet scaled */
    double turned;        /* turns, clockwise */
    bool mirrored;
    const char *chip, *port, *order;
    double supply_volt, supply_ampere;
    double level; /* 1 unless said */
    double white_kelvin, die_kelvin;
    double draws_ampere, idle_ampere; /* negative: not said */
    double gain[3];                   /* 1 unless said */
    const char *dither, *ends, *flashes;
    double repaint; /* microseconds */
    double clock_hertz;
    uint32_t universe, priority; /* 1 and 100 unless said */
    uint32_t group_count;        /* parts and groups, in the order of the text */
    LampGroup *groups;
} LampInfo;

typedef struct PlaceInfo {
    bool said;
    double latitude, longitude;
    const char *zone; /* or NULL */
} PlaceInfo;

typedef struct Compilation Compilation;

/* Compiles the file `path` and all it uses. Everything wrong goes to the sink of the result. The
 * result is NULL only when not even it could be allocated. */
Compilation *lang_compile(const LangReader *reader, const char *path);
void lang_free(Compilation *compilation);

Diagnostics *lang_diagnostics(Compilation *compilation);
/* The program; NULL where an error was reported. Owned by the compilation until taken. */
const Program *lang_program(const Compilation *compilation);
Program *lang_take_program(Compilation *compilation); /* the caller frees it with program_free */
const LampInfo *lang_lamps(const Compilation *compilation, uint32_t *count);
const PlaceInfo *lang_place(const Compilation *compilation);
/* The tree of the main file (for the timetable and the formatter); NULL where it was not read. */
const SourceTree *lang_main_tree(const Compilation *compilation);
const RoutineCost *lang_costs(const Compilation *compilation, uint32_t *count);
bool lang_has_timetable(const Compilation *compilation);
/* The timetable of the main file; NULL where it has none or an error was reported. Owned by the
 * compilation, also where the program was taken: its indices are those of that program. */
const Timetable *lang_timetable(const Compilation *compilation);

/* The one layout of a file: *out is memory_allocate'd and NUL-terminated. False where the text has
 * errors (the sink says which) or memory ran out; then *out is NULL. */
bool lang_format(Diagnostics *sink, const char *name, const char *text, size_t length, char **out,
                 size_t *out_length);

#endif
