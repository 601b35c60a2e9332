package inspect

import (
	"math"
	"slices"
)

// baseOf is what the sheet says is under a piece's coat, see BaseOf.
func (b *BatchFolder) baseOf(piece string) string {
	for _, row := range b.Pieces {
		if row.Piece == piece {
			return BaseOf(row.Sheet["base"])
		}
	}
	return BaseOf("")
}

// shows is what a bare spot shows, lighter than any metal or not.
func (l *look) shows(light bool) string {
	switch {
	case light:
		return l.base + " base"
	case l.base == "black": // as dark as lead
		return "metal or black base"
	}
	return "metal"
}

// lightBase tells whether what is under the coat is lighter than any metal.
func (l *look) lightBase() bool { return !slices.Contains([]string{"", "none", "black"}, l.base) }

// isLightBase tells whether a spot lighter than any metal is the base coat under it
// showing through and no lamp mirrored in the gloss. Gloss adds a lamp's light to the coat's,
// so that the coat's colour stays, and a place seen at 35° and more mirrors nothing that
// stands 20° above the card or higher: its ray comes back at twice the viewing angle. At
// the camera's limit nothing can be told.
func (b *bareness) isLightBase(l *look, sp spot) bool {
	const tint = 0.03 // of its level, by which the colour of a neutral place may be off
	if sp.light {
		return true
	}
	if !l.lightBase() || sp.level < brightestMetal || sp.clipped > mostClipped || b.faint != nil {
		return false
	}
	var seen, coat [3]float64
	for _, i := range sp.pixels {
		angle := float64(l.angles.Pix[i])
		for k, v := range l.tones.rgb(i) {
			seen[k] += v
			coat[k] += b.coats[angleClass(angle)][k] - toe
		}
	}
	if !l.onCollar(sp.pixels[len(sp.pixels)/2]) && l.tooTilted(sp) {
		return true
	}
	_, left, _ := neutralShare(seen, coat)
	mean, square := mean3(coat), 0.0
	for _, v := range coat {
		square += sq(v - mean)
	}
	return left+2*tint*mean3(seen)/math.Sqrt(square) < bareAt
}

// mostClipped is the share of a spot at the camera's limit up to which its level is known.
const mostClipped = 0.05

// tooTilted tells whether a spot's place on the body is seen at too great an angle to mirror a
// lamp, see isLightBase.
func (l *look) tooTilted(sp spot) bool {
	const (
		lampEnd = 35 // degrees; that lamps stand so high is common practice, no source
		face    = 12 // degrees, see angleRange
	)
	tilt := 0.0
	for _, i := range sp.pixels {
		tilt += float64(l.angles.Pix[i]) / float64(len(sp.pixels))
	}
	return tilt-face > lampEnd
}
