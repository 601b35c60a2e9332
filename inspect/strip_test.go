package inspect

import (
	"image"
	"math/rand/v2"
	"testing"

	"jigloupe/calib/cv"
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
		b := between(&here, &one, &other, false)
		if b.holds(stripMiddle) != c.middle || b.holds(stripEdge) != c.edge {
			t.Errorf("%s: middle %v, edge %v, want %v and %v; %+v", c.name, b.holds(stripMiddle), b.holds(stripEdge), c.middle, c.edge, b)
		}
		if coated(&here, &one, &other) && c.edge {
			t.Errorf("%s: is passed over", c.name)
		}
	}
}

// What is passed over as coat would be no strip of any kind, and most of a coat is.
func TestCoatedIsNoStrip(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	colour := func() (c [3]float32) {
		for k := range c {
			c[k] = 1.5 * random.Float32()
		}
		return c
	}
	for range 20000 {
		flank, other := colour(), colour()
		here := flank
		for k := range here {
			other[k] = flank[k] + 0.2*(other[k]-flank[k])
			here[k] = random.Float32()*flank[k] + 0.5*random.Float32()
		}
		mid, a, b := shadeOf(here), shadeOf(flank), shadeOf(other)
		f := between(&mid, &a, &b, true)
		if strip := f.holds(stripMiddle) || f.holds(stripEdge) || f.holds(stripBand) || f.holds(baseBand); strip && coated(&mid, &a, &b) {
			t.Fatalf("%v between %v and %v is passed over: %+v", here, flank, other, f)
		}
		if !coated(&a, &a, &a) {
			t.Fatalf("%v is not passed over", flank)
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

// A wide band on a coat too pale for a narrow strip.
func TestBand(t *testing.T) {
	flank := shadeOf([3]float32{2.9, 2.8, 3.7})
	for _, c := range []struct {
		name string
		here [3]float32
		want bool
	}{
		{"metal", [3]float32{0.4, 0.4, 0.41}, true},
		{"metal that mirrors a lamp", [3]float32{0.88, 0.87, 0.9}, true},
		{"the coat in shadow that mirrors a dim room", [3]float32{0.34, 0.33, 0.42}, false},
		{"the coat half in shadow", [3]float32{1.4, 1.35, 1.8}, false},
		{"gloss", [3]float32{2.4, 2.4, 2.45}, false},
	} {
		here := shadeOf(c.here)
		if b := between(&here, &flank, &flank, false); b.holds(stripBand) != c.want || b.holds(stripMiddle) {
			t.Errorf("%s: band %v, want %v; %+v", c.name, b.holds(stripBand), c.want, b)
		}
	}
}

// A band 18 px wide, about the least that the narrow strips' flanks pass over, is marked
// between flanks of the collar, and not beside the body.
func TestBandOnCollar(t *testing.T) {
	const w, mid = 120, 60
	for _, body := range []int{0, mid + 1} { // px, from where on it is the body
		l, _ := spotOn([3]float32{}, 0, 0, 0)
		l.shape = &shape{w: w, h: w, head: image.NewGray(image.Rect(0, 0, w, w)), depth: flatPlane(w, 90), clear: flatPlane(w, 90), radius: 100, gauge: 4}
		l.angles, l.toCollar, l.collar = flatPlane(w, 30), flatPlane(w, 0), image.NewGray(l.shape.head.Rect)
		l.tones = &tones{w: w, h: w, level: [3]cv.Plane{flatPlane(w, 2.9), flatPlane(w, 2.8), flatPlane(w, 3.7)}}
		for i := range l.collar.Pix {
			x, y := i%w-mid, i/w-mid
			if body == 0 || i%w < body {
				l.collar.Pix[i] = 255
			}
			if x*x < 9*9 && y*y < 40*40 {
				for k := range l.tones.level {
					l.tones.level[k].Pix[i] = 0.5
				}
			}
		}
		strips, err := l.bareStrips()
		if err != nil {
			t.Fatal(err)
		}
		if found := strips.Pix[mid*w+mid] != 0; found != (body == 0) {
			t.Errorf("the body begins at %d px: found %v", body, found)
		}
	}
}

// A wide bare lip may not pass in silence on a white coat, where the metal parts the
// collar's end from the head.
func TestWideBareLip(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Football, scene.Coat{Pigment: scene.RGB{0.8, 0.8, 0.8}, HalfUM: 16, BuildUM: 90})
	spec.Width = 1000
	p := &spec.Pieces[0]
	p.X, p.Wire.ShankMM, p.Wire.GapMM = -7, 7, 6
	for _, bare := range []bool{false, true} {
		if bare {
			p.Bare = []scene.Bare{{At: scene.Place{AlongMM: p.Head.LipMM(0), Facing: true}, WidthMM: 0.5, ArcDeg: 100, SoftMM: 0.1}}
		}
		ph, _, truth := measured(t, spec)
		seen := 0
		for _, s := range append(ph.BareSpots, ph.DarkSpots...) {
			if *s.DiameterMM > 0.5 {
				seen++
			}
		}
		if seen != len(truth.BareSpots) {
			t.Errorf("bare %v: %d spots are seen, %d are there", bare, seen, len(truth.BareSpots))
		}
	}
}

// A band of a white base on a vivid coat is lighter than both its flanks, and only counts
// where the base may be.
func TestBaseBand(t *testing.T) {
	flank := shadeOf([3]float32{2.2, 1, 0.4})
	for _, c := range []struct {
		name        string
		here        [3]float32
		light, want bool
	}{
		{"white base", [3]float32{4.7, 4.7, 4.6}, true, true},
		{"white, but no such base", [3]float32{4.7, 4.7, 4.6}, false, false},
		{"a lamp in the coat's gloss", [3]float32{4.7, 3.5, 2.9}, true, false},
	} {
		here := shadeOf(c.here)
		if b := between(&here, &flank, &flank, c.light); b.holds(baseBand) != c.want {
			t.Errorf("%s: %v, want %v; %+v", c.name, b.holds(baseBand), c.want, b)
		}
	}
}
