package inspect

import (
	"image"
	"testing"

	"jigloupe/calib/cv"
)

// A hole that the head surrounds but for a thin part is filled, one with wire
// around it stays open.
func TestFillGaps(t *testing.T) {
	const w, h = 60, 40
	for _, c := range []struct {
		name  string
		solid int // px of the hole's 10 columns whose upper side is head
		want  bool
	}{
		{"bare metal beside a lip", 10, true},
		{"the hole of an eye", 0, false},
	} {
		s := &shape{w: w, h: h, head: image.NewGray(image.Rect(0, 0, w, h))}
		piece := image.NewGray(s.head.Rect)
		for y := range h {
			for x := range w {
				in := x >= 5 && x < 55 && y >= 5 && y < 35
				hole := x >= 25 && x < 35 && y >= 12 && y < 17
				if in && !hole {
					piece.Pix[y*w+x] = 255
					if y >= 17 || x < 25+c.solid && y < 12 || c.solid == 10 && x < 25 {
						s.head.Pix[y*w+x] = 255
					}
				}
			}
		}
		filled, err := s.fillGaps(piece)
		if err != nil {
			t.Fatal(err)
		}
		if filled != c.want || (piece.Pix[14*w+30] != 0) != c.want {
			t.Errorf("%s: filled is %v", c.name, filled)
		}
	}
}

// A collar behind a bare band that looks like card hangs on a thread: it is seen
// to be apart. One that the disc reaches is not, and wire has no room for a disc.
func TestPartApart(t *testing.T) {
	const w, radius, seed = 200, 6, 60*200 + 60
	for _, c := range []struct {
		name   string
		thread int // px wide, between body and collar
		collar int // px wide
		apart  bool
	}{{"collar on a thread", 6, 30, true}, {"whole collar", 30, 30, false}, {"hook", 8, 8, false}} {
		piece := image.NewGray(image.Rect(0, 0, w, 120))
		for y := range 120 {
			for x := range w {
				off := max(y-60, 60-y)
				if sq(float64(x-60))+sq(float64(y-60)) < sq(40) || x >= 60 && x < 110 && 2*off < c.thread || x >= 110 && x < 140 && 2*off < c.collar {
					piece.Pix[y*w+x] = 255
				}
			}
		}
		dist, err := cv.Distance(piece)
		if err != nil {
			t.Fatal(err)
		}
		s := &shape{centre: image.Pt(60, 60), radius: 40}
		b, err := s.partApart(dist, radius, seed)
		if err != nil || (b != nil) != c.apart {
			t.Errorf("%s: apart %v, %v; want %v", c.name, b, err, c.apart)
		}
	}
}
