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
	EXIF                []byte // as ISO/IEC 23008-12 stores it, nil when there is none
	Primaries, Transfer int    // code points of ITU-T H.273; 2, unspecified, when the file names none
}

// ReadHEIFHeader reads the header of the file's main picture.
func ReadHEIFHeader(file []byte) (HEIFHeader, error) {
	if len(file) == 0 {
		return HEIFHeader{}, ErrCutShort
	}
	s, h, err := job{Do: "heif header"}.run(file)
	if err == nil {
		s.Free()
	}
	return h, err
}

func readHEIFHeader(file []byte, says *C.char) (HEIFHeader, uint32) {
	var f C.struct_heif_facts
	verdict := C.read_heif_header((*C.uchar)(&file[0]), C.size_t(len(file)), &f, says)
	defer C.free(unsafe.Pointer(f.icc))
	h := HEIFHeader{Width: int(f.width), Height: int(f.height), Bits: int(f.bits), Primaries: int(f.primaries), Transfer: int(f.transfer)}
	if f.icc != nil {
		h.ICC = C.GoBytes(unsafe.Pointer(f.icc), C.int(f.icc_size))
	}
	defer C.free(unsafe.Pointer(f.exif))
	if f.exif != nil {
		h.EXIF = C.GoBytes(unsafe.Pointer(f.exif), C.int(f.exif_size))
	}
	return h, verdict
}

// DecodeHEIF returns the samples of the file's main picture. libheif turns the
// picture upright itself: the orientation that the EXIF block repeats must not be
// applied again. h is what ReadHEIFHeader gave.
func DecodeHEIF(file []byte, h HEIFHeader) (*Samples, error) {
	if len(file) == 0 || h.Width <= 0 || h.Height <= 0 || h.Bits < 8 || h.Bits > 16 {
		return nil, ErrDamaged
	}
	s, _, err := job{"heif", h}.run(file)
	return s, err
}

func decodeHEIF(file, pix []byte, h HEIFHeader, says *C.char) uint32 {
	return C.read_heif_picture((*C.uchar)(&file[0]), C.size_t(len(file)), unsafe.Pointer(&pix[0]), C.int(h.Width), C.int(h.Height), C.int(h.Bits), says)
}
