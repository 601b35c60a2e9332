package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib"
)

// eye is what a photo shows of the line-tie eye.
type eye struct {
	state  EyeState
	hole   *EyeHole // nil when unseen
	at     *Point   // nil when it was not found
	note   string   // unseen: why, and which view would show it
	covers []int    // patch pixels of bare spots that are an eye in front of the head, see behind
	off    []int    // patch pixels that were taken for head, see offHead
	ring   *ring    // nil when it was not found
	grid   patch    // that the ring's pixels are counted in, without its picture
	looked *eyeLook // where it was looked for
	unsure []ring   // that chance may have made, see ofMetal
}

// What keeps an eye from being seen, and which view would show it.
const (
	noteNoEye  = "No eye was found beside the head: roll the piece about its hook until you look through the ring, with card behind it."
	noteOnEdge = "The eye is seen on edge: roll the piece a quarter turn about its hook, so that its ring shows beside the head."
	noteBehind = "The head is behind the eye: roll the piece about its hook until card is to be seen through the ring."
	noteAlike  = "Through the eye, the card in this light and the paint look alike: add a photo with the lamp moved so that its light falls through the ring, or hold the eye against the light and look."
)

// findEye looks for the eye: a ring of wire beside the head or partly in front
// of it, with card or paint in it. It takes it off the head.
func (l *look) findEye(mmPerPx float64) (eye, error) {
	e := eye{state: EyeUnseen, note: noteNoEye}
	n, err := newEyeLook(l, mmPerPx)
	if err != nil {
		return e, err
	}
	l.lamps = n.lamps
	e.looked, e.grid = n, patch{&calib.Linear{Rect: n.Rect, Step: n.Step}, n.cardR}
	r, unsure := n.findRing()
	e.unsure = unsure
	if r != nil && l.standsBeside(n, r) {
		e.is(r)
	}
	return e, e.offHead(l)
}

// is takes a ring for the eye.
func (e *eye) is(r *ring) {
	at := e.looked.toPhoto(r.x, r.y)
	e.at, e.ring = &at, r
	e.state, e.hole, e.note = e.looked.through(r)
}

// ofMetal is the clearest of the unsure rings that is no coat wherever it lies on the head, and
// has coat beside it there, nil when none is: edges that happen to make a ring lie on coat, and
// no bare spot is a ring. Nor is it one where a bar among the spots lies outside of it: an eye on
// edge, whose streaks of light make rings.
func (e *eye) ofMetal(l *look, b bareness, spots []spot) (best *ring) {
	const (
		least  = rungs / 3 // of its rungs on the head
		metal  = 0.4       // share of them that surely is: the wire has light and shadow
		mostly = 0.8       // that is no coat
		beyond = 2.0       // halves of the wire's thickness from its middle
	)
	for k := range e.unsure {
		r := &e.unsure[k]
		on, bare, coat, around, beside := 0.0, 0.0, 0.0, 0, 0
		for _, p := range r.around(2 * rungs) {
			if i, ok := e.onHeadAt(l, p.x, p.y); ok {
				on++
				switch {
				case b.missing(i):
					bare++
				case b.neutral.Pix[i] < halfNeutral:
					coat++
				}
			}
			if i, ok := e.onHeadAt(l, p.x+beyond*r.half*p.nx, p.y+beyond*r.half*p.ny); ok {
				around++
				if !b.missing(i) {
					beside++
				}
			}
		}
		if on >= least && bare >= metal*on && coat <= (1-mostly)*on && 2*beside >= around && (best == nil || r.clear > best.clear) {
			best = r
		}
	}
	ring := eye{ring: best, grid: e.grid}
	if slices.ContainsFunc(spots, func(sp spot) bool { return l.isBar(b, sp) && !ring.covered(l, sp) }) {
		return nil
	}
	return best
}

// behind finds out which of the bare spots are the eye's: what its ring covers, or
// an eye seen on edge in front of the head, which is a bar of bare metal. A head
// has one eye. A ring of coat on the head, as between the lines of a collar, is none.
func (e *eye) behind(l *look, b bareness, spots []spot) {
	if e.ring != nil && e.painted(l, b) {
		*e = eye{state: EyeUnseen, note: noteNoEye, looked: e.looked, grid: e.grid, unsure: e.unsure}
	}
	if e.ring == nil {
		if r := e.ofMetal(l, b, spots); r != nil {
			e.is(r)
		}
	}
	for k, sp := range spots {
		switch {
		case e.covered(l, sp):
		case e.ring == nil && (l.isBar(b, sp) || l.isPartOfBar(b, spots, k)):
			at := l.toPhoto(sp.blob.X, sp.blob.Y)
			e.at, e.note = &at, noteOnEdge
		default:
			continue
		}
		e.covers = append(e.covers, sp.pixels...)
	}
}

// isPartOfBar tells whether a spot is a bar together with another one that is a bar and
// nearer than a wire is thick: a streak of light along the wire parts them.
func (l *look) isPartOfBar(b bareness, spots []spot, k int) bool {
	for j, sp := range spots {
		if j != k && l.isBar(b, sp) && l.isBar(b, sp.with(spots[k])) && sp.near(spots[k], l.shape.w, thinWire*l.shape.radius) {
			return true
		}
	}
	return false
}

// with is two spots as one.
func (s spot) with(other spot) spot {
	n, m := float64(len(s.pixels)), float64(len(other.pixels))
	s.blob.X, s.blob.Y = (s.blob.X*n+other.blob.X*m)/(n+m), (s.blob.Y*n+other.blob.Y*m)/(n+m)
	s.pixels = slices.Concat(s.pixels, other.pixels)
	s.rim = max(s.rim, other.rim)
	return s
}

// near tells whether two spots in a patch of a width come as near as reach px.
func (s spot) near(other spot, w int, reach float64) bool {
	for _, i := range s.pixels {
		for _, j := range other.pixels {
			if math.Hypot(float64(i%w-j%w), float64(i/w-j/w)) < reach {
				return true
			}
		}
	}
	return false
}

// thinWire is the least width of an eye's wire, in radii of the head, see isBar.
const thinWire = 0.12

// onHead marks what the eye covers of the head as wire, and the middle of its ring and stem;
// what else was taken for wire about them is their shadow.
func (e *eye) onHead(l *look) {
	if e.ring != nil {
		x, y := l.ofGrid(e.grid, e.ring.x, e.ring.y)
		stem, core := e.stem(l), *e.ring
		core.half *= 1 - wireCoreDepth
		reach := int(max(e.ring.long+e.ring.half, stem.long+stem.half)*float64(e.grid.Step)/float64(l.Step)) + 2
		stem.half = core.half
		at := image.Pt(int(x), int(y))
		box := image.Rectangle{at, at.Add(image.Pt(1, 1))}.Inset(-reach).Intersect(l.wireCore.Rect)
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				i := y*l.shape.w + x
				l.wireCore.Pix[i] = 0
				if u, v := e.onGrid(l, i); core.inside(u, v) > 1 && core.outside(u, v) < 1 || e.ring.inside(u, v) > 1 && stem.holds(u, v) {
					l.wireCore.Pix[i] = 255
				}
			}
		}
	}
	for _, i := range slices.Concat(e.covers, e.off) {
		l.wireCore.Pix[i] = 255
	}
}

// onGrid is a pixel of the head's patch in the grid of the ring, and ofGrid a place of that
// in the head's patch.
func (e *eye) onGrid(l *look, i int) (x, y float64) {
	at := l.toPhoto(float64(i%l.shape.w), float64(i/l.shape.w))
	return e.grid.toPatch(image.Pt(int(at.X), int(at.Y)))
}

func (l *look) ofGrid(grid patch, x, y float64) (float64, float64) {
	at := grid.toPhoto(x, y)
	return l.toPatch(image.Pt(int(at.X), int(at.Y)))
}

// painted tells whether most of the ring's wire is coat, and the ring lies well on the head:
// one that stands out beyond the outline is wire, though it may have the coat's colour.
func (e *eye) painted(l *look, b bareness) bool {
	const beyond = 2.0 // halves of the wire's thickness from its middle
	coat, around := 0, 0
	for _, p := range e.ring.around(2 * rungs) {
		if i, ok := e.onHeadAt(l, p.x, p.y); ok && b.neutral.Pix[i] < halfNeutral && !b.missing(i) {
			coat++
		}
		if _, ok := e.onHeadAt(l, p.x+beyond*e.ring.half*p.nx, p.y+beyond*e.ring.half*p.ny); ok {
			around++
		}
	}
	return coat > rungs && around > 3*rungs/2
}

// onHeadAt is the pixel of the head at a place in the ring's grid, if there is one.
func (e *eye) onHeadAt(l *look, x, y float64) (int, bool) {
	x, y = l.ofGrid(e.grid, x, y)
	q := image.Pt(int(math.Round(x)), int(math.Round(y)))
	if !q.In(l.shape.head.Rect) {
		return 0, false
	}
	i := q.Y*l.shape.w + q.X
	return i, l.shape.head.Pix[i] != 0
}

// standsBeside tells whether a ring is where an eye can be. The eye stands on the
// head in the plane of the hook: rolled by ρ it is cos ρ as flat, and its middle
// at least cos ρ of the head's radius from the axis. A round patch well within
// the head, and nearer to the axis, is no eye.
func (l *look) standsBeside(n *eyeLook, r *ring) bool {
	const round = 0.6
	x, y := l.ofGrid(n.patch, r.x, r.y)
	i := int(y)*l.shape.w + int(x)
	if r.flat < round || x < 0 || y < 0 || int(x) >= l.shape.w || int(y) >= l.shape.h {
		return true
	}
	within := float64(l.shape.depth.Pix[i]) * float64(l.Step)
	off := (r.y-n.y)*n.hook[0] - (r.x-n.x)*n.hook[1]
	return within < (r.long+r.half)*float64(n.Step) || math.Abs(off) > r.flat*n.radius
}

// blurred is how far out the blur of a ring's outer edge reaches.
const blurred = 1.1

// covered tells whether most of a spot lies within the outer edge of the ring and its stem,
// however that leans.
func (e *eye) covered(l *look, sp spot) bool {
	if e.ring == nil {
		return false
	}
	at := l.toPhoto(sp.blob.X, sp.blob.Y)
	in, stem := 0, e.stem(l).leaning(e.grid.toPatch(image.Pt(int(at.X), int(at.Y))))
	for _, i := range sp.pixels {
		if x, y := e.onGrid(l, i); e.ring.outside(x, y) < blurred || stem.holds(x, y) {
			in++
		}
	}
	return 2*in > len(sp.pixels)
}

// A bar is a straight piece of wire in the pixels of a grid.
type bar struct{ x, y, dx, dy, long, half float64 }

func (b bar) holds(x, y float64) bool {
	x, y = x-b.x, y-b.y
	along := x*b.dx + y*b.dy
	return along > 0 && along < b.long && math.Abs(y*b.dx-x*b.dy) < b.half
}

// leaning is the bar turned towards a place as far as a stem may lean: hooks are bent by 90
// or by 60° at the eye (common practice, no source).
func (b bar) leaning(x, y float64) bar {
	const most = 30 * math.Pi / 180
	x, y = x-b.x, y-b.y
	sin, cos := math.Sincos(min(max(math.Atan2(y*b.dx-x*b.dy, x*b.dx+y*b.dy), -most), most))
	b.dx, b.dy = b.dx*cos-b.dy*sin, b.dy*cos+b.dx*sin
	return b
}

// stem is where the wire goes on from the ring into the head, square to the hook. It may be
// a little thicker than the ring, and is seen as far as the wire is thick: what stands
// farther off leaves the head's side free.
func (e *eye) stem(l *look) bar {
	const wider = 1.3
	x, y := l.ofGrid(e.grid, e.ring.x, e.ring.y)
	b := bar{x: e.ring.x, y: e.ring.y, half: wider * e.ring.half}
	b.dx, b.dy = l.axis.dy, -l.axis.dx
	if l.axis.across(x, y) < 0 {
		b.dx, b.dy = -b.dx, -b.dy
	}
	b.long = 1/e.ring.outside(b.x+b.dx, b.y+b.dy) + 2*wider*e.ring.half
	return b
}

// isBar tells whether a bare spot has the shape and place of an eye before the head: a
// bar along the line that the hook leaves by, for the eye stands in the plane the
// casting was parted in. On edge it is twice as long as thick and more, and stands 1.5
// radii off that line, seen shortened by as much as the ring is: a ring less so is known as
// one. It stands on the body and not on the collar. Seen less on edge it is wider and to the
// side; there it must be wire by its light as well, for bare lead is dull and as flat as the
// head: a round wire mirrors all round it. Eyes are 2.2 to 3 mm across and their wire is 0.7
// to 1 mm thick on heads of 6 to 9 mm, or on coins and wedges that are a third of that from
// edge to edge (common practice, no source).
func (l *look) isBar(b bareness, sp spot) bool {
	// of the bare spots on 28 drawn heads those that lie along the hook and are as long as
	// this have 3.4 at most, of 14 eyes 12 have 3.8 and more
	const roundWire = 3.6 // the lightest tenth over the darkest
	s := l.shape
	levels := make([]float32, len(sp.pixels))
	with, across, both, collar := 0.0, 0.0, 0.0, 0
	for k, i := range sp.pixels {
		if l.onCollar(i) {
			collar++
		}
		dx, dy := float64(i%s.w)-sp.blob.X, float64(i/s.w)-sp.blob.Y
		u, v := dx*l.axis.dx+dy*l.axis.dy, dy*l.axis.dx-dx*l.axis.dy
		with, across, both = with+u*u, across+v*v, both+u*v
		levels[k] = b.level[i].pixel
	}
	askew := math.Abs(math.Atan2(2*both, with-across)) / 2 * 180 / math.Pi
	aside := math.Abs(l.axis.across(sp.blob.X, sp.blob.Y))
	length, width := sp.size(s.w)
	if 2*collar > len(sp.pixels) || width < thinWire*s.radius || length < 0.4*s.radius {
		return false
	}
	if dark, light := nth(levels, len(levels)/10), nth(levels, len(levels)*9/10); light > roundWire*dark {
		return length < 2.5*s.radius && length > 1.2*width && askew < 40 && aside < s.radius
	}
	return width < 0.45*s.radius && length < 1.25*s.radius && length > 1.7*width && askew < 45 && aside < 0.6*s.radius && sp.rim < 75
}

func sq(v float64) float64 { return v * v }
