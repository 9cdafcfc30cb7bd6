/* count_plugin: loaded by qemu-arm (`-plugin FILE,into=LIST`), counts each instruction that the
 * program it plays executes. LIST is then a line `N all`, and with `functions=on` a line `N NAME`
 * for each function that ran ("?" where no name is known), in no order; what the compiler's own
 * functions (`__...`: floating point without a unit for it, division) took stands with whoever
 * called them. An instruction whose condition fails counts, too. A process that executes another
 * program leaves no list.
 *
 * The names below are those of QEMU's plugin interface, version 1 (docs/devel/tcg-plugins.rst of
 * QEMU 7.2); Debian has no package with its header. */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef uint64_t qemu_plugin_id_t;
struct qemu_plugin_tb;
struct qemu_plugin_insn;
enum { QEMU_PLUGIN_INLINE_ADD_U64 };
enum { QEMU_PLUGIN_CB_NO_REGS };
typedef void Translated(qemu_plugin_id_t id, struct qemu_plugin_tb *block);
typedef void Executed(unsigned int processor, void *data);
typedef void AtExit(qemu_plugin_id_t id, void *data);
void qemu_plugin_register_vcpu_tb_trans_cb(qemu_plugin_id_t id, Translated *translated);
void qemu_plugin_register_vcpu_tb_exec_inline(struct qemu_plugin_tb *block, int operation,
                                              void *counter, uint64_t number);
void qemu_plugin_register_vcpu_tb_exec_cb(struct qemu_plugin_tb *block, Executed *executed,
                                          int registers, void *data);
void qemu_plugin_register_atexit_cb(qemu_plugin_id_t id, AtExit *at_exit, void *data);
size_t qemu_plugin_tb_n_insns(const struct qemu_plugin_tb *block);
struct qemu_plugin_insn *qemu_plugin_tb_get_insn(const struct qemu_plugin_tb *block, size_t index);
const char *qemu_plugin_insn_symbol(const struct qemu_plugin_insn *instruction);

__attribute__((visibility("default"))) int qemu_plugin_version = 1;
__attribute__((visibility("default"))) int
qemu_plugin_install(qemu_plugin_id_t id, const void *information, int count, char **words);

enum { NAMES = 1 << 13 };
typedef struct Function {
    char *name;
    bool helps; /* its caller */
    uint64_t executed;
} Function;
static Function functions[NAMES], *running = functions;
static uint64_t all;
static bool by_function;
static const char *into;

typedef struct Block {
    Function *function;
    uint64_t length;
} Block;

static Function *function_of(const char *name) {
    uint32_t place = 5381;
    for (const char *letter = name; *letter; letter++)
        place = place * 33 + (unsigned char)*letter;
    for (int tries = 0; tries < NAMES; tries++, place++) {
        Function *function = &functions[place % NAMES];
        if (!function->name) {
            function->name = strdup(name);
            function->helps = strncmp(name, "__", 2) == 0;
        }
        if (strcmp(function->name, name) == 0)
            return function;
    }
    return functions;
}

static void executed(unsigned int processor, void *data) {
    (void)processor;
    const Block *block = data;
    if (!block->function->helps)
        running = block->function;
    running->executed += block->length;
}

static void translated(qemu_plugin_id_t id, struct qemu_plugin_tb *block) {
    (void)id;
    uint64_t length = qemu_plugin_tb_n_insns(block);
    qemu_plugin_register_vcpu_tb_exec_inline(block, QEMU_PLUGIN_INLINE_ADD_U64, &all, length);
    Block *own = by_function ? malloc(sizeof *own) : NULL; /* for as long as it runs */
    if (!own)
        return;
    const char *name = qemu_plugin_insn_symbol(qemu_plugin_tb_get_insn(block, 0));
    *own = (Block){function_of(name && *name ? name : "?"), length};
    qemu_plugin_register_vcpu_tb_exec_cb(block, executed, QEMU_PLUGIN_CB_NO_REGS, own);
}

static void at_exit(qemu_plugin_id_t id, void *data) {
    (void)id, (void)data;
    FILE *list = fopen(into, "w");
    if (!list)
        return;
    fprintf(list, "%llu all\n", (unsigned long long)all);
    for (int i = 0; i < NAMES; i++)
        if (functions[i].executed > 0)
            fprintf(list, "%llu %s\n", (unsigned long long)functions[i].executed,
                    functions[i].name);
    fclose(list);
}

int qemu_plugin_install(qemu_plugin_id_t id, const void *information, int count, char **words) {
    (void)information;
    for (int i = 0; i < count; i++) {
        if (strncmp(words[i], "into=", 5) == 0)
            into = strdup(words[i] + 5);
        by_function = by_function || strcmp(words[i], "functions=on") == 0;
    }
    if (!into)
        return 1;
    qemu_plugin_register_vcpu_tb_trans_cb(id, translated);
    qemu_plugin_register_atexit_cb(id, at_exit, NULL);
    return 0;
}
