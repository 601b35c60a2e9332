package inspect

import "math"

// sticksOut tells whether most of a spot lies farther from the axis than the head reaches on
// the other side, over a short way: an eye's foot, a hair or a bit of shadow that the outline
// took in. Bare metal lies in the head's surface, and what the other side lacks over a long
// way is how the head was cast.
func (l *look) sticksOut(sp spot) bool {
	const (
		short = 0.6 // radii, along the axis
		soft  = 3.0 // px: how far the outline itself is off
	)
	w := l.shape.w
	if sp.beside || l.onCollar(sp.pixels[len(sp.pixels)/2]) {
		return false
	}
	other, own := extents(l.shape.head, l.axis)
	if l.axis.across(sp.blob.X, sp.blob.Y) < 0 {
		other, own = own, other
	}
	out := 0
	for _, i := range sp.pixels {
		x, y := float64(i%w), float64(i/w)
		if math.Abs(l.axis.across(x, y)) > math.Abs(other[int(math.Round(l.axis.along(x, y)))]) {
			out++
		}
	}
	if 2*out < len(sp.pixels) {
		return false
	}
	beyond := func(k int) bool { return math.Abs(own[k]) > math.Abs(other[k])+soft }
	middle, way := int(math.Round(l.axis.along(sp.blob.X, sp.blob.Y))), 0
	for k := middle; beyond(k); k++ {
		way++
	}
	for k := middle - 1; beyond(k); k-- {
		way++
	}
	return float64(way) < short*l.shape.radius
}
