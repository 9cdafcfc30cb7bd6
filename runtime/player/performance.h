/* What one lamp shows: its timetable, with all that was set by hand, as light.
 *
 * The frame at an instant is a function of the program, the timetable, the zone, the dials and
 * overrides as they were last told, and the instant: calls in any order give the same bits, a lamp
 * that starts in the middle joins where it should be. Which plays are mixed, and how, is in plan.h
 * and spec/timetable.md ("What plays, as light"). Memory have only changes by hand: see
 * performance_tell.
 *
 * A loop: performance_light at now, performance_show, then performance_changes: where that is now,
 * the next frame is due at the lamp's rate, else at that instant and not before. Whoever wants no
 * allocation at a change asks performance_prepare for a while ahead when there is time.
 *
 * Instants are microseconds UTC as in runtime/time/timetable.h. */
#ifndef GLOAM_PLAYER_PERFORMANCE_H
#define GLOAM_PLAYER_PERFORMANCE_H

#include "lang/compile.h"
#include "runtime/light/pipeline.h"
#include "runtime/time/playing.h"
#include "runtime/vm/vm.h"

/* All borrowed for as long as the performance lives; none is changed by it. */
typedef struct PerformanceRequest {
    const World *world;   /* after another zone or place in it: performance_tell */
    int32_t lamp;         /* TIMETABLE_NOT_SAID: one that is not declared, entries for all lamps */
    const LampInfo *info; /* of a declared lamp, with its parts; NULL: none */
    const Scene *scene;   /* the whole lamp */
} PerformanceRequest;

typedef struct Performance Performance;

/* `overrides`: as for performance_tell; NULL: nothing is set by hand. NULL: out of memory. */
Performance *performance_create(const PerformanceRequest *request, const Overrides *overrides,
                                const Now *now);
void performance_free(Performance *performance); /* NULL is fine */

/* The overrides, dials and clocks as they are now: to be called whenever the clock was set or
 * became trusted, after each act by hand, and where world->context changed. `overrides` is settled
 * and copied. What began just now fades in as any play does. Where it otherwise makes another
 * frame than before at this moment (an undo, another zone, a duration by a dial), the light
 * cross-fades for PLAN_FADING from the frame as it was, which stands still meanwhile, and so do
 * ceilings that are others; an eased dial
 * glides; any other dial is at once what it was set to. To be left out after overrides_prune alone.
 * False: out of memory; then all is as before. */
bool performance_tell(Performance *performance, const Overrides *overrides, const Now *now);

/* Makes ready for all instants from..to, and on to the next change after `to`: the one call that
 * allocates. False: out of memory. */
bool performance_prepare(Performance *performance, int64_t from, int64_t to);

/* The frame: 3 floats a pixel of linear light, after layers and cross-fades. An instant that was
 * not prepared is prepared first; else nothing is allocated. False: out of memory. */
bool performance_light(Performance *performance, int64_t utc, float *light);

/* From `utc` on, for PLAN_FADING, light, level and ceilings go from those of another performance of
 * the lamp, as they are then, to this one's: after a reload. False: other pixels, or out of memory;
 * then this one begins at once. */
bool performance_follow(Performance *performance, Performance *old, int64_t utc);

/* The lowest of the ceilings on the lamp as a whole, gliding (light/level.h), and the master level
 * set by hand as a factor of light, 1 where none is. */
double performance_ceiling(Performance *performance, int64_t utc);
double performance_level(Performance *performance, int64_t utc);

/* What the lamp makes of performance_light's frame at `utc`, in place: the level set by hand, then
 * pipeline_show with the ceilings on parts and on the lamp. `shown` is when it is seen, for the
 * flash guard; times never fall. */
void performance_show(Performance *performance, int64_t utc, Pipeline *pipeline, int64_t shown,
                      float *light);

/* The first instant at which what is shown can differ from what is shown at `utc`: `utc` itself
 * where something moves, the next moment, fade or ceiling where all rests; TIMETABLE_NEVER. Never
 * late, early at most where something moves that is not seen. Prepares where need be; `utc` where
 * memory ran out. */
int64_t performance_changes(Performance *performance, int64_t utc);

/* Machines that are kept; for tests and `status`. */
uint32_t performance_machines(const Performance *performance);

#endif
