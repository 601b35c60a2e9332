package inspect

import (
	"cmp"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// A bump is a place of the face that is shaded as a rise there would be, whatever its
// height and the coat's tone at its tilts: what a lump shows also where a head's own
// tones, its tilts or its light are not known well enough to measure one.
type bump struct {
	swelling         // its height is what fits best, not a measure
	share    float64 // of what is odd about the place, explained
	along    float64 // correlation with what the head's tones say of such a rise
	left     float64 // what the rise leaves, in squares of the coat's scatter
}

const (
	// leastBump is the width in mm from which on a bump may be a lump. A void of the
	// casting that was painted over is a millimetre across; common practice, no source.
	leastBump = 1.2
	// alike is the least correlation: a hollow gives a negative one, a mark none.
	alike = 0.6
	// mostBetter is how much worse than a lump everything else counts at most by one look.
	mostBetter = 4
	// lumpDoubt is the standard uncertainty of a lump's height, in shares of it: of 32 with known
	// truth it comes out at 0.96 ± 0.26 of that.
	lumpDoubt = 0.3
	// mostApart is how many times the least height by any look the largest one may be, for the
	// height to be told.
	mostApart = 2.0
	// mostSteep is the largest height of a bump as a share of its width: half a ball.
	mostSteep = 0.5
	// leastStands is how large the root mean square of the change that a bump explains must be,
	// in units of the coat's scatter: what is as strong elsewhere is no evidence. On 213 drawn
	// photographs lumps in gloss and flakes change it by 0.78 and more, what only
	// the head's own tones make lumps of by 0.31 and less.
	leastStands = 0.6
	// leastWith is the share of what is odd about a place that a rise must explain there for the
	// place to be looked at closely.
	leastWith = 0.5
	// mostPlaces of each search are looked at closely: with half as many again no lump more is found.
	mostPlaces = 4
	// restless is the mean square of what is odd within unrestMM about a place, in units
	// of the coat's scatter, from which on a bump is sought there: noise gives one.
	restless, unrestMM = 1.2, 0.35
)

// likely are the bumps, not settled yet, that explain much where they are, those that
// say most first.
func (t *toned) likely() ([]bump, error) {
	const apart, tried = 0.5, 10 // mm, bumps
	unrest, err := cv.Gaussian(t.unrest, unrestMM/t.cell)
	if err != nil {
		return nil, err
	}
	var all []bump
	step := max(2, int(0.35/t.cell))
	for y := step; y < t.h-step; y += step {
		for x := step; x < t.w-step; x += step {
			i := y*t.w + x
			if !t.at[i].on || t.at[i].n.z < steepestView || unrest.Pix[i] < restless {
				continue
			}
			b := t.best(bump{}, float64(x), float64(y), []float64{1.3, 2}, []float64{0.25})
			if b.share > leastShare/3 {
				all = append(all, b)
			}
		}
	}
	all = t.bestApart(all, apart, tried)
	for k, b := range all {
		for _, by := range [5][2]float64{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			all[k] = t.best(all[k], b.x+0.2*by[0]/t.cell, b.y+0.2*by[1]/t.cell, []float64{1.3, 1.8, 2.4}, []float64{0.15, 0.4})
		}
	}
	return t.bestApart(all, apart, mostPlaces), nil
}

// best is a bump or, when that says more, the one at a place of some widths, mm, and
// heights, shares of them, that says most.
func (t *toned) best(b bump, x, y float64, widths, ratios []float64) bump {
	for _, wide := range widths {
		for _, ratio := range ratios {
			if f := t.fit(swelling{x, y, wide, ratio * wide, rise}, few); f.weight() > b.weight() {
				b = f
			}
		}
	}
	return b
}

// bestApart are the most bumps that say most and lie apart, in mm.
func (t *toned) bestApart(all []bump, apart float64, most int) (kept []bump) {
	slices.SortStableFunc(all, func(a, b bump) int { return cmp.Compare(b.weight(), a.weight()) })
	for _, b := range all {
		if len(kept) < most && !slices.ContainsFunc(kept, func(k bump) bool { return math.Hypot(b.x-k.x, b.y-k.y)*t.cell < apart }) {
			kept = append(kept, b)
		}
	}
	return kept
}

// weight is how much a bump says: how much it explains in the way that the head's own tones
// say, and over how wide a place.
func (b bump) weight() float64 { return -b.wide * math.Log(max(1-b.share*max(0, b.along), 1e-3)) }

// rival is how many times as much as a bump the best of all else leaves that could look so.
func (t *toned) rival(b *bump) float64 {
	cells := t.cells(b.swelling, many)
	least := mostBetter * b.left
	explain := func(n int, of func(*tonedCell, *terms)) {
		left, _ := t.left(cells, n, 0, of)
		least = min(least, left)
	}
	explain(4, bent)
	if n, ok := t.lightest(b.swelling); ok {
		explain(3, func(q *tonedCell, to *terms) { lobe(q, n, to) })
	}
	if t.eye.Pix != nil {
		explain(3, beneath)
	}
	for _, wide := range [4]float64{0.6, 0.8, 1, 1.25} {
		if !t.flat {
			explain(3, func(q *tonedCell, to *terms) { mark(q, wide*b.wide, to) })
			continue
		}
		for _, power := range [3]float64{0.5, 1, 2} { // under even light a lump on a flat face is a ring, which a mark's terms together would follow
			explain(1, func(q *tonedCell, to *terms) {
				to.common = [5]float64{math.Pow(max(0, 1-sq(q.away/(wide*b.wide/2))), power)}
			})
		}
	}
	for k := range edgeWays {
		sin, cos := math.Sincos(math.Pi * float64(k) / edgeWays)
		for _, at := range [7]float64{-0.9, -0.6, -0.3, 0, 0.3, 0.6, 0.9} {
			explain(3, func(q *tonedCell, to *terms) { edge((q.u*cos+q.v*sin)*t.cell-at*b.wide/2, to) })
		}
	}
	return least / max(b.left, 1e-9)
}

// stands tells whether the change that a bump explains stands out of the coat's scatter.
func (t *toned) stands(b *bump) bool {
	n := float64(len(t.cells(b.swelling, many)))
	return b.left*b.share/(1-b.share) >= sq(leastStands)*3*n
}

const edgeWays = 8

// bent are the terms of a light that changes slowly in a way that a bent plane does not
// follow.
func bent(q *tonedCell, to *terms) {
	u, v := q.base[1], q.base[2]
	to.common = [5]float64{u * u * u, u * u * v, u * v * v, v * v * v}
}

// beneath are the terms of the shade that an eye before the head takes it in: it stands off by
// a wire's thickness or a few.
func beneath(q *tonedCell, to *terms) {
	for k, reach := range [3]float64{0.3, 0.6, 1.2} { // mm
		to.common[k] = math.Exp(-q.eye / reach)
	}
}

// mark are the terms of a round mark.
func mark(q *tonedCell, wide float64, to *terms) {
	s := max(0, 1-sq(q.away/(wide/2)))
	to.common = [5]float64{s, s * s, s * s * s * s}
}

// lobe are the terms of a lamp's mirror image in a smooth head: a matter of how far the
// normal is from one that mirrors the lamp.
func lobe(q *tonedCell, lamp vec, to *terms) {
	d := sq(q.n.x-lamp.x) + sq(q.n.y-lamp.y) + sq(q.n.z-lamp.z)
	for k, wide := range [3]float64{0.1, 0.2, 0.35} { // radians
		to.common[k] = math.Exp(-d / (2 * wide * wide))
	}
}

// lightest is the normal of the place about a swelling that is lightest beyond what is expected.
func (t *toned) lightest(b swelling) (n vec, ok bool) {
	most := float32(0)
	reach := around / 2 * b.wide / t.cell
	for y := max(0, int(b.y-reach)); y <= min(t.h-1, int(b.y+reach)); y++ {
		for x := max(0, int(b.x-reach)); x <= min(t.w-1, int(b.x+reach)); x++ {
			i := y*t.w + x
			d := &t.odd[i].residual
			if v := min(d[0], d[1], d[2]); t.at[i].on && v > most && math.Hypot(float64(x)-b.x, float64(y)-b.y) < reach {
				most, n, ok = v, t.at[i].n, true
			}
		}
	}
	return n, ok
}

// edge are the terms of a straight edge or line, given how far it is, mm.
func edge(away float64, to *terms) {
	const soft = 0.12 // mm
	s := away / soft
	to.common = [5]float64{math.Tanh(s), 1 / sq(math.Cosh(s)), 1 / sq(math.Cosh(s/3))}
}

// toned is a head's relit surface with how far its tones scatter at the wavelengths of
// lumps, without the ring of a socket.
type toned struct {
	*relit
	spread [3]float64 // of each tone
	out    []bool     // the ring
	unrest cv.Plane   // mean square of what is odd about each cell, in those units

	last  []tonedCell // see cells
	over  swelling
	looks int
}

// without is the head without the place of a swelling, see relit.without.
func (t *toned) without(b swelling) *toned {
	o := *t
	o.relit, o.last, o.over = t.relit.without(b), nil, swelling{}
	return &o
}

func (r *relit) toned() (*toned, error) {
	const fine, slow = 0.12, 0.9 // mm
	t := &toned{relit: r, out: make([]bool, len(r.at)), unrest: cv.NewPlane(r.w, r.h)}
	ring, ok, err := r.findRing()
	if err != nil {
		return nil, err
	}
	for i := range t.out {
		t.out[i] = ok && math.Abs(r.fromMiddle(ring, i%r.w, i/r.w)-ring.radius) < ringReach
	}
	one := func(*surface, *odd) float32 { return 1 }
	near, err := r.smooth(one, fine)
	if err != nil {
		return nil, err
	}
	around, err := r.smooth(one, slow)
	if err != nil {
		return nil, err
	}
	for k := range t.spread {
		of := func(_ *surface, o *odd) float32 { return float32(bounded(o.residual[k])) }
		band, err := r.smooth(of, fine)
		if err != nil {
			return nil, err
		}
		wide, err := r.smooth(of, slow)
		if err != nil {
			return nil, err
		}
		var off []float64
		for i := range r.at {
			if r.at[i].on && near.Pix[i] > 0.5 && around.Pix[i] > 0.5 {
				band.Pix[i] = band.Pix[i]/near.Pix[i] - wide.Pix[i]/around.Pix[i]
				off = append(off, math.Abs(float64(band.Pix[i])))
			} else {
				band.Pix[i] = 0
			}
		}
		t.spread[k] = usualOf(off)
		for i, v := range band.Pix {
			if !t.out[i] {
				t.unrest.Pix[i] += min(v*v/float32(sq(t.spread[k])), 9) / 3
			}
		}
	}
	return t, nil
}
