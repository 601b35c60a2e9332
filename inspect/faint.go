package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// faint is what tells bare metal in a coat nearly as grey as it. In single pixels
// flakes and noise outweigh so little colour; in means over a window they do not.
type faint struct {
	sigma   float64 // px, of the Gaussian that the means are taken with
	sparkle *sparkle
}

const (
	// leadTint is how far lead's colour may be from the card's, and by how much of
	// that it is bluer, as log ratios about their mean: dull lead on photographs with
	// known truth is up to 0.03 off either way, clean lead is bluish.
	leadTint = 0.03
	// leadLeaves is the share of a coat's colour that lead surely lacks when the coat
	// has twice as much as leadTint and the lamps make up: a metal tinted like the
	// coat would hide half, and half of that is chance.
	leadLeaves = 0.8
)

var leadBlue = [3]float64{-0.026, -0.007, 0.033}

// leastColour is how much colour a coat must have, as the norm of log ratios, that
// bare lead is told by it, against what the lamps make up.
func leastColour(lamps float64) float64 { return 2 * math.Hypot(leadTint, lamps) }

// faintly replaces what the pixels tell of a coat whose colour is too faint by
// what windows tell, each as wide as it must be; b as it is when pixels do, and for a
// coat half as light as metal, on which any gloss has metal's hue.
func (b *bareness) faintly(l *look, c *coat, blur float64) (bareness, error) {
	lightest := float32(math.Sqrt(dullMetal * brightestMetal)) // of metal, mostly
	grey := func(i int) bool {
		v := b.level[i]
		return !v.tells() && v.coat > lightest && c.colourAt(i) < plain
	}
	if b.share(l, b.blind) <= mostBlind && b.share(l, grey) <= 1-mostBlind || b.share(l, func(i int) bool { return b.level[i].coat < dullMetal/2 }) > 0.5 {
		return *b, nil
	}
	spark, err := l.newSparkle(blur)
	if err != nil {
		return *b, err
	}
	var first bareness
	for n, sigma := range faintSigmas {
		f, err := b.inMeans(l, c, sigma)
		if err != nil {
			return *b, err
		}
		f.faint.sparkle = spark
		if f.share(l, f.blind) <= mostBlind {
			return f, nil
		}
		if n == 0 {
			first = f
		}
	}
	return first, nil
}

// plain is the colour, as the norm of log ratios, from which pixels tell in a coat
// lighter than metal: three times as far from grey as hues may be apart that fades
// takes for the same. In darker ones kind minds the gloss, pixel by pixel.
const plain = 0.3

// colourAt is how much of it a coat has at a pixel.
func (c *coat) colourAt(i int) float64 {
	h := tintOf(c.at(i))
	return math.Sqrt(dot(h, h))
}

// at is what is expected of a pixel, relative to card.
func (c *coat) at(i int) (want [3]float64) {
	for k := range want {
		want[k] = math.Exp(float64(c.expected[k].Pix[i])) - toe
	}
	return want
}

// faintSigmas are the windows that are tried, px: the first holds the flakes and
// noise of a few dozen pixels and is no wider than half the least spot.
var faintSigmas = [3]float64{3, 4.2, 6}

// mostBlind is the share of a head on which metal may go unseen before the photo is
// said to show nothing.
const mostBlind = 1.0 / 3

// share is that of a head's pixels that are so.
func (b *bareness) share(l *look, so func(i int) bool) float64 {
	are, n := 0, 0
	for i, d := range l.shape.depth.Pix {
		if d >= 2 {
			n++
			if so(i) {
				are++
			}
		}
	}
	return float64(are) / float64(max(n, 1))
}

// inMeans says how bare a head looks by its colour in means over windows. What a
// window shows is set against the coat there, hue against hue, so that neither a
// shadow nor a change of level counts. Its scatter is the head's own, in classes of
// the coat's level and more where a place is darker, and the lamps' share in the coat's colour is what that changes by across
// the head: a coat of one colour under lamps of one colour changes by nothing.
func (b *bareness) inMeans(l *look, c *coat, sigma float64) (bareness, error) {
	const (
		sure = 4.5 // standard deviations: once in three hundred thousand windows
		face = 55  // degrees: beyond, gloss takes the coat's colour away
	)
	s := l.shape
	out := *b
	out.opacity, out.neutral, out.limit = cv.NewPlane(s.w, s.h), cv.NewPlane(s.w, s.h), cv.NewPlane(s.w, s.h)
	out.strips, out.faint = nil, &faint{sigma: sigma}
	of, err := l.overCoat(c, sigma)
	if err != nil {
		return *b, err
	}
	var hues [3][]float64
	var along [levelClasses][]float64 // how far windows are from the coat's hue, towards more colour
	own, norm, class, darker := make([][3]float64, s.w*s.h), make([]float64, s.w*s.h), make([]int, s.w*s.h), make([]float64, s.w*s.h)
	for i, v := range s.head.Pix {
		out.opacity.Pix[i] = 1
		if v == 0 {
			continue
		}
		want := c.at(i)
		var ratio, seen [3]float64
		for k := range want {
			ratio[k] = float64(of[k].Pix[i])
			seen[k] = want[k] * ratio[k]
		}
		own[i], class[i], darker[i] = tintOf(want), levelClass(mean3(want)), noisier(mean3(seen), mean3(want))
		norm[i] = max(math.Sqrt(dot(own[i], own[i])), 1e-3)
		off := dot(own[i], tintOf(ratio)) / norm[i]
		share := -off / norm[i]
		out.neutral.Pix[i], out.opacity.Pix[i] = float32(share), float32(opacityAt(share/leadLeaves))
		if i%2 == 0 && s.depth.Pix[i] >= 2*thinRim {
			along[class[i]] = append(along[class[i]], off)
			if a := l.angles.Pix[i]; a >= 0 && a < face {
				for k, h := range own[i] {
					hues[k] = append(hues[k], h)
				}
			}
		}
	}
	var scatter [levelClasses]float64
	for k, off := range along {
		scatter[k] = math.Inf(1)
		if len(off) > 50 { // metal and gloss only take colour away
			scatter[k] = quantile(off, 0.8413) - quantile(off, 0.5)
		}
	}
	least := leastColour(spreadOfHues(hues) / 2)
	for i, v := range s.head.Pix {
		if v == 0 {
			continue
		}
		limit := max(bareAt*leadLeaves, sure*scatter[class[i]]*darker[i]/norm[i])
		blue := max(0, dot(own[i], leadBlue)/norm[i])
		if norm[i]-blue < least || limit > 0.95*leadLeaves {
			limit = math.Inf(1)
		}
		out.limit.Pix[i] = float32(limit)
	}
	return out, nil
}

// opacityAt is the coat's opacity where a share of the light is metal's, which is
// half as light as the coat, see halfNeutral.
func opacityAt(metal float64) float64 {
	const dimmer = 2
	metal = min(max(metal, 0), 1)
	return 1 - metal*dimmer/(metal*dimmer+1-metal)
}

// spreadOfHues is how far nine in ten of a head's colours are from the middle one.
func spreadOfHues(hues [3][]float64) float64 {
	var mid [3]float64
	for k := range mid {
		mid[k] = quantile(slices.Clone(hues[k]), 0.5)
	}
	away := make([]float64, len(hues[0]))
	for n := range away {
		away[n] = math.Sqrt(sq(hues[0][n]-mid[0]) + sq(hues[1][n]-mid[1]) + sq(hues[2][n]-mid[2]))
	}
	return quantile(away, 0.9)
}

const levelClasses = 16

// levelClass sorts levels relative to card into classes a factor of 1.4 wide, in
// each of which the noise is about the same.
func levelClass(level float64) int {
	return min(max(levelClasses/2+int(math.Floor(math.Log(max(level, 0.01))/math.Log(1.4))), 0), levelClasses-1)
}

// noisier is by how much more than the coat noise makes a place scatter that is
// darker, as a log ratio, see dim.
func noisier(level, coat float64) float64 {
	relative := func(v float64) float64 { return math.Sqrt(v+dim) / max(v, leastLight) }
	return max(1, relative(level)/relative(coat))
}

// tintOf is a colour as log ratios about their mean.
func tintOf(c [3]float64) (h [3]float64) {
	mean := 0.0
	for k := range h {
		h[k] = math.Log(max(c[k], 0.01))
		mean += h[k] / 3
	}
	for k := range h {
		h[k] -= mean
	}
	return h
}

// overCoat is the light over what the coat sends at each place of the head,
// averaged within it by a Gaussian of standard deviation sigma, px.
func (l *look) overCoat(c *coat, sigma float64) (of [3]cv.Plane, err error) {
	s := l.shape
	use := make([]bool, s.w*s.h)
	for i, v := range s.head.Pix {
		use[i] = v != 0
	}
	for k := range of {
		of[k] = cv.NewPlane(s.w, s.h)
		for i, head := range use {
			if head {
				of[k].Pix[i] = l.tones.level[k].Pix[i] / max(float32(math.Exp(float64(c.expected[k].Pix[i])))-toe, 0.01)
			}
		}
	}
	means, err := cv.LocalMeans(of, use, sigma)
	if err != nil {
		return of, err
	}
	mean, share := [3][]float32{make([]float32, s.w), make([]float32, s.w), make([]float32, s.w)}, make([]float32, s.w)
	for y := range s.h {
		means.Row(y, 0.02, &mean, share)
		for k := range mean {
			copy(of[k].Pix[y*s.w:], mean[k])
		}
	}
	return of, nil
}

// smallest is the diameter, px, of the narrowest bare spot that the windows show on
// all but mostBlind of the head, as wide as leastSpot and more. A spot of diameter D
// fills 1 − exp(−D²/8σ²) of the Gaussian over its middle, at t within its edge less
// than Φ(t/σ), and with a third of the coat's light that much less of what it sends.
func (b *bareness) smallest(l *look) float64 {
	const dimmer = 3 // times the light of metal: a coat's over it
	sigma := math.Hypot(b.faint.sigma, 1.5)
	var widths []float64
	for i, d := range l.shape.depth.Pix {
		if d < 2 {
			continue
		}
		width := math.Inf(1)
		switch limit := float64(b.limit.Pix[i]); {
		case limit < 1:
			light := limit / leadLeaves
			area := light * dimmer / (1 - light + light*dimmer)
			edge := sigma * math.Sqrt2 * math.Erfinv(2*area-1)
			width = max(l.leastSpot()+2*edge, sigma*math.Sqrt(-8*math.Log(1-area)))
		case !b.blind(i): // its level tells
			width = 0
		}
		widths = append(widths, width)
	}
	return quantile(widths, 1-mostBlind)
}

// toldByHue tells whether most of a spot lies where the coat's hue tells metal.
func (b *bareness) toldByHue(sp spot) bool {
	told := 0
	for _, i := range sp.pixels {
		if b.limit.Pix[i] < 1 {
			told++
		}
	}
	return 2*told > len(sp.pixels)
}

// kind tells what a spot in a faint coat is. It has the coat on most sides, and by
// the colours themselves, not by what is expected, lacks at least half of each
// side's: where the coat passes over into it, the coat turned grey there. Metal in a
// coat that is lighter is darker than it. Gloss adds light: what is lighter than the
// coat is gloss when the flakes still sparkle through it.
func (f *faint) kind(l *look, b bareness, sp spot) int {
	const darker = 0.9 // of the coat's level: a tenth more than noise and shading make in a mean
	s := l.shape
	var mid [3]float64
	own := make(map[int]bool, len(sp.pixels))
	steep := float32(0)
	for _, i := range sp.pixels {
		own[i], steep = true, max(steep, l.angles.Pix[i])
		for k, v := range l.tones.rgb(i) {
			mid[k] += v / float64(len(sp.pixels))
		}
	}
	var levels []float64
	sides, ends := 0, 0
	for k := range 8 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		var side [3]float64
		n := 0.0
		for _, i := range sp.pixels {
			q := image.Pt(i%s.w+int(math.Round(besideSpot*cos)), i/s.w+int(math.Round(besideSpot*sin)))
			// seen more steeply than the spot the coat has less colour than there
			if j := q.Y*s.w + q.X; q.In(s.head.Rect) && !own[j] && l.judged(j) && l.angles.Pix[j] <= steep && !b.blind(j) && mean3(l.tones.rgb(j)) < brightLight {
				for k, v := range l.tones.rgb(j) {
					side[k] += v
				}
				n++
			}
		}
		if n < 10 {
			continue
		}
		sides++
		levels = append(levels, mean3(side)/n)
		if h := tintOf(side); 1-dot(tintOf(mid), h)/dot(h, h) > bareAt*leadLeaves {
			ends++
		}
	}
	level, coat := mean3(mid), quantile(levels, 0.5)
	switch {
	case level > brightestMetal:
		return coatSpot
	case 2*ends < sides || sides == 0:
		return greySpot
	case level > coat/darker && f.sparkle.shinesThrough(l, sp):
		return coatSpot
	case level < darker*coat && sides > 4:
		return bareSpot
	}
	return glossSpot
}
