package inspect

import (
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// blur is the standard deviation, in photo px, of the Gaussian that the edges
// of the head are blurred by.
//
// An edge blurred by s and then smoothed by σ is as steep as 1/√(s² + σ²), so
// its steepness under two smoothings gives s without knowing the contrast: for
// the ratio q of the two, s² = (σ₂² − q²·σ₁²)/(q² − 1). The lower quartile
// over the outline is taken, since only part of the outline is a plain step. It is
// not ok where hardly any of it is an edge. Where the blur is wider than the smoothing
// the two hardly differ but for noise, and wider ones are taken.
func (l *look) blur() (px float64, ok bool) {
	const fine, coarse = 1.0, 2.5 // patch px
	if px, ok = l.blurBy(fine, coarse); ok && px > coarse*float64(l.Step) {
		return l.blurBy(coarse, sq(coarse))
	}
	return px, ok
}

func (l *look) blurBy(fine, coarse float64) (px float64, ok bool) {
	level := cv.NewPlane(l.Width, l.Height)
	for i := range level.Pix {
		level.Pix[i] = float32(math.Cbrt(max(0, float64(l.Pix[3*i]+l.Pix[3*i+1]+l.Pix[3*i+2])/3)))
	}
	a, errA := cv.Gaussian(level, fine)
	b, errB := cv.Gaussian(level, coarse)
	if errA != nil || errB != nil {
		return 0, false
	}
	steepest := func(p cv.Plane, i int) float64 {
		dx, dy := float64(p.Pix[i+1]-p.Pix[i-1]), float64(p.Pix[i+l.Width]-p.Pix[i-l.Width])
		return math.Hypot(dx, dy)
	}
	var sigmas []float64
	s := l.shape
	for y := 4; y < s.h-4; y++ {
		for x := 4; x < s.w-4; x++ {
			i := y*s.w + x
			if s.head.Pix[i] == 0 || s.depth.Pix[i] > 1.5 {
				continue
			}
			var ga, gb float64
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					ga, gb = max(ga, steepest(a, i+dy*s.w+dx)), max(gb, steepest(b, i+dy*s.w+dx))
				}
			}
			if ga < 0.03 || gb == 0 {
				continue // hardly an edge at all
			}
			q := ga / gb
			if q <= 1.001 {
				sigmas = append(sigmas, 20)
				continue
			}
			sigmas = append(sigmas, math.Sqrt(max(0, (coarse*coarse-q*q*fine*fine)/(q*q-1))))
		}
	}
	if len(sigmas) < 20 {
		return 0, false
	}
	slices.Sort(sigmas)
	return sigmas[len(sigmas)/4] * float64(l.Step), true
}
