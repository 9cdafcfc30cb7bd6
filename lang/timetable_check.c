/* The timetable and the place of the main file: all that can be told without a clock. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "lang/builtins.h"
#include "lang/checks.h"
#include "runtime/core/zone_name.h"

/* -------- place -------- */

static bool coordinate(Checks *checks, const Node *node, double most, const char *message,
                       double *degrees) {
    bool negative = node && node->kind == NODE_NEGATE;
    const Node *number = negative ? node->a : node;
    if (!number || number->kind != NODE_NUMBER)
        return false;
    *degrees = negative ? -number->number : number->number;
    if (number->number <= most)
        return true;
    checks_error(checks, "out-of-range", node->span, NULL, message);
    return false;
}

void place_check(Checks *checks) {
    const Node *first = NULL;
    for (const Node *item = checks_main(checks)->tree.items; item; item = item->next) {
        if (item->kind != NODE_PLACE)
            continue;
        if (first) {
            checks_report_again(checks_sink(checks), item->span, first->span, "place");
            continue;
        }
        first = item;
        PlaceInfo *place = &checks->place;
        place->said = true;
        coordinate(checks, item->a, 90,
                   "the latitude stands first and goes from -90 (south) to 90 (north)",
                   &place->latitude);
        coordinate(checks, item->b, 180,
                   "the longitude stands second and goes from -180 (west) to 180 (east)",
                   &place->longitude);
        place->zone = item->text;
        if (item->text && !zone_name_fits(item->text))
            checks_error(checks, "unknown-zone", item->span, "zone \"Europe/London\"",
                         "a zone is a name of the time zone database");
    }
}

/* -------- moments -------- */

#define MICROSECONDS_A_DAY 86400e6

void moment_check(Checks *checks, const Node *moment) {
    if (moment->kind != NODE_MOMENT || moment->word != MOMENT_SUN || !moment->text)
        return;
    if (!checks->place.said)
        checks_error(checks, "sun-without-place", moment->span, "place 51.45, -2.59",
                     "the sun's times need to know where: latitude and longitude");
    if (fabs(moment->number) >= MICROSECONDS_A_DAY)
        checks_error(checks, "out-of-range", moment->span, NULL,
                     "a moment lies less than a day from the sun's time");
}

static void moments_check(Checks *checks, const Node *entry) {
    for (const Node *moment = entry->a; moment; moment = moment->next) {
        moment_check(checks, moment);
        if (moment->kind != NODE_MOMENT_RANGE || !moment->c)
            continue;
        double step = moment->c->number;
        if (step <= 0 || fmod(step, 60e6) != 0)
            checks_error(checks, "uneven-step", moment->c->span, NULL,
                         "the time between repeated moments is a whole number of minutes");
    }
}

static void bounds_check(Checks *checks, const Node *entry) {
    const Node *said[3] = {NULL, NULL, NULL};
    bool sun = false;
    for (const Node *moment = entry->a; moment; moment = moment->next)
        sun = sun || (moment->kind == NODE_MOMENT && moment->word == MOMENT_SUN) ||
              moment->kind == NODE_HOLE;
    for (const Node *bound = entry->b; bound; bound = bound->next) {
        if (bound->kind != NODE_BOUND || bound->word > BOUND_ELSE)
            continue;
        if (!said[bound->word]) /* the parser tells of a second one */
            said[bound->word] = bound;
    }
    const Node *before = said[BOUND_NOT_BEFORE], *after = said[BOUND_NOT_AFTER];
    if (said[BOUND_ELSE] && !sun)
        checks_error(
            checks, "else-without-sun", said[BOUND_ELSE]->span, NULL,
            "`else` is for days without that sunrise or sunset; this moment is on every day");
    if (before && after && before->a && after->a && before->a->number > after->a->number)
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "bounds-crossed", after->span,
                           before->span, NULL, "`not after` is earlier than `not before`");
}

/* -------- entries -------- */

static void repeated_check(Checks *checks, const Node *entry, const PlayFacts *facts) {
    for (const Node *moment = entry->a; moment; moment = moment->next)
        if (moment->kind == NODE_MOMENT_RANGE && facts->known && !facts->ends && facts->lasts == 0)
            checks_error(checks, "needs-end", entry->d->span, NULL,
                         "a moment that is repeated needs an end: `for 2min`");
}

static bool is_off(Checks *checks, const Node *routine) {
    return routine && routine->kind == NODE_NAME && routine->text &&
           strcmp(routine->text, "off") == 0 && !checks_symbol(checks_main(checks), routine);
}

static void by_check(Checks *checks, const Node *entry, const PlayFacts *facts) {
    const Node *routine = entry->d->a;
    if (entry->word != ENTRY_BY || !facts->known || facts->lasts > 0)
        return;
    char hint[LIMIT_NAME_BYTES + 32] = "";
    if (is_off(checks, routine)) {
        checks_error(checks, "by-without-length", routine->span, NULL,
                     "`by` says when a routine is over, and `off` goes on: write `at`");
        return;
    }
    if (routine->kind == NODE_NAME)
        snprintf(hint, sizeof hint, "routine %s lasts 30min", routine->text);
    diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "by-without-length", routine->span,
                       SPAN_NONE, *hint ? hint : NULL,
                       "`by` says when a routine is over, and this one has no length");
}

/* Rule Z9: an end before the routine is over is legal, and said. */
static void cut_short_check(Checks *checks, const Node *entry, const PlayFacts *facts) {
    const Node *end = entry->d->d, *moment = entry->a;
    if (!end || facts->lasts == 0)
        return;
    bool cut = facts->stays > 0 && facts->stays < facts->lasts;
    bool clocks = end->kind == NODE_UNTIL && end->a && end->a->kind == NODE_MOMENT &&
                  end->a->word == MOMENT_CLOCK && moment && moment->kind == NODE_MOMENT &&
                  moment->word == MOMENT_CLOCK && !moment->next;
    if (clocks) {
        double start = moment->number * 1e6;
        if (entry->word == ENTRY_BY)
            start -= facts->lasts;
        double stays = fmod(end->a->number * 1e6 - start, MICROSECONDS_A_DAY);
        if (stays <= 0)
            stays += MICROSECONDS_A_DAY;
        cut = stays < facts->lasts;
    }
    if (cut)
        diagnostics_report(checks_sink(checks), SEVERITY_WARNING, "cut-short", end->span, SPAN_NONE,
                           NULL, "this end comes before the routine is over");
}

static void entry_check(Checks *checks, const Node *entry) {
    moments_check(checks, entry);
    bounds_check(checks, entry);
    days_check(checks, entry->c);
    if (!entry->d || entry->d->kind != NODE_PLAY)
        return;
    PlayFacts facts = play_check(checks, entry->d);
    repeated_check(checks, entry, &facts);
    by_check(checks, entry, &facts);
    cut_short_check(checks, entry, &facts);
}

/* -------- when -------- */

/* True where the expression is a lone name: an event, or nothing that is known (reported). */
static bool event_check(Checks *checks, const Node *expression, bool *event) {
    bool name = expression->kind == NODE_NAME && expression->text;
    if (!name && expression->kind != NODE_MEMBER)
        return false;
    const Symbol *symbol = checks_symbol(checks_main(checks), expression);
    *event = symbol && symbol->kind == SYMBOL_EVENT;
    if (symbol && (symbol->kind == SYMBOL_ROUTINE || symbol->kind == SYMBOL_LAMP)) {
        diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "no-event", expression->span,
                           SPAN_NONE, NULL,
                           "`%s` is a %s: `when` needs an event, or a dial compared", symbol->name,
                           symbol->kind == SYMBOL_LAMP ? "lamp" : "routine");
        return true;
    }
    if (symbol)
        return *event;
    if (name && moment_find(expression->text))
        return false;
    checks_report_unknown(checks->program, checks_main(checks), expression, "event",
                          1u << SYMBOL_EVENT | 1u << SYMBOL_DIAL);
    return true;
}

static void when_check(Checks *checks, const Node *when) {
    bool event = false;
    if (when->a && when->a->kind != NODE_HOLE && !event_check(checks, when->a, &event))
        expand_condition(checks->program, checks_main(checks), when->a, NULL);
    if (!when->d || when->d->kind != NODE_PLAY)
        return;
    PlayFacts facts = play_check(checks, when->d);
    if (facts.ends || !facts.known || (event && facts.lasts > 0))
        return;
    checks_error(checks, "needs-end", when->d->span, NULL, "an event needs an end: `for 2min`");
}

/* -------- keep, until clock is set -------- */

static void between_check(Checks *checks, const Node *between) {
    double level;
    const Node *a = between->a, *b = between->b;
    if (a && b) {
        moment_check(checks, a);
        moment_check(checks, b);
        bool same =
            a->kind == NODE_MOMENT && b->kind == NODE_MOMENT && a->word == b->word &&
            a->number == b->number &&
            (a->word == MOMENT_CLOCK || (a->text && b->text && strcmp(a->text, b->text) == 0));
        if (same)
            diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "range-empty", b->span, a->span,
                               NULL, "this ends at the moment at which it begins");
    }
    days_check(checks, between->c);
    if (between->d)
        checks_share(checks->program, checks_main(checks), between->d, "keep level under", &level);
    on_lamp_check(checks, between->e);
}

static void until_clock_check(Checks *checks, const Node *until, const Node **first) {
    bool off;
    if (*first)
        checks_report_again(checks_sink(checks), until->span, (*first)->span, "until clock is set");
    else
        *first = until;
    if (until->a)
        checks_routine(checks->program, checks_main(checks), until->a, &off);
}

/* -------- all -------- */

static void clock_warning(Checks *checks, const Node *entry) {
    diagnostics_report(checks_sink(checks), SEVERITY_WARNING, "no-until-clock", entry->span,
                       SPAN_NONE, "until clock is set play off",
                       "nothing says what plays until the clock is set, after a power cut: `off` "
                       "does");
}

void timetable_check(Checks *checks) {
    const Node *until = NULL, *first = NULL;
    uint32_t count = 0;
    for (const Node *item = checks_main(checks)->tree.items; item; item = item->next) {
        if (item->kind != NODE_ENTRY && item->kind != NODE_WHEN && item->kind != NODE_BETWEEN &&
            item->kind != NODE_UNTIL_CLOCK)
            continue;
        if (count++ == LIMIT_ENTRIES) {
            diagnostics_report(checks_sink(checks), SEVERITY_ERROR, "too-many", item->span,
                               SPAN_NONE, NULL, "a timetable has at most %d entries",
                               LIMIT_ENTRIES);
            return;
        }
        if (item->kind == NODE_ENTRY)
            entry_check(checks, item);
        else if (item->kind == NODE_WHEN)
            when_check(checks, item);
        else if (item->kind == NODE_BETWEEN)
            between_check(checks, item);
        else
            until_clock_check(checks, item, &until);
        if (item->kind == NODE_ENTRY && !first)
            first = item;
    }
    if (first && !until && names_all_whole(checks->program->modules))
        clock_warning(checks, first);
    run_up_check(checks);
}
