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
	rival    float64 // the least that anything else leaves, in units of that
}

const (
	// leastBump is the width in mm from which on a bump may be a lump. A void of the
	// casting that was painted over is a millimetre across; common practice, no source.
	leastBump = 1.2
	// alike is the least correlation: a hollow gives a negative one, a mark none.
	alike = 0.6
	// surelyAlike is that from which on a bump is a lump, if all else leaves twice as much, and
	// what fits best its height: on 8 lumps with known truth that was off by 0.29 of
	// itself, root mean square, and of 443 photographs it made none where there is no
	// lump or sag.
	surelyAlike, surelyBetter, bumpDoubt = 0.9, 2, 0.3
	// mostSteep is the largest height of a bump as a share of its width: half a ball.
	mostSteep = 0.5
	// leastStands is how large the root mean square of the change that a bump explains must be,
	// in units of the coat's scatter: what is as strong elsewhere is no evidence. On 213 drawn
	// photographs lumps in gloss and flakes change it by 0.78 and more, what only the first search
	// took for lumps by 0.31 and less.
	leastStands = 0.6
	// restless is the mean square of what is odd within unrestMM about a place, in units
	// of the coat's scatter, from which on a bump is sought there: noise gives one.
	restless, unrestMM = 1.2, 0.35
)

// measureBumps finds the places of the face that are none of the faults known so far and are
// shaded as rises: those that surely are lumps, and those that may be.
func (f *film) measureBumps(t *toned, known []ReliefFault) (lumps, doubtful []ReliefFault, err error) {
	bumps, err := t.bumps()
	for _, b := range bumps {
		fault := f.lumpAt(t.relit, b.swelling, b.share, bumpDoubt*b.height)
		switch {
		case slices.ContainsFunc(known, fault.overlaps):
		case b.sure() && t.plain(b.swelling):
			lumps = append(lumps, fault)
		default:
			doubtful = append(doubtful, fault.doubtful())
		}
	}
	return lumps, doubtful, err
}

// sure tells of a rise whether it surely is a lump, of about the height that fits best.
func (b bump) sure() bool { return b.along > surelyAlike && b.rival > surelyBetter }

// plain tells whether all of a swelling is seen to be coat, without a lamp's mirror image: where
// one lies in it the height that fits best may be off by half and more.
func (t *toned) plain(b swelling) bool {
	reach := b.wide / 2 / t.cell
	n, plain := 0, 0
	for y := max(0, int(b.y-reach)); y <= min(t.h-1, int(b.y+reach)); y++ {
		for x := max(0, int(b.x-reach)); x <= min(t.w-1, int(b.x+reach)); x++ {
			if math.Hypot(float64(x)-b.x, float64(y)-b.y) > reach {
				continue
			}
			switch i := y*t.w + x; {
			case t.at[i].on:
				n++
				if !t.mirrors(i) {
					plain++
				}
			case t.at[i].known: // of the body, and no coat
				n++
			}
		}
	}
	return float64(plain) >= leastKnown*float64(n)
}

// bumps are the places of the face that are shaded as rises.
func (t *toned) bumps() ([]bump, error) {
	likely, err := t.likely()
	if err != nil {
		return nil, err
	}
	var kept []bump
	for _, c := range likely {
		if slices.ContainsFunc(kept, func(k bump) bool { return math.Hypot(c.x-k.x, c.y-k.y)*t.cell < k.wide/2 }) {
			continue
		}
		if b := t.settle(c); t.isRise(&b) && !slices.ContainsFunc(kept, func(k bump) bool { return math.Hypot(b.x-k.x, b.y-k.y)*t.cell < (b.wide+k.wide)/2 }) {
			kept = append(kept, b)
		}
	}
	return kept, nil
}

// likely are the bumps, not settled yet, that explain much where they are, those that
// say most first.
func (t *toned) likely() ([]bump, error) {
	const apart, tried, most = 0.5, 10, 6 // mm, bumps, bumps
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
	return t.bestApart(all, apart, most), nil
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

// isRise holds a bump against what else could look so.
func (t *toned) isRise(b *bump) bool {
	if b.share < leastShare || b.along < alike || b.wide < leastBump || b.wide > mostWide || b.height < leastFlank*b.wide || t.at[b.index(t.relit)].n.z < steepestView {
		return false
	}
	if _, on := t.foot(b.swelling); on < leastOn {
		return false
	}
	if !t.stands(b) {
		return false
	}
	cells := t.cells(b.swelling, many)
	b.rival = math.Inf(1)
	explains := func(n int, of func(*tonedCell, *terms)) bool {
		left, _ := t.left(cells, n, 0, of)
		b.rival = min(b.rival, left/max(b.left, 1e-9))
		return b.rival < rivalry
	}
	if explains(4, bent) {
		return false
	}
	if n, ok := t.lightest(b.swelling); ok && explains(3, func(q *tonedCell, to *terms) { lobe(q, n, to) }) {
		return false
	}
	for _, wide := range [4]float64{0.6, 0.8, 1, 1.25} {
		if explains(3, func(q *tonedCell, to *terms) { mark(q, wide*b.wide, to) }) {
			return false
		}
	}
	for k := range edgeWays {
		sin, cos := math.Sincos(math.Pi * float64(k) / edgeWays)
		for _, at := range [7]float64{-0.9, -0.6, -0.3, 0, 0.3, 0.6, 0.9} {
			if explains(3, func(q *tonedCell, to *terms) { edge((q.u*cos+q.v*sin)*t.cell-at*b.wide/2, to) }) {
				return false
			}
		}
	}
	return !t.besideHollow(*b)
}

// besideHollow tells whether a hollow beside a bump explains as much of what is odd about
// its own place as the bump does there: its wall is the bump's flank.
func (t *toned) besideHollow(b bump) bool {
	const steep = 0.15 // of its width; fit leaves open how much it changes the tones
	for k := range edgeWays {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / edgeWays)
		for _, at := range [3]float64{0.5, 0.75, 1} {
			aside := at * b.wide / 2 / t.cell
			for _, ratio := range [3]float64{0.5, 0.7, 0.9} {
				wide := ratio * b.wide
				h := t.fit(swelling{b.x + aside*cos, b.y + aside*sin, wide, -steep * wide, rise}, many)
				if h.along >= alike && h.share >= b.share {
					return true
				}
			}
		}
	}
	return false
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
