/* A main file and the files that it may use, all from the input: four parts between lines of `%%`.
 * No path that the rules forbid reaches the reader; whatever the texts are, there is a program that
 * is verified and is the same after being written and read, or an error; nothing stays behind. */
#include <string.h>

#include "lang/compile.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "tests/fuzz/must.h"

enum { FILES = 4, PATH_ROOM = 4096 };

static const char *const NAMES[FILES] = {"home.gloam", "one.gloam", "parts/two.gloam",
                                         "parts/points.csv"};

typedef struct Parts {
    const char *text[FILES];
    size_t length[FILES];
} Parts;

static Parts cut(const char *data, size_t size) {
    Parts parts = {{data}, {0}};
    int part = 0;
    for (size_t i = 0; i < size; i++) {
        if (part + 1 < FILES && size - i >= 4 && memcmp(data + i, "\n%%\n", 4) == 0) {
            parts.text[++part] = data + i + 4;
            i += 3;
            continue;
        }
        parts.length[part]++;
    }
    return parts;
}

/* The rules of paths, written down a second time. */
static void check_path(const char *path) {
    MUST(*path && *path != '/');
    for (const char *part = path; *part; part += strspn(part, "/")) {
        size_t length = strcspn(part, "/");
        MUST(length != 2 || memcmp(part, "..", 2) != 0);
        part += length;
    }
}

/* The folder of `from` and the path, without parts that stay where they are. */
static bool join(const char *path, const char *from, char full[PATH_ROOM]) {
    const char *slash = from ? strrchr(from, '/') : NULL;
    size_t used = slash ? (size_t)(slash - from) : 0;
    if (used + strlen(path) + 2 > PATH_ROOM)
        return false;
    if (used)
        memcpy(full, from, used);
    while (*path) {
        size_t length = strcspn(path, "/");
        if (length && !(length == 1 && *path == '.')) {
            if (used)
                full[used++] = '/';
            memcpy(full + used, path, length);
            used += length;
        }
        path += length + (path[length] == '/');
    }
    full[used] = '\0';
    return true;
}

static ReadStatus read_part(void *context, const char *path, const char *from, char **text,
                            size_t *length, char **identity, const char **reason) {
    const Parts *parts = context;
    char full[PATH_ROOM];
    *reason = NULL;
    check_path(path);
    MUST(!from || strlen(from) < PATH_ROOM);
    if (!join(path, from, full))
        return READ_MISSING;
    if (strcmp(full, "parts") == 0)
        return READ_DIRECTORY;
    for (int i = 0; i < FILES; i++) {
        if (!parts->text[i] || strcmp(full, NAMES[i]) != 0)
            continue;
        *length = parts->length[i];
        *text = memory_copy_text(parts->text[i], *length);
        *identity = memory_copy_text(full, strlen(full));
        MUST(*text && *identity);
        return READ_FINE;
    }
    return READ_MISSING;
}

static void check_program(const Program *program) {
    char reason[200] = "";
    unsigned char *bytes, *again;
    size_t length, again_length;
    MUST(verify_program(program, reason, sizeof reason));
    if (!bytecode_write(program, &bytes, &length))
        return; /* larger than bytecode may be */
    Program *read = bytecode_read(bytes, length, reason, sizeof reason);
    if (!read)
        fprintf(stderr, "%s\n", reason);
    MUST(read && bytecode_write(read, &again, &again_length));
    MUST(length == again_length && memcmp(bytes, again, length) == 0);
    program_free(read);
    memory_release(bytes);
    memory_release(again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static FILE *nowhere;
    if (!nowhere)
        nowhere = fopen("/dev/null", "w");
    MUST(nowhere);
    unsigned long live = memory_live();
    Parts parts = cut((const char *)data, size);
    LangReader reader = {read_part, &parts};
    Compilation *compilation = lang_compile(&reader, NAMES[0]);
    MUST(compilation);
    Diagnostics *sink = lang_diagnostics(compilation);
    diagnostics_print(sink, nowhere, true);
    diagnostics_print_json(sink, nowhere);
    MUST((lang_program(compilation) == NULL) == (diagnostics_count(sink, SEVERITY_ERROR) > 0));
    if (lang_program(compilation))
        check_program(lang_program(compilation));
    lang_free(compilation);
    MUST(memory_live() == live);
    return 0;
}
