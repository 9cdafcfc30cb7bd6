/* Which values are computed in which section, and in which order: each once, the slowest section
 * that serves. A walk from the result down to what it is made of, without recursion, since graphs
 * may be deep. */
#include "lang/emit_inside.h"
#include "runtime/core/memory.h"

typedef struct Task {
    Value value;
    uint16_t next; /* operand to be planned next */
    uint8_t want;
} Task;

typedef struct TaskStack {
    Task *tasks;
    uint32_t count, room;
} TaskStack;

/* The place where a value of this rate is computed. */
static Want plan_home(const GraphNode *node) {
    if (node->where == WHERE_ONE)
        return WANT_FRAME;
    return node->when == WHEN_MOVING ? WANT_PIXEL : WANT_EACH;
}

static Section section_of(const GraphNode *node) {
    switch (plan_home(node)) {
    case WANT_FRAME:
        return node->when == WHEN_MOVING ? SECTION_FRAME : SECTION_SET;
    case WANT_EACH:
        return SECTION_EACH;
    default:
        return SECTION_PIXEL;
    }
}

/* -------- storage -------- */

static bool grow(EmitPlan *plan, void **block, uint32_t count, uint32_t *room, size_t size) {
    if (count < *room)
        return true;
    uint32_t wanted = *room ? *room * 2 : 16;
    void *grown = memory_resize(*block, wanted, size);
    if (!grown) {
        plan->trouble = EMIT_NO_MEMORY;
        return false;
    }
    *block = grown;
    *room = wanted;
    return true;
}

static void append(EmitPlan *plan, Section where, Operation operation, Value value, uint16_t k) {
    EmitSection *section = &plan->sections[where];
    if (section->count >= LIMIT_INSTRUCTIONS) {
        plan->trouble = EMIT_TOO_MANY_INSTRUCTIONS;
        return;
    }
    if (grow(plan, (void **)&section->items, section->count, &section->room,
             sizeof *section->items))
        section->items[section->count++] = (EmitItem){(uint16_t)operation, k, value};
}

/* How many pixel registers it takes to compute a value, as if nothing was shared: what takes most
 * is computed first. */
static uint16_t need_of(const EmitPlan *plan, const GraphNode *node) {
    if (plan_home(node) == WANT_FRAME)
        return 0;
    uint32_t needs[OPERANDS_MAX] = {0}, most = 1;
    for (int i = 0; i < OPERANDS_MAX && node->operand[i]; i++) {
        const GraphNode *operand = graph_node(plan->graph, node->operand[i]);
        uint32_t need = plan_home(operand) == plan_home(node) ? plan->needs[node->operand[i]]
                        : plan_home(operand) == WANT_FRAME    ? 0
                                                              : 1;
        int at = i;
        for (; at > 0 && needs[at - 1] < need; at--)
            needs[at] = needs[at - 1];
        needs[at] = need;
    }
    for (uint32_t i = 0; i < OPERANDS_MAX; i++) {
        if (needs[i] && needs[i] + i > most)
            most = needs[i] + i;
    }
    return (uint16_t)(most > LIMIT_REGISTERS ? LIMIT_REGISTERS : most);
}

void plan_begin(EmitPlan *plan, const Graph *graph) {
    *plan = (EmitPlan){.graph = graph};
    plan->made = memory_allocate(graph->count, sizeof *plan->made);
    plan->needs = memory_allocate(graph->count, sizeof *plan->needs);
    plan->columns = memory_allocate(graph->count, sizeof *plan->columns);
    plan->ramps = memory_allocate(graph->ramp_count, sizeof *plan->ramps);
    plan->easings = memory_allocate(graph->easing_count, sizeof *plan->easings);
    if (!plan->made || !plan->needs || !plan->columns || !plan->ramps || !plan->easings) {
        plan->trouble = EMIT_NO_MEMORY;
        return;
    }
    for (Value value = 1; value < graph->count; value++) {
        plan->needs[value] = need_of(plan, graph_node(graph, value));
        plan->columns[value] = COLUMN_NONE;
    }
    for (uint32_t i = 0; i < graph->ramp_count; i++)
        plan->ramps[i] = COLUMN_NONE;
    for (uint32_t i = 0; i < graph->easing_count; i++)
        plan->easings[i] = COLUMN_NONE;
}

void plan_release(EmitPlan *plan) {
    for (int i = 0; i < SECTION_COUNT; i++)
        memory_release(plan->sections[i].items);
    memory_release(plan->made);
    memory_release(plan->needs);
    memory_release(plan->columns);
    memory_release(plan->constants[0]);
    memory_release(plan->constants[1]);
    memory_release(plan->ramps);
    memory_release(plan->easings);
}

/* -------- what a task is made of -------- */

/* A field is read again where it is wanted: a kept column would be no cheaper. */
static bool is_read_again(const GraphNode *node) {
    return node->class == CLASS_OPERATION &&
           (node->operation == OP_FIELD || node->operation == OP_WITHIN);
}

static bool is_ramp(const GraphNode *node) {
    return node->class == CLASS_OPERATION &&
           (node->operation == OP_RAMP_NUMBER || node->operation == OP_RAMP_COLOUR);
}

/* Whether the value is computed in the very place where it is wanted. */
static bool is_computed(const GraphNode *node, Want want) {
    return plan_home(node) == want || is_read_again(node);
}

/* The operand that takes the `index`-th most registers. */
static Value operand_by_need(const EmitPlan *plan, const GraphNode *node, uint32_t index) {
    Value sorted[OPERANDS_MAX] = {0};
    for (int i = 0; i < OPERANDS_MAX && node->operand[i]; i++) {
        int at = i;
        for (; at > 0 && plan->needs[sorted[at - 1]] < plan->needs[node->operand[i]]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = node->operand[i];
    }
    return index < OPERANDS_MAX ? sorted[index] : 0;
}

/* The next thing a task waits for; false when it has all. */
static bool next_part(const EmitPlan *plan, Task *task, Task *part) {
    const GraphNode *node = graph_node(plan->graph, task->value);
    uint32_t index = task->next++;
    if (!is_computed(node, (Want)task->want)) {
        *part = (Task){task->value, 0, (uint8_t)plan_home(node)};
        return index == 0;
    }
    if (is_ramp(node) && index > 0) {
        const GraphRamp *ramp = &plan->graph->ramps[node->k];
        if (--index >= 2 * ramp->count)
            return false;
        const GraphStop *stop = &ramp->stops[index / 2];
        *part = (Task){index % 2 ? stop->value : stop->place, 0, WANT_FRAME};
        return true;
    }
    *part = (Task){operand_by_need(plan, node, index), 0, task->want};
    return part->value != 0;
}

/* -------- finishing a task -------- */

static void add_constant(EmitPlan *plan, Value value, bool colour) {
    if (plan->constant_count[colour] >= LIMIT_REGISTERS) {
        plan->trouble = EMIT_TOO_MANY_REGISTERS;
        return;
    }
    if (grow(plan, (void **)&plan->constants[colour], plan->constant_count[colour],
             &plan->constant_room[colour], sizeof **plan->constants))
        plan->constants[colour][plan->constant_count[colour]++] = value;
}

static uint16_t use_easing(EmitPlan *plan, uint16_t easing) {
    if (plan->easings[easing] == COLUMN_NONE) {
        if (plan->easing_count >= LIMIT_EASINGS)
            plan->trouble = EMIT_TOO_MANY_EASINGS;
        plan->easings[easing] = (uint16_t)plan->easing_count++;
    }
    return plan->easings[easing];
}

/* The number of the ramp in the code; the first time it is made ready, in the section in which
 * the last of its stops is known. */
static uint16_t use_ramp(EmitPlan *plan, uint16_t index) {
    if (plan->ramps[index] != COLUMN_NONE)
        return plan->ramps[index];
    const GraphRamp *ramp = &plan->graph->ramps[index];
    Section where = SECTION_SET;
    for (uint32_t i = 0; i < ramp->count; i++) {
        if (graph_node(plan->graph, ramp->stops[i].place)->when == WHEN_MOVING ||
            graph_node(plan->graph, ramp->stops[i].value)->when == WHEN_MOVING)
            where = SECTION_FRAME;
        if (ramp->stops[i].easing != EASING_NONE)
            use_easing(plan, ramp->stops[i].easing);
    }
    if (plan->ramp_count >= LIMIT_RAMPS)
        plan->trouble = EMIT_TOO_MANY_RAMPS;
    plan->ramps[index] = (uint16_t)plan->ramp_count++;
    append(plan, where, OP_RAMP_READY, index, plan->ramps[index]);
    return plan->ramps[index];
}

uint16_t plan_keep(EmitPlan *plan, Value value) {
    const GraphNode *node = graph_node(plan->graph, value);
    uint16_t *count = node->colour ? &plan->kept_colours : &plan->kept_numbers;
    if (plan->columns[value] != COLUMN_NONE)
        return plan->columns[value];
    if (*count >= LIMIT_REGISTERS)
        plan->trouble = EMIT_TOO_MANY_REGISTERS;
    plan->columns[value] = (*count)++;
    append(plan, SECTION_EACH, node->colour ? OP_KEEP_LIGHT : OP_KEEP, value, plan->columns[value]);
    return plan->columns[value];
}

static void finish_elsewhere(EmitPlan *plan, const GraphNode *node, const Task *task) {
    if (plan_home(node) == WANT_FRAME) {
        append(plan, task->want == WANT_EACH ? SECTION_SET_SPREAD : SECTION_FRAME_SPREAD,
               node->colour ? OP_SPREAD_LIGHT : OP_SPREAD, task->value, 0);
        return;
    }
    uint16_t column = plan_keep(plan, task->value);
    append(plan, SECTION_PIXEL, node->colour ? OP_KEPT_LIGHT : OP_KEPT, task->value, column);
}

static void finish(EmitPlan *plan, const Task *task) {
    const GraphNode *node = graph_node(plan->graph, task->value);
    if (!is_computed(node, (Want)task->want)) {
        finish_elsewhere(plan, node, task);
    } else if (node->class != CLASS_OPERATION) {
        add_constant(plan, task->value, node->colour);
    } else {
        uint16_t k = node->k;
        if (is_ramp(node))
            k = use_ramp(plan, k);
        else if (node->operation == OP_EASE)
            k = use_easing(plan, k);
        Section where = task->want == WANT_PIXEL ? SECTION_PIXEL : section_of(node);
        append(plan, where, node->operation, task->value, k);
    }
}

/* -------- the walk -------- */

static void push(EmitPlan *plan, TaskStack *stack, Task task) {
    uint8_t bit = (uint8_t)(1u << task.want);
    if (plan->made[task.value] & bit)
        return;
    plan->made[task.value] |= bit;
    if (grow(plan, (void **)&stack->tasks, stack->count, &stack->room, sizeof *stack->tasks))
        stack->tasks[stack->count++] = task;
}

void plan_value(EmitPlan *plan, Value value, Want want) {
    if (plan->trouble != EMIT_FINE)
        return;
    TaskStack stack = {0};
    push(plan, &stack, (Task){value, 0, (uint8_t)want});
    while (stack.count && plan->trouble == EMIT_FINE) {
        Task *task = &stack.tasks[stack.count - 1], part;
        if (next_part(plan, task, &part)) {
            push(plan, &stack, part);
        } else {
            finish(plan, task);
            stack.count--;
        }
    }
    memory_release(stack.tasks);
}
