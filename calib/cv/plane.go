//go:build gocv_specific_modules

package cv

import (
	"errors"
	"fmt"
	"image"
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

// ErrEmpty means that OpenCV handed back nothing without saying why.
var ErrEmpty = errors.New("OpenCV gave an empty result")

// Gaussian smooths with standard deviation sigma, in px. The border is
// reflected.
func Gaussian(p Plane, sigma float64) (Plane, error) {
	src, err := p.mat()
	if err != nil {
		return Plane{}, err
	}
	defer src.Close()
	dst := gocv.NewMat()
	defer dst.Close()
	if err := gocv.GaussianBlur(src, &dst, image.Point{}, sigma, sigma, gocv.BorderReflect); err != nil {
		return Plane{}, fmt.Errorf("smooth: %w", err)
	}
	return planeOf(dst)
}

// Distance gives, for each pixel of the mask (non-zero), the Euclidean
// distance in px to the nearest pixel outside it; 0 outside. Pixels beyond the
// border count as inside.
func Distance(mask *image.Gray) (Plane, error) {
	src, err := grayMat(mask)
	if err != nil {
		return Plane{}, err
	}
	defer src.Close()
	dst, labels := gocv.NewMat(), gocv.NewMat()
	defer dst.Close()
	defer labels.Close()
	if err := gocv.DistanceTransform(src, &dst, &labels, gocv.DistL2, gocv.DistanceMask5, gocv.DistanceLabelCComp); err != nil {
		return Plane{}, fmt.Errorf("distance: %w", err)
	}
	return planeOf(dst)
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
	src, err := grayMat(mask)
	if err != nil {
		return nil, nil, err
	}
	defer src.Close()
	lab, stats, centres := gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	defer lab.Close()
	defer stats.Close()
	defer centres.Close()
	n := gocv.ConnectedComponentsWithStats(src, &lab, &stats, &centres)
	if lab.Empty() || stats.Rows() != n || centres.Rows() != n {
		return nil, nil, fmt.Errorf("blobs: %w", ErrEmpty)
	}
	raw, err := lab.DataPtrUint8()
	if err != nil {
		return nil, nil, fmt.Errorf("blobs: %w", err)
	}
	labels = make([]int32, len(raw)/4)
	copy(labels, unsafe.Slice((*int32)(unsafe.Pointer(&raw[0])), len(labels)))
	for i := 1; i < n; i++ {
		at := func(k int) int { return int(stats.GetIntAt(i, k)) }
		x, y := at(0), at(1)
		blobs = append(blobs, Blob{
			Label:  int32(i),
			Area:   at(4),
			Bounds: image.Rect(x, y, x+at(2), y+at(3)),
			X:      centres.GetDoubleAt(i, 0), Y: centres.GetDoubleAt(i, 1),
		})
	}
	return labels, blobs, nil
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

// Watershed floods the picture (8-bit, three channels interleaved) from the
// markers (> 0) and returns the label of the basin each pixel falls into;
// pixels on a dividing line get the label −1 (F. Meyer, Color image
// segmentation, ICIP 1992, as OpenCV implements it).
func Watershed(width, height int, pix []uint8, markers []int32) ([]int32, error) {
	if len(pix) != 3*width*height || len(markers) != width*height || len(pix) == 0 {
		return nil, fmt.Errorf("watershed: %d samples and %d markers do not fit %d×%d px", len(pix), len(markers), width, height)
	}
	img, err := gocv.NewMatFromBytes(height, width, gocv.MatTypeCV8UC3, pix)
	if err != nil {
		return nil, fmt.Errorf("watershed: %w", err)
	}
	defer img.Close()
	raw := unsafe.Slice((*uint8)(unsafe.Pointer(&markers[0])), 4*len(markers))
	marks, err := gocv.NewMatFromBytes(height, width, gocv.MatTypeCV32SC1, raw)
	if err != nil {
		return nil, fmt.Errorf("watershed: %w", err)
	}
	defer marks.Close()
	if err := gocv.Watershed(img, &marks); err != nil {
		return nil, fmt.Errorf("watershed: %w", err)
	}
	got, err := marks.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("watershed: %w", err)
	}
	out := make([]int32, len(markers))
	copy(out, unsafe.Slice((*int32)(unsafe.Pointer(&got[0])), len(out)))
	return out, nil
}

func (p Plane) mat() (gocv.Mat, error) {
	if len(p.Pix) != p.Width*p.Height || len(p.Pix) == 0 {
		return gocv.Mat{}, fmt.Errorf("%d samples do not fit %d×%d px", len(p.Pix), p.Width, p.Height)
	}
	raw := unsafe.Slice((*uint8)(unsafe.Pointer(&p.Pix[0])), 4*len(p.Pix))
	return gocv.NewMatFromBytes(p.Height, p.Width, gocv.MatTypeCV32FC1, raw)
}

func planeOf(m gocv.Mat) (Plane, error) {
	if m.Empty() || m.Type() != gocv.MatTypeCV32FC1 {
		return Plane{}, ErrEmpty
	}
	raw, err := m.DataPtrFloat32()
	if err != nil {
		return Plane{}, err
	}
	p := NewPlane(m.Cols(), m.Rows())
	copy(p.Pix, raw)
	return p, nil
}

func grayMat(m *image.Gray) (gocv.Mat, error) {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	if w <= 0 || h <= 0 || m.Stride != w {
		return gocv.Mat{}, fmt.Errorf("mask of %d×%d px, stride %d, cannot be handed to OpenCV", w, h, m.Stride)
	}
	return gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC1, m.Pix[:w*h])
}
