/* A preview where there is no terminal: a few moments, one line each. */
#ifndef GLOAM_COMMAND_STILL_H
#define GLOAM_COMMAND_STILL_H

#include "runtime/command/preview.h"

/* `light` has room for 3 floats a pixel. An exit status of command.h. */
int still_lines(const PreviewOptions *options, Depth depth, float *light);

#endif
