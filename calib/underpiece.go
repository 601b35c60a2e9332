package calib

import (
	"image"
	"slices"

	"jigloupe/calib/cv"
)

// underPiece is the surface that the piece lies on: of those that have no other
// surface of some size between themselves and the piece, as a table has the
// card, the one within which most borders on what is not smooth: a stripe of a
// wooden table borders on the next ones, but none of them lies within it.
func underPiece(found []*GreyCard) (*GreyCard, error) {
	const some = 0.25 // of the surface around it: cards are larger than that, smooth heads smaller
	around, size := make([][]bool, len(found)), make([]int, len(found))
	for k, c := range found {
		var err error
		if around[k], err = enclosed(c.whole(found), c.Reduced.Width); err != nil {
			return nil, err
		}
		size[k] = count(around[k])
	}
	best, bestScore := (*GreyCard)(nil), 0.0
	for k, c := range found {
		table := false
		for j := range found {
			if size[j] >= size[k] || float64(size[j]) <= some*float64(size[k]) {
				continue
			}
			within := 0
			for i, in := range found[j].Inside {
				if in && around[k][i] {
					within++
				}
			}
			table = table || float64(within) > 0.4*float64(count(found[j].Inside))
		}
		if table {
			continue
		}
		if s := c.borderScore(around[k]); s > bestScore {
			best, bestScore = c, s
		}
	}
	return best, nil
}

// whole marks the smooth pixels of a surface with those of others that its light goes on
// over: a hook and its shadow can part a card.
func (c *GreyCard) whole(found []*GreyCard) []bool {
	whole := slices.Clone(c.smooth)
	for _, o := range found {
		n, agree := 0, 0
		for i, in := range o.smooth {
			if in {
				n++
				if c.Inside[i] {
					agree++
				}
			}
		}
		for i, in := range o.smooth {
			whole[i] = whole[i] || in && 2*agree > n
		}
	}
	return whole
}

func count(marks []bool) int {
	n := 0
	for _, m := range marks {
		if m {
			n++
		}
	}
	return n
}

// borderScore is the surface's area and, for more, the length of the outlines
// that run along it, of what is around it.
func (c *GreyCard) borderScore(around []bool) float64 {
	const reach = 6 // reduced px: bridges the blurred outline
	w, h := c.Reduced.Width, c.Reduced.Height
	area, border := 0, 0
	for y := reach; y < h-reach; y++ {
		for x := reach; x < w-reach; x++ {
			i := y*w + x
			if !around[i] {
				continue
			}
			if c.Inside[i] {
				area++
				continue
			}
			if c.Inside[i-reach] || c.Inside[i+reach] || c.Inside[i-reach*w] || c.Inside[i+reach*w] {
				border++
			}
		}
	}
	return float64(area) + 4*float64(border)
}

// enclosed marks the pixels that have marked ones to the left, to the right,
// above and below. A piece can cut a card in parts; specks that look like it
// elsewhere are no part.
func enclosed(marked []bool, w int) ([]bool, error) {
	h := len(marked) / w
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i, v := range marked {
		if v {
			m.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(m)
	if err != nil {
		return nil, err
	}
	largest := 0
	for _, b := range blobs {
		largest = max(largest, b.Area)
	}
	part := func(i int) bool { return labels[i] > 0 && blobs[labels[i]-1].Area > largest/5 }
	low, high := make([]int, w), make([]int, w) // first and last such row of each column
	for x := range w {
		low[x], high[x] = h, -1
	}
	for i := range marked {
		if part(i) {
			low[i%w], high[i%w] = min(low[i%w], i/w), i/w
		}
	}
	out := make([]bool, len(marked))
	for y := range h {
		first, last := 0, w-1
		for first <= last && !part(y*w+first) {
			first++
		}
		for first <= last && !part(y*w+last) {
			last--
		}
		for x := first; x <= last; x++ {
			out[y*w+x] = low[x] <= y && y <= high[x]
		}
	}
	return out, nil
}
