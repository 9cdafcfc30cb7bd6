#include "runtime/core/operations.h"

#include <string.h>

typedef struct Row {
    const char *name, *kinds;
    OperationForm form;
    unsigned cost;
} Row;

static const Row rows[OPERATION_COUNT] = {
#define OP(name, kinds, form, expression, cost, text) {#name, kinds, FORM_##form, cost},
#include "runtime/core/operations.def"
#undef OP
};

const char *operation_name(Operation operation) {
    return rows[operation].name;
}

const char *operation_kinds(Operation operation) {
    return rows[operation].kinds;
}

OperationForm operation_form(Operation operation) {
    return rows[operation].form;
}

unsigned operation_cost(Operation operation) {
    return rows[operation].cost;
}

char operation_result(Operation operation) {
    return rows[operation].kinds[0];
}

char operation_operand(Operation operation, unsigned index) {
    const char *operands = rows[operation].kinds + 2; /* behind "n<" */
    if (index >= strlen(operands) || operands[index] == 'k')
        return 0;
    return operands[index];
}

bool operation_has_index(Operation operation) {
    return strchr(rows[operation].kinds, 'k') != NULL;
}
