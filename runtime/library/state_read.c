/* The state from JSON that anybody may have written: every value is held against what it may be
 * before it is taken. What is not understood on its own is dropped on its own. */
#include "runtime/library/state_file.h"

#include <jansson.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/library/lamp.h"

/* Years 0 to 9999 and a little; boot-time clocks lie within that too. */
#define READ_INSTANT_MOST INT64_C(300000000000000000)
#define READ_DAY (86400 * INT64_C(1000000))

typedef struct Reader {
    const World *world;
    const uint64_t *meanings; /* of each entry */
    StateSaid *said;
    Overrides *into;
    bool broken; /* something of the present item is no value of its kind */
} Reader;

/* -------- plain values -------- */

static int64_t whole(Reader *reader, const json_t *object, const char *key, int64_t least,
                     int64_t most) {
    const json_t *value = json_object_get(object, key);
    int64_t got = json_is_integer(value) ? json_integer_value(value) : INT64_MIN;
    if (got >= least && got <= most)
        return got;
    reader->broken = true;
    return least;
}

static int64_t instant(Reader *reader, const json_t *object, const char *key) {
    return whole(reader, object, key, -READ_INSTANT_MOST, READ_INSTANT_MOST);
}

static uint64_t number(Reader *reader, const json_t *object, const char *key) {
    return (uint64_t)whole(reader, object, key, 1, INT64_MAX / 2);
}

static bool truth(Reader *reader, const json_t *object, const char *key) {
    const json_t *value = json_object_get(object, key);
    reader->broken = reader->broken || !json_is_boolean(value);
    return json_is_true(value);
}

static const char *text(Reader *reader, const json_t *object, const char *key) {
    const char *value = json_string_value(json_object_get(object, key));
    reader->broken = reader->broken || !value;
    return value ? value : "";
}

static double decimal(Reader *reader, const json_t *value) {
    double got = json_number_value(value);
    if (json_is_number(value) && number_finite(got) == got)
        return got;
    reader->broken = true;
    return 0.0;
}

static Begun begun(Reader *reader, const json_t *object, const char *key) {
    const json_t *value = json_object_get(object, key);
    return (Begun){instant(reader, value, "utc"), instant(reader, value, "boottime"),
                   truth(reader, value, "trusted"), truth(reader, value, "guessed")};
}

/* Which of some words; the first where it is none. */
static int word(Reader *reader, const json_t *object, const char *key, const char *const *words,
                int count) {
    const char *value = text(reader, object, key);
    for (int i = 0; i < count; i++)
        if (strcmp(words[i], value) == 0)
            return i;
    reader->broken = true;
    return 0;
}

/* -------- names -------- */

/* False, and said, where what was read has no place any more. */
static bool lost(Reader *reader, const char *what, const char *kind, const char *name) {
    state_say(reader->said, "%s is dropped: there is no %s %.100s any more", what, kind, name);
    return false;
}

static bool entry_of(Reader *reader, const json_t *object, const char *what, uint32_t *entry) {
    uint64_t meaning = 0;
    const char *digits = text(reader, object, "entry");
    size_t length = strspn(digits, "0123456789abcdef");
    reader->broken = reader->broken || length != 16 || digits[16] != '\0';
    for (size_t i = 0; i < length && i < 16; i++)
        meaning =
            meaning << 4 | (uint64_t)(digits[i] <= '9' ? digits[i] - '0' : digits[i] - 'a' + 10);
    uint32_t count = reader->world->context.timetable->entry_count;
    for (*entry = 0; *entry < count; ++*entry)
        if (reader->meanings[*entry] == meaning)
            return true;
    *entry = 0;
    if (!reader->broken)
        state_say(reader->said, "%s is dropped: its entry was taken out or changed", what);
    return false;
}

static bool lamp_of(Reader *reader, const json_t *object, const char *what, int32_t *lamp) {
    *lamp = TIMETABLE_NOT_SAID;
    if (!json_object_get(object, "lamp"))
        return true;
    const char *name = text(reader, object, "lamp");
    for (uint32_t i = 0; i < reader->world->lamp_count; i++)
        if (strcmp(reader->world->lamps[i].name, name) == 0) {
            *lamp = (int32_t)i;
            return true;
        }
    return lost(reader, what, "lamp", name);
}

static bool routine_of(Reader *reader, const json_t *object, const char *what, uint16_t *routine) {
    const Program *program = reader->world->context.program;
    *routine = ROUTINE_OFF;
    if (json_is_null(json_object_get(object, "routine")))
        return true;
    const char *name = text(reader, object, "routine");
    for (uint16_t i = 0; i < program->routine_count; i++)
        if (strcmp(program->routines[i].name, name) == 0) {
            *routine = i;
            return true;
        }
    return lost(reader, what, "routine", name);
}

static const char *const DIAL_TYPES[] = {"number", "duration", "truth", "colour"};

static bool setting_of(Reader *reader, const json_t *object, const char *what,
                       TimetableSetting *setting) {
    const Program *program = reader->world->context.program;
    const char *name = text(reader, object, "dial");
    DialType type = (DialType)word(reader, object, "type", DIAL_TYPES, 4);
    const json_t *value = json_object_get(object, "value");
    DialValue got = {0};
    if (type != DIAL_COLOUR)
        got.number = decimal(reader, value);
    else
        got.colour = (Colour){(float)decimal(reader, json_array_get(value, 0)),
                              (float)decimal(reader, json_array_get(value, 1)),
                              (float)decimal(reader, json_array_get(value, 2))};
    setting->dial = dial_find(program, name, strlen(name));
    if (setting->dial == program->dial_count || program->dials[setting->dial].type != type) {
        setting->dial = 0;
        return lost(reader, what, "such dial", name);
    }
    got = dial_held(&program->dials[setting->dial], got);
    setting->number = got.number;
    setting->colour = got.colour;
    return true;
}

/* -------- overrides -------- */

static OverrideEnd end_of(Reader *reader, const json_t *object) {
    const json_t *value = json_object_get(object, "end");
    OverrideEnd end = {.kind = OVERRIDE_NEXT_ENTRY};
    if (json_object_get(value, "for")) {
        end.kind = OVERRIDE_FOR;
        end.length = whole(reader, value, "for", 1, LIMIT_OVERRIDE_DAYS * READ_DAY);
    } else if (json_object_get(value, "until")) {
        end.kind = OVERRIDE_UNTIL;
        end.until.clock = (int32_t)whole(reader, value, "until", 0, 86399);
    } else if (json_object_get(value, "at")) {
        end.kind = OVERRIDE_AT;
        end.instant = instant(reader, value, "at");
    } else {
        reader->broken = reader->broken || !truth(reader, value, "next_entry");
    }
    return end;
}

static bool play_of(Reader *reader, const json_t *object, const char *what, Override *one) {
    const json_t *with = json_object_get(object, "with");
    size_t count = json_array_size(with);
    if (!json_is_array(with) || count > LIMIT_OVERRIDE_DIALS) {
        reader->broken = true;
        return false;
    }
    bool known = routine_of(reader, object, what, &one->routine);
    for (size_t i = 0; i < count; i++) {
        TimetableSetting *setting = &one->settings[one->setting_count];
        if (setting_of(reader, json_array_get(with, i), "a dial of a play by hand", setting))
            one->setting_count++;
    }
    return known;
}

static bool target_of(Reader *reader, const json_t *object, const char *what, Override *one) {
    const json_t *value = json_object_get(object, "target");
    one->target = (OverrideTarget){.kind = TARGET_ENTRY};
    if (json_object_get(value, "entry")) {
        one->target.start = instant(reader, value, "start");
        return entry_of(reader, value, what, &one->target.entry);
    }
    bool hand = json_object_get(value, "override") != NULL;
    one->target.kind = hand ? TARGET_HAND : TARGET_WHEN;
    one->target.number = number(reader, value, hand ? "override" : "when");
    reader->broken = reader->broken || one->kind != OVERRIDE_MORE;
    return true;
}

/* Lamps that are no more need no bit. */
static uint64_t over_of(Reader *reader, const json_t *object) {
    const json_t *names = json_object_get(object, "over");
    uint64_t over = 0;
    reader->broken = reader->broken || !json_is_array(names);
    for (size_t place = 0; place < json_array_size(names); place++) {
        const char *name = json_string_value(json_array_get(names, place));
        for (uint32_t i = 0; name && i < reader->world->lamp_count; i++)
            if (strcmp(reader->world->lamps[i].name, name) == 0)
                over |= UINT64_C(1) << i;
    }
    return over;
}

static const char *const KINDS[] = {"play", "level", "skip", "more", "earlier"};
static const char *const KIND_NAMES[] = {"a play by hand", "a level", "a skip", "a `more`",
                                         "an `earlier`"};

/* Numbers rise, so that the list stays in the order of the acts. */
static uint64_t number_after(Reader *reader, const json_t *object, uint64_t least) {
    uint64_t got = number(reader, object, "number");
    reader->broken = reader->broken || got < least || got > reader->into->last_number;
    return got;
}

static uint64_t cleared_of(Reader *reader, const json_t *object) {
    return json_object_get(object, "cleared") ? number(reader, object, "cleared") : 0;
}

static bool override_of(Reader *reader, const json_t *object, Override *one) {
    const Overrides *into = reader->into;
    *one = (Override){.kind = (OverrideKind)word(reader, object, "kind", KINDS, 5)};
    const char *what = KIND_NAMES[one->kind];
    one->routine = ROUTINE_OFF;
    one->number =
        number_after(reader, object, into->count ? into->list[into->count - 1].number : 1);
    one->cleared = cleared_of(reader, object);
    one->begun = begun(reader, object, "begun");
    bool known = lamp_of(reader, object, what, &one->lamp);
    if (one->kind == OVERRIDE_PLAY || one->kind == OVERRIDE_LEVEL) {
        one->end = end_of(reader, object);
        one->seen = instant(reader, object, "seen");
        one->over = over_of(reader, object);
    } else {
        known = target_of(reader, object, what, one) && known;
    }
    if (one->kind == OVERRIDE_PLAY)
        known = play_of(reader, object, what, one) && known;
    if (one->kind == OVERRIDE_LEVEL)
        one->lightness = decimal(reader, json_object_get(object, "lightness"));
    if (one->kind == OVERRIDE_MORE)
        one->length = whole(reader, object, "length", 1, READ_DAY);
    if (one->kind == OVERRIDE_EARLIER)
        one->moment = instant(reader, object, "moment");
    reader->broken = reader->broken || one->lightness < 0.0 || one->lightness > 100.0;
    return known;
}

/* -------- the other lists -------- */

static bool read_override(Reader *reader, const json_t *object) {
    Overrides *into = reader->into;
    Override one;
    bool known = override_of(reader, object, &one);
    if (!known || reader->broken)
        return known;
    if (into->count == LIMIT_OVERRIDES)
        reader->broken = true;
    else
        into->list[into->count++] = one;
    return true;
}

static bool read_running(Reader *reader, const json_t *object) {
    Overrides *into = reader->into;
    const Timetable *timetable = reader->world->context.timetable;
    RunningWhen one = {.cleared = cleared_of(reader, object)};
    one.begun = begun(reader, object, "begun");
    one.renewed = begun(reader, object, "renewed");
    one.number =
        number_after(reader, object,
                     into->running_count ? into->running[into->running_count - 1].number + 1 : 1);
    if (!entry_of(reader, object, "a running `when`", &one.entry))
        return false;
    TimetableKind kind = timetable->entries[one.entry].kind;
    for (uint32_t i = 0; i < into->running_count; i++)
        reader->broken = reader->broken || into->running[i].entry == one.entry;
    if (reader->broken || (kind != TIMETABLE_EVENT && kind != TIMETABLE_TRUTH))
        reader->broken = true;
    else
        into->running[into->running_count++] = one;
    return true;
}

static bool dial_set_of(Reader *reader, const json_t *object, DialSet *set) {
    set->begun = begun(reader, object, "begun");
    return setting_of(reader, object, "a dial set by hand", &set->setting);
}

static bool read_dial(Reader *reader, const json_t *object) {
    Overrides *into = reader->into;
    DialSet set = {.number = number_after(reader, object, 1)};
    if (!dial_set_of(reader, object, &set))
        return false;
    if (reader->broken || overrides_dial(into, set.setting.dial) || into->dial_count == LIMIT_DIALS)
        reader->broken = true;
    else
        into->dials[into->dial_count++] = set;
    return true;
}

static bool read_report(Reader *reader, const json_t *object) {
    Overrides *into = reader->into;
    const Program *program = reader->world->context.program;
    const char *name = text(reader, object, "event");
    EventReport report = {0, begun(reader, object, "begun")};
    while (report.event < program->event_count &&
           strcmp(program->events[report.event].name, name) != 0)
        report.event++;
    if (report.event == program->event_count)
        return lost(reader, "what was told of an event", "event", name);
    for (uint32_t i = 0; i < into->report_count; i++)
        reader->broken = reader->broken || into->reports[i].event == report.event;
    if (!reader->broken && into->report_count < LIMIT_EVENTS)
        into->reports[into->report_count++] = report;
    return true;
}

/* What a truth was once is worth no word when its entry is gone. */
static bool read_truth(Reader *reader, const json_t *object) {
    StateSaid unsaid = {0}, *said = reader->said;
    uint32_t entry;
    reader->said = &unsaid;
    bool is = truth(reader, object, "true"), known = entry_of(reader, object, "", &entry);
    reader->said = said;
    if (known && !reader->broken &&
        reader->world->context.timetable->entries[entry].kind == TIMETABLE_TRUTH)
        reader->into->truths[entry] = is ? TRUTH_TRUE : TRUTH_FALSE;
    return known;
}

static bool read_undo(Reader *reader, const json_t *object) {
    static const char *const UNDO_KINDS[] = {"added", "cleared", "dial"};
    Overrides *into = reader->into;
    UndoAct act = {.kind = (UndoKind)word(reader, object, "kind", UNDO_KINDS, 3)};
    act.number = number_after(reader, object, 1);
    if (act.kind == UNDO_DIAL) {
        const json_t *before = json_object_get(object, "before");
        act.was_set = truth(reader, object, "was_set");
        act.before.number = (uint64_t)whole(reader, before, "number", 0, INT64_MAX / 2);
        if (!dial_set_of(reader, before, &act.before))
            return false;
    }
    if (!reader->broken && into->undo_count < LIMIT_UNDO)
        into->undo[into->undo_count++] = act;
    return true;
}

/* -------- all of it -------- */

typedef bool ReadItem(Reader *reader, const json_t *object);

static void read_list(Reader *reader, const json_t *root, const char *key, size_t most,
                      ReadItem *read) {
    const json_t *array = json_object_get(root, key);
    size_t count = json_array_size(array), odd = json_is_array(array) ? 0 : 1;
    if (count > most) {
        odd += count - most;
        count = most;
    }
    for (size_t i = 0; i < count; i++) {
        uint32_t before = reader->said->count;
        reader->broken = false;
        (void)read(reader, json_array_get(array, i));
        odd += reader->broken && reader->said->count == before;
    }
    if (odd)
        state_say(reader->said, "%zu of the `%s` in the state were not understood and are dropped",
                  odd, key);
}

static StateStatus read_root(Reader *reader, const json_t *root) {
    Overrides *into = reader->into;
    const json_t *version = json_object_get(root, "gloam_state");
    if (!json_is_integer(version)) {
        state_say(reader->said, "the state file is no state of a player");
        return STATE_NONSENSE;
    }
    if (json_integer_value(version) != STATE_VERSION) {
        state_say(reader->said, "the state file is of version %lld, this is for version %d",
                  (long long)json_integer_value(version), STATE_VERSION);
        return STATE_NONSENSE;
    }
    const char *boot = text(reader, root, "boot");
    into->last_number = (uint64_t)whole(reader, root, "last_number", 0, INT64_MAX / 2);
    if (reader->broken || strlen(boot) >= sizeof into->boot) {
        state_say(reader->said, "the state file lacks what it has to have");
        into->last_number = 0;
        return STATE_NONSENSE;
    }
    strcpy(into->boot, boot);
    read_list(reader, root, "overrides", LIMIT_OVERRIDES, read_override);
    read_list(reader, root, "running", LIMIT_ENTRIES, read_running);
    read_list(reader, root, "dials", LIMIT_DIALS, read_dial);
    read_list(reader, root, "reports", LIMIT_EVENTS, read_report);
    read_list(reader, root, "truths", LIMIT_ENTRIES, read_truth);
    read_list(reader, root, "undo", LIMIT_UNDO, read_undo);
    return STATE_FINE;
}

static StateStatus no_memory(StateSaid *said) {
    state_say(said, "memory ran out while the state was read: nothing is overridden");
    return STATE_NO_MEMORY;
}

static uint64_t *all_meanings(const World *world) {
    uint32_t count = world->context.timetable->entry_count;
    uint64_t *meanings = memory_allocate(count, sizeof *meanings);
    for (uint32_t i = 0; meanings && i < count; i++)
        meanings[i] = world_meaning(world, i);
    return meanings;
}

StateStatus state_read(const char *bytes, size_t length, const World *world, Overrides *overrides,
                       StateSaid *said) {
    memset(overrides, 0, sizeof *overrides);
    if (length > LIMIT_STATE_BYTES) {
        state_say(said, "the state is larger than %d bytes", LIMIT_STATE_BYTES);
        return STATE_NONSENSE;
    }
    bool refused;
    json_error_t error;
    json_t *root = state_json_parse(bytes, length, &error, &refused);
    if (refused)
        return no_memory(said);
    if (!root) {
        state_say(said, "the state file is not understood: line %d: %.150s", error.line,
                  error.text);
        return STATE_NONSENSE;
    }
    uint64_t *meanings = all_meanings(world);
    Reader reader = {world, meanings, said, overrides, false};
    StateStatus status = meanings ? read_root(&reader, root) : no_memory(said);
    json_decref(root);
    memory_release(meanings);
    return status;
}
