package inspect

import (
	"image"
	"math"
)

// sayPlaces completes the place of every mark with the part of the head it
// lies on: "on an edge" becomes "on an edge of the collar".
func (l *look) sayPlaces(ph *Photo) {
	for _, spots := range [2][]BareSpot{ph.BareSpots, ph.DarkSpots} {
		for k := range spots {
			s := &spots[k]
			s.Place += " " + l.part(s.X, s.Y, ph.EyeAt)
		}
	}
	for _, faults := range [2][]ReliefFault{ph.ReliefFaults, ph.DoubtfulRelief} {
		for k := range faults {
			f := &faults[k]
			f.Place += " " + l.part(f.X, f.Y, ph.EyeAt)
		}
	}
}

// part names the part of the head at a place in the photo. The tip is the
// fifth of the body that lies farthest from the hook; beside the eye is within
// half a head's width of its middle. Bounds are common usage, no source.
func (l *look) part(x, y float64, eye *Point) string {
	px, py := l.toPatch(image.Pt(int(x), int(y)))
	if i := int(py)*l.Width + int(px); i >= 0 && i < len(l.angles.Pix) && l.onCollar(i) {
		return "of the collar"
	}
	if eye != nil && math.Hypot(x-eye.X, y-eye.Y) < l.shape.radius*float64(l.Step) {
		return "beside the eye"
	}
	first, last := math.Inf(1), math.Inf(-1) // of the body, along its axis
	for i, v := range l.shape.head.Pix {
		if v != 0 && !l.onCollar(i) {
			at := l.axis.along(float64(i%l.Width), float64(i/l.Width))
			first, last = min(first, at), max(last, at)
		}
	}
	if l.axis.along(px, py) < first+0.2*(last-first) {
		return "near the tip"
	}
	return "of the body"
}
