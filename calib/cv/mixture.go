//go:build gocv_specific_modules

package cv

import "math"

type vector [3]float64

// groupsOfSide is how many groups of colours a side of a picture has.
const groupsOfSide = 5

// A mixture is how likely colours are on one side of a picture: a sum of Gaussians, one
// for each group of what is alike there.
type mixture struct {
	all    int
	groups [groupsOfSide]gaussian
}

type gaussian struct {
	n    int
	sum  vector
	prod [6]float64 // of the components 00, 01, 02, 11, 12, 22

	mean    vector
	inverse [6]float64 // of the covariance
	top     float64    // logarithm of the density at the mean, but for a constant
	share   float64    // logarithm of the group's share
}

// add adds n pixels of one colour to a group.
func (m *mixture) add(group uint8, c vector, n int) {
	g := &m.groups[group]
	m.all += n
	g.n += n
	w := float64(n)
	for k, v := range c {
		g.sum[k] += w * v
	}
	g.prod[0] += w * c[0] * c[0]
	g.prod[1] += w * c[0] * c[1]
	g.prod[2] += w * c[0] * c[2]
	g.prod[3] += w * c[1] * c[1]
	g.prod[4] += w * c[1] * c[2]
	g.prod[5] += w * c[2] * c[2]
}

// learn makes the Gaussians of what was added.
func (m *mixture) learn() {
	for k := range m.groups {
		if g := &m.groups[k]; g.n > 0 {
			g.share = math.Log(float64(g.n) / float64(m.all))
			g.learn()
		}
	}
}

func (g *gaussian) learn() {
	n := float64(g.n)
	a := g.sum
	for k := range a {
		a[k] /= n
	}
	g.mean = a
	c := g.prod
	for k, mean := range [6]float64{a[0] * a[0], a[0] * a[1], a[0] * a[2], a[1] * a[1], a[1] * a[2], a[2] * a[2]} {
		c[k] = c[k]/n - mean
	}
	det := determinant(c)
	const leastSpread = 0.01 // of a single colour, or of colours on a line
	if det <= 1e-6 {
		c[0], c[3], c[5] = c[0]+leastSpread, c[3]+leastSpread, c[5]+leastSpread
		det = determinant(c)
	}
	g.inverse = [6]float64{
		(c[3]*c[5] - c[4]*c[4]) / det, (c[2]*c[4] - c[1]*c[5]) / det, (c[1]*c[4] - c[2]*c[3]) / det,
		(c[0]*c[5] - c[2]*c[2]) / det, (c[1]*c[2] - c[0]*c[4]) / det,
		(c[0]*c[3] - c[1]*c[1]) / det,
	}
	g.top = -math.Log(det) / 2
}

// determinant is that of a symmetric matrix.
func determinant(c [6]float64) float64 {
	return c[0]*(c[3]*c[5]-c[4]*c[4]) - c[1]*(c[1]*c[5]-c[4]*c[2]) + c[2]*(c[1]*c[4]-c[3]*c[2])
}

// log is the logarithm of the density at a colour, but for a constant.
func (g *gaussian) log(c vector) float64 {
	x, y, z := c[0]-g.mean[0], c[1]-g.mean[1], c[2]-g.mean[2]
	return g.top - (x*(x*g.inverse[0]+2*(y*g.inverse[1]+z*g.inverse[2]))+y*(y*g.inverse[3]+2*z*g.inverse[4])+z*z*g.inverse[5])/2
}

// likeliest is the group in which a colour is likeliest, however large the group is.
func (m *mixture) likeliest(c vector) uint8 {
	best, most := 0, math.Inf(-1)
	for k := range m.groups {
		if g := &m.groups[k]; g.n > 0 {
			if l := g.log(c); l > most {
				best, most = k, l
			}
		}
	}
	return uint8(best)
}

// impossible is the logarithm of how likely a colour is at least.
const impossible = -1e4

// log is the logarithm of how likely a colour is, but for a constant.
func (m *mixture) log(c vector) float64 {
	var each [groupsOfSide]float64
	most := float64(impossible)
	for k := range m.groups {
		each[k] = math.Inf(-1)
		if g := &m.groups[k]; g.n > 0 {
			each[k] = g.share + g.log(c)
			most = max(most, each[k])
		}
	}
	sum := 0.0
	for _, l := range each {
		switch l -= most; {
		case l == 0:
			sum++
		case l > -40: // the others are lost in the last digit
			sum += math.Exp(l)
		}
	}
	if sum <= 1 {
		return most
	}
	return most + math.Log(sum)
}
