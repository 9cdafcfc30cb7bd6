/* What `gloam check --costs` prints, and what `check` says of lamps. */
#ifndef GLOAM_COMMAND_COSTS_H
#define GLOAM_COMMAND_COSTS_H

#include "runtime/command/command.h"
#include "runtime/library/safety.h"

/* Rates, instructions, memory of each routine; current and flashes on each lamp. */
void costs_print(const Compilation *compilation, const Options *options, const Safety *safety);

/* The light of what is played at night. */
void nights_print(const Compilation *compilation, const Safety *safety);

/* Each lamp's current at full white, and the cautions that belong to lamps. Prints nothing where
 * none names hardware. `limited`: where no supply is said, whoever calls limits the current and
 * says so. */
void cautions_print(const Compilation *compilation, bool limited, FILE *out);

#endif
