package inspect

import (
	"image"
	"math"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// look is what one photo shows before anything is judged: the card, the patch
// around the head as reflectance, the head's shape and viewing angles.
type look struct {
	patch
	photo  *calib.Photo
	card   *calib.GreyCard
	tags   []calib.Tag
	tones  *tones
	edge   cv.Plane
	shape  *shape
	angles cv.Plane
	axis   axis
	collar *image.Gray // nil when there is none
	places *places     // nil until the travel is measured
}

// headSide is the diameter, in patch px, that the largest circle in a head is
// brought to. It makes a patch pixel 20 to 30 µm on a head of ordinary size:
// a pinhole of 0.15 mm is still 5 px wide, and twelve megapixels cost no more
// than two.
const headSide = 320

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
	at, err := locate(card, found.tags)
	if err != nil {
		return found, err
	}
	step := max(1, int(math.Round(2*at.Radius/headSide)))
	frame := image.Rect(0, 0, p.Width, p.Height)
	window := at.Bounds.Inset(-int(1.6 * at.Radius)).Intersect(frame)
	for {
		l, err := found.lookIn(p, at, window, step)
		if err != nil {
			return found, err
		}
		wider := window.Inset(-int(at.Radius)).Intersect(frame)
		if !l.shape.cutBy(l.Rect, frame, step) || wider == window {
			if l.angles, l.axis, l.collar, err = viewingAngles(l.shape); err != nil {
				return l, err
			}
			return l, l.takeOffShade(p, at)
		}
		window = wider
	}
}

func (found *look) lookIn(p *calib.Photo, at place, window image.Rectangle, step int) (*look, error) {
	card := found.card
	lin := p.Linear(window, step)
	card.Reflect(lin)
	l := &look{patch: patch{lin, card.Reflectance}, photo: p, card: card, tags: found.tags}
	var err error
	if l.tones, err = tonesOf(l.patch, 1.5); err != nil {
		return nil, err
	}
	if l.edge, err = l.tones.edges(); err != nil {
		return nil, err
	}
	mask, err := pieceMask(l.patch, l.tones, l.edge, at, card.Residual)
	if err != nil {
		return nil, err
	}
	x, y := l.toPatch(at.Centre)
	l.shape, err = splitHead(l.tones, l.edge, mask, image.Pt(int(x), int(y)))
	return l, err
}

// takeOffShade gives the head the light that would fall on the card without it.
// Its outline was found in the light that does, for there the card around it is
// even.
func (l *look) takeOffShade(p *calib.Photo, at place) (err error) {
	l.card.Shade(float64(at.Centre.X), float64(at.Centre.Y), at.Radius)
	l.Linear = p.Linear(l.Rect, l.Step)
	l.card.Reflect(l.Linear)
	l.tones, err = tonesOf(l.patch, 1.5)
	return err
}

// cutBy tells whether the head runs into a side of the window that is not a
// side of the photo.
func (s *shape) cutBy(window, frame image.Rectangle, step int) bool {
	b := bounds(s.head)
	return b.Min.X < 3 && window.Min.X > frame.Min.X || b.Min.Y < 3 && window.Min.Y > frame.Min.Y ||
		b.Max.X > s.w-3 && window.Max.X < frame.Max.X-step || b.Max.Y > s.h-3 && window.Max.Y < frame.Max.Y-step
}
