/* Between what a program declares and what the machine takes: lamps and dials. */
#ifndef GLOAM_LIBRARY_LAMP_H
#define GLOAM_LIBRARY_LAMP_H

#include "lang/compile.h"
#include "runtime/core/chip.h"
#include "runtime/core/scene.h"
#include "runtime/light/pipeline.h"
#include "runtime/light/shape.h"
#include "runtime/vm/vm.h"

/* A lamp as the machine sees it. */
typedef struct Lamp {
    Shape *shape;
    Scene scene;
    const unsigned char **groups; /* by the program's group numbers; NULL: not on this lamp */
    unsigned char *marks;         /* the truths they point to */
} Lamp;

/* The shape of a declared lamp; its points are copied into *points (memory_release it after
 * shape_create; NULL unless the shape is points). False: out of memory. */
bool lamp_request(const LampInfo *info, ShapeRequest *request, ShapePoint **points);

/* Places the pixels, and marks the groups that the program asks for where `info` (may be NULL)
 * has them. False: out of memory, or no such shape; then lamp_free is still fine. */
bool lamp_make(Lamp *lamp, const Program *program, const ShapeRequest *request,
               const LampInfo *info);
/* The same in the shape that is declared; a ring of 16 where nothing is. */
bool lamp_make_declared(Lamp *lamp, const Program *program, const LampInfo *info);
void lamp_free(Lamp *lamp);

/* The lamp of that name; NULL: there is none, and `missing` is what is wrong, of the file: `has no
 * lamp `lantren`: `lantern`?`. */
enum { LAMP_MISSING = 256 };
const LampInfo *lamp_called(const LampInfo *lamps, uint32_t count, const char *name,
                            char missing[LAMP_MISSING]);

/* What a declared lamp says about its light; NULL: the lamp that is not declared, which draws
 * what the chip that stands in draws, has no limit and does not dither. `frames` are frames a
 * second that will be shown, for a lamp that asks to dither in time: where its wire cannot carry so
 * many, or they are 0, it does not. */
PipelineLamp lamp_light(const LampInfo *info, double frames);
/* Frames a second that the wire of a declared lamp can carry and its chips can show. */
double lamp_frames(const LampInfo *info);
/* The chip that it names, else the one whose figures stand in; so, too, of NULL. */
const Chip *lamp_chip(const LampInfo *info);

/* program->dial_count values, memory_allocate'd; NULL: out of memory. */
DialValue *dial_defaults(const Program *program);
/* The number of the dial of that name, or program->dial_count. */
uint16_t dial_find(const Program *program, const char *name, size_t length);
/* Holds a value within the dial's range and form (a duration whole, a truth 0 or 1). */
DialValue dial_held(const DialInfo *dial, DialValue value);

typedef enum DialTrouble {
    DIAL_SET,
    DIAL_CUT,         /* set, to the end of its range: what was written lies outside */
    DIAL_NOT_PERCENT, /* `60` where `60%` lies in the range and 60 above it */
    DIAL_NOT_READ,
    DIAL_WRONG_TYPE,
    DIAL_NO_MEMORY
} DialTrouble;
/* A value as a file would write it: 60%, 2s, true, gold, rgb(255, 136, 0), 2700K * 5%. */
DialTrouble dial_read(const DialInfo *dial, const char *text, DialValue *value);

#endif
