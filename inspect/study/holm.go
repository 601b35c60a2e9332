package study

import "slices"

// holm returns the P values adjusted for their number, in their order: calling
// everything at or below 0.05 real is then wrong at all in at most 5 % of
// batches, however the tests hang together.
//
// S. Holm, Scand. J. Stat. 6, 65–70 (1979).
func holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if p[a] < p[b] {
			return -1
		}
		if p[a] > p[b] {
			return 1
		}
		return 0
	})
	adjusted, largest := make([]float64, len(p)), 0.0
	for k, i := range order {
		largest = max(largest, min(1, p[i]*float64(len(p)-k)))
		adjusted[i] = largest
	}
	return adjusted
}
