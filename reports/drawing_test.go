package reports

import (
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

func TestThinKeepsWithinItsSlack(t *testing.T) {
	pts := circle(pt(100, 100), 80, 400)
	got := thin(pts, 0.5)
	if len(got) > 60 || len(got) < 20 {
		t.Errorf("a circle of radius 80 keeps %d points, want about 28: a chord of sagitta 0.5 spans 13°", len(got))
	}
	for _, p := range pts {
		near := math.Inf(1)
		for i := 1; i < len(got); i++ {
			near = min(near, distance(p, got[i-1], got[i]))
		}
		if near > 0.5 {
			t.Errorf("%v is %.2f from the thinned line, at most 0.5 allowed", p, near)
		}
	}
}

func TestDashesHalveALine(t *testing.T) {
	sum := 0.0
	for _, d := range dashes(rect(0, 0, 40, 40), true, 5) {
		for i := 1; i < len(d); i++ {
			sum += math.Hypot(d[i].X-d[i-1].X, d[i].Y-d[i-1].Y)
		}
	}
	if math.Abs(sum-80) > 1e-9 { // half of 160
		t.Errorf("dashes of a square of 40 are %.2f long together, want 80", sum)
	}
}

func TestInside(t *testing.T) {
	ell := []inspect.Point{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 4}, {X: 4, Y: 4}, {X: 4, Y: 10}, {X: 0, Y: 10}}
	for p, want := range map[inspect.Point]bool{{X: 2, Y: 8}: true, {X: 8, Y: 2}: true, {X: 8, Y: 8}: false, {X: -1, Y: 2}: false} {
		if p.Within(ell) != want {
			t.Errorf("%v.Within = %v, want %v", p, !want, want)
		}
	}
}

func TestTick(t *testing.T) {
	for _, c := range []struct {
		span float64
		n    int
		want float64
	}{{100, 3, 20}, {0.9, 3, 0.2}, {29, 3, 5}, {3, 3, 1}, {16, 3, 5}} {
		if got := tick(c.span, c.n); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("tick(%g, %d) = %g, want %g", c.span, c.n, got, c.want)
		}
	}
}

func TestHueDoesNotJump(t *testing.T) {
	bins := []inspect.TravelBin{{A: 20, B: -2}, {A: 20, B: 2}, {A: 20, B: 6}} // 354°, 6°, 17°
	got := unwound(bins)
	for i := 1; i < len(got); i++ {
		if math.Abs(got[i]-got[i-1]) > 20 {
			t.Errorf("hue goes from %.0f to %.0f, want steps of about 12", got[i-1], got[i])
		}
	}
}

// TestDoubtIsWhatItSays: a colour at the edge of its band is its expanded
// uncertainty away from its middle. 3 % is how far ΔE00 bends over 1.
func TestDoubtIsWhatItSays(t *testing.T) {
	for _, bin := range []inspect.TravelBin{{L: 46, A: -32, B: -4, U: 0.5}, {L: 80, A: 3, B: 20, U: 0.5}, {L: 25, A: 20, B: -40, U: 0.5}} {
		c := lab(bin)
		up := calib.Lab{L: c.L + doubtL(bin), A: c.A, B: c.B}
		sin, cos := math.Sincos((c.HueDeg() + doubtHueDeg(bin)) * math.Pi / 180)
		turned := calib.Lab{L: c.L, A: c.Chroma() * cos, B: c.Chroma() * sin}
		for name, edge := range map[string]calib.Lab{"lightness": up, "hue": turned} {
			if got := calib.DeltaE2000(c, edge); math.Abs(got-1) > 0.03 {
				t.Errorf("%v: the edge of the %s band is ΔE00 %.3f away, want 1", c, name, got)
			}
		}
		for _, d := range circle(pt(c.A, c.B), doubtAB(bin), 16) {
			if got := calib.DeltaE2000(c, calib.Lab{L: c.L, A: d.X, B: d.Y}); got < 0.97 {
				t.Errorf("%v: the disc's edge is only ΔE00 %.3f away at %v, want at least 1", c, got, d)
			}
		}
	}
}

func TestSwatchesShowTheColour(t *testing.T) {
	// L* 50 without chroma is 118.9 of 255 in sRGB (IEC 61966-2-1).
	d, clipped := swatches(&inspect.Travel{Curve: []inspect.TravelBin{{ViewingDeg: 5, L: 50}, {ViewingDeg: 15, L: 0}}})
	if got := *d.Lines[0].Colour; got != [3]uint8{119, 119, 119} || clipped {
		t.Errorf("swatch of L* 50 is %v, clipped %v, want 119 119 119 in gamut", got, clipped)
	}
	if _, clipped := swatches(&inspect.Travel{Curve: []inspect.TravelBin{{L: 50, A: -90, B: -60}}}); !clipped {
		t.Error("a colour no screen has is not said to be clipped")
	}
}

func TestOutlinePlotShowsLimitAndWorst(t *testing.T) {
	r := relief(0.5)
	d := outlinePlot(r, 0.3)
	var dot, limit inspect.Point
	for _, l := range d.Lines {
		switch l.Class {
		case "fill dot":
			dot = l.Pts[0]
		case "limit":
			if limit == (inspect.Point{}) {
				limit = l.Pts[0] // the outward one comes first
			}
		}
	}
	// relief puts its bulge at 1.6 rad of a full turn: 25 % of the way round.
	if share := (dot.X - 52) / 256; math.Abs(share-1.6/(2*math.Pi)) > 0.02 || dot.Y > limit.Y {
		t.Errorf("the worst place is drawn at %.2f of the way, y %.0f (limit at %.0f), want 0.25 and above the limit", share, dot.Y, limit.Y)
	}
}
