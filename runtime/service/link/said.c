#include "runtime/service/link/said.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "lang/diagnostics.h"
#include "runtime/player/notify.h"

void said(int gravity, const char *format, ...) {
    char sentence[1024];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    /* What comes from outside steers no terminal and makes no lines. */
    diagnostics_clean(sentence);
    if (notify_is_journal(getenv("JOURNAL_STREAM"), STDERR_FILENO) || getenv("NOTIFY_SOCKET"))
        fprintf(stderr, "<%d>%s\n", gravity, sentence);
    else
        fprintf(stderr, "gloam: %s\n", sentence);
}
