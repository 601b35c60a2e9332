package scene

import (
	"math"
	"testing"
)

// A ball of radius r lying on the card hides (r/D)³ of an even dome from a place
// at distance d of its foot, D² = d² + r²: the form factor of a sphere wholly
// over the horizon, (r/D)² times the cosine at the place.
func TestShadowOfABall(t *testing.T) {
	const r = 3.0
	f := newFrame(400, 300, 0.1)
	l := Tent(0).ready(40, 30)
	c := newCastShadow([]rod{{vec{0, 0, r}, vec{0, 0, r}, r}}, l, f)
	for _, d := range []float64{0.5, 1, 2, 3, 4, 6, 9} {
		got, _ := c.at(d*0.8, d*0.6)
		want := 1 - math.Pow(r/math.Hypot(d, r), 3)
		if math.Abs(got-want) > 0.02 {
			t.Errorf("%v mm from the foot %.3f of the dome is open, want %.3f", d, got, want)
		}
	}
}

// The shadow of a lamp falls on the side away from it, at height/tan(elevation).
func TestShadowFallsAway(t *testing.T) {
	f := newFrame(400, 300, 0.1)
	l := OneLamp(90, 45, 0).ready(40, 30) // above the photo's top
	c := newCastShadow([]rod{{vec{0, 0, 4}, vec{0, 0, 4}, 0.8}}, l, f)
	if _, lamp := c.at(0, 4); lamp > 0.05 {
		t.Errorf("%.2f of the lamp reaches the middle of the shadow", lamp)
	}
	for _, y := range []float64{-4, 0, 7} {
		if _, lamp := c.at(0, y); lamp < 0.95 {
			t.Errorf("at y = %v only %.2f of the lamp arrives", y, lamp)
		}
	}
}
