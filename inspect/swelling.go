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

// site is a round place of a head with what there is to explain in it.
type site struct {
	of     *relit
	middle swelling   // its height and form play no part
	within []siteCell // the swelling's foot
	beyond []siteCell
	odd    [3]plane // the residuals beyond
	place  plane
	all    float64 // sum of squares of the residuals about the plane that fits best
}

// siteCell is a cell of a site: u, v its place in cells from the middle, away how
// far that is along the surface, mm, and way the unit vector there.
type siteCell struct {
	*surface
	u, v, away float64
	way        [3]float64
}

// siteOf is the site of a swelling. The last one is kept: swellings of many
// heights are tried in the same place.
func (r *relit) siteOf(over swelling) *site {
	s := r.last
	switch {
	case s == nil || s.of != r:
		s = &site{of: r}
		r.last = s
	case s.middle.x == over.x && s.middle.y == over.y && s.middle.wide == over.wide:
		return s
	}
	*s = site{of: r, middle: over, within: s.within[:0], beyond: s.beyond[:0]}
	reach := around / 2 * over.wide / r.cell
	stride := max(1, int(reach/11))
	middle := &r.at[over.index(r)]
	var given [3]plane
	for y := max(0, int(over.y-reach)); y <= min(r.h-1, int(over.y+reach)); y += stride {
		for x := max(0, int(over.x-reach)); x <= min(r.w-1, int(over.x+reach)); x += stride {
			q := &r.at[y*r.w+x]
			if !q.on {
				continue
			}
			u, v := float64(x)-over.x, float64(y)-over.y
			way, away := q.offset(middle, u, v, r.cell)
			if away > around/2*over.wide {
				continue
			}
			c := siteCell{q, u, v, away, unitOf(way, away)}
			sums := &given
			if away < over.wide/2 {
				s.within = append(s.within, c)
			} else {
				s.beyond, sums = append(s.beyond, c), &s.odd
			}
			s.place.add(1, u, v)
			s.place.uu, s.place.uv, s.place.vv = s.place.uu+u*u, s.place.uv+u*v, s.place.vv+v*v
			for k, e := range q.residual {
				sums[k].add(float64(e), u, v)
			}
		}
	}
	for k := range given {
		given[k].join(s.odd[k])
		s.all += given[k].beside(s.place)
	}
	return s
}

// unitOf is a way of a length as a unit vector, 0 where it has none.
func unitOf(way [3]float64, length float64) [3]float64 {
	if length <= 1e-9 {
		return [3]float64{}
	}
	k := 1 / length
	return [3]float64{way[0] * k, way[1] * k, way[2] * k}
}

// misfit is what a swelling leaves of the residual's variance at its place and
// around it, and what there was to explain: sums of squares about the plane that
// fits best, since a slow change of the light is no lump's.
//
// The place is that of over, which may be another swelling.
func (r *relit) misfit(b, over swelling) (left, all float64, n int) {
	s := r.siteOf(over)
	var rest [3]plane
	aside := b.x != over.x || b.y != over.y
	if aside || b.wide > over.wide || b.form == socket {
		s.leave(s.beyond, b, aside, &rest)
	} else {
		rest = s.odd
	}
	s.leave(s.within, b, aside, &rest)
	for k := range rest {
		left += rest[k].beside(s.place)
	}
	return left, s.all, len(s.within) + len(s.beyond)
}

// leave adds what a swelling leaves of the residuals in some cells of a site.
// Aside tells whether its middle is not the site's.
func (s *site) leave(cells []siteCell, b swelling, aside bool, rest *[3]plane) {
	r := s.of
	middle := &r.at[b.index(r)]
	for i := range cells {
		q := &cells[i]
		way, away := q.way, q.away
		if aside {
			way, away = q.offset(middle, q.u+s.middle.x-b.x, q.v+s.middle.y-b.y, r.cell)
			way = unitOf(way, away)
		}
		e := q.residual
		if slope := b.slope(away / (b.wide / 2)); slope != 0 {
			v := [3]float64{q.n[0] + slope*way[0], q.n[1] + slope*way[1], q.n[2] + slope*way[2]}
			square := v[0]*v[0] + v[1]*v[1]
			if v[2] >= 0 {
				square += v[2] * v[2]
			}
			long := 1 / math.Sqrt(square)
			got := r.look(v[0]*long, v[1]*long)
			for k := range e {
				e[k] -= got[k] - q.want[k]
			}
		}
		for k := range e {
			rest[k].add(float64(e[k]), q.u, q.v)
		}
	}
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

func (p *plane) join(o plane) {
	p.sum, p.u, p.v, p.square = p.sum+o.sum, p.u+o.u, p.v+o.v, p.square+o.square
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
