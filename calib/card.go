package calib

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"

	"gonum.org/v1/gonum/mat"
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

	width, height float64
	coef          [3][]float64 // of the logarithm of the light, see terms
}

// Light returns E(x, y), the linear level a perfect white diffuser lying on
// the card would have at that place of the photo, per channel.
func (c *GreyCard) Light(x, y float64) [3]float64 {
	var buf [maxTerms]float64
	var e [3]float64
	for k := range e {
		e[k] = math.Exp(eval(c.coef[k], c.terms(x, y, buf[:0]))) / c.Reflectance
	}
	return e
}

// reducedSide is the longer side of the picture the card is looked for in, px:
// small enough to be quick, large enough that a hook wire still shows.
const reducedSide = 500

// maxTerms is the number of terms of a cubic in x and y.
const maxTerms = 10

// smoothStep is the largest change of log level from one reduced pixel to the
// next that still counts as smooth: a fall-off of 3:1 across the picture
// changes 0.002 a pixel, the soft shadow round a piece 0.02, an edge 0.1 and
// more.
const smoothStep = 0.045

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
	best, bestScore := (*GreyCard)(nil), 0.0
	for _, b := range blobs {
		if float64(b.Area) < 0.02*float64(lin.Width*lin.Height) {
			continue
		}
		c := &GreyCard{Reflectance: reflectance, Reduced: lin, width: float64(p.Width), height: float64(p.Height)}
		member := make([]bool, len(labels))
		for i, l := range labels {
			member[i] = l == b.Label
		}
		if !c.fit(logs, member) {
			continue
		}
		if s := borderScore(c.Inside, smooth, lin.Width, lin.Height); s > bestScore {
			best, bestScore = c, s
		}
	}
	if best == nil {
		return nil, ErrNoCard
	}
	best.describe()
	if best.Residual > maxResidual {
		return nil, fmt.Errorf("%w: what the piece lies on varies by %.0f %%, a card by less than %.0f %%", ErrNoCard, 100*best.Residual, 100*maxResidual)
	}
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
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			ok := true
			for k := range logs {
				l := logs[k]
				dx, dy := (l[i+1]-l[i-1])/2, (l[i+w]-l[i-w])/2
				ok = ok && dx*dx+dy*dy < smoothStep*smoothStep
			}
			if ok {
				m.Pix[i] = 255
			}
		}
	}
	return m
}

// fit finds the light from the pixels that member marks, then takes in all
// pixels of the picture that agree with it. It reports whether that worked.
func (c *GreyCard) fit(logs [3][]float32, member []bool) bool {
	w, h := c.Reduced.Width, c.Reduced.Height
	degreeTerms := maxTerms
	n := 0
	for _, m := range member {
		if m {
			n++
		}
	}
	if float64(n) < 0.3*float64(w*h) {
		degreeTerms = 6
	}
	step := float64(c.Reduced.Step)
	at := func(i int, buf []float64) []float64 {
		return c.terms((float64(i%w)+0.5)*step, (float64(i/w)+0.5)*step, buf[:0])[:degreeTerms]
	}
	use := slices.Clone(member)
	var sigma float64
	for round := range 12 {
		var ok bool
		for k := range c.coef {
			if c.coef[k], ok = leastSquares(logs[k], use, degreeTerms, at); !ok {
				return false
			}
		}
		var over []float64
		res := make([][3]float64, len(use))
		buf := make([]float64, 0, maxTerms)
		for i := range use {
			if !member[i] && round < 8 {
				continue
			}
			t := at(i, buf)
			for k := range c.coef {
				res[i][k] = float64(logs[k][i]) - eval(c.coef[k], t)
			}
			if use[i] && i%7 == 0 {
				over = append(over, math.Abs(res[i][1]))
			}
		}
		if len(over) < 50 {
			return false
		}
		slices.Sort(over)
		sigma = max(over[len(over)/2]/0.6745, 0.002)
		for i := range use {
			if !member[i] && round < 8 {
				continue
			}
			inside := true
			for _, r := range res[i] {
				inside = inside && r > -2*sigma-0.003 && r < 4*sigma+0.003
			}
			use[i] = inside
		}
	}
	c.Inside, c.Residual = use, sigma
	return true
}

// borderScore counts how much of the outline of thick things, neither card nor
// smooth, runs along the card: the piece lies on the card, while a table edge
// or a sheet of paper beneath the card borders on little else.
func borderScore(inside []bool, smooth *image.Gray, w, h int) float64 {
	const reach = 6 // reduced px: bridges the blurred outline
	area, border := 0, 0
	for y := reach; y < h-reach; y++ {
		for x := reach; x < w-reach; x++ {
			i := y*w + x
			if inside[i] {
				area++
				continue
			}
			if inside[i-reach] || inside[i+reach] || inside[i-reach*w] || inside[i+reach*w] {
				border++
			}
		}
	}
	return float64(area) + 4*float64(border)
}

func (c *GreyCard) describe() {
	n, clipped, lo, hi, sum := 0, 0, math.Inf(1), 0.0, 0.0
	w, step := c.Reduced.Width, c.Reduced.Step
	for i, in := range c.Inside {
		if !in {
			continue
		}
		n++
		x, y := (i%w)*step+step/2, (i/w)*step+step/2
		if c.Reduced.Top[i] > 127 {
			clipped++
		}
		e := c.Light(float64(x), float64(y))
		if e[1] > hi {
			c.Colour = LinearRGB{e[0], e[1], e[2]}
		}
		lo, hi, sum = min(lo, e[1]), max(hi, e[1]), sum+e[1]
	}
	c.Share = float64(n) / float64(len(c.Inside))
	c.Clipped = float64(clipped) / float64(n)
	c.Unevenness = (hi - lo) / hi
	c.Level = sum / float64(n) * c.Reflectance
}

// terms appends the powers of x and y up to degree 3, lowest first, with both
// scaled to about [−1, 1].
func (c *GreyCard) terms(x, y float64, buf []float64) []float64 {
	s := max(c.width, c.height) / 2
	u, v := (x-c.width/2)/s, (y-c.height/2)/s
	return append(buf, 1, u, v, u*u, u*v, v*v, u*u*u, u*u*v, u*v*v, v*v*v)
}

func eval(coef, terms []float64) float64 {
	s := 0.0
	for i, k := range coef {
		s += k * terms[i]
	}
	return s
}

// leastSquares fits values[i] over the used pixels by the normal equations.
func leastSquares(values []float32, use []bool, n int, at func(int, []float64) []float64) ([]float64, bool) {
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	buf := make([]float64, 0, maxTerms)
	var ata [maxTerms][maxTerms]float64
	var atb [maxTerms]float64
	for i, u := range use {
		if !u {
			continue
		}
		t := at(i, buf)
		v := float64(values[i])
		for r := range n {
			for s := r; s < n; s++ {
				ata[r][s] += t[r] * t[s]
			}
			atb[r] += t[r] * v
		}
	}
	for r := range n {
		for s := r; s < n; s++ {
			a.SetSym(r, s, ata[r][s])
		}
		b.SetVec(r, atb[r])
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return nil, false
	}
	x := mat.NewVecDense(n, nil)
	if err := chol.SolveVecTo(x, b); err != nil {
		return nil, false
	}
	return x.RawVector().Data, true
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
		for x := range lin.Width {
			i, u := x/cell, float32(x%cell)/cell
			p, q := grid[j*nx+i:], grid[(j+1)*nx+i:]
			at := 3 * (y*lin.Width + x)
			for k := range 3 {
				top := p[0][k] + u*(p[1][k]-p[0][k])
				low := q[0][k] + u*(q[1][k]-q[0][k])
				lin.Pix[at+k] *= top + v*(low-top)
			}
		}
	}
}
