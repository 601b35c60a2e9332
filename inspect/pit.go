package inspect

import (
	"math"

	"jigloupe/calib/cv"
)

// pits are the head's surface under the question where it is light and dark side by side.
//
// A hole in a glossy coat, or one seen slantwise, is light on one wall and dark on the
// other, and both together may be as light as the coat. In a coat that changes its hue
// with the tilt they part in one of the colours only.
type pits struct {
	*dots
	tone  [3]cv.Plane // logarithm of each colour over what is expected there, glints and all
	band  [3]cv.Plane // its fine detail
	power cv.Plane    // mean square of that over a hole, in units of its scatter over the head
}

// pitSigmaMM smooths noise and keeps the walls of a hole of ordinary width apart, which
// slantwise are half as far from each other.
const pitSigmaMM = 0.03

// pitLong is how many times as long as wide what is seen of a hole slantwise may be: its near
// wall is hidden.
const pitLong = 2.5

func (d *dots) pits() (*pits, error) {
	p := &pits{dots: d}
	l, s := d.look, d.look.shape
	square, tone := cv.NewPlane(s.w, s.h), cv.NewPlane(s.w, s.h)
	var off []float64
	var err error
	for k := range p.tone {
		for i, v := range s.head.Pix {
			if v != 0 {
				tone.Pix[i] = float32(math.Log(max(float64(l.Pix[3*i+k]), 0)+leastLight)) - d.coat.expected[k].Pix[i]
			}
		}
		if p.tone[k], err = cv.Gaussian(tone, max(0.7, pitSigmaMM/d.mm)); err != nil {
			return nil, err
		}
		if p.band[k], err = cv.Gaussian(tone, pinRingMM/2/d.mm); err != nil {
			return nil, err
		}
		off = off[:0]
		for i, depth := range s.depth.Pix {
			p.band[k].Pix[i] = p.tone[k].Pix[i] - p.band[k].Pix[i]
			if depth > 3 {
				off = append(off, math.Abs(float64(p.band[k].Pix[i])))
			}
		}
		over := float32(1 / usualOf(off))
		for i, v := range p.band[k].Pix {
			square.Pix[i] += v * over * v * over
		}
	}
	p.power, err = cv.Gaussian(square, pinSigmaMM/d.mm)
	return p, err
}

// isPit tells whether a place is the middle of a hole that is light and dark side by side,
// and how wide that is, mm, and how far it stands out, in standard deviations.
func (p *pits) isPit(i int) (wide, odds float64, ok bool) {
	place := p.onSurface(i)
	least := p.power.Pix[i] / 4 // the walls are half as light or dark there as at most
	px, long := p.form(func(a, b float64) bool { return p.power.Pix[place(a, b)] >= least })
	if wide = px * p.mm; wide > pinMostMM || long >= pitLong {
		return wide, 0, false
	}
	var ring []int
	calm := 0
	for k := range pinSectors {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / pinSectors)
		most := float32(0)
		for _, radius := range [3]float64{1, 1.2, 1.4} {
			radius *= pinRingMM / p.mm
			j := place(radius*cos, radius*sin)
			most, ring = max(most, p.power.Pix[j]), append(ring, j)
		}
		if most < least {
			calm++
		}
	}
	if calm < pinSectors-1 {
		return wide, 0, false
	}
	const (
		halo = 3   // a camera that sharpens puts a halo up to a third as dark about a glint
		even = 1.5 // standard deviations; glints in drawn voids, whose walls go on, have 1.8 and more around, holes 1.4
	)
	var light, dark float64
	for k := range p.tone {
		lo, hi, mid, off := p.walls(place, k, ring)
		sd := p.scatter(k, i)
		if off > even*sd {
			return wide, 0, false
		}
		light, dark = max(light, (hi-mid)/sd), max(dark, (mid-lo)/sd)
	}
	odds = min(light, dark)
	return wide, odds, odds >= strayOdds && light < halo*dark
}

// walls are the darkest and the lightest tone of a hole in a colour, and that around it, with
// half of the places there within off of it.
func (p *pits) walls(place func(a, b float64) int, k int, ring []int) (lo, hi, mid, off float64) {
	tone := p.tone[k].Pix
	lo = float64(tone[place(0, 0)])
	hi = lo
	reach := math.Ceil(pinRingMM / 2 / p.mm)
	for a := -reach; a <= reach; a++ {
		for b := -reach; b <= reach; b++ {
			if a*a+b*b <= reach*reach {
				v := float64(tone[place(a, b)])
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	around := make([]float64, len(ring))
	for n, j := range ring {
		around[n] = float64(tone[j])
	}
	mid = quantile(around, 0.5)
	for n, v := range around {
		around[n] = math.Abs(v - mid)
	}
	return lo, hi, mid, quantile(around, 0.5)
}

// scatter is the standard deviation of the fine detail of a colour within a millimetre.
func (p *pits) scatter(k, i int) float64 {
	w := p.look.shape.w
	return usualOf(p.nearby(i%w, i/w, 0.1/p.mm, func(j int) float64 { return math.Abs(float64(p.band[k].Pix[j])) }))
}
