package inspect

import (
	"math"
	"testing"
)

// A filled spot much darker than the coat on all sides of it is metal where it has none of the
// coat's colour, and where it has may be metal under a film; what leaves the outline open, bends
// around a light floor or is a line is the coat in its own shade.
func TestDarkIslands(t *testing.T) {
	const w, mid = 80, 40
	grey, orange := [3]float64{1.4, 1.4, 1.4}, [3]float64{2.2, 1.4, 0.6}
	disc := func(x, y int) bool { return x*x+y*y < 12*12 }
	for _, c := range []struct {
		name     string
		coat, at [3]float64
		in       func(x, y int) bool
		noise    float64 // of the coat, as a log ratio
		found    bool
		sure     bool
	}{
		{"a disc in a grey coat", grey, [3]float64{0.4, 0.4, 0.4}, disc, 0, true, false},
		{"metal in a coat with colour", orange, [3]float64{0.4, 0.4, 0.4}, disc, 0, true, true},
		{"metal among flakes", orange, [3]float64{0.4, 0.4, 0.4}, disc, 0.6, true, true},
		{"such a coat's own shade, or metal under a film", orange, [3]float64{0.66, 0.42, 0.18}, disc, 0, true, false},
		{"a lump's flank, where such a coat is purple", orange, [3]float64{0.5, 0.3, 0.5}, disc, 0, true, false},
		{"one where it is another colour", orange, [3]float64{0.3, 0.3, 0.8}, disc, 0, true, false},
		{"a disc that may be the coat's own scatter", grey, [3]float64{0.8, 0.8, 0.8}, disc, 3, false, false},
		{"a disc as light as no metal", grey, [3]float64{0.95, 0.95, 0.95}, disc, 0, false, false},
		{"card that the outline took in", orange, [3]float64{0.4, 0.4, 0.4}, func(x, y int) bool { return x < -10 && y < -10 }, 0, false, false},
		{"half a socket's wall", grey, [3]float64{0.4, 0.4, 0.4}, func(x, y int) bool { r := x*x + y*y; return r < 20*20 && r > 12*12 && x < 4 }, 0, false, false},
		{"a groove", orange, [3]float64{0.4, 0.4, 0.4}, func(x, y int) bool { return x*x < 5 && y*y < 25*25 }, 0, false, false},
		{"a throat in shade of another hue", orange, [3]float64{0.4, 0.4, 0.4}, func(x, y int) bool { return x*x < 36 && y*y < 25*25 }, 0, false, false},
		{"too small", orange, [3]float64{0.4, 0.4, 0.4}, func(x, y int) bool { return x*x+y*y < 3*3 }, 0, false, false},
	} {
		l, b := spotOn([3]float32{}, 0, 0, 0)
		coat := &coat{}
		for k := range coat.expected {
			coat.expected[k] = flatPlane(w, float32(math.Log(c.coat[k]+toe)))
		}
		b.opacity = flatPlane(w, 1)
		for k := range b.coats {
			b.coats[k] = [3]float64{c.coat[0] + toe, c.coat[1] + toe, c.coat[2] + toe}
		}
		b.coats[angleClass(60)] = [3]float64{0.6, 0.35, 0.6} // turned far away
		for i := range b.level {
			x, y := i%w-mid, i/w-mid
			seen := c.coat
			if c.in(x, y) {
				seen, b.opacity.Pix[i] = c.at, 0
			}
			flake := math.Exp(c.noise * (float64((i*7919)%101)/50 - 1))
			for k, v := range seen {
				l.tones.level[k].Pix[i] = float32(v * flake)
			}
			if max(x, -x, y, -y) > mid-8 {
				l.shape.head.Pix[i] = 0
			}
		}
		covered := make([]bool, len(b.level))
		spots, err := l.darkIslands(b, coat, covered)
		if err != nil || len(spots) > 0 != c.found || len(spots) > 1 || c.found && spots[0].sure != c.sure {
			t.Errorf("%s: %d spots, %v; want one: %v, sure: %v", c.name, len(spots), err, c.found, c.sure)
		}
		whole := b.opacity
		b.opacity = flatPlane(w, 0)
		for i := range b.opacity.Pix {
			if i%w < mid-6 {
				b.opacity.Pix[i] = whole.Pix[i]
			}
		}
		if spots, err := l.darkIslands(b, coat, covered); err != nil || len(spots) > 0 {
			t.Errorf("%s, with coat on one side only: %d spots, %v", c.name, len(spots), err)
		}
		if b.opacity = flatPlane(w, 1); c.found { // the film thins out over 12 px
			for i := range b.opacity.Pix {
				away := math.Hypot(float64(i%w-mid), float64(i/w-mid)) - 12
				b.opacity.Pix[i] = float32(min(max(away/12, 0), 1))
			}
			if spots, err := l.darkIslands(b, coat, covered); err != nil || len(spots) != 1 {
				t.Errorf("%s, in a film that thins out: %d spots, %v", c.name, len(spots), err)
			}
		}
		b.opacity, b.faint = whole, &faint{}
		if spots, err := l.darkIslands(b, coat, covered); err != nil || len(spots) > 0 && spots[0].sure {
			t.Errorf("%s, the coat's hue telling nothing: %d spots, %v", c.name, len(spots), err)
		}
		for i := range covered {
			covered[i] = true
		}
		if spots, err := l.darkIslands(b, coat, covered); err != nil || len(spots) > 0 {
			t.Errorf("%s behind an eye: %d spots, %v", c.name, len(spots), err)
		}
	}
}

// On the body, whose angles are known, the coat beyond a spot may be as dark as it where the head
// turns away. On a collar they are not, and what is dark beyond it may be of the same shade.
func TestIslandAtDarkSide(t *testing.T) {
	const w, mid, fall = 80, 40, 0.12 // log ratio per px to the right
	for _, onCollar := range []bool{false, true} {
		l, b := spotOn([3]float32{}, 0, 0, 0)
		orange := [3]float64{2.2, 1.4, 0.6}
		coat := &coat{}
		for k := range coat.expected {
			coat.expected[k] = flatPlane(w, 0)
		}
		for j := range b.coats {
			b.coats[j] = orange
		}
		b.opacity = flatPlane(w, 1)
		for i := range b.level {
			x, y := i%w-mid, i/w-mid
			light := math.Exp(-fall * float64(max(0, x+12)))
			for k, v := range orange {
				coat.expected[k].Pix[i] = float32(math.Log(v*light + toe))
				l.tones.level[k].Pix[i] = float32(v * light)
				if x*x+y*y < 12*12 {
					l.tones.level[k].Pix[i], b.opacity.Pix[i] = float32(0.3*light), 0
				}
			}
		}
		if onCollar {
			l.collar = l.shape.head
		}
		spots, err := l.darkIslands(b, coat, make([]bool, len(b.level)))
		if err != nil || len(spots) == 1 == onCollar {
			t.Errorf("on a collar: %v: %d spots, %v", onCollar, len(spots), err)
		}
	}
}

// A sure island goes before what it meets and is not told to be bare by itself; one that may be
// shade is doubtful.
func TestWithIslands(t *testing.T) {
	for _, c := range []struct {
		name           string
		level          float32 // of the place that it meets, which is told by its light
		sure           bool
		bare, doubtful int
		island         bool // is the bare one
	}{
		{"sure, of a place too dark to tell", 0.15, true, 1, 0, true},
		{"sure, of a place that is bare anyway", 0.5, true, 1, 0, false},
		{"unsure", 0.15, false, 1, 1, false},
	} {
		l, b, sp := spotIn(disc, levels{pixel: c.level, coat: 0.3, own: 0.05}, 1)
		l.shape.depth, sp.depth = flatPlane(80, 15), 15
		island := spot{pixels: sp.pixels[:len(sp.pixels)/2], island: true, sure: c.sure}
		bare, doubtful := l.withIslands(b, []spot{sp}, nil, []spot{island})
		if len(bare) != c.bare || len(doubtful) != c.doubtful || bare[0].island != c.island {
			t.Errorf("%s: %d bare, island: %v, %d doubtful", c.name, len(bare), bare[0].island, len(doubtful))
		}
	}
}
