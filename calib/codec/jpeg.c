#include "jpeg.h"

#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>

#include <jerror.h>
#include <jpeglib.h>

struct outcome {
	struct jpeg_error_mgr errors;
	jmp_buf give_up;
	enum verdict verdict;
	char *says;
};

static void keep(j_common_ptr c, enum verdict verdict) {
	struct outcome *o = (struct outcome *)c->err;
	if (o->verdict == WHOLE) {
		char text[JMSG_LENGTH_MAX];
		o->verdict = verdict;
		c->err->format_message(c, text);
		snprintf(o->says, 200, "%s", text);
	}
}

static void fatal(j_common_ptr c) {
	keep(c, c->err->msg_code == JERR_INPUT_EOF ? CUT_SHORT : DAMAGED);
	longjmp(((struct outcome *)c->err)->give_up, 1);
}

// Some cameras pad a segment with a few stray bytes. Many more mean that the
// picture's data no longer add up to its size.
enum { STRAY_BYTES = 16 };

// A warning means that the decoder went on with a guess.
static void warned(j_common_ptr c, int level) {
	if (level >= 0 || (c->err->msg_code == JWRN_EXTRANEOUS_DATA && c->err->msg_parm.i[0] <= STRAY_BYTES))
		return;
	keep(c, c->err->msg_code == JWRN_JPEG_EOF ? CUT_SHORT : DAMAGED);
}

// Encoders make about ten scans. Thousands are a way to keep a decoder busy.
enum { MAX_SCANS = 100 };

static void bound_scans(j_common_ptr c) {
	if (((j_decompress_ptr)c)->input_scan_number > MAX_SCANS)
		ERREXIT(c, JERR_BAD_PROGRESSION);
}

static void silent(j_common_ptr c) { (void)c; }

enum verdict decode_jpeg(const unsigned char *file, size_t size, unsigned char *pix,
                unsigned width, unsigned height, char *says) {
	struct jpeg_decompress_struct c;
	struct jpeg_progress_mgr progress = {.progress_monitor = bound_scans};
	struct outcome o = {.verdict = WHOLE, .says = says};
	c.err = jpeg_std_error(&o.errors);
	o.errors.error_exit = fatal;
	o.errors.emit_message = warned;
	o.errors.output_message = silent;
	jpeg_create_decompress(&c);
	if (setjmp(o.give_up) == 0) {
		c.progress = &progress;
		c.mem->max_memory_to_use = 1L << 30; // a progressive 150 Mpx photo holds half of this
		jpeg_mem_src(&c, file, size);
		jpeg_read_header(&c, TRUE);
		c.out_color_space = JCS_RGB;
		jpeg_start_decompress(&c);
		if (c.output_width != width || c.output_height != height || c.output_components != 3) {
			snprintf(says, 200, "two headers disagree about the size");
			o.verdict = DAMAGED;
		} else {
			while (c.output_scanline < height && o.verdict == WHOLE) {
				JSAMPROW row = pix + (size_t)c.output_scanline * width * 3;
				jpeg_read_scanlines(&c, &row, 1);
			}
			if (o.verdict == WHOLE)
				jpeg_finish_decompress(&c); // reads on to the end marker
		}
	}
	jpeg_destroy_decompress(&c);
	return o.verdict;
}

enum verdict encode_jpeg(const unsigned char *pix, size_t stride, unsigned width, unsigned height,
                int quality, unsigned char **file, unsigned long *size, char *says) {
	struct jpeg_compress_struct c;
	struct outcome o = {.verdict = WHOLE, .says = says};
	c.err = jpeg_std_error(&o.errors);
	o.errors.error_exit = fatal;
	o.errors.output_message = silent;
	*file = NULL;
	jpeg_create_compress(&c);
	if (setjmp(o.give_up) == 0) {
		jpeg_mem_dest(&c, file, size);
		c.image_width = width;
		c.image_height = height;
		c.input_components = 4;
		c.in_color_space = JCS_EXT_RGBX;
		jpeg_set_defaults(&c);
		jpeg_set_quality(&c, quality, TRUE);
		jpeg_start_compress(&c, TRUE);
		while (c.next_scanline < height) {
			JSAMPROW row = (JSAMPROW)pix + c.next_scanline * stride;
			jpeg_write_scanlines(&c, &row, 1);
		}
		jpeg_finish_compress(&c);
	}
	jpeg_destroy_compress(&c);
	return o.verdict;
}
