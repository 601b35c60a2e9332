package inspect

import "math"

// places are the mean colours of the sectors of each ring of equal viewing
// angle, with Px 0 where too little was seen. They set a photo against its
// lamp-moved twin, the same places lit from elsewhere.
type places [bins][ringParts]TravelBin

// placesOf takes the colours of the sectors of the coat.
func (l *look) placesOf(sectors *[bins][ringParts]sector) *places {
	var out places
	for k := range sectors {
		for part, s := range sectors[k] {
			if s.kept < leastBin/2 {
				continue
			}
			light := lightDoubt(s.mean.L, l.card.Residual)
			out[k][part] = TravelBin{ViewingDeg: (float64(k) + 0.5) * binDeg, L: s.mean.L, A: s.mean.A, B: s.mean.B, Px: s.kept,
				U: math.Hypot(s.spread/math.Sqrt(float64(s.kept)/clusterPx), light)}
		}
	}
	return &out
}

// lampMoves compares the photos of a piece with the first one of their view, if
// that has the lamp elsewhere. seen are their places, nil of a photo without.
func lampMoves(photos []Photo, seen []*places) []LampMove {
	moves := []LampMove{}
	first := map[string]int{}
	for k, ph := range photos {
		if !ph.Usable || seen[k] == nil {
			continue
		}
		j, known := first[ph.View]
		if !known {
			first[ph.View] = k
			continue
		}
		if photos[j].Lamp != ph.Lamp {
			if changes := lampChanges(seen[j], seen[k]); len(changes) > 0 {
				moves = append(moves, LampMove{View: ph.View, Files: [2]string{photos[j].File, ph.File}, ByAngle: changes})
			}
		}
	}
	return moves
}

// lampChanges is how the colour of the same places differs between two photos,
// shading left out, as the root mean square over the sectors of each ring. What
// noise alone would give is taken out: a plain coat comes out at 0.
func lampChanges(a, b *places) []LampChange {
	var out []LampChange
	for k := range a {
		squares, noise, n := 0.0, 0.0, 0.0
		for part := range a[k] {
			even := evenLightness([]TravelBin{a[k][part], b[k][part]})
			if a[k][part].Px == 0 || b[k][part].Px == 0 || len(even) < 2 {
				continue
			}
			squares += sq(even[0].between(even[1]))
			noise += sq(even[0].U) + sq(even[1].U)
			n++
		}
		if n < ringParts/3 {
			continue
		}
		squares, noise = squares/n, noise/n
		c := LampChange{ViewingDeg: (float64(k) + 0.5) * binDeg, DeltaE00: math.Sqrt(max(0, squares-noise)), Places: int(n)}
		// of the mean of squares of normal differences
		ofSquares := math.Sqrt((4*sq(c.DeltaE00)*noise + 2*noise*noise) / n)
		c.U = math.Sqrt(ofSquares)
		if c.DeltaE00 > 0 {
			c.U = min(c.U, ofSquares/(2*c.DeltaE00))
		}
		out = append(out, c)
	}
	return out
}
