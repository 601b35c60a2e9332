package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib/cv"
)

// spotIn is a head 80 px across in a vivid red coat, with a spot of grey pixels that
// are as neutral as that.
func spotIn(inside func(x, y int) bool, v levels, neutral float32) (*look, bareness, spot) {
	const side = 80
	l, b := spotOn([3]float32{0.3, 0.1, 0.05}, 0.3, v.coat, 0)
	sp := spot{depth: 90}
	for i := range side * side {
		b.class[i], b.neutral.Pix[i], b.level[i] = vividClass, 0, levels{pixel: v.coat, coat: v.coat, own: 0.5}
		x, y := i%side, i/side
		colour := [3]float32{2 * v.coat, 0.7 * v.coat, 0.3 * v.coat}
		if inside(x, y) {
			b.level[i], b.neutral.Pix[i], colour = v, neutral, [3]float32{v.pixel, v.pixel, v.pixel}
			sp.pixels = append(sp.pixels, i)
			sp.blob.X, sp.blob.Y = sp.blob.X+float64(x), sp.blob.Y+float64(y)
		}
		for k := range colour {
			l.tones.level[k].Pix[i] = colour[k]
		}
	}
	sp.blob.X, sp.blob.Y = sp.blob.X/float64(len(sp.pixels)), sp.blob.Y/float64(len(sp.pixels))
	return l, b, sp
}

func disc(x, y int) bool { return math.Hypot(float64(x-40), float64(y-40)) < 10 }

// arc is what is seen dark around an eye's socket.
func arc(x, y int) bool { return x < 40 && math.Abs(math.Hypot(float64(x-40), float64(y-40))-15) < 3 }

func lying(x, y int) bool { return x > 20 && x < 60 && y > 36 && y < 44 }

// What a spot is goes by its middle, its light and where it lies.
func TestSpotKind(t *testing.T) {
	const side, face = 15, 90 // px from the outline: at the side, on the face
	for _, c := range []struct {
		name                       string
		depth, neutral, level, own float32
		want                       int
		coat                       float32
	}{
		{"metal at the side", side, 0.97, 0.5, 0.05, bareSpot, 0.3},
		{"gloss over a dark coat", side, 0.85, 0.5, 0.05, coatSpot, 0.3},
		{"colourless in shadow", side, 0.97, 0.15, 0.05, darkSpot, 0.3},
		{"metal on the face under one lamp", face, 0.97, 0.15, 0.05, bareSpot, 0.3},
		{"half a coat's light left on the face", face, 0.7, 0.5, 0.3, coatSpot, 0.3},
		{"metal under a thin film", face, 0.75, 0.5, 0.2, bareSpot, 0.7},
		{"the same at the side", side, 0.75, 0.5, 0.2, coatSpot, 0.7},
		{"a dark room in a shadow's gloss", face, 0.75, 0.2, 0.2, coatSpot, 0.7},
		{"another colour", face, 1, 0.3, 1, coatSpot, 0.3},
		{"lighter than dull metal", face, 1, 1, 0.05, glossSpot, 0.3},
	} {
		l, b, sp := spotIn(disc, levels{pixel: c.level, coat: c.coat, own: c.own}, c.neutral)
		l.shape.depth, sp.depth = flatPlane(80, c.depth), float64(c.depth)
		if got := l.kind(b, sp); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// On a coat lighter than metal a spot is told by its level, unless it has the coat's
// colour, which a shadow leaves. A line is a groove's shade.
func TestShadeOnPale(t *testing.T) {
	const faint = vividClass - 1
	for _, c := range []struct {
		name    string
		shape   func(x, y int) bool
		neutral float32
		class   int8
		want    int
	}{
		{"metal", disc, 0.97, faint, bareSpot},
		{"metal with some coat left", disc, 0.7, faint, bareSpot},
		{"a shadow on a faint coat", disc, 0.3, faint, darkSpot},
		{"a shadow on a vivid coat", disc, 0.3, vividClass, coatSpot},
		{"a socket's shade", arc, 0.97, faint, coatSpot},
		{"a socket's shade in a vivid coat", arc, 0.97, vividClass, coatSpot},
		{"a band", func(x, y int) bool { return x > 15 && x < 65 && y > 34 && y < 46 }, 0.97, faint, bareSpot},
	} {
		l, b, sp := spotIn(c.shape, levels{pixel: 0.5, coat: 2.5, own: 0.1}, c.neutral)
		for i := range b.class {
			b.class[i] = c.class
		}
		if got := l.kind(b, sp); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A strip breaks off the coat's colour in its middle and is there as light as metal in
// the open; the shade in the corner between body and collar is neither.
func TestKindOfStrip(t *testing.T) {
	for _, c := range []struct {
		name           string
		neutral, level float32
		want           int
	}{
		{"metal", 0.8, 0.5, bareSpot},
		{"the coat in a corner's shade", 0.4, 0.3, coatSpot},
		{"too dark to tell", 0.9, 0.3, darkSpot},
		{"the hook before the collar", 0.9, 1.2, glossSpot},
	} {
		l, b, sp := spotIn(lying, levels{pixel: c.level, coat: 0.3, own: 0.3}, c.neutral)
		sp.strip, l.collar = 1, l.shape.head
		if got := l.kind(b, sp); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// On a dark coat a place that holds a lamp's mirror image is gloss as well as metal,
// and so is one that lies along a collar's axis.
func TestGlossOnDark(t *testing.T) {
	for _, c := range []struct {
		name   string
		shape  func(x, y int) bool
		collar bool
		axis   axis
		most   float32
		want   int
	}{
		{"metal on the body", disc, false, axis{}, 0.5, bareSpot},
		{"around a lamp", disc, false, axis{}, 3, glossSpot},
		{"along a collar", lying, true, axis{dx: 1}, 0.5, glossSpot},
		{"across a collar", lying, true, axis{dy: 1}, 0.5, bareSpot},
		{"as long as wide", disc, true, axis{dx: 1}, 0.5, bareSpot},
		{"a socket's wall", arc, false, axis{}, 0.5, coatSpot},
	} {
		l, b, sp := spotIn(c.shape, levels{pixel: 0.5, coat: 0.3, own: 0.1}, 1)
		b.level[sp.pixels[0]].pixel, l.axis = c.most, c.axis
		if c.collar {
			l.collar = l.shape.head
		}
		if got := l.kind(b, sp); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A spot that lies along the outline may be the card, mirrored or taken in; one that
// reaches in from there is longer than it is wide the other way.
func TestAlong(t *testing.T) {
	const from, radius = 10, 40 // px: where the head begins, and its radius
	for _, c := range []struct {
		name           string
		x0, x1, y0, y1 int
		larger         float64 // the head than that
		want           bool
	}{
		{"a sliver", from + 2, from + 8, 20, 60, 1, true},
		{"as thin as the rim", from + 2, from + 6, 20, 23, 1, true},
		{"short", from + 2, from + 8, 30, 34, 1, false},
		{"away from it", from + 5, from + 9, 20, 60, 1, false},
		{"beyond the line of the lip behind it", from + 5, from + 9, 20, 60, 2.2, true},
		{"a lip across the head", from + 2, from + 40, 30, 40, 1, false},
		{"wide and deep", from + 2, from + 20, 10, 70, 1, false},
	} {
		l, _, sp := spotIn(func(x, y int) bool { return x >= c.x0 && x < c.x1 && y >= c.y0 && y < c.y1 }, levels{pixel: 0.5, coat: 0.3}, 1)
		l.shape.radius, sp.depth = c.larger*radius, float64(c.x1-from)
		for i := range l.shape.head.Pix {
			if i%80 < from {
				l.shape.head.Pix[i] = 0
			}
		}
		if got := l.along(sp); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// A line along the outline and one on the body is too steep to be judged, and so is the
// flat end of a collar: a band across it that shows farther than a tilted end can isn't.
func TestTooSteep(t *testing.T) {
	const end, half = 70, 25 // px along the axis where the collar ends, and half its width
	box := func(x0, x1, y0, y1 int) func(x, y int) bool {
		return func(x, y int) bool { return x >= x0 && x < x1 && y >= y0 && y < y1 }
	}
	for _, c := range []struct {
		name   string
		shape  func(x, y int) bool
		collar bool
		want   bool
	}{
		{"a socket's wall", arc, false, true},
		{"a patch on the body", disc, false, false},
		{"a lip", lying, true, false},
		{"along the outline", box(end-6, end-2, 20, 60), true, true},
		{"a flat end", box(end-10, end-1, 22, 58), true, true},
		{"a band at the end", box(end-16, end-1, 22, 58), true, false},
	} {
		l, _, sp := spotIn(c.shape, levels{pixel: 0.5, coat: 0.3}, 1)
		l.axis = axis{y: 40, dx: 1}
		l.collar = image.NewGray(l.shape.head.Rect)
		sp.depth = 16
		for i := range l.shape.head.Pix {
			x, y := i%80, i/80
			if x >= end || y < 40-half || y >= 40+half {
				l.shape.head.Pix[i] = 0
			} else if c.collar {
				l.collar.Pix[i] = 255
			}
		}
		if got := l.tooSteep(sp); got != c.want {
			t.Errorf("%s: %v", c.name, got)
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
