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
