/* Zones of the machine for tests. Included after cmocka.h. */
#ifndef GLOAM_TESTS_SUPPORT_ZONES_H
#define GLOAM_TESTS_SUPPORT_ZONES_H

#include "runtime/library/zone_file.h"

/* The caller's; the test fails where the machine has none of the name. */
static inline Zone *zone_named(const char *name) {
    Zone *zone = NULL;
    if (zone_file_read(name, &zone) != ZONE_FILE_FINE)
        fail_msg("no zone %s", name);
    return zone;
}

#endif
