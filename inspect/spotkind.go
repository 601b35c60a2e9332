package inspect

import "math"

// What a spot of missing colour is.
const (
	bareSpot  = iota
	coatSpot  // the coat itself in a shadow
	darkSpot  // too dark to tell
	greySpot  // the coat itself turns grey there: metal would not show
	glossSpot // metal or the card mirrored in the coat's gloss
)

// sideReach is how far the side of a head reaches inwards, in radii: within it a
// ball is seen at more than 41 degrees.
const sideReach = 0.25

// kind tells whether a spot may be the coat itself. In the middle of a spot
// large enough to report next to nothing of the coat is left; where less is
// gone, it is the coat in a shadow, into which the gloss mirrors the card.
//
// On a collar and at the side of the head, where the coat is seen steeply and
// often in shadow, that takes most of a dark coat's own light away. Metal has no
// colour at all in its middle, and only what is lighter than the gloss can mirror
// is surely metal. On the body a spot that the coat passes over into may as well be
// gloss; a collar's groove has the spot's own hue on some side anyway. A coat much
// lighter than metal needs no such care. See also tilted, fades and mirrors.
func (l *look) kind(b bareness, sp spot) int {
	const (
		coreFace, coreRim = 0.8, 0.92       // neutral share of the middle
		light             = 0.6 * dullMetal // relative to card: lead in its own shade
		colour            = 0.6             // as in chromaClass: lamps of two kinds give metal 0.4, a vivid coat blurred into it the rest
	)
	if sp.isStrip() {
		return bareSpot
	}
	if b.faint != nil {
		if b.toldByHue(sp) {
			return b.faint.kind(l, b, sp)
		}
		// where the coat has no colour to lose, a groove's shadow is as dark and grey
		if length, width := sp.size(l.shape.w); length > 3*width {
			return darkSpot
		}
	}
	var mean [3]float64
	side, pale, collar, shares, amount, own := 0, 0, 0, make([]float64, 0, len(sp.pixels)), 0.0, 0.0
	for _, i := range sp.pixels {
		if b.level[i].tells() {
			pale++
		} else if l.onCollar(i) || l.fromEdge(i) < sideReach*l.shape.radius {
			side++
		}
		if l.onCollar(i) {
			collar++
		}
		shares = append(shares, float64(b.neutral.Pix[i]))
		amount += float64(b.neutral.Pix[i] * b.level[i].pixel)
		own += float64(b.level[i].own)
		for k, v := range l.tones.rgb(i) {
			mean[k] += v / float64(len(sp.pixels))
		}
	}
	if b.tilted(l, sp, nth(shares, len(shares)/2)) {
		return coatSpot
	}
	core := nth(shares, len(shares)*9/10)
	n := float64(len(sp.pixels))
	switch atSide := 2*side >= len(sp.pixels); {
	case own/n > colour, atSide && core < coreRim, !atSide && core < coreFace && 2*pale < len(sp.pixels):
		return coatSpot
	case atSide && amount/n < light:
		if l.beside(sp).fades(mean) {
			return greySpot
		}
		return darkSpot
	case sp.depth < steepRim*l.shape.radius+thinRim && l.beside(sp).mirrors(mean3(mean)):
		return glossSpot
	case 2*pale < len(sp.pixels) && 2*collar < len(sp.pixels) && l.beside(sp).fades(mean):
		return glossSpot
	}
	return bareSpot
}

// tilted tells whether the coat, seen at some angle, has the colour of a spot's
// middle, the half where the neutral share is at least middle: the wall of an eye
// socket and the flank of a lump are tilted more than the face is taken to be.
// Angles at which the coat itself is nearly grey say nothing.
func (b bareness) tilted(l *look, sp spot, middle float64) bool {
	const most, colourful = 0.2, 0.3 // neutral share left, less than half of a bare pixel's; see neutralShare
	var q [3]float64
	n := 0.0
	for _, i := range sp.pixels {
		if float64(b.neutral.Pix[i]) >= middle {
			for k, v := range l.tones.rgb(i) {
				q[k] += v
			}
			n++
		}
	}
	for k := range q {
		q[k] /= n
	}
	for j := range angleClass(steepest) + 1 {
		var want [3]float64
		for k := range want {
			want[k] = b.coats[j][k] - toe
		}
		if left, _, chroma := neutralShare(q, want); chroma >= colourful && math.Abs(left) < most {
			return true
		}
	}
	return false
}

// isGlare tells whether a colourless spot is the light mirrored by the coat's
// gloss: at the camera's limit, or lighter than any dull metal.
func (s spot) isGlare() bool {
	return s.level > brightLight || s.clipped > 0.2
}

// brightLight is a level, relative to card, that no dull metal and only the gloss or
// the flakes' own highlight of a coat reaches.
const brightLight = 2.5
