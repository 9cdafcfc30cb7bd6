#include "runtime/player/score.h"

#include "runtime/core/memory.h"
#include "runtime/library/state_file.h"

static ScoreStatus score_compile(Score *score, const LangReader *reader,
                                 const ScoreRequest *request) {
    LangReader recorder = readings_record(&score->readings, reader);
    score->compilation = lang_compile(&recorder, request->path);
    score->readings.inner = NULL;
    if (!score->compilation || score->readings.no_memory)
        return SCORE_NO_MEMORY;
    if (request->compiled)
        request->compiled(request->context, score->compilation);
    score->program = lang_program(score->compilation);
    if (!score->program)
        return diagnostics_out_of_memory(lang_diagnostics(score->compilation)) ? SCORE_NO_MEMORY
                                                                               : SCORE_WRONG;
    score->lamps = lang_lamps(score->compilation, &score->lamp_count);
    return SCORE_FINE;
}

ScoreStatus score_read(const LangReader *reader, const ScoreRequest *request, Score **into) {
    Score *score = *into = memory_allocate(1, sizeof *score);
    if (!score)
        return SCORE_NO_MEMORY;
    ScoreStatus status = score_compile(score, reader, request);
    if (status != SCORE_FINE)
        return status;
    const PlaceInfo *place = lang_place(score->compilation);
    ZoneSource source = {place->said ? place->zone : NULL, request->variable};
    if (!zone_watch_open(&source, request->folders, &score->zone) ||
        !state_world(&score->world, score->compilation, score->program,
                     zone_watch_zone(score->zone)))
        return SCORE_NO_MEMORY;
    return SCORE_FINE;
}

void score_free(Score *score) {
    if (!score)
        return;
    state_world_free(&score->world);
    zone_watch_close(score->zone);
    lang_free(score->compilation);
    readings_free(&score->readings);
    memory_release(score);
}

void score_take_zone(Score *score) {
    score->world.context.zone = zone_watch_zone(score->zone);
}
