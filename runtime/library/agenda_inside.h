/* Between agenda.c, which finds what begins, and agenda_words.c, which says it. */
#ifndef GLOAM_LIBRARY_AGENDA_INSIDE_H
#define GLOAM_LIBRARY_AGENDA_INSIDE_H

#include "runtime/library/agenda.h"

void agenda_cause_entry(const TimetableEntry *entry, uint32_t moment_index, char *text,
                        size_t size);
void agenda_cause_end(const TimetablePlay *play, const Program *program, char *text, size_t size);
void agenda_cause_ceiling(const TimetableCeiling *ceiling, bool over, char *text, size_t size);

/* Each adds to notes[AGENDA_NOTES], which ends where it is full. */
void agenda_note(char *notes, const char *note);
/* Of a reading of the clock that a change of the clocks skips or repeats. */
void agenda_note_clock(const TimetableContext *context, int32_t date, int32_t clock, char *notes);
/* How a moment on a date came to be where it is: the sun's time, bounds, `else`, the clocks. */
void agenda_note_moment(const TimetableContext *context, const TimetableEntry *entry,
                        uint32_t moment_index, int32_t date, char *notes);
/* "until 02:30 on Thu": a word, the clock's reading, and the day where it is another. */
void agenda_note_end(const TimetableContext *context, const char *word, int64_t from, int64_t utc,
                     char *notes);

#endif
