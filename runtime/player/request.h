/* One act by hand, or told from outside, as a line of words: what the commands build and what a
 * running player is sent (spec/protocol.md has the words). */
#ifndef GLOAM_PLAYER_REQUEST_H
#define GLOAM_PLAYER_REQUEST_H

#include "runtime/time/act.h"

enum {
    REQUEST_BYTES = 1024,  /* of a line, the NUL included */
    REQUEST_WORDS = 128,   /* in a line */
    REQUEST_SENTENCE = 256 /* of what is said, the NUL included */
};

typedef struct Request {
    bool status; /* asks only: `act` is not set */
    bool cut;    /* of `set`: the value is the end of the dial's range, asked was one outside */
    Act act;     /* its settings point here: a Request is not copied */
    TimetableSetting settings[LIMIT_OVERRIDE_DIALS];
} Request;

/* Any bytes may come in, up to a NUL. False: `said` is a sentence that tells what to write. */
bool request_read(const World *world, const char *line, Request *request,
                  char said[REQUEST_SENTENCE]);

/* What follows these words at the beginning of a line, from its next word on: `words` have one
 * space between them, the line what it likes (bytes up to 32). NULL: it begins with others. */
const char *request_behind(const char *line, const char *words);
/* Whether they are all of it. */
bool request_is(const char *line, const char *words);
/* The length of a line's first word, where it begins with one; else 0. */
size_t request_word(const char *line);

/* Whether the first word of a line is that of an act, and of which: what may be passed on to the
 * player, for who does not have its world. */
bool request_names_act(const char *line, ActKind *kind);

/* Does it (not for `status`). False: refused, nothing is changed. `said` is what was done, or why
 * not. */
bool request_do(Overrides *overrides, const World *world, const Now *now, const Request *request,
                char said[REQUEST_SENTENCE]);

/* The act that `undo` would take back, in words: "dusk until the next entry", "set warmth", "clear:
 * level 40 ..."; "" where there is none. False: out of memory. */
bool request_undoes(const Overrides *overrides, const World *world, const Now *now,
                    char words[REQUEST_SENTENCE]);

/* What an override does, in words: "dusk until the next entry", "level 40 (11.3 % of the light) for
 * 1h", "skip daybreak (by 03:10) on lamp lantern". */
void request_words(const World *world, const Override *override, char *text, size_t size);

/* What a dial is set to: "40%", "1min30s", "light 1, 0.246, 0". */
void request_value(const DialInfo *dial, const TimetableSetting *setting, char *text, size_t size);
/* What it was set to: "`warmth` is 60%"; of a colour "`tone` is set"; `cut`, since what was asked
 * lies outside the dial's range: "`warmth` is 100%, the most it goes to". */
void request_set(const DialInfo *dial, const TimetableSetting *setting, bool cut,
                 char said[REQUEST_SENTENCE]);

#endif
