/* Which files make up a program: reads, parses and declares them, and follows `use`. */
#include <stdio.h>
#include <string.h>

#include "lang/names.h"
#include "runtime/core/memory.h"

typedef struct Loader {
    Modules *modules;
    const LangReader *reader;
    const Module
        *path[LIMIT_FILES]; /* the files that are being loaded, each used by the one before */
    uint32_t depth;
} Loader;

/* A file that was read; text and name are released by the loader. */
typedef struct Read {
    char *text, *identity;
    size_t length;
} Read;

static bool load(Loader *loader, const Node *use, const char *path, const char *from,
                 Module **result);

/* -------- files that cannot be read -------- */

static const char *trouble_with(ReadStatus status) {
    switch (status) {
    case READ_MISSING:
        return "is not there: check the spelling, or put the file there";
    case READ_REFUSED:
        return "may not be read: give it the right with `chmod +r`";
    case READ_DIRECTORY:
        return "is a folder: name a file in it";
    case READ_TOO_LARGE:
        return "has more than 1 MiB, the most of one file: split it";
    case READ_OUTSIDE:
        return "lies outside the folder of the file that is compiled: copy it into that folder";
    default:
        return "cannot be read";
    }
}

void names_report_unread(Diagnostics *sink, Span span, const char *path, ReadStatus status,
                         const char *reason) {
    static const char *const codes[] = {
        [READ_MISSING] = "file-missing",     [READ_REFUSED] = "file-refused",
        [READ_DIRECTORY] = "file-is-folder", [READ_TOO_LARGE] = "file-too-large",
        [READ_OUTSIDE] = "file-outside",     [READ_FAILED] = "file-failed"};
    bool told = status == READ_FAILED && reason;
    diagnostics_report(sink, SEVERITY_ERROR, codes[status], span, SPAN_NONE, NULL, "`%s` %s%s%s",
                       path, trouble_with(status), told ? ": " : "", told ? reason : "");
}

/* Where a file is asked for; of the main file that is the file as a whole. */
static Span place_of(Loader *loader, const Node *use, const char *path) {
    return use ? use->span : (Span){diagnostics_add_file(loader->modules->sink, path, "", 0), 0, 0};
}

static void report_unread(Loader *loader, const Node *use, const char *path, ReadStatus status,
                          const char *reason) {
    names_report_unread(loader->modules->sink, place_of(loader, use, path), path, status, reason);
}

static void report_no_text(Loader *loader, const Node *use, const Read *read, const char *zero) {
    diagnostics_report(loader->modules->sink, SEVERITY_ERROR, "file-no-text",
                       place_of(loader, use, read->identity), SPAN_NONE, NULL,
                       "`%s` is no text: byte %zu is 0; a file of this language is plain UTF-8 "
                       "text",
                       read->identity, (size_t)(zero - read->text) + 1);
}

bool names_check_path(Diagnostics *sink, Span span, const char *word, const char *path) {
    if (!path || !*path) {
        diagnostics_report(sink, SEVERITY_ERROR, "path-empty", span, SPAN_NONE, NULL,
                           "`%s` needs the name of a file", word);
        return false;
    }
    if (*path == '/') {
        diagnostics_report(sink, SEVERITY_ERROR, "path-absolute", span, SPAN_NONE, NULL,
                           "`%s` takes a path that begins in the folder of this file, without `/` "
                           "at its start: copy the file into this folder",
                           word);
        return false;
    }
    for (const char *part = path; part; part = strchr(part, '/')) {
        part += *part == '/';
        size_t length = strcspn(part, "/");
        if (length != 2 || strncmp(part, "..", 2) != 0)
            continue;
        diagnostics_report(sink, SEVERITY_ERROR, "path-upwards", span, SPAN_NONE, NULL,
                           "`%s` goes downwards only, without `..`: copy the file into this folder",
                           word);
        return false;
    }
    return true;
}

/* -------- circles, notes -------- */

static void report_circle(Loader *loader, const Node *use, const Module *again) {
    char loop[600] = "";
    size_t used = 0;
    bool inside = false;
    for (uint32_t i = 0; i < loader->depth && used < sizeof loop; i++) {
        inside = inside || loader->path[i] == again;
        if (inside)
            used += (size_t)snprintf(loop + used, sizeof loop - used, "`%s` -> ",
                                     loader->path[i]->path);
    }
    diagnostics_report(loader->modules->sink, SEVERITY_ERROR, "use-circle", use->span, SPAN_NONE,
                       NULL, "`%s` uses itself: %s`%s`", again->path, loop, again->path);
}

static bool is_timetable(const Node *item) {
    return item->kind == NODE_ENTRY || item->kind == NODE_WHEN || item->kind == NODE_BETWEEN ||
           item->kind == NODE_UNTIL_CLOCK;
}

/* Rule M6. */
static void note_passed_over(Loader *loader, const Node *use, const Module *module) {
    bool timetable = false, place = false, lamps = false;
    for (const Node *item = module->tree.items; item; item = item->next) {
        timetable = timetable || is_timetable(item);
        place = place || item->kind == NODE_PLACE;
        lamps = lamps || item->kind == NODE_LAMP;
    }
    if (!timetable && !place && !lamps)
        return;
    const char *parts[3];
    int count = 0;
    if (timetable)
        parts[count++] = "a timetable";
    if (place)
        parts[count++] = "a place";
    if (lamps)
        parts[count++] = "a lamp";
    diagnostics_report(
        loader->modules->sink, SEVERITY_NOTE, "use-passes-over", use->span, SPAN_NONE, NULL,
        "`%s` has %s%s%s%s%s, passed over here: `use` brings definitions only", module->path,
        parts[0],
        count > 2   ? ", "
        : count > 1 ? " and "
                    : "",
        count > 1 ? parts[1] : "", count > 2 ? " and " : "", count > 2 ? parts[2] : "");
}

/* -------- what a use brings -------- */

/* `use "a/dusk.gloam" as dusk`: the hint where names clash. */
static void make_alias_hint(char *hint, size_t size, const Node *use) {
    const char *slash = strrchr(use->text, '/');
    const char *stem = slash ? slash + 1 : use->text;
    size_t length = strspn(stem, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_0123456789");
    bool fine = length > 0 && length <= LIMIT_NAME_BYTES && (stem[0] < '0' || stem[0] > '9');
    char alias[LIMIT_NAME_BYTES + 1] = "p";
    if (fine)
        snprintf(alias, sizeof alias, "%.*s", (int)length, stem);
    snprintf(hint, size, "use \"%s\" as %s", use->text, parse_is_reserved(alias) ? "p" : alias);
}

static bool check_clash(Diagnostics *sink, const Module *module, const Node *use,
                        const Module *used) {
    char hint[LIMIT_TEXT_BYTES + LIMIT_NAME_BYTES + 16];
    for (uint32_t i = 0; i < used->sorted_count; i++) {
        const Symbol *symbol = used->sorted[i];
        if (symbol->kind == SYMBOL_LAMP)
            continue;
        const Symbol *own = names_find_own(module, symbol->name);
        const Symbol *other = own;
        for (uint32_t k = 0; k < module->plain_count && !other; k++)
            other = names_find_own(module->plain[k], symbol->name);
        if (!other || (!own && other->kind == SYMBOL_LAMP))
            continue;
        make_alias_hint(hint, sizeof hint, use);
        if (own)
            diagnostics_report(sink, SEVERITY_ERROR, "use-clash", use->span, SPAN_NONE, hint,
                               "`%s` brings `%s`, which is named already at line %u", used->path,
                               symbol->name, diagnostics_line(sink, own->node->a->span));
        else
            diagnostics_report(sink, SEVERITY_ERROR, "use-clash", use->span, SPAN_NONE, hint,
                               "`%s` brings `%s`, and so does `%s`", used->path, symbol->name,
                               other->module->path);
        return false;
    }
    return true;
}

static void bring_named(Diagnostics *sink, Module *module, const Node *use, Module *used) {
    const char *alias = use->a->text;
    const Symbol *own = names_find_own(module, alias);
    const Node *other = own ? own->node->a : NULL;
    for (uint32_t i = 0; i < module->named_count && !other; i++)
        if (strcmp(module->named[i].alias, alias) == 0)
            other = module->named[i].node->a;
    if (other) {
        diagnostics_report(sink, SEVERITY_ERROR, "named-twice", use->a->span, SPAN_NONE, NULL,
                           "`%s` is named already at line %u", alias,
                           diagnostics_line(sink, other->span));
        return;
    }
    module->named[module->named_count].alias = alias;
    module->named[module->named_count].module = used;
    module->named[module->named_count++].node = use;
}

static void bring_plain(Diagnostics *sink, Module *module, const Node *use, Module *used) {
    for (uint32_t i = 0; i < module->plain_count; i++)
        if (module->plain[i] == used)
            return;
    check_clash(sink, module, use, used);
    module->plain[module->plain_count++] = used;
}

static bool follow_uses(Loader *loader, Module *module) {
    Arena *arena = loader->modules->arena;
    Diagnostics *sink = loader->modules->sink;
    module->plain = arena_allocate(arena, LIMIT_FILES * sizeof *module->plain);
    module->named = arena_allocate(arena, LIMIT_FILES * sizeof *module->named);
    if (arena_failed(arena))
        return false;
    uint32_t uses = 0;
    for (const Node *item = module->tree.items; item; item = item->next) {
        if (item->kind != NODE_USE)
            continue;
        if (++uses > LIMIT_FILES) {
            diagnostics_report(sink, SEVERITY_ERROR, "too-many-files", item->span, SPAN_NONE, NULL,
                               "a file may use at most %d others", LIMIT_FILES);
            break;
        }
        Module *used = NULL;
        if (!names_check_path(sink, item->span, "use", item->text))
            continue;
        if (!load(loader, item, item->text, module->path, &used))
            return false;
        if (used && item->a && item->a->kind == NODE_NAME)
            bring_named(sink, module, item, used);
        else if (used && !item->a)
            bring_plain(sink, module, item, used);
    }
    return true;
}

/* -------- loading -------- */

static bool build(Loader *loader, const Node *use, const Read *read, Module **result) {
    Modules *modules = loader->modules;
    if (modules->count == LIMIT_FILES) {
        diagnostics_report(modules->sink, SEVERITY_ERROR, "too-many-files", use->span, SPAN_NONE,
                           NULL, "a program has at most %d files", LIMIT_FILES);
        return true;
    }
    Module *module = arena_allocate(modules->arena, sizeof *module);
    const char *path = arena_copy_text(modules->arena, read->identity, strlen(read->identity));
    uint32_t file = diagnostics_add_file(modules->sink, path, read->text, read->length);
    if (file == UINT32_MAX || arena_failed(modules->arena))
        return false;
    module->path = path;
    if (!parse_source(modules->arena, modules->sink, file, &module->tree))
        return false;
    modules->modules[modules->count++] = module;
    if (!names_declare(modules, module))
        return false;
    loader->path[loader->depth++] = module;
    if (!follow_uses(loader, module))
        return false;
    loader->depth--;
    if (use)
        note_passed_over(loader, use, module);
    *result = module;
    return true;
}

static bool take(Loader *loader, const Node *use, const char *path, const Read *read,
                 Module **result) {
    Modules *modules = loader->modules;
    const char *zero = memchr(read->text, 0, read->length);
    if (read->length > LIMIT_SOURCE_BYTES) {
        report_unread(loader, use, path, READ_TOO_LARGE, NULL);
        return true;
    }
    if (zero) {
        report_no_text(loader, use, read, zero);
        return true;
    }
    for (uint32_t i = 0; i < loader->depth; i++) {
        if (strcmp(loader->path[i]->path, read->identity) == 0) {
            report_circle(loader, use, loader->path[i]);
            return true;
        }
    }
    for (uint32_t i = 0; i < modules->count; i++) {
        if (strcmp(modules->modules[i]->path, read->identity) == 0) {
            *result = modules->modules[i];
            return true;
        }
    }
    return build(loader, use, read, result);
}

/* `use` is NULL for the main file. *result stays NULL where something was reported. False: memory
 * ran out. */
static bool load(Loader *loader, const Node *use, const char *path, const char *from,
                 Module **result) {
    Read read = {0};
    const char *reason = NULL;
    ReadStatus status = loader->reader->read(loader->reader->context, path, from, &read.text,
                                             &read.length, &read.identity, &reason);
    if (status == READ_NO_MEMORY)
        return false;
    if (status != READ_FINE) {
        report_unread(loader, use, path, status, reason);
        return true;
    }
    bool fine = take(loader, use, path, &read, result);
    memory_release(read.text);
    memory_release(read.identity);
    return fine;
}

bool names_load(Modules *modules, const LangReader *reader, const char *path) {
    Loader loader = {.modules = modules, .reader = reader};
    Module *main_module = NULL;
    return load(&loader, NULL, path, NULL, &main_module);
}
