package calib

import (
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A surface is a polynomial in u and v up to degree 3, see powers.
type surface [len(powers)]float64

// powers are those of u and v in each term of a surface, lowest degree first.
var powers = [10][2]int{{0, 0}, {1, 0}, {0, 1}, {2, 0}, {1, 1}, {0, 2}, {3, 0}, {2, 1}, {1, 2}, {0, 3}}

const quadratic = 6 // terms of degree 2 and less

// A cubic is a surface along one row.
type cubic [4]float64

// along cuts the surface at one v.
func (s *surface) along(v float64) (c cubic) {
	vs := [4]float64{1, v, v * v, v * v * v}
	for i, p := range powers {
		c[p[0]] += s[i] * vs[p[1]]
	}
	return c
}

func (c cubic) at(u float64) float64 { return ((c[3]*u+c[2])*u+c[1])*u + c[0] }

// unit scales a place of the photo to about [−1, 1].
func (c *GreyCard) unit(x, y float64) (u, v float64) {
	s := max(c.width, c.height) / 2
	return (x - c.width/2) / s, (y - c.height/2) / s
}

// fitStep is how many reduced pixels apart, both ways, the light is sought in;
// on a card of 100,000 px it moves the light by less than 0.1 %.
const fitStep = 3

// fit finds the light from the pixels that member marks, then takes in all
// pixels of the picture that agree with it. It reports whether that worked.
// Which pixels agree is sought among those that lie fitted apart, the light in
// the end comes from all.
func (c *GreyCard) fit(logs [3][]float32, member []bool, fitted int) bool {
	n := 0
	for _, m := range member {
		if m {
			n++
		}
	}
	terms := len(powers)
	if float64(n) < 0.3*float64(len(member)) {
		terms = quadratic
	}
	g := c.grid(logs)
	use := slices.Clone(member)
	for round := range 12 {
		among := member
		if round >= 8 {
			among = nil
		}
		var ok bool
		if c.surface, ok = g.solve(use, terms, fitted); !ok {
			return false
		}
		if c.Residual, ok = g.spread(&c.surface[1], use, fitted); !ok {
			return false
		}
		if round == 10 {
			fitted = 1 // the last round is of all
		}
		g.agreeing(&c.surface, c.Residual, use, among, fitted)
	}
	c.Inside = use
	return true
}

// A grid is a picture to fit surfaces to.
type grid struct {
	logs [3][]float32
	u    [][7]float64 // of each column, to the powers 0 to 6
	v    []float64    // of each row
}

func (c *GreyCard) grid(logs [3][]float32) grid {
	g := grid{logs: logs, u: make([][7]float64, c.Reduced.Width), v: make([]float64, c.Reduced.Height)}
	step := float64(c.Reduced.Step)
	for x := range g.u {
		u, _ := c.unit((float64(x)+0.5)*step, 0)
		g.u[x][0] = 1
		for k := range 6 {
			g.u[x][k+1] = g.u[x][k] * u
		}
	}
	for y := range g.v {
		_, g.v[y] = c.unit(0, (float64(y)+0.5)*step)
	}
	return g
}

// solve fits the first terms of a surface per channel to the used pixels, by
// the normal equations. Along a row only the powers of u are summed.
func (g *grid) solve(use []bool, terms, step int) (fit [3]surface, ok bool) {
	var left [len(powers)][len(powers)]float64
	var right [3]surface
	w := len(g.u)
	for y := step / 2; y < len(g.v); y += step {
		var us [7]float64
		var values [3]cubic
		row := use[y*w : (y+1)*w]
		red, green, blue := g.logs[0][y*w:(y+1)*w], g.logs[1][y*w:(y+1)*w], g.logs[2][y*w:(y+1)*w]
		for x := step / 2; x < w; x += step {
			if !row[x] {
				continue
			}
			u := &g.u[x]
			r, g, b := float64(red[x]), float64(green[x]), float64(blue[x])
			for k, p := range u {
				us[k] += p
			}
			for k, p := range u[:4] {
				values[0][k] += r * p
				values[1][k] += g * p
				values[2][k] += b * p
			}
		}
		v, vs := g.v[y], [7]float64{1}
		for k := range 6 {
			vs[k+1] = vs[k] * v
		}
		for r, p := range powers[:terms] {
			for s, q := range powers[:r+1] {
				left[r][s] += us[p[0]+q[0]] * vs[p[1]+q[1]]
			}
			for k := range right {
				right[k][r] += values[k][p[0]] * vs[p[1]]
			}
		}
	}
	a := mat.NewSymDense(terms, nil)
	for r := range terms {
		for s := range r + 1 {
			a.SetSym(r, s, left[r][s])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return fit, false
	}
	for k := range fit {
		x := mat.NewVecDense(terms, fit[k][:terms])
		if err := chol.SolveVecTo(x, mat.NewVecDense(terms, right[k][:terms])); err != nil {
			return fit, false
		}
	}
	return fit, true
}

// spread is the robust relative standard deviation, in green, of the used
// pixels about the fit, false where they are too few.
func (g *grid) spread(green *surface, use []bool, step int) (sigma float64, ok bool) {
	const quarter = 4 // of the deviations tell their median well enough
	w, used := len(g.u), 0
	var over []float32
	for y := step / 2; y < len(g.v); y += step {
		row := green.along(g.v[y])
		for x := step / 2; x < w; x += step {
			i := y*w + x
			if !use[i] {
				continue
			}
			if used++; used%quarter == 0 {
				d := g.logs[1][i] - float32(row.at(g.u[x][1]))
				over = append(over, max(d, -d))
			}
		}
	}
	if len(over) < 50 {
		return 0, false
	}
	slices.Sort(over)
	return max(float64(over[len(over)/2])/0.6745, 0.002), true
}

// agreeing marks in use which pixels agree with the fit, of all or of the
// members alone.
func (g *grid) agreeing(fit *[3]surface, sigma float64, use, member []bool, step int) {
	w := len(g.u)
	least, most := float32(-2*sigma-0.003), float32(4*sigma+0.003)
	for y := step / 2; y < len(g.v); y += step {
		red, green, blue := fit[0].along(g.v[y]), fit[1].along(g.v[y]), fit[2].along(g.v[y])
		for x := step / 2; x < w; x += step {
			i := y*w + x
			if member != nil && !member[i] {
				continue
			}
			u := g.u[x][1]
			r, g, b := g.logs[0][i]-float32(red.at(u)), g.logs[1][i]-float32(green.at(u)), g.logs[2][i]-float32(blue.at(u))
			use[i] = r > least && r < most && g > least && g < most && b > least && b < most
		}
	}
}
