#include "lang/builtins.h"

#include <string.h>

#include "runtime/core/program.h"

static const Function functions[FUNCTION_COUNT] = {
#define FUNCTION(id, name, least, most, takes, gives, sentence, domain, range, edges)              \
    [FUNCTION_##id] = {name, least, most, takes, gives, sentence, domain, range, edges},
#define MOMENT(name, type, source, index, sentence, range)
#include "lang/builtins.def"
#undef FUNCTION
#undef MOMENT
};

static const MomentName moments[] = {
#define FUNCTION(id, name, least, most, takes, gives, sentence, domain, range, edges)
#define MOMENT(name, type, source, index, sentence, range)                                         \
    {name, type, MOMENT_##source, index, sentence, range},
#include "lang/builtins.def"
#undef FUNCTION
#undef MOMENT
};

enum { MOMENT_NAME_COUNT = sizeof moments / sizeof moments[0] };

const Function *function_at(size_t index) {
    return index < FUNCTION_COUNT ? &functions[index] : NULL;
}

const Function *function_find(const char *name, FunctionId *id) {
    for (size_t i = 0; i < FUNCTION_COUNT; i++)
        if (strcmp(functions[i].name, name) == 0) {
            *id = (FunctionId)i;
            return &functions[i];
        }
    return NULL;
}

const MomentName *moment_at(size_t index) {
    return index < MOMENT_NAME_COUNT ? &moments[index] : NULL;
}

const MomentName *moment_find(const char *name) {
    for (size_t i = 0; i < MOMENT_NAME_COUNT; i++)
        if (strcmp(moments[i].name, name) == 0)
            return &moments[i];
    return NULL;
}
