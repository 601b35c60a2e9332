package inspect

import (
	"image"
	"math"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// lit is what a photo shows of a head's coat place by place, in its light. It is
// kept until doubtful marks have been set against the lamp-moved twin.
type lit struct {
	patch           // where it lies in the photo, without its pixels
	bare    []uint8 // per patch pixel, 0 coat to bareSteps metal; openCard, or cannotTell where coat and metal look alike
	outline []Point // of the head, photo px
	wire    []Point // the outlines of the wire's parts, photo px
	centre  Point   // of the largest circle in the head
	radius  float64 // of that circle, photo px
}

const (
	bareSteps  = 200
	openCard   = 254
	cannotTell = 255
)

// litCoat notes for each place how bare it looks. It cannot be told where the
// coat has no colour to speak of, at the rim, where the camera is at its limit,
// and in shadow: there a bare spot and the coat send back as little.
func (l *look) litCoat(c *coat, b bareness) (*lit, error) {
	const shaded = 0.5 // of the light that the coat gets elsewhere at that viewing angle
	s := l.shape
	out := &lit{
		patch: patch{&calib.Linear{Rect: l.Rect, Step: l.Step, Width: l.Width, Height: l.Height}, l.cardR},
		bare:  make([]uint8, len(s.head.Pix)), centre: l.toPhoto(float64(s.centre.X), float64(s.centre.Y)), radius: s.radius * float64(l.Step),
		outline: l.polygon(s.head), wire: []Point{},
	}
	for i, v := range s.head.Pix {
		out.bare[i] = cannotTell
		if v == 0 && s.wire.Pix[i] == 0 && l.isCard(i) {
			out.bare[i] = openCard
		}
		if v == 0 || !l.judged(i) || b.blind(i) || l.Top[i] > 127 {
			continue
		}
		usual := 0.0
		for k := range c.byAngle {
			usual += (math.Exp(float64(atAngle(c.byAngle[k], float64(l.angles.Pix[i])))) - toe) / 3
		}
		if float64(b.level[i].pixel) >= shaded*usual {
			out.bare[i] = uint8(bareSteps * min(max(b.bare(i), 0), 1))
		}
	}
	parts, err := cv.Parts(l.wire)
	if err != nil {
		return nil, err
	}
	for _, part := range parts {
		if line := l.uncut.polygon(part); len(line) > 8 {
			out.wire = append(out.wire, line...)
		}
	}
	return out, nil
}

// isCard tells whether a pixel looks like card in the open light: lighter than
// dull metal and no lighter than card, without a hue.
func (l *look) isCard(i int) bool {
	const most = 1.1 // relative to card; its own grain and dirt
	for _, p := range l.tones.level {
		if p.Pix[i] < brightestMetal || p.Pix[i] > most {
			return false
		}
	}
	return true
}

// at is how bare the head looks at a place of the photo.
func (a *lit) at(p Point) uint8 {
	x, y := a.toPatch(image.Pt(int(p.X), int(p.Y)))
	u, v := int(math.Round(x)), int(math.Round(y))
	if u < 0 || v < 0 || u >= a.Width || v >= a.Height {
		return cannotTell
	}
	return a.bare[v*a.Width+u]
}
