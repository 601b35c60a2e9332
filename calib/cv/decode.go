//go:build gocv_specific_modules

// Package cv is the only part of jigloupe that touches OpenCV. Every error and
// every empty result is checked here, since OpenCV's silence looks like success;
// no gocv.Mat leaves a function of this package.
package cv

import (
	"errors"
	"fmt"
	"runtime"
	"unsafe"

	"gocv.io/x/gocv"
)

// Pixels is a decoded picture: interleaved R, G, B samples as the file encodes
// them, row by row from the top. Exactly one of Pix8 and Pix16 is set.
type Pixels struct {
	Width, Height int
	Pix8          []uint8
	Pix16         []uint16
}

// Decode reads a JPEG, PNG or TIFF file with 8 or 16 bits per sample as it is
// stored: not turned by EXIF, not converted by any profile, alpha dropped. It
// does not notice a JPEG that is cut short; the caller must.
func Decode(file []byte) (Pixels, error) {
	if len(file) == 0 {
		return Pixels{}, errors.New("empty file")
	}
	bgr := gocv.NewMat()
	defer bgr.Close()
	flags := gocv.IMReadColor | gocv.IMReadAnyDepth | gocv.IMReadIgnoreOrientation
	if err := gocv.IMDecodeIntoMat(file, flags, &bgr); err != nil {
		return Pixels{}, fmt.Errorf("cannot decode: %w", err)
	}
	if bgr.Empty() {
		return Pixels{}, errors.New("cannot decode: the picture data are damaged")
	}
	p := Pixels{Width: bgr.Cols(), Height: bgr.Rows()}
	var bytes []byte
	switch n := 3 * p.Width * p.Height; bgr.Type() {
	case gocv.MatTypeCV8UC3:
		p.Pix8 = make([]uint8, n)
		bytes = p.Pix8
	case gocv.MatTypeCV16UC3:
		p.Pix16 = make([]uint16, n)
		bytes = unsafe.Slice((*byte)(unsafe.Pointer(&p.Pix16[0])), 2*n)
	default:
		return Pixels{}, fmt.Errorf("cannot decode: samples are %v, not 8 or 16 bits", bgr.Type())
	}
	// OpenCV writes straight into Go's memory: one pass, no second copy.
	var pin runtime.Pinner
	pin.Pin(&bytes[0])
	defer pin.Unpin()
	rgb, err := gocv.NewMatFromBytes(p.Height, p.Width, bgr.Type(), bytes)
	if err != nil {
		return Pixels{}, fmt.Errorf("cannot decode: %w", err)
	}
	defer rgb.Close()
	if err := gocv.CvtColor(bgr, &rgb, gocv.ColorBGRToRGB); err != nil {
		return Pixels{}, fmt.Errorf("cannot decode: %w", err)
	}
	return p, nil
}
