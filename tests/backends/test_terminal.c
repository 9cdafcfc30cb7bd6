/* The preview's frames as a terminal takes them: through a pseudo-terminal into the small emulator
 * of tests/support/screen.c. */
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <cmocka.h>

#include "backends/terminal.h"
#include "runtime/core/memory.h"
#include "tests/support/screen.h"

enum { PIXELS = 8 };

typedef struct Stage {
    int master, slave;
    TerminalOptions own;
    BackendOptions options;
    Backend *backend;
    Screen screen;
    float light[3 * PIXELS];
    int columns;
    size_t bytes; /* taken by the last stage_take */
} Stage;

static Stage stage;

static void stage_size(int columns, int rows) {
    struct winsize size = {.ws_col = (unsigned short)columns, .ws_row = (unsigned short)rows};
    stage.columns = columns;
    assert_int_equal(ioctl(stage.slave, TIOCSWINSZ, &size), 0);
}

/* A strip of 8 pixels: on 84 by 14 cells each is 9 dots and a gap wide, in rows 4 to 6 */
static void stage_open(Depth depth, bool ascii) {
    struct termios raw;
    BackendError error;
    memset(&stage, 0, sizeof stage);
    stage.master = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(stage.master >= 0 && grantpt(stage.master) == 0 && unlockpt(stage.master) == 0);
    stage.slave = open(ptsname(stage.master), O_RDWR | O_NOCTTY);
    assert_true(stage.slave >= 0);
    tcgetattr(stage.slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(stage.slave, TCSANOW, &raw);
    stage_size(84, 14);
    screen_start(&stage.screen);
    stage.own = (TerminalOptions){
        .arrangement = ARRANGE_STRIP, .depth = depth, .ascii = ascii, .status = true};
    stage.options =
        (BackendOptions){.pixels = PIXELS, .descriptor = stage.slave, .own = &stage.own};
    stage.backend = terminal_backend.open(&stage.options, &error);
    assert_non_null(stage.backend);
}

/* All that was written so far, into the emulator. */
static void stage_take(void) {
    char bytes[4096];
    struct pollfd waiting = {.fd = stage.master, .events = POLLIN};
    stage.bytes = 0;
    while (poll(&waiting, 1, 20) > 0 && (waiting.revents & POLLIN) != 0) {
        ssize_t got = read(stage.master, bytes, sizeof bytes);
        assert_true(got > 0);
        screen_take(&stage.screen, bytes, (size_t)got);
        stage.bytes += (size_t)got;
    }
    assert_int_equal(stage.screen.unknown, 0);
}

static BackendResult stage_frame(void) {
    BackendError error;
    const BackendFrame frame = {0, 0, stage.light, NULL};
    return terminal_backend.frame(stage.backend, &frame, &error);
}

static void stage_show(void) {
    assert_int_equal(stage_frame(), BACKEND_FINE);
    stage_take();
}

/* A frame too large for the terminal's buffer goes out piece by piece. */
static void stage_settle(void) {
    for (int i = 0; i < 200; i++) {
        assert_int_not_equal(stage_frame(), BACKEND_FAILED);
        stage_take();
        if (stage.bytes == 0)
            return;
    }
    fail_msg("the frame never ends");
}

static void stage_close(void) {
    BackendError error;
    assert_int_equal(terminal_backend.close(stage.backend, &error), BACKEND_FINE);
    stage_take();
    assert_false(stage.screen.alternate);
    assert_true(stage.screen.cursor);
    assert_false(stage.screen.together);
    close(stage.slave);
    close(stage.master);
}

static void light(int pixel, float r, float g, float b) {
    stage.light[3 * pixel] = r;
    stage.light[3 * pixel + 1] = g;
    stage.light[3 * pixel + 2] = b;
}

/* The cell in the middle of a pixel. */
static const ScreenCell *pixel_cell(int pixel) {
    return &stage.screen.cells[5][2 + 10 * pixel + 4];
}

/* Codes of CSS Color 4's sRGB: 0.5 is 188, 0.25 is 137. */
static void test_colours(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    light(0, 1, 0, 0);
    light(1, 0, 0.5f, 0);
    light(2, 4, -1, 2); /* the gamut step */
    light(7, 0.25f, 0.25f, 0.25f);
    stage_show();
    assert_true(stage.screen.alternate);
    assert_false(stage.screen.cursor);
    assert_int_equal(stage.screen.frames, 1);
    assert_int_equal(pixel_cell(0)->ground, 0xff0000);
    assert_int_equal(pixel_cell(1)->ground, 0x00bc00);
    assert_int_equal(pixel_cell(2)->ground, 0xff00bc);
    assert_int_equal(pixel_cell(3)->ground, 0x000000);
    assert_int_equal(pixel_cell(7)->ground, 0x898989);
    assert_int_equal(stage.screen.cells[0][0].ground, 0x16181d);
    stage_close();
}

static void test_256(void **state) {
    (void)state;
    stage_open(DEPTH_256, false);
    light(0, 1, 0, 0);
    stage_show();
    assert_int_equal(pixel_cell(0)->ground, SCREEN_INDEX + 196);
    assert_int_equal(pixel_cell(1)->ground, SCREEN_INDEX + 16);
    stage_close();
}

static void test_16(void **state) {
    (void)state;
    stage_open(DEPTH_16, false);
    light(0, 1, 0, 0);
    stage_show();
    assert_int_equal(pixel_cell(0)->ground, SCREEN_INDEX + 9);
    stage_close();
}

/* Two dots in one cell: the upper one is the letter, the lower one the ground. */
static void test_half_blocks(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    double x[PIXELS], y[PIXELS];
    for (int i = 0; i < PIXELS; i++) {
        x[i] = 0;
        y[i] = (2.0 * i + 1 - PIXELS) / PIXELS; /* a column, pixel 7 above */
    }
    BackendError error;
    terminal_backend.close(stage.backend, &error);
    stage.own = (TerminalOptions){.arrangement = ARRANGE_GRID,
                                  .depth = DEPTH_TRUE,
                                  .x = x,
                                  .y = y,
                                  .across = 1,
                                  .up = PIXELS,
                                  .columns = 20,
                                  .rows = 4};
    stage.backend = terminal_backend.open(&stage.options, &error);
    for (int i = 0; i < PIXELS; i++)
        light(i, i % 2 == 0 ? 1 : 0, 0, i % 2 == 0 ? 0 : 1);
    stage_show();
    for (int row = 0; row < 4; row++) {
        const ScreenCell *cell = &stage.screen.cells[row][9];
        assert_int_equal(cell->letter, 0x2580);
        assert_int_equal(cell->front, 0x0000ff);
        assert_int_equal(cell->ground, 0xff0000);
    }
    stage_close();
}

/* Without colours there is not one sequence of colour and a bright pixel is another letter. */
static void test_no_colours(void **state) {
    (void)state;
    stage_open(DEPTH_NONE, true);
    light(0, 1, 1, 1);
    light(1, 0.2f, 0.2f, 0.2f);
    stage_show();
    assert_int_equal(pixel_cell(0)->letter, '@');
    assert_int_equal(pixel_cell(1)->letter, '+'); /* 124 of 255: the middle of nine letters */
    assert_int_equal(pixel_cell(2)->letter, '.');
    for (int row = 0; row < 14; row++)
        for (int column = 0; column < 84; column++) {
            assert_int_equal(stage.screen.cells[row][column].ground, SCREEN_DEFAULT);
            assert_int_equal(stage.screen.cells[row][column].front, SCREEN_DEFAULT);
            assert_true(stage.screen.cells[row][column].letter < 127);
        }
    stage_close();
}

static void test_ascii(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, true);
    terminal_status(stage.backend, &(TerminalStatus){.title = "daybreak", .done = 0.5});
    light(0, 1, 0, 0);
    stage_show();
    assert_int_equal(pixel_cell(0)->ground, 0xff0000);
    for (int row = 0; row < 14; row++)
        for (int column = 0; column < 84; column++)
            assert_true(stage.screen.cells[row][column].letter < 127);
    stage_close();
}

/* A frame like the one before is not written; one pixel costs no more than its cells. */
static void test_only_changes(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    stage_show();
    size_t first = stage.bytes;
    stage_show();
    assert_int_equal(stage.bytes, 0);
    light(3, 0, 0, 1);
    stage_show();
    assert_true(stage.bytes > 0 && stage.bytes < first / 4);
    assert_int_equal(pixel_cell(3)->ground, 0x0000ff);
    assert_int_equal(stage.screen.frames, 2);
    stage_close();
}

static void row_says(int row, const char *wanted) {
    char text[SCREEN_COLUMNS + 1];
    screen_text(&stage.screen, row, stage.columns, text);
    assert_string_equal(text, wanted);
}

static void test_status(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, true);
    const TerminalStatus status = {"daybreak", "12:30 of 30:00", "q quit   space pause   n next",
                                   "not seen beside a line that fills", 0.25};
    terminal_status(stage.backend, &status);
    stage_show();
    row_says(12,
             "  ====================------------------------------------------------------------");
    row_says(13,
             "  daybreak  12:30 of 30:00                           q quit   space pause   n next");
    stage_size(40, 14);
    stage_show();
    row_says(13, "  daybreak  12:30 of 30:00      q quit"); /* the keys that there is room for */
    const TerminalStatus strange = {"\x1b[31m\xff", "a\tb", NULL, NULL, -1};
    terminal_status(stage.backend, &strange);
    stage_show();
    row_says(12, "");
    row_says(13, "  ?[31m?  a?b");
    const TerminalStatus told = {"rest", "02:00", NULL, "a page: http://localhost:8080/\x1b[2J",
                                 -1};
    terminal_status(stage.backend, &told);
    stage_show();
    row_says(12, "  a page: http://localhost:8080/?[2J");
    row_says(13, "  rest  02:00");
    stage_close();
}

/* A new size is drawn in full at the next frame, whatever it is. */
static void test_resize(void **state) {
    (void)state;
    const int sizes[][2] = {{40, 20}, {1, 1}, {2, 1}, {200, 100}, {24, 12}, {84, 14}};
    stage_open(DEPTH_TRUE, false);
    light(0, 1, 0, 0);
    stage_show();
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        stage_size(sizes[i][0], sizes[i][1]);
        size_t frames = stage.screen.frames;
        stage_settle();
        assert_int_equal(stage.screen.frames, frames + 1);
        int red = 0;
        for (int row = 0; row < sizes[i][1]; row++)
            for (int column = 0; column < sizes[i][0]; column++)
                red += stage.screen.cells[row][column].ground == 0xff0000 ||
                       stage.screen.cells[row][column].front == 0xff0000;
        assert_true(red > 0 || sizes[i][1] == 1);
    }
    assert_int_equal(pixel_cell(0)->ground, 0xff0000);
    stage_close();
}

/* Nobody reads: frames are dropped at once, nothing waits; later the newest light is shown. */
static void test_slow_terminal(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    stage_size(200, 100);
    int busy = 0;
    for (int i = 0; i < 200; i++) {
        light(i % PIXELS, (float)(i % 7) / 7, 0.5f, (float)(i % 3) / 3);
        stage_size(200, 99 + i % 2); /* all of it again */
        busy += stage_frame() == BACKEND_BUSY;
    }
    assert_true(busy > 150);
    stage_size(84, 14);
    for (int i = 0; i < PIXELS; i++)
        light(i, 0, 1, 0);
    stage_settle();
    for (int i = 0; i < PIXELS; i++)
        assert_int_equal(pixel_cell(i)->ground, 0x00ff00);
    stage_close();
}

static void test_pause(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    light(0, 1, 0, 0);
    stage_show();
    terminal_pause(stage.backend);
    stage_take();
    assert_false(stage.screen.alternate);
    assert_true(stage.screen.cursor);
    terminal_resume(stage.backend);
    stage_show();
    assert_true(stage.screen.alternate);
    assert_int_equal(pixel_cell(0)->ground, 0xff0000);
    terminal_leave_now(); /* as a handler of a signal would */
    stage_take();
    assert_false(stage.screen.alternate);
    stage_close();
    terminal_leave_now(); /* nothing is open any more */
}

static void test_gone(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    stage_show();
    close(stage.master);
    light(0, 1, 1, 1);
    assert_int_equal(stage_frame(), BACKEND_FAILED);
    BackendError error;
    terminal_backend.close(stage.backend, &error);
    close(stage.slave);
}

static void test_no_memory(void **state) {
    (void)state;
    stage_open(DEPTH_TRUE, false);
    unsigned long live = memory_live();
    for (unsigned long n = 1; n <= 9; n++) {
        memory_fail_at(n);
        assert_int_equal(stage_frame(), BACKEND_FAILED);
        memory_fail_at(0);
        assert_int_equal(memory_live(), live);
    }
    stage_show();
    stage_close();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_colours),      cmocka_unit_test(test_256),
        cmocka_unit_test(test_16),           cmocka_unit_test(test_half_blocks),
        cmocka_unit_test(test_no_colours),   cmocka_unit_test(test_ascii),
        cmocka_unit_test(test_only_changes), cmocka_unit_test(test_status),
        cmocka_unit_test(test_resize),       cmocka_unit_test(test_slow_terminal),
        cmocka_unit_test(test_pause),        cmocka_unit_test(test_gone),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
