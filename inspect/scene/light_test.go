package scene

import (
	"bytes"
	"math"
	"testing"
)

func TestFallOffAcrossTheCard(t *testing.T) {
	for _, l := range []Light{{FallOff: 3, FallOffDeg: 30}, {LampShare: 1, ElevationDeg: 60, HalfDeg: 10, FallOff: 3, FallOffDeg: 30}} {
		r := l.ready(32, 24)
		low, high := math.Inf(1), 0.0
		for _, x := range []float64{-16, 16} {
			for _, y := range []float64{-12, 12} {
				e := r.onCard(x, y)[1]
				low, high = math.Min(low, e), math.Max(high, e)
			}
		}
		if math.Abs(high/low-3) > 1e-9 {
			t.Errorf("corners %.3f to %.3f, want 3:1", low, high)
		}
		if up := r.onCard(16, -12)[1]; up != high {
			t.Errorf("brightest corner %.3f, the upper right one is %.3f", high, up)
		}
	}
}

// A lamp's rays add up to a unit irradiance on the card, and its face seen in a
// mirror adds up to the same over all directions.
func TestLampIrradiance(t *testing.T) {
	r := OneLamp(20, 40, 0).ready(30, 20)
	sum := 0.0
	for _, ray := range r.rays {
		sum += ray.strength * ray.to.z
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("rays add up to %v", sum)
	}
	const n = 400000
	seen := 0.0
	for i := range n {
		u, v := fibonacci(i, n)
		s, c := math.Sincos(2 * math.Pi * v)
		flat := math.Sqrt(1 - u*u)
		// (π L) cosθ/π over the hemisphere
		seen += r.mirrored(vec{flat * c, flat * s, u}, 3) * u * 2 / n
	}
	if math.Abs(seen-1) > 0.02 {
		t.Errorf("the lamp's face adds up to %.3f", seen)
	}
}

// The card's chromaticity is the light's; a camera left at neutral takes it out.
func TestCardIsNeutral(t *testing.T) {
	s := plainBall(6, 0.1)
	s.Light = Softbox(40, 3000)
	img, _ := Render(s)
	if c := img.NRGBAAt(150, 20); math.Abs(float64(c.R)-float64(c.G)) > 1 || math.Abs(float64(c.B)-float64(c.G)) > 1 {
		t.Errorf("card is %v, want neutral", c)
	}
	if rgb := kelvinRGB(3000); !(rgb[0] > 1.5*rgb[1] && rgb[2] < 0.6*rgb[1]) {
		t.Errorf("3000 K is %v, want warm", rgb)
	}
}

// A twin with only the lamp moved shows the same piece at the same place.
func TestLampMovedPair(t *testing.T) {
	s := Spec{Width: 400, Height: 300, MMPerPx: 0.06, Card: &Card{}, Light: OneLamp(30, 45, 0), Pieces: []Piece{demoPiece()}}
	a, ta := Render(s)
	s.Light.AzimuthDeg = 150
	b, tb := Render(s)
	if !bytes.Equal(ta.Mask.Pix, tb.Mask.Pix) {
		t.Error("the mask moves with the lamp")
	}
	if bytes.Equal(a.Pix, b.Pix) {
		t.Error("the photo does not change with the lamp")
	}
}
