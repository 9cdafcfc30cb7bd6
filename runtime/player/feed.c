#include "runtime/player/feed.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/light/encode.h"

enum { HEAD_BYTES = 48 };

/* -------- asked -------- */

static LampPlayer *find_lamp(const Player *player, const char *name) {
    for (uint32_t i = 0; i < player_lamps(player); i++)
        if (strcmp(lamp_player_name(player_lamp(player, i)), name) == 0)
            return player_lamp(player, i);
    return NULL;
}

/* `[on lamp NAME] [at F]`; NAME as it stands where it is not said. */
static bool read_light(const char *words, char name[FEED_NAME], int *rate) {
    while (*words) {
        const char *lamp = request_behind(words, "on lamp"), *at = request_behind(words, "at");
        size_t length = request_word(lamp ? lamp : at ? at : "");
        if (length == 0 || length >= FEED_NAME)
            return false;
        if (lamp)
            snprintf(name, FEED_NAME, "%.*s", (int)length, lamp);
        else if (strspn(at, "0123456789") != length || length > 2)
            return false;
        else
            *rate = atoi(at);
        words = request_behind((lamp ? lamp : at) + length, "");
    }
    return *rate >= 1 && *rate <= FEED_RATE;
}

static bool watch_light(Feed *feed, const Player *player, const char *words, char *said,
                        size_t size) {
    FeedLamp one = {0};
    int rate = FEED_USUAL;
    if (player_lamps(player))
        snprintf(one.name, sizeof one.name, "%s", lamp_player_name(player_lamp(player, 0)));
    if (!read_light(words, one.name, &rate)) {
        snprintf(said, size, "watch light [on lamp NAME] [at F], F from 1 to %d", FEED_RATE);
        return false;
    }
    if (!find_lamp(player, one.name)) {
        snprintf(said, size, "no lamp `%s` is driven", one.name);
        return false;
    }
    uint32_t i = 0;
    while (i < feed->count && strcmp(feed->lamps[i].name, one.name) != 0)
        i++;
    if (i == FEED_LAMPS) {
        snprintf(said, size, "at most %d lamps are watched", FEED_LAMPS);
        return false;
    }
    one.period = 1000000 / rate;
    feed->lamps[i] = one;
    feed->count += i == feed->count;
    return true;
}

bool feed_watch(Feed *feed, const Player *player, const char *words, char *said, size_t size) {
    *said = '\0';
    const char *light = request_behind(words, "light");
    if (request_is(words, "nothing")) {
        *feed = (Feed){0};
        return true;
    }
    if (request_is(words, "state")) {
        feed->state = true;
        feed->told = false;
        return true;
    }
    if (light)
        return watch_light(feed, player, light, said, size);
    snprintf(said, size, "watch state, watch light, or watch nothing");
    return false;
}

/* -------- told -------- */

typedef struct Text {
    char *bytes;
    size_t length, size;
} Text;

/* Of fopencookie(3): nothing written is an error of the stream. */
static ssize_t text_write(void *context, const char *bytes, size_t length) {
    Text *text = context;
    size_t size = text->size ? text->size : 16384;
    while (size - text->length <= length)
        size *= 2;
    char *larger = size == text->size ? text->bytes : memory_resize(text->bytes, size, 1);
    if (!larger)
        return 0;
    memcpy(larger + text->length, bytes, length);
    text->bytes = larger;
    text->size = size;
    text->length += length;
    text->bytes[text->length] = '\0';
    return (ssize_t)length;
}

char *feed_status(const Player *player, bool json, size_t *length) {
    Text text = {0};
    FILE *out = fopencookie(&text, "w", (cookie_io_functions_t){.write = text_write});
    bool told = out && player_status(player, json, out) && !ferror(out);
    told = out && fclose(out) == 0 && told;
    if (!told) {
        memory_release(text.bytes);
        return NULL;
    }
    *length = text.length;
    return text.bytes;
}

static int64_t earlier(int64_t a, int64_t b) {
    return a < b ? a : b;
}

/* When it is stale by itself. */
static int64_t state_due(const Feed *feed, const Player *player, int64_t monotonic) {
    if (feed->stale == TIMETABLE_NEVER)
        return FEED_NEVER;
    int64_t left = feed->stale - player_utc(player);
    return monotonic + (left > 0 ? left : 0);
}

static int64_t state_turn(Feed *feed, Caller *caller, const Player *player, int64_t monotonic) {
    if (!feed->state)
        return FEED_NEVER;
    if (feed->told && feed->version == player_version(player) && player_utc(player) < feed->stale)
        return state_due(feed, player, monotonic);
    if (feed->told && monotonic < feed->next)
        return feed->next;
    if (caller->waiting) /* told when that is gone, with what is so then */
        return FEED_NEVER;
    size_t length;
    char head[HEAD_BYTES], *text = feed_status(player, true, &length);
    if (!text)
        return monotonic + 1000000;
    feed->told = true;
    feed->version = player_version(player);
    int64_t utc = player_utc(player), until = player_status_until(player);
    feed->stale = until > utc ? until : utc + 1000000;
    feed->next = monotonic + FEED_STATE_EVERY;
    snprintf(head, sizeof head, "state %zu", length);
    if (length <= CALLER_MESSAGE) /* else `status` tells why there is none */
        caller_tell(caller, head, text, length);
    memory_release(text);
    return earlier(feed->next, state_due(feed, player, monotonic));
}

uint32_t feed_step(uint32_t pixels) {
    return pixels ? (pixels + FEED_PIXELS - 1) / FEED_PIXELS : 1;
}

static void tell_light(Caller *caller, const LampPlayer *lamp) {
    static ScreenTable table;
    static uint8_t bytes[3 * FEED_PIXELS];
    uint32_t pixels, step, count = 0;
    const float *light = lamp_player_light(lamp, &pixels);
    int32_t index = lamp_player_index(lamp);
    char head[HEAD_BYTES];
    if (table.start[4096] == 0)
        encode_screen_table(&table);
    step = feed_step(pixels);
    for (uint32_t i = 0; i < pixels; i += step)
        encode_screen(&table, light + 3 * (size_t)i, 1, bytes + 3 * (size_t)count++);
    snprintf(head, sizeof head, "light %d %u", index < 0 ? 0 : (int)index, 3 * count);
    caller_tell(caller, head, bytes, 3 * (size_t)count);
}

static int64_t light_turn(FeedLamp *one, Caller *caller, const Player *player, int64_t monotonic) {
    const LampPlayer *lamp = find_lamp(player, one->name);
    if (!lamp || !lamp_player_light(lamp, &(uint32_t){0}))
        return FEED_NEVER;
    uint64_t frame = lamp_player_counts(lamp)->rendered;
    if (one->told && frame == one->frame)
        return FEED_NEVER;
    if (one->told && monotonic < one->next)
        return one->next;
    if (caller->waiting) /* this one is dropped */
        return FEED_NEVER;
    one->told = true;
    one->frame = frame;
    /* As many as were asked for in the mean, though they come when frames do. */
    one->next += one->period;
    if (one->next <= monotonic)
        one->next = monotonic + one->period;
    tell_light(caller, lamp);
    return FEED_NEVER;
}

int64_t feed_turn(Feed *feed, Caller *caller, const Player *player, int64_t monotonic) {
    int64_t due = state_turn(feed, caller, player, monotonic);
    for (uint32_t i = 0; i < feed->count; i++)
        due = earlier(due, light_turn(&feed->lamps[i], caller, player, monotonic));
    return due;
}
