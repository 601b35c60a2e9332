package inspect

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"
)

// drawn marks the pixels between two outlines across an axis along x.
func drawn(n, high int, low, above func(x float64) float64) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, n, 2*high))
	for x := range n {
		for y := range 2 * high {
			if t := float64(y - high); t > -low(float64(x)) && t < above(float64(x)) {
				m.Pix[y*m.Stride+x] = 255
			}
		}
	}
	return m
}

// The slope of a ball's and of a cone's outline is known. Edges off by a px or two
// and a lump on one side must not bend it; without that, and with quadratics that
// are exact, only the pixels' own steps are left.
func TestContour(t *testing.T) {
	const n, r = 300, 150.0
	random := rand.New(rand.NewPCG(4, 4))
	along := axis{x: 0, y: 160, dx: 1}
	ball := func(x float64) float64 { return math.Sqrt(max(0, r*r-sq(x-r))) }
	cone := func(x float64) float64 { return 40 + 0.3*x }
	rough := func(f func(float64) float64) func(float64) float64 {
		return func(x float64) float64 { return f(x) + 1.5*random.NormFloat64() }
	}
	lump := func(f func(float64) float64) func(float64) float64 {
		return func(x float64) float64 { return f(x) + 12*math.Exp(-sq((x-190)/14)) }
	}
	for _, c := range []struct {
		name        string
		low, above  func(x float64) float64
		slope       func(x float64) float64 // half of how fast the radius' square grows
		most        float64                 // error in degrees, root mean square
		evenMost    float64
		unevenLeast float64
	}{
		{"ball", ball, ball, func(x float64) float64 { return r - x }, 0.3, 0.5, 0},
		{"cone", cone, cone, func(x float64) float64 { return 0.3 * cone(x) }, 0.3, 0.5, 0},
		{"rough ball", rough(ball), rough(ball), func(x float64) float64 { return r - x }, 1, 2, 0},
		{"ball with a lump", rough(lump(ball)), rough(ball), func(x float64) float64 { return r - x }, 2, 5, 0},
		// flat on one side, up to 45° on the other over the middle 70 %
		{"ball with a flat sole", func(x float64) float64 { return min(80, ball(x)) }, ball, nil, 0, 45, 10},
	} {
		got := contourOf(drawn(n, 160, c.low, c.above), along, bodyReach*r)
		if got.unevenDeg > c.evenMost || got.unevenDeg < c.unevenLeast {
			t.Errorf("%s: sides differ by %.2f°, want %v to %v", c.name, got.unevenDeg, c.unevenLeast, c.evenMost)
		}
		if c.slope == nil {
			continue
		}
		sum, count := 0.0, 0.0
		for k, s := range got.slope {
			if x := float64(got.first + k); x > 15 && x < n-15 { // at the tips all slopes are steep
				radius := c.low(x)
				sum, count = sum+sq(math.Atan(s/radius)-math.Atan(c.slope(x)/radius)), count+1
			}
		}
		off := math.Sqrt(sum/count) * 180 / math.Pi
		t.Logf("%s: slope off by %.2f°, sides differ by %.2f°", c.name, off, got.unevenDeg)
		if off > c.most {
			t.Errorf("%s: slope off by %.2f°, want %v", c.name, off, c.most)
		}
	}
	// between two of its entries too a ball is as wide as it is: its edge to the px
	round := contourOf(drawn(n, 160, ball, ball), along, bodyReach*r)
	for x := 20.5; x < n-20; x += 10 {
		if mid, square := round.at(x); math.Abs(mid) > 1 || math.Abs(math.Sqrt(square)-ball(x)) > 1 {
			t.Errorf("a ball at %v: middle %.2f, radius %.2f, want 0 and %.2f", x, mid, math.Sqrt(square), ball(x))
		}
	}
	if got := contourOf(image.NewGray(image.Rect(0, 0, 20, 20)), along, 10); len(got.mid) > 0 {
		t.Error("an empty mask has a contour")
	}
}
