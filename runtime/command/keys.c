#include "runtime/command/keys.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "backends/terminal.h"
#include "runtime/player/clock.h"

enum { ESCAPE = 0x1b };

int64_t keys_now(void) {
    return clock_system_now().monotonic;
}

/* ---- keys ---- */

static Key keys_plain(unsigned char byte) {
    switch (byte) {
    case ' ':
        return KEY_SPACE;
    case '+':
    case '=':
        return KEY_FASTER;
    case '-':
    case '_':
        return KEY_SLOWER;
    case 'n':
    case 'N':
        return KEY_NEXT;
    case '\r':
    case '\n':
        return KEY_ENTER;
    case 'b':
    case 'B':
        return KEY_BACK;
    case 'q':
    case 'Q':
        return KEY_QUIT;
    default:
        return KEY_NONE;
    }
}

static Key keys_arrow(unsigned char byte) {
    switch (byte) {
    case 'A':
        return KEY_UP;
    case 'B':
        return KEY_DOWN;
    case 'C':
        return KEY_RIGHT;
    case 'D':
        return KEY_LEFT;
    default:
        return KEY_NONE;
    }
}

/* Bytes of the key at the front; 0: it has only begun. */
static int keys_length(const KeyBuffer *buffer) {
    if (buffer->bytes[0] != ESCAPE)
        return 1;
    if (buffer->count < 2)
        return 0;
    if (buffer->bytes[1] != '[' && buffer->bytes[1] != 'O')
        return 1;
    for (int i = 2; i < buffer->count; i++)
        if (buffer->bytes[i] >= 0x40 && buffer->bytes[i] <= 0x7e)
            return i + 1;
    return buffer->count == KEYS_HELD ? KEYS_HELD : 0;
}

Key keys_take(KeyBuffer *buffer, bool all) {
    while (buffer->count > 0) {
        int length = keys_length(buffer);
        if (length == 0 && !all)
            return KEY_NONE;
        length = length == 0 ? buffer->count : length;
        Key key = length == 1 ? keys_plain(buffer->bytes[0]) : KEY_NONE;
        if (length == 3 && buffer->bytes[0] == ESCAPE)
            key = keys_arrow(buffer->bytes[2]);
        buffer->count -= length;
        memmove(buffer->bytes, buffer->bytes + length, (size_t)buffer->count);
        if (key != KEY_NONE)
            return key;
    }
    return KEY_NONE;
}

/* ---- the terminal and signals: there is one of each in a process ---- */

static const int keys_ends[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
static const int keys_crashes[] = {SIGSEGV, SIGABRT, SIGBUS, SIGFPE, SIGILL};
enum {
    ENDS = sizeof keys_ends / sizeof *keys_ends,
    CRASHES = sizeof keys_crashes / sizeof *keys_crashes
};

static int keys_input = -1; /* the terminal that keys are read from, or -1 */
static struct termios keys_before;
static volatile sig_atomic_t keys_held; /* its settings are ours */
static volatile sig_atomic_t keys_ended, keys_suspended, keys_resized;
static sigset_t keys_mask_before;
static unsigned char keys_stack[1 << 14]; /* for a crash by a stack that is full */

static void keys_on_signal(int number) {
    if (number == SIGTSTP)
        keys_suspended = 1;
    else if (number == SIGWINCH)
        keys_resized = 1;
    else
        keys_ended = number;
}

/* Gives the terminal's settings back; keys_hold takes them again. */
static void keys_release(void) {
    if (keys_held)
        tcsetattr(keys_input, TCSADRAIN, &keys_before);
    keys_held = 0;
}

/* The screen and the settings first, then the crash as it would have been. */
static void keys_on_crash(int number) {
    terminal_leave_now();
    keys_release();
    signal(number, SIG_DFL);
    raise(number);
}

static void keys_hold(void) {
    if (keys_input < 0 || keys_held)
        return;
    struct termios raw = keys_before;
    cfmakeraw(&raw);
    raw.c_lflag |= ISIG;
    raw.c_oflag |= OPOST;
    keys_held = 1;
    tcsetattr(keys_input, TCSADRAIN, &raw);
}

static void keys_handle(int number, void (*handler)(int), int flags) {
    struct sigaction action = {0};
    action.sa_handler = handler;
    action.sa_flags = flags;
    sigemptyset(&action.sa_mask);
    sigaction(number, &action, NULL);
}

/* What is ignored, as `nohup` asks, stays so. */
static void keys_handle_end(int number, bool ours) {
    struct sigaction before;
    if (sigaction(number, NULL, &before) == 0 && before.sa_handler != SIG_IGN)
        keys_handle(number, ours ? keys_on_signal : SIG_DFL, 0);
}

static void keys_handlers(bool ours) {
    stack_t stack = {.ss_sp = keys_stack, .ss_size = sizeof keys_stack};
    stack.ss_flags = ours ? 0 : SS_DISABLE;
    sigaltstack(&stack, NULL);
    for (int i = 0; i < ENDS; i++)
        keys_handle_end(keys_ends[i], ours);
    for (int i = 0; i < CRASHES; i++)
        keys_handle(keys_crashes[i], ours ? keys_on_crash : SIG_DFL, ours ? (int)SA_ONSTACK : 0);
    keys_handle_end(SIGTSTP, ours);
    keys_handle(SIGWINCH, ours ? keys_on_signal : SIG_DFL, 0);
    keys_handle(SIGPIPE, ours ? SIG_IGN : SIG_DFL, 0);
}

bool keys_begin(int input) {
    sigset_t mask;
    sigemptyset(&mask);
    for (int i = 0; i < ENDS; i++)
        sigaddset(&mask, keys_ends[i]);
    sigaddset(&mask, SIGTSTP);
    sigaddset(&mask, SIGWINCH);
    sigprocmask(SIG_BLOCK, &mask, &keys_mask_before);
    keys_ended = keys_suspended = keys_resized = 0;
    bool ours =
        isatty(input) && tcgetpgrp(input) == getpgrp() && tcgetattr(input, &keys_before) == 0;
    keys_input = ours ? input : -1;
    keys_handlers(true);
    keys_hold();
    return ours;
}

void keys_end(void) {
    keys_release();
    keys_handlers(false);
    keys_input = -1;
    sigprocmask(SIG_SETMASK, &keys_mask_before, NULL);
}

int keys_signal(void) {
    return keys_ended;
}

/* Adds what is there; false: the terminal is gone. */
static bool keys_read(KeyBuffer *buffer) {
    if (buffer->count == KEYS_HELD)
        return true;
    ssize_t got =
        read(keys_input, buffer->bytes + buffer->count, (size_t)(KEYS_HELD - buffer->count));
    if (got > 0)
        buffer->count += (int)got;
    return got > 0 || (got < 0 && (errno == EINTR || errno == EAGAIN));
}

static struct timespec keys_rest(int64_t until) {
    int64_t rest = until - keys_now();
    rest = rest < 0 ? 0 : rest;
    return (struct timespec){.tv_sec = (time_t)(rest / 1000000),
                             .tv_nsec = (long)(rest % 1000000) * 1000};
}

/* What the signals that came ask for. */
static bool keys_flagged(Wake *wake) {
    if (keys_ended != 0) {
        *wake = WAKE_END;
        return true;
    }
    if (keys_suspended || keys_resized) {
        *wake = keys_suspended ? WAKE_SUSPEND : WAKE_RESIZE;
        keys_suspended = keys_resized = 0;
        return true;
    }
    return false;
}

Wake keys_wait(KeyBuffer *buffer, int64_t until) {
    for (;;) {
        Wake wake;
        struct timespec rest = keys_rest(until);
        struct pollfd waiting = {.fd = keys_input, .events = POLLIN};
        int ready = ppoll(&waiting, 1, until == INT64_MAX ? NULL : &rest, &keys_mask_before);
        if (keys_flagged(&wake))
            return wake;
        if (ready == 0)
            return WAKE_TIME;
        if (ready > 0 && keys_read(buffer))
            return WAKE_KEY;
        if (ready > 0)
            keys_input = -1; /* no more keys; the light goes on */
    }
}

void keys_suspend(void) {
    sigset_t mask, before;
    keys_release();
    keys_handle(SIGTSTP, SIG_DFL, 0);
    sigemptyset(&mask);
    sigaddset(&mask, SIGTSTP);
    raise(SIGTSTP);
    sigprocmask(SIG_UNBLOCK, &mask, &before); /* stops here */
    sigprocmask(SIG_SETMASK, &before, NULL);
    keys_handle(SIGTSTP, keys_on_signal, 0);
    keys_hold();
}
