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
// Imaging Vis. 23, 67–86, 2005, from memory).
func closedLineAround(edge cv.Plane, x, y, least, most float64) (line closedLine, firm float64) {
	b := bandOf(edge, lineWays, int(most-least)+1, func(way, r int) (float64, float64) {
		sin, cos := math.Sincos(2 * math.Pi * float64(way) / lineWays)
		return x + (least+float64(r))*cos, y + (least+float64(r))*sin
	})
	// two rounds, of which the second half of the first and the first of the second
	// know nothing of where the line begins
	round := append(b, b...).follow(func(r, aside int) float64 {
		return math.Hypot(1, float64(aside)/((least+float64(r))*2*math.Pi/lineWays))
	})
	line = make(closedLine, lineWays)
	edges := make([]float64, lineWays)
	for k := lineWays / 2; k < lineWays/2+lineWays; k++ {
		line[k%lineWays] = least + float64(round[k])
		edges[k%lineWays] = float64(b[k%lineWays][round[k]])
	}
	return line, nth(edges, lineWays/4)
}

// holds tells whether the line has an offset from its middle inside it, by more than
// the margin.
func (c closedLine) holds(dx, dy, margin float64) bool {
	if c == nil {
		return false
	}
	return math.Hypot(dx, dy) < c[way(dx, dy)]-margin
}

// way is the direction of an offset.
func way(dx, dy float64) int {
	return int(math.Round(math.Atan2(dy, dx)/(2*math.Pi)*lineWays)+lineWays) % lineWays
}

// offEdge is how many px an outline may be off its edge.
const offEdge = 2

// strongest is the strongest edge no farther off both ways.
func strongest(edge cv.Plane, x, y, off int) (most float32) {
	for v := max(y-off, 0); v <= min(y+off, edge.Height-1); v++ {
		for u := max(x-off, 0); u <= min(x+off, edge.Width-1); u++ {
			most = max(most, edge.Pix[v*edge.Width+u])
		}
	}
	return most
}

// coherentEdges is how much more the levels change across a line than along it, per
// pixel, in medians of the patch: glitter and noise change alike in all directions (the
// structure tensor's difference of eigenvalues: J. Bigün and G. H. Granlund, Proc. ICCV
// 1987, 433–438, from memory). The medians are of what is off a mask, where there is one.
func (t *tones) coherentEdges(mask *image.Gray) (cv.Plane, error) {
	return coherentEdges(t.w, t.h, mask, func(k int, soft cv.Plane) error { return soft.LogOf(t.level[k], dim) })
}

// coherentEdges is that of the patch's tones without more of them than one channel at a
// time: those of a whole patch are the largest thing in memory.
func (p patch) coherentEdges(sigma float64) (cv.Plane, error) {
	level := cv.NewPlane(p.Width, p.Height)
	return coherentEdges(p.Width, p.Height, nil, func(k int, soft cv.Plane) error {
		if err := p.level(k, sigma, soft, level); err != nil {
			return err
		}
		return soft.LogOf(level, dim)
	})
}

func coherentEdges(w, h int, mask *image.Gray, logLevel func(channel int, to cv.Plane) error) (cv.Plane, error) {
	const reach = 3 // px: several flakes, and still less than a collar's seam is apart from the next
	soft := cv.NewPlane(w, h)
	var tensor [3]cv.Plane
	for k := range tensor {
		tensor[k] = cv.NewPlane(w, h)
	}
	for k := range tensor {
		if err := logLevel(k, soft); err != nil {
			return soft, err
		}
		for y := 1; y < h-1; y++ {
			row, above, below := soft.Pix[y*w:][:w], soft.Pix[(y-1)*w:][:w], soft.Pix[(y+1)*w:][:w]
			xx, yy, xy := tensor[0].Pix[y*w:][:w], tensor[1].Pix[y*w:][:w], tensor[2].Pix[y*w:][:w]
			for x := 1; x < w-1; x++ {
				dx, dy := row[x+1]-row[x-1], below[x]-above[x]
				xx[x] += dx * dx
				yy[x] += dy * dy
				xy[x] += dx * dy
			}
		}
	}
	for k := range tensor {
		if err := soft.GaussianOf(tensor[k], reach); err != nil {
			return soft, err
		}
		tensor[k], soft = soft, tensor[k]
	}
	along := tensor[0].Pix // in the place of what is not needed any more
	middle := func(pix []float32) float32 {
		off := tensor[1].Pix[:0]
		for i, v := range pix {
			if mask == nil || mask.Pix[i] == 0 {
				off = append(off, v)
			}
		}
		return nth(off, len(off)/2)
	}
	for i := range along {
		xx, yy, xy := float64(tensor[0].Pix[i]), float64(tensor[1].Pix[i]), float64(tensor[2].Pix[i])
		apart := math.Hypot(xx-yy, 2*xy)
		soft.Pix[i], along[i] = float32(apart), float32((xx+yy-apart)/2)
	}
	noise := middle(along)
	for i, v := range soft.Pix {
		soft.Pix[i] = float32(math.Sqrt(float64(v / (along[i] + noise))))
	}
	usual := middle(soft.Pix)
	for i := range soft.Pix {
		soft.Pix[i] /= usual
	}
	return soft, nil
}

// beyond is the share of the line's inside, by more than the margin, that is off a mask;
// the line goes round x, y.
func (c closedLine) beyond(mask *image.Gray, x, y, margin float64) float64 {
	out, all := 0, 0
	for i, v := range mask.Pix {
		if c.holds(float64(i%mask.Stride)-x, float64(i/mask.Stride)-y, margin) {
			all++
			if v == 0 {
				out++
			}
		}
	}
	return float64(out) / float64(max(all, 1))
}

// within is how firm the part of a mask's outline is that lies inside the line by more
// than the margin: the lower quartile of the edges along it, as of the line's.
func (c closedLine) within(mask *image.Gray, edge cv.Plane, x, y, margin float64) (float64, error) {
	outline, err := cv.Outline(mask)
	if err != nil {
		return 0, err
	}
	var along []float32
	for _, q := range outline {
		if !c.holds(float64(q.X)-x, float64(q.Y)-y, margin) {
			continue
		}
		along = append(along, strongest(edge, q.X, q.Y, offEdge))
	}
	if len(along) == 0 {
		return 0, nil
	}
	return float64(nth(along, len(along)/4)), nil
}

// sharp tells whether edges are sharp enough for a line along them to be believed: in
// a blurred photo a shadow's border is as sharp as an outline. It needs the patch's
// pixels.
func (l *look) sharp() bool {
	const most = 2 // patch px: less than what coherentEdges takes together
	blur, edged := l.blur()
	return edged && blur <= most*float64(l.Step)
}

// lineEdges are the coherent edges of all of the patch, in the light that the card tells
// of, where edges are sharp. What was found by them is kept: two looks for lines ask.
func (l *look) lineEdges(p *calib.Photo) (edge cv.Plane, sharp bool, err error) {
	if l.lines == nil {
		l.fill(p)
		l.lines = &cv.Plane{}
		if l.sharp() {
			*l.lines, err = l.coherentEdges(outlineSigma)
		}
		l.Pix = nil // made anew for the head alone
	}
	return *l.lines, l.lines.Pix != nil, err
}

// byLine looks anew at a head that is not firmly found: what a closed line of edges
// around its middle holds is head, however like the card it is. It leaves the first
// look where that found all that the line holds, or where its own outline is as sure:
// then the line goes round more than the head.
func (found *look) byLine(p *calib.Photo, first *look) (*look, error) {
	const part = 0.08 // of the line's inside that a head found whole may leave out: twice what the eye's foot does
	edge, sharp, err := first.lineEdges(p)
	if err != nil || !sharp {
		return first, err
	}
	s := first.shape
	x, y := float64(s.centre.X), float64(s.centre.Y)
	line, firm := closedLineAround(edge, x, y, 0.5*s.radius, 4*s.radius)
	own, err := line.within(s.head, edge, x, y, cutBlock)
	if err != nil {
		return nil, err
	}
	partly := firm > max(sureLine, own) && line.beyond(s.head, x, y, cutBlock) > part
	if first.stands() && !partly {
		return first, nil
	}
	at := first.whole(place{Centre: first.Rect.Min.Add(s.centre.Mul(first.Step))})
	at.core = 0.5 * at.Radius
	if l := found.held(p, at, line, first.Step); l != nil {
		if firm > sureLine {
			l.firm = max(l.firm, leastFirm)
		}
		if l.stands() {
			return l, nil
		}
	}
	if partly {
		first.firm = 0
	}
	return first, nil
}

// byMiddle looks for a head of which only the middle, or a glint, is unlike the card and
// its shadows: for the line of edges round that place. First is what colours made of
// it, nil for nothing. Nil when no line stands out, or what it holds does not.
func (found *look) byMiddle(p *calib.Photo, at place, first *look) *look {
	across := 0.0
	if first != nil {
		across = 2 * first.shape.radius * float64(first.Step)
	}
	if first == nil || first.firm < leastFirm || across < at.Radius {
		if l := found.byLineBetween(p, at, at.Radius, 4*at.Radius, leastFirm); l != nil {
			return l
		}
	}
	if across >= max(at.Radius, leastAcrossPx) {
		return nil
	}
	const most = 8 // radii of a glint: on drawn heads, of gloss, under lamps and boxes, the head has 3 to 6
	return found.byLineBetween(p, at, 1.2*at.glint, most*at.glint, 0)
}

// byLineBetween looks at what a line of edges between two distances from a place holds,
// photo px; nil when that does not stand out, even as firm as given, or is blurred.
func (found *look) byLineBetween(p *calib.Photo, at place, least, most, firm float64) *look {
	at.Radius, at.core = most/2, least/1.2 // what is surely head stays clear of the line
	at.Bounds = image.Rectangle{at.Centre, at.Centre}.Inset(-int(at.Radius))
	l := &look{card: found.card}
	l.cardR = found.card.Reflectance
	step, window := patchFor(at, image.Rect(0, 0, p.Width, p.Height))
	l.Linear = &calib.Linear{Rect: window, Step: step}
	l.fill(p)
	edge, err := l.coherentEdges(outlineSigma)
	if err != nil {
		return nil
	}
	x, y := l.toPatch(at.Centre)
	line, sure := closedLineAround(edge, x, y, least/float64(step), most/float64(step))
	if sure < sureLine {
		return nil
	}
	if l = found.held(p, at, line, step); l == nil {
		return nil
	}
	if l.firm = max(l.firm, firm); !l.stands() {
		return nil
	}
	if l.fill(p); !l.sharp() {
		return nil
	}
	return l
}

// held looks at what a line in patches of that step holds; nil when that is no piece.
func (found *look) held(p *calib.Photo, at place, line closedLine, step int) *look {
	for k := range line {
		line[k] *= float64(step)
	}
	at.line = line
	l, err := found.lookAround(p, at, nil)
	if err != nil {
		return nil
	}
	return l
}
