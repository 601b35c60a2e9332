package study

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

type testsAndCharts struct {
	Fisher struct {
		Cases []struct {
			Table    [4]int  `json:"table"`
			TwoSided float64 `json:"two_sided"`
		} `json:"cases"`
	} `json:"fisher_exact"`
	KruskalWallis struct {
		Groups [][]float64 `json:"groups"`
		H      float64     `json:"H"`
		P      float64     `json:"p"`
	} `json:"kruskal_wallis"`
	Permutation struct {
		Treatment []float64 `json:"treatment"`
		Control   []float64 `json:"control"`
		Splits    int       `json:"n_splits"`
		CountAbs  int       `json:"count_abs_ge"`
		TwoSided  float64   `json:"p_two_sided"`
	} `json:"permutation_two_sample"`
	MannWhitney struct {
		X       []float64 `json:"x"`
		Y       []float64 `json:"y"`
		U       float64   `json:"U"`
		Greater float64   `json:"p_greater_exact"`
	} `json:"mann_whitney"`
	PChart struct {
		N      int     `json:"n"`
		Counts []int   `json:"counts"`
		Centre float64 `json:"pbar"`
		UCL    float64 `json:"UCL"`
		LCL    float64 `json:"LCL"`
		Above  []int   `json:"above"` // numbered from 1
	} `json:"p_chart"`
	Individuals struct {
		Data []float64 `json:"data"`
		Mean float64   `json:"mean"`
		UCL  float64   `json:"UCL"`
		LCL  float64   `json:"LCL"`
	} `json:"individuals_chart"`
}

// Source: R. A. Fisher, The Design of Experiments (1935), tea tasting, and
// exact recomputation by scipy and R (11_tests_and_charts.json).
func TestFisher(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	for _, c := range check.Fisher.Cases {
		a, b := Rate{Count: c.Table[0], Of: c.Table[0] + c.Table[1]}, Rate{Count: c.Table[2], Of: c.Table[2] + c.Table[3]}
		if got := fisher(a, b); !near(got, c.TwoSided, 1e-9) {
			t.Errorf("Fisher(%v) = %.10f, want %.10f", c.Table, got, c.TwoSided)
		}
	}
	if len(check.Fisher.Cases) != 5 {
		t.Errorf("%d tables, want 5", len(check.Fisher.Cases))
	}
}

// Source: Efron & Tibshirani, An Introduction to the Bootstrap (1993), Table
// 2.1, all 11440 splits.
func TestPermutationOfMeans(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	c := check.Permutation
	dose, values := twoGroups(c.Treatment, c.Control)
	got := Trend(dose, values, nil)
	if !near(got.P, c.TwoSided, 1e-12) || !got.Exact {
		t.Errorf("Trend = %+v, want exact P %.10f, %d of %d splits", got, c.TwoSided, c.CountAbs, c.Splits)
	}
}

// Source: Hollander & Wolfe (1973) p. 69, W = 35, P = 0.1272 one-sided. No
// values are tied, so the two-sided P is twice that.
func TestRankTest(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	c := check.MannWhitney
	dose, values := twoGroups(c.Y, c.X)
	if got := Trend(dose, ranks(values), nil); !near(got.P, 2*c.Greater, 1e-12) {
		t.Errorf("rank test P = %.10f, want %.10f", got.P, 2*c.Greater)
	}
	if got := concordance(dose, values) * float64(len(c.X)*len(c.Y)); !near(got, c.U, 1e-9) {
		t.Errorf("U = %v, want %v", got, c.U)
	}
}

// Source: Hollander & Wolfe (1973) p. 116, H = 0.77143. The exact P must lie
// near the chi-square one, 0.68, but not on it.
func TestKruskalWallis(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	var group []string
	var labels []int
	var values []float64
	for g, vs := range check.KruskalWallis.Groups {
		for _, v := range vs {
			group, labels, values = append(group, string(rune('a'+g))), append(labels, g), append(values, v)
		}
	}
	n := float64(len(values))
	h := 12/(n*(n+1))*betweenGroups(labels, ranks(values), 3) - 3*(n+1)
	if !near(h, check.KruskalWallis.H, 1e-9) {
		t.Errorf("H = %.10f, want %.10f", h, check.KruskalWallis.H)
	}
	got := Unordered(group, ranks(values), nil)
	if !got.Exact || !near(got.P, check.KruskalWallis.P, 0.05) {
		t.Errorf("P = %+v, want exact and within 0.05 of the chi-square %.4f", got, distuv.ChiSquared{K: 2}.Survival(h))
	}
}

func twoGroups(low, high []float64) (dose, values []float64) {
	dose = append(make([]float64, len(low)), slices.Repeat([]float64{1}, len(high))...)
	return dose, slices.Concat(low, high)
}

// With two groups and yes-or-no values the permutation test is Fisher's, as
// long as the groups are of one size so that both call the same tables extreme.
func TestTrendAgreesWithFisher(t *testing.T) {
	for x := 0; x <= 6; x++ {
		for y := 0; y <= 6; y++ {
			a, b := make([]float64, 6), make([]float64, 6)
			for i := range x {
				a[i] = 1
			}
			for i := range y {
				b[i] = 1
			}
			dose, values := twoGroups(a, b)
			got, want := Trend(dose, values, nil).P, fisher(Rate{Count: x, Of: 6}, Rate{Count: y, Of: 6})
			if !near(got, want, 1e-9) {
				t.Errorf("%d/6 against %d/6: Trend %.10f, Fisher %.10f", x, y, got, want)
			}
		}
	}
}

// Three pieces a group is what people have. No exact test may then call pure
// chance real more often than it says, and the least P is known: 1 in 20
// splits each way, so 0.1.
func TestFalseAlarmsWithThreePerGroup(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	dose := []float64{0, 0, 0, 1, 1, 1}
	three := []float64{1, 1, 1, 2, 2, 2, 3, 3, 3}
	names := []string{"a", "a", "a", "b", "b", "b", "c", "c", "c"}
	const runs = 2000
	two, trend, unordered := 0, 0, 0
	for range runs {
		values := make([]float64, 9)
		for i := range values {
			values[i] = math.Exp(2 * random.NormFloat64()) // skewed, as areas and heights are
		}
		r := Trend(dose, ranks(values[:6]), nil)
		if r.Least != 0.1 {
			t.Fatalf("least P = %v, want 0.1", r.Least)
		}
		if r.P <= 0.1 {
			two++
		}
		if Trend(three, ranks(values), nil).P <= 0.05 {
			trend++
		}
		if Unordered(names, ranks(values), nil).P <= 0.05 {
			unordered++
		}
	}
	for _, c := range []struct {
		name  string
		count int
		level float64
	}{{"two groups", two, 0.1}, {"trend", trend, 0.05}, {"three groups", unordered, 0.05}} {
		rate, slack := float64(c.count)/runs, 3*math.Sqrt(c.level*(1-c.level)/runs)
		if rate > c.level+slack || rate < c.level/3 { // far below would be a test that never finds anything
			t.Errorf("%s: %.4f of pure chance called real, want at most %.2f and not far less", c.name, rate, c.level)
		}
	}
}

// Within strata only pieces alike in the other treatment trade places, so a
// fault that goes with the stratum alone is no finding, and treatments that
// never part cannot be judged at all.
func TestStrata(t *testing.T) {
	dose := []float64{0, 0, 1, 0, 1, 1}
	values := []float64{0, 0, 0, 1, 1, 1} // follows the stratum
	strata := []string{"a", "a", "a", "b", "b", "b"}
	if got := Trend(dose, values, strata); got.P != 1 {
		t.Errorf("P within strata = %v, want 1", got.P)
	}
	aliased := Trend([]float64{0, 0, 0, 1, 1, 1}, values, strata)
	if aliased.P != 1 || aliased.Least != 1 {
		t.Errorf("aliased: %+v, want P and least P 1", aliased)
	}
}

// Random arrangements must agree with all arrangements where both can be had.
func TestRandomArrangementsAgree(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	dose, values := twoGroups(slices.Repeat(check.Permutation.Treatment, 2), slices.Repeat(check.Permutation.Control, 2))
	got := Trend(dose, values, nil)
	if got.Exact {
		t.Fatal("32 pieces: enumerated 600 million arrangements?")
	}
	// Twice the data halves the variance of the mean: z = 30.63/(27.9/√2) ≈ 1.59 on the permutation's scale, P ≈ 0.11.
	n, m := 14.0, 18.0
	mean := 0.0
	for _, v := range values {
		mean += v / (n + m)
	}
	ss := 0.0
	for _, v := range values {
		ss += (v - mean) * (v - mean)
	}
	z := 30.634920634920634 / math.Sqrt(ss/(n+m-1)*(1/n+1/m))
	if want := 2 * distuv.UnitNormal.Survival(z); !near(got.P, want, 0.015) {
		t.Errorf("random P = %.4f, want about %.4f", got.P, want)
	}
}

// S. Holm's rule by hand: 0.01·4, then 0.02·3, 0.03·2, 0.04·1, never falling.
func TestHolm(t *testing.T) {
	got := holm([]float64{0.04, 0.01, 0.03, 0.02, 0.9})
	want := []float64{0.09, 0.05, 0.09, 0.08, 0.9}
	for i := range want {
		if !near(got[i], want[i], 1e-12) {
			t.Errorf("Holm[%d] = %v, want %v", i, got[i], want[i])
		}
	}
}

func TestRanksShareTies(t *testing.T) {
	if got, want := ranks([]float64{7, 1, 7, 3, 7}), []float64{4, 1, 4, 2, 4}; !slices.Equal(got, want) {
		t.Errorf("ranks = %v, want %v", got, want)
	}
}
