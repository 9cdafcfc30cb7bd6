#include "runtime/player/helper.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/timerfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "runtime/core/memory.h"

enum { SENTENCE = 256, NOT_STARTED = 127 };
#define PATIENCE INT64_C(1000000)

struct Helper {
    HelperRequest request;
    pid_t process; /* 0: none runs */
    int watch;     /* a descriptor of that process; -1 */
    int timer;
    int64_t since, pause;
    int64_t asked; /* monotonic: when it was asked to end; 0: it was not */
    bool said;     /* that it does not stay */
};

#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
static void
say(const Helper *helper, PlayerGravity gravity, const char *format, ...) {
    char sentence[SENTENCE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    helper->request.say(helper->request.context, gravity, sentence);
}

/* -------- one life -------- */

/* In the child: nothing of the player's but what is meant for it. */
static void become(const Helper *helper, int link, pid_t player) {
    sigset_t none;
    int passed = helper->request.passed;
    sigemptyset(&none);
    /* Out of the way of the numbers that they are to have. */
    link = fcntl(link, F_DUPFD, 10);
    passed = passed >= 0 ? fcntl(passed, F_DUPFD, 10) : -1;
    int null = open("/dev/null", O_RDWR);
    if (link < 0 || null < 0 || dup2(null, STDIN_FILENO) < 0 || dup2(link, HELPER_LINK) < 0 ||
        (passed >= 0 && dup2(passed, HELPER_PASSED) < 0))
        _exit(NOT_STARTED);
    syscall(SYS_close_range, passed >= 0 ? HELPER_PASSED + 1 : HELPER_LINK + 1, ~0U, 0);
    signal(SIGPIPE, SIG_DFL);
    signal(SIGXFSZ, SIG_DFL);
    sigprocmask(SIG_SETMASK, &none, NULL);
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    if (getppid() != player) /* it was gone before that */
        _exit(NOT_STARTED);
    unsetenv("NOTIFY_SOCKET");
    unsetenv("WATCHDOG_USEC");
    unsetenv("WATCHDOG_PID");
    execv(helper->request.path, (char *const *)helper->request.words);
    _exit(NOT_STARTED);
}

static void process_ready(void *context, uint32_t events);

/* False: errno. */
static bool begin(Helper *helper) {
    int ends[2];
    pid_t player = getpid();
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
        return false;
    pid_t process = fork();
    if (process == 0)
        become(helper, ends[1], player);
    close(ends[1]);
    helper->watch = process > 0 ? (int)syscall(SYS_pidfd_open, process, 0) : -1;
    bool begun =
        helper->watch >= 0 && loop_add(helper->request.loop, helper->watch, process_ready, helper);
    if (begun && socket_adopt(helper->request.socket, ends[0])) {
        helper->process = process;
        helper->since = clock_system_now().monotonic;
        return true;
    }
    int error = errno;
    close(ends[0]);
    if (begun)
        loop_remove(helper->request.loop, helper->watch);
    if (helper->watch >= 0)
        close(helper->watch);
    helper->watch = -1;
    if (process > 0) {
        kill(process, SIGKILL);
        waitpid(process, NULL, 0);
    }
    errno = error;
    return false;
}

/* -------- again -------- */

static void again(Helper *helper) {
    struct itimerspec when = {.it_value = {.tv_sec = (time_t)(helper->pause / 1000000),
                                           .tv_nsec = (long)(helper->pause % 1000000 * 1000)}};
    helper->pause = helper->pause * 2 > HELPER_PAUSE_MOST ? HELPER_PAUSE_MOST : helper->pause * 2;
    timerfd_settime(helper->timer, 0, &when, NULL);
}

/* What became of the process, as words. */
static void fate(int status, char *text, size_t size) {
    if (WIFSIGNALED(status))
        snprintf(text, size, "was ended by signal %d (%s)", WTERMSIG(status),
                 strsignal(WTERMSIG(status)));
    else
        snprintf(text, size, "ended with status %d", WEXITSTATUS(status));
}

static void process_ready(void *context, uint32_t events) {
    Helper *helper = context;
    char text[96];
    int status = 0;
    (void)events;
    player_wake(helper->request.player, WAKE_HELPER);
    if (waitpid(helper->process, &status, WNOHANG) == 0)
        return;
    loop_remove(helper->request.loop, helper->watch);
    close(helper->watch);
    helper->watch = -1;
    helper->process = 0;
    if (clock_system_now().monotonic - helper->since > HELPER_STEADY) {
        helper->pause = HELPER_PAUSE_FIRST;
        helper->said = false;
    }
    fate(status, text, sizeof text);
    if (!helper->said)
        say(helper, PLAYER_WARNING, "%s %s; it is started again, the lamp plays on",
            helper->request.words[0], text);
    helper->said = true;
    again(helper);
}

static void timer_ready(void *context, uint32_t events) {
    Helper *helper = context;
    uint64_t times;
    (void)events;
    (void)!read(helper->timer, &times, sizeof times);
    player_wake(helper->request.player, WAKE_HELPER);
    if (!begin(helper))
        again(helper);
}

Helper *helper_start(const HelperRequest *request) {
    Helper *helper = memory_allocate(1, sizeof *helper);
    if (!helper)
        return NULL;
    signal(SIGCHLD, SIG_DFL); /* where it is ignored, nothing is told of how a child ended */
    helper->request = *request;
    helper->watch = -1;
    helper->pause = HELPER_PAUSE_FIRST;
    helper->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC | TFD_NONBLOCK);
    if (helper->timer < 0 || !loop_add(request->loop, helper->timer, timer_ready, helper)) {
        if (helper->timer >= 0)
            close(helper->timer);
        memory_release(helper);
        return NULL;
    }
    if (!begin(helper)) {
        say(helper, PLAYER_WARNING, "%s cannot be started: %s", request->path, strerror(errno));
        again(helper);
    }
    return helper;
}

void helper_ask(Helper *helper) {
    if (!helper || helper->process == 0 || helper->asked)
        return;
    kill(helper->process, SIGTERM);
    helper->asked = clock_system_now().monotonic;
}

/* Gone within its patience, or killed. */
static void wait_for(Helper *helper) {
    struct pollfd gone = {helper->watch, POLLIN, 0};
    int64_t left = helper->asked + PATIENCE - clock_system_now().monotonic;
    if (poll(&gone, 1, left > 0 ? (int)(left / 1000) : 0) != 1)
        kill(helper->process, SIGKILL);
    waitpid(helper->process, NULL, 0);
    loop_remove(helper->request.loop, helper->watch);
    close(helper->watch);
}

void helper_end(Helper *helper) {
    if (!helper)
        return;
    helper_ask(helper);
    if (helper->process > 0)
        wait_for(helper);
    loop_remove(helper->request.loop, helper->timer);
    close(helper->timer);
    memory_release(helper);
}
