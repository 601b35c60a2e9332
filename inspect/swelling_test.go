package inspect

import (
	"math"
	"testing"
)

// A bent plane leaves nothing beside itself; u³ on a grid of −1, 0, 1 is u, and on
// −2 to 2 leaves 14.4 beside 3.4·u in each row: Σu⁶ − (Σu⁴)²/Σu² = 130 − 34²/10.
func TestTrendBeside(t *testing.T) {
	var m bends
	var bent, cubic trend
	for v := -2.0; v <= 2; v++ {
		for u := -2.0; u <= 2; u++ {
			b := bend(u, v)
			m.add(&b)
			bent.add(3-u+2*v+0.5*u*u-u*v+4*v*v, &b)
			cubic.add(u*u*u, &b)
		}
	}
	if !m.factor() {
		t.Fatal("25 places do not fix a bent plane")
	}
	if got := bent.beside(&m); got > 1e-9 {
		t.Errorf("a bent plane leaves %g beside itself", got)
	}
	if got := cubic.beside(&m); math.Abs(got-5*14.4) > 1e-9 {
		t.Errorf("u³ leaves %g, want 72", got)
	}
}

// A tone that changes evenly with tilt comes back where a place is left out: a
// soap film over an even frame is even (Laplace's equation).
func TestTiltsLeftOutAreFilled(t *testing.T) {
	const n = 81
	r := &relit{w: n, h: n, cell: 0.08, at: make([]surface, n*n)}
	for i := range r.at {
		x, y := float64(i%n-n/2)/40, float64(i/n-n/2)/40
		if x*x+y*y > 0.8 {
			continue
		}
		z := math.Sqrt(1 - x*x - y*y)
		// both steps of the grid and cells are so that each tilt shows somewhere
		gx, gy := float64(tilt(x))/(tilts-1)*2-1, float64(tilt(y))/(tilts-1)*2-1
		r.at[i] = surface{on: true, z: 3.2 * z, n: vec{x, y, z}, seen: [3]float32{float32(gx), float32(gy), float32(gx - 2*gy)}}
	}
	b := swelling{x: n / 2, y: n / 2, wide: 1.6, form: rise}
	red, green, blue := r.without(b).look(vec{0.05, -0.1, math.Sqrt(1 - 0.05*0.05 - 0.1*0.1)})
	got := [3]float32{red, green, blue}
	for k, want := range [3]float64{0.05, -0.1, 0.25} {
		if math.Abs(float64(got[k])-want) > 0.002 {
			t.Errorf("colour %d left out comes back as %.4f, want %.4f", k, got[k], want)
		}
	}
}
