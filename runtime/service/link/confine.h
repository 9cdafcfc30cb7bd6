/* What a program of the player gives up before it listens to anybody: priority, memory, and all of
 * the file system but what it needs. It is the first to be ended where memory is short. */
#ifndef GLOAM_SERVICE_LINK_CONFINE_H
#define GLOAM_SERVICE_LINK_CONFINE_H

/* Not where a sanitizer looks on: it reserves far more addresses than it uses. */
#define CONFINE_LIMITS_MEMORY 1
#if defined(__SANITIZE_ADDRESS__)
#undef CONFINE_LIMITS_MEMORY
#define CONFINE_LIMITS_MEMORY 0
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#undef CONFINE_LIMITS_MEMORY
#define CONFINE_LIMITS_MEMORY 0
#endif
#endif

/* To be called once, with no other thread. Files can be read and written in the folders of the home
 * file, of what it leads to now where it is a link, and of the state file (NULL: none), read where
 * names, time zones, libraries and certificates lie, and are nowhere else to be had; nothing is
 * executed (Landlock, Linux 5.13). What the kernel does not know is told once and done without.
 * Descriptors that are open stay. */
void confine_helper(const char *home, const char *state);

#endif
