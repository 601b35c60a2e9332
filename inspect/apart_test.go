package inspect

import (
	"image"
	"testing"

	"jigloupe/calib/cv"
)

// A collar behind a bare band that looks like card is taken for wire: it is seen
// to be apart, since the hook goes on from it. An eye filled with paint, from which
// nothing goes on, is none, and a hook has no room for a disc.
func TestPartApart(test *testing.T) {
	const w, h = 260, 120
	for _, c := range []struct {
		name   string
		from   int // px, where the part begins; the head ends at 100
		part   int // px wide
		grey   bool
		beyond int // px that wire reaches beyond the part
		apart  bool
	}{
		{"collar", 110, 30, false, 90, true},
		{"eye filled with paint", 110, 30, false, 0, false},
		{"hook", 110, 8, false, 90, false},
		{"something else", 150, 30, false, 70, false},
		{"clip of bare metal", 110, 30, true, 90, false},
	} {
		s := &shape{w: w, h: h, wire: image.NewGray(image.Rect(0, 0, w, h)), centre: image.Pt(60, 60), radius: 40, gauge: 3.5}
		s.head = image.NewGray(s.wire.Rect)
		for i := range s.head.Pix {
			if sq(float64(i%w-60))+sq(float64(i/w-60)) < sq(40) {
				s.head.Pix[i] = 255
			}
		}
		level := cv.NewPlane(w, h)
		red := cv.NewPlane(w, h)
		for i := range red.Pix {
			if x := i % w; x < 105 || !c.grey {
				red.Pix[i] = 1
			}
		}
		t := &tones{w: w, h: h, plane: [3]cv.Plane{red, level, level}}
		for y := range h {
			off := max(y-60, 60-y)
			for x := c.from; x < c.from+30+c.beyond; x++ {
				if x < c.from+30 && 2*off < c.part || 2*off < 8 {
					s.wire.Pix[y*w+x] = 255
				}
			}
		}
		b, err := s.partApart(t)
		if err != nil || (b != nil) != c.apart {
			test.Errorf("%s: apart %v, %v; want %v", c.name, b, err, c.apart)
		}
	}
}
