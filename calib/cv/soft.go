//go:build gocv_specific_modules

package cv

import (
	"fmt"
	"image"
	"math"

	"gocv.io/x/gocv"
)

// Gaussian smooths with standard deviation sigma, in px. The border is
// reflected. A wide one works on a reduced copy, which changes the result by
// less than 1 % of a step edge.
func Gaussian(p Plane, sigma float64) (Plane, error) {
	out := NewPlane(p.Width, p.Height)
	return out, out.GaussianOf(p, sigma)
}

// GaussianOf fills a plane of the same size as Gaussian does.
func (out Plane) GaussianOf(p Plane, sigma float64) error {
	if blockFor(sigma, p.Width, p.Height) == 1 {
		return out.gaussianOf(p, sigma)
	}
	s, err := p.blocks(sigma)
	if err != nil {
		return err
	}
	for y := range out.Height {
		s.row(y, out.Pix[y*out.Width:][:out.Width])
	}
	return nil
}

// blocks is a plane reduced to blocks of pixels and smoothed.
func (p Plane) blocks(sigma float64) (soft, error) {
	block := blockFor(sigma, p.Width, p.Height)
	whole := NewPlane((p.Width+block-1)/block, (p.Height+block-1)/block)
	for y := range p.Height {
		whole.addRow(p.Pix[y*p.Width:][:p.Width], y/block, block)
	}
	return whole.soft(p.Width, p.Height, block, sigma)
}

// soft is a smoothed plane that is made row by row when it is asked for, so that a
// wide Gaussian takes hardly any memory.
type soft struct {
	plane   Plane // means of blocks, smoothed
	block   int   // px to their side
	columns []column
	between []float32 // two rows of blocks
}

// column says between which two blocks a pixel lies, and how far from the first.
type column struct {
	first, second int32
	share         float32
}

// soft smooths sums over blocks of a plane that is width × height px.
func (p Plane) soft(width, height, block int, sigma float64) (soft, error) {
	s := soft{block: block, between: make([]float32, p.Width), columns: make([]column, width)}
	p.average(block, width, height)
	for x := range s.columns {
		s.columns[x] = between(x, block, p.Width)
	}
	s.plane = NewPlane(p.Width, p.Height)
	return s, s.plane.gaussianOf(p, sigma/float64(block))
}

// Means are the local means of three planes over the pixels that count, made row by
// row when they are asked for.
type Means struct {
	weight soft
	of     [3]soft
}

// LocalMeans weighs the pixels about a place by a Gaussian as Gaussian does; use
// tells which count.
func LocalMeans(p [3]Plane, use []bool, sigma float64) (*Means, error) {
	w, h := p[0].Width, p[0].Height
	if len(use) != w*h {
		return nil, fmt.Errorf("%d pixels that count do not fit %d×%d px", len(use), w, h)
	}
	block := blockFor(sigma, w, h)
	weight := NewPlane((w+block-1)/block, (h+block-1)/block)
	var of [3]Plane
	for k := range of {
		of[k] = NewPlane(weight.Width, weight.Height)
	}
	for y := range h {
		row := y / block * weight.Width
		use := use[y*w : (y+1)*w]
		r, g, b := p[0].Pix[y*w:][:w], p[1].Pix[y*w:][:w], p[2].Pix[y*w:][:w]
		for from := 0; from < w; from += block {
			var n, sr, sg, sb float32
			for x := from; x < min(from+block, w); x++ {
				if use[x] {
					n, sr, sg, sb = n+1, sr+r[x], sg+g[x], sb+b[x]
				}
			}
			j := row + from/block
			weight.Pix[j] += n
			of[0].Pix[j] += sr
			of[1].Pix[j] += sg
			of[2].Pix[j] += sb
		}
	}
	m := &Means{}
	var err error
	if m.weight, err = weight.soft(w, h, block, sigma); err != nil {
		return nil, err
	}
	for k := range of {
		if m.of[k], err = of[k].soft(w, h, block, sigma); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// Row gives row y of the means and how many of the pixels around count, in [0, 1];
// where hardly any do, fewer than least, the means come out nearer to 0.
func (m *Means) Row(y int, least float32, to *[3][]float32, share []float32) {
	m.weight.row(y, share)
	for k := range to {
		m.of[k].row(y, to[k])
	}
	r, g, b := to[0][:len(share)], to[1][:len(share)], to[2][:len(share)]
	for x, n := range share {
		over := 1 / max(n, least)
		r[x], g[x], b[x] = r[x]*over, g[x]*over, b[x]*over
	}
}

// blockFor is the side of the blocks that a Gaussian may be reduced to.
func blockFor(sigma float64, width, height int) int {
	const fine = 3.0 // px of sigma that a reduced copy keeps
	return max(1, min(int(sigma/fine), min(width, height)/8))
}

// addRow adds a row of pixels to a row of blocks.
func (p Plane) addRow(row []float32, y, block int) {
	for x := range p.Width {
		var sum float32
		for _, v := range row[x*block : min((x+1)*block, len(row))] {
			sum += v
		}
		p.Pix[y*p.Width+x] += sum
	}
}

// average divides sums over blocks by their pixels; the border cuts the last ones.
func (p Plane) average(block, width, height int) {
	for y := range p.Height {
		rows := min(block, height-y*block)
		for x := range p.Width {
			p.Pix[y*p.Width+x] /= float32(rows * min(block, width-x*block))
		}
	}
}

// between is where pixel i lies among the middles of n blocks: beyond the first and
// the last it is theirs.
func between(i, block, n int) column {
	at := (float64(i)+0.5)/float64(block) - 0.5
	j := int(math.Floor(at))
	return column{int32(min(max(j, 0), n-1)), int32(min(max(j+1, 0), n-1)), float32(at - float64(j))}
}

// row gives row y, as wide as the plane was.
func (s *soft) row(y int, to []float32) {
	w := s.plane.Width
	if s.block == 1 {
		copy(to, s.plane.Pix[y*w:][:w])
		return
	}
	c := between(y, s.block, s.plane.Height)
	above, below := s.plane.Pix[int(c.first)*w:][:w], s.plane.Pix[int(c.second)*w:][:w]
	row := s.between
	for x := range row {
		row[x] = above[x] + c.share*(below[x]-above[x])
	}
	for x, c := range s.columns {
		v := row[c.first]
		to[x] = v + c.share*(row[c.second]-v)
	}
}

func (out Plane) gaussianOf(p Plane, sigma float64) error {
	src, err := p.mat()
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := out.mat()
	if err != nil {
		return err
	}
	defer dst.Close()
	if err := gocv.GaussianBlur(src, &dst, image.Point{}, sigma, sigma, gocv.BorderReflect); err != nil {
		return fmt.Errorf("smooth: %w", err)
	}
	return out.filledBy(dst)
}
