package inspect

import (
	"math"
	"testing"

	"jigloupe/inspect/scene"
)

// Bare metal that only one of two lamps lights is not passed in silence: it is a bare
// spot or a doubtful one, and the coat beside it and on a whole head is neither. What
// the card shows of the lamps spans most of the change from 6500 to 2800 K, by Planck's
// law for 610, 550 and 465 nm 1.09 along lampTint's axis.
func TestBareInLightOfTwoColours(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		coat scene.Coat
		lamp scene.Light
		bare bool
	}{
		{"orange, bare on the lamp's side", marigold, scene.Window(20), true},
		{"shifting, whole", heather, scene.Window(40), false},
	} {
		spec := onCard(scene.Ball, c.coat)
		spec.Width, spec.Height, spec.MMPerPx, spec.Light = 600, 480, 0.033, c.lamp
		if c.bare {
			spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -1, AroundDeg: 60}, WidthMM: 1.3, SoftMM: 0.2}}
		}
		ph, l, truth := measured(t, spec)
		if !l.lamps.mixed() || l.lamps.warm-l.lamps.cool > 1.15 {
			t.Errorf("%s: the lamps are seen from %.2f to %.2f", c.name, l.lamps.cool, l.lamps.warm)
		}
		near, stray := "", 0
		for _, s := range append(ph.BareSpots, ph.DarkSpots...) {
			t.Logf("%s: %.2f mm %s shows %s", c.name, *s.DiameterMM, s.Place, s.Shows)
			if len(truth.BareSpots) > 0 && math.Hypot(s.X-truth.BareSpots[0].X, s.Y-truth.BareSpots[0].Y) < 10 {
				near = s.Shows
			} else if *s.DiameterMM >= 0.5 {
				stray++
			}
		}
		if (near != "") != c.bare || stray > 0 {
			t.Errorf("%s: shown there: %q, %d other places", c.name, near, stray)
		}
	}
}

// One lamp, whatever it lights and however the coat colours the shadow, is one colour.
func TestOneColourIsOne(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Width, spec.Height, spec.MMPerPx, spec.Light = 600, 480, 0.033, scene.OneLamp(200, 45, 4000)
	if _, l, _ := measured(t, spec); l.lamps.mixed() {
		t.Errorf("seen as two colours, %.2f to %.2f", l.lamps.cool, l.lamps.warm)
	}
}

// Neutral light of any mix of the lamps becomes neutral, and what is beyond them
// stays tinted by what is left, as far as the axis is a unit vector: to its two digits.
func TestWhiten(t *testing.T) {
	two := lamps{-0.2, 0.8}
	tinted := func(warm float64) [3]float64 {
		return [3]float64{math.Exp(warm * warmRed), 1, math.Exp(warm * warmBlue)}
	}
	for _, c := range []struct{ warm, left float64 }{{-0.2, 0}, {0, 0}, {0.5, 0}, {0.8, 0}, {1.1, 0.3}, {-0.5, -0.3}} {
		q := tinted(c.warm)
		white := two.whiten(q)
		mean := mean3(q)
		for k := range q {
			q[k] *= white[k]
		}
		warm, _ := lampTint(float32(math.Log(q[0]/q[1])), float32(math.Log(q[2]/q[1])))
		if math.Abs(float64(warm)-c.left) > 0.005 || math.Abs(mean3(q)-mean) > 1e-9 {
			t.Errorf("warm by %g: %.4f left, want %g; level %.3f of %.3f", c.warm, warm, c.left, mean3(q), mean)
		}
	}
	if white := (lamps{}).whiten([3]float64{0.9, 0.5, 0.1}); white != [3]float64{1, 1, 1} {
		t.Errorf("light of one colour is changed by %v", white)
	}
}
