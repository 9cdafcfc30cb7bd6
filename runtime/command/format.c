/* gloam format: one layout for all files. */
#include <string.h>

#include "runtime/command/load.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

static int formatted(const Options *options, const char *text, size_t length, char **out,
                     size_t *out_length) {
    Diagnostics *sink = diagnostics_create();
    if (!sink)
        return command_fail(EXIT_MACHINE, "out of memory");
    bool done = lang_format(sink, options->file, text, length, out, out_length);
    if (!done)
        diagnostics_print(sink, stderr, command_colours(options, stderr));
    bool memory = diagnostics_out_of_memory(sink) || diagnostics_total(sink) == 0;
    diagnostics_free(sink);
    if (!done && memory)
        return command_fail(EXIT_MACHINE, "out of memory");
    return done ? EXIT_DONE : EXIT_WRONG;
}

int format_run(const Options *options) {
    char *text, *out = NULL;
    size_t length, out_length = 0;
    const char *reason = "cannot be read";
    ReadStatus read = disk_read_file(options->file, LIMIT_SOURCE_BYTES, &text, &length, &reason);
    if (read != READ_FINE)
        return command_fail(EXIT_WRONG, "%s: %s", options->file, read_sentence(read, reason));
    if (bytecode_is((unsigned char *)text, length)) {
        memory_release(text);
        return command_fail(EXIT_WRONG, "%s: is bytecode, which has no layout: `gloam disassemble`",
                            options->file);
    }
    int status = formatted(options, text, length, &out, &out_length);
    bool same = status == EXIT_DONE && out_length == length && memcmp(out, text, length) == 0;
    if (status == EXIT_DONE && options->check) {
        if (!same)
            status = command_fail(EXIT_WRONG, "%s: the layout differs; `gloam format %s` shows it",
                                  options->file, options->file);
    } else if (status == EXIT_DONE) {
        Output output;
        status = command_open(&output, options->output);
        if (status == EXIT_DONE) {
            fwrite(out, 1, out_length, output.stream);
            status = command_close(&output, true, EXIT_DONE);
        }
    }
    memory_release(text);
    memory_release(out);
    return status;
}
