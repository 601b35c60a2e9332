package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// bareness says for each pixel of a head how much of the coat is missing.
type bareness struct {
	opacity cv.Plane    // of the coat, about 1 where all is well; 1 outside the head
	neutral cv.Plane    // share of the pixel's light that is not the coat's own colour, about 0 where all is well
	limit   cv.Plane    // neutral share above which the coat is surely missing there
	class   []int8      // how colourful the coat is, see chromaClass
	level   []levels    // where the coat is too light to be taken for metal, see darkSpots
	strips  *image.Gray // see bareStrips; nil without any
	dark    *image.Gray // see darkSpots; nil without any
	faint   *faint      // nil when the pixels tell by themselves

	lamps lamps // whose tints count as neutral

	coats [angleClasses][3]float64 // the coat's colour by viewing angle, relative to card
}

// bareAt is the opacity below which a spot counts as bare.
const bareAt = 0.5

// measureBareness splits the colour of each pixel into the coat's own and a
// neutral part: q = a·c + n·(1, 1, 1), least squares over the three channels
// in linear light. Shadow lowers a and leaves n small; glare raises n and
// leaves a; where metal or a white base shows, the coat's colour is gone and
// something neutral stands in its place.
//
// The coat's colour c is that at the pixel's viewing angle, or at any angle the
// surface may truly have there: seen steeply most coats are dark and grey, and
// at lips, in corners and along the rim the angle is not known well. The angle
// that leaves least unexplained counts.
//
// How far this can be trusted depends on how colourful the coat is: near the
// rim, in shadow and on greys the neutral share scatters. The scatter is taken
// from the head itself, in classes of colourfulness. What the lamps tint counts as
// neutral.
func measureBareness(l *look, c *coat, of lamps) bareness {
	s, t := l.shape, l.tones
	b := bareness{lamps: of, opacity: cv.NewPlane(s.w, s.h), neutral: cv.NewPlane(s.w, s.h), limit: cv.NewPlane(s.w, s.h), level: make([]levels, s.w*s.h), class: make([]int8, s.w*s.h)}
	var members [chromaClasses][]float64
	for j := range b.coats {
		for k := range b.coats[j] {
			b.coats[j][k] = math.Exp(float64(c.byAngle[k][j]))
		}
	}
	for i, v := range s.head.Pix {
		b.opacity.Pix[i] = 1
		if v == 0 {
			continue
		}
		angle := float64(l.angles.Pix[i])
		var q, slow [3]float64
		for k := range q {
			q[k] = float64(t.level[k].Pix[i])
			slow[k] = math.Exp(float64(c.expected[k].Pix[i] - atAngle(c.byAngle[k], angle)))
		}
		lo, hi := l.angleRange(i)
		white := of.whiten(q)
		least, opacity, chroma := b.atBestAngle(&q, &slow, &white, angleClass(lo), angleClass(hi))
		b.class[i] = chromaClass(chroma)
		b.level[i] = levelsOf(q, c, i, chroma)
		b.opacity.Pix[i], b.neutral.Pix[i] = float32(opacity), float32(least)
		switch {
		case least > 0 && float64(b.level[i].own) > max(chroma, mostMetalColour): // neutral light only takes colour away: it is the coat in another one
			b.opacity.Pix[i], b.neutral.Pix[i] = 1, 0
		case s.depth.Pix[i] >= 2*thinRim && i%2 == 0:
			members[b.class[i]] = append(members[b.class[i]], least)
		}
	}
	var limit [chromaClasses]float32
	for k, m := range members {
		limit[k] = float32(math.Inf(1))
		if len(m) > 50 && k >= leastClass {
			limit[k] = float32(surelyNeutral(m))
			switch {
			case k < vividClass:
			case nth(m, len(m)/2) > leastNeutral: // most of them are bare, and say nothing of the coat's scatter
				limit[k] = leastNeutral
			default: // a vivid coat is never as neutral as this
				limit[k] = min(limit[k], 0.9)
			}
		}
	}
	for i, v := range s.head.Pix {
		switch {
		case v == 0:
		case s.lip.Pix[i] != 0:
			b.limit.Pix[i] = leastNeutral
		default:
			b.limit.Pix[i] = limit[b.class[i]]
		}
	}
	return b
}

// atBestAngle is neutralShare with the coat's colour in that class of viewing
// angles, of a range, which leaves least; slow is how much lighter the coat is there
// than elsewhere, and white makes what the lamps tint neutral, see lamps.whiten.
func (b *bareness) atBestAngle(q, slow, white *[3]float64, from, to int) (share, scale, chroma float64) {
	q0, q1, q2 := q[0]*white[0], q[1]*white[1], q[2]*white[2]
	seen := [3]float64{q0, q1, q2}
	qm := (q0 + q1 + q2) / 3
	q0, q1, q2 = q0-qm, q1-qm, q2-qm
	least, best := math.Inf(1), from
	for j := from; j <= to; j++ {
		coat := &b.coats[j]
		c0, c1, c2 := (coat[0]*slow[0]-toe)*white[0], (coat[1]*slow[1]-toe)*white[1], (coat[2]*slow[2]-toe)*white[2]
		cm := (c0 + c1 + c2) / 3
		c0, c1, c2 = c0-cm, c1-cm, c2-cm
		cross, square := q0*c0+q1*c1+q2*c2, c0*c0+c1*c1+c2*c2
		scale := 0.0
		if square > 0 {
			scale = possible(cross/square, square, cm)
		}
		if n := math.Abs(qm - scale*cm); n < least {
			least, best = n, j
		}
	}
	coat := &b.coats[best]
	return neutralShare(seen, [3]float64{(coat[0]*slow[0] - toe) * white[0], (coat[1]*slow[1] - toe) * white[1], (coat[2]*slow[2] - toe) * white[2]})
}

// neutralShare explains a colour by the coat's, scaled, and neutral light. It
// returns the neutral share of the light, the scale, and how colourful the coat
// is: the norm of its channels about their mean, relative to that mean.
func neutralShare(q, coat [3]float64) (share, scale, chroma float64) {
	qm, cm := (q[0]+q[1]+q[2])/3, (coat[0]+coat[1]+coat[2])/3
	r, g, b := coat[0]-cm, coat[1]-cm, coat[2]-cm
	cross := (q[0]-qm)*r + (q[1]-qm)*g + (q[2]-qm)*b
	square := r*r + g*g + b*b
	if square > 0 {
		scale = cross / square
	}
	chroma = math.Sqrt(square) / max(cm, 0.05)
	n := qm - possible(scale, square, cm)*cm
	return n / max(qm, 0.02), scale, chroma
}

// possible is a scale of the coat's colour as far as it may be: no less than 0, and
// brighter than its surroundings by its flakes as far as its colour shows that it is the
// coat: a grey scaled up explains all. Square and mean are those of its colour.
func possible(scale, square, mean float64) float64 {
	const surely = 1.3
	if scale <= surely {
		return max(scale, 0)
	}
	return min(scale, surely+3*max(0, math.Sqrt(square)/max(mean, 0.05)-0.3))
}

// steepest is the viewing angle, in degrees, up to which the coat's colour is
// its own: beyond, gloss mirrors the card and the outline's blur mixes it in.
const steepest = 72

func (l *look) onCollar(i int) bool { return l.collar != nil && l.collar.Pix[i] != 0 }

// fromEdge is how far in px a pixel of the body is from where it turns away: its
// outline, or the shoulder behind which the collar begins.
func (l *look) fromEdge(i int) float64 {
	d := float64(l.shape.depth.Pix[i])
	if l.collar != nil {
		d = min(d, float64(l.toCollar.Pix[i]))
	}
	return d
}

// judged tells whether a pixel can be judged bare: the rim of the body can't,
// see steepest; at the collar's lips, where paint is thinnest, only the blurred
// outline itself can't.
func (l *look) judged(i int) bool {
	s := l.shape
	d := float64(s.depth.Pix[i])
	return d >= 2 && float64(s.clear.Pix[i]) > wireClear*s.gauge && (l.onCollar(i) || s.lip.Pix[i] != 0 || d >= steepRim*s.radius)
}

// steepRim is how far from the outline of a ball the coat is seen less steeply
// than steepest, in radii, and a little more for the outline's own error.
const steepRim = 0.06

// wireClear is how far from the wire a pixel must be to be judged, in halves of the
// wire's thickness.
const wireClear = 1.6

// angleRange is the range of viewing angles, in degrees, that the surface may
// have at a pixel: the body's smooth face departs little from a body of
// revolution, a collar has lips and grooves, and the rim may be any steepness.
func (l *look) angleRange(i int) (lo, hi float64) {
	const face = 12 // degrees that lumps, seams and a shape not quite round turn the surface by
	a := float64(l.angles.Pix[i])
	if l.onCollar(i) || l.fromEdge(i) < 0.15*l.shape.radius {
		return 0, steepest
	}
	return max(0, a-face), min(steepest, a+face)
}

const chromaClasses = 12

// leastClass is the first class colourful enough, by an eighth, for a neutral
// share to mean anything: of a greyer coat every colour is nearly all neutral.
const leastClass = 4

// vividClass is the first class in which a coat has a colour that no scatter
// takes for neutral: two fifths of its level.
const vividClass = 8

// chromaClass sorts how colourful a pixel should be, as the norm of its
// channels about their mean relative to that mean, into classes a factor of
// 1.4 wide.
func chromaClass(norm float64) int8 {
	class := int8(0)
	for most := 0.05; norm > most && class < chromaClasses-1; most *= 1.4 {
		class++
	}
	return class
}

// surelyNeutral is the neutral share that scatter alone would exceed once in
// thirty thousand pixels, from shares of which more than half are coat: glare,
// bare spots and a side in another colour only raise a share, so the median and what
// lies below it tell, and far below it the least of what raises that. It reorders its
// argument.
func surelyNeutral(shares []float64) float64 {
	mid, quarter, low := nth(shares, len(shares)/2), nth(shares, len(shares)/4), nth(shares, len(shares)/20)
	return max(leastNeutral, mid+4*min((mid-quarter)/0.6745, (mid-low)/1.645))
}

// missing tells whether the coat is surely missing at a pixel: more than half
// of it gone, and more neutral light in its place than scatter explains.
func (b *bareness) missing(i int) bool {
	return b.opacity.Pix[i] < bareAt && b.neutral.Pix[i] > b.limit.Pix[i]
}

// leastNeutral is the neutral share of a pixel half of whose coat is gone over
// metal as light as the coat, and a little more for scatter.
const leastNeutral = 0.55

// inStrip tells whether a pixel lies in a narrow bare strip.
func (b *bareness) inStrip(i int) bool { return b.strips != nil && b.strips.Pix[i] != 0 }

// blind tells whether bare metal could not be told from the coat at a pixel,
// neither by its hue nor by its level.
func (b *bareness) blind(i int) bool { return b.limit.Pix[i] > 0.95 && !b.level[i].tells() }

// bareSpots joins the pixels where the coat is missing to spots: bare metal,
// base coat, glare and an eye in front of the head alike; soft ones, too, or only
// those that stand out.
func bareSpots(l *look, b bareness, soft bool) (spots []spot, err error) {
	s := l.shape
	m := image.NewGray(s.head.Rect)
	if b.dark != nil {
		copy(m.Pix, b.dark.Pix)
	}
	for i := range m.Pix {
		if b.missing(i) && l.judged(i) || b.inStrip(i) {
			m.Pix[i] = 255
		}
	}
	all, err := l.spotsIn(m, b)
	for _, sp := range all {
		if sp.soft = !sp.isStrip() && b.faint == nil && !b.standsOut(l, sp) && !b.isLightBase(l, sp); !sp.soft || soft {
			spots = append(spots, sp)
		}
	}
	return spots, err
}

// bare is how bare a pixel looks, about 0 where all is well and 1 where nothing
// of the coat is left, by hue or by level, whichever tells more.
func (b *bareness) bare(i int) float32 {
	n := min(max(b.neutral.Pix[i], 0), 1)
	if v := b.level[i]; v.tells() {
		n = max(n*(1-min(max(b.opacity.Pix[i], 0), 1)), min(max((v.coat-v.pixel)/(v.coat-dullMetal), 0), 1))
	}
	return n
}

// coverage reports the spots that are not the eye, adds them to notCoat, and
// sums up the bare ones. Doubtful ones count where no other is reported. Scale is
// mm per patch px, 0 when unknown.
func (l *look) coverage(b bareness, spots, doubtful []spot, notCoat []bool, scale float64) (bare, dark []BareSpot, cov *Coverage) {
	bare, dark = []BareSpot{}, []BareSpot{}
	visible, area, unclear := 0, 0, 0
	reported := map[int]bool{}
	for i, d := range l.shape.depth.Pix {
		if d >= 2 && !notCoat[i] {
			visible++
			if b.blind(i) {
				unclear++
			}
		}
	}
	for _, sp := range spots {
		if notCoat[sp.pixels[0]] {
			continue
		}
		for _, i := range sp.pixels {
			notCoat[i] = true
		}
		base := b.isLightBase(l, sp)
		if sp.isGlare() && !base || sp.depth < thinRim || sp.diameter() < l.leastSpot() {
			continue
		}
		kind := bareSpot
		if !base && !sp.sure {
			kind = l.kind(b, sp)
		}
		if (kind == darkSpot || kind == glossSpot) && l.sticksOut(sp) {
			kind = coatSpot
		}
		switch collar := l.onCollar(sp.pixels[len(sp.pixels)/2]); {
		case sp.light:
		case collar && (kind == bareSpot || kind == darkSpot):
			sp = l.toEdges(b, sp, notCoat)
		case kind == bareSpot && !sp.isStrip():
			sp = l.toHalf(b, sp, notCoat)
		}
		if kind == bareSpot || kind == darkSpot || kind == glossSpot {
			for _, i := range sp.pixels {
				reported[i] = true
			}
		}
		switch kind {
		case bareSpot:
			area += len(sp.pixels)
			d := l.describe(sp, visible, scale)
			d.Shows = l.shows(base)
			bare = append(bare, d)
		case greySpot:
			unclear += len(sp.pixels)
		case darkSpot, glossSpot:
			d := l.describe(sp, visible, scale)
			d.Confidence, d.Shows = 0.5, MetalOrShadow
			if kind == glossSpot {
				d.Shows = MetalOrGloss
			}
			dark = append(dark, d)
		}
	}
	for _, sp := range doubtful {
		if !slices.ContainsFunc(sp.pixels, func(i int) bool { return reported[i] }) && !l.sticksOut(sp) {
			d := l.describe(sp, visible, scale)
			d.Confidence, d.Shows = 0.5, MetalOrGloss
			switch {
			case sp.island:
				d.Shows = MetalOrShadow
			case sp.beside:
				d.Shows = MetalOrCard
			case sp.tinted:
				d.Shows = MetalOrTint
			}
			dark = append(dark, d)
			for _, i := range sp.pixels {
				reported[i] = true
			}
		}
	}
	share := float64(unclear) / float64(max(visible, 1))
	if share > mostBlind {
		bare, dark, area = l.doubted(bare, dark)
	}
	pct := 100 * float64(area) / float64(max(visible, 1))
	u := areaDoubt(pct)
	cov = &Coverage{BareAreaPct: &pct, U: &u}
	if scale > 0 {
		mm2 := float64(area) * scale * scale
		least := scale * l.leastSpot()
		switch {
		case share > mostBlind:
			least = scale * 2 * l.shape.radius
		case b.faint != nil:
			least = max(least, scale*b.smallest(l))
		}
		cov.BareAreaMM2, cov.SmallestVisibleMM = &mm2, &least
	}
	return bare, dark, cov
}

// areaDoubt is the standard uncertainty of a bare area, both in % of the head.
func areaDoubt(pct float64) float64 { return 0.1*pct + 0.02 }
