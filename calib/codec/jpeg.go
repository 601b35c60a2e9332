package codec

// #cgo pkg-config: libjpeg
// #include "jpeg.h"
// #include <stdlib.h>
import "C"

import (
	"fmt"
	"image"
	"unsafe"

	"github.com/disintegration/imaging"
)

// DecodeJPEG returns the samples, as stored, of a JPEG file that is width × height
// px by its header.
// A picture that ends early is always noticed; bytes changed inside it only
// where they break the code, about half the time for ten bytes or more.
func DecodeJPEG(file []byte, width, height int) (*Samples, error) {
	if len(file) == 0 || width <= 0 || height <= 0 {
		return nil, ErrDamaged
	}
	s, _, err := job{"jpeg", HEIFHeader{Width: width, Height: height}}.run(file)
	return s, err
}

func decodeJPEG(file, pix []byte, width, height int, says *C.char) uint32 {
	return C.decode_jpeg((*C.uchar)(&file[0]), C.size_t(len(file)), (*C.uchar)(&pix[0]), C.uint(width), C.uint(height), says)
}

// EncodeJPEG makes a JPEG file of an opaque picture, in a sixth of the time that
// image/jpeg takes for one of its quick types; quality is 1 to 100, as there.
func EncodeJPEG(m image.Image, quality int) ([]byte, error) {
	var pix []uint8
	var stride int
	switch m := m.(type) {
	case *image.RGBA:
		pix, stride = m.Pix, m.Stride
	case *image.NRGBA:
		pix, stride = m.Pix, m.Stride
	default:
		n := imaging.Clone(m)
		pix, stride = n.Pix, n.Stride
	}
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	if w <= 0 || h <= 0 {
		return nil, fmt.Errorf("a picture of %d × %d px makes no JPEG", w, h)
	}
	says := (*C.char)(C.calloc(1, 200))
	defer C.free(unsafe.Pointer(says))
	var file *C.uchar
	var size C.ulong
	verdict := C.encode_jpeg((*C.uchar)(&pix[0]), C.size_t(stride), C.uint(w), C.uint(h), C.int(quality), &file, &size, says)
	defer C.free(unsafe.Pointer(file))
	if verdict != C.WHOLE {
		return nil, fmt.Errorf("making a JPEG: %s", C.GoString(says))
	}
	return C.GoBytes(unsafe.Pointer(file), C.int(size)), nil
}
