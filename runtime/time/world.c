#include "runtime/time/world.h"

#include <string.h>

#include "runtime/core/number.h"

const Timetable world_no_timetable = {.until_clock = ROUTINE_NONE};

/* FNV-1a of 64 bits (draft-eastlake-fnv), fed with whole numbers of 8 bytes, the least first. */
typedef struct Meaning {
    uint64_t hash;
} Meaning;

static void mean_byte(Meaning *meaning, unsigned char byte) {
    meaning->hash = (meaning->hash ^ byte) * 0x100000001B3u;
}

static void mean_whole(Meaning *meaning, int64_t value) {
    for (int i = 0; i < 8; i++)
        mean_byte(meaning, (unsigned char)((uint64_t)value >> (8 * i)));
}

static void mean_number(Meaning *meaning, double value) {
    mean_whole(meaning, (int64_t)number_bits(value));
}

/* Its length first, so that two texts cannot run into one another. */
static void mean_text(Meaning *meaning, const char *text) {
    mean_whole(meaning, text ? (int64_t)strlen(text) : -1);
    for (; text && *text; text++)
        mean_byte(meaning, (unsigned char)*text);
}

static void mean_moment(Meaning *meaning, const TimetableMoment *moment) {
    mean_whole(meaning, moment->sun);
    mean_whole(meaning, moment->sun ? (int64_t)moment->event : moment->clock);
    mean_whole(meaning, moment->sun ? moment->offset : 0);
}

static void mean_routine(Meaning *meaning, const Program *program, uint16_t routine) {
    bool named = routine < program->routine_count;
    mean_text(meaning, named ? program->routines[routine].name : NULL);
    mean_number(meaning, named ? program->routines[routine].lasts : 0.0);
}

static void mean_colour(Meaning *meaning, Colour colour) {
    mean_number(meaning, (double)colour.r);
    mean_number(meaning, (double)colour.g);
    mean_number(meaning, (double)colour.b);
}

static void mean_days(Meaning *meaning, const TimetableDays *days) {
    const int64_t wholes[] = {days->weekdays,    days->months,          days->from,
                              days->until,       days->rota_first,      days->rota_last,
                              days->rota_length, days->except_weekdays, days->except_count};
    for (size_t i = 0; i < sizeof wholes / sizeof wholes[0]; i++)
        mean_whole(meaning, wholes[i]);
    for (uint32_t i = 0; i < days->except_count; i++) {
        mean_whole(meaning, days->except[i].first);
        mean_whole(meaning, days->except[i].last);
    }
}

static void mean_play(Meaning *meaning, const World *world, const TimetablePlay *play) {
    const Program *program = world->context.program;
    mean_routine(meaning, program, play->routine);
    mean_whole(meaning, play->setting_count);
    for (uint32_t i = 0; i < play->setting_count; i++) {
        const TimetableSetting *setting = &play->settings[i];
        mean_text(meaning, program->dials[setting->dial].name);
        mean_number(meaning, setting->number);
        mean_colour(meaning, setting->colour);
    }
    bool lamp = play->lamp >= 0 && (uint32_t)play->lamp < world->lamp_count;
    const WorldLamp *on = lamp ? &world->lamps[play->lamp] : NULL;
    mean_text(meaning, on ? on->name : NULL);
    mean_text(meaning, on && play->part >= 0 && (uint32_t)play->part < on->group_count
                           ? on->groups[play->part]
                           : NULL);
    mean_whole(meaning, (int64_t)play->end);
    mean_whole(meaning, play->end == TIMETABLE_FOR ? play->stays : 0);
    if (play->end == TIMETABLE_UNTIL)
        mean_moment(meaning, &play->until);
}

/* The truth: its instructions, with the dials that it reads by name. */
static void mean_condition(Meaning *meaning, const World *world, uint16_t condition) {
    const Program *program = world->context.program;
    const Code *code = &world->context.timetable->conditions[condition];
    for (uint32_t i = 0; i < code->number_constants; i++)
        mean_number(meaning, code->numbers[i]);
    for (uint32_t i = 0; i < code->colour_constants; i++)
        mean_colour(meaning, code->colours[i]);
    for (int section = 0; section < SECTION_COUNT; section++)
        for (uint32_t i = 0; i < code->lengths[section]; i++) {
            const Instruction *one = &code->sections[section][i];
            bool dial = one->op == OP_DIAL || one->op == OP_DIAL_LIGHT;
            const int64_t words[] = {one->op, one->dst, one->a, one->b, one->c, one->d};
            for (size_t word = 0; word < sizeof words / sizeof words[0]; word++)
                mean_whole(meaning, words[word]);
            mean_whole(meaning, dial ? -1 : one->k);
            if (dial)
                mean_text(meaning, program->dials[one->k].name);
        }
    mean_whole(meaning, code->result);
}

static bool has_sun(const TimetableEntry *entry) {
    bool sun = entry->play.end == TIMETABLE_UNTIL && entry->play.until.sun;
    for (uint32_t i = 0; i < entry->moment_count; i++)
        sun = sun || entry->moments[i].sun;
    return sun;
}

static void mean_place(Meaning *meaning, const Timetable *timetable, const TimetableEntry *entry) {
    mean_text(meaning, timetable->place.zone);
    if (!has_sun(entry))
        return;
    mean_number(meaning, timetable->place.latitude);
    mean_number(meaning, timetable->place.longitude);
}

uint64_t world_meaning(const World *world, uint32_t index) {
    const Timetable *timetable = world->context.timetable;
    const TimetableEntry *entry = &timetable->entries[index];
    Meaning meaning = {0xCBF29CE484222325u};
    mean_whole(&meaning, (int64_t)entry->kind);
    if (entry->kind == TIMETABLE_EVENT)
        mean_text(&meaning, world->context.program->events[entry->event].name);
    else if (entry->kind == TIMETABLE_TRUTH)
        mean_condition(&meaning, world, entry->condition);
    if (entry->kind == TIMETABLE_AT || entry->kind == TIMETABLE_BY) {
        mean_whole(&meaning, entry->moment_count);
        for (uint32_t i = 0; i < entry->moment_count; i++)
            mean_moment(&meaning, &entry->moments[i]);
        mean_whole(&meaning, entry->every);
        mean_whole(&meaning, entry->every > 0 ? entry->first : 0);
        mean_whole(&meaning, entry->every > 0 ? entry->last : 0);
        mean_whole(&meaning, entry->bounds.not_before);
        mean_whole(&meaning, entry->bounds.not_after);
        mean_whole(&meaning, entry->bounds.otherwise);
        mean_days(&meaning, &entry->days);
    }
    mean_place(&meaning, timetable, entry);
    mean_play(&meaning, world, &entry->play);
    return meaning.hash;
}
