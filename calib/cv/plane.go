package cv

// #cgo pkg-config: opencv4
// #include <stdlib.h>
// #include "opencv.h"
import "C"

import (
	"fmt"
	"image"
	"slices"
	"unsafe"
)

// Plane is one channel of 32-bit floats, row by row.
type Plane struct {
	Width, Height int
	Pix           []float32
}

// NewPlane returns a plane of zeros.
func NewPlane(width, height int) Plane {
	return Plane{Width: width, Height: height, Pix: make([]float32, width*height)}
}

// Gaussian smooths with standard deviation sigma, in px. The border is
// reflected. A wide one works on a reduced copy, which changes the result by
// less than 1 % of a step edge.
func Gaussian(p Plane, sigma float64) (Plane, error) {
	if len(p.Pix) != p.Width*p.Height || len(p.Pix) == 0 {
		return Plane{}, fmt.Errorf("%d samples do not fit %d×%d px", len(p.Pix), p.Width, p.Height)
	}
	const fine = 3.0 // px of sigma that a reduced copy keeps
	shrink := min(int(sigma/fine), min(p.Width, p.Height)/8)
	out := NewPlane(p.Width, p.Height)
	err := guarded("smooth", func(says *C.char) C.int {
		return C.smooth(floats(p), floats(out), C.int(p.Width), C.int(p.Height), C.double(sigma), C.int(shrink), says)
	})
	return out, err
}

// Distance gives, for each pixel of the mask (non-zero), the Euclidean
// distance in px to the nearest pixel outside it; 0 outside. Pixels beyond the
// border count as inside.
func Distance(mask *image.Gray) (Plane, error) {
	w, h, err := size(mask)
	if err != nil {
		return Plane{}, err
	}
	out := NewPlane(w, h)
	err = guarded("distance", func(says *C.char) C.int {
		return C.distance(bytes(mask), floats(out), C.int(w), C.int(h), says)
	})
	return out, err
}

// Blob is one connected part of a mask.
type Blob struct {
	Label  int32
	Area   int // px
	Bounds image.Rectangle
	X, Y   float64 // centroid, px
}

// Blobs finds the 8-connected parts of the mask. Labels has one entry per
// pixel: 0 outside the mask, else the blob's Label, which is its index + 1.
func Blobs(mask *image.Gray) (labels []int32, blobs []Blob, err error) {
	w, h, err := size(mask)
	if err != nil {
		return nil, nil, err
	}
	labels = make([]int32, w*h)
	var all *C.struct_blob
	var count C.int
	err = guarded("blobs", func(says *C.char) C.int {
		return C.blobs(bytes(mask), (*C.int)(&labels[0]), C.int(w), C.int(h), &all, &count, says)
	})
	defer C.free(unsafe.Pointer(all))
	if err != nil {
		return nil, nil, err
	}
	for i, b := range unsafe.Slice(all, count)[1:] { // the first is what lies outside
		x, y := int(b.left), int(b.top)
		blobs = append(blobs, Blob{
			Label: int32(i + 1), Area: int(b.area), X: float64(b.x), Y: float64(b.y),
			Bounds: image.Rect(x, y, x+int(b.width), y+int(b.height)),
		})
	}
	return labels, blobs, nil
}

// Parts returns each 8-connected part of a mask as a mask of its own, the
// largest first.
func Parts(mask *image.Gray) ([]*image.Gray, error) {
	labels, blobs, err := Blobs(mask)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(blobs, func(a, b Blob) int { return b.Area - a.Area })
	parts := make([]*image.Gray, len(blobs))
	for k, b := range blobs {
		parts[k] = image.NewGray(mask.Rect)
		for y := b.Bounds.Min.Y; y < b.Bounds.Max.Y; y++ {
			for x := b.Bounds.Min.X; x < b.Bounds.Max.X; x++ {
				if i := y*mask.Stride + x; labels[i] == b.Label {
					parts[k].Pix[i] = 255
				}
			}
		}
	}
	return parts, nil
}

// Outline returns the outer border of the largest blob of the mask as a
// closed polygon of pixel centres, nil when the mask is empty.
func Outline(mask *image.Gray) ([]image.Point, error) {
	w, h, err := size(mask)
	if err != nil {
		return nil, err
	}
	var xy *C.int
	var count C.int
	err = guarded("outline", func(says *C.char) C.int {
		return C.outline(bytes(mask), C.int(w), C.int(h), &xy, &count, says)
	})
	defer C.free(unsafe.Pointer(xy))
	if err != nil {
		return nil, err
	}
	var line []image.Point
	for _, p := range unsafe.Slice((*[2]C.int)(unsafe.Pointer(xy)), count) {
		line = append(line, image.Pt(int(p[0]), int(p[1])))
	}
	return line, nil
}

// guarded turns what OpenCV says into an error.
func guarded(what string, work func(says *C.char) C.int) error {
	says := (*C.char)(C.calloc(1, 200))
	defer C.free(unsafe.Pointer(says))
	if work(says) != 0 {
		return fmt.Errorf("%s: %s", what, C.GoString(says))
	}
	return nil
}

// size refuses masks whose rows do not lie side by side.
func size(m *image.Gray) (w, h int, err error) {
	w, h = m.Rect.Dx(), m.Rect.Dy()
	if w <= 0 || h <= 0 || m.Stride != w || len(m.Pix) < w*h {
		return 0, 0, fmt.Errorf("mask of %d×%d px, stride %d, cannot be handed to OpenCV", w, h, m.Stride)
	}
	return w, h, nil
}

func bytes(m *image.Gray) *C.uchar { return (*C.uchar)(&m.Pix[0]) }

func floats(p Plane) *C.float { return (*C.float)(&p.Pix[0]) }
