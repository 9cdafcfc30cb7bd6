#include "runtime/light/flash.h"

#include <stddef.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"

#define SECOND 1000000

/* The limits of the rule; the slack lets a limit count that floats miss by their rounding (0.4 -
 * 0.3 is 6e-9 short of 0.1 in single precision). */
#define SLACK 1e-6
#define LUMINANCE_STEP (0.1 - SLACK)
#define LUMINANCE_DARK (0.8 - SLACK)
#define RED_PART (0.8 - SLACK)
#define RED_STEP (0.2 - SLACK)

/* CIE 1976 u'v' of the red primary and of D65. */
#define PRIMARY_U 0.4507
#define PRIMARY_V 0.5229
#define WHITE_U 0.19783
#define WHITE_V 0.46832

enum { SUSTAINED_LEAST = 4, SUSTAINED_WINDOW = 5 * SECOND, SUSTAINED_LONG = 4 * SECOND };

typedef enum FlashSignal { SIGNAL_MEAN, SIGNAL_PIXELS, SIGNALS } FlashSignal;

typedef struct Chroma {
    float u, v;
} Chroma;

/* What the rule sees of a colour. */
typedef struct Sight {
    float luminance;
    bool red; /* saturated */
    Chroma chroma;
} Sight;

/* Before the first transition of a kind its machine looks both ways. */
typedef enum RedPhase {
    RED_START, /* no saturated red so far */
    RED_EITHER,
    RED_OFF, /* the last transition led away from red */
    RED_ON
} RedPhase;

/* The two machines of one pixel, or of the mean. Luminance: `way` is the direction of the last
 * change of 0.10 or more, `from` the peak or valley where it began, `extreme` how far it has come;
 * with way 0 they are the lowest and the highest so far. Red: `far` is the state farthest from the
 * primary, `near` the saturated one nearest to it, each since the last transition. */
typedef struct Machine {
    float from, extreme;
    Chroma far, near;
    int8_t way;
    bool counted;         /* the change under way */
    uint8_t phase, spare; /* no hole, so that two can be compared byte by byte */
} Machine;
_Static_assert(sizeof(Machine) == 6 * sizeof(float) + 4, "a hole in Machine");

/* A machine after a frame, and the transition it completed in it: +1, -1 (to and from red), 0. */
typedef struct Step {
    Machine machine;
    int way[FLASH_KINDS];
} Step;

/* The transitions of one signal and kind: the last FLASH_MOST of them. */
typedef struct Record {
    int64_t times[FLASH_MOST];
    uint16_t crowds[FLASH_MOST]; /* transitions in the second that ends with each */
    uint64_t count;
} Record;

typedef struct Frame {
    bool completes[SIGNALS][FLASH_KINDS];
} Frame;

struct Flash {
    uint32_t pixels;
    Machine mean;
    Machine *machines;
    Record records[SIGNALS][FLASH_KINDS];
    FlashSeen seen;
};

static Sight flash_sight(double r, double g, double b) {
    /* Linear sRGB to XYZ as in CSS Color 4: 4 X, 9 Y and X + 15 Y + 3 Z. */
    double across = 1.649563197063838 * r + 1.4303373575355118 * g + 0.7219231536073372 * b;
    double along = 1.9137510528435933 * r + 6.436518108909803 * g + 0.6497308382466034 * b;
    double depth = 3.6599683434853905 * r + 11.442698860284095 * g + 4.114961975561822 * b;
    double sum = r + g + b;
    bool black = !(sum > 0.0);
    double over = 1.0 / (black ? 1.0 : depth);
    Sight sight = {
        .luminance = (float)(0.2126 * r + 0.7152 * g + 0.0722 * b),
        .red = !black && r >= RED_PART * sum,
        .chroma = {(float)(black ? WHITE_U : across * over),
                   (float)(black ? WHITE_V : along * over)},
    };
    return sight;
}

static double chroma_square(Chroma a, double u, double v) {
    double across = a.u - u, along = a.v - v;
    return across * across + along * along;
}

static bool chroma_apart(Chroma a, Chroma b) {
    return chroma_square(a, b.u, b.v) > RED_STEP * RED_STEP;
}

static double chroma_off_primary(Chroma a) {
    return chroma_square(a, PRIMARY_U, PRIMARY_V);
}

static void machine_turn(Machine *machine, int way, float from, float to) {
    machine->way = (int8_t)way;
    machine->from = from;
    machine->extreme = to;
    machine->counted = false;
}

static void machine_start(Machine *machine, float luminance) {
    float low = luminance < machine->from ? luminance : machine->from;
    float high = luminance > machine->extreme ? luminance : machine->extreme;
    machine->from = low;
    machine->extreme = high;
    if ((double)luminance - low >= LUMINANCE_STEP)
        machine_turn(machine, 1, low, luminance);
    else if ((double)high - luminance >= LUMINANCE_STEP)
        machine_turn(machine, -1, high, luminance);
}

/* The darker end is looked at again and again while a change goes on: 1.0, 0.85, 0.0 is one. */
static int machine_luminance(Machine *machine, float luminance) {
    double onward = machine->way * ((double)luminance - machine->extreme);
    if (machine->way == 0)
        machine_start(machine, luminance);
    else if (onward >= 0.0)
        machine->extreme = luminance;
    else if (onward <= -LUMINANCE_STEP)
        machine_turn(machine, -machine->way, machine->extreme, luminance);
    double change = machine->way * ((double)luminance - machine->from);
    float darker = luminance < machine->from ? luminance : machine->from;
    if (machine->way == 0 || machine->counted || change < LUMINANCE_STEP ||
        darker >= LUMINANCE_DARK)
        return 0;
    machine->counted = true;
    return machine->way;
}

static int machine_red(Machine *machine, Sight sight) {
    RedPhase phase = (RedPhase)machine->phase;
    Chroma chroma = sight.chroma;
    if (sight.red && phase != RED_ON && chroma_apart(chroma, machine->far)) {
        machine->phase = RED_ON;
        machine->near = chroma;
        return 1;
    }
    if (!sight.red && (phase == RED_ON || phase == RED_EITHER) &&
        chroma_apart(chroma, machine->near)) {
        machine->phase = RED_OFF;
        machine->far = chroma;
        return -1;
    }
    double off = chroma_off_primary(chroma);
    if (phase != RED_ON && off > chroma_off_primary(machine->far))
        machine->far = chroma;
    if (sight.red && (phase == RED_START || off < chroma_off_primary(machine->near)))
        machine->near = chroma;
    if (sight.red && phase == RED_START)
        machine->phase = RED_EITHER;
    return 0;
}

/* The same colour again completes nothing: each machine then stands where it stood. */
static Step machine_step(Machine machine, double r, double g, double b) {
    Sight sight = flash_sight(r, g, b);
    Step step;
    step.way[FLASH_GENERAL] = machine_luminance(&machine, sight.luminance);
    step.way[FLASH_RED] = machine_red(&machine, sight);
    step.machine = machine;
    return step;
}

/* Whether a pixel does as the one before it did: of light that is even, one is enough. */
static bool machine_repeats(const Machine *before, const Machine *machine, const float *light) {
    return memcmp(light - 3, light, 3 * sizeof *light) == 0 &&
           memcmp(before, machine, sizeof *machine) == 0;
}

/* Runs every machine one frame on, to `mean` and `machines`: NULL, a trial. */
static Frame flash_run(const Flash *flash, const float *light, Machine *mean, Machine *machines) {
    double r = 0.0, g = 0.0, b = 0.0;
    uint32_t ways[FLASH_KINDS][3] = {{0}};
    Machine before = {0};
    Step step = {0};
    for (size_t i = 0; i < flash->pixels; i++) {
        double red = number_unit(light[3 * i]), green = number_unit(light[3 * i + 1]),
               blue = number_unit(light[3 * i + 2]);
        r += red;
        g += green;
        b += blue;
        if (i == 0 || !machine_repeats(&before, &flash->machines[i], light + 3 * i)) {
            before = flash->machines[i];
            step = machine_step(before, red, green, blue);
        }
        if (machines != NULL)
            machines[i] = step.machine;
        for (int kind = 0; kind < FLASH_KINDS; kind++)
            ways[kind][step.way[kind] + 1]++;
    }
    double number = flash->pixels > 0 ? flash->pixels : 1.0;
    step = machine_step(flash->mean, r / number, g / number, b / number);
    if (mean != NULL)
        *mean = step.machine;
    Frame frame;
    for (int kind = 0; kind < FLASH_KINDS; kind++) {
        uint64_t most = ways[kind][0] > ways[kind][2] ? ways[kind][0] : ways[kind][2];
        frame.completes[SIGNAL_MEAN][kind] = step.way[kind] != 0;
        frame.completes[SIGNAL_PIXELS][kind] = most > 0 && 4 * most >= flash->pixels;
    }
    return frame;
}

/* The time of the transition `back` before the next one. */
static int64_t record_time(const Record *record, uint32_t back) {
    return record->times[(record->count - back) % FLASH_MOST];
}

static uint32_t record_known(const Record *record) {
    return record->count < FLASH_MOST ? (uint32_t)record->count : FLASH_MOST;
}

/* Whether another transition now would be one too many. */
static bool record_full(const Record *record, int64_t microseconds) {
    return record->count >= FLASH_TOO_MANY - 1 &&
           microseconds - record_time(record, FLASH_TOO_MANY - 1) < SECOND;
}

/* The stretch from one transition to the next counts where the second that ends with the next holds
 * 4 to 6. Whether those of the last five seconds come to more than four. */
static bool record_sustained(const Record *record) {
    int64_t now = record_time(record, 1), begin = now - SUSTAINED_WINDOW, total = 0;
    uint32_t known = record_known(record);
    for (uint32_t back = 1; back < known && record_time(record, back) > begin; back++) {
        uint16_t crowd = record->crowds[(record->count - back) % FLASH_MOST];
        int64_t from = record_time(record, back + 1);
        if (crowd >= SUSTAINED_LEAST && crowd < FLASH_TOO_MANY)
            total += record_time(record, back) - (from > begin ? from : begin);
    }
    return total > SUSTAINED_LONG;
}

static void record_add(Record *record, int64_t microseconds, FlashKind kind, FlashSeen *seen) {
    record->times[record->count % FLASH_MOST] = microseconds;
    record->count++;
    uint32_t known = record_known(record);
    uint32_t crowd = 1;
    while (crowd < known && microseconds - record_time(record, crowd + 1) < SECOND)
        crowd++;
    record->crowds[(record->count - 1) % FLASH_MOST] = (uint16_t)crowd;
    uint32_t total = record->count < UINT32_MAX ? (uint32_t)record->count : UINT32_MAX;
    if (total > seen->total[kind])
        seen->total[kind] = total;
    if (crowd > seen->most[kind]) {
        seen->most[kind] = crowd;
        seen->worst[kind] = record_time(record, crowd);
    }
    if (!seen->sustained[kind])
        seen->sustained[kind] = record_sustained(record);
}

Flash *flash_create(uint32_t pixels) {
    Flash *flash = memory_allocate(1, sizeof *flash);
    if (flash == NULL)
        return NULL;
    flash->pixels = pixels;
    flash->machines = memory_allocate(pixels, sizeof *flash->machines);
    if (flash->machines == NULL) {
        flash_free(flash);
        return NULL;
    }
    flash_restart(flash);
    return flash;
}

void flash_free(Flash *flash) {
    if (flash == NULL)
        return;
    memory_release(flash->machines);
    memory_release(flash);
}

void flash_restart(Flash *flash) {
    /* Nothing seen: every luminance is lower and higher than these, every colour farther. */
    const Machine fresh = {.from = 2.0f,
                           .extreme = -1.0f,
                           .far = {(float)PRIMARY_U, (float)PRIMARY_V},
                           .phase = RED_START};
    flash->mean = fresh;
    for (size_t i = 0; i < flash->pixels; i++)
        flash->machines[i] = fresh;
    for (int signal = 0; signal < SIGNALS; signal++)
        for (int kind = 0; kind < FLASH_KINDS; kind++)
            flash->records[signal][kind].count = 0;
    flash->seen = (FlashSeen){{0}, {0}, {0}, {false}};
}

void flash_frame(Flash *flash, int64_t microseconds, const float *light) {
    Frame frame = flash_run(flash, light, &flash->mean, flash->machines);
    for (int signal = 0; signal < SIGNALS; signal++)
        for (int kind = 0; kind < FLASH_KINDS; kind++)
            if (frame.completes[signal][kind])
                record_add(&flash->records[signal][kind], microseconds, (FlashKind)kind,
                           &flash->seen);
}

bool flash_would_break(const Flash *flash, int64_t microseconds, const float *light) {
    bool full[SIGNALS][FLASH_KINDS], any = false, breaks = false;
    for (int signal = 0; signal < SIGNALS; signal++)
        for (int kind = 0; kind < FLASH_KINDS; kind++) {
            full[signal][kind] = record_full(&flash->records[signal][kind], microseconds);
            any = any || full[signal][kind];
        }
    if (!any)
        return false;
    Frame frame = flash_run(flash, light, NULL, NULL);
    for (int signal = 0; signal < SIGNALS; signal++)
        for (int kind = 0; kind < FLASH_KINDS; kind++)
            breaks = breaks || (full[signal][kind] && frame.completes[signal][kind]);
    return breaks;
}

const FlashSeen *flash_seen(const Flash *flash) {
    return &flash->seen;
}
