package inspect

import "image"

// toEdges is a bare spot on a collar out to the strongest edges between it and what
// is surely coat: facets shine into each other and what is left of the coat's colour
// there tells little. It marks what it adds in taken.
func (l *look) toEdges(b bareness, sp spot, taken []bool) spot {
	const (
		reach = 12  // px: past the blurred edge of the widest strip that is sought, see stripFlanks
		whole = 0.8 // opacity from where on it is surely coat, if it is less neutral than at half the coat
	)
	s := l.shape
	own := make([]bool, len(s.head.Pix))
	box := image.Rectangle{}
	for _, i := range sp.pixels {
		own[i] = true
		x, y := i%s.w, i/s.w
		box = box.Union(image.Rect(x, y, x+1, y+1))
	}
	box = box.Inset(-reach - 1).Intersect(s.head.Rect)
	marks := make([]uint8, box.Dx()*box.Dy())
	at := func(k int) int { return (box.Min.Y+k/box.Dx())*s.w + box.Min.X + k%box.Dx() }
	core := image.NewGray(image.Rect(0, 0, box.Dx(), box.Dy()))
	for k := range marks {
		if own[at(k)] {
			core.Pix[k] = 255
		}
	}
	away, err := distanceTo(core, reach)
	if err != nil {
		return sp
	}
	for k := range marks {
		i := at(k)
		switch {
		case own[i]:
			marks[k] = pieceMark
		case away.Pix[k] > reach || taken[i] || !l.judged(i) || b.opacity.Pix[i] > whole && b.neutral.Pix[i] < halfNeutral:
			marks[k] = cardMark
		}
	}
	for k, m := range flood(l.edge.Cut(box), marks) {
		if i := at(k); m == pieceMark && !own[i] {
			taken[i] = true
			sp.pixels = append(sp.pixels, i)
		}
	}
	return sp
}
