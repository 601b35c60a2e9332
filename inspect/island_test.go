package inspect

import "testing"

// A filled spot much darker than the coat on all sides of it may be metal under a film
// that gives it the coat's hue; what leaves the outline open, bends around a light floor or
// is a line is the coat in its own shade.
func TestDarkIslands(t *testing.T) {
	const w, mid = 80, 40
	for _, c := range []struct {
		name  string
		level float32 // of a coat of 1.4
		in    func(x, y int) bool
		want  int
	}{
		{"a disc", 0.4, func(x, y int) bool { return x*x+y*y < 12*12 }, 1},
		{"a disc that may be the coat's own scatter", 1, func(x, y int) bool { return x*x+y*y < 12*12 }, 0},
		{"a disc as light as no metal", 0.95, func(x, y int) bool { return x*x+y*y < 12*12 }, 0},
		{"a shadow that comes in from the side", 0.4, func(x, y int) bool { return x < 0 && y*y < 12*12 }, 0},
		{"half a socket's wall", 0.4, func(x, y int) bool { r := x*x + y*y; return r < 20*20 && r > 12*12 && x < 4 }, 0},
		{"a groove", 0.4, func(x, y int) bool { return x*x < 5 && y*y < 25*25 }, 0},
		{"too small", 0.4, func(x, y int) bool { return x*x+y*y < 3*3 }, 0},
	} {
		l, b := spotOn([3]float32{1.4, 1.4, 1.4}, 1.4, 1.4, 0)
		for i := range b.level {
			b.level[i] = levels{pixel: 1.4, coat: 1.4, scatter: 0.2}
			if c.name == "a disc that may be the coat's own scatter" {
				b.level[i].scatter = 1
			}
			if c.in(i%w-mid, i/w-mid) {
				b.level[i].pixel = c.level
			}
			if max(i%w-mid, mid-i%w, i/w-mid, mid-i/w) > mid-8 {
				l.shape.head.Pix[i] = 0
			}
		}
		covered := make([]bool, len(b.level))
		if spots, err := l.darkIslands(b, covered); err != nil || len(spots) != c.want {
			t.Errorf("%s: %d spots, %v; want %d", c.name, len(spots), err, c.want)
		}
		for i := range covered {
			covered[i] = true
		}
		if spots, err := l.darkIslands(b, covered); err != nil || len(spots) > 0 {
			t.Errorf("%s behind an eye: %d spots, %v", c.name, len(spots), err)
		}
	}
}
