//go:build gocv_specific_modules

package cv

import (
	"image"
	"math/rand/v2"
	"slices"
	"testing"

	"gocv.io/x/gocv"
)

// blotches is a mask of many parts of all sizes and shapes.
func blotches(t *testing.T, w, h int) *image.Gray {
	random := rand.New(rand.NewPCG(3, 4))
	p := NewPlane(w, h)
	for i := range p.Pix {
		p.Pix[i] = float32(random.NormFloat64())
	}
	p, err := Gaussian(p, 3)
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i, v := range p.Pix {
		if v > 0.03 {
			m.Pix[i] = 255
		}
	}
	return m
}

// The same filters by the Go binding that many know, whose own tests stand
// behind it.
func TestAsTheBindingHasIt(t *testing.T) {
	const w, h = 157, 121
	m := blotches(t, w, h)
	src, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC1, m.Pix)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	out, labels, stats, centres := gocv.NewMat(), gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	defer out.Close()
	defer labels.Close()
	defer stats.Close()
	defer centres.Close()

	d, err := Distance(m)
	if err != nil {
		t.Fatal(err)
	}
	if err := gocv.DistanceTransform(src, &out, &labels, gocv.DistL2, gocv.DistanceMask5, gocv.DistanceLabelCComp); err != nil {
		t.Fatal(err)
	}
	if theirs, err := out.DataPtrFloat32(); err != nil || !slices.Equal(d.Pix, theirs) {
		t.Errorf("distances differ, %v", err)
	}

	n := gocv.ConnectedComponentsWithStats(src, &labels, &stats, &centres)
	ours, parts, err := Blobs(m)
	if err != nil || len(parts) != n-1 || n < 10 {
		t.Fatalf("%d parts, want %d, %v", len(parts), n-1, err)
	}
	for i, l := range ours {
		if l != labels.GetIntAt(i/w, i%w) {
			t.Fatalf("pixel %d has the label %d, want %d", i, l, labels.GetIntAt(i/w, i%w))
		}
	}
	for i, b := range parts {
		if b.Area != int(stats.GetIntAt(i+1, 4)) || b.X != centres.GetDoubleAt(i+1, 0) {
			t.Errorf("part %d is %+v", i, b)
		}
	}

	all := gocv.FindContours(src, gocv.RetrievalExternal, gocv.ChainApproxNone)
	defer all.Close()
	var longest []image.Point
	for i := range all.Size() {
		if c := all.At(i); c.Size() > len(longest) {
			longest = c.ToPoints()
		}
	}
	if line, err := Outline(m); err != nil || !slices.Equal(line, longest) {
		t.Errorf("outline of %d places, want %d, %v", len(line), len(longest), err)
	}

	if err := gocv.GaussianBlur(out, &out, image.Point{}, 2, 2, gocv.BorderReflect); err != nil {
		t.Fatal(err)
	}
	soft, err := Gaussian(d, 2)
	if err != nil {
		t.Fatal(err)
	}
	if theirs, err := out.DataPtrFloat32(); err != nil || !slices.Equal(soft.Pix, theirs) {
		t.Errorf("smoothed planes differ, %v", err)
	}
}
