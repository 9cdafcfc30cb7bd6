#include "runtime/player/player.h"

#include <errno.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/player/notify.h"
#include "runtime/player/player_inside.h"
#include "runtime/player/request.h"
#include "runtime/player/trust_file.h"
#include "runtime/player/truths.h"

const char *const PLAYER_WAKE_WORDS[WAKE_COUNT] = {
    [WAKE_FRAME] = "frame",   [WAKE_TIMETABLE] = "timetable", [WAKE_CLOCK] = "clock",
    [WAKE_TRUST] = "trust",   [WAKE_ZONE] = "zone",           [WAKE_FILE] = "file",
    [WAKE_SIGNAL] = "signal", [WAKE_PORT] = "port",           [WAKE_REPAINT] = "repaint",
    [WAKE_STATE] = "state",   [WAKE_WATCHDOG] = "watchdog",   [WAKE_REQUEST] = "request",
    [WAKE_HELPER] = "helper", [WAKE_NOTHING] = "nothing"};

void player_say(const Player *player, PlayerGravity gravity, const char *format, ...) {
    char sentence[512];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    if (player->request.say)
        player->request.say(player->request.context, gravity, sentence);
    char status[sizeof sentence + 8];
    snprintf(status, sizeof status, "STATUS=%s", sentence);
    notify_send(player->request.notify, status);
}

/* -------- what wakes it -------- */

static void timetable_ready(void *context, uint32_t events) {
    Player *player = context;
    (void)events;
    player->ready[CLOCK_TIMETABLE] = true;
}

static void frame_ready(void *context, uint32_t events) {
    Player *player = context;
    (void)events;
    player->ready[CLOCK_FRAME] = true;
}

static void trust_ready(void *context, uint32_t events) {
    Player *player = context;
    (void)events;
    path_watch_changed(player->trust_file);
    player->look = TIMETABLE_EVER;
    player_wake(player, WAKE_TRUST);
}

void player_signal(Player *player, int number) {
    player_wake(player, WAKE_SIGNAL);
    player->asked_reload = player->asked_reload || number == SIGHUP;
    player->asked_end =
        player->asked_end || number == SIGTERM || number == SIGINT || number == SIGQUIT;
}

/* -------- the clock -------- */

Now player_now(const Player *player, int64_t monotonic) {
    Now now = {.utc = monotonic + player->offset,
               .boottime = monotonic + player->boot_offset,
               .trusted = trust_holds(&player->trust)};
    memcpy(now.boot, player->boot, sizeof now.boot);
    return now;
}

static void player_take_clock(Player *player) {
    const ClockNow *last = &player->trust.last;
    player->offset = last->utc - last->monotonic;
    player->boot_offset = last->boottime - last->monotonic;
}

/* Of a boot that has a name: in another it means nothing. */
static void player_keep_trust(Player *player) {
    const Trust *trust = &player->trust.trust;
    int error;
    bool lasts = trust->reason == TRUST_KERNEL || trust->reason == TRUST_SERVICE;
    if (player->keeps && lasts && *trust->boot &&
        !trust_file_write(player->request.disk, player->trusted, trust, &error))
        player_say(player, PLAYER_WARNING, "%s: %s", player->trusted, strerror(error));
}

static void player_look(Player *player) {
    TrustNews news = trust_look(&player->trust, &player->clock);
    const ClockNow *last = &player->trust.last;
    int64_t moved = last->utc - last->monotonic - player->offset;
    char before[PLAYER_WALL], after[PLAYER_WALL], trust[256];
    player->look = trust_next_look(&player->trust);
    if (news.stepped) {
        player->counts.steps++;
        player_wall(player, news.old_utc, before);
        player_wall(player, news.new_utc, after);
        player_say(player, PLAYER_NOTICE, "the clock was set: it showed %s, now %s", before, after);
    }
    if (news.changed) {
        player_say(player, PLAYER_NOTICE, "%s",
                   trust_sentence(&player->trust, trust, sizeof trust));
        player_keep_trust(player);
    }
    if (!news.changed && moved < TRUST_LEAST_STEP && moved > -TRUST_LEAST_STEP)
        return;
    player_take_clock(player);
    Now now = player_now(player, last->monotonic);
    overrides_settle(player->overrides, &now);
    overrides_prune(player->overrides, &player->score->world, &now);
    player_tell(player, last->monotonic);
    player_changed(player, last->monotonic);
}

/* -------- overrides -------- */

static void player_plan_ends(Player *player, const Now *now) {
    player->ends = overrides_next_end(player->overrides, &player->score->world, now);
}

void player_tell(Player *player, int64_t monotonic) {
    Now now = player_now(player, monotonic);
    player->version++;
    bool told = truths_tell(player->overrides, &player->score->world, &now);
    if (player->trial)
        overrides_settle(player->trial->overrides, &now);
    for (uint32_t i = 0; i < player->lamp_count; i++) {
        LampPlayer *lamp = player->lamps[i];
        bool tries = player->trial && lamp_player_tries(lamp);
        const Overrides *overrides = tries ? player->trial->overrides : player->overrides;
        told = lamp_player_tell(lamp, overrides, &now, player->offset) && told;
    }
    if (!told && player->again == LAMP_NEVER)
        player_say(player, PLAYER_ERROR, "out of memory: what changed is not shown yet");
    player->again = told ? LAMP_NEVER : monotonic + PLAYER_TELL_AGAIN;
    player_plan_ends(player, &now);
}

void player_changed(Player *player, int64_t monotonic) {
    player->version++;
    if (player->keeps)
        player->save = monotonic;
}

static void player_prune(Player *player, int64_t monotonic) {
    Now now = player_now(player, monotonic);
    if (overrides_prune(player->overrides, &player->score->world, &now))
        player_changed(player, monotonic);
    player_plan_ends(player, &now);
    if (player->ends <= now.utc) /* not over after all: it is looked at again */
        player->ends = now.utc + 1000000;
}

static void player_save(Player *player, int64_t monotonic) {
    int error = 0;
    player->save = LAMP_NEVER;
    if (state_save(player->request.disk, player->request.state, player->overrides,
                   &player->score->world, &error)) {
        player->counts.saves++;
        if (player->said_save)
            player_say(player, PLAYER_NOTICE, "%s is written again", player->request.state);
        player->said_save = false;
        return;
    }
    player->counts.lost++;
    player->save = monotonic + PLAYER_SAVE_AGAIN;
    if (!player->said_save)
        player_say(player, PLAYER_ERROR, "%s: %s; what was done by hand is lost at a restart",
                   player->request.state, strerror(error));
    player->said_save = true;
}

bool player_act(Player *player, const char *line, char *said, size_t size) {
    int64_t monotonic = clock_now(&player->clock).monotonic;
    Now now = player_now(player, monotonic);
    char words[REQUEST_SENTENCE] = "out of memory";
    Request *request = memory_allocate(1, sizeof *request);
    player_wake(player, WAKE_REQUEST);
    bool done =
        request && request_read(&player->score->world, line, request, words) && !request->status;
    if (done) {
        overrides_prune(player->overrides, &player->score->world, &now);
        done = request_do(player->overrides, &player->score->world, &now, request, words);
    }
    memory_release(request);
    if (done) {
        player_trial_end(player, monotonic);
        player_tell(player, monotonic);
        player_changed(player, monotonic);
    }
    snprintf(said, size, "%s", words);
    return done;
}

/* -------- lamps -------- */

static void lamp_lost(Player *player, LampPlayer *lamp) {
    LampOutput *output = lamp_player_output(lamp);
    const char *name = lamp_player_name(lamp);
    bool first = output_failures(output) == 1;
    player->version += first;
    if (!player->request.waits) {
        player->end = PLAYER_NO_PORT;
        player_say(player, PLAYER_ERROR, "%s%s%s", name, *name ? ": " : "",
                   output_sentence(output));
    } else if (first) {
        player_say(player, PLAYER_WARNING, "%s%s%s; it is waited for", name, *name ? ": " : "",
                   output_sentence(output));
    }
}

static void player_step(Player *player, int64_t now) {
    for (uint32_t i = 0; i < player->lamp_count; i++) {
        LampPlayer *lamp = player->lamps[i];
        uint32_t failures = output_failures(lamp_player_output(lamp));
        unsigned did = lamp_player_step(lamp, now);
        if (did & LAMP_DID_FRAME)
            player_wake(player, WAKE_FRAME);
        if (did & LAMP_DID_PORT)
            player_wake(player, WAKE_PORT);
        if (did & LAMP_DID_REPAINT)
            player_wake(player, WAKE_REPAINT);
        if (did & LAMP_PORT_LOST)
            lamp_lost(player, lamp);
        if (failures == 0 || output_failures(lamp_player_output(lamp)) > 0)
            continue;
        player->version++;
        player_say(player, PLAYER_NOTICE, "%s: %s is there again", lamp_player_name(lamp),
                   output_name(lamp_player_output(lamp)));
    }
}

/* -------- a turn -------- */

static int64_t least(int64_t a, int64_t b) {
    return a < b ? a : b;
}

/* What the timers have to tell. */
static bool player_take_timers(Player *player) {
    bool woke = false;
    for (int timer = 0; timer < CLOCK_TIMERS; timer++) {
        if (!player->ready[timer] && clock_descriptor(&player->clock, (ClockTimer)timer) >= 0)
            continue;
        ClockWake wake = clock_take(&player->clock, (ClockTimer)timer);
        player->ready[timer] = false;
        player->is_armed[timer] = player->is_armed[timer] && wake == CLOCK_QUIET;
        woke = woke || wake != CLOCK_QUIET;
        if (wake == CLOCK_WAS_SET) {
            player_wake(player, WAKE_CLOCK);
            player->look = TIMETABLE_EVER;
        }
    }
    return woke;
}

static void player_do_clock(Player *player, int64_t now) {
    if (now + player->offset >= player->look) {
        if (!(player->causes & 1u << WAKE_CLOCK))
            player_wake(player, WAKE_TRUST);
        player_look(player);
    }
    if (player->trust_file && trust_holds(&player->trust)) {
        loop_remove(player->loop, path_watch_descriptor(player->trust_file));
        path_watch_close(player->trust_file);
        player->trust_file = NULL;
    }
    if (player->zone_is_other) {
        player->zone_is_other = false;
        player_zone(player, now);
    }
}

static void player_do_files(Player *player, int64_t now) {
    if (player->file_changed) {
        player->file_changed = false;
        player->reload = now + PLAYER_SETTLE;
    }
    if (!player->asked_reload && player->reload > now)
        return;
    if (player->reload <= now)
        player_wake(player, WAKE_FILE);
    char words[80];
    snprintf(words, sizeof words, "RELOADING=1\nMONOTONIC_USEC=%lld", (long long)now);
    if (player->asked_reload)
        notify_send(player->request.notify, words);
    player->reload = LAMP_NEVER;
    player_reload(player, now);
    if (player->asked_reload)
        notify_send(player->request.notify, "READY=1");
    player->asked_reload = false;
}

static void player_do_state(Player *player, int64_t now) {
    if (player->save <= now) {
        if (player->said_save)
            player_wake(player, WAKE_STATE);
        player_save(player, now);
    }
    if (player->copy <= now) {
        player_wake(player, WAKE_STATE);
        player_keep_copy(player, now);
    }
}

/* After all frames that were due have gone out, or were seen not to. */
static void player_do_watchdog(Player *player, int64_t now) {
    if (player->request.watchdog <= 0 || now < player->alive)
        return;
    player_wake(player, WAKE_WATCHDOG);
    player->alive = now + player->request.watchdog / 2;
    notify_send(player->request.notify, "WATCHDOG=1");
}

static void player_count(Player *player) {
    player->counts.wakes++;
    if (player->causes == 0)
        player_wake(player, WAKE_NOTHING);
    for (int i = 0; i < WAKE_COUNT; i++)
        player->counts.by_cause[i] += player->causes >> i & 1u;
}

static void player_arm_one(Player *player, ClockTimer timer, int64_t due) {
    if (player->is_armed[timer] && player->armed[timer] == due)
        return;
    player->is_armed[timer] = clock_arm(&player->clock, timer, due);
    player->armed[timer] = due;
    if (!player->is_armed[timer])
        player_say(player, PLAYER_ERROR, "no timer: %s", strerror(errno));
}

static void player_arm(Player *player) {
    int64_t frame = least(least(player->reload, player->save), least(player->again, player->copy));
    int64_t wakes = least(player->look, player->ends);
    if (player->trial)
        frame = least(frame, player->trial->ends);
    if (player->request.watchdog > 0)
        frame = least(frame, player->alive);
    for (uint32_t i = 0; i < player->lamp_count; i++) {
        frame = least(frame, lamp_player_due(player->lamps[i]));
        wakes = least(wakes, lamp_player_wakes(player->lamps[i]));
    }
    player_arm_one(player, CLOCK_FRAME, frame);
    player_arm_one(player, CLOCK_TIMETABLE, wakes);
}

/* Whether a rest ends. */
static bool player_rest_over(const Player *player, int64_t now) {
    int64_t utc = now + player->offset;
    for (uint32_t i = 0; i < player->lamp_count; i++)
        if (lamp_player_wakes(player->lamps[i]) <= utc)
            return true;
    return false;
}

void player_turn(Player *player) {
    bool woke = player_take_timers(player) || player->causes != 0;
    int64_t now = clock_now(&player->clock).monotonic;
    if (player->asked_end && player->end == PLAYER_GOES_ON)
        player->end = PLAYER_ASKED;
    player_do_clock(player, now);
    player_do_files(player, now);
    bool rest_over = player_rest_over(player, now);
    if (player->ends <= now + player->offset || rest_over) {
        player_wake(player, WAKE_TIMETABLE);
        player_prune(player, now);
    }
    if (player->trial && player->trial->ends <= now) {
        player_wake(player, WAKE_TIMETABLE);
        player_trial_end(player, now);
    }
    if (player->again <= now) {
        player_wake(player, WAKE_STATE);
        player_tell(player, now);
    }
    player_step(player, now);
    player_do_state(player, now);
    player_do_watchdog(player, now);
    if (woke)
        player_count(player);
    player->causes = 0;
    if (player->end == PLAYER_GOES_ON)
        player_arm(player);
}

PlayerEnd player_ended(const Player *player) {
    return player->end;
}

/* -------- beginning and end -------- */

static bool player_listen(Player *player) {
    int timetable = clock_descriptor(&player->clock, CLOCK_TIMETABLE);
    int frame = clock_descriptor(&player->clock, CLOCK_FRAME);
    if (timetable >= 0 && (!loop_add(player->loop, timetable, timetable_ready, player) ||
                           !loop_add(player->loop, frame, frame_ready, player)))
        return false;
    const char *file = player->request.trust_file;
    if (file && !trust_holds(&player->trust) && path_watch_open(file, &player->trust_file) &&
        !loop_add(player->loop, path_watch_descriptor(player->trust_file), trust_ready, player))
        return false;
    return true;
}

static void player_start_clock(Player *player) {
    ClockSigns signs = clock_signs(&player->clock);
    Trust before = {0};
    if (player->keeps)
        before = trust_file_read(player->trusted);
    trust_start(&player->trust, &before,
                player->request.trust_after > 0 ? player->request.trust_after : CLOCK_NEVER);
    if (trust_look(&player->trust, &player->clock).changed)
        player_keep_trust(player);
    player_take_clock(player);
    player->look = trust_next_look(&player->trust);
    player->start = player->trust.last.monotonic;
    if (*signs.boot)
        memcpy(player->boot, signs.boot, sizeof player->boot);
    else
        snprintf(player->boot, sizeof player->boot, "run-%lld",
                 (long long)player->trust.last.boottime);
}

static char *beside(const char *path, const char *suffix) {
    size_t size = strlen(path) + strlen(suffix) + 1;
    char *name = memory_allocate(size, 1);
    if (name)
        snprintf(name, size, "%s%s", path, suffix);
    return name;
}

static bool player_rooms(Player *player) {
    const char *state = player->request.state;
    player->overrides = memory_allocate(1, sizeof *player->overrides);
    player->keeps = state != NULL;
    if (state) {
        player->accepted = beside(state, ".accepted");
        player->trusted = beside(state, ".trust");
        player->versions = beside(state, ".versions");
    }
    return player->overrides &&
           (!state || (player->accepted && player->trusted && player->versions));
}

PlayerStart player_create(const PlayerRequest *request, const Clock *clock, Loop *loop,
                          Player **into) {
    *into = NULL;
    Player *player = memory_allocate(1, sizeof *player);
    if (!player)
        return PLAYER_MACHINE;
    player->request = *request;
    player->clock = *clock;
    player->loop = loop;
    player->reload = player->save = player->copy = player->again = LAMP_NEVER;
    player->ends = TIMETABLE_NEVER;
    PlayerStart start = PLAYER_MACHINE;
    if (player_rooms(player)) {
        player_start_clock(player);
        start = player_load(player, player->start);
    } else {
        player_say(player, PLAYER_ERROR, "out of memory");
    }
    if (start == PLAYER_STARTED && !player_listen(player)) {
        player_say(player, PLAYER_ERROR, "the system gives no more descriptors: %s",
                   strerror(errno));
        start = PLAYER_MACHINE;
    }
    if (start != PLAYER_STARTED) {
        player_free(player);
        return start;
    }
    player_say(player, PLAYER_INFORMATION, "%s plays on %u lamp%s", request->path,
               player->lamp_count, player->lamp_count == 1 ? "" : "s");
    *into = player;
    return start;
}

void player_free(Player *player) {
    if (!player)
        return;
    if (player->save != LAMP_NEVER)
        player_save(player, 0);
    for (int timer = 0; timer < CLOCK_TIMERS; timer++)
        loop_remove(player->loop, clock_descriptor(&player->clock, (ClockTimer)timer));
    if (player->trust_file)
        loop_remove(player->loop, path_watch_descriptor(player->trust_file));
    path_watch_close(player->trust_file);
    player_forget(player);
    player_trial_free(player);
    memory_release(player->overrides);
    memory_release(player->accepted);
    memory_release(player->trusted);
    memory_release(player->versions);
    memory_release(player);
}

void player_wake(Player *player, PlayerWake cause) {
    player->causes |= 1u << cause;
}

void player_tell_page(Player *player, const char *address) {
    snprintf(player->page, sizeof player->page, "%s", address ? address : "");
    player->version++;
}

bool player_reload_now(Player *player, char *said, size_t size) {
    uint64_t taken = player->taken;
    player_wake(player, WAKE_REQUEST);
    player->reload = LAMP_NEVER;
    player->file_changed = false;
    player_reload(player, clock_now(&player->clock).monotonic);
    bool done = player->taken != taken;
    if (done)
        snprintf(said, size, "%s is taken", player->request.path);
    else
        snprintf(said, size, "%s", *player->wrong ? player->wrong : "out of memory");
    return done;
}

uint64_t player_version(const Player *player) {
    return player->version;
}

int64_t player_utc(const Player *player) {
    return player_now(player, clock_now(&player->clock).monotonic).utc;
}

const PlayerCounts *player_counts(const Player *player) {
    return &player->counts;
}

uint32_t player_lamps(const Player *player) {
    return player->lamp_count;
}

LampPlayer *player_lamp(const Player *player, uint32_t index) {
    return player->lamps[index];
}

const Overrides *player_overrides(const Player *player) {
    return player->overrides;
}
