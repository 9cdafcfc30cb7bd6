/* Programs as bytes (spec/bytecode.md), their check, and their text. */
#ifndef GLOAM_CORE_BYTECODE_H
#define GLOAM_CORE_BYTECODE_H

#include <stdio.h>

#include "runtime/core/program.h"

/* The first bytes of a bytecode file. */
bool bytecode_is(const unsigned char *bytes, size_t length);

/* *bytes is memory_allocate'd. False: out of memory or above LIMIT_PROGRAM_BYTES. */
bool bytecode_write(const Program *program, unsigned char **bytes, size_t *length);

/* Reads and verifies. NULL: *reason says in a sentence what is wrong (static text or `buffer`). */
Program *bytecode_read(const unsigned char *bytes, size_t length, char *buffer, size_t buffer_size);

/* True where every rule of spec/bytecode.md holds: operands by kind, register bounds, defined
 * before use, sections, tables, destination differs from sources. Else *buffer says what and
 * where. The compiler's own output is verified too, before it runs. */
bool verify_program(const Program *program, char *buffer, size_t buffer_size);
/* The same for code beside the routines of a program that was verified (a timetable's truths). */
bool verify_loose_code(const Program *program, const Code *code, char *buffer, size_t buffer_size);

/* Text of a whole program, one instruction a line. */
void disassemble_program(const Program *program, FILE *out);

#endif
