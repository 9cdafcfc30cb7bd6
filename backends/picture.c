#include "backends/picture.h"

#include <errno.h>
#include <stdio.h>

#include "backends/axis.h"
#include "backends/canvas_write.h"
#include "backends/strip.h"
#include "runtime/core/memory.h"

enum {
    MARGIN_LEFT = 64,
    MARGIN_RIGHT = 44,
    MARGIN_TOP = 64,
    MARGIN_BOTTOM = 52,
    WIDTH_CHOSEN = MARGIN_LEFT + 1200 + MARGIN_RIGHT,
    HEIGHT_CHOSEN = 384,  /* of the plot, where pixels are few enough */
    HEIGHT_MANY = 768,    /* of the plot, where they are many */
    CELL_TALLEST = 32,    /* one pixel of the lamp */
    LABEL_APART = 88,     /* the least between two labels of time */
    NUMBER_APART = 22,    /* the least between two numbers of pixels */
    NUMBER_EASE = 36,     /* the least where not each pixel has one */
    MOMENTS_A_COLUMN = 64 /* at most */
};

typedef struct Picture {
    Backend backend;
    const BackendOptions *options;
    PictureOptions own;
    Strip plot;
    Canvas canvas;
    int column; /* being filled; -1: none yet */
} Picture;

static const char picture_trouble[] = "cannot make the picture";

static int picture_least(int value, int most) {
    return value < most ? value : most;
}

static int picture_within(int value, int least, int most) {
    return value < least ? least : picture_least(value, most);
}

/* Unless a height is asked for, each pixel of the lamp has the same whole number of lines. Where
 * there are too many pixels, neighbours share a row. */
static bool picture_plot(Picture *picture) {
    const PictureOptions *own = &picture->own;
    uint32_t pixels = picture->options->pixels;
    int width = (own->width > 0 ? own->width : WIDTH_CHOSEN) - MARGIN_LEFT - MARGIN_RIGHT;
    int room = own->height - MARGIN_TOP - MARGIN_BOTTOM;
    uint32_t most = (uint32_t)(own->height > 0 ? room : HEIGHT_MANY);
    uint32_t shared = (pixels + most - 1) / most;
    uint32_t rows = (pixels + shared - 1) / shared;
    int cell = picture_within(HEIGHT_CHOSEN / (int)rows, 1, CELL_TALLEST);
    bool fine = strip_create(&picture->plot, pixels, rows, width,
                             own->height > 0 ? room : cell * (int)rows);
    picture->plot.x = MARGIN_LEFT;
    picture->plot.y = MARGIN_TOP;
    return fine;
}

static void picture_free(Picture *picture) {
    canvas_release(&picture->canvas);
    strip_release(&picture->plot);
    memory_release(picture);
}

static bool picture_allocate(Picture *picture) {
    if (!picture_plot(picture))
        return false;
    int width = picture->plot.x + picture->plot.width + MARGIN_RIGHT;
    int height = picture->plot.y + picture->plot.height + MARGIN_BOTTOM;
    return canvas_create(&picture->canvas, width,
                         picture->own.height > 0 ? picture->own.height : height, ink_ground);
}

static Backend *picture_open(const BackendOptions *options, BackendError *error) {
    Picture *picture = memory_allocate(1, sizeof *picture);
    if (picture != NULL) {
        picture->backend.kind = &picture_backend;
        picture->options = options;
        picture->own = *(const PictureOptions *)options->own;
        picture->column = -1;
    }
    if (picture == NULL || !picture_allocate(picture)) {
        backend_say(error, picture_trouble, ENOMEM);
        if (picture != NULL)
            picture_free(picture);
        return NULL;
    }
    return &picture->backend;
}

/* Columns up to and without `column`; those that got no frame show the one before. */
static void picture_advance(Picture *picture, int column) {
    if (picture->column < 0) {
        picture->column = column;
        return;
    }
    while (picture->column < column) {
        strip_column(&picture->plot, &picture->canvas, picture->column);
        picture->column++;
    }
}

static int picture_column(const Picture *picture, int64_t microseconds) {
    double length = picture->own.length > 0 ? (double)picture->own.length : 1.0;
    double place = ((double)microseconds - (double)picture->own.start) / length;
    double column = place * picture->plot.width;
    if (!(column > 0.0))
        return 0;
    return column < picture->plot.width ? (int)column : picture->plot.width - 1;
}

static BackendResult picture_frame(Backend *backend, const BackendFrame *frame,
                                   BackendError *error) {
    (void)error;
    Picture *picture = (Picture *)backend;
    picture_advance(picture, picture_column(picture, frame->microseconds));
    strip_add(&picture->plot, frame->light);
    return BACKEND_FINE;
}

static void picture_label(Picture *picture, int64_t time, int64_t step, int x) {
    char text[64];
    if (picture->own.clock)
        axis_clock(time, step, text, sizeof text);
    else
        axis_time(time, text, sizeof text);
    int width = canvas_text_width(&font_label, text);
    int base = picture->plot.y + picture->plot.height + 16 + font_label.ascent;
    canvas_text(&picture->canvas, &font_label, x - width / 2, base, text, ink_label);
}

/* Marks at each multiple of `step` that lies on the axis, with labels or without. */
static void picture_marks(Picture *picture, int64_t step, int tall, bool labels) {
    const Strip *plot = &picture->plot;
    int64_t start = picture->own.clock ? picture->own.midnight : picture->own.start;
    int64_t length = picture->own.length;
    int64_t rest = start % step;
    int64_t first = rest > 0 ? step - rest : -rest;
    for (int64_t since = first; since <= length; since += step) {
        int across = length > 0 ? (int)((double)since / (double)length * plot->width + 0.5) : 0;
        int x = plot->x + picture_least(across, plot->width - 1);
        canvas_fill(&picture->canvas, x, plot->y + plot->height - plot->gap + 5, 1, tall, ink_mark);
        if (labels)
            picture_label(picture, start + since, step, x);
    }
}

static void picture_time_axis(Picture *picture) {
    int most = picture->plot.width / LABEL_APART;
    int64_t step = axis_time_step(picture->own.length, most > 1 ? most : 1);
    if (step == 0)
        return;
    picture_marks(picture, axis_small_step(step), 4, false);
    picture_marks(picture, step, 8, true);
}

static void picture_pixel_number(Picture *picture, uint32_t pixel) {
    const Strip *plot = &picture->plot;
    char text[16];
    snprintf(text, sizeof text, "%u", pixel);
    double place = (pixel + 0.5) / picture->options->pixels * plot->height;
    int middle = plot->y + (int)place - plot->gap / 2;
    int width = canvas_text_width(&font_label, text);
    canvas_text(&picture->canvas, &font_label, plot->x - 12 - width, middle + 5, text, ink_label);
    canvas_fill(&picture->canvas, plot->x - 8, middle, 4, 1, ink_mark);
}

static void picture_pixel_axis(Picture *picture) {
    uint32_t pixels = picture->options->pixels;
    int height = picture->plot.height;
    uint32_t most = (uint32_t)(height > NUMBER_EASE ? height / NUMBER_EASE : 1);
    bool eighths = pixels % 8 == 0 && pixels <= 64;
    bool each = pixels <= (uint32_t)(height / NUMBER_APART);
    uint32_t step = each ? 1 : axis_count_step(pixels, most, eighths);
    uint32_t last = 0;
    for (uint32_t pixel = 0; pixel < pixels; pixel += step) {
        picture_pixel_number(picture, pixel);
        last = pixel;
    }
    double left = (double)(pixels - 1 - last) / pixels * height;
    if (left > NUMBER_APART - 4)
        picture_pixel_number(picture, pixels - 1);
    const char *name = "pixel";
    int width = canvas_text_width(&font_label, name);
    canvas_text(&picture->canvas, &font_label, picture->plot.x - 12 - width, picture->plot.y - 10,
                name, ink_label);
}

static void picture_titles(Picture *picture) {
    const Strip *plot = &picture->plot;
    const char *title = picture->options->title, *note = picture->own.note;
    int base = plot->y - 24, used = 0;
    if (title != NULL) {
        canvas_text(&picture->canvas, &font_title, plot->x, base, title, ink_title);
        used = canvas_text_width(&font_title, title) + 24;
    }
    if (note == NULL)
        return;
    int width = canvas_text_width(&font_label, note);
    if (used + width <= plot->width)
        canvas_text(&picture->canvas, &font_label, plot->x + plot->width - width, base, note,
                    ink_label);
}

static BackendResult picture_close(Backend *backend, BackendError *error) {
    Picture *picture = (Picture *)backend;
    if (picture->column >= 0)
        picture_advance(picture, picture->plot.width);
    picture_titles(picture);
    picture_time_axis(picture);
    picture_pixel_axis(picture);
    bool fine =
        canvas_write(&picture->canvas, picture->options->descriptor, picture_trouble, error);
    picture_free(picture);
    return fine ? BACKEND_FINE : BACKEND_FAILED;
}

const BackendKind picture_backend = {.name = "picture",
                                     .takes_light = true,
                                     .open = picture_open,
                                     .frame = picture_frame,
                                     .close = picture_close};

/* How many moments a column shows. */
static int picture_moments(const PictureOptions *own, int columns) {
    double frames = (double)own->length / columns * own->fps / 1e6;
    if (!(frames < MOMENTS_A_COLUMN))
        return MOMENTS_A_COLUMN;
    int whole = (int)frames;
    return whole < frames || whole == 0 ? whole + 1 : whole;
}

bool picture_draw(const BackendOptions *options, PictureRender render, void *context,
                  BackendError *error) {
    Backend *backend = picture_open(options, error);
    if (backend == NULL)
        return false;
    Picture *picture = (Picture *)backend;
    int columns = picture->plot.width, moments = picture_moments(&picture->own, columns);
    double apart = (double)picture->own.length / ((double)columns * moments);
    for (int i = 0; i < columns * moments; i++) {
        int64_t time = picture->own.start + (int64_t)((i + 0.5) * apart);
        BackendFrame frame = {(uint64_t)i, time, render(context, time), NULL};
        if (frame.light == NULL) {
            snprintf(error->sentence, sizeof error->sentence,
                     "%s: the light could not be worked out", picture_trouble);
            picture_free(picture);
            return false;
        }
        picture_frame(backend, &frame, error);
    }
    return picture_close(backend, error) == BACKEND_FINE;
}
