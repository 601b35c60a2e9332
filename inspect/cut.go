package inspect

import (
	"cmp"
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// coarse is a patch in blocks of pixels, in which piece and ground are parted:
// a block is large against flakes and noise and a fifth of a hook wire.
type coarse struct {
	w, h, block int
	tone        [3]cv.Plane // logarithms relative to card, as in tones
	marks       []uint8     // what is known of most of a block: cardMark, pieceMark or 0
	piece       []float64   // share of a block that is known to be piece
	parting     *cv.Parting // nil before the first cut
}

// cutBlock is the side of a block in the px of a patch in which the head has
// its usual size.
const cutBlock = 6

// coarseToe is the toe of the coarse picture, whose noise is a sixth of the
// patch's.
const coarseToe = 0.02

func newCoarse(p patch, block int, marks []uint8) *coarse {
	c := &coarse{w: (p.Width + block - 1) / block, h: (p.Height + block - 1) / block, block: block}
	c.marks, c.piece = make([]uint8, c.w*c.h), make([]float64, c.w*c.h)
	for k := range c.tone {
		c.tone[k] = cv.NewPlane(c.w, c.h)
	}
	for j := range c.marks {
		var sum [3]float64
		var kinds [3]int
		n := 0
		c.rows(p.Width, p.Height, j, func(from, to int) {
			for i := from; i < to; i++ {
				for k := range sum {
					sum[k] += float64(p.Pix[3*i+k])
				}
				kinds[marks[i]]++
			}
			n += to - from
		})
		for k := range sum {
			c.tone[k].Pix[j] = float32(math.Log(max(sum[k]/float64(n)/p.cardR, 0) + coarseToe))
		}
		c.piece[j] = float64(kinds[pieceMark]) / float64(n)
		for m, has := range kinds {
			if has > n/2 {
				c.marks[j] = uint8(m)
			}
		}
	}
	return c
}

// rows calls do for every row of patch pixels of a block.
func (c *coarse) rows(w, h, j int, do func(from, to int)) {
	x, y := j%c.w*c.block, j/c.w*c.block
	for v := y; v < min(y+c.block, h); v++ {
		do(v*w+x, v*w+min(x+c.block, w))
	}
}

// shares is, of each block, the share that a mask of the patch's pixels holds.
func (c *coarse) shares(in []bool, w, h int) []float64 {
	out := make([]float64, len(c.marks))
	for j := range out {
		n, has := 0, 0
		c.rows(w, h, j, func(from, to int) {
			n += to - from
			for _, is := range in[from:to] {
				if is {
					has++
				}
			}
		})
		out[j] = float64(has) / float64(n)
	}
	return out
}

// cut parts what goes with the marked piece, and with the blocks that are likely
// piece by more than half, from what goes with the rest; seed casts its dice.
func (c *coarse) cut(likely []float64, seed int) (*image.Gray, error) {
	perhaps := make([]bool, len(likely))
	some, rest := false, false
	for j, mark := range c.marks {
		perhaps[j] = likely[j] > 0.5
		piece := mark == pieceMark || mark != cardMark && perhaps[j]
		some, rest = some || piece, rest || !piece
	}
	if !some || !rest {
		return nil, errNoPiece
	}
	if c.parting == nil {
		c.parting = c.parts()
	}
	return c.parting.Cut(perhaps, 3, seed)
}

// parts is what there is to cut.
func (c *coarse) parts() *cv.Parting {
	features := make([]uint8, 3*len(c.marks))
	known := image.NewGray(image.Rect(0, 0, c.w, c.h))
	const levelWeight, hueWeight = 45, 60 // steps per log ratio: five octaves and a vivid hue fill 8 bits
	step := func(v float64) uint8 { return uint8(min(max(v, 0), 255) + 0.5) }
	for j := range c.marks {
		r, g, b := float64(c.tone[0].Pix[j]), float64(c.tone[1].Pix[j]), float64(c.tone[2].Pix[j])
		features[3*j] = step(levelWeight * (g - math.Log(coarseToe)))
		features[3*j+1] = step(128 + hueWeight*(r-g))
		features[3*j+2] = step(128 + hueWeight*(b-g))
		switch c.marks[j] {
		case pieceMark:
			known.Pix[j] = cv.Inside
		case cardMark:
			known.Pix[j] = cv.Outside
		}
	}
	return cv.NewParting(features, known)
}

// firmness is how sharply a line parts the piece from the ground: the lower
// quartile, along the line, of the log ratio across it less that over as far
// again on the ground beyond, in the channel where that is most. Card and
// shadow go on smoothly beyond a true outline; a line through a head's shading
// has as much beyond it as across it.
func (c *coarse) firmness(piece *image.Gray) float64 {
	var along []float64
	for y := 0; y < c.h; y++ {
		for x := 0; x < c.w; x++ {
			if piece.Pix[y*c.w+x] == 0 {
				continue
			}
			for _, d := range [4]image.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}} {
				at := func(n int) int { return (y+n*d.Y)*c.w + x + n*d.X }
				far := image.Pt(x, y).Add(d.Mul(5))
				if !far.In(piece.Rect) || !image.Pt(x, y).Sub(d).In(piece.Rect) || piece.Pix[at(1)] != 0 {
					continue
				}
				most := 0.0
				for k := range c.tone {
					pix := c.tone[k].Pix
					across, beyond := pix[at(-1)]-pix[at(2)], pix[at(2)]-pix[at(5)]
					most = max(most, math.Abs(float64(across))-math.Abs(float64(beyond)))
				}
				along = append(along, most)
			}
		}
	}
	if len(along) == 0 {
		return 0
	}
	slices.Sort(along)
	return along[len(along)/4]
}

// open leaves of a patch's marks only a band along the line of a cut.
func (c *coarse) open(piece *image.Gray, t *tones, marks []uint8) error {
	ground := image.NewGray(piece.Rect)
	for i, v := range piece.Pix {
		ground.Pix[i] = 255 - v
	}
	inside, err := cv.Distance(piece)
	if err != nil {
		return err
	}
	outside, err := cv.Distance(ground)
	if err != nil {
		return err
	}
	for j := range inside.Pix {
		mark := uint8(0)
		switch {
		case inside.Pix[j] > 1.5:
			mark = pieceMark
		case outside.Pix[j] > 1.5:
			mark = cardMark
		}
		c.rows(t.w, len(marks)/t.w, j, func(from, to int) {
			for i := from; i < to; i++ {
				marks[i] = mark
			}
		})
	}
	return nil
}

// enlarged is a mask of blocks in patch pixels.
func (c *coarse) enlarged(m *image.Gray, r image.Rectangle) *image.Gray {
	out := image.NewGray(r)
	for i := range out.Pix {
		out.Pix[i] = m.Pix[i/out.Stride/c.block*c.w+i%out.Stride/c.block]
	}
	return out
}

// A cutting is one way to part the piece from the ground.
type cutting struct {
	piece *image.Gray
	firm  float64 // see firmness
	own   float64 // share of it that differs from card by more than light
}

// part parts the piece from the ground by what is likely piece for its colour or light and,
// where that makes no sure line, for not being reached as card, too.
func (c *coarse) part(likely, reached []bool, w, h int) (*image.Gray, float64, error) {
	own := c.shares(likely, w, h)
	may := own
	first, err := c.cut(may, 1)
	if err != nil {
		return nil, 0, err
	}
	if f := c.firmness(first); f < sureFirm {
		perhaps := make([]bool, len(likely))
		for i := range likely {
			perhaps[i] = likely[i] || !reached[i]
		}
		may = c.shares(perhaps, w, h)
		second, err := c.cut(may, 1)
		if err != nil {
			return nil, 0, err
		}
		if g := c.firmness(second); f < 0.7*g {
			first = second
		}
	}
	return c.mostly(first, may, own)
}

// holds is the share of a piece that shares of blocks are of.
func (c *coarse) holds(piece *image.Gray, shares []float64) float64 {
	n, sum := 0, 0.0
	for j, v := range piece.Pix {
		if v != 0 {
			n, sum = n+1, sum+shares[j]
		}
	}
	return sum / float64(max(n, 1))
}

// mostly is what three cuts, of which the first is done, agree is piece. Dice decide what a
// cut takes to be alike at first, and it may end at the border of a shadow or leave out a
// dark side. Own is the share of each block that is likely piece for its colour or light.
func (c *coarse) mostly(first *image.Gray, likely, own []float64) (*image.Gray, float64, error) {
	var all [3]cutting
	for k := range all {
		piece := first
		if k > 0 {
			var err error
			if piece, err = c.cut(likely, k+1); err != nil {
				return nil, 0, err
			}
		}
		all[k] = cutting{piece, c.firmness(piece), c.holds(piece, c.piece) + c.holds(piece, own)}
	}
	piece := agreed(all[:])
	return piece, c.firmness(piece), nil
}

// agreed is what most cuttings hold to be piece, if all are about as firm and none holds
// more shadow than others; else it is the one, of those as firm, that holds least.
func agreed(all []cutting) *image.Gray {
	const (
		weak   = 0.7 // of the firmest
		shadow = 0.1 // of the piece: bare metal and dark sides that are like shadow are less; those that held shadows held 0.2 and more
	)
	firmest := slices.MaxFunc(all, func(a, b cutting) int { return cmp.Compare(a.firm, b.firm) }).firm
	firm := slices.DeleteFunc(slices.Clone(all), func(c cutting) bool { return c.firm < weak*firmest })
	purest := slices.MaxFunc(firm, func(a, b cutting) int { return cmp.Compare(a.own, b.own) })
	if len(firm) < len(all) || slices.ContainsFunc(firm, func(c cutting) bool { return c.own < purest.own-shadow }) {
		return purest.piece
	}
	out := image.NewGray(purest.piece.Rect)
	for i := range out.Pix {
		votes := 0
		for _, c := range all {
			if c.piece.Pix[i] != 0 {
				votes++
			}
		}
		if 2*votes > len(all) {
			out.Pix[i] = 255
		}
	}
	return out
}
