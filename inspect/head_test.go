package inspect

import (
	"image"
	"testing"
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
