/* A routine on a lamp, looked at from a moment to its end, 60 frames a second, dials at their
 * defaults: how it flashes, what it draws, how bright it is. For `check`. */
#ifndef GLOAM_LIBRARY_EXAMINE_H
#define GLOAM_LIBRARY_EXAMINE_H

#include "runtime/library/lamp.h"
#include "runtime/light/flash.h"
#include "runtime/light/level.h"

/* Where a routine goes on without end. */
#define EXAMINE_LENGTH INT64_C(600000000)

typedef struct Examined {
    int64_t length;    /* microseconds looked at, from the routine's start on */
    int64_t wanted;    /* all: what it lasts, else EXAMINE_LENGTH; more than `length` where the work
                          that was left did not suffice */
    FlashSeen flashes; /* of the light before the guard */
    double peak_ampere, mean_ampere;
    int64_t peak_at;
    bool dimmed; /* the supply limit did */
    /* Shares of the lamp's full white, mean of all pixels: relative luminance, and night.h. */
    double light_least, light_most, melanopic_least, melanopic_most;
} Examined;

/* Work that one examination after the other may use up: about so many nanoseconds. A dawn of half
 * an hour on 300 pixels fits in. */
#define EXAMINE_WORK 2.5e9

typedef struct ExamineRequest {
    const Program *program;
    uint16_t routine;
    const LampInfo *lamp; /* NULL: a ring of 16 */
    int64_t start;        /* time of the routine at which looking begins */
    double hour;          /* on the clock at that moment */
    double ceiling;       /* of the timetable; LEVEL_NO_CEILING */
} ExamineRequest;

/* False: out of memory. */
bool examine(const ExamineRequest *request, double *work, Examined *examined);

#endif
