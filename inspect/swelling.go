package inspect

import (
	"math"
	"slices"
)

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
	middle swelling // its height and form play no part
	looks  int
	cells  []siteCell
	place  bends
	fixed  bool     // there are cells enough to fit a bent plane
	all    float64  // sum of squares of the residuals about the bent plane that fits best
	beyond [3]trend // the residuals of the cells beyond the foot of any swelling in the middle
}

// siteCell is a cell of a site: u, v its place in cells from the middle and, unless it lies
// beyond the foot, away how far that is along the surface, mm, and way the unit vector there.
type siteCell struct {
	*surface
	u, v, away float64
	way        vec
	want       [3]float32
	odd        [3]float64 // residual, bounded
	base       [6]float64
	beyond     bool
}

// siteOf is the site of a swelling. The last one is kept: swellings of many
// heights are tried in the same place.
func (r *relit) siteOf(over swelling, looks int) *site {
	s := r.last
	switch {
	case s == nil || s.of != r:
		s = &site{of: r}
		r.last = s
	case s.middle.x == over.x && s.middle.y == over.y && s.middle.wide == over.wide && s.looks == looks:
		return s
	}
	*s = site{of: r, middle: over, looks: looks, cells: s.cells[:0]}
	reach := around / 2 * over.wide / r.cell
	stride := max(1, int(math.Round(reach/float64(looks))))
	middle := &r.at[over.index(r)]
	foot, edge := max(1, socketFoot(over.wide))*over.wide/2, around/2*over.wide
	var given [3]trend
	for y := max(0, int(over.y-reach)); y <= min(r.h-1, int(over.y+reach)); y += stride {
		for x := max(0, int(over.x-reach)); x <= min(r.w-1, int(over.x+reach)); x += stride {
			i := y*r.w + x
			q := &r.at[i]
			if !q.on || q.glare && !r.tried {
				continue
			}
			u, v := float64(x)-over.x, float64(y)-over.y
			way := q.way(middle, u, v, r.cell)
			square := way.square()
			if square > edge*edge {
				continue
			}
			s.cells = slices.Grow(s.cells, 1)[:len(s.cells)+1]
			c := &s.cells[len(s.cells)-1]
			c.surface, c.u, c.v, c.beyond = q, u, v, square >= foot*foot
			c.base, c.want = bend(u/reach, v/reach), r.odd[i].want
			s.place.add(&c.base)
			to := &s.beyond
			if !c.beyond {
				to = &given
				c.away = math.Sqrt(square)
				c.way = unitOf(way, c.away)
			}
			for k, e := range r.odd[i].residual {
				c.odd[k] = bounded(e)
				to[k].add(c.odd[k], &c.base)
			}
		}
	}
	if s.fixed = len(s.cells) >= 20 && s.place.factor(); s.fixed {
		for k := range given {
			given[k].join(&s.beyond[k])
			s.all += given[k].beside(&s.place)
		}
	}
	return s
}

// unitOf is a way of a length as a unit vector, 0 where it has none.
func unitOf(way vec, length float64) vec {
	if length <= 1e-9 {
		return vec{}
	}
	over := 1 / length
	return vec{way.x * over, way.y * over, way.z * over}
}

// misfit is what a swelling leaves of the residual's variance at its place and
// around it, and what there was to explain: sums of squares about the bent plane
// that fits best, since a slow change of the light is no lump's.
//
// The place is that of over, which may be another swelling. Looks is how many
// cells are taken from its middle to its edge, few or many.
func (r *relit) misfit(b, over swelling, looks int) (left, all float64, n int) {
	s := r.siteOf(over, looks)
	if !s.fixed {
		return 0, 0, len(s.cells)
	}
	aside := b.x != over.x || b.y != over.y || b.wide > over.wide
	middle, half := &r.at[b.index(r)], b.wide/2
	var rest [3]trend
	if !aside {
		rest = s.beyond
	}
	for i := range s.cells {
		q := &s.cells[i]
		if q.beyond && !aside {
			continue
		}
		way, away := q.way, q.away
		u, v := q.u+over.x-b.x, q.v+over.y-b.y
		if aside {
			way, away = q.offset(middle, u, v, r.cell)
		}
		if up := b.rises(away / half); up != 0 {
			// what is seen here stands so high over a place nearer the head's middle
			u, v := u-up*middle.n.x/r.cell, v-up*middle.n.y/r.cell
			if foot := r.near(b.x+u, b.y+v); foot != nil {
				way, away = foot.offset(middle, u, v, r.cell)
			}
		}
		e0, e1, e2 := q.odd[0], q.odd[1], q.odd[2]
		if slope := b.slope(away / half); slope != 0 {
			n := vec{q.n.x + slope*way.x, q.n.y + slope*way.y, q.n.z + slope*way.z}
			square := n.x*n.x + n.y*n.y
			if n.z >= 0 {
				square += n.z * n.z
			}
			long := 1 / math.Sqrt(square)
			red, green, blue := r.look(vec{n.x * long, n.y * long, max(0, n.z*long)})
			e0 -= bounded(red - q.want[0])
			e1 -= bounded(green - q.want[1])
			e2 -= bounded(blue - q.want[2])
		}
		rest[0].add(e0, &q.base)
		rest[1].add(e1, &q.base)
		rest[2].add(e2, &q.base)
	}
	for k := range rest {
		left += rest[k].beside(&s.place)
	}
	return left, s.all, len(s.cells)
}

// bounded keeps what no tilt explains, the mirror image of a lamp or an edge of
// shadow, from outweighing all the rest.
func bounded(e float32) float64 {
	switch {
	case e > mostOdd:
		return mostOdd
	case e < -mostOdd:
		return -mostOdd
	}
	return float64(e)
}

const mostOdd = 1.0 // log ratio, a factor of e

// way is that from another place along the surface there, u and v cells across the
// photo, mm.
func (q *surface) way(from *surface, u, v, cell float64) vec {
	d := vec{u * cell, v * cell, q.z - from.z}
	n := &from.n
	up := d.x*n.x + d.y*n.y + d.z*n.z
	return vec{d.x - up*n.x, d.y - up*n.y, d.z - up*n.z}
}

// offset is that way as a unit vector and its length, mm.
func (q *surface) offset(from *surface, u, v, cell float64) (way vec, away float64) {
	d := q.way(from, u, v, cell)
	away = math.Sqrt(d.square())
	return unitOf(d, away), away
}

func (v vec) square() float64 { return v.x*v.x + v.y*v.y + v.z*v.z }

const few, many = 7, 11

// around is how far about a swelling the surface is looked at, in units of half
// its width: beyond its foot the head must be as it should.
const around = 1.5

// bend is a place in the base 1, u, v, u², uv, v².
func bend(u, v float64) [6]float64 { return [6]float64{1, u, v, u * u, u * v, v * v} }

// bends are the sums of products of places in that base; after factor, their
// Cholesky factor.
type bends [6][6]float64

func (m *bends) add(b *[6]float64) {
	_, u, v, uu, uv, vv := b[0], b[1], b[2], b[3], b[4], b[5]
	m[0][0]++
	m[1][0], m[1][1] = m[1][0]+u, m[1][1]+u*u
	m[2][0], m[2][1], m[2][2] = m[2][0]+v, m[2][1]+v*u, m[2][2]+v*v
	m[3][0], m[3][1], m[3][2], m[3][3] = m[3][0]+uu, m[3][1]+uu*u, m[3][2]+uu*v, m[3][3]+uu*uu
	m[4][0], m[4][1], m[4][2], m[4][3], m[4][4] = m[4][0]+uv, m[4][1]+uv*u, m[4][2]+uv*v, m[4][3]+uv*uu, m[4][4]+uv*uv
	m[5][0], m[5][1], m[5][2], m[5][3], m[5][4], m[5][5] = m[5][0]+vv, m[5][1]+vv*u, m[5][2]+vv*v, m[5][3]+vv*uu, m[5][4]+vv*uv, m[5][5]+vv*vv
}

func (m *bends) factor() bool {
	for i := range m {
		for j := range i + 1 {
			s := m[i][j]
			for k := range j {
				s -= m[i][k] * m[j][k]
			}
			if i > j {
				m[i][j] = s / m[j][j]
			} else if s < 1e-9 {
				return false
			} else {
				m[i][i] = math.Sqrt(s)
			}
		}
	}
	return true
}

// trend sums up values over places, to fit a bent plane.
type trend struct {
	square float64
	by     [6]float64
}

func (t *trend) add(value float64, b *[6]float64) {
	t.square += value * value
	t.by[0] += value * b[0]
	t.by[1] += value * b[1]
	t.by[2] += value * b[2]
	t.by[3] += value * b[3]
	t.by[4] += value * b[4]
	t.by[5] += value * b[5]
}

// join adds what another has summed up.
func (t *trend) join(o *trend) {
	t.square += o.square
	for i := range t.by {
		t.by[i] += o.by[i]
	}
}

// beside is the sum of squares about the best bent plane.
func (t *trend) beside(m *bends) float64 {
	left := t.square
	var y [6]float64
	for i := range y {
		s := t.by[i]
		for k := range i {
			s -= m[i][k] * y[k]
		}
		y[i] = s / m[i][i]
		left -= y[i] * y[i]
	}
	return max(0, left)
}

// rises is the height at t for a bare rise; the others are too shallow to matter.
func (b swelling) rises(t float64) float64 {
	if b.form != rise || t >= 1 {
		return 0
	}
	return b.height * sq(1-t*t)
}

// slope is how steeply the swelling falls outwards.
func (b swelling) slope(t float64) float64 {
	if b.form == socket {
		w := (t - socketRim) * b.wide / 2 / socketWall
		if w < -1 || w > 1 {
			return 0
		}
		return b.height / socketWall * (1 - w*w) * 0.75
	}
	if t >= 1 {
		return 0
	}
	if b.form == crater {
		return 2 * b.height * t * (1 - t*t) * (4.5 - 7.5*t*t) / (b.wide / 2)
	}
	return 4 * b.height * t * (1 - t*t) / (b.wide / 2)
}

// A socket's wall stands at socketRim of half its width and is twice socketWall
// wide, mm; it ends at socketFoot.
const socketRim, socketWall = 0.9, 0.12

func socketFoot(wide float64) float64 { return socketRim + 2*socketWall/wide }

func (b swelling) index(r *relit) int { return int(b.y+0.5)*r.w + int(b.x+0.5) }

// near is the cell about a place, nil off the head.
func (r *relit) near(x, y float64) *surface {
	i, j := int(x+0.5), int(y+0.5)
	if i < 0 || j < 0 || i >= r.w || j >= r.h || !r.at[j*r.w+i].on {
		return nil
	}
	return &r.at[j*r.w+i]
}

// holds tells whether a swelling's middle is on the head.
func (r *relit) holds(b swelling) bool {
	return b.x >= 1 && b.y >= 1 && b.x <= float64(r.w-2) && b.y <= float64(r.h-2) && r.at[b.index(r)].on
}

// foot is the share of a swelling's foot, as it lies in the photo, where coat is seen.
func (r *relit) foot(b swelling) float64 {
	reach := b.wide / 2 / r.cell
	c := &r.at[b.index(r)]
	n, on := 0.0, 0.0
	for y := int(b.y - reach); y <= int(b.y+reach); y++ {
		for x := int(b.x - reach); x <= int(b.x+reach); x++ {
			// the foot's circle is seen shortened along the slope
			u, v := (float64(x)-b.x)*r.cell, (float64(y)-b.y)*r.cell
			up := -(u*c.n.x + v*c.n.y) / c.n.z
			if u*u+v*v+up*up > sq(b.wide/2) {
				continue
			}
			n++
			if x < 0 || y < 0 || x >= r.w || y >= r.h {
				continue
			}
			if r.at[y*r.w+x].on {
				on++
			}
		}
	}
	return on / max(n, 1)
}
