package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib"
)

// A white base that shows through a dark coat is known by its light, where no lamp's mirror
// image is as light: seen slantwise, or far round a collar.
func TestLightSpots(t *testing.T) {
	const side = 80
	band := func(x, y int) bool { return x > 20 && x < 60 && y > 34 && y < 46 }
	for _, c := range []struct {
		name   string
		base   string
		angle  float32
		collar bool
		inside func(x, y int) bool
		light  float32 // of the spot
		edge   float64 // px over which it fades
		want   int
	}{
		{"slantwise", "white", 60, false, disc, 3, 0, 1},
		{"a lamp's image, perhaps", "white", 30, false, disc, 3, 0, 0},
		{"no light base", "black", 60, false, disc, 3, 0, 0},
		{"no lighter than metal", "white", 60, false, disc, 0.7, 0, 0},
		{"a sheen", "white", 60, false, disc, 3, 24, 0},
		{"round a collar", "white", 30, true, band, 3, 0, 1},
		{"a lamp's image on a collar", "white", 30, true, disc, 3, 0, 0},
	} {
		l, b, _ := spotIn(c.inside, levels{pixel: c.light, coat: 0.3, grey: true}, 0.9)
		l.base, l.angles, l.axis = c.base, flatPlane(side, c.angle), axis{x: 40, y: 40, dy: 1}
		if c.collar {
			l.collar = image.NewGray(l.shape.head.Rect)
			for i := range l.collar.Pix {
				if x := i % side; x > 10 && x < 70 {
					l.collar.Pix[i] = 255
				}
			}
			l.toCollar = flatPlane(side, 0)
		}
		for i := range b.level {
			v := &b.level[i]
			v.grey = true
			if away := math.Hypot(float64(i%side-40), float64(i/side-40)) - 10; c.edge > 0 {
				v.pixel = 0.3 + (c.light-0.3)*float32(1-min(max(away/c.edge+0.5, 0), 1))
			}
			l.tones.level[1].Pix[i] = v.pixel
		}
		if got, err := l.lightSpots(b); len(got) != c.want || err != nil {
			t.Errorf("%s: %d spots, %v", c.name, len(got), err)
		}
	}
}

// What is told by its light stays bare on a head where metal can't be told.
func TestLightSpotsAreNotDoubted(t *testing.T) {
	l := &look{patch: patch{Linear: &calib.Linear{Step: 2}}, base: "white"}
	told, dark, area := l.doubted([]BareSpot{{Shows: "white base", AreaPx: 40}, {Shows: "metal", AreaPx: 400}}, nil)
	if len(told) != 1 || len(dark) != 1 || area != 10 || told[0].Shows != "white base" || dark[0].Shows != MetalOrShadow {
		t.Errorf("%v, %v, %d px", told, dark, area)
	}
}
