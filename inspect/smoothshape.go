package inspect

import (
	"math"
)

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
	// A bullet is a drop cut off flat at p[6] from the middle of its large circle,
	// with round corners.
	bulletShape = smoothShape{"bullet", func(p []float64, x, y float64) float64 {
		const round = 0.5 // mm; common practice, no source
		dx, dy := p[0]-p[3], p[1]-p[4]
		drop, beyond := dropShape.distance(p, x, y), ((x-p[0])*dx+(y-p[1])*dy)/math.Hypot(dx, dy)-p[6]
		return max(drop, beyond) + sq(max(round-math.Abs(drop-beyond), 0))/(4*round)
	}}
)

// shapeFit is a smooth shape laid on an outline.
type shapeFit struct {
	smoothShape
	p      []float64
	away   []float64 // of the rim from it, mm
	all    float64   // share of all trusted places that lie on it, in [0, 1]
	share  float64   // of those that can be the body's
	inside float64   // share of all places that lie within it: paint, wire and shadow put them outside
	astray float64   // share of the faint places that lie off it by more than a faint edge can
}

// merit ranks fits of the same outline.
func (f *shapeFit) merit() float64 { return f.all - f.inside - f.astray/2 }

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
	f.weigh(rim, tol)
	return f
}

// weigh measures how well a shape explains the rim.
func (f *shapeFit) weigh(rim []rimPoint, tol float64) {
	for k, q := range rim {
		f.away[k] = f.distance(f.p, q.x, q.y)
	}
	const faintMM = 0.3
	on := func(rim []rimPoint) float64 {
		on, all := 0.0, 0.0
		for k, q := range rim {
			if q.trusted {
				all++
				if math.Abs(f.away[k]) < 2*tol {
					on++
				}
			}
		}
		return on / max(all, 1)
	}
	own := body(rim, f.away, tol)
	f.all, f.share, f.inside = on(rim), on(own), 0
	faint, astray := 0.0, 0.0
	for k, q := range own {
		if f.away[k] < -2*tol {
			f.inside += 1 / float64(len(rim))
		}
		if q.faint {
			faint++
			if math.Abs(f.away[k]) > faintMM {
				astray++
			}
		}
	}
	f.astray = astray / max(faint, 1)
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
		d := f.distance(f.p, q.x, q.y)
		if !q.trusted && d > 0 {
			continue // wire, collar and shadow widen a head, nothing narrows it
		}
		w := 1 - sq(d/width)
		if d > 0 {
			w = 1 - sq(1.4*d/width) // what lies outside may be paint
		}
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

// mirrorOf is the rim's own mirror image about a line through the middle: its
// distance from there in mm and its direction.
func mirrorOf(rim []rimPoint) smoothShape {
	return smoothShape{"mirror image", func(p []float64, x, y float64) float64 {
		sin, cos := math.Sincos(p[1])
		t := y*cos - x*sin - p[0]
		return lineDistance(rim, x+2*t*sin, y-2*t*cos)
	}}
}

// lineDistance is the signed distance of a place from the closed line through
// the rim, + outside.
func lineDistance(rim []rimPoint, x, y float64) float64 {
	near, inside := math.Inf(1), false
	last := rim[len(rim)-1]
	for _, q := range rim {
		ex, ey := q.x-last.x, q.y-last.y
		wx, wy := x-last.x, y-last.y
		t := min(max((wx*ex+wy*ey)/max(ex*ex+ey*ey, 1e-12), 0), 1)
		near = min(near, sq(wx-t*ex)+sq(wy-t*ey))
		if (last.y <= y) != (q.y <= y) && x < last.x+ex*(y-last.y)/ey {
			inside = !inside
		}
		last = q
	}
	if inside {
		return -math.Sqrt(near)
	}
	return math.Sqrt(near)
}
