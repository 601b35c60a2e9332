package inspect

import (
	"math"
	"testing"

	"jigloupe/inspect/scene"
)

// A white coat has no hue to tell metal by, but is lighter than any metal.
func TestBareSpotOnWhite(t *testing.T) {
	t.Parallel()
	white := scene.Coat{Pigment: scene.RGB{0.8, 0.8, 0.77}, HalfUM: 20}
	for name, light := range map[string]scene.Light{"tent": scene.Tent(5600), "softbox": scene.Softbox(70, 5000)} {
		spec := onCard(scene.Ball, white)
		spec.Light = light
		spec.Width, spec.Height = 1000, 800 // on less card the head is lost under the softbox on the day this is written
		spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -0.5, AroundDeg: 10, Facing: true}, WidthMM: 0.9, SoftMM: 0.1}}
		ph, _, truth := measured(t, spec)
		want, got := truth.BareSpots[0].DiameterMM, 0.0
		for _, s := range ph.BareSpots {
			got = max(got, *s.DiameterMM)
		}
		t.Logf("%s: drawn %.2f mm, found %.2f mm", name, want, got)
		if math.Abs(got-want) > 0.2*want { // the half of a soft edge is where its metal is guessed to be
			t.Errorf("%s: a bare spot of %.2f mm on white comes back as %.2f mm", name, want, got)
		}
	}
}

func TestLevelsTell(t *testing.T) {
	for _, c := range []struct {
		name             string
		v                levels
		tells, bare, mid bool
	}{
		{"white, whole", levels{4, 4.4, 0.1, 0.5, true}, true, false, false},
		{"white, metal", levels{0.4, 4.4, 0.1, 0.5, true}, true, true, true},
		{"white, half covered", levels{2, 4.4, 0.1, 0.5, true}, true, false, true},
		{"white, coloured dirt", levels{0.4, 4.4, 0.1, 0.5, false}, true, false, true},
		{"pewter", levels{0.4, 1, 0.1, 0.5, true}, false, false, false},
		{"pale but scattering", levels{0.4, 2, 0.1, 1, true}, false, false, false},
	} {
		if c.v.tells() != c.tells || c.v.bare() != c.bare || c.v.half() != c.mid {
			t.Errorf("%s: tells %v, bare %v, half %v", c.name, c.v.tells(), c.v.bare(), c.v.half())
		}
	}
}

// A shadow scales a colour; metal shows none.
func TestShaded(t *testing.T) {
	green, white := [3]float64{1.4, 2.2, 1.2}, [3]float64{4.4, 4.4, 4.2}
	for _, c := range []struct {
		name    string
		q, coat [3]float64
		want    bool
	}{
		{"a third of the light", [3]float64{0.47, 0.73, 0.4}, green, true},
		{"metal", [3]float64{0.5, 0.5, 0.5}, green, false},
		{"metal through half a coat", [3]float64{0.6, 0.76, 0.56}, green, false},
		{"white in shadow, with nothing to tell by", [3]float64{0.6, 0.6, 0.57}, white, false},
	} {
		if got := shaded(c.q, c.coat); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
