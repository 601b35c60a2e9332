package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// umbra marks the hard shadows on the card, with the penumbras at their far side: dark
// places of the card's hue, smooth and of one level, from which it rises to card in full
// light over a wider way than across an outline. A head's side away from the lamp is shaded
// from tone to tone or lighter than the umbra, and a bare lip ends sharply.
func (t *tones) umbra(edge cv.Plane, full []bool, hue *shadowHue) ([]bool, error) {
	const (
		dark    = 0.3       // of full light: a lamp that casts such shadows gives most of it
		calm    = 0.02      // log level per px; flakes change more
		tint    = 0.15      // log ratio
		even    = 0.4       // log ratio of the lightest and the darkest twentieth; drawn umbras had 0.1 to 0.4
		least   = 400       // px: a square of three blocks is less
		mostly  = 2.0 / 3.0 // of the border with card in full light
		borders = 0.2       // of all of the border; the rest is the head's and the wire's
	)
	plain := image.NewGray(image.Rect(0, 0, t.w, t.h))
	level, most := t.plane[1].Pix, math.Log(dark+toe)
	for i, v := range level {
		if float64(v) < most && edge.Pix[i] < calm && !hue.foreign(t, i, tint) {
			plain.Pix[i] = 255
		}
	}
	runs, blobs, err := cv.Runs(plain)
	if err != nil {
		return nil, err
	}
	places := make([][]int, len(blobs)+1)
	for _, r := range runs {
		for i := int(r.At); i < int(r.At+r.Len) && blobs[r.Label-1].Area >= least; i++ {
			places[r.Label] = append(places[r.Label], i)
		}
	}
	var found [][]int
	var middles []float32
	for _, place := range places {
		levels := make([]float32, len(place))
		for k, i := range place {
			levels[k] = level[i]
		}
		if n := len(levels); n == 0 || nth(levels, n-1-n/20)-nth(levels, n/20) > even {
			continue
		}
		border, soft, sharp := 0, 0, 0
		for _, i := range place {
			if t.atSide(i) || plain.Pix[i-1]&plain.Pix[i+1]&plain.Pix[i-t.w]&plain.Pix[i+t.w] != 0 {
				continue
			}
			border++
			way, isSoft := t.rise(edge, full, i)
			switch {
			case isSoft:
				soft++
				place = append(place, way...)
			case way != nil:
				sharp++
			}
		}
		if float64(soft) > mostly*float64(soft+sharp) && float64(soft) > borders*float64(border) {
			found = append(found, place)
			middles = append(middles, nth(levels, len(levels)/2))
		}
	}
	marked := make([]bool, len(level))
	for k, place := range found {
		if middles[k] > slices.Min(middles)+even { // what the room lights is of one level, too
			continue
		}
		for _, i := range place {
			marked[i] = true
		}
	}
	return marked, nil
}

// riseStep is how far the lightest pixel about another is sought, px: noise is no top.
const riseStep = 2

// atSide tells whether a pixel is too near to the patch's sides for a step.
func (t *tones) atSide(i int) bool {
	x, y := i%t.w, i/t.w
	return x < riseStep || y < riseStep || x >= t.w-riseStep || y >= t.h-riseStep
}

// rise is the way uphill from a pixel to card in full light, and whether a penumbra lies there:
// where it is steepest, it would take longer than across an outline. Nil when the way ends
// elsewhere.
func (t *tones) rise(edge cv.Plane, full []bool, from int) (way []int, soft bool) {
	const (
		widest = 40 // steps: two radii of a head's usual size are less far
		sharp  = 9  // px: across an outline, smoothed as it is and in a sharp photo, it takes 6
	)
	level := t.plane[1].Pix
	logLevel := func(i int) float64 { return math.Log(math.Exp(float64(level[i])) - toe + dim) }
	steepest := edge.Pix[from]
	for i := from; len(way) < widest && !t.atSide(i); {
		if full[i] {
			return way, steepest >= softEdge && logLevel(i)-logLevel(from) > sharp*float64(steepest)
		}
		way = append(way, i)
		steepest = max(steepest, edge.Pix[i])
		top := i
		for dy := -riseStep; dy <= riseStep; dy++ {
			for dx := -riseStep; dx <= riseStep; dx++ {
				if j := i + dy*t.w + dx; level[j] > level[top] {
					top = j
				}
			}
		}
		if top == i {
			break
		}
		i = top
	}
	return nil, false
}
