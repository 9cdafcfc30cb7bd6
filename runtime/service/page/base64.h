/* Bytes as text (RFC 4648, 4). */
#ifndef GLOAM_SERVICE_PAGE_BASE64_H
#define GLOAM_SERVICE_PAGE_BASE64_H

#include <stddef.h>
#include <stdint.h>

/* memory_allocate'd, NUL-terminated; NULL: out of memory. */
char *base64_text(const uint8_t *bytes, size_t length);

#endif
