package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// A patch is a part of a photo as reflectance factors, three per pixel (linear
// sRGB primaries), on a grid of step × step photo pixels.
type patch struct {
	*calib.Linear
	cardR float64 // reflectance of the card
}

// toPatch turns a place in the photo into patch pixels.
func (p patch) toPatch(at image.Point) (x, y float64) {
	return float64(at.X-p.Rect.Min.X)/float64(p.Step) - 0.5, float64(at.Y-p.Rect.Min.Y)/float64(p.Step) - 0.5
}

// tones are the logarithms of a patch relative to unshadowed card, smoothed:
// equal steps are equal ratios, so a shadow or a tint adds the same everywhere.
type tones struct {
	w, h  int
	level [3]cv.Plane // the ratios themselves, smoothed, 0 and more
	plane [3]cv.Plane
}

// toe is added to a ratio before its logarithm is taken, so that noise in the
// dark counts no more than noise in the light: it is about one step of an
// 8-bit photo there.
const toe = 0.03

func tonesOf(p patch, sigma float64) (*tones, error) {
	t := &tones{w: p.Width, h: p.Height}
	lin := cv.NewPlane(p.Width, p.Height)
	for k := range t.plane {
		t.level[k] = cv.NewPlane(t.w, t.h)
		if err := t.smooth(p, k, sigma, lin); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// smooth fills in one channel, of which the plane for the level is there; lin is for
// what is needed on the way.
func (t *tones) smooth(p patch, k int, sigma float64, lin cv.Plane) (err error) {
	if err = p.level(k, sigma, lin, t.level[k]); err != nil {
		return err
	}
	t.plane[k], err = cv.Log(t.level[k], toe)
	return err
}

// level fills in one channel relative to card, smoothed; lin is for what is needed on
// the way.
func (p patch) level(k int, sigma float64, lin, to cv.Plane) error {
	card := float32(p.cardR)
	for i := range lin.Pix {
		lin.Pix[i] = p.Pix[3*i+k] / card
	}
	if err := to.GaussianOf(lin, sigma); err != nil {
		return err
	}
	for i, v := range to.Pix {
		if v < 0 {
			to.Pix[i] = 0
		}
	}
	return nil
}

// tonesAndEdges is tonesOf without the levels, and the largest change of any
// channel, per pixel, as a log ratio.
func tonesAndEdges(p patch, sigma float64) (*tones, cv.Plane, error) {
	t := &tones{w: p.Width, h: p.Height}
	lin, level, e := cv.NewPlane(t.w, t.h), cv.NewPlane(t.w, t.h), cv.NewPlane(t.w, t.h)
	for k := range t.plane {
		t.level[k] = level
		if err := t.smooth(p, k, sigma, lin); err != nil {
			return nil, e, err
		}
		soft := lin
		if err := soft.LogOf(t.level[k], dim); err != nil {
			return nil, e, err
		}
		t.level[k] = cv.Plane{}
		for y := 1; y < t.h-1; y++ {
			row, above, below := soft.Pix[y*t.w:(y+1)*t.w], soft.Pix[(y-1)*t.w:y*t.w], soft.Pix[(y+1)*t.w:(y+2)*t.w]
			out := e.Pix[y*t.w : (y+1)*t.w]
			for x := 1; x < t.w-1; x++ {
				dx, dy := row[x+1]-row[x-1], below[x]-above[x]
				out[x] = max(out[x], dx*dx+dy*dy)
			}
		}
	}
	for i, v := range e.Pix {
		e.Pix[i] = float32(math.Sqrt(float64(v))) / 2
	}
	return t, e, nil
}

// hue is the log ratio of red and of blue to green.
func (t *tones) hue(i int) (u, v float32) {
	g := t.plane[1].Pix[i]
	return t.plane[0].Pix[i] - g, t.plane[2].Pix[i] - g
}

// dim is added to a level, relative to card, before its logarithm is taken for
// an edge: it makes the camera's noise weigh about the same in shadow as in
// light, where its standard deviation is the root of the level.
const dim = 0.2

const (
	cardMark  = 1
	pieceMark = 2
)

// flood spreads the marks (> 0) over the unmarked pixels, always across the
// weakest edge left, so that two marks meet on the strongest edge between them
// (watershed by immersion: L. Vincent and P. Soille, IEEE Trans. Pattern Anal.
// Mach. Intell. 13(6), 583–598, 1991, doi:10.1109/34.87344).
func flood(edge cv.Plane, marks []uint8) []uint8 {
	const levels = 256
	const top = 0.4 // change per pixel; all edges above are alike
	w, h := edge.Width, edge.Height
	label := append([]uint8(nil), marks...)
	var queue [levels][]int32
	to := func(i, j, level int) {
		if label[j] == 0 {
			label[j] = label[i]
			r := max(level, min(levels-1, int(edge.Pix[j]*(levels/top))))
			queue[r] = append(queue[r], int32(j))
		}
	}
	spread := func(i, x, level int) {
		if x > 0 {
			to(i, i-1, level)
		}
		if x < w-1 {
			to(i, i+1, level)
		}
		if i >= w {
			to(i, i-w, level)
		}
		if i < w*(h-1) {
			to(i, i+w, level)
		}
	}
	leads := make([]bool, len(marks)) // somewhere: to a pixel without a mark
	for i, m := range marks {
		if m == 0 {
			leads[max(i-1, 0)], leads[min(i+1, len(leads)-1)] = true, true
			leads[max(i-w, 0)], leads[min(i+w, len(leads)-1)] = true, true
		}
	}
	for i, leads := range leads {
		if leads && marks[i] != 0 {
			spread(i, i%w, 0)
		}
	}
	for level := range queue {
		for n := 0; n < len(queue[level]); n++ {
			i := int(queue[level][n])
			spread(i, i%w, level)
		}
		queue[level] = nil
	}
	return label
}

// fullLight marks the card outside every shadow. A grey head can have a ring of
// just that level; it is cut off from the card around it, and small.
func (t *tones) fullLight(noise float64) ([]bool, error) {
	full := float32(math.Log(1 + toe))
	near := float32(0.04 + 4*noise)
	level := image.NewGray(image.Rect(0, 0, t.w, t.h))
	green, blue := t.plane[1].Pix[:len(level.Pix)], t.plane[2].Pix[:len(level.Pix)]
	for i, r := range t.plane[0].Pix[:len(level.Pix)] {
		r, g, b := r-full, green[i]-full, blue[i]-full
		if r < near && r > -near && g < near && g > -near && b < near && b > -near {
			level.Pix[i] = 255
		}
	}
	runs, blobs, err := cv.Runs(level)
	if err != nil {
		return nil, err
	}
	keep := make([]bool, len(blobs)+1)
	any, largest := false, cv.Blob{}
	for _, b := range blobs {
		keep[b.Label] = b.Bounds.Min.X == 0 || b.Bounds.Min.Y == 0 || b.Bounds.Max.X == t.w || b.Bounds.Max.Y == t.h
		any = any || keep[b.Label] && b.Area > t.w
		if b.Area > largest.Area {
			largest = b
		}
	}
	keep[largest.Label] = keep[largest.Label] || !any && len(blobs) > 0
	out := make([]bool, t.w*t.h)
	for _, r := range runs {
		if keep[r.Label] {
			row := out[r.At:][:r.Len]
			for x := range row {
				row[x] = true
			}
		}
	}
	return out, nil
}

// softEdge, log level per patch px, is a soft shadow's fringe and no outline.
const softEdge = 0.035

// reach spreads from card in full light into its shadows as long as no edge
// exceeds gentle and the hue is one that a mix of lamps can give.
func (t *tones) reach(edge cv.Plane, full []bool, gentle float32) []bool {
	const lit = 0.1 // shadows are darker than the card, never lighter than by this
	brightest := float32(math.Log(1+toe)) + lit
	reached := slices.Clone(full)
	// of the card in full light only its border leads anywhere
	var queue []int32
	for i, ok := range reached {
		if ok && !(i >= t.w && i < len(reached)-t.w && reached[i-1] && reached[i+1] && reached[i-t.w] && reached[i+t.w]) {
			queue = append(queue, int32(i))
		}
	}
	for len(queue) > 0 {
		i := int(queue[len(queue)-1])
		queue = queue[:len(queue)-1]
		x := i % t.w
		for n, j := range [4]int{i - 1, i + 1, i - t.w, i + t.w} {
			if n == 0 && x == 0 || n == 1 && x == t.w-1 || j < 0 || j >= len(reached) || reached[j] || edge.Pix[j] >= gentle || t.plane[1].Pix[j] >= brightest {
				continue
			}
			if warm, green := lampTint(t.hue(j)); green > 0.15 || green < -0.15 || warm > 0.9 || warm < -0.5 {
				continue
			}
			reached[j] = true
			queue = append(queue, int32(j))
		}
	}
	return reached
}

// lampTint splits a hue into its part along the change from daylight to
// incandescent light, about which lamps differ, and across it. The direction is
// that of 2700 K against 6500 K in linear sRGB (1 : 0.40 : 0.095 on Planck's
// locus).
func lampTint(u, v float32) (warm, green float32) {
	return u*warmRed + v*warmBlue, u*warmBlue - v*warmRed
}

const warmRed, warmBlue = 0.54, -0.84
