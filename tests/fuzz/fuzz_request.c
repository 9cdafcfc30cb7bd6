/* Any bytes as requests, one a line (libFuzzer): each is done or refused with a sentence, what is
 * refused changes nothing, and what comes of them can be written and told of. See slow_fuzz.sh. */
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/player/request.h"
#include "runtime/player/status.h"
#include "runtime/player/truths.h"
#include "lang/sources.h"
#include "tests/fuzz/home.h"

/* UTF-8 that steers no terminal. */
static void must_be_text(const char said[REQUEST_SENTENCE]) {
    MUST(memchr(said, '\0', REQUEST_SENTENCE));
    size_t size;
    for (size_t left = strlen(said); left > 0; said += size, left -= size) {
        uint32_t code = utf8_read(said, left, &size);
        MUST(code != UTF8_INVALID && !utf8_is_control(code));
    }
}

static void one_request(Overrides *overrides, const Now *now, const char *line) {
    static Request request;
    char said[REQUEST_SENTENCE];
    Overrides *before = memory_allocate(1, sizeof *before);
    MUST(before);
    *before = *overrides;
    bool read = request_read(&fuzz_home, line, &request, said);
    MUST(read || said[0]);
    must_be_text(said);
    if (read && !request.status) {
        bool done = request_do(overrides, &fuzz_home, now, &request, said);
        MUST(said[0]);
        must_be_text(said);
        MUST(done || memcmp(before, overrides, sizeof *before) == 0);
        MUST(truths_tell(overrides, &fuzz_home, now));
    }
    memory_release(before);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    if (!fuzz_home.lamps)
        fuzz_home_start();
    Now now = {INT64_C(1795575000000000), INT64_C(600000000000), true, "first"};
    Overrides *overrides = memory_allocate(1, sizeof *overrides);
    char *text = memory_copy_text((const char *)data, size);
    MUST(overrides && text);
    overrides_settle(overrides, &now);
    char *line = text;
    for (int lines = 0; line && lines < 20; lines++) {
        char *end = strchr(line, '\n');
        if (end)
            *end = '\0';
        one_request(overrides, &now, line);
        line = end ? end + 1 : NULL;
        now = now_later(&now, INT64_C(600000000));
        (void)overrides_prune(overrides, &fuzz_home, &now);
    }
    fuzz_check_written(overrides);
    FILE *nowhere = fopen("/dev/null", "w");
    MUST(nowhere);
    StatusRequest status = {&fuzz_home, overrides, &now, "trusted", "none"};
    status_text(&status, nowhere);
    MUST(status_json(&status, nowhere));
    fclose(nowhere);
    memory_release(text);
    memory_release(overrides);
    return 0;
}
