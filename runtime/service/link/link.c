#include "runtime/service/link/link.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "runtime/core/memory.h"

enum {
    HEAD_BYTES = 64,
    PIECE = 16 * 1024,
    MESSAGE_MOST = 1 << 20, /* of one message of the player */
    LINE_MOST = 1023,       /* bytes, its end included: what the player takes */
    WAITING_MOST = 256,     /* questions */
    OUT_MOST = 512 * 1024   /* bytes that wait to be sent */
};

typedef struct Question {
    LinkAnswered answered;
    void *token;
} Question;

typedef struct Bytes {
    char *bytes;
    size_t used, size;
} Bytes;

struct Link {
    int descriptor;
    LinkEvents events;
    void *context;
    Bytes in, out;
    Question questions[WAITING_MOST]; /* a ring */
    uint32_t first, count;
};

/* False: out of memory. */
static bool bytes_room(Bytes *bytes, size_t more) {
    size_t size = bytes->size ? bytes->size : PIECE;
    while (size < bytes->used + more)
        size *= 2;
    if (size == bytes->size)
        return true;
    char *larger = memory_resize(bytes->bytes, size, 1);
    if (!larger)
        return false;
    bytes->bytes = larger;
    bytes->size = size;
    return true;
}

static void bytes_drop(Bytes *bytes, size_t count) {
    bytes->used -= count;
    memmove(bytes->bytes, bytes->bytes + count, bytes->used);
}

/* -------- life -------- */

Link *link_open(int descriptor, const LinkEvents *events, void *context) {
    Link *link = memory_allocate(1, sizeof *link);
    if (!link)
        return NULL;
    int flags = fcntl(descriptor, F_GETFL);
    fcntl(descriptor, F_SETFL, flags < 0 ? O_NONBLOCK : flags | O_NONBLOCK);
    fcntl(descriptor, F_SETFD, FD_CLOEXEC);
    link->descriptor = descriptor;
    link->events = *events;
    link->context = context;
    return link;
}

void link_close(Link *link) {
    if (!link)
        return;
    if (link->descriptor >= 0)
        close(link->descriptor);
    memory_release(link->in.bytes);
    memory_release(link->out.bytes);
    memory_release(link);
}

static Question next_question(Link *link) {
    Question question = link->questions[link->first];
    link->first = (link->first + 1) % WAITING_MOST;
    link->count--;
    return question;
}

void link_lose(Link *link) {
    static const char sorry[] = "the player is gone";
    if (link->descriptor < 0)
        return;
    close(link->descriptor);
    link->descriptor = -1;
    while (link->count > 0) {
        Question question = next_question(link);
        if (question.answered)
            question.answered(question.token, false, sorry, sizeof sorry - 1);
    }
}

/* -------- out -------- */

static void write_out(Link *link) {
    while (link->descriptor >= 0 && link->out.used > 0) {
        ssize_t sent =
            send(link->descriptor, link->out.bytes, link->out.used, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (sent < 0 && errno == EINTR)
            continue;
        if (sent < 0 && errno == EAGAIN)
            return;
        if (sent < 0) {
            link_lose(link);
            return;
        }
        bytes_drop(&link->out, (size_t)sent);
    }
}

bool link_ask(Link *link, const char *line, LinkAnswered answered, void *token) {
    size_t length = strlen(line);
    if (link->descriptor < 0 || link->count == WAITING_MOST || strchr(line, '\n') ||
        length + 1 > LINE_MOST || link->out.used + length + 1 > OUT_MOST ||
        !bytes_room(&link->out, length + 1))
        return false;
    memcpy(link->out.bytes + link->out.used, line, length);
    link->out.bytes[link->out.used + length] = '\n';
    link->out.used += length + 1;
    link->questions[(link->first + link->count++) % WAITING_MOST] = (Question){answered, token};
    return true;
}

/* -------- in -------- */

typedef struct Head {
    char word[16];
    uint32_t lamp;
    size_t length; /* of what follows it */
    size_t own;    /* its own bytes, the end of the line included */
} Head;

/* 1: there is one; 0: not yet; -1: nonsense. */
static int read_head(const Bytes *in, Head *head) {
    char line[HEAD_BYTES];
    const char *end = memchr(in->bytes, '\n', in->used < HEAD_BYTES ? in->used : HEAD_BYTES);
    if (!end)
        return in->used < HEAD_BYTES ? 0 : -1;
    size_t length = (size_t)(end - in->bytes);
    memcpy(line, in->bytes, length);
    line[length] = '\0';
    head->own = length + 1;
    head->lamp = 0;
    bool fine = sscanf(line, "light %u %zu", &head->lamp, &head->length) == 2;
    if (fine)
        snprintf(head->word, sizeof head->word, "light");
    else
        fine = sscanf(line, "%15s %zu", head->word, &head->length) == 2 &&
               strcmp(head->word, "light") != 0;
    return fine && head->length <= MESSAGE_MOST ? 1 : -1;
}

/* False: the player says what it should not. */
static bool take_message(Link *link, const Head *head, const char *text) {
    bool done = strcmp(head->word, "done") == 0;
    if (strcmp(head->word, "light") == 0) {
        if (link->events.light)
            link->events.light(link->context, head->lamp, (const uint8_t *)text, head->length);
        return true;
    }
    if (strcmp(head->word, "state") == 0) {
        if (link->events.state)
            link->events.state(link->context, text, head->length);
        return true;
    }
    if ((!done && strcmp(head->word, "refused") != 0) || link->count == 0)
        return false;
    Question question = next_question(link);
    if (question.answered)
        question.answered(question.token, done, text, head->length);
    return true;
}

/* The messages that are whole. */
static bool take_messages(Link *link) {
    size_t taken = 0;
    bool fine = true;
    while (fine && link->descriptor >= 0) {
        Bytes rest = {link->in.bytes + taken, link->in.used - taken, 0};
        Head head;
        int there = rest.used ? read_head(&rest, &head) : 0;
        fine = there >= 0;
        if (there <= 0 || rest.used < head.own + head.length)
            break;
        /* A NUL behind it; there is room for one more byte than was read. */
        char *text = rest.bytes + head.own, kept = text[head.length];
        text[head.length] = '\0';
        fine = take_message(link, &head, text);
        text[head.length] = kept;
        taken += head.own + head.length;
    }
    bytes_drop(&link->in, taken);
    return fine;
}

static void read_in(Link *link) {
    while (link->descriptor >= 0) {
        if (!bytes_room(&link->in, PIECE + 1)) {
            link_lose(link);
            return;
        }
        ssize_t got = recv(link->descriptor, link->in.bytes + link->in.used, PIECE, MSG_DONTWAIT);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0 && errno == EAGAIN)
            return;
        if (got <= 0) {
            link_lose(link);
            return;
        }
        link->in.used += (size_t)got;
        if (!take_messages(link))
            link_lose(link);
    }
}

int link_descriptor(const Link *link) {
    return link->descriptor;
}

bool link_wants_write(const Link *link) {
    return link->out.used > 0;
}

void link_ready(Link *link) {
    write_out(link);
    read_in(link);
}
