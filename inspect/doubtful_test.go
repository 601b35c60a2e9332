package inspect

import (
	"image"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// flatPlane is a square plane of one value.
func flatPlane(side int, value float32) cv.Plane {
	p := cv.NewPlane(side, side)
	for i := range p.Pix {
		p.Pix[i] = value
	}
	return p
}

// spotOn is a head with a disc of other colour in its middle, and what is known of
// how bare it is there: nothing of the coat is seen, and part of the disc is surely
// without it.
func spotOn(around [3]float32, level, coat float32, surely float64) (*look, bareness) {
	const w, r = 80, 12
	flat := func(v float32) cv.Plane { return flatPlane(w, v) }
	m := image.NewGray(image.Rect(0, 0, w, w))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	l := &look{patch: patch{&calib.Linear{Width: w, Height: w, Step: 1, Top: make([]uint8, w*w)}, 0.18}, angles: flat(30)}
	l.shape = &shape{w: w, h: w, head: m, lip: image.NewGray(m.Rect), depth: flat(90), clear: flat(90), radius: 100, gauge: 4}
	l.tones = &tones{w: w, h: w, level: [3]cv.Plane{flat(around[0]), flat(around[1]), flat(around[2])}}
	b := bareness{opacity: flat(1), neutral: flat(0), limit: flat(0.96), level: make([]levels, w*w), class: make([]int8, w*w)}
	for i := range b.level {
		x, y := float64(i%w-w/2), float64(i/w-w/2)
		b.level[i] = levels{pixel: coat, coat: coat, own: 0.5}
		if x*x+y*y >= r*r {
			continue
		}
		for k := range l.tones.level {
			l.tones.level[k].Pix[i] = level
		}
		b.opacity.Pix[i], b.neutral.Pix[i], b.level[i] = 0, 0.9, levels{pixel: level, coat: coat}
		if y < -r+2*r*surely {
			b.limit.Pix[i] = 0.8
		}
	}
	return l, b
}

// A colourless place much lighter than a dark coat that only in part lies beyond the
// coat's scatter is metal or gloss: it may not pass in silence.
func TestDoubtfulSpots(t *testing.T) {
	for _, c := range []struct {
		name          string
		level, surely float64
		share, around float32 // without the coat's colour, in it and about it
		want          int
	}{
		{"lighter, and a third of it is sure", 0.5, 0.36, 0.9, 0, 1},
		{"lighter, all within scatter", 0.5, 0, 0.9, 0, 0},
		{"as dark as the coat", 0.15, 0.36, 0.9, 0, 0},
		{"the lamp itself", 3, 0.36, 0.9, 0, 0},
		{"a haze about it, and no colour in it", 0.5, 0.36, 0.95, 0.65, 1},
		{"a haze about it, and some colour in it", 0.5, 0.36, 0.82, 0.65, 0},
	} {
		l, b := spotOn([3]float32{0.2, 0.12, 0.1}, float32(c.level), 0.14, c.surely)
		for i, v := range b.neutral.Pix {
			b.neutral.Pix[i] = c.around
			if v > 0 {
				b.neutral.Pix[i] = c.share
			}
		}
		spots, err := l.doubtfulSpots(b)
		if err != nil || len(spots) != c.want {
			t.Errorf("%s: %d spots, %v; want %d", c.name, len(spots), err, c.want)
		}
	}
}

// On the body a spot that the coat passes over into, here because the coat is as grey
// all around, is gloss as well as metal; one that ends in a vivid coat is metal.
func TestGlossOnTheBody(t *testing.T) {
	for _, c := range []struct {
		name   string
		around [3]float32
		want   int
	}{{"grey all around", [3]float32{0.14, 0.14, 0.14}, glossSpot}, {"red all around", [3]float32{0.25, 0.1, 0.07}, bareSpot}} {
		l, b := spotOn(c.around, 0.5, 0.14, 1)
		spots, err := bareSpots(l, b, false)
		if err != nil || len(spots) != 1 {
			t.Fatalf("%s: %d spots, %v", c.name, len(spots), err)
		}
		if got := l.kind(b, spots[0]); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A bare spot is no more than doubtful on a head that can't be told from metal elsewhere.
func TestDoubtedWhereBlind(t *testing.T) {
	for _, c := range []struct {
		limit      float32 // neutral share from which on the coat is surely missing
		bare, dark int
	}{{0.6, 1, 0}, {0.96, 0, 1}} {
		l, b, sp := spotIn(disc, levels{pixel: 0.5, coat: 0.3, own: 0.05}, 0.97)
		for i := range b.limit.Pix {
			b.limit.Pix[i] = c.limit
		}
		bare, dark, cov := l.coverage(b, []spot{sp}, nil, make([]bool, len(b.level)), 0)
		if len(bare) != c.bare || len(dark) != c.dark || (*cov.BareAreaPct > 0) != (c.bare > 0) {
			t.Errorf("limit %g: %d bare and %d doubtful spots, %.2f %% bare", c.limit, len(bare), len(dark), *cov.BareAreaPct)
		}
	}
}
