/* The built-in functions and the names of the moment, from the one list in builtins.def. */
#ifndef GLOAM_LANG_BUILTINS_H
#define GLOAM_LANG_BUILTINS_H

#include <stddef.h>
#include <stdint.h>

typedef enum FunctionId {
#define FUNCTION(id, name, least, most, takes, gives, sentence, domain, range, edges) FUNCTION_##id,
#define MOMENT(name, type, source, index, sentence, range)
#include "lang/builtins.def"
#undef FUNCTION
#undef MOMENT
    FUNCTION_COUNT
} FunctionId;

typedef struct Function {
    const char *name;
    uint8_t least, most; /* how many arguments */
    const char *takes;   /* letters: see builtins.def */
    char gives;
    const char *sentence, *domain, *range, *edges; /* for the specification */
} Function;

typedef enum MomentSource { MOMENT_T, MOMENT_PROGRESS, MOMENT_INPUT, MOMENT_FIELD } MomentSource;

typedef struct MomentName {
    const char *name;
    char type;
    MomentSource source;
    uint16_t index; /* Input or Field */
    const char *sentence, *range;
} MomentName;

/* By FunctionId; NULL behind the last. `ease(E, easing)` is syntax and not among them. */
const Function *function_at(size_t index);
/* The function of that name and its id, or NULL. */
const Function *function_find(const char *name, FunctionId *id);

const MomentName *moment_at(size_t index); /* NULL behind the last */
const MomentName *moment_find(const char *name);

#endif
