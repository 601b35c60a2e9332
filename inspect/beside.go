package inspect

import (
	"image"
	"math"
	"slices"
)

// beside is what lies about a spot: the mean colour of the head on each of eight
// sides, where enough of it is seen, and the median levels of the head and of
// what lies beyond the outline, all relative to card, 0 when there is none.
type beside struct {
	sides        [][3]float64
	head, beyond float64
}

// besideSpot is how far from a spot's pixels the head is looked at, and
// beyondSpot how far what lies beyond the outline, px: past the soft edges of
// both.
const besideSpot, beyondSpot = 8, 11

// beside looks around a spot.
func (l *look) beside(sp spot) beside {
	w := l.shape.w
	frame := l.shape.head.Rect
	own := map[int]bool{}
	for _, i := range sp.pixels {
		own[i] = true
	}
	var b beside
	var head, beyond []float64
	for k := range 8 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		way := func(i int, far float64) (int, bool) {
			q := image.Pt(i%w+int(math.Round(far*cos)), i/w+int(math.Round(far*sin)))
			return q.Y*w + q.X, q.In(frame)
		}
		var sum [3]float64
		n := 0
		for _, i := range sp.pixels {
			if j, ok := way(i, besideSpot); ok && !own[j] && l.shape.depth.Pix[j] >= thinRim {
				c := l.tones.rgb(j)
				for k := range sum {
					sum[k] += c[k]
				}
				head = append(head, mean3(c))
				n++
			}
			if j, ok := way(i, beyondSpot); ok && l.shape.head.Pix[j] == 0 {
				beyond = append(beyond, mean3(l.tones.rgb(j)))
			}
		}
		if n >= 10 {
			b.sides = append(b.sides, [3]float64{sum[0] / float64(n), sum[1] / float64(n), sum[2] / float64(n)})
		}
	}
	b.head, b.beyond = quantile(head, 0.5), quantile(beyond, 0.5)
	return b
}

func (t *tones) rgb(i int) (c [3]float64) {
	for k := range c {
		c[k] = float64(t.level[k].Pix[i])
	}
	return c
}

func mean3(c [3]float64) float64 { return (c[0] + c[1] + c[2]) / 3 }

// fades tells whether the head has a spot's own hue on some side of it: paint
// ends on all sides, a coat that turns grey in the shade passes over into it.
// It is told in the mean of ten pixels or more, which halves and halves again
// the scatter of one.
func (b beside) fades(own [3]float64) bool {
	const same = 0.1 // of the level: a quarter of what lamps of two kinds make metal differ by, see kind
	return slices.ContainsFunc(b.sides, func(c [3]float64) bool { return tintApart(c, own) < same })
}

// mirrors tells whether a spot along the outline, where the coat is seen
// steeply, may be the card that lies beyond: mirrored in the coat's gloss or
// blurred into it, it makes a coat that is darker than the card lighter, up to
// the card's own level, and a twentieth for noise.
func (b beside) mirrors(level float64) bool {
	return b.head > 0 && b.head < level && level <= 1.05*b.beyond
}

// tintApart is how far two colours are apart in hue: the norm of the difference
// of their channels, each relative to its mean.
func tintApart(a, b [3]float64) float64 {
	am, bm := max(mean3(a), 0.02), max(mean3(b), 0.02)
	square := 0.0
	for k := range a {
		square += sq(a[k]/am - b[k]/bm)
	}
	return math.Sqrt(square)
}
