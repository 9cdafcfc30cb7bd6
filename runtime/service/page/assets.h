/* The files of the page, packed into the program when it is built (make_assets.sh). */
#ifndef GLOAM_SERVICE_PAGE_ASSETS_H
#define GLOAM_SERVICE_PAGE_ASSETS_H

#include <stddef.h>

typedef struct Asset {
    const char *path; /* "/page.css"; "/" is index.html */
    const char *type;
    const char *hash; /* of its bytes */
    const unsigned char *bytes;
    size_t length;
    const unsigned char *packed; /* the same by gzip */
    size_t packed_length;
} Asset;

/* Ends with a NULL path. */
extern const Asset ASSETS[];

#endif
