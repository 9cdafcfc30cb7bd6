#include "runtime/service/page/page.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/player/readings.h"

int64_t page_monotonic(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

int64_t page_utc(void) {
    return (int64_t)time(NULL);
}

json_t *page_instant(int64_t utc) {
    int64_t days = civil_floor_divide(utc, 86400);
    CivilDate date = civil_from_days((int32_t)days);
    int rest = (int)(utc - days * 86400);
    return json_sprintf("%04d-%02d-%02dT%02d:%02d:%02dZ", (int)date.year, (int)date.month,
                        (int)date.day, rest / 3600, rest / 60 % 60, rest % 60);
}

/* -------- hidden files -------- */

static bool hidden(const char *beside, const char *name, char path[PAGE_PATH]) {
    const char *slash = beside ? strrchr(beside, '/') : NULL;
    int folder = slash ? (int)(slash + 1 - beside) : 0;
    return beside && snprintf(path, PAGE_PATH, "%.*s%s", folder, beside, name) < PAGE_PATH;
}

bool page_trial(const Page *page, char path[PAGE_PATH]) {
    char *real = realpath(page->home, NULL); /* where a link leads, as the player looks for it */
    bool fits = hidden(real ? real : page->home, ".trial.gloam", path);
    free(real);
    return fits;
}

bool page_code(const Page *page, char path[PAGE_PATH]) {
    return hidden(page->state, ".code.gloam", path);
}

/* -------- the home that plays -------- */

/* The copy that the player keeps of what it has taken; NULL: there is none. */
static Score *read_accepted(const Page *page) {
    char path[PAGE_PATH];
    Readings readings;
    Score *score = NULL;
    if (!page->state ||
        (size_t)snprintf(path, sizeof path, "%s.accepted", page->state) >= sizeof path ||
        !readings_load(&readings, path))
        return NULL;
    LangReader reader = readings_replay(&readings);
    ScoreRequest request = {
        .path = page->home, .variable = getenv("TZ"), .folders = &zone_folders_system};
    if (score_read(&reader, &request, &score) != SCORE_FINE) {
        score_free(score);
        score = NULL;
    }
    readings_free(&readings);
    return score;
}

const Score *page_score(Page *page) {
    if (page->score_taken == page->taken && page->taken && !page->unkept)
        return page->score;
    score_free(page->score);
    page->score = page->unkept ? NULL : read_accepted(page);
    page->score_taken = page->score ? page->taken : 0; /* else it is tried again */
    return page->score;
}

int page_lamp(const Score *score, const char *name) {
    if (!name || !*name)
        return 0;
    for (uint32_t i = 0; score && i < score->lamp_count; i++)
        if (strcmp(score->lamps[i].name, name) == 0)
            return (int)i;
    return -1;
}

const char *page_lamp_name(const Score *score, int lamp) {
    return score && (uint32_t)lamp < score->lamp_count ? score->lamps[lamp].name : "";
}
