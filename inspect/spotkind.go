package inspect

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"jigloupe/calib/cv"
)

// What a spot of missing colour is.
const (
	bareSpot  = iota
	coatSpot  // the coat itself in a shadow, or seen too steeply to tell
	darkSpot  // too dark to tell
	greySpot  // the coat itself turns grey there: metal would not show
	glossSpot // metal or the card mirrored in the coat's gloss
)

// sideReach is how far the side of a head reaches inwards, in radii: within it a
// ball is seen at more than 41 degrees.
const sideReach = 0.25

// kind tells whether a spot may be the coat itself. In the middle of a spot
// large enough to report next to nothing of the coat is left; where less is
// gone, it is the coat in a shadow, into which the gloss mirrors the card, or metal under
// a film too thin to hide it, where what is neutral is as light as metal and no lamp's
// image that makes the place lighter than the coat. A strip
// has its flanks' light in its middle too, and a pale coat leaves metal its level to
// be told by: there it is the half that counts.
//
// On a collar and at the side of the head, where the coat is seen steeply and
// often in shadow, that takes most of a dark coat's own light away. Metal has no
// colour at all in its middle, and only what is lighter than the gloss can mirror
// is surely metal; a strip's middle must be as light as metal in the open, and no lighter, as
// a hook before the collar is. See also
// tooSteep, tilted, along, fades, isLine and isGloss. On the body a spot that the coat passes
// over into may as well be gloss; a collar's groove has the spot's own hue on some side
// anyway.
func (l *look) kind(b bareness, sp spot) int {
	const (
		coreFace, coreRim = 0.8, 0.92       // neutral share of the middle
		light             = 0.6 * dullMetal // relative to card: lead in its own shade
	)
	if l.tooSteep(sp) {
		return coatSpot
	}
	if b.faint != nil && !sp.isStrip() {
		if b.toldByHue(sp) {
			return b.faint.kind(l, b, sp)
		}
		// where the coat has no colour to lose, a groove's shadow is as dark and grey
		if length, width := sp.size(l.shape.w); length > 3*width {
			return darkSpot
		}
	}
	var mean [3]float64
	side, pale, vivid, collar, own, coat := 0, 0, 0, 0, 0.0, 0.0
	var shares, amounts []float64
	for _, i := range sp.pixels {
		if b.level[i].tells() {
			pale++
		} else if l.onCollar(i) || l.fromEdge(i) < sideReach*l.shape.radius {
			side++
		}
		if l.onCollar(i) {
			collar++
		}
		if b.class[i] >= vividClass {
			vivid++
		}
		shares = append(shares, float64(b.neutral.Pix[i]))
		amounts = append(amounts, float64(b.neutral.Pix[i]*b.level[i].pixel))
		own += float64(b.level[i].own) / float64(len(sp.pixels))
		coat += float64(b.level[i].coat) / float64(len(sp.pixels))
		for k, v := range l.tones.rgb(i) {
			mean[k] += v / float64(len(sp.pixels))
		}
	}
	if b.lamps.mixed() {
		own = b.lamps.chroma(mean)
	}
	most := func(of int) bool { return 2*of >= len(sp.pixels) }
	lighter := mean3(mean) > coat
	core, whole := nth(shares, len(shares)*9/10), coreFace
	switch {
	case sp.isStrip(), most(pale):
		whole = leastNeutral
	case most(side):
		whole = coreRim
	}
	thin := whole == coreFace && core > leastNeutral && !lighter && stat.Mean(amounts, nil) > dullMetal
	switch {
	case most(pale) && !most(vivid) && core < whole:
		return darkSpot
	case core < whole && !thin:
		return coatSpot
	case sp.isStrip():
		if !most(pale) && nth(amounts, len(amounts)*9/10) < dullMetal {
			return darkSpot
		}
	case own > mostMetalColour || b.tilted(l, sp, nth(shares, len(shares)/2)):
		return coatSpot
	case most(side) && stat.Mean(amounts, nil) < light:
		if l.fades(sp, mean) {
			return greySpot
		}
		return darkSpot
	}
	switch {
	case l.along(sp):
		return glossSpot
	case lighter && b.isGloss(sp):
		return glossSpot
	case sp.isStrip():
	case !lighter && most(pale) && l.isLine(sp):
		return darkSpot
	case lighter && most(collar) && l.runsWithAxis(sp),
		!most(pale) && !most(collar) && l.fades(sp, mean):
		return glossSpot
	}
	return bareSpot
}

// tooSteep tells whether a spot lies where the surface is seen too steeply to be judged: a
// line along the outline or on the body, and the flat end of a collar, which the photo
// shows as a rim across it. There clear gloss mirrors the card as much as lead does.
// Of 86 such places 0.45 mm across and more on 430 drawn photographs four were wire,
// five ground and none bare.
func (l *look) tooSteep(sp spot) bool {
	collar := 0
	for _, i := range sp.pixels {
		if l.onCollar(i) {
			collar++
		}
	}
	if 2*collar < len(sp.pixels) {
		return l.isLine(sp)
	}
	return l.along(sp) && (l.isLine(sp) || l.onFlatEnd(sp))
}

// onFlatEnd tells whether a spot lies no farther from the collar's end than its flat end
// shows when the piece is tilted by mostTilt.
func (l *look) onFlatEnd(sp spot) bool {
	const mostTilt = 12 // degrees; laid on a card a piece is tilted by 10 at most on practice photographs
	s := l.shape
	end, half := math.Inf(-1), 0.0
	along := func(i int) float64 { return l.axis.along(float64(i%s.w), float64(i/s.w)) }
	for i, v := range l.collar.Pix {
		if v != 0 {
			end = max(end, along(i))
		}
	}
	for i, v := range l.collar.Pix {
		if v != 0 && along(i) > end-s.radius/2 {
			half = max(half, math.Abs(l.axis.across(float64(i%s.w), float64(i/s.w))))
		}
	}
	for _, i := range sp.pixels {
		if end-along(i) > 2*half*math.Sin(mostTilt*math.Pi/180) {
			return false
		}
	}
	return true
}

// mostMetalColour is how colourful metal may be, as in chromaClass: lamps of two kinds
// give it 0.4, a vivid coat blurred into it the rest.
const mostMetalColour = 0.6

// along tells whether a spot lies along the outline. There the surface may be seen
// as steeply as the rim of a ball, or as the flat end of a collar that hardly turns
// to the camera, where gloss mirrors the card and leaves little of the coat's own
// light; and the outline may have taken in some of the shaded card. All of these are as
// grey as metal, and none lighter or darker.
func (l *look) along(sp spot) bool {
	const soft = 3 // px: the outline itself is not judged
	s := l.shape
	if sp.depth < steepRim*s.radius+thinRim {
		return true
	}
	if sp.depth > sideReach*s.radius {
		return false
	}
	own := make(map[int]bool, len(sp.pixels))
	for _, i := range sp.pixels {
		own[i] = true
	}
	near := int(max(soft, steepRim*s.radius))
	border, outer := 0, 0
	for _, i := range sp.pixels {
		for _, step := range [4]int{1, -1, s.w, -s.w} {
			if own[i+step] {
				continue
			}
			border++
			if j := i + near*step; j >= 0 && j < len(s.head.Pix) && s.head.Pix[j] == 0 {
				outer++
			}
		}
	}
	return 4*outer >= border // it is as long as it is deep
}

// isLine tells whether a spot is a line, narrower than what is looked for. Grooves and
// the wall of an eye's socket are: there the coat is seen steeply, at an angle that is
// not known, and may be as grey as metal, darker in the shade and lighter by its gloss.
// On a collar lines are lips as well; only pale ones have so deep a shade in grooves.
func (l *look) isLine(sp spot) bool {
	m := image.NewGray(l.shape.head.Rect)
	for _, i := range sp.pixels {
		m.Pix[i] = 255
	}
	depth, err := cv.Distance(m)
	if err != nil {
		return true // it can't be told
	}
	width := 0.0
	for _, i := range sp.pixels {
		width = max(width, 2*float64(depth.Pix[i])-1)
	}
	return width < l.leastSpot() && float64(len(sp.pixels)) > 3*width*width
}

// isGloss tells whether a spot lighter than the coat is lighter than any dull metal,
// or holds a lamp's mirror image, around which the gloss fades away.
func (b *bareness) isGloss(sp spot) bool {
	levels := make([]float64, len(sp.pixels))
	for k, i := range sp.pixels {
		levels[k] = float64(b.level[i].pixel)
	}
	return slices.Max(levels) > brightLight || nth(levels, len(levels)/2) > brightestMetal
}

// runsWithAxis tells whether a spot is twice as long as it is wide and lies along the
// head's axis, as mirror images do on a collar: along a line with the axis the surface
// keeps its direction. Bare lips lie across it.
func (l *look) runsWithAxis(sp spot) bool {
	const askew = 20 // degrees that a tapered collar or a lamp across it turns a mirror image by; lips lie at 90
	w := l.shape.w
	if length, width := sp.size(w); length < 2*width {
		return false
	}
	with, across, both := 0.0, 0.0, 0.0
	for _, i := range sp.pixels {
		x, y := float64(i%w)-sp.blob.X, float64(i/w)-sp.blob.Y
		u, v := x*l.axis.dx+y*l.axis.dy, y*l.axis.dx-x*l.axis.dy
		with, across, both = with+u*u, across+v*v, both+u*v
	}
	return math.Abs(math.Atan2(2*both, with-across)) < 2*askew*math.Pi/180
}

// tilted tells whether the coat, seen at some angle, has the colour of a spot's
// middle, the half where the neutral share is at least middle: the wall of an eye
// socket and the flank of a lump are tilted more than the face is taken to be.
// Angles at which the coat itself is nearly grey say nothing.
func (b *bareness) tilted(l *look, sp spot, middle float64) bool {
	const most, colourful = 0.2, 0.3 // neutral share left, less than half of a bare pixel's; see neutralShare
	var q [3]float64
	n := 0.0
	for _, i := range sp.pixels {
		if float64(b.neutral.Pix[i]) >= middle {
			for k, v := range l.tones.rgb(i) {
				q[k] += v
			}
			n++
		}
	}
	for k := range q {
		q[k] /= n
	}
	white := b.lamps.whiten(q)
	for k := range q {
		q[k] *= white[k]
	}
	for j := range angleClass(steepest) + 1 {
		var want [3]float64
		for k := range want {
			want[k] = (b.coats[j][k] - toe) * white[k]
		}
		if left, _, chroma := neutralShare(q, want); chroma >= colourful && math.Abs(left) < most {
			return true
		}
	}
	return false
}

// isGlare tells whether a colourless spot is the light mirrored by the coat's
// gloss: at the camera's limit, or lighter than any dull metal.
func (s spot) isGlare() bool {
	return s.level > brightLight || s.clipped > 0.2
}

// brightLight is a level, relative to card, that no dull metal and only the gloss or
// the flakes' own highlight of a coat reaches.
const brightLight = 2.5
