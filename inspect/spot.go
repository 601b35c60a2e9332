package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// spot is a connected area of a head in patch pixels.
type spot struct {
	blob   cv.Blob
	pixels []int
	least  float64 // opacity where it is barest
	rim    float64 // largest viewing angle in it, degrees
	depth  float64 // largest distance from the outline of the head, px
	level  float64 // mean level relative to card

	clipped float64 // share of it at the camera's limit
	strip   float64 // share of it that lies in bareStrips
	soft    bool    // it does not part from the coat around it, see standsOut
	beside  bool    // it lies beside the head, see leftOut
	island  bool    // it is dark and has light coat about it, see darkIslands
	sure    bool    // it is bare, see darkIslands
	tinted  bool    // it is neutral but for a lamp's tint, see tintedSpots
	light   bool    // it is a base much lighter than the coat, see lightSpots
}

// spotsIn are the connected parts of a mask, with what is told of each.
func (l *look) spotsIn(mask *image.Gray, b bareness) (spots []spot, err error) {
	labels, blobs, err := cv.Blobs(mask)
	if err != nil {
		return nil, err
	}
	for _, blob := range blobs {
		if blob.Area < smallestSpot {
			continue
		}
		sp := spot{blob: blob, pixels: pixelsOf(blob, labels, l.shape.w), least: 1}
		n := float64(len(sp.pixels))
		for _, i := range sp.pixels {
			sp.least = min(sp.least, max(0, float64(b.opacity.Pix[i])))
			sp.rim = max(sp.rim, float64(l.angles.Pix[i]))
			sp.depth = max(sp.depth, float64(l.shape.depth.Pix[i]))
			sp.level += float64(l.tones.level[1].Pix[i]) / n
			if l.Top[i] > 127 {
				sp.clipped += 1 / n
			}
			if b.inStrip(i) {
				sp.strip += 1 / n
			}
		}
		spots = append(spots, sp)
	}
	return spots, nil
}

// isStrip tells whether a spot is a strip between flanks of coat, and bare by its
// opacity too: that decides what it is.
func (s spot) isStrip() bool { return s.strip > 0.5 && s.least < bareAt }

// diameter is that of the circle of equal area, patch px.
func (s spot) diameter() float64 { return 2 * math.Sqrt(float64(len(s.pixels))/math.Pi) }

// spotDoubt is the standard uncertainty of a bare spot's diameter as a share of
// it: the root mean square of ln(measured/drawn) over twenty spots found on drawn
// heads, most of it that they come out 15 % small; see TestSpotCurve.
const spotDoubt = 0.2

// length and width are those of the ellipse with the same second moments.
func (s spot) size(w int) (length, width float64) {
	var xx, xy, yy float64
	for _, i := range s.pixels {
		dx, dy := float64(i%w)-s.blob.X, float64(i/w)-s.blob.Y
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	n := float64(len(s.pixels))
	mean, diff := (xx+yy)/2/n, math.Hypot((xx-yy)/2, xy)/n
	return 4 * math.Sqrt(mean+diff+1.0/12), 4 * math.Sqrt(max(mean-diff, 0)+1.0/12)
}

// thinRim is how deep, in patch px, a spot must reach: along the outline itself
// the coat is blurred into what lies behind it.
const thinRim = 4

// smallestSpot is the least area in patch px that is looked at.
const smallestSpot = 12

// leastSpot is the least diameter a spot is reported at, in patch px: half the
// usual limit of 0.5 mm on a head 7 mm across, and never less than two blurred
// edges.
func (l *look) leastSpot() float64 { return max(0.036*2*l.shape.radius, 6) }

// standsOut tells whether a spot parts from the coat around it: paint ends
// within fractions of a millimetre, while a coat that turns grey on its way from
// one hue to another, or in the shade, does so slowly.
func (b *bareness) standsOut(l *look, sp spot) bool {
	const least = 0.35 // neutral share
	away := 8          // px from where half of the coat is left to where it is whole again
	if b.level[sp.pixels[len(sp.pixels)/2]].tells() {
		// On a light coat a spot's soft edge can be told from any shade: powder thins
		// out over as much as half a millimetre (common practice, no source) of the 7
		// that a head is across, at a spot's edge over its own radius.
		away = int(max(8, min(sp.diameter()/2, l.shape.radius/7)))
	}
	w, h := l.shape.w, l.shape.h
	own := make([]bool, w*h)
	var inside, around []float64
	for _, i := range sp.pixels {
		own[i] = true
		inside = append(inside, float64(b.bare(i)))
	}
	whole := l.toHalf(*b, sp, own).pixels
	for _, i := range whole {
		x, y := i%w, i/w
		for _, d := range [4]image.Point{{X: away}, {X: -away}, {Y: away}, {Y: -away}} {
			if q := image.Pt(x, y).Add(d); q.X >= 0 && q.Y >= 0 && q.X < w && q.Y < h {
				if j := q.Y*w + q.X; !own[j] && l.shape.depth.Pix[j] >= 2 {
					around = append(around, float64(b.bare(j)))
				}
			}
		}
	}
	if len(around) == 0 {
		return true
	}
	slices.Sort(inside)
	slices.Sort(around)
	return inside[len(inside)*3/4]-around[len(around)/2] >= least
}

// halfNeutral is the neutral share at half the coat, over metal half as light as it.
const halfNeutral = 0.3

// toHalf is a bare spot out to where half of the coat is gone: what was surely
// missing is its middle, for the more a coat's colour scatters the less of a
// spot's soft edge is sure. It marks what it adds in taken.
func (l *look) toHalf(b bareness, sp spot, taken []bool) spot {
	const soft = 6 // px over which a spot's edge fades, see darkSpots
	w := l.shape.w
	ring := sp.pixels
	sp.pixels = slices.Clone(sp.pixels)
	for range soft {
		var next []int
		for _, i := range ring {
			for _, j := range [4]int{i - 1, i + 1, i - w, i + w} {
				if j < 0 || j >= len(taken) || taken[j] || !l.judged(j) || b.opacity.Pix[j] >= bareAt || b.neutral.Pix[j] < halfNeutral {
					continue
				}
				taken[j] = true
				next = append(next, j)
			}
		}
		sp.pixels = append(sp.pixels, next...)
		ring = next
	}
	return sp
}

// describe is a spot as it is reported; visible is the head's area, patch px, and scale mm per
// patch px, 0 when unknown.
func (l *look) describe(sp spot, visible int, scale float64) BareSpot {
	at := l.toPhoto(sp.blob.X, sp.blob.Y)
	s := BareSpot{
		X: at.X, Y: at.Y,
		AreaPx:     len(sp.pixels) * l.Step * l.Step,
		SharePct:   100 * float64(len(sp.pixels)) / float64(max(visible, 1)),
		DiameterPx: sp.diameter() * float64(l.Step),
		Opacity:    sp.least, Where: "face", Confidence: 1 - sp.least,
		Place: "on the face",
	}
	if sp.rim > 65 {
		s.Where, s.Place = "edge", "on an edge"
	}
	if scale > 0 {
		mm, mm2 := sp.diameter()*scale, float64(len(sp.pixels))*scale*scale
		u := spotDoubt * mm
		s.DiameterMM, s.DiameterU, s.AreaMM2 = &mm, &u, &mm2
	}
	m := image.NewGray(l.shape.head.Rect)
	for _, i := range sp.pixels {
		m.Pix[i] = 255
	}
	s.Outline = l.polygon(m)
	return s
}
