package inspect

import (
	"image"
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
	s := l.shape
	box := l.aboutHead(int(4*coarse) + 8) // OpenCV's Gaussian ends at four sigma
	level := cv.NewPlane(box.Dx(), box.Dy())
	for y := range level.Height {
		row := l.Pix[3*((box.Min.Y+y)*l.Width+box.Min.X):][:3*level.Width]
		for x := range level.Width {
			level.Pix[y*level.Width+x] = float32(math.Cbrt(max(0, float64(row[3*x]+row[3*x+1]+row[3*x+2])/3)))
		}
	}
	a, errA := cv.Gaussian(level, fine)
	b, errB := cv.Gaussian(level, coarse)
	if errA != nil || errB != nil {
		return 0, false
	}
	steepest := func(p cv.Plane, i int) float64 {
		dx, dy := float64(p.Pix[i+1]-p.Pix[i-1]), float64(p.Pix[i+p.Width]-p.Pix[i-p.Width])
		return math.Hypot(dx, dy)
	}
	var sigmas []float64
	for y := max(4, box.Min.Y); y < min(s.h-4, box.Max.Y); y++ {
		for x := max(4, box.Min.X); x < min(s.w-4, box.Max.X); x++ {
			i := y*s.w + x
			if s.head.Pix[i] == 0 || s.depth.Pix[i] > 1.5 {
				continue
			}
			at := (y-box.Min.Y)*level.Width + x - box.Min.X
			var ga, gb float64
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					j := at + dy*level.Width + dx
					ga, gb = max(ga, steepest(a, j)), max(gb, steepest(b, j))
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

// aboutHead is the part of the patch that holds the head with a margin, px. It begins
// at a multiple of 16 px: blocks of pixels, in OpenCV too, are then those of the patch.
func (l *look) aboutHead(margin int) image.Rectangle {
	const grid = 16
	r := bounds(l.shape.head).Inset(-margin).Intersect(l.shape.head.Rect)
	r.Min = r.Min.Div(grid).Mul(grid)
	return r
}
