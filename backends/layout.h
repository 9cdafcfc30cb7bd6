/* Where the pixels of a lamp are drawn on a raster of square dots: which pixels each dot shows. */
#ifndef GLOAM_BACKENDS_LAYOUT_H
#define GLOAM_BACKENDS_LAYOUT_H

#include <stdbool.h>
#include <stdint.h>

typedef enum Arrangement {
    ARRANGE_STRIP,  /* along the wire, folded into lines where it is long */
    ARRANGE_RING,   /* spots at x and y */
    ARRANGE_GRID,   /* squares at x and y */
    ARRANGE_BALL,   /* two discs of equal area: the front, and the back as seen from behind */
    ARRANGE_POINTS, /* spots at x and y */
} Arrangement;

typedef struct LayoutRequest {
    Arrangement arrangement;
    uint32_t pixels;
    const double *x, *y, *z; /* -1..1, y up, z towards the viewer; not needed for a strip along x */
    uint32_t across, up;     /* grid */
    int width, height;       /* dots; at least 1 */
} LayoutRequest;

/* A word under a disc. */
typedef struct LayoutLabel {
    const char *text;
    int middle, below; /* dots: the middle of the word; the first line of dots below the disc */
} LayoutLabel;

typedef struct Layout {
    int width, height;
    uint32_t *first; /* dot d shows pixels[first[d]] .. pixels[first[d + 1] - 1], none or their
                        mean; width * height + 1 entries */
    uint32_t *pixels;
    uint8_t *cover; /* how much of the dot they cover: 0..255 */
    int label_count;
    LayoutLabel labels[2];
} Layout;

/* False: out of memory. */
bool layout_create(Layout *layout, const LayoutRequest *request);
void layout_release(Layout *layout);

#endif
