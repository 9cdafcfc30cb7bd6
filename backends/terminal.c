#include "backends/terminal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/light/encode.h"

enum {
    COLUMNS_MOST = 1000,
    ROWS_MOST = 500,
    TEXT_LONGEST = 160,
    CELL_LONGEST = 2 * PALETTE_LONGEST + 20, /* a move, two colours, a letter */
    FRAME_ROUND = 64                         /* what begins and ends a frame */
};

#define LETTER_HALF 0x2580u /* the upper half of the cell */
#define LETTER_DONE 0x2501u
#define LETTER_LEFT 0x2500u

typedef struct Cell {
    uint32_t letter, front, ground; /* a code point; codes of the depth */
} Cell;

typedef struct Shade {
    uint8_t r, g, b;
} Shade;

static const Shade shade_ground = {0x16, 0x18, 0x1d}, shade_title = {0xf2, 0xf3, 0xf5};
static const Shade shade_text = {0xa7, 0xad, 0xb8}, shade_mark = {0x4a, 0x50, 0x5a};
static const Shade shade_keys = {0x73, 0x7a, 0x86};

typedef struct Terminal {
    Backend backend;
    BackendOptions options;
    TerminalOptions own;
    int descriptor;
    int columns, rows;   /* of the terminal; 0: not known yet */
    int left, top, high; /* the part of it that shows light: cells */
    Layout layout;
    ScreenTable screen;
    float *light;   /* one colour a dot */
    uint8_t *bytes; /* the same for the screen */
    Cell *shown, *next;
    bool fresh;   /* nothing of ours is on the screen */
    char *output; /* what is still to be written: sent .. length */
    size_t length, sent;
    char title[TEXT_LONGEST], detail[TEXT_LONGEST], keys[TEXT_LONGEST], note[TEXT_LONGEST];
    double done;
} Terminal;

static const char terminal_trouble[] = "cannot write to the terminal";
static const char terminal_enter[] = "\x1b[?1049h\x1b[?25l\x1b[0m\x1b[2J";
static const char terminal_leave[] = "\x1b[?2026l\x1b[0m\x1b[?25h\x1b[?1049l";

/* The terminal to give back in terminal_leave_now; -1: none. */
static volatile sig_atomic_t terminal_taken = -1;

/* Without waiting longer than a moment for a terminal that takes nothing. */
static void terminal_say(int descriptor, const char *text, size_t length) {
    for (int tries = 0; length > 0 && tries < 20; tries++) {
        ssize_t written = write(descriptor, text, length);
        if (written > 0) {
            text += written;
            length -= (size_t)written;
            continue;
        }
        if (written < 0 && errno != EAGAIN && errno != EINTR)
            return;
        struct pollfd waiting = {.fd = descriptor, .events = POLLOUT};
        poll(&waiting, 1, 50);
    }
}

void terminal_leave_now(void) {
    if (terminal_taken < 0)
        return;
    terminal_say(terminal_taken, terminal_leave, sizeof terminal_leave - 1);
    terminal_taken = -1;
}

void terminal_pause(Backend *backend) {
    (void)backend;
    terminal_leave_now();
}

void terminal_resume(Backend *backend) {
    Terminal *terminal = (Terminal *)backend;
    terminal->length = terminal->sent = 0;
    terminal->fresh = true;
    terminal_taken = terminal->descriptor;
    terminal_say(terminal->descriptor, terminal_enter, sizeof terminal_enter - 1);
}

/* The terminal opened anew, so that not blocking is ours alone and not also the shell's. */
static int terminal_reopen(int descriptor) {
    char path[256];
    if (ttyname_r(descriptor, path, sizeof path) == 0) {
        int again = open(path, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
        if (again >= 0)
            return again;
    }
    return fcntl(descriptor, F_DUPFD_CLOEXEC, 0);
}

static void terminal_unsize(Terminal *terminal) {
    layout_release(&terminal->layout);
    memory_release(terminal->light);
    memory_release(terminal->bytes);
    memory_release(terminal->shown);
    memory_release(terminal->next);
    memory_release(terminal->output);
    terminal->light = NULL;
    terminal->bytes = NULL;
    terminal->shown = terminal->next = NULL;
    terminal->output = NULL;
    terminal->columns = terminal->rows = 0;
}

static Backend *terminal_open(const BackendOptions *options, BackendError *error) {
    Terminal *terminal = memory_allocate(1, sizeof *terminal);
    if (terminal == NULL) {
        backend_say(error, terminal_trouble, ENOMEM);
        return NULL;
    }
    terminal->backend.kind = &terminal_backend;
    terminal->options = *options;
    terminal->own = *(const TerminalOptions *)options->own;
    terminal->done = -1.0;
    terminal->descriptor = terminal_reopen(options->descriptor);
    if (terminal->descriptor < 0) {
        backend_say(error, terminal_trouble, errno);
        memory_release(terminal);
        return NULL;
    }
    encode_screen_table(&terminal->screen);
    terminal_resume(&terminal->backend);
    return &terminal->backend;
}

static void terminal_size(const Terminal *terminal, int *columns, int *rows) {
    struct winsize size = {0};
    *columns = terminal->own.columns;
    *rows = terminal->own.rows;
    if (*columns == 0 && ioctl(terminal->descriptor, TIOCGWINSZ, &size) == 0) {
        *columns = size.ws_col;
        *rows = size.ws_row;
    }
    *columns = *columns < 1 ? 80 : *columns > COLUMNS_MOST ? COLUMNS_MOST : *columns;
    *rows = *rows < 1 ? 24 : *rows > ROWS_MOST ? ROWS_MOST : *rows;
}

/* A rim of ground round the light where there is room for one. */
static void terminal_arrange(Terminal *terminal, LayoutRequest *request) {
    int below = terminal->own.status && terminal->rows > 4 ? 2 : 0;
    int rim = terminal->columns >= 24 && terminal->rows >= 12 ? 1 : 0;
    terminal->left = 2 * rim;
    terminal->top = rim;
    terminal->high = terminal->rows - below - 2 * rim;
    *request = (LayoutRequest){.arrangement = terminal->own.arrangement,
                               .pixels = terminal->options.pixels,
                               .x = terminal->own.x,
                               .y = terminal->own.y,
                               .z = terminal->own.z,
                               .across = terminal->own.across,
                               .up = terminal->own.up,
                               .width = terminal->columns - 4 * rim,
                               .height = 2 * terminal->high};
}

static bool terminal_resize(Terminal *terminal, int columns, int rows) {
    LayoutRequest request;
    terminal_unsize(terminal);
    terminal->columns = columns;
    terminal->rows = rows;
    terminal->fresh = true;
    terminal_arrange(terminal, &request);
    size_t cells = (size_t)columns * (size_t)rows;
    size_t dots = (size_t)request.width * (size_t)request.height;
    terminal->light = memory_allocate(dots, 3 * sizeof *terminal->light);
    terminal->bytes = memory_allocate(dots, 3);
    terminal->shown = memory_allocate(cells, sizeof *terminal->shown);
    terminal->next = memory_allocate(cells, sizeof *terminal->next);
    terminal->output = memory_allocate(cells * CELL_LONGEST + FRAME_ROUND, 1);
    bool fine = terminal->light != NULL && terminal->bytes != NULL && terminal->shown != NULL &&
                terminal->next != NULL && terminal->output != NULL &&
                layout_create(&terminal->layout, &request);
    if (!fine)
        terminal_unsize(terminal);
    return fine;
}

/* Soft edges need more colours than a palette has. */
static int terminal_cover(const Terminal *terminal, size_t dot) {
    int cover = terminal->layout.cover[dot];
    if (terminal->own.depth == DEPTH_TRUE)
        return cover;
    return cover >= 64 ? 255 : 0;
}

/* The mean light of each dot, then its bytes, with the ground where pixels cover it partly. */
static void terminal_dots(Terminal *terminal, const float *light) {
    const Layout *layout = &terminal->layout;
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    for (size_t dot = 0; dot < dots; dot++) {
        float *sum = terminal->light + 3 * dot;
        uint32_t first = layout->first[dot], end = layout->first[dot + 1];
        sum[0] = sum[1] = sum[2] = 0.0f;
        for (uint32_t i = first; i < end; i++) {
            float pixel[3];
            encode_gamut(light + 3 * (size_t)layout->pixels[i], 1, pixel);
            for (int channel = 0; channel < 3; channel++)
                sum[channel] += pixel[channel] / (float)(end - first);
        }
    }
    encode_screen(&terminal->screen, terminal->light, dots, terminal->bytes);
    const int ground[3] = {shade_ground.r, shade_ground.g, shade_ground.b};
    for (size_t dot = 0; dot < dots; dot++)
        for (size_t channel = 0; channel < 3; channel++) {
            uint8_t *byte = &terminal->bytes[3 * dot + channel];
            int cover = terminal_cover(terminal, dot);
            *byte = (uint8_t)((*byte * cover + ground[channel] * (255 - cover) + 127) / 255);
        }
}

static uint32_t terminal_code(const Terminal *terminal, Shade shade) {
    return palette_code(terminal->own.depth, shade.r, shade.g, shade.b);
}

/* Two dots as one cell. */
static Cell terminal_cell(const Terminal *terminal, size_t above, size_t below) {
    Depth depth = terminal->own.depth;
    const uint8_t *a = terminal->bytes + 3 * above, *b = terminal->bytes + 3 * below;
    Shade mean = {(uint8_t)((a[0] + b[0] + 1) / 2), (uint8_t)((a[1] + b[1] + 1) / 2),
                  (uint8_t)((a[2] + b[2] + 1) / 2)};
    if (depth == DEPTH_NONE) {
        int cover = terminal->layout.cover[above] + terminal->layout.cover[below];
        char letter = cover < 192 ? ' ' : palette_letter(mean.r, mean.g, mean.b);
        return (Cell){(uint32_t)letter, 0, 0};
    }
    if (terminal->own.ascii)
        return (Cell){' ', 0, terminal_code(terminal, mean)};
    uint32_t front = palette_code(depth, a[0], a[1], a[2]);
    uint32_t ground = palette_code(depth, b[0], b[1], b[2]);
    return front == ground ? (Cell){' ', 0, ground} : (Cell){LETTER_HALF, front, ground};
}

static void terminal_light(Terminal *terminal) {
    size_t width = (size_t)terminal->layout.width;
    for (int row = 0; row < terminal->high; row++) {
        size_t above = 2 * (size_t)row * width;
        Cell *cell = terminal->next + (size_t)(terminal->top + row) * (size_t)terminal->columns +
                     terminal->left;
        for (size_t column = 0; column < width; column++)
            cell[column] = terminal_cell(terminal, above + column, above + width + column);
    }
}

/* The next code point of UTF-8; what is no text becomes `?`; 0 at the end. */
static uint32_t terminal_letter(const char **text) {
    const unsigned char *byte = (const unsigned char *)*text;
    int more = *byte < 0x80 ? 0 : *byte < 0xE0 ? 1 : *byte < 0xF0 ? 2 : 3;
    uint32_t letter = *byte & (more == 0 ? 0x7Fu : 0x3Fu >> more);
    if (*byte == '\0')
        return 0;
    byte++;
    for (; more > 0 && (*byte & 0xC0) == 0x80; more--)
        letter = letter << 6 | (*byte++ & 0x3Fu);
    *text = (const char *)byte;
    return more > 0 || letter < 32 || (letter >= 127 && letter < 160) ? '?' : letter;
}

static int terminal_text_width(const char *text) {
    int width = 0;
    while (terminal_letter(&text) != 0)
        width++;
    return width;
}

/* Gives the column behind the text; what does not fit is cut. */
static int terminal_text(Terminal *terminal, int column, int row, const char *text, Shade shade) {
    uint32_t letter;
    for (; (letter = terminal_letter(&text)) != 0; column++)
        if (column >= 0 && column < terminal->columns && row >= 0 && row < terminal->rows)
            terminal->next[row * terminal->columns + column] = (Cell){
                letter, terminal_code(terminal, shade), terminal_code(terminal, shade_ground)};
    return column;
}

static void terminal_done(Terminal *terminal, int row) {
    int from = 2, width = terminal->columns - 4;
    if (terminal->done < 0.0 || width < 1)
        return;
    int filled = (int)(terminal->done * width + 0.5);
    for (int i = 0; i < width; i++) {
        bool done = i < filled, plain = terminal->own.ascii;
        uint32_t letter = done ? (plain ? '=' : LETTER_DONE) : (plain ? '-' : LETTER_LEFT);
        terminal->next[row * terminal->columns + from + i] =
            (Cell){letter, terminal_code(terminal, done ? shade_text : shade_mark),
                   terminal_code(terminal, shade_ground)};
    }
}

/* As many of the keys as there is room for; three spaces part them. */
static void terminal_keys(Terminal *terminal, int row, int from) {
    char keys[TEXT_LONGEST], *last;
    memcpy(keys, terminal->keys, sizeof keys);
    while (terminal->columns - 2 - terminal_text_width(keys) < from &&
           (last = strstr(keys, "   ")) != NULL) {
        for (char *next = last; (next = strstr(next + 1, "   ")) != NULL;)
            last = next;
        *last = '\0';
    }
    int column = terminal->columns - 2 - terminal_text_width(keys);
    if (column >= from)
        terminal_text(terminal, column, row, keys, shade_keys);
}

static void terminal_texts(Terminal *terminal) {
    for (int i = 0; i < terminal->layout.label_count; i++) {
        const LayoutLabel *label = &terminal->layout.labels[i];
        int row = (label->below + 1) / 2;
        if (row < terminal->high)
            terminal_text(terminal,
                          terminal->left + label->middle - terminal_text_width(label->text) / 2,
                          terminal->top + row, label->text, shade_text);
    }
    if (!terminal->own.status || terminal->rows <= 4)
        return;
    int row = terminal->rows - 1;
    terminal_done(terminal, row - 1);
    if (terminal->done < 0.0)
        terminal_text(terminal, 2, row - 1, terminal->note, shade_text);
    int column = terminal_text(terminal, 2, row, terminal->title, shade_title);
    column = terminal_text(terminal, column + 2, row, terminal->detail, shade_text);
    terminal_keys(terminal, row, column + 3);
}

static char *terminal_utf8(char *into, uint32_t letter) {
    if (letter < 0x80) {
        *into++ = (char)letter;
    } else if (letter < 0x800) {
        *into++ = (char)(0xC0 | letter >> 6);
        *into++ = (char)(0x80 | (letter & 0x3F));
    } else if (letter < 0x10000) {
        *into++ = (char)(0xE0 | letter >> 12);
        *into++ = (char)(0x80 | (letter >> 6 & 0x3F));
        *into++ = (char)(0x80 | (letter & 0x3F));
    } else {
        *into++ = (char)(0xF0 | letter >> 18);
        *into++ = (char)(0x80 | (letter >> 12 & 0x3F));
        *into++ = (char)(0x80 | (letter >> 6 & 0x3F));
        *into++ = (char)(0x80 | (letter & 0x3F));
    }
    return into;
}

static char *terminal_append(char *into, const char *text) {
    while (*text != '\0')
        *into++ = *text++;
    return into;
}

static char *terminal_move(char *into, size_t column, size_t row) {
    char text[48];
    snprintf(text, sizeof text, "\x1b[%zu;%zuH", row + 1, column + 1);
    return terminal_append(into, text);
}

static bool cell_same(const Cell *a, const Cell *b) {
    return a->letter == b->letter && a->front == b->front && a->ground == b->ground;
}

/* Only the cells that differ from what is shown; 0 characters where none does. */
static void terminal_compose(Terminal *terminal) {
    Depth depth = terminal->own.depth;
    char *next = terminal_append(terminal->output, "\x1b[?2026h");
    size_t count = (size_t)terminal->columns * (size_t)terminal->rows, behind = SIZE_MAX;
    uint32_t front = UINT32_MAX, ground = UINT32_MAX;
    bool changed = false;
    for (size_t i = 0; i < count; i++) {
        const Cell *cell = &terminal->next[i];
        if (!terminal->fresh && cell_same(cell, &terminal->shown[i]))
            continue;
        size_t column = i % (size_t)terminal->columns;
        if (behind != i || column == 0)
            next = terminal_move(next, column, i / (size_t)terminal->columns);
        if (cell->ground != ground)
            next += palette_sequence(depth, true, cell->ground, next);
        ground = cell->ground;
        if (cell->letter != ' ' && cell->front != front) {
            next += palette_sequence(depth, false, cell->front, next);
            front = cell->front;
        }
        next = terminal_utf8(next, cell->letter);
        behind = i + 1;
        changed = true;
    }
    next = terminal_append(next, "\x1b[?2026l");
    terminal->length = changed ? (size_t)(next - terminal->output) : 0;
    terminal->sent = 0;
    terminal->fresh = false;
    Cell *old = terminal->shown;
    terminal->shown = terminal->next;
    terminal->next = old;
}

/* Writes what the terminal takes now. */
static BackendResult terminal_send(Terminal *terminal, BackendError *error) {
    while (terminal->sent < terminal->length) {
        ssize_t written = write(terminal->descriptor, terminal->output + terminal->sent,
                                terminal->length - terminal->sent);
        if (written >= 0) {
            terminal->sent += (size_t)written;
        } else if (errno == EAGAIN) {
            return BACKEND_BUSY;
        } else if (errno != EINTR) {
            backend_say(error, terminal_trouble, errno);
            return BACKEND_FAILED;
        }
    }
    return BACKEND_FINE;
}

static BackendResult terminal_frame(Backend *backend, const BackendFrame *frame,
                                    BackendError *error) {
    Terminal *terminal = (Terminal *)backend;
    BackendResult before = terminal_send(terminal, error);
    if (before != BACKEND_FINE)
        return before;
    int columns, rows;
    terminal_size(terminal, &columns, &rows);
    if ((columns != terminal->columns || rows != terminal->rows) &&
        !terminal_resize(terminal, columns, rows)) {
        backend_say(error, terminal_trouble, ENOMEM);
        return BACKEND_FAILED;
    }
    Cell blank = {' ', 0, terminal_code(terminal, shade_ground)};
    for (size_t i = 0; i < (size_t)columns * (size_t)rows; i++)
        terminal->next[i] = blank;
    terminal_dots(terminal, frame->light);
    terminal_light(terminal);
    terminal_texts(terminal);
    terminal_compose(terminal);
    /* Where not all goes out now, BUSY asks for another frame: the rest goes out before it. */
    return terminal_send(terminal, error);
}

static BackendResult terminal_close(Backend *backend, BackendError *error) {
    (void)error;
    Terminal *terminal = (Terminal *)backend;
    terminal_leave_now();
    terminal_unsize(terminal);
    close(terminal->descriptor);
    memory_release(terminal);
    return BACKEND_FINE;
}

static void terminal_copy(char *into, const char *text) {
    snprintf(into, TEXT_LONGEST, "%s", text == NULL ? "" : text);
}

void terminal_status(Backend *backend, const TerminalStatus *status) {
    Terminal *terminal = (Terminal *)backend;
    terminal_copy(terminal->title, status->title);
    terminal_copy(terminal->detail, status->detail);
    terminal_copy(terminal->keys, status->keys);
    terminal_copy(terminal->note, status->note);
    terminal->done = status->done > 1.0 ? 1.0 : status->done;
}

const BackendKind terminal_backend = {.name = "terminal",
                                      .takes_light = true,
                                      .open = terminal_open,
                                      .frame = terminal_frame,
                                      .close = terminal_close};
