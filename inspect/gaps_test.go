package inspect

import (
	"image"
	"math"
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
		s := &shape{w: w, h: h, wire: image.NewGray(image.Rect(0, 0, w, h)), head: image.NewGray(image.Rect(0, 0, w, h))}
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
		filled, err := s.fillGaps(greyTones(w, h), piece)
		if err != nil {
			t.Fatal(err)
		}
		if filled != c.want || (piece.Pix[14*w+30] != 0) != c.want {
			t.Errorf("%s: filled is %v", c.name, filled)
		}
	}
}

// A slot in a head is filled, were its mouth closed by what has the coat's hue, too; the
// notch beside a lip, a wide bay and what lies between the head and wire stay open.
func TestFillSlots(t *testing.T) {
	const w, h, gauge, mouth = 160, 120, 8, 50 // px; the head begins at y = mouth
	for _, c := range []struct {
		name  string
		in    func(x, y int) bool // what is no piece, below the mouth
		above func(x, y int) bool // what is piece above it, as wide as a rim, and no head
		hue   float32             // of that
		want  bool
	}{
		{"slot", func(x, y int) bool { return x >= 76 && x < 86 && y < 90 }, nil, 0, true},
		{"notch", func(x, y int) bool { return abs(x-80) < (90-y)/2 }, nil, 0, false},
		{"bay", func(x, y int) bool { return x >= 70 && x < 90 && y < 90 }, nil, 0, false},
		{"bare end behind a coated rim", func(x, y int) bool { return x >= 40 && x < 120 && y < 64 }, func(x, y int) bool { return y >= mouth-4 && abs(x-80) > 5 }, 1, true},
		{"hole of a painted eye with a crack", func(x, y int) bool { return false }, func(x, y int) bool {
			r := math.Hypot(float64(x-80), float64(y-30))
			return r > 12 && r < 18 && abs(x-80) > 2
		}, 1, false},
		{"beside a hook", func(x, y int) bool { return x >= 40 && x < 120 && y < 64 }, func(x, y int) bool { return y >= mouth-4 && abs(x-80) > 5 }, 0, false},
	} {
		s := &shape{w: w, h: h, wire: image.NewGray(image.Rect(0, 0, w, h)), head: image.NewGray(image.Rect(0, 0, w, h)), gauge: gauge}
		piece, tn := image.NewGray(s.head.Rect), greyTones(w, h)
		for i := range piece.Pix {
			x, y := i%w, i/w
			switch {
			case y >= mouth && y < 95 && x >= 10 && x < 150 && !c.in(x, y):
				piece.Pix[i], s.head.Pix[i], tn.plane[0].Pix[i] = 255, 255, 1
			case y < mouth && c.above != nil && x >= 10 && x < 150 && c.above(x, y):
				piece.Pix[i], tn.plane[0].Pix[i] = 255, c.hue
			}
		}
		filled, err := s.fillGaps(tn, piece)
		if err != nil {
			t.Fatal(err)
		}
		if filled != c.want {
			t.Errorf("%s: filled is %v", c.name, filled)
		}
	}
}

func greyTones(w, h int) *tones {
	return &tones{w: w, h: h, plane: [3]cv.Plane{cv.NewPlane(w, h), cv.NewPlane(w, h), cv.NewPlane(w, h)}}
}

func abs(v int) int { return max(v, -v) }
