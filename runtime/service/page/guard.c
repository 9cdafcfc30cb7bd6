#include "runtime/service/page/guard.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* -------- whose name -------- */

/* `lantern`, `lantern.local`, `lantern-2.local` */
static bool is_name(const char *host, size_t length, const char *name) {
    static const char local[] = ".local";
    size_t own = strlen(name), rest;
    if (own == 0 || length < own || strncasecmp(host, name, own) != 0)
        return false;
    host += own;
    rest = length - own;
    if (rest == 0)
        return true;
    if (*host == '-') {
        size_t digits = strspn(host + 1, "0123456789");
        if (digits == 0 || digits > 3 || digits + 1 > rest)
            return false;
        host += digits + 1;
        rest -= digits + 1;
        if (rest == 0)
            return false;
    }
    return rest == sizeof local - 1 && strncasecmp(host, local, rest) == 0;
}

bool guard_host(const char *host, const char *name, const char *own, uint16_t port) {
    if (!host)
        return false;
    bool bracket = *host == '[';
    size_t length = strcspn(host, bracket ? "]" : ":");
    const char *rest = host + length + (bracket && host[length] == ']');
    if (*rest == ':') {
        size_t digits = strspn(rest + 1, "0123456789");
        if (digits == 0 || digits > 5 || rest[1 + digits] ||
            strtol(rest + 1, NULL, 10) != (long)port)
            return false;
    } else if (*rest || port != 80) {
        return false;
    }
    if (bracket) {
        host++;
        length--;
    }
    bool literal = strlen(own) == length && strncasecmp(host, own, length) == 0;
    bool local = length == strlen("localhost") && strncasecmp(host, "localhost", length) == 0;
    return literal || (!bracket && (local || is_name(host, length, name)));
}

bool guard_origin(const char *origin, const char *site, const char *host) {
    if (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0)
        return false;
    if (!origin)
        return true;
    const char *rest = strncmp(origin, "http://", 7) == 0    ? origin + 7
                       : strncmp(origin, "https://", 8) == 0 ? origin + 8
                                                             : NULL;
    return rest && host && strcasecmp(rest, host) == 0;
}

bool guard_json(const char *type) {
    static const char json[] = "application/json";
    size_t length = sizeof json - 1;
    return type && strncasecmp(type, json, length) == 0 &&
           (type[length] == '\0' || type[length] == ';' || type[length] == ' ');
}

/* -------- how much -------- */

bool guard_take(Guard *guard, const char *address, unsigned cost, int64_t monotonic) {
    GuardAddress *place = &guard->list[0];
    for (int i = 0; i < GUARD_ADDRESSES; i++) {
        GuardAddress *one = &guard->list[i];
        if (strcmp(one->address, address) == 0 && *address) {
            place = one;
            break;
        }
        if (one->last < place->last)
            place = one;
    }
    if (strcmp(place->address, address) != 0 || !*address) {
        snprintf(place->address, sizeof place->address, "%s", address);
        place->left = GUARD_BURST;
        place->last = monotonic;
    }
    double since = (double)(monotonic - place->last) / 1e6;
    place->left += since > 0 ? since * GUARD_RATE : 0;
    place->left = place->left > GUARD_BURST ? GUARD_BURST : place->left;
    place->last = monotonic;
    if (place->left < cost)
        return false;
    place->left -= cost;
    return true;
}
