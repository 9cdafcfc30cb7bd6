/* Light in a terminal, in the lamp's shape: on the alternate screen, two dots a character (or one
 * in ASCII), one write a frame and only of what changed, as the terminal's size changes. A frame
 * for which the terminal is not ready is dropped: the light never waits for the terminal. */
#ifndef GLOAM_BACKENDS_TERMINAL_H
#define GLOAM_BACKENDS_TERMINAL_H

#include "backends/backend.h"
#include "backends/layout.h"
#include "backends/palette.h"

/* `own` of the options: needed. */
typedef struct TerminalOptions {
    Arrangement arrangement;
    const double *x, *y, *z; /* where the pixels are; outlive the backend */
    uint32_t across, up;     /* grid */
    Depth depth;
    bool ascii;        /* no characters outside ASCII */
    bool status;       /* the last two lines are kept for terminal_status */
    int columns, rows; /* 0: the size of the terminal, asked for at every frame */
} TerminalOptions;

/* Takes light. */
extern const BackendKind terminal_backend;

/* What the next frames say below the light; texts are copied. */
typedef struct TerminalStatus {
    const char *title, *detail; /* on the left */
    const char *keys; /* on the right: those that there is room for, parted by three spaces */
    const char *note; /* in the line above, where none fills it; NULL: nothing */
    double done;      /* 0..1 of a line that fills; below 0: no line */
} TerminalStatus;
void terminal_status(Backend *backend, const TerminalStatus *status);

/* Gives the screen back for a while; the next frame after terminal_resume is drawn in full. */
void terminal_pause(Backend *backend);
void terminal_resume(Backend *backend);

/* For handlers of signals that end the program: gives the screen back if a terminal is open. Calls
 * nothing that a handler may not. */
void terminal_leave_now(void);

#endif
