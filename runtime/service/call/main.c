/* gloam-call: what `gloam COMMAND --to URL` executes, so that gloam itself needs no network.
 *
 *     gloam-call act URL LINE       one act, a line of spec/protocol.md
 *     gloam-call status URL text|json
 *     gloam-call pair URL           asks the lamp to show its code, and this person for it
 *
 * Exit statuses are those of gloam. */
#include <errno.h>
#include <inttypes.h>
#include <jansson.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <unistd.h>

#include "runtime/service/call/exchange.h"
#include "runtime/service/call/keyring.h"

enum { DONE = 0, WRONG = 1, CALL = 2, MACHINE = 3, URL_BYTES = 512, TRIES = 2, CODE_BYTES = 64 };
enum { SENTENCE_BYTES = 4096 };

/* What another machine says steers no terminal: `?` for control characters but ends of lines and
 * tabs, those of two bytes (U+0080 to U+009F) too. */
static void print(FILE *out, const char *text) {
    for (; *text; text++) {
        unsigned char byte = (unsigned char)*text, next = (unsigned char)text[1];
        bool two = byte == 0xc2 && next >= 0x80 && next < 0xa0;
        bool steers = two || byte == 127 || (byte < 32 && byte != '\n' && byte != '\t');
        fputc(steers ? '?' : byte, out);
        text += two;
    }
}

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static int
fail(int status, const char *format, ...) {
    char sentence[SENTENCE_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    fputs("gloam: ", stderr);
    print(stderr, sentence);
    fputc('\n', stderr);
    return status;
}

/* A text of the answer; "" where it has none. */
static const char *member(const json_t *object, const char *name) {
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

/* What the answer says where it is no success: a problem of RFC 9457. */
static int tell_problem(const Exchange *exchange) {
    json_t *problem = json_loadb(exchange->text ? exchange->text : "", exchange->length, 0, NULL);
    const char *title = member(problem, "title"), *detail = member(problem, "detail");
    int status;
    if (exchange->status == 0)
        status = fail(MACHINE, "%s", exchange->said);
    else if (exchange->status == 401)
        status =
            fail(MACHINE, "%s does not know you: gloam pair --to %s", exchange->url, exchange->url);
    else if (!*title && !*detail)
        status = fail(MACHINE, "%s answers %ld, as no lamp would", exchange->url, exchange->status);
    else
        status = fail(exchange->status == 422 ? WRONG : MACHINE, "%s", *detail ? detail : title);
    json_decref(problem);
    return status;
}

/* So that a request that is sent twice is done once. */
static void make_key(char key[17]) {
    uint64_t random = 0;
    if (getrandom(&random, sizeof random, 0) != (ssize_t)sizeof random)
        random = (uint64_t)getpid();
    snprintf(key, 17, "%016" PRIx64, random);
}

static void exchange_again(Exchange *exchange) {
    for (int i = 0; i < TRIES; i++) {
        exchange_do(exchange);
        if (exchange->status || i + 1 == TRIES)
            return;
        exchange_end(exchange);
    }
}

static int act(const char *url, const char *line) {
    char token[KEYRING_TOKEN], key[17];
    make_key(key);
    json_t *body = json_pack("{s:s, s:s}", "act", line, "key", key);
    char *text = body ? json_dumps(body, 0) : NULL;
    json_decref(body);
    if (!text)
        return fail(CALL, "an act is UTF-8");
    Exchange exchange = {.url = url,
                         .path = "/v1/acts",
                         .token = keyring_find(url, token) ? token : NULL,
                         .body = text};
    exchange_again(&exchange);
    int status = DONE;
    if (exchange.status == 200) {
        json_t *answer = json_loadb(exchange.text, exchange.length, 0, NULL);
        print(stdout, member(answer, "said"));
        putchar('\n');
        json_decref(answer);
    } else {
        status = tell_problem(&exchange);
    }
    exchange_end(&exchange);
    free(text);
    return status;
}

static int tell_status(const char *url, const char *format) {
    char token[KEYRING_TOKEN];
    bool json = strcmp(format, "json") == 0;
    Exchange exchange = {.url = url,
                         .path = "/v1/state",
                         .token = keyring_find(url, token) ? token : NULL,
                         .accepts = json ? NULL : "text/plain"};
    exchange_again(&exchange);
    int status = DONE;
    if (exchange.status == 200) {
        print(stdout, exchange.text ? exchange.text : "");
        if (!exchange.length || exchange.text[exchange.length - 1] != '\n')
            putchar('\n');
    } else {
        status = tell_problem(&exchange);
    }
    exchange_end(&exchange);
    return status;
}

/* False: no code was given. */
static bool ask_code(char code[CODE_BYTES]) {
    fputs("The lamp shows a code in its light, digit by digit, and in its log.\nThe code: ",
          stderr);
    if (!fgets(code, CODE_BYTES, stdin))
        return false;
    code[strcspn(code, "\r\n")] = '\0';
    return *code != '\0';
}

static int keep_session(const char *url, const Exchange *exchange) {
    json_t *answer = json_loadb(exchange->text, exchange->length, 0, NULL);
    const char *token = member(answer, "token");
    int status = DONE;
    if (!*token || strlen(token) >= KEYRING_TOKEN || strpbrk(token, " \r\n"))
        status = fail(MACHINE, "%s gives no session", url);
    else if (!keyring_keep(url, token))
        status = fail(MACHINE, "the session cannot be kept: %s", strerror(errno));
    else
        printf("%s knows you now\n", url);
    json_decref(answer);
    return status;
}

static int pair(const char *url) {
    char code[CODE_BYTES], name[128] = "a command line";
    Exchange shown = {.url = url, .path = "/v1/pairing", .body = "{}"};
    exchange_do(&shown);
    int status = shown.status == 202 ? DONE : tell_problem(&shown);
    exchange_end(&shown);
    if (status != DONE)
        return status;
    if (!ask_code(code))
        return fail(CALL, "no code was given");
    if (gethostname(name, sizeof name - 1) == 0)
        name[sizeof name - 1] = '\0';
    json_t *body = json_pack("{s:s, s:s}", "code", code, "name", name);
    char *text = body ? json_dumps(body, 0) : NULL;
    json_decref(body);
    if (!text)
        return fail(CALL, "a code has digits");
    Exchange given = {.url = url, .path = "/v1/sessions", .body = text};
    exchange_do(&given);
    status = given.status == 201 ? keep_session(url, &given) : tell_problem(&given);
    exchange_end(&given);
    free(text);
    return status;
}

int main(int count, char **words) {
    char url[URL_BYTES];
    if (count < 3 || !exchange_url(words[2], url, sizeof url))
        return fail(CALL, "%s is no address of a lamp: --to http://lantern.local",
                    count < 3 ? "nothing" : words[2]);
    int status = CALL;
    if (count == 4 && strcmp(words[1], "act") == 0)
        status = act(url, words[3]);
    else if (count == 4 && strcmp(words[1], "status") == 0)
        status = tell_status(url, words[3]);
    else if (count == 3 && strcmp(words[1], "pair") == 0)
        status = pair(url);
    else
        return fail(CALL, "gloam calls this program itself: gloam status --to %s", url);
    if (fflush(stdout) != 0 || ferror(stdout))
        return fail(MACHINE, "standard output: %s", strerror(errno));
    return status;
}
