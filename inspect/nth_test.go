package inspect

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestNth(t *testing.T) {
	few := rapid.Map(rapid.IntRange(-9, 9), func(i int) float32 { return float32(i) / 3 }) // so that many are equal
	all := rapid.Float32Range(-3, 3)
	for name, values := range map[string]*rapid.Generator[[]float32]{
		"few": rapid.SliceOfN(few, 1, 200), "many alike": rapid.SliceOfN(few, manyValues+1, 2*manyValues), "many": rapid.SliceOfN(all, manyValues+1, 2*manyValues),
	} {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			values := values.Draw(t, "values")
			k := rapid.IntRange(0, len(values)-1).Draw(t, "k")
			sorted := slices.Sorted(slices.Values(values))
			if got := nth(values, k); got != sorted[k] {
				t.Fatalf("got %g, want %g", got, sorted[k])
			}
			slices.Sort(values)
			if !slices.Equal(values, sorted) {
				t.Fatal("a value went missing")
			}
		}))
	}
	// what a sample misleads about: every 60th is large
	peaks := make([]float64, 60*60)
	for i := range peaks {
		if peaks[i] = float64(i * 7919 % len(peaks)); i%60 == 0 {
			peaks[i] += 1e6
		}
	}
	sorted := slices.Sorted(slices.Values(peaks))
	for k := range peaks {
		if got := nth(slices.Clone(peaks), k); got != sorted[k] {
			t.Fatalf("number %d is %g, want %g", k, got, sorted[k])
		}
	}
	hundred := make([]float64, 100)
	for i := range hundred {
		hundred[i] = float64(i * 37 % 100)
	}
	for name, c := range map[string]struct {
		lo, hi float64
		room   int
		ok     bool
	}{
		"about it": {40, 60, 100, true}, "below": {20, 40, 100, false}, "above": {60, 80, 100, false}, "too many": {10, 90, 50, false}, "nowhere": {0, 0, 100, false},
	} {
		if got, ok := nthBetween(hundred, 50, c.lo, c.hi, make([]float64, c.room)); ok != c.ok || ok && got != 50 {
			t.Errorf("%s: %v, %v", name, got, ok)
		}
	}
	nth([]float64{1, math.NaN(), 0, math.NaN(), math.NaN()}, 2) // must end
	nth(slices.Repeat([]float64{1, math.NaN(), 0}, manyValues), 2)
}
