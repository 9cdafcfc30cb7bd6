/* The keyboard of a terminal, key by key, and the signals of a program that owns the screen. The
 * terminal's settings are put back on every way out. */
#ifndef GLOAM_COMMAND_KEYS_H
#define GLOAM_COMMAND_KEYS_H

#include <stdbool.h>
#include <stdint.h>

typedef enum Key {
    KEY_NONE,
    KEY_SPACE,
    KEY_LEFT,
    KEY_RIGHT,
    KEY_UP,
    KEY_DOWN,
    KEY_FASTER,
    KEY_SLOWER,
    KEY_NEXT,
    KEY_ENTER,
    KEY_BACK,
    KEY_QUIT
} Key;

enum { KEYS_HELD = 16 };

/* Bytes that came in, of which some may be the beginning of a key. */
typedef struct KeyBuffer {
    unsigned char bytes[KEYS_HELD];
    int count;
} KeyBuffer;

/* Takes the next key out; KEY_NONE where there is none. An escape sequence that has only begun
 * stays, unless `all`: then nothing more is coming. Keys that mean nothing are left out. */
Key keys_take(KeyBuffer *buffer, bool all);

/* Takes over the terminal `input` (not at all where it is none, or is another job's) and the
 * signals. Signals come only inside keys_wait. */
bool keys_begin(int input);
void keys_end(void);

typedef enum Wake {
    WAKE_TIME, /* the time is over */
    WAKE_KEY,  /* bytes are in the buffer */
    WAKE_RESIZE,
    WAKE_SUSPEND, /* asked to stop for a while */
    WAKE_END      /* asked to end: keys_signal() says by which signal */
} Wake;

/* Waits until the clock of keys_now says `until`; INT64_MAX: for ever. Bytes are added to the
 * buffer. */
Wake keys_wait(KeyBuffer *buffer, int64_t until);
int keys_signal(void);

/* Stops until the shell lets us go on. */
void keys_suspend(void);

int64_t keys_now(void); /* microseconds of the monotonic clock */

#endif
