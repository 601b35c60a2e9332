package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// levels are those of a pixel and of the coat there, relative to card, mean of
// the channels.
type levels struct {
	pixel, coat float32
	own         float32 // how colourful the pixel is, see chromaClass
	scatter     float32 // log ratio by which the coat itself may be darker
	grey        bool    // the pixel has no more colour than lamps of two kinds give metal, or less than half the coat's
}

// How light dull cast lead is, relative to card: it reflects about a third of
// what an 18 % card does and less than nine tenths of it even where it mirrors a
// tent (measured on photographs with known truth).
const (
	dullMetal      = 0.33
	brightestMetal = 0.9
)

// levelsOf sets a pixel beside what is expected of it. Chroma is how colourful
// the coat is, see neutralShare.
func levelsOf(q [3]float64, c *coat, i int, chroma float64) levels {
	const sure = 4.5 // standard deviations: once in three hundred thousand pixels
	mean := (q[0] + q[1] + q[2]) / 3
	var want [3]float64
	coat, square := 0.0, 0.0
	for k := range q {
		want[k] = math.Exp(float64(c.expected[k].Pix[i])) - toe
		coat += want[k]
		square += (q[k] - mean) * (q[k] - mean)
	}
	own := math.Sqrt(square) / max(mean, 0.05)
	return levels{float32(mean), float32(coat / 3), float32(own), float32(sure * c.spread), own < max(0.4, chroma/2) && !shaded(q, want)}
}

// shaded tells whether a colour is the coat's own with less light on it: it has
// most of the coat's colour for its level, where the coat has enough to tell.
func shaded(q, coat [3]float64) bool {
	const tinted, most = 0.12, 0.7 // of the level; of the coat's
	_, scale, chroma := neutralShare(q, coat)
	level := scale * (coat[0] + coat[1] + coat[2]) / max(q[0]+q[1]+q[2], 0.15)
	return chroma > tinted && level > most
}

// tells tells whether the coat is so light there that metal would stand out as
// dark, whatever it mirrors.
func (v levels) tells() bool {
	const least = 0.47 // log ratio: a shadow in a socket or beside a seam is as deep
	return float64(v.coat) > brightestMetal*math.Exp(max(least, float64(v.scatter)))
}

// bare tells whether a pixel is as dark and grey as metal on a coat much lighter.
func (v levels) bare() bool { return v.grey && v.pixel < brightestMetal && v.tells() }

// half tells whether a pixel is nearer to metal than to the coat.
func (v levels) half() bool { return v.tells() && v.pixel < (v.coat+dullMetal)/2 }

// darkSpots marks where a coat lighter than any metal has dark spots: pale and
// white coats have too little hue to tell the two apart by. A spot has light
// coat on most sides; what hasn't is the head's own shaded side. Nil without any.
func (l *look) darkSpots(b bareness) (*image.Gray, error) {
	s := l.shape
	far := image.NewGray(s.head.Rect) // everything but what is surely as dark as metal
	any := false
	for i := range far.Pix {
		far.Pix[i] = 255
		if s.head.Pix[i] != 0 && b.level[i].bare() && l.judged(i) {
			far.Pix[i], any = 0, true
		}
	}
	if !any {
		return nil, nil
	}
	out := image.NewGray(s.head.Rect)
	const soft = 6 // px over which a spot's edge fades
	near, err := cv.Near(far, soft+1)
	if err != nil {
		return nil, err
	}
	for i := range out.Pix {
		if s.head.Pix[i] != 0 && l.judged(i) && near.Pix[i] <= soft && (near.Pix[i] == 0 || b.level[i].half()) {
			out.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(out)
	if err != nil {
		return nil, err
	}
	light, all := make([]int, len(blobs)+1), make([]int, len(blobs)+1)
	for i, label := range labels {
		if label == 0 {
			continue
		}
		x, y := i%s.w, i/s.w
		for _, d := range [4]image.Point{{X: besideSpot}, {X: -besideSpot}, {Y: besideSpot}, {Y: -besideSpot}} {
			q := image.Pt(x, y).Add(d)
			if !q.In(out.Rect) {
				continue
			}
			if j := q.Y*s.w + q.X; labels[j] != label {
				all[label]++
				if v := b.level[j]; s.head.Pix[j] != 0 && v.pixel > 0.6*v.coat {
					light[label]++
				}
			}
		}
	}
	for i, label := range labels {
		if label != 0 && 3*light[label] < 2*all[label] {
			out.Pix[i] = 0
		}
	}
	return out, nil
}
