package inspect

import (
	"testing"

	"jigloupe/inspect/scene"
)

// What lies between two flanks of one coat, mixed by the model of neutralShare:
// q = a·c + n.
func TestBetweenFlanks(t *testing.T) {
	coat := [3]float32{0.35, 1.3, 1.6}
	mix := func(share, neutral float32) (q [3]float32) {
		for k, c := range coat {
			q[k] = share*c + neutral
		}
		return q
	}
	glossy := mix(2, 2)
	for _, c := range []struct {
		name         string
		here, flank  [3]float32
		middle, edge bool
	}{
		{"the coat itself", coat, coat, false, false},
		{"in shadow", mix(0.2, 0), coat, false, false},
		{"in gloss", mix(0.9, 0.8), coat, false, false},
		{"in the shadow of a lip that mirrors a dim room", mix(0.3, 0.05), coat, false, false},
		{"metal", mix(0, 0.4), coat, true, true},
		{"metal as narrow as its blur", mix(0.35, 0.5), coat, true, true},
		{"its edge", mix(0.55, 0.4), coat, false, true},
		{"metal beside a flank in gloss", mix(0.35, 0.5), glossy, true, true},
		{"another hue on the way", [3]float32{0.52, 0.64, 0.3}, coat, false, false},
		{"metal on a grey coat", [3]float32{0.4, 0.4, 0.4}, [3]float32{0.9, 0.94, 1}, false, false},
	} {
		here, one, other := shadeOf(c.here), shadeOf(coat), shadeOf(c.flank)
		if c.name == "metal on a grey coat" {
			one = other
		}
		b := between(&here, &one, &other)
		if b.holds(stripMiddle) != c.middle || b.holds(stripEdge) != c.edge {
			t.Errorf("%s: middle %v, edge %v, want %v and %v; %+v", c.name, b.holds(stripMiddle), b.holds(stripEdge), c.middle, c.edge, b)
		}
	}
}

// A lip that is bare by a fifth of a millimetre in a blurred photo is found along
// most of what shows of it, 1.6 px to both sides of its 8 for the blur, and no strip on the same head without it.
func TestBareLip(t *testing.T) {
	t.Parallel()
	for name, coat := range map[string]scene.Coat{"colour shift": heather, "plain": marigold} {
		spec := onCard(scene.Football, coat)
		spec.Camera.BlurPx = 1.6
		p := &spec.Pieces[0]
		for _, bare := range []bool{false, true} {
			if bare {
				p.Bare = []scene.Bare{{At: scene.Place{AlongMM: p.Head.LipMM(0), Facing: true}, WidthMM: 0.2, ArcDeg: 100, SoftMM: 0.05}}
			}
			_, l, truth := measured(t, spec)
			strips, err := l.bareStrips()
			if err != nil {
				t.Fatal(err)
			}
			right, wrong := 0, 0
			for i, v := range strips.Pix {
				at := l.toPhoto(float64(i%l.shape.w), float64(i/l.shape.w))
				switch {
				case v == 0:
				case truth.Mask.GrayAt(int(at.X), int(at.Y)).Y == scene.ClassBare:
					right++
				default:
					wrong++
				}
			}
			drawn := 0
			for _, b := range truth.BareSpots {
				drawn += b.AreaPx
			}
			if 5*wrong > 2*drawn || 2*right < drawn {
				t.Errorf("%s: of %d px that are bare %d are found, and %d that are not", name, drawn, right, wrong)
			}
		}
	}
}
