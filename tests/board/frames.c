/* frames FILE ROUTINE FRAMES: works out frames of a routine on the file's first lamp, from the
 * machine to the bits of a one-wire line, as the player does, 60 a second from 10 s on; nothing is
 * sent. For counting instructions: run it twice, the difference is that of the frames. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "backends/onewire.h"
#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"
#include "runtime/light/level.h"

static uint16_t find(const Program *program, const char *name) {
    for (uint16_t i = 0; i < program->routine_count; i++)
        if (strcmp(program->routines[i].name, name) == 0)
            return i;
    return program->routine_count;
}

int main(int count, char **words) {
    DiskReader disk;
    ShapeRequest shape;
    ShapePoint *points = NULL;
    Lamp lamp;
    uint32_t lamps = 0;
    if (count != 4)
        return 2;
    disk_reader_start(&disk);
    Compilation *compilation = lang_compile(&disk.reader, words[1]);
    const Program *program = lang_program(compilation);
    const LampInfo *info = lang_lamps(compilation, &lamps);
    uint16_t routine = program ? find(program, words[2]) : 0;
    if (!program || lamps == 0 || routine == program->routine_count ||
        !lamp_request(info, &shape, &points) || !lamp_make(&lamp, program, &shape, info))
        return 1;
    PipelineLamp about = lamp_light(info, 60);
    DialValue *dials = dial_defaults(program);
    Vm *machine = vm_create(&program->routines[routine].code, &lamp.scene, dials);
    Pipeline *pipeline = pipeline_create(&about, lamp.shape);
    uint32_t pixels = lamp.scene.pixels;
    const OnewireProfile *profile = onewire_profile(info->chip, 0);
    float *light = memory_allocate(pixels, 3 * sizeof *light);
    uint8_t *bytes = memory_allocate(pixels, 3);
    uint64_t length = onewire_length(profile->pattern, profile->hertz, 3 * (uint64_t)pixels);
    uint8_t *line = memory_allocate((size_t)length, 1);
    OnewireTable table;
    onewire_table(profile->pattern, &table);
    if (!machine || !pipeline || !light || !bytes || !line)
        return 1;
    unsigned long sum = 0;
    for (long n = 0; n < atol(words[3]); n++) {
        int64_t at = 10000000 + n * 1000000 / 60;
        Moment moment = {{0}};
        moment.input[INPUT_T] = (double)at;
        vm_render(machine, &moment, light);
        pipeline_show(pipeline, at, LEVEL_NO_CEILING, light);
        pipeline_bytes(pipeline, light, (uint64_t)n, false, bytes);
        onewire_frame(&table, profile->hertz, bytes, 3 * (size_t)pixels, line);
        sum = sum * 31 + line[length / 2] + bytes[0];
    }
    printf("%lu\n", sum);
    return 0;
}
