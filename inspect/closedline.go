package inspect

import (
	"image"
	"math"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// A closedLine goes round a point: its distance in each of lineWays directions, from
// that of x on towards y.
type closedLine []float64

const lineWays = 720

// sureLine is a firmness that no line through noise and glitter has, 2 and less, nor
// one with an edge on half of it.
const sureLine = 3

// closedLineAround is the line round a point on which edges are strongest all in all;
// it stays between the two distances. It may have gaps where the head is as light as
// the card, which neither colour nor detail can bridge. Firm is the lower quartile of
// the edges along it, in medians of the patch.
//
// The line of least sum of a cost that falls with the edge, over directions instead of
// length, so that a small line has no advantage (B. Appleton and H. Talbot, J. Math.
// Imaging Vis. 23, 67–86, 2005, from memory), found by dynamic programming.
func closedLineAround(edge cv.Plane, x, y, least, most float64) (line closedLine, firm float64) {
	const turn = 3         // px a direction: as much as a line drawn three times as long as wide needs
	const strongest = 0.02 // cost of the strongest edge, 1 without any: it keeps a line short
	usual := nth(append([]float32(nil), edge.Pix...), len(edge.Pix)/2)
	radii := int(most-least) + 1
	strength, cost := make([][]float32, lineWays), make([][]float32, lineWays)
	for k := range cost {
		strength[k], cost[k] = make([]float32, radii), make([]float32, radii)
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / lineWays)
		for r := range cost[k] {
			q := image.Pt(int(math.Round(x+(least+float64(r))*cos)), int(math.Round(y+(least+float64(r))*sin)))
			if q.X >= 0 && q.Y >= 0 && q.X < edge.Width && q.Y < edge.Height {
				strength[k][r] = edge.Pix[q.Y*edge.Width+q.X] / usual
			}
			cost[k][r] = strongest + (1-strongest)/(1+strength[k][r]*strength[k][r]/4)
		}
	}
	longer := make([][turn + 1]float32, radii) // is a line that moves in or out by so much than one that goes round
	for r := range longer {
		for d := range longer[r] {
			longer[r][d] = float32(math.Hypot(1, float64(d)/((least+float64(r))*2*math.Pi/lineWays)))
		}
	}
	// two rounds, of which the second half of the first and the first of the second
	// know nothing of where the line begins
	const rounds = 2 * lineWays
	sum, next := make([]float32, radii), make([]float32, radii)
	from := make([][]int16, rounds)
	for k := range from {
		from[k] = make([]int16, radii)
		for r := range next {
			best, least := 0, float32(math.Inf(1))
			for d := max(0, r-turn); d <= min(radii-1, r+turn); d++ {
				if s := sum[d] + cost[k%lineWays][r]*longer[r][max(d-r, r-d)]; s < least {
					best, least = d, s
				}
			}
			next[r], from[k][r] = least, int16(best)
		}
		sum, next = next, sum
	}
	r := 0
	for d := range sum {
		if sum[d] < sum[r] {
			r = d
		}
	}
	line = make(closedLine, lineWays)
	edges := make([]float64, 0, lineWays)
	for k := rounds - 1; k >= lineWays/2; k-- {
		if k < rounds-lineWays/2 {
			line[k%lineWays] = least + float64(r)
			edges = append(edges, float64(strength[k%lineWays][r]))
		}
		r = int(from[k][r])
	}
	return line, nth(edges, lineWays/4)
}

// holds tells whether the line has an offset from its middle inside it, by more than
// the margin.
func (c closedLine) holds(dx, dy, margin float64) bool {
	if c == nil {
		return false
	}
	k := int(math.Round(math.Atan2(dy, dx)/(2*math.Pi)*lineWays) + lineWays)
	return math.Hypot(dx, dy) < c[k%lineWays]-margin
}

// coherentEdges is how much more the levels change across a line than along it, per
// pixel: glitter and noise change alike in all directions (the structure tensor's
// difference of eigenvalues: J. Bigün and G. H. Granlund, Proc. ICCV 1987, 433–438,
// from memory).
func (t *tones) coherentEdges() (cv.Plane, error) {
	const reach = 3 // px: several flakes, and still less than a collar's seam is apart from the next
	soft := cv.NewPlane(t.w, t.h)
	var tensor [3]cv.Plane
	for k := range tensor {
		tensor[k] = cv.NewPlane(t.w, t.h)
	}
	for _, level := range t.level {
		if err := soft.LogOf(level, dim); err != nil {
			return soft, err
		}
		for y := 1; y < t.h-1; y++ {
			for i := y*t.w + 1; i < (y+1)*t.w-1; i++ {
				dx, dy := soft.Pix[i+1]-soft.Pix[i-1], soft.Pix[i+t.w]-soft.Pix[i-t.w]
				tensor[0].Pix[i] += dx * dx
				tensor[1].Pix[i] += dy * dy
				tensor[2].Pix[i] += dx * dy
			}
		}
	}
	for k := range tensor {
		var err error
		if tensor[k], err = cv.Gaussian(tensor[k], reach); err != nil {
			return soft, err
		}
	}
	along := make([]float32, len(soft.Pix))
	for i := range along {
		xx, yy, xy := float64(tensor[0].Pix[i]), float64(tensor[1].Pix[i]), float64(tensor[2].Pix[i])
		apart := math.Hypot(xx-yy, 2*xy)
		soft.Pix[i], along[i] = float32(apart), float32((xx+yy-apart)/2)
	}
	noise := nth(append([]float32(nil), along...), len(along)/2)
	for i, v := range soft.Pix {
		soft.Pix[i] = float32(math.Sqrt(float64(v / (along[i] + noise))))
	}
	return soft, nil
}

// byLine looks anew at a head that was found but hardly stands out: what a closed line
// of edges around its middle holds is head, however like the card it is. Nil when it
// does not stand out then either, and in a blurred photo: there a shadow's border is as
// sharp as an outline.
func (found *look) byLine(p *calib.Photo, first *look) *look {
	const sharp = 2 // patch px: less than what coherentEdges takes together
	first.Linear = p.Linear(first.Rect, first.Step)
	found.card.Reflect(first.Linear)
	if blur, edged := first.blur(); !edged || blur > sharp*float64(first.Step) {
		return nil
	}
	t, err := tonesOf(first.patch, 1.5)
	if err != nil {
		return nil
	}
	edge, err := t.coherentEdges()
	if err != nil {
		return nil
	}
	s := first.shape
	at := first.whole(place{Centre: first.Rect.Min.Add(s.centre.Mul(first.Step))})
	at.core = 0.5 * at.Radius
	line, firm := closedLineAround(edge, float64(s.centre.X), float64(s.centre.Y), 0.5*s.radius, 2*s.radius)
	for k := range line {
		line[k] *= float64(first.Step)
	}
	at.line = line
	l, err := found.lookAround(p, at, nil)
	if err != nil {
		return nil
	}
	if firm > sureLine {
		l.firm = max(l.firm, leastFirm)
	}
	if !l.stands() {
		return nil
	}
	return l
}
