package inspect

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestNth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// few different values, so that many are equal
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float32 { return float32(i) / 3 }), 1, 200).Draw(t, "values")
		k := rapid.IntRange(0, len(values)-1).Draw(t, "k")
		sorted := slices.Sorted(slices.Values(values))
		if got := nth(values, k); got != sorted[k] {
			t.Fatalf("got %g, want %g", got, sorted[k])
		}
		slices.Sort(values)
		if !slices.Equal(values, sorted) {
			t.Fatal("a value went missing")
		}
	})
	nth([]float64{1, math.NaN(), 0, math.NaN(), math.NaN()}, 2) // must end
}
