package inspect

import (
	"fmt"
	"image"
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// An eye that stands slantwise before the head, half beyond its outline, is known with its
// stem: none of it is called bare or doubtful.
func TestEyeBeforeTheHead(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		style scene.Style
		coat  scene.Coat
		roll  float64
		metal scene.RGB
	}{
		{scene.Ball, heather, 40, scene.RGB{}},
		{scene.Ball, heather, 131, scene.RGB{}},
		{scene.Ball, marigold, 129, scene.RGB{0.9, 0.62, 0.25}},
	} {
		t.Run(fmt.Sprint(c.style, c.roll), func(t *testing.T) {
			t.Parallel()
			spec := onCard(c.style, c.coat)
			spec.Pieces[0].RollDeg, spec.Pieces[0].Wire.Metal, spec.Pieces[0].Wire.RingMM = c.roll, c.metal, 1.6
			ph, _, truth := measured(t, spec)
			eye := truth.Eyes[0]
			if ph.EyeAt == nil || math.Hypot(ph.EyeAt.X-eye.X, ph.EyeAt.Y-eye.Y)*spec.MMPerPx > 0.5 {
				t.Errorf("eye at %v, it is at %.0f, %.0f", ph.EyeAt, eye.X, eye.Y)
			}
			for _, s := range append(ph.BareSpots, ph.DarkSpots...) {
				if d := math.Hypot(s.X-eye.X, s.Y-eye.Y) * spec.MMPerPx; d < 2.5 && *s.DiameterMM > 0.3 {
					t.Errorf("%.2f mm, %s, %.1f mm from the eye's middle", *s.DiameterMM, s.Shows, d)
				}
			}
		})
	}
}

// A streak of light along an eye on edge parts it in two spots; a spot farther off than
// wire is thick is none of it.
func TestEyeInTwoParts(t *testing.T) {
	const n = 200
	l := &look{
		patch: patch{Linear: &calib.Linear{Width: n, Height: n, Step: 1}},
		shape: &shape{w: n, h: n, radius: 80, head: image.NewGray(image.Rect(0, 0, n, n))}, axis: axis{x: n / 2, y: n / 2, dx: 1},
	}
	block := func(x0, x1 int) (sp spot) {
		for y := 90; y < 110; y++ {
			for x := x0; x < x1; x++ {
				sp.pixels = append(sp.pixels, y*n+x)
			}
		}
		sp.blob.X, sp.blob.Y = float64(x0+x1)/2, n/2
		return sp
	}
	for _, c := range []struct{ apart, want int }{{6, 1200}, {14, 800}} {
		e := eye{grid: l.patch}
		e.behind(l, bareness{level: make([]levels, n*n)}, []spot{block(60, 100), block(100+c.apart, 120+c.apart)})
		if len(e.covers) != c.want {
			t.Errorf("%d px apart: the eye covers %d px, want %d", c.apart, len(e.covers), c.want)
		}
	}
}

// A clear ring among the collar's lips must be clearer than the eye itself.
func TestOnCollar(t *testing.T) {
	n := &eyeLook{x: 50, y: 50, radius: 30, hook: [2]float64{1, 0}}
	for _, c := range []struct {
		x, y float64
		want bool
	}{{50, 0, false}, {75, 5, false}, {85, 50, true}, {90, 75, true}, {10, 50, false}} {
		if got := n.onCollar(&ring{x: c.x, y: c.y}); got != c.want {
			t.Errorf("at %g, %g: %v", c.x, c.y, got)
		}
	}
}
