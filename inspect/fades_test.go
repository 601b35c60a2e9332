package inspect

import (
	"image"
	"testing"

	"jigloupe/calib/cv"
)

// A strip across a head 40 px wide, card to its left and right: what a spot in it
// is, goes by what lies about it.
func TestFades(t *testing.T) {
	teal, grey, olive := [3]float32{0.08, 0.2, 0.2}, [3]float32{0.15, 0.15, 0.15}, [3]float32{0.2, 0.2, 0.08}
	light, card := [3]float32{0.6, 0.6, 0.6}, [3]float32{0.9, 0.9, 0.9}
	for _, c := range []struct {
		name        string
		left, right [3]float32 // of the spot's middle, on the head
		spot        [3]float32
		from, to    int // px from the head's left edge
		fades       bool
	}{
		{"metal in shadow", teal, teal, grey, 14, 20, false},
		{"a coat that stays grey on one side", grey, teal, grey, 14, 20, true},
		{"metal between two hues", olive, teal, grey, 14, 20, false},
		{"grey as the coat, and darker", light, light, grey, 0, 6, true},
	} {
		const w, h, first, last = 100, 30, 30, 70
		s := &shape{w: w, h: h, head: image.NewGray(image.Rect(0, 0, w, h)), depth: cv.NewPlane(w, h)}
		l := &look{shape: s, tones: &tones{w: w, h: h}}
		for k := range l.tones.level {
			l.tones.level[k] = cv.NewPlane(w, h)
		}
		var sp spot
		for i := range w * h {
			x, y := i%w, i/w
			colour := card
			if x >= first && x < last {
				s.head.Pix[i], s.depth.Pix[i] = 255, float32(min(x-first, last-1-x)+1)
				colour = c.right
				if x < first+(c.from+c.to)/2 {
					colour = c.left
				}
				if x >= first+c.from && x < first+c.to && y >= 10 && y < 20 {
					colour = c.spot
					sp.pixels = append(sp.pixels, i)
				}
			}
			for k := range colour {
				l.tones.level[k].Pix[i] = colour[k]
			}
		}
		own := [3]float64{float64(c.spot[0]), float64(c.spot[1]), float64(c.spot[2])}
		if got := l.fades(sp, own); got != c.fades {
			t.Errorf("%s: fades is %v", c.name, got)
		}
	}
}
