#include "lang/emit_inside.h"

static uint32_t count_of(const EmitPlan *plan, Section section) {
    return plan->sections[section].count;
}

GraphCost graph_cost(const Graph *graph, Value value) {
    GraphCost cost = {0};
    if (!value)
        return cost;
    EmitPlan plan;
    plan_begin(&plan, graph);
    plan_value(&plan, value,
               graph_node(graph, value)->where == WHERE_EACH ? WANT_PIXEL : WANT_FRAME);
    cost.set = count_of(&plan, SECTION_SET);
    cost.each = count_of(&plan, SECTION_EACH);
    cost.frame = count_of(&plan, SECTION_FRAME);
    cost.pixel = count_of(&plan, SECTION_PIXEL);
    for (uint32_t i = 0; i < cost.pixel; i++) {
        Operation operation = (Operation)plan.sections[SECTION_PIXEL].items[i].operation;
        cost.pixel_nanoseconds += operation_cost(operation) / 1000.0;
    }
    plan_release(&plan);
    return cost;
}
