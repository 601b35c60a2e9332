package inspect

import (
	"errors"
	"image"
	"math"
	"slices"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

var (
	errNoPiece   = errors.New("no piece found on the card")
	errTwoPieces = errors.New("more than one piece on the card")
	errOverEdge  = errors.New("the piece reaches over the card's edge")
)

// place is where the head is in the photo, found in the reduced picture.
type place struct {
	Centre image.Point // of the largest circle inside the head, photo px
	Radius float64     // of that circle, photo px
	core   float64     // radius of what is surely head around the centre, photo px
	glint  float64     // radius of a circle round what was found first, photo px
	line   closedLine  // what is surely head, but for its border; photo px
	Bounds image.Rectangle
}

// locate finds the thick part of the one piece in the photo, in the reduced
// picture, and marks there all that light didn't reach as card: of a dark coat nothing but
// its glints may stand out by its colour.
func locate(card *calib.GreyCard, hull *image.Gray) (at place, rest *image.Gray, err error) {
	lin := *card.Reduced
	lin.Pix = append([]float32(nil), lin.Pix...)
	card.Reflect(&lin)
	t, edge, err := tonesAndEdges(patch{&lin, card.Reflectance}, 1)
	if err != nil {
		return place{}, nil, err
	}
	const gentle = 0.08 // log level per reduced px: a soft shadow's fringe, not an outline
	full, err := t.fullLight(card.Residual)
	if err != nil {
		return place{}, nil, err
	}
	reached := t.reach(edge, full, gentle)
	var distinct *image.Gray
	distinct, rest = t.unlikeCard(reached, card.Residual, hull)
	if at, err = thickest(distinct, lin.Step); err == nil {
		at, err = at.within(rest, lin.Step)
		return at, rest, err
	}
	// fragments of a pale or a grey head: what goes with them?
	marks, likely := make([]uint8, len(full)), make([]bool, len(full))
	for _, may := range []*image.Gray{distinct, rest} {
		for i := range marks {
			likely[i] = may.Pix[i] != 0
			if hull.Pix[i] == 0 || full[i] && !likely[i] {
				marks[i] = cardMark
			}
		}
		c := newCoarse(patch{&lin, card.Reflectance}, 2, marks)
		m, err := c.cut(c.shares(likely, t.w, t.h), 1)
		if err != nil {
			return place{}, nil, err
		}
		if at, err := thickest(c.enlarged(m, hull.Rect), lin.Step); err == nil {
			return at, rest, nil
		}
	}
	return place{}, nil, err
}

// onCard tells whether a place lies within the card's hull, in its reduced picture.
func (at place) onCard(hull *image.Gray, step int) bool {
	b := at.Bounds
	for _, corner := range [4]image.Point{b.Min, {X: b.Max.X, Y: b.Min.Y}, {X: b.Min.X, Y: b.Max.Y}, b.Max} {
		if hull.GrayAt(corner.X/step, corner.Y/step).Y == 0 {
			return false
		}
	}
	return true
}

// within widens a place to the circle that fits a mask there: of a grey head the
// middle alone is lighter than the card.
func (at place) within(mask *image.Gray, step int) (place, error) {
	dist, err := cv.Distance(mask)
	if err != nil {
		return at, err
	}
	c := at.Centre.Div(step)
	r := dist.Pix[c.Y*dist.Width+c.X] * float32(step)
	if float64(r) > at.Radius {
		at.Radius = float64(r)
		at.Bounds = at.Bounds.Union(image.Rectangle{at.Centre, at.Centre}.Inset(-int(r)))
	}
	return at, nil
}

// unlikeCard marks what its hue or its brightness parts from the card and its
// shadows, and all else that the gentle shading of shadows did not reach, the
// former included.
func (t *tones) unlikeCard(reached []bool, noise float64, hull *image.Gray) (distinct, rest *image.Gray) {
	hue := learnShadow(t, reached)
	bright := float32(math.Log(1.3 + 6*noise + toe))
	distinct, rest = image.NewGray(hull.Rect), image.NewGray(hull.Rect)
	for i, in := range hull.Pix {
		if in == 0 {
			continue
		}
		if hue.foreign(t, i, 0.25) || t.plane[1].Pix[i] > bright {
			distinct.Pix[i], rest.Pix[i] = 255, 255
		}
		if !reached[i] {
			rest.Pix[i] = 255
		}
	}
	return distinct, rest
}

// wireReduced is thicker than half a hook wire in the reduced picture and
// thinner than half any head worth grading, px.
const wireReduced = 3.5

// thickest finds the head in a mask of all that is not card: its thickest part.
func thickest(mask *image.Gray, step int) (place, error) {
	w := mask.Rect.Dx()
	dist, err := cv.Distance(mask)
	if err != nil {
		return place{}, err
	}
	thick := image.NewGray(mask.Rect)
	for i, d := range dist.Pix {
		if d > wireReduced {
			thick.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(thick)
	if err != nil {
		return place{}, err
	}
	if len(blobs) == 0 {
		return place{}, errNoPiece
	}
	radius := make([]float64, len(blobs))
	peak := make([]image.Point, len(blobs))
	best := 0
	for i, l := range labels {
		if l > 0 && float64(dist.Pix[i]) > radius[l-1] {
			radius[l-1], peak[l-1] = float64(dist.Pix[i]), image.Pt(i%w, i/w)
			if radius[l-1] > radius[best] {
				best = int(l - 1)
			}
		}
	}
	for j, p := range peak {
		apart := p.Sub(peak[best])
		if radius[j] > 0.6*radius[best] && math.Hypot(float64(apart.X), float64(apart.Y)) > 2.5*radius[best] {
			return place{}, errTwoPieces
		}
	}
	head, err := opening(dist, 0.3*radius[best], peak[best].Y*w+peak[best].X)
	if err != nil {
		return place{}, err
	}
	b := bounds(head)
	return place{
		Centre: peak[best].Mul(step).Add(image.Pt(step/2, step/2)),
		Radius: radius[best] * float64(step),
		core:   0.5 * radius[best] * float64(step),
		glint:  math.Hypot(float64(b.Dx()), float64(b.Dy())) / 2 * float64(step),
		Bounds: image.Rectangle{b.Min.Mul(step), b.Max.Mul(step)},
	}, nil
}

// bounds is the smallest rectangle that holds a mask.
func bounds(m *image.Gray) image.Rectangle {
	var b image.Rectangle
	w := m.Rect.Dx()
	for y := range m.Rect.Dy() {
		row := m.Pix[y*m.Stride:][:w]
		from, to := 0, w
		for from < to && row[from] == 0 {
			from++
		}
		for to > from && row[to-1] == 0 {
			to--
		}
		if from < to {
			b = b.Union(image.Rect(from, y, to, y+1))
		}
	}
	return b
}

// pieceMask separates the piece from the card and its shadows on a patch
// around the place found. The card and its shadows change gently, in level and
// in hue; a piece begins at an edge. So the card in full light and what is
// surely head are marked and flooded until they meet on the strongest edge.
func pieceMask(p patch, t *tones, edge cv.Plane, at place, card *calib.GreyCard, hull *image.Gray) (mask *image.Gray, firm float64, err error) {
	full, err := t.fullLight(card.Residual)
	if err != nil {
		return nil, 0, err
	}
	reached := t.reach(edge, full, softEdge)
	hue := learnShadow(t, reached)
	umbra, err := t.umbra(edge, full, hue)
	if err != nil {
		return nil, 0, err
	}
	onCard := func(i int) bool {
		q := p.Rect.Min.Add(image.Pt(i%t.w, i/t.w).Mul(p.Step)).Div(card.Reduced.Step)
		return q.In(hull.Rect) && hull.GrayAt(q.X, q.Y).Y != 0
	}
	coloured := image.NewGray(image.Rect(0, 0, t.w, t.h))
	for i := range coloured.Pix {
		if hue.foreign(t, i, 0.45) && onCard(i) { // the table is no piece, even where a hook leads to it
			coloured.Pix[i] = 255
		}
	}
	inner, err := cv.Distance(coloured)
	if err != nil {
		return nil, 0, err
	}
	cx, cy := p.toPatch(at.Centre)
	step := float64(p.Step)
	radius := at.Radius / step
	bright := float32(math.Log(1.15 + 6*card.Residual + toe))
	marks, likely := make([]uint8, t.w*t.h), make([]bool, t.w*t.h)
	for i := range marks {
		dx, dy, thick := float64(i%t.w)-cx, float64(i/t.w)-cy, float64(inner.Pix[i])
		away := dx*dx + dy*dy // squared
		switch {
		case away < sq(at.core/step), at.line.holds(dx*step, dy*step, cutBlock*step), thick > 4 && (thick > 0.15*radius || away < sq(2.3*radius)):
			marks[i] = pieceMark
		case full[i]:
			marks[i] = cardMark
		default:
			likely[i] = (t.plane[1].Pix[i] > bright || hue.foreign(t, i, 0.25)) && onCard(i)
		}
	}
	for i := range reached {
		reached[i] = reached[i] || umbra[i] || !onCard(i)
	}
	c := newCoarse(p, cutBlock, marks)
	first, f, err := c.part(likely, reached, t.w, t.h)
	if err != nil {
		return nil, 0, err
	}
	if c.holds(first, c.shares(umbra, t.w, t.h)) > mostUmbra {
		for i, is := range umbra {
			if is && math.Hypot(float64(i%t.w)-cx, float64(i/t.w)-cy) >= at.core/step {
				marks[i] = cardMark // whatever a line of edges holds
			}
			likely[i] = likely[i] || !reached[i]
		}
		c = newCoarse(p, cutBlock, marks)
		if first, f, err = c.part(likely, reached, t.w, t.h); err != nil {
			return nil, 0, err
		}
	}
	if err := c.open(first, t, marks); err != nil {
		return nil, 0, err
	}
	mask = image.NewGray(image.Rect(0, 0, t.w, t.h))
	for i, l := range flood(edge, marks) {
		if l == pieceMark {
			mask.Pix[i] = 255
		}
	}
	return mask, f, nil
}

// mostUmbra is how much of a piece may be umbra for what is known of the card to hold: where
// its shadow is known to be card, dark bare metal is more like the card, too. Of four drawn
// pieces that took a shadow in it was a sixth to a half.
const mostUmbra = 0.05

// sureFirm is how firm a line is, a log ratio, that no other is taken instead of: that
// would have to be firmer than 1.14, and none of 57 on practice photographs was.
const sureFirm = 0.8

// cardHull fills the convex hull of the card in its reduced picture, but for
// tags: a piece lies within it, the table around the card does not.
func cardHull(card *calib.GreyCard, tags []calib.Tag) (*image.Gray, error) {
	r := image.Rect(0, 0, card.Reduced.Width, card.Reduced.Height)
	in := image.NewGray(r)
	for i, ok := range card.Inside {
		if ok {
			in.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(in)
	if err != nil || len(blobs) == 0 {
		return in, err
	}
	var whole image.Rectangle
	large := make([]bool, len(blobs)+1) // a piece can cut the card in parts; specks on the table are no part
	area := 0
	for _, b := range blobs {
		area += b.Area
	}
	for _, b := range blobs {
		if large[b.Label] = b.Area > area/50; large[b.Label] {
			whole = whole.Union(b.Bounds)
		}
	}
	w := r.Dx()
	var left, right []image.Point
	for y := whole.Min.Y; y < whole.Max.Y; y++ {
		row := labels[y*w : (y+1)*w]
		x := slices.IndexFunc(row, func(l int32) bool { return large[l] })
		if x < 0 {
			continue
		}
		left = append(left, image.Pt(x, y))
		for x = w - 1; !large[row[x]]; x-- {
		}
		right = append(right, image.Pt(x, y))
	}
	hull := image.NewGray(r)
	lo, hi := chain(left, -1), chain(right, 1)
	for y := whole.Min.Y; y < whole.Max.Y; y++ {
		for x := max(0, int(across(lo, y))); x <= min(w-1, int(across(hi, y)+0.5)); x++ {
			if step := float64(card.Reduced.Step); !hidden(tags, (float64(x)+0.5)*step, (float64(y)+0.5)*step) {
				hull.Pix[y*w+x] = 255
			}
		}
	}
	return hull, nil
}

// chain keeps the points, ordered by y, that bulge to the given side (−1 left,
// +1 right): half of a convex hull (A. M. Andrew, Inf. Process. Lett. 9, 1979).
func chain(pts []image.Point, side int) []image.Point {
	var out []image.Point
	for _, p := range pts {
		for len(out) > 1 {
			a, b := out[len(out)-2], out[len(out)-1]
			if side*((b.X-a.X)*(p.Y-a.Y)-(p.X-a.X)*(b.Y-a.Y)) > 0 {
				break
			}
			out = out[:len(out)-1]
		}
		out = append(out, p)
	}
	return out
}

// across is the x at which a chain crosses row y.
func across(c []image.Point, y int) float64 {
	for i := 1; i < len(c); i++ {
		if y <= c[i].Y {
			a, b := c[i-1], c[i]
			return float64(a.X) + float64(b.X-a.X)*float64(y-a.Y)/float64(b.Y-a.Y)
		}
	}
	return float64(c[len(c)-1].X)
}
