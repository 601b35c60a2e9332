package inspect

import (
	"math"
	"testing"

	"jigloupe/calib/cv"
)

// A spot on a collar reaches to the edge round it, and never into what is
// surely coat.
func TestToEdges(t *testing.T) {
	const core, edge = 4.0, 9.0 // px from its middle
	for _, c := range []struct {
		name string
		coat float64 // px from the middle from where on it is surely there
		want float64
	}{
		{"an edge", 30, edge},
		{"surely coat before the edge: half-way", 7, (core + 7) / 2},
		{"surely coat all round", core, core},
	} {
		from := func(x, y int) float64 { return math.Hypot(float64(x-40), float64(y-40)) }
		l, b, sp := spotIn(func(x, y int) bool { return from(x, y) < core }, levels{pixel: 0.5, coat: 0.3}, 1)
		l.collar, l.edge = l.shape.head, cv.NewPlane(80, 80)
		for i := range l.edge.Pix {
			r := from(i%80, i/80)
			l.edge.Pix[i] = float32(0.3 * math.Exp(-sq(r-edge)))
			b.opacity.Pix[i], b.neutral.Pix[i] = 0.6, 0.5
			if r > c.coat {
				b.opacity.Pix[i], b.neutral.Pix[i] = 1, 0
			}
		}
		got := l.toEdges(b, sp, make([]bool, 80*80)).diameter() / 2
		if math.Abs(got-c.want) > 1 {
			t.Errorf("%s: %.1f px, want %.1f", c.name, got, c.want)
		}
	}
}

// A place on a collar too dark to tell from shade is as wide as a bare one would be: it may be
// one.
func TestDarkSpotReachesEdges(t *testing.T) {
	const core, edge = 6.0, 10.0 // px from its middle
	from := func(x, y int) float64 { return math.Hypot(float64(x-40), float64(y-40)) }
	l, b, sp := spotIn(func(x, y int) bool { return from(x, y) < core }, levels{pixel: 0.15, coat: 0.3, own: 0.05}, 1)
	l.collar, l.edge = l.shape.head, cv.NewPlane(80, 80)
	for i := range l.edge.Pix {
		if r := from(i%80, i/80); r < core+7 {
			l.edge.Pix[i] = float32(0.3 * math.Exp(-sq(r-edge)))
			b.opacity.Pix[i] = 0
		} else {
			b.opacity.Pix[i], b.neutral.Pix[i] = 1, 0
		}
	}
	bare, dark, _ := l.coverage(b, []spot{sp}, nil, make([]bool, 80*80), 0)
	if len(bare) != 0 || len(dark) != 1 || math.Abs(dark[0].DiameterPx/2-edge) > 1 {
		t.Errorf("%d bare, dark %+v; want one of %.0f px", len(bare), dark, 2*edge)
	}
}
