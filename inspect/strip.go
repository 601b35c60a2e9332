package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// A strip of bare metal along a collar's lip is as narrow as the photo's blur, so
// that it never looks colourless: its flanks shine into it. It shows by the
// flanks: the coat's colour is there on both sides and breaks off between them. A
// shadow takes light and colour alike and leaves little that is neutral; gloss
// adds neutral light and makes the place lighter than its flanks.
const (
	stripTurns = 12 // directions a strip may run in, over half a turn
	stripAlong = 4  // px to both sides along it that are averaged: noise and flakes go to a third
)

// stripFlanks is how far from the middle of a strip its flanks are looked at, px:
// past the blurred edge of one 3, 6, 12, 20 and 32 px wide.
var stripFlanks = [5]float64{5, 7, 10, 14, 20}

// farFlanks is how far flanks are from where on a strip is a band.
const farFlanks = 12

// flanked is what must hold of a strip between its flanks.
type flanked struct {
	colourful float64 // of a flank, see chromaClass
	left      float64 // share in the strip of the colour half-way between its flanks, at most
	weaker    float64 // the same of the weaker flank's colour
	neutral   float64 // share of the strip's light that is not the coat's, at least
	amount    float64 // the same relative to card
	darker    float64 // than either flank, as a ratio, at least
}

var (
	// A strip's middle: flanks twice as colourful as the first class that says
	// anything, more than half of the coat gone. Half of what is seen in the middle
	// of a strip as narrow as its blur is its flanks; what is neutral is as light as
	// metal in its own shade, see kind.
	stripMiddle = flanked{colourful: 0.25, left: bareAt, weaker: bareAt, neutral: 0.45, amount: 0.6 * dullMetal}
	// Its blurred edge and its ends, which count only beside a middle.
	stripEdge = flanked{colourful: 0.12, left: 0.6, weaker: 1, neutral: 0.3, amount: 0.3 * dullMetal}
	// A band is wide enough to show metal alone: hardly any of its flanks' colour, which a
	// mean over nine pixels tells on paler coats, and much darker than they are, as
	// no gloss is.
	stripBand = flanked{colourful: 0.15, left: 0.25, weaker: 0.25, neutral: 0.75, amount: 0.6 * dullMetal, darker: 1.6}
	// A band of a base lighter than metal: gloss adds light and leaves the coat's colour.
	baseBand = flanked{colourful: 0.25, left: 0.25, weaker: 0.25, neutral: 0.75, amount: brightestMetal}
)

// bareStrips marks narrow strips of bare metal on the collar, whose lips are its
// sharpest edges; nil when there are none. A strip is longer than the least spot
// and a half, and three times as long as it is wide.
func (l *look) bareStrips() (*image.Gray, error) {
	if l.collar == nil {
		return nil, nil
	}
	middle, edge := l.stripPixels()
	labels, blobs, err := cv.Blobs(middle)
	if err != nil {
		return nil, err
	}
	w := l.shape.w
	var found []int
	strips := image.NewGray(middle.Rect)
	for _, blob := range blobs {
		sp := spot{blob: blob, pixels: pixelsOf(blob, labels, w)}
		length, width := sp.size(w)
		if blob.Area >= smallestSpot && length > 1.5*l.leastSpot() && length > 3*width {
			found = append(found, sp.pixels...)
		}
	}
	for len(found) > 0 { // and what hangs together with it
		i := found[len(found)-1]
		found = found[:len(found)-1]
		if strips.Pix[i] != 0 {
			continue
		}
		strips.Pix[i] = 255
		for _, j := range [8]int{i - w - 1, i - w, i - w + 1, i - 1, i + 1, i + w - 1, i + w, i + w + 1} {
			if edge.Pix[j] != 0 && strips.Pix[j] == 0 {
				found = append(found, j)
			}
		}
	}
	return strips, nil
}

// pixelsOf lists the pixels of a blob.
func pixelsOf(blob cv.Blob, labels []int32, w int) (pixels []int) {
	for y := blob.Bounds.Min.Y; y < blob.Bounds.Max.Y; y++ {
		for x := blob.Bounds.Min.X; x < blob.Bounds.Max.X; x++ {
			if i := y*w + x; labels[i] == blob.Label {
				pixels = append(pixels, i)
			}
		}
	}
	return pixels
}

// stripPixels marks what may be a strip's middle and its edge, in any direction.
func (l *look) stripPixels() (middle, edge *image.Gray) {
	s := l.shape
	middle, edge = image.NewGray(s.head.Rect), image.NewGray(s.head.Rect)
	var zone []int
	const nextTo = 4 // px: the collar's own outline
	reach := int(stripFlanks[len(stripFlanks)-1]) + stripAlong + 1
	inner := middle.Rect.Inset(reach)
	box := image.Rectangle{}
	for y := inner.Min.Y; y < inner.Max.Y; y++ {
		for x := inner.Min.X; x < inner.Max.X; x++ {
			if i := y*s.w + x; l.toCollar.Pix[i] <= nextTo && l.angles.Pix[i] < steepest && l.stripSeen(i) {
				zone = append(zone, i)
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	if len(zone) == 0 {
		return middle, edge
	}
	box = box.Inset(-reach + stripAlong)
	first := box.Min.Y * s.w
	mean := make([]shade, box.Dy()*s.w) // along the strip, from the box's first row on
	seen := make([]bool, len(mean))
	for i := range seen {
		seen[i] = l.stripSeen(first + i)
	}
	for turn := range stripTurns {
		sin, cos := math.Sincos(math.Pi * float64(turn) / stripTurns)
		var along [2*stripAlong + 1]int
		for k := range along {
			far := float64(k - stripAlong)
			along[k] = int(math.Round(far*cos))*s.w - int(math.Round(far*sin))
		}
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for i := y*s.w + box.Min.X; i < y*s.w+box.Max.X; i++ {
				if !seen[i-first] {
					continue
				}
				var c [3]float32
				for k := range c {
					sum, level := float32(0), l.tones.level[k].Pix
					for _, d := range along {
						sum += level[i+d]
					}
					c[k] = sum / float32(len(along))
				}
				mean[i-first] = shadeOf(c)
			}
		}
		for _, far := range stripFlanks {
			across := int(math.Round(far*sin))*s.w + int(math.Round(far*cos))
			for _, i := range zone {
				if !seen[i+across-first] || !seen[i-across-first] {
					continue
				}
				here, a, b := &mean[i-first], &mean[i-first+across], &mean[i-first-across]
				if coated(here, a, b) { // as nearly everywhere
					continue
				}
				band := far > farFlanks
				if band && !(l.onCollar(i+across) && l.onCollar(i-across)) { // the body turns away beside it, and as grey
					continue
				}
				f := between(here, a, b, band && l.lightBase())
				switch {
				case band && (f.holds(stripBand) || l.lightBase() && f.holds(baseBand)):
					edge.Pix[i], middle.Pix[i] = 255, 255
				case !band && f.holds(stripEdge):
					edge.Pix[i] = 255
					if f.holds(stripMiddle) {
						middle.Pix[i] = 255
					}
				}
			}
		}
	}
	return middle, edge
}

// stripSeen tells whether a pixel shows the head clear of its wire.
func (l *look) stripSeen(i int) bool {
	return l.shape.depth.Pix[i] >= 1 && float64(l.shape.clear.Pix[i]) > wireClear*l.shape.gauge
}

// coated tells whether a place has too much of the coat's colour half-way between its
// flanks to be any strip.
func coated(here, a, b *shade) bool {
	r, g, u := a.tint[0]+b.tint[0], a.tint[1]+b.tint[1], a.tint[2]+b.tint[2] // twice that
	return 2*(here.tint[0]*r+here.tint[1]*g+here.tint[2]*u) >= stripEdge.left*(r*r+g*g+u*u)
}

// between sets a place beside its two flanks; what is lighter than both is nothing, unless
// it may be.
func between(here, a, b *shade, lighter bool) flanked {
	half := [3]float64{(a.tint[0] + b.tint[0]) / 2, (a.tint[1] + b.tint[1]) / 2, (a.tint[2] + b.tint[2]) / 2} // where the coat would be whole
	share := func(of [3]float64) float64 { return max(dot(here.tint, of)/dot(of, of), 0) }
	aa, bb := dot(a.tint, a.tint), dot(b.tint, b.tint)
	if aa == 0 || bb == 0 || dot(a.tint, b.tint) < 0.8*math.Sqrt(aa*bb) || !lighter && here.level > 1.1*max(a.level, b.level) {
		return flanked{} // of two hues, or lighter than both
	}
	if offHue(here.tint, a.tint, b.tint, here.level) {
		return flanked{}
	}
	// Gloss makes a flank look less colourful than the coat: the purer one tells how
	// much of the light is the coat's.
	amount := here.level - min(share(a.tint)*a.level, share(b.tint)*b.level)
	return flanked{
		colourful: min(math.Sqrt(aa)/max(a.level, 0.05), math.Sqrt(bb)/max(b.level, 0.05)),
		left:      share(half),
		weaker:    max(share(a.tint), share(b.tint)),
		neutral:   amount / max(here.level, 0.02),
		amount:    amount,
		darker:    min(a.level, b.level) / max(here.level, 0.02),
	}
}

// shade is a colour as its level and what the channels have more or less.
type shade struct {
	level float64
	tint  [3]float64
}

func shadeOf(c [3]float32) shade {
	level := float64(c[0]+c[1]+c[2]) / 3
	return shade{level, [3]float64{float64(c[0]) - level, float64(c[1]) - level, float64(c[2]) - level}}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// offHue tells whether a place has a colour that is neither metal's, which has
// none, nor shines in from its flanks: a coat that turns from one hue to another
// passes through such colours.
func offHue(tint, a, b [3]float64, level float64) bool {
	const most = 0.15 // of the level, as tints are told in shaded
	na, nb := math.Sqrt(dot(a, a)), math.Sqrt(dot(b, b))
	var along [3]float64
	for k := range along {
		along[k] = a[k]/na + b[k]/nb
	}
	share := dot(tint, along) / dot(along, along)
	for k := range tint {
		tint[k] -= share * along[k]
	}
	return math.Sqrt(dot(tint, tint)) > most*level
}

// holds tells whether what was found is at least what is asked for.
func (f flanked) holds(ask flanked) bool {
	return f.colourful > ask.colourful && f.left < ask.left && f.weaker < ask.weaker && f.neutral > ask.neutral && f.amount > ask.amount && f.darker >= ask.darker
}
