#include "runtime/time/begun.h"

Now now_later(const Now *now, int64_t microseconds) {
    Now later = *now;
    later.utc += microseconds;
    later.boottime += microseconds;
    return later;
}

Begun begun_in(const Now *now, int64_t after) {
    return (Begun){now->utc + after, now->boottime + after, now->trusted, false};
}

int64_t begun_ago(const Begun *begun, const Now *now) {
    if (begun->guessed && now->trusted)
        return now->utc - begun->utc;
    return now->boottime - begun->boottime;
}

int64_t begun_utc(const Begun *begun, const Now *now) {
    return begun->trusted ? begun->utc : now->utc - begun_ago(begun, now);
}

/* After a power cut a clock that is not trusted is slow, never fast: what it shows to have gone by
 * has gone by. */
void begun_settle(Begun *begun, const Now *now, bool restarted) {
    int64_t ago = restarted ? now->utc - begun->utc : begun_ago(begun, now);
    bool exact = begun->trusted && now->trusted;
    if (restarted && !exact && ago < 0)
        ago = 0;
    if (restarted || now->trusted)
        begun->boottime = now->boottime - ago;
    if (restarted)
        begun->guessed = begun->trusted;
    if (!now->trusted)
        return;
    if (!begun->trusted)
        begun->utc = now->utc - ago;
    begun->trusted = true;
    begun->guessed = false;
}
