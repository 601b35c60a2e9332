#include <stddef.h>

#include "verdict.h"

// decode_jpeg writes width * height * 3 bytes R G B to pix.
enum verdict decode_jpeg(const unsigned char *file, size_t size, unsigned char *pix,
                unsigned width, unsigned height, char *says);
