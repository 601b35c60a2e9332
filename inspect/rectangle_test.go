package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib"
)

// A drawn card, turned, is one; a disc fills π/4 of its square, and a small rectangle
// may be a head.
func TestLooksLikeCard(t *testing.T) {
	const w = 300
	turned := func(deg, long, wide float64) func(x, y float64) bool {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return func(x, y float64) bool {
			return math.Abs(x*cos+y*sin) < long/2 && math.Abs(y*cos-x*sin) < wide/2
		}
	}
	for _, c := range []struct {
		name string
		in   func(x, y float64) bool
		card bool
	}{
		{"card", turned(0, 200, 140), true},
		{"card turned", turned(27, 200, 140), true},
		{"small", turned(27, 120, 80), false},
		{"disc", func(x, y float64) bool { return math.Hypot(x, y) < 100 }, false},
	} {
		m := image.NewGray(image.Rect(0, 0, w, w))
		for i := range m.Pix {
			if c.in(float64(i%w)-w/2, float64(i/w)-w/2) {
				m.Pix[i] = 255
			}
		}
		l := &look{patch: patch{&calib.Linear{Width: w, Height: w, Step: 2}, 0.18}, shape: &shape{w: w, h: w, head: m}}
		if got := l.looksLikeCard(image.Pt(2*w, 2*w)); got != c.card {
			t.Errorf("%s: %v, want %v", c.name, got, c.card)
		}
	}
}
