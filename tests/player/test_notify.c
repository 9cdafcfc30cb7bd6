/* Which descriptor the journal listens to (systemd.exec(5), JOURNAL_STREAM: "the device and inode
 * numbers of the file descriptor, formatted in decimal, separated by a colon"). The figures come
 * from stat(1). */
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/player/notify.h"

static void the_journal_is_the_stream_that_is_named(void **state) {
    (void)state;
    char path[] = "/tmp/gloam-notify-XXXXXX", command[96], named[64] = "", longer[80];
    int file = mkstemp(path), other = open("/dev/null", O_WRONLY);
    assert_true(file >= 0 && other >= 0);
    snprintf(command, sizeof command, "stat -c %%d:%%i %s", path);
    FILE *stat = popen(command, "r");
    assert_non_null(stat);
    assert_non_null(fgets(named, sizeof named, stat));
    assert_int_equal(pclose(stat), 0);
    named[strcspn(named, "\n")] = '\0';
    assert_non_null(strchr(named, ':'));
    assert_true(notify_is_journal(named, file));
    assert_false(notify_is_journal(named, other)); /* inherited by a terminal */
    assert_false(notify_is_journal(NULL, file));
    assert_false(notify_is_journal("", file));
    snprintf(longer, sizeof longer, "%s0", named);
    assert_false(notify_is_journal(longer, file));
    close(other);
    close(file);
    assert_false(notify_is_journal(named, file));
    unlink(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_journal_is_the_stream_that_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
