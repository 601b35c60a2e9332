package inspect

import (
	"image"
	"math"
)

// besideSpot is how far from a spot's pixels the head is looked at, px: past its soft
// edge.
const besideSpot = 8

// fades tells whether the head has a spot's own hue, given as its mean colour, on some
// side of it: paint ends on all sides, a coat that turns grey in the shade passes over
// into it. It is told in the mean of ten pixels or more, which halves and halves again
// the scatter of one.
func (l *look) fades(sp spot, mean [3]float64) bool {
	const same = 0.1 // of the level: a quarter of what lamps of two kinds make metal differ by, see kind
	w := l.shape.w
	own := make(map[int]bool, len(sp.pixels))
	for _, i := range sp.pixels {
		own[i] = true
	}
	for k := range 8 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		var side [3]float64
		n := 0.0
		for _, i := range sp.pixels {
			q := image.Pt(i%w+int(math.Round(besideSpot*cos)), i/w+int(math.Round(besideSpot*sin)))
			if j := q.Y*w + q.X; q.In(l.shape.head.Rect) && !own[j] && l.shape.depth.Pix[j] >= thinRim {
				for k, v := range l.tones.rgb(j) {
					side[k] += v
				}
				n++
			}
		}
		if n < 10 {
			continue
		}
		for k := range side {
			side[k] /= n
		}
		if tintApart(side, mean) < same {
			return true
		}
	}
	return false
}

func (t *tones) rgb(i int) (c [3]float64) {
	for k := range c {
		c[k] = float64(t.level[k].Pix[i])
	}
	return c
}

func mean3(c [3]float64) float64 { return (c[0] + c[1] + c[2]) / 3 }

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
