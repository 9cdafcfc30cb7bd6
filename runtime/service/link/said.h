/* What a program of the player says: one line on standard error, with its gravity before it
 * (sd-daemon(3)) where a journal reads it. */
#ifndef GLOAM_SERVICE_LINK_SAID_H
#define GLOAM_SERVICE_LINK_SAID_H

enum { SAID_ERROR = 3, SAID_WARNING = 4, SAID_NOTICE = 5, SAID_INFORMATION = 6 };

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void said(int gravity, const char *format, ...);

#endif
