//go:build gocv_specific_modules

package cv

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"image"
	"slices"
)

// Blob is one connected part of a mask.
type Blob struct {
	Label  int32
	Area   int // px
	Bounds image.Rectangle
	X, Y   float64 // centroid, px
}

// Run is a part of a row of a mask: its pixels At, … At + Len − 1 belong to the
// blob with the Label.
type Run struct{ At, Len, Label int32 }

// Fill sets the pixels of the run.
func (r Run) Fill(m *image.Gray, value uint8) {
	row := m.Pix[r.At:][:r.Len]
	for x := range row {
		row[x] = value
	}
}

// Blobs finds the 8-connected parts of the mask. Labels has one entry per
// pixel: 0 outside the mask, else the blob's Label, which is its index + 1.
func Blobs(mask *image.Gray) (labels []int32, blobs []Blob, err error) {
	runs, blobs, err := Runs(mask)
	if err != nil {
		return nil, nil, err
	}
	labels = make([]int32, len(mask.Pix))
	for _, r := range runs {
		row := labels[r.At:][:r.Len]
		for x := range row {
			row[x] = r.Label
		}
	}
	return labels, blobs, nil
}

// Runs is Blobs with the runs of the mask, row by row, instead of a label for each
// pixel. Blobs are numbered as OpenCV does: by the pair of rows, then of columns,
// that they begin in.
//
// Runs that touch are joined row by row (A. Rosenfeld and J. L. Pfaltz, J. ACM
// 13(4), 471–494, 1966, doi:10.1145/321356.321357).
func Runs(mask *image.Gray) ([]Run, []Blob, error) {
	w, h := mask.Rect.Dx(), mask.Rect.Dy()
	if w <= 0 || h <= 0 || mask.Stride != w || len(mask.Pix) != w*h {
		return nil, nil, fmt.Errorf("mask of %d×%d px, stride %d, has no blobs", w, h, mask.Stride)
	}
	runs, parents := joined(mask, w, h)
	blobs := make([]Blob, 0, 16)
	order := make([]int64, 0, 16) // of the blobs: where the first pair of rows begins
	index := make([]int32, len(parents))
	for p, up := range parents {
		if int(up) == p {
			index[p] = int32(len(blobs))
			blobs = append(blobs, Blob{Bounds: image.Rectangle{image.Pt(w, h), image.Point{}}})
			order = append(order, int64(h)*int64(w))
		}
	}
	for k := range runs {
		r := &runs[k]
		r.Label = index[root(parents, r.Label)]
		b := &blobs[r.Label]
		x, y, n := int(r.At)%w, int(r.At)/w, int(r.Len)
		b.Area += n
		b.X += float64(n) * float64(2*x+n-1) / 2
		b.Y += float64(n) * float64(y)
		b.Bounds.Min.X, b.Bounds.Max.X = min(b.Bounds.Min.X, x), max(b.Bounds.Max.X, x+n)
		b.Bounds.Min.Y, b.Bounds.Max.Y = min(b.Bounds.Min.Y, y), y+1
		order[r.Label] = min(order[r.Label], int64(y/2)*int64(w)+int64(x/2))
	}
	sorted := make([]int32, len(blobs))
	for k := range sorted {
		sorted[k] = int32(k)
	}
	slices.SortFunc(sorted, func(a, b int32) int { return cmp.Compare(order[a], order[b]) })
	out := make([]Blob, len(blobs))
	label := make([]int32, len(blobs))
	for k, s := range sorted {
		b := blobs[s]
		b.Label, b.X, b.Y = int32(k+1), b.X/float64(b.Area), b.Y/float64(b.Area)
		out[k], label[s] = b, b.Label
	}
	for k := range runs {
		runs[k].Label = label[runs[k].Label]
	}
	return runs, out, nil
}

// joined finds the runs of a mask, row by row, and which of them touch. A run's
// Label is one that it shares parents with.
func joined(mask *image.Gray, w, h int) (runs []Run, parents []int32) {
	above, here := 0, 0 // where the runs of the row before begin, and this one's
	for y := range h {
		above, here = here, len(runs)
		next := above // the first run of the row before that may touch
		row := mask.Pix[y*w : (y+1)*w]
		for x := 0; x < w; {
			if row[x] == 0 {
				for x++; x+8 <= w && binary.LittleEndian.Uint64(row[x:]) == 0; {
					x += 8
				}
				continue
			}
			n := bytes.IndexByte(row[x:], 0)
			if n < 0 {
				n = w - x
			}
			r := Run{At: int32(y*w + x), Len: int32(n), Label: -1}
			x += n
			up := r.At - int32(w) // the run's place in the row before
			for next < here && runs[next].At+runs[next].Len < up {
				next++
			}
			for k := next; k < here && runs[k].At <= up+r.Len; k++ {
				p := root(parents, runs[k].Label)
				if r.Label < 0 {
					r.Label = p
				} else if r.Label != p {
					parents[max(p, r.Label)] = min(p, r.Label)
					r.Label = min(p, r.Label)
				}
			}
			if r.Label < 0 {
				r.Label = int32(len(parents))
				parents = append(parents, r.Label)
			}
			runs = append(runs, r)
		}
	}
	return runs, parents
}

// root is the part that a part has been joined with. Ways there are shortened.
func root(parents []int32, p int32) int32 {
	for parents[p] != p {
		parents[p] = parents[parents[p]]
		p = parents[p]
	}
	return p
}
