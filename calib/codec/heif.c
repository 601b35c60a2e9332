#include "heif.h"

#include <dlfcn.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <libheif/heif.h>

// Libheif and what it brings, four codecs, are loaded when a file needs them: a
// fifth of the program's start would go to them.
#define EACH \
	USE(context_alloc) USE(context_set_max_decoding_threads) USE(context_set_maximum_image_size_limit) \
	USE(context_read_from_memory_without_copy) USE(context_get_primary_image_handle) \
	USE(image_handle_get_width) USE(image_handle_get_height) USE(image_handle_get_luma_bits_per_pixel) \
	USE(image_handle_get_nclx_color_profile) USE(nclx_color_profile_free) \
	USE(image_handle_get_raw_color_profile_size) USE(image_handle_get_raw_color_profile) \
	USE(image_handle_get_list_of_metadata_block_IDs) USE(image_handle_get_metadata_size) \
	USE(image_handle_get_metadata) USE(image_handle_release) USE(context_free) \
	USE(decoding_options_alloc) USE(decode_image) USE(image_get_plane_readonly) \
	USE(image_get_primary_width) USE(image_get_primary_height) USE(image_get_bits_per_pixel_range) \
	USE(image_release) USE(decoding_options_free)

#define USE(name) __typeof__(heif_##name) *name;
static struct { EACH } heif;
#undef USE

static const char *missing = "libheif.so.1 is not installed"; // NULL when it is loaded

static void load(void) {
	void *library = dlopen("libheif.so.1", RTLD_NOW);
	if (!library)
		return;
#define USE(name) if (!(heif.name = dlsym(library, "heif_" #name))) return;
	missing = "libheif.so.1 is too old";
	EACH
	missing = NULL;
}

static enum verdict loaded(char *says) {
	static pthread_once_t once = PTHREAD_ONCE_INIT;
	pthread_once(&once, load);
	if (!missing)
		return WHOLE;
	snprintf(says, 200, "%s", missing);
	return UNSUPPORTED;
}

static enum verdict judge(struct heif_error e, char *says) {
	if (e.code == heif_error_Ok)
		return WHOLE;
	snprintf(says, 200, "%s", e.message);
	if (e.subcode == heif_suberror_End_of_data)
		return CUT_SHORT;
	if (e.code == heif_error_Unsupported_feature || e.code == heif_error_Unsupported_filetype)
		return UNSUPPORTED;
	return DAMAGED;
}

// open_primary leaves context and handle to be released, whatever it returns.
static enum verdict open_primary(const unsigned char *file, size_t size, struct heif_context **context,
                        struct heif_image_handle **handle, char *says) {
	*handle = NULL;
	*context = heif.context_alloc();
	heif.context_set_max_decoding_threads(*context, 0); // photos are read in parallel instead
	heif.context_set_maximum_image_size_limit(*context, 65535);
	enum verdict v = judge(heif.context_read_from_memory_without_copy(*context, file, size, NULL), says);
	if (v == WHOLE)
		v = judge(heif.context_get_primary_image_handle(*context, handle), says);
	return v;
}

enum verdict read_heif_header(const unsigned char *file, size_t size, struct heif_facts *facts, char *says) {
	struct heif_context *context;
	struct heif_image_handle *handle;
	enum verdict v = loaded(says);
	if (v != WHOLE)
		return v;
	v = open_primary(file, size, &context, &handle, says);
	if (v == WHOLE) {
		facts->width = heif.image_handle_get_width(handle);
		facts->height = heif.image_handle_get_height(handle);
		facts->bits = heif.image_handle_get_luma_bits_per_pixel(handle);
		facts->primaries = facts->transfer = 2;
		struct heif_color_profile_nclx *nclx = NULL;
		if (heif.image_handle_get_nclx_color_profile(handle, &nclx).code == heif_error_Ok && nclx) {
			facts->primaries = nclx->color_primaries;
			facts->transfer = nclx->transfer_characteristics;
			heif.nclx_color_profile_free(nclx);
		}
		facts->icc_size = heif.image_handle_get_raw_color_profile_size(handle);
		if (facts->icc_size > 0 && (facts->icc = malloc(facts->icc_size)) != NULL &&
		    heif.image_handle_get_raw_color_profile(handle, facts->icc).code != heif_error_Ok)
			facts->icc_size = 0;
		heif_item_id id;
		if (heif.image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) == 1)
			facts->exif_size = heif.image_handle_get_metadata_size(handle, id);
		const size_t most = 1 << 20; // thumbnails and makers' notes included
		if (facts->exif_size > 0 && facts->exif_size <= most && (facts->exif = malloc(facts->exif_size)) != NULL &&
		    heif.image_handle_get_metadata(handle, id, facts->exif).code != heif_error_Ok)
			facts->exif_size = 0;
	}
	if (handle)
		heif.image_handle_release(handle);
	heif.context_free(context);
	return v;
}

enum verdict read_heif_picture(const unsigned char *file, size_t size, void *pix, int width, int height, int bits, char *says) {
	enum verdict v = loaded(says);
	if (v != WHOLE)
		return v;
	struct heif_context *context;
	struct heif_image_handle *handle;
	struct heif_image *image = NULL;
	struct heif_decoding_options *options = heif.decoding_options_alloc();
	options->strict_decoding = 1;
	enum heif_chroma chroma = bits > 8 ? heif_chroma_interleaved_RRGGBB_LE : heif_chroma_interleaved_RGB;
	v = open_primary(file, size, &context, &handle, says);
	if (v == WHOLE) // turns the picture upright as its irot and imir boxes say
		v = judge(heif.decode_image(handle, &image, heif_colorspace_RGB, chroma, options), says);
	if (v == WHOLE) {
		int stride;
		const uint8_t *plane = heif.image_get_plane_readonly(image, heif_channel_interleaved, &stride);
		if (!plane || heif.image_get_primary_width(image) != width || heif.image_get_primary_height(image) != height ||
		    heif.image_get_bits_per_pixel_range(image, heif_channel_interleaved) != bits) {
			snprintf(says, 200, "the header and the picture disagree about the size");
			v = DAMAGED;
		} else if (bits == 8) {
			for (int y = 0; y < height; y++)
				memcpy((uint8_t *)pix + (size_t)y * width * 3, plane + (size_t)y * stride, (size_t)width * 3);
		} else {
			unsigned top = (1u << bits) - 1;
			for (int y = 0; y < height; y++) {
				const uint8_t *from = plane + (size_t)y * stride;
				uint16_t *to = (uint16_t *)pix + (size_t)y * width * 3;
				for (int i = 0; i < width * 3; i++) {
					unsigned s = from[2 * i] | from[2 * i + 1] << 8;
					to[i] = (s * 65535u + top / 2) / top;
				}
			}
		}
	}
	if (image)
		heif.image_release(image);
	if (handle)
		heif.image_handle_release(handle);
	heif.context_free(context);
	heif.decoding_options_free(options);
	return v;
}
