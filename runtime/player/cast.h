/* The machines of the plays that are in view, each with its dials: those of its `with`, or set by
 * hand, eased ones on their way. */
#ifndef GLOAM_PLAYER_CAST_H
#define GLOAM_PLAYER_CAST_H

#include "runtime/player/plan.h"
#include "runtime/vm/vm.h"

typedef struct CastMember {
    uint32_t region; /* where it plays */
    PlanPlay play;
    bool wanted;
    Vm *machine;
    const Code *code;
    DialValue *target, *before; /* by dial: what it is, and what it was at `changed` */
    int64_t *changed;
    int64_t glides; /* until then an eased dial may be on its way */
    bool resting;   /* the machine has the targets */
} CastMember;

typedef struct Cast {
    const World *world;
    uint32_t count, capacity;
    CastMember *members;
    DialValue *scratch; /* a value of each dial */
} Cast;

/* False: out of memory; cast_free is fine in either case. */
bool cast_start(Cast *cast, const World *world);
void cast_free(Cast *cast);

/* Who stays: cast_begin, then cast_keep for all that play, then cast_want for the same, which
 * makes the machines that are missing (false: out of memory), then cast_end lets the others go. A
 * play without a routine needs none. */
void cast_begin(Cast *cast);
void cast_keep(Cast *cast, uint32_t region, const PlanPlay *play);
bool cast_want(Cast *cast, uint32_t region, const Scene *scene, const PlanPlay *play,
               const Overrides *overrides, const Now *now);
void cast_end(Cast *cast);

CastMember *cast_find(Cast *cast, uint32_t region, const PlanPlay *play);

/* New dials by hand: eased ones begin to glide at now->utc from where they are then. True where a
 * duration that is not eased changed and is read. */
bool cast_tell(Cast *cast, const Overrides *overrides, const Now *now);
/* The clock was set on by so much: what glides goes on as it was. */
void cast_shift(Cast *cast, int64_t by);

/* Gives the machine its dials as they are at an instant; true where one glides then. */
bool cast_set_dials(Cast *cast, CastMember *member, int64_t utc);

#endif
