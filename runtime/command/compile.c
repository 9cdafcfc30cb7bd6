/* gloam compile, gloam disassemble. */
#include <unistd.h>

#include "runtime/command/load.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"

int compile_run(const Options *options) {
    if (!options->output && isatty(STDOUT_FILENO))
        return command_fail(EXIT_CALL, "bytecode is nothing to read: name a file with -o");
    Loaded loaded;
    int status = loaded_read(&loaded, options, stderr);
    unsigned char *bytes = NULL;
    size_t length;
    if (status == EXIT_DONE && !bytecode_write(loaded.program, &bytes, &length))
        status = command_fail(EXIT_MACHINE, "out of memory");
    Output output;
    if (status == EXIT_DONE)
        status = command_open(&output, options->output);
    if (status == EXIT_DONE) {
        fwrite(bytes, 1, length, output.stream);
        status = command_close(&output, true, EXIT_DONE);
    }
    memory_release(bytes);
    loaded_free(&loaded);
    return status;
}

int disassemble_run(const Options *options) {
    Loaded loaded;
    int status = loaded_read(&loaded, options, stderr);
    Output output;
    if (status == EXIT_DONE)
        status = command_open(&output, options->output);
    if (status == EXIT_DONE) {
        disassemble_program(loaded.program, output.stream);
        status = command_close(&output, true, EXIT_DONE);
    }
    loaded_free(&loaded);
    return status;
}
