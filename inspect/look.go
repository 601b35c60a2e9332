package inspect

import (
	"errors"
	"image"
	"math"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// look is what one photo shows before anything is judged: the card, the patch
// around the head as reflectance, the head's shape and viewing angles.
type look struct {
	patch
	photo    *calib.Photo
	card     *calib.GreyCard
	tags     []calib.Tag
	tones    *tones
	edge     cv.Plane
	lines    *cv.Plane // see lineEdges; nil when not yet asked for
	shape    *shape
	angles   cv.Plane
	axis     axis
	collar   *image.Gray // nil when there is none
	toCollar cv.Plane    // distance to it, px, as far as sideReach; empty without one
	contour  contour     // of the body, along axis
	root     [2]float64  // where the hook leaves the head, patch px; the head's middle when no wire is seen
	wireCore *image.Gray // see coreOfWire
	wire     *image.Gray // all of it, in the pixels of uncut
	uncut    patch       // what the patch was before it was cut, without its pixels

	tone      *calib.Tone // to be undone in the coat's colour; nil when none is
	places    *places     // nil until the travel is measured
	lit       *lit        // nil until the coat is measured, and without a twin
	base      string      // under the coat, see BaseOf
	lamps     lamps       // known when the eye has been looked for
	hull      *image.Gray // of the card, in its reduced picture, without tags
	firm      float64     // see coarse.firmness
	behindEye []int       // pixels of the head that its eye hides
	rough     bool        // the outline was found by detail: where the eye and the hook join it and in its gaps it is off by a few px
}

// headSide is the diameter, in patch px, that the largest circle in a head is
// brought to. It makes a patch pixel 20 to 30 µm on a head of ordinary size:
// a pinhole of 0.15 mm is still 5 px wide, and twelve megapixels cost no more
// than two.
const headSide = 320

// outlineSigma is how much a patch is smoothed for its outline, patch px.
const outlineSigma = 1.5

// lookAt finds card, tags and head in a photo. With an error, the result holds
// what was found before it.
func lookAt(p *calib.Photo, reflectance float64) (*look, error) {
	found := &look{}
	card, noCard := calib.FindCard(p, reflectance)
	var reduced *calib.Linear
	if noCard == nil {
		found.card, reduced = card, card.Reduced
	}
	var err error
	if found.tags, err = p.Tags(reduced); err != nil {
		return found, err
	}
	if noCard != nil {
		return found, noCard
	}
	if found.hull, err = cardHull(card, found.tags); err != nil {
		return found, err
	}
	at, rest, err := locate(card, found.hull)
	located, lined := err == nil, false
	var l *look
	if located {
		l, err = found.wholeAt(p, at)
	}
	if errors.Is(err, errNoPiece) || err == nil && !l.stands() {
		other := found.byDetail(p)
		switch {
		case other != nil && (!located || other.holds(at.Centre)):
			if !other.confirms(l) {
				l, err = other, nil
				l.rough = true
			}
		case located:
			if d := found.byUnlit(p, rest); d != nil {
				l, err = d, nil
			} else if m := found.byMiddle(p, at, l); m != nil {
				l, err, lined = m, nil, true
			}
		}
	}
	if err == nil && (l.rough || l.firm < steady) && !lined {
		l, err = found.byLine(p, l)
	}
	if located && errors.Is(err, errNoPiece) && !at.onCard(found.hull, card.Reduced.Step) {
		err = errOverEdge
	}
	if err != nil {
		return found, err
	}
	if err := l.giveBack(func() (cv.Plane, bool, error) { return l.lineEdges(p) }); err != nil {
		return l, err
	}
	if err := l.viewingAngles(); err != nil {
		return l, err
	}
	aside, err := l.aside()
	if err != nil {
		return l, err
	}
	l.tones, l.lines, l.Pix = nil, nil, nil // made anew for the head alone
	r := l.around(aside)
	part, err := l.cut(r)
	if err != nil {
		return l, err
	}
	l.angles, l.shape.depth = cv.Plane{}, cv.Plane{} // what takeIn changes is measured anew
	if err := part.takeOffShade(p); err != nil {
		return part, err
	}
	if took, err := part.takeIn(l, aside); err != nil || !took {
		return part, err
	}
	whole, err := l.cut(r)
	if err != nil {
		return part, err
	}
	whole.patch, whole.tones = part.patch, part.tones
	return whole, nil
}

// wholeAt looks around a place for the piece that is there, and no other.
func (found *look) wholeAt(p *calib.Photo, at place) (*look, error) {
	l, err := found.lookAround(p, at, nil)
	switch {
	case err != nil:
		return nil, err
	case !l.holds(at.Centre): // an eye stands out more, and is empty, too
		return nil, errNoPiece
	}
	return l, l.knowApart()
}

// stands tells whether what was found stands out from the card as a whole head
// with its wire does.
func (l *look) stands() bool {
	return l.firm >= leastFirm && l.shape.wired && l.shape.apart == nil && 2*l.shape.radius*float64(l.Step) >= leastAcrossPx
}

// byDetail looks for a head whose colour is the card's by its detail; nil when
// that doesn't stand out either or no eye is seen: a leaf has detail, too.
func (found *look) byDetail(p *calib.Photo) *look {
	e, err := encloseDetail(p, found.card, found.hull)
	if err != nil {
		return nil
	}
	at, err := thickest(e.mask, found.card.Reduced.Step)
	if err != nil || !e.eyed {
		return nil
	}
	l, err := found.lookAround(p, at, e)
	if err != nil || !l.stands() || e.reachesEnd(l) {
		return nil
	}
	return l
}

// holds tells whether a place in the photo lies on the head.
func (l *look) holds(at image.Point) bool {
	x, y := l.toPatch(at)
	q := image.Pt(int(math.Round(x)), int(math.Round(y)))
	return q.In(l.shape.head.Rect) && l.shape.head.Pix[q.Y*l.shape.w+q.X] != 0
}

// confirms tells whether a head found by detail is the one that was found by colour,
// nil when none was: where two ways that share nothing agree, neither is chance. The
// colour's outline, which is the finer, takes over how firm the other's is.
func (l *look) confirms(colour *look) bool {
	const same = 0.85 // overlap, in each other's pixels
	if colour == nil || !colour.shape.wired {
		return false
	}
	both, all := 0, 0
	s := l.shape
	for i, v := range s.head.Pix {
		at := l.toPhoto(float64(i%s.w), float64(i/s.w))
		other := colour.holds(image.Pt(int(at.X), int(at.Y)))
		if v != 0 || other {
			all++
			if v != 0 && other {
				both++
			}
		}
	}
	if float64(both) < same*float64(all) {
		return false
	}
	colour.firm = max(colour.firm, l.firm)
	return true
}

// mostPatch is the size of a patch, px, that a head of usual size and its surroundings
// don't reach: six radii of 240 px both ways.
const mostPatch = 2_000_000

// lookAround looks at a place in a window that holds all of the head.
func (found *look) lookAround(p *calib.Photo, at place, e *enclosed) (*look, error) {
	frame := image.Rect(0, 0, p.Width, p.Height)
	fine, window := patchFor(at, frame)
	for round := 0; ; round++ {
		step := fine
		first := round == 0 && window.Dx()*window.Dy() > mostPatch*step*step
		if first { // too wide for a head so small: see coarsely whether it is a part
			step *= 2
		}
		l, piece, err := found.lookIn(p, at, window, step, e)
		if err == nil {
			l.shape, err = splitHead(l.tones, l.edge, piece)
		}
		if err == nil && e != nil {
			err = e.trim(l)
		}
		if err != nil && first {
			continue
		}
		if err != nil {
			return nil, err
		}
		if r := l.shape.radius * float64(step) / at.Radius; round < 4 && (r > 1.3 || r < 0.7) {
			at = l.whole(at) // what was found first was a part, or more than the head
			fine, window = patchFor(at, frame)
			continue
		}
		if first {
			continue
		}
		wider := window.Inset(-int(at.Radius)).Intersect(frame)
		if !l.shape.cutBy(l.Rect, frame, step) || wider == window {
			l.tones.plane[0], l.tones.plane[2] = cv.Plane{}, cv.Plane{} // from here on green is enough
			return l, nil
		}
		window = wider
	}
}

// patchFor is the part of the photo to look at and its step.
func patchFor(at place, frame image.Rectangle) (int, image.Rectangle) {
	return max(1, int(math.Round(2*at.Radius/headSide))), at.Bounds.Inset(-int(1.6 * at.Radius)).Intersect(frame)
}

// whole is where the head was found to be, around the core known before.
func (l *look) whole(core place) place {
	b := bounds(l.shape.head)
	core.Radius = l.shape.radius * float64(l.Step)
	core.Bounds = image.Rectangle{l.Rect.Min.Add(b.Min.Mul(l.Step)), l.Rect.Min.Add(b.Max.Mul(l.Step))}
	return core
}

// lookIn looks at a window of the photo and parts the piece there from the card.
func (found *look) lookIn(p *calib.Photo, at place, window image.Rectangle, step int, e *enclosed) (*look, solid, error) {
	card := found.card
	lin := p.Linear(window, step)
	card.Reflect(lin)
	l := &look{patch: patch{lin, card.Reflectance}, photo: p, card: card, tags: found.tags}
	var err error
	if l.tones, l.edge, err = tonesAndEdges(l.patch, outlineSigma); err != nil {
		return nil, solid{}, err
	}
	var mask *image.Gray
	if e != nil {
		mask, l.firm, err = e.part(l.patch, l.tones, l.edge, at)
	} else {
		mask, l.firm, err = pieceMask(l.patch, l.tones, l.edge, at, card, found.hull)
	}
	if err != nil {
		return nil, solid{}, err
	}
	l.Pix = nil // made anew for the head alone
	x, y := l.toPatch(at.Centre)
	if mask, err = blobAt(mask, image.Pt(int(x), int(y))); err != nil {
		return nil, solid{}, err
	}
	if mask == nil {
		return nil, solid{}, errNoPiece
	}
	piece, err := solidOf(mask)
	return l, piece, err
}

// around is the part of the patch that holds the head, places beside it and what is
// measured beside them: half a radius is more than any measure reaches. Cells and
// reduced copies stay where they were in the whole patch.
func (l *look) around(places []aside) image.Rectangle {
	const margin, grid = 0.5, 48 // radii; patch px, a multiple of most sides of a cell
	s := l.shape
	r := bounds(s.head)
	for _, a := range places {
		r = r.Union(a.bounds)
	}
	r = r.Inset(-int(margin * s.radius)).Intersect(s.head.Rect)
	r.Min = r.Min.Div(grid).Mul(grid)
	r.Max = r.Max.Add(image.Pt(grid-1, grid-1)).Div(grid).Mul(grid)
	return r.Intersect(s.head.Rect)
}

// cut is the look at a part of its patch, without its pixels.
func (l *look) cut(r image.Rectangle) (*look, error) {
	c, s := *l, *l.shape
	c.shape = &s
	var err error
	if c.wireCore, err = l.coreOfWire(); err != nil {
		return nil, err
	}
	c.wire, c.uncut = s.wire, patch{&calib.Linear{Rect: l.Rect, Step: l.Step}, l.cardR}
	for _, m := range []**image.Gray{&s.head, &s.lip, &s.wire, &c.wireCore, &c.collar} {
		if *m != nil {
			*m = cutMask(*m, r)
		}
	}
	for _, p := range []*cv.Plane{&s.depth, &s.clear, &c.angles, &c.edge} {
		*p = p.Cut(r)
	}
	s.w, s.h, s.centre = r.Dx(), r.Dy(), s.centre.Sub(r.Min)
	c.axis.x, c.axis.y = l.axis.x-float64(r.Min.X), l.axis.y-float64(r.Min.Y)
	c.root[0], c.root[1] = l.root[0]-float64(r.Min.X), l.root[1]-float64(r.Min.Y)
	at := r.Min.Mul(l.Step).Add(l.Rect.Min)
	c.Linear = &calib.Linear{Rect: image.Rectangle{at, at.Add(r.Size().Mul(l.Step))}.Intersect(l.Rect), Step: l.Step}
	if c.collar != nil {
		c.toCollar, err = distanceTo(c.collar, sideReach*s.radius)
	}
	return &c, err
}

func cutMask(m *image.Gray, r image.Rectangle) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := range r.Dy() {
		copy(out.Pix[y*out.Stride:(y+1)*out.Stride], m.Pix[(r.Min.Y+y)*m.Stride+r.Min.X:])
	}
	return out
}

// takeOffShade gives the head the light that would fall on the card without it.
// Its outline was found in the light that does, for there the card around it is
// even.
func (l *look) takeOffShade(p *calib.Photo) error {
	centre := l.toPhoto(float64(l.shape.centre.X), float64(l.shape.centre.Y))
	l.card.Shade(centre.X, centre.Y, l.shape.radius*float64(l.Step))
	return l.read(p)
}

// fill fills in the patch's pixels, in the light that the card tells of.
func (l *look) fill(p *calib.Photo) {
	l.Linear = p.Linear(l.Rect, l.Step)
	l.card.Reflect(l.Linear)
}

// read is fill, and makes the patch's tones.
func (l *look) read(p *calib.Photo) (err error) {
	l.tones = nil // no longer needed, and large
	l.fill(p)
	l.tones, err = tonesOf(l.patch, outlineSigma)
	return err
}

// cutBy tells whether the head runs into a side of the window that is not a
// side of the photo.
func (s *shape) cutBy(window, frame image.Rectangle, step int) bool {
	b := bounds(s.head)
	return b.Min.X < 3 && window.Min.X > frame.Min.X || b.Min.Y < 3 && window.Min.Y > frame.Min.Y ||
		b.Max.X > s.w-3 && window.Max.X < frame.Max.X-step || b.Max.Y > s.h-3 && window.Max.Y < frame.Max.Y-step
}
