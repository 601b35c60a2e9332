package inspect

import "math"

// A smoothShape is an outline that a casting without paint could have, given by
// the signed distance in mm of a place from it, + outside, and the parameters
// that distance takes.
type smoothShape struct {
	name     string
	distance func(p []float64, x, y float64) float64
}

// The forms castings have in common use, beyond which the batch or the head's
// own other side is the reference.
var (
	circleShape = smoothShape{"circle", func(p []float64, x, y float64) float64 {
		return math.Hypot(x-p[0], y-p[1]) - p[2]
	}}
	// An ellipse's distance is exact to first order at its outline.
	eggShape = smoothShape{"egg", func(p []float64, x, y float64) float64 {
		sin, cos := math.Sincos(p[4])
		u, v := (x-p[0])*cos+(y-p[1])*sin, (y-p[1])*cos-(x-p[0])*sin
		k0, k1 := math.Hypot(u/p[2], v/p[3]), math.Hypot(u/sq(p[2]), v/sq(p[3]))
		if k1 < 1e-9 {
			return -min(math.Abs(p[2]), math.Abs(p[3]))
		}
		return k0 * (k0 - 1) / k1
	}}
	// A drop is the hull of two circles.
	dropShape = smoothShape{"drop", func(p []float64, x, y float64) float64 {
		dx, dy := p[3]-p[0], p[4]-p[1]
		long := math.Hypot(dx, dy)
		if long < math.Abs(p[2]-p[5])+1e-6 {
			return min(math.Hypot(x-p[0], y-p[1])-p[2], math.Hypot(x-p[3], y-p[4])-p[5])
		}
		u, v := ((x-p[0])*dx+(y-p[1])*dy)/long, math.Abs((y-p[1])*dx-(x-p[0])*dy)/long
		b := (p[2] - p[5]) / long
		a := math.Sqrt(1 - b*b)
		switch k := a*u - b*v; {
		case k < 0:
			return math.Hypot(u, v) - p[2]
		case k > a*long:
			return math.Hypot(u-long, v) - p[5]
		}
		return v*a + u*b - p[2]
	}}
)

// shapeFit is a smooth shape laid on an outline.
type shapeFit struct {
	smoothShape
	p      []float64
	share  float64 // of the trusted places that lie on it, in [0, 1]
	inside float64 // share of those that lie within it: paint puts them outside
	away   []float64
}

// fitShape lays a shape on the places so that as many as possible lie on it
// within tol mm and the rest have no say: least squares with Tukey's weights,
// whose width shrinks from far above tol to it (graduated non-convexity: A. Blake
// and A. Zisserman, Visual Reconstruction, 1987).
//
// It starts from the places first.
func fitShape(s smoothShape, start []float64, first, rim []rimPoint, tol float64) shapeFit {
	f := shapeFit{smoothShape: s, p: append([]float64(nil), start...), away: make([]float64, len(rim))}
	for _, width := range [5]float64{32, 12, 6, 4, 4} {
		for range 4 {
			f.step(first, width*tol)
		}
		if width < 12 {
			first = rim
		}
	}
	all, on, inside := 0.0, 0.0, 0.0
	for k, q := range rim {
		f.away[k] = f.distance(f.p, q.x, q.y)
		if !q.trusted {
			continue
		}
		all++
		if math.Abs(f.away[k]) < 2*tol {
			on++
		} else if f.away[k] < 0 {
			inside++
		}
	}
	f.share, f.inside = on/max(all, 1), inside/max(all, 1)
	return f
}

// step is one Gauss–Newton step.
func (f *shapeFit) step(rim []rimPoint, width float64) {
	n := len(f.p)
	normal := make([][]float64, n)
	for i := range normal {
		normal[i] = make([]float64, n+1)
	}
	const h = 1e-4
	grad := make([]float64, n)
	moved := append([]float64(nil), f.p...)
	for _, q := range rim {
		if !q.trusted {
			continue
		}
		d := f.distance(f.p, q.x, q.y)
		w := 1 - sq(d/width)
		if w <= 0 {
			continue
		}
		for i := range grad {
			moved[i] += h
			grad[i] = (f.distance(moved, q.x, q.y) - d) / h
			moved[i] = f.p[i]
		}
		for i := range grad {
			for j := range grad {
				normal[i][j] += w * w * grad[i] * grad[j]
			}
			normal[i][n] -= w * w * grad[i] * d
		}
	}
	for i := range normal {
		normal[i][i] = normal[i][i]*1.001 + 1e-6 // keeps a circle's second circle or axis in place
	}
	if delta, ok := solve(normal); ok {
		for i, d := range delta {
			f.p[i] += min(max(d, -1), 1)
		}
	}
}

// solve is Gauss's elimination of an augmented matrix, in place.
func solve(m [][]float64) ([]float64, bool) {
	n := len(m)
	for c := range n {
		best := c
		for r := c + 1; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if math.Abs(m[c][c]) < 1e-12 {
			return nil, false
		}
		for r := range m {
			if r == c {
				continue
			}
			f := m[r][c] / m[c][c]
			for k := c; k <= n; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	x := make([]float64, n)
	for i := range x {
		x[i] = m[i][n] / m[i][i]
	}
	return x, true
}
