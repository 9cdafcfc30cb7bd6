#include "runtime/service/page/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"

const char *request_query(const HttpRequest *request, const char *name) {
    for (int i = 0; request->query[i][0]; i++)
        if (strcmp(request->query[i][0], name) == 0)
            return request->query[i][1] ? request->query[i][1] : "";
    return NULL;
}

bool request_number(HttpRequest *request, const char *name, double least, double most, double usual,
                    double *value) {
    const char *text = request_query(request, name);
    *value = usual;
    if (!text)
        return true;
    char *end;
    size_t digits = strspn(text, "0123456789.");
    *value = strtod(text, &end);
    if (digits > 0 && !text[digits] && !*end && *value >= least && *value <= most)
        return true;
    reply_problem(request, 400, "bad-query", NULL, "`%s` is a number from %g to %g", name, least,
                  most);
    return false;
}

bool request_text(HttpRequest *request, const char *name, bool needed, size_t most,
                  const char **text) {
    const json_t *member = json_object_get(request->body, name);
    *text = json_string_value(member);
    if (!member && !needed)
        return true;
    if (*text && json_string_length(member) <= most && strlen(*text) == json_string_length(member))
        return true;
    reply_problem(request, 400, "bad-body", NULL, "`%s` is a text of at most %zu bytes", name,
                  most);
    return false;
}

/* -------- answers -------- */

void reply_bytes(HttpRequest *request, const char *type, char *bytes, size_t length) {
    if (request->answered || !bytes) {
        memory_release(bytes);
        if (!request->answered)
            reply_no_memory(request);
        return;
    }
    request->answered = true;
    request->status = request->status ? request->status : 200;
    request->type = type;
    request->bytes = bytes;
    request->length = length;
}

static void reply_object(HttpRequest *request, unsigned status, const char *type, json_t *object) {
    char *text = object ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(object);
    char *bytes = text ? memory_copy_text(text, strlen(text)) : NULL;
    if (bytes && !request->answered)
        request->status = status;
    if (bytes || !request->answered)
        reply_bytes(request, type, bytes, text ? strlen(text) : 0);
    free(text);
}

void reply_json(HttpRequest *request, unsigned status, json_t *object) {
    reply_object(request, status, "application/json", object);
}

void reply_said(HttpRequest *request, unsigned status, const char *said) {
    reply_json(request, status, json_pack("{s:s}", "said", said));
}

void reply_answer(HttpRequest *request, bool done, const char *text) {
    if (done)
        reply_said(request, 200, text);
    else
        reply_problem(request, 422, "refused", NULL, "%s", text);
}

void reply_no_memory(HttpRequest *request) {
    reply_problem(request, 503, "no-memory", NULL, "out of memory: try again");
}

void reply_no_player(HttpRequest *request) {
    reply_problem(request, 503, "no-player", NULL, "the player does not answer");
}

static const char *title_of(unsigned status) {
    static const struct {
        unsigned status;
        const char *title;
    } TITLES[] = {{400, "Not understood"}, {401, "Not paired"},   {403, "Not allowed"},
                  {404, "Not there"},      {405, "Not that way"}, {409, "Changed meanwhile"},
                  {411, "Length needed"},  {413, "Too large"},    {415, "Another type needed"},
                  {421, "Another name"},   {422, "Refused"},      {429, "Too much at once"},
                  {503, "Not now"}};
    for (size_t i = 0; i < sizeof TITLES / sizeof *TITLES; i++)
        if (TITLES[i].status == status)
            return TITLES[i].title;
    return "Error";
}

void reply_problem(HttpRequest *request, unsigned status, const char *code, json_t *object,
                   const char *format, ...) {
    /* Where even this finds no memory. */
    static const char nothing[] = "{\"type\":\"about:blank\",\"title\":\"Not now\",\"status\":503,"
                                  "\"code\":\"no-memory\"}";
    char detail[1024];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(detail, sizeof detail, format, arguments);
    va_end(arguments);
    if (request->answered) {
        json_decref(object);
        return;
    }
    json_t *problem = object ? object : json_object();
    json_object_set_new(problem, "type", json_string("about:blank"));
    json_object_set_new(problem, "title", json_string(title_of(status)));
    json_object_set_new(problem, "status", json_integer(status));
    json_object_set_new(problem, "code", json_string(code));
    json_t *words = json_string(detail); /* NULL where it is cut within a character */
    json_object_set_new(problem, "detail", words ? words : json_string(""));
    char *text = problem ? json_dumps(problem, JSON_COMPACT) : NULL;
    json_decref(problem);
    request->answered = true;
    request->status = text ? status : 503;
    request->type = "application/problem+json";
    request->bytes = memory_copy_text(text ? text : nothing, text ? strlen(text) : sizeof nothing);
    request->length = request->bytes ? strlen(request->bytes) : 0;
    free(text);
}

/* -------- routes -------- */

/* Whether a path is that of a route; `*` takes one part that is not empty. */
static bool matches(const char *pattern, const char *path,
                    char parts[REQUEST_PARTS][REQUEST_PART]) {
    int part = 0;
    while (*pattern && *path) {
        if (*pattern != '*') {
            if (*pattern++ != *path++)
                return false;
            continue;
        }
        size_t length = strcspn(path, "/");
        if (length == 0 || length >= REQUEST_PART || part == REQUEST_PARTS)
            return false;
        memcpy(parts[part], path, length);
        parts[part++][length] = '\0';
        path += length;
        pattern++;
    }
    return !*pattern && !*path;
}

const Route *route_find(const char *method, const char *path,
                        char parts[REQUEST_PARTS][REQUEST_PART], char allowed[64]) {
    size_t used = 0;
    allowed[0] = '\0';
    for (const Route *route = ROUTES; route->method; route++) {
        if (!matches(route->path, path, parts))
            continue;
        if (strcmp(route->method, method) == 0)
            return route;
        int more = snprintf(allowed + used, 64 - used, "%s%s%s", used ? ", " : "", route->method,
                            strcmp(route->method, "GET") == 0 ? ", HEAD" : "");
        used += more > 0 && used + (size_t)more < 64 ? (size_t)more : 0;
    }
    return NULL;
}
