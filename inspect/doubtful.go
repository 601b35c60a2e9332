package inspect

import "math"

// doubtfulSpots are spots that are either metal or gloss on a dark coat: lighter than
// the coat and nearly without its colour, as both are, and surely so only in part,
// because the coat's own colour scatters as far, or without an edge: the haze of a window
// about it takes it. Of a faint coat it is what the outline may have passed by.
func (l *look) doubtfulSpots(b bareness) ([]spot, error) {
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
		if sp.isGlare() || sp.depth < thinRim || sp.diameter() < l.leastSpot() ||
			float64(missing) < surely*float64(len(sp.pixels)) || pixel < lighter*coat {
			continue
		}
		if k := l.kind(low, sp); k == bareSpot || k == glossSpot {
			out = append(out, sp)
		}
	}
	return out, nil
}

// doubted moves to the dark spots the bare ones of a head on which most of the coat can't be
// told from metal: what of it can is told by as little. A base lighter than metal is told by
// its light, and stays; area is that of such spots, patch px.
func (l *look) doubted(bare, dark []BareSpot) (told, all []BareSpot, area int) {
	told = []BareSpot{}
	for _, s := range bare {
		if s.Shows == l.shows(true) {
			told, area = append(told, s), area+s.AreaPx/(l.Step*l.Step)
			continue
		}
		s.Confidence, s.Shows = 0.5, MetalOrShadow
		dark = append(dark, s)
	}
	return told, dark, area
}

// doubt is how much of the head of one photo may be bare.
type doubt struct {
	file   string
	pct    float64 // of the visible head: what is bare, and what may be, each place by its confidence
	u      float64 // standard uncertainty of that; a place is bare or is not
	places int     // that may be bare
	widest *BareSpot
}

// mostDoubtful is the doubt of the photo where most may be bare. Places of narrow mm
// and more are left out, for each is a doubt of its own.
func (p *Piece) mostDoubtful(narrow float64) (most doubt) {
	for k := range p.Photos {
		ph := &p.Photos[k]
		d := doubt{file: ph.File}
		if ph.Coverage != nil && ph.Coverage.BareAreaPct != nil {
			d.pct = *ph.Coverage.BareAreaPct
			d.u = areaDoubt(d.pct)
		}
		for j := range ph.DarkSpots {
			s := &ph.DarkSpots[j]
			if s.DiameterMM != nil && *s.DiameterMM >= narrow {
				continue
			}
			d.places++
			d.pct += s.Confidence * s.SharePct
			d.u = math.Hypot(d.u, s.SharePct*math.Sqrt(s.Confidence*(1-s.Confidence)))
			if d.widest == nil || s.SharePct > d.widest.SharePct {
				d.widest = s
			}
		}
		if d.places > 0 && d.pct > most.pct {
			most = d
		}
	}
	return most
}
