/* Tells when what a path leads to may have changed: the file was replaced, written or removed, or a
 * link or folder on the way was swapped. inotify(7) on every folder of the way, for the names of
 * the way alone; a part of the way that is missing is waited for. Nothing is polled. */
#ifndef GLOAM_PLAYER_PATH_WATCH_H
#define GLOAM_PLAYER_PATH_WATCH_H

#include <stdbool.h>

typedef struct PathWatch PathWatch;

/* `path` is absolute. *watch is the caller's, to path_watch_close; NULL on failure, errno says why:
 * ENOSPC and EMFILE are limits of the system on watches, EACCES a folder that must not be read. */
bool path_watch_open(const char *path, PathWatch **watch);
void path_watch_close(PathWatch *watch); /* NULL is fine */

/* For epoll (EPOLLIN). */
int path_watch_descriptor(const PathWatch *watch);

/* Takes what was reported; true where the path may lead to something else than at the last call. A
 * false alarm is possible; a change is missed only where a mount hides a folder, or where a folder
 * that came later cannot be watched. */
bool path_watch_changed(PathWatch *watch);

#endif
