package inspect

import (
	"image"
	"math"
	"slices"
)

// darkIslands are spots much darker than the coat on all sides of them, told in means that
// flakes don't disturb: metal or a black base, or the coat in shadow. A shadow comes in from
// what casts it, the hook, the eye or a collar's lip, a groove is a line, the wall of a socket
// bends around its light floor, and what the outline took in has coat on one side only.
// Of a coat with colour a shadow has all for its level and metal little: such a spot is surely
// bare, but for a long one on the body, as the throat is. Under a film too thin to hide it
// metal keeps the film's hue. Covered marks the eye.
func (l *look) darkIslands(b bareness, c *coat, covered []bool) ([]spot, error) {
	const (
		darker  = 0.5  // log ratio to the coat, at least: half of a dark metal's on a coat as light as the card
		scatter = 3    // standard deviations, at least
		soft    = 6    // px over which a spot's edge fades, see darkSpots
		light   = 1.6  // times the spot: what is darker, again
		around  = 0.9  // share of its border, at least, beyond which it is light
		filled  = 0.85 // share of the ellipse of its length and width: a ring's half fills half of it
		coated  = 0.6  // share of its border beyond which it is coat, and the coat's opacity there
		thins   = 12   // px over which it may thin out
		// around and filled where the coat's colour tells: lips are ragged and end in shade
		lit, ragged = 0.7, 0.75
		long        = 3 // times its width
	)
	s := l.shape
	ratio, spread, err := l.meanRatio(c)
	if err != nil {
		return nil, err
	}
	level := func(i int) float64 { return math.Exp(ratio[i]) * mean3(c.at(i)) }
	m := image.NewGray(s.head.Rect)
	for i := range m.Pix {
		if l.judged(i) && !covered[i] && ratio[i] < -max(darker, scatter*spread) && level(i) < brightestMetal {
			m.Pix[i] = 255
		}
	}
	blobs, err := l.spotsIn(m, b)
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, sp := range blobs {
		length, width := sp.size(s.w)
		fills := float64(len(sp.pixels)) / (math.Pi / 4 * length * width)
		collar := l.onCollar(sp.pixels[len(sp.pixels)/2])
		if sp.depth < thinRim || sp.diameter() < l.leastSpot() || fills < ragged || l.isLine(sp) || !collar && length > long*width ||
			l.borderShare(sp, m, thins, func(_, j int) bool { return b.opacity.Pix[j] > coated }) < coated {
			continue
		}
		var seen, coat [3]float64
		for _, i := range sp.pixels {
			want := c.at(i)
			for k, v := range l.tones.rgb(i) {
				seen[k], coat[k] = seen[k]+v, coat[k]+want[k]
			}
		}
		// On the body, whose angles are known, a place beyond its border may be darker too, as the
		// coat is there.
		mean := mean3(seen) / float64(len(sp.pixels))
		is := func(_, j int) bool { return level(j) > light*mean }
		if !collar {
			is = func(_, j int) bool { return ratio[j] > math.Log(light*mean3(seen)/mean3(coat)) }
		}
		brighter := l.borderShare(sp, m, soft, is)
		sp.island = true
		sp.sure = b.faint == nil && !l.lamps.mixed() && brighter >= lit && b.isGrey(l, sp, seen, coat)
		if sp.sure || brighter >= around && fills >= filled {
			out = append(out, sp)
		}
	}
	return out, nil
}

// withIslands adds dark islands to the spots they are, or may be: a sure one goes before what it
// meets and is not told to be bare by itself.
func (l *look) withIslands(b bareness, spots, doubtful, islands []spot) (bare, unsure []spot) {
	for _, sp := range islands {
		if !sp.sure {
			doubtful = append(doubtful, sp)
			continue
		}
		spots = slices.DeleteFunc(spots, func(other spot) bool { return !other.sure && sp.meets([]spot{other}) && l.kind(b, other) != bareSpot })
		if !sp.meets(spots) {
			spots = append(spots, sp)
		}
	}
	return spots, doubtful
}

// isGrey tells whether a dark spot, given as what it sends and what the coat does, has too little
// colour to be the coat in shadow, or turned to where its colour is another, where the coat has
// enough to tell.
func (b *bareness) isGrey(l *look, sp spot, seen, coat [3]float64) bool {
	const (
		colourful = 0.25 // twice what shaded needs
		neutral   = 0.45 // share; dark places of the coat had up to 0.38 on 600 drawn photographs, metal 0.48 and more
	)
	var shares []float64
	for _, i := range sp.pixels {
		shares = append(shares, float64(b.neutral.Pix[i]))
	}
	share, _, chroma := neutralShare(seen, coat)
	return chroma > colourful && share > neutral && tintApart(seen, [3]float64{1, 1, 1}) < mostMetalColour && !b.tilted(l, sp, nth(shares, len(shares)/2))
}

// meanRatio is the log ratio of what each place sends to what the coat does there, in means over
// a window as wide as a third of the least spot, and the standard deviation of that over the head.
func (l *look) meanRatio(c *coat) (ratio []float64, spread float64, err error) {
	const sigma = 2 // px
	of, err := l.overCoat(c, sigma)
	if err != nil {
		return nil, 0, err
	}
	ratio = make([]float64, len(l.shape.head.Pix))
	var away []float64
	for i, v := range l.shape.head.Pix {
		if v == 0 {
			continue
		}
		want := c.at(i)
		sum := 0.0
		for k, w := range want {
			sum += float64(of[k].Pix[i]) * w
		}
		ratio[i] = math.Log(max(sum/max(want[0]+want[1]+want[2], 0.01), 0.01))
		if l.shape.depth.Pix[i] >= 2*thinRim && i%3 == 0 {
			away = append(away, math.Abs(ratio[i]))
		}
	}
	if len(away) == 0 {
		return ratio, 0, nil
	}
	return ratio, nth(away, len(away)/2) / 0.6745, nil
}

// borderShare is the share of a spot's border, in the mask that it is a part of, at which the head
// goes on reach px outwards and holds tells so of the pixels half as far within and out there.
func (l *look) borderShare(sp spot, m *image.Gray, reach int, holds func(in, out int) bool) float64 {
	border, held := 0, 0
	for _, i := range sp.pixels {
		for _, step := range [4]int{1, -1, l.shape.w, -l.shape.w} {
			if m.Pix[i+step] != 0 {
				continue
			}
			border++
			if out := i + reach*step; out >= 0 && out < len(m.Pix) && l.shape.head.Pix[out] != 0 && holds(i-reach/2*step, out) {
				held++
			}
		}
	}
	return float64(held) / float64(max(border, 1))
}
