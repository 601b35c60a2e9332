package codec

// #cgo pkg-config: libjpeg
// #include "jpeg.h"
import "C"

// DecodeJPEG returns the samples of a JPEG file that is width × height px by its
// header, interleaved R, G, B, row by row from the top as stored.
// A picture that ends early is always noticed; bytes changed inside it only
// where they break the code, about half the time for ten bytes or more.
func DecodeJPEG(file []byte, width, height int) ([]uint8, error) {
	if len(file) == 0 || width <= 0 || height <= 0 {
		return nil, ErrDamaged
	}
	says := newText()
	defer says.free()
	pix := make([]uint8, 3*width*height)
	verdict := C.decode_jpeg((*C.uchar)(&file[0]), C.size_t(len(file)), (*C.uchar)(&pix[0]), C.uint(width), C.uint(height), says.c)
	if err := says.failure(verdict); err != nil {
		return nil, err
	}
	return pix, nil
}
