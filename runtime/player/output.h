/* Where the light of one lamp goes: an open backend, or one that is waited for. */
#ifndef GLOAM_PLAYER_OUTPUT_H
#define GLOAM_PLAYER_OUTPUT_H

#include "backends/backend.h"
#include "backends/e131_packet.h"
#include "backends/terminal.h"
#include "lang/compile.h"
#include "runtime/light/shape.h"

/* After a failure it is tried again, at first so soon, then after twice as long each time, up to
 * the most. */
enum { LAMP_OUTPUT_FIRST = 100000, LAMP_OUTPUT_MOST = 60000000 };

/* What stands in for the ports of the lamps. */
typedef struct OutputInstead {
    const BackendKind *kind; /* NULL: nothing does */
    int descriptor;
    const void *own; /* options of the kind; of the terminal they are made from the shape: NULL */
    Depth depth;     /* of the terminal */
    bool ascii;
    bool wire; /* it is as fast as the lamp's own wire, and no faster */
} OutputInstead;

typedef struct OutputRequest {
    const LampInfo *info; /* NULL: one that is not declared, which needs `instead` */
    const Shape *shape;   /* outlives what is open */
    uint32_t pixels;
    bool white, level; /* the bytes have these columns */
    OutputInstead instead;
    const uint8_t *cid; /* E131_CID_BYTES; outlives it */
} OutputRequest;

typedef struct LampOutput LampOutput;

/* Copies the texts of the lamp. Opens nothing yet. NULL: out of memory. */
LampOutput *output_create(const OutputRequest *request);
/* Closes what is open: it is dark then, or stays, as the lamp says. */
void output_free(LampOutput *output);

/* Whether what is open can go on under another request: the same place, pixels and columns. */
bool output_serves(const LampOutput *output, const OutputRequest *request);

bool output_is_open(const LampOutput *output);
/* When it is to be tried again to open it; now or earlier at first. */
int64_t output_next_try(const LampOutput *output);
/* False: output_sentence says why, and the next try is later. */
bool output_open(LampOutput *output, int64_t monotonic);

/* The frame by a backend that takes bytes or light. FAILED: output_sentence says why; it is closed
 * and to be tried again. */
BackendResult output_frame(LampOutput *output, const BackendFrame *frame, int64_t monotonic);
bool output_takes_light(const LampOutput *output);
/* Whether BUSY needs no more than output_again. */
bool output_minds_itself(const LampOutput *output);
/* When output_again is due; BACKEND_NEVER. */
int64_t output_due(const LampOutput *output);
BackendResult output_again(LampOutput *output, int64_t monotonic);

/* What is open, for what only its own header can tell it; NULL. */
Backend *output_backend(const LampOutput *output);
const char *output_sentence(const LampOutput *output);
/* How often it has failed since it last took a frame. */
uint32_t output_failures(const LampOutput *output);
/* What the lamp says of its port, or the name of what stands in. */
const char *output_name(const LampOutput *output);

/* Frames a second that the port of a declared lamp can carry. */
double output_rate(const LampInfo *info);
/* Whether its port is in the network. */
bool output_is_network(const LampInfo *info);

/* Whether two lamps would be sent to the same pixels: the port is the same, and in the network they
 * have a universe in common. */
bool output_collides(const LampInfo *a, const LampInfo *b);
/* The first universe behind those of a lamp. */
uint32_t output_universe_behind(const LampInfo *info);

/* How the terminal shows a shape. The shape outlives what is opened with it. */
TerminalOptions output_terminal(const Shape *shape, Depth depth, bool ascii);

#endif
