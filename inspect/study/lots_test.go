package study

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"
)

// Source: MIL-STD-105E (1989) Tables I, II-A and II-B, the same in ISO 2859-1
// and ANSI/ASQ Z1.4. Every lot range, level and AQL 0.40–10, normal and
// tightened: 1680 plans, at both ends of every lot range.
func TestEveryPlan(t *testing.T) {
	type cell struct {
		letter string
		aql    float64
	}
	type plan struct {
		letter    string
		n, accept int
	}
	checked := 0
	for _, tightened := range []bool{false, true} {
		name := map[bool]string{false: "10_single_normal.csv", true: "10_single_tightened.csv"}[tightened]
		want := map[cell]plan{}
		for _, row := range table(t, name) {
			want[cell{row["letter"], number(t, row["aql_percent"])}] = plan{row["use_letter"], integer(t, row["n"]), integer(t, row["Ac"])}
		}
		for _, row := range table(t, "10_code_letters.csv") {
			sizes := []int{integer(t, row["lot_min"])}
			if row["lot_max"] == "" {
				sizes = append(sizes, 10_000_000)
			} else {
				sizes = append(sizes, integer(t, row["lot_max"]))
			}
			for _, level := range Levels {
				for _, aql := range AQLs {
					for _, size := range sizes {
						w := want[cell{row[level], aql}]
						got, err := NewSampling(size, aql, level, tightened)
						if err != nil {
							t.Fatal(err)
						}
						if got.Letter != w.letter || got.N != min(size, w.n) || got.Accept != w.accept {
							t.Errorf("lot %d, level %s, AQL %v, tightened %v: %s n %d Ac %d, want %s %d %d",
								size, level, aql, tightened, got.Letter, got.N, got.Accept, w.letter, w.n, w.accept)
						}
					}
					checked++
				}
			}
		}
	}
	if checked != 1680 {
		t.Errorf("checked %d plans, want 1680", checked)
	}
}

// The same for every cell of the two tables, also those no lot leads to.
func TestEveryCell(t *testing.T) {
	for _, tightened := range []bool{false, true} {
		name := map[bool]string{false: "10_single_normal.csv", true: "10_single_tightened.csv"}[tightened]
		rows := table(t, name)
		if len(rows) != 128 {
			t.Fatalf("%s: %d cells, want 128", name, len(rows))
		}
		for _, row := range rows {
			own := slices.Index([]byte(letters), row["letter"][0])
			letter, accept := follow(own, slices.Index(AQLs, number(t, row["aql_percent"])), tightened)
			if letters[letter] != row["use_letter"][0] || sampleSizes[letter] != integer(t, row["n"]) || accept != integer(t, row["Ac"]) {
				t.Errorf("%s %s at %s: %c n %d Ac %d, want %s %s %s", name, row["letter"], row["aql_percent"],
					letters[letter], sampleSizes[letter], accept, row["use_letter"], row["n"], row["Ac"])
			}
		}
	}
}

// Source: hypergeometric sums by scipy and R (10_oc_hypergeometric.csv).
func TestLotPasses(t *testing.T) {
	for _, row := range table(t, "10_oc_hypergeometric.csv") {
		s := Sampling{LotSize: integer(t, row["N"]), N: integer(t, row["n"]), Accept: integer(t, row["c"])}
		if got, want := s.Passes(integer(t, row["D"]), Oversight{}), number(t, row["Pa"]); !near(got, want, 1e-9) {
			t.Errorf("%+v with %s faulty: passes %.10f, want %.10f", s, row["D"], got, want)
		}
	}
}

// Source: binomial sums by scipy and R (10_oc_points.csv, 10_oc_quantiles.csv);
// the standard's own Table X prints 10.9 % for n 20, Ac 0 at 10 %.
func TestProcessPasses(t *testing.T) {
	points := 0
	for _, row := range table(t, "10_oc_points.csv") {
		got := binomialCDF(integer(t, row["Ac"]), integer(t, row["n"]), number(t, row["p_percent"])/100)
		if want := number(t, row["Pa_binomial"]); !near(got, want, 1e-9) {
			t.Errorf("n %s Ac %s p %s: %.10f, want %.10f", row["n"], row["Ac"], row["p_percent"], got, want)
		}
		points++
	}
	for _, row := range table(t, "10_oc_quantiles.csv") {
		s := Sampling{N: integer(t, row["n"]), Accept: integer(t, row["Ac"])}
		if got, want := 100*s.QualityPassed(number(t, row["Pa"])), number(t, row["p_percent"]); !near(got, want, 1e-7) {
			t.Errorf("n %d Ac %d: passes %s at %.8f %%, want %.8f", s.N, s.Accept, row["Pa"], got, want)
		}
	}
	if points < 100 {
		t.Errorf("only %d points", points)
	}
}

// Inspection errors: the sums must agree with throwing dice.
func TestOversight(t *testing.T) {
	random := rand.New(rand.NewPCG(10, 10))
	s, err := NewSampling(150, 2.5, "II", false) // letter F, 20 pieces, accept 1
	if err != nil {
		t.Fatal(err)
	}
	o, faulty, passed := Oversight{Missed: 0.2, False: 0.03}, 12, 0
	const runs = 40000
	for range runs {
		found := 0
		for _, piece := range random.Perm(s.LotSize)[:s.N] {
			chance := o.False
			if piece < faulty {
				chance = 1 - o.Missed
			}
			if random.Float64() < chance {
				found++
			}
		}
		if found <= s.Accept {
			passed++
		}
	}
	got, want := s.Passes(faulty, o), float64(passed)/runs
	if !near(got, want, 3*math.Sqrt(want*(1-want)/runs)) {
		t.Errorf("passes %.4f, dice say %.4f", got, want)
	}
	if s.Passes(0, o) > 0.95 || s.Passes(0, Oversight{}) != 1 {
		t.Error("false alarms must cost good lots, and only they")
	}
}

func TestRisks(t *testing.T) {
	s, err := NewSampling(50, 10, "S-4", false) // letter C, 5 pieces, accept 1
	if err != nil {
		t.Fatal(err)
	}
	r := s.Risks(Oversight{})
	if r.AtAQL != 5 || r.RightlyPassed != 1 {
		t.Errorf("%+v, want 5 faulty at the AQL, good lots always passed", r)
	}
	// The least counts that push the chance to pass down to a half and a tenth.
	if s.Passes(r.Evens, Oversight{}) > 0.5 || s.Passes(r.Evens-1, Oversight{}) <= 0.5 {
		t.Errorf("evens at %d", r.Evens)
	}
	if s.Passes(r.ConsumerAt, Oversight{}) > 0.1 || s.Passes(r.ConsumerAt-1, Oversight{}) <= 0.1 {
		t.Errorf("consumer at %d", r.ConsumerAt)
	}
}

func TestSamplingRefuses(t *testing.T) {
	for _, c := range []struct {
		size  int
		aql   float64
		level string
	}{{1, 1, "II"}, {100, 3, "II"}, {100, 1, "IV"}} {
		if _, err := NewSampling(c.size, c.aql, c.level, false); err == nil {
			t.Errorf("lot %d, AQL %s, level %s: want an error", c.size, strconv.FormatFloat(c.aql, 'g', -1, 64), c.level)
		}
	}
}
