package inspect

import "math"

// mostScatters is how many times its scatter a tone may be off, so that an edge or a lamp's
// mirror image beside a place does not outweigh it: a lump's flank is off by two to ten.
const mostScatters = 12

// tonedCell is a cell about a swelling's middle: u, v its place in cells from there, away
// how far that is along the surface, mm, and way the unit vector there.
type tonedCell struct {
	*surface
	u, v, away float64
	eye        float64 // how far the eye is, mm, where it hides the head
	way        vec
	base       [6]float64 // of a bent plane
	want       [3]float64 // tone expected there beyond that in the middle
	want0      *[3]float32
	seen       [3]float64 // tone beyond that expected in the middle, in units of its scatter
}

// terms are what may change the tones, beside a bent plane and what the head's own form
// does: some by which all may change, and one for each tone alone.
type terms struct {
	common [5]float64
	own    [3]float64
}

// cells are those about a swelling on which it is to be told. The last ones are kept:
// swellings of many heights are tried in the same place.
func (t *toned) cells(b swelling, looks int) []tonedCell {
	over := swelling{x: b.x, y: b.y, wide: b.wide}
	if t.over == over && t.looks == looks {
		return t.last
	}
	cells := t.last[:0]
	reach := around / 2 * b.wide / t.cell
	stride := max(1, int(math.Round(reach/float64(looks))))
	m := b.index(t.relit)
	middle := &t.at[m]
	for y := max(0, int(b.y-reach)); y <= min(t.h-1, int(b.y+reach)); y += stride {
		for x := max(0, int(b.x-reach)); x <= min(t.w-1, int(b.x+reach)); x += stride {
			i := y*t.w + x
			if !t.at[i].on || t.out[i] || t.mirrors(i) || t.besideMirror(x, y) {
				continue
			}
			c := tonedCell{surface: &t.at[i], u: float64(x) - b.x, v: float64(y) - b.y, want0: &t.odd[i].want}
			way, away := c.offset(middle, c.u, c.v, t.cell)
			if away > around/2*b.wide {
				continue
			}
			c.away, c.way, c.base = away, way, bend(c.u/reach, c.v/reach)
			if t.eye.Pix != nil {
				c.eye = float64(t.eye.Pix[i]) * t.cell
			}
			for k := range c.want {
				c.want[k] = float64(t.odd[i].want[k] - t.odd[m].want[k])
				c.seen[k] = c.want[k]/t.spread[k] + min(max(float64(t.odd[i].residual[k])/t.spread[k], -mostScatters), mostScatters)
			}
			cells = append(cells, c)
		}
	}
	t.last, t.over, t.looks = cells, over, looks
	return cells
}

// fit is a bump at the place of a swelling, with its width and height, and how much it
// explains.
//
// The tone of a coat is a smooth function of the surface's normal: under light from
// everywhere one of second order (R. Ramamoorthi and P. Hanrahan, J. Opt. Soc. Am. A 18,
// 2448–2459, 2001). So a rise changes each tone by a quadratic in how far it turns the
// normal, and by what the head's own tones say of that; how much of each is left open.
// It is held against a bent plane and the change that the head's own form makes.
func (t *toned) fit(b swelling, looks int) bump {
	out := bump{swelling: b}
	if !t.holds(b) {
		return out
	}
	cells := t.cells(b, looks)
	if len(cells) < leastCells {
		return out
	}
	middle := &t.at[b.index(t.relit)]
	var s normals
	var to terms
	for i := range cells {
		t.turned(b, middle, &cells[i], &to)
		s.add(&cells[i], &to, 5)
	}
	var all, both, fitted, said float64
	for k := range 3 {
		one := s.of(k, 5)
		terms := one.m // their sums of products, which left turns into a Cholesky factor
		l, a := one.left(6)
		out.left, all = out.left+l, all+a
		one.solve(13)
		for i := 7; i < 13; i++ {
			for j := 7; j <= i; j++ {
				v := terms[i][j] * one.by[i] * one.by[j]
				if j < i {
					v *= 2
				}
				fitted += v
			}
			both += terms[12][i] * one.by[i] / t.spread[k]
		}
		said += terms[12][12] / sq(t.spread[k])
	}
	out.share = 1 - out.left/max(all, 1e-9)
	out.along = both / math.Sqrt(max(fitted*said, 1e-12))
	return out
}

// turned are the terms by which a swelling changes a cell's tones.
func (t *toned) turned(b swelling, middle *surface, q *tonedCell, to *terms) {
	*to = terms{}
	way, away := q.way, q.away
	if up := b.rises(away / (b.wide / 2)); up != 0 {
		// what is seen here stands so high over a place nearer the head's middle
		u, v := q.u-up*middle.n.x/t.cell, q.v-up*middle.n.y/t.cell
		if foot := t.near(b.x+u, b.y+v); foot != nil {
			way, away = foot.offset(middle, u, v, t.cell)
		}
	}
	slope := b.slope(away / (b.wide / 2))
	if slope == 0 {
		return
	}
	n := vec{q.n.x + slope*way.x, q.n.y + slope*way.y, max(0, q.n.z+slope*way.z)}
	long := 1 / math.Sqrt(n.x*n.x+n.y*n.y+n.z*n.z)
	n = vec{n.x * long, n.y * long, n.z * long}
	dx, dy := n.x-q.n.x, n.y-q.n.y
	red, green, blue := t.look(n)
	to.common = [5]float64{dx, dy, dx * dx, dx * dy, dy * dy}
	to.own = [3]float64{float64(red - q.want0[0]), float64(green - q.want0[1]), float64(blue - q.want0[2])}
}

// left is the sum of squares that the first n common terms and, with one more, those of
// each tone leave of the tones about a place, in units of their scatter, beside a bent plane
// and the head's own form, and all that those alone leave.
func (t *toned) left(cells []tonedCell, n, more int, of func(*tonedCell, *terms)) (left, all float64) {
	var s normals
	var to terms
	for i := range cells {
		of(&cells[i], &to)
		s.add(&cells[i], &to, n)
	}
	for k := range 3 {
		one := s.of(k, n)
		l, a := one.left(n + more)
		left, all = left+l, all+a
	}
	return left, all
}

// normals are the sums of products for the normal equations of fits to three tones that
// have most of their terms in common.
type normals struct {
	m          [11][11]float64 // a bent plane and the common terms
	want, own  [3][11]float64  // those with the head's form and each tone's own term
	ww, wo, oo [3]float64
	by         [3][13]float64 // the tones with all, in that order
	square     [3]float64
}

func (s *normals) add(q *tonedCell, to *terms, n int) {
	var row [11]float64
	copy(row[:6], q.base[:])
	copy(row[6:], to.common[:n])
	for i := range 6 + n {
		r := row[i]
		if r == 0 {
			continue
		}
		m := &s.m[i]
		for j := range i + 1 {
			m[j] += r * row[j]
		}
		for k := range 3 {
			s.want[k][i] += r * q.want[k]
			s.own[k][i] += r * to.own[k]
			s.by[k][i] += r * q.seen[k]
		}
	}
	for k := range 3 {
		w, o, v := q.want[k], to.own[k], q.seen[k]
		s.ww[k], s.wo[k], s.oo[k] = s.ww[k]+w*w, s.wo[k]+w*o, s.oo[k]+o*o
		s.by[k][11], s.by[k][12] = s.by[k][11]+w*v, s.by[k][12]+o*v
		s.square[k] += v * v
	}
}

// of are the equations for one tone, with n common terms.
func (s *normals) of(k, n int) (one normal) {
	place := func(i int) int { // the head's form comes before the common terms
		if i < 6 {
			return i
		}
		return i + 1
	}
	for i := range 6 + n {
		for j := range i + 1 {
			one.m[place(i)][place(j)] = s.m[i][j]
		}
		one.by[place(i)] = s.by[k][i]
		if i < 6 {
			one.m[6][i] = s.want[k][i]
		} else {
			one.m[i+1][6] = s.want[k][i]
		}
		one.m[7+n][place(i)] = s.own[k][i]
	}
	one.m[6][6], one.by[6] = s.ww[k], s.by[k][11]
	one.m[7+n][6], one.m[7+n][7+n], one.by[7+n] = s.wo[k], s.oo[k], s.by[k][12]
	one.square = s.square[k]
	return one
}

// normal are the normal equations of a fit of least squares to one tone: a bent plane,
// the head's form and up to six terms.
type normal struct {
	m      [13][13]float64
	by     [13]float64
	square float64
}

// left is what the fit leaves of the sum of squares, and all what it leaves without its n
// terms.
func (s *normal) left(n int) (left, all float64) {
	const ridge = 1e-5 // keeps terms that are no different from one another from ending it
	left = s.square
	all = left
	for i := range 7 + n {
		s.m[i][i] += ridge * (1 + s.m[i][i])
		for j := range i + 1 {
			v := s.m[i][j]
			for k := range j {
				v -= s.m[i][k] * s.m[j][k]
			}
			if i > j {
				s.m[i][j] = v / s.m[j][j]
			} else {
				s.m[i][i] = math.Sqrt(max(v, 1e-12))
			}
		}
		v := s.by[i]
		for k := range i {
			v -= s.m[i][k] * s.by[k]
		}
		s.by[i] = v / s.m[i][i]
		left -= s.by[i] * s.by[i]
		if i == 6 {
			all = max(0, left)
		}
	}
	return max(0, left), all
}

// solve turns by into the coefficients, after left.
func (s *normal) solve(n int) {
	for i := n - 1; i >= 0; i-- {
		v := s.by[i]
		for k := i + 1; k < n; k++ {
			v -= s.m[k][i] * s.by[k]
		}
		s.by[i] = v / s.m[i][i]
	}
}

// settle moves a bump to where it says most.
func (t *toned) settle(b bump) bump {
	best := bump{}
	for _, wide := range [3]float64{0.75, 1, 1.3} {
		for _, ratio := range [3]float64{0.12, 0.25, 0.4} {
			m := swelling{b.x, b.y, wide * b.wide, ratio * wide * b.wide, rise}
			if !t.shows(m) {
				continue
			}
			if f := t.fit(m, many); f.weight() > best.weight() {
				best = f
			}
		}
	}
	for _, step := range [3]float64{0.3, 0.15, 0.07} {
		for again := true; again; {
			again = false
			s := best.swelling
			d := step * s.wide / 2 / t.cell
			for _, m := range [12]swelling{
				{s.x + d, s.y, s.wide, s.height, rise}, {s.x - d, s.y, s.wide, s.height, rise},
				{s.x, s.y + d, s.wide, s.height, rise}, {s.x, s.y - d, s.wide, s.height, rise},
				{s.x + d, s.y + d, s.wide, s.height, rise}, {s.x - d, s.y - d, s.wide, s.height, rise},
				{s.x - d, s.y + d, s.wide, s.height, rise}, {s.x + d, s.y - d, s.wide, s.height, rise},
				{s.x, s.y, s.wide * (1 + step), s.height * (1 + step), rise}, {s.x, s.y, s.wide / (1 + step), s.height / (1 + step), rise},
				{s.x, s.y, s.wide, s.height * (1 + step), rise}, {s.x, s.y, s.wide, s.height / (1 + step), rise},
			} {
				if m.wide < leastWide || m.wide > widestTried || m.height < 0.05*m.wide || m.height > mostSteep*m.wide || !t.shows(m) {
					continue
				}
				if f := t.fit(m, many); f.weight() > 1.005*best.weight() {
					best, again = f, true
				}
			}
		}
	}
	return best
}

// shows tells whether enough of a swelling's foot is coat that is seen.
func (t *toned) shows(b swelling) bool {
	return t.holds(b) && t.foot(b) >= leastOn
}

// besideMirror tells whether a cell lies along the edge of a lamp's mirror image, some of
// whose light it holds.
func (t *toned) besideMirror(x, y int) bool {
	const lighter = 0.1 // log ratio, a quarter of what mirrors
	const least = 3     // of the cells about it: a glint of a flake is one
	if d := &t.odd[y*t.w+x].residual; min(d[0], d[1], d[2]) < lighter {
		return false
	}
	n := 0
	for v := max(0, y-1); v <= min(t.h-1, y+1); v++ {
		for u := max(0, x-1); u <= min(t.w-1, x+1); u++ {
			if t.mirrors(v*t.w + u) {
				n++
			}
		}
	}
	return n >= least
}
