package calib

import "math"

// Shade fits the light once more, now that the piece is known to be about a ball
// above the place x, y and of the given radius, in photo px. A piece takes from the
// card some of the light that comes from all around, the more the nearer it is,
// and far beyond what looks like its shadow: without this the light would be found
// up to 9 % too low just where the piece lies (TestLightField).
//
// A ball of radius R on the card hides from a place at distance d from its foot
// the share R³/(d²+R²)^(3/2) of the light of an even sky: the share of a sphere's
// solid angle, weighted by the cosine. How much of the light is sky is fitted per
// channel, along with the surface.
func (c *GreyCard) Shade(x, y, radius float64) {
	// Nearer than this, in radii, the piece is no ball, and lights the card itself.
	const nearest = 1.6
	// A collar hides about a third more than the ball; what asks for more is none.
	const mostSky = 1.35
	w := c.Reduced.Width
	step := float64(c.Reduced.Step)
	shade, open := make([]float32, len(c.even.Pix)), make([]bool, len(c.even.Pix))
	var fitted []int // pixels, those that are used
	for y := fitStep / 2; y < c.Reduced.Height; y += fitStep {
		for x := fitStep / 2; x < w; x += fitStep {
			fitted = append(fitted, y*w+x)
		}
	}
	for _, i := range fitted {
		dx, dy := ((float64(i%w)+0.5)*step-x)/radius, ((float64(i/w)+0.5)*step-y)/radius
		square := dx*dx + dy*dy // of the distance in radii
		hidden := 1 / ((square + 1) * math.Sqrt(square+1))
		shade[i] = float32(math.Log(1 - hidden + 1e-6)) // finite under the piece, where it isn't used
		open[i] = square > nearest*nearest && c.even.Pix[i] != 0
	}
	g, s := c.grid(c.logs), c.grid([3][]float32{shade, shade, shade})
	fit, sigma, sky := c.surface, c.Residual, [3]float64{0.5, 0.5, 0.5}
	use := make([]bool, len(open))
	var bare [3][]float32 // the level as it would be without the piece
	for k := range bare {
		bare[k] = make([]float32, len(shade))
	}
	without := c.grid(bare)
	for range 6 {
		for k := range bare {
			for _, i := range fitted {
				bare[k][i] = c.logs[k][i] - float32(sky[k])*shade[i]
			}
		}
		copy(use, open)
		without.agreeing(&fit, sigma, use, open, fitStep)
		level, ok := g.solve(use, len(powers), fitStep)
		shadow, ok2 := s.solve(use, len(powers), fitStep)
		if !ok || !ok2 {
			return
		}
		sky = g.share(&level, &s, &shadow[0], use)
		for k := range sky {
			sky[k] = min(max(sky[k], 0), mostSky)
			for t := range fit[k] {
				fit[k][t] = level[k][t] - sky[k]*shadow[0][t]
			}
		}
	}
	c.surface = fit
	c.describe()
}

// share is how much of the other grid is in this one, per channel: the regression
// of what is left of both when their own surfaces are taken off, which is the
// coefficient of the other in a fit of all together (R. Frisch and F. V. Waugh,
// Econometrica 1, 387–401, 1933).
func (g *grid) share(own *[3]surface, other *grid, others *surface, use []bool) (share [3]float64) {
	var square float64
	w := len(g.u)
	for y := fitStep / 2; y < len(g.v); y += fitStep {
		red, green, blue, second := own[0].along(g.v[y]), own[1].along(g.v[y]), own[2].along(g.v[y]), others.along(g.v[y])
		for x := fitStep / 2; x < w; x += fitStep {
			i := y*w + x
			if !use[i] {
				continue
			}
			u := g.u[x][1]
			d := float64(other.logs[0][i]) - second.at(u)
			square += d * d
			share[0] += d * (float64(g.logs[0][i]) - red.at(u))
			share[1] += d * (float64(g.logs[1][i]) - green.at(u))
			share[2] += d * (float64(g.logs[2][i]) - blue.at(u))
		}
	}
	for k := range share {
		share[k] /= max(square, 1e-12)
	}
	return share
}
