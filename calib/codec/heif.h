#include <stddef.h>
#include <stdint.h>

#include "verdict.h"

struct heif_facts {
	int width, height;       // upright
	int bits;                // per sample
	int primaries, transfer; // ITU-T H.273, 2 when the file names none
	unsigned char *icc;      // to be freed by the caller, NULL when there is none
	size_t icc_size;
	unsigned char *exif; // to be freed by the caller, NULL when there is none or it is beyond all use
	size_t exif_size;
};

enum verdict read_heif_header(const unsigned char *file, size_t size, struct heif_facts *facts, char *says);

// read_heif_picture writes width * height * 3 samples R G B to pix, one byte
// each for 8 bits, two for more, scaled to 65535.
enum verdict read_heif_picture(const unsigned char *file, size_t size, void *pix, int width, int height, int bits, char *says);
