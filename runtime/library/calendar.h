/* What a timetable plays as a calendar (RFC 5545): an event for each time light begins to play, not
 * for `off`, nor for ceilings. */
#ifndef GLOAM_LIBRARY_CALENDAR_H
#define GLOAM_LIBRARY_CALENDAR_H

#include <stdio.h>

#include "runtime/library/agenda.h"

typedef struct CalendarRequest {
    const TimetableContext *context;
    const LampInfo *lamps;
    uint32_t lamp_count;
    int64_t now; /* microseconds UTC, when it is written */
} CalendarRequest;

/* False where there is no event, without which there is no calendar; nothing is written then. */
bool calendar_write(const CalendarRequest *request, const Agenda *agenda, FILE *out);

#endif
