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
)

// place is where the head is in the photo, found in the reduced picture.
type place struct {
	Centre image.Point // of the largest circle inside the head, photo px
	Radius float64     // of that circle, photo px
	Bounds image.Rectangle
}

// locate finds the thick part of the one piece in the photo, in the reduced
// picture. Tags are no piece.
func locate(card *calib.GreyCard, tags []calib.Tag) (place, error) {
	lin := *card.Reduced
	lin.Pix = append([]float32(nil), lin.Pix...)
	card.Reflect(&lin)
	t, err := tonesOf(patch{&lin, card.Reflectance}, 1)
	if err != nil {
		return place{}, err
	}
	hull, err := cardHull(card, image.Rect(0, 0, t.w, t.h))
	if err != nil {
		return place{}, err
	}
	for i := range hull.Pix {
		if hidden(tags, (float64(i%t.w)+0.5)*float64(lin.Step), (float64(i/t.w)+0.5)*float64(lin.Step)) {
			hull.Pix[i] = 0
		}
	}
	edge, err := t.edges()
	if err != nil {
		return place{}, err
	}
	const gentle = 0.08 // log level per reduced px: a soft shadow's fringe, not an outline
	full, err := t.fullLight(card.Residual)
	if err != nil {
		return place{}, err
	}
	reached := t.reach(edge, full, gentle)
	piece, err := t.unlikeCard(reached, card.Residual, hull)
	if err != nil {
		return place{}, err
	}
	return thickest(piece, lin.Step)
}

// unlikeCard is all that its hue or its brightness parts from the card and its
// shadows. Where that is nothing thick, a grey head is looked for: an area that
// the gentle shading of shadows did not reach.
func (t *tones) unlikeCard(reached []bool, noise float64, hull *image.Gray) (*image.Gray, error) {
	hue := learnShadow(t, reached)
	bright := float32(math.Log(1.3 + 6*noise + toe))
	distinct, rest := image.NewGray(hull.Rect), image.NewGray(hull.Rect)
	for i, in := range hull.Pix {
		switch {
		case in == 0:
		case hue.foreign(t, i, 0.25) || t.plane[1].Pix[i] > bright:
			distinct.Pix[i] = 255
		case !reached[i]:
			rest.Pix[i] = 255
		}
	}
	dist, err := cv.Distance(distinct)
	if err != nil {
		return nil, err
	}
	if slices.Max(dist.Pix) > 2*wireReduced {
		return distinct, nil
	}
	return rest, nil
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
		Bounds: image.Rectangle{b.Min.Mul(step), b.Max.Mul(step)},
	}, nil
}

// bounds is the smallest rectangle that holds a mask.
func bounds(m *image.Gray) image.Rectangle {
	var b image.Rectangle
	for i, v := range m.Pix {
		if v != 0 {
			x, y := i%m.Stride, i/m.Stride
			b = b.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	return b
}

// pieceMask separates the piece from the card and its shadows on a patch
// around the place found. The card and its shadows change gently, in level and
// in hue; a piece begins at an edge. So the card in full light and what is
// surely head are marked and flooded until they meet on the strongest edge.
func pieceMask(p patch, t *tones, edge cv.Plane, at place, noise float64) (*image.Gray, error) {
	full, err := t.fullLight(noise)
	if err != nil {
		return nil, err
	}
	const gentle = 0.035 // log level per px
	hue := learnShadow(t, t.reach(edge, full, gentle))
	coloured := image.NewGray(image.Rect(0, 0, t.w, t.h))
	for i := range coloured.Pix {
		if hue.foreign(t, i, 0.45) {
			coloured.Pix[i] = 255
		}
	}
	inner, err := cv.Distance(coloured)
	if err != nil {
		return nil, err
	}
	cx, cy := p.toPatch(at.Centre)
	radius := at.Radius / float64(p.Step)
	marks := make([]uint8, t.w*t.h)
	for i := range marks {
		away, thick := math.Hypot(float64(i%t.w)-cx, float64(i/t.w)-cy), float64(inner.Pix[i])
		switch {
		case away < 0.5*radius, thick > max(4, 0.15*radius), thick > 4 && away < 2.3*radius:
			marks[i] = pieceMark
		case full[i]:
			marks[i] = cardMark
		}
	}
	label := flood(edge, marks)
	mask := image.NewGray(image.Rect(0, 0, t.w, t.h))
	for i, l := range label {
		if l == pieceMark {
			mask.Pix[i] = 255
		}
	}
	return mask, nil
}

// cardHull fills the convex hull of the card: a piece lies within it, the
// table around the card does not.
func cardHull(card *calib.GreyCard, r image.Rectangle) (*image.Gray, error) {
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
			hull.Pix[y*w+x] = 255
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
