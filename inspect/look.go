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
	card   *calib.GreyCard
	tones  *tones
	edge   cv.Plane
	shape  *shape
	angles cv.Plane
	axis   axis
	collar *image.Gray // nil when there is none
}

// headSide is the diameter, in patch px, that the largest circle in a head is
// brought to. It makes a patch pixel 20 to 30 µm on a head of ordinary size:
// a pinhole of 0.15 mm is still 5 px wide, and twelve megapixels cost no more
// than two.
const headSide = 320

// lookAt finds card and head in a photo.
func lookAt(p *calib.Photo, reflectance float64) (*look, error) {
	card, err := calib.FindCard(p, reflectance)
	if err != nil {
		return nil, err
	}
	at, err := locate(card)
	if err != nil {
		return nil, err
	}
	step := max(1, int(math.Round(2*at.Radius/headSide)))
	frame := image.Rect(0, 0, p.Width, p.Height)
	window := at.Bounds.Inset(-int(1.6 * at.Radius)).Intersect(frame)
	for {
		l, err := lookIn(p, card, at, window, step)
		if err != nil {
			return nil, err
		}
		wider := window.Inset(-int(at.Radius)).Intersect(frame)
		if !l.shape.cutBy(l.Rect, frame, step) || wider == window {
			l.angles, l.axis, l.collar, err = viewingAngles(l.shape)
			return l, err
		}
		window = wider
	}
}

func lookIn(p *calib.Photo, card *calib.GreyCard, at place, window image.Rectangle, step int) (*look, error) {
	lin := p.Linear(window, step)
	card.Reflect(lin)
	l := &look{patch: patch{lin, card.Reflectance}, card: card}
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

// cutBy tells whether the head runs into a side of the window that is not a
// side of the photo.
func (s *shape) cutBy(window, frame image.Rectangle, step int) bool {
	b := bounds(s.head)
	return b.Min.X < 3 && window.Min.X > frame.Min.X || b.Min.Y < 3 && window.Min.Y > frame.Min.Y ||
		b.Max.X > s.w-3 && window.Max.X < frame.Max.X-step || b.Max.Y > s.h-3 && window.Max.Y < frame.Max.Y-step
}
