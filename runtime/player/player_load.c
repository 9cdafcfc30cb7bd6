/* The home file of a player: read at the start and when it changes. A wrong one leaves what plays
 * as it is. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"
#include "runtime/library/versions.h"
#include "runtime/player/player_inside.h"
#include "runtime/player/truths.h"

enum { PATH_BYTES = 4096 };

/* -------- which files are watched -------- */

static void file_ready(void *context, uint32_t events) {
    PlayerWatch *one = context;
    (void)events;
    player_wake(one->player, WAKE_FILE);
    if (path_watch_changed(one->watch))
        one->player->file_changed = true;
}

static void watch_free(PlayerWatch *one) {
    loop_remove(one->player->loop, path_watch_descriptor(one->watch));
    path_watch_close(one->watch);
    memory_release(one->path);
    memory_release(one);
}

/* False: it cannot be watched, errno. */
static bool watch_make(Player *player, const char *path) {
    PlayerWatch **larger =
        memory_resize(player->watches, (size_t)player->watch_count + 1, sizeof *player->watches);
    PlayerWatch *one = memory_allocate(1, sizeof *one);
    char *name = memory_copy_text(path, strlen(path));
    PathWatch *watch = NULL;
    player->watches = larger ? larger : player->watches;
    errno = ENOMEM;
    bool made = larger && one && name && path_watch_open(path, &watch);
    if (made) {
        *one = (PlayerWatch){player, watch, name, true};
        made = loop_add(player->loop, path_watch_descriptor(watch), file_ready, one);
    }
    if (made) {
        player->watches[player->watch_count++] = one;
        return true;
    }
    int error = errno;
    path_watch_close(watch);
    memory_release(one);
    memory_release(name);
    errno = error;
    return false;
}

static PlayerWatch *watch_find(const Player *player, const char *path) {
    for (uint32_t i = 0; i < player->watch_count; i++)
        if (strcmp(player->watches[i]->path, path) == 0)
            return player->watches[i];
    return NULL;
}

/* The files that were read, or that were to be read, and no others. */
static void player_watch(Player *player, const Readings *readings) {
    char path[PATH_BYTES];
    uint32_t kept = 0;
    for (uint32_t i = 0; i < player->watch_count; i++)
        player->watches[i]->kept = false;
    for (uint32_t i = 0; i < readings->count; i++) {
        if (!readings_file(&readings->list[i], player->request.folder, path, sizeof path))
            continue;
        PlayerWatch *one = watch_find(player, path);
        if (one)
            one->kept = true;
        else if (!watch_make(player, path))
            player_say(player, PLAYER_WARNING, "%s cannot be watched: %s; SIGHUP tells of a change",
                       path, strerror(errno));
    }
    for (uint32_t i = 0; i < player->watch_count; i++)
        if (player->watches[i]->kept)
            player->watches[kept++] = player->watches[i];
        else
            watch_free(player->watches[i]);
    player->watch_count = kept;
}

static void zone_ready(void *context, uint32_t events) {
    Player *player = context;
    (void)events;
    ZoneNews news = zone_watch_look(player->score->zone);
    player_wake(player, WAKE_ZONE);
    /* The one before is gone: whoever is called next, before the turn, must not find it. */
    score_take_zone(player->score);
    player->zone_is_other = player->zone_is_other || news == ZONE_NEWS_ZONE;
    if (news == ZONE_NEWS_WRONG)
        player_say(player, PLAYER_WARNING, "%s", zone_watch_wrong(player->score->zone));
}

static void player_watch_zone(Player *player) {
    const ZoneWatch *zone = player->score->zone;
    int descriptor = zone_watch_descriptor(zone);
    if (*zone_watch_wrong(zone))
        player_say(player, PLAYER_WARNING, "%s", zone_watch_wrong(zone));
    if (descriptor >= 0 && !loop_add(player->loop, descriptor, zone_ready, player))
        player_say(player, PLAYER_WARNING, "the zone cannot be watched: %s", strerror(errno));
}

void player_zone(Player *player, int64_t monotonic) {
    player_say(player, PLAYER_NOTICE, "the time zone has changed");
    player_tell(player, monotonic);
}

/* -------- lamps -------- */

static bool is_meant(const Player *player, const LampInfo *info) {
    if (player->request.lamp)
        return strcmp(info->name, player->request.lamp) == 0;
    return player->request.instead.kind || info->port;
}

/* Whether two lamps that are meant go to the same pixels, which would show both by turns. */
static bool collide(const Player *player, const Score *score, char *wrong) {
    for (uint32_t i = 1; i < score->lamp_count; i++)
        for (uint32_t k = 0; k < i; k++) {
            const LampInfo *a = &score->lamps[k], *b = &score->lamps[i];
            if (!is_meant(player, a) || !is_meant(player, b) || !output_collides(a, b))
                continue;
            if (output_is_network(b))
                snprintf(wrong, PLAYER_WRONG_BYTES,
                         "`%s` and `%s` have the same port and universe: `universe %u` in `%s`, or "
                         "one of them alone, --lamp %s",
                         a->name, b->name, output_universe_behind(a), b->name, a->name);
            else
                snprintf(wrong, PLAYER_WRONG_BYTES,
                         "`%s` and `%s` have the same port: another in `%s`, or one of them alone, "
                         "--lamp %s",
                         a->name, b->name, b->name, a->name);
            return true;
        }
    return false;
}

/* True: there is no lamp of the name that is asked for. */
static bool lacks_lamp(const Player *player, const Score *score, char *wrong) {
    char missing[LAMP_MISSING];
    const char *name = player->request.lamp;
    if (!name || lamp_called(score->lamps, score->lamp_count, name, missing))
        return false;
    snprintf(wrong, PLAYER_WRONG_BYTES, "it %s", missing);
    return true;
}

/* Whether the lamps of a file cannot be driven; `wrong` says why. */
static bool wrong_lamps(const Player *player, const Score *score, char wrong[PLAYER_WRONG_BYTES]) {
    bool instead = player->request.instead.kind != NULL;
    const char *why = NULL;
    uint32_t meant = 0;
    for (uint32_t i = 0; i < score->lamp_count; i++) {
        if (!is_meant(player, &score->lamps[i]))
            continue;
        meant++;
        if (!instead && !score->lamps[i].port)
            why = "that lamp has no port: `port \"/dev/spidev0.0\"` in it, or --output terminal";
    }
    if (meant > 1 && instead)
        why = "it has several lamps, and there is one output: say which with --lamp";
    if (meant == 0 && !instead)
        why = "none of its lamps has a port: `port \"/dev/spidev0.0\"` in one, or --output "
              "terminal";
    if (lacks_lamp(player, score, wrong))
        return true;
    if (!why)
        return !instead && collide(player, score, wrong);
    snprintf(wrong, PLAYER_WRONG_BYTES, "%s", why);
    return true;
}

static void lamps_free(LampPlayer **lamps, uint32_t count) {
    for (uint32_t i = 0; lamps && i < count; i++)
        lamp_player_free(lamps[i]);
    memory_release(lamps);
}

LampPlayer *player_make_lamp(const Player *player, const World *world, const LampInfo *info,
                             int32_t lamp, const Overrides *overrides, const Now *now, bool tries) {
    const PlayerRequest *own = &player->request;
    LampPlayerRequest request = {.world = world,
                                 .info = info,
                                 .lamp = lamp,
                                 .tries = tries,
                                 .instead = own->instead,
                                 .cid = own->cid,
                                 .fps = own->fps,
                                 .speed = own->speed,
                                 .seen = own->seen,
                                 .start = player->start};
    if (own->instead.kind == &terminal_backend) {
        request.before = player_caption;
        request.context = player;
        request.at_least = (int64_t)number_nearest(1e6 * own->speed);
    }
    return lamp_player_create(&request, overrides, now, player->offset);
}

static LampPlayer *make_one(const Player *player, const Score *score, const Overrides *overrides,
                            const Now *now, int32_t index) {
    return player_make_lamp(player, &score->world, index >= 0 ? &score->lamps[index] : NULL, index,
                            overrides, now, false);
}

/* False: out of memory. */
static bool make_lamps(const Player *player, const Score *score, const Overrides *overrides,
                       const Now *now, LampPlayer ***into, uint32_t *count) {
    *count = 0;
    *into = memory_allocate((size_t)score->lamp_count + 1, sizeof **into);
    bool made = *into != NULL;
    for (uint32_t i = 0; made && i < score->lamp_count; i++) {
        if (!is_meant(player, &score->lamps[i]))
            continue;
        LampPlayer *lamp = make_one(player, score, overrides, now, (int32_t)i);
        (*into)[*count] = lamp;
        *count += lamp != NULL;
        made = lamp != NULL;
    }
    if (made && score->lamp_count == 0) {
        (*into)[0] = make_one(player, score, overrides, now, TIMETABLE_NOT_SAID);
        *count = (*into)[0] != NULL;
        made = *count == 1;
    }
    if (!made) {
        lamps_free(*into, *count);
        *into = NULL;
        *count = 0;
    }
    return made;
}

/* -------- what is wrong -------- */

static void wrong_sentence(Player *player, const char *sentence) {
    snprintf(player->wrong, sizeof player->wrong, "%s", sentence);
    player->version++;
}

void player_first_mistake(const Score *score, char *sentence, size_t size) {
    bool compiled = score && score->compilation;
    if (!diagnostics_first_error(compiled ? lang_diagnostics(score->compilation) : NULL, sentence,
                                 size))
        snprintf(sentence, size, "out of memory");
}

/* -------- the start -------- */

static ScoreStatus read_file(Player *player, Score **score) {
    DiskReader disk;
    ScoreRequest request = {.path = player->request.path,
                            .variable = player->request.variable,
                            .folders = player->request.folders,
                            .compiled = player->request.compiled,
                            .context = player->request.context};
    disk_reader_start(&disk);
    ScoreStatus status = score_read(&disk.reader, &request, score);
    disk_reader_end(&disk);
    if (status == SCORE_FINE && !readings_name(&(*score)->readings, player->request.folder))
        status = SCORE_NO_MEMORY;
    char sentence[PLAYER_WRONG_BYTES];
    bool wrong = status == SCORE_FINE && wrong_lamps(player, *score, sentence);
    if (wrong) {
        player_say(player, PLAYER_ERROR, "%s: %s", player->request.path, sentence);
        wrong_sentence(player, sentence);
    } else if (status == SCORE_WRONG) {
        player_first_mistake(*score, sentence, sizeof sentence);
        wrong_sentence(player, sentence);
    } else if (status == SCORE_FINE) {
        wrong_sentence(player, "");
    }
    if (status == SCORE_NO_MEMORY)
        player_say(player, PLAYER_ERROR, "out of memory");
    return wrong ? SCORE_WRONG : status;
}

/* The copy that was accepted last, where it is of this home: homes may share a state. */
static ScoreStatus read_accepted(Player *player, Score **score) {
    Readings readings;
    ScoreStatus status = SCORE_WRONG;
    char wrong[PLAYER_WRONG_BYTES];
    *score = NULL;
    if (!player->accepted || !readings_load(&readings, player->accepted))
        return SCORE_WRONG;
    LangReader reader = readings_replay(&readings);
    ScoreRequest request = {.path = player->request.path,
                            .variable = player->request.variable,
                            .folders = player->request.folders};
    if (readings_are_of(&readings, player->request.path, player->request.folder))
        status = score_read(&reader, &request, score);
    if (status == SCORE_FINE && wrong_lamps(player, *score, wrong))
        status = SCORE_WRONG;
    readings_free(&readings);
    if (status != SCORE_FINE) {
        score_free(*score);
        *score = NULL;
    }
    return status;
}

void player_keep_copy(Player *player, int64_t monotonic) {
    int error;
    bool lost = player->accepted && !readings_save(&player->score->readings, player->request.disk,
                                                   player->accepted, &error);
    if (lost && !player->copy_lost)
        player_say(player, PLAYER_WARNING,
                   "%s: %s; no copy of the file is kept, and the page does not know what plays",
                   player->accepted, strerror(error));
    else if (player->copy_lost && !lost)
        player_say(player, PLAYER_NOTICE, "%s is written again", player->accepted);
    player->version += lost != player->copy_lost;
    player->copy_lost = lost;
    player->copy = lost ? monotonic + PLAYER_SAVE_AGAIN : LAMP_NEVER;
}

/* The home file itself, among the last ten. */
static void keep_version(Player *player) {
    const Readings *readings = &player->score->readings;
    int error;
    if (!player->keeps || readings->count == 0 || !readings->list[0].text ||
        versions_keep(player->request.disk, player->versions, readings->list[0].text,
                      readings->list[0].length, &error)) {
        player->said_versions = false;
        return;
    }
    if (!player->said_versions)
        player_say(player, PLAYER_WARNING, "%s: %s; this version of the home file is not kept",
                   player->versions, strerror(error));
    player->said_versions = true;
}

static void say_all(const Player *player, const StateSaid *said) {
    for (uint32_t i = 0; i < said->count && i < STATE_SAID; i++)
        player_say(player, PLAYER_WARNING, "%s", said->sentences[i]);
}

static bool load_state(Player *player, const Now *now) {
    StateSaid said = {0};
    const World *world = &player->score->world;
    StateStatus status = STATE_MISSING;
    if (player->keeps)
        status = state_load(player->request.disk, player->request.state, world, player->overrides,
                            &said);
    say_all(player, &said);
    if (status == STATE_NO_MEMORY)
        return false;
    if (status == STATE_UNREADABLE) /* what is there is not written over */
        player->keeps = false;
    overrides_settle(player->overrides, now);
    if (overrides_prune(player->overrides, world, now))
        player_changed(player, player->start);
    player->ends = overrides_next_end(player->overrides, world, now);
    return truths_tell(player->overrides, world, now);
}

PlayerStart player_load(Player *player, int64_t monotonic) {
    Now now = player_now(player, monotonic);
    Score *read = NULL, *copy = NULL;
    ScoreStatus status = read_file(player, &read);
    if (status == SCORE_WRONG && read_accepted(player, &copy) == SCORE_FINE)
        player_say(player, PLAYER_ERROR, "%s is wrong: its copy that was right before plays",
                   player->request.path);
    player->score = copy ? copy : status == SCORE_FINE ? read : NULL;
    bool made = player->score && load_state(player, &now) &&
                make_lamps(player, player->score, player->overrides, &now, &player->lamps,
                           &player->lamp_count);
    if (made) {
        player_watch(player, &read->readings);
        player_watch_zone(player);
        player->taken = 1;
        if (!copy) {
            player_keep_copy(player, monotonic);
            keep_version(player);
        }
    } else if (player->score) {
        player_say(player, PLAYER_ERROR, "out of memory");
    }
    char missing[PLAYER_WRONG_BYTES];
    bool lacks = !made && read && read->program && lacks_lamp(player, read, missing);
    if (read != player->score)
        score_free(read);
    return made                            ? PLAYER_STARTED
           : status != SCORE_WRONG || copy ? PLAYER_MACHINE
           : lacks                         ? PLAYER_NO_LAMP
                                           : PLAYER_WRONG;
}

/* -------- a change -------- */

/* The lamps of before and after, by their names. */
static void follow_all(Player *player, LampPlayer **lamps, uint32_t count, const Now *now) {
    for (uint32_t i = 0; i < count; i++)
        for (uint32_t k = 0; k < player->lamp_count; k++)
            if (strcmp(lamp_player_name(lamps[i]), lamp_player_name(player->lamps[k])) == 0)
                lamp_player_follow(lamps[i], player->lamps[k], now);
}

static void forget_zone(Player *player) {
    loop_remove(player->loop, zone_watch_descriptor(player->score->zone));
    player->zone_is_other = false;
}

/* False: out of memory, nothing is changed. */
static bool take_score(Player *player, Score *score, int64_t monotonic) {
    Now now = player_now(player, monotonic);
    StateSaid said = {0};
    LampPlayer **lamps = NULL;
    uint32_t count = 0;
    Overrides *moved = memory_allocate(1, sizeof *moved);
    if (moved)
        *moved = *player->overrides;
    if (!moved || !state_move(moved, &player->score->world, &score->world, &said) ||
        !truths_tell(moved, &score->world, &now) ||
        !make_lamps(player, score, moved, &now, &lamps, &count)) {
        memory_release(moved);
        return false;
    }
    say_all(player, &said);
    follow_all(player, lamps, count, &now);
    lamps_free(player->lamps, player->lamp_count);
    memory_release(player->overrides);
    forget_zone(player);
    score_free(player->score);
    player->score = score;
    player->overrides = moved;
    player->lamps = lamps;
    player->lamp_count = count;
    player->ends = overrides_next_end(moved, &score->world, &now);
    player_watch_zone(player);
    return true;
}

void player_reload(Player *player, int64_t monotonic) {
    Score *score = NULL;
    player_trial_end(player, monotonic);
    ScoreStatus status = read_file(player, &score);
    if (score)
        player_watch(player, &score->readings);
    if (status == SCORE_FINE && take_score(player, score, monotonic)) {
        player->counts.reloads++;
        player->taken++;
        player_say(player, PLAYER_NOTICE, "%s is taken", player->request.path);
        player_changed(player, monotonic);
        player_keep_copy(player, monotonic);
        keep_version(player);
        return;
    }
    player->counts.refused++;
    player->version++;
    player_say(player, PLAYER_ERROR, "%s is not taken: what played goes on", player->request.path);
    score_free(score);
}

void player_forget(Player *player) {
    lamps_free(player->lamps, player->lamp_count);
    for (uint32_t i = 0; i < player->watch_count; i++)
        watch_free(player->watches[i]);
    memory_release(player->watches);
    if (player->score)
        forget_zone(player);
    score_free(player->score);
}
