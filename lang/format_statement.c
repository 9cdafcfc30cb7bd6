/* Statements and items in the one layout; clauses in the one order. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "lang/format_writer.h"

/* Breaks between clauses come before those inside expressions. */
enum { CLAUSE = 3, EXPRESSION = 4 };

static void clause(Writer *writer, const char *word, const Node *node) {
    if (!node)
        return;
    writer_break(writer, CLAUSE);
    writer_text(writer, word);
    format_expression(writer, node, EXPRESSION);
}

static void format_let(Writer *writer, const Node *node) {
    writer_text(writer, "let ");
    writer_text(writer, node->a->text);
    if (node->b) {
        writer_text(writer, "(");
        format_list(writer, node->b, EXPRESSION);
        writer_text(writer, ")");
    }
    writer_align(writer);
    writer_text(writer, " = ");
    format_expression(writer, node->c, EXPRESSION);
}

static void format_dial(Writer *writer, const Node *node) {
    writer_text(writer, "dial ");
    writer_text(writer, node->a->text);
    writer_text(writer, " = ");
    format_expression(writer, node->b, EXPRESSION);
    if (node->c && node->d) {
        clause(writer, "from ", node->c);
        writer_text(writer, " to ");
        format_expression(writer, node->d, EXPRESSION);
    }
    clause(writer, "eased ", node->e);
    if (node->text) {
        writer_break(writer, CLAUSE);
        writer_quoted(writer, node->text);
    }
}

static void format_paint(Writer *writer, const Node *node) {
    writer_text(writer, "paint ");
    format_expression(writer, node->a, EXPRESSION);
    clause(writer, "blended ", node->b);
    clause(writer, "where ", node->c);
}

static void format_routine(Writer *writer, const Node *node) {
    writer_text(writer, "routine ");
    writer_text(writer, node->a->text);
    if (node->b) {
        writer_text(writer, " lasts ");
        format_expression(writer, node->b, EXPRESSION);
    }
    if (node->c) {
        writer_text(writer, " then ");
        format_expression(writer, node->c, EXPRESSION);
    }
}

/* ---- timetable ---- */

static void format_seconds(Writer *writer, double seconds) {
    char text[64];
    int whole = (int)seconds;
    int used = snprintf(text, sizeof text, "%02d:%02d", whole / 3600, whole / 60 % 60);
    if (whole % 60)
        snprintf(text + used, sizeof text - (size_t)used, ":%02d", whole % 60);
    writer_text(writer, text);
}

/* Microseconds as one duration, largest unit first. */
static void format_offset(Writer *writer, double microseconds) {
    static const struct {
        double size;
        const char *unit;
    } UNITS[] = {{3600e6, "h"}, {60e6, "min"}, {1e6, "s"}, {1e3, "ms"}};
    char text[40];
    for (int i = 0; i < 4; i++) {
        double count = floor(microseconds / UNITS[i].size);
        if (count == 0 && !(i == 3 && microseconds > 0))
            continue;
        microseconds -= count * UNITS[i].size;
        if (i == 3 && microseconds > 0)
            snprintf(text, sizeof text, "%.0f.%03.0fms", count, microseconds);
        else
            snprintf(text, sizeof text, "%.0f%s", count, UNITS[i].unit);
        writer_text(writer, text);
    }
}

static void format_moment(Writer *writer, const Node *moment) {
    if (moment->kind == NODE_MOMENT_RANGE) {
        format_expression(writer, moment->a, EXPRESSION);
        writer_text(writer, "..");
        format_expression(writer, moment->b, EXPRESSION);
        writer_text(writer, " every ");
        format_expression(writer, moment->c, EXPRESSION);
    } else if (moment->word == MOMENT_CLOCK) {
        format_seconds(writer, moment->number);
    } else {
        writer_text(writer, moment->text);
        if (moment->number != 0) {
            writer_text(writer, moment->number < 0 ? " - " : " + ");
            format_offset(writer, fabs(moment->number));
        }
    }
}

static void format_day(Writer *writer, const Node *day) {
    static const char *const WEEKDAYS[] = {"mon", "tue", "wed",      "thu",     "fri",
                                           "sat", "sun", "weekdays", "weekends"};
    static const char *const MONTHS[] = {"jan", "feb", "mar", "apr", "may", "jun",
                                         "jul", "aug", "sep", "oct", "nov", "dec"};
    char text[32];
    int number = (int)day->number;
    if (day->kind == NODE_WEEKDAY)
        writer_text(writer, WEEKDAYS[number]);
    else if (day->kind == NODE_MONTH)
        writer_text(writer, MONTHS[number - 1]);
    else if (day->kind == NODE_DATE) {
        snprintf(text, sizeof text, "%04d-%02d-%02d", number / 10000, number / 100 % 100,
                 number % 100);
        writer_text(writer, text);
    } else {
        writer_span(writer, day->span);
    }
}

static void format_ranges(Writer *writer, const Node *ranges) {
    for (const Node *range = ranges; range; range = range->next) {
        if (range->kind != NODE_RANGE) {
            format_day(writer, range);
        } else {
            format_day(writer, range->a);
            if (range->b) {
                writer_text(writer, "..");
                format_day(writer, range->b);
            }
        }
        if (range->next)
            writer_text(writer, ", ");
    }
}

static void format_days(Writer *writer, const Node *clauses) {
    static const char *const WORDS[] = {
        [DAYS_WEEKDAYS] = "on ", [DAYS_ROTA] = "on days ", [DAYS_MONTHS] = "in ",
        [DAYS_FROM] = "from ",   [DAYS_UNTIL] = "until ",  [DAYS_EXCEPT] = "except "};
    for (int word = DAYS_WEEKDAYS; word <= DAYS_EXCEPT; word++) {
        for (const Node *days = clauses; days; days = days->next) {
            if (days->word != word)
                continue;
            writer_break(writer, CLAUSE);
            writer_text(writer, WORDS[word]);
            if (word == DAYS_ROTA) {
                format_day(writer, days->a);
                writer_text(writer, "..");
                format_day(writer, days->a->next);
                writer_text(writer, " of ");
                format_day(writer, days->a->next->next);
            } else {
                format_ranges(writer, days->a);
            }
        }
    }
}

static void format_on_lamp(Writer *writer, const Node *on) {
    if (!on)
        return;
    writer_break(writer, CLAUSE);
    writer_text(writer, "on lamp ");
    writer_text(writer, on->a->text);
    if (on->b) {
        writer_text(writer, " part ");
        writer_text(writer, on->b->text);
    }
}

static void format_play(Writer *writer, const Node *play) {
    writer_align(writer);
    writer_break(writer, CLAUSE);
    writer_text(writer, "play ");
    format_expression(writer, play->a, EXPRESSION);
    for (const Node *setting = play->b; setting; setting = setting->next) {
        if (setting == play->b) {
            writer_break(writer, CLAUSE);
            writer_text(writer, "with ");
        }
        format_expression(writer, setting->a, EXPRESSION);
        writer_text(writer, " = ");
        format_expression(writer, setting->b, EXPRESSION);
        if (setting->next)
            writer_text(writer, ", ");
    }
    format_on_lamp(writer, play->c);
    if (play->d && play->d->kind == NODE_FOR)
        clause(writer, "for ", play->d->a);
    if (play->d && play->d->kind == NODE_UNTIL) {
        writer_break(writer, CLAUSE);
        writer_text(writer, "until ");
        format_moment(writer, play->d->a);
    }
    clause(writer, "fading ", play->e);
}

static void format_entry(Writer *writer, const Node *node) {
    static const char *const BOUNDS[] = {[BOUND_NOT_BEFORE] = "not before ",
                                         [BOUND_NOT_AFTER] = "not after ",
                                         [BOUND_ELSE] = "else "};
    writer_text(writer, node->word == ENTRY_AT ? "at " : "by ");
    for (const Node *moment = node->a; moment; moment = moment->next) {
        format_moment(writer, moment);
        if (moment->next)
            writer_text(writer, ", ");
    }
    for (int word = BOUND_NOT_BEFORE; word <= BOUND_ELSE; word++)
        for (const Node *bound = node->b; bound; bound = bound->next)
            if (bound->word == word)
                clause(writer, BOUNDS[word], bound->a);
    format_days(writer, node->c);
    format_play(writer, node->d);
}

static void format_between(Writer *writer, const Node *node) {
    writer_text(writer, "between ");
    format_moment(writer, node->a);
    writer_text(writer, " and ");
    format_moment(writer, node->b);
    format_days(writer, node->c);
    writer_align(writer);
    clause(writer, "keep level under ", node->d);
    format_on_lamp(writer, node->e);
}

/* ---- lamps ---- */

static void format_property(Writer *writer, const Node *node) {
    /* The word itself stands first; what follows are literals, names and texts. */
    const char *source = writer->source;
    uint32_t at = node->span.begin;
    bool first = true, quoted = false, escaped = false, blank = false;
    for (; at < node->span.end; at++) {
        char byte = source[at];
        if (!quoted && source[at] == '/' && at + 1 < node->span.end && source[at + 1] == '/')
            while (at + 1 < node->span.end && source[at + 1] != '\n')
                at++;
        else if (!quoted && (byte == ' ' || byte == '\t' || byte == '\n' || byte == '\r'))
            blank = true;
        else {
            if (blank && byte != ',') {
                if (first)
                    writer_align(writer);
                first = false;
                writer_text(writer, " ");
            }
            blank = !quoted && byte == ',';
            if (byte == '"' && !escaped)
                quoted = !quoted;
            escaped = byte == '\\' && !escaped;
            writer_bytes(writer, &byte, 1);
        }
    }
}

static void format_place(Writer *writer, const Node *node) {
    writer_text(writer, "place ");
    format_expression(writer, node->a, EXPRESSION);
    writer_text(writer, ", ");
    format_expression(writer, node->b, EXPRESSION);
    if (node->text) {
        writer_text(writer, " zone ");
        writer_quoted(writer, node->text);
    }
}

static void format_use(Writer *writer, const Node *node) {
    writer_text(writer, "use ");
    writer_quoted(writer, node->text);
    if (node->a) {
        writer_text(writer, " as ");
        writer_text(writer, node->a->text);
    }
}

static void format_event(Writer *writer, const Node *node) {
    writer_text(writer, "event ");
    writer_text(writer, node->a->text);
    if (node->text) {
        writer_text(writer, " ");
        writer_quoted(writer, node->text);
    }
}

void format_statement(Writer *writer, const Node *node) {
    switch (node->kind) {
    case NODE_USE:
        format_use(writer, node);
        break;
    case NODE_LET:
        format_let(writer, node);
        break;
    case NODE_DIAL:
        format_dial(writer, node);
        break;
    case NODE_EVENT:
        format_event(writer, node);
        break;
    case NODE_PAINT:
        format_paint(writer, node);
        break;
    case NODE_ROUTINE:
        format_routine(writer, node);
        break;
    case NODE_LAMP:
        writer_text(writer, "lamp ");
        writer_text(writer, node->a->text);
        break;
    case NODE_PLACE:
        format_place(writer, node);
        break;
    case NODE_UNTIL_CLOCK:
        writer_text(writer, "until clock is set");
        writer_align(writer);
        clause(writer, "play ", node->a);
        break;
    case NODE_ENTRY:
        format_entry(writer, node);
        break;
    case NODE_WHEN:
        writer_text(writer, "when ");
        format_expression(writer, node->a, EXPRESSION);
        format_play(writer, node->d);
        break;
    case NODE_BETWEEN:
        format_between(writer, node);
        break;
    case NODE_PROPERTY:
        format_property(writer, node);
        break;
    default:
        writer_span(writer, node->span);
    }
}
