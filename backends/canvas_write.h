/* A picture in memory as a PNG. */
#ifndef GLOAM_BACKENDS_CANVAS_WRITE_H
#define GLOAM_BACKENDS_CANVAS_WRITE_H

#include "backends/backend.h"
#include "backends/canvas.h"

/* The descriptor stays open. `trouble` begins the sentence where it fails. */
bool canvas_write(const Canvas *canvas, int descriptor, const char *trouble, BackendError *error);

#endif
