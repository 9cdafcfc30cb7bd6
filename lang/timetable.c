/* From the tree of a timetable in which nothing is wrong to the data that plays it. Every check was
 * made before (timetable_check.c, play_check.c): values are there, ranges hold. */
#include "lang/timetable.h"

#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/core/memory.h"

/* What is being built. Texts and arrays are in the arena; what codes own is not. */
typedef struct Builder {
    Checks *checks;
    Timetable *table;
    TimetableEntry *entries;
    TimetableCeiling *ceilings;
    Code *conditions;
} Builder;

static Arena *arena_of(const Builder *builder) {
    return builder->checks->program->modules->arena;
}

/* Zeroed; NULL where there are none, or without memory. */
static void *take(const Builder *builder, size_t count, size_t size) {
    void *block = count ? arena_allocate(arena_of(builder), count * size) : NULL;
    return arena_failed(arena_of(builder)) ? NULL : block;
}

static uint32_t length_of(const Node *list) {
    uint32_t count = 0;
    for (; list; list = list->next)
        count++;
    return count;
}

static double fixed(const Builder *builder, const Node *expression) {
    return expand_fixed(builder->checks->program, checks_main(builder->checks), expression).number;
}

/* -------- moments -------- */

static TimetableMoment moment(const Node *node) {
    static const char *const events[SUN_EVENT_COUNT] = {
        [SUN_SUNRISE] = "sunrise",
        [SUN_SUNSET] = "sunset",
        [SUN_CIVIL_DAWN] = "civil dawn",
        [SUN_CIVIL_DUSK] = "civil dusk",
        [SUN_NAUTICAL_DAWN] = "nautical dawn",
        [SUN_NAUTICAL_DUSK] = "nautical dusk",
        [SUN_ASTRONOMICAL_DAWN] = "astronomical dawn",
        [SUN_ASTRONOMICAL_DUSK] = "astronomical dusk"};
    if (node->word == MOMENT_CLOCK)
        return (TimetableMoment){.clock = (int32_t)node->number};
    int event = 0;
    while (event < SUN_EVENT_COUNT - 1 && strcmp(events[event], node->text) != 0)
        event++;
    return (TimetableMoment){
        .sun = true, .event = (SunEvent)event, .offset = (int64_t)node->number};
}

static void moments(const Builder *builder, const Node *list, TimetableEntry *entry) {
    if (list->kind == NODE_MOMENT_RANGE) {
        entry->first = (int32_t)list->a->number;
        entry->last = (int32_t)list->b->number;
        entry->every = (int64_t)(list->c->number / 1e6);
        return;
    }
    uint32_t count = length_of(list);
    TimetableMoment *array = take(builder, count, sizeof *array);
    if (!array)
        return;
    entry->moment_count = count;
    entry->moments = array;
    for (const Node *node = list; node; node = node->next)
        *array++ = moment(node);
}

static TimetableBounds bounds(const Node *list) {
    int32_t said[] = {[BOUND_NOT_BEFORE] = TIMETABLE_NOT_SAID,
                      [BOUND_NOT_AFTER] = TIMETABLE_NOT_SAID,
                      [BOUND_ELSE] = TIMETABLE_NOT_SAID};
    for (const Node *bound = list; bound; bound = bound->next)
        said[bound->word] = (int32_t)bound->a->number;
    return (TimetableBounds){said[BOUND_NOT_BEFORE], said[BOUND_NOT_AFTER], said[BOUND_ELSE]};
}

/* -------- days -------- */

static int32_t date(const Node *node) {
    int32_t number = (int32_t)node->number;
    return days_from_civil((CivilDate){number / 10000, number / 100 % 100, number % 100});
}

/* Bits first..last of a circle of `count`. */
static uint16_t circle(unsigned first, unsigned last, unsigned count) {
    unsigned bits = 1u << last;
    for (unsigned at = first; at != last; at = (at + 1) % count)
        bits |= 1u << at;
    return (uint16_t)bits;
}

static uint16_t weekdays(const Node *range) {
    unsigned first = (unsigned)range->a->number;
    unsigned last = range->b ? (unsigned)range->b->number : first;
    if (first == 7) /* weekdays */
        return circle(0, 4, 7);
    if (first == 8) /* weekends */
        return circle(5, 6, 7);
    return circle(first, last, 7);
}

static uint16_t months(const Node *range) {
    unsigned first = (unsigned)range->a->number;
    unsigned last = range->b ? (unsigned)range->b->number : first;
    return circle(first - 1, last - 1, 12);
}

static void except(const Builder *builder, const Node *list, TimetableDays *days) {
    uint32_t count = 0;
    for (const Node *range = list; range; range = range->next)
        if (range->a->kind == NODE_DATE)
            count++;
        else
            days->except_weekdays |= weekdays(range);
    DateRange *array = take(builder, count, sizeof *array);
    if (!array)
        return;
    days->except_count = count;
    days->except = array;
    for (const Node *range = list; range; range = range->next)
        if (range->a->kind == NODE_DATE)
            *array++ = (DateRange){date(range->a), date(range->b ? range->b : range->a)};
}

static void clause_days(const Builder *builder, const Node *clause, TimetableDays *days) {
    const Node *list = clause->a;
    switch (clause->word) {
    case DAYS_WEEKDAYS:
        for (days->weekdays = 0; list; list = list->next)
            days->weekdays |= weekdays(list);
        break;
    case DAYS_ROTA:
        days->rota_first = (int32_t)list->number;
        days->rota_last = (int32_t)list->next->number;
        days->rota_length = (int32_t)list->next->next->number;
        break;
    case DAYS_MONTHS:
        for (days->months = 0; list; list = list->next)
            days->months |= months(list);
        break;
    case DAYS_FROM:
        days->from = date(list);
        break;
    case DAYS_UNTIL:
        days->until = date(list);
        break;
    default:
        except(builder, list, days);
        break;
    }
}

static TimetableDays days_of(const Builder *builder, const Node *clauses) {
    TimetableDays days = {.weekdays = TIMETABLE_ALL_WEEKDAYS,
                          .months = TIMETABLE_ALL_MONTHS,
                          .from = INT32_MIN,
                          .until = INT32_MAX};
    for (const Node *clause = clauses; clause; clause = clause->next)
        clause_days(builder, clause, &days);
    return days;
}

/* -------- what is played -------- */

static void on_lamp(const Builder *builder, const Node *node, int32_t *lamp, int32_t *part) {
    *lamp = *part = TIMETABLE_NOT_SAID;
    if (!node)
        return;
    const Checks *checks = builder->checks;
    *lamp = 0;
    while (strcmp(checks->lamps[*lamp].name, node->a->text) != 0)
        ++*lamp;
    if (!node->b)
        return;
    *part = 0;
    while (strcmp(checks->lamps[*lamp].groups[*part].name, node->b->text) != 0)
        ++*part;
}

static void settings(const Builder *builder, const Node *list, TimetablePlay *play) {
    ExpandProgram *program = builder->checks->program;
    Module *module = checks_main(builder->checks);
    uint32_t count = length_of(list);
    TimetableSetting *array = take(builder, count, sizeof *array);
    if (!array)
        return;
    play->setting_count = count;
    play->settings = array;
    for (const Node *setting = list; setting; setting = setting->next, array++) {
        FixedValue value = expand_fixed(program, module, setting->b);
        *array = (TimetableSetting){.dial = checks_symbol(module, setting->a)->index,
                                    .number = value.number,
                                    .colour = value.colour};
    }
}

static uint16_t routine_of(const Builder *builder, const Node *name) {
    const Symbol *symbol = checks_symbol(checks_main(builder->checks), name);
    return symbol ? symbol->index : ROUTINE_OFF;
}

static TimetablePlay play_of(const Builder *builder, const Node *node) {
    TimetablePlay play = {.routine = routine_of(builder, node->a), .fading = TIMETABLE_NOT_SAID};
    settings(builder, node->b, &play);
    on_lamp(builder, node->c, &play.lamp, &play.part);
    const Node *end = node->d;
    if (end && end->kind == NODE_FOR) {
        play.end = TIMETABLE_FOR;
        play.stays = (int64_t)fixed(builder, end->a);
    } else if (end) {
        play.end = TIMETABLE_UNTIL;
        play.until = moment(end->a);
    }
    if (node->e)
        play.fading = (int64_t)fixed(builder, node->e);
    return play;
}

/* -------- entries -------- */

static void position(const Builder *builder, const Node *item, uint32_t *line, uint32_t *column) {
    diagnostics_position(checks_sink(builder->checks), item->span.file, item->span.begin, line,
                         column);
}

/* `when`: an event where the name of one stands alone, else a truth. */
static void trigger(Builder *builder, const Node *expression, TimetableEntry *entry) {
    Module *module = checks_main(builder->checks);
    const Symbol *symbol = checks_symbol(module, expression);
    if (symbol && symbol->kind == SYMBOL_EVENT) {
        entry->kind = TIMETABLE_EVENT;
        entry->event = symbol->index;
        return;
    }
    entry->kind = TIMETABLE_TRUTH;
    entry->condition = builder->table->condition_count++;
    expand_condition(builder->checks->program, module, expression,
                     &builder->conditions[entry->condition]);
}

static void add_entry(Builder *builder, const Node *item) {
    TimetableEntry *entry = &builder->entries[builder->table->entry_count++];
    position(builder, item, &entry->line, &entry->column);
    entry->bounds = bounds(item->b);
    entry->days = days_of(builder, item->c);
    if (item->kind == NODE_WHEN) {
        trigger(builder, item->a, entry);
    } else {
        entry->kind = item->word == ENTRY_BY ? TIMETABLE_BY : TIMETABLE_AT;
        moments(builder, item->a, entry);
    }
    entry->play = play_of(builder, item->d);
}

static void add_ceiling(Builder *builder, const Node *item) {
    TimetableCeiling *ceiling = &builder->ceilings[builder->table->ceiling_count++];
    position(builder, item, &ceiling->line, &ceiling->column);
    ceiling->from = moment(item->a);
    ceiling->to = moment(item->b);
    ceiling->days = days_of(builder, item->c);
    ceiling->level = fixed(builder, item->d);
    on_lamp(builder, item->e, &ceiling->lamp, &ceiling->part);
}

/* -------- all -------- */

/* Arrays for what the text has of each kind. False: out of memory, or there is no timetable. */
static bool make_room(Builder *builder, const Node *items) {
    uint32_t entries = 0, ceilings = 0, conditions = 0, others = 0;
    for (const Node *item = items; item; item = item->next) {
        entries += item->kind == NODE_ENTRY || item->kind == NODE_WHEN;
        conditions += item->kind == NODE_WHEN;
        ceilings += item->kind == NODE_BETWEEN;
        others += item->kind == NODE_UNTIL_CLOCK;
    }
    builder->entries = take(builder, entries, sizeof *builder->entries);
    builder->ceilings = take(builder, ceilings, sizeof *builder->ceilings);
    builder->conditions = take(builder, conditions, sizeof *builder->conditions);
    builder->table->entries = builder->entries;
    builder->table->ceilings = builder->ceilings;
    builder->table->conditions = builder->conditions;
    return entries + ceilings + others > 0 && !arena_failed(arena_of(builder));
}

Timetable *timetable_build(Checks *checks) {
    const Node *items = checks_main(checks)->tree.items;
    Builder builder = {.checks = checks};
    Timetable *table = builder.table = take(&builder, 1, sizeof *table);
    if (!table || !make_room(&builder, items))
        return NULL;
    /* the same expressions as the checks expanded: they fit, and are not counted twice */
    checks->program->expansions = 0;
    table->until_clock = ROUTINE_NONE;
    const PlaceInfo *place = &checks->place;
    table->place = (TimetablePlace){place->said, place->latitude, place->longitude, place->zone};
    for (const Node *item = items; item; item = item->next)
        if (item->kind == NODE_ENTRY || item->kind == NODE_WHEN)
            add_entry(&builder, item);
        else if (item->kind == NODE_BETWEEN)
            add_ceiling(&builder, item);
        else if (item->kind == NODE_UNTIL_CLOCK)
            table->until_clock = routine_of(&builder, item->a);
    return table;
}

void timetable_release(Timetable *table) {
    for (uint32_t i = 0; table && i < table->condition_count; i++)
        program_free_code((Code *)&table->conditions[i]);
}
