//go:build gocv_specific_modules

package cv

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"
)

// The same parts, in the same order, as OpenCV finds.
func TestBlobsAreOpenCVs(t *testing.T) {
	dice := rand.New(rand.NewPCG(3, 1))
	for n := range 300 {
		w, h := 1+dice.IntN(70), 1+dice.IntN(50)
		m := image.NewGray(image.Rect(0, 0, w, h))
		full := []int{1, 3, 5, 7, 9}[n%5]
		for i := range m.Pix {
			m.Pix[i] = uint8(255 * min(1, dice.IntN(10)/full))
		}
		labels, blobs, err := Blobs(m)
		if err != nil {
			t.Fatal(err)
		}
		src, err := grayMat(m)
		if err != nil {
			t.Fatal(err)
		}
		lab, stats, centres := gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
		count := gocv.ConnectedComponentsWithStats(src, &lab, &stats, &centres)
		if len(blobs) != count-1 {
			t.Fatalf("mask %d: %d blobs, OpenCV has %d", n, len(blobs), count-1)
		}
		for i, l := range labels {
			if want := lab.GetIntAt(i/w, i%w); l != want {
				t.Fatalf("mask %d of %d×%d: label %d at %d, OpenCV has %d", n, w, h, l, i, want)
			}
		}
		for k, b := range blobs {
			at := func(j int) int { return int(stats.GetIntAt(k+1, j)) }
			if b.Area != at(4) || b.Bounds != image.Rect(at(0), at(1), at(0)+at(2), at(1)+at(3)) ||
				math.Abs(b.X-centres.GetDoubleAt(k+1, 0)) > 1e-9 || math.Abs(b.Y-centres.GetDoubleAt(k+1, 1)) > 1e-9 {
				t.Fatalf("mask %d: %+v is none of OpenCV's", n, b)
			}
		}
		for _, m := range []gocv.Mat{src, lab, stats, centres} {
			m.Close()
		}
	}
}

func BenchmarkBlobs(b *testing.B) {
	m := box(1200, 1000, image.Rect(300, 200, 900, 800))
	for b.Loop() {
		if _, _, err := Blobs(m); err != nil {
			b.Fatal(err)
		}
	}
}
