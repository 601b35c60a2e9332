#include <stddef.h>

#include "verdict.h"

// decode_jpeg writes width * height * 3 bytes R G B to pix.
enum verdict decode_jpeg(const unsigned char *file, size_t size, unsigned char *pix,
                unsigned width, unsigned height, char *says);

// encode_jpeg makes a file of rows of width * 4 bytes R G B and one that is not
// looked at, stride bytes apart. Whatever comes of it, the caller frees the file.
enum verdict encode_jpeg(const unsigned char *pix, size_t stride, unsigned width, unsigned height,
                int quality, unsigned char **file, unsigned long *size, char *says);
