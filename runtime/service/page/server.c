#include "runtime/service/page/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/service/link/said.h"
#include "runtime/service/page/access.h"
#include "runtime/service/page/assets.h"
#include "runtime/service/page/guard.h"
#include "runtime/service/page/stream.h"

static const char API[] = "/v1";

/* A connection, and since when it has been asking, being answered, or idle. */
typedef struct Seat {
    struct MHD_Connection *connection; /* NULL: free */
    int64_t since;                     /* microseconds, monotonic */
    bool asks, streams, ended;         /* asks: a request's head is here, its answer not yet gone */
} Seat;

struct Server {
    Page *page;
    Seat seats[SERVER_CONNECTIONS];
    struct MHD_Daemon *daemon;
    Guard guard;
    size_t uploads; /* bytes of bodies that are held */
    int full_runs;  /* above 0: one of the last runs began with all places taken */
};

/* -------- who asks -------- */

/* Without the form of an IPv4 address within IPv6. */
static void address_text(const struct sockaddr *address, char *text, size_t size) {
    const void *bytes = NULL;
    int family = address->sa_family;
    *text = '\0';
    if (family == AF_INET) {
        bytes = &((const struct sockaddr_in *)(const void *)address)->sin_addr;
    } else if (family == AF_INET6) {
        const struct in6_addr *six =
            &((const struct sockaddr_in6 *)(const void *)address)->sin6_addr;
        bytes = six;
        if (IN6_IS_ADDR_V4MAPPED(six)) {
            bytes = six->s6_addr + 12;
            family = AF_INET;
        }
    }
    if (bytes)
        inet_ntop(family, bytes, text, (socklen_t)size);
}

/* At which address of this machine the request came in. */
static void own_address(struct MHD_Connection *connection, char *text, size_t size) {
    struct sockaddr_storage own;
    socklen_t length = sizeof own;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    *text = '\0';
    if (info && getsockname(info->connect_fd, (struct sockaddr *)&own, &length) == 0)
        address_text((const struct sockaddr *)&own, text, size);
}

static const char *header(const HttpRequest *request, const char *name) {
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

static void find_role(HttpRequest *request) {
    Page *page = request->page;
    static const char bearer[] = "Bearer ";
    const char *authorization = header(request, "Authorization");
    const char *token = MHD_lookup_connection_value(request->connection, MHD_COOKIE_KIND, "gloam");
    if (authorization && strncasecmp(authorization, bearer, sizeof bearer - 1) == 0)
        token = authorization + sizeof bearer - 1;
    const Session *session = access_find(page->access, token, page_utc());
    if (session)
        snprintf(request->session, sizeof request->session, "%s", session->id);
    request->role = page->open     ? ROLE_OWNER
                    : session      ? session->role
                    : page->guests ? ROLE_GUEST
                                   : ROLE_NOBODY;
}

/* -------- how long -------- */

static void on_connection(void *context, struct MHD_Connection *connection, void **own,
                          enum MHD_ConnectionNotificationCode code) {
    Server *server = context;
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        if (*own)
            *(Seat *)*own = (Seat){0};
        *own = NULL;
        return;
    }
    *own = NULL;
    for (int i = 0; i < SERVER_CONNECTIONS && !*own; i++)
        if (!server->seats[i].connection)
            *own = &server->seats[i];
    if (*own)
        *(Seat *)*own = (Seat){.connection = connection, .since = page_monotonic()};
}

static unsigned connections(const Server *server) {
    const union MHD_DaemonInfo *info =
        MHD_get_daemon_info(server->daemon, MHD_DAEMON_INFO_CURRENT_CONNECTIONS);
    return info ? info->num_connections : 0;
}

/* Who sends or takes a byte now and then would hold a connection for ever. Where few places are
 * left, who asks nothing goes sooner: the clients of half-open connections are gone, and a flood
 * leaves many. Milliseconds until the next is due; -1: none is. */
static int end_the_slow(Server *server) {
    int64_t now = page_monotonic(), due = INT64_MAX;
    bool crowded = connections(server) > SERVER_CONNECTIONS - SERVER_FREE;
    for (int i = 0; i < SERVER_CONNECTIONS; i++) {
        Seat *seat = &server->seats[i];
        if (!seat->connection || seat->streams || seat->ended)
            continue;
        int seconds = crowded && !seat->asks ? SERVER_HASTE : SERVER_WHOLE;
        int64_t own = seat->since + seconds * INT64_C(1000000);
        if (own > now) {
            due = own < due ? own : due;
            continue;
        }
        const union MHD_ConnectionInfo *info =
            MHD_get_connection_info(seat->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
        seat->ended = true;
        if (info)
            shutdown(info->connect_fd, SHUT_RDWR);
    }
    return due == INT64_MAX ? -1 : (int)((due - now) / 1000 + 1);
}

/* -------- whether it may come in -------- */

static bool check_name(HttpRequest *request) {
    char own[64];
    own_address(request->connection, own, sizeof own);
    if (guard_host(header(request, "Host"), request->page->host, own, request->page->port))
        return true;
    reply_problem(request, 421, "another-name", NULL,
                  "this lamp is reached by its address, by localhost or as %s.local",
                  request->page->host);
    return false;
}

static bool check_origin(HttpRequest *request, bool changes) {
    const char *origin = changes ? header(request, "Origin") : NULL;
    if (guard_origin(origin, header(request, "Sec-Fetch-Site"), header(request, "Host")))
        return true;
    reply_problem(request, 403, "another-page", NULL, "another page asked for this");
    return false;
}

static bool check_amount(Server *server, HttpRequest *request) {
    if (guard_take(&server->guard, request->address, request->route->cost, page_monotonic()))
        return true;
    request->retry_after = 1 + (int)(request->route->cost / GUARD_RATE);
    reply_problem(request, 429, "too-much", NULL, "ask again in a moment");
    return false;
}

static bool check_role(HttpRequest *request) {
    find_role(request);
    if (request->role >= request->route->role)
        return true;
    if (request->role == ROLE_NOBODY || !*request->session)
        reply_problem(request, 401, "not-paired", NULL,
                      "this phone is not paired: ask the lamp for its code");
    else
        reply_problem(request, 403, "guest", NULL, "guests may look, and change nothing");
    return false;
}

static bool check_body(Server *server, HttpRequest *request) {
    const char *length = header(request, "Content-Length");
    if (!guard_json(header(request, "Content-Type"))) {
        reply_problem(request, 415, "not-json", NULL, "send Content-Type: application/json");
        return false;
    }
    if (!length) {
        reply_problem(request, 411, "no-length", NULL, "send Content-Length");
        return false;
    }
    size_t digits = strspn(length, "0123456789");
    if (digits == 0 || length[digits] || digits > 7 || atol(length) > REQUEST_MOST) {
        reply_problem(request, 413, "too-large", NULL, "a body has at most %d bytes", REQUEST_MOST);
        return false;
    }
    size_t bytes = (size_t)atol(length);
    if (bytes > SERVER_UPLOADS - server->uploads ||
        !(request->upload = memory_allocate(bytes + 1, 1))) {
        request->retry_after = 2;
        reply_problem(request, 503, "busy", NULL, "the lamp is busy: try again");
        return false;
    }
    server->uploads += bytes;
    request->expected = bytes;
    return true;
}

/* -------- the page's files -------- */

/* Every answer. No other page may frame it, read it, or send it anywhere. */
static void add_headers(struct MHD_Response *response, bool asset) {
    static const char *const ALL[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
         "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
         "frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"}};
    for (size_t i = 0; i < sizeof ALL / sizeof *ALL; i++)
        MHD_add_response_header(response, ALL[i][0], ALL[i][1]);
    MHD_add_response_header(response, "Cache-Control", asset ? "no-cache" : "no-store");
}

static enum MHD_Result send_asset(const HttpRequest *request, const Asset *asset) {
    char tag[64];
    bool packed = guard_packed(header(request, "Accept-Encoding"));
    const char *known = header(request, "If-None-Match");
    snprintf(tag, sizeof tag, "\"%s%s\"", asset->hash, packed ? "-gzip" : "");
    bool same = known && strstr(known, tag);
    struct MHD_Response *response = MHD_create_response_from_buffer(
        same     ? 0
        : packed ? asset->packed_length
                 : asset->length,
        (void *)(packed ? asset->packed : asset->bytes), MHD_RESPMEM_PERSISTENT);
    if (!response)
        return MHD_NO;
    add_headers(response, true);
    MHD_add_response_header(response, "Content-Type", asset->type);
    MHD_add_response_header(response, "ETag", tag);
    MHD_add_response_header(response, "Vary", "Accept-Encoding");
    if (packed && !same)
        MHD_add_response_header(response, "Content-Encoding", "gzip");
    enum MHD_Result result = MHD_queue_response(request->connection, same ? 304 : 200, response);
    MHD_destroy_response(response);
    return result;
}

static const Asset *find_asset(const char *path) {
    for (const Asset *asset = ASSETS; asset->path; asset++)
        if (strcmp(asset->path, path) == 0)
            return asset;
    return NULL;
}

/* -------- an answer goes out -------- */

static enum MHD_Result send_reply(HttpRequest *request) {
    struct MHD_Response *response;
    if (request->stream) {
        response = stream_response(request->stream);
        if (request->seat)
            request->seat->streams = true;
    } else {
        /* The response owns a copy, since the request may be released before it is sent. */
        response = MHD_create_response_from_buffer(request->bytes ? request->length : 0,
                                                   request->bytes ? request->bytes : "",
                                                   MHD_RESPMEM_MUST_COPY);
    }
    if (!response)
        return MHD_NO;
    add_headers(response, false);
    MHD_add_response_header(response, "Content-Type",
                            request->type ? request->type : "application/json");
    if (*request->cookie)
        MHD_add_response_header(response, "Set-Cookie", request->cookie);
    if (request->retry_after > 0) {
        char seconds[16];
        snprintf(seconds, sizeof seconds, "%d", request->retry_after);
        MHD_add_response_header(response, "Retry-After", seconds);
    }
    if (*request->allow)
        MHD_add_response_header(response, "Allow", request->allow);
    if (request->status == 401)
        MHD_add_response_header(response, "WWW-Authenticate", "Bearer");
    enum MHD_Result result = MHD_queue_response(request->connection, request->status, response);
    MHD_destroy_response(response);
    return result;
}

void request_later(HttpRequest *request) {
    request->later = true;
}

void request_ready(HttpRequest *request) {
    request->later = false;
    if (!request->suspended)
        return;
    request->suspended = false;
    MHD_resume_connection(request->connection);
}

/* -------- a request comes in -------- */

static enum MHD_Result take_query(void *context, enum MHD_ValueKind kind, const char *name,
                                  const char *value) {
    HttpRequest *request = context;
    (void)kind;
    for (int i = 0; i < 15; i++)
        if (!request->query[i][0]) {
            request->query[i][0] = name;
            request->query[i][1] = value;
            return MHD_YES;
        }
    return MHD_NO;
}

static bool is_api(const char *path) {
    return strncmp(path, API, sizeof API - 1) == 0 &&
           (path[sizeof API - 1] == '/' || path[sizeof API - 1] == '\0');
}

/* What is sent for HEAD is the library's business. */
static bool reads(const char *method) {
    return strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0;
}

/* Which route; false: answered. */
static bool find_route(HttpRequest *request, const char *method, const char *path) {
    if (is_api(path))
        request->route = route_find(reads(method) ? "GET" : method, path + sizeof API - 1,
                                    request->parts, request->allow);
    else if (find_asset(path))
        snprintf(request->allow, sizeof request->allow, "GET, HEAD");
    if (request->route)
        request->allow[0] = '\0'; /* which is of another method */
    else if (*request->allow)
        reply_problem(request, 405, "not-that-way", NULL, "here one may %s", request->allow);
    else
        reply_problem(request, 404, "not-there", NULL, "there is nothing at this address");
    return request->route;
}

/* The first look, at the headers alone. */
static void admit(Server *server, HttpRequest *request, const char *method, const char *path) {
    if (!check_name(request) || !check_origin(request, !reads(method)) ||
        !find_route(request, method, path) || !check_amount(server, request) ||
        !check_role(request))
        return;
    MHD_get_connection_values(request->connection, MHD_GET_ARGUMENT_KIND, take_query, request);
    if (strcmp(method, "POST") == 0 || strcmp(method, "PUT") == 0)
        check_body(server, request);
}

static HttpRequest *request_make(Server *server, struct MHD_Connection *connection) {
    HttpRequest *request = memory_allocate(1, sizeof *request);
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    if (!request)
        return NULL;
    request->page = server->page;
    request->connection = connection;
    if (info && info->client_addr)
        address_text(info->client_addr, request->address, sizeof request->address);
    info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    request->seat = info ? info->socket_context : NULL;
    if (request->seat)
        request->seat->asks = true;
    return request;
}

/* The body as an object; false: answered. */
static bool read_body(HttpRequest *request) {
    json_error_t error;
    request->body = json_loadb(request->upload, request->uploaded, JSON_REJECT_DUPLICATES, &error);
    if (json_is_object(request->body))
        return true;
    reply_problem(request, 400, "bad-body", NULL, "the body is no JSON object%s%s",
                  request->body ? "" : ": ", request->body ? "" : error.text);
    return false;
}

static enum MHD_Result handle(HttpRequest *request) {
    if (!request->upload || read_body(request))
        request->route->handler(request);
    if (!request->answered && request->later) {
        request->suspended = true;
        MHD_suspend_connection(request->connection);
        return MHD_YES;
    }
    if (!request->answered)
        reply_no_memory(request);
    return send_reply(request);
}

static enum MHD_Result on_request(void *context, struct MHD_Connection *connection,
                                  const char *path, const char *method, const char *version,
                                  const char *upload, size_t *size, void **own) {
    Server *server = context;
    HttpRequest *request = *own;
    (void)version;
    if (!request) {
        *own = request = request_make(server, connection);
        if (!request)
            return MHD_NO;
        request->asset = reads(method) ? find_asset(path) : NULL;
        if (request->asset)
            check_name(request);
        else
            admit(server, request, method, path);
        /* At once where it is refused: the connection is closed, a body is not waited for. */
        return request->answered ? send_reply(request) : MHD_YES;
    }
    if (*size > 0) {
        if (!request->upload || *size > request->expected - request->uploaded)
            return MHD_NO;
        memcpy(request->upload + request->uploaded, upload, *size);
        request->uploaded += *size;
        *size = 0;
        return MHD_YES;
    }
    if (request->asset)
        return send_asset(request, request->asset);
    if (request->answered) /* by who was waited for */
        return send_reply(request);
    return handle(request);
}

static void on_completed(void *context, struct MHD_Connection *connection, void **own,
                         enum MHD_RequestTerminationCode code) {
    Server *server = context;
    HttpRequest *request = *own;
    (void)connection;
    (void)code;
    if (!request)
        return;
    *own = NULL;
    if (request->seat) {
        request->seat->asks = request->seat->streams = false;
        request->seat->since = page_monotonic();
    }
    if (request->stream)
        stream_gone(request->stream);
    server->uploads -= request->expected;
    json_decref(request->body);
    memory_release(request->upload);
    memory_release(request->bytes);
    memory_release(request->own);
    memory_release(request);
}

/* -------- life -------- */

/* What the library tells of clients that do not keep to the rules is no news. */
static void quiet(void *context, const char *format, va_list arguments) {
    (void)context;
    (void)format;
    (void)arguments;
}

/* A zero byte would end a name early, and another name be answered: it stays as it was written. */
static size_t unescape(void *context, struct MHD_Connection *connection, char *text) {
    (void)context;
    (void)connection;
    return strstr(text, "%00") ? strlen(text) : MHD_http_unescape(text);
}

Server *server_open(Page *page, int listening, char *why, size_t size) {
    Server *server = memory_allocate(1, sizeof *server);
    snprintf(why, size, "out of memory");
    if (!server)
        return NULL;
    server->page = page;
    errno = 0;
    server->daemon = MHD_start_daemon(
        MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG, 0, NULL, NULL, on_request,
        server, MHD_OPTION_LISTEN_SOCKET, listening, MHD_OPTION_NOTIFY_COMPLETED, on_completed,
        server, MHD_OPTION_NOTIFY_CONNECTION, on_connection, server, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)SERVER_CONNECTIONS, MHD_OPTION_PER_IP_CONNECTION_LIMIT, (unsigned)SERVER_OF_ONE,
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)SERVER_PATIENCE,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)SERVER_MEMORY, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_UNESCAPE_CALLBACK, unescape, NULL, MHD_OPTION_EXTERNAL_LOGGER, quiet, NULL,
        MHD_OPTION_END);
    if (server->daemon)
        return server;
    snprintf(why, size, "%s", errno ? strerror(errno) : "the server does not start");
    memory_release(server);
    return NULL;
}

void server_close(Server *server) {
    if (!server)
        return;
    MHD_stop_daemon(server->daemon);
    memory_release(server);
}

int server_descriptor(const Server *server) {
    return MHD_get_daemon_info(server->daemon, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd;
}

/* A run that begins with all places taken stops listening, and one that begins with room listens
 * again; the library asks for none. Had all gone in the last run, nobody would be heard for long.
 */
static int full_patience(const Server *server) {
    return server->full_runs > 0 || connections(server) >= SERVER_CONNECTIONS / 4 ? 20 : 60000;
}

int server_patience(Server *server) {
    MHD_UNSIGNED_LONG_LONG milliseconds;
    int most = full_patience(server), slow = end_the_slow(server);
    if (slow >= 0 && slow < most)
        most = slow;
    if (MHD_get_timeout(server->daemon, &milliseconds) != MHD_YES)
        return most < 60000 ? most : -1;
    return milliseconds > (unsigned)most ? most : (int)milliseconds;
}

void server_run(Server *server) {
    if (connections(server) >= SERVER_CONNECTIONS)
        server->full_runs = 2;
    else if (server->full_runs > 0)
        server->full_runs--;
    MHD_run(server->daemon);
}
