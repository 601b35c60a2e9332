package inspect

import (
	"math"
	"testing"
)

// An unknown tone curve makes colours and travel unsure, but no travel of a colour
// that has none; photos of one camera do not average it out.
func TestToneDoubt(t *testing.T) {
	photo := func(slope float64, tone bool) *Travel {
		p := &Travel{Light: "diffuse"}
		var within []TravelBin
		for deg := 5.0; deg < 80; deg += 10 {
			b := TravelBin{ViewingDeg: deg, L: 70 - slope*deg, A: 20, B: 10, Px: 1000, U: 0.5, NoiseU: 0.5}
			w := b
			if tone {
				b.addTone()
				w.ToneU = b.ToneU
			}
			p.Curve, within = append(p.Curve, b), append(within, w)
		}
		p.summarise(within)
		return p
	}
	flat, sure := photo(0, true), photo(0, false)
	if *flat.U > 1.01**sure.U || flat.Interval[0] != 0 {
		t.Errorf("a colour that does not travel: ± %.2f from %.2f, want ± %.2f from 0", *flat.U, flat.Interval[0], *sure.U)
	}
	if flat.Curve[0].U < 1.5 || sure.Curve[0].U > 0.6 {
		t.Errorf("a light colour is unsure by %.2f, want more than 1.5; by %.2f with a known tone, want 0.5", flat.Curve[0].U, sure.Curve[0].U)
	}
	steep, sure := photo(0.5, true), photo(0.5, false)
	if *steep.U < 2**sure.U || *steep.DeltaE00Max != *sure.DeltaE00Max {
		t.Errorf("travel %.1f ± %.2f, want %.1f and more than ± %.2f", *steep.DeltaE00Max, *steep.U, *sure.DeltaE00Max, 2**sure.U)
	}
	pooled := PoolTravel([]*Travel{steep, steep, steep, steep})
	if a, b := pooled.Curve[0], steep.Curve[0]; math.Abs(a.ToneU-b.ToneU) > 1e-9 || a.U < b.ToneU || a.U > b.U || math.Abs(*pooled.U-*steep.U) > 0.3**steep.U {
		t.Errorf("four photos: %+v, travel ± %.2f; one: %+v, ± %.2f", a, *pooled.U, b, *steep.U)
	}
	if _, u, _ := Apart(steep.Curve[0], flat.Curve[0]); u > 1 {
		t.Errorf("the difference of two coats from one camera is unsure by %.2f, want less than 1", u)
	}
}
