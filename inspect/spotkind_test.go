package inspect

import (
	"image"
	"testing"

	"jigloupe/calib/cv"
)

// What a spot is goes by its middle, its light and where it lies.
func TestSpotKind(t *testing.T) {
	const side, face = 5, 90 // px from the outline: at the side, on the face
	for _, c := range []struct {
		name                       string
		depth, neutral, level, own float32
		want                       int
	}{
		{"metal at the side", side, 0.97, 0.5, 0.05, bareSpot},
		{"gloss over a dark coat", side, 0.85, 0.5, 0.05, coatSpot},
		{"colourless in shadow", side, 0.97, 0.15, 0.05, darkSpot},
		{"metal on the face under one lamp", face, 0.97, 0.15, 0.05, bareSpot},
		{"half a coat's light left on the face", face, 0.7, 0.5, 0.3, coatSpot},
		{"another colour", face, 1, 0.3, 1, coatSpot},
	} {
		const n = 100
		plane := func(v float32) cv.Plane {
			p := cv.NewPlane(n, 1)
			for i := range p.Pix {
				p.Pix[i] = v
			}
			return p
		}
		l := &look{shape: &shape{w: n, h: 1, head: image.NewGray(image.Rect(0, 0, n, 1)), depth: plane(c.depth), radius: 100}}
		b := bareness{neutral: plane(c.neutral), level: make([]levels, n)}
		sp := spot{}
		for i := range n {
			b.level[i] = levels{pixel: c.level, coat: 0.3, own: c.own}
			sp.pixels = append(sp.pixels, i)
		}
		grey := plane(c.level)
		l.tones = &tones{w: n, h: 1, level: [3]cv.Plane{grey, grey, grey}}
		sp.depth = float64(c.depth)
		if got := l.kind(b, sp); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A spot is the coat on a steeper flank when the coat has its colour at some
// angle, unless it is nearly grey there; metal is not.
func TestTilted(t *testing.T) {
	gold, teal := [3]float64{0.9, 0.7, 0.2}, [3]float64{0.1, 0.35, 0.4}
	for _, c := range []struct {
		name  string
		steep [3]float64 // the coat's colour beyond 40 degrees
		spot  [3]float32
		want  bool
	}{
		{"the coat's other hue", teal, [3]float32{0.08, 0.33, 0.37}, true},
		{"metal", teal, [3]float32{0.33, 0.33, 0.33}, false},
		{"metal, and a coat that turns grey", [3]float64{0.36, 0.33, 0.33}, [3]float32{0.34, 0.33, 0.33}, false},
	} {
		l := &look{tones: &tones{w: 1, h: 1}}
		for k := range l.tones.level {
			l.tones.level[k] = cv.Plane{Width: 1, Height: 1, Pix: []float32{c.spot[k]}}
		}
		b := bareness{neutral: cv.NewPlane(1, 1)}
		for j := range b.coats {
			b.coats[j] = gold
			if j >= angleClass(40) {
				b.coats[j] = c.steep
			}
		}
		if got := b.tilted(l, spot{pixels: []int{0}}, 0); got != c.want {
			t.Errorf("%s: tilted is %v", c.name, got)
		}
	}
}

// Where the body turns away to its collar it is seen as steeply as at its outline,
// however far from the outline that is.
func TestFromEdge(t *testing.T) {
	l := &look{shape: &shape{w: 3, h: 1, depth: cv.Plane{Width: 3, Height: 1, Pix: []float32{40, 50, 5}}}}
	if d := l.fromEdge(1); d != 50 {
		t.Errorf("%.0f px without a collar, want 50", d)
	}
	l.collar, l.toCollar = image.NewGray(image.Rect(0, 0, 3, 1)), cv.Plane{Width: 3, Height: 1, Pix: []float32{4, 9, 20}}
	for i, want := range []float64{4, 9, 5} {
		if d := l.fromEdge(i); d != want {
			t.Errorf("%.0f px beside a collar, want %.0f", d, want)
		}
	}
}
