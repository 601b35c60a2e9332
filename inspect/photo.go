package inspect

import (
	"fmt"
	"image"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// measureFile measures one photo of a batch, whatever comes of it. Twinned says
// that the batch has a photo of the same view in other light.
func measureFile(b *BatchFolder, f BatchFile, twinned bool, reflectance float64) (Photo, *Evidence) {
	ph := Photo{
		File: f.File, View: f.View, Lamp: f.Lamp, Operator: f.Operator, Problems: []string{},
		BareSpots: []BareSpot{}, DarkSpots: []BareSpot{}, ReliefFaults: []ReliefFault{}, DoubtfulRelief: []ReliefFault{}, ClearedSpots: []BareSpot{}, ClearedRelief: []ReliefFault{}, Eye: EyeUnseen,
	}
	if f.ScaleMMPerPx > 0 {
		ph.ScaleMMPerPx, ph.ScaleFrom = &f.ScaleMMPerPx, f.ScaleFrom
	}
	if f.Refused != "" {
		ph.Problems = append(ph.Problems, f.Refused)
		return ph, nil
	}
	p, err := calib.Open(filepath.Join(b.Dir, f.File))
	if err != nil {
		ph.Problems = append(ph.Problems, unreadable(err))
		return ph, nil
	}
	defer p.Close()
	ph.Width, ph.Height, ph.Profile = p.Width, p.Height, p.Profile
	ph.Problems = append(ph.Problems, p.Notes...)
	var mind []string
	var tone *calib.Tone
	ph.Tone, tone, mind = b.Setup.undo(p, reflectance)
	ph.Problems = append(ph.Problems, mind...)
	l, err := lookAt(p, reflectance)
	l.tone, l.base = tone, b.baseOf(f.Piece)
	if l.card != nil {
		ph.Card = describeCard(l.card)
	}
	tag, size, wrong := theTag(l.tags)
	if tag != nil {
		ph.Tag = tag
		contradicts, mind := tag.against(f)
		wrong, ph.Problems = append(wrong, contradicts...), append(ph.Problems, mind...)
	}
	if err != nil {
		why := unusable(err)
		if l.card != nil && l.card.Level < darkest { // nothing tells a card in the dark
			why, ph.Card = tooDark(l.card), nil
		}
		ph.Problems = append(append(ph.Problems, wrong...), why)
		return ph, &Evidence{Picture: cutOut(&ph, p, image.Rect(0, 0, p.Width, p.Height))}
	}
	if tag != nil {
		b := bounds(l.shape.head)
		ph.setScale(tag, size, l.toPhoto(float64(b.Min.X+b.Max.X)/2, float64(b.Min.Y+b.Max.Y)/2))
	}
	wrong = append(l.check(&ph, p), wrong...)
	ph.Usable = len(wrong) == 0
	if l.rough {
		ph.Problems = append(ph.Problems, roughOutline)
	}
	ph.Problems = append(ph.Problems, wrong...)
	var eye eye
	if ph.Usable {
		l.flatten()
		eye, err = l.findEye(ph.mmPerPx())
	}
	ev := l.evidence(&ph, p)
	if ph.Usable {
		if err == nil {
			err = l.measure(&ph, eye, f, twinned)
		}
		if err != nil {
			ph.Usable = false
			ph.Problems = append(ph.Problems, fmt.Sprintf("It could not be measured: %v.", err))
		}
		ev.places, ev.lit = l.places, l.lit
	}
	ev.Mask = l.mask(ph.Width, ph.Height)
	ph.Head.sizeOf(ev.Mask, ph.ScaleMMPerPx)
	return ph, ev
}

// mmPerPx is the photo's scale, 0 when unknown.
func (ph *Photo) mmPerPx() float64 {
	if ph.ScaleMMPerPx == nil {
		return 0
	}
	return *ph.ScaleMMPerPx
}

// measure takes the measures of a usable photo, which it closes; twinned as in measureFile.
func (l *look) measure(ph *Photo, eye eye, f BatchFile, twinned bool) error {
	scale := ph.mmPerPx() * float64(l.Step) // mm per patch px
	if l.lamps.mixed() {
		ph.Problems = append(ph.Problems, twoLights)
	}
	l.photo.Close() // not needed any more, and the largest thing in memory
	l.photo = nil
	coat, err := learnCoat(l, make([]bool, len(l.angles.Pix)))
	if err != nil {
		return err
	}
	bare := measureBareness(l, coat, lamps{})
	if bare.strips, err = l.bareStrips(); err != nil {
		return err
	}
	if bare.dark, err = l.darkSpots(bare); err != nil {
		return err
	}
	if bare, err = bare.faintly(l, coat, *ph.SharpnessPx/float64(l.Step)); err != nil {
		return err
	}
	spots, err := bareSpots(l, bare, false)
	if err != nil {
		return err
	}
	light, err := l.lightSpots(bare)
	if err != nil {
		return err
	}
	spots = append(light, slices.DeleteFunc(spots, func(sp spot) bool { return sp.meets(light) })...)
	doubtful, err := l.doubtfulSpots(bare)
	if err != nil {
		return err
	}
	lit := bare // as the eye's metal is, which two lamps tint
	if l.lamps.mixed() {
		inTints := measureBareness(l, coat, l.lamps)
		tinted, err := l.tintedSpots(inTints)
		if err != nil {
			return err
		}
		if doubtful = append(doubtful, tinted...); bare.faint == nil {
			lit = inTints
		}
	}
	eye.behind(l, lit, slices.Concat(spots, doubtful))
	notCoat := make([]bool, len(l.angles.Pix))
	l.behindEye = eye.hides(l)
	for _, i := range eye.covers {
		notCoat[i] = true
	}
	ph.Eye, ph.EyeHole, ph.EyeAt, ph.EyeNote = eye.state, eye.hole, eye.at, eye.note
	eye.onHead(l)
	islands, err := l.darkIslands(bare, coat, notCoat)
	if err != nil {
		return err
	}
	hidden := func(sp spot) bool { return notCoat[sp.pixels[0]] || eye.covered(l, sp) }
	spots, doubtful = l.withIslands(bare, spots, doubtful, slices.DeleteFunc(islands, hidden))
	doubtful = slices.DeleteFunc(doubtful, hidden)
	ph.BareSpots, ph.DarkSpots, ph.Coverage = l.coverage(bare, spots, doubtful, notCoat, scale)
	if twinned {
		if l.lit, err = l.litCoat(coat, bare); err != nil {
			return err
		}
	}
	ph.Travel = l.travel(notCoat, f.Light)
	if ph.ReliefFaults, ph.DoubtfulRelief, ph.Relief, err = measureRelief(l, coat, notCoat, scale, *ph.SharpnessPx); err != nil {
		return err
	}
	number := 0
	for k := range ph.BareSpots {
		number++
		ph.BareSpots[k].Number = number
	}
	for k := range ph.ReliefFaults {
		number++
		ph.ReliefFaults[k].Number = number
	}
	for k := range ph.DarkSpots {
		number++
		ph.DarkSpots[k].Number = number
	}
	for k := range ph.DoubtfulRelief {
		number++
		ph.DoubtfulRelief[k].Number = number
	}
	l.sayPlaces(ph)
	return nil
}

// toPhoto turns patch pixels into a place in the upright photo.
func (p patch) toPhoto(x, y float64) Point {
	s := float64(p.Step)
	return Point{float64(p.Rect.Min.X) + (x+0.5)*s, float64(p.Rect.Min.Y) + (y+0.5)*s}
}

// check says what makes a photo unfit for measuring, each with the way to mend
// it, and fills in what the checks measured.
func (l *look) check(ph *Photo, p *calib.Photo) []string {
	wrong := []string{}
	blur, edged := l.blur()
	if edged {
		ph.SharpnessPx = &blur
	}
	b := bounds(l.shape.head)
	if b.Min.X+l.Rect.Min.X < 3 || b.Min.Y+l.Rect.Min.Y < 3 ||
		l.Rect.Min.X+b.Max.X*l.Step > p.Width-3 || l.Rect.Min.Y+b.Max.Y*l.Step > p.Height-3 {
		wrong = append(wrong, "The head is cut off at the border of the photo: move it towards the middle.")
	}
	across := 2 * l.shape.radius * float64(l.Step)
	if across < leastAcrossPx {
		wrong = append(wrong, fmt.Sprintf("The head is only %.0f px across, %d are needed: go closer or use more zoom.", across, leastAcrossPx))
	}
	// A spot at the usual limit of 0.5 mm is about a fourteenth of a head; blur
	// whose full width is half of that hides it.
	limit := max(across*0.015, 2)
	if blur > limit {
		wrong = append(wrong, fmt.Sprintf("It is blurred: its edges are %.1f px wide, at most %.1f are allowed. Rest the camera on something and tap the head to focus.", EdgeWidths*blur, EdgeWidths*limit))
	} else if !edged {
		wrong = append(wrong, "No sharp edge is seen along the head: focus on it and rest the camera on something. If it was in focus, its colour is too near the card's: photograph it on a plain white or black sheet with the grey card beside it.")
	} else if l.firm < leastFirm {
		wrong = append(wrong, "The head hardly stands out from the card: its colour is too near the card's. Photograph it on a plain white or black sheet with the grey card beside it.")
	}
	if a := l.shape.apart; a != nil {
		at := l.uncut.toPhoto(a.X, a.Y)
		wrong = append(wrong, fmt.Sprintf("A part as thick as a collar lies apart from the head, at %.0f, %.0f px, and what is between looks like card: bare metal, or a shadow. Move the lamp, or lay the piece on a plain white or black sheet with the grey card beside it.", at.X, at.Y))
	}
	if l.looksLikeCard(image.Pt(p.Width, p.Height)) {
		wrong = append(wrong, "What stands out is a large rectangle, so it may be the grey card, and the table was taken for the card: fill the photo with the grey card and one piece on it.")
	}
	// Of 51 photographs of heads with known truth every one shows wire.
	if !l.shape.wired {
		wrong = append(wrong, "Neither hook nor eye is seen at it, so it may be no jig head: photograph one piece with its wire in view.")
	}
	if l.card.Clipped > 0.02 {
		wrong = append(wrong, fmt.Sprintf("It is overexposed: %.0f %% of the card is at the camera's limit. Lower the exposure until the card looks mid grey.", 100*l.card.Clipped))
	}
	if l.card.Level < darkest {
		wrong = append(wrong, tooDark(l.card))
	}
	if share := l.clippedHead(); share > 0.3 {
		wrong = append(wrong, fmt.Sprintf("%.0f %% of the head is at the camera's limit: lower the exposure or soften the light.", 100*share))
	}
	return wrong
}

const roughOutline = "The coat is as grey as the card: its outline was found by its flakes, too roughly for lumps and sags on it to be judged. Photograph it on a plain white or black sheet with the grey card beside it."

// leastFirm, a log ratio, lies between the outlines found right on photographs
// drawn with known truth, 0.45 and more, and those lost in noise and sparkle,
// 0.2 and less.
const leastFirm = 0.3

const leastAcrossPx = 90 // a spot of 0.5 mm on a head of 7 mm is then 6 px wide

// clippedHead is the share of the head's pixels at the camera's upper limit.
func (l *look) clippedHead() float64 {
	n, top := 0, 0
	for i, v := range l.shape.head.Pix {
		if v != 0 {
			n++
			if l.Top[i] > 127 {
				top++
			}
		}
	}
	return float64(top) / float64(max(n, 1))
}

// evidence draws the cut-out and describes the head.
func (l *look) evidence(ph *Photo, p *calib.Photo) *Evidence {
	s := l.shape
	frame := image.Rect(0, 0, p.Width, p.Height)
	b := bounds(s.head)
	h := &Head{
		BBox:  [4]int{l.Rect.Min.X + b.Min.X*l.Step, l.Rect.Min.Y + b.Min.Y*l.Step, b.Dx() * l.Step, b.Dy() * l.Step},
		Mask:  "masks/" + strings.TrimSuffix(ph.File, filepath.Ext(ph.File)) + ".png",
		Rings: []Ring{},
	}
	h.Outline = l.polygon(s.head)
	for _, deg := range []float64{30, 60} {
		for _, line := range l.ringLines(deg) {
			h.Rings = append(h.Rings, Ring{deg, line})
		}
	}
	reach := 1.2 * s.radius
	h.Axis = [2]Point{
		l.toPhoto(l.axis.x-reach*l.axis.dx, l.axis.y-reach*l.axis.dy),
		l.toPhoto(l.axis.x+reach*l.axis.dx, l.axis.y+reach*l.axis.dy),
	}
	ph.Head = h
	r := image.Rect(h.BBox[0], h.BBox[1], h.BBox[0]+h.BBox[2], h.BBox[1]+h.BBox[3]).
		Inset(-int(0.5 * s.radius * float64(l.Step))).Intersect(frame)
	return &Evidence{Picture: cutOut(ph, p, r)}
}

// cell is the part of the photo that a patch pixel is made of.
func (p patch) cell(x, y int) image.Rectangle {
	at := p.Rect.Min.Add(image.Pt(x, y).Mul(p.Step))
	return image.Rectangle{at, at.Add(image.Pt(p.Step, p.Step))}
}

// mask draws the head, in a picture of the part of the photo that it is in.
func (l *look) mask(width, height int) *image.Gray {
	b := bounds(l.shape.head)
	painted := slices.Clone(l.shape.head.Pix)
	for _, i := range l.behindEye {
		painted[i] = 0
	}
	frame := image.Rect(0, 0, width, height)
	m := image.NewGray(l.cell(b.Min.X, b.Min.Y).Union(l.cell(b.Max.X-1, b.Max.Y-1)).Intersect(frame))
	for y := b.Min.Y; y < b.Max.Y; y++ {
		rows := l.cell(0, y).Intersect(frame)
		if rows.Empty() {
			continue
		}
		first := m.Pix[(rows.Min.Y-m.Rect.Min.Y)*m.Stride:][:m.Stride]
		for x := b.Min.X; x < b.Max.X; x++ {
			if painted[y*l.shape.w+x] != 0 {
				cell := l.cell(x, y)
				for px := cell.Min.X; px < min(cell.Max.X, m.Rect.Max.X); px++ {
					first[px-m.Rect.Min.X] = 255
				}
			}
		}
		for py := rows.Min.Y + 1; py < rows.Max.Y; py++ {
			copy(m.Pix[(py-m.Rect.Min.Y)*m.Stride:][:m.Stride], first)
		}
	}
	return m
}

// sizeOf fills in the area of a mask; mm per px, nil when unknown.
func (h *Head) sizeOf(mask *image.Gray, mm *float64) {
	for _, v := range mask.Pix {
		h.AreaPx += int(v / 255)
	}
	if mm != nil {
		mm2 := float64(h.AreaPx) * *mm * *mm
		h.AreaMM2 = &mm2
	}
}

// cutOut makes the picture of a part of the photo and describes it.
func cutOut(ph *Photo, p *calib.Photo, r image.Rectangle) *image.NRGBA {
	const side = 900.0 // picture px: sharp on a phone, 100 kB a photo
	scale := min(1, side/float64(max(r.Dx(), r.Dy())))
	picture := p.Image(r, scale)
	ph.Picture = &Picture{
		File: "pictures/" + strings.TrimSuffix(ph.File, filepath.Ext(ph.File)) + ".jpg",
		X:    r.Min.X, Y: r.Min.Y, Scale: scale, Width: picture.Rect.Dx(), Height: picture.Rect.Dy(),
	}
	return picture
}

// polygon is the outline of a mask in photo pixels, thinned to what a picture
// can show.
func (p patch) polygon(m *image.Gray) []Point {
	line, err := cv.Outline(m)
	if err != nil {
		return []Point{}
	}
	out := []Point{}
	for k := 0; k < len(line); k += 3 {
		at := p.toPhoto(float64(line[k].X), float64(line[k].Y))
		out = append(out, Point{math.Round(at.X*10) / 10, math.Round(at.Y*10) / 10})
	}
	return out
}

// ringLines are the outlines of the parts of the head seen under less than the
// given angle.
func (l *look) ringLines(deg float64) [][]Point {
	m := image.NewGray(l.shape.head.Rect)
	for i, a := range l.angles.Pix {
		if a >= 0 && float64(a) < deg {
			m.Pix[i] = 255
		}
	}
	parts, err := cv.Parts(m)
	if err != nil {
		return nil
	}
	var lines [][]Point
	for _, part := range parts {
		if line := l.polygon(part); len(line) > 8 {
			lines = append(lines, line)
		}
	}
	return lines
}

func describeCard(c *calib.GreyCard) *Card {
	d := &Card{Reflectance: c.Reflectance, SharePct: 100 * c.Share, ClippedPct: 100 * c.Clipped, UnevennessPct: 100 * c.Unevenness, ResidualPct: 100 * c.Residual}
	if k, _, ok := c.Colour.Chromaticity().CCT(); ok {
		d.CCTK = &k
	}
	return d
}

// EdgeWidths turns the standard deviation of a blur into the width of an edge that
// people read: the full width at half maximum, 2√(2 ln 2), rounded.
const EdgeWidths = 2.4
