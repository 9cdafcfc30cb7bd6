/* The table of `when`: day by day, for people. */
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "runtime/command/planned.h"
#include "runtime/core/civil.h"
#include "runtime/core/memory.h"

enum {
    NAME_WIDEST = 24, /* of a column of names; what is longer pushes its line */
    TEXT_LEAST = 24,  /* of the last column, whatever the width */
    WIDTH_UNKNOWN = 100
};

typedef struct Row {
    const AgendaItem *item;
    uint64_t lamps; /* a bit for each lamp of the row */
    char lamp[160];
    char why[AGENDA_CAUSE + AGENDA_NOTES + 80];
} Row;

typedef struct Table {
    const Planned *planned;
    const Agenda *agenda;
    bool *taken; /* items that stand in another's row, or in none */
    FILE *out;
    bool colours, lamps; /* there is a column of lamps */
    int width, lamp_width, routine_width;
} Table;

static const char *const WEEKDAYS[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};

static int table_width(FILE *out) {
    struct winsize size;
    const char *columns = getenv("COLUMNS");
    if (isatty(fileno(out)) && ioctl(fileno(out), TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col;
    int wide = columns ? atoi(columns) : 0;
    return wide > 0 ? wide : WIDTH_UNKNOWN;
}

static const char *table_colour(const Table *table, const char *code) {
    return table->colours ? code : "";
}

#define BOLD "\x1b[1m"
#define DIM "\x1b[2m"
#define STRIKING "\x1b[33m"
#define PLAIN "\x1b[0m"

/* -------- rows -------- */

static bool same_row(const AgendaItem *a, const AgendaItem *b) {
    return a->kind == b->kind && a->utc == b->utc && a->routine == b->routine &&
           a->index == b->index && a->part == TIMETABLE_NOT_SAID && b->part == TIMETABLE_NOT_SAID &&
           strcmp(a->cause, b->cause) == 0 && strcmp(a->notes, b->notes) == 0;
}

static bool near_row(const AgendaItem *a, const AgendaItem *b) {
    return a->kind == AGENDA_STANDS ? b->kind == AGENDA_STANDS
                                    : b->kind != AGENDA_STANDS && a->utc == b->utc;
}

/* The lamps that the same befalls: one row, and the others are taken. */
static void row_lamps(Table *table, size_t index, Row *row) {
    const Agenda *agenda = table->agenda;
    const AgendaItem *item = &agenda->items[index];
    uint32_t lamps = 1;
    row->lamps = UINT64_C(1) << item->lamp;
    planned_lamp(table->planned, item->lamp, item->part, row->lamp, sizeof row->lamp);
    for (size_t i = index + 1; i < agenda->count && near_row(item, &agenda->items[i]); i++) {
        if (table->taken[i] || !same_row(item, &agenda->items[i]))
            continue;
        size_t used = strlen(row->lamp);
        char lamp[160];
        planned_lamp(table->planned, agenda->items[i].lamp, TIMETABLE_NOT_SAID, lamp, sizeof lamp);
        snprintf(row->lamp + used, sizeof row->lamp - used, ", %s", lamp);
        table->taken[i] = true;
        row->lamps |= UINT64_C(1) << agenda->items[i].lamp;
        lamps++;
    }
    if (lamps > 1 && lamps == table->planned->lamp_count)
        snprintf(row->lamp, sizeof row->lamp, "all");
}

/* All that a repeated moment brings on one day is told in the row of its first. */
static void row_repeated(Table *table, const Row *row, size_t index, int32_t date, char *note,
                         size_t size) {
    const TimetableContext *context = &table->planned->context;
    const AgendaItem *item = &table->agenda->items[index];
    int64_t end = timetable_local_instant(context, date + 1, 0), last = item->utc;
    uint32_t times = 0;
    char clock[16];
    for (size_t i = index; i < table->agenda->count && table->agenda->items[i].utc < end; i++) {
        const AgendaItem *other = &table->agenda->items[i];
        if (!other->repeated || other->index != item->index || other->part != item->part ||
            !(row->lamps >> other->lamp & 1) || other->kind > AGENDA_ENDS)
            continue;
        table->taken[i] = true;
        if (other->kind == AGENDA_BEGINS && other->lamp == item->lamp) {
            times++;
            last = other->utc;
        }
    }
    agenda_clock(context, last, clock, sizeof clock);
    if (times > 1)
        snprintf(note, size, "%u times, the last at %s", times, clock);
    else
        note[0] = '\0';
}

static void row_why(Table *table, size_t index, int32_t date, Row *row) {
    const TimetableContext *context = &table->planned->context;
    const AgendaItem *item = row->item;
    char note[64] = "";
    if (item->repeated && item->kind == AGENDA_BEGINS)
        row_repeated(table, row, index, date, note, sizeof note);
    if (item->kind != AGENDA_STANDS) {
        const char *first = *note ? "; " : "", *second = *item->notes ? "; " : "";
        snprintf(row->why, sizeof row->why, "%s%s%s%s%s", item->cause, first, note, second,
                 item->notes);
        return;
    }
    if (item->routine == ROUTINE_NONE) {
        snprintf(row->why, sizeof row->why, "nothing plays yet");
        return;
    }
    CivilDate since = civil_from_days(timetable_local_date(context, item->utc));
    agenda_clock(context, item->utc, note, sizeof note);
    snprintf(row->why, sizeof row->why, "since %04d-%02d-%02d %s", (int)since.year,
             (int)since.month, (int)since.day, note);
}

/* -------- lines -------- */

/* Words from column `at` on, wrapped under it. */
static void print_wrapped(const Table *table, const char *text, int at) {
    int room = table->width - at < TEXT_LEAST ? TEXT_LEAST : table->width - at;
    while ((int)strlen(text) > room) {
        int length = room;
        while (length > 0 && text[length] != ' ')
            length--;
        if (length == 0)
            length = (int)strcspn(text, " ");
        fprintf(table->out, "%.*s", length, text);
        text += length;
        text += strspn(text, " ");
        if (*text)
            fprintf(table->out, "\n%*s", at, "");
    }
    fprintf(table->out, "%s", text);
}

static void print_row(const Table *table, const Row *row, const char *time) {
    const AgendaItem *item = row->item;
    bool quiet = item->kind == AGENDA_STANDS || item->kind == AGENDA_PASSED_OVER;
    char routine[140];
    const char *name = item->routine == ROUTINE_NONE
                           ? "-"
                           : agenda_routine(table->planned->context.program, item->routine);
    snprintf(routine, sizeof routine, item->kind == AGENDA_PASSED_OVER ? "(%s)" : "%s", name);
    fprintf(table->out, "%s  %s  ", quiet ? table_colour(table, DIM) : "", time);
    int at = 9;
    if (table->lamps)
        at += fprintf(table->out, "%-*s  ", table->lamp_width, row->lamp);
    at += fprintf(table->out, "%-*s  ", table->routine_width, routine);
    print_wrapped(table, row->why, at);
    fprintf(table->out, "%s\n", quiet ? table_colour(table, PLAIN) : "");
}

/* -------- days -------- */

static void head_part(const Table *table, const char *colour, const char *text, int *used) {
    int length = (int)strlen(text);
    if (*used && *used + 3 + length > table->width) {
        fprintf(table->out, "\n    ");
        *used = 1;
    } else if (*used) {
        fputs("   ", table->out);
        *used += 3;
    }
    fprintf(table->out, "%s%s%s", table_colour(table, colour), text, table_colour(table, PLAIN));
    *used += length;
}

static void head_sun(const Table *table, int32_t date, char *text, size_t size) {
    const TimetableContext *context = &table->planned->context;
    int64_t rises, sets;
    char up[16], down[16];
    AgendaSun sun = agenda_sun(context, date, &rises, &sets);
    if (sun != AGENDA_SUN_RISES) {
        snprintf(text, size,
                 sun == AGENDA_SUN_STAYS_UP ? "the sun does not set" : "the sun does not rise");
        return;
    }
    agenda_clock(context, rises, up, sizeof up);
    agenda_clock(context, sets, down, sizeof down);
    if (rises == TIMETABLE_NEVER)
        snprintf(text, size, "no sunrise, sunset %s", down);
    else if (sets == TIMETABLE_NEVER)
        snprintf(text, size, "sunrise %s, no sunset", up);
    else
        snprintf(text, size, "sun %s to %s%s", up, down,
                 timetable_local_date(context, sets) > date ? " on the next day" : "");
}

static void print_head(const Table *table, int32_t date) {
    CivilDate civil = civil_from_days(date);
    AgendaChange change;
    char text[80];
    int used = 0;
    snprintf(text, sizeof text, "%s %04d-%02d-%02d", WEEKDAYS[weekday_from_days(date)],
             (int)civil.year, (int)civil.month, (int)civil.day);
    head_part(table, BOLD, text, &used);
    if (table->planned->context.timetable->place.said) {
        head_sun(table, date, text, sizeof text);
        head_part(table, "", text, &used);
    }
    if (agenda_change(&table->planned->context, date, &change)) {
        snprintf(text, sizeof text, "clocks go %s: %02d:%02d becomes %02d:%02d",
                 change.after > change.before ? "forward" : "back", change.before / 3600,
                 change.before / 60 % 60, change.after / 3600, change.after / 60 % 60);
        head_part(table, STRIKING, text, &used);
    }
    fputc('\n', table->out);
}

/* A day on which nothing begins: what goes on, lamp by lamp where they differ. */
static void print_still(const Table *table, int32_t date, const Options *options) {
    const TimetableContext *context = &table->planned->context;
    int64_t utc = timetable_local_instant(context, date, 0);
    uint32_t count = table->planned->lamp_count ? table->planned->lamp_count : 1;
    bool any = false;
    for (uint32_t lamp = 0; lamp < count; lamp++) {
        TimetableState state;
        char name[160];
        planned_lamp(table->planned, (int32_t)lamp, TIMETABLE_NOT_SAID, name, sizeof name);
        timetable_state(context, (int32_t)lamp, TIMETABLE_NOT_SAID, utc, &state);
        if (!state.plays || (options->lamp && strcmp(options->lamp, name) != 0))
            continue;
        any = true;
        fprintf(table->out, "  %s%s%s goes on\n", table->lamps ? name : "",
                table->lamps ? ": " : "", agenda_routine(context->program, state.routine));
    }
    if (!any)
        fputs("  nothing plays\n", table->out);
}

static size_t print_day(Table *table, int32_t date, size_t next, const Options *options) {
    const TimetableContext *context = &table->planned->context;
    int64_t end = timetable_local_instant(context, date + 1, 0);
    bool any = false;
    print_head(table, date);
    for (; next < table->agenda->count; next++) {
        const AgendaItem *item = &table->agenda->items[next];
        char clock[16];
        Row row = {.item = item};
        if (item->kind != AGENDA_STANDS && item->utc >= end)
            break;
        if (table->taken[next] || (item->repeated && item->kind > AGENDA_BEGINS))
            continue;
        row_lamps(table, next, &row);
        row_why(table, next, date, &row);
        agenda_clock(context, item->utc, clock, sizeof clock);
        print_row(table, &row, item->kind == AGENDA_STANDS ? "00:00" : clock);
        any = true;
    }
    if (!any)
        print_still(table, date, options);
    return next;
}

/* -------- what no day has -------- */

/* The text of an expression in one line. */
static void source_text(const Table *table, Span span, char *text, size_t size) {
    size_t length, used = 0;
    const char *source =
        diagnostics_file_text(lang_diagnostics(table->planned->compilation), span.file, &length);
    for (uint32_t i = span.begin; source && i < span.end && i < length && used + 1 < size; i++) {
        bool blank = strchr(" \t\r\n", source[i]) != NULL;
        if (!blank || (used && text[used - 1] != ' '))
            text[used++] = blank ? ' ' : source[i];
    }
    text[used] = '\0';
}

static void print_rest(const Table *table) {
    const TimetableContext *context = &table->planned->context;
    const Timetable *timetable = context->timetable;
    const SourceTree *tree = lang_main_tree(table->planned->compilation);
    const Node *item = tree ? tree->items : NULL;
    fputc('\n', table->out);
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        char when[80], play[200];
        if (entry->kind != TIMETABLE_EVENT && entry->kind != TIMETABLE_TRUTH)
            continue;
        while (item && item->kind != NODE_WHEN)
            item = item->next;
        if (!item)
            return;
        source_text(table, item->a->span, when, sizeof when);
        agenda_play(context->program, &entry->play, play, sizeof play);
        fprintf(table->out, "when %s: %s\n", when, play);
        item = item->next;
    }
    if (timetable->until_clock != ROUTINE_NONE)
        fprintf(table->out, "until clock is set: %s\n",
                agenda_routine(context->program, timetable->until_clock));
}

static int widest(int width, const char *name, size_t more) {
    int length = (int)(strlen(name) + more);
    return length > width && length <= NAME_WIDEST ? length : width;
}

static void table_columns(Table *table, const Options *options) {
    const Planned *planned = table->planned;
    bool parts = false;
    table->lamp_width = table->routine_width = 3;
    for (size_t i = 0; i < table->agenda->count; i++) {
        const AgendaItem *item = &table->agenda->items[i];
        char lamp[160];
        planned_lamp(planned, item->lamp, item->part, lamp, sizeof lamp);
        table->lamp_width = widest(table->lamp_width, lamp, 0);
        table->routine_width =
            widest(table->routine_width, agenda_routine(planned->context.program, item->routine),
                   item->kind == AGENDA_PASSED_OVER ? 2 : 0);
        parts = parts || item->part != TIMETABLE_NOT_SAID;
    }
    table->lamps = parts || (planned->lamp_count > 1 && !options->lamp);
}

bool when_table(const Planned *planned, const Agenda *agenda, const Options *options, int32_t first,
                FILE *out) {
    Table table = {.planned = planned,
                   .agenda = agenda,
                   .out = out,
                   .colours = command_colours(options, out),
                   .width = table_width(out)};
    table.taken = memory_allocate(agenda->count + 1, sizeof *table.taken);
    if (!table.taken)
        return false;
    table_columns(&table, options);
    size_t next = 0;
    for (int32_t date = first; date < first + options->days; date++) {
        if (timetable_local_instant(&planned->context, date, 0) >= agenda->whole)
            break;
        if (date > first)
            fputc('\n', out);
        next = print_day(&table, date, next, options);
    }
    print_rest(&table);
    memory_release(table.taken);
    return true;
}
