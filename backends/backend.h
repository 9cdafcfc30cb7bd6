/* The one interface of every place that light goes to: opened, given frames, closed.
 * Whoever drives it needs to know nothing else; what only one backend can be told is in the
 * options of its own header. */
#ifndef GLOAM_BACKENDS_BACKEND_H
#define GLOAM_BACKENDS_BACKEND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What went wrong, as a sentence for the user. */
typedef struct BackendError {
    char sentence[256];
} BackendError;

/* Filled in by whoever opens; read only afterwards. All pointers outlive the backend. */
typedef struct BackendOptions {
    uint32_t pixels;
    bool white, level; /* the bytes of a pixel have these columns too */
    int descriptor;    /* where to write; stays the caller's to close */
    const char *title; /* what plays, or NULL */
    const void *own;   /* options of this backend's header, or NULL for its defaults */
} BackendOptions;

/* One frame. A backend reads the one that its kind asks for; the other may be NULL. Both are the
 * caller's and valid during the call only.
 *   light  linear, 3 floats a pixel
 *   bytes  after the lamp's pipeline: red, green, blue, then white, then level where the options
 *          say so; every pixel alike. The order on a wire is a matter of the wire. */
typedef struct BackendFrame {
    uint64_t number;      /* counted from 0 */
    int64_t microseconds; /* since the start */
    const float *light;
    const uint8_t *bytes;
} BackendFrame;

/* BUSY: the frame before is not out yet and this one was dropped, or a part of this one is not out
 * yet; not an error. Show another frame, or this one again, before resting; a kind that has `again`
 * needs no more than that this is called when due. */
typedef enum BackendResult { BACKEND_FINE, BACKEND_BUSY, BACKEND_FAILED } BackendResult;

typedef struct BackendKind BackendKind;

/* Every backend begins with this. */
typedef struct Backend {
    const BackendKind *kind;
} Backend;

struct BackendKind {
    const char *name;
    bool takes_light; /* else bytes, unless its own options say otherwise */
    /* NULL on failure; then *error has the sentence. */
    Backend *(*open)(const BackendOptions *options, BackendError *error);
    BackendResult (*frame)(Backend *backend, const BackendFrame *frame, BackendError *error);
    /* Writes what is still held and frees the backend, also when it fails. */
    BackendResult (*close)(Backend *backend, BackendError *error);
    /* Both or neither; NULL where a backend has nothing to do between frames.
     *   due    when it wants to be called again: CLOCK_MONOTONIC in microseconds, or BACKEND_NEVER.
     *          Ask after every call of frame and again.
     *   again  does what is due: holds no frame longer than it must, and repeats a still one where
     *          the other end wants that. Too early it does nothing. Results as of frame. */
    int64_t (*due)(const Backend *backend);
    BackendResult (*again)(Backend *backend, BackendError *error);
};

#define BACKEND_NEVER INT64_MAX

/* error->sentence = "what: reason of the system" */
void backend_say(BackendError *error, const char *what, int number);

/* Writes all of it, through interruptions and short writes, waiting where the descriptor does not
 * block. False: errno tells. */
bool backend_write(int descriptor, const void *bytes, size_t length);

#endif
