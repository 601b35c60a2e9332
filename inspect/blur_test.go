package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// The edge of a disc blurred by a Gaussian rises from 10 to 90 % over as many px as
// the table says of its standard deviation, which is what is measured. Source: the
// table's first line. Less than one patch px is not asked: there the pixels themselves blur.
func TestBlur(t *testing.T) {
	const side, radius = 200, 70.0
	for _, row := range table(t, "12_blur_relations.csv") {
		sigma, rise := row[0], row[5]
		edge := func(r float64) float64 { return math.Erfc((r-radius)/(sigma*math.Sqrt2)) / 2 }
		if lo, hi := edge(radius+rise/2), edge(radius-rise/2); math.Abs(lo-0.1) > 1e-6 || math.Abs(hi-0.9) > 1e-6 {
			t.Fatalf("drawn for σ = %v: %.7f and %.7f at the ends of its rise, want 0.1 and 0.9", sigma, lo, hi)
		}
		m := image.NewGray(image.Rect(0, 0, side, side))
		lin := &calib.Linear{Width: side, Height: side, Step: 2, Pix: make([]float32, 3*side*side)}
		for i := range m.Pix {
			r := math.Hypot(float64(i%side)-side/2, float64(i/side)-side/2)
			if r < radius {
				m.Pix[i] = 255
			}
			level := math.Pow(0.4+0.4*edge(r), 3) // blur looks at lightness
			lin.Pix[3*i], lin.Pix[3*i+1], lin.Pix[3*i+2] = float32(level), float32(level), float32(level)
		}
		depth, err := cv.Distance(m)
		if err != nil {
			t.Fatal(err)
		}
		l := &look{patch: patch{Linear: lin}, shape: &shape{w: side, h: side, head: m, depth: depth}}
		if got, ok := l.blur(); !ok || math.Abs(got-2*sigma) > 0.1*2*sigma {
			t.Errorf("an edge blurred by %v patch px of 2 photo px: %.2f px, want %.1f ± 10 %%", sigma, got, 2*sigma)
		}
	}
}
