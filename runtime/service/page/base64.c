#include "runtime/service/page/base64.h"

#include <nettle/base64.h>

#include "runtime/core/memory.h"

char *base64_text(const uint8_t *bytes, size_t length) {
    char *text = memory_allocate(BASE64_ENCODE_RAW_LENGTH(length) + 1, 1);
    if (text)
        base64_encode_raw(text, length, bytes);
    return text;
}
