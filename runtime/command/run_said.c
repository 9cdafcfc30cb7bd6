#include "runtime/command/run_said.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <string.h>
#include <unistd.h>

/* Room for `more` bytes, by leaving out the oldest lines. */
static void make_room(RunSaid *said, size_t more) {
    while (said->length + more > sizeof said->kept) {
        char *end = memchr(said->kept, '\n', said->length);
        size_t line = end ? (size_t)(end - said->kept) + 1 : said->length;
        memmove(said->kept, said->kept + line, said->length - line);
        said->length -= line;
        said->left_out++;
    }
}

/* The last lines that are whole, the newest first, without what is before every sentence. */
static void show_last(const RunSaid *said) {
    static const char own[] = "gloam: ";
    char line[RUN_SAID_LINE] = "";
    size_t used = 0, end = said->length;
    while (end > 0 && said->kept[end - 1] != '\n')
        end--;
    while (end > 0 && used < sizeof line - 1) {
        size_t from = end - 1;
        while (from > 0 && said->kept[from - 1] != '\n')
            from--;
        size_t begin = from, most = sizeof own - 1;
        if (end - begin > most && memcmp(said->kept + begin, own, most) == 0)
            begin += most;
        used += (size_t)snprintf(line + used, sizeof line - used, "%s%.*s", used ? "   " : "",
                                 (int)(end - 1 - begin), said->kept + begin);
        end = from;
    }
    player_caption_note(said->player, line);
}

static bool take(RunSaid *said) {
    char bytes[4096];
    ssize_t count = read(said->source, bytes, sizeof bytes);
    if (count <= 0)
        return false;
    make_room(said, (size_t)count);
    memcpy(said->kept + said->length, bytes, (size_t)count);
    said->length += (size_t)count;
    return true;
}

static void said_ready(void *context, uint32_t events) {
    RunSaid *said = context;
    (void)events;
    player_wake(said->player, WAKE_REPAINT);
    if (take(said))
        show_last(said);
}

bool run_said_begin(RunSaid *said, Loop *loop, Player *player) {
    int ends[2];
    *said = (RunSaid){.loop = loop, .player = player, .own = -1};
    if (!isatty(STDERR_FILENO))
        return true;
    /* Not blocking at both ends: who writes is also who reads. */
    if (pipe2(ends, O_CLOEXEC | O_NONBLOCK) != 0)
        return false;
    fflush(stderr);
    said->source = ends[0];
    said->own = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 0);
    bool begun = said->own >= 0 && loop_add(loop, said->source, said_ready, said) &&
                 dup2(ends[1], STDERR_FILENO) >= 0;
    int error = errno;
    close(ends[1]);
    if (!begun) {
        loop_remove(loop, said->source);
        close(said->source);
        if (said->own >= 0)
            close(said->own);
        said->own = -1;
    }
    errno = error;
    return begun;
}

void run_said_end(RunSaid *said) {
    if (said->own < 0)
        return;
    fflush(stderr);
    while (take(said))
        ;
    loop_remove(said->loop, said->source);
    close(said->source);
    dup2(said->own, STDERR_FILENO);
    close(said->own);
    said->own = -1;
    if (said->left_out)
        fprintf(stderr, "(%" PRIu64 " lines before these were not kept: 2>lamp.log keeps all)\n",
                said->left_out);
    fwrite(said->kept, 1, said->length, stderr);
}
