package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// Bare metal at the outline looks like shaded card, and where a grey coat hardly
// stands out from the card either, the outline passes it by. A head is close to a
// body of revolution, so what it leaves out on one side of the axis it has on the
// other.

// steady is how firm an outline is that passes nothing by: twice as firm as an
// outline must be, and none was found to.
const steady = 2 * leastFirm

// onOneSide marks what is off the wire, no lighter than metal is, and head on the other
// side of the axis only.
func (l *look) onOneSide() *image.Gray {
	s := l.shape
	brightest := float32(math.Log(brightestMetal + toe))
	m := image.NewGray(s.head.Rect)
	for i := range m.Pix {
		if s.head.Pix[i] != 0 || float64(s.clear.Pix[i]) <= wireClear*s.gauge || l.tones.plane[1].Pix[i] > brightest {
			continue
		}
		q := l.axis.mirror(float64(i%s.w), float64(i/s.w), 0)
		if q.In(m.Rect) && s.head.Pix[q.Y*s.w+q.X] != 0 {
			m.Pix[i] = 255
		}
	}
	return m
}

// leftOut is the widest place that the outline of a head leaves out on one side.
func (l *look) leftOut() ([]spot, error) {
	if l.firm >= steady {
		return nil, nil
	}
	s := l.shape
	m := l.onOneSide()
	depth, err := cv.Distance(m)
	if err != nil {
		return nil, err
	}
	middle := 0
	for i, v := range depth.Pix {
		if v > depth.Pix[middle] {
			middle = i
		}
	}
	radius := float64(depth.Pix[middle])
	if radius < thinRim {
		return nil, nil
	}
	x, y := float64(middle%s.w), float64(middle/s.w)
	sp := spot{blob: cv.Blob{X: x, Y: y}, least: bareAt, beside: true}
	for i, v := range m.Pix {
		if v != 0 && math.Hypot(float64(i%s.w)-x, float64(i/s.w)-y) <= radius {
			sp.pixels = append(sp.pixels, i)
		}
	}
	return []spot{sp}, nil
}

// An aside is a place that the outline leaves out on one side, along the axis.
type aside struct {
	bounds   image.Rectangle // patch px
	side     float64         // of the axis, 1 or -1
	first, n int             // steps of a px along the axis
}

// aside finds the places that the outline leaves out on one side and takeIn may take in.
func (l *look) aside() ([]aside, error) {
	m := l.onOneSide()
	depth, err := cv.Distance(m)
	if err != nil {
		return nil, err
	}
	runs, places, err := cv.Runs(m)
	if err != nil {
		return nil, err
	}
	s := l.shape
	deepest := make([]float32, len(places)+1)
	ends := make([][2]float64, len(places)+1)
	for k := range ends {
		ends[k] = [2]float64{math.Inf(1), math.Inf(-1)}
	}
	for _, r := range runs {
		deepest[r.Label] = max(deepest[r.Label], slices.Max(depth.Pix[r.At:][:r.Len]))
		e := &ends[r.Label]
		for _, i := range [2]int32{r.At, r.At + r.Len - 1} {
			k := l.axis.along(float64(int(i)%s.w), float64(int(i)/s.w))
			e[0], e[1] = min(e[0], k), max(e[1], k)
		}
	}
	shortest := 0.0
	if l.firm >= steady {
		shortest = sureWay * s.radius
	}
	var out []aside
	for _, b := range places {
		e := ends[b.Label]
		if deepest[b.Label] < thinRim || e[1]-e[0] < shortest {
			continue
		}
		a := aside{b.Bounds, 1, int(math.Round(e[0])), 0}
		if a.n = int(math.Round(e[1])) - a.first + 1; l.axis.across(b.X, b.Y) < 0 {
			a.side = -1
		}
		out = append(out, a)
	}
	return out, nil
}

// takeIn gives the head of the whole patch that this one is a part of what its outline
// leaves out on one side, as far as the strongest edges about where the other side's
// outline is, where these are as sure as a closed line's. It tells whether there was any.
func (l *look) takeIn(whole *look, places []aside) (took bool, err error) {
	if len(places) == 0 || !l.sharp() {
		return false, nil
	}
	edge, err := l.tones.coherentEdges(l.shape.head)
	if err != nil {
		return false, err
	}
	lo, hi := extents(l.shape.head, l.axis)
	s := whole.shape
	for _, a := range places {
		own, other := hi, lo
		if a.side < 0 {
			own, other = lo, hi
		}
		line, firm := l.mirrored(edge, a.side, other, a.first, a.n)
		if !l.givesWay(firm, l.firmAlong(edge, a.side, own, a.first, a.n)) {
			continue
		}
		took = true
		for i := range s.head.Pix {
			x, y := float64(i%s.w), float64(i/s.w)
			k, across := int(math.Round(whole.axis.along(x, y)))-a.first, a.side*whole.axis.across(x, y)
			if k >= 0 && k < len(line) && across >= 0 && across <= line[k] && float64(s.clear.Pix[i]) > wireClear*s.gauge {
				s.head.Pix[i], s.wire.Pix[i] = 255, 0
			}
		}
	}
	if !took {
		return false, nil
	}
	if s.depth, err = cv.Distance(s.head); err != nil {
		return false, err
	}
	return true, whole.viewingAngles()
}

// givesWay tells whether an outline as firm as own gives way to a line.
func (l *look) givesWay(line, own float64) bool {
	// There is more to see about a head than farther off: of 15 places on practice and drawn
	// photos half came out weaker than this against a whole patch's medians.
	const nearer = 0.86
	weaker := fringe
	if l.firm >= steady {
		weaker = surer
	}
	return line >= nearer*sureLine && line >= weaker*own
}

// fringe is how much weaker than the outline that it is to take the place of a line may
// be where the outline is not steady: metal's edge is as strong as the coat's beside it,
// of 80 on drawn grey heads 0.7 and more; a wide lamp's shadow's fringe was 0.3, and of
// nine lines at 0.4 to 0.7 on two drawn sets seven went along shadows.
//
// A steady outline gives way only to a line that is surer than itself, and not over so
// short a way, in radii, that the eye's foot or a lip could be all there is: of 270
// places on practice and drawn photos such lines were right in 20 of 31, the others in
// 106 of 239.
const fringe, surer, sureWay = 0.7, 1.1, 0.3

// besideAxis are the edges along one side of the axis, n steps of a px from first on: in
// each about the distance from the axis there, and as far as reach px to both sides.
func (l *look) besideAxis(edge cv.Plane, side float64, about map[int]float64, first, n, reach int) band {
	return bandOf(edge, n, 2*reach+1, func(step, place int) (float64, float64) {
		along, across := float64(first+step), side*(math.Abs(about[first+step])+float64(place-reach))
		return l.axis.x + along*l.axis.dx - across*l.axis.dy, l.axis.y + along*l.axis.dy + across*l.axis.dx
	})
}

// mirrored is the line along which edges are strongest on one side of the axis, by its
// distance from the axis at each of n steps along it; it lies about where the other
// side's outline is. How firm is as in closedLineAround.
func (l *look) mirrored(edge cv.Plane, side float64, other map[int]float64, first, n int) (line []float64, firm float64) {
	reach := int(math.Ceil(0.07 * l.shape.radius)) // how far the sides of a casting differ, or its axis is off
	b := l.besideAxis(edge, side, other, first, n, reach)
	line, edges := make([]float64, n), make([]float64, n)
	for step, place := range b.follow(func(_, aside int) float64 { return math.Hypot(1, float64(aside)) }) {
		line[step], edges[step] = math.Abs(other[first+step])+float64(place-reach), float64(b[step][place])
	}
	return line, nth(edges, n/4)
}

// firmAlong is how firm an outline is along that side of the axis.
func (l *look) firmAlong(edge cv.Plane, side float64, outline map[int]float64, first, n int) float64 {
	edges := make([]float64, n)
	for step, row := range l.besideAxis(edge, side, outline, first, n, offEdge) {
		edges[step] = float64(slices.Max(row))
	}
	return nth(edges, n/4)
}
