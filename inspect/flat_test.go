package inspect

import (
	"math"
	"slices"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// A coin seen face on has the outline of a ball; what its tones do over its face tells them
// apart. Taken for a ball, its angles are off by 20° on average.
func TestFlatHead(t *testing.T) {
	t.Parallel()
	dark := scene.Coat{Flake: scene.Aluminium(), FlakeShare: 0.25, Tint: scene.RGB{0.1, 0.05, 0.15}, Pigment: scene.RGB{0.02, 0.01, 0.02}, Sparkle: 0.4}
	for _, c := range []struct {
		name  string
		style scene.Style
		coat  scene.Coat
		light scene.Light
		flat  bool
	}{
		{"colour shift, coin", scene.Coin, heather, scene.Tent(5600), true},
		{"plain, coin under a softbox", scene.Coin, marigold, scene.Softbox(40, 5000), true},
		{"colour shift, ball", scene.Ball, heather, scene.Tent(5600), false},
		{"plain, ball under a softbox", scene.Ball, marigold, scene.Softbox(40, 5000), false},
		{"dark, ball", scene.Ball, dark, scene.Tent(5600), false},
		{"dark, football", scene.Football, dark, scene.Tent(5600), false},
		{"colour shift, bullet", scene.Bullet, heather, scene.Tent(5600), false},
	} {
		spec := onCard(c.style, c.coat)
		spec.Light = c.light
		p, truth := shoot(t, spec)
		l, err := lookAt(p, calib.CardReflectance)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		l.flatten()
		off, n := 0.0, 0
		for q, a := range l.angles.Pix {
			x, y := l.Rect.Min.X+q%l.Width*l.Step, l.Rect.Min.Y+q/l.Width*l.Step
			if k := truth.At(x, y); a >= 0 && !l.onCollar(q) && k >= 0 && truth.ViewingDeg[k] < 60 {
				off, n = off+math.Abs(float64(a-truth.ViewingDeg[k])), n+1
			}
		}
		off /= float64(n)
		t.Logf("%s: rounded over %.2f of the radius, viewing angle off by %.1f°", c.name, l.contour.rounded, off)
		if flat := l.contour.rounded < 1; flat != c.flat {
			t.Errorf("%s: flat is %v, want %v", c.name, flat, c.flat)
		}
		if c.style != scene.Football && off > 5 { // a football's outline doesn't tell its angles; what a travel curve in bins of 10° can bear
			t.Errorf("%s: viewing angle off by %.1f°, want 5° at most", c.name, off)
		}
	}
}

// A lump on a coin's face is seen only if the face is known to be flat, and under even light,
// where it looks like a ring, only if no mark of that form is thought of.
func TestLumpOnCoin(t *testing.T) {
	t.Parallel()
	for _, light := range []scene.Light{scene.Softbox(40, 5000), scene.Tent(5600)} {
		spec := onCard(scene.Coin, heather)
		spec.Light = light
		spec.Pieces[0].Relief = []scene.Relief{{Kind: scene.Lump, At: scene.Place{AlongMM: -0.8, AroundDeg: 15, Facing: true}, WidthMM: 2, HeightMM: 0.5}}
		ph, l, truth := measured(t, spec)
		m := truth.Relief[0]
		t.Logf("rounded over %.2f of the radius; %d faults, %d doubtful", l.contour.rounded, len(ph.ReliefFaults), len(ph.DoubtfulRelief))
		if !slices.ContainsFunc(slices.Concat(ph.ReliefFaults, ph.DoubtfulRelief), func(f ReliefFault) bool {
			return f.Kind == "lump" && math.Hypot(f.X-m.X, f.Y-m.Y)*spec.MMPerPx < m.WidthMM/2
		}) {
			t.Errorf("a lump on a coin's face is neither found nor doubted under %+v", light)
		}
	}
}

// On the axis itself, where rounding makes the height more than the radius, the surface has a
// normal, too: straight up.
func TestNormalOnTheAxis(t *testing.T) {
	for k := range 1000 {
		c := contour{mid: []float64{0}, square: []float64{100 + 0.37*float64(k)}, slope: []float64{0}, rounded: 1}
		if n := c.normal(0, 0); !(n.z > 0.999) {
			t.Fatalf("at a radius of √%v: %+v", c.square[0], n)
		}
	}
}
