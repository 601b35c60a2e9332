package inspect

import (
	"image"
	"math"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// A photo's finest detail parts a head from the card where no colour does: card and
// shadows are smooth but for noise, flakes glitter and an outline is sharp.

// enclosed is what detail parts from the card, in its reduced picture.
type enclosed struct {
	detail cv.Plane    // see detailOf
	raw    *image.Gray // flakes and edges
	mask   *image.Gray // the same and all that they enclose, but for the holes of eyes
	hull   *image.Gray // of the card
	step   int
	eyed   bool     // there is an eye among what is enclosed
	off    cv.Plane // distance from the head without wire, see part
}

// detailOf is how much finest detail there is about each pixel of the card's reduced
// picture: the root mean square of what a third of such a pixel differs by from the
// mean of its neighbours, relative to what noise makes of card at that level.
func detailOf(p *calib.Photo, card *calib.GreyCard) (cv.Plane, error) {
	full := card.Reduced
	lin := p.Linear(image.Rect(0, 0, p.Width, p.Height), max(1, full.Step/3))
	w, h := lin.Width, lin.Height
	mean := make([]float32, w*h)
	for i := range mean {
		mean[i] = (lin.Pix[3*i] + lin.Pix[3*i+1] + lin.Pix[3*i+2]) / 3
	}
	d, level, n := cv.NewPlane(full.Width, full.Height), make([]float32, full.Width*full.Height), make([]float32, full.Width*full.Height)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			off := mean[i] - (mean[i-1]+mean[i+1]+mean[i-w]+mean[i+w])/4
			j := y*lin.Step/full.Step*full.Width + x*lin.Step/full.Step
			d.Pix[j] += off * off
			level[j] += mean[i]
			n[j]++
		}
	}
	for j, c := range n {
		d.Pix[j] /= max(c, 1)
		level[j] /= max(c, 1)
	}
	d, err := cv.Gaussian(d, 1)
	if err != nil {
		return d, err
	}
	var ofCard []float64
	for j, square := range d.Pix {
		// the variance of light's own noise goes with its level; the camera adds some in the dark
		d.Pix[j] = float32(math.Sqrt(max(float64(square), 1e-12) / (float64(level[j]) + toe*card.Level)))
		if card.Inside[j] {
			ofCard = append(ofCard, float64(d.Pix[j]))
		}
	}
	usual := float32(nth(ofCard, len(ofCard)/2))
	for j := range d.Pix {
		d.Pix[j] /= usual
	}
	return d, nil
}

// bridge is half the widest gap in an outline that is closed, reduced px: there the
// head is as light as the card beside it.
const bridge = 4.0

// encloseDetail finds what has more detail than the card, and what that encloses.
func encloseDetail(p *calib.Photo, card *calib.GreyCard, hull *image.Gray) (*enclosed, error) {
	d, err := detailOf(p, card)
	if err != nil {
		return nil, err
	}
	var off []float64 // of the card, log ratios
	for i, in := range card.Inside {
		if in {
			off = append(off, math.Abs(math.Log(float64(d.Pix[i]))))
		}
	}
	raw, err := beyondScatter(d, nth(off, len(off)/2)/0.6745, hull)
	if err != nil {
		return nil, err
	}
	e := &enclosed{detail: d, raw: raw, mask: image.NewGray(hull.Rect), hull: hull, step: card.Reduced.Step}
	outside, err := cv.Near(inverse(raw), bridge+1)
	if err != nil {
		return nil, err
	}
	for i, v := range outside.Pix {
		if v <= bridge {
			e.mask.Pix[i] = 255
		}
	}
	if e.mask, err = fillHoles(e.mask); err != nil {
		return nil, err
	}
	dist, err := cv.Distance(e.mask)
	if err != nil {
		return nil, err
	}
	radius := 0.0
	for i, v := range dist.Pix {
		radius = max(radius, float64(v)-bridge)
		e.mask.Pix[i] = 0
		if v > bridge {
			e.mask.Pix[i] = 255
		}
	}
	return e, e.openEyes(radius)
}

// beyondScatter marks what lies above the card's scatter, a log ratio: surely so, and
// what is connected with it and likely.
func beyondScatter(d cv.Plane, scatter float64, hull *image.Gray) (*image.Gray, error) {
	const sure, likely = 4.5, 2.5 // standard deviations: once in 300,000 and once in 160 pixels of card
	m := image.NewGray(hull.Rect)
	for i, v := range d.Pix {
		if hull.Pix[i] != 0 && math.Log(float64(v)) > likely*scatter {
			m.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(m)
	if err != nil {
		return nil, err
	}
	real := make([]bool, len(blobs)+1)
	for i, l := range labels {
		real[l] = real[l] || l > 0 && math.Log(float64(d.Pix[i])) > sure*scatter
	}
	for i, l := range labels {
		if !real[l] {
			m.Pix[i] = 0
		}
	}
	return m, nil
}

func inverse(m *image.Gray) *image.Gray {
	out := image.NewGray(m.Rect)
	for i, v := range m.Pix {
		out.Pix[i] = 255 - v
	}
	return out
}

// openEyes takes from the mask the round holes in raw that have thin walls on most
// sides: those of eyes, and not what lies between a head's outline and its flakes.
// Radius is that of the head.
func (e *enclosed) openEyes(radius float64) error {
	const ways, wall = 32, 0.6 // radii: a thick wire and the outline's blur
	const unround = 1.6        // of the area of the largest circle within: a collar's is more
	const leastEye = 2         // reduced px: less is a gap between flakes
	hole, err := fillHoles(e.raw)
	if err != nil {
		return err
	}
	for i, v := range e.raw.Pix {
		hole.Pix[i] &^= v
	}
	labels, blobs, err := cv.Blobs(hole)
	if err != nil {
		return err
	}
	inner, err := cv.Distance(hole)
	if err != nil {
		return err
	}
	widest := make([]float64, len(blobs)+1)
	for i, l := range labels {
		widest[l] = max(widest[l], float64(inner.Pix[i]))
	}
	eye := make([]bool, len(blobs)+1)
	for _, b := range blobs {
		thin := 0
		for k := range ways {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / ways)
			thick, in := 0.0, true
			for r := 0.0; in && r < 2*radius; r++ {
				q := image.Pt(int(b.X+r*cos+0.5), int(b.Y+r*sin+0.5))
				j := q.Y*e.mask.Stride + q.X
				in = q.In(e.mask.Rect) && e.mask.Pix[j] != 0
				if in && labels[j] != b.Label {
					thick++
				}
			}
			if thick < wall*radius {
				thin++
			}
		}
		if 3*thin > 2*ways && widest[b.Label] >= leastEye {
			e.eyed = true
			eye[b.Label] = float64(b.Area) < unround*math.Pi*sq(widest[b.Label])
		}
	}
	for i, l := range labels {
		if eye[l] {
			e.mask.Pix[i] = 0
		}
	}
	return nil
}

// blur is how far detail reaches beyond an outline, reduced px.
const blur = 1.5

// part parts the piece from the card within a band along what is enclosed, on the
// strongest edges. Firm is the lower quartile, along the outline, of how much
// detail there is, as a log ratio to the card's.
func (e *enclosed) part(p patch, t *tones, edge cv.Plane, at place) (mask *image.Gray, firm float64, err error) {
	inside, err := cv.Distance(e.mask)
	if err != nil {
		return nil, 0, err
	}
	const collar = 0.25 // radii: half of the thinnest, thicker than wire
	c := at.Centre.Div(e.step)
	core, err := opening(inside, collar*at.Radius/float64(e.step), c.Y*e.mask.Stride+c.X)
	if err != nil {
		return nil, 0, err
	}
	if e.off, err = cv.Distance(inverse(core)); err != nil {
		return nil, 0, err
	}
	outside, err := cv.Distance(inverse(e.mask))
	if err != nil {
		return nil, 0, err
	}
	wire, err := cv.Distance(e.raw)
	if err != nil {
		return nil, 0, err
	}
	marks := make([]uint8, t.w*t.h)
	for i := range marks {
		switch j := e.at(p, i); {
		case core.Pix[j] != 0 && inside.Pix[j] > bridge+0.5, core.Pix[j] == 0 && wire.Pix[j] > blur+0.5:
			marks[i] = pieceMark
		case e.off.Pix[j] > blur+0.5 && wire.Pix[j] == 0, outside.Pix[j] > blur:
			marks[i] = cardMark
		}
	}
	mask = image.NewGray(image.Rect(0, 0, t.w, t.h))
	for i, m := range flood(edge, marks) {
		if m == pieceMark {
			mask.Pix[i] = 255
		}
	}
	return mask, e.firmness(p, mask), nil
}

// trim leaves to the wire what reaches out of the head: the gap between it and an
// eye close by is bridged.
func (e *enclosed) trim(l *look) (err error) {
	s := l.shape
	for i := range s.head.Pix {
		if s.head.Pix[i] != 0 && e.off.Pix[e.at(l.patch, i)] > blur+1 {
			s.head.Pix[i], s.lip.Pix[i], s.wire.Pix[i] = 0, 0, 255
		}
	}
	s.depth, err = cv.Distance(s.head)
	return err
}

// at is the reduced pixel that a patch pixel lies in.
func (e *enclosed) at(p patch, i int) int {
	q := p.Rect.Min.Add(image.Pt(i%p.Width, i/p.Width).Mul(p.Step)).Div(e.step)
	return min(q.Y, e.mask.Rect.Max.Y-1)*e.mask.Stride + min(q.X, e.mask.Rect.Max.X-1)
}

// firmness is the lower quartile of the detail along a mask's outline, as a log
// ratio to the card's. Where the card as it was found ends, none is counted: a
// head cut off there has flakes along the cut.
func (e *enclosed) firmness(p patch, mask *image.Gray) float64 {
	w, h := mask.Rect.Dx(), mask.Rect.Dy()
	wide := e.mask.Stride
	var along []float64
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			if mask.Pix[i] == 0 || mask.Pix[i-1] != 0 && mask.Pix[i+1] != 0 && mask.Pix[i-w] != 0 && mask.Pix[i+w] != 0 {
				continue
			}
			most, j := float32(1), e.at(p, i)
			for _, k := range [9]int{j, j - 1, j + 1, j - wide, j + wide, j - wide - 1, j - wide + 1, j + wide - 1, j + wide + 1} {
				if k >= 0 && k < len(e.hull.Pix) {
					most = max(most, e.detail.Pix[k])
				}
			}
			along = append(along, math.Log(float64(most)))
		}
	}
	if len(along) == 0 {
		return 0
	}
	return nth(along, len(along)/4)
}

// reachesEnd tells whether a head runs into the end of the card as it was found:
// what lies beyond is not known.
func (e *enclosed) reachesEnd(l *look) bool {
	const most = 0.03 // of the outline, 1/30: a speck beside it
	n, ends := 0, 0
	w := l.shape.w
	for i, d := range l.shape.depth.Pix {
		if d <= 0 || d > 1.5 {
			continue
		}
		n++
		x, y := i%w, i/w
		for _, off := range [4]image.Point{{X: -8}, {X: 8}, {Y: -8}, {Y: 8}} {
			if q := image.Pt(x, y).Add(off); q.In(l.shape.head.Rect) && e.hull.Pix[e.at(l.patch, q.Y*w+q.X)] == 0 {
				ends++
				break
			}
		}
	}
	return float64(ends) > most*float64(n)
}
