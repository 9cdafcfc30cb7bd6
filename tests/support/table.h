/* Reads the comma-separated tables of tests/data: comment lines begin with `#` before the header;
 * below the header a leading `#` is data. Cells in quotes may hold commas and doubled quotes. */
#ifndef GLOAM_TESTS_TABLE_H
#define GLOAM_TESTS_TABLE_H

#include <stddef.h>

typedef struct Table Table;

/* Path from the top of the project, where tests are run. The test fails where it cannot be read or
 * does not have so many rows, so that no row is lost unseen. */
Table *table_read(const char *path, size_t rows);
void table_free(Table *table);

size_t table_rows(const Table *table);
/* "" where the row is shorter; NULL where the table has no such column. */
const char *table_text(const Table *table, size_t row, const char *column);
/* NAN where the cell is not a number. */
double table_number(const Table *table, size_t row, const char *column);

#endif
