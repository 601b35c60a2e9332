package inspect

import (
	"math"
	"testing"
)

// A groove of known place comes back as the ring of a socket; a smooth ball and one with a
// lump have none.
func TestFindRing(t *testing.T) {
	const u0, v0, radius = 0.6, -0.9, 1.05 // mm
	groove := func(u, v float64) float64 {
		return -0.1 * max(0, 1-math.Abs(math.Hypot(u-u0, v-v0)-radius)/0.12)
	}
	ring, ok, err := litBall(t, groove, none).findRing()
	if err != nil {
		t.Fatal(err)
	}
	// seen from the camera it is a circle, along the surface it is longer across the slope
	n := math.Sqrt(1 - (u0*u0+v0*v0)/sq(3.6))
	if off := math.Hypot((ring.x-50)*0.08-u0, (ring.y-50)*0.08-v0); !ok || off > 0.08 || ring.radius < radius-0.08 || ring.radius > radius/n+0.08 {
		t.Errorf("ring of %.2f mm at %.2f, %.2f mm, want %.2f mm at %.2f, %.2f mm", ring.radius, (ring.x-50)*0.08, (ring.y-50)*0.08, radius, u0, v0)
	}
	for name, stands := range map[string]func(u, v float64) float64{
		"smooth": none,
		"lump":   func(u, v float64) float64 { return 0.4 * sq(max(0, 1-sq(math.Hypot(u-u0, v-v0)/0.9))) },
	} {
		if ring, ok, err := litBall(t, stands, none).findRing(); ok || err != nil {
			t.Errorf("%s: ring of %.2f mm at %.2f, %.2f mm, %v", name, ring.radius, (ring.x-50)*0.08, (ring.y-50)*0.08, err)
		}
	}
}
