package inspect

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// The edge of a disc blurred by a Gaussian rises from 10 to 90 % over as many px as
// the table says of its standard deviation, which is what is measured. Source: the
// table's first line. Less than one patch px is not asked: there the pixels themselves blur.
func TestBlur(t *testing.T) {
	for _, row := range table(t, "12_blur_relations.csv") {
		sigma, rise := row[0], row[5]
		edge := func(out float64) float64 { return math.Erfc(out/(sigma*math.Sqrt2)) / 2 }
		if lo, hi := edge(rise/2), edge(-rise/2); math.Abs(lo-0.1) > 1e-6 || math.Abs(hi-0.9) > 1e-6 {
			t.Fatalf("drawn for σ = %v: %.7f and %.7f at the ends of its rise, want 0.1 and 0.9", sigma, lo, hi)
		}
		if got, ok := blurOfDisc(t, edge, 0); !ok || math.Abs(got-2*sigma) > 0.1*2*sigma {
			t.Errorf("an edge blurred by %v patch px of 2 photo px: %.2f px, want %.1f ± 10 %%", sigma, got, 2*sigma)
		}
	}
	// a photo far out of focus, with a camera's noise in it
	const wide = 8.0
	edge := func(out float64) float64 { return math.Erfc(out/(wide*math.Sqrt2)) / 2 }
	if got, ok := blurOfDisc(t, edge, 0.01); !ok || math.Abs(got-2*wide) > 0.25*2*wide {
		t.Errorf("an edge blurred by %v patch px of 2 photo px, with noise: %.2f px, want %.1f ± 25 %%", wide, got, 2*wide)
	}
}

// blurOfDisc measures the blur of a disc, whose lightness so many px out of its edge is
// given, in a patch of every other photo pixel.
func blurOfDisc(t *testing.T, edge func(out float64) float64, noise float64) (float64, bool) {
	t.Helper()
	const side, radius = 200, 70.0
	rng := rand.New(rand.NewPCG(1, 2))
	m := image.NewGray(image.Rect(0, 0, side, side))
	lin := &calib.Linear{Width: side, Height: side, Step: 2, Pix: make([]float32, 3*side*side)}
	for i := range m.Pix {
		r := math.Hypot(float64(i%side)-side/2, float64(i/side)-side/2)
		if r < radius {
			m.Pix[i] = 255
		}
		level := math.Pow(0.4+0.4*edge(r-radius)+noise*rng.NormFloat64(), 3) // blur looks at lightness
		lin.Pix[3*i], lin.Pix[3*i+1], lin.Pix[3*i+2] = float32(level), float32(level), float32(level)
	}
	depth, err := cv.Distance(m)
	if err != nil {
		t.Fatal(err)
	}
	l := &look{patch: patch{Linear: lin}, shape: &shape{w: side, h: side, head: m, depth: depth}}
	return l.blur()
}
