package calib

import "image"

// Linear is a part of a photo in linear light, in sRGB primaries, each pixel
// the mean of a Step × Step block of the photo's. 1 is the camera's white;
// colours outside sRGB go below 0 or above 1. The exposure is the camera's own:
// nothing is relative to a card yet.
type Linear struct {
	Rect          image.Rectangle // the part of the photo it covers, in photo px
	Step          int             // photo px per pixel
	Width, Height int
	Pix           []float32 // 3 per pixel, R G B, row by row
	Top           []uint8   // per pixel: share of its samples at the camera's upper limit, 0 none … 255 all, of the worst channel
	Bottom        []uint8   // the same for the lower limit: black, or a colour outside the file's gamut
}

// At returns the pixel (x, y) counted in blocks from the top left of Rect.
func (l *Linear) At(x, y int) [3]float32 {
	i := 3 * (y*l.Width + x)
	return [3]float32{l.Pix[i], l.Pix[i+1], l.Pix[i+2]}
}

// A packed value holds the linear light of one encoded sample as an integer and
// whether the sample is at a limit, so that one look-up and one addition sum all
// three: light in the low bits, then the count at the upper limit, then at the
// lower. A sum of up to 2¹⁴−1 samples cannot overflow into its neighbour.
const (
	lightOne   = 1 << 20 // a linear value of 1
	topShift   = 36
	lowShift   = 50
	countMask  = 1<<14 - 1
	lightMask  = 1<<topShift - 1
	maxStep    = 127
	clipMargin = 1.0 / 255 // JPEG noise hides a limit by one code
)

// pack makes the table of packed values of a tone curve. levels is the number
// of encoded levels, 256 or 65536; curve takes encoded to linear, both in [0, 1].
func pack(levels int, curve func(float64) float64) []uint64 {
	t := make([]uint64, levels)
	for i := range t {
		x := float64(i) / float64(levels-1)
		t[i] = uint64(min(max(curve(x), 0), 1)*lightOne + 0.5)
		if x >= 1-clipMargin-1e-9 {
			t[i] |= 1 << topShift
		}
		if i == 0 {
			t[i] |= 1 << lowShift
		}
	}
	return t
}

// Linear returns the part r of the photo in linear light, averaged over blocks
// of step × step pixels, step in [1, 127]. Blocks that r or the photo cuts are
// averaged over what is there.
func (p *Photo) Linear(r image.Rectangle, step int) *Linear {
	l := &Linear{}
	p.fill(l, r, step)
	return l
}

// fill is Linear in memory that was used before, as far as it reaches.
func (p *Photo) fill(l *Linear, r image.Rectangle, step int) {
	r = r.Intersect(image.Rect(0, 0, p.Width, p.Height))
	step = min(max(step, 1), maxStep)
	l.Rect, l.Step, l.Width, l.Height = r, step, (r.Dx()+step-1)/step, (r.Dy()+step-1)/step
	n := l.Width * l.Height
	if n > len(l.Top) {
		l.Pix, l.Top, l.Bottom = make([]float32, 3*n), make([]uint8, n), make([]uint8, n)
	} else {
		l.Pix, l.Top, l.Bottom = l.Pix[:3*n], l.Top[:n], l.Bottom[:n]
		clear(l.Top)
		clear(l.Bottom)
	}
	if step == 1 && p.pix8 != nil {
		p.fillOne(l)
	} else {
		p.fillBlocks(l)
	}
	if !p.srgbPrimaries {
		for i := 0; i < len(l.Pix); i += 3 {
			l.Pix[i], l.Pix[i+1], l.Pix[i+2] = mulPixel(&p.toSRGB, l.Pix[i], l.Pix[i+1], l.Pix[i+2])
		}
	}
}

// fillOne takes pixels of 8 bits as they are, which needs no sums.
func (p *Photo) fillOne(l *Linear) {
	var light [3][256]float32
	var atLimit [3][256]bool
	for k, table := range p.tables {
		for v, packed := range table {
			light[k][v], atLimit[k][v] = float32(packed&lightMask)/lightOne, packed>>topShift != 0
		}
	}
	for y := range l.Height {
		from := 3 * ((l.Rect.Min.Y+y)*p.Width + l.Rect.Min.X)
		row, out := p.pix8[from:][:3*l.Width], l.Pix[3*y*l.Width:][:3*l.Width]
		for i := 0; i+2 < len(row) && i+2 < len(out); i += 3 {
			r, g, b := row[i], row[i+1], row[i+2]
			out[i], out[i+1], out[i+2] = light[0][r], light[1][g], light[2][b]
			if atLimit[0][r] || atLimit[1][g] || atLimit[2][b] {
				l.limits(y*l.Width+i/3, p.tables[0][r], p.tables[1][g], p.tables[2][b], 1)
			}
		}
	}
}

// fillBlocks takes the means of blocks of pixels.
func (p *Photo) fillBlocks(l *Linear) {
	r, step := l.Rect, l.Step
	var tables [3]*[256]uint64
	if p.pix8 != nil {
		for k := range tables {
			tables[k] = (*[256]uint64)(p.tables[k])
		}
	}
	sums := make([]uint64, 3*l.Width)
	for y := range l.Height {
		clear(sums)
		top := r.Min.Y + y*step
		bottom := min(top+step, r.Max.Y)
		for row := top; row < bottom; row++ {
			from, to := 3*(row*p.Width+r.Min.X), 3*(row*p.Width+r.Max.X)
			if p.pix16 != nil {
				addRow(sums, p.pix16[from:to], &p.tables, step)
			} else {
				addRow8(sums, p.pix8[from:to], &tables, step)
			}
		}
		for x := range l.Width {
			n := (min((x+1)*step, r.Dx()) - x*step) * (bottom - top)
			l.set(y*l.Width+x, sums[3*x:3*x+3:3*x+3], n)
		}
	}
}

// addRow adds one row of samples to the sums of the blocks it crosses.
func addRow(sums []uint64, row []uint16, tables *[3][]uint64, step int) {
	for i := 0; i < len(sums); i += 3 {
		n := min(3*step, len(row))
		var r, g, b uint64
		for j := 0; j+2 < n; j += 3 {
			r += tables[0][row[j]]
			g += tables[1][row[j+1]]
			b += tables[2][row[j+2]]
		}
		row = row[n:]
		sums[i] += r
		sums[i+1] += g
		sums[i+2] += b
	}
}

// addRow8 is addRow for samples of 8 bits, whose tables hold them all. Four pixels
// at once take half the time.
func addRow8(sums []uint64, row []uint8, tables *[3]*[256]uint64, step int) {
	tr, tg, tb := tables[0], tables[1], tables[2]
	for len(sums) >= 3 {
		sum := (*[3]uint64)(sums)
		sums = sums[3:]
		r, g, b, n := sum[0], sum[1], sum[2], step
		for ; n >= 4 && len(row) >= 12; n -= 4 {
			q := (*[12]uint8)(row)
			row = row[12:]
			r += tr[q[0]] + tr[q[3]] + tr[q[6]] + tr[q[9]]
			g += tg[q[1]] + tg[q[4]] + tg[q[7]] + tg[q[10]]
			b += tb[q[2]] + tb[q[5]] + tb[q[8]] + tb[q[11]]
		}
		for ; n > 0 && len(row) >= 3; n-- {
			q := (*[3]uint8)(row)
			row = row[3:]
			r, g, b = r+tr[q[0]], g+tg[q[1]], b+tb[q[2]]
		}
		sum[0], sum[1], sum[2] = r, g, b
	}
}

// set stores the mean of n photo pixels as pixel i.
func (l *Linear) set(i int, sums []uint64, n int) {
	r, g, b := sums[0], sums[1], sums[2]
	scale := 1 / (float32(n) * lightOne)
	pix := l.Pix[3*i : 3*i+3 : 3*i+3]
	pix[0], pix[1], pix[2] = float32(r&lightMask)*scale, float32(g&lightMask)*scale, float32(b&lightMask)*scale
	if (r|g|b)>>topShift != 0 {
		l.limits(i, r, g, b, n)
	}
}

// limits stores how many of n photo pixels are at a limit.
func (l *Linear) limits(i int, r, g, b uint64, n int) {
	l.Top[i] = share(max(r>>topShift&countMask, g>>topShift&countMask, b>>topShift&countMask), n)
	l.Bottom[i] = share(max(r>>lowShift, g>>lowShift, b>>lowShift), n)
}

// share rounds up, so that a single pixel never reads as none.
func share(count uint64, n int) uint8 { return uint8((count*255 + uint64(n) - 1) / uint64(n)) }

func mulPixel(m *[3][3]float32, r, g, b float32) (float32, float32, float32) {
	return m[0][0]*r + m[0][1]*g + m[0][2]*b, m[1][0]*r + m[1][1]*g + m[1][2]*b, m[2][0]*r + m[2][1]*g + m[2][2]*b
}
