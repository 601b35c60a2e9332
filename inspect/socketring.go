package inspect

import (
	"math"

	"jigloupe/calib/cv"
)

// A socketRing is the wall or groove round a socket that was cast into a head, a thin
// circle on its surface: the casting's own and no fault.
type socketRing struct {
	x, y   float64 // its middle, cells
	radius float64 // mm
}

const (
	// The radii in mm in which a ring is looked for: sockets take eyes of 1.2 to 3 mm
	// across; common practice, no source.
	leastRing, mostRing = 0.6, 1.6
	// ringReach is how far about its circle a ring is left out, mm: its wall, the wall's
	// blur and shadow.
	ringReach = 0.28
	// leastRingStands is how many times as much detail as beside it most of a ring's circle
	// must show.
	leastRingStands = 1.3
	// ringPaths are the rays from its middle on which it is looked for.
	ringPaths = 24
)

// findRing finds the circle of the face round which there is most fine detail compared
// with inside and outside of it; not ok when none stands out.
func (r *relit) findRing() (ring socketRing, ok bool, err error) {
	detail, err := r.detail()
	if err != nil {
		return ring, false, err
	}
	about := r.largest(detail)
	most := leastRingStands
	step := max(1, int(0.16/r.cell))
	for y := 0; y < r.h; y += step {
		for x := 0; x < r.w; x += step {
			if c := &r.at[y*r.w+x]; !c.on || c.n.z < steepestView {
				continue
			}
			for radius := leastRing; radius < mostRing; radius += 0.08 {
				t := socketRing{float64(x), float64(y), radius}
				if s := r.ringStands(about, t, most); s > most {
					ring, most, ok = t, s, true
				}
			}
		}
	}
	if !ok {
		return ring, false, nil
	}
	best := r.alongRing(detail, ring)
	for _, step := range [3]float64{0.08, 0.04, 0.02} { // mm
		for again := true; again; {
			again = false
			for _, m := range [6]socketRing{{x: step}, {x: -step}, {y: step}, {y: -step}, {radius: step}, {radius: -step}} {
				t := socketRing{ring.x + m.x/r.cell, ring.y + m.y/r.cell, ring.radius + m.radius}
				if v := r.alongRing(detail, t); v > best*1.002 {
					ring, best, again = t, v, true
				}
			}
		}
	}
	return ring, true, nil
}

// detail is how far each cell stands out of what lies within a quarter of a millimetre,
// in units of how far cells do on the whole, 10 at most.
func (r *relit) detail() (cv.Plane, error) {
	const sigma, most = 0.25, 10.0 // mm
	out := cv.NewPlane(r.w, r.h)
	body, err := r.smooth(func(*surface, *odd) float32 { return 1 }, sigma)
	if err != nil {
		return out, err
	}
	for k := range 3 {
		near, err := r.smooth(func(c *surface, _ *odd) float32 { return c.seen[k] }, sigma)
		if err != nil {
			return out, err
		}
		var off []float64
		for i := range r.at {
			if r.at[i].on && body.Pix[i] > 0.6 {
				near.Pix[i] = r.at[i].seen[k] - near.Pix[i]/body.Pix[i]
				off = append(off, math.Abs(float64(near.Pix[i])))
			} else {
				near.Pix[i] = 0
			}
		}
		spread := usualOf(off)
		for i, v := range near.Pix {
			out.Pix[i] += v * v / float32(3*spread*spread)
		}
	}
	for i, v := range out.Pix {
		out.Pix[i] = min(float32(math.Sqrt(float64(v))), most)
	}
	return out, nil
}

// largest is the largest value of the nine cells about each.
func (r *relit) largest(p cv.Plane) cv.Plane {
	out := cv.NewPlane(r.w, r.h)
	for y := 1; y < r.h-1; y++ {
		for x := 1; x < r.w-1; x++ {
			i := y*r.w + x
			m := float32(0)
			for _, j := range [3]int{i - r.w, i, i + r.w} {
				m = max(m, p.Pix[j-1], p.Pix[j], p.Pix[j+1])
			}
			out.Pix[i] = m
		}
	}
	return out
}

// smooth is the Gaussian of what is taken from each cell of coat, 0 elsewhere; sigma is
// in mm.
func (r *relit) smooth(of func(*surface, *odd) float32, sigma float64) (cv.Plane, error) {
	p := cv.NewPlane(r.w, r.h)
	for i := range r.at {
		if r.at[i].on {
			p.Pix[i] = of(&r.at[i], &r.odd[i])
		}
	}
	return cv.Gaussian(p, sigma/r.cell)
}

// leastSpread, a log ratio, is the least that a tone is said to scatter by: a level of an 8-bit
// file in the mid-tones is 0.01 to 0.02, and cells and filters average that.
const leastSpread = 0.005

// usualOf is the robust standard deviation of distances from 0.
func usualOf(off []float64) float64 {
	if len(off) == 0 {
		return 1
	}
	return max(leastSpread, nth(off, len(off)/2)/0.6745)
}

// ringStands is how many times as much detail there is on most of a circle as beside it,
// 0 where that is less than least. Detail is the largest about each cell.
func (r *relit) ringStands(detail cv.Plane, ring socketRing, least float64) float64 {
	const aside, quiet = 0.32, 1.2     // mm; what detail there is anywhere
	const missing = ringPaths * 3 / 10 // walls along the light show nothing
	var on, off [2 * ringPaths]float64
	nOn, nOff, weak := 0, 0, 0
	n := r.at[r.index(ring.x, ring.y)].n
	// the circle is seen shortened along the slope
	ax, ay := 1.0, 0.0
	if flat := math.Hypot(n.x, n.y); flat > 1e-3 {
		ax, ay = n.x/flat, n.y/flat
	}
	at := func(way [2]float64, radius float64) (float64, bool) {
		dx, dy := way[0]*n.z*ax-way[1]*ay, way[0]*n.z*ay+way[1]*ax
		u, v := int(ring.x+dx*radius/r.cell+0.5), int(ring.y+dy*radius/r.cell+0.5)
		if u < 0 || v < 0 || u >= r.w || v >= r.h || !r.at[v*r.w+u].on {
			return 0, false
		}
		return float64(detail.Pix[v*r.w+u]), true
	}
	for _, way := range ringWays {
		v, ok := at(way, ring.radius)
		if ok {
			on[nOn] = v
			nOn++
		}
		if v < least*quiet {
			if weak++; weak > missing {
				return 0
			}
		}
	}
	for _, way := range ringWays {
		for _, d := range [2]float64{-aside, aside} {
			if v, ok := at(way, ring.radius+d); ok {
				off[nOff] = v
				nOff++
			}
		}
	}
	if nOff < ringPaths {
		return 0
	}
	return nth(on[:nOn], nOn*3/10) / max(quiet, nth(off[:nOff], nOff*6/10))
}

var ringWays = func() (w [ringPaths][2]float64) {
	for k := range w {
		w[k][1], w[k][0] = math.Sincos(2 * math.Pi * float64(k) / ringPaths)
	}
	return w
}()

// alongRing is the mean detail along a circle, what is odd beyond all measure bounded.
func (r *relit) alongRing(detail cv.Plane, ring socketRing) float64 {
	const wide, most = 0.16, 4.0 // mm; times what is usual
	sum, weight := 0.0, 0.0
	reach := int((ring.radius + wide) / r.cell)
	for y := max(0, int(ring.y)-reach); y <= min(r.h-1, int(ring.y)+reach); y++ {
		for x := max(0, int(ring.x)-reach); x <= min(r.w-1, int(ring.x)+reach); x++ {
			i := y*r.w + x
			if t := (r.fromMiddle(ring, x, y) - ring.radius) / wide; r.at[i].on && t*t < 1 {
				weight += 1 - t*t
				sum += (1 - t*t) * min(float64(detail.Pix[i]), most)
			}
		}
	}
	return sum / max(weight, 1)
}

// fromMiddle is how far a cell lies from a ring's middle, mm, in the plane that touches
// the surface there.
func (r *relit) fromMiddle(ring socketRing, x, y int) float64 {
	n := r.at[r.index(ring.x, ring.y)].n
	u, v := (float64(x)-ring.x)*r.cell, (float64(y)-ring.y)*r.cell
	up := (u*n.x + v*n.y) / max(n.z, steepestView)
	return math.Sqrt(u*u + v*v + up*up)
}

// index is the cell about a place, the nearest one when it lies outside.
func (r *relit) index(x, y float64) int {
	return min(max(int(y+0.5), 0), r.h-1)*r.w + min(max(int(x+0.5), 0), r.w-1)
}
