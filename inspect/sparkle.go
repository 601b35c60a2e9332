package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// sparkle is the finest detail of a photo: flakes make it, on metal only noise
// does.
type sparkle struct {
	square cv.Plane // of the detail, relative to card
	level  cv.Plane // what it was taken from
	noise  float64  // variance of the detail at the card's level
	grain  float64  // px that one independent piece of it takes
}

// newSparkle takes the detail of a photo; its edges are blurred by so many px. How
// noisy it is the card tells, which has no flakes.
func (l *look) newSparkle(blur float64) (*sparkle, error) {
	const (
		fine   = 2.0    // px: the Gaussian that the detail is finer than
		median = 0.4549 // of the square of a normal deviate
	)
	light := cv.NewPlane(l.shape.w, l.shape.h)
	for i := range light.Pix {
		light.Pix[i] = (l.Pix[3*i] + l.Pix[3*i+1] + l.Pix[3*i+2]) / float32(3*l.cardR)
	}
	soft, err := cv.Gaussian(light, fine)
	if err != nil {
		return nil, err
	}
	var card []float64
	for i, v := range soft.Pix {
		light.Pix[i] = (light.Pix[i] - v) * (light.Pix[i] - v)
		if i%3 == 0 && l.isCard(i) {
			card = append(card, float64(light.Pix[i])*(1+dim)/(float64(v)+dim))
		}
	}
	return &sparkle{light, soft, quantile(card, 0.5) / median, 4 * math.Pi * sq(max(blur, 0.5))}, nil
}

// at is the mean level and the variance of the detail over pixels.
func (k *sparkle) at(pixels []int) (level, variance float64) {
	for _, i := range pixels {
		level += float64(k.level.Pix[i]) / float64(len(pixels))
		variance += float64(k.square.Pix[i]) / float64(len(pixels))
	}
	return level, variance
}

// noiseAt is the variance that noise alone makes at a level, see dim.
func (k *sparkle) noiseAt(level float64) float64 { return k.noise * (level + dim) / (1 + dim) }

// shinesThrough tells whether a spot has the sparkle of the coat around it, which
// gloss leaves as it is, rather than the noise alone that metal has: whether its
// variance, for which it has so many grains, is nearer to the one than to the other,
// and the two can be told apart.
func (k *sparkle) shinesThrough(l *look, sp spot) bool {
	in, around := l.within(sp), l.about(sp)
	if len(in) == 0 || len(around) == 0 {
		return false
	}
	level, seen := k.at(in)
	coatLevel, coat := k.at(around)
	metal := k.noiseAt(level)
	gloss := metal + max(0, coat-k.noiseAt(coatLevel))
	u := math.Sqrt(2 * k.grain / float64(len(in))) // of the logarithm of a variance from so many grains
	return math.Log(gloss/metal) > 2*u && math.Log(seen/gloss) > -math.Log(gloss/metal)/2
}

// within are the pixels of a spot that its edge does not reach, all where there
// are too few.
func (l *look) within(sp spot) []int {
	const edge, few = 3, 12 // px
	m := image.NewGray(l.shape.head.Rect)
	for _, i := range sp.pixels {
		m.Pix[i] = 255
	}
	far, err := cv.Near(m, edge+1)
	var in []int
	for _, i := range sp.pixels {
		if err == nil && far.Pix[i] > edge {
			in = append(in, i)
		}
	}
	if len(in) < few {
		return sp.pixels
	}
	return in
}

// about are the pixels around a spot, past its soft edge.
func (l *look) about(sp spot) (around []int) {
	const from, to = 6, 16 // px
	m := image.NewGray(l.shape.head.Rect)
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for _, i := range sp.pixels {
		m.Pix[i] = 0
	}
	far, err := cv.Near(m, to)
	if err != nil {
		return nil
	}
	for i, v := range far.Pix {
		if v >= from && v < to && l.judged(i) {
			around = append(around, i)
		}
	}
	return around
}
