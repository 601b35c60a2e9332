package calib

import (
	"errors"
	"fmt"
	"image"
	"math"

	"jigloupe/calib/cv"
)

// CardReflectance is what an 18 % grey card reflects of the light on it.
const CardReflectance = 0.18

// ErrNoCard means that nothing in the photo looks like an evenly grey surface
// under the piece.
var ErrNoCard = errors.New("no grey card found under the piece")

// A GreyCard is the card a piece lies on. It fixes exposure, white balance and
// fall-off of that one photo and of no other.
type GreyCard struct {
	Reflectance float64   // as stated by its maker, in (0, 1]
	Share       float64   // of the photo that is card, in [0, 1]
	Clipped     float64   // share of the card's pixels at the camera's upper limit, in [0, 1]
	Unevenness  float64   // (max − min) / max of the light across the card, in [0, 1]
	Residual    float64   // robust relative standard deviation of the card about the fitted light, per channel sample of the reduced picture
	Level       float64   // mean linear level of the card, 1 = the camera's white
	Colour      LinearRGB // of the card where it is brightest, hence of the light
	Reduced     *Linear   // the reduced picture the card was found in
	Inside      []bool    // per pixel of Reduced: card in full light, as far as the fit goes

	even          *image.Gray // where Reduced is smooth, see smoothMask
	smooth        []bool      // per pixel of Reduced: the surface that the light was fitted from
	width, height float64
	surface       [3]surface   // the logarithm of the light
	logs          [3][]float32 // of Reduced
	tone          *Tone        // of the photo, nil when none is undone
}

// Light returns E(x, y), the linear level a perfect white diffuser lying on
// the card would have at that place of the photo, per channel.
func (c *GreyCard) Light(x, y float64) [3]float64 {
	u, v := c.unit(x, y)
	var e [3]float64
	for k := range e {
		e[k] = math.Exp(c.surface[k].along(v).at(u)) / c.Reflectance
	}
	return e
}

// reducedSide is the longer side of the picture the card is looked for in, px:
// small enough to be quick, large enough that a hook wire still shows.
const reducedSide = 500

// smoothStep is the largest change of log level from one reduced pixel to the
// next, of means of 3 × 3 pixels, that still counts as smooth: a fall-off of
// 3:1 across the picture changes 0.002 a pixel, the soft shadow round a piece
// 0.02, an edge of 0.1 and more a third of itself. The means keep the noise of
// a dim phone photo, 3 % a reduced pixel, at a fifth of it.
const smoothStep = 0.03

// FindCard looks for the grey card under the piece and fits the light on it.
//
// The card is the smooth surface that the piece's outline borders on. The
// logarithm of its level is fitted per channel by a polynomial in x and y
// (degree 3 where the card is large, 2 elsewhere), so fall-off, vignetting and
// light of two colours are followed. The fit trims what is darker than the
// surface (shadows never brighten) more sharply than what is brighter.
func FindCard(p *Photo, reflectance float64) (*GreyCard, error) {
	step := max(1, (max(p.Width, p.Height)+reducedSide-1)/reducedSide)
	lin := p.Linear(image.Rect(0, 0, p.Width, p.Height), step)
	logs := logLevels(lin)
	smooth := smoothMask(logs, lin.Width, lin.Height)
	labels, blobs, err := cv.Blobs(smooth)
	if err != nil {
		return nil, err
	}
	var found []*GreyCard
	rough := 0.0
	for _, b := range blobs {
		if float64(b.Area) < 0.02*float64(lin.Width*lin.Height) {
			continue
		}
		c := &GreyCard{Reflectance: reflectance, Reduced: lin, width: float64(p.Width), height: float64(p.Height), logs: logs, even: smooth, tone: p.tone}
		member := make([]bool, len(labels))
		for i, l := range labels {
			member[i] = l == b.Label
		}
		c.smooth = member
		switch {
		case !c.fit(logs, member, fitStep):
		case c.Residual > maxResidual:
			rough = max(rough, c.Residual)
		default:
			found = append(found, c)
		}
	}
	switch {
	case len(found) == 0 && rough > 0:
		return nil, fmt.Errorf("%w: what the piece lies on varies by %.0f %%, a card by less than %.0f %%", ErrNoCard, 100*rough, 100*maxResidual)
	case len(found) == 0:
		return nil, ErrNoCard
	}
	best, err := underPiece(found)
	if err != nil {
		return nil, err
	}
	best.describe()
	return best, nil
}

// maxResidual separates a card with dust and camera noise (below 2 % on
// testdata) from wood, cloth and the like.
const maxResidual = 0.05

func logLevels(lin *Linear) [3][]float32 {
	var logs [3][]float32
	n := lin.Width * lin.Height
	for k := range logs {
		logs[k] = make([]float32, n)
		for i := range n {
			logs[k][i] = float32(math.Log(max(float64(lin.Pix[3*i+k]), 1e-4)))
		}
	}
	return logs
}

// smoothMask marks the pixels whose level changes little to all sides.
func smoothMask(logs [3][]float32, w, h int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			m.Pix[y*w+x] = 255
		}
	}
	rows := make([]float32, w*h) // sums of three pixels of a column
	means := make([]float32, w*h)
	for _, l := range logs {
		for i := w; i < len(l)-w; i++ {
			rows[i] = l[i-w] + l[i] + l[i+w]
		}
		for i := w + 1; i < len(l)-w-1; i++ {
			means[i] = (rows[i-1] + rows[i] + rows[i+1]) / 9
		}
		for y := 2; y < h-2; y++ {
			for i := y*w + 2; i < y*w+w-2; i++ {
				dx, dy := (means[i+1]-means[i-1])/2, (means[i+w]-means[i-w])/2
				if dx*dx+dy*dy >= smoothStep*smoothStep {
					m.Pix[i] = 0
				}
			}
		}
	}
	return m
}

func (c *GreyCard) describe() {
	n, clipped, lo, hi, sum := 0, 0, math.Inf(1), 0.0, 0.0
	var row cubic // of green, the card's own
	var brightest [2]float64
	w, step := c.Reduced.Width, c.Reduced.Step
	for i, in := range c.Inside {
		if i%w == 0 {
			_, v := c.unit(0, (float64(i/w)+0.5)*float64(step))
			row = c.surface[1].along(v)
		}
		if !in {
			continue
		}
		n++
		if c.Reduced.Top[i] > 127 {
			clipped++
		}
		x, y := (float64(i%w)+0.5)*float64(step), (float64(i/w)+0.5)*float64(step)
		u, _ := c.unit(x, y)
		green := math.Exp(row.at(u))
		if green > hi {
			brightest = [2]float64{x, y}
		}
		lo, hi, sum = min(lo, green), max(hi, green), sum+green
	}
	e := c.Light(brightest[0], brightest[1])
	c.Colour = LinearRGB{e[0], e[1], e[2]}
	c.Share = float64(n) / float64(len(c.Inside))
	c.Clipped = float64(clipped) / float64(n)
	c.Unevenness = (hi - lo) / hi
	c.Level = sum / float64(n)
}

// Reflect turns linear light into the reflectance factor against a perfect
// white diffuser lying on the card in the same light, in place.
func (c *GreyCard) Reflect(lin *Linear) {
	const cell = 16 // px of lin between exact values of the light, linear in between
	nx := lin.Width/cell + 2
	ny := lin.Height/cell + 2
	grid := make([][3]float32, nx*ny)
	for j := range ny {
		for i := range nx {
			x := float64(lin.Rect.Min.X) + (float64(i*cell)+0.5)*float64(lin.Step)
			y := float64(lin.Rect.Min.Y) + (float64(j*cell)+0.5)*float64(lin.Step)
			for k, e := range c.Light(x, y) {
				grid[j*nx+i][k] = float32(1 / e)
			}
		}
	}
	for y := range lin.Height {
		j, v := y/cell, float32(y%cell)/cell
		row := lin.Pix[3*y*lin.Width:][:3*lin.Width]
		for from := 0; from < len(row); from += 3 * cell {
			p, q := grid[j*nx+from/(3*cell):], grid[(j+1)*nx+from/(3*cell):]
			pix := row[from:min(from+3*cell, len(row))]
			for k := range 3 {
				top, toTop, low, toLow := p[0][k], p[1][k]-p[0][k], q[0][k], q[1][k]-q[0][k]
				for i := k; i < len(pix); i += 3 {
					u := float32(i/3) / cell
					here := top + u*toTop
					pix[i] *= here + v*(low+u*toLow-here)
				}
			}
		}
		for i := 0; c.tone != nil && i < len(row); i += 3 {
			c.tone.unmixPixel(row[i : i+3])
		}
	}
}
