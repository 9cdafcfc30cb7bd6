/* strip_client PORT CHIP PIXELS: opens the port with the machine's own calls, shows one frame, the
 * first pixel rgb(255 0 128), the others dark, and closes. Prints the sentence of what fails. */
#include <stdio.h>
#include <stdlib.h>

#include "backends/spi.h"

int main(int count, char **words) {
    static uint8_t bytes[1 << 16] = {255, 0, 128};
    if (count != 4)
        return 2;
    SpiOptions own = {.path = words[1], .chip = chip_find(words[2])};
    BackendOptions options = {.pixels = (uint32_t)atoi(words[3]), .own = &own};
    const BackendFrame frame = {.bytes = bytes};
    BackendError error = {""};
    if (own.chip == NULL || options.pixels > sizeof bytes / 4)
        return 2;
    Backend *backend = spi_backend.open(&options, &error);
    BackendResult shown = backend ? spi_backend.frame(backend, &frame, &error) : BACKEND_FAILED;
    if (shown == BACKEND_FAILED)
        printf("%s\n", error.sentence);
    if (backend && spi_backend.close(backend, &error) == BACKEND_FAILED)
        shown = BACKEND_FAILED;
    return shown == BACKEND_FAILED;
}
