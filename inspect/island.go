package inspect

import (
	"image"
	"math"
)

// darkIslands are spots much darker than the coat on all sides of them: metal or a black
// base, or the coat in shadow. Under a film too thin to hide it metal keeps the film's hue,
// so that hue tells nothing; but a shadow comes in from what casts it, the hook, the eye or
// a collar's lip, a groove is a line, and the wall of a socket bends around its light floor.
// Covered marks the eye.
func (l *look) darkIslands(b bareness, covered []bool) ([]spot, error) {
	const (
		darker = 0.5  // log ratio to the coat, at least: half of a dark metal's on a coat as light as the card
		sure   = 0.67 // of levels.scatter: three standard deviations
		soft   = 6    // px over which a spot's edge fades, see darkSpots
		light  = 1.6  // times the spot: what is darker, again
		around = 0.9  // share of its border, at least, beyond which it is light
		filled = 0.85 // share of the ellipse of its length and width: a ring's half fills half of it
	)
	s := l.shape
	m := image.NewGray(s.head.Rect)
	for i := range m.Pix {
		v := b.level[i]
		if l.judged(i) && !covered[i] && v.pixel < brightestMetal &&
			float64(v.pixel) < float64(v.coat)*math.Exp(-max(darker, sure*float64(v.scatter))) {
			m.Pix[i] = 255
		}
	}
	blobs, err := l.spotsIn(m, b)
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, sp := range blobs {
		if length, width := sp.size(s.w); sp.depth < thinRim || sp.diameter() < l.leastSpot() ||
			float64(len(sp.pixels)) < filled*math.Pi/4*length*width || l.isLine(sp) {
			continue
		}
		level := 0.0
		for _, i := range sp.pixels {
			level += float64(b.level[i].pixel) / float64(len(sp.pixels))
		}
		lit := l.borderShare(sp, m, soft, func(_, out int) bool { return float64(b.level[out].pixel) > light*level })
		if lit >= around {
			sp.island = true
			out = append(out, sp)
		}
	}
	return out, nil
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
