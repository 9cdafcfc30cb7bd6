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

static struct curl_slist *headers_of(const Exchange *exchange) {
    char line[256];
    struct curl_slist *list = NULL;
    snprintf(line, sizeof line, "Accept: %s",
             exchange->accepts ? exchange->accepts : "application/json");
    list = curl_slist_append(list, line);
    if (exchange->body)
        list = curl_slist_append(list, "Content-Type: application/json");
    if (exchange->token) {
        snprintf(line, sizeof line, "Authorization: Bearer %s", exchange->token);
        list = curl_slist_append(list, line);
    }
    return list;
}

static void set_up(CURL *curl, Exchange *exchange, const struct curl_slist *headers, char *why) {
    char address[ADDRESS_BYTES];
    snprintf(address, sizeof address, "%s%s", exchange->url, exchange->path);
    curl_easy_setopt(curl, CURLOPT_URL, address);
    curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https");
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, (long)PATIENCE_MS);
    curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, (long)CONNECT_MS);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 0L); /* a token goes to nobody else */
    curl_easy_setopt(curl, CURLOPT_PROXY, "");          /* a lamp is in the house */
    curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, why);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, take);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, exchange);
    if (exchange->body)
        curl_easy_setopt(curl, CURLOPT_POSTFIELDS, exchange->body);
}

void exchange_do(Exchange *exchange) {
    char why[CURL_ERROR_SIZE] = "";
    CURL *curl = curl_easy_init();
    struct curl_slist *headers = headers_of(exchange);
    exchange->status = 0;
    exchange->text = NULL;
    exchange->length = 0;
    if (!curl || !headers) {
        snprintf(exchange->said, sizeof exchange->said, "out of memory");
    } else {
        set_up(curl, exchange, headers, why);
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
