/* What an entry plays, on which lamp, with which dials and until when; and on which days. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "lang/checks.h"

/* -------- lamps -------- */

static const LampInfo *find_lamp(const Checks *checks, const char *name) {
    for (uint32_t i = 0; i < checks->lamp_count; i++)
        if (strcmp(checks->lamps[i].name, name) == 0)
            return &checks->lamps[i];
    return NULL;
}

static void part_check(Checks *checks, const LampInfo *lamp, const Node *part) {
    const char *names[LIMIT_GROUPS];
    uint32_t count = 0;
    for (uint32_t i = 0; i < lamp->group_count; i++) {
        bool same = strcmp(lamp->groups[i].name, part->text) == 0;
        if (same && lamp->groups[i].is_part)
            return;
        if (same) {
            diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "group-as-part", part->span,
                               SPAN_NONE, NULL,
                               "`%s` is a group, for `within(%s)`; a `part` can play on its own",
                               part->text, part->text);
            return;
        }
        if (lamp->groups[i].is_part)
            names[count++] = lamp->groups[i].name;
    }
    const char *nearest = diagnostics_nearest(part->text, names, count);
    diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "unknown-name", part->span, SPAN_NONE,
                       nearest, "lamp `%s` has no part `%s`", lamp->name, part->text);
}

void on_lamp_check(Checks *checks, const Node *on_lamp) {
    if (!on_lamp || on_lamp->kind != NODE_ON_LAMP || !on_lamp->a || !on_lamp->a->text)
        return;
    const LampInfo *lamp = find_lamp(checks, on_lamp->a->text);
    if (!lamp)
        checks_report_unknown(checks->program, checks_main(checks), on_lamp->a, "lamp",
                              1u << SYMBOL_LAMP);
    else if (on_lamp->b && on_lamp->b->text)
        part_check(checks, lamp, on_lamp->b);
}

/* -------- dials -------- */

static Type type_of(const DialInfo *dial) {
    static const Type types[] = {[DIAL_NUMBER] = TYPE_NUMBER,
                                 [DIAL_DURATION] = TYPE_DURATION,
                                 [DIAL_TRUTH] = TYPE_TRUTH,
                                 [DIAL_COLOUR] = TYPE_COLOUR};
    return types[dial->type];
}

static void print_value(char *text, size_t size, const DialInfo *dial, double value) {
    if (dial->type == DIAL_DURATION)
        snprintf(text, size, "%.9gs", value / 1e6);
    else if (dial->percent)
        snprintf(text, size, "%.9g%%", value * 100);
    else
        snprintf(text, size, "%.9g", value);
}

static void setting_check(Checks *checks, const Node *setting) {
    const Symbol *symbol = checks_symbol(checks_main(checks), setting->a);
    if (!symbol) {
        checks_report_unknown(checks->program, checks_main(checks), setting->a, "dial",
                              1u << SYMBOL_DIAL);
        return;
    }
    if (symbol->kind != SYMBOL_DIAL) {
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "no-dial", setting->a->span,
                           SPAN_NONE, NULL, "`%s` is no dial: `with` sets dials", symbol->name);
        return;
    }
    const DialInfo *dial = &checks->program->dials[symbol->index];
    FixedValue value = expand_fixed(checks->program, checks_main(checks), setting->b);
    if (value.type == TYPE_NONE)
        return;
    if (value.type != type_of(dial)) {
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "setting-type", setting->b->span,
                           setting->a->span, NULL, "the dial `%s` is %s, this is %s", symbol->name,
                           type_name(type_of(dial)), type_name(value.type));
        return;
    }
    if (!dial->ranged || (value.number >= dial->from && value.number <= dial->to))
        return;
    char from[32], to[32];
    print_value(from, sizeof from, dial, dial->from);
    print_value(to, sizeof to, dial, dial->to);
    diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "out-of-range", setting->b->span,
                       setting->a->span, NULL, "the dial `%s` goes from %s to %s", symbol->name,
                       from, to);
}

static void settings_check(Checks *checks, const Node *settings) {
    uint32_t count = 0;
    for (const Node *setting = settings; setting; setting = setting->next) {
        if (setting->kind != NODE_SETTING || !setting->a || !setting->b)
            continue;
        if (++count > LIMIT_DIALS) {
            diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "too-many", setting->span,
                               SPAN_NONE, NULL, "`with` sets at most %d dials", LIMIT_DIALS);
            return;
        }
        const Symbol *symbol = checks_symbol(checks_main(checks), setting->a);
        const Node *other = settings;
        while (other != setting &&
               !(symbol && other->a && checks_symbol(checks_main(checks), other->a) == symbol))
            other = other->next;
        if (other != setting)
            checks_report_again(checks_sink(checks), setting->span, other->span, symbol->name);
        else
            setting_check(checks, setting);
    }
}

/* -------- play -------- */

PlayFacts play_check(Checks *checks, const Node *play) {
    PlayFacts facts = {0};
    bool off = false;
    double fading;
    ExpandProgram *program = checks->program;
    const Symbol *routine =
        play->a ? checks_routine(program, checks_main(checks), play->a, &off) : NULL;
    facts.known = off || routine;
    if (routine) {
        facts.lasts = program->routines[routine->index].lasts;
        /* `lasts` is there, and wrong: that was said */
        facts.known = facts.lasts > 0 || !routine->node->b;
    }
    settings_check(checks, play->b);
    on_lamp_check(checks, play->c);
    const Node *end = play->d;
    facts.ends = end != NULL;
    if (end && end->kind == NODE_FOR && end->a)
        checks_duration(program, checks_main(checks), end->a, "for", true, &facts.stays);
    else if (end && end->kind == NODE_UNTIL && end->a)
        moment_check(checks, end->a);
    if (play->e)
        checks_duration(program, checks_main(checks), play->e, "fading", false, &fading);
    return facts;
}

/* -------- days -------- */

static void range_check(Checks *checks, const Node *range) {
    const Node *first = range->a, *last = range->b;
    if (range->kind != NODE_RANGE || !first)
        return;
    if (!last)
        return;
    if (first->kind == NODE_WEEKDAY && (first->number > 6 || last->number > 6))
        checks_error(
            checks, "range-type", range->span, NULL,
            "`weekdays` is mon..fri and `weekends` is sat, sun: neither begins or ends a range");
    if (first->kind == NODE_DATE && first->number > last->number)
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "range-empty", last->span,
                           first->span, NULL, "this range ends before it begins");
}

static void rota_check(Checks *checks, const Node *rota, const Node *from) {
    const Node *first = rota->a, *last = first ? first->next : NULL, *of = last ? last->next : NULL;
    if (!of)
        return;
    bool fine = first->number >= 1 && first->number <= last->number && last->number <= of->number &&
                of->number <= 10000 && first->number == floor(first->number) &&
                last->number == floor(last->number) && of->number == floor(of->number);
    if (!fine)
        checks_error(checks, "rota", rota->span, "on days 1..4 of 8 from 2026-03-02",
                     "a rota counts whole days from 1, first to last, of at most 10000");
    if (!from)
        checks_error(checks, "rota-without-start", rota->span, NULL,
                     "a rota needs the date of its day 1: `from 2026-03-02`");
}

void days_check(Checks *checks, const Node *clauses) {
    const Node *said[DAYS_EXCEPT + 1] = {NULL};
    for (const Node *clause = clauses; clause; clause = clause->next) {
        if (clause->kind != NODE_DAYS || clause->word > DAYS_EXCEPT)
            continue;
        if (said[clause->word]) /* the parser tells of a second one */
            continue;
        said[clause->word] = clause;
        for (const Node *part = clause->a; part; part = part->next)
            range_check(checks, part);
    }
    const Node *from = said[DAYS_FROM], *until = said[DAYS_UNTIL];
    if (said[DAYS_ROTA])
        rota_check(checks, said[DAYS_ROTA], from);
    if (from && until && from->a && until->a && from->a->number > until->a->number)
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "range-empty", until->span,
                           from->span, NULL, "this ends before it begins");
}

/* -------- the run-up of `by` -------- */

/* So many moments of an entry are looked at. */
enum { MOMENTS_LOOKED_AT = 16 };

/* Days of the week as bits; false where days depend on more than that. */
static bool week_of(const Node *entry, unsigned *week) {
    *week = 0x7F;
    for (const Node *clause = entry->c; clause; clause = clause->next) {
        if (clause->word == DAYS_EXCEPT)
            continue;
        if (clause->word != DAYS_WEEKDAYS)
            return false;
        *week = 0;
        for (const Node *range = clause->a; range; range = range->next) {
            if (!range->a)
                return false;
            unsigned first = (unsigned)range->a->number;
            unsigned last = range->b ? (unsigned)range->b->number : first;
            if (first > 6 || last > 6) {
                *week |= first == 7 ? 0x1F : 0x60;
                continue;
            }
            for (unsigned day = first;; day = (day + 1) % 7) {
                *week |= 1u << day;
                if (day == last)
                    break;
            }
        }
    }
    return true;
}

static bool same_lamp(const Node *play, const Node *other) {
    const Node *a = play->c, *b = other->c;
    if (!b || !b->a) /* for every lamp */
        return true;
    if (!a || !a->a)
        return !b->b;
    bool lamp = a->a->text && b->a->text && strcmp(a->a->text, b->a->text) == 0;
    if (!lamp || !b->b)
        return lamp;
    return a->b && a->b->text && b->b->text && strcmp(a->b->text, b->b->text) == 0;
}

/* True where `at` begins after `by` began and before it is over; *start is that of `by`. */
static bool meets(const Node *by, double lasts, const Node *at, double *start) {
    unsigned by_week, at_week;
    int by_count = 0;
    if (!week_of(by, &by_week) || !week_of(at, &at_week))
        return false;
    for (const Node *b = by->a; b && by_count < MOMENTS_LOOKED_AT; b = b->next, by_count++) {
        if (b->kind != NODE_MOMENT || b->word != MOMENT_CLOCK)
            continue;
        int at_count = 0;
        for (const Node *a = at->a; a && at_count < MOMENTS_LOOKED_AT; a = a->next, at_count++) {
            if (a->kind != NODE_MOMENT || a->word != MOMENT_CLOCK)
                continue;
            bool day_before = a->number >= b->number;
            double ahead = (b->number - a->number + (day_before ? 86400 : 0)) * 1e6;
            unsigned week = day_before ? (at_week << 1 | at_week >> 6) & 0x7F : at_week;
            if (ahead > 0 && ahead < lasts && week & by_week) {
                *start = b->number - lasts / 1e6;
                return true;
            }
        }
    }
    return false;
}

static double length_of(Checks *checks, const Node *play) {
    const Symbol *routine = play->a ? checks_symbol(checks_main(checks), play->a) : NULL;
    bool known = routine && routine->kind == SYMBOL_ROUTINE;
    return known ? checks->program->routines[routine->index].lasts : 0;
}

static bool is_playing(const Node *item, unsigned word) {
    return item->kind == NODE_ENTRY && item->word == word && item->d && item->d->kind == NODE_PLAY;
}

void run_up_check(Checks *checks) {
    const Node *items = checks_main(checks)->tree.items;
    for (const Node *by = items; by; by = by->next) {
        double lasts = is_playing(by, ENTRY_BY) ? length_of(checks, by->d) : 0;
        if (lasts <= 0 || lasts >= 86400e6)
            continue;
        for (const Node *at = items; at; at = at->next) {
            double start;
            if (!is_playing(at, ENTRY_AT) || !same_lamp(at->d, by->d) ||
                !meets(by, lasts, at, &start))
                continue;
            int minutes = (int)floor((start < 0 ? start + 86400 : start) / 60);
            diagnostics_report(
                checks_sink(checks), SEVERITY_WARNING, "in-run-up", at->span, SPAN_NONE, NULL,
                "this moment comes after `by` of line %u has begun (%02d:%02d) and "
                "before it is over: this plays instead",
                diagnostics_line(checks_sink(checks), by->span), minutes / 60, minutes % 60);
        }
    }
}
