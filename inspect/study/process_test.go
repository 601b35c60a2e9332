package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

func find(t *testing.T, s ProcessStudy, treatment, fault string) Link {
	t.Helper()
	i := slices.IndexFunc(s.Links, func(l Link) bool { return l.Treatment == treatment && l.Fault == fault })
	if i < 0 {
		t.Fatalf("no link of %s and %s in %+v", treatment, fault, s.Links)
	}
	return s.Links[i]
}

// Bare spots shrink with dips, whatever the method; the plan is balanced.
func TestProcessFindsTheCause(t *testing.T) {
	random := rand.New(rand.NewPCG(30, 30))
	var pieces []inspect.Piece
	for i := range 18 {
		dips, method := 1+i%3, []string{"fluid bed", "jar"}[i/3%2]
		p := bare(piece(fmt.Sprint("A", i), fmt.Sprintf("dips=%d, method=%s", dips, method)), 2/float64(dips)+0.2*random.Float64())
		p.Relief = &inspect.Relief{Pinholes: new(random.IntN(4))}
		pieces = append(pieces, p)
	}
	s, err := Process(pieces)
	if err != nil {
		t.Fatal(err)
	}
	l := find(t, s, "dips", "bare spots")
	if !l.Found || !l.Ordered || !l.BySize || *l.Worse > 0.1 || len(l.Instead) != 0 {
		t.Errorf("%+v, want bare spots found to shrink with dips", l)
	}
	if m := l.Levels[2].Median; l.Levels[2].Level != "3" || m == nil || *m < 2.0/3 || *m > 2.0/3+0.2 {
		t.Errorf("three dips: %+v, want a median from 0.67 to 0.87", l.Levels[2])
	}
	if other := find(t, s, "method", "bare spots"); other.Found || other.Worse != nil {
		t.Errorf("%+v, want nothing found for the method", other)
	}
	if len(s.MixedUp) != 0 || !strings.Contains(s.Says[0], "Bare spots go with dips") || !strings.Contains(s.Says[0], "less dips") {
		t.Errorf("mixed up %q, says %q", s.MixedUp, s.Says)
	}
}

// Dips and preheat changed together: the fault's cause cannot be told, and the
// next pieces must part them. When they sometimes part, the link must survive
// among pieces alike in preheat.
func TestProcessIsHonestAboutMixing(t *testing.T) {
	batch := func(parted bool) []inspect.Piece {
		var pieces []inspect.Piece
		for i := range 16 {
			dips := 1 + i%2
			preheat := 8 + 4*(i%2)
			if parted && i >= 8 && i < 13 {
				preheat = 20 - preheat
			}
			percent := 3.0
			if dips == 2 {
				percent = 0.1
			}
			pieces = append(pieces, bare(piece(fmt.Sprint("A", i), fmt.Sprintf("dips=%d, preheat_s=%d", dips, preheat)), percent+0.01*float64(i)))
		}
		return pieces
	}
	s, err := Process(batch(false))
	if err != nil {
		t.Fatal(err)
	}
	if l := find(t, s, "dips", "bare spots"); !l.Found || !slices.Equal(l.Instead, []string{"preheat_s"}) {
		t.Errorf("%+v, want found, or preheat instead", l)
	}
	if len(s.MixedUp) != 1 || !strings.Contains(s.MixedUp[0], "always") || len(s.Cautions) == 0 {
		t.Errorf("mixed up %q, cautions %q", s.MixedUp, s.Cautions)
	}
	if s.Next == nil || len(s.Next.Factors) != 2 || !s.Next.Balanced {
		t.Fatalf("next %+v, want dips against preheat", s.Next)
	}
	var planned []inspect.Piece
	for _, row := range s.Next.Rows {
		planned = append(planned, inspect.Piece{Sheet: row})
	}
	if v := togetherness(planned, "dips", "preheat_s"); v != 0 {
		t.Errorf("the next pieces still mix them: %.3f", v)
	}
	s, err = Process(batch(true))
	if err != nil {
		t.Fatal(err)
	}
	if l := find(t, s, "dips", "bare spots"); !l.Found || len(l.Instead) != 0 {
		t.Errorf("%+v, want dips found, with nothing instead", l)
	}
}

// Of batches in which no treatment does anything, at most 5 % may be told that
// one does, though dozens of links are looked at, with three pieces a group.
func TestProcessFalseAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 31))
	const runs = 300
	alarms := 0
	for range runs {
		var pieces []inspect.Piece
		for i := range 9 {
			p := bare(piece(fmt.Sprint("A", i), fmt.Sprintf("base=%s, dips=%d, method=%s", []string{"none", "white", "black"}[i%3], 1+random.IntN(3), []string{"jar", "bed"}[random.IntN(2)])),
				math.Max(0, random.NormFloat64()))
			p.Relief = &inspect.Relief{Pinholes: new(random.IntN(8))}
			deviation := 0.2 * random.NormFloat64()
			p.Relief.OutlineDeviationMM = &deviation
			pieces = append(pieces, p)
		}
		s, err := Process(pieces)
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(s.Links, func(l Link) bool { return l.Found }) {
			alarms++
		}
	}
	if rate := float64(alarms) / runs; rate > 0.05+3*math.Sqrt(0.05*0.95/runs) {
		t.Errorf("%.3f of batches without a cause were told of one, want at most 0.05", rate)
	}
}

func TestMedian(t *testing.T) {
	if got := median([]float64{9, 1, 2}); got != 2 {
		t.Errorf("median of 9, 1, 2 = %v", got)
	}
	if got := median([]float64{9, 1, 2, 4}); got != 3 {
		t.Errorf("median of 9, 1, 2, 4 = %v", got)
	}
}

func TestProcessSaysWhenNothingCanBeFound(t *testing.T) {
	var pieces []inspect.Piece
	for i := range 6 {
		pieces = append(pieces, bare(piece(fmt.Sprint("A", i), fmt.Sprintf("dips=%d", 1+i/3)), float64(i/3)+0.01*float64(i)))
	}
	s, err := Process(pieces)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Says) != 1 || !strings.Contains(s.Says[0], "nothing could have been") {
		t.Errorf("three against three: %q", s.Says)
	}
	if _, err := Process(pieces[:3]); err == nil {
		t.Error("all treated alike: want an error")
	}
}

func TestPlanIsBalanced(t *testing.T) {
	two := []string{"a", "b"}
	for _, factors := range [][]Factor{
		{{"dips", two}},
		{{"dips", two}, {"method", two}},
		{{"base", []string{"none", "white", "black"}}, {"dips", two}, {"method", two}},
		{{"a", two}, {"b", two}, {"c", two}, {"d", two}},
		{{"base", []string{"none", "white", "black"}}, {"ratio", []string{"3:1", "4:1", "6:1"}}, {"dips", two}},
	} {
		p, err := NewPlan(factors)
		if err != nil {
			t.Fatal(err)
		}
		var pieces []inspect.Piece
		names := map[string]bool{}
		for _, row := range p.Rows {
			pieces = append(pieces, inspect.Piece{Sheet: row})
			names[row["piece"]] = true
		}
		if !p.Balanced || len(names) != len(p.Rows) || len(p.Rows) > 36 {
			t.Errorf("%v: %d pieces, balanced %v", factors, len(p.Rows), p.Balanced)
		}
		for i, f := range factors {
			count := map[string]int{}
			for _, piece := range pieces {
				count[piece.Sheet[f.Column]]++
			}
			for _, l := range f.Levels {
				if count[l] < piecesPerLevel || count[l] != len(pieces)/len(f.Levels) {
					t.Errorf("%v: level %s of %s %d times among %d", factors, l, f.Column, count[l], len(pieces))
				}
			}
			for _, g := range factors[:i] {
				if v := togetherness(pieces, f.Column, g.Column); v > 1e-9 {
					t.Errorf("%s and %s are mixed up: %.3f", f.Column, g.Column, v)
				}
			}
		}
		again, _ := NewPlan(factors)
		if !slices.EqualFunc(p.Records(), again.Records(), slices.Equal[[]string]) {
			t.Error("the same factors gave another plan")
		}
	}
	if p, _ := NewPlan([]Factor{{"dips", two}}); p.Power < 0.7 || len(p.Rows) != 16 {
		t.Errorf("power %.3f with %d pieces, want about three in four with 16", p.Power, len(p.Rows))
	}
	if _, err := NewPlan([]Factor{{"dips", two[:1]}}); err == nil {
		t.Error("one level: want an error")
	}
}

func TestNearest(t *testing.T) {
	wanted := *coloured(piece("W", "x=y"), "diffuse", shift8).Travel
	short := coloured(piece("short", "ratio=3:1"), "diffuse", shift8[:3])
	got := Nearest(wanted, []inspect.Piece{
		coloured(piece("far", "ratio=6:1"), "diffuse", moved(shift8, 6, 0, 0)),
		coloured(piece("near", "ratio=4:1"), "diffuse", moved(shift8, 0.5, 0, 0)),
		coloured(piece("lamp", "ratio=4:1"), "one_lamp", shift8), short, piece("none", "ratio=4:1"),
	})
	if len(got) != 2 || got[0].Piece != "near" || got[0].Sheet["ratio"] != "4:1" || got[0].Angles != 8 {
		t.Fatalf("matches %+v, want near, far", got)
	}
	// The root mean square of the eight differences, worst where L* is nearest 50.
	sum, worst := 0.0, 0.0
	for _, c := range shift8 {
		de := calib.DeltaE2000(c, calib.Lab{L: c.L + 0.5, A: c.A, B: c.B})
		sum += de * de / 8
		worst = math.Max(worst, de)
	}
	if !near(got[0].DeltaE00, math.Sqrt(sum), 1e-12) || got[0].Worst != worst || got[0].WorstDeg != 45 {
		t.Errorf("%+v, want ΔE00 %.4f, worst %.4f at 45°", got[0], math.Sqrt(sum), worst)
	}
}
