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

// piece is an invented piece with the sheet written as "powder=x, base=y".
func piece(name, sheet string) inspect.Piece {
	p := inspect.Piece{Piece: name, Sheet: map[string]string{}, Verdict: inspect.Pass, Eye: inspect.EyeOpen}
	for _, entry := range strings.Split(sheet, ",") {
		column, value, _ := strings.Cut(entry, "=")
		p.Sheet[strings.TrimSpace(column)] = strings.TrimSpace(value)
	}
	return p
}

// bare gives the piece a bare share, failing above 0.5 %.
func bare(p inspect.Piece, percent float64) inspect.Piece {
	p.Coverage = &inspect.Coverage{BareAreaPct: &percent}
	if percent > 0.5 {
		p.Verdict = inspect.Fail
		p.Reasons = []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Fail}}
	}
	return p
}

// coloured gives the piece a curve under a light.
func coloured(p inspect.Piece, light string, curve []calib.Lab) inspect.Piece {
	p.Travel = &inspect.Travel{Light: light}
	for k, c := range curve {
		p.Travel.Curve = append(p.Travel.Curve, inspect.TravelBin{ViewingDeg: 5 + 10*float64(k), L: c.L, A: c.A, B: c.B, Px: 1000})
	}
	return p
}

// groupsOf paints n pieces of each ratio with its curve.
func groupsOf(random *rand.Rand, n int, scatter float64, curves map[string][]calib.Lab) []inspect.Piece {
	paint := painter{random: random, common: [3]float64{scatter, scatter / 3, scatter / 3}, own: [3]float64{0.1, 0.1, 0.1}}
	var pieces []inspect.Piece
	for _, ratio := range []string{"4:1", "6:1", "ready mix"} {
		curve, ok := curves[ratio]
		for i := 0; ok && i < n; i++ {
			pieces = append(pieces, bare(coloured(piece(fmt.Sprint(ratio, i), "ratio="+ratio), "diffuse", paint.piece(curve)), 0))
		}
	}
	return pieces
}

func TestCompareColour(t *testing.T) {
	random := rand.New(rand.NewPCG(20, 20))
	for _, c := range []struct {
		name    string
		n       int
		scatter float64
		moved   float64 // in L*
		want    Verdict
	}{
		{"the same, enough pieces", 8, 0.3, 0, Alike},
		{"the same, too few for the scatter", 3, 1, 0, TooFew},
		{"plainly different", 3, 0.4, 5, Different},
		{"one piece each", 1, 0.4, 5, TooFew},
	} {
		cmp, err := Compare(groupsOf(random, c.n, c.scatter, map[string][]calib.Lab{"4:1": shift8, "ready mix": moved(shift8, c.moved, 0, 0)}), "ratio", Noticeable)
		if err != nil {
			t.Fatal(err)
		}
		p := cmp.Colour[0]
		if p.Verdict != c.want || p.A != "4:1" || p.B != "ready mix" {
			t.Errorf("%s: %+v, want %q", c.name, p, c.want)
		}
		if (p.Needed != nil) != (c.want == TooFew) {
			t.Errorf("%s: needed %v for %q", c.name, p.Needed, p.Verdict)
		}
		if p.Needed != nil && (*p.Needed <= c.n || p.Pieces != c.n) {
			t.Errorf("%s: %d pieces of each needed, %d there", c.name, *p.Needed, p.Pieces)
		}
		if p.Verdict == Different && (!near(p.Lightness, c.moved, 1) || !strings.Contains(p.Says, "lighter")) {
			t.Errorf("%s: lighter by %.2f, want %.1f: %s", c.name, p.Lightness, c.moved, p.Says)
		}
	}
}

// Three pairs looked at, each at P = 0.03 alone: none of them is a finding.
func TestColourPairsAreJudgedTogether(t *testing.T) {
	p, atMost := 0.03, 3.0
	pairs := slices.Repeat([]ColourPair{{Whole: Distance{DeltaE00: 2, In: &Interval{0.1, 4}, AtMost: &atMost, P: &p, sd: 1}}}, 3)
	judgeColour(pairs[:1], Noticeable)
	if pairs[0].Verdict != Different {
		t.Errorf("one pair at P = 0.03: %q, want different", pairs[0].Verdict)
	}
	judgeColour(pairs, Noticeable)
	if pairs[0].Verdict != TooFew || !near(*pairs[0].Adjusted, 0.09, 1e-12) {
		t.Errorf("three pairs at P = 0.03: %q at %v, want too few pieces at 0.09", pairs[0].Verdict, *pairs[0].Adjusted)
	}
}

// A painter who follows the advice must get an answer: with the number of
// pieces said to be needed, most batches are settled, and with fewer most are not.
func TestNeededSettlesIt(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 21))
	weights := []float64{1}
	for _, apart := range []float64{0, 2.2} {
		a := []calib.Lab{{L: 50, A: -10, B: 10}}
		b := moved(a, apart, 0, 0)
		paint := painter{random: random, common: [3]float64{0.8, 0.1, 0.1}}
		truth := distance([][]calib.Lab{a}, [][]calib.Lab{b}, weights).DeltaE00
		// The scatter and distance as they truly are, not as three pieces happen to show them.
		n := *Distance{DeltaE00: truth, sd: 0.8}.needed(Noticeable, 0)
		settled := func(n int) float64 {
			count := 0
			for range 300 {
				pair := ColourPair{Whole: distance(paint.group(a, n), paint.group(b, n), weights)}
				pair.Adjusted = pair.Whole.P
				if pair.judge(Noticeable); pair.Verdict != TooFew {
					count++
				}
			}
			return float64(count) / 300
		}
		if enough, few := settled(n), settled(max(2, n/3)); enough < 0.5 || few > 0.5 {
			t.Errorf("ΔE00 %.1f: %d pieces of each settle it in %.2f, a third of them in %.2f", truth, n, enough, few)
		}
	}
}

// The whole command at n = 3 per group: of three groups of the same paint, at
// most 5 % of batches may show any colour difference, and equivalence may be
// claimed of pieces a noticeable step apart in at most 5 %.
func TestCompareHoldsItsRates(t *testing.T) {
	random := rand.New(rand.NewPCG(22, 22))
	const runs = 600
	slack := 3 * math.Sqrt(0.05*0.95/runs)
	alarms, alike := 0, 0
	step := 0.0 // in L*, one noticeable step over the whole curve
	for step = 0.5; ; step += 0.01 {
		weights := slices.Repeat([]float64{0.125}, 8)
		if distance([][]calib.Lab{shift8}, [][]calib.Lab{moved(shift8, step, 0, 0)}, weights).DeltaE00 >= Noticeable {
			break
		}
	}
	for range runs {
		c, err := Compare(groupsOf(random, 3, 0.5, map[string][]calib.Lab{"4:1": shift8, "6:1": shift8, "ready mix": shift8}), "ratio", Noticeable)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Colour) != 3 {
			t.Fatalf("%d pairs, want 3", len(c.Colour))
		}
		if slices.ContainsFunc(c.Colour, func(p ColourPair) bool { return p.Verdict == Different }) {
			alarms++
		}
		c, _ = Compare(groupsOf(random, 3, 0.2, map[string][]calib.Lab{"4:1": shift8, "6:1": moved(shift8, step, 0, 0)}), "ratio", Noticeable)
		if c.Colour[0].Verdict == Alike {
			alike++
		}
	}
	if rate := float64(alarms) / runs; rate > 0.05+slack {
		t.Errorf("same paint called different in %.3f of batches, want at most 0.05", rate)
	}
	if rate := float64(alike) / runs; rate > 0.05+slack {
		t.Errorf("a noticeable step called invisible in %.3f of batches, want at most 0.05", rate)
	}
	t.Logf("false alarms %.3f, false equivalence %.3f", float64(alarms)/runs, float64(alike)/runs)
}

func TestCompareFaults(t *testing.T) {
	var pieces []inspect.Piece
	for i := range 12 {
		pieces = append(pieces, bare(piece(fmt.Sprint("A", i), "dips=1"), 2), bare(piece(fmt.Sprint("B", i), "dips=2"), 0.1))
	}
	retake := bare(piece("R", "dips=2"), 0)
	retake.Verdict = inspect.Retake // not judged, so in no count
	c, err := Compare(append(pieces, retake), "dips", Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	f := c.Faults[slices.IndexFunc(c.Faults, func(f FaultPair) bool { return f.Fault == "bare spots" })]
	if f.RateA.Count != 12 || f.RateB.Count != 0 || f.RateB.Of != 12 || f.Verdict != Different {
		t.Errorf("%+v, want 12 of 12 against 0 of 12, different", f)
	}
	if c.Groups[1].Pieces != 13 {
		t.Errorf("%d pieces with two dips, want 13", c.Groups[1].Pieces)
	}
	// Three of each can never show it: Fisher's least P is 0.1.
	c, _ = Compare(pieces[:6], "dips", Noticeable)
	if f := c.Faults[0]; f.Verdict != TooFew || *f.Needed < 4 {
		t.Errorf("%+v, want too few pieces", f)
	}
}

// Fleiss' formula must promise the chance that the exact test then has.
func TestPiecesForRates(t *testing.T) {
	for _, c := range [][2]Rate{{NewRate(1, 10), NewRate(8, 10)}, {NewRate(2, 10), NewRate(6, 10)}, {NewRate(0, 5), NewRate(3, 5)}} {
		n := piecesForRates(c[0], c[1])
		if power := fisherPower(n, c[0].Share(), c[1].Share(), 0.05); power < 0.77 || power > 0.97 {
			t.Errorf("%v against %v: %d pieces find it in %.3f, want about 0.8", c[0].Share(), c[1].Share(), n, power)
		}
	}
	n := piecesForRates(NewRate(0, 3), NewRate(0, 3))
	if d := rateDifference(NewRate(0, n), NewRate(0, n)); d.Hi >= AlikeRates {
		t.Errorf("none of %d twice: differ by up to %.2f, want under %.2f", n, d.Hi, AlikeRates)
	}
	if d := rateDifference(NewRate(0, n-1), NewRate(0, n-1)); d.Hi < AlikeRates {
		t.Errorf("%d pieces would have done", n-1)
	}
}

func TestCompareCautions(t *testing.T) {
	var pieces []inspect.Piece
	for i := range 4 {
		pieces = append(pieces,
			coloured(piece(fmt.Sprint("A", i), "base=none, preheat_s=8, method=jar"), "diffuse", shift8),
			coloured(piece(fmt.Sprint("B", i), fmt.Sprintf("base=white, preheat_s=12, method=%s", []string{"jar", "bed"}[i%2])), "diffuse", shift8))
	}
	pieces[7].Travel.Light = "one_lamp"
	c, err := Compare(pieces, "base", Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Cautions) != 3 || !strings.Contains(c.Cautions[0], "method often") && !strings.Contains(c.Cautions[0], "base and method often") ||
		!strings.Contains(c.Cautions[1], "base and preheat_s always") || !strings.Contains(c.Cautions[2], "another kind of light") {
		t.Errorf("cautions %q", c.Cautions)
	}
	if c.Groups[1].Curves != 3 {
		t.Errorf("%d curves under the usual light, want 3", c.Groups[1].Curves)
	}
	if _, err := Compare(pieces, "colour", Noticeable); err == nil || !strings.Contains(err.Error(), "preheat_s") {
		t.Errorf("unknown column: %v, want an error that lists the columns", err)
	}
	if _, err := Compare(Only(pieces, "base", "None"), "base", Noticeable); err == nil {
		t.Error("one group: want an error")
	}
}

// Two columns of three levels that say the same are wholly together, columns
// that cross evenly not at all. By hand, a 2 by 2 of 3, 1, 1, 3: V = 0.5.
// Amounts of many kinds count as less or more.
func TestTogetherness(t *testing.T) {
	batch := func(rows ...string) []inspect.Piece {
		var pieces []inspect.Piece
		for i, r := range rows {
			pieces = append(pieces, piece(fmt.Sprint(i), r))
		}
		return pieces
	}
	for _, c := range []struct {
		pieces []inspect.Piece
		want   float64
	}{
		{batch("a=x,b=p", "a=y,b=q", "a=z,b=r", "a=x,b=p"), 1},
		{batch("a=x,b=p", "a=x,b=q", "a=y,b=p", "a=y,b=q"), 0},
		{batch("a=x,b=p", "a=x,b=p", "a=x,b=p", "a=x,b=q", "a=y,b=p", "a=y,b=q", "a=y,b=q", "a=y,b=q"), 0.5},
		{batch("a=x,b=1", "a=y,b=2", "a=y,b=3", "a=x,b=4"), 0},
		{batch("a=x,b=1", "a=x,b=1", "a=x,b=1", "a=y,b=2", "a=y,b=3", "a=y,b=4"), 1},
	} {
		if got := togetherness(c.pieces, "a", "b"); !near(got, c.want, 1e-12) {
			t.Errorf("togetherness of %v = %.4f, want %.4f", c.pieces, got, c.want)
		}
	}
}

func TestDose(t *testing.T) {
	for level, want := range map[string]float64{"2": 2, "4:1": 4, "1:4": 0.25, " 8.5 ": 8.5} {
		if got, ok := dose(level); !ok || got != want {
			t.Errorf("dose(%q) = %v, %v, want %v", level, got, ok, want)
		}
	}
	for _, level := range []string{"ready mix", "4:0", "NaN", "", "4:x"} {
		if got, ok := dose(level); ok {
			t.Errorf("dose(%q) = %v, want none", level, got)
		}
	}
}
