package inspect

import (
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// Pinholes are looked for at these sizes. ISO 4618 calls pinholes small holes
// that resemble those made by a pin; the widths are those of pins, 0.15 to
// 0.5 mm, common practice, no source.
const (
	pinSigmaMM = 0.05 // smoothing that a hole of 0.15 mm outlasts
	pinLeastMM = 0.12
	pinMostMM  = 0.33 // at half its depth, where a hole is about half as wide as at its rim
	pinRingMM  = 0.3  // radius of the inner ring about a hole, beyond its edge; the outer is half as far again
)

// measurePinholes finds dark round dots in the film: places darker than all that
// lies around them. Each is held against the spread of its own surroundings,
// which carry the same flakes, gloss and noise. Flakes sparkle brighter, not
// darker; seams, rims of sockets and edges of shadows are long, so that the ring
// about one of their places is dark somewhere.
func (f *film) measurePinholes(r *Relief) ([]ReliefFault, error) {
	l, s := f.look, f.look.shape
	if f.mm > pinLeastMM/2 {
		return nil, nil // a hole would be two pixels at most: not seen, so none is reported
	}
	light := cv.NewPlane(s.w, s.h)
	for i := range light.Pix {
		light.Pix[i] = (l.Pix[3*i] + l.Pix[3*i+1] + l.Pix[3*i+2]) / 3
	}
	sigma := max(0.7, pinSigmaMM/f.mm)
	light, err := cv.Gaussian(light, sigma)
	if err != nil {
		return nil, err
	}
	// beside a lamp's mirror image the light falls by the same share per step
	for i, v := range light.Pix {
		light.Pix[i] = float32(math.Log(max(float64(v), 0) + leastLight))
	}
	near := max(2, int(math.Round(0.4*pinRingMM/f.mm)))
	edge := int(1.5*pinRingMM/f.mm) + 2
	slow, err := cv.Gaussian(light, pinRingMM/f.mm)
	if err != nil {
		return nil, err
	}
	var dots []hole
	var swing []float64
	for y := edge; y < s.h-edge; y++ {
		for x := edge; x < s.w-edge; x++ {
			i := y*s.w + x
			if f.notCoat[i] || l.onCollar(i) || l.angles.Pix[i] < 0 || l.angles.Pix[i] > 70 || float64(s.depth.Pix[i])*f.mm < 1.7*pinRingMM {
				continue
			}
			swing = append(swing, math.Abs(float64(light.Pix[i]-slow.Pix[i])))
			if !lowest(light, x, y, near) {
				continue
			}
			dots = append(dots, f.dot(light, x, y))
		}
	}
	if len(dots) == 0 {
		return nil, nil
	}
	slices.Sort(swing)
	usual := swing[len(swing)/2] / 0.6745
	faults := []ReliefFault{}
	for _, h := range dots {
		if !h.isHole(usual) {
			continue
		}
		wide := rimOverHalf * math.Sqrt(max(sq(h.wide)-sq(2*math.Sqrt(2*math.Ln2)*sigma*f.mm), sq(pinLeastMM/2)))
		at := l.toPhoto(float64(h.x), float64(h.y))
		fault := ReliefFault{
			Kind: "pinhole", X: at.X, Y: at.Y, DiameterPx: wide / f.mm * float64(l.Step), Place: "on the face",
			Confidence: 1 - sq(leastOdds)/(2*h.odds*h.depth/usual),
		}
		if f.sized {
			fault.DiameterMM = &wide
		}
		faults = append(faults, fault)
	}
	r.Pinholes = len(faults)
	return faults, nil
}

// hole is a dark dot held against its surroundings.
type hole struct {
	x, y   int
	depth  float64 // logarithm of the share of light left
	odds   float64 // depth over the standard deviation of the surroundings
	bright int     // directions, of pinSectors, in which it is at least half as deep against the ring
	wide   float64 // mm, at half its depth
	long   float64 // length over width
}

const (
	pinSectors = 12
	// rimOverHalf is how much wider a hole is at its rim than at half its depth:
	// 1/√(1 − 1/√2) for a bowl (1 − t²)² deep.
	rimOverHalf = 1.85
	// leastOdds: a head has some two thousand places apart, of which one strays
	// this far by chance (normal distribution); that it be round, narrow and darker
	// than all directions around it as well is a hundred times rarer.
	leastOdds = 3.3
	// leastDark: the walls of a hole half as deep as wide take more than this
	// share of the light from its floor, in logarithms; see TestPinholesComeBack.
	leastDark = 0.16
	// leastLight is about one step of an 8-bit photo in the dark, as a reflectance
	// factor.
	leastLight = 0.002
)

// isHole judges a dot; usual is what the head's level strays by from place to
// place. A dot must stand out of its own surroundings as well as out of the whole
// head's texture, so the two are taken together.
func (h hole) isHole(usual float64) bool {
	const longest = 2.0 // a round hole seen under 60° is twice as long as wide
	return math.Sqrt(max(h.odds, 0)*h.depth/usual) >= leastOdds && h.odds >= 2 && h.depth >= max(leastDark, 2*usual) &&
		h.bright >= pinSectors-1 && h.wide <= pinMostMM && h.long < longest
}

// dot measures the surroundings of a dark place.
func (f *film) dot(light cv.Plane, x, y int) hole {
	at := func(dx, dy int) float64 { return float64(light.Pix[(y+dy)*light.Width+x+dx]) }
	radii := [4]float64{1, 1.17, 1.33, 1.5}
	var ring [len(radii)][pinSectors]float64
	var alongX, alongY float64
	for j, radius := range radii {
		radius *= pinRingMM / f.mm
		for k := range pinSectors {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / pinSectors)
			w := at(int(math.Round(radius*cos)), int(math.Round(radius*sin)))
			ring[j][k] = w
			alongX, alongY = alongX+w*cos, alongY+w*sin
		}
	}
	// the slope of the light across the rings, from their first harmonic
	places := float64(pinSectors * len(radii))
	alongX, alongY = 2*alongX/places, 2*alongY/places
	var level, off []float64
	for j := range ring {
		for k := range ring[j] {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / pinSectors)
			ring[j][k] -= alongX*cos + alongY*sin
			level = append(level, ring[j][k])
		}
	}
	slices.Sort(level)
	mid := level[len(level)/2]
	for _, w := range level {
		off = append(off, math.Abs(w-mid))
	}
	slices.Sort(off)
	h := hole{x: x, y: y, depth: mid - at(0, 0)}
	h.odds = h.depth / max(off[len(off)/2]/0.6745, 1e-6)
	for _, w := range ring[0] {
		if mid-w < h.depth/2 {
			h.bright++
		}
	}
	reach := int(pinRingMM / f.mm)
	var n, sx, sy, xx, xy, yy float64
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if dx*dx+dy*dy <= reach*reach && at(dx, dy) < mid-h.depth/2 {
				a, b := float64(dx), float64(dy)
				n, sx, sy, xx, xy, yy = n+1, sx+a, sy+b, xx+a*a, xy+a*b, yy+b*b
			}
		}
	}
	xx, xy, yy = xx/n-sx*sx/n/n, xy/n-sx*sy/n/n, yy/n-sy*sy/n/n
	mean, diff := (xx+yy)/2+1.0/12, math.Hypot((xx-yy)/2, xy)
	h.wide = 2 * math.Sqrt(n/math.Pi) * f.mm
	h.long = math.Sqrt((mean + diff) / (mean - diff))
	return h
}

// lowest tells whether a pixel is the lowest within reach.
func lowest(p cv.Plane, x, y, reach int) bool {
	v := p.Pix[y*p.Width+x]
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if j := (y+dy)*p.Width + x + dx; p.Pix[j] < v {
				return false
			}
		}
	}
	return true
}
