package codec

// #cgo pkg-config: libheif
// #include <stdlib.h>
// #include "heif.h"
import "C"

import "unsafe"

// HEIFHeader is what a HEIC or AVIF file says of its main picture.
type HEIFHeader struct {
	Width, Height       int    // upright, in px
	Bits                int    // per sample, 8 to 16
	ICC                 []byte // nil when there is none
	Primaries, Transfer int    // code points of ITU-T H.273; 2, unspecified, when the file names none
}

// ReadHEIFHeader reads the header of the file's main picture.
func ReadHEIFHeader(file []byte) (HEIFHeader, error) {
	if len(file) == 0 {
		return HEIFHeader{}, ErrCutShort
	}
	says := newText()
	defer says.free()
	var f C.struct_heif_facts
	verdict := C.read_heif_header((*C.uchar)(&file[0]), C.size_t(len(file)), &f, says.c)
	defer C.free(unsafe.Pointer(f.icc))
	if err := says.failure(verdict); err != nil {
		return HEIFHeader{}, err
	}
	h := HEIFHeader{Width: int(f.width), Height: int(f.height), Bits: int(f.bits), Primaries: int(f.primaries), Transfer: int(f.transfer)}
	if f.icc != nil {
		h.ICC = C.GoBytes(unsafe.Pointer(f.icc), C.int(f.icc_size))
	}
	return h, nil
}

// DecodeHEIF returns the samples of the file's main picture, interleaved R, G,
// B, row by row from the top. libheif turns the picture upright itself: the
// orientation that the EXIF block repeats must not be applied again. h is what
// ReadHEIFHeader gave. With 8 bits per sample pix8 is set, with more pix16,
// scaled to 65535.
func DecodeHEIF(file []byte, h HEIFHeader) (pix8 []uint8, pix16 []uint16, err error) {
	if len(file) == 0 || h.Width <= 0 || h.Height <= 0 || h.Bits < 8 || h.Bits > 16 {
		return nil, nil, ErrDamaged
	}
	says := newText()
	defer says.free()
	var pix unsafe.Pointer
	if n := 3 * h.Width * h.Height; h.Bits == 8 {
		pix8 = make([]uint8, n)
		pix = unsafe.Pointer(&pix8[0])
	} else {
		pix16 = make([]uint16, n)
		pix = unsafe.Pointer(&pix16[0])
	}
	verdict := C.read_heif_picture((*C.uchar)(&file[0]), C.size_t(len(file)), pix, C.int(h.Width), C.int(h.Height), C.int(h.Bits), says.c)
	if err := says.failure(verdict); err != nil {
		return nil, nil, err
	}
	return pix8, pix16, nil
}
