package inspect

import (
	"math"
	"slices"
)

// A placing maps the places of one photo onto another of the same piece in the
// same pose: turned, enlarged and moved. With z = x + iy it is z′ = turn·z + move.
type placing struct{ turn, move complex128 }

func (m placing) at(p Point) Point {
	z := m.turn*complex(p.X, p.Y) + m.move
	return Point{real(z), imag(z)}
}

// How far photos of one set-up may differ, and what makes two outlines the same.
const (
	mostTurnDeg  = 20   // a camera held by hand
	mostEnlarged = 1.15 // likewise
	sameShare    = 0.75 // of either outline that must lie on the other: a shadow spoils a side, not more
	sameWire     = 0.3  // of the wire, which the shadow beside it spoils more: of well registered pairs under two lamps 0.43 and more
)

// register finds the placing of a head in another photo by its outline and the
// wire's (iterated closest points: P. J. Besl and N. D. McKay, IEEE Trans.
// Pattern Anal. Mach. Intell. 14(2), 239–256, 1992, doi:10.1109/34.121791; the
// farthest quarter of the pairs has no say). Not ok when the two outlines are
// not one: then the piece has moved, or one photo's outline is lost. A body of
// revolution that has rolled about its axis keeps its outline; only its wire
// shows it, and little of it.
func register(a, b *lit) (m placing, ok bool) {
	if len(a.outline) < 20 || len(b.outline) < 20 {
		return m, false
	}
	from, to := a.contour(), b.contour()
	least := math.Inf(1)
	for deg := -mostTurnDeg; deg <= mostTurnDeg; deg += 5 {
		sin, cos := math.Sincos(float64(deg) * math.Pi / 180)
		try := placing{turn: complex(cos, sin)}
		try.move = b.centre.z() - try.turn*a.centre.z()
		var off float64
		for range 25 {
			try, off = try.closer(from, to)
		}
		if off < least {
			least, m = off, try
		}
	}
	size := math.Hypot(real(m.turn), imag(m.turn))
	if size > mostEnlarged || size < 1/mostEnlarged {
		return m, false
	}
	near := 0.02*b.radius + 1.5*float64(b.Step)
	if m.share(a.outline, b.outline, near) < sameShare || m.back().share(b.outline, a.outline, near/size) < sameShare {
		return m, false
	}
	if few := 30; len(a.wire) < few || len(b.wire) < few {
		return m, true
	}
	return m, m.share(a.wire, b.wire, 2*near) > sameWire && m.back().share(b.wire, a.wire, 2*near/size) > sameWire
}

func (p Point) z() complex128 { return complex(p.X, p.Y) }

// back is the placing the other way round.
func (m placing) back() placing { return placing{1 / m.turn, -m.move / m.turn} }

// contour is outline and wire, thinned: a few hundred places fix four numbers.
func (a *lit) contour() []Point {
	var out []Point
	for _, part := range [][]Point{a.outline, a.wire} {
		step := max(1, len(part)/150)
		for k := 0; k < len(part); k += step {
			out = append(out, part[k])
		}
	}
	return out
}

// nearest is the place of a line nearest to p and its distance.
func nearest(p Point, line []Point) (q Point, away float64) {
	away = math.Inf(1)
	for _, o := range line {
		if d := (o.X-p.X)*(o.X-p.X) + (o.Y-p.Y)*(o.Y-p.Y); d < away {
			q, away = o, d
		}
	}
	return q, math.Sqrt(away)
}

// closer is one round of closest points: the placing that brings the nearer
// three quarters of the pairs together, least squares, and their root mean
// square distance before it.
func (m placing) closer(from, to []Point) (placing, float64) {
	type pair struct {
		p, q Point
		away float64
	}
	pairs := make([]pair, len(from))
	for k, p := range from {
		q, away := nearest(m.at(p), to)
		pairs[k] = pair{p, q, away}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		switch {
		case a.away < b.away:
			return -1
		case a.away > b.away:
			return 1
		}
		return 0
	})
	pairs = pairs[:max(3, len(pairs)*3/4)]
	var pm, qm complex128
	off := 0.0
	for _, v := range pairs {
		pm, qm, off = pm+v.p.z(), qm+v.q.z(), off+v.away*v.away
	}
	n := complex(float64(len(pairs)), 0)
	pm, qm = pm/n, qm/n
	var cross complex128
	square := 0.0
	for _, v := range pairs {
		p, q := v.p.z()-pm, v.q.z()-qm
		cross += complex(real(p), -imag(p)) * q
		square += real(p)*real(p) + imag(p)*imag(p)
	}
	if square == 0 {
		return m, math.Inf(1)
	}
	turn := cross / complex(square, 0)
	return placing{turn, qm - turn*pm}, math.Sqrt(off / real(n))
}

// share is the share of places that come to lie near a line.
func (m placing) share(from, line []Point, near float64) float64 {
	n := 0
	for _, p := range from {
		if _, away := nearest(m.at(p), line); away <= near {
			n++
		}
	}
	return float64(n) / float64(max(len(from), 1))
}
