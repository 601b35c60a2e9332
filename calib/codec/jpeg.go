package codec

// #cgo pkg-config: libjpeg
// #include "jpeg.h"
import "C"

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
