/* A plugin of qemu's user mode that counts the instructions of the program it runs, and tells them on
 * standard error at its end. What it needs of qemu's interface for plugins (version 1) is declared
 * here, since Debian has no header of it. */
#include <inttypes.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

typedef uint64_t qemu_plugin_id_t;
struct qemu_plugin_tb;
enum { QEMU_PLUGIN_INLINE_ADD_U64 };
void qemu_plugin_register_vcpu_tb_trans_cb(qemu_plugin_id_t id,
                                           void (*call)(qemu_plugin_id_t,
                                                        struct qemu_plugin_tb *));
size_t qemu_plugin_tb_n_insns(const struct qemu_plugin_tb *block);
void qemu_plugin_register_vcpu_tb_exec_inline(struct qemu_plugin_tb *block, int operation,
                                              void *counter, uint64_t by);
void qemu_plugin_register_atexit_cb(qemu_plugin_id_t id, void (*call)(qemu_plugin_id_t, void *),
                                    void *context);
int qemu_plugin_install(qemu_plugin_id_t id, const void *info, int count, char **words);

extern int qemu_plugin_version;
int qemu_plugin_version = 1;
static uint64_t instructions;

static void on_block(qemu_plugin_id_t id, struct qemu_plugin_tb *block) {
    (void)id;
    qemu_plugin_register_vcpu_tb_exec_inline(block, QEMU_PLUGIN_INLINE_ADD_U64, &instructions,
                                             qemu_plugin_tb_n_insns(block));
}

static void on_end(qemu_plugin_id_t id, void *context) {
    (void)id;
    (void)context;
    fprintf(stderr, "instructions %" PRIu64 "\n", instructions);
}

int qemu_plugin_install(qemu_plugin_id_t id, const void *info, int count, char **words) {
    (void)info;
    (void)count;
    (void)words;
    qemu_plugin_register_vcpu_tb_trans_cb(id, on_block);
    qemu_plugin_register_atexit_cb(id, on_end, NULL);
    return 0;
}
