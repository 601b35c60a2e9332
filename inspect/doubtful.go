package inspect

// doubtfulSpots are spots that are either metal or gloss on a dark coat: lighter than
// the coat and nearly without its colour, as both are, and surely so only in part,
// because the coat's own colour scatters as far, or without an edge: the haze of a window
// about it takes it. Covered marks the eye. Of a faint coat it is
// what the outline may have passed by.
func (l *look) doubtfulSpots(b bareness, covered []bool) ([]spot, error) {
	const (
		likely     = 0.7 // neutral share: most of the light is not the coat's
		surely     = 0.2 // share of the spot that is missing beyond scatter; scatter alone gives 1/30,000
		colourless = 0.9 // neutral share of most of a spot without an edge: a coat that turns grey keeps more
		lighter    = 1.5 // times the coat: what is as dark as the coat is its shadow
	)
	if b.faint != nil {
		return l.leftOut() // the others faint.kind tells
	}
	low := b
	low.limit.Pix = append([]float32(nil), b.limit.Pix...)
	for i, v := range low.limit.Pix {
		low.limit.Pix[i] = min(v, likely)
	}
	spots, err := bareSpots(l, low, true)
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, sp := range spots {
		missing, pixel, coat := 0, 0.0, 0.0
		shares := make([]float32, 0, len(sp.pixels))
		for _, i := range sp.pixels {
			shares = append(shares, b.neutral.Pix[i])
			if b.missing(i) {
				missing++
			}
			pixel, coat = pixel+float64(b.level[i].pixel), coat+float64(b.level[i].coat)
		}
		if sp.soft && nth(shares, len(shares)/2) < colourless {
			continue
		}
		if covered[sp.pixels[0]] || sp.isGlare() || sp.depth < thinRim || sp.diameter() < l.leastSpot() ||
			float64(missing) < surely*float64(len(sp.pixels)) || pixel < lighter*coat {
			continue
		}
		if k := l.kind(low, sp); k == bareSpot || k == glossSpot {
			out = append(out, sp)
		}
	}
	return out, nil
}
