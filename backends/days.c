#include "backends/days.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "backends/canvas_write.h"
#include "backends/strip.h"

enum {
    MARGIN_LEFT = 64,
    MARGIN_LABEL = 112, /* left, where rows have labels */
    MARGIN_RIGHT = 96,
    MARGIN_TOP = 56,
    MARGIN_BOTTOM = 40,
    WIDTH_CHOSEN = 1308,
    HEIGHT_CHOSEN = 256, /* of the light of one day */
    HEIGHT_SMALL = 48,   /* of several */
    HEIGHT_LEAST = 16,
    LANE = 18,      /* of names */
    LANES_ONE = 3,  /* over one day */
    LANES_EACH = 2, /* over each of several */
    NAME_APART = 10,
    BAR = 4,       /* of daylight */
    BAR_APART = 5, /* from the light */
    ROW_APART = 14,
    LETTERS = 80
};

static const char days_trouble[] = "cannot make the picture";
static const Ink ink_day = {0xd9, 0xb4, 0x5a}, ink_night = {0x2c, 0x31, 0x3c};

typedef struct Days {
    const BackendOptions *options;
    const DaysOptions *own;
    Canvas canvas;
    Strip strip;
    int lanes, row_height;
    int top; /* of the row that is drawn */
} Days;

static int days_x(const Days *days, double hour) {
    return days->strip.x + (int)(hour / 24.0 * days->strip.width + 0.5);
}

/* -------- names -------- */

/* As many letters as fit into `room`. */
static int days_letters(const char *text, int room, char letters[LETTERS]) {
    snprintf(letters, LETTERS, "%s", text);
    while (*letters && canvas_text_width(&font_label, letters) > room) {
        size_t length = strlen(letters);
        letters[length - 1] = '\0';
        if (length > 2)
            letters[length - 2] = '.';
    }
    return canvas_text_width(&font_label, letters);
}

static void days_name(Days *days, int x, int lane, const char *letters) {
    int base = days->strip.y - 5 - lane * LANE;
    int top = base - font_label.ascent + 2;
    canvas_fill(&days->canvas, x, top, 1, days->strip.y - top, ink_mark);
    canvas_text(&days->canvas, &font_label, x + 4, base, letters, ink_label);
}

/* From the last to the first, each in the lowest lane in which it ends before what stands there: so
 * the line of a name goes down on the left of all names under it. */
static void days_names(Days *days, const DaysRow *row) {
    int begins[LANES_ONE];
    for (int lane = 0; lane < days->lanes; lane++)
        begins[lane] = days->canvas.width - 8 + NAME_APART;
    if (row->note != NULL) /* it stands at the end of the highest lane */
        begins[days->lanes - 1] = days->strip.x + days->strip.width -
                                  canvas_text_width(&font_label, row->note) - NAME_APART;
    int last = days->canvas.width;
    for (uint32_t i = row->name_count; i-- > 0;) {
        const DaysName *name = &row->names[i];
        char letters[LETTERS];
        int x = days_x(days, name->hour);
        if (x + 2 > last) /* a line of its own would touch the next one */
            continue;
        for (int lane = 0; lane < days->lanes; lane++) {
            int room = begins[lane] - NAME_APART - x - 4;
            bool open = begins[lane] > days->strip.x + days->strip.width;
            int wide = days_letters(name->text, open ? room : LETTERS * 20, letters);
            if (wide == 0 || wide > room)
                continue;
            days_name(days, x, lane, letters);
            /* Lanes under this one are closed to what begins before: its line goes through. */
            for (int under = 0; under <= lane; under++)
                begins[under] = begins[under] < x ? begins[under] : x;
            last = x;
            break;
        }
    }
}

/* -------- what stands round the light -------- */

/* Under the light at the hours themselves: held within the picture, the first left of the second.
 */
static void days_sun_under(Days *days, const DaysRow *row, int base) {
    const char *rise = row->rise_text ? row->rise_text : "", *set = row->set_text;
    int rise_wide = canvas_text_width(&font_label, rise);
    int set_wide = set ? canvas_text_width(&font_label, set) : 0;
    int edge = days->canvas.width - 8;
    int set_x = days_x(days, row->sets), rise_x = days_x(days, row->rises);
    if (set_x + set_wide > edge)
        set_x = edge - set_wide;
    if (set && rise_x + rise_wide + NAME_APART > set_x)
        rise_x = set_x - NAME_APART - rise_wide;
    if (rise_x + rise_wide > edge)
        rise_x = edge - rise_wide;
    canvas_text(&days->canvas, &font_label, rise_x, base, rise, ink_label);
    if (set)
        canvas_text(&days->canvas, &font_label, set_x, base, set, ink_label);
}

static void days_sun(Days *days, const DaysRow *row) {
    const Strip *strip = &days->strip;
    int y = strip->y + strip->height + BAR_APART, right = strip->x + strip->width + 12;
    if (!row->sun)
        return;
    canvas_fill(&days->canvas, strip->x, y, strip->width, BAR, ink_night);
    for (uint32_t i = 0; i < row->light_count; i++) {
        int from = days_x(days, row->light[i][0]), to = days_x(days, row->light[i][1]);
        canvas_fill(&days->canvas, from, y, to - from, BAR, ink_day);
    }
    if (days->own->row_count == 1) {
        days_sun_under(days, row, y + BAR + 3 + font_label.ascent);
        return;
    }
    int base = strip->y + strip->height / 2 - 3;
    if (row->rise_text)
        canvas_text(&days->canvas, &font_label, right, base, row->rise_text, ink_label);
    if (row->set_text)
        canvas_text(&days->canvas, &font_label, right, base + LANE, row->set_text, ink_label);
}

static void days_words(Days *days, const DaysRow *row) {
    const Strip *strip = &days->strip;
    if (row->label != NULL) {
        int base = strip->y + strip->height / 2 + font_label.ascent / 2 - 1;
        canvas_text(&days->canvas, &font_label, 16, base, row->label, ink_title);
    }
    if (row->note != NULL) {
        int wide = canvas_text_width(&font_label, row->note);
        int base = strip->y - 5 - (days->lanes - 1) * LANE;
        canvas_text(&days->canvas, &font_label, strip->x + strip->width - wide, base, row->note,
                    ink_title);
    }
}

static void days_hours(Days *days) {
    const Strip *strip = &days->strip;
    int y = days->canvas.height - MARGIN_BOTTOM;
    int step = strip->width >= 24 * 48 ? 1 : strip->width >= 24 * 20 ? 3 : 6;
    for (int hour = 0; hour <= 24; hour++) {
        char text[16];
        int x = days_x(days, hour) - (hour == 24);
        bool labelled = hour % step == 0;
        canvas_fill(&days->canvas, x, y, 1, labelled ? 8 : 4, ink_mark);
        if (!labelled)
            continue;
        snprintf(text, sizeof text, "%02d:00", hour);
        int wide = canvas_text_width(&font_label, text);
        canvas_text(&days->canvas, &font_label, x - wide / 2, y + 10 + font_label.ascent, text,
                    ink_label);
    }
}

static void days_titles(Days *days) {
    const char *title = days->options->title, *note = days->own->note;
    int base = 36, used = 0;
    if (title != NULL) {
        canvas_text(&days->canvas, &font_title, days->strip.x, base, title, ink_title);
        used = canvas_text_width(&font_title, title) + 24;
    }
    if (note == NULL)
        return;
    int wide = canvas_text_width(&font_label, note);
    if (used + wide <= days->strip.width)
        canvas_text(&days->canvas, &font_label, days->strip.x + days->strip.width - wide, base,
                    note, ink_label);
}

/* -------- all -------- */

static bool days_light(Days *days, uint32_t row, DaysRender render, void *context) {
    int moments = days->own->moments, columns = days->strip.width;
    for (int column = 0; column < columns; column++) {
        for (int i = 0; i < moments; i++) {
            double place = (column + (i + 0.5) / moments) / columns;
            bool none = false;
            const float *light = render(context, row, place * 24.0, &none);
            if (light == NULL && !none)
                return false;
            if (light != NULL)
                strip_add(&days->strip, light);
        }
        if (days->strip.frames > 0)
            strip_column(&days->strip, &days->canvas, column);
    }
    return true;
}

static bool days_row(Days *days, uint32_t index, DaysRender render, void *context) {
    const DaysRow *row = &days->own->rows[index];
    days->top = MARGIN_TOP + (int)index * days->row_height;
    days->strip.y = days->top + days->lanes * LANE + 4;
    if (!days_light(days, index, render, context))
        return false;
    days_sun(days, row);
    days_names(days, row);
    days_words(days, row);
    return true;
}

static bool days_create(Days *days) {
    const DaysOptions *own = days->own;
    int count = (int)own->row_count;
    int wide = own->width > 0 ? own->width : WIDTH_CHOSEN;
    days->lanes = count == 1 ? LANES_ONE : LANES_EACH;
    int left = own->rows[0].label != NULL ? MARGIN_LABEL : MARGIN_LEFT;
    /* Under the light of one day stand the times of the sun. */
    int round = days->lanes * LANE + 4 + BAR_APART + BAR + (count == 1 ? LANE + 4 : 0);
    int light = count == 1 ? HEIGHT_CHOSEN : HEIGHT_SMALL;
    if (own->height > 0) {
        light = (own->height - MARGIN_TOP - MARGIN_BOTTOM) / count - round - ROW_APART;
        light = light < HEIGHT_LEAST ? HEIGHT_LEAST : light;
    }
    days->row_height = round + light + ROW_APART;
    uint32_t pixels = days->options->pixels, most = (uint32_t)light;
    uint32_t shared = (pixels + most - 1) / most;
    uint32_t rows = (pixels + shared - 1) / shared;
    bool fine = strip_create(&days->strip, pixels, rows, wide - left - MARGIN_RIGHT, light);
    days->strip.x = left;
    int tall = MARGIN_TOP + count * days->row_height + MARGIN_BOTTOM;
    return fine &&
           canvas_create(&days->canvas, wide, own->height > 0 ? own->height : tall, ink_ground);
}

bool days_draw(const BackendOptions *options, DaysRender render, void *context,
               BackendError *error) {
    Days days = {.options = options, .own = options->own};
    bool fine = days_create(&days);
    if (!fine)
        backend_say(error, days_trouble, ENOMEM);
    for (uint32_t row = 0; fine && row < days.own->row_count; row++) {
        fine = days_row(&days, row, render, context);
        if (!fine)
            snprintf(error->sentence, sizeof error->sentence,
                     "%s: the light could not be worked out", days_trouble);
    }
    if (fine) {
        days_titles(&days);
        days_hours(&days);
        fine = canvas_write(&days.canvas, options->descriptor, days_trouble, error);
    }
    canvas_release(&days.canvas);
    strip_release(&days.strip);
    return fine;
}
