#include "runtime/player/trust_file.h"

#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"

enum { MOST_BYTES = 256 };

Trust trust_file_read(const char *path) {
    Trust trust = {0};
    char *text;
    size_t length;
    const char *reason;
    int why = 0;
    long long since = 0;
    if (disk_read_file(path, MOST_BYTES, &text, &length, &reason) != READ_FINE)
        return trust;
    bool whole = length > 0 && text[length - 1] == '\n' &&
                 sscanf(text, "gloam trust 1 %d %lld %39s", &why, &since, trust.boot) == 3;
    memory_release(text);
    if (!whole || (why != TRUST_KERNEL && why != TRUST_SERVICE))
        return (Trust){0};
    trust.reason = (TrustReason)why;
    trust.since = (int64_t)since;
    return trust;
}

bool trust_file_write(const StateDisk *disk, const char *path, const Trust *trust, int *error) {
    char text[MOST_BYTES];
    int length = snprintf(text, sizeof text, "gloam trust 1 %d %lld %s\n", (int)trust->reason,
                          (long long)trust->since, trust->boot);
    return state_replace(disk, path, text, (size_t)length, error);
}
