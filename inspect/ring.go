package inspect

import (
	"math"
	"slices"
)

// A ring is the outline of a torus of wire as a far camera sees it. The middle
// line is an ellipse; the two edges run half a wire's thickness to either side
// of it. Lengths are in px.
type ring struct {
	x, y  float64 // centre
	long  float64 // half the long axis of the middle line
	flat  float64 // short over long axis of the middle line: 1 from the front, 0 on edge
	half  float64 // half the thickness of the wire
	turn  float64 // direction of the long axis, radians
	clear float64 // how clear both edges are, on average round the ring, 0 to 1; in the end its rating
}

// A rung is a place on the middle line of a ring and the normal there, outwards.
type rung struct{ x, y, nx, ny float64 }

// rungs are how many places round a ring are looked at: two or more on the
// width of the stem that breaks the outer edge, so that it costs few of them.
const rungs = 24

func (r ring) around(n int) []rung {
	out := make([]rung, n)
	s, c := math.Sincos(r.turn)
	for k := range out {
		sk, ck := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / float64(n))
		u, v := r.long*ck, r.flat*r.long*sk
		nu, nv := unit(r.flat*ck, sk)
		out[k] = rung{r.x + u*c - v*s, r.y + u*s + v*c, nu*c - nv*s, nu*s + nv*c}
	}
	return out
}

// The sizes of line-tie eyes in mm, to the middle of the wire and half its
// thickness: holes of 1.2 to 2.4 mm in wire of 0.5 to 1.1 mm (common practice, no
// source), with room for what glare and dark flanks leave of the wire.
const (
	leastLong, mostLong = 0.8, 1.8
	leastHalf, mostHalf = 0.12, 0.48 // of long
	leastFlat           = 0.5        // below, no hole is left to look through
)

func (r ring) plausible(mm float64) bool {
	return r.flat >= leastFlat && r.long*mm >= leastLong && r.long*mm <= mostLong &&
		r.half >= leastHalf*r.long && r.half <= mostHalf*r.long && r.flat*r.long-r.half >= 0.3*r.half
}

// edgeHalf is the slope, in log level per px, that makes an edge half clear: a
// third of what a wire's edge on card in even light has.
const edgeHalf = 0.05

// rating is how much a fitted ring looks like a ring of wire: the clearness of
// both edges along the quarter where they are least clear, less the clutter in
// the hole. A ring that is open for more than a tenth of its length is none, and a
// flat one is likelier to be something else. The weights were chosen with
// leastRating, on the same photos.
func (r ring) rating(g *slopes) float64 {
	const n = 2 * rungs
	var each [n]float64
	for k, p := range r.around(n) {
		each[k] = r.edgesNear(g, p, 1).clear
	}
	slices.Sort(each[:])
	if each[n/10] < 0.35 {
		return 0
	}
	return each[n/4] - r.clutter(g) + 0.1*min(r.flat, 0.8)
}

// fit moves a ring to the edges near it by least squares: at each rung the two
// edges are looked for, a few times over with ever shorter reach. The clearest
// ring on the way is kept.
func (r *ring) fit(g *slopes, mm float64) {
	best := *r
	best.clear = 0
	for _, reach := range [8]float64{3, 3, 2.5, 2, 2, 1.5, 1.5, 1} {
		sin, cos := math.Sincos(r.turn)
		normal := make([][]float64, 6)
		for i := range normal {
			normal[i] = make([]float64, 7)
		}
		for _, p := range r.around(2 * rungs) {
			e := r.edgesNear(g, p, reach)
			x, y := p.x-r.x, p.y-r.y
			u, v := x*cos+y*sin, y*cos-x*sin
			nu, nv := p.nx*cos+p.ny*sin, p.ny*cos-p.nx*sin
			for side, off := range [2]float64{e.in, e.out} {
				// how far the edge moves along the normal with x, y, long, flat, turn, half
				j := [6]float64{p.nx, p.ny, (u*nu + v*nv) / r.long, v * nv / r.flat, x*p.ny - y*p.nx, float64(2*side - 1)}
				for i := range j {
					for k := range j {
						normal[i][k] += e.clear * j[i] * j[k]
					}
					normal[i][6] += e.clear * j[i] * off
				}
			}
		}
		// a circle has no direction, and a little noise must not flatten it
		steady := 0.02 * normal[0][0] * sq(r.long)
		normal[3][3] += steady
		normal[4][4] += steady
		d, ok := solve(normal)
		if !ok {
			break
		}
		r.x, r.y, r.long, r.flat, r.turn, r.half = r.x+d[0], r.y+d[1], r.long+d[2], r.flat+d[3], r.turn+d[4], r.half+d[5]
		if r.flat > 1 { // the other axis is the longer one
			r.long, r.flat, r.turn = r.long*r.flat, 1/r.flat, r.turn+math.Pi/2
		}
		if !r.plausible(mm) {
			break
		}
		if r.clear = r.clearness(g); r.clear > best.clear {
			best = *r
		}
	}
	*r = best
}

// clearness is how clear both edges are on average round the ring, 0 to 1.
func (r ring) clearness(g *slopes) float64 {
	sum := 0.0
	for _, p := range r.around(2 * rungs) {
		sum += r.edgesNear(g, p, 1).clear
	}
	return sum / (2 * rungs)
}

// clutter is how much there is to see inside the hole, 0 to 0.3: card or a film
// of paint is plain compared with the wire's edges, a pattern of glare and
// shadow that happens to have a ring in it is not. The median bears the edge of
// a film that fills the hole in part.
func (r ring) clutter(g *slopes) float64 {
	in, out := r.long-r.half, r.flat*r.long-r.half
	var each []float64
	for _, part := range [3]float64{0.15, 0.35, 0.5} {
		for _, p := range (ring{x: r.x, y: r.y, long: part * in, flat: out / in, turn: r.turn}).around(rungs / 2) {
			right, down := g.along(p.x, p.y, 1, 0), g.along(p.x, p.y, 0, 1)
			m := 0.0
			for k := range right {
				m = max(m, math.Hypot(right[k], down[k]))
			}
			each = append(each, m)
		}
	}
	slices.Sort(each)
	m := each[len(each)/2]
	return 0.3 * m / (m + edgeHalf)
}

// edges are where the two edges of a wire lie beside where they are thought to
// be, px outwards, and how clear the weaker one is, 0 to 1.
type edges struct{ in, out, clear float64 }

func (r ring) edgesNear(g *slopes, p rung, reach float64) (best edges) {
	const step = 0.5 // px
	n := int(reach / step)
	var at [2][13][3]float64
	for side, half := range [2]float64{-r.half, r.half} {
		for k := -n; k <= n; k++ {
			o := half + step*float64(k)
			at[side][k+n] = g.along(p.x+o*p.nx, p.y+o*p.ny, p.nx, p.ny)
		}
	}
	strongest := 0.0
	for c := range 3 {
		var down, up [2]float64 // the steepest on either side
		var downAt, upAt [2]int
		for side := range at {
			for k := -n; k <= n; k++ {
				v := at[side][k+n][c] * (1 - 0.02*math.Abs(float64(k)))
				if -v > down[side] {
					down[side], downAt[side] = -v, k
				}
				if v > up[side] {
					up[side], upAt[side] = v, k
				}
			}
		}
		try := func(slope float64, in, out int) {
			const thinnest = 2 // px: a single blurred edge must not pass for two
			if slope > strongest && 2*r.half+step*float64(out-in) > thinnest {
				strongest = slope
				best = edges{step * float64(in), step * float64(out), slope / (slope + edgeHalf)}
			}
		}
		try(min(down[0], up[1]), downAt[0], upAt[1])
		try(min(up[0], down[1]), upAt[0], downAt[1])
	}
	return best
}

// widen takes a ring from the highlight on a dark wire to the wire's own
// edges: to the outermost and the innermost line along it that stands out.
func (r *ring) widen(g *slopes) {
	line := func(o float64) float64 {
		var each []float64
		for _, p := range r.around(rungs) {
			m := 0.0
			for _, d := range g.along(p.x+o*p.nx, p.y+o*p.ny, p.nx, p.ny) {
				m = max(m, math.Abs(d))
			}
			each = append(each, m)
		}
		slices.Sort(each)
		return each[len(each)/2]
	}
	const step = 0.5 // px
	edge := func(sign float64) float64 {
		last, least := r.half, 0.4*line(sign*r.half)
		for o := r.half; o < 0.5*r.long && (sign > 0 || o < 0.85*r.flat*r.long); o += step {
			if v := line(sign * o); v > least && v >= line(sign*(o-step)) && v >= line(sign*(o+step)) {
				last = o
			}
		}
		return last
	}
	in, out := edge(-1), edge(1)
	shift := (out - in) / 2
	short := r.flat*r.long + shift
	r.long, r.half = r.long+shift, (in+out)/2
	r.flat = short / r.long
}

// inside is how far out in the hole of a ring a place lies: 0 in the middle, 1 at
// the wire's inner edge; outside is the same with its outer edge.
func (r *ring) inside(x, y float64) float64 {
	u, v := r.turned(x, y)
	return math.Hypot(u/(r.long-r.half), v/(r.flat*r.long-r.half))
}

func (r *ring) outside(x, y float64) float64 {
	u, v := r.turned(x, y)
	return math.Hypot(u/(r.long+r.half), v/(r.flat*r.long+r.half))
}

// turned is a place in the axes of the ring, from its middle.
func (r *ring) turned(x, y float64) (u, v float64) {
	sin, cos := math.Sincos(r.turn)
	x, y = x-r.x, y-r.y
	return x*cos + y*sin, y*cos - x*sin
}
