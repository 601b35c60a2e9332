package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// looksLikeCard tells whether what stands out is no head but a grey card on a table as
// even as a card: a rectangle, and large. Of 85 photographs of heads with known truth,
// turned and of four styles, none fills more than 0.76 of the tightest rectangle round
// it, nor more than 0.13 of the photo; a card seen askew by 10° fills 0.95.
func (l *look) looksLikeCard(frame image.Point) bool {
	const least, large = 0.9, 0.15
	_, _, area := centroid(l.shape.head)
	if float64(area*l.Step*l.Step) < large*float64(frame.X*frame.Y) {
		return false
	}
	line, err := cv.Outline(l.shape.head)
	return err == nil && float64(area) > least*tightest(line)
}

// tightest is the area of the smallest rectangle round a line of pixels, to a degree of
// its turn.
func tightest(line []image.Point) float64 {
	best := math.Inf(1)
	for deg := range 90 {
		sin, cos := math.Sincos(float64(deg) * math.Pi / 180)
		low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		for _, p := range line {
			for k, v := range [2]float64{float64(p.X)*cos + float64(p.Y)*sin, float64(p.Y)*cos - float64(p.X)*sin} {
				low[k], high[k] = min(low[k], v), max(high[k], v)
			}
		}
		best = min(best, (high[0]-low[0]+1)*(high[1]-low[1]+1))
	}
	return best
}
