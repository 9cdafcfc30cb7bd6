/* The state as JSON. Whatever fails is noticed at the end: json_object_set_new and its like give
 * back an error for a value that could not be made. */
#include "runtime/library/state_file.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"

typedef struct Writer {
    const World *world;
    bool failed;
} Writer;

static void put(Writer *writer, json_t *object, const char *key, json_t *value) {
    if (json_object_set_new(object, key, value) != 0)
        writer->failed = true;
}

static void append(Writer *writer, json_t *array, json_t *value) {
    if (json_array_append_new(array, value) != 0)
        writer->failed = true;
}

static json_t *whole(int64_t value) {
    return json_integer((json_int_t)value);
}

/* Entries by their meaning: 64 bits do not fit into the numbers of every reader of JSON. */
static json_t *meaning_value(const Writer *writer, uint32_t entry) {
    char text[17];
    snprintf(text, sizeof text, "%016llx", (unsigned long long)world_meaning(writer->world, entry));
    return json_string(text);
}

static json_t *begun_value(Writer *writer, const Begun *begun) {
    json_t *object = json_object();
    put(writer, object, "utc", whole(begun->utc));
    put(writer, object, "boottime", whole(begun->boottime));
    put(writer, object, "trusted", json_boolean(begun->trusted));
    put(writer, object, "guessed", json_boolean(begun->guessed));
    return object;
}

static json_t *colour_value(Writer *writer, Colour colour) {
    json_t *array = json_array();
    append(writer, array, json_real((double)colour.r));
    append(writer, array, json_real((double)colour.g));
    append(writer, array, json_real((double)colour.b));
    return array;
}

static const char *const DIAL_TYPES[] = {"number", "duration", "truth", "colour"};

static json_t *setting_value(Writer *writer, const TimetableSetting *setting) {
    const DialInfo *dial = &writer->world->context.program->dials[setting->dial];
    json_t *object = json_object();
    put(writer, object, "dial", json_string(dial->name));
    put(writer, object, "type", json_string(DIAL_TYPES[dial->type]));
    put(writer, object, "value",
        dial->type == DIAL_COLOUR ? colour_value(writer, setting->colour)
                                  : json_real(setting->number));
    return object;
}

static json_t *end_value(Writer *writer, const OverrideEnd *end) {
    json_t *object = json_object();
    switch (end->kind) {
    case OVERRIDE_FOR:
        put(writer, object, "for", whole(end->length));
        break;
    case OVERRIDE_UNTIL:
        put(writer, object, "until", whole(end->until.clock));
        break;
    case OVERRIDE_AT:
        put(writer, object, "at", whole(end->instant));
        break;
    default:
        put(writer, object, "next_entry", json_true());
        break;
    }
    return object;
}

static json_t *target_value(Writer *writer, const OverrideTarget *target) {
    json_t *object = json_object();
    if (target->kind == TARGET_ENTRY) {
        put(writer, object, "entry", meaning_value(writer, target->entry));
        put(writer, object, "start", whole(target->start));
    } else {
        put(writer, object, target->kind == TARGET_HAND ? "override" : "when",
            whole((int64_t)target->number));
    }
    return object;
}

static const char *const KINDS[] = {"play", "level", "skip", "more", "earlier"};

static void put_play(Writer *writer, json_t *object, const Override *one) {
    const Program *program = writer->world->context.program;
    bool off = one->routine >= program->routine_count;
    put(writer, object, "routine",
        off ? json_null() : json_string(program->routines[one->routine].name));
    json_t *with = json_array();
    for (uint32_t i = 0; i < one->setting_count; i++)
        append(writer, with, setting_value(writer, &one->settings[i]));
    put(writer, object, "with", with);
}

/* Lamps by name, and only those there are. */
static json_t *over_value(Writer *writer, uint64_t over) {
    json_t *array = json_array();
    for (uint32_t i = 0; i < writer->world->lamp_count; i++)
        if (over >> i & 1)
            append(writer, array, json_string(writer->world->lamps[i].name));
    return array;
}

static json_t *override_value(Writer *writer, const Override *one) {
    json_t *object = json_object();
    put(writer, object, "kind", json_string(KINDS[one->kind]));
    put(writer, object, "number", whole((int64_t)one->number));
    if (one->cleared)
        put(writer, object, "cleared", whole((int64_t)one->cleared));
    if (one->lamp != TIMETABLE_NOT_SAID)
        put(writer, object, "lamp", json_string(writer->world->lamps[one->lamp].name));
    put(writer, object, "begun", begun_value(writer, &one->begun));
    if (one->kind == OVERRIDE_PLAY)
        put_play(writer, object, one);
    if (one->kind == OVERRIDE_LEVEL)
        put(writer, object, "lightness", json_real(one->lightness));
    if (one->kind == OVERRIDE_PLAY || one->kind == OVERRIDE_LEVEL) {
        put(writer, object, "end", end_value(writer, &one->end));
        put(writer, object, "seen", whole(one->seen));
        put(writer, object, "over", over_value(writer, one->over));
        return object;
    }
    put(writer, object, "target", target_value(writer, &one->target));
    if (one->kind == OVERRIDE_MORE)
        put(writer, object, "length", whole(one->length));
    if (one->kind == OVERRIDE_EARLIER)
        put(writer, object, "moment", whole(one->moment));
    return object;
}

static json_t *running_value(Writer *writer, const RunningWhen *one) {
    json_t *object = json_object();
    put(writer, object, "entry", meaning_value(writer, one->entry));
    put(writer, object, "number", whole((int64_t)one->number));
    if (one->cleared)
        put(writer, object, "cleared", whole((int64_t)one->cleared));
    put(writer, object, "begun", begun_value(writer, &one->begun));
    put(writer, object, "renewed", begun_value(writer, &one->renewed));
    return object;
}

static json_t *dial_value(Writer *writer, const DialSet *set) {
    json_t *object = setting_value(writer, &set->setting);
    put(writer, object, "number", whole((int64_t)set->number));
    put(writer, object, "begun", begun_value(writer, &set->begun));
    return object;
}

static json_t *report_value(Writer *writer, const EventReport *report) {
    json_t *object = json_object();
    put(writer, object, "event",
        json_string(writer->world->context.program->events[report->event].name));
    put(writer, object, "begun", begun_value(writer, &report->begun));
    return object;
}

static json_t *undo_value(Writer *writer, const UndoAct *act) {
    static const char *const UNDO_KINDS[] = {"added", "cleared", "dial"};
    json_t *object = json_object();
    put(writer, object, "kind", json_string(UNDO_KINDS[act->kind]));
    put(writer, object, "number", whole((int64_t)act->number));
    if (act->kind == UNDO_DIAL) {
        put(writer, object, "was_set", json_boolean(act->was_set));
        put(writer, object, "before", dial_value(writer, &act->before));
    }
    return object;
}

static json_t *truths_value(Writer *writer, const Overrides *overrides) {
    json_t *array = json_array();
    const Timetable *timetable = writer->world->context.timetable;
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        if (overrides->truths[i] == TRUTH_UNKNOWN)
            continue;
        json_t *object = json_object();
        put(writer, object, "entry", meaning_value(writer, i));
        put(writer, object, "true", json_boolean(overrides->truths[i] == TRUTH_TRUE));
        append(writer, array, object);
    }
    return array;
}

static json_t *state_value(Writer *writer, const Overrides *overrides) {
    json_t *list = json_array(), *running = json_array(), *dials = json_array();
    json_t *reports = json_array(), *undo = json_array(), *root = json_object();
    for (uint32_t i = 0; i < overrides->count; i++)
        append(writer, list, override_value(writer, &overrides->list[i]));
    for (uint32_t i = 0; i < overrides->running_count; i++)
        append(writer, running, running_value(writer, &overrides->running[i]));
    for (uint32_t i = 0; i < overrides->dial_count; i++)
        append(writer, dials, dial_value(writer, &overrides->dials[i]));
    for (uint32_t i = 0; i < overrides->report_count; i++)
        append(writer, reports, report_value(writer, &overrides->reports[i]));
    for (uint32_t i = 0; i < overrides->undo_count; i++)
        append(writer, undo, undo_value(writer, &overrides->undo[i]));
    put(writer, root, "gloam_state", whole(STATE_VERSION));
    put(writer, root, "boot", json_string(overrides->boot));
    put(writer, root, "last_number", whole((int64_t)overrides->last_number));
    put(writer, root, "overrides", list);
    put(writer, root, "running", running);
    put(writer, root, "dials", dials);
    put(writer, root, "reports", reports);
    put(writer, root, "truths", truths_value(writer, overrides));
    put(writer, root, "undo", undo);
    return root;
}

char *state_write(const Overrides *overrides, const World *world, size_t *length) {
    Writer writer = {world, false};
    state_json_begin();
    json_t *root = state_value(&writer, overrides);
    char *text = writer.failed ? NULL : json_dumps(root, JSON_COMPACT);
    json_decref(root);
    if (!text)
        return NULL;
    *length = strlen(text);
    char *line = memory_resize(text, *length + 2, 1);
    if (!line) {
        memory_release(text);
        return NULL;
    }
    line[(*length)++] = '\n';
    line[*length] = '\0';
    return line;
}
