/* The list of operations as tables. */
#ifndef GLOAM_CORE_OPERATIONS_H
#define GLOAM_CORE_OPERATIONS_H

#include "runtime/core/program.h"

typedef enum OperationForm { FORM_NUMBER, FORM_CHANNEL, FORM_COLOUR, FORM_CONTEXT } OperationForm;

/* Columns of runtime/core/operations.def. `operation` is below OPERATION_COUNT. */
const char *operation_name(Operation operation);
const char *operation_kinds(Operation operation);
OperationForm operation_form(Operation operation);
unsigned operation_cost(Operation operation);

/* 'n', 'c' or '-'. */
char operation_result(Operation operation);
/* Kind of operand 0..3 (words a, b, c, d): 'n', 'c', or 0 where there is none. */
char operation_operand(Operation operation, unsigned index);
bool operation_has_index(Operation operation);

#endif
