#include "backends/canvas_write.h"

#include <errno.h>
#include <png.h>
#include <stdio.h>
#include <unistd.h>

/* Through a stream of its own, so that the caller's descriptor stays open. */
bool canvas_write(const Canvas *canvas, int descriptor, const char *trouble, BackendError *error) {
    int own = dup(descriptor);
    FILE *stream = own < 0 ? NULL : fdopen(own, "wb");
    if (stream == NULL) {
        backend_say(error, trouble, errno);
        if (own >= 0)
            close(own);
        return false;
    }
    png_image image = {.version = PNG_IMAGE_VERSION,
                       .width = (png_uint_32)canvas->width,
                       .height = (png_uint_32)canvas->height,
                       .format = PNG_FORMAT_RGB};
    errno = 0;
    bool fine = png_image_write_to_stdio(&image, stream, 0, canvas->bytes, 0, NULL) != 0;
    if (!fine && errno == 0)
        snprintf(error->sentence, sizeof error->sentence, "%s: %s", trouble, image.message);
    else if (!fine)
        backend_say(error, trouble, errno);
    if (fclose(stream) != 0 && fine) {
        backend_say(error, trouble, errno);
        fine = false;
    }
    return fine;
}
