/* The lamp that `gloam try-wiring` lights: of a file or of options alone, driven as the player
 * drives it: through the same pipeline, with the same limit and guard, to the same ports. */
#ifndef GLOAM_COMMAND_TRY_LAMP_H
#define GLOAM_COMMAND_TRY_LAMP_H

#include "runtime/command/load.h"
#include "runtime/command/try_steps.h"
#include "runtime/player/output.h"

enum { TRY_TEXT = 1024, TRY_ORDER = 8 };

typedef struct TryLamp {
    Loaded loaded;
    char text[TRY_TEXT];   /* of a lamp that only options tell of */
    LampInfo info;         /* dark at the end, whatever it says of that */
    char order[TRY_ORDER]; /* that its port goes by */
    Lamp lamp;
    PipelineLamp light_of;
    Pipeline *pipeline;
    OutputInstead instead;
    LampOutput *output;
    uint8_t cid[E131_CID_BYTES];
    TryAbout about;
    double most; /* light of the last step at its brightest */
    float *light;
    uint8_t *bytes;
    uint64_t frame;
} TryLamp;

/* Each returns EXIT_DONE, or the status of what it has said. try_lamp_free in any case: dark. */
int try_lamp_choose(TryLamp *lamp, const Options *options);
/* `instead` as that of a player: what stands in for its port. */
int try_lamp_make(TryLamp *lamp, const OutputInstead *instead);
int try_lamp_open(TryLamp *lamp);
/* Closes its port and opens it again by another order of channels. */
int try_lamp_reorder(TryLamp *lamp, const char *order);
void try_lamp_free(TryLamp *lamp);

/* A frame of a step; `shown` is when it is seen, for the guard. False: output_sentence says why. */
bool try_lamp_show(TryLamp *lamp, TryStep step, double at, int64_t shown);

#endif
