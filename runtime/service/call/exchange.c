#include "runtime/service/call/exchange.h"

#include <curl/curl.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"

enum { PATIENCE_MS = 10000, CONNECT_MS = 4000, ADDRESS_BYTES = 1024 };

bool exchange_url(const char *given, char *url, size_t size) {
    bool has_scheme = strstr(given, "://") != NULL;
    if (has_scheme && strncmp(given, "http://", 7) != 0 && strncmp(given, "https://", 8) != 0)
        return false;
    size_t length = strlen(given);
    while (length > 0 && given[length - 1] == '/')
        length--;
    int used = snprintf(url, size, "%s%.*s", has_scheme ? "" : "http://", (int)length, given);
    const char *host = strstr(url, "://") + 3;
    return length > 0 && used > 0 && (size_t)used < size && *host &&
           strcspn(host, "/?#@ \t\r\n") == strlen(host);
}

static size_t take(char *bytes, size_t one, size_t count, void *context) {
    Exchange *exchange = context;
    size_t more = one * count;
    if (more > EXCHANGE_MOST - exchange->length)
        return 0;
    char *larger = memory_resize(exchange->text, exchange->length + more + 1, 1);
    if (!larger)
        return 0;
    memcpy(larger + exchange->length, bytes, more);
    exchange->text = larger;
    exchange->length += more;
    larger[exchange->length] = '\0';
    return more;
}

/* False: out of memory. */
static bool add(struct curl_slist **list, const char *line) {
    struct curl_slist *more = curl_slist_append(*list, line);
    *list = more ? more : *list;
    return more != NULL;
}

static bool add_headers(struct curl_slist **list, const Exchange *exchange) {
    char accept[128], token[256];
    snprintf(accept, sizeof accept, "Accept: %s",
             exchange->accepts ? exchange->accepts : "application/json");
    snprintf(token, sizeof token, "Authorization: Bearer %s",
             exchange->token ? exchange->token : "");
    return add(list, accept) && (!exchange->token || add(list, token)) &&
           (!exchange->body || add(list, "Content-Type: application/json"));
}

/* False: out of memory. */
static bool set_up(CURL *curl, Exchange *exchange, const struct curl_slist *headers, char *why) {
    char address[ADDRESS_BYTES];
    snprintf(address, sizeof address, "%s%s", exchange->url, exchange->path);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, (long)PATIENCE_MS);
    curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, (long)CONNECT_MS);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 0L); /* a token goes to nobody else */
    curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, why);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, take);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, exchange);
    if (exchange->body)
        curl_easy_setopt(curl, CURLOPT_POSTFIELDS, exchange->body);
    /* A lamp is in the house: no proxy, whatever the environment has. */
    return curl_easy_setopt(curl, CURLOPT_URL, address) == CURLE_OK &&
           curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https") == CURLE_OK &&
           curl_easy_setopt(curl, CURLOPT_PROXY, "") == CURLE_OK;
}

void exchange_do(Exchange *exchange) {
    char why[CURL_ERROR_SIZE] = "";
    CURL *curl = curl_easy_init();
    struct curl_slist *headers = NULL;
    exchange->status = 0;
    exchange->text = NULL;
    exchange->length = 0;
    if (!curl || !add_headers(&headers, exchange) || !set_up(curl, exchange, headers, why)) {
        snprintf(exchange->said, sizeof exchange->said, "out of memory");
    } else {
        CURLcode code = curl_easy_perform(curl);
        if (code == CURLE_OK)
            curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &exchange->status);
        else
            snprintf(exchange->said, sizeof exchange->said, "%s: %s", exchange->url,
                     *why ? why : curl_easy_strerror(code));
    }
    curl_slist_free_all(headers);
    curl_easy_cleanup(curl);
}

void exchange_end(Exchange *exchange) {
    memory_release(exchange->text);
    exchange->text = NULL;
}
