package inspect

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
)

// One-sided factors for unknown variance, computed with the noncentral t
// distribution of SciPy 1.10.1: nct.ppf(0.95, n-1, norm.ppf(share)*√n)/√n.
func TestToleranceFactor(t *testing.T) {
	for _, c := range []struct {
		n     int
		share float64
		want  float64
	}{
		{5, 0.95, 4.2026807}, {10, 0.95, 2.9109634}, {20, 0.95, 2.3960017}, {50, 0.95, 2.0649934},
		{5, 0.99, 5.7410845}, {10, 0.99, 3.9811178}, {20, 0.99, 3.2951569}, {50, 0.99, 2.8624493},
	} {
		// what 4000 slices leave out
		if got := toleranceFactor(c.n, c.share, 0.95); math.Abs(got-c.want) > 0.001 {
			t.Errorf("toleranceFactor(%d, %g, 0.95) = %.5f, want %.5f", c.n, c.share, got, c.want)
		}
	}
}

func TestLearnLimits(t *testing.T) {
	var pieces []Piece
	for i := range 10 {
		bare := 0.1 + 0.02*float64(i) // mean 0.19, standard deviation 0.0605530
		outline := -0.05 - 0.01*float64(i%2)
		none, mm := 0, 0.02
		p := Piece{
			Coverage: &Coverage{BareAreaPct: &bare}, Relief: &Relief{Lumps: &none, Pinholes: new(i % 3)},
			Photos: []Photo{{Usable: true, ScaleMMPerPx: &mm, Coverage: &Coverage{}}},
		}
		if i < 4 {
			p.Relief.OutlineDeviationMM = &outline
		}
		pieces = append(pieces, p)
	}
	l, sources := LearnLimits(pieces)
	want := DefaultLimits()
	want.BareAreaPct = 0.44 // 0.19 + 3.981 × 0.0605530 = 0.43106, rounded up
	want.Pinholes = 5       // mean 0.9, standard deviation 0.87560: up to 4.386 are good
	if !reflect.DeepEqual(l, want) {
		t.Errorf("LearnLimits = %+v, want %+v", l, want)
	}
	for k, begin := range []string{
		"bare_area_pct: 10 pieces, mean 0.19 %, standard deviation 0.0606 %; 0.19 + 3.98 × 0.0606, rounded up to 0.44",
		"bare_spot_mm: 0 mm on each of 10 pieces; the ordinary limit",
		"lump_height_mm: 0 mm on each of 10 pieces; the ordinary limit",
		"outline_deviation_mm: measured on 4 of 10 pieces, 5 are needed; the ordinary limit",
		"pinholes: 10 pieces, ",
	} {
		if !strings.HasPrefix(sources[k], begin) {
			t.Errorf("source %d is %q, want %q", k, sources[k], begin)
		}
	}
}

func TestGoodValues(t *testing.T) {
	inward, one, none := -0.2, 1, 0
	if v, ok := goodOutline(&Piece{Relief: &Relief{OutlineDeviationMM: &inward}}); v != 0.2 || !ok {
		t.Errorf("an outline 0.2 mm inside counts as %v, %v", v, ok)
	}
	if _, ok := goodLump(&Piece{Relief: &Relief{Lumps: &one}}); ok {
		t.Error("a lump of unknown height counts as measured")
	}
	if v, ok := goodLump(&Piece{Relief: &Relief{Lumps: &none}}); v != 0 || !ok {
		t.Errorf("no lump counts as %v, %v", v, ok)
	}
	if _, ok := goodLump(&Piece{Relief: &Relief{}}); ok {
		t.Error("lumps that were not looked for count as measured")
	}
}

func TestRoundUp(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 0.43106: "0.44", 0.44: "0.44", 0.0301: "0.031", 1: "1", 12.1: "13", 123: "130", 99.5: "100"} {
		if got := fmt.Sprint(roundUp(v)); got != want {
			t.Errorf("roundUp(%v) = %s, want %s", v, got, want)
		}
	}
}
