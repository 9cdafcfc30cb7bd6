/* gloam picture --day, --week: days of the timetable on a lamp. */
#ifndef GLOAM_COMMAND_DAYS_PICTURE_H
#define GLOAM_COMMAND_DAYS_PICTURE_H

#include "runtime/command/load.h"

int days_picture_run(const Options *options);

/* "ring of 16", "grid 8 by 8" */
void picture_describe(const Stage *stage, char *text, size_t size);

#endif
