/* What the files of the expander share; nobody else includes this.
 *
 * A Context says what names mean and what time it is where an expression stands. Contexts live on
 * the C stack of the expansion that made them: an argument of a function keeps a pointer to the
 * context of its call, which outlives the call's expansion. */
#ifndef GLOAM_LANG_EXPAND_PRIVATE_H
#define GLOAM_LANG_EXPAND_PRIVATE_H

#include "lang/builtins.h"
#include "lang/expand.h"

typedef struct Context Context;

typedef enum Mode {
    MODE_ROUTINE,
    MODE_UNUSED,   /* a let that nothing uses: checked only */
    MODE_FIXED,    /* must be known when compiling */
    MODE_CONDITION /* reads dials, nothing that moves or differs from pixel to pixel */
} Mode;

/* One remembered result; `key` is a definition or an argument. */
typedef struct Memory {
    const void *key;
    const Symbol *routine;
    Value clock;
    Typed typed;
} Memory;

typedef struct Expander {
    ExpandProgram *program;
    Diagnostics *sink;
    Arena *arena; /* of this expansion */
    Graph *graph;
    Mode mode;
    bool stopped;   /* memory ran out or a limit was reached, and that was said: keep silent */
    bool failed;    /* an error was reported */
    bool no_memory; /* outside arena and graph */
    uint32_t expansions, depth;
    uint32_t memory_count, memory_room; /* room is a power of two, or 0 */
    Memory *memory;
    const Node *heaviest; /* the definition worked out most often */
    uint32_t heaviest_times;
    struct Scope *scopes; /* made so far */
    bool loops;           /* names that are defined by themselves were found before */
} Expander;

/* A parameter of a function and what stands for it in this call. */
typedef struct Binding {
    const char *name;
    const Node *node;       /* the argument; NULL: of no type, about which all keep silent */
    const Context *context; /* where it stands */
    bool used;
} Binding;

/* A call of a function that is being expanded. */
typedef struct Frame {
    const Node *function; /* LET */
    const Node *call;     /* NULL: a function that nothing calls is checked */
    const Context *caller;
    Binding *bindings;
    uint32_t count;
} Frame;

/* A let of a routine's body. */
typedef struct Local {
    const Node *node; /* LET */
    bool used;
} Local;

typedef struct Scope {
    const Node *routine;
    Local *locals; /* by name */
    uint32_t count;
    struct Scope *next; /* of another routine */
} Scope;

/* Routines that are being painted one inside the other. */
typedef struct Painting {
    const Symbol *routine;
    const struct Painting *outer;
} Painting;

struct Context {
    Expander *expander;
    /* what names mean */
    Module *module;
    Scope *scope; /* of the routine whose body this is; or NULL */
    Frame *frame; /* of the function whose body this is; or NULL */
    /* the definition (LET) whose expression this is, where it was named, and the context there */
    const Node *definition, *reference;
    const Context *outer;
    /* the time */
    Value clock; /* the graph value of `t` */
    Value lasts; /* 0: the routine goes on */
    const Symbol *routine;
    const Painting *painting;
};

static const Typed NOTHING = {TYPE_NONE, false, false, 0};

/* -------- lang/expand_value.c -------- */

/* The value of an expression; TYPE_NONE where something is wrong and was reported. */
Typed expand(const Context *in, const Node *node);
/* The same where one type is wanted: `what` (with its backquotes) begins the message. */
Typed expand_wanted(const Context *in, const Node *node, Type wanted, const char *what);
/* E's clock under `delayed D`; 0 where D is wrong. */
Value expand_delayed_clock(const Context *in, const Node *delay);
/* Rule R4: what runs with time without end may not be stretched by something that moves; true
 * where it is, which was reported. */
bool expand_phase_races(const Context *in, const Node *node, Typed running, Typed other);

/* -------- lang/expand.c: values and trouble -------- */

/* Value 0 becomes NOTHING, and its reason is reported once. `like`: whose flags it takes. */
Typed expand_typed(const Context *in, Type type, Value value, Typed like);
Typed expand_step(const Context *in, Type type, Value value); /* moves in steps, if at all */
Value expand_operation(const Context *in, Operation operation, Value a, Value b, Value c);
Value expand_number(const Context *in, double number);
Typed expand_either(Typed a, Typed b); /* flags of both together; type and value are a's */
void *expand_allocate(const Context *in, size_t size); /* zeroed; NULL: stopped */
/* Reports that the graph is full, that memory ran out; nothing where all is fine. */
void expand_check_trouble(const Context *in);
/* Counts one more expression; false where there are too many, which was said. */
bool expand_spend(const Context *in);
void expand_too_large(const Context *in, const char *what, unsigned long limit);
bool expand_recall(const Context *in, const void *key, Typed *typed);
void expand_remember(const Context *in, const void *key, Typed typed);
/* Counts that a definition is worked out once more. */
void expand_count(const Context *in, const Node *definition);

/* -------- lang/expand_report.c -------- */

/* Reports at the node; inside a function at its call, with the function and line named. second and
 * hint may be NULL. */
#if defined(__GNUC__)
__attribute__((format(printf, 6, 7)))
#endif
void expand_error(const Context *in, const char *code, const Node *node, const Node *second,
                  const char *hint, const char *format, ...);
/* The same as a warning or note. */
#if defined(__GNUC__)
__attribute__((format(printf, 6, 7)))
#endif
void expand_warn(const Context *in, Severity severity, const char *code, const Node *node,
                 const char *hint, const char *format, ...);
/* An error at the very place, also inside a function: what does not depend on its call. */
#if defined(__GNUC__)
__attribute__((format(printf, 5, 6)))
#endif
void expand_error_here(const Context *in, const char *code, const Node *node, const char *hint,
                       const char *format, ...);
/* True where a diagnostic of that code was reported before. */
bool expand_said(const Diagnostics *sink, const char *code);
/* Texts for messages, in the arena of the expansion; "" without memory. */
const char *expand_source(const Context *in, const Node *node);  /* as written, in one line */
const char *expand_operand(const Context *in, const Node *node); /* in parentheses if need be */
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
const char *
expand_print(const Context *in, const char *format, ...);
uint32_t expand_line(const Context *in, const Node *node);

/* -------- lang/expand_name.c, lang/expand_let.c -------- */

typedef enum MeaningKind {
    MEANING_NONE,
    MEANING_PARAMETER,
    MEANING_LOCAL,
    MEANING_SYMBOL,
    MEANING_FUNCTION, /* built in */
    MEANING_MOMENT,
    MEANING_COLOUR
} MeaningKind;

typedef struct Meaning {
    MeaningKind kind;
    Binding *binding;
    Local *local;
    Symbol *symbol;
    FunctionId function;
    const MomentName *moment;
    uint32_t rgb;
} Meaning;

/* What NAME or MEMBER means; reports nothing. `call`: `(` follows. */
Meaning expand_meaning(const Context *in, const Node *name, bool call);
void expand_unknown(const Context *in, const Node *name, const char *what, bool call);
Typed expand_name(const Context *in, const Node *node);
/* The expression of a let under its name, once a clock. */
Typed expand_let(const Context *in, const Node *reference, const Meaning *meaning);
Typed expand_argument(const Context *in, Binding *binding);
/* A call of a function of the file. */
Typed expand_user_call(const Context *in, const Node *call, const Meaning *meaning);
/* The lets of a routine's body; NULL without memory. */
Scope *expand_scope(const Context *in, const Node *routine);
Local *expand_find_local(const Scope *scope, const char *name); /* scope may be NULL */
void expand_check_locals(const Context *in); /* after the layers: lets that nothing used */
/* Checks a function that nothing calls. */
void expand_check_parameters(const Context *in, const Node *let);
void expand_no_length(const Context *in, const Node *node);
/* Through parentheses, names and parameters to the expression that is meant; *in becomes its
 * context. Stops after a few steps. */
const Node *expand_meant(const Context **in, const Node *node);
const Node *expand_bare(const Node *node); /* without parentheses */
bool expand_is_moment(const Context *in, const Node *node, const char *name);

/* -------- lang/expand_call.c, lang/expand_colour.c -------- */

Typed expand_call(const Context *in, const Node *node);
Typed expand_colour_call(const Context *in, const Node *call, FunctionId function,
                         Typed *arguments);
Typed expand_rgb(const Context *in, double r, double g, double b); /* 0..255 */
Typed expand_kelvin(const Context *in, const Node *node);
/* The length of `over`, `every`, `for`, `tick`; 0 where it is wrong (rule R4). */
Value expand_length(const Context *in, const Node *node, const char *what);

/* -------- lang/expand_ramp.c, lang/expand_places.c, lang/easing_syntax.c -------- */

Typed expand_ramp(const Context *in, const Node *node);
Typed expand_ease(const Context *in, const Node *node);

/* What a driver says about the way. */
typedef struct Way {
    Value place;  /* 0..1 */
    Value length; /* durations of places are divided by it; 0: there are none */
    bool smooth;
} Way;

/* Fills in the places of the stops of a ramp (rules R2, R3, R6); false where one is wrong.
 * `places` has room for one more than there are stops. */
bool expand_places(const Context *in, const Node *ramp, const Way *way, uint32_t count,
                   Value *places);
/* *easing is its number, EASING_NONE for `linear`; false where it is wrong. */
bool expand_easing(const Context *in, const Node *node, uint16_t *easing);

/* -------- lang/expand_hint.c: legal, but likely not meant -------- */

void hint_ramp(const Context *in, const Node *ramp, const Typed *stops, uint32_t count);
void hint_reach(const Context *in, const Node *node, Typed a, Typed b);
void hint_outlasts(const Context *in, const Node *driver, Value length);
void hint_equal(const Context *in, const Node *node, Typed a, Typed b);
void hint_delay(const Context *in, const Node *delay);
void hint_level(const Context *in, const Node *node, Value light);
void hint_phase(const Context *in, const Node *node, Typed other);
void hint_chance(const Context *in, const Node *call, const char *name, const Typed *arguments,
                 uint32_t count);
void hint_green(const Context *in, const Node *node);

/* -------- lang/expand_layer.c -------- */

/* Paints the body of the routine in->routine; 0 where something was wrong. `cost` may be NULL. */
Value expand_body(const Context *in, RoutineCost *cost);
/* in->clock is held at what in->routine lasts, in->lasts filled in. */
void expand_hold_clock(Context *in);
/* Type of a letter of builtins.def. */
Type expand_type_of(char letter);

#endif
