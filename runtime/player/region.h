/* Where a routine plays: a lamp, or a part of one. A part is a stretch with positions of its own:
 * to what plays there it is a strip of so many pixels. */
#ifndef GLOAM_PLAYER_REGION_H
#define GLOAM_PLAYER_REGION_H

#include "lang/compile.h"
#include "runtime/core/scene.h"
#include "runtime/light/shape.h"

typedef struct Region {
    int32_t part;           /* among the lamp's groups; -1: the whole lamp */
    uint32_t first, pixels; /* of the lamp's pixels */
    Scene scene;
    Shape *shape; /* of a part */
    const unsigned char **groups;
    unsigned char *marks;
} Region;

/* The whole lamp; the scene stays borrowed. */
void region_lamp(Region *region, const Scene *lamp);
/* A part of it. Groups of the lamp reach into it. False: out of memory; region_free is fine. */
bool region_part(Region *region, const Scene *lamp, const LampInfo *info, int32_t part);
void region_free(Region *region);

#endif
