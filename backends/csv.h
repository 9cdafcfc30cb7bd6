/* Frames as CSV (RFC 4180, but lines end in LF as everywhere on Unix): a header, then one row a
 * pixel a frame: frame,seconds,pixel,red,green,blue[,white][,level]. */
#ifndef GLOAM_BACKENDS_CSV_H
#define GLOAM_BACKENDS_CSV_H

#include "backends/backend.h"

typedef enum CsvValues {
    CSV_BYTES, /* whole numbers 0..255, from the frame's bytes */
    CSV_LIGHT  /* decimals that read back to the same float, from the frame's light */
} CsvValues;

/* `own` of the options; CSV_BYTES without it. With CSV_LIGHT the columns are red, green, blue. */
typedef struct CsvOptions {
    CsvValues values;
    bool live; /* each frame is written at once */
} CsvOptions;

extern const BackendKind csv_backend;

#endif
