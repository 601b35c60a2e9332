package inspect

import (
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// giveBack returns to the ground what the outline took in of a shadow: where the
// outline lies on no edge, for a shadow of a wide lamp ends softly, and a sure line of
// edges goes round less. Between the two it leaves the strongest edge.
func (l *look) giveBack(edges func() (edge cv.Plane, sharp bool, err error)) error {
	const (
		aside = 8 // ways to both sides that are asked, too: as wide as a wire
		apart = cutBlock
		// of 21 places on drawn heads and photographs that were shadow, by two thirds and
		// more, lines were as sure as this at 15, of 16 that were head at 4
		surest = 3 * sureLine
	)
	s := l.shape
	x, y := float64(s.centre.X), float64(s.centre.Y)
	own := s.farthest()
	outline := own.along(l.edge, x, y)
	soft := make([]bool, lineWays)
	for k := range soft {
		soft[k] = median(outline, k, aside) < softEdge
	}
	if !slices.Contains(soft, true) {
		return nil
	}
	edge, sharp, err := edges()
	if err != nil || !sharp {
		return err
	}
	line, _ := closedLineAround(edge, x, y, 0.5*s.radius, 4*s.radius)
	firm := line.along(edge, x, y)
	for k := range soft {
		soft[k] = soft[k] && own[k] > line[k]+apart && median(firm, k, aside) > surest
	}
	if !slices.Contains(soft, true) {
		return nil
	}
	marks := make([]uint8, len(s.head.Pix))
	for i, v := range s.head.Pix {
		dx, dy := float64(i%s.w)-x, float64(i/s.w)-y
		k, r := way(dx, dy), math.Hypot(dx, dy)
		switch {
		case v == 0 || soft[k] && r > own[k]-apart/2:
			marks[i] = cardMark
		case !soft[k] || r < line[k]-apart/2:
			marks[i] = pieceMark
		}
	}
	for i, m := range flood(l.edge, marks) {
		if m != pieceMark {
			s.head.Pix[i], s.lip.Pix[i] = 0, 0
		}
	}
	if s.head, err = blobAt(s.head, s.centre); err != nil {
		return err
	}
	if s.head == nil {
		return errNoPiece
	}
	whole, err := solidOf(s.head)
	if err != nil {
		return err
	}
	s.depth, s.radius = whole.depth, whole.radius
	s.centre.X, s.centre.Y = whole.peak%s.w, whole.peak/s.w
	return nil
}

// farthest is how far the head reaches from its middle.
func (s *shape) farthest() closedLine {
	out := make(closedLine, lineWays)
	for i, v := range s.head.Pix {
		if v != 0 {
			dx, dy := float64(i%s.w-s.centre.X), float64(i/s.w-s.centre.Y)
			k := way(dx, dy)
			out[k] = max(out[k], math.Hypot(dx, dy))
		}
	}
	return out
}

// along are the strongest edges near a line that goes round x, y.
func (c closedLine) along(edge cv.Plane, x, y float64) []float32 {
	out := make([]float32, len(c))
	for k, r := range c {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / lineWays)
		out[k] = strongest(edge, int(math.Round(x+r*cos)), int(math.Round(y+r*sin)), offEdge)
	}
	return out
}

// median is the middle of what lies round a place of a closed row.
func median(row []float32, at, aside int) float32 {
	var near []float32
	for d := -aside; d <= aside; d++ {
		near = append(near, row[(at+d+len(row))%len(row)])
	}
	return nth(near, aside)
}
