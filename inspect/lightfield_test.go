package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// The light on the card, where the head hides it and around, must be what the same
// light makes of a bare card: under fall-off, vignetting, light of two colours, on
// tables, in dust and in the piece's own shadow. Two percent are 0.8 CIELAB units of
// lightness at L* 50, and about the residual of the card, which the uncertainty of
// colours begins with. Vignetting by half, and cards that fill less than half of the
// frame, leave the least to go by.
func TestLightField(t *testing.T) {
	t.Parallel()
	base := func(change func(*scene.Spec)) scene.Spec {
		s := onCard(scene.Ball, heather)
		s.Width, s.Height, s.MMPerPx = 640, 480, 0.05
		change(&s)
		return s
	}
	small := &scene.Card{WidthMM: 26, HeightMM: 20, X: -3, TurnDeg: 12}
	for _, c := range []struct {
		name string
		spec scene.Spec
	}{
		{"even", base(func(s *scene.Spec) {})},
		{"falling off 3:1", base(func(s *scene.Spec) { s.Light.FallOff, s.Light.FallOffDeg = 3, 30 })},
		{"one lamp falling off 3:1", base(func(s *scene.Spec) { s.Light = scene.OneLamp(200, 45, 4000); s.Light.FallOff = 3 })},
		{"vignetting by half", base(func(s *scene.Spec) { s.Camera.Vignette = 0.5 })},
		{"warm and cool across the card", base(func(s *scene.Spec) { s.Light = scene.Window(20); s.Light.FallOff = 3 })},
		{"own shadow of a bare lamp", base(func(s *scene.Spec) { s.Light = scene.OneLamp(120, 30, 4000) })},
		{"card turned, on wood", base(func(s *scene.Spec) { s.Card, s.Table = small, scene.WoodTable })},
		{"card partly out of frame, on blue", base(func(s *scene.Spec) {
			s.Card, s.Table = &scene.Card{WidthMM: 40, HeightMM: 30, X: -10, Y: 6, TurnDeg: -9}, scene.BlueTable
		})},
		{"on a white table", base(func(s *scene.Spec) { s.Card, s.Table = small, scene.WhiteTable })},
		{"on a dark table", base(func(s *scene.Spec) { s.Card, s.Table = small, scene.DarkTable })},
		{"dusty", base(func(s *scene.Spec) { s.Specks, s.Hairs = 300, 30 })},
		{"off white balance", base(func(s *scene.Spec) { s.Camera.Gains = scene.RGB{1.4, 1, 0.7} })},
		{"all at once", base(func(s *scene.Spec) {
			s.Light = scene.Window(200)
			s.Light.FallOff = 2.5
			s.Card, s.Table, s.Specks, s.Hairs = small, scene.WoodTable, 150, 10
			s.Camera.Vignette = 0.2
		})},
	} {
		p, truth := shoot(t, c.spec)
		found, err := lookAt(p, calib.CardReflectance)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		card := found.card
		bare := c.spec
		bare.Pieces, bare.Specks, bare.Hairs, bare.Card = nil, 0, 0, &scene.Card{}
		q, _ := shoot(t, bare)
		const step = 20
		lin := q.Linear(image.Rect(0, 0, q.Width, q.Height), step)
		var overHead, overCard, n, m float64
		worst := 0.0
		for y := range lin.Height {
			for x := range lin.Width {
				cx, cy := (x*step)+step/2, y*step+step/2
				want := lin.At(x, y)
				off := 0.0
				for k, e := range card.Light(float64(cx), float64(cy)) {
					off = max(off, math.Abs(e*calib.CardReflectance/float64(want[k])-1))
				}
				if image.Pt(cx, cy).In(truth.Box) {
					overHead += off
					n++
				}
				if card.Inside[cy/card.Reduced.Step*card.Reduced.Width+cx/card.Reduced.Step] {
					overCard += off
					m++
					worst = max(worst, off)
				}
			}
		}
		t.Logf("%s: off by %.2f %% at the head, %.2f %% on the card, %.1f %% at most; residual %.2f %%", c.name, 100*overHead/n, 100*overCard/m, 100*worst, 100*card.Residual)
		if !(overHead/n < 0.025 && overCard/m < 0.012) {
			t.Errorf("%s: the light is off by %.2f %% at the head, want 2.5, by %.2f %% on the card, want 1.2", c.name, 100*overHead/n, 100*overCard/m)
		}
		if c.name == "even" && card.Unevenness > 0.04 {
			t.Errorf("even light passes for uneven by %.0f %%", 100*card.Unevenness)
		}
		if c.name == "falling off 3:1" && math.Abs(card.Unevenness-2.0/3) > 0.04 {
			t.Errorf("light falling off 3:1 passes for uneven by %.0f %%", 100*card.Unevenness)
		}
	}
}
