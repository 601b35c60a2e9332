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
	if blockFor(sigma, p.Width, p.Height) == 1 {
		return p.gaussian(sigma)
	}
	s, err := Soften(p.Width, p.Height, sigma, func(y int, row []float32) { copy(row, p.Pix[y*p.Width:]) })
	if err != nil {
		return Plane{}, err
	}
	out := NewPlane(p.Width, p.Height)
	for y := range out.Height {
		s.Row(y, out.Pix[y*out.Width:][:out.Width])
	}
	return out, nil
}

// Soft is a smoothed plane that is made row by row when it is asked for, so that a
// wide Gaussian of what is computed on the way takes hardly any memory.
type Soft struct {
	plane   Plane // means of blocks, smoothed
	block   int   // px to their side
	columns []column
	row     []float32
}

// column says between which two blocks a pixel lies, and how far from the first.
type column struct {
	first, second int
	share         float32
}

// Soften is Gaussian of a plane that fill gives row by row, from the top; what
// fill is given holds the row before.
func Soften(width, height int, sigma float64, fill func(y int, row []float32)) (Soft, error) {
	s := Soft{block: blockFor(sigma, width, height)}
	whole := NewPlane((width+s.block-1)/s.block, (height+s.block-1)/s.block)
	if s.block == 1 {
		for y := range height {
			fill(y, whole.Pix[y*width:][:width])
		}
	} else {
		s.row = make([]float32, max(width, whole.Width))
		for y := range height {
			fill(y, s.row[:width])
			whole.addRow(s.row[:width], y/s.block, s.block)
		}
		whole.average(s.block, width, height)
		s.columns = make([]column, width)
		for x := range s.columns {
			s.columns[x] = between(x, s.block, whole.Width)
		}
	}
	var err error
	s.plane, err = whole.gaussian(sigma / float64(s.block))
	return s, err
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
	return column{min(max(j, 0), n-1), min(max(j+1, 0), n-1), float32(at - float64(j))}
}

// Row gives row y, as wide as the plane was.
func (s *Soft) Row(y int, to []float32) {
	w := s.plane.Width
	if s.block == 1 {
		copy(to, s.plane.Pix[y*w:][:w])
		return
	}
	c := between(y, s.block, s.plane.Height)
	above, below := s.plane.Pix[c.first*w:][:w], s.plane.Pix[c.second*w:][:w]
	row := s.row[:w]
	for x := range row {
		row[x] = above[x] + c.share*(below[x]-above[x])
	}
	for x, c := range s.columns {
		v := row[c.first]
		to[x] = v + c.share*(row[c.second]-v)
	}
}

func (p Plane) gaussian(sigma float64) (Plane, error) {
	src, err := p.mat()
	if err != nil {
		return Plane{}, err
	}
	defer src.Close()
	out := NewPlane(p.Width, p.Height)
	dst, err := out.mat()
	if err != nil {
		return Plane{}, err
	}
	defer dst.Close()
	if err := gocv.GaussianBlur(src, &dst, image.Point{}, sigma, sigma, gocv.BorderReflect); err != nil {
		return Plane{}, fmt.Errorf("smooth: %w", err)
	}
	return out, out.filledBy(dst)
}
