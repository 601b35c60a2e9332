package inspect

import (
	"fmt"
	"image"
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
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

// The stem that an eye stands on leans as its hook is bent, and is no thicker than wire.
func TestLeaningStem(t *testing.T) {
	const n = 200
	for _, c := range []struct {
		name string
		lean float64 // degrees
		wide int     // px
		want bool
	}{
		{"square to the hook", 0, 8, true},
		{"as the hook's bend", 25, 8, true},
		{"towards the tip", -25, 8, true},
		{"more than a hook is bent", 60, 8, false},
		{"wider than wire", 0, 40, false},
	} {
		l := &look{
			patch: patch{Linear: &calib.Linear{Width: n, Height: n, Step: 1}},
			shape: &shape{w: n, h: n, radius: 80, head: image.NewGray(image.Rect(0, 0, n, n))}, axis: axis{x: n / 2, y: 150, dx: 1},
		}
		sin, cos := math.Sincos(c.lean * math.Pi / 180)
		x, y := int(100+31*sin), int(40+31*cos)
		var sp spot
		for dy := -4; dy < 4; dy++ {
			for dx := -c.wide / 2; dx < c.wide/2; dx++ {
				sp.pixels = append(sp.pixels, (y+dy)*n+x+dx)
			}
		}
		sp.blob.X, sp.blob.Y = float64(x), float64(y)
		e := eye{ring: &ring{x: 100, y: 40, long: 20, half: 5, flat: 1}, grid: l.patch}
		if got := e.covered(l, sp); got != c.want {
			t.Errorf("%s: covered %v", c.name, got)
		}
	}
}

// Of rings that chance may have made the one that is metal before the coat is the eye.
func TestRingOfMetal(t *testing.T) {
	const n = 100
	wire := ring{x: 50, y: 50, long: 20, half: 5, flat: 1}
	for _, c := range []struct {
		name     string
		metal    func(x, y float64) bool
		required bool
	}{
		{"coat", func(_, _ float64) bool { return false }, false},
		{"wire before the coat", func(x, y float64) bool { return wire.inside(x, y) > 1 && wire.outside(x, y) < 1 }, true},
		{"half of it", func(x, y float64) bool { return wire.inside(x, y) > 1 && wire.outside(x, y) < 1 && x < 50 }, false},
		{"edges in a wide bare spot", func(_, _ float64) bool { return true }, false},
	} {
		l := &look{patch: patch{Linear: &calib.Linear{Width: n, Height: n, Step: 1}}, shape: &shape{w: n, h: n, radius: 80, head: image.NewGray(image.Rect(0, 0, n, n))}}
		b := bareness{neutral: flatPlane(n, 0.05), opacity: flatPlane(n, 1), limit: flatPlane(n, 0.6)}
		for i := range l.shape.head.Pix {
			l.shape.head.Pix[i] = 255
			if c.metal(float64(i%n), float64(i/n)) {
				b.neutral.Pix[i], b.opacity.Pix[i] = 0.9, 0
			}
		}
		e := eye{unsure: []ring{{x: 30, y: 30, long: 10, half: 2, flat: 1, clear: 0.6}, wire}, grid: l.patch}
		if r := e.ofMetal(l, b, nil); (r != nil) != c.required {
			t.Errorf("%s: %v", c.name, r != nil)
		}
		for _, at := range []struct {
			x, y  int
			found bool
		}{{50, 50, c.required}, {50, 10, false}} { // within the ring, and outside of it
			l.axis = axis{x: 50, y: 50, dx: 1}
			b.level = make([]levels, n*n)
			bar := spot{blob: cv.Blob{X: float64(at.x), Y: float64(at.y)}}
			for y := at.y - 5; y < at.y+5; y++ {
				for x := at.x - 20; x < at.x+20; x++ {
					bar.pixels = append(bar.pixels, y*n+x)
				}
			}
			if r := e.ofMetal(l, b, []spot{bar}); (r != nil) != at.found {
				t.Errorf("%s, with a bar at %d, %d: %v", c.name, at.x, at.y, r != nil)
			}
		}
	}
}
