package inspect

import (
	"image"
	"math"

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
func findEye(l *look, spots []spot) (eye, error) {
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
		e.state, e.found, e.x, e.y = EyeOpen, true, g.X, g.Y
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
		e.state, e.found, e.x, e.y = EyeBlocked, true, float64(thickest%s.w), float64(thickest/s.w)
	}
	return e, nil
}

// isBar tells whether a bare spot has the shape and place of an eye on edge.
func (l *look) isBar(sp spot) bool {
	s := l.shape
	length, width := sp.size(s.w)
	if width < s.gauge || width > 4*s.gauge || length < 1.7*width || length > 9*s.gauge {
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
