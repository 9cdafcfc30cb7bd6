/* Which texts can be names of the time zone database: words of letters, digits, `_`, `+`, `-` with
 * `/` between. Such a name leads out of no folder. */
#ifndef GLOAM_CORE_ZONE_NAME_H
#define GLOAM_CORE_ZONE_NAME_H

#include <stdbool.h>
#include <string.h>

#define ZONE_PATH_BYTES 64 /* the longest */

static inline bool zone_name_fits(const char *zone) {
    size_t length = strlen(zone);
    if (length == 0 || length > ZONE_PATH_BYTES || zone[0] == '/' || zone[length - 1] == '/')
        return false;
    for (size_t i = 0; i < length; i++) {
        char c = zone[i];
        bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                      c == '_' || c == '+' || c == '-';
        if (!letter && (c != '/' || zone[i + 1] == '/'))
            return false;
    }
    return true;
}

#endif
