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
    bool literal = *own && strlen(own) == length && strncasecmp(host, own, length) == 0;
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

/* Whether a weight (`;q=0.5`, from its semicolon on) is more than nothing. */
static bool weighs(const char *weight, size_t length) {
    const char *end = weight + length;
    for (; weight < end; weight++)
        if ((*weight == 'q' || *weight == 'Q') && weight + 1 < end && weight[1] == '=')
            return strspn(weight + 2, "0.") < (size_t)(end - weight - 2) &&
                   strchr("123456789", weight[2 + strspn(weight + 2, "0.")]);
    return true;
}

bool guard_packed(const char *encodings) {
    bool any = false;
    while (encodings && *encodings) {
        encodings += strspn(encodings, " \t,");
        size_t length = strcspn(encodings, ","), name = strcspn(encodings, " \t;,");
        bool wanted = weighs(encodings + name, length - name);
        if (name == 4 && strncasecmp(encodings, "gzip", name) == 0)
            return wanted;
        any = any || (name == 1 && *encodings == '*' && wanted);
        encodings += length;
    }
    return any;
}

/* -------- how much -------- */

static void refill(GuardBucket *bucket, double burst, double rate, int64_t monotonic) {
    double since = (double)(monotonic - bucket->last) / 1e6;
    bucket->left = bucket->used ? bucket->left + (since > 0 ? since * rate : 0) : burst;
    bucket->left = bucket->left > burst ? burst : bucket->left;
    bucket->last = monotonic;
    bucket->used = true;
}

static GuardBucket *bucket_of(Guard *guard, const char *address) {
    GuardAddress *place = &guard->list[0];
    for (int i = 0; i < GUARD_ADDRESSES; i++) {
        GuardAddress *one = &guard->list[i];
        if (one->bucket.used && strcmp(one->address, address) == 0)
            return &one->bucket;
        if (place->bucket.used && (!one->bucket.used || one->bucket.last < place->bucket.last))
            place = one;
    }
    *place = (GuardAddress){0};
    snprintf(place->address, sizeof place->address, "%s", address);
    return &place->bucket;
}

bool guard_take(Guard *guard, const char *address, unsigned cost, int64_t monotonic) {
    GuardBucket *own = bucket_of(guard, address);
    refill(own, GUARD_BURST, GUARD_RATE, monotonic);
    refill(&guard->all, GUARD_BURST_ALL, GUARD_RATE_ALL, monotonic);
    if (own->left < cost || guard->all.left < cost)
        return false;
    own->left -= cost;
    guard->all.left -= cost;
    return true;
}
