/* The checks of declarations, lamps and the timetable. All report to the sink and go on; false
 * means that memory ran out. */
#ifndef GLOAM_LANG_CHECKS_H
#define GLOAM_LANG_CHECKS_H

#include "lang/compile.h"
#include "lang/expand.h"
#include "lang/names.h"

/* What the checks of one program share. */
typedef struct Checks {
    ExpandProgram *program;
    const LangReader *reader;
    uint32_t lamp_count;
    LampInfo *lamps; /* in the arena */
    PlaceInfo place;
    bool no_memory; /* where no arena tells */
} Checks;

/* Numbers dials, events and routines, fills target's arrays and program's views of them. */
bool declarations_check(ExpandProgram *program, Program *target);
/* The lamps and the place of the main file. */
bool lamps_check(Checks *checks);
void place_check(Checks *checks);
/* Reads the file of `shape points`: lines of x,y or x,y,z. Reports; then the count is 0. */
bool points_read(Checks *checks, const Node *file, LampInfo *lamp);
/* The timetable of the main file; after lamps, place and declarations. */
void timetable_check(Checks *checks);

/* What is played: the part of an entry behind its moment. */
typedef struct PlayFacts {
    bool known;   /* the routine was found (or is `off`) */
    bool ends;    /* there is `for` or `until` */
    double lasts; /* of the routine, microseconds; 0: goes on, or not known */
    double stays; /* what a `for` says, microseconds; 0: not said */
} PlayFacts;
PlayFacts play_check(Checks *checks, const Node *play);
void on_lamp_check(Checks *checks, const Node *on_lamp);
void moment_check(Checks *checks, const Node *moment);
void days_check(Checks *checks, const Node *clauses);
/* Entries that begin while a `by` is on its way to its moment (rule Z13). */
void run_up_check(Checks *checks);

/* -------- small common ones -------- */

Diagnostics *checks_sink(const Checks *checks);
Module *checks_main(const Checks *checks);
/* A sentence without parts. */
void checks_error(const Checks *checks, const char *code, Span span, const char *hint,
                  const char *message);

/* A fixed duration that `word` asks for. Reports another type and a value that is below 0, or 0
 * where `positive`. */
bool checks_duration(ExpandProgram *program, Module *module, const Node *expression,
                     const char *word, bool positive, double *microseconds);
/* A fixed number in 0..1. */
bool checks_share(ExpandProgram *program, Module *module, const Node *expression, const char *word,
                  double *share);
/* The routine of a NAME or MEMBER; NULL where there is none (reported) or *off: it is the built-in
 * `off`. */
Symbol *checks_routine(ExpandProgram *program, Module *module, const Node *name, bool *off);
/* A symbol by NAME or MEMBER, NULL where there is none; nothing is reported. */
Symbol *checks_symbol(Module *module, const Node *name);
/* "no dial `warmht`: `warmth` (line 3)?" */
void checks_report_unknown(ExpandProgram *program, Module *module, const Node *name,
                           const char *what, unsigned kinds);
/* Reports the second of two that may stand only once. */
void checks_report_again(Diagnostics *sink, Span second, Span first, const char *what);

#endif
