/* Modules and names: which files make up a program, and what a name means where. */
#ifndef GLOAM_LANG_NAMES_H
#define GLOAM_LANG_NAMES_H

#include "lang/compile.h"
#include "runtime/core/limits.h"

typedef enum SymbolKind {
    SYMBOL_LET,      /* node LET without parameters */
    SYMBOL_FUNCTION, /* node LET with parameters */
    SYMBOL_DIAL,
    SYMBOL_EVENT,
    SYMBOL_ROUTINE,
    SYMBOL_LAMP
} SymbolKind;

typedef struct Module Module;

/* A top-level name. Names of one module share one space, lamps included. */
typedef struct Symbol {
    SymbolKind kind;
    const char *name; /* without prefix */
    const Node *node;
    Module *module; /* where it is declared: names in its node are looked up there */
    uint16_t index; /* of dials, events, routines in the program */
    bool used;      /* set by whoever reads it; unused lets and dials are warned of */
    bool busy;      /* being expanded: a cycle if met again */
} Symbol;

/* A file of the program. `plain` are the modules brought in by `use "f"`, `named` those by
 * `use "f" as p`. A file reached twice is one module. modules[0] is the main file. */
struct Module {
    SourceTree tree;
    const char *path; /* as diagnostics show it */
    uint32_t symbol_count;
    Symbol *symbols; /* in the order of the text */
    uint32_t sorted_count;
    Symbol **sorted; /* by name, the first of each; for names_find */
    uint32_t plain_count;
    Module **plain;
    uint32_t named_count;
    struct {
        const char *alias;
        Module *module;
        const Node *node;
    } * named;
};

typedef struct Modules {
    Arena *arena;
    Diagnostics *sink;
    uint32_t count;
    Module *modules[LIMIT_FILES];
} Modules;

/* Reads the main file and all that it uses, parses, declares every top-level name, and reports:
 * unreadable and misplaced files, circles of `use`, two things of one name, clashes, names that
 * hide a built-in or a name of the moment (warning), places and lamps of used files (note, M6).
 * False: memory ran out. */
bool names_load(Modules *modules, const LangReader *reader, const char *path);

/* Puts the top-level names of a parsed module in order and reports two of one name. The module's
 * tree is filled in. For the loader (modules.c). False: memory ran out. */
bool names_declare(Modules *modules, Module *module);
/* A symbol of the module itself, lamps included, or NULL. */
Symbol *names_find_own(const Module *module, const char *name);
/* The error of a name that is taken: each of both is a NAME or an item whose `a` is one. */
void names_report_twice(Diagnostics *sink, const Node *second, const Node *first);
/* Warns where a name that is declared hides a built-in. */
void names_warn_hidden(Diagnostics *sink, const Node *name);

/* True where no file has errors of syntax. Else a name that is not found may stand in what was
 * not understood: whoever does not find it keeps silent. */
bool names_all_whole(const Modules *modules);

/* Rule M5, as far as the text of a path tells. `word` asks for it (`use`, `points`). Reports. */
bool names_check_path(Diagnostics *sink, Span span, const char *word, const char *path);
/* A file that could not be read. */
void names_report_unread(Diagnostics *sink, Span span, const char *path, ReadStatus status,
                         const char *reason);

/* Everything that needs no types: names that are defined by themselves or routines that paint
 * themselves (the loop is printed), two of own with one name in nested scopes, names that nothing
 * reads (rule M8). False: memory ran out. */
bool references_check(Modules *modules);

/* The top-level symbol a plain name means in this module: its own, else of a plain use; NULL. */
Symbol *names_find(Module *module, const char *name);
/* p.name; NULL where there is no such prefix (*prefix_known false) or no such name in it. */
Symbol *names_find_member(Module *module, const char *prefix, const char *name, bool *prefix_known);
/* The nearest name of the wanted kinds (bit 1 << SymbolKind) visible in the module, or NULL; line
 * of its declaration in *line (0 where it is in another file). */
const char *names_nearest(Module *module, const char *name, unsigned kinds, Diagnostics *sink,
                          uint32_t *line);

#endif
