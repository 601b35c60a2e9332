//go:build gocv_specific_modules

package cv

import (
	"errors"
	"fmt"
	"image"
	"slices"
	"sync"
	"unsafe"

	"gocv.io/x/gocv"
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

// Cut is a copy of the part r of the plane, which must lie within it.
func (p Plane) Cut(r image.Rectangle) Plane {
	out := NewPlane(r.Dx(), r.Dy())
	for y := range r.Dy() {
		copy(out.Pix[y*out.Width:(y+1)*out.Width], p.Pix[(r.Min.Y+y)*p.Width+r.Min.X:])
	}
	return out
}

// oneThread comes before the first use of OpenCV: photos are measured in parallel,
// and threads inside it get in their way. A program that measures none is spared it.
var oneThread = sync.OnceFunc(func() { gocv.SetNumThreads(1) })

// ErrEmpty means that OpenCV handed back nothing without saying why.
var ErrEmpty = errors.New("OpenCV gave an empty result")

// Log is the natural logarithm of every value plus add, which is to be above 0.
func Log(p Plane, add float32) (Plane, error) {
	out := NewPlane(p.Width, p.Height)
	return out, out.LogOf(p, add)
}

// LogOf fills a plane of the same size as Log does.
func (out Plane) LogOf(p Plane, add float32) error {
	for i, v := range p.Pix {
		out.Pix[i] = v + add
	}
	m, err := out.mat()
	if err != nil {
		return err
	}
	defer m.Close()
	if err := gocv.Log(m, &m); err != nil {
		return fmt.Errorf("logarithm: %w", err)
	}
	return out.filledBy(m)
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
	src, err := grayMat(mask)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	all := gocv.FindContours(src, gocv.RetrievalExternal, gocv.ChainApproxNone)
	defer all.Close()
	var best []image.Point
	for i := 0; i < all.Size(); i++ {
		if c := all.At(i); c.Size() > len(best) {
			best = c.ToPoints()
		}
	}
	return best, nil
}

func (p Plane) mat() (gocv.Mat, error) {
	if len(p.Pix) != p.Width*p.Height || len(p.Pix) == 0 {
		return gocv.Mat{}, fmt.Errorf("%d samples do not fit %d×%d px", len(p.Pix), p.Width, p.Height)
	}
	oneThread()
	return gocv.NewMatFromBytes(p.Height, p.Width, gocv.MatTypeCV32FC1, bytesOf(p.Pix))
}

// bytesOf is the memory of samples. A Mat made of it works on the samples
// themselves: there is nothing to copy to OpenCV or back.
func bytesOf[T float32 | int32](samples []T) []uint8 {
	return unsafe.Slice((*uint8)(unsafe.Pointer(&samples[0])), 4*len(samples))
}

// filledBy makes sure that OpenCV wrote its result, m, into the plane that it was
// given for it.
func (p Plane) filledBy(m gocv.Mat) error {
	raw, err := m.DataPtrFloat32()
	if err != nil {
		return err
	}
	if len(raw) != len(p.Pix) || &raw[0] != &p.Pix[0] {
		return ErrEmpty
	}
	return nil
}

func grayMat(m *image.Gray) (gocv.Mat, error) {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	if w <= 0 || h <= 0 || m.Stride != w {
		return gocv.Mat{}, fmt.Errorf("mask of %d×%d px, stride %d, cannot be handed to OpenCV", w, h, m.Stride)
	}
	oneThread()
	return gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC1, m.Pix[:w*h])
}
