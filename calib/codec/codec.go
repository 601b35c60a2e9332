// Package codec decodes JPEG with libjpeg-turbo and HEIC and AVIF with libheif,
// straight into the memory the samples stay in. OpenCV uses the same JPEG
// decoder, but copies the picture twice on the way and does not pass on that a
// file was cut short or damaged; it reads no HEIC.
//
// A file made to break a decoder written in C can end its process. After Isolate
// that is a process of its own, and costs one photo.
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

// A job is what a decoder is asked to do with a file.
type job struct {
	Do     string // jpeg, heif or heif header
	Header HEIFHeader
}

// bytes is the size of the samples that the job makes.
func (j job) bytes() int {
	switch {
	case j.Do == "heif header":
		return 0
	case j.Header.Bits > 8:
		return 6 * j.Header.Width * j.Header.Height
	}
	return 3 * j.Header.Width * j.Header.Height
}

// An answer is what a decoder made of a file.
type answer struct {
	Verdict uint32 // of verdict.h
	Says    string // in the decoder's own words, when it is not WHOLE
	Header  HEIFHeader
}

// do runs the decoder in this process. It writes to pix, which is bytes() long.
func (j job) do(file, pix []byte) answer {
	says := (*C.char)(C.calloc(1, 200))
	defer C.free(unsafe.Pointer(says))
	a := answer{}
	switch j.Do {
	case "jpeg":
		a.Verdict = decodeJPEG(file, pix, j.Header.Width, j.Header.Height, says)
	case "heif":
		a.Verdict = decodeHEIF(file, pix, j.Header, says)
	case "heif header":
		a.Header, a.Verdict = readHEIFHeader(file, says)
	}
	a.Says = C.GoString(says)
	return a
}

// Samples are those of a picture, interleaved R, G, B, row by row from the top.
// Whoever has used them frees them.
type Samples struct {
	Pix8  []uint8  // nil with more than 8 bits a sample
	Pix16 []uint16 // scaled to 65535
	child *child   // whose memory they are in, nil when it is this process's own
}

// Free ends the use of the samples, which are lost.
func (s *Samples) Free() {
	if s.child != nil {
		s.child.free()
	}
	*s = Samples{}
}

// run does the job in a child if there are any and one can be had, else here. The
// file must not be empty.
func (j job) run(file []byte) (s *Samples, h HEIFHeader, err error) {
	var a answer
	var pix []byte
	s = &Samples{}
	if isolated {
		a, s.child, pix, err = j.runInChild(file)
	}
	switch {
	case !isolated, errors.Is(err, errNoChild):
		pix = make([]byte, j.bytes())
		a = j.do(file, pix)
	case err != nil:
		return nil, h, err
	}
	err = ErrDamaged
	switch a.Verdict {
	case C.WHOLE:
		if s.Pix8 = pix; j.Header.Bits > 8 && len(pix) > 0 {
			s.Pix8, s.Pix16 = nil, unsafe.Slice((*uint16)(unsafe.Pointer(&pix[0])), len(pix)/2)
		}
		return s, a.Header, nil
	case C.CUT_SHORT:
		err = ErrCutShort
	case C.UNSUPPORTED:
		err = ErrUnsupported
		a.Says += "; save it as JPEG or PNG"
	}
	s.Free()
	return nil, h, fmt.Errorf("%w: %s", err, a.Says)
}
