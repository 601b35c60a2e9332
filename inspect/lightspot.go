package inspect

import (
	"image"
	"math"
	"slices"
)

// lightSpots are spots where a base lighter than any metal shows through a coat much darker
// than it, by their level alone: grey and dark coats have too little hue to lose. A lamp
// mirrored in the gloss is as light. It lies where the surface can mirror a lamp, see
// isLightBase, and round a collar turns by half of the lamp's width, which is no more than 80°
// of the sky; a tent is wider, and no lighter in the gloss than metal.
func (l *look) lightSpots(b bareness) ([]spot, error) {
	const (
		lighter = 2.0 // times the coat
		// times the coat across the edge of a spot, at a share of its border: of 13 places on
		// drawn batches two bare bands have 0.64 and 0.81, sheens and lamps' images up to 0.46
		step, around = 3.0, 0.6
		outer        = 4 // px from the edge, and half of that within
	)
	if !l.lightBase() {
		return nil, nil
	}
	s := l.shape
	m := image.NewGray(s.head.Rect)
	for i := range m.Pix {
		if v := b.level[i]; l.judged(i) && v.grey && v.pixel > brightestMetal && v.pixel > lighter*v.coat {
			m.Pix[i] = 255
		}
	}
	blobs, err := l.spotsIn(m, b)
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, sp := range blobs {
		if sp.depth < thinRim || sp.diameter() < l.leastSpot() || sp.clipped > mostClipped || !l.beyondLamps(sp) || l.tooSteep(sp) {
			continue
		}
		edge := l.borderShare(sp, m, outer, func(in, out int) bool { return b.level[in].pixel > step*b.level[out].pixel })
		if edge >= around {
			sp.light = true
			out = append(out, sp)
		}
	}
	return out, nil
}

// beyondLamps tells whether a spot is where, or as long as, no lamp's mirror image is.
func (l *look) beyondLamps(sp spot) bool {
	const widest = 40 // degrees round the collar
	if !l.onCollar(sp.pixels[len(sp.pixels)/2]) {
		return l.tooTilted(sp)
	}
	half := halfWidths(l.collar, l.axis)[int(math.Round(l.axis.along(sp.blob.X, sp.blob.Y)))]
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range sp.pixels {
		a := l.axis.across(float64(i%l.shape.w), float64(i/l.shape.w))
		lo, hi = min(lo, a), max(hi, a)
	}
	return hi-lo > 2*half*math.Sin(widest/2*math.Pi/180)
}

// meets tells whether a spot shares pixels with one of others.
func (s spot) meets(others []spot) bool {
	own := make(map[int]bool, len(s.pixels))
	for _, i := range s.pixels {
		own[i] = true
	}
	for _, other := range others {
		if slices.ContainsFunc(other.pixels, func(i int) bool { return own[i] }) {
			return true
		}
	}
	return false
}
