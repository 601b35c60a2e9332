package study

import (
	"cmp"
	"math"
	"slices"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// A Match is how near a graded piece comes to a wanted travel curve.
type Match struct {
	Batch    string            `json:"batch"`
	Piece    string            `json:"piece"`
	Sheet    map[string]string `json:"sheet"`     // how it was made: powder, parts, lot, base, …
	DeltaE00 float64           `json:"delta_e00"` // root mean square over the shared angles
	WorstDeg float64           `json:"worst_deg"` // viewing angle of the largest difference
	Worst    float64           `json:"worst_delta_e00"`
	Angles   int               `json:"angles"` // viewing angles compared
}

// Nearest sorts the pieces by how near their curves come to the wanted one, the
// nearest first. Only curves under the same kind of light that share at least
// half of the wanted angles are compared: over two or three angles anything matches.
func Nearest(wanted inspect.Travel, pieces []inspect.Piece) []Match {
	matches := []Match{}
	for _, p := range pieces {
		if p.Travel == nil || p.Travel.Light != wanted.Light {
			continue
		}
		m := Match{Batch: p.Sheet["batch"], Piece: p.Piece, Sheet: p.Sheet}
		sum := 0.0
		for _, w := range wanted.Curve {
			bin, ok := at(p.Travel.Curve, w.ViewingDeg)
			if !ok {
				continue
			}
			de := calib.DeltaE2000(calib.Lab{L: w.L, A: w.A, B: w.B}, calib.Lab{L: bin.L, A: bin.A, B: bin.B})
			sum += de * de
			m.Angles++
			if de > m.Worst {
				m.Worst, m.WorstDeg = de, w.ViewingDeg
			}
		}
		if 2*m.Angles < len(wanted.Curve) || m.Angles == 0 {
			continue
		}
		m.DeltaE00 = math.Sqrt(sum / float64(m.Angles))
		matches = append(matches, m)
	}
	slices.SortStableFunc(matches, func(a, b Match) int { return cmp.Compare(a.DeltaE00, b.DeltaE00) })
	return matches
}
