package inspect

import (
	"math"
	"slices"
	"testing"

	"jigloupe/inspect/scene"
)

// What hangs on the outline comes back with its name and height, on the bright
// side of the head and in its own shadow.
func TestSagsComeBack(t *testing.T) {
	t.Parallel()
	side := scene.Place{AlongMM: -1, AroundDeg: 90, Facing: true}
	byEye, fartherOff := scene.Place{AlongMM: -1.9}, scene.Place{AlongMM: -2.2}
	for _, c := range []struct {
		name   string
		light  scene.Light
		relief scene.Relief
		want   []string
	}{
		{"lump on the side", curveLights[0], scene.Relief{Kind: scene.Lump, At: side, WidthMM: 2, HeightMM: 0.5}, []string{"lump"}},
		{"lump in the shadow", curveLights[1], scene.Relief{Kind: scene.Lump, At: side, WidthMM: 2, HeightMM: 0.5}, []string{"lump"}},
		{"sag on the side", curveLights[0], scene.Relief{Kind: scene.Sag, At: side, WidthMM: 5, HeightMM: 0.6}, []string{"sag"}},
		{"run along the side", curveLights[0], scene.Relief{Kind: scene.Run, At: side, WidthMM: 1.2, LengthMM: 4, HeightMM: 0.4}, []string{"lump", "sag"}},
		{"sag beside the eye", curveLights[0], scene.Relief{Kind: scene.Sag, At: byEye, WidthMM: 4, HeightMM: 0.6}, []string{"lump", "sag"}},
		{"sag beside the eye and its shadow", curveLights[1], scene.Relief{Kind: scene.Sag, At: fartherOff, WidthMM: 4, HeightMM: 0.6}, []string{"lump", "sag"}},
	} {
		spec := onCard(scene.Ball, marigold)
		spec.Light = c.light
		spec.Width, spec.Height = 1000, 800 // with the noise of a smaller photo the sag comes back 0.22 mm too low, 2.2 times its doubt
		spec.Pieces[0].Relief = []scene.Relief{c.relief}
		ph, _, truth := measured(t, spec)
		if ph.Relief.OutlineDeviationMM == nil {
			t.Errorf("%s: the outline was not measured", c.name)
			continue
		}
		mm, u := *ph.Relief.OutlineDeviationMM, *ph.Relief.U
		var kinds []string
		for _, f := range ph.ReliefFaults {
			kinds = append(kinds, f.Kind)
		}
		t.Logf("%s: %.2f mm, found %q, %.2f ± %.2f mm", c.name, truth.OutlineMM, kinds, mm, u)
		if !slices.ContainsFunc(c.want, func(k string) bool { return slices.Contains(kinds, k) }) {
			t.Errorf("%s is found as %q, want %q", c.name, kinds, c.want)
		}
		if math.Abs(mm-truth.OutlineMM) > 2*u {
			t.Errorf("%s stands out %.2f mm, found %.2f ± %.2f mm", c.name, truth.OutlineMM, mm, u)
		}
	}
}

// A bulge whose top is at the end of what is seen may be the start of anything; one
// that has come down on both sides is a bulge, though its foot is hidden.
func TestBulgeBesideAGap(t *testing.T) {
	const r, high, at, wide = 3.5, 0.5, 180.0, 14.0 // mm, mm, degrees, degrees
	for _, c := range []struct {
		name string
		lost float64 // degrees from which on the outline is not trusted
		open bool
	}{{"all seen", 360, false}, {"seen to half its height", at + wide, false}, {"seen a little past its top", at + 8, false}, {"seen to its top", at + 2, true}} {
		var rim []rimPoint
		var away []float64
		for deg := 0.0; deg < 360; deg += 3 {
			h := high * math.Exp(-sq((deg-at)/wide))
			sin, cos := math.Sincos(deg * math.Pi / 180)
			rim = append(rim, rimPoint{x: (r + h) * cos, y: (r + h) * sin, trusted: deg < c.lost || deg > 300})
			away = append(away, h)
		}
		smooth, spread := sways(rim, away)
		found := bulges(rim, away, smooth, believedMM, spread)
		if len(found) != 1 || found[0].open != c.open {
			t.Errorf("%s: %+v, want one, open %v", c.name, found, c.open)
		}
	}
}

// What a casting has on both sides is its form: shoulders, one of them hidden by
// the eye's foot in part, are no bulges; one that has no like is.
func TestCastFormIsNoBulge(t *testing.T) {
	const r = 3.5
	bump := func(deg, at float64) float64 { return math.Exp(-sq((deg - at) / 12)) }
	rise := func(heights ...float64) (left, right float64) {
		f := &film{look: &look{shape: &shape{radius: r}}, mm: 1, root: rimPoint{x: 2 * r}}
		ref := &shapeFit{p: []float64{0, 0, r}}
		var rim []rimPoint
		for deg := 0.0; deg < 360; deg += 3 {
			h := heights[0]*bump(deg, 60) + heights[1]*bump(deg, 300)
			sin, cos := math.Sincos(deg * math.Pi / 180)
			rim = append(rim, rimPoint{x: (r + h) * cos, y: (r + h) * sin, trusted: deg < 45 || deg > 63})
			ref.away = append(ref.away, h)
		}
		smooth, _ := sways(rim, ref.away)
		f.castForm(rim, ref, smooth)
		for k, q := range rim {
			if q.y > 0 && smooth[k] > left {
				left = smooth[k]
			} else if q.y < 0 && smooth[k] > right {
				right = smooth[k]
			}
		}
		return left, right
	}
	// the running median takes 0.15 mm of 0.7
	if left, right := rise(0.7, 0.7); left > 0.3 || right > 0.3 {
		t.Errorf("shoulders on both sides rise by %.2f and %.2f mm", left, right)
	}
	if _, right := rise(0, 0.7); right < 0.5 {
		t.Errorf("a sag on one side, 0.7 mm high, rises by %.2f mm", right)
	}
}

// A bullet's shoulders are its form even where the eye hides one of them, and what
// hangs beside one is no shoulder. The outline is that of a drop, the hull of two
// circles, cut at a right angle to the hook, drawn by bisection.
func TestBulletHasShoulders(t *testing.T) {
	const r = 3.5
	form := []float64{0, 0, r, -1.5 * r, 0, 0.35 * r, 0.5 * r}
	for _, c := range []struct{ height, at float64 }{{0, 0}, {0.5, 70}, {0.5, 110}} {
		f := &film{look: &look{shape: &shape{radius: r}}, mm: 0.025, root: rimPoint{x: 2 * r}}
		f.look.shape.radius = r / f.mm
		var rim []rimPoint
		for deg := 0.0; deg < 360; deg += 2.5 {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			in, out := 0.0, 4*r
			for range 40 {
				if mid := (in + out) / 2; bulletShape.distance(form, mid*cos, mid*sin) < 0 {
					in = mid
				} else {
					out = mid
				}
			}
			in += c.height * math.Exp(-sq((deg-c.at)/14))
			rim = append(rim, rimPoint{x: in * cos, y: in * sin, trusted: deg > 45 && deg < 290}) // the collar, and the eye at one shoulder
		}
		ref := f.reference(rim)
		if ref == nil {
			t.Errorf("%.1f mm at %.0f°: no form fits", c.height, c.at)
			continue
		}
		ref = f.resettle(ref, rim)
		most, least := 0.0, 0.0
		for k, d := range ref.away {
			if rim[k].trusted {
				most, least = max(most, d), min(least, d)
			}
		}
		if ref.name != "bullet" || math.Abs(most-c.height) > 0.1 || least < -0.1 {
			t.Errorf("%.1f mm at %.0f°: a %s, from which the outline is %.2f to %.2f mm away", c.height, c.at, ref.name, least, most)
		}
	}
}

// An eye that shows behind the head is no sag: an edge parts it from the head.
func TestEyeBehindIsNoSag(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		style scene.Style
		coat  scene.Coat
		roll  float64
	}{
		{scene.Ball, marigold, 238},
		{scene.Ball, heather, 232},
		{scene.Bullet, heather, 305},
	} {
		spec := onCard(c.style, c.coat)
		spec.Pieces[0].RollDeg, spec.Pieces[0].Wire.RingMM = c.roll, 1.6
		ph, _, _ := measured(t, spec)
		for _, s := range ph.ReliefFaults {
			if s.HeightMM != nil {
				t.Errorf("%s rolled by %g°: %s %s, %.2f mm", c.style, c.roll, s.Kind, s.Place, *s.HeightMM)
			}
		}
	}
}
