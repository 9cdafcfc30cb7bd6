/* A file with its timetable and the zone of its clock, for the commands that tell of days. */
#ifndef GLOAM_COMMAND_PLANNED_H
#define GLOAM_COMMAND_PLANNED_H

#include "runtime/command/load.h"
#include "runtime/library/agenda.h"

typedef struct Planned {
    Compilation *compilation;
    int64_t now; /* microseconds UTC; of what is fixed a date that is always the same */
    Zone *zone;
    TimetableContext context;
    const LampInfo *lamps;
    uint32_t lamp_count;
} Planned;

/* The timetable of what was read. Where the file names no zone it is that of TZ or of the machine,
 * with `fixed` UTC. Says what is wrong; planned_close is fine in either case. */
int planned_open(Planned *planned, const Loaded *loaded, const Options *options, bool fixed);
void planned_close(Planned *planned);

/* What `when` writes. False: out of memory. */
bool when_table(const Planned *planned, const Agenda *agenda, const Options *options, int32_t first,
                FILE *out);
/* A row or an event for each thing that begins. */
void when_csv(const Planned *planned, const Agenda *agenda, FILE *out);
/* False where there is no event, without which there is no calendar; nothing is written then. */
bool when_calendar(const Planned *planned, const Agenda *agenda, FILE *out);

/* "lantern", "window part left"; "" where none is declared. */
void planned_lamp(const Planned *planned, int32_t lamp, int32_t part, char *text, size_t size);

#endif
