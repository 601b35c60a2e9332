package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// shotAgain is a photo of a piece with a bare area and, where there are
// colours, a travel curve.
func shotAgain(operator string, area float64, colours ...calib.Lab) inspect.Photo {
	u := 0.3
	ph := inspect.Photo{File: "x.jpg", Usable: true, Operator: operator, Coverage: &inspect.Coverage{BareAreaPct: &area, U: &u}}
	if len(colours) > 0 {
		ph.Travel = &inspect.Travel{}
		for k, c := range colours {
			ph.Travel.Curve = append(ph.Travel.Curve, inspect.TravelBin{ViewingDeg: float64(10*k + 5), L: c.L, A: c.A, B: c.B, Px: 100, U: 1})
		}
	}
	return ph
}

func scatterOf(t *testing.T, s RepeatStudy, measure string) inspect.Scatter {
	t.Helper()
	for _, m := range s.Found.Measures {
		if m.Measure == measure {
			return m
		}
	}
	t.Fatalf("no %s in %+v", measure, s.Found)
	return inspect.Scatter{}
}

// The published study, told as the bare areas of ten pieces that three people
// photographed three times. AIAG, Measurement Systems Analysis, 4th ed. (2010).
func TestRepeatsOfPublishedStudy(t *testing.T) {
	var check struct {
		Data    [][][]float64 `json:"data_part_operator_trial"`
		Printed struct {
			EV, AV, GRR, PV float64
			NDC             int `json:"ndc"`
		} `json:"printed"`
	}
	checkJSON(t, "11_gauge_rr_10x3x3.json", &check)
	var batch inspect.Results
	for i, byOperator := range check.Data {
		p := inspect.Piece{Piece: fmt.Sprint("G", i)}
		for j, trials := range byOperator {
			for _, x := range trials {
				p.Photos = append(p.Photos, shotAgain(fmt.Sprint("operator ", j), x))
			}
		}
		batch.Pieces = append(batch.Pieces, p)
	}
	s, err := Repeats([]inspect.Results{batch}, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := scatterOf(t, s, "bare_area")
	if m.Parts == nil {
		t.Fatalf("%+v, want the parts of it", m)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"all of it", m.SD, check.Printed.GRR}, {"repeatability", m.Parts.Repeatability, check.Printed.EV},
		{"operator", m.Parts.Operator, check.Printed.AV}, {"piece", m.Parts.Piece, check.Printed.PV}} {
		if !near(c.got, c.want, 2e-6) { // printed to six decimals
			t.Errorf("%s = %.7f, want %.6f", c.name, c.got, c.want)
		}
	}
	if m.Parts.Categories != check.Printed.NDC || m.DF != 60 || !near(*m.ReportedU, 0.3, 1e-12) {
		t.Errorf("%+v, want %d categories, 60 differences, 0.3 reported", m, check.Printed.NDC)
	}
}

// One piece placed again: numbers by hand; colour as a distance.
func TestRepeatsOfOnePiece(t *testing.T) {
	grey := func(l float64) []calib.Lab { return []calib.Lab{{L: l}, {L: 50}} }
	twin := shotAgain("", 30, grey(90)...)
	twin.Lamp = "b"
	batch := inspect.Results{Pieces: []inspect.Piece{
		{Piece: "D01", Photos: []inspect.Photo{shotAgain("", 1, grey(49)...), shotAgain("", 2, grey(50)...), shotAgain("", 3, grey(51)...), {File: "blurred.jpg"}, twin}},
		{Piece: "D02", Photos: []inspect.Photo{shotAgain("", 9)}},
	}}
	s, err := Repeats([]inspect.Results{batch}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m := scatterOf(t, s, "bare_area"); m.SD != 1 || m.DF != 2 || m.Parts != nil || !near(m.Interval[0], 0.5207, 1e-4) || !near(m.Interval[1], 6.2847, 1e-4) {
		// √(2/χ²) with χ² of 2 degrees of freedom at 0.975 and 0.025: 7.3778, 0.0506
		t.Errorf("bare area %+v, want standard deviation 1 (0.5207 to 6.2847) of 2 differences", m)
	}
	want := calib.DeltaE2000(calib.Lab{L: 49.5}, calib.Lab{L: 50.5}) // one unit of L* there
	if m := scatterOf(t, s, "colour"); *m.ViewingDeg != 5 || !near(m.SD, want, 1e-4) {
		t.Errorf("colour %+v, want %.4f at 5°", m, want)
	}
	if s.Found.From != "D01, 3 photos" {
		t.Errorf("from %q, want the piece that was shot again alone", s.Found.From)
	}
	for _, part := range []string{"can't be judged: 1.", "scatter on other pieces: colour at 15°", "fewer than six"} {
		if !strings.Contains(strings.Join(s.Cautions, " "), part) {
			t.Errorf("cautions %q miss %q", s.Cautions, part)
		}
	}
}

// Two batches are two sessions, and one piece cannot tell what they add.
func TestRepeatsNeedPiecesForOperators(t *testing.T) {
	session := func(name string, areas ...float64) inspect.Results {
		p := inspect.Piece{Piece: "D01"}
		for _, a := range areas {
			p.Photos = append(p.Photos, shotAgain("", a))
		}
		return inspect.Results{Batch: inspect.Batch{Name: name}, Pieces: []inspect.Piece{p}}
	}
	s, err := Repeats([]inspect.Results{session("rack", 1, 3), session("rack", 11, 13)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := scatterOf(t, s, "bare_area")
	if m.Parts != nil || !near(m.SD, math.Sqrt2, 1e-12) || len(s.Operators) != 2 || !strings.Contains(strings.Join(s.Cautions, " "), "two pieces or more") {
		t.Errorf("%+v, %q, %q: want √2 within the sessions and a word about more pieces", m, s.Operators, s.Cautions)
	}
	for name, batch := range map[string]inspect.Results{
		"shot once":        session("a", 1),
		"one without name": {Pieces: []inspect.Piece{{Piece: "D01", Photos: []inspect.Photo{shotAgain("Ana", 1), shotAgain("", 2)}}}},
	} {
		if _, err := Repeats([]inspect.Results{batch}, nil); err == nil {
			t.Errorf("%s: want an error", name)
		}
	}
	if _, err := Repeats([]inspect.Results{session("a", 1, 2)}, []string{"D09"}); err == nil {
		t.Error("a piece that is not there: want an error")
	}
}

// Colours that scatter with a known spread in all directions come back with it.
func TestRepeatsOfColour(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	p := inspect.Piece{Piece: "D01"}
	centre := calib.Lab{L: 50, A: 20, B: -30}
	sum := 0.0
	for range 400 {
		c := calib.Lab{L: centre.L + random.NormFloat64(), A: centre.A + random.NormFloat64(), B: centre.B + random.NormFloat64()}
		sum += math.Pow(calib.DeltaE2000(centre, c), 2)
		p.Photos = append(p.Photos, shotAgain("", 1, c))
	}
	s, err := Repeats([]inspect.Results{{Pieces: []inspect.Piece{p}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := math.Sqrt(sum / 400)
	// ΔE00 is a plain distance only in the small: 3 %
	if m := scatterOf(t, s, "colour"); math.Abs(m.SD/want-1) > 0.03 {
		t.Errorf("colour scatters by %.3f, want %.3f", m.SD, want)
	}
}
