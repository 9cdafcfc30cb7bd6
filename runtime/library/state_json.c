/* jansson's memory. Its lexer (2.14) ends the program by an assertion where memory runs out in the
 * middle of a text. So while it parses there is a reserve: from the first failure on it lives on
 * that, and is told that the text ends. */
#include "runtime/library/state_file.h"

#include <jansson.h>
#include <stdint.h>
#include <string.h>

#include "runtime/core/memory.h"

/* Bytes handed over at a time: what is parsed after a failure. */
#define JSON_CHUNK 256
/* What so few bytes can ask for: objects and arrays of their own (about 70 bytes each byte), and
 * the growth of what came before, which is twice as large as that: a text (2 bytes each byte of the
 * text), the lists of arrays and objects (16 bytes for every second byte). */
#define JSON_RESERVE(length) (((size_t)1 << 16) + 18 * (length))

typedef struct Feed {
    const char *text;
    size_t length, at;
} Feed;

static _Thread_local struct {
    bool failed;
    char *reserve; /* NULL: none */
    size_t size, used;
} json;

static void *json_allocate(size_t size) {
    void *block = memory_allocate(1, size);
    if (block)
        return block;
    json.failed = true;
    size_t room = (size + 15) / 16 * 16;
    if (!json.reserve || room < size || room > json.size - json.used)
        return NULL;
    block = json.reserve + json.used;
    json.used += room;
    return block;
}

static void json_release(void *block) {
    uintptr_t place = (uintptr_t)block - (uintptr_t)json.reserve;
    if (!json.reserve || place >= json.size)
        memory_release(block);
}

void state_json_begin(void) {
    json_set_alloc_funcs(json_allocate, json_release);
    json.failed = false;
}

bool state_json_failed(void) {
    return json.failed;
}

static size_t feed(void *buffer, size_t room, void *context) {
    Feed *rest = context;
    size_t count = rest->length - rest->at;
    if (json.failed)
        return 0;
    if (count > JSON_CHUNK)
        count = JSON_CHUNK;
    if (count > room)
        count = room;
    memcpy(buffer, rest->text + rest->at, count);
    rest->at += count;
    return count;
}

json_t *state_json_parse(const char *text, size_t length, json_error_t *error, bool *no_memory) {
    Feed whole = {text, length, 0};
    state_json_begin();
    json.failed = false;
    json.used = 0;
    json.size = JSON_RESERVE(length);
    json.reserve = memory_allocate(1, json.size);
    json_t *root = NULL;
    if (json.reserve)
        root = json_load_callback(feed, &whole, JSON_REJECT_DUPLICATES, error);
    *no_memory = !json.reserve || json.failed;
    if (*no_memory) {
        json_decref(root);
        root = NULL;
    }
    memory_release(json.reserve);
    json.reserve = NULL;
    return root;
}
