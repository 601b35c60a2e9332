package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// offHead takes an eye whose ring was found off the head: what its ring, its hole and its
// stem hold beside the body, which goes on behind them as far as on the other side of its
// axis. It measures the viewing angles anew, which the eye had a say in.
func (e *eye) offHead(l *look) error {
	held := e.holds(l)
	if len(held) == 0 {
		return nil
	}
	s, body := l.shape, l.body()
	for _, i := range held {
		body.Pix[i] = 0
	}
	// a ring that crosses the outline leaves some of the coat within its hole
	body, err := blobAt(body, s.centre)
	if err != nil || body == nil {
		return err
	}
	axis, contour := mainAxis(body, l.root, bodyReach*s.radius)
	for _, i := range held {
		body.Pix[i] = 1
	}
	for _, i := range held {
		x, y := float64(i%s.w), float64(i/s.w)
		mid, _ := contour.at(axis.along(x, y))
		q := axis.mirror(x, y, mid)
		if !l.onCollar(i) && !(q.In(body.Rect) && body.Pix[q.Y*s.w+q.X] != 0) {
			e.off = append(e.off, i)
		}
	}
	// where the outline took in less, it only runs along the ring's foot
	const taken = 0.25 // of the ring with its hole
	long := (e.ring.long + e.ring.half) * float64(e.grid.Step) / float64(l.Step)
	short := (e.ring.flat*e.ring.long + e.ring.half) * float64(e.grid.Step) / float64(l.Step)
	if float64(len(e.off)) < taken*math.Pi*long*short {
		e.off = nil
		return nil
	}
	for _, i := range e.off {
		s.head.Pix[i], s.lip.Pix[i], s.wire.Pix[i] = 0, 0, 255
	}
	if s.head, err = blobAt(s.head, s.centre); err != nil {
		return err
	}
	if s.depth, err = cv.Distance(s.head); err != nil {
		return err
	}
	l.revolve(l.body())
	return nil
}

// body is the head without its collar.
func (l *look) body() *image.Gray {
	body := image.NewGray(l.shape.head.Rect)
	for i, v := range l.shape.head.Pix {
		if v != 0 && !l.onCollar(i) {
			body.Pix[i] = 255
		}
	}
	return body
}

// holds are the pixels of the head within the outer edge of the eye's ring and in its stem.
func (e *eye) holds(l *look) (held []int) {
	if e.ring == nil {
		return nil
	}
	stem := e.stem(l)
	for i, v := range l.shape.head.Pix {
		if v == 0 {
			continue
		}
		if x, y := e.onGrid(l, i); e.ring.outside(x, y) < blurred || stem.holds(x, y) {
			held = append(held, i)
		}
	}
	return held
}

// hides are the pixels of the head that its eye hides: of a ring its wire, of one seen on
// edge also the streaks of light between its dark flanks.
func (e *eye) hides(l *look) []int {
	if e.ring == nil {
		return hullOf(e.covers, l.shape.w)
	}
	hidden := slices.Clone(e.covers)
	for _, i := range e.holds(l) {
		if x, y := e.onGrid(l, i); e.ring.inside(x, y) > 1 && e.ring.outside(x, y) < blurred {
			hidden = append(hidden, i)
		}
	}
	return hidden
}

// hullOf are the pixels in the convex hull of some, in a picture of width w.
func hullOf(pixels []int, w int) (in []int) {
	var left, right []image.Point
	for _, i := range slices.Sorted(slices.Values(pixels)) {
		p, n := image.Pt(i%w, i/w), len(right)
		if n > 0 && right[n-1].Y == p.Y {
			right[n-1] = p
			continue
		}
		left, right = append(left, p), append(right, p)
	}
	if len(left) == 0 {
		return nil
	}
	lo, hi := chain(left, -1), chain(right, 1)
	for y := left[0].Y; y <= left[len(left)-1].Y; y++ {
		for x := int(math.Ceil(across(lo, y))); float64(x) <= across(hi, y); x++ {
			in = append(in, y*w+x)
		}
	}
	return in
}
