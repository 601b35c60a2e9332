// Package codec decodes JPEG with libjpeg-turbo and HEIC and AVIF with libheif,
// straight into the memory the samples stay in. OpenCV uses the same JPEG
// decoder, but copies the picture twice on the way and does not pass on that a
// file was cut short or damaged; it reads no HEIC.
package codec

// #include "verdict.h"
// #include <stdlib.h>
import "C"

import (
	"errors"
	"fmt"
	"unsafe"
)

var (
	// ErrCutShort means that the file ends before its picture does.
	ErrCutShort = errors.New("the file is cut short")

	// ErrDamaged means that part of the picture cannot be read, or could only be
	// guessed.
	ErrDamaged = errors.New("the picture data are damaged")

	// ErrUnsupported means a good picture of a kind that is not read.
	ErrUnsupported = errors.New("unsupported picture")
)

// A text is where a decoder leaves its own words.
type text struct{ c *C.char }

func newText() text { return text{(*C.char)(C.calloc(1, 200))} }

func (t text) free() { C.free(unsafe.Pointer(t.c)) }

// failure is nil for a whole picture.
func (t text) failure(verdict uint32) error {
	err := ErrDamaged
	switch verdict {
	case C.WHOLE:
		return nil
	case C.CUT_SHORT:
		err = ErrCutShort
	case C.UNSUPPORTED:
		err = ErrUnsupported
	}
	return fmt.Errorf("%w: %s", err, C.GoString(t.c))
}
