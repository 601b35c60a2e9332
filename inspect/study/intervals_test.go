package study

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// table reads a check table as rows by column name.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("../../testdata/check", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, field := range line {
			row[lines[0][i]] = field
		}
		rows = append(rows, row)
	}
	return rows
}

func checkJSON(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("../../testdata/check", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// near is false for NaN.
func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func integer(t *testing.T, s string) int { return int(number(t, s)) }

// Source: Newcombe, Statist. Med. 17, 857–872 (1998), Table I, and exact
// recomputation (11_binomial_intervals.csv).
func TestPublishedIntervals(t *testing.T) {
	checked := 0
	for _, row := range table(t, "11_binomial_intervals.csv") {
		x, n := integer(t, row["x"]), integer(t, row["n"])
		var got Interval
		switch row["method"] {
		case "wilson":
			got = Wilson(x, n, 0.95)
		case "clopper_pearson":
			got = clopperPearson(x, n, 0.95)
		default:
			continue
		}
		want := Interval{number(t, row["lower"]), number(t, row["upper"])}
		if !near(got.Lo, want.Lo, 1e-8) || !near(got.Hi, want.Hi, 1e-8) {
			t.Errorf("%s(%d, %d) = %v, want %v", row["method"], x, n, got, want)
		}
		checked++
	}
	if checked != 24 {
		t.Errorf("checked %d intervals, want 24: 12 cases, two methods", checked)
	}
}

// Coverage is summed exactly over every possible count, no simulation needed:
// Clopper–Pearson must never fall below its level, Wilson must keep it on
// average over all shares.
func TestIntervalsCoverAtTheirRate(t *testing.T) {
	for _, n := range []int{3, 5, 8, 13, 20, 50} {
		worst, mean, shares := 1.0, 0.0, 0
		for p := 0.0025; p < 1; p += 0.005 {
			wilson, exact := 0.0, 0.0
			for x := 0; x <= n; x++ {
				if in := Wilson(x, n, Confidence); in.Lo <= p && p <= in.Hi {
					wilson += binomialPMF(x, n, p)
				}
				if in := clopperPearson(x, n, Confidence); in.Lo <= p && p <= in.Hi {
					exact += binomialPMF(x, n, p)
				}
			}
			worst = math.Min(worst, exact)
			mean += wilson
			shares++
		}
		mean /= float64(shares)
		if worst < Confidence {
			t.Errorf("n = %d: Clopper–Pearson covers %.4f at its worst, want at least %.2f", n, worst, Confidence)
		}
		if mean < Confidence-0.005 || mean > Confidence+0.02 {
			t.Errorf("n = %d: Wilson covers %.4f on average, want %.2f", n, mean, Confidence)
		}
	}
}

// Newcombe, Statist. Med. 17, 873–890 (1998), Table II, method 10 without
// continuity correction: 56/70 against 48/80 gives 0.0524 to 0.3339, and 9/10
// against 3/10 gives 0.1705 to 0.8090 (from memory, both equal the recomputation).
func TestRateDifference(t *testing.T) {
	for _, c := range []struct {
		a, b Rate
		want Interval
	}{
		{NewRate(48, 80), NewRate(56, 70), Interval{0.0524, 0.3339}},
		{NewRate(3, 10), NewRate(9, 10), Interval{0.1705, 0.8090}},
	} {
		got := rateDifference(c.a, c.b)
		if !near(got.Lo, c.want.Lo, 5e-5) || !near(got.Hi, c.want.Hi, 5e-5) {
			t.Errorf("RateDifference(%d/%d, %d/%d) = %v, want %v", c.a.Count, c.a.Of, c.b.Count, c.b.Of, got, c.want)
		}
	}
}

// Source: 11_quantiles.csv, where scipy and R agree to 1e-10. The intervals
// here stand on these three distributions.
func TestQuantiles(t *testing.T) {
	for _, row := range table(t, "11_quantiles.csv") {
		p, want := number(t, row["p"]), number(t, row["quantile"])
		var got float64
		switch row["dist"] {
		case "normal":
			got = distuv.UnitNormal.Quantile(p)
		case "chi2":
			got = distuv.ChiSquared{K: number(t, row["df"])}.Quantile(p)
		case "t":
			got = distuv.StudentsT{Sigma: 1, Nu: number(t, row["df"])}.Quantile(p)
		}
		if !near(got, want, 1e-9*math.Max(1, want)) {
			t.Errorf("%s(df %s) quantile at %v = %.12f, want %.12f", row["dist"], row["df"], p, got, want)
		}
	}
}

// Source: NIST Statistical Reference Datasets, univariate. The means and
// standard deviations here are gonum's. NumAcc3 and NumAcc4 cannot be held
// exactly: 1000000.1 is off by 6e-11 in double precision, 10000000.1 by 7e-10.
func TestCertifiedMeanAndSD(t *testing.T) {
	var check struct {
		Datasets map[string]struct {
			Mean    float64   `json:"certified_mean"`
			SD      float64   `json:"certified_std"`
			Data    []float64 `json:"data"`
			First   float64   `json:"first"` // then Repeats times Pair, where there is no Data
			Pair    []float64 `json:"pair"`
			Repeats int       `json:"repeats"`
		} `json:"datasets"`
	}
	checkJSON(t, "11_nist_strd_univariate.json", &check)
	if len(check.Datasets) != 7 {
		t.Fatalf("%d data sets, want 7", len(check.Datasets))
	}
	for name, d := range check.Datasets {
		if d.Data == nil {
			d.Data = append([]float64{d.First}, slices.Repeat(d.Pair, d.Repeats)...)
		}
		mean, sd := stat.MeanStdDev(d.Data, nil)
		tolerance := 1e-10
		switch name {
		case "NumAcc3":
			tolerance = 1e-9
		case "NumAcc4":
			tolerance = 1e-7
		}
		if !near(mean, d.Mean, 1e-14*math.Abs(d.Mean)) || !near(sd, d.SD, tolerance*d.SD) {
			t.Errorf("%s: mean %.16g, sd %.16g, want %.16g, %.16g", name, mean, sd, d.Mean, d.SD)
		}
	}
}
