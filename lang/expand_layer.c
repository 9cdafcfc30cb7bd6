/* Layers: what is painted over what, routines as layers (rules L1 to L6; spec/meaning.md
 * section 9). */
#include "lang/expand_private.h"

#include <string.h>

/* What is painted on: the light so far, or an isolated group with its coverage. */
typedef struct Canvas {
    bool group;
    Value light; /* of a group: times its coverage */
    Value cover; /* of a group */
} Canvas;

typedef struct BlendMode {
    const char *name;
    Operation operation;
} BlendMode;

static const BlendMode blend_modes[] = {{"plus-lighter", OP_COLOUR_ADD},
                                        {"screen", OP_LAYER_SCREEN},
                                        {"multiply", OP_LAYER_MULTIPLY},
                                        {"lighten", OP_LAYER_LIGHTEN},
                                        {"darken", OP_LAYER_DARKEN}};
enum { BLEND_MODE_COUNT = sizeof blend_modes / sizeof blend_modes[0] };

static bool is_number(const Context *in, Value value, double wanted) {
    double number;
    return value && graph_constant_number(in->expander->graph, value, &number) && number == wanted;
}

static Value black(const Context *in) {
    return graph_colour(in->expander->graph, (Colour){0.0f, 0.0f, 0.0f});
}

/* -------- one layer -------- */

static Value mix(const Context *in, Value below, Value above, Value share) {
    if (is_number(in, share, 1.0))
        return above;
    if (is_number(in, share, 0.0))
        return below;
    return expand_operation(in, OP_COLOUR_MIX, below, above, share);
}

static Value blend(const Context *in, const BlendMode *mode, Value below, Value layer) {
    return mode ? expand_operation(in, mode->operation, below, layer, 0) : layer;
}

/* The light of a group where it covers: 0 where it does not. */
static Value uncovered(const Context *in, const Canvas *canvas) {
    if (is_number(in, canvas->cover, 1.0))
        return canvas->light;
    return expand_operation(in, OP_COLOUR_DIVIDE, canvas->light, canvas->cover, 0);
}

static void put(const Context *in, Canvas *canvas, Value layer, const BlendMode *mode,
                Value share) {
    if (!canvas->group) {
        canvas->light = mix(in, canvas->light, blend(in, mode, canvas->light, layer), share);
        return;
    }
    if (mode) {
        Value blended = blend(in, mode, uncovered(in, canvas), layer);
        layer = mix(in, layer, blended, canvas->cover);
    }
    canvas->light = mix(in, canvas->light, layer, share);
    Value rest = expand_operation(in, OP_SUBTRACT, expand_number(in, 1.0), canvas->cover, 0);
    Value more = expand_operation(in, OP_MULTIPLY, share, rest, 0);
    canvas->cover = expand_operation(in, OP_ADD, canvas->cover, more, 0);
}

/* -------- the words behind `paint` -------- */

static bool take_mode(const Context *in, const Node *paint, const BlendMode **mode) {
    *mode = NULL;
    if (!paint->b)
        return true;
    const char *names[BLEND_MODE_COUNT];
    for (size_t i = 0; i < BLEND_MODE_COUNT; i++) {
        names[i] = blend_modes[i].name;
        if (paint->b->text && strcmp(names[i], paint->b->text) == 0) {
            *mode = &blend_modes[i];
            return true;
        }
    }
    const char *text = paint->b->text ? paint->b->text : "";
    const char *nearest = diagnostics_nearest(text, names, BLEND_MODE_COUNT);
    expand_error(in, "unknown-blend", paint->b, NULL,
                 nearest ? expand_print(in, "`%s`?", nearest)
                         : "`plus-lighter`, `screen`, `multiply`, `lighten` or `darken`",
                 "no way of blending named `%s`", text);
    return false;
}

/* How much of the layer shows; 0 where it is wrong. */
static Value take_share(const Context *in, const Node *where) {
    if (!where)
        return expand_number(in, 1.0);
    Typed typed = expand(in, where);
    if (typed.type == TYPE_NUMBER)
        return expand_operation(in, OP_UNIT, typed.value, 0, 0);
    if (typed.type == TYPE_TRUTH)
        return typed.value;
    if (typed.type == TYPE_NONE)
        return 0;
    const char *text = expand_operand(in, where);
    const char *hint = NULL;
    if (typed.type == TYPE_DURATION)
        hint = expand_print(in, "`%s / 10s`", text);
    else if (typed.type == TYPE_ANGLE)
        hint = expand_print(in, "`%s / 1turn`", text);
    expand_error(in, "where-needs-share", where, NULL, hint,
                 "`where` needs a truth or a number, this is %s", type_name(typed.type));
    return 0;
}

static Value both(const Context *in, Value presence, Value share) {
    if (!presence || is_number(in, share, 0.0))
        return share;
    if (presence == share || is_number(in, share, 1.0))
        return presence;
    return expand_operation(in, OP_MULTIPLY, presence, share, 0);
}

/* -------- what is painted -------- */

static Symbol *routine_of(const Context *in, const Node *node) {
    node = expand_bare(node);
    if (node->kind != NODE_NAME && node->kind != NODE_MEMBER)
        return NULL;
    Meaning meaning = expand_meaning(in, node, false);
    bool is = meaning.kind == MEANING_SYMBOL && meaning.symbol->kind == SYMBOL_ROUTINE;
    return is ? meaning.symbol : NULL;
}

/* The routine in `R`, `R delayed D`, or NULL. */
static Symbol *painted_routine(const Context *in, const Node *node) {
    node = expand_bare(node);
    while (node->kind == NODE_DELAYED)
        node = expand_bare(node->a);
    return routine_of(in, node);
}

/* The clock of R in `R delayed D`, not yet held at what R lasts; 0 where D is wrong. */
static Value routine_clock(const Context *in, const Node *node) {
    Context at = *in;
    for (node = expand_bare(node); node->kind == NODE_DELAYED; node = expand_bare(node->a)) {
        at.clock = expand_delayed_clock(&at, node->b);
        if (!at.clock)
            return 0;
    }
    return at.clock;
}

static const char *light_hint(const Context *in, const Node *node, Type type) {
    const Node *bare = expand_bare(node);
    const char *text = expand_operand(in, bare);
    switch (type) {
    case TYPE_NUMBER:
        if (bare->kind == NODE_NUMBER && bare->number <= 1.0)
            return expand_print(in, "`white * %.15g%%`", bare->number * 100.0);
        if (bare->kind == NODE_NUMBER && bare->number <= 100.0)
            return expand_print(in, "`white * %.15g%%`", bare->number);
        if (bare->kind == NODE_NUMBER && bare->number >= 1000.0 && bare->number <= 25000.0)
            return expand_print(in, "`%.15gK`", bare->number);
        return expand_print(in, "`white * %s`", text);
    case TYPE_TRUTH:
        return expand_print(in, "`paint white where %s`", expand_source(in, bare));
    case TYPE_ANGLE:
        return expand_print(in, "`oklch(75%%, 0.12, %s)`", expand_source(in, bare));
    default:
        return NULL;
    }
}

/* R * 50% and the like: a routine is painted, not calculated. */
static bool calculates_routine(const Context *in, const Node *node) {
    node = expand_bare(node);
    if (node->kind != NODE_BINARY)
        return false;
    bool left = routine_of(in, node->a) != NULL;
    if (!left && !routine_of(in, node->b))
        return false;
    const char *routine = expand_source(in, left ? node->a : node->b);
    const char *other = expand_source(in, left ? node->b : node->a);
    Symbol *symbol = routine_of(in, left ? node->a : node->b);
    symbol->used = true;
    expand_error(in, "routine-calculated", node, NULL,
                 node->word == BINARY_MULTIPLY
                     ? expand_print(in, "`paint %s where %s`", routine, other)
                     : expand_print(in, "`paint %s`, and another layer", routine),
                 "a routine is painted, not calculated");
    return true;
}

/* The colour of a layer; 0 where it is none. */
static Value take_light(const Context *in, const Node *node) {
    if (calculates_routine(in, node))
        return 0;
    Typed typed = expand(in, node);
    if (typed.type == TYPE_COLOUR)
        return typed.value;
    if (typed.type != TYPE_NONE)
        expand_error(in, "paint-needs-colour", node, NULL, light_hint(in, node, typed.type),
                     "`paint` needs a colour");
    return 0;
}

/* -------- routines as layers -------- */

static bool paint_all(const Context *in, const Node *routine, Value presence, Canvas *canvas,
                      RoutineCost *cost);

void expand_hold_clock(Context *in) {
    const RoutineInfo *info = &in->expander->program->routines[in->routine->index];
    in->lasts = 0;
    if (info->lasts > 0.0) {
        in->lasts = expand_number(in, info->lasts);
        in->clock = expand_operation(in, OP_MINIMUM, in->clock, in->lasts, 0);
    } else if (in->routine->node->b) {
        /* its length was wrong, and that was said: some length that is not known */
        in->lasts = graph_input(in->expander->graph, INPUT_PIXELS);
        in->expander->failed = true;
    }
}

static bool paints_itself(const Context *in, const Node *node, const Symbol *routine) {
    for (const Painting *at = in->painting; at; at = at->outer)
        if (at->routine == routine) {
            if (!expand_said(in->expander->sink, "paints-itself"))
                expand_error_here(in, "paints-itself", node, NULL, "routine `%s` paints itself",
                                  routine->name);
            in->expander->failed = true;
            return true;
        }
    return false;
}

/* R's layers, painted on the canvas one by one. */
static bool paint_routine(const Context *in, const Node *paint, Symbol *routine, Value clock,
                          Value presence, Canvas *canvas) {
    if (paints_itself(in, paint->a, routine))
        return false;
    Painting painting = {routine, in->painting};
    Context inner = {.expander = in->expander,
                     .module = routine->module,
                     .reference = routine->node->a,
                     .clock = clock,
                     .routine = routine,
                     .painting = &painting};
    expand_hold_clock(&inner);
    inner.scope = expand_scope(in, routine->node);
    return inner.scope && paint_all(&inner, routine->node, presence, canvas, NULL);
}

/* True (1) where the clock has begun; 0 where that is always: without a delay it has wherever the
 * routine around it has, and that one's own presence is known already. */
static Value begun(const Context *in, Value clock) {
    double from, to;
    if (clock == in->clock)
        return 0;
    graph_range(in->expander->graph, clock, &from, &to);
    if (from >= 0.0)
        return 0;
    return expand_operation(in, OP_LESS_EQUAL, expand_number(in, 0.0), clock, 0);
}

static bool put_routine(const Context *in, const Node *paint, Symbol *routine, Value presence,
                        Canvas *canvas) {
    const BlendMode *mode;
    routine->used = true;
    bool fine = take_mode(in, paint, &mode);
    Value share = take_share(in, paint->c);
    Value clock = routine_clock(in, paint->a);
    if (!fine || !share || !clock)
        return false;
    Value here = begun(in, clock);
    if (here)
        presence = both(in, presence, here);
    if (!mode && !paint->c)
        return paint_routine(in, paint, routine, clock, presence, canvas);
    Canvas group = {true, black(in), expand_number(in, 0.0)};
    if (!paint_routine(in, paint, routine, clock, 0, &group))
        return false;
    if (!is_number(in, group.cover, 1.0))
        share = is_number(in, share, 1.0)
                    ? group.cover
                    : expand_operation(in, OP_MULTIPLY, share, group.cover, 0);
    put(in, canvas, uncovered(in, &group), mode, both(in, presence, share));
    return true;
}

static bool put_light(const Context *in, const Node *paint, Value presence, Canvas *canvas) {
    const BlendMode *mode;
    bool fine = take_mode(in, paint, &mode);
    Value light = take_light(in, paint->a);
    Value share = take_share(in, paint->c);
    if (!fine || !light || !share)
        return false;
    put(in, canvas, light, mode, both(in, presence, share));
    return true;
}

static bool put_paint(const Context *in, const Node *paint, Value presence, Canvas *canvas) {
    if (!expand_spend(in))
        return false;
    Symbol *routine = painted_routine(in, paint->a);
    if (routine)
        return put_routine(in, paint, routine, presence, canvas);
    return put_light(in, paint, presence, canvas);
}

/* -------- bodies -------- */

/* What one paint costs: it alone, on black. It was counted when it was expanded as a layer and is
 * not counted again. */
static void take_cost(const Context *in, const Node *paint, RoutineCost *cost) {
    uint32_t expansions = in->expander->expansions, all = in->expander->program->expansions;
    in->expander->expansions = in->expander->program->expansions = 0;
    Canvas canvas = {false, black(in), 0};
    LayerCost *layer = &cost->layers[cost->layer_count++];
    layer->span = paint->span;
    if (put_paint(in, paint, 0, &canvas) && canvas.light) {
        layer->rate = graph_rate(in->expander->graph, canvas.light);
        layer->cost = graph_cost(in->expander->graph, canvas.light);
    }
    in->expander->expansions = expansions;
    in->expander->program->expansions = all;
}

static bool paint_all(const Context *in, const Node *routine, Value presence, Canvas *canvas,
                      RoutineCost *cost) {
    bool fine = true;
    for (const Node *item = routine->d; item; item = item->next) {
        if (item->kind != NODE_PAINT)
            continue;
        fine = put_paint(in, item, presence, canvas) && fine;
        if (cost && fine)
            take_cost(in, item, cost);
    }
    return fine;
}

Value expand_body(const Context *in, RoutineCost *cost) {
    const Node *routine = in->routine->node;
    uint32_t count = 0;
    for (const Node *item = routine->d; item; item = item->next)
        if (item->kind == NODE_PAINT)
            count++;
    if (cost) {
        Arena *arena = in->expander->program->modules->arena;
        cost->layer_count = 0;
        cost->layers = arena_allocate(arena, (count + 1) * sizeof(LayerCost));
        if (arena_failed(arena)) {
            in->expander->stopped = in->expander->failed = in->expander->no_memory = true;
            return 0;
        }
    }
    Canvas canvas = {false, black(in), 0};
    if (!paint_all(in, routine, 0, &canvas, cost))
        return 0;
    return canvas.light;
}
