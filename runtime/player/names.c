#include "runtime/player/names.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

void name_of_machine(char *name, size_t size) {
    name[size - 1] = '\0'; /* one that is cut has no end of its own */
    if (gethostname(name, size - 1) != 0 || *name == '\0' || *name == '.')
        snprintf(name, size, "lamp");
    name[strcspn(name, ".")] = '\0';
}

bool name_is_plain(const char *name) {
    size_t length = strlen(name);
    return length > 0 && length < NAME_BYTES &&
           strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.") ==
               length;
}

bool name_is_id(const char *name) {
    return name_is_plain(name) && strcmp(name, "all") != 0 && strcmp(name, "files") != 0;
}
