//go:build gocv_specific_modules

package cv

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"slices"
	"sync"
)

// The steps of a chamfer distance, px, as shares of 2^16: to a neighbour beside, to
// one at a corner, and a knight's move. With these the distance is nowhere off by
// more than 2 % (G. Borgefors, Comput. Vis. Graph. Image Process. 34, 344–371,
// 1986, table of 5 × 5 masks; the values are OpenCV's for its own).
const (
	distanceOne            = 1 << 16
	beside, corner, knight = distanceOne, 91750, 143976 // 1, 1.4, 2.1969
	farAway                = math.MaxInt32 - 2*knight   // no pixel outside the mask at all
)

// Distance gives, for each pixel of the mask (non-zero), the Euclidean
// distance in px to the nearest pixel outside it; 0 outside. Pixels beyond the
// border count as inside.
func Distance(mask *image.Gray) (Plane, error) { return Near(mask, math.Inf(1)) }

// Near is Distance for the pixels that are nearer than reach, px; all others get
// at least reach.
func Near(mask *image.Gray, reach float64) (Plane, error) {
	w, h := mask.Rect.Dx(), mask.Rect.Dy()
	if w <= 0 || h <= 0 || mask.Stride != w {
		return Plane{}, fmt.Errorf("mask of %d×%d px, stride %d, has no distances", w, h, mask.Stride)
	}
	out := NewPlane(w, h)
	// Shortest ways stay within the box of their ends, so what lies outside can be left.
	box := boxOf(mask, false).Inset(-1)
	if !math.IsInf(reach, 1) {
		box = box.Intersect(boxOf(mask, true).Inset(-int(reach) - 1))
	}
	if box = box.Intersect(mask.Rect.Sub(mask.Rect.Min)); !box.Empty() {
		chamfer(mask.Pix, w, box, out.Pix)
	}
	if !math.IsInf(reach, 1) {
		far := func(from, to int) {
			beyond, mask := out.Pix[from:to], mask.Pix[from:to]
			for i := range beyond {
				if mask[i] != 0 {
					beyond[i] = float32(reach) + 1
				}
			}
		}
		far(0, box.Min.Y*w)
		for y := box.Min.Y; y < box.Max.Y; y++ {
			far(y*w, y*w+box.Min.X)
			far(y*w+box.Max.X, (y+1)*w)
		}
		far(box.Max.Y*w, h*w)
	}
	return out, nil
}

// boxOf is the smallest rectangle that holds all zero pixels of a mask, or all
// others.
func boxOf(mask *image.Gray, zero bool) image.Rectangle {
	w := mask.Stride
	box := image.Rectangle{image.Pt(w, mask.Rect.Dy()), image.Point{}}
	for y := range mask.Rect.Dy() {
		row := mask.Pix[y*w : (y+1)*w]
		from, to := 0, w
		if zero {
			if from = bytes.IndexByte(row, 0); from < 0 {
				continue
			}
			to = bytes.LastIndexByte(row, 0) + 1
		} else {
			for from+8 <= w && binary.LittleEndian.Uint64(row[from:]) == 0 {
				from += 8
			}
			for from < w && row[from] == 0 {
				from++
			}
			for to-8 >= from && binary.LittleEndian.Uint64(row[to-8:]) == 0 {
				to -= 8
			}
			for to > from && row[to-1] == 0 {
				to--
			}
		}
		if from < to {
			box.Min.X, box.Max.X = min(box.Min.X, from), max(box.Max.X, to)
			box.Min.Y, box.Max.Y = min(box.Min.Y, y), y+1
		}
	}
	return box
}

// distances are what chamfer needs on the way, kept for the next.
var distances = sync.Pool{New: func() any { return new([]int32) }}

// chamfer fills in the distances within a box of a mask w px wide, there and
// back again.
func chamfer(mask []uint8, w int, box image.Rectangle, out []float32) {
	const rim = 2
	bw, bh := box.Dx(), box.Dy()
	stride := bw + 2*rim
	kept := distances.Get().(*[]int32)
	defer distances.Put(kept)
	d := slices.Grow((*kept)[:0], stride*(bh+2*rim))[:stride*(bh+2*rim)]
	*kept = d
	row := func(y int) []int32 { return d[(y+rim)*stride : (y+rim+1)*stride] }
	unreached := func(px []int32) {
		for i := range px {
			px[i] = farAway
		}
	}
	unreached(d[:rim*stride+rim])
	for y := range bh {
		unreached(d[(y+rim+1)*stride-rim:][:2*rim])
	}
	unreached(d[(bh+rim)*stride:])
	for y := range bh {
		in := mask[(box.Min.Y+y)*w+box.Min.X:][:bw]
		up2, up := row(y - 2)[:bw+2*rim], row(y - 1)[:bw+2*rim]
		here := row(y)[:bw+2*rim]
		last := int32(farAway)
		for x, v := range in {
			if v == 0 {
				last = 0
			} else {
				diagonal := min(up[x+1], up[x+3]) + corner
				far := min(up2[x+1], up2[x+3], up[x], up[x+4]) + knight
				last = min(diagonal, far, up[x+2]+beside, last+beside, farAway)
			}
			here[x+2] = last
		}
	}
	const scale = 1.0 / distanceOne
	for y := bh - 1; y >= 0; y-- {
		down2, down := row(y + 2)[:bw+2*rim], row(y + 1)[:bw+2*rim]
		here := row(y)[:bw+2*rim]
		to := out[(box.Min.Y+y)*w+box.Min.X:][:bw]
		last := int32(farAway)
		for x := len(to) - 1; x >= 0; x-- {
			if v := here[x+2]; v > beside {
				diagonal := min(down[x+1], down[x+3]) + corner
				far := min(down2[x+1], down2[x+3], down[x], down[x+4]) + knight
				last = min(v, diagonal, far, down[x+2]+beside, last+beside)
			} else {
				last = v
			}
			here[x+2] = last
			to[x] = float32(last) * scale
		}
	}
}
