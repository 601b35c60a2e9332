package inspect

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib/cv"
	"jigloupe/inspect/scene"
)

// drawnTones is a grey ball of radius 80 px that glitters, at 150, 130 on a card with
// noise; its rim, drawn by edge, is as light as the card where edge is 0.
func drawnTones(t *testing.T, edge func(direction float64) float64) *tones {
	t.Helper()
	const w, h = 300, 260
	lin := cv.NewPlane(w, h)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range lin.Pix {
		dx, dy := float64(i%w-150), float64(i/w-130)
		r := math.Hypot(dx, dy)
		v := 1 + 0.06*rng.NormFloat64()
		if r < 80 {
			v *= math.Exp(0.25 * rng.NormFloat64() * (1 - math.Pow(r/80, 4)))
			v *= 1 - edge(math.Atan2(dy, dx))*math.Pow(r/80, 2)
		}
		lin.Pix[i] = float32(v)
	}
	soft, err := cv.Gaussian(lin, 1.5)
	if err != nil {
		t.Fatal(err)
	}
	ratio, err := cv.Log(soft, toe)
	if err != nil {
		t.Fatal(err)
	}
	return &tones{w: w, h: h, level: [3]cv.Plane{soft, soft, soft}, plane: [3]cv.Plane{ratio, ratio, ratio}}
}

func TestClosedLine(t *testing.T) {
	for name, c := range map[string]struct {
		edge   func(float64) float64
		stands bool
	}{
		"all round":                  {func(float64) float64 { return 0.3 }, true},
		"gap of an eighth":           {func(d float64) float64 { return map[bool]float64{true: 0.3}[d < 0.5 || d > 0.5+math.Pi/4] }, true},
		"nothing but its glitter":    {func(float64) float64 { return 0 }, false},
		"an edge on half of it only": {func(d float64) float64 { return map[bool]float64{true: 0.3}[d < 0] }, false},
	} {
		edge, err := drawnTones(t, c.edge).coherentEdges(nil)
		if err != nil {
			t.Fatal(err)
		}
		line, firm := closedLineAround(edge, 155, 124, 40, 120) // not quite in its middle
		if stands := firm > sureLine; stands != c.stands {
			t.Errorf("%s: firmness %.2f, stands: %v", name, firm, stands)
		}
		if !c.stands {
			continue
		}
		var off, worst float64
		for k, r := range line {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / lineWays)
			d := math.Abs(math.Hypot(155+r*cos-150, 124+r*sin-130) - 80)
			off, worst = off+d/lineWays, max(worst, d)
		}
		if off > 2.5 || worst > 15 {
			t.Errorf("%s: %.1f px off on average, %.1f at worst", name, off, worst)
		}
		if x, y := 150.0-70-155, 130.0-124; !line.holds(x, y, 6) || line.holds(x, y, 14) {
			t.Errorf("%s: a place 10 px within the rim: by 6 px %v, by 14 px %v", name, line.holds(x, y, 6), line.holds(x, y, 14))
		}
	}
}

// An outline that leaves out a fifth of what the line holds is known by it, and one that
// a line round more than the head leaves outside has edges of its own there.
func TestLineBeyondHead(t *testing.T) {
	tn := drawnTones(t, func(float64) float64 { return 0.3 })
	edge, err := tn.coherentEdges(nil)
	if err != nil {
		t.Fatal(err)
	}
	if m := nth(append([]float32(nil), edge.Pix...), len(edge.Pix)/2); m != 1 {
		t.Errorf("the median edge is %g", m)
	}
	disc := func(keep func(x, y float64) bool) *image.Gray {
		m := image.NewGray(image.Rect(0, 0, tn.w, tn.h))
		for i := range m.Pix {
			if x, y := float64(i%tn.w-150), float64(i/tn.w-130); math.Hypot(x, y) < 80 && keep(x, y) {
				m.Pix[i] = 255
			}
		}
		return m
	}
	whole, part := disc(func(x, y float64) bool { return true }), disc(func(x, y float64) bool { return x < 40 })
	line, firm := closedLineAround(edge, 150, 130, 40, 120)
	if b := line.beyond(whole, 150, 130, 6); b > 0.01 {
		t.Errorf("beyond the whole head: %.3f", b)
	}
	if b := line.beyond(part, 150, 130, 6); math.Abs(b-0.2) > 0.03 { // a segment of 0.196 of a circle, by its formula
		t.Errorf("beyond a part of the head: %.3f", b)
	}
	if own, err := line.within(part, edge, 150, 130, 6); err != nil || own > sureLine || own > firm/1.5 {
		t.Errorf("edge where the head goes on: %.1f, line %.1f, %v", own, firm, err)
	}
	round := make(closedLine, lineWays)
	for k := range round {
		round[k] = 110
	}
	if own, err := round.within(whole, edge, 150, 130, 6); err != nil || own < firm {
		t.Errorf("edge where the head ends: %.1f, line %.1f, %v", own, firm, err)
	}
}

// An outline that lies on edges for its larger part only is no firmer than a line that
// has weak edges in places: of both the lower quartile counts.
func TestOutlineIsAsFirmAsItsWeakPart(t *testing.T) {
	const n, middle, strong, weak = 200, 100, 7, 1
	edge, disc := cv.NewPlane(n, n), image.NewGray(image.Rect(0, 0, n, n))
	for i := range edge.Pix {
		x, y := float64(i%n-middle), float64(i/n-middle)
		if edge.Pix[i] = strong; x+y > 20 { // a third of a circle of radius 40
			edge.Pix[i] = weak
		}
		if math.Hypot(x, y) < 40 {
			disc.Pix[i] = 255
		}
	}
	line := make(closedLine, lineWays)
	for k := range line {
		line[k] = 80
	}
	if firm, err := line.within(disc, edge, middle, middle, cutBlock); err != nil || firm != weak {
		t.Errorf("firm by %.1f, %v", firm, err)
	}
}

// Of a black head in soft light nothing but its glint is unlike the card in shadow.
func TestBlackHeadIsFoundByItsGlint(t *testing.T) {
	spec := onCard(scene.Football, scene.Coat{Pigment: scene.RGB{0.012, 0.01, 0.014}, HalfUM: 12})
	spec.Width, spec.Height, spec.MMPerPx, spec.Light = 640, 500, 0.035, scene.Softbox(200, 5600)
	if _, overlap := lookOver(t, spec); overlap < 0.9 {
		t.Errorf("overlap %.3f", overlap)
	}
}

// Of a head as grey as the card only the middle is lighter than it; the line of edges is
// sought from there.
func TestGreyHeadIsFoundByItsEdges(t *testing.T) {
	spec := onCard(scene.Ball, scene.Coat{Flake: scene.Aluminium(), FlakeShare: 0.35, Pigment: scene.RGB{0.178, 0.17, 0.136}, HalfUM: 12, SpreadDeg: 14, Sparkle: 0.3})
	spec.Width, spec.Height, spec.MMPerPx, spec.Camera.FullWell = 640, 500, 0.032, 9000
	if _, overlap := lookOver(t, spec); overlap < 0.93 {
		t.Errorf("overlap %.3f", overlap)
	}
}
