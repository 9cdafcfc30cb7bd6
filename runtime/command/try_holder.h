/* Who else may light a lamp: an SPI port lets any number of programs in. */
#ifndef GLOAM_COMMAND_TRY_HOLDER_H
#define GLOAM_COMMAND_TRY_HOLDER_H

/* Warns on standard error of a process that has the port open, as far as this user may look, or
 * else of a player that answers on this machine and may drive it. */
void try_holder_warn(const char *port);

#endif
