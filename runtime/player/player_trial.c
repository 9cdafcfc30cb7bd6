/* A trial: a routine of another file on the home's lamps, for a short while. Nothing of it is kept,
 * and nothing that is kept knows of it. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/agenda.h"
#include "runtime/library/reader.h"
#include "runtime/player/player_inside.h"
#include "runtime/player/request.h"

/* So long after its end it would still play, so that the cross-fade goes from its light. */
#define TRIAL_AFTER INT64_C(3600000000)

/* -------- words -------- */

typedef struct TrialWords {
    char path[REQUEST_BYTES], play[REQUEST_BYTES], lamp[REQUEST_BYTES];
} TrialWords;

/* Where these words stand in a line, behind others; NULL: nowhere. */
static const char *find_words(const char *line, const char *words) {
    for (const char *p = line; *p; p++)
        if ((unsigned char)*p <= ' ' && (unsigned char)p[1] > ' ' && request_behind(p, words))
            return p + 1;
    return NULL;
}

/* `PATH play ROUTINE [with ...] [on lamp NAME] for D`, NAME taken out. PATH may hold spaces. */
static bool read_words(const char *words, TrialWords *into) {
    const char *play = find_words(words, "play");
    *into = (TrialWords){0};
    if (!play || strlen(words) >= REQUEST_BYTES)
        return false;
    size_t path = (size_t)(play - words);
    while (path > 0 && (unsigned char)words[path - 1] <= ' ')
        path--;
    memcpy(into->path, words, path);
    const char *lamp = find_words(play, "on lamp");
    if (!lamp) {
        snprintf(into->play, sizeof into->play, "%s", play);
        return path > 0;
    }
    const char *name = request_behind(lamp, "on lamp");
    size_t length = request_word(name);
    snprintf(into->lamp, sizeof into->lamp, "%.*s", (int)length, name);
    snprintf(into->play, sizeof into->play, "%.*s%s", (int)(lamp - play), play, name + length);
    return path > 0 && length > 0;
}

/* Whether two files are in one folder, links followed. */
static bool one_folder(const char *a, const char *b) {
    char first[PATH_MAX], second[PATH_MAX];
    if (!b || !realpath(a, first) || !realpath(b, second))
        return false;
    size_t length = (size_t)(strrchr(first, '/') - first);
    return (size_t)(strrchr(second, '/') - second) == length && strncmp(first, second, length) == 0;
}

/* -------- lamps -------- */

static LampPlayer *make_trial_lamp(const Player *player, const Trial *trial, const Now *now,
                                   const LampPlayer *lamp) {
    const Score *home = player->score;
    int32_t index = lamp_player_index(lamp);
    return player_make_lamp(player, trial ? &trial->score->world : &home->world,
                            index >= 0 ? &home->lamps[index] : NULL, index,
                            trial ? trial->overrides : player->overrides, now, trial != NULL);
}

static bool is_meant(const TrialWords *words, const LampPlayer *lamp) {
    return !*words->lamp || strcmp(words->lamp, lamp_player_name(lamp)) == 0;
}

/* Those that are meant, new, with the others as they are. False: out of memory, or none is. */
static bool put_on(Player *player, Trial *trial, const TrialWords *words, const Now *now) {
    LampPlayer **made = memory_allocate((size_t)player->lamp_count + 1, sizeof(LampPlayer *));
    bool fine = made != NULL;
    uint32_t count = 0;
    for (uint32_t i = 0; fine && i < player->lamp_count; i++) {
        if (!is_meant(words, player->lamps[i]))
            continue;
        made[i] = make_trial_lamp(player, trial, now, player->lamps[i]);
        fine = made[i] != NULL;
        count++;
    }
    for (uint32_t i = 0; made && i < player->lamp_count; i++) {
        LampPlayer *gone = fine && made[i] ? player->lamps[i] : made[i];
        if (fine && made[i]) {
            lamp_player_follow(made[i], gone, now);
            player->lamps[i] = made[i];
        }
        lamp_player_free(gone);
    }
    memory_release(made);
    return fine && count > 0;
}

static void trial_free(Trial *trial) {
    if (!trial)
        return;
    score_free(trial->score);
    memory_release(trial->overrides);
    memory_release(trial);
}

/* -------- its end -------- */

void player_trial_end(Player *player, int64_t monotonic) {
    Trial *trial = player->trial;
    if (!trial)
        return;
    Now now = player_now(player, monotonic);
    bool back = true;
    for (uint32_t i = 0; i < player->lamp_count; i++) {
        LampPlayer *lamp = player->lamps[i], *home;
        if (!lamp_player_tries(lamp))
            continue;
        home = make_trial_lamp(player, NULL, &now, lamp);
        back = back && home;
        if (!home)
            continue;
        lamp_player_follow(home, lamp, &now);
        lamp_player_free(lamp);
        player->lamps[i] = home;
    }
    if (!back) { /* it plays on for a moment */
        trial->ends = monotonic + PLAYER_TELL_AGAIN;
        return;
    }
    player->trial = NULL;
    player->version++;
    trial_free(trial);
    player_say(player, PLAYER_INFORMATION, "the trial is over");
}

void player_trial_free(Player *player) {
    trial_free(player->trial);
    player->trial = NULL;
}

/* -------- its beginning -------- */

static ScoreStatus read_trial(const Player *player, const char *path, Score **score) {
    DiskReader disk;
    ScoreRequest request = {
        .path = path, .variable = player->request.variable, .folders = player->request.folders};
    disk_reader_start(&disk);
    ScoreStatus status = score_read(&disk.reader, &request, score);
    disk_reader_end(&disk);
    return status;
}

/* What is to play, in the trial's own world. False: `said`. */
static bool play_trial(const Player *player, Trial *trial, const TrialWords *words, const Now *now,
                       char said[REQUEST_SENTENCE]) {
    Request *request = memory_allocate(1, sizeof *request);
    const World *world = &trial->score->world;
    snprintf(said, REQUEST_SENTENCE, "out of memory");
    bool fine = request && request_read(world, words->play, request, said);
    if (fine && (request->act.end.kind != OVERRIDE_FOR || request->act.end.length > TRIAL_MOST)) {
        snprintf(said, REQUEST_SENTENCE, "a trial says how long, up to 10min: for 1min");
        fine = false;
    }
    if (fine) {
        trial->length = request->act.end.length;
        trial->ends = now->utc - player->offset + trial->length;
        request->act.end.length += TRIAL_AFTER;
        snprintf(trial->routine, sizeof trial->routine, "%s",
                 agenda_routine(world->context.program, request->act.routine));
        overrides_settle(trial->overrides, now);
        fine = request_do(trial->overrides, world, now, request, said);
    }
    memory_release(request);
    return fine;
}

/* The lamp is looked for before anything is read. */
static bool lamp_there(const Player *player, const TrialWords *words) {
    for (uint32_t i = 0; i < player->lamp_count; i++)
        if (is_meant(words, player->lamps[i]))
            return true;
    return false;
}

static bool begin(Player *player, Trial *trial, const TrialWords *words, char *said, size_t size) {
    int64_t monotonic = clock_now(&player->clock).monotonic;
    Now now = player_now(player, monotonic);
    char sentence[REQUEST_SENTENCE];
    ScoreStatus status = read_trial(player, words->path, &trial->score);
    if (status != SCORE_FINE) {
        player_first_mistake(trial->score, said, size);
        return false;
    }
    trial->overrides = memory_allocate(1, sizeof *trial->overrides);
    snprintf(trial->lamp, sizeof trial->lamp, "%.127s", words->lamp);
    snprintf(said, size, "out of memory");
    if (!trial->overrides)
        return false;
    if (!play_trial(player, trial, words, &now, sentence)) {
        snprintf(said, size, "%s", sentence);
        return false;
    }
    player_trial_end(player, monotonic);
    return !player->trial && put_on(player, trial, words, &now);
}

bool player_try(Player *player, const char *words, char *said, size_t size) {
    TrialWords *read = memory_allocate(1, sizeof *read);
    Trial *trial = memory_allocate(1, sizeof *trial);
    bool begun = false;
    player_wake(player, WAKE_REQUEST);
    if (!read || !trial)
        snprintf(said, size, "out of memory");
    else if (request_is(words, "end")) {
        begun = player->trial != NULL;
        snprintf(said, size, begun ? "the trial is over" : "nothing is tried");
        player_trial_end(player, clock_now(&player->clock).monotonic);
    } else if (!read_words(words, read))
        snprintf(said, size, "try PATH play ROUTINE on lamp NAME for 1min");
    else if (!one_folder(read->path, player->request.path) &&
             !one_folder(read->path, player->accepted))
        snprintf(said, size, "what is tried lies beside the home file");
    else if (!lamp_there(player, read))
        snprintf(said, size, "no lamp `%.100s` is driven", read->lamp);
    else if ((begun = begin(player, trial, read, said, size))) {
        char length[AGENDA_WORDS];
        player->trial = trial;
        player->version++;
        agenda_duration(trial->length, length, sizeof length);
        snprintf(said, size, "%.100s is tried for %s", trial->routine, length);
        player_say(player, PLAYER_INFORMATION, "%s", said);
        trial = NULL;
    }
    trial_free(trial);
    memory_release(read);
    return begun;
}
