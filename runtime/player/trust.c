#include "runtime/player/trust.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/timex.h>
#include <unistd.h>

#define SECOND 1000000LL
#define BOOT_FILE "/proc/sys/kernel/random/boot_id"

Trust trust_decide(const Trust *before, const ClockSigns *signs, int64_t boottime, int64_t wait) {
    Trust trust = *before;
    if (strcmp(trust.boot, signs->boot) != 0)
        trust = (Trust){0};
    memcpy(trust.boot, signs->boot, sizeof trust.boot);
    TrustReason reason = TRUST_NONE;
    if (signs->synchronised)
        reason = TRUST_SERVICE;
    else if (signs->most_error < TRUST_MOST_ERROR)
        reason = TRUST_KERNEL;
    else if (boottime >= wait)
        reason = TRUST_WAITED;
    bool trusted = trust.reason == TRUST_KERNEL || trust.reason == TRUST_SERVICE;
    if (!trusted && reason > trust.reason) {
        trust.reason = reason;
        trust.since = boottime;
    }
    return trust;
}

static void boot_read(char *boot) {
    int file = open(BOOT_FILE, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return;
    ssize_t length = read(file, boot, CLOCK_BOOT_BYTES - 1);
    close(file);
    boot[length > 0 ? length : 0] = '\0';
    boot[strcspn(boot, "\n")] = '\0';
}

ClockSigns trust_signs_read(const char *file) {
    struct timex kernel = {.modes = 0};
    ClockSigns signs = {.synchronised = access(file, F_OK) == 0, .most_error = CLOCK_NEVER};
    if (adjtimex(&kernel) >= 0)
        signs.most_error = kernel.maxerror;
    boot_read(signs.boot);
    return signs;
}

void trust_start(TrustWatch *watch, const Trust *before, int64_t wait) {
    *watch = (TrustWatch){.wait = wait};
    if (before)
        watch->trust = *before;
}

TrustNews trust_look(TrustWatch *watch, const Clock *clock) {
    ClockNow now = clock_now(clock);
    ClockSigns signs = clock_signs(clock);
    TrustNews news = {.new_utc = now.utc};
    news.old_utc = now.utc;
    if (watch->looked) {
        int64_t expected = watch->last.utc + (now.boottime - watch->last.boottime);
        int64_t step = now.utc - expected;
        int64_t least = TRUST_LEAST_STEP + now.doubt + watch->last.doubt;
        news.stepped = step >= least || step <= -least;
        if (news.stepped)
            news.old_utc = expected;
    }
    Trust trust = trust_decide(&watch->trust, &signs, now.boottime, watch->wait);
    news.changed = trust.reason != watch->trust.reason;
    watch->trust = trust;
    watch->last = now;
    watch->looked = true;
    return news;
}

bool trust_holds(const TrustWatch *watch) {
    return watch->trust.reason != TRUST_NONE;
}

int64_t trust_next_look(const TrustWatch *watch) {
    const ClockNow *last = &watch->last;
    if (watch->trust.reason == TRUST_KERNEL || watch->trust.reason == TRUST_SERVICE)
        return CLOCK_NEVER;
    int64_t left = TRUST_LOOK_EVERY;
    if (watch->trust.reason == TRUST_NONE && watch->wait - last->boottime < left)
        left = watch->wait - last->boottime;
    return last->utc + (left > 0 ? left : 0);
}

int64_t trust_since(const TrustWatch *watch) {
    return watch->last.utc - (watch->last.boottime - watch->trust.since);
}

char *trust_sentence(const TrustWatch *watch, char *text, size_t size) {
    long long wait = (long long)(watch->wait / SECOND);
    switch (watch->trust.reason) {
    case TRUST_SERVICE:
        snprintf(text, size, "the clock is set: the time service has synchronised it");
        break;
    case TRUST_KERNEL:
        snprintf(text, size, "the clock is set: the kernel holds it as synchronised");
        break;
    case TRUST_WAITED:
        snprintf(text, size,
                 "nobody has set the clock; it is taken as it is, since the machine has run for "
                 "%lld s, as configured",
                 wait);
        break;
    default:
        if (watch->wait == CLOCK_NEVER)
            snprintf(text, size,
                     "nobody has set the clock since this machine started; connect it "
                     "to a network with a time service");
        else
            snprintf(text, size,
                     "nobody has set the clock since this machine started; it is taken as it is "
                     "when the machine has run for %lld s, as configured",
                     wait);
    }
    return text;
}
