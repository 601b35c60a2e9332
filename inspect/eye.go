package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// eye is what a photo shows of the line-tie eye, in patch pixels.
type eye struct {
	state  EyeState
	found  bool
	x, y   float64
	covers []int // pixels of an eye seen on edge in front of the head
}

// findEye looks for the eye beside the head: a ring of wire with a gap that
// shows card, or a disc where paint fills the ring. Seen on edge in front of
// the head it is a bar of bare metal, twice as long as thick and more, on the
// line that the hook leaves along: the eye stands in the plane the casting was
// parted in.
func findEye(l *look, c *coat, spots []spot) (eye, error) {
	s := l.shape
	e := eye{state: EyeUnseen}
	for _, sp := range spots {
		if !l.isBar(sp) {
			continue
		}
		e.found, e.x, e.y = true, sp.blob.X, sp.blob.Y
		e.covers = append(e.covers, sp.pixels...)
	}
	solid := image.NewGray(s.head.Rect)
	for i := range solid.Pix {
		if s.wire.Pix[i] == 0 && s.head.Pix[i] == 0 {
			solid.Pix[i] = 255
		}
	}
	labels, gaps, err := cv.Blobs(solid)
	if err != nil {
		return e, err
	}
	least, most := math.Pi*sq(0.7*s.gauge), math.Pi*sq(5*s.gauge)
	for _, g := range gaps {
		b := g.Bounds
		if float64(g.Area) < least || float64(g.Area) > most || b.Min.X == 0 || b.Min.Y == 0 || b.Max.X == s.w || b.Max.Y == s.h {
			continue
		}
		if s.wireShare(labels, g) < 0.75 {
			continue
		}
		e.found, e.x, e.y = true, g.X, g.Y
		e.state = l.through(c, g.X, g.Y)
		return e, nil
	}
	dist, err := cv.Distance(s.wire)
	if err != nil {
		return e, err
	}
	thickest := 0
	for i, d := range dist.Pix {
		x, y := float64(i%s.w), float64(i/s.w)
		away := math.Hypot(x-float64(s.centre.X), y-float64(s.centre.Y))
		if d > dist.Pix[thickest] && away < 3*s.radius {
			thickest = i
		}
	}
	if d := float64(dist.Pix[thickest]); d > 1.8*s.gauge && d < 5*s.gauge {
		e.found, e.x, e.y = true, float64(thickest%s.w), float64(thickest/s.w)
		e.state = l.through(c, e.x, e.y)
	}
	return e, nil
}

// through tells whether card or film is to be seen inside the ring of an eye:
// something of the hue of the card around the ring, or of the coat's hue at
// some viewing angle. What is like neither, or like both, tells nothing.
func (l *look) through(c *coat, x, y float64) EyeState {
	s, t := l.shape, l.tones
	var inside, around [3][]float32
	reach := int(8 * s.gauge)
	for j := max(0, int(y)-reach); j <= min(s.h-1, int(y)+reach); j++ {
		for i := max(0, int(x)-reach); i <= min(s.w-1, int(x)+reach); i++ {
			k := j*s.w + i
			switch d := math.Hypot(float64(i)-x, float64(j)-y); {
			case d <= max(1.5, 0.5*s.gauge):
				for c := range inside {
					inside[c] = append(inside[c], t.plane[c].Pix[k])
				}
			case d > 4*s.gauge && s.head.Pix[k] == 0 && s.wire.Pix[k] == 0:
				for c := range around {
					around[c] = append(around[c], t.plane[c].Pix[k])
				}
			}
		}
	}
	if len(around[0]) == 0 {
		return EyeUnseen
	}
	var gap, card [3]float64
	for c := range inside {
		slices.Sort(inside[c])
		slices.Sort(around[c])
		gap[c], card[c] = float64(inside[c][len(inside[c])/2]), float64(around[c][len(around[c])/2])
	}
	hueBetween := func(a, b [3]float64) float64 { return math.Hypot(a[0]-a[1]-b[0]+b[1], a[2]-a[1]-b[2]+b[1]) }
	nearest := math.Inf(1)
	for j := range angleClass(steepest) {
		coat := [3]float64{float64(c.byAngle[0][j]), float64(c.byAngle[1][j]), float64(c.byAngle[2][j])}
		nearest = min(nearest, hueBetween(gap, coat))
	}
	const alike = 0.25 // log ratio: more than light of two colours tints a shadow over so short a way
	tolerance := alike + 0.015/math.Exp(gap[1])
	off := hueBetween(gap, card)
	switch {
	case off < tolerance && off < nearest && gap[1] < card[1]+math.Log(1.3):
		return EyeOpen
	case nearest < tolerance && off > tolerance:
		return EyeBlocked
	}
	return EyeUnseen
}

// isBar tells whether a bare spot has the shape and place of an eye on edge:
// eyes are 2.2 to 3 mm across and their wire is 0.7 to 1 mm thick on heads of
// 6 to 9 mm (common practice, no source).
func (l *look) isBar(sp spot) bool {
	s := l.shape
	length, width := sp.size(s.w)
	if width < 0.12*s.radius || width > 0.45*s.radius || length < 0.4*s.radius || length > 1.25*s.radius || length < 1.7*width {
		return false
	}
	return sp.rim < 75 && math.Abs(l.axis.across(sp.blob.X, sp.blob.Y)) < 0.3*s.radius
}

// wireShare is the share of a gap's border that is wire, not head.
func (s *shape) wireShare(labels []int32, g cv.Blob) float64 {
	wire, all := 0, 0
	for y := g.Bounds.Min.Y; y < g.Bounds.Max.Y; y++ {
		for x := g.Bounds.Min.X; x < g.Bounds.Max.X; x++ {
			i := y*s.w + x
			if labels[i] != g.Label {
				continue
			}
			for _, j := range [4]int{i - 1, i + 1, i - s.w, i + s.w} {
				if labels[j] != g.Label {
					all++
					if s.wire.Pix[j] != 0 {
						wire++
					}
				}
			}
		}
	}
	return float64(wire) / float64(max(all, 1))
}

func sq(v float64) float64 { return v * v }
