/* From the plan to code: registers by last use over straight-line code, tables, the result. */
#include <string.h>

#include "lang/emit_inside.h"
#include "runtime/core/memory.h"

#define FOREVER UINT32_MAX

/* Where a value is held, and until when. */
typedef struct Holder {
    uint32_t last; /* position of the last instruction that reads it; FOREVER */
    uint16_t index;
} Holder;

typedef struct Emitter {
    const Graph *graph;
    const EmitPlan *plan;
    Code *code;
    EmitTrouble trouble;
    Holder *holders;          /* by value and want */
    RegisterBank banks[2][2]; /* frame or pixel; numbers or colours */
} Emitter;

typedef struct Source {
    Value value;
    Want want;
} Source;

static Holder *holder(const Emitter *emitter, Value value, Want want) {
    return &emitter->holders[(size_t)value * WANT_COUNT + want];
}

static bool is_spread(Section section) {
    return section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD;
}

/* Whose registers the instructions of a section write. */
static Want want_of(Section section) {
    switch (section) {
    case SECTION_SET:
    case SECTION_FRAME:
        return WANT_FRAME;
    case SECTION_SET_SPREAD:
    case SECTION_EACH:
        return WANT_EACH;
    default:
        return WANT_PIXEL;
    }
}

static bool writes(const EmitItem *item) {
    return operation_result((Operation)item->operation) != '-';
}

/* What an instruction reads, one after another; value 0 behind the last. */
static Source source_at(const Emitter *emitter, Section section, const EmitItem *item,
                        uint32_t index) {
    const Source none = {0, WANT_FRAME};
    switch ((Operation)item->operation) {
    case OP_RAMP_READY: {
        const GraphRamp *ramp = &emitter->graph->ramps[item->value];
        if (index >= 2 * ramp->count)
            return none;
        const GraphStop *stop = &ramp->stops[index / 2];
        return (Source){index % 2 ? stop->value : stop->place, WANT_FRAME};
    }
    case OP_SPREAD:
    case OP_SPREAD_LIGHT:
        return index ? none : (Source){item->value, WANT_FRAME};
    case OP_KEEP:
    case OP_KEEP_LIGHT:
        return index ? none : (Source){item->value, WANT_EACH};
    case OP_KEPT:
    case OP_KEPT_LIGHT:
        return none;
    default:
        return index < OPERANDS_MAX
                   ? (Source){graph_node(emitter->graph, item->value)->operand[index],
                              want_of(section)}
                   : none;
    }
}

/* -------- last uses -------- */

/* A frame register that is written when a dial changes and read in every frame is never given to
 * another value; nor is a pixel register that holds what was spread. */
static void find_last_uses(Emitter *emitter) {
    uint32_t position = 0;
    for (int section = 0; section < SECTION_COUNT; section++) {
        const EmitSection *items = &emitter->plan->sections[section];
        bool every_frame = section >= SECTION_FRAME;
        for (uint32_t i = 0; i < items->count; i++, position++) {
            Source source;
            for (uint32_t s = 0;
                 (source = source_at(emitter, (Section)section, &items->items[i], s)).value; s++) {
                const GraphNode *node = graph_node(emitter->graph, source.value);
                bool pinned = node->where == WHERE_ONE &&
                              (source.want != WANT_FRAME || node->class != CLASS_OPERATION ||
                               (every_frame && node->when != WHEN_MOVING));
                uint32_t *last = &holder(emitter, source.value, source.want)->last;
                if (*last != FOREVER)
                    *last = pinned ? FOREVER : position;
            }
        }
    }
}

/* -------- registers -------- */

static uint16_t take(Emitter *emitter, Value value, Want want) {
    bool colour = graph_node(emitter->graph, value)->colour;
    uint16_t index = registers_take(&emitter->banks[want != WANT_FRAME][colour]);
    if (index == REGISTER_NONE)
        emitter->trouble = EMIT_TOO_MANY_REGISTERS;
    holder(emitter, value, want)->index = index;
    return index;
}

static void give(Emitter *emitter, Value value, Want want) {
    bool colour = graph_node(emitter->graph, value)->colour;
    registers_give(&emitter->banks[want != WANT_FRAME][colour],
                   holder(emitter, value, want)->index);
}

static void write_instruction(Emitter *emitter, Section section, const EmitItem *item,
                              uint32_t position, Instruction *out) {
    out->op = item->operation;
    out->k = item->k;
    uint16_t *words[OPERANDS_MAX] = {&out->a, &out->b, &out->c, &out->d};
    Source source;
    bool named = item->operation != OP_RAMP_READY;
    for (uint32_t s = 0; named && (source = source_at(emitter, section, item, s)).value; s++)
        *words[s] = holder(emitter, source.value, source.want)->index;
    /* Taken while the operands are still held: the result is in none of their registers. */
    if (writes(item))
        out->dst = take(emitter, item->value, want_of(section));
    for (uint32_t s = 0; (source = source_at(emitter, section, item, s)).value; s++) {
        if (holder(emitter, source.value, source.want)->last == position)
            give(emitter, source.value, source.want);
    }
}

static void write_sections(Emitter *emitter) {
    uint32_t position = 0;
    for (int section = 0; section < SECTION_COUNT; section++) {
        const EmitSection *items = &emitter->plan->sections[section];
        if (is_spread((Section)section)) {
            registers_clear(&emitter->banks[1][0]);
            registers_clear(&emitter->banks[1][1]);
        }
        for (uint32_t i = 0; i < items->count && emitter->trouble == EMIT_FINE; i++, position++)
            write_instruction(emitter, (Section)section, &items->items[i], position,
                              &emitter->code->sections[section][i]);
    }
    emitter->code->frame_numbers = (uint16_t)emitter->banks[0][0].count;
    emitter->code->frame_colours = (uint16_t)emitter->banks[0][1].count;
    emitter->code->pixel_numbers = (uint16_t)emitter->banks[1][0].count;
    emitter->code->pixel_colours = (uint16_t)emitter->banks[1][1].count;
}

/* -------- tables -------- */

static void *table(Emitter *emitter, size_t count, size_t size) {
    if (count == 0 || emitter->trouble != EMIT_FINE)
        return NULL;
    void *block = memory_allocate(count, size);
    if (!block)
        emitter->trouble = EMIT_NO_MEMORY;
    return block;
}

static void write_constants(Emitter *emitter) {
    Code *code = emitter->code;
    const EmitPlan *plan = emitter->plan;
    code->numbers = table(emitter, plan->constant_count[0], sizeof *code->numbers);
    code->colours = table(emitter, plan->constant_count[1], sizeof *code->colours);
    if (emitter->trouble != EMIT_FINE)
        return;
    code->number_constants = plan->constant_count[0];
    code->colour_constants = plan->constant_count[1];
    for (uint32_t i = 0; i < code->number_constants; i++) {
        code->numbers[i] = graph_node(emitter->graph, plan->constants[0][i])->constant.number;
        take(emitter, plan->constants[0][i], WANT_FRAME);
    }
    for (uint32_t i = 0; i < code->colour_constants; i++) {
        code->colours[i] = graph_node(emitter->graph, plan->constants[1][i])->constant.colour;
        take(emitter, plan->constants[1][i], WANT_FRAME);
    }
}

static void write_easings(Emitter *emitter) {
    Code *code = emitter->code;
    const Graph *graph = emitter->graph;
    code->easings = table(emitter, emitter->plan->easing_count, sizeof *code->easings);
    if (!code->easings)
        return;
    code->easing_count = emitter->plan->easing_count;
    for (uint32_t i = 0; i < graph->easing_count; i++) {
        if (emitter->plan->easings[i] == COLUMN_NONE)
            continue;
        Easing *easing = &code->easings[emitter->plan->easings[i]];
        *easing = graph->easings[i];
        easing->points = NULL;
        if (easing->kind != EASING_LINEAR)
            continue;
        size_t count = 2 * (size_t)easing->count;
        easing->points = table(emitter, count, sizeof *easing->points);
        if (easing->points)
            memcpy(easing->points, graph->easings[i].points, count * sizeof *easing->points);
    }
}

static void make_ramps(Emitter *emitter) {
    Code *code = emitter->code;
    code->ramps = table(emitter, emitter->plan->ramp_count, sizeof *code->ramps);
    if (!code->ramps)
        return;
    code->ramp_count = emitter->plan->ramp_count;
    for (uint32_t i = 0; i < emitter->graph->ramp_count; i++) {
        if (emitter->plan->ramps[i] == COLUMN_NONE)
            continue;
        const GraphRamp *ramp = &emitter->graph->ramps[i];
        Ramp *out = &code->ramps[emitter->plan->ramps[i]];
        *out = (Ramp){ramp->colour, ramp->bars, ramp->blend, (uint16_t)ramp->count, NULL};
        out->stops = table(emitter, ramp->count, sizeof *out->stops);
    }
}

/* The registers of a ramp's stops as they are when it is made ready. */
static void write_ramp(Emitter *emitter, const EmitItem *item) {
    const GraphRamp *ramp = &emitter->graph->ramps[item->value];
    RampStop *stops = emitter->code->ramps[item->k].stops;
    for (uint32_t i = 0; i < ramp->count; i++) {
        const GraphStop *stop = &ramp->stops[i];
        stops[i].place = holder(emitter, stop->place, WANT_FRAME)->index;
        stops[i].value = holder(emitter, stop->value, WANT_FRAME)->index;
        stops[i].easing =
            stop->easing == EASING_NONE ? EASING_NONE : emitter->plan->easings[stop->easing];
    }
}

static void write_ramps(Emitter *emitter) {
    for (int section = SECTION_SET; section <= SECTION_FRAME; section += SECTION_FRAME) {
        const EmitSection *items = &emitter->plan->sections[section];
        for (uint32_t i = 0; i < items->count; i++) {
            if (items->items[i].operation == OP_RAMP_READY)
                write_ramp(emitter, &items->items[i]);
        }
    }
}

static void make_sections(Emitter *emitter) {
    uint32_t total = 0;
    for (int section = 0; section < SECTION_COUNT; section++) {
        uint32_t count = emitter->plan->sections[section].count;
        total += count;
        emitter->code->sections[section] =
            table(emitter, count, sizeof *emitter->code->sections[section]);
        emitter->code->lengths[section] = emitter->code->sections[section] ? count : 0;
    }
    if (emitter->trouble == EMIT_FINE && total > LIMIT_INSTRUCTIONS)
        emitter->trouble = EMIT_TOO_MANY_INSTRUCTIONS;
}

/* -------- the whole -------- */

static void discard(Code *code) {
    for (int section = 0; section < SECTION_COUNT; section++)
        memory_release(code->sections[section]);
    for (uint32_t i = 0; i < code->easing_count; i++)
        memory_release(code->easings[i].points);
    for (uint32_t i = 0; i < code->ramp_count; i++)
        memory_release(code->ramps[i].stops);
    memory_release(code->numbers);
    memory_release(code->colours);
    memory_release(code->easings);
    memory_release(code->ramps);
    memset(code, 0, sizeof *code);
}

static void write_code(Emitter *emitter, Value result, Value settle) {
    Code *code = emitter->code;
    const GraphNode *node = graph_node(emitter->graph, result);
    make_sections(emitter);
    write_constants(emitter);
    write_easings(emitter);
    make_ramps(emitter);
    if (emitter->trouble != EMIT_FINE)
        return;
    Want want = node->where == WHERE_ONE ? WANT_FRAME : WANT_PIXEL;
    holder(emitter, result, want)->last = FOREVER;
    if (settle)
        holder(emitter, settle, WANT_FRAME)->last = FOREVER;
    find_last_uses(emitter);
    write_sections(emitter);
    write_ramps(emitter);
    code->kept_numbers = emitter->plan->kept_numbers;
    code->kept_colours = emitter->plan->kept_colours;
    code->result_each = want == WANT_PIXEL;
    code->result = holder(emitter, result, want)->index;
    code->reads_clock = (node->reads & (1u << INPUT_HOUR | 1u << INPUT_MOONLIT |
                                        1u << INPUT_MOONAGE | 1u << INPUT_SUNHEIGHT)) != 0;
    if (settle && code->settle_each)
        code->settle = emitter->plan->columns[settle];
    else if (settle)
        code->settle = holder(emitter, settle, WANT_FRAME)->index;
}

/* Plans the light, and the time of rest where there is one. */
static Value plan_light(EmitPlan *plan, Graph *graph, Value result, Code *code) {
    const bool moves = graph_node(graph, result)->when == WHEN_MOVING;
    const bool each = graph_node(graph, result)->where == WHERE_EACH;
    bool never = false;
    Value settle = moves ? graph_rest(graph, result, &never) : 0;
    plan_begin(plan, graph);
    if (moves && !settle && !never && plan->trouble == EMIT_FINE)
        plan->trouble =
            graph_trouble(graph) == GRAPH_TOO_LARGE ? EMIT_TOO_MANY_INSTRUCTIONS : EMIT_NO_MEMORY;
    code->stillness = !moves ? STILL_ALWAYS : never ? STILL_NEVER : STILL_SETTLES;
    plan_value(plan, result, each ? WANT_PIXEL : WANT_FRAME);
    if (!settle || plan->trouble != EMIT_FINE)
        return 0;
    code->settle_each = graph_node(graph, settle)->where == WHERE_EACH;
    plan_value(plan, settle, code->settle_each ? WANT_EACH : WANT_FRAME);
    if (code->settle_each && plan->trouble == EMIT_FINE)
        plan_keep(plan, settle);
    return settle;
}

EmitTrouble emit_code(Graph *graph, Value result, Code *code) {
    memset(code, 0, sizeof *code);
    if (!result || graph_trouble(graph) != GRAPH_FINE)
        return graph_trouble(graph) == GRAPH_TOO_LARGE ? EMIT_TOO_MANY_INSTRUCTIONS
                                                       : EMIT_NO_MEMORY;
    EmitPlan plan;
    Value settle = plan_light(&plan, graph, result, code);
    EmitTrouble trouble = plan.trouble;
    if (trouble == EMIT_FINE) {
        Emitter *emitter = memory_allocate(1, sizeof *emitter);
        if (emitter) {
            *emitter = (Emitter){.graph = graph, .plan = &plan, .code = code};
            emitter->holders =
                memory_allocate((size_t)graph->count * WANT_COUNT, sizeof *emitter->holders);
            if (emitter->holders)
                write_code(emitter, result, settle);
            trouble = emitter->holders ? emitter->trouble : EMIT_NO_MEMORY;
            memory_release(emitter->holders);
            memory_release(emitter);
        } else {
            trouble = EMIT_NO_MEMORY;
        }
    }
    plan_release(&plan);
    if (trouble != EMIT_FINE)
        discard(code);
    return trouble;
}
