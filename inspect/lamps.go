package inspect

import "math"

// lamps is the range of tints that light of two colours takes in a photo, as log
// ratios along lampTint's axis from cool to warm, relative to the card in full light.
// Lead mirrors now the one and now the other, whatever falls on the card beside it.
// The zero value is light of one colour.
type lamps struct{ cool, warm float64 }

const (
	// twoColours is a range of tints from which on light is of two colours. Drawn
	// photographs under a window and a lamp, 6500 and 2800 K, show 0.8 to 1 on the
	// card, those in light of one colour up to 0.3, where a vivid head lights its own
	// shadow; up to about 0.4 metal passes for neutral without this, see levels.grey.
	twoColours = 0.4
	// darkestTint is the log level below which a camera's steps of tone tint a shadow.
	darkestTint = -2.3
)

// twoLights is what to mind about such a photo.
const twoLights = "Light of two colours falls on it, as of a window and a lamp: bare metal then has a lamp's colour and is told less well, on collars above all. Use one kind of light."

// lampsOn takes the range from pixels known to be card, in light and shadow.
func lampsOn(t *tones, card []bool) lamps {
	var warm []float64
	for i, ok := range card {
		if ok && t.plane[1].Pix[i] > darkestTint {
			w, _ := lampTint(t.hue(i))
			warm = append(warm, float64(w))
		}
	}
	if len(warm) < 1000 {
		return lamps{}
	}
	const few = 0.005 // of the pixels may be something else
	if l := (lamps{quantile(warm, few), quantile(warm, 1-few)}); l.warm-l.cool > twoColours {
		return l
	}
	return lamps{}
}

// mixed tells whether the light is of two colours.
func (l lamps) mixed() bool { return l.warm > l.cool }

// whiten gives the factors that take from a colour as much of its tint as the lamps
// can have given it: metal is neutral then. They leave the mean of the channels.
func (l lamps) whiten(c [3]float64) [3]float64 {
	if !l.mixed() {
		return [3]float64{1, 1, 1}
	}
	log := func(v float64) float64 { return math.Log(max(v, 0.01)) }
	warm, _ := lampTint(float32(log(c[0])-log(c[1])), float32(log(c[2])-log(c[1])))
	tint := min(max(float64(warm), l.cool), l.warm)
	out := [3]float64{math.Exp(-tint * warmRed), 1, math.Exp(-tint * warmBlue)}
	after := mean3([3]float64{c[0] * out[0], c[1], c[2] * out[2]})
	for k := range out {
		out[k] *= mean3(c) / max(after, 1e-3)
	}
	return out
}

// chroma is how colourful a colour is when the lamps' tint is taken from it, see
// chromaClass.
func (l lamps) chroma(c [3]float64) float64 {
	white := l.whiten(c)
	for k := range c {
		c[k] *= white[k]
	}
	return tintApart(c, [3]float64{1, 1, 1})
}

// tintedSpots are spots where the coat is missing if a lamp's tint counts as neutral:
// bare metal that one of two lamps lights alone, or the coat there, whose hue nobody
// knows in that light. A coat so pale that metal is darker has its level to be told by,
// and on a collar each face turns to another lamp, so that an edge there says nothing.
// b is how bare the head looks so.
func (l *look) tintedSpots(b bareness) ([]spot, error) {
	spots, err := bareSpots(l, b, false)
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, sp := range spots {
		other := 0 // px
		for _, i := range sp.pixels {
			if b.level[i].tells() || l.onCollar(i) {
				other++
			}
		}
		if sp.isGlare() || sp.depth < thinRim || sp.diameter() < l.leastSpot() || 2*other >= len(sp.pixels) || l.kind(b, sp) != bareSpot {
			continue
		}
		sp.tinted = true
		out = append(out, sp)
	}
	return out, nil
}
