#include "runtime/player/cast.h"

#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/memory.h"

bool cast_start(Cast *cast, const World *world) {
    *cast = (Cast){.world = world};
    uint16_t dials = world->context.program->dial_count;
    cast->scratch = memory_allocate(dials ? dials : 1, sizeof *cast->scratch);
    return cast->scratch != NULL;
}

static void cast_release(CastMember *member) {
    vm_free(member->machine);
    memory_release(member->target);
    memory_release(member->before);
    memory_release(member->changed);
    *member = (CastMember){0};
}

void cast_free(Cast *cast) {
    for (uint32_t i = 0; i < cast->count; i++)
        cast_release(&cast->members[i]);
    memory_release(cast->members);
    memory_release(cast->scratch);
    *cast = (Cast){0};
}

/* -------- who stays -------- */

static bool cast_plays(const Cast *cast, const PlanPlay *play) {
    return play->cause != PLAYING_NOTHING &&
           play->routine < cast->world->context.program->routine_count;
}

CastMember *cast_find(Cast *cast, uint32_t region, const PlanPlay *play) {
    for (uint32_t i = 0; i < cast->count; i++) {
        CastMember *member = &cast->members[i];
        if (member->region == region && plan_same(&member->play, play))
            return member;
    }
    return NULL;
}

void cast_begin(Cast *cast) {
    for (uint32_t i = 0; i < cast->count; i++)
        cast->members[i].wanted = false;
}

void cast_keep(Cast *cast, uint32_t region, const PlanPlay *play) {
    CastMember *member = cast_find(cast, region, play);
    if (!member)
        return;
    member->wanted = true;
    member->play = *play;
}

void cast_end(Cast *cast) {
    uint32_t kept = 0;
    for (uint32_t i = 0; i < cast->count; i++)
        if (cast->members[i].wanted)
            cast->members[kept++] = cast->members[i];
        else
            cast_release(&cast->members[i]);
    cast->count = kept;
}

/* -------- dials -------- */

static DialValue cast_target(const Cast *cast, const PlanPlay *play, uint16_t dial,
                             const Overrides *overrides, const Now *now) {
    Playing playing = {.cause = play->cause,
                       .number = play->number,
                       .began = play->began,
                       .setting_count = play->setting_count,
                       .settings = play->settings};
    TimetableSetting setting = playing_dial(overrides, cast->world, now, &playing, dial);
    return (DialValue){setting.number, setting.colour};
}

static void cast_targets(const Cast *cast, CastMember *member, const Overrides *overrides,
                         const Now *now) {
    const Program *program = cast->world->context.program;
    for (uint16_t i = 0; i < program->dial_count; i++) {
        member->target[i] = cast_target(cast, &member->play, i, overrides, now);
        member->changed[i] = TIMETABLE_EVER;
    }
    member->glides = TIMETABLE_EVER;
    member->resting = false;
}

static bool dial_same(const DialValue *a, const DialValue *b) {
    return memcmp(&a->number, &b->number, sizeof a->number) == 0 &&
           memcmp(&a->colour, &b->colour, sizeof a->colour) == 0;
}

/* On its way ease-in-out; colours in linear light. */
static DialValue cast_dial(const DialInfo *info, const CastMember *member, uint16_t dial,
                           int64_t utc) {
    const DialValue *from = &member->before[dial], *to = &member->target[dial];
    int64_t changed = member->changed[dial];
    if (changed == TIMETABLE_EVER || utc < changed || (double)(utc - changed) >= info->eased)
        return *to;
    double share = easing_in_out((double)(utc - changed) / info->eased);
    double number = number_lerp(from->number, to->number, share);
    return (DialValue){info->type == DIAL_DURATION ? number_microseconds(number) : number,
                       {(float)number_lerp(from->colour.r, to->colour.r, share),
                        (float)number_lerp(from->colour.g, to->colour.g, share),
                        (float)number_lerp(from->colour.b, to->colour.b, share)}};
}

static void cast_glide(CastMember *member, uint16_t dial, const DialInfo *info,
                       const DialValue *target, int64_t utc) {
    member->before[dial] = cast_dial(info, member, dial, utc);
    member->target[dial] = *target;
    member->changed[dial] = utc;
    int64_t ends = utc + (int64_t)info->eased;
    member->glides = ends > member->glides ? ends : member->glides;
}

static bool cast_reads(const Code *code, uint16_t dial) {
    for (int section = 0; section < SECTION_COUNT; section++)
        for (uint32_t i = 0; i < code->lengths[section]; i++) {
            const Instruction *it = &code->sections[section][i];
            if ((it->op == OP_DIAL || it->op == OP_DIAL_LIGHT) && it->k == dial)
                return true;
        }
    return false;
}

bool cast_tell(Cast *cast, const Overrides *overrides, const Now *now) {
    const Program *program = cast->world->context.program;
    bool jumps = false;
    for (uint32_t m = 0; m < cast->count; m++) {
        CastMember *member = &cast->members[m];
        member->resting = false;
        for (uint16_t i = 0; i < program->dial_count; i++) {
            const DialInfo *info = &program->dials[i];
            DialValue target = cast_target(cast, &member->play, i, overrides, now);
            if (dial_same(&target, &member->target[i]))
                continue;
            jumps = jumps || (info->type == DIAL_DURATION && info->eased <= 0 &&
                              cast_reads(member->code, i));
            if (info->eased > 0)
                cast_glide(member, i, info, &target, now->utc);
            else
                member->target[i] = target;
        }
    }
    return jumps;
}

void cast_shift(Cast *cast, int64_t by) {
    uint16_t dials = cast->world->context.program->dial_count;
    for (uint32_t m = 0; m < cast->count; m++) {
        CastMember *member = &cast->members[m];
        if (member->glides != TIMETABLE_EVER)
            member->glides += by;
        for (uint16_t i = 0; i < dials; i++)
            if (member->changed[i] != TIMETABLE_EVER)
                member->changed[i] += by;
    }
}

bool cast_set_dials(Cast *cast, CastMember *member, int64_t utc) {
    const Program *program = cast->world->context.program;
    bool glides = utc < member->glides;
    if (!glides && member->resting)
        return false;
    for (uint16_t i = 0; i < program->dial_count; i++)
        cast->scratch[i] =
            glides ? cast_dial(&program->dials[i], member, i, utc) : member->target[i];
    vm_set_dials(member->machine, cast->scratch);
    member->resting = !glides;
    return glides;
}

/* -------- machines -------- */

static bool cast_make(Cast *cast, CastMember *member, const Scene *scene,
                      const Overrides *overrides, const Now *now) {
    const Program *program = cast->world->context.program;
    size_t dials = program->dial_count ? program->dial_count : 1;
    member->code = &program->routines[member->play.routine].code;
    member->target = memory_allocate(dials, sizeof *member->target);
    member->before = memory_allocate(dials, sizeof *member->before);
    member->changed = memory_allocate(dials, sizeof *member->changed);
    if (!member->target || !member->before || !member->changed)
        return false;
    cast_targets(cast, member, overrides, now);
    member->machine = vm_create(member->code, scene, member->target);
    return member->machine != NULL;
}

/* A machine of the same routine there that nobody needs any more. */
static CastMember *cast_free_member(Cast *cast, uint32_t region, const PlanPlay *play) {
    for (uint32_t i = 0; i < cast->count; i++) {
        CastMember *member = &cast->members[i];
        if (!member->wanted && member->region == region && member->play.routine == play->routine)
            return member;
    }
    return NULL;
}

static CastMember *cast_add(Cast *cast) {
    if (cast->count == cast->capacity) {
        uint32_t capacity = cast->capacity ? 2 * cast->capacity : 8;
        CastMember *larger = memory_resize(cast->members, capacity, sizeof *cast->members);
        if (!larger)
            return NULL;
        cast->members = larger;
        cast->capacity = capacity;
    }
    CastMember *member = &cast->members[cast->count];
    *member = (CastMember){0};
    return member;
}

bool cast_want(Cast *cast, uint32_t region, const Scene *scene, const PlanPlay *play,
               const Overrides *overrides, const Now *now) {
    if (!cast_plays(cast, play) || cast_find(cast, region, play))
        return true;
    CastMember *member = cast_free_member(cast, region, play);
    if (member) {
        member->play = *play;
        member->wanted = true;
        cast_targets(cast, member, overrides, now);
        return true;
    }
    member = cast_add(cast);
    if (!member)
        return false;
    member->region = region;
    member->play = *play;
    member->wanted = true;
    if (!cast_make(cast, member, scene, overrides, now)) {
        cast_release(member);
        return false;
    }
    cast->count++;
    return true;
}
