package inspect

import (
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// measurePinholes finds dark round dots of 0.15 to 0.4 mm in the film: minima
// of the level after the coat's own colour is taken out, as deep against all
// that lies around them. Flakes sparkle brighter, not darker; seams and the rims
// of sockets are long, so the ring about a point of theirs is dark somewhere.
func (f *film) measurePinholes(r *Relief) ([]ReliefFault, error) {
	l, s := f.look, f.look.shape
	const holeMM, aroundMM = 0.07, 0.28 // standard deviation that fits a hole, radius of the ring about it
	sigma, ring := holeMM/f.mm, aroundMM/f.mm
	if sigma < 0.8 {
		return nil, nil // finer than the pixels: not seen, so none is reported
	}
	level, err := cv.Gaussian(f.coat.residual[1], sigma)
	if err != nil {
		return nil, err
	}
	slow, err := cv.Gaussian(f.coat.residual[1], 2.5*sigma)
	if err != nil {
		return nil, err
	}
	usable := func(i int) bool {
		return !f.notCoat[i] && !l.onCollar(i) && l.angles.Pix[i] >= 0 && l.angles.Pix[i] < 65 &&
			float64(s.depth.Pix[i]) > 0.1*s.radius
	}
	var swing []float64
	for i := range level.Pix {
		if i%3 == 0 && usable(i) {
			swing = append(swing, math.Abs(float64(level.Pix[i]-slow.Pix[i])))
		}
	}
	if len(swing) < 500 {
		return nil, nil
	}
	slices.Sort(swing)
	const least = 0.12 // log level: what a hole half as wide as the smoothing leaves of a dark one
	deep := float32(-max(least, 6*swing[len(swing)/2]/0.6745))
	var faults []ReliefFault
	n := int(ring)
	for y := n + 1; y < s.h-n-1; y++ {
		for x := n + 1; x < s.w-n-1; x++ {
			i := y*s.w + x
			v := level.Pix[i]
			if v-slow.Pix[i] > deep || !usable(i) || !lowest(level, x, y, n/2+1) {
				continue
			}
			darkest, sum := float32(math.Inf(1)), float32(0)
			const points = 16
			for k := range points {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / points)
				w := level.Pix[(y+int(math.Round(ring*sin)))*s.w+x+int(math.Round(ring*cos))]
				darkest, sum = min(darkest, w), sum+w/points
			}
			if darkest-v < 0.5*(sum-v) {
				continue
			}
			wide := 2 * math.Sqrt(float64(below(level, x, y, n, (v+sum)/2))/math.Pi)
			at := l.toPhoto(float64(x), float64(y))
			fault := ReliefFault{
				Kind: "pinhole", X: at.X, Y: at.Y, DiameterPx: wide * float64(l.Step), Place: "on the face",
				Confidence: min(1, float64((sum-v)/(-2*deep))),
			}
			if f.sized {
				mm := wide * f.mm
				fault.DiameterMM = &mm
			}
			faults = append(faults, fault)
		}
	}
	r.Pinholes = len(faults)
	return faults, nil
}

// below counts the pixels within reach that are darker than a level.
func below(p cv.Plane, x, y, reach int, level float32) int {
	n := 0
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if dx*dx+dy*dy <= reach*reach && p.Pix[(y+dy)*p.Width+x+dx] < level {
				n++
			}
		}
	}
	return n
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
