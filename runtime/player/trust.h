/* Whether the clock is known to be right, and when it was set. A board without a battery clock
 * starts, after a power cut, with a time that is too early; bright light at the wrong hour is the
 * worse error, so a timetable waits until the clock is trusted. spec/clock.md has the rules. */
#ifndef GLOAM_PLAYER_TRUST_H
#define GLOAM_PLAYER_TRUST_H

#include <stddef.h>

#include "runtime/player/clock.h"

/* There once systemd-timesyncd has set the clock since the start: systemd-timesyncd.service(8). */
#define TRUST_FILE "/run/systemd/timesync/synchronized"

/* The kernel's bound of the error is less while it is synchronised: NTP_PHASE_LIMIT of the kernel,
 * adjtimex(2). */
#define TRUST_MOST_ERROR 16000000

/* What is smaller than this is not reported as a set of the clock. */
#define TRUST_LEAST_STEP 1000

/* The kernel tells nobody that it became synchronised: how often to look while it is not. */
#define TRUST_LOOK_EVERY 60000000LL

typedef enum TrustReason {
    TRUST_NONE,   /* not trusted */
    TRUST_WAITED, /* not trusted, taken all the same: it has been waited for long enough */
    TRUST_KERNEL, /* trusted: the kernel's bound of the error */
    TRUST_SERVICE /* trusted: the file of the time service */
} TrustReason;

/* Plain data: may be written down and given back, the id of the boot keeps it from living longer
 * than its boot. */
typedef struct Trust {
    TrustReason reason;
    int64_t since; /* boottime at which it was first seen */
    char boot[CLOCK_BOOT_BYTES];
} Trust;

/* From what was held before to what is held now; reads nothing. `wait`: boottime from which an
 * untrusted clock is taken, CLOCK_NEVER: not at all. */
Trust trust_decide(const Trust *before, const ClockSigns *signs, int64_t boottime, int64_t wait);

/* What the system says, `file` instead of TRUST_FILE. Clocks call it; others ask the clock. */
ClockSigns trust_signs_read(const char *file);

typedef struct TrustWatch {
    Trust trust;
    int64_t wait;
    bool looked;
    ClockNow last;
} TrustWatch;

typedef struct TrustNews {
    bool changed;             /* the reason did */
    bool stepped;             /* the clock was set since the last look: */
    int64_t old_utc, new_utc; /* what it would show now, what it shows */
} TrustNews;

/* `before` is what was held, perhaps by an earlier process; NULL: nothing. */
void trust_start(TrustWatch *watch, const Trust *before, int64_t wait);
TrustNews trust_look(TrustWatch *watch, const Clock *clock);

/* True where a timetable may go by the clock. */
bool trust_holds(const TrustWatch *watch);

/* The instant of utc, by the last look, at which to look again without being woken by a set of the
 * clock or by the file; CLOCK_NEVER: no need. */
int64_t trust_next_look(const TrustWatch *watch);

/* The instant of utc at which it was first trusted or taken, by the clock of the last look. */
int64_t trust_since(const TrustWatch *watch);

/* Why, and what would change it: a sentence for the owner of a lamp. Returns `text`. */
char *trust_sentence(const TrustWatch *watch, char *text, size_t size);

#endif
