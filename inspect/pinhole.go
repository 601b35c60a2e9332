package inspect

import (
	"math"
	"slices"
)

// Pinholes are looked for at these sizes. ISO 4618 calls pinholes small holes
// that resemble those made by a pin; the widths are those of pins, common
// practice, no source.
const (
	pinLeastMM = 0.15
	pinMostMM  = 0.6
	pinSigmaMM = 0.05 // smoothing that the narrowest outlasts
	pinRingMM  = 0.3  // radius of the inner ring about a hole, beyond its edge; the outer is half as far again
	pinSteep   = 70.0 // viewing angle in degrees beyond which a hole hides behind its own rim
	pinSectors = 12
)

// strayOdds is how far a place must stand out of the noise about it to be no part
// of it: of the two thousand places on a head one in three hundred heads has such
// a one by chance (normal distribution, 4.5 standard deviations). Flakes are not
// normal; TestPinholeCurve counts what is found on clean heads.
const strayOdds = 4.5

// hole is a dark dot held against its surroundings.
type hole struct {
	x, y   int
	depth  float64 // logarithm of the share of light left
	odds   float64 // depth over the standard deviation of what is around
	bright int     // directions, of pinSectors, in which it is at least half as deep against the ring
	rim    float64 // mm, its width at the rim
	long   float64 // length over width
	wall   float64 // the depth that a hole of this width should have
	dust   bool    // it is lighter than the coat in one of the colours
}

func (h hole) isHole() bool {
	return h.odds >= strayOdds && h.depth >= h.wall/2 && h.bright >= pinSectors-1 && h.rim <= pinMostMM && h.long < 2 && !h.dust
}

// measurePinholes finds dark round dots in the film: places darker than all that
// lies around them on the surface, by more than flakes, gloss and noise make
// there; and those that are light and dark side by side. A dark place in a crater is the
// crater's. Seams, rims of sockets and edges of shadows are long, so that the ring about one
// of their places is dark somewhere.
func (f *film) measurePinholes(r *Relief, craters []ReliefFault) ([]ReliefFault, error) {
	if f.mm > pinLeastMM/2 {
		return nil, nil // a hole would be two pixels at most
	}
	d, err := f.dots()
	if err != nil {
		return nil, err
	}
	p, err := d.pits()
	if err != nil {
		return nil, err
	}
	faults := []ReliefFault{}
	add := func(i int, wide, odds float64, known []ReliefFault) {
		at := f.look.toPhoto(float64(i%d.up.Width), float64(i/d.up.Width))
		fault := ReliefFault{
			Kind: "pinhole", X: at.X, Y: at.Y, DiameterPx: wide / f.mm * float64(f.look.Step), Place: "on the face",
			Confidence: 1 - sq(strayOdds)/(2*sq(odds)),
		}
		if f.sized {
			fault.DiameterMM = &wide
		}
		if !slices.ContainsFunc(known, fault.overlaps) {
			faults = append(faults, fault)
		}
	}
	face := d.face()
	near := max(2, int(math.Round(0.4*pinRingMM/f.mm)))
	c := &d.scales[0]
	for _, i := range face {
		if isLowest(i, near, c.smooth.Width, func(j int) float32 { return c.smooth.Pix[j] - c.around.Pix[j] }) {
			if h := d.at(i); h.isHole() {
				add(i, h.rim, h.odds, craters)
			}
		}
	}
	for _, i := range face {
		if isLowest(i, near, p.power.Width, func(j int) float32 { return -p.power.Pix[j] }) {
			if wide, odds, ok := p.isPit(i); ok {
				add(i, wide, odds, slices.Concat(craters, faults))
			}
		}
	}
	n := len(craters) + len(faults)
	r.Pinholes = &n
	if f.sized {
		r.SmallestPinholeMM = d.smallest(face)
	}
	return faults, nil
}

// isLowest tells whether a pixel of a plane of a width has the least value within reach.
func isLowest(i, reach, w int, value func(int) float32) bool {
	v := value(i)
	if value(i-1) < v || value(i+1) < v || value(i-w) < v || value(i+w) < v { // as nearly everywhere
		return false
	}
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if value(i+dy*w+dx) < v {
				return false
			}
		}
	}
	return true
}

// at measures a dot and its surroundings, as far as these leave it a hole.
func (d *dots) at(i int) hole {
	fine, w := &d.scales[0], d.up.Width
	h := hole{x: i % w, y: i / w}
	place := d.onSurface(i)
	radii := [4]float64{1, 1.17, 1.33, 1.5}
	var ring [len(radii)][pinSectors]float64
	var alongA, alongB float64
	var around []int
	for j, radius := range radii {
		radius *= pinRingMM / d.mm
		for k := range pinSectors {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / pinSectors)
			p := place(radius*cos, radius*sin)
			v := float64(fine.smooth.Pix[p])
			ring[j][k], around = v, append(around, p)
			alongA, alongB = alongA+v*cos, alongB+v*sin
		}
	}
	// the slope of the light across the rings, from their first harmonic
	places := float64(pinSectors * len(radii))
	alongA, alongB = 2*alongA/places, 2*alongB/places
	var level []float64
	for j := range ring {
		for k := range ring[j] {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / pinSectors)
			ring[j][k] -= alongA*cos + alongB*sin
			level = append(level, ring[j][k])
		}
	}
	mid := quantile(level, 0.5)
	h.depth = mid - float64(fine.smooth.Pix[i])
	for _, v := range ring[0] {
		if mid-v < h.depth/2 {
			h.bright++
		}
	}
	if h.bright < pinSectors-1 {
		return h // no hole, whatever else
	}
	half, long := d.form(func(a, b float64) bool { return float64(fine.smooth.Pix[place(a, b)]) < mid-h.depth/2 })
	h.long, h.rim = long, d.rimOf(half)
	h.wall = d.wallDepth(i, h.rim, fine)
	if h.depth < h.wall/2 || h.rim > pinMostMM || h.long >= 2 {
		return h
	}
	// by the scale that suits its width it must stand out too: a wide dot of flakes
	// does so only as a narrow one
	h.odds = h.depth / d.noise(h.x, h.y, fine)
	for k := 1; k < len(d.scales) && d.suits(k, h.rim); k++ {
		c := &d.scales[k]
		h.odds = min(h.odds, (mid-float64(c.smooth.Pix[i]))/d.noise(h.x, h.y, c))
	}
	h.dust = d.isDust(i, around)
	return h
}

// suits tells whether a scale is no coarser than a hole's width.
func (d *dots) suits(k int, rim float64) bool {
	return k == 0 || d.scales[k].sigma*d.mm <= bowlSigma(rim)
}

// form is the width in px of a dot and its length over its width; in tells the
// places in it, by px along the surface.
func (d *dots) form(in func(a, b float64) bool) (wide, long float64) {
	reach := int(pinRingMM / d.mm)
	side := 2*reach + 1
	seen := make([]bool, side*side)
	todo := []int{reach*side + reach}
	seen[todo[0]] = true
	var n, sa, sb, aa, ab, bb float64
	for len(todo) > 0 {
		p := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		a, b := float64(p%side-reach), float64(p/side-reach)
		n, sa, sb, aa, ab, bb = n+1, sa+a, sb+b, aa+a*a, ab+a*b, bb+b*b
		for _, q := range [4]int{p - 1, p + 1, p - side, p + side} {
			if q < 0 || q >= len(seen) || seen[q] {
				continue
			}
			a, b := float64(q%side-reach), float64(q/side-reach)
			if a*a+b*b <= float64(reach*reach) && in(a, b) {
				seen[q] = true
				todo = append(todo, q)
			}
		}
	}
	aa, ab, bb = aa/n-sa*sa/n/n, ab/n-sa*sb/n/n, bb/n-sb*sb/n/n
	mean, diff := (aa+bb)/2+1.0/12, math.Hypot((aa-bb)/2, ab)
	return 2 * math.Sqrt(n/math.Pi), math.Sqrt((mean + diff) / (mean - diff))
}

// isDust tells whether a dot is lighter than the coat around it in one of the
// colours. A hole takes light from all; dull lead, a tenth white, may be lighter
// than a deep colour, but half a sphere of it is half as light.
func (d *dots) isDust(i int, around []int) bool {
	const lead, lighter = 0.05, 1.25
	l, w := d.look, d.up.Width
	for k := range 3 {
		var here float64
		for _, j := range [9]int{i - w - 1, i - w, i - w + 1, i - 1, i, i + 1, i + w - 1, i + w, i + w + 1} {
			here += float64(l.Pix[3*j+k]) / 9
		}
		var ring []float64
		for _, j := range around {
			ring = append(ring, float64(l.Pix[3*j+k]))
		}
		if here > lead && here > lighter*quantile(ring, 0.5) {
			return true
		}
	}
	return false
}

// A bowl 1 − t² deep has the volume of a Gaussian as deep with a standard
// deviation of a quarter of its width.
func bowlSigma(rim float64) float64 { return rim / 4 }

// rimOf is the width in mm of a hole that is so many px wide at half its depth
// when blurred.
func (d *dots) rimOf(half float64) float64 {
	s, blur := half/(2*math.Sqrt(2*math.Ln2)), d.scales[0].blur
	return 4 * d.mm * math.Sqrt(max(sq(s)-sq(blur), sq(blur/4)))
}

// wallDepth is how dark a hole as deep as half its width is on a scale. Its walls
// are half a sphere, which sees half of the sky, and light that they send back
// fills it again: of a coat that reflects ρ it leaves 1/(2 − ρ). Blur takes its
// share.
func (d *dots) wallDepth(i int, rim float64, c *dotScale) float64 {
	s := sq(bowlSigma(rim) / d.mm)
	white := min(max(math.Exp(float64(d.coat.level(i)))*d.look.cardR, 0), 1)
	return math.Log(2-white) * s / (s + sq(c.blur))
}

// smallest is the width in mm of the narrowest hole that would have been found
// nine times in ten on half of the face; nil when it is beyond those that are
// looked for.
func (d *dots) smallest(face []int) *float64 {
	const step = 0.01
	const nineInTen = 1.2816 // standard deviations of the normal distribution
	stride := max(1, int(sq(2*pinRingMM/d.mm)))
	var widths []float64
	for n := stride / 2; n < len(face); n += stride {
		i := face[n]
		x, y := i%d.up.Width, i/d.up.Width
		short := math.Sqrt(math.Cos(float64(d.look.angles.Pix[i]) * math.Pi / 180))
		width := 0.05
		for k := range d.scales {
			least := (strayOdds + nineInTen) * d.noise(x, y, &d.scales[k])
			for width <= pinMostMM && d.suits(k, width) && d.wallDepth(i, width*short, &d.scales[k]) < least {
				width += step
			}
		}
		widths = append(widths, width)
	}
	if w := quantile(widths, 0.5); len(widths) > 0 && w <= pinMostMM {
		return &w
	}
	return nil
}
