package inspect

import (
	"image"

	"jigloupe/calib/cv"
)

// fillGaps fills what the head surrounds of what is no piece: holes, but for those of
// eyes, which have wire around more than half of them, and slots. No card is seen
// through them: they are bare metal that looks like card in shadow, or an eye before
// the head.
func (s *shape) fillGaps(t *tones, piece *image.Gray) (filled bool, err error) {
	solid, err := fillHoles(piece)
	if err != nil {
		return false, err
	}
	filled, err = s.fill(piece, solid, func(g gap) bool { return !g.inside && g.head > 2*g.border/3 })
	if err != nil {
		return false, err
	}
	if solid, err = closed(piece, s.gauge); err != nil { // no mouth of a slot is wider than wire
		return false, err
	}
	coated := s.coated(t)
	slots, err := s.fill(piece, solid, func(g gap) bool {
		own := g.head
		for _, i := range g.thin {
			if coated(i) {
				own++
			}
		}
		// A notch with so narrow a mouth opens by 25°, and a lip's by more. Around a painted
		// eye nothing is head, beside one at most half.
		return float64(g.lacks) > sq(s.gauge) && g.mouth > 0 && 5*g.mouth < g.border && 3*g.head > g.border && 5*own > 3*g.border
	})
	return filled || slots, err
}

// A gap is a part of what a piece lacks of a solid.
type gap struct {
	lacks  int  // px of it that are not the head's
	inside bool // some are
	// px of its border: all, the head's, and off the piece
	border, head, mouth int
	thin                []int // pixels of its border that are the piece's and not the head's
}

// fill gives a piece those gaps in a solid that are to be filled.
func (s *shape) fill(piece, solid *image.Gray, is func(gap) bool) (filled bool, err error) {
	for i, v := range piece.Pix {
		solid.Pix[i] &^= v
	}
	runs, blobs, err := cv.Runs(solid)
	if err != nil {
		return false, err
	}
	gaps := make([]gap, len(blobs)+1)
	for _, r := range runs {
		g := &gaps[r.Label]
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			if s.head.Pix[i] != 0 {
				g.inside = true
			} else {
				g.lacks++
			}
			for _, j := range [4]int{i - 1, i + 1, i - s.w, i + s.w} {
				if j < 0 || j >= len(solid.Pix) || solid.Pix[j] != 0 {
					continue
				}
				g.border++
				switch {
				case s.head.Pix[j] != 0:
					g.head++
				case piece.Pix[j] == 0:
					g.mouth++
				default:
					g.thin = append(g.thin, j)
				}
			}
		}
	}
	fill := make([]bool, len(gaps))
	for _, b := range blobs {
		fill[b.Label] = is(gaps[b.Label])
		filled = filled || fill[b.Label]
	}
	for _, r := range runs {
		if fill[r.Label] {
			r.Fill(piece, 255)
		}
	}
	return filled, nil
}

// closed is a mask with all that a disc of the given radius can't get into from outside.
func closed(mask *image.Gray, radius float64) (*image.Gray, error) {
	off, err := distanceTo(mask, radius)
	if err != nil {
		return nil, err
	}
	out := image.NewGray(mask.Rect)
	for i, d := range off.Pix {
		if float64(d) <= radius {
			out.Pix[i] = 255
		}
	}
	if out, err = fillHoles(out); err != nil {
		return nil, err
	}
	deep, err := cv.Distance(out)
	if err != nil {
		return nil, err
	}
	for i, d := range deep.Pix {
		if float64(d) <= radius {
			out.Pix[i] = mask.Pix[i]
		}
	}
	return out, nil
}
