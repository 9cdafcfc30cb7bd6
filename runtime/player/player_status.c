/* What a player tells of itself. */
#include <inttypes.h>

#include "backends/terminal.h"
#include "runtime/core/civil.h"
#include "runtime/library/agenda.h"
#include "runtime/library/state_file.h"
#include "runtime/library/zone_file.h"
#include "runtime/player/player_inside.h"
#include "runtime/player/status.h"

void player_wall(const Player *player, int64_t utc, char text[PLAYER_WALL]) {
    int64_t second = civil_floor_divide(utc, 1000000);
    int64_t wall = second + zone_offset(player->score->world.context.zone, second).offset;
    int32_t date = (int32_t)civil_floor_divide(wall, 86400);
    int of_day = (int)(wall - (int64_t)date * 86400);
    CivilDate civil = civil_from_days(date);
    snprintf(text, PLAYER_WALL, "%04d-%02d-%02d %02d:%02d:%02d", (int)civil.year, (int)civil.month,
             (int)civil.day, of_day / 3600, of_day / 60 % 60, of_day % 60);
}

void player_caption(const void *context, const LampPlayer *lamp, int64_t utc) {
    const Player *player = context;
    const World *world = &player->score->world;
    Now now = player_now(player, utc - player->offset);
    Playing playing;
    char why[AGENDA_CAUSE] = "", title[AGENDA_CAUSE + 80], wall[PLAYER_WALL];
    playing_now(player->overrides, world, &now, lamp_player_index(lamp), TIMETABLE_NOT_SAID,
                &playing);
    if (playing.cause == PLAYING_ENTRY)
        agenda_why(&world->context, playing.entry, playing.began, why, sizeof why);
    else if (playing.cause == PLAYING_HAND)
        snprintf(why, sizeof why, "by hand");
    if (player->trial && lamp_player_tries(lamp))
        snprintf(title, sizeof title, "%.64s, tried", player->trial->routine);
    else
        snprintf(title, sizeof title, "%.64s%s%s",
                 agenda_routine(world->context.program, playing.routine), *why ? ", " : "", why);
    player_wall(player, utc, wall);
    terminal_status(
        output_backend(lamp_player_output(lamp)),
        &(TerminalStatus){
            .title = title, .detail = wall, .note = player->note, .keys = "", .done = -1.0});
}

void player_caption_note(Player *player, const char *note) {
    snprintf(player->note, sizeof player->note, "%s", note);
}

typedef struct Named {
    const char *word;
    uint64_t count;
} Named;

enum { LAMP_COUNTS = 8 };

static void lamp_named(const LampPlayer *lamp, Named into[LAMP_COUNTS]) {
    const LampCounts *counts = lamp_player_counts(lamp);
    const Named all[LAMP_COUNTS] = {{"rendered", counts->rendered}, {"shown", counts->shown},
                                    {"between", counts->between},   {"repeated", counts->repeated},
                                    {"dropped", counts->dropped},   {"late", counts->late},
                                    {"held", counts->held},         {"failures", counts->failures}};
    for (int i = 0; i < LAMP_COUNTS; i++)
        into[i] = all[i];
}

/* "wakes 12: frame 10, timetable 2" */
static void wakes_text(const Player *player, FILE *out) {
    const PlayerCounts *counts = &player->counts;
    const char *before = ": ";
    fprintf(out, "wakes %" PRIu64, counts->wakes);
    for (int i = 0; i < WAKE_COUNT; i++)
        if (counts->by_cause[i]) {
            fprintf(out, "%s%s %" PRIu64, before, PLAYER_WAKE_WORDS[i], counts->by_cause[i]);
            before = ", ";
        }
    fputc('\n', out);
}

static void lamp_text(LampPlayer *lamp, FILE *out) {
    Named counts[LAMP_COUNTS];
    const LampOutput *output = lamp_player_output(lamp);
    const char *name = lamp_player_name(lamp);
    lamp_named(lamp, counts);
    fprintf(out, "%s%sframes", name, *name ? ": " : "");
    for (int i = 0; i < LAMP_COUNTS; i++)
        if (counts[i].count || i < 2)
            fprintf(out, "%s %" PRIu64 " %s", i ? "," : "", counts[i].count, counts[i].word);
    if (!output_is_open(output) && output_failures(output))
        fprintf(out, "; %s", output_sentence(output));
    fputc('\n', out);
}

static void player_text(const Player *player, FILE *out) {
    const PlayerCounts *counts = &player->counts;
    for (uint32_t i = 0; i < player->lamp_count; i++)
        lamp_text(player->lamps[i], out);
    wakes_text(player, out);
    fprintf(out,
            "files taken %" PRIu64 ", refused %" PRIu64 "; state saved %" PRIu64 ", failed %" PRIu64
            "; clock set %" PRIu64 "\n",
            counts->reloads, counts->refused, counts->saves, counts->lost, counts->steps);
    if (player->trial)
        fprintf(out, "%s%s%s is tried\n", player->trial->lamp, *player->trial->lamp ? ": " : "",
                player->trial->routine);
    if (*player->wrong)
        fprintf(out, "the home file is wrong, what played before goes on: %s\n", player->wrong);
    if (*player->page)
        fprintf(out, "page: %s\n", player->page);
}

static json_t *json_count(uint64_t count) {
    return json_integer((json_int_t)count);
}

static json_t *lamp_object(LampPlayer *lamp) {
    const LampOutput *output = lamp_player_output(lamp);
    Named named[LAMP_COUNTS];
    json_t *object = json_object();
    bool open = output_is_open(output);
    lamp_named(lamp, named);
    json_object_set_new(object, "lamp", json_string(lamp_player_name(lamp)));
    json_object_set_new(object, "open", json_boolean(open));
    json_object_set_new(object, "says",
                        open || !output_failures(output) ? json_null()
                                                         : json_string(output_sentence(output)));
    for (int i = 0; i < LAMP_COUNTS; i++)
        json_object_set_new(object, named[i].word, json_count(named[i].count));
    return object;
}

static json_t *player_object(const Player *player) {
    const PlayerCounts *counts = &player->counts;
    const Named all[] = {{"wakes", counts->wakes},     {"reloads", counts->reloads},
                         {"refused", counts->refused}, {"saves", counts->saves},
                         {"lost", counts->lost},       {"steps", counts->steps}};
    json_t *object = json_object(), *causes = json_object(), *lamps = json_array();
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        json_object_set_new(object, all[i].word, json_count(all[i].count));
    for (int i = 0; i < WAKE_COUNT; i++)
        json_object_set_new(causes, PLAYER_WAKE_WORDS[i], json_count(counts->by_cause[i]));
    json_object_set_new(object, "wakes_by_cause", causes);
    for (uint32_t i = 0; i < player->lamp_count; i++)
        json_array_append_new(lamps, lamp_object(player->lamps[i]));
    json_object_set_new(object, "lamps", lamps);
    json_object_set_new(object, "page", *player->page ? json_string(player->page) : json_null());
    return object;
}

static json_t *trial_object(const Player *player) {
    const Trial *trial = player->trial;
    json_t *object = trial ? json_object() : json_null();
    if (!trial)
        return object;
    json_object_set_new(object, "routine", json_string(trial->routine));
    json_object_set_new(object, "lamp", *trial->lamp ? json_string(trial->lamp) : json_null());
    json_object_set_new(object, "until", status_instant(trial->ends + player->offset));
    return object;
}

bool player_status(const Player *player, bool json, FILE *out) {
    Now now = player_now(player, clock_now(&player->clock).monotonic);
    char trust[256], release[ZONE_FILE_RELEASE_BYTES];
    StatusRequest request = {.world = &player->score->world,
                             .overrides = player->overrides,
                             .now = &now,
                             .trust = trust_sentence(&player->trust, trust, sizeof trust),
                             .release = zone_file_release(ZONE_FILE_DATABASE, release)};
    if (!json) {
        status_text(&request, out);
        player_text(player, out);
        return true;
    }
    state_json_begin();
    json_t *object = status_object(&request);
    json_object_set_new(object, "player", player_object(player));
    json_object_set_new(object, "trial", trial_object(player));
    json_object_set_new(object, "taken", json_count(player->taken));
    json_object_set_new(object, "kept", json_boolean(player->accepted && !player->copy_lost));
    json_object_set_new(object, "wrong", *player->wrong ? json_string(player->wrong) : json_null());
    return status_write(object, out);
}

/* When what status tells will be another by itself: the least of what playing_now says of each
 * lamp and part, of levels, and of what begins next. */
int64_t player_status_until(const Player *player) {
    const World *world = &player->score->world;
    Now now = player_now(player, clock_now(&player->clock).monotonic);
    int64_t until = player->ends;
    for (uint32_t i = 0; i < (world->lamp_count ? world->lamp_count : 1); i++) {
        int32_t lamp = world->lamp_count ? (int32_t)i : TIMETABLE_NOT_SAID;
        int32_t parts = world->lamp_count ? (int32_t)world->lamps[i].group_count : 0;
        TimetableBegin begin;
        Playing playing;
        for (int32_t part = TIMETABLE_NOT_SAID; part < parts; part++) {
            playing_now(player->overrides, world, &now, lamp, part, &playing);
            until = playing.changes < until ? playing.changes : until;
        }
        if (playing_next(player->overrides, world, &now, lamp, &begin) && begin.start < until)
            until = begin.start;
    }
    return until;
}
