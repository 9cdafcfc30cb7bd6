/* For slow_faketime.sh: looks at the system's clock, lets the file that libfaketime reads say
 * another offset, looks again, and prints what it saw, a line `name value` each, in microseconds.
 * Usage: see_clock FILE OFFSET
 * Timers are left out: libfaketime 0.9.10 moves the instants of monotonic timers too. */
#include <inttypes.h>
#include <stdio.h>

#include "runtime/player/trust.h"

static int write_offset(const char *path, const char *offset) {
    FILE *file = fopen(path, "w");
    if (!file)
        return 1;
    fprintf(file, "%s\n", offset);
    return fclose(file);
}

int main(int count, char **arguments) {
    Clock clock;
    TrustWatch watch;
    if (count != 3 || !clock_open_system(&clock))
        return 2;
    trust_start(&watch, NULL, CLOCK_NEVER);
    TrustNews first = trust_look(&watch, &clock);
    ClockNow before = watch.last;
    TrustNews still = trust_look(&watch, &clock);
    if (write_offset(arguments[1], arguments[2]) != 0)
        return 2;
    TrustNews news = trust_look(&watch, &clock);
    ClockNow after = watch.last;
    printf("first %d\nstill %d\nstepped %d\n", first.stepped, still.stepped, news.stepped);
    printf("step %" PRId64 "\n", news.new_utc - news.old_utc);
    printf("utc %" PRId64 "\n", after.utc - before.utc);
    printf("monotonic %" PRId64 "\n", after.monotonic - before.monotonic);
    printf("boottime %" PRId64 "\n", after.boottime - before.boottime);
    clock_close(&clock);
    return 0;
}
