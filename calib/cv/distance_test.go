//go:build gocv_specific_modules

package cv

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"
)

// openCVDistance is OpenCV's distance with its 5 × 5 mask.
func openCVDistance(tb testing.TB, m *image.Gray) Plane {
	tb.Helper()
	src, err := grayMat(m)
	if err != nil {
		tb.Fatal(err)
	}
	defer src.Close()
	p := NewPlane(m.Rect.Dx(), m.Rect.Dy())
	dst, err := p.mat()
	if err != nil {
		tb.Fatal(err)
	}
	defer dst.Close()
	labels := gocv.NewMat()
	defer labels.Close()
	if err := gocv.DistanceTransform(src, &dst, &labels, gocv.DistL2, gocv.DistanceMask5, gocv.DistanceLabelCComp); err != nil {
		tb.Fatal(err)
	}
	if err := p.filledBy(dst); err != nil {
		tb.Fatal(err)
	}
	return p
}

func TestDistanceIsOpenCVs(t *testing.T) {
	dice := rand.New(rand.NewPCG(1, 2))
	for n := range 200 {
		w, h := 1+dice.IntN(70), 1+dice.IntN(50)
		m := image.NewGray(image.Rect(0, 0, w, h))
		if n%2 == 0 {
			for i := range m.Pix {
				m.Pix[i] = 1
			}
		}
		for range 1 + dice.IntN(6) {
			a, b := image.Pt(dice.IntN(w), dice.IntN(h)), image.Pt(dice.IntN(w), dice.IntN(h))
			r := image.Rectangle{a, b}.Canon()
			for y := r.Min.Y; y <= r.Max.Y; y++ {
				for x := r.Min.X; x <= r.Max.X; x++ {
					m.Pix[y*w+x] = uint8(255 * (1 - n%2) * ((x + y) % 3) * (n % 3))
					if n%2 != 0 {
						m.Pix[y*w+x] = 255
					}
				}
			}
		}
		want := openCVDistance(t, m)
		got, err := Distance(m)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range want.Pix {
			if got.Pix[i] != v {
				t.Fatalf("mask %d of %d×%d: %v at %d, OpenCV has %v", n, w, h, got.Pix[i], i, v)
			}
		}
		reach := float64(1 + dice.IntN(20))
		near, err := Near(m, reach)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range want.Pix {
			if float64(v) < reach && near.Pix[i] != v || float64(v) >= reach && float64(near.Pix[i]) < reach {
				t.Fatalf("mask %d of %d×%d: %v near %v at %d, OpenCV has %v", n, w, h, near.Pix[i], reach, i, v)
			}
		}
	}
}

// OpenCV's 5 × 5 distance mask is within 2 % of the Euclidean distance
// (G. Borgefors, Comput. Vis. Graph. Image Process. 34, 344–371, 1986).
func TestDistance(t *testing.T) {
	m := box(101, 101, image.Rect(0, 0, 101, 101))
	m.Pix[50*101+50] = 0
	d, err := Distance(m)
	if err != nil {
		t.Fatal(err)
	}
	for y := range 101 {
		for x := range 101 {
			want := math.Hypot(float64(x-50), float64(y-50))
			if got := float64(d.Pix[y*101+x]); !(math.Abs(got-want) <= 0.02*want+1e-6) {
				t.Fatalf("at %d, %d: %.3f px, want %.3f", x, y, got, want)
			}
		}
	}
}

func BenchmarkDistance(b *testing.B) {
	m := box(1000, 900, image.Rect(0, 0, 1000, 900))
	for y := 300; y < 500; y++ {
		for x := 300; x < 500; x++ {
			m.Pix[y*1000+x] = 0
		}
	}
	b.Run("ours", func(b *testing.B) {
		for b.Loop() {
			if _, err := Distance(m); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("OpenCV", func(b *testing.B) {
		for b.Loop() {
			openCVDistance(b, m)
		}
	})
}
