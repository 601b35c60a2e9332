package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// Bare metal across a collar's end is as grey as card in shadow, so that the cuts leave
// it out; it stands out from the card around it as wire does, and is taken for wire.
// But wire is no wider there than farther on.

// endOfCollar gives back to the head what was taken for wire where the hook leaves it
// and is wider than wire, as far as the disc that tells head from wire reaches.
func (l *look) endOfCollar() error {
	const (
		wide  = 3            // radii of the disc, which bulges by two into wire, and twice its own length: see rejoin
		sharp = 2 * softEdge // a shadow's border is softer, but for one lamp's, which lies on one side
	)
	s := l.shape
	piece := image.NewGray(s.head.Rect)
	for i, v := range s.head.Pix {
		piece.Pix[i] = v | s.wire.Pix[i]
	}
	dist, err := cv.Distance(piece)
	if err != nil {
		return err
	}
	more, err := opening(dist, s.discRadius(), s.centre.Y*s.w+s.centre.X)
	if err != nil {
		return err
	}
	for i, v := range s.head.Pix {
		more.Pix[i] &^= v
	}
	runs, blobs, err := cv.Runs(more)
	if err != nil {
		return err
	}
	depth, err := cv.Distance(more)
	if err != nil {
		return err
	}
	a := axis{x: float64(s.centre.X), y: float64(s.centre.Y)}
	a.dx, a.dy = unit(l.root[0]-a.x, l.root[1]-a.y)
	extent := make([]struct{ start, end, left, right, deepest float64 }, len(blobs)+1)
	for k := range extent {
		extent[k].start, extent[k].left = math.Inf(1), math.Inf(1)
		extent[k].end, extent[k].right = math.Inf(-1), math.Inf(-1)
	}
	given, border := false, make([][]float32, len(blobs)+1)
	for _, r := range runs {
		e := &extent[r.Label]
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			x, y := i%s.w, i/s.w
			along, across := a.along(float64(x), float64(y)), a.across(float64(x), float64(y))
			e.start, e.end = min(e.start, along), max(e.end, along)
			e.left, e.right, e.deepest = min(e.left, across), max(e.right, across), max(e.deepest, float64(depth.Pix[i]))
			if x == 0 || y == 0 || x == s.w-1 || y == s.h-1 {
				continue
			}
			for _, j := range [4]int{i - 1, i + 1, i - s.w, i + s.w} {
				if piece.Pix[j] == 0 {
					border[r.Label] = append(border[r.Label], strongest(l.edge, j%s.w, j/s.w, offEdge))
				}
			}
		}
	}
	for _, r := range runs {
		e, edges := extent[r.Label], border[r.Label]
		across := e.right - e.left
		if e.start <= 0 || e.left >= 0 || e.right <= 0 || across < max(wide*s.discRadius(), 2*(e.end-e.start)) ||
			e.deepest < thinRim || len(edges) == 0 || nth(edges, len(edges)/4) < sharp {
			continue
		}
		r.Fill(s.head, 255)
		r.Fill(s.wire, 0)
		given = true
	}
	if !given {
		return nil
	}
	if s.depth, err = cv.Distance(s.head); err != nil {
		return err
	}
	offWire := image.NewGray(s.head.Rect)
	for i, d := range s.clear.Pix {
		if d > 0 || s.head.Pix[i] != 0 {
			offWire.Pix[i] = 255
		}
	}
	if s.clear, err = cv.Near(offWire, wireClear*s.gauge+1); err != nil {
		return err
	}
	return l.viewingAngles()
}
