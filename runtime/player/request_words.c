/* Acts are done, and told in words. */
#include "runtime/player/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/agenda.h"
#include "runtime/library/lamp.h"
#include "runtime/light/lightness.h"

#define SAY(said, ...) snprintf(said, REQUEST_SENTENCE, __VA_ARGS__)

__attribute__((format(printf, 3, 4))) static void add(char *text, size_t size, const char *format,
                                                      ...) {
    size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + used, size - used, format, arguments);
    va_end(arguments);
}

static void add_end(const World *world, const OverrideEnd *end, char *text, size_t size) {
    char words[AGENDA_WORDS];
    switch (end->kind) {
    case OVERRIDE_FOR:
        agenda_duration(end->length, words, sizeof words);
        add(text, size, " for %s", words);
        return;
    case OVERRIDE_UNTIL:
        agenda_moment(&end->until, words, sizeof words);
        add(text, size, " until %s", words);
        return;
    case OVERRIDE_AT:
        agenda_clock(&world->context, end->instant, words, sizeof words);
        add(text, size, " until %s", words);
        return;
    case OVERRIDE_NEXT_ENTRY:
        add(text, size, " until the next entry");
        return;
    }
}

/* Of `by` it is the end that was moved. */
static bool moves_end(const World *world, const Override *override) {
    return override->target.kind == TARGET_ENTRY &&
           world->context.timetable->entries[override->target.entry].kind == TIMETABLE_BY;
}

static void add_target(const World *world, const Override *override, char *text, size_t size) {
    char words[AGENDA_CAUSE];
    if (override->target.kind != TARGET_ENTRY) {
        add(text, size, " of number %llu", (unsigned long long) override->target.number);
        return;
    }
    const TimetableEntry *entry = &world->context.timetable->entries[override->target.entry];
    agenda_why(&world->context, override->target.entry, override->target.start, words,
               sizeof words);
    add(text, size, " %s (%s)", agenda_routine(world->context.program, entry->play.routine), words);
}

void request_value(const DialInfo *info, const TimetableSetting *setting, char *text, size_t size) {
    if (info->type == DIAL_COLOUR)
        snprintf(text, size, "light %.3g, %.3g, %.3g", (double)setting->colour.r,
                 (double)setting->colour.g, (double)setting->colour.b);
    else if (info->type == DIAL_TRUTH)
        snprintf(text, size, "%s", setting->number != 0 ? "true" : "false");
    else if (info->type == DIAL_DURATION)
        agenda_duration((int64_t)setting->number, text, size);
    else
        snprintf(text, size, info->percent ? "%.4g%%" : "%.6g",
                 info->percent ? 100 * setting->number : setting->number);
}

void request_set(const DialInfo *dial, const TimetableSetting *setting, bool cut,
                 char said[REQUEST_SENTENCE]) {
    char value[AGENDA_WORDS] = "set"; /* a colour has no name */
    if (dial->type != DIAL_COLOUR)
        request_value(dial, setting, value, sizeof value);
    SAY(said, "`%.64s` is %s%s", dial->name, value,
        !cut                           ? ""
        : setting->number > dial->from ? ", the most it goes to"
                                       : ", the least it goes to");
}

void request_words(const World *world, const Override *override, char *text, size_t size) {
    char words[AGENDA_WORDS];
    text[0] = '\0';
    switch (override->kind) {
    case OVERRIDE_PLAY:
        add(text, size, "%s", agenda_routine(world->context.program, override->routine));
        add_end(world, &override->end, text, size);
        break;
    case OVERRIDE_LEVEL:
        add(text, size, "level %.4g (%.3g %% of the light)", override->lightness,
            100 * lightness_light(override->lightness));
        add_end(world, &override->end, text, size);
        break;
    case OVERRIDE_SKIP:
        add(text, size, "skip");
        add_target(world, override, text, size);
        break;
    case OVERRIDE_MORE:
        agenda_duration(override->length, words, sizeof words);
        add(text, size, "%s more", words);
        add_target(world, override, text, size);
        break;
    case OVERRIDE_EARLIER:
        agenda_clock(&world->context, override->moment, words, sizeof words);
        add(text, size, "%s %s instead:", moves_end(world, override) ? "by" : "at", words);
        add_target(world, override, text, size);
        break;
    }
    if (override->lamp != TIMETABLE_NOT_SAID && world->lamp_count)
        add(text, size, " on lamp %s", world->lamps[override->lamp].name);
    for (uint32_t i = 0; override->kind == OVERRIDE_PLAY && i < override->setting_count; i++) {
        const TimetableSetting *setting = &override->settings[i];
        const DialInfo *dial = &world->context.program->dials[setting->dial];
        request_value(dial, setting, words, sizeof words);
        add(text, size, "%s %s %s", i ? "," : ", with", dial->name, words);
    }
}

/* Which overrides an act touched: the first in words, and how many others. */
typedef struct Touched {
    uint32_t count;
    char words[REQUEST_SENTENCE - 64];
} Touched;

static void touch(Touched *touched, const World *world, const Override *override) {
    if (touched->count++ == 0)
        request_words(world, override, touched->words, sizeof touched->words);
}

static void say_touched(const Touched *touched, const char *head, char said[REQUEST_SENTENCE]) {
    SAY(said, "%s%s%s", head, *head && touched->count ? ": " : "",
        touched->count ? touched->words : "");
    if (touched->count > 1)
        add(said, REQUEST_SENTENCE, ", and %u more", (unsigned)touched->count - 1);
}

/* Whether it is the same override; acts on several lamps share a number. */
static bool same(const Override *one, const Override *other) {
    return one->kind == other->kind && one->number == other->number && one->lamp == other->lamp &&
           one->target.kind == other->target.kind && one->target.entry == other->target.entry &&
           one->target.start == other->target.start && one->target.number == other->target.number;
}

static bool in_force(const Overrides *overrides, const Override *one) {
    for (uint32_t i = 0; i < overrides->count; i++)
        if (same(&overrides->list[i], one))
            return overrides->list[i].cleared == 0;
    return false;
}

/* Of an act that clears, or takes back an act that added: what is no more in force. Of one that
 * takes back a clearing: what is again. */
static Touched changed_between(const Overrides *before, const Overrides *after,
                               const World *world) {
    Touched touched = {0};
    for (uint32_t i = 0; i < before->count; i++)
        if (!before->list[i].cleared && !in_force(after, &before->list[i]))
            touch(&touched, world, &before->list[i]);
    return touched;
}

static const RunningWhen *running_numbered(const Overrides *overrides, uint64_t number) {
    for (uint32_t i = 0; i < overrides->running_count; i++)
        if (overrides->running[i].number == number)
            return &overrides->running[i];
    return NULL;
}

static void say_cleared(const Overrides *before, const Overrides *after, const World *world,
                        char said[REQUEST_SENTENCE]) {
    Touched touched = changed_between(before, after, world);
    const Timetable *timetable = world->context.timetable;
    for (uint32_t i = 0; i < before->running_count; i++) {
        const RunningWhen *one = &before->running[i], *now = running_numbered(after, one->number);
        if (!one->cleared && (!now || now->cleared) && touched.count++ == 0)
            snprintf(touched.words, sizeof touched.words, "%s, which `when` began",
                     agenda_routine(world->context.program,
                                    timetable->entries[one->entry].play.routine));
    }
    say_touched(&touched, touched.count ? "cleared" : "there is nothing to clear", said);
}

static void say_undone(const Overrides *before, const Overrides *after, const World *world,
                       char said[REQUEST_SENTENCE]) {
    const UndoAct *undone = &before->undo[before->undo_count - 1];
    Touched touched = changed_between(before, after, world);
    if (undone->kind == UNDO_DIAL) {
        SAY(said, "taken back: `%.64s` is as it was before",
            world->context.program->dials[undone->before.setting.dial].name);
    } else if (undone->kind == UNDO_CLEARED) {
        touched = changed_between(after, before, world);
        say_touched(&touched, "taken back, so there is again", said);
    } else {
        say_touched(&touched, "taken back", said);
    }
}

static void say_added(const Overrides *overrides, const World *world, char said[REQUEST_SENTENCE]) {
    Touched touched = {0};
    for (uint32_t i = 0; i < overrides->count; i++)
        if (overrides->list[i].number == overrides->last_number)
            touch(&touched, world, &overrides->list[i]);
    SAY(said, "%s", touched.words);
    if (touched.count > 1)
        add(said, REQUEST_SENTENCE, ", and %u more", (unsigned)touched.count - 1);
    add(said, REQUEST_SENTENCE, " (number %llu)", (unsigned long long)overrides->last_number);
}

static void say_done(const Overrides *before, const Overrides *after, const World *world,
                     const Request *request, char said[REQUEST_SENTENCE]) {
    const Program *program = world->context.program;
    switch (request->act.kind) {
    case ACT_SET:
        request_set(&program->dials[request->act.setting.dial], &request->act.setting, request->cut,
                    said);
        return;
    case ACT_REPORT:
        SAY(said, "`%.64s` was told: %s", program->events[request->act.event].name,
            after->last_number != before->last_number ? "it plays" : "nothing waits for it");
        return;
    case ACT_CLEAR:
        say_cleared(before, after, world, said);
        return;
    case ACT_UNDO:
        say_undone(before, after, world, said);
        return;
    case ACT_PLAY:
    case ACT_LEVEL:
    case ACT_SKIP:
    case ACT_MORE:
    case ACT_EARLIER:
        say_added(after, world, said);
        return;
    }
}

bool request_do(Overrides *overrides, const World *world, const Now *now, const Request *request,
                char said[REQUEST_SENTENCE]) {
    const char *trouble = NULL;
    Overrides *before = memory_allocate(1, sizeof *before);
    if (!before) {
        SAY(said, "out of memory");
        return false;
    }
    *before = *overrides;
    trouble = overrides_act(overrides, world, now, &request->act);
    (void)overrides_prune(before, world, now); /* as undo does first */
    if (trouble)
        SAY(said, "%s", trouble);
    else
        say_done(before, overrides, world, request, said);
    memory_release(before);
    return !trouble;
}

bool request_undoes(const Overrides *overrides, const World *world, const Now *now,
                    char words[REQUEST_SENTENCE]) {
    const Act undo = {.kind = ACT_UNDO, .lamp = TIMETABLE_NOT_SAID};
    words[0] = '\0';
    if (overrides->undo_count == 0)
        return true;
    Overrides *before = memory_allocate(2, sizeof *before);
    if (!before)
        return false;
    Overrides *after = before + 1;
    *before = *after = *overrides;
    (void)overrides_prune(before, world, now);
    if (!overrides_act(after, world, now, &undo)) {
        const UndoAct *undone = &before->undo[before->undo_count - 1];
        bool clears = undone->kind == UNDO_CLEARED;
        Touched touched =
            clears ? changed_between(after, before, world) : changed_between(before, after, world);
        if (undone->kind == UNDO_DIAL)
            SAY(words, "set %.64s",
                world->context.program->dials[undone->before.setting.dial].name);
        else
            say_touched(&touched, clears ? "clear" : "", words);
    }
    memory_release(before);
    return true;
}
