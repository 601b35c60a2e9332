package inspect

import "math"

// form is that of a round place's section, t from 0 in its middle to 1 at its
// foot.
type form int

const (
	rise   form = iota // h·(1 − t²)²; a hollow when h < 0
	socket             // h < 0: a flat floor in a narrow wall
	crater             // h < 0: h·(1 − t²)²·(1 − 2.5·t²), a bowl in a raised rim
)

// swelling is a round place where the surface departs from the head's.
type swelling struct {
	x, y   float64 // cells
	wide   float64 // mm across the foot
	height float64 // mm
	form   form
}

// misfit is what a swelling leaves of the residual's variance at its place and
// around it, and what there was to explain: sums of squares about the plane that
// fits best, since a slow change of the light is no lump's.
//
// The place is that of over, which may be another swelling.
func (r *relit) misfit(b, over swelling) (left, all float64, n int) {
	reach := around / 2 * over.wide / r.cell
	stride := max(1, int(reach/11))
	c, o := &r.at[b.index(r)], &r.at[over.index(r)]
	var place plane
	var rest, given [3]plane
	for y := max(0, int(over.y-reach)); y <= min(r.h-1, int(over.y+reach)); y += stride {
		for x := max(0, int(over.x-reach)); x <= min(r.w-1, int(over.x+reach)); x += stride {
			q := &r.at[y*r.w+x]
			if !q.on {
				continue
			}
			if _, away := q.offset(o, float64(x)-over.x, float64(y)-over.y, r.cell); away > around/2*over.wide {
				continue
			}
			n++
			u, v := float64(x)-b.x, float64(y)-b.y
			d, away := q.offset(c, u, v, r.cell)
			e := q.residual
			if slope := b.slope(away / (b.wide / 2)); slope != 0 && away > 1e-9 {
				slope /= away
				v := [3]float64{q.n[0] + slope*d[0], q.n[1] + slope*d[1], q.n[2] + slope*d[2]}
				long := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
				if v[2] < 0 {
					long = math.Hypot(v[0], v[1])
				}
				got := r.look(v[0]/long, v[1]/long)
				for k := range e {
					e[k] -= got[k] - q.want[k]
				}
			}
			place.add(1, u, v)
			place.uu, place.uv, place.vv = place.uu+u*u, place.uv+u*v, place.vv+v*v
			for k := range e {
				rest[k].add(float64(e[k]), u, v)
				given[k].add(float64(q.residual[k]), u, v)
			}
		}
	}
	for k := range rest {
		left += rest[k].beside(place)
		all += given[k].beside(place)
	}
	return left, all, n
}

// offset is the way from another place along the surface there, u and v cells
// across the photo, and its length, mm.
func (q *surface) offset(from *surface, u, v, cell float64) (d [3]float64, away float64) {
	d = [3]float64{u * cell, v * cell, q.z - from.z}
	up := d[0]*from.n[0] + d[1]*from.n[1] + d[2]*from.n[2]
	for k := range d {
		d[k] -= up * from.n[k]
		away += d[k] * d[k]
	}
	return d, math.Sqrt(away)
}

// around is how far about a swelling the surface is looked at, in units of half
// its width: beyond its foot the head must be as it should.
const around = 1.5

// plane sums up values over places, to fit a plane.
type plane struct {
	sum, u, v, square float64 // of the values: alone, times the place's coordinates, squared
	uu, uv, vv        float64
}

func (p *plane) add(value, u, v float64) {
	p.sum, p.u, p.v, p.square = p.sum+value, p.u+value*u, p.v+value*v, p.square+value*value
}

// beside is the sum of squares about the best plane; place holds the sums of
// the places.
func (p plane) beside(place plane) float64 {
	n := place.sum
	if n < 10 {
		return 0
	}
	uu, uv, vv := place.uu-place.u*place.u/n, place.uv-place.u*place.v/n, place.vv-place.v*place.v/n
	eu, ev := p.u-p.sum*place.u/n, p.v-p.sum*place.v/n
	det := uu*vv - uv*uv
	if det < 1e-9 {
		return 0
	}
	return max(0, p.square-p.sum*p.sum/n-(eu*eu*vv-2*eu*ev*uv+ev*ev*uu)/det)
}

// slope is how steeply the swelling falls outwards.
func (b swelling) slope(t float64) float64 {
	if b.form == socket {
		const rim = 0.12 // mm, half the width of a socket's wall
		w := (t - 0.9) * b.wide / 2 / rim
		if w < -1 || w > 1 {
			return 0
		}
		return b.height / rim * (1 - w*w) * 0.75
	}
	if t >= 1 {
		return 0
	}
	if b.form == crater {
		return 2 * b.height * t * (1 - t*t) * (4.5 - 7.5*t*t) / (b.wide / 2)
	}
	return 4 * b.height * t * (1 - t*t) / (b.wide / 2)
}

func (b swelling) index(r *relit) int { return int(b.y+0.5)*r.w + int(b.x+0.5) }

// holds tells whether a swelling's middle is on the head.
func (r *relit) holds(b swelling) bool {
	return b.x >= 1 && b.y >= 1 && b.x <= float64(r.w-2) && b.y <= float64(r.h-2) && r.at[b.index(r)].on
}
